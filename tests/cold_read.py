"""What a cold reader reads, as it is rendered: ``python -m tests.cold_read FOLDER [NN …]``.

Ten notebooks as pages (text with every fold open; picture of the closed page), the sheets of the invented jobs as text,
README and the help of five commands.  The number of words of each is printed.  It needs a Chromium.
"""

from __future__ import annotations

import io
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright
from pypdf import PdfReader

from tests import prints
from tests.browser import server
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from tests.browser.server import TOKEN
from tests.browser.test_pages import unfold
from tests.heights import SCREEN, WIDTH, settled
from tests.notebooks import names
from tests.texts import ROOT

CHIEF = ("00", "11", "12", "31", "41", "62", "64", "71", "81", "91")
COMMANDS = ("", "open", "work", "sheet", "verify")
SHEETS = ("job", "customer", "entry", "blank")


def unfold_all(page: Page) -> None:
    """Open the parts of the page and its folded texts."""
    unfold(page)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")


def pages(folder: Path, wanted: tuple[str, ...]) -> None:
    """Text and picture of each page."""
    with (
        tempfile.TemporaryDirectory() as own,
        server.pages(Path(own) / "notebooks") as base,
        sync_playwright() as p,
    ):
        browser = p.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGUMENTS)
        page = browser.new_page(viewport={"width": WIDTH, "height": SCREEN})
        for name in names():
            if not name.startswith(wanted):
                continue
            page.goto(f"{base}/voila/render/{name}?token={TOKEN}", wait_until="commit", timeout=180_000)
            page.locator("#rendered_cells").wait_for(timeout=180_000)
            settled(page)
            page.screenshot(path=folder / f"{name.removesuffix('.ipynb')}.png", full_page=True)
            unfold_all(page)
            settled(page)
            save(folder / f"{name.removesuffix('.ipynb')}.txt", page.locator("#rendered_cells").inner_text())
        browser.close()


def sheets(folder: Path) -> None:
    """The text of each sheet."""
    for kind in SHEETS:
        found = PdfReader(io.BytesIO(prints.KINDS[kind]("a4"))).pages
        save(folder / f"sheet-{kind}.txt", "\n\n".join(page.extract_text() for page in found))


def commands(folder: Path) -> None:
    """The help of each command."""
    for name in COMMANDS:
        run = [sys.executable, "-m", "shoplib.cli", *name.split(), "--help"]
        said = subprocess.run(run, capture_output=True, text=True, check=True).stdout
        save(folder / f"help-{name or 'shoplib'}.txt", said)


def save(path: Path, text: str) -> None:
    """Write it and print its number of words."""
    path.write_text(text, encoding="utf-8")
    words = len(re.findall(r"[^\W\d_][\w’'-]*", text))
    print(f"{path.name:45} {words:6} words", flush=True)


if __name__ == "__main__":
    out = Path(sys.argv[1])
    out.mkdir(parents=True, exist_ok=True)
    save(out / "README.txt", (ROOT / "README.md").read_text(encoding="utf-8"))
    commands(out)
    sheets(out)
    pages(out, tuple(sys.argv[2:]) or CHIEF)
