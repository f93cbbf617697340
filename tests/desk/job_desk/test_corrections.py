"""Corrections and strikes: entries, notes, photographs."""

import json
import re

import ipywidgets
import pytest

from shoplib.record.store import Store, new_id
from shoplib.topics import get
from tests.desk.job_desk.helpers import WHO, action, html_of, jpeg, page, plain, put
from tests.record_fixtures import NUMBER, programme, protrusion


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
