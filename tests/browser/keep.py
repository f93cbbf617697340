"""A form's result, kept in a job by hand in any notebook; and the sheet of that job, made and read back."""

from __future__ import annotations

import re

from playwright.sync_api import expect

from shoplib.record.store import Store
from shoplib.sheet import job_sheet
from shoplib.sheet.verify import read_record, verify
from tests.notebooks import FOLDER

LESSON = "91-job-and-sheet.ipynb"  # its form is a lesson about records, and keeps nothing
NUMBER = "26-all"
PATIENCE = 60_000


def can(name):
    """Whether a notebook has a form that keeps what it shows."""
    return name != LESSON and "Form(" in (FOLDER / name).read_text(encoding="utf-8")


def in_a_job(place, name):
    """Press what a user presses under the first form; whoever comes first starts the job.  Gives its number."""
    form = place.locator(".jupyter-widgets.shop", has=place.page.locator(".shop-keep")).first
    bar = form.locator(".shop-keep").first

    def button(words):
        return bar.get_by_role("button", name=words, exact=True).locator("visible=true")

    def box(label):
        return bar.locator(".shop-field", has_text=re.compile(rf"^\s*{label}")).locator("input, textarea").first

    door, go = button("Keep this in a job"), button("Keep in the job")
    expect(door.or_(go).first).to_be_visible(timeout=PATIENCE)
    if not go.count():
        door.first.click()
        start = button("Start the job")
        expect(start.or_(go).first).to_be_visible(timeout=PATIENCE)
        if start.count():
            box("Job number").fill(NUMBER)
            box("Engine").fill("three-cylinder pump engine")
            box("Done by").fill("A. Learner")
            start.click()
        expect(go.first).to_be_visible(timeout=PATIENCE)
    expect(box("Who")).to_have_value("A. Learner", timeout=PATIENCE)
    if box("Remark").is_visible():
        box("Remark").fill(f"kept in {name}")
    go.first.click()
    bar.get_by_text(re.compile(r"Kept as line \d")).locator("visible=true").first.wait_for(timeout=PATIENCE)
    return bar.locator(".shop-job b").inner_text()


def on_its_sheet(where, number, name):
    """The sheet of the job, from the record that the notebook wrote: it verifies, and holds what was kept."""
    with Store.open(where) as store:
        pdf = job_sheet(store, number)
    assert f"kept in {name}" in str(read_record(pdf))
    assert not verify(pdf).problems
