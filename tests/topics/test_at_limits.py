"""Numbers that decide something at a limit, and words that would be exchanged together: recorded runs do not see these."""

import math
from dataclasses import replace

import numpy as np
import pytest

from shoplib.topics.angle.yield_exercise import PAST_YIELD, _without_snug
from shoplib.topics.fasteners.tightening_order import suggest_order
from shoplib.topics.flatness import lesson
from shoplib.topics.flatness.lesson_exercises import DECIDING_LEAF, PASSES
from shoplib.topics.skim.work_order import allowed


@pytest.mark.parametrize(("inner", "order"), [(0.92, [0, 1, 2, 3]), (0.9175, [2, 3, 0, 1])])
def test_bolts_within_8_percent_of_the_pattern_are_one_ring(inner, order):
    """In one ring the bolt that was typed first leads; otherwise the inner ring does."""
    assert suggest_order([(0, 1), (0, -1), (inner, 0), (-inner, 0)]) == order


@pytest.mark.parametrize(("angle", "offered"), [("105.5°", True), ("104.5°", False)])
def test_the_mistake_of_the_snug_torque_is_offered_from_5_degrees(angle, offered):
    """Without the snug torque the bolt yields after 40 kN ÷ 4 kN × 10° = 100°."""
    wrong = _without_snug(PAST_YIELD({"snug": "12 kN", "gain": "4 kN", "yields": "40 kN", "angle": angle}))
    assert wrong == (pytest.approx(math.radians(5.5)) if offered else None)


def test_a_pass_is_proved_by_the_thickest_leaf_that_does_not_fit_and_a_fail_by_the_thinnest_that_does():
    """A leaf that does not fit is thicker than the gap (common practice, no source)."""
    seen = set()
    for seed in range(30):
        numbers = DECIDING_LEAF.numbers(np.random.default_rng(seed))
        q = DECIDING_LEAF.ask(seed)
        passes, leaf, limit = q.result.inputs.proves == PASSES, q.answer.value, q.result.inputs.limit
        assert ("thickest" in q.text, "not fitting" in q.text) == (passes, passes)
        assert (numbers["which"] == "thickest") == (numbers["how"] == "not fitting") == (numbers["proves"] == PASSES)
        assert (leaf <= limit) == passes
        seen.add(passes)
    assert seen == {True, False}


def test_a_line_shows_a_gap_above_the_least_that_is_noticed():
    state = lesson.faces(1e-4, 0.2, 0.07)
    for gap, shows in ((lesson.NOTICED, False), (1.02 * lesson.NOTICED, True)):
        one = replace(state.looks[0], seen=tuple(replace(s, gap=gap, rocks=True) for s in state.looks[0].seen))
        said = lesson.says(replace(state, looks=(one,)))
        assert ("no line shows it" in said, "rocks" in said) == (not shows, shows)
    assert pytest.approx(0.2e-6) == lesson.NOTICED


def test_the_limits_of_a_work_order_in_words():
    row = {"low": None, "high": None, "source": None}
    assert allowed({**row, "low": "1 mm", "high": "2 mm"}) == "1 mm to 2 mm"
    assert allowed({**row, "low": "1 mm"}) == "at least 1 mm"
    assert allowed({**row, "high": "2 mm"}) == "at most 2 mm"
    assert allowed({**row, "source": "page 9"}) != allowed(row)
