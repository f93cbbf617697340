"""A form's result, kept in a job by hand in any notebook; and the sheet of that job, made, downloaded and read back."""

from __future__ import annotations

import io
import re

from playwright.sync_api import expect
from pypdf import PdfReader

from shoplib.core.rounding import without_zeros
from shoplib.sheet.verify import read_record, verify
from tests.notebooks import FOLDER

LESSON = "91-job-and-sheet.ipynb"  # its form is a lesson and keeps nothing; its desk of jobs makes the sheets
NUMBER = "26-all"
PATIENCE = 60_000  # notebook 91 sets two sheets before it listens


def can(name):
    """Whether a notebook has a form that keeps what it shows."""
    return name != LESSON and "Form(" in (FOLDER / name).read_text(encoding="utf-8")


def button(place, words):
    return place.get_by_role("button", name=words, exact=True).locator("visible=true")


def box(place, label):
    fields = place.locator(".shop-field", has_text=re.compile(rf"^\s*{label}"))
    return fields.locator("input, textarea").locator("visible=true").first  # a folded part has its boxes too


def start(bar, number):
    """A new job, from the open bar under a form."""
    new = button(bar, "Start a new job")
    expect(new.or_(box(bar, "Job number")).first).to_be_visible(timeout=PATIENCE)
    if new.count():  # there are others at this desk
        new.first.click()
    box(bar, "Job number").fill(number)
    box(bar, "Engine").fill("three-cylinder pump engine")
    box(bar, "Done by").fill("A. Learner")
    button(bar, "Start the job").first.click()


def fill(form):
    """The worked example, where a job is open and the form started empty."""
    form.locator(".shop-keep-read").first.wait_for(timeout=PATIENCE)  # only then an open job is known
    start = button(form, "Fill with the example").or_(button(form, "Empty the form")).first
    expect(start).to_be_visible(timeout=PATIENCE)
    if (
        start.text_content() or ""
    ).strip() == "Fill with the example":  # inner_text is empty while a cell is off screen
        start.click()
        expect(button(form, "Empty the form").or_(button(form, "Restore my entries")).first).to_be_visible()


def press_keep(bar):
    """Keep; what the example put there is confirmed box by box, as it asks.

    A form that is shown again tells what it saved earlier, so only another line than before is the answer.  Gives whether
    it was saved: not, where the form was emptied under the press because its job came late.
    """
    go, asked = button(bar, "Save to the job").first, bar.locator(".shop-keep-asked input")
    kept = bar.get_by_text(re.compile(r"Saved as line \d")).locator("visible=true")
    told = kept.all_inner_texts()
    go.click()
    for _ in range(PATIENCE // 100):
        if asked.count():
            while left := asked.count():
                asked.first.press("Space")  # not check(): the box goes away as it is ticked
                expect(asked).to_have_count(left - 1, timeout=PATIENCE)
            go.click()
        elif set(kept.all_inner_texts()) - set(told):
            return True
        elif bar.get_by_text("nothing is typed yet").locator("visible=true").count():
            return False
        bar.page.wait_for_timeout(100)
    raise AssertionError(f"neither saved nor asked for anything: {bar.inner_text()[-300:]}")


def in_a_job(place, name):
    """Press what a user presses under the first form; whoever comes first starts the job.  Gives its number, and the
    first result that the form shows and the sheet prints: advice is for the screen only.
    """
    folded = place.locator(".shop-fold > .widget-toggle-button")
    for n in range(folded.count()):  # where even the first form is behind its title
        if place.locator(".shop-keep").count():
            break
        folded.nth(n).click()
        place.locator(".shop-fold").nth(n).locator("> .shop").first.wait_for(timeout=PATIENCE)
    form = place.locator(".jupyter-widgets.shop", has=place.page.locator(".shop-keep")).first
    bar = form.locator(".shop-keep").first
    without_job, go = button(bar, "Save this to a job"), button(bar, "Save to the job")
    expect(without_job.or_(go).first).to_be_visible(timeout=PATIENCE)
    if not go.count():
        without_job.first.click()
        new = button(bar, "Start a new job")  # where there are others at this desk
        expect(box(bar, "Job number").or_(go).or_(new).first).to_be_visible(timeout=PATIENCE)
        if not go.count():
            start(bar, NUMBER)
        expect(go.first).to_be_visible(timeout=PATIENCE)
    for _ in range(2):  # on a busy machine the job is known only after the example was filled in, and empties the form
        fill(form)
        expect(box(bar, "Who")).to_have_value("A. Learner", timeout=PATIENCE)
        box(bar, "Remark").fill(f"kept in {name}")
        if press_keep(bar):
            break
    else:
        raise AssertionError("the form was empty twice")
    shown = form.locator(".shop-results .shop-value").filter(has_not_text=re.compile("^(Pour|Drain)"))
    return bar.locator(".shop-job b").inner_text(), shown.first.inner_text() if shown.count() else ""


def sheet(jobs, number):
    """The sheet of a job, as the desk of jobs of notebook 91 makes it and the browser saves it."""
    page = jobs.page
    choice = jobs.locator(".jd-top select").first
    wanted = choice.locator("option", has_text=re.compile(rf"^{re.escape(number)}\s·"))
    if not (wanted.count() and wanted.evaluate("e => e.selected")):
        button(jobs, "Refresh").click()  # it may be younger than this desk
        wanted.wait_for(state="attached", timeout=PATIENCE)
        choice.select_option(index=wanted.evaluate("e => e.index"))
        jobs.locator(".jd-head h3", has_text=f"Job {number} ").wait_for(timeout=PATIENCE)
    button(jobs, "Sign and hand over").click()
    link = jobs.locator("a[download$='.pdf']")
    before = link.element_handle() if link.count() else None
    button(jobs, "Working copy").click()
    if before:  # the last sheet; it has the same name
        page.wait_for_function("e => !e.isConnected", arg=before, timeout=PATIENCE)
    link.wait_for(timeout=PATIENCE)
    with page.expect_download(timeout=60_000) as coming:
        link.click()
    return coming.value.path().read_bytes()


def printed(pdf):
    """What can be read on its pages, without the blanks: where a line is broken is the page's affair."""
    said = "".join(p.extract_text() for p in PdfReader(io.BytesIO(pdf)).pages)
    return "".join(said.replace("\u200b", "").split())  # a long word may be broken at these


def all_on_the_sheet(jobs, kept, asked_for):
    """What was kept in each notebook stands on the sheet of its job: the words, and the first result that was shown."""
    assert kept.keys() == asked_for, "a notebook kept nothing"
    for number in sorted({number for number, _ in kept.values()}):
        pdf = sheet(jobs, number)
        on_paper = printed(pdf)
        for name, (in_job, shown) in kept.items():
            if in_job == number:
                on_its_record(read_record(pdf), number, f"kept in {name}")
                assert "".join(f"kept in {name}".split()) in on_paper
                assert without_zeros("".join(shown.split())) in without_zeros(on_paper), name
        problems = verify(pdf).problems
        assert not problems, problems


def asked_for(session, test):
    """The notebooks of that test which keep something, of those that this run asks for."""
    return {
        i.callspec.params["name"]
        for i in session.items
        if getattr(i, "originalname", "") == test and can(i.callspec.params["name"])  # nbval's cells have no such name
    }


def on_its_record(record, number, words):
    assert record["job"]["number"] == number
    assert words in str(record)


def on_its_sheet(pdf, number, words):
    """Such a sheet verifies, and holds what was kept.  Gives the record in it."""
    record = read_record(pdf)
    on_its_record(record, number, words)
    problems = verify(pdf).problems
    assert not problems, problems
    return record
