"""What is done and what comes next, from the ticks in the record."""

import pytest

from shoplib.core.errors import BadInput
from shoplib.record.store import AlreadyTicked
from shoplib.record.ticks import join_reading, split_reading
from shoplib.record.tightening import NoPlan, plans, progress_of
from shoplib.topics import get
from tests.desk.guide.helpers import ORDER, PLAN, kept_plan, new, plan, tick
from tests.record_fixtures import NUMBER, programme


# ------------------------------------------------------------------------------ where it stands
def test_a_tick_may_name_a_plan_or_a_note_and_nothing_else(store):
    uid = kept_plan(store)
    assert tick(store, uid, 1, "2").n
    note = programme(store)
    assert tick(store, note, 1, "2").n
    other = store.keep(NUMBER, get("tightening_order")({"positions": PLAN["positions"]}), who="AL").uid
    with pytest.raises(BadInput, match="not a plan of tightening"):
        tick(store, other, 1, "2")


def test_next_follows_the_sequence_and_counts(store):
    uid = kept_plan(store)
    now = progress_of(store.job(NUMBER), uid)
    assert (now.next, now.done, now.total) == ((1, "2"), 0, 12)
    for bolt in ORDER[:4]:
        tick(store, uid, 1, bolt)
    now = progress_of(store.job(NUMBER), uid)
    assert (now.next, now.done) == ((1, "1"), 4)
    assert now.before((2, "2")) == ((1, "1"), (1, "6"))
    assert now.bolts[1] == ("2", 0.1, 0.0)
    tick(store, uid, 2, "2")  # out of order: what was left stays next
    assert progress_of(store.job(NUMBER), uid).next == (1, "1")


def test_a_struck_tick_is_to_do_again_and_a_corrected_one_is_done(store):
    uid = kept_plan(store)
    first, second = tick(store, uid, 1, "2"), tick(store, uid, 1, "5")
    store.strike(NUMBER, first.uid, who="AL", because="that was bolt 3")
    now = progress_of(store.job(NUMBER), uid)
    assert now.next == (1, "2")
    tick(store, uid, 1, "5", "40 N*m", replaces=second.uid, because="read again")
    now = progress_of(store.job(NUMBER), uid)
    assert now.ticked[1, "5"].value == "40 N*m"
    with pytest.raises(AlreadyTicked):
        tick(store, uid, 1, "5")


def test_a_deviation_is_never_erased(store):
    uid = kept_plan(store)
    bad = tick(store, uid, 1, "2", "52 N*m", deviation="over", reason="slipped", action="new bolt")
    tick(store, uid, 1, "2", "40 N*m", replaces=bad.uid, because="new bolt fitted")
    now = progress_of(store.job(NUMBER), uid)
    assert [d.value for d in now.deviations] == ["52 N*m"]
    assert now.deviations[0].state == "corrected"


def test_a_corrected_plan_keeps_the_ticks_that_still_fit(store):
    uid = kept_plan(store)
    for bolt in ORDER:
        tick(store, uid, 1, bolt)
    tick(store, uid, 2, "2")
    better = store.correct(NUMBER, uid, plan(stages="40 N*m; +60 deg"), who="AL", because="misread the page").uid
    for name in (uid, better):
        now = progress_of(store.job(NUMBER), name)
        assert now.plan.uid == better
        assert (now.done, now.next) == (6, (2, "2"))
        assert set(now.outdated) == {(2, "2")}
    assert [p.uid for p in plans(store.job(NUMBER))] == [better]
    fewer = store.correct(NUMBER, better, plan(stages="40 N*m"), who="AL", because="no angle stage").uid
    now = progress_of(store.job(NUMBER), fewer)
    assert [(t.stage, t.bolt) for t in now.strangers] == [(2, "2")]
    assert now.next is None


def test_a_struck_plan_is_no_plan(store):
    uid = kept_plan(store)
    store.strike(NUMBER, uid, who="AL", because="another engine")
    with pytest.raises(NoPlan, match="another engine"):
        progress_of(store.job(NUMBER), uid)
    assert plans(store.job(NUMBER)) == ()
    with pytest.raises(NoPlan):
        progress_of(store.job(NUMBER), new())


def test_peak_torques_are_compared_as_they_come_in(store):
    uid = kept_plan(store)
    for bolt in ORDER:
        tick(store, uid, 1, bolt)
    for bolt, peak in zip(ORDER, ("118 N*m", "121 Nm", "86 ft-lb", "119 N*m", "80 N*m"), strict=False):
        tick(store, uid, 2, bolt, join_reading("90 deg", peak))
    now = progress_of(store.job(NUMBER), uid)
    assert set(now.looks) == {(2, "1")}
    assert now.looks[2, "1"].startswith("lower")
    assert split_reading(now.ticked[2, "3"].value) == ("90 deg", "86 ft-lb")
    assert split_reading("90 deg") == ("90 deg", "")
