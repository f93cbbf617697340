"""Stale entries, signing, the sheet, the header."""

import pytest

from shoplib.desk.widgets.job_desk import JobDesk
from shoplib.desk.widgets.session import session
from shoplib.record.store import Store
from shoplib.topics import get
from tests.desk.job_desk.helpers import WHO, action, page, place_of, plain, put, saved
from tests.record_fixtures import NUMBER, protrusion


# ------------------------------------------------------------------------------ stale
@pytest.fixture
def stale(desk, store):
    """A height, what was computed from it, and what was computed from that; then the height was corrected."""
    height = store.keep(NUMBER, protrusion("0,06 mm"), title="Height", **WHO)
    cut = get("skim_allowance")(measured_height="135.72 mm", cut="0.15 mm")
    left = store.keep(NUMBER, cut, title="Left", sources=[height.uid], **WHO)
    store.keep(NUMBER, get("cam_retard")(head_skim="0.15 mm", sprocket_diameter="120 mm"), title="Cam",
               sources=[left.uid], **WHO)  # fmt: skip
    store.correct(NUMBER, height.uid, protrusion("0,07 mm"), because="gauge not set", who="B. Teacher")
    desk.look()
    return desk


def test_stale_entries_say_what_changed_and_how_to_work_them_again(stale, store):
    place = place_of(stale, "open", "(Left)")
    text = plain(place.panel)
    assert "line 2 (Height) became line 5: value “0,06 mm” became “0,07 mm”. Reason: gauge not set" in text
    assert place.panel.correct_it.description == "Recalculate …"
    assert "First recalculate line 3 (Left)" in plain(place_of(stale, "open", "(Cam)").panel)
    for title in ("Left", "Cam"):
        panel, part = action(stale, f"({title})", "correct_it", "open")
        assert part.boxes["because"].box.value.startswith("recalculated: line")
        part.go.click()
        assert "Correction saved" in plain(panel)
    assert store.job(NUMBER).stale == ()
    assert [p.n for p in store.job(NUMBER).current_entries] == [5, 6, 7]
    assert "stale" not in plain(page(stale, "open"))


def test_while_stale_nothing_is_signed_handed_out_or_closed(stale, store):
    hand = page(stale, "hand")
    assert "You cannot sign" in plain(hand.state)
    put(hand.sign_boxes, role="did the work")
    put(hand.close_boxes, root_cause="pump bearing")
    for press, say in (
        (hand.sign_it, hand.sign_said),
        (hand.hand_it, hand.sheet_said),
        (hand.close_it, hand.close_said),
    ):
        press.click()
        assert "line 3 (Left)" in plain(say), press.description
    assert len(store.job(NUMBER).lines) == 5
    assert hand.sign_boxes["role"].box.value == "did the work"
    assert hand.close_boxes["root_cause"].box.value == "pump bearing"


# ------------------------------------------------------------------------------ signing
def test_sign_for_what_was_on_the_screen(desk, store):
    hand = page(desk, "hand")
    hand.sign_it.click()
    assert "is missing" in plain(hand.sign_boxes["role"])
    put(hand.sign_boxes, role="did the work")
    with Store.open(store.place) as other:
        other.keep(NUMBER, protrusion("0,12 mm"), who="B. Teacher", title="Slipped in")
    hand.sign_it.click()
    assert "the job changed after you opened it: line 2 (Slipped in)" in plain(hand.sign_said)
    assert "lines 1 to 2" in plain(hand.signs_for)
    assert "Slipped in" in plain(desk.news)
    assert store.job(NUMBER).signatures == ()
    hand.sign_it.click()
    assert "Signed by A. Learner, did the work: line 3" in plain(hand.sign_said)
    hand.sign_it.click()
    assert "has already signed as did the work" in plain(hand.sign_said)
    assert len(store.job(NUMBER).signatures) == 1
    store.keep(NUMBER, protrusion(), **WHO)
    desk.look()
    assert "changed since, sign again" in plain(hand.signed)


def test_closing_needs_the_root_cause_and_quotes_the_re_torque(desk, store):
    store.keep(NUMBER, protrusion(), title="Protrusion", **WHO)
    hand = page(desk, "hand")
    put(hand.close_boxes, retorque="after 10 h, manual page 12", parts_returned="gasket, ten bolts")
    hand.close_it.click()
    assert "is missing" in plain(hand.close_boxes["root_cause"])
    assert hand.close_boxes["retorque"].box.value == "after 10 h, manual page 12"
    put(hand.close_boxes, root_cause="fan belt slipped")
    hand.close_it.click()
    assert desk.job.closed
    assert hand.close_part.layout.display == "none"
    text = plain(hand)
    assert (
        "Root cause fan belt slipped Re-torque, as instructed after 10 h, manual page 12 Parts returned gasket" in text
    )
    place = place_of(desk, "history", "Protrusion")
    assert place.panel.actions.layout.display == "none"
    assert "The job is closed" in plain(place.panel)
    assert desk.pages["head"].go.disabled or page(desk, "head").go.disabled
    hand = page(desk, "hand")
    hand.reopen_it.click()
    assert "is missing" in plain(hand.reopen_boxes["because"])
    put(hand.reopen_boxes, because="leaks again")
    hand.reopen_it.click()
    assert not desk.job.closed
    assert "Reopened: line 4" in plain(hand)


# ------------------------------------------------------------------------------ the sheet
def test_sheets_copy_handed_out_and_blank(desk, store, printer):
    store.keep(NUMBER, protrusion(), title="Protrusion", **WHO)
    hand = page(desk, "hand")
    assert "No sheet was issued yet" in plain(hand.issued)
    hand.copy_it.click()
    assert saved(hand.sheet_said) == ("job-26-014-working-copy.pdf", b"%PDF-1.7 made for a test")
    hand.paper.value = "letter"
    hand.blank_it.click()
    assert saved(hand.sheet_said)[0] == "job-26-014-blank.pdf"
    hand.sheet_who.box.value = ""
    hand.hand_it.click()
    assert "the person who issues the sheet" in plain(hand.sheet_who)
    hand.sheet_who.box.value = "B. Teacher"
    hand.sheet_for.box.value = "Orchard co-operative"
    hand.hand_it.click()
    assert printer.asked == ("Orchard co-operative", "whole")
    assert store.job(NUMBER).issue.body["recipient"] == "Orchard co-operative"
    assert saved(hand.sheet_said)[0] == "job-26-014-sheet-A.pdf"
    assert "Issued as sheet A" in plain(hand.sheet_said)
    assert hand.hand_it.description == "Issue sheet A again"
    assert "Nothing changed since sheet A" in plain(hand.issued)
    store.amend(NUMBER, complaint="loses coolant", because="the customer rang", **WHO)
    desk.look()
    assert "Complaint: nothing became “loses coolant”. Reason: the customer rang" in plain(hand.issued)
    assert hand.hand_it.description == "Issue the sheet"
    hand.customer_it.click()
    assert saved(hand.sheet_said)[0] == "job-26-014-customer.pdf" and "working copy" in plain(hand.sheet_said)
    assert printer.asked == ("", "customer") and printer.made.pop() == (NUMBER, "letter", False, "")
    hand.hand_it.click()
    assert "Issued as sheet B" in plain(hand.sheet_said)
    assert printer.made == [
        (NUMBER, "a4", False, ""), (NUMBER, "letter", True, ""), (NUMBER, "letter", False, "B. Teacher"),
        (NUMBER, "letter", False, "B. Teacher"),
    ]  # fmt: skip


def test_what_cannot_be_printed_is_said(desk, printer, monkeypatch):
    def fails(*_, **__):
        raise RuntimeError("entry 2, remark holds a sign that this sheet's fonts cannot print")

    monkeypatch.setattr(printer, "job_sheet", fails)
    hand = page(desk, "hand")
    hand.copy_it.click()
    assert "entry 2, remark holds a sign" in plain(hand.sheet_said)


def test_progress_is_said_before_the_sheet_is_made(desk, printer, monkeypatch):
    seen = []
    hand = page(desk, "hand")
    monkeypatch.setattr(printer, "job_sheet", lambda *_, **__: seen.append(plain(hand.sheet_said)) or b"%PDF")
    hand.copy_it.click()
    assert seen == [" … Making the sheet … A long job takes a few seconds. "]


def test_without_a_printer_it_says_so(store):
    desk = JobDesk()
    hand = page(desk, "hand")
    hand.copy_it.click()
    assert "Open notebook 91" in plain(hand.sheet_said)


# ------------------------------------------------------------------------------ the header
def test_only_what_was_changed_is_amended_with_its_reason(desk, store):
    head = page(desk, "head")
    head.go.click()
    assert "Nothing was changed" in plain(head.said)
    put(head.boxes, complaint="loses coolant", hours="1240 h", because="the customer rang")
    head.boxes["instruments"].box.value = [["D-1", "depth gauge", "0.01 mm", "", "1.10.2026", ""]]
    head.go.click()
    assert "Which date is it" in plain(head.boxes["instruments"])
    assert head.boxes["instruments"].box.bad == ["0,4"]
    assert head.boxes["complaint"].box.value == "loses coolant"
    assert len(store.job(NUMBER).lines) == 1
    head.boxes["instruments"].box.value = [["D-1", "depth gauge", "0.01 mm", "", "2026-10-01", "2026-114"]]
    head.boxes["people"].box.value = [["B. Teacher", "BT", "instructor"]]
    head.go.click()
    assert "Saved as line 2" in plain(head.said)
    line = store.job(NUMBER).line(2)
    assert line.body["fields"] == {
        "complaint": "loses coolant", "hours": "1240 h",
        "people": [{"name": "B. Teacher", "initials": "BT", "role": "instructor"}],
        "instruments": [{"id": "D-1", "what": "depth gauge", "resolution": "0.01 mm", "calibration_due": "2026-10-01",
                         "certificate": "2026-114"}],
    }  # fmt: skip
    assert line.body["because"] == "the customer rang"
    assert "D-1, depth gauge: calibration was due on 2026-10-01, the date of the job is 2026-11-25: overdue" in plain(
        head
    )
    assert head.boxes["because"].box.value == ""
    assert head.changed() == {}
    put(head.boxes, complaint="")
    head.go.click()
    assert store.job(NUMBER).header["complaint"] == ""


def test_another_hand_changes_the_header_meanwhile(desk, store):
    head = page(desk, "head")
    put(head.boxes, complaint="typed here")
    with Store.open(store.place) as other:
        other.amend(NUMBER, who="B. Teacher", hours="1300 h", complaint="typed there")
    desk.again.click()
    assert head.boxes["hours"].box.value == "1300 h", "nobody typed in this box"
    assert head.boxes["complaint"].box.value == "typed here"
    head.back.click()
    assert head.boxes["complaint"].box.value == "typed there"


def test_another_number_is_followed(desk, store):
    head = page(desk, "head")
    put(head.boxes, number="26-099", because="a number of the other book")
    head.go.click()
    assert store.job("26-099").number == "26-099"
    assert desk.job is not None
    assert desk.job.number == "26-099"
    assert session.number == "26-099"
