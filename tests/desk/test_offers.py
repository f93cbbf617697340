"""Suggestions beside the boxes of a form: seen, accepted by one press or one key, never silently."""

import pytest

from shoplib.desk import Form
from shoplib.desk.widgets.session import session
from shoplib.topics import get
from tests.record_fixtures import HEADER, NUMBER

PLACES = [{"name": n, "x": f"{x} mm", "y": "0 mm"} for n, x in (("1", 0), ("2", 90), ("3", 180))]
CARD = {"engine": "pump engine", "coolant_capacity": "6.0 L", "coolant_strength": "50 %", "glycol": "ethylene",
        "positions": PLACES, "order": "2; 1; 3", "order_source": "bench notes, page 4"}  # fmt: skip
ITEMS = [{"work": "skim", "where": "head face", "low": "0 mm", "high": "0.05 mm"}]


@pytest.fixture
def job():
    store = session.store()
    store.start(**HEADER)
    session.number, session.who = NUMBER, "A. Learner"
    card = store.keep(NUMBER, get("engine_card")(CARD), who="A. Learner")
    return card


def seen(name, **example):
    form = Form(name, **example)
    form.keeping.activate()
    return form


def last():
    return session.store().job(NUMBER).entries[-1]


def save(form, who="A. Learner"):
    form.keeping._open_panel().who.box.value = who
    form.keeping.keep()
    return last()


def test_nothing_is_filled_in_by_itself(job):
    form = seen("coolant_fill", capacity="9 L", drained="6 L", target="40 %")
    assert not form.own
    assert all(entry.typed is None for entry in form.entries.values())
    assert form.entries["capacity"].offer.use.description == "↵ 6.0 L · engine card, line 2"
    assert form.offers.use.description == "Use all 3 suggestions"


def test_enter_in_an_empty_box_accepts_and_the_record_keeps_the_origin(job):
    form = seen("coolant_fill")
    box = form.entries["capacity"].box
    box.value = "7 L"
    box._handle_msg({"content": {"data": {"method": "custom", "content": {"event": "submit"}}}, "buffers": []})
    assert box.value == "7 L", "Enter never replaces what was typed"
    box.value = ""
    box._handle_msg({"content": {"data": {"method": "custom", "content": {"event": "submit"}}}, "buffers": []})
    assert box.value == "6.0 L"
    assert "engine card, line 2" in form.entries["capacity"].offer.said.value
    form.entries["drained"].box.value, form.entries["target"].box.value = "5 L", "50 %"
    entry = save(form)
    assert entry.origins == {"capacity": {"uid": job.uid, "take": "inputs/coolant_capacity"}}


def test_one_press_takes_all_that_is_offered(job):
    form = seen("coolant_fill")
    form.entries["target"].box.value = "40 %"
    form.offers.use.click()
    assert [form.entries[n].typed for n in ("capacity", "target", "glycol")] == ["6.0 L", "40 %", "ethylene"]
    assert form.offers.layout.display == "none"
    form.entries["drained"].box.value = "5 L"
    assert set(save(form).origins) == {"capacity", "glycol"}


def test_a_value_that_is_changed_after_it_was_taken_has_no_origin(job):
    form = seen("coolant_fill")
    form.entries["capacity"].offer.use.click()
    form.entries["capacity"].box.value = "6.5 L"
    assert form.origins == {}
    assert form.entries["capacity"].offer.said.layout.display == "none"


def test_a_table_is_taken_by_one_press(job):
    form = seen("tightening_order")
    assert form.entries["positions"].offer.use.description == "3 rows · engine card, line 2"
    form.entries["positions"].offer.use.click()
    assert form.entries["positions"].typed == PLACES
    form.entries["order"].offer.use.click()
    assert form.result["order"] == ["2", "1", "3"]


def test_the_origin_comes_back_with_the_draft(job):
    form = seen("coolant_fill")
    form.entries["capacity"].offer.use.click()
    again = seen("coolant_fill")
    assert again.entries["capacity"].typed == "6.0 L"
    assert again.origins == form.origins != {}


def test_the_example_of_a_form_is_never_mixed_with_suggestions(job):
    form = seen("coolant_fill", capacity="9 L", drained="6 L", target="40 %")
    form.keeping.toggle_example()
    assert form.entries["capacity"].offer.use.layout.display == "none"


def test_results_from_the_machine_shop_complete_the_order_that_asked_for_them(job):
    order = session.store().keep(NUMBER, get("work_order")(part="cylinder head", items=ITEMS), who="A. Learner")
    form = seen("work_order")
    form.entries["part"].offer.use.click()
    form.entries["items"].offer.use.click()
    box = form.entries["items"].box
    column = [c.name for c in box.columns].index("value")
    rows = [list(r) for r in box.value]
    rows[0][column] = "0.03 mm"
    box.value = rows
    entry = save(form)
    assert entry.corrects.uid == order.uid
    assert entry.because == "results from the machine shop"
    current = [e for e in session.store().job(NUMBER).current_entries if e.form == "work_order"]
    assert [e.uid for e in current] == [entry.uid], "no second line for the same work"
    assert not any(o["uid"] == order.uid for o in (entry.origins or {}).values())


def test_hostile_text_from_a_card_stays_text(job):
    session.store().keep(
        NUMBER, get("engine_card")(engine="x", lubricant="<img src=x onerror=alert(1)>"), who="A", title="<b>card</b>"
    )
    form = seen("tightening_plan")
    offer = form.entries["lubricant"].offer
    offer.use.click()
    assert form.entries["lubricant"].typed == "<img src=x onerror=alert(1)>"
    assert "<b>" not in offer.said.value


def test_what_an_earlier_entry_calculated_is_offered_with_the_digits_that_are_printed(job):
    typed = {"head_skim": "0.2 mm", "block_skim": "0 mm", "gasket_gain": "0 mm", "sprocket_diameter": "120 mm"}
    store = session.store()
    first = store.keep(NUMBER, get("cam_retard")(typed), who="A. Learner")
    form = seen("valve_sweep")
    assert form.entries["retard"].offer.use.description.startswith("↵ 0.382° · Cam")
    assert form.entries["net_drop"].offer.use.description.startswith("↵ 0.2 mm · ")
    for sprockets, offered in (("free", "0°"), ("keyed", "0.382°")):  # timed again, nothing is left
        first = store.correct(NUMBER, first.uid, get("cam_retard")(typed, sprockets=sprockets), who="A. Learner",
                              because="the sprockets were looked at")  # fmt: skip
        assert seen("valve_sweep").entries["retard"].offer.use.description.startswith(f"↵ {offered} · ")
