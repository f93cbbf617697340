"""Deviations: overshoot, stopped bolts, soft bolts, another bolt first."""

import random

import pytest

from shoplib.record.guide_progress import guide_of
from shoplib.record.ticks import ACTIONS, STOPPED
from shoplib.record.tightening import progress_of
from shoplib.topics.tightening.guide_state import OPEN as OPEN_STATES
from shoplib.topics.tightening.guide_state import STATE_AFTER
from tests.desk.guide.helpers import ORDER, SOURCE, enter, guide, job_ticks, kept_plan, shown, tick
from tests.record_fixtures import NUMBER

AGAIN_STATES = tuple(STATE_AFTER.values())


def test_an_overshoot_wants_reason_and_action_and_is_never_erased(store, desk):
    uid = kept_plan(store)
    for bolt in ORDER:
        tick(store, uid, 1, bolt)
    made = guide()
    made.value.value = "100 deg"
    enter(made.value)
    assert len(job_ticks(store)) == 6  # nothing is kept without its reason
    assert "over: 100° for +85–95°" in made.asks.value
    assert "Never back a bolt off to its mark" in made.asks.value
    assert shown(made.panel)
    assert not shown(made.done)
    made.record.click()
    assert "Type the reason" in made.said.value
    made.reason.value, made.action.value = "gauge slipped", "new bolt fitted"
    made.record.click()
    (bad,) = progress_of(store.job(NUMBER), uid).deviations
    assert (bad.value, bad.reason, bad.action) == ("100 deg", "gauge slipped", "new bolt fitted")
    assert bad.deviation == "over: 100° for +85–95°"
    assert "new bolt fitted" in made.history.value
    # the new bolt has none of its earlier stages: the guide goes back to them
    assert made.at == (1, "2")
    assert "Do this stage again with the new bolt" in made.asks.value
    made.record.click()
    now = progress_of(store.job(NUMBER), uid)
    assert (now.ticked[1, "2"].because, now.next) == ("new bolt fitted: 40 N·m", (2, "2"))
    # the tick is corrected, it was no new bolt after all: the overshoot stays told
    made.correct.value = (2, "2")
    made.record.click()
    assert "Type the correct reading" in made.said.value
    made.value.value = "90 deg"
    made.record.click()
    assert "Type the reason under" in made.said.value
    made.because.value = "new bolt, turned again"
    made.record.click()
    assert progress_of(store.job(NUMBER), uid).ticked[2, "2"].value == "90 deg"
    assert "100 deg" in made.history.value
    assert made.at == (2, "5")


def test_a_stopped_bolt_keeps_the_guide_from_saying_done(store, desk):
    uid = kept_plan(store)
    for stage, bolt in [(1, b) for b in ORDER] + [(2, b) for b in ORDER[:-1]]:
        tick(store, uid, stage, bolt)
    made = guide()
    made.value.value = "100 deg"
    enter(made.value)
    made.reason.value = "gauge slipped"
    next(b for b in made.action_chips.children if b.description == ACTIONS[STOPPED]).click()
    made.record.click()
    (kept,) = progress_of(store.job(NUMBER), uid).deviations
    assert kept.line.body["action_code"] == STOPPED
    assert made.text() == "Held at bolt 6, stage 2: decide about the deviation first."
    assert shown(made.held)
    assert not shown(made.done)
    assert "✓" not in made.card.value
    assert "check the maker" in made.card.value
    said = {"decision": "resolved", "by": "B. Instructor", "because": "looked up", "who": "AL"}
    store.decide(NUMBER, f"tick/{kept.uid}", allowed="+85–110 deg", allowed_source=SOURCE, **said)
    made.refresh()
    assert made.text() == "All 12 done."
    assert "1 with a deviation" in made.card.value
    assert "resolved by B. Instructor" in made.card.value, "who decided what, before it says done"


def test_a_bad_reading_that_nobody_decided_holds_the_guide(store, desk):
    uid = kept_plan(store)
    tick(store, uid, 1, "2", "55 N*m")  # through the store: no deviation was written
    for bolt in ORDER[1:]:
        tick(store, uid, 1, bolt)
    made = guide()
    assert made.at == (1, "2")
    assert "HELD" in made.card.value
    assert "over: 55 N·m for 40 N·m" in made.card.value
    made.done.click()
    enter(made.value)
    assert len(job_ticks(store)) == 6, "nothing is ticked before the decision"


def test_continuing_needs_a_reason_and_a_name_and_says_who_decided(store, desk):
    uid = kept_plan(store)
    bad = tick(store, uid, 1, "2", "55 N*m", deviation="over", reason="slipped", action="stopped")
    made = guide()
    made.held.by.value = ""
    made.held.go_on.click()
    assert "Who decides" in made.said.value
    made.held.by.value = "B. Instructor"
    made.held.go_on.click()
    assert "Reason for the decision" in made.said.value
    assert made.at == (1, "2")
    made.held.chips.children[0].click()
    made.held.go_on.click()
    (line,) = [x for x in store.job(NUMBER).lines if x.kind == "decision"]
    assert (line.about, line.body["decision"], line.body["by"]) == (bad.uid, "accepted", "B. Instructor")
    assert "reopens" not in line.body
    assert made.at == (1, "5")
    assert f"line {line.n}" in made.said.value
    assert progress_of(store.job(NUMBER), uid).deviations, "the deviation stays in the record"


@pytest.mark.parametrize(
    ("press", "code", "says"), [("new_bolt", "new_bolt", "new bolt"), ("loosen", "loosened", "loosened")]
)
def test_a_decision_opens_all_stages_of_the_bolt_again(store, desk, press, code, says):
    uid = kept_plan(store)
    for bolt in ORDER:
        tick(store, uid, 1, bolt)
    tick(store, uid, 2, "2")
    tick(store, uid, 2, "5", "110 deg", deviation="over", reason="slipped", action="stopped")
    made = guide()
    assert made.at == (2, "5")
    getattr(made.held, press).click()
    now = progress_of(store.job(NUMBER), uid)
    assert now.reopened["5"].code == code
    assert set(now.old_bolt) == {(1, "5"), (2, "5")}
    assert made.at == (1, "5")
    assert says in made.asks.value
    made.record.click()
    made.record.click()
    now = progress_of(store.job(NUMBER), uid)
    assert not now.old_bolt
    assert {now.ticked[s, "5"].line.body["because_code"] for s in (1, 2)} == {code}
    assert made.at == (2, "3")
    assert str(made.states.cells[2, "5"]) == "redone"
    store.strike(NUMBER, next(x.uid for x in store.job(NUMBER).lines if x.kind == "decision"), who="A", because="wrong")
    assert progress_of(store.job(NUMBER), uid).reopened == {}


def test_a_bolt_that_stopped_too_early_is_finished_by_its_new_reading(store, desk):
    kept_plan(store)
    made = guide()
    made.value.value = "30 N*m"
    enter(made.value)
    made.reason.value = "no room for the wrench"
    next(b for b in made.action_chips.children if "completed" in b.description).click()
    made.record.click()
    assert made.held.again.description == "Finished now: type the new reading"
    made.held.again.click()
    assert shown(made.panel)
    assert not shown(made.held)
    made.value.value, made.because.value = "40 N*m", "completed with the short ratchet"
    made.record.click()
    assert made.at == (1, "5")
    assert job_ticks(store) == [(1, "2", "40 N*m")]


@pytest.mark.parametrize(
    ("stages", "typed", "label", "recorded"),
    [("+85–95 deg", "90", "90°?", "90 deg"), ("40 N*m", "40,2", "40,2 N·m?", "40,2 N*m"),
     ("30 ft-lb", "30", "30 lbf·ft?", "30 lbf*ft")],
)  # fmt: skip
def test_a_bare_number_is_offered_in_the_unit_of_the_stage_and_never_guessed(
    store, desk, stages, typed, label, recorded
):
    kept_plan(store, stages=stages)
    made = guide()
    assert not shown(made.unit)
    made.value.value = typed
    assert (made.unit.description, shown(made.unit)) == (label, True)
    enter(made.value)
    assert job_ticks(store) == []
    assert "has no unit" in made.said.value
    assert made.done.description == f"✓ Done: {label}"
    (made.unit if stages.startswith("+") else made.done).click()
    assert job_ticks(store) == [(1, "2", recorded)]
    assert not shown(made.unit)


def test_the_state_machine_and_the_record_agree_on_what_is_done(store, desk):
    uid, rng = kept_plan(store), random.Random(17)
    for _ in range(40):
        job = store.job(NUMBER)
        now = progress_of(job, uid)
        states = guide_of(job, now)
        assert {k for k, s in states.cells.items() if s not in OPEN_STATES} == set(now.ticked)
        assert {k for k, s in states.cells.items() if s in AGAIN_STATES} == set(now.old_bolt)
        assert states.first_open == now.next
        if states.held:
            code = rng.choice(["", "new_bolt", "loosened"])
            store.decide(NUMBER, f"tick/{now.correctable[states.held].uid}", decision="resolved", by="B. Instructor",
                         because="seen", who="AL", reopens=code)  # fmt: skip
            continue
        key = states.next
        if key is None:
            break
        old = now.earlier(key)
        why = {"replaces": old.uid, "because": "again", "because_code": now.why_again(key)} if old else {}
        bad = {"deviation": "over", "reason": "slipped", "action": "stopped"} if rng.random() < 0.3 else {}
        tick(store, uid, *key, "55 deg" if bad else "as the programme says", **why, **bad)
        if rng.random() < 0.1:
            kept = rng.choice([t for t in store.job(NUMBER).ticks if t.stands])
            store.strike(NUMBER, kept.uid, who="AL", because="not done")


def test_a_reading_that_a_stage_without_tolerance_cannot_decide_is_no_deviation(store, desk):
    uid = kept_plan(store)
    made = guide()
    made.value.value = "40.6 N*m"
    enter(made.value)
    now = progress_of(store.job(NUMBER), uid)
    assert (now.ticked[1, "2"].value, now.deviations) == ("40.6 N*m", ())
    assert now.judged[1, "2"].code == "undecided"


def test_a_soft_bolt_is_stopped_at_and_never_evened_up(store, desk):
    uid = kept_plan(store)
    made = guide()
    made.soft.click()
    assert "Do not tighten it further" in made.asks.value
    made.reason.value, made.action.value = "turned freely", "stopped"
    made.record.click()
    (bad,) = progress_of(store.job(NUMBER), uid).deviations
    assert (bad.deviation, bad.value) == ("went soft", "went soft")
    made.held.because.value = "seat dressed, seen by B. Instructor"
    made.held.go_on.click()
    made.soft.click()
    made.back.click()
    assert not shown(made.panel)
    made.done.click()
    assert len(progress_of(store.job(NUMBER), uid).deviations) == 1


def test_a_reading_that_cannot_be_read_stays_on_the_screen(store, desk):
    kept_plan(store)
    made = guide()
    made.value.value = "90 deg"
    made.done.click()
    assert "enter a torque" in made.said.value
    assert made.value.value == "90 deg"
    assert job_ticks(store) == []


def test_another_bolt_first_warns_and_is_recorded(store, desk):
    uid = kept_plan(store)
    made = guide()
    made.other.value = (1, "3")
    assert made.at == (1, "3")
    assert "Out of order" in made.asks.value
    made.reason.value, made.action.value = "hoist in the way", "the others after it"
    made.record.click()
    now = progress_of(store.job(NUMBER), uid)
    assert now.ticked[1, "3"].deviation == "out of order: before bolt 2, stage 1; bolt 5, stage 1"
    assert made.at == (1, "3")
    made.held.because.value = "the others follow in order"
    made.held.go_on.click()
    assert made.at == (1, "2")


def test_a_wrong_tick_is_struck_and_to_do_again(store, desk):
    kept_plan(store)
    made = guide()
    made.done.click()
    made.correct.value = (1, "2")
    made.because.value = "pressed at the wrong bolt"
    made.strike.click()
    assert made.at == (1, "2")
    assert job_ticks(store) == []
