"""Take the pictures of README.md and DEVELOPERS.md from the real thing: a form in JupyterLab, the pages without code in
the dark and on a phone, a picture to drag, and pages of the demo's sheet.

.venv/bin/python -m tests.pictures        (needs a Chromium; poppler's pdftoppm for the sheet)
"""

from __future__ import annotations

import io
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import sync_playwright

from shoplib.core.paths import DATA
from shoplib.record.jobfile import read_job_file
from shoplib.record.jobfile_record import make_record
from shoplib.sheet import typeset
from tests.browser import server
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from tests.browser.test_lab import IDLE, open_and_run
from tests.browser.test_pages import set_out, unfold

PICTURES = DATA / "pictures"


def save(image: Image.Image, name: str) -> None:
    """Small: a palette is plenty for flat colours."""
    PICTURES.mkdir(exist_ok=True)
    image.convert("RGB").quantize(64).save(PICTURES / name, optimize=True)
    print(name, (PICTURES / name).stat().st_size // 1024, "KiB")


def form(folder: Path) -> Image.Image:
    with server.lab(folder / "notebooks") as base, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGUMENTS)
        page = browser.new_page(viewport={"width": 1280, "height": 1600})
        panel = open_and_run(page, base, "61-preload-from-torque.ipynb")
        panel.locator(".jupyter-widgets.shop svg").first.wait_for(timeout=60_000)
        page.locator("#jp-main-statusbar .jp-StatusBar-TextItem", has_text=IDLE).wait_for(timeout=60_000)
        page.locator("li.lm-TabBar-tab[data-id='filebrowser']").click()  # fold the file list away
        page.wait_for_timeout(1500)  # the layout settles; only a picture depends on it
        panel.locator(".jp-WindowedPanel-outer").first.evaluate("e => e.scrollTop = 0")
        box = panel.locator(".jupyter-widgets.shop").first.bounding_box()
        edge = 14
        clip = {"x": box["x"] - edge, "y": box["y"] - edge, "width": box["width"] + 2 * edge, "height": 920}
        shot = page.screenshot(clip=clip)
        browser.close()
    return Image.open(io.BytesIO(shot))


def shot(page: Any, box: Any, edge: int = 14, tallest: int = 920) -> Image.Image:
    """One element with a little room around it."""
    box.evaluate(f"e => scrollTo(0, e.getBoundingClientRect().top + scrollY - {edge})")
    page.wait_for_timeout(300)
    at = box.bounding_box()
    clip = {"x": max(at["x"] - edge, 0), "y": max(at["y"] - edge, 0), "width": at["width"] + 2 * edge,
            "height": min(at["height"] + 2 * edge, tallest)}  # fmt: skip
    return Image.open(io.BytesIO(page.screenshot(clip=clip)))


def pages(folder: Path) -> dict[str, Image.Image]:
    """The pages without code: dark, on a phone, and a picture to drag."""
    taken = {}
    with server.pages(folder / "notebooks") as base, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGUMENTS)
        page = browser.new_page(viewport={"width": 1280, "height": 1600}, color_scheme="dark")
        forms = set_out(page, base, "61-preload-from-torque.ipynb")
        forms.first.locator("[data-painted]").first.wait_for()
        taken["form-dark.png"] = shot(page, forms.first)
        page.emulate_media(color_scheme="light")
        page.set_viewport_size({"width": 390, "height": 844})
        screens = []
        for part in (
            page.locator("h1").first,
            forms.first.locator(".shop-results"),
            forms.first.locator(".shop-picture"),
        ):
            part.evaluate("e => scrollTo(0, e.getBoundingClientRect().top + scrollY - 24)")
            page.wait_for_timeout(300)
            screens.append(Image.open(io.BytesIO(page.screenshot())))
        taken["phone.png"] = beside(screens)
        page.set_viewport_size({"width": 1280, "height": 1600})
        lessons = set_out(page, base, "31-straightedge-and-feeler.ipynb").locator(
            "xpath=self::*[contains(@class, 'shop-explore')]"
        )
        unfold(page)  # the picture is behind its title
        lessons.first.locator("[data-painted]").wait_for()
        taken["figure.png"] = shot(page, lessons.first)
        browser.close()
    return taken


def beside(images: list[Image.Image], gap: int = 12) -> Image.Image:
    """Side by side on the colour of a desk."""
    width = sum(i.width for i in images) + gap * (len(images) + 1)
    strip = Image.new("RGB", (width, max(i.height for i in images) + 2 * gap), "#b9c4cb")
    x = gap
    for image in images:
        strip.paste(image, (x, gap))
        x += image.width + gap
    return strip


def sheet(folder: Path) -> Image.Image:
    demo = DATA / "demo" / "job.toml"
    (folder / "sheet.pdf").write_bytes(typeset(make_record(read_job_file(demo), folder=demo.parent)))
    pdftoppm = shutil.which("pdftoppm")
    assert pdftoppm, "poppler's pdftoppm is not installed"
    subprocess.run([pdftoppm, "-r", "80", "-png", "sheet.pdf", "page"], cwd=folder, check=True)
    pages = [Image.open(p) for p in sorted(folder.glob("page-*.png"))]
    return beside([pages[n] for n in (0, 3, 6)], gap=10)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="shoplib-") as place:
        save(form(Path(place) / "lab"), "form.png")
        for name, image in pages(Path(place) / "pages").items():
            save(image, name)
        save(sheet(Path(place)), "sheet.png")
