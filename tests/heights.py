"""How high each notebook is as a page at 1280 px, with its folds closed: ``python -m tests.heights [NN …]``.

It prints the height in px and in screens of 900 px.  It needs a Chromium; every notebook runs in its own kernel.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser import server
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from tests.browser.test_pages import set_out
from tests.notebooks import names

WIDTH, SCREEN, MOST = 1280, 900, 6000


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
            set_out(page, base, name)
            page.wait_for_timeout(3000)  # pictures settle; only the height depends on it
            px = page.evaluate("document.documentElement.scrollHeight")
            print(f"{name:40} {px:6} px  {px / SCREEN:4.1f} screens{'  above' if px > MOST else ''}", flush=True)
        browser.close()


if __name__ == "__main__":
    heights(sys.argv[1:] or [""])
