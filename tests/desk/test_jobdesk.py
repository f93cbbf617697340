"""The job desk, driven without a browser: what is open, corrections, signing, the sheet, files; hostile text everywhere."""

import base64
import datetime
import io
import json
import re
import zipfile

import ipywidgets
import pytest
from PIL import Image

from shoplib.desk.widgets import download
from shoplib.desk.widgets.job_desk import JobDesk
from shoplib.desk.widgets.point_decision import Decide
from shoplib.desk.widgets.session import session
from shoplib.record.errors import Full, Unreachable
from shoplib.record.open_points import open_points
from shoplib.record.store import Store, new_id
from shoplib.sheet import sheet_service as fordesk
from shoplib.topics import get
from tests.stores import HEADER, NOTES, NUMBER, programme, protrusion

LONG_AGO = datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)
WHO = {"who": "A. Learner"}
NASTY = "<img src=x onerror=alert(1)> $x^2$ \"'& </td></table>"


class Printer:
    """Sheets without a typesetter: the store's part of it is real."""

    def __init__(self):
        self.made = []

    def job_sheet(self, store, number, *, paper="a4", blank=False, who="", recipient="", extent="whole"):
        if who:
            store.issue(number, who=who, recipient=recipient)
        self.made.append((number, paper, blank, who))
        self.asked = (recipient, extent)
        return b"%PDF-1.7 made for a test"

    def look(self, pdf):
        raise ValueError("the PDF carries no record of this program")


@pytest.fixture
def store():
    opened = session.store()
    opened.start(**HEADER)
    session.who = "A. Learner"
    session.number = NUMBER
    return opened


@pytest.fixture
def printer():
    return Printer()


@pytest.fixture
def desk(store, printer):
    return JobDesk(printer)


def walk(widget):
    yield widget
    for child in getattr(widget, "children", ()):
        yield from walk(child)


def html_of(widget):
    """All HTML under a widget that is shown, labels of boxes among it."""
    shown = [w for w in walk(widget) if w.layout.display != "none"]
    texts = [w.value for w in shown if isinstance(w, ipywidgets.HTML)]
    return "\n".join(texts + [w.description for w in shown if getattr(w, "description_allow_html", False)])


def plain(widget):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", re.sub(r"<style>.*?</style>", "", html_of(widget), flags=re.S)))


def page(desk, name):
    desk.go_to(name)
    return desk.pages[name]


def place_of(desk, name, title):
    """The row of an entry, unfolded."""
    for place in page(desk, name).children:
        if hasattr(place, "toggle") and title in place.words.value:
            if place.panel is None:
                place.button.click()
            return place
    raise AssertionError(f"{title} is not there")


def put(boxes, **typed):
    for name, value in typed.items():
        boxes[name].box.value = value


def action(desk, title, which, name="history"):
    panel = place_of(desk, name, title).panel
    getattr(panel, which).click()
    return panel, panel.part.children[0]


def saved(say):
    """Name and bytes of the file that a link carries."""
    name, code = re.search(r'download="([^"]+)" href="data:[^;]+;base64,([^"]+)"', say.value).groups()
    return name, base64.b64decode(code)


def chosen(name, content):
    """What a browser hands in."""
    return (
        {"name": name, "type": "", "size": len(content), "content": memoryview(content), "last_modified": LONG_AGO},
    )


def jpeg():
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "#808890").save(out, "JPEG")
    return out.getvalue()


# ------------------------------------------------------------------------------ which job
def test_without_a_job_it_offers_those_there_are(printer):
    session.store().start(**HEADER)
    desk = JobDesk(printer)
    assert "No job is selected" in plain(desk)
    assert desk.shown.children == (desk.pages["files"],)
    assert [name for name, tab in desk.tabs.items() if not tab.disabled] == ["files"]
    assert [value for _, value in desk.choose.options] == ["", NUMBER]
    desk.choose.value = NUMBER
    assert session.number == NUMBER
    assert "Job 26-014" in plain(desk)
    assert not any(tab.disabled for tab in desk.tabs.values())


def test_a_job_chosen_in_a_form_of_the_same_kernel_appears(desk, store):
    store.start(**HEADER | {"number": "26-015", "engine": "another"})
    session.number = "26-015"
    assert desk.job.number == "26-015"
    assert desk.choose.value == "26-015"
    session.number = ""
    assert desk.job is None


def test_what_other_kernels_wrote_is_read_and_told(desk, store):
    with Store.open(store.place) as other:
        other.keep(NUMBER, protrusion("0,12 mm"), who="B. Teacher", title="From the other bay")
    assert "From the other bay" not in plain(desk)
    desk.again.click()
    assert "1 new line since the last refresh: line 2 (From the other bay) by B. Teacher" in plain(desk)
    assert desk.tabs["open"].description == "Still open (2)"
    store.keep(NUMBER, protrusion(), **WHO)
    session.written += 1  # a form of this kernel kept something
    assert desk.tabs["history"].description == "History and corrections (2)"


# ------------------------------------------------------------------------------ what is open
def test_open_points_come_first_worst_first_and_unfold_in_place(desk, store):
    store.keep(NUMBER, get("measurement")(what="Recess", where="1", value="0.7 mm"), title="Recess", **WHO)
    store.keep(NUMBER, protrusion("0,12 mm"), title="Protrusion", **WHO)
    store.keep(NUMBER, protrusion(), title="Fine", **WHO)
    desk.look()
    assert desk.shown.children == (desk.pages["open"],)
    text = plain(desk.pages["open"])
    words = ["✕ fail", "○ no limit given", "□ blank the root cause is not recorded"]
    assert [text.index(w) for w in words] == sorted(text.index(w) for w in words)
    assert "Fine" not in text
    place = place_of(desk, "open", "Protrusion")
    assert f"0,12 mm, must be at most 0.10 mm [{NOTES}]" in plain(place.panel)
    assert "High limit" in plain(place.panel) or "Source" in plain(place.panel)
    place.button.click()
    assert place.panel is None
    last = desk.pages["open"].children[-1]
    next(w for w in walk(last) if isinstance(w, ipywidgets.Button)).click()
    assert desk.shown.children == (desk.pages["hand"],)


def test_a_point_is_accepted_by_name_and_with_its_reason(desk, store):
    store.keep(NUMBER, protrusion("0,12 mm"), title="Protrusion", **WHO)
    desk.look()
    page_ = desk.pages["open"]
    (decide,) = (w for w in page_.children if isinstance(w, Decide))
    decide.fold.click()
    decide.go.click()
    assert "Correct the marked boxes" in plain(decide)
    assert len(store.job(NUMBER).lines) == 2
    decide.boxes["by"].box.value = "B. Instructor"
    decide.boxes["because"].box.value = "the customer agreed"
    assert decide.boxes["allowed"].layout.display == "none", "a range goes with a bolt that was ticked"
    decide.go.click()
    assert store.job(NUMBER).lines[-1].kind == "decision"
    text = plain(desk.pages["open"])
    assert "accepted by B. Instructor, line 3, entered by A. Learner: the customer agreed" in text
    assert "✕ fail" not in text
    assert "Accepted by B. Instructor: line 2 (Protrusion)" in plain(page(desk, "history"))


def test_a_deviation_is_resolved_by_what_a_source_allows(desk, store):
    plan = store.keep(NUMBER, get("tightening_plan")(
        positions=[{"name": "1", "x": "0 mm", "y": "0 mm"}, {"name": "2", "x": "90 mm", "y": "0 mm"}],
        stages="+85–95 deg", stages_source=NOTES, order="1; 2", lubricant="oil", lubricant_where="threads"), **WHO)  # fmt: skip
    store.tick(NUMBER, programme=plan.uid, stage=1, bolt="1", value="104 deg", initials="AL", uid="tick-number-1",
               deviation="over", reason="slipped", action="stopped")  # fmt: skip
    desk.look()
    decide = next(w for w in desk.pages["open"].children if isinstance(w, Decide) and "104" in str(w.point.options))
    decide.decision.value = "resolved"
    for name, text in (("by", "B. Instructor"), ("because", "looked up"), ("allowed", "+85–110 deg")):
        decide.boxes[name].box.value = text
    decide.go.click()
    assert "must be given with allowed" in plain(decide)
    decide.boxes["allowed_source"].box.value = NOTES
    decide.go.click()
    assert "deviation" not in [p.status for p in open_points(store.job(NUMBER))]


def test_nothing_open_is_said(desk, store):
    store.amend(NUMBER, people=[{"name": "A. Learner"}], **WHO)
    store.close_job(NUMBER, root_cause="pump bearing", **WHO)
    store.sign(NUMBER, role="did the work", **WHO)
    desk.look()
    assert "Nothing is open" in plain(desk.pages["open"])


# ------------------------------------------------------------------------------ corrections
def test_an_entry_is_corrected_in_its_own_form(desk, store):
    first = store.keep(NUMBER, protrusion("0,60 mm"), title="Protrusion", remark="cold", **WHO)
    desk.look()
    panel, part = action(desk, "Protrusion", "correct_it")
    assert part.form.entries["value"].box.value == "0,60 mm"
    assert part.boxes["remark"].box.value == "cold"
    part.form.entries["value"].box.value = "0,06 mm"
    part.go.click()
    assert "a correction needs a reason" in plain(part.boxes["because"])
    assert part.form.entries["value"].box.value == "0,06 mm", "what was typed stays"
    assert len(store.job(NUMBER).lines) == 2
    put(part.boxes, because="misread: 0.60 for 0.06", who="B. Teacher")
    part.go.click()
    assert "Correction saved: line 3" in plain(panel)
    assert panel.part.children == ()
    entry = store.job(NUMBER).current_entries[0]
    assert (entry.corrects.uid, entry.inputs["value"], entry.who, entry.remark) == (
        first.uid,
        "0,06 mm",
        "B. Teacher",
        "cold",
    )
    text = html_of(desk.pages["history"])
    assert "<s>Protrusion: Liner protrusion, cylinder 2: 0,60 mm" in text
    assert re.search(r"corrected by line 3, B\. Teacher, \d{4}-\d\d-\d\d [\d:]{8}\. Reason: misread: 0\.60", text)
    assert "saved as line 3" in text


def test_an_entry_whose_table_was_text_is_corrected_in_its_own_form(desk, store):
    rows = [{"name": str(k), "x": f"{90 * k} mm", "y": "0 mm"} for k in range(3)]
    store.keep(NUMBER, get("tightening_order")({"positions": json.dumps(rows)}), title="As text", **WHO)
    desk.look()
    assert action(desk, "As text", "correct_it")[1].form.entries["positions"].typed == rows


def test_a_form_without_a_result_keeps_nothing(desk, store):
    store.keep(NUMBER, protrusion(), title="Protrusion", **WHO)
    desk.look()
    _, part = action(desk, "Protrusion", "correct_it")
    part.form.entries["value"].box.value = "lots"
    put(part.boxes, because="x")
    part.go.click()
    assert "Nothing was saved" in plain(part)
    assert len(store.job(NUMBER).lines) == 2


CARD = {"engine": "invented", "cap_rating": "90 kPa", "coolant_capacity": "6 L"}


def taken_from_the_card(desk, store):
    """A fill whose capacity was taken from the engine card."""
    card = store.keep(NUMBER, get("engine_card")(CARD), title="Card", **WHO)
    fill = get("coolant_fill")(capacity="6 L", target="50 %", drained="4 L")
    store.keep(NUMBER, fill, title="Fill", origins={"capacity": {"uid": card.uid, "take": "inputs/coolant_capacity"}},
               **WHO)  # fmt: skip
    desk.look()


@pytest.mark.parametrize("too", [True, False])
def test_an_entry_is_corrected_together_with_what_it_was_taken_from(desk, store, too):
    taken_from_the_card(desk, store)
    panel, part = action(desk, "Fill", "correct_it")
    ((_, box),) = part.taken
    assert box.description == "line 2, Card: Capacity of the cooling system"
    assert not box.value, "nothing is corrected there silently"
    box.value = too
    part.form.entries["capacity"].box.value = "7 L"
    put(part.boxes, because="misread", who="B. Teacher")
    part.go.click()
    assert "Correction saved" in plain(panel), plain(part)
    job = store.job(NUMBER)
    by_form = {e.form: e for e in job.current_entries}
    card, fill = by_form["engine_card"], by_form["coolant_fill"]
    assert fill.inputs["capacity"] == "7 L"
    assert job.stale == ()
    if too:
        assert (card.inputs["coolant_capacity"], card.because, card.title) == ("7 L", "misread", "Card")
        assert card.inputs["cap_rating"] == "90 kPa", "the other values of the card stay"
        assert len(job.lines) == 5
    else:
        assert card.inputs["coolant_capacity"] == "6 L"
        assert len(job.lines) == 4


def test_without_a_reason_neither_of_the_two_is_saved(desk, store):
    taken_from_the_card(desk, store)
    _, part = action(desk, "Fill", "correct_it")
    part.taken[0][1].value = True
    part.form.entries["capacity"].box.value = "7 L"
    put(part.boxes, because="", who="B. Teacher")
    part.go.click()
    assert len(store.job(NUMBER).lines) == 3


def test_two_who_correct_the_same_entry(desk, store):
    first = store.keep(NUMBER, protrusion("0,60 mm"), title="Protrusion", **WHO)
    desk.look()
    _, part = action(desk, "Protrusion", "correct_it")
    part.form.entries["value"].box.value = "0,06 mm"
    with Store.open(store.place) as other:
        other.correct(NUMBER, first.uid, protrusion("0,05 mm"), because="read again", who="B. Teacher")
    put(part.boxes, because="misread")
    part.go.click()
    assert "already corrected by line 3" in plain(part)
    assert part.form.entries["value"].box.value == "0,06 mm"
    part.go.click()  # by now the desk has seen line 3, and corrects that
    assert store.job(NUMBER).current_entries[0].corrects.n == 3


def test_a_note_is_corrected_in_its_words(desk, store):
    uid = programme(store)
    desk.look()
    _, part = action(desk, "Head bolts", "correct_it")
    put(part.boxes, title="Head bolts, cold", because="said more clearly")
    part.go.click()
    note = store.job(NUMBER).current_entries[0]
    assert (note.title, note.corrects.uid, note.content["bolts"]) == ("Head bolts, cold", uid, ["1", "2", "3"])


LOG = {
    "text": "Dowel <b>stuck</b> in the block\nheated, drawn",
    "oil_filter": "kept",
    "count": 3,
    "torn": None,
    "dry": True,
    "seen": ["stud 4", "stud 7"],
    "bolts": [{"bolt": "1", "seized": False}, {"bolt": "2", "torque_felt": 41.5}],
    "deep": {"left": {"gap": "0,06 mm"}, "steps": [["a", "b"], {"c": 1}]},
    "none": [],
    "read": ["12", 12, None, ""],
}


def note_to_correct(desk, store, content=LOG):
    store.note(NUMBER, "strip_log", content, title="Strip log", phase="strip", **WHO)
    desk.look()
    return action(desk, "Strip log", "correct_it")


def test_what_a_note_holds_can_be_corrected_and_what_stood_there_stays(desk, store):
    _, part = note_to_correct(desk, store)
    assert part.boxes["content.text"].box.value == LOG["text"]
    put(part.boxes, because="misheard", **{"content.text": "Dowel broke", "content.deep.left.gap": "0,07 mm"})
    part.boxes["content.seen"].box.value = [["stud 4"], ["stud 8"], ["stud 9"], [""]]
    part.boxes["content.bolts"].box.value = [["1", "no", ""], ["2", "yes", "41.5"], ["3", "", "38"]]
    part.go.click()
    note = store.job(NUMBER).current_entries[0]
    assert dict(note.content) == LOG | {
        "text": "Dowel broke",
        "seen": ["stud 4", "stud 8", "stud 9"],
        "bolts": [LOG["bolts"][0], {"bolt": "2", "seized": "yes", "torque_felt": 41.5},
                  {"bolt": "3", "torque_felt": "38"}],
        "deep": {"left": {"gap": "0,07 mm"}, "steps": [["a", "b"], {"c": 1}]},
    }  # fmt: skip
    assert dict(store.job(NUMBER).entries[0].content) == LOG, "the old one stays in the record"
    assert "misheard" in plain(page(desk, "history"))


def test_a_note_in_which_nothing_is_touched_is_kept_as_it_was(desk, store):
    _, part = note_to_correct(desk, store)
    put(part.boxes, because="only the title", title="Strip-down log")
    part.go.click()
    assert dict(store.job(NUMBER).current_entries[0].content) == LOG


def test_a_row_taken_out_of_a_note_leaves_the_others_as_they_were(desk, store):
    _, part = note_to_correct(desk, store)
    put(part.boxes, because="bolt 1 was not there")
    part.boxes["content.bolts"].box.value = [["2", "", "41.5"], ["", "", ""]]
    part.go.click()
    assert store.job(NUMBER).current_entries[0].content["bolts"] == [LOG["bolts"][1]]


def test_what_a_note_may_not_hold_is_said_beside_its_box(desk, store):
    _, part = note_to_correct(desk, store)
    put(part.boxes, because="again", **{"content.oil_filter": "kept\u200b"})
    part.go.click()
    assert "invisible" in plain(part.boxes["content.oil_filter"])
    assert part.boxes["content.oil_filter"].box.value == "kept\u200b"
    put(part.boxes, **{"content.oil_filter": "kept"})
    part.boxes["content.bolts"].box.value = [["1", "no", ""], ["2\u200b", "", "41.5"], ["", "", ""]]
    part.go.click()
    assert "row 2, “Bolt”: contains an invisible" in plain(part.boxes["content.bolts"])
    assert part.boxes["content.bolts"].box.bad == ["1,0"]
    assert len(store.job(NUMBER).lines) == 2


def test_a_note_is_shown_in_words(desk, store):
    panel, part = note_to_correct(desk, store)
    for shown in (plain(panel.detail), plain(part)):
        assert "Oil filter" in shown
        assert "oil_filter" not in shown
    assert "torque_felt" not in plain(panel.detail)


def test_a_note_needs_its_title_and_has_room_for_what_is_long(desk, store):
    _, part = note_to_correct(desk, store, {"text": "w" * 200, "lines": "a\nb", "filter": "kept"})
    rows = {name: isinstance(part.boxes[f"content.{name}"].box, ipywidgets.Textarea)
            for name in ("text", "lines", "filter")}  # fmt: skip
    assert rows == {"text": True, "lines": True, "filter": False}
    assert "optional" not in part.boxes["title"].label
    put(part.boxes, title="", because="again")
    part.go.click()
    assert "is missing" in plain(part.boxes["title"])


def test_an_entry_of_an_unknown_form_is_shown_and_can_be_struck(desk, store, monkeypatch):
    store.keep(NUMBER, protrusion(), title="Old thing", **WHO)

    def none(name):
        raise KeyError(name)

    for module in ("entry_html", "entry_actions"):
        monkeypatch.setattr(f"shoplib.desk.widgets.{module}.get", none)
    desk.look()
    panel, part = action(desk, "Old thing", "correct_it")
    assert "has no form measurement" in plain(part)
    part.go.click()
    assert "Nothing was saved" in plain(part)
    assert "0,06 mm" in plain(panel)


def test_striking_needs_its_reason_and_stays_readable(desk, store):
    store.keep(NUMBER, protrusion("0,12 mm"), title="Protrusion", **WHO)
    desk.look()
    panel, part = action(desk, "Protrusion", "strike_it")
    part.go.click()
    assert "is missing" in plain(part.boxes["because"])
    put(part.boxes, because="wrong liner")
    part.go.click()
    assert "Struck out: line 3" in plain(panel)
    assert panel.actions.layout.display == "none"
    text = html_of(desk.pages["history"])
    assert "<s>Protrusion</s>" in text
    assert "struck out by line 3, A. Learner" in text
    assert desk.tabs["open"].description == "Still open (1)"


def test_ticks_and_photographs_can_be_struck_one_by_one(desk, store):
    uid = programme(store)
    for bolt in "12":
        store.tick(NUMBER, programme=uid, stage=1, bolt=bolt, value="40 N*m", initials="AL", uid=new_id(),
                   deviation="overshoot, 47 N·m", reason="slipped", action="teacher told")  # fmt: skip
    store.attach(NUMBER, uid, jpeg(), caption="the map", **WHO)
    desk.look()
    panel, part = action(desk, "Head bolts", "strike_it")
    assert "overshoot, 47 N·m ; reason: slipped" in plain(panel)
    labels = [label for label, _ in part.target.options]
    assert labels == [
        "the whole entry",
        "bolt 1, stage 1 (line 3)",
        "bolt 2, stage 1 (line 4)",
        "photograph: the map (line 5)",
    ]
    part.target.value = dict(part.target.options)["bolt 2, stage 1 (line 4)"]
    put(part.boxes, because="not done yet")
    part.go.click()
    assert [t.bolt for t in store.job(NUMBER).ticks if t.stands] == ["1"]
    assert store.job(NUMBER).current_entries[0].uid == uid
    panel.strike_it.click()
    part = panel.part.children[0]
    part.target.value = dict(part.target.options)["photograph: the map (line 5)"]
    put(part.boxes, because="blurred")
    part.go.click()
    assert store.job(NUMBER).current_entries[0].photos == ()
    assert "data:image/jpeg" not in html_of(panel)


def test_a_photograph_with_its_caption(desk, store):
    store.keep(NUMBER, protrusion(), title="Protrusion", **WHO)
    desk.look()
    panel, part = action(desk, "Protrusion", "add_photo")
    part.photo.pick.raw, part.photo.pick.chosen = b"no photograph", True
    part.photo.go.click()
    assert "not a photograph" in plain(part)
    part.photo.pick.raw, part.photo.pick.chosen = jpeg(), True
    part.photo.caption.box.value = "the ring"
    part.photo.go.click()
    assert "Photograph added: line 3" in plain(part)
    assert 'alt="the ring" src="data:image/jpeg;base64,' in html_of(panel)
    assert "1 photograph" in plain(desk.pages["history"])


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


# ------------------------------------------------------------------------------ files
def test_the_job_goes_out_and_comes_into_another_record(desk, store, tmp_path, monkeypatch):
    store.keep(NUMBER, protrusion(), title="Protrusion", **WHO)
    files = page(desk, "files")
    files.json_it.click()
    name, raw = saved(files.out_said)
    assert name == "job-26-014.json"
    with Store.open(tmp_path / "other.db") as other:
        assert other.import_job(raw).number == NUMBER
    files.csv_it.click()
    name, zipped = saved(files.out_said)
    assert name == "job-26-014-tables.zip"
    with zipfile.ZipFile(io.BytesIO(zipped)) as archive:
        assert "entries.csv" in archive.namelist()
        assert "Protrusion" in archive.read("entries.csv").decode("utf-8-sig")
    again = saved(files.out_said)
    files.csv_it.click()
    assert saved(files.out_said) == again, "the same tables give the same file"


def take(files, name, raw, **typed):
    files.file.value = chosen(name, raw)
    put(files.boxes, **typed)
    if files.take_part.layout.display != "none":
        files.take_it.click()
    return plain(files)


def test_a_job_is_looked_at_before_it_is_taken_in(desk, store, tmp_path):
    with Store.open(tmp_path / "other.db") as other:
        other.start(**HEADER | {"engine": "of another workshop"})
        other.keep(NUMBER, protrusion("0,12 mm"), **WHO)
        raw = other.export(NUMBER)
    files = page(desk, "files")
    files.file.value = chosen("job.json", raw)
    assert "No fault found : job.json, job 26-014 2 lines, 0 photographs" in plain(files.looked)
    assert len(store.jobs().rows) == 1, "nothing is taken in before it is asked for"
    files.take_it.click()
    assert "already exists" in plain(files.in_said)
    put(files.boxes, number="26-077", who="B. Teacher")
    files.take_it.click()
    assert "Imported as job 26-077" in plain(files.in_said)
    assert "26-077" in [value for _, value in desk.choose.options]
    assert files.take_part.layout.display == "none"


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"{}", "is not an exported job"),
        (b"{\xff\xfe", "is not UTF-8"),
        (b'{"a": 1, "a": 2}', "duplicate key"),
        (b"[" * 5000, "not JSON|nested too deeply"),
        (b"%PDF-1.7 nothing", "carries no record"),
    ],
)
def test_what_is_no_job_is_refused_in_words(desk, content, says):
    text = take(page(desk, "files"), "<b>job</b>.json", content)
    assert re.search(says, text)
    assert desk.pages["files"].take_part.layout.display == "none"
    assert "&lt;b&gt;job" in html_of(desk.pages["files"])


def test_a_job_that_was_changed_does_not_stand(desk, store):
    store.keep(NUMBER, protrusion("0,12 mm"), **WHO)
    whole = json.loads(store.export(NUMBER))
    whole["lines"][1]["body"]["inputs"]["value"] = "0,02 mm"
    text = take(page(desk, "files"), "job.json", json.dumps(whole).encode())
    assert "NOT verified" in text
    assert "line 2 does not match its hash" in text
    assert desk.pages["files"].take_part.layout.display == "none"


def test_a_copy_of_the_record_is_a_record(desk, store, tmp_path):
    files = page(desk, "files")
    files.copy_it.click()
    name, raw = saved(files.keep_said)
    assert name == "shoplib-record.db"
    (tmp_path / "copy.db").write_bytes(raw)
    with Store.open(tmp_path / "copy.db") as copy:
        assert [r.number for r in copy.jobs().rows] == [NUMBER]
    files.check_it.click()
    assert "No damage found" in plain(files.check_said)
    with store._engine.begin() as c:
        c.exec_driver_sql("DROP TRIGGER line_no_update")
        c.exec_driver_sql("UPDATE line SET who = 'somebody else' WHERE n = 1")
    files.check_it.click()
    assert "job 26-014, line 1: was altered outside this program" in plain(files.check_said)
    assert "changed outside" in plain(page(desk, "open"))


def test_a_record_too_large_for_a_link_is_said(desk, monkeypatch):
    monkeypatch.setattr(download, "LARGEST", 1000)
    files = page(desk, "files")
    files.copy_it.click()
    assert "too large to download here" in plain(files.keep_said)
    files.csv_it.click()
    assert "too large to download here" in plain(files.out_said)


def test_the_sheet_of_a_whole_job_goes_out_and_comes_back(store, tmp_path):
    store.keep(NUMBER, protrusion("0,12 mm"), title="Protrusion", **WHO)
    desk = JobDesk(fordesk)
    hand = page(desk, "hand")
    hand.hand_it.click()
    name, pdf = saved(hand.sheet_said)
    assert (name, pdf[:5]) == ("job-26-014-sheet-A.pdf", b"%PDF-")
    files = page(desk, "files")
    text = take(files, name, pdf, number="26-077", who="B. Teacher")
    assert "No fault found" in text
    assert "byte for byte" in text
    assert "differs from line" in text or "Imported as job" in text
    with Store.open(tmp_path / "other.db") as other:
        assert other.import_job(fordesk.look(pdf).exported).number == NUMBER
        assert other.job(NUMBER).current_entries[0].inputs["value"] == "0,12 mm"
    broken = pdf[:-2000] + b"0" * 2000
    text = take(files, name, broken)
    assert "NOT verified" in text or "not a readable PDF" in text or "no record" in text


def test_the_sheet_of_a_job_file_is_worked_anew(desk, store):
    from shoplib.record.jobfile_record import make_record
    from shoplib.sheet import typeset

    job = {"job": HEADER, "entry": [{"working": "measurement", "inputs": dict(protrusion().inputs.as_entered)}]}
    pdf = typeset(make_record(job))
    desk = JobDesk(fordesk)
    text = take(page(desk, "files"), "sheet.pdf", pdf, number="26-078", who="B. Teacher")
    assert "Imported as job 26-078" in text
    assert store.job("26-078").current_entries[0].form == "measurement"


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
