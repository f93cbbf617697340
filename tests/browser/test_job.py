"""A job from the first key to the sheet in hand: kept under a form, found again by a new kernel, printed, saved, read back."""

import re

import pytest
from playwright.sync_api import expect

from shoplib.sheet.verify import read_record, verify
from tests.browser.test_lab import bring_and_run
from tests.browser.test_pages import set_out

FORM, DESK = "61-preload-from-torque.ipynb", "91-job-and-sheet.ipynb"


class Lab:
    """JupyterLab: a notebook that is run, and run again in a new kernel."""

    server, eye = "lab", "desk"

    def __init__(self, page, base):
        self.page, self.base = page, base

    def open(self, name):
        return bring_and_run(self.page, name)

    def again(self, name):
        self.page.get_by_role("menuitem", name="Run", exact=True).click()
        self.page.locator("li.lm-Menu-item[data-command='runmenu:restart-and-run-all']").click()
        self.page.locator(".jp-Dialog button.jp-mod-warn").click()
        return self.page.locator(".jp-NotebookPanel:not(.lm-mod-hidden)")


class Pages:
    """A page without code: each time it is set out there is a new kernel."""

    server, eye = "pages", "tab"

    def __init__(self, page, base):
        self.page, self.base = page, base

    def open(self, name):
        set_out(self.page, self.base, name)
        return self.page.locator("body")

    again = open


@pytest.mark.parametrize("where", [Lab, Pages])
def test_kept_found_again_printed_saved_and_read_back(request, where):
    page = request.getfixturevalue(where.eye)
    page.set_default_timeout(120_000)  # notebook 91 sets two sheets before it listens
    desk = where(page, request.getfixturevalue(where.server))
    form = desk.open(FORM).locator(".jupyter-widgets.shop").first
    number = f"26-{where.__name__}"

    def box(label, inside=None):
        return (
            (inside or form)
            .locator(".shop-field", has_text=re.compile(rf"^\s*{label}"))
            .locator("input, textarea")
            .first
        )

    def press(name, inside=None):
        (inside or form).get_by_role("button", name=name, exact=True).locator("visible=true").first.click()

    # typed by hand, and kept in a job that is started on the spot
    box("Torque").fill("80 Nm")
    form.locator("[data-result=preload]").filter(has_text="48.54 kN").wait_for(timeout=120_000)
    press(re.compile("Keep this in a job|Another job"))
    new = form.get_by_role("button", name="Start a new job", exact=True).locator("visible=true")
    expect(new.or_(box("Job number")).first).to_be_visible(timeout=120_000)
    if new.count():  # another test has started one at this desk
        new.first.click()
    box("Job number").fill(number)
    box("Engine").fill("three-cylinder pump engine")
    box("Done by").fill("A. Learner")
    press("Start the job")
    press("Keep in the job")
    form.get_by_text(re.compile(r"Kept as line \d")).locator("visible=true").first.wait_for(timeout=120_000)
    # a draft that was not kept: a new kernel brings it back
    box("Torque").fill("85 Nm")
    form.locator("[data-result=preload]").filter(has_text="51.57 kN").wait_for(timeout=120_000)
    form.locator(".shop-saved", has_text=re.compile("saved")).wait_for(timeout=120_000)
    form = desk.again(FORM).locator(".jupyter-widgets.shop").first
    form.get_by_text("Brought back as you left it").wait_for(timeout=120_000)
    form.locator("[data-result=preload]").filter(has_text="51.57 kN").wait_for(timeout=120_000)
    assert box("Torque").input_value() == "85 Nm"
    # the sheet, made, saved and read back
    whole = desk.open(DESK).locator(".shop-jobdesk").first
    press(re.compile("Sign and hand over"), whole)
    press("Working copy", whole)
    link = whole.locator("a[download$='.pdf']")
    link.wait_for(timeout=120_000)
    with page.expect_download(timeout=30_000) as coming:
        link.click()
    pdf = coming.value.path().read_bytes()
    record = read_record(pdf)
    assert record["job"]["number"] == number
    assert "80 Nm" in str(record) and "85 Nm" not in str(record), "what was kept, not what is a draft"
    assert not verify(pdf).problems
