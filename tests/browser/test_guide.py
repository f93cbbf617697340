"""The tightening guide in the middle of a job: the right bolt is next, by mouse and keys, on phone and tablet, and again
after a reload.
"""

import re
import uuid

import pytest
from playwright.sync_api import expect

from shoplib.desk.widgets.session import session
from shoplib.desk.widgets.tightening_guide import SECONDS_BETWEEN_PRESSES
from shoplib.record.tightening import progress_of
from tests.browser import axe, desk_actions, server
from tests.browser.test_job import Lab, Pages
from tests.browser.test_lab import LEAST
from tests.browser.test_pages import SMALL, fits
from tests.desk.guide.helpers import ORDER, plan
from tests.record_fixtures import HEADER

NOTEBOOK = "64-tightening-guide.ipynb"
NUMBER = "26-bolts"
GLOVE = 56  # pixels of whatever a hand in a glove presses
BEFORE = 4  # bolts of the first stage that were ticked before the phone rang


@pytest.fixture
def begun(request, where, monkeypatch):
    """Today's job at the desk of that server: a plan of twelve ticks, four of them done.  Gives the plan's uid."""
    place = server.record(request.getfixturevalue(where.folder))
    monkeypatch.setenv("SHOPLIB_STORE", str(place))
    today = session.number, session.who
    store = session.store()
    number = f"{NUMBER}-{uuid.uuid4().hex[:6]}"  # one record serves the tests of all sizes
    store.start(**{**HEADER, "number": number})
    uid = store.keep(number, plan(), who="A. Learner").uid
    for bolt in ORDER[:BEFORE]:
        store.tick(number, programme=uid, stage=1, bolt=bolt, value="as the programme says", initials="AL",
                   uid=uuid.uuid4().hex)  # fmt: skip
    session.number, session.who = number, "A. Learner"
    yield uid
    session.number, session.who = today  # whoever comes next finds the desk as it was


class Hand:
    """What a technician does to the guide, and sees."""

    def __init__(self, place):
        self.place, self.page = place, place.page
        self.guide = place.locator(".shop.tg")
        self.done = self.guide.locator("button.tg-done").locator("visible=true")

    def sees(self, stage, bolt, ticked):
        card = self.guide.locator(".tg-card")
        expect(card).to_have_attribute("data-stage", str(stage), timeout=desk_actions.PATIENCE)
        expect(card).to_have_attribute("data-bolt", bolt, timeout=desk_actions.PATIENCE)
        expect(self.guide.locator(".tg-bolt")).to_have_text(bolt)
        expect(self.guide.locator(".tg-progress b")).to_have_text(f"{ticked} of 12")
        expect(self.guide.locator(".tg-map [data-state=now]")).to_have_attribute("data-bolt", bolt)

    def is_told(self, words, state="good"):
        expect(self.guide.locator(f".tg-said[data-state={state}]")).to_contain_text(
            words, timeout=desk_actions.PATIENCE
        )

    def waits(self):
        """As a hand does that goes from bolt to bolt: a press right after another one does not count."""
        self.page.wait_for_timeout(1000 * SECONDS_BETWEEN_PRESSES + 50)

    def box(self, label):
        return self.guide.get_by_label(label)

    def looks_well(self, sizes):
        wrong = axe.run(self.page, within=".shop.tg")
        for size in sizes:
            wrong += fits(self.page, size)
            wrong += [f"{size}, too small to press: {e}" for e in self.page.evaluate(SMALL, ["body", LEAST])]
            wrong += [f"{size}, too small for a glove: {e}" for e in self.page.evaluate(SMALL, [".shop.tg", GLOVE])]
        assert wrong == []


WAYS = [(Pages, ("tablet", "phone")), (Lab, ())]


@pytest.mark.parametrize(("where", "sizes"), WAYS)
def test_in_the_middle_of_a_job(request, where, sizes, begun):
    page = request.getfixturevalue(where.eye)
    desk = where(page, request.getfixturevalue(where.server))
    hand = Hand(desk.open(NOTEBOOK))
    hand.sees(1, "1", 4)
    assert hand.box("Your initials").input_value() == "AL"
    hand.looks_well(sizes)  # on the phone from here on

    # by mouse, and by keys where the eye of the keys is then; the pattern is round, and the next stage begins
    hand.done.click()
    hand.is_told("bolt 1, stage 1: as the programme says (40 N·m)")
    hand.sees(1, "6", 5)
    hand.waits()
    expect(hand.done).to_be_focused()
    page.keyboard.press("Enter")
    hand.sees(2, "2", 6)

    # what cannot be read stays, as text, and nothing is ticked
    hand.waits()
    hand.box("Or type your reading").focus()
    page.keyboard.insert_text("<b>90</b>")
    page.keyboard.press("Enter")
    hand.is_told("<b>90</b>", "bad")
    assert hand.box("Or type your reading").input_value() == "<b>90</b>"
    assert "<b>90</b>" in hand.done.inner_text()
    hand.sees(2, "2", 6)

    # past the mark: by keys, with its reason and what is done about it
    hand.waits()
    page.keyboard.press("Control+A")
    page.keyboard.insert_text("100 deg")
    page.keyboard.press("Enter")
    desk_actions.button(hand.guide, "turned past the mark").wait_for(timeout=desk_actions.PATIENCE)
    hand.looks_well(sizes)
    hand.sees(2, "2", 6)
    desk_actions.button(hand.guide, "turned past the mark").click()
    desk_actions.button(hand.guide, "new bolt fitted").press("Enter")
    expect(hand.guide.get_by_label("Reason", exact=True)).to_have_value("turned past the mark")
    expect(hand.box("What you did about it")).to_have_value("new bolt fitted")
    hand.waits()
    hand.done.click()

    # a new bolt has none of its stages: the guide goes back to the first, and both are done with it
    hand.sees(1, "2", 5)
    hand.waits()
    hand.done.click()
    hand.sees(2, "2", 6)
    hand.waits()
    hand.done.click()
    hand.sees(2, "5", 7)

    # pressed once too often: struck, with the reason, and to do again
    hand.waits()
    hand.done.press(" ")
    hand.sees(2, "3", 8)
    hand.box("Correct a tick").focus()
    page.keyboard.press("ArrowDown")
    hand.guide.get_by_text("Correcting bolt 5, stage 2").wait_for(timeout=desk_actions.PATIENCE)
    hand.looks_well(sizes)
    hand.box("Reason for the correction").fill("pressed too early")
    desk_actions.button(hand.guide, "Strike out: not done").press("Enter")
    hand.is_told("must be done again")
    hand.sees(2, "5", 7)

    # the phone rings: another kernel stands at the same bolt, and lost nothing
    hand = Hand(desk.again(NOTEBOOK))
    hand.sees(2, "5", 7)
    assert hand.box("Your initials").input_value() == "AL"
    expect(hand.guide).to_contain_text(re.compile(r"100 deg\. Reason: turned past the mark\. Action: new bolt fitted"))
    hand.done.click()
    hand.sees(2, "3", 8)
    there = session.store().job(session.number)
    now = progress_of(there, begun)
    assert set(now.ticked) == {(1, b) for b in ORDER} | {(2, "2"), (2, "5")}
    assert {t.initials for t in now.ticked.values()} == {"AL"}
    assert [t.bolt for t in there.ticks_of(begun) if not t.stands] == ["2", "2", "5"], (
        "what was struck or replaced is kept"
    )
