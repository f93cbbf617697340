"""Troubles of the record said beside the control, and hostile text."""

import re

import ipywidgets
import pytest

from shoplib.desk.widgets import download
from shoplib.desk.widgets.job_desk import JobDesk
from shoplib.desk.widgets.session import session
from shoplib.record.errors import Full, Unreachable
from shoplib.record.store import new_id
from shoplib.topics import get
from tests.desk.job_desk.helpers import WHO, action, chosen, html_of, jpeg, page, place_of, plain, put, saved, walk
from tests.record_fixtures import HEADER, NUMBER, protrusion

NASTY = "<img src=x onerror=alert(1)> $x^2$ \"'& </td></table>"


# ------------------------------------------------------------------------------ trouble
def test_trouble_of_the_record_is_said_beside_the_control_and_what_was_typed_stays(desk, store, monkeypatch):
    hand = page(desk, "hand")
    put(hand.close_boxes, root_cause="pump bearing")

    def full(*_, **__):
        raise Full("No room is left on the disk. Nothing was kept.")

    monkeypatch.setattr(store, "close_job", full)
    hand.close_it.click()
    assert "No room is left on the disk" in plain(hand.close_said)
    assert hand.close_boxes["root_cause"].box.value == "pump bearing"


def test_a_record_that_went_away_leaves_the_screen(desk, monkeypatch):
    def away():
        raise Unreachable("the server does not answer")

    monkeypatch.setattr(session, "store", away)
    desk.again.click()
    assert "the server does not answer" in plain(desk.news)
    assert "Job 26-014" in plain(desk.head)


def test_what_is_typed_for_one_job_never_stands_in_another_and_waits_there(desk, store):
    store.start(**HEADER | {"number": "26-015", "engine": "another"})
    for number, value in ((NUMBER, "0,12 mm"), ("26-015", "0,05 mm")):
        store.keep(number, protrusion(value), title="Protrusion", **WHO)
    desk.look()
    _, part = action(desk, "Protrusion", "correct_it")
    put(part.boxes, because="misread")
    put(page(desk, "head").boxes, engine="typed for 26-014", because="misheard")
    put(page(desk, "hand").close_boxes, root_cause="of 26-014")
    session.number = "26-015"
    assert page(desk, "head").boxes["engine"].box.value == "another"
    assert page(desk, "hand").close_boxes["root_cause"].box.value == ""
    assert not [p for p in page(desk, "history").children if getattr(p, "panel", None)]
    page(desk, "head").go.click()
    assert len(store.job("26-015").lines) == 2
    session.number = NUMBER
    assert page(desk, "head").boxes["engine"].box.value == "typed for 26-014"
    assert page(desk, "hand").close_boxes["root_cause"].box.value == "of 26-014"
    (again,) = [p for p in page(desk, "history").children if getattr(p, "panel", None)]
    again.panel.part.children[0].go.click()
    assert store.job(NUMBER).current_entries[0].because == "misread"


def test_what_is_missing_is_said_with_what_to_type(desk):
    head = page(desk, "head")
    head.boxes["people"].box.value = [["", "AL", ""], ["", "", ""]]
    head.boxes["instruments"].box.value = [["", "wrench", "", "", "", ""], [""] * 6]
    head.go.click()
    for box in ("people", "instruments"):
        assert "is missing; type for example" in plain(head.boxes[box])
    head.back.click()
    put(head.boxes, engine="another", who="")
    head.go.click()
    assert "is missing; type for example" in plain(head.boxes["who"])
    hand = page(desk, "hand")
    hand.sign_it.click()
    assert "is missing; type for example" in plain(hand.sign_boxes["role"])
    hand.close_it.click()
    assert "is missing; type for example" in plain(hand.close_boxes["root_cause"])


def test_who_hands_out_is_told_beside_the_box(desk):
    hand = page(desk, "hand")
    hand.sheet_who.box.value = "q" * 300
    hand.hand_it.click()
    assert "300 characters is too long" in plain(hand.sheet_who)
    assert "who:" not in plain(hand.sheet_said)
    hand.sheet_who.box.value = "A. Learner"
    hand.hand_it.click()
    assert "too long" not in plain(hand.sheet_who)


def test_an_emptied_title_is_that_of_the_form_again(desk, store):
    store.keep(NUMBER, protrusion(), title="Protrusion", **WHO)
    desk.look()
    _, part = action(desk, "Protrusion", "correct_it")
    put(part.boxes, title=" ", because="named wrongly")
    part.go.click()
    assert store.job(NUMBER).current_entries[0].title == get("measurement").title


@pytest.mark.parametrize(
    ("raw", "says"), [(b"", "is empty"), (b" \n", "is empty"), (b"hello", "is neither"), (b"\xff\xd8", "is neither")]
)
def test_a_file_of_another_kind_is_named_in_words(desk, raw, says):
    files = page(desk, "files")
    files.file.value = chosen("photo.json", raw)
    assert f"photo.json: {says}" in plain(files.in_said)
    assert "choose one that was saved" in plain(files.in_said)


def test_another_number_is_for_one_file_only(desk, store):
    raw = store.export(NUMBER)
    files = page(desk, "files")
    files.file.value = chosen("job.json", raw)
    put(files.boxes, number="26-099")
    files.take_it.click()
    assert files.boxes["number"].box.value == ""


def test_a_picked_word_is_said_as_the_form_says_it(desk, store):
    kept = get("bolt_reuse")(method="max_length", measured="146.2 mm; 146.1 mm")
    store.keep(NUMBER, kept, title="Bolts", **WHO)
    desk.look()
    panel = place_of(desk, "history", "Bolts").panel
    assert "longest length allowed" in plain(panel.detail)
    assert "max_length" not in plain(panel.detail)


def test_a_desk_that_opens_on_an_unreadable_record_says_so_and_has_its_words(printer, monkeypatch):
    def unreachable():
        raise Unreachable("the record cannot be reached")

    monkeypatch.setattr(session, "store", unreachable)
    desk = JobDesk(printer)
    assert "cannot be reached" in plain(desk.news)
    assert all(tab.description for tab in desk.tabs.values())
    assert desk.shown.children == (desk.pages["files"],)


def test_what_was_not_done_has_another_sign_than_a_check_that_fails(desk):
    head = page(desk, "head")
    head.go.click()
    assert plain(head.said).strip() == "▲ Nothing was changed, so nothing was saved."
    assert 'role="alert"' in head.said.value


# ------------------------------------------------------------------------------ hostile text
def test_hostile_text_is_text_everywhere(desk, store):
    one_line = NASTY.replace("\n", " ")
    store.amend(NUMBER, engine=one_line, complaint=NASTY, customer_ref=one_line, hours=one_line, done_by=one_line,
                people=[{"name": one_line}], because=NASTY, who=one_line,
                instruments=[{"id": one_line, "what": one_line, "calibration_due": "2020-01-01"}])  # fmt: skip
    nasty = {"what": NASTY, "where": NASTY, "value": "0.9 mm", "high": "0.1 mm", "high_source": NASTY}
    first = store.keep(NUMBER, get("measurement")(nasty), title=NASTY, remark=NASTY, when=one_line, who=one_line)
    note = store.note(
        NUMBER, "odd", {NASTY: [{NASTY: NASTY}, {NASTY: [NASTY, {NASTY: True}]}]}, title=NASTY, phase="x", who=one_line
    )
    store.tick(NUMBER, programme=note.uid, stage=1, bolt=one_line[:40], value=one_line, initials="<b>", uid=new_id(),
               deviation=NASTY, reason=NASTY, action=NASTY, remark=NASTY)  # fmt: skip
    store.attach(NUMBER, note.uid, jpeg(), caption=NASTY, who=one_line)
    second = store.correct(NUMBER, first.uid, get("measurement")(nasty), because=NASTY, who=one_line)
    store.keep(NUMBER, protrusion(), title=NASTY, sources=[second.uid], who=one_line)
    store.sign(NUMBER, role=one_line[:80], who=one_line)
    store.issue(NUMBER, who=one_line)
    store.strike(NUMBER, second.uid, because=NASTY, who=one_line)
    last = store.keep(NUMBER, protrusion(), title=NASTY, who=one_line)
    store.strike(NUMBER, last.uid, because=NASTY, who=one_line)
    desk.look()
    shown = ""
    for name in desk.pages:
        opened = page(desk, name)
        for place in [c for c in opened.children if hasattr(c, "toggle")]:
            place.button.click()
            for which in ("correct_it", "strike_it", "add_photo"):
                getattr(place.panel, which).click()
                shown += html_of(opened)
        shown += html_of(desk)
    assert "&lt;img src=x onerror=alert(1)&gt;" in shown
    ours = re.sub(r'<img alt="[^"<>]*" src="data:image/jpeg;base64,[A-Za-z0-9+/=]+">', "", shown)
    assert "<img" not in ours, ours[ours.index("<img") - 200 : ours.index("<img") + 300]
    assert "</td></table> " not in ours
    assert "onerror=alert" not in re.sub(r"&lt;img src=x onerror=alert\(1\)&gt;", "", ours)
    files = page(desk, "files")
    files.json_it.click()
    files.file.value = chosen(NASTY, files_raw := saved(files.out_said)[1])
    assert files_raw
    assert "<img" not in html_of(files)


def test_every_control_that_holds_typed_text_is_no_markup_widget(desk):
    for name in desk.pages:
        for widget in walk(page(desk, name)):
            assert not isinstance(widget, ipywidgets.HTMLMath), "typed text would be set as mathematics"


@pytest.mark.parametrize(
    ("parts", "name"),
    [
        (("job", "26/014"), "job-26-014.pdf"),
        (("job", "../../etc/passwd"), "job-etc-passwd.pdf"),
        (("..", "."), "unnamed.pdf"),
        (("con",), "file-con.pdf"),
        (("job", 'a"><b>'), "job-a-b.pdf"),
        (("job", "26\u202e014\n"), "job-26-014.pdf"),
        (("job", "Nr. 7 ä"), "job-Nr-7-ä.pdf"),
        (("job", "x" * 400), "job-" + "x" * 60 + ".pdf"),
    ],
)
def test_names_of_files_are_safe(parts, name):
    assert download.safe_name(*parts, ending="pdf") == name


def test_for_a_viewer_without_a_kernel_it_says_what_it_is(desk):
    found = desk._repr_mimebundle_()
    data = found[0] if isinstance(found, tuple) else found
    assert "what is still open" in data["text/html"]
    assert NUMBER not in data["text/html"] + data["text/plain"], "a committed notebook holds nobody's job"
