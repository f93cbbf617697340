"""Take the pictures of README.md from the real thing: a form in JupyterLab and the first page of the demo's sheet.

.venv/bin/python -m tests.pictures        (needs a Chromium; poppler's pdftoppm for the sheet)
"""

from __future__ import annotations

import io
import shutil
import subprocess
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

from shoplib.places import DATA
from shoplib.record.document import make_record
from shoplib.record.jobfile import read_job_file
from shoplib.sheet import typeset
from tests.browser import server
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from tests.browser.test_lab import IDLE, open_and_run

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


def sheet(folder: Path) -> Image.Image:
    demo = DATA / "demo" / "job.toml"
    (folder / "sheet.pdf").write_bytes(typeset(make_record(read_job_file(demo), folder=demo.parent)))
    pdftoppm = shutil.which("pdftoppm")
    assert pdftoppm, "poppler's pdftoppm is not installed"
    subprocess.run([pdftoppm, "-r", "80", "-png", "sheet.pdf", "page"], cwd=folder, check=True)
    pages = [Image.open(p) for p in sorted(folder.glob("page-*.png"))]
    chosen = [pages[0], pages[3], pages[6]]
    width, height = pages[0].size
    strip = Image.new("RGB", (3 * width + 40, height + 20), "#b9c4cb")
    for n, page in enumerate(chosen):
        strip.paste(page, (10 + n * (width + 10), 10))
    return strip


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="shoplib-") as place:
        save(form(Path(place)), "form.png")
        save(sheet(Path(place)), "sheet.png")
