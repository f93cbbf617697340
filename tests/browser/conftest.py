"""A guarded page in Debian's Chromium: whatever does not stay on loopback is refused and recorded."""

from __future__ import annotations

import os
import shutil

import pytest

from tests.browser import server

CHROMIUM = shutil.which(os.environ.get("CHROMIUM", "chromium")) or shutil.which("chromium-browser")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync"]  # fmt: skip
QUIET = ("Blocked aria-hidden",)  # said by JupyterLab's own menus, nothing of ours


def pytest_collection_modifyitems(items):
    for item in items:
        if "tests/browser/" in item.nodeid:
            item.add_marker(pytest.mark.browser)


# Of this folder, not of the session: the driver keeps an event loop running, and the tests after these ask for one.
@pytest.fixture(scope="package")
def browser():
    if CHROMIUM is None:
        if os.environ.get("SHOPLIB_REQUIRE_BROWSER"):
            pytest.fail("no Chromium here, and SHOPLIB_REQUIRE_BROWSER is set")
        pytest.skip("no Chromium on this machine; set CHROMIUM to its path or install it")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGUMENTS)
        yield running
        running.close()


@pytest.fixture(scope="package")
def lab(browser, tmp_path_factory):
    with server.lab(tmp_path_factory.mktemp("desk") / "notebooks") as base:
        yield base


@pytest.fixture(scope="package")
def pages(browser, tmp_path_factory):
    with server.pages(tmp_path_factory.mktemp("bench") / "notebooks") as base:
        yield base


@pytest.fixture
def page(browser):
    context = browser.new_context(viewport={"width": 1280, "height": 1000})
    outside, errors = [], []

    def guard(route):
        if route.request.url.startswith(("http://127.0.0.1", "ws://127.0.0.1", "data:", "blob:")):
            route.continue_()
        else:
            outside.append(route.request.url)
            route.abort()

    context.route("**/*", guard)
    shown = context.new_page()
    shown.on("pageerror", lambda e: errors.append(str(e)))
    shown.on("console", lambda m: errors.append(m.text) if m.type == "error" and not m.text.startswith(QUIET) else None)
    yield shown
    context.close()
    assert outside == [], "requests that leave this machine"
    assert errors == [], "errors on the console"
