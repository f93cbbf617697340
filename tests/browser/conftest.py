"""A guarded page in Debian's Chromium: no other machine can be found from it, and whoever looks for one is recorded."""

from __future__ import annotations

import os
import shutil

import pytest

from tests.browser import desk_actions, server
from tests.notebooks import names

CHROMIUM = shutil.which(os.environ.get("CHROMIUM", "chromium")) or shutil.which("chromium-browser")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync",
             "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"]  # fmt: skip
HERE = ("http://127.0.0.1", "ws://127.0.0.1", "data:", "blob:")
# Said by JupyterLab's own menus, by its debugger when a kernel is ended while it starts, and of a kernel that is ended while
# a page listens: it is interrupted and writes to its stderr from two threads at once (ipykernel); nothing of ours.  "Comm
# not found" answers a kernel that closes a widget of which JupyterLab holds nothing any more, or never heard.  The last two:
# JupyterLab lost a widget, and its notebook ran again by itself (test_lab); a form that stays broken is seen by axe.
QUIET = ("Blocked aria-hidden", "Could not restore the debugger state",
         "Kernel message validation error: Unexpected token 's', \"stream.stderr\"",
         "Comm not found for comm id",
         "Error: widget model not found",
         "TypeError: Cannot read properties of null (reading 'processLuminoMessage')")  # fmt: skip


def pytest_collection_modifyitems(items):
    for item in items:
        if "tests/browser/" in item.nodeid:
            item.add_marker(pytest.mark.browser)
            # Once more, and both results are printed (tests.xdist_scheduler): JupyterLab and Chromium have races of their own.
            item.add_marker(pytest.mark.flaky(reruns=1))


# Of this folder, not of the session: the driver keeps an event loop running, and the tests after these ask for one.
@pytest.fixture(scope="package")
def browser():
    if CHROMIUM is None:
        if os.environ.get("SHOPLIB_REQUIRE_BROWSER"):
            pytest.fail("no Chromium here, and SHOPLIB_REQUIRE_BROWSER is set")
        pytest.skip("no Chromium on this machine; set CHROMIUM to its path or install it")
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=30_000)  # a busy machine is not a fault; a test that means a time says so
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGUMENTS)
        yield running
        running.close()


@pytest.fixture(scope="package")
def lab_folder(tmp_path_factory):
    """The copy of the notebooks that JupyterLab shows; ``server.record`` says where its jobs lie."""
    return tmp_path_factory.mktemp("desk") / "notebooks"


@pytest.fixture(scope="package")
def lab(browser, lab_folder):
    with server.lab(lab_folder) as base:
        yield base


@pytest.fixture(scope="package")
def pages_folder(tmp_path_factory):
    """The same of the pages."""
    return tmp_path_factory.mktemp("bench") / "notebooks"


@pytest.fixture(scope="package")
def pages(browser, pages_folder):
    with server.pages(pages_folder) as base:
        yield base


class Guarded:
    """A page that leaves loopback for nothing, and what it tried or complained of since it was asked last."""

    def __init__(self, context):
        self.outside, self.errors = [], []
        self.context = context
        self.page = context.new_page()
        self.page.on("request", self._asked)  # only heard of: routes would switch the browser's cache off
        self.page.on("pageerror", lambda e: self.errors.append(str(e)))
        self.page.on("console", self._said)

    def _asked(self, request):
        if not request.url.startswith(HERE):
            self.outside.append(request.url)

    def _said(self, message):
        if message.type == "error" and not message.text.startswith(QUIET):
            self.errors.append(f"{message.text} ({message.location.get('url')})")

    def forget(self, *begin, since=0):
        """Leave out the complaints that begin so: of what is not ours, where a test provokes it."""
        self.errors[since:] = [said for said in self.errors[since:] if not said.startswith(begin)]

    def check(self):
        outside, errors = self.outside[:], self.errors[:]
        self.outside.clear()
        self.errors.clear()
        assert outside == [], "requests that leave this machine"
        assert errors == [], "errors on the console"


def new_context(browser):
    return browser.new_context(viewport={"width": 1280, "height": 1000})


@pytest.fixture
def page(browser):
    """Of a browser that has never been here."""
    guarded = Guarded(new_context(browser))
    yield guarded.page
    guarded.context.close()
    guarded.check()


@pytest.fixture(scope="package")
def been_here(browser):
    context = new_context(browser)
    yield context
    context.close()


@pytest.fixture
def tab(been_here):
    """Of a browser that has been here before, and has the scripts of the pages."""
    guarded = Guarded(been_here)
    yield guarded.page
    guarded.page.close()
    guarded.check()


@pytest.fixture(scope="package")
def one_lab(browser, lab):
    """A JupyterLab that is loaded once, because that takes longer than a notebook: notebooks come and go in it."""
    guarded = Guarded(new_context(browser))
    guarded.page.goto(f"{lab}/lab?token={server.TOKEN}&reset", wait_until="domcontentloaded")
    guarded.page.locator("#jp-main-statusbar").wait_for(timeout=60_000)
    # A notebook that saved itself while it stood open names widgets that are gone when it is opened again.
    guarded.page.evaluate("jupyterapp.commands.execute('docmanager:toggle-autosave')")
    guarded.page.wait_for_function("!jupyterapp.commands.isToggled('docmanager:toggle-autosave')")
    yield guarded
    guarded.context.close()


# The notebook lets go of its kernel before the server ends it.  A kernel that is ended is interrupted first, and says so
# on its stderr; whoever still listened might hear half a message.
CLOSE = """async which => {
  for (const open of [...jupyterapp.shell.widgets("main")].filter(w => w.context && which.includes(w.context.path))) {
    const session = open.context.sessionContext.session?.id;
    open.context.model.dirty = false;   // else it asks whether to save
    open.close();
    while (!open.isDisposed) await new Promise(done => setTimeout(done, 20));
    if (session) await jupyterapp.serviceManager.sessions.shutdown(session);
  } }"""


@pytest.fixture
def desk(one_lab):
    """Its page; afterwards the notebooks are closed and their kernels ended; only the desk of jobs stays for the next."""
    yield one_lab.page
    before = len(one_lab.errors)
    one_lab.page.evaluate(CLOSE, [n for n in names() if n != desk_actions.LESSON])
    one_lab.forget("[anywidget] Failed to initialize model", since=before)  # a widget that was still being shown
    one_lab.check()


@pytest.fixture(scope="package")
def kept_in_lab():
    """Notebook → (number of the job, first result shown): what the tests kept there, for the sheet at the end."""
    return {}


@pytest.fixture(scope="package")
def kept_on_pages():
    """The same of the pages."""
    return {}
