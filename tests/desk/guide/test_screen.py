"""The words, warnings and boxes of the guide."""

import random
import re

import pytest

from shoplib.record.tightening import progress_of
from shoplib.topics import get
from tests.desk.guide.helpers import ORDER, PLACES, PLAN, enter, guide, job_ticks, kept_plan, plan, shown, tick
from tests.record_fixtures import HEADER, NUMBER


def test_wait_loosen_check_and_repeat_have_their_own_words(store, desk):
    uid = kept_plan(store, stages="40 N*m; wait 10 min; loosen 180 deg; repeat 40 N*m; check >= 35 N*m", order="")
    first = progress_of(store.job(NUMBER), uid)
    made = guide()
    for bolt in first.stage(1).bolts:
        assert made.at == (1, bolt)
        made.done.click()
    assert made.at == (2, "all bolts")
    assert "Wait 10\u00a0min" in made.card.value
    made.value.value = "12 min"
    made.done.click()
    assert "Loosen by 180°" in made.card.value
    for _ in range(6):
        made.done.click()
    assert "Repeat: 40\u00a0N·m" in made.card.value
    for _ in range(6):
        made.done.click()
    assert "Check: 35\u00a0N·m or more" in made.card.value
    made.value.value = "30 N*m"
    made.done.click()
    assert "under: 30 N·m" in made.asks.value
    made.value.value = "36 N*m"
    made.record.click()
    for _ in range(5):
        made.done.click()
    assert made.at is None
    assert made.text() == "All 25 done."


def test_peak_torque_says_stop_and_look_at_the_last_angle_stage_only(store, desk):
    uid = kept_plan(store)
    made = guide()
    assert not shown(made.peak)
    for bolt in ORDER:
        tick(store, uid, 1, bolt)
    made.look.click()
    assert shown(made.peak)
    for peak in ("118 N*m", "121 N*m", "116 N*m", "119 N*m"):
        made.peak.value = peak
        made.done.click()
        assert made.stop.value == made.looks.value == ""
    made.peak.value = "fast"
    made.done.click()
    assert made.peak.value == "fast"
    made.peak.value = "78 N*m"
    made.done.click()
    assert "STOP AND LOOK" in made.stop.value
    assert "bolt 1, stage 2" in made.stop.value
    assert "stripping" in made.looks.value
    assert job_ticks(store)[-1] == (2, "1", "as the programme says (+85–95°); peak 78 N*m")
    made.done.click()
    assert made.stop.value == ""  # said once before the next bolt, and kept in the list
    assert "bolt 1, stage 2" in made.looks.value


def test_several_plans_are_chosen_from(store, desk):
    kept_plan(store)
    small = store.keep(NUMBER, plan(stages="9 N*m"), who="AL", title="Small bolts").uid
    made = guide()
    assert shown(made.plan)
    made.plan.value = small
    made.done.click()
    assert job_ticks(store) == [(1, "2", "as the programme says (9 N·m)")]
    assert guide(None).plan.value == small


def test_a_corrected_plan_asks_for_the_changed_stage_again(store, desk):
    uid = kept_plan(store)
    made = guide()
    made.done.click()
    store.correct(NUMBER, uid, plan(stages="45 N*m; +90 deg"), who="AL", because="misread")
    made.look.click()
    assert made.at == (1, "2")
    assert "before the plan was corrected" in made.asks.value
    made.record.click()
    assert job_ticks(store) == [(1, "2", "as the programme says (45 N·m)")]
    assert made.at == (1, "5")


def test_a_left_hand_bolt_of_the_log_shouts(store, desk):
    kept_plan(store)
    log = get("fastener_log")(bolts=[{"name": n, "x": f"{x} mm", "y": f"{y} mm", "thread": "M10x1.25", "hand": "left"
                                      if n == "2" else "right"} for n, x, y in PLACES] )  # fmt: skip
    store.keep(NUMBER, log, who="AL")
    made = guide()
    assert "LEFT-HAND THREAD: TIGHTENS ANTICLOCKWISE" in made.card.value
    made.done.click()
    assert "LEFT-HAND" not in made.card.value


def test_what_was_typed_is_never_markup(store, desk):
    evil = "<img src=x onerror=alert(1)>"
    kept_plan(store, positions=[{"name": evil, "x": "0 mm", "y": "0 mm"}], order="", lubricant=evil)
    made = guide()
    assert made.at == (1, evil)
    made.soft.click()
    made.reason.value = made.action.value = evil
    made.record.click()
    for part in (made.card, made.map, made.history, made.said, made.asks, made.progress, made.looks):
        assert "<img" not in part.value


def test_the_map_tells_states_by_words_too(store, desk):
    kept_plan(store)
    made = guide()
    made.done.click()
    assert "now: 5" in made.map.value
    assert "done: 2" in made.map.value
    assert 'data-bolt="2" data-state="done"' in made.map.value


def test_neither_a_clamp_nor_advice_to_even_up_is_shown(store, desk):
    kept_plan(store, stages="+85–95 deg")
    made = guide()
    told = []
    for typed in ("100 deg", "70 deg"):
        made.value.value = typed
        made.done.click()
        told.append(made.asks.value)
        made.back.click()
    made.soft.click()
    told += [made.asks.value, made.card.value, made.map.value, *plan().cautions]
    text = " ".join(told)
    assert "over:" in text
    assert "under:" in text
    advised = re.sub(r"(?:not|never)(?: \w+){0,2} even(?:ed|ing)? (?:\w+ )?up", "", text, flags=re.IGNORECASE)
    assert not re.search(r"even(?:ed|ing)? (?:\w+ )?up", advised)
    assert "Do not tighten it further to match its neighbours" in text
    assert "kN" not in text


def test_what_was_typed_for_one_bolt_never_counts_for_another(store, desk):
    uid = kept_plan(store)
    made = guide()
    made.value.value = "40.2 N*m"
    tick(store, uid, 1, "2")  # another screen was quicker
    made.look.click()
    assert made.at == (1, "5")
    assert made.value.value == ""
    assert "40.2 N*m" in made.said.value  # not lost: it is told
    made.value.value = "40 N*m"
    made.look.click()
    assert made.value.value == "40 N*m"  # the same bolt: it stays


def test_what_was_typed_in_one_job_never_counts_in_another(store, desk):
    kept_plan(store)
    store.start(**HEADER | {"number": "26-015"})
    store.keep("26-015", plan(), who="A. Learner")
    made = guide()
    made.soft.click()
    made.value.value, made.reason.value, made.paper.value = "39 N*m", "felt rough", "Monday"
    desk.number = "26-015"
    assert made.at == (1, "2")
    assert (made.value.value, made.reason.value, made.paper.value) == ("", "", "")
    assert not shown(made.panel)
    assert "The screen now shows another plan. Your entry “39 N*m; felt rough; Monday”" in made.said.value
    made.done.click()
    (only,) = store.job("26-015").ticks
    assert only.value == "as the programme says (40 N·m)"
    assert not (only.deviation or only.when)


def test_a_tick_that_is_struck_while_it_is_corrected_is_to_do_again(store, desk):
    uid = kept_plan(store)
    kept = tick(store, uid, 1, "2")
    made = guide()
    made.correct.value = (1, "2")
    made.because.value = "misread"
    store.strike(NUMBER, kept.uid, who="B. Teacher", because="was never done")  # on another screen
    made.look.click()
    assert made.at == (1, "2")
    assert shown(made.done)
    assert "no longer valid. Your entry “misread”" in made.said.value


def test_leaving_a_bolt_tells_what_was_typed_for_it(store, desk):
    uid = kept_plan(store)
    tick(store, uid, 1, "2")
    made = guide()
    made.value.value = "40.2 N*m"
    made.correct.value = (1, "2")
    assert made.at == (1, "2")
    assert made.value.value == ""
    assert "You left bolt 5. Your entry “40.2 N*m” was cleared" in made.said.value


@pytest.mark.parametrize(("typed", "says"), [("-5 Nm", "below zero"), ("−40 N*m", "below zero")])
def test_a_reading_below_zero_is_asked_about(store, desk, typed, says):
    kept_plan(store)
    made = guide()
    made.value.value = typed
    enter(made.value)
    assert says in made.said.value
    assert not shown(made.panel)
    assert made.value.value == typed


def test_what_is_wrong_is_said_with_the_words_above_the_box_and_once(store, desk):
    kept_plan(store)
    made = guide("N" * 50)
    made.soft.click()
    made.reason.value, made.action.value = "felt rough", "x" * 5000
    made.record.click()
    assert "“Your initials”: 50 characters is too long" in made.said.value
    assert made.said.value.count("“What you did about it”") == 1
    assert "action" not in made.said.value
    assert made.action.value == "x" * 5000


def test_what_was_said_of_an_earlier_try_goes_when_the_next_is_asked_about(store, desk):
    kept_plan(store)
    made = guide()
    made.value.value = "forty"
    enter(made.value)
    assert made.said.value
    made.value.value = "60 N*m"
    enter(made.value)
    assert shown(made.panel)
    assert made.said.value == ""


def test_a_button_repeats_no_more_than_it_can_hold(store, desk):
    kept_plan(store)
    made = guide()
    made.value.value = "4" * 300
    assert len(made.done.description) < 60
    assert made.value.value == "4" * 300


def test_a_plan_that_is_not_the_makers_or_stale_says_so(store, desk):
    order = store.keep(NUMBER, get("tightening_order")({"positions": PLAN["positions"]}), who="AL").uid
    store.keep(NUMBER, plan(order="", stages_source=""), who="AL", sources=[order])
    made = guide()
    assert "not the maker" in made.notes.value
    assert "no source" in made.notes.value
    assert "engine oil, a film; threads and under the head" in made.notes.value
    assert "STALE" not in made.progress.value
    store.strike(NUMBER, order, who="AL", because="another engine")
    made.look.click()
    assert "STALE PLAN" in made.progress.value


def test_a_closed_job_refuses_in_words_and_keeps_what_was_typed(store, desk):
    kept_plan(store)
    made = guide()
    store.close_job(NUMBER, who="AL", root_cause="overheated")
    made.value.value = "40 N*m"
    made.done.click()
    assert "closed" in made.said.value
    assert made.value.value == "40 N*m"


def test_a_paper_sheet_typed_in_later_is_marked_as_transcribed(store, desk):
    kept_plan(store)
    desk.who = "B. Teacher"
    made = guide()
    made.paper.value = "2026-11-25 14:02"
    assert made.done.description.startswith("✓ Transcribe")
    made.value.value = "40 N*m"
    made.done.click()
    (kept,) = store.job(NUMBER).ticks
    assert (kept.initials, kept.when) == ("AL", "2026-11-25 14:02, transcribed by B. Teacher")
    assert "transcribed by B. Teacher" in made.history.value


@pytest.mark.parametrize("seed", range(6))
def test_whatever_is_ticked_struck_and_corrected_the_next_is_the_first_that_is_missing(store, seed):
    """A random walk, against a plain set that is kept beside it."""
    uid, rng, done = kept_plan(store), random.Random(seed), {}
    sequence = plan().plot_data["sequence"]
    for _ in range(40):
        key = rng.choice(sequence)
        if key not in done:
            done[key] = tick(store, uid, *key).uid
        elif rng.random() < 0.5:
            store.strike(NUMBER, done.pop(key), who="AL", because="not so")
        else:
            done[key] = tick(store, uid, *key, "read again", replaces=done[key], because="read again").uid
        now = progress_of(store.job(NUMBER), uid)
        assert {k: t.uid for k, t in now.ticked.items()} == done
        assert now.next == next((k for k in sequence if k not in done), None)
        assert now.done == len(done)
        for k in sequence:
            assert set(now.before(k)) == {x for x in sequence[: sequence.index(k)] if x not in done}
