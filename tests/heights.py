"""How high each notebook is as a page at 1280 px, with its folds closed: ``python -m tests.heights [NN …]``.

It prints the height in px and in screens of 900 px.  It needs a Chromium; every notebook runs in its own kernel.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.browser import server
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from tests.browser.server import TOKEN
from tests.notebooks import names

WIDTH, SCREEN, MOST = 1280, 900, 6000


def settled(page: Page) -> int:
    """The height when it has not changed for five seconds: forms and pictures have been drawn."""
    height, since = 0, 0
    while since < 5:
        page.wait_for_timeout(1000)
        now = int(page.evaluate("document.documentElement.scrollHeight"))
        height, since = now, since + 1 if now == height else 0
    return height


def heights(wanted: list[str]) -> None:
    """Print the height of every page whose name begins with one of these numbers."""
    with (
        tempfile.TemporaryDirectory() as folder,
        server.pages(Path(folder) / "notebooks") as base,
        sync_playwright() as p,
    ):
        browser = p.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGUMENTS)
        page = browser.new_page(viewport={"width": WIDTH, "height": SCREEN})
        for name in names():
            if not any(name.startswith(w) for w in wanted):
                continue
            page.goto(f"{base}/voila/render/{name}?token={TOKEN}", wait_until="commit", timeout=180_000)
            page.locator("#rendered_cells").wait_for(timeout=180_000)
            px = settled(page)
            print(f"{name:40} {px:6} px  {px / SCREEN:4.1f} screens{'  above' if px > MOST else ''}", flush=True)
        browser.close()


if __name__ == "__main__":
    heights(sys.argv[1:] or [""])
