"""Numbers that decide something at a limit, and words that would be exchanged together: recorded runs do not see these."""

import contextlib
import itertools
import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.lines import Line2D
from matplotlib.text import Annotation

from shoplib.core.checks import Outcome
from shoplib.core.errors import BadInput
from shoplib.topics import get
from shoplib.topics.angle.staged_tightening import _state
from shoplib.topics.angle.yield_exercise import PAST_YIELD, _without_snug
from shoplib.topics.coolant.coolant_inputs import WEAK_SIDE
from shoplib.topics.diagnosis.pressure_hold import _changes
from shoplib.topics.fasteners.bolt_map import FACT_NAMES, _bolt
from shoplib.topics.fasteners.bolt_map_inputs import NEW, REUSED
from shoplib.topics.fasteners.tightening_order import suggest_order
from shoplib.topics.flatness import lesson
from shoplib.topics.flatness.lesson_exercises import DECIDING_LEAF, PASSES
from shoplib.topics.handover.exercises import FALLS
from shoplib.topics.skim.work_order import allowed
from shoplib.topics.tightening.torque_angle_trace import PAST, _against_intention, _reached
from shoplib.topics.timing.timing_gap import UNSOURCED
from tests.recorded.runs import FACE
from tests.topics.picture_parts import by_gid, figure_of
from tests.topics.typed_inputs import typed

AT_20 = {"temperature": "20 degC", "reference_temperature": "20 degC"}


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


@pytest.mark.parametrize(
    ("parameter", "grooves", "waves"),
    [("Ra", "Rz 1.60 µm", "Rz 2.51 µm"), ("Rq", "Rz 1.60 µm", "Rz 2.26 µm"), ("Rz", "Ra 0.40 µm", "Ra 0.25 µm")],
)
def test_the_three_surfaces_in_words_tell_a_parameter_that_was_not_typed(parameter, grooves, waves):
    """Square grooves: Rz = 2 Ra = 2 Rq; a sine: Rz = π Ra = 2√2 Rq (geometry)."""
    typed_value = {"parameter": parameter, "value": "0.8 um", "wanted_parameter": parameter}
    result = get("surface_roughness")(typed_value)
    words = result.working.alt(result)
    assert f"plateaus and grooves {grooves}" in words
    assert f"round waves {waves}" in words


def test_a_box_of_a_job_says_what_its_line_is_and_stands_after_its_sources():
    """A source that is no line of the table counts as one of the first column."""
    rows = [{"line": "2", "what": "height of the head above the deck"}, {"line": "3", "sources": "1"}]
    figure = figure_of(FALLS, FALLS(lines=rows, corrected="2"))
    first, second = figure.axes[0].texts
    assert first.get_text() == "line 2 · corrected\nheight of the head a"
    assert (second.get_text(), second.get_position()) == ("line 3 · valid", (1.4, 0.25))


def test_the_limits_of_a_work_order_in_words():
    row = {"low": None, "high": None, "source": None}
    assert allowed({**row, "low": "1 mm", "high": "2 mm"}) == "1 mm to 2 mm"
    assert allowed({**row, "low": "1 mm"}) == "at least 1 mm"
    assert allowed({**row, "high": "2 mm"}) == "at most 2 mm"
    assert allowed({**row, "source": "page 9"}) != allowed(row)


@pytest.mark.parametrize(("plastic", "words"), [(0.0, "no clamp"), (1e-6, "no clamp, lengthened for good")])
def test_a_loosened_bolt_that_yielded_stays_longer(plastic, words):
    assert _state(0.0, plastic, broken=False) == words


def test_the_side_of_60_percent_is_assumed_only_where_a_reading_has_two_strengths():
    seen = {}
    for glycol, instrument, value in itertools.product(
        ("ethylene", "propylene"),
        ("freezing_point", "relative_density", "refractive_index"),
        ("-24 degC", "1.03", "1.37"),
    ):
        try:
            r = get("coolant_reading")({"glycol": glycol, "instrument": instrument, "value": value, **AT_20})
        except BadInput:
            continue
        seen[glycol, instrument] = any(x == WEAK_SIDE or x.startswith("the strength is below") for x in r.assumptions)
    two = {("ethylene", "freezing_point"), ("propylene", "freezing_point"), ("propylene", "relative_density")}
    assert {k for k, assumed in seen.items() if assumed} == two & set(seen)
    assert len(seen) == 5


@pytest.mark.parametrize(
    ("readings", "layout", "suspected"), [("6 bar; 6.1 bar", "1 2", False), ("6 bar; 6.1 bar; 12 bar", "1 2 3", True)]
)
def test_most_of_more_than_two_low_cylinders_suggest_the_test_itself(readings, layout, suspected):
    typed = {
        "readings": readings,
        "layout": layout,
        "rule": "lowest/highest",
        "minimum": "10 bar",
        "minimum_source": "notes",
    }
    assert ("suggests the test itself" in str(get("compression_test")(typed)["suggests"])) == suspected


@pytest.mark.parametrize(("end", "outcome"), [(1.21, Outcome.PASS), (1.2, Outcome.UNDECIDED), (1.0, Outcome.UNDECIDED)])
def test_a_drop_of_the_slope_counts_when_it_is_certain_before_the_end(end, outcome):
    """A drop at 1 rad with an uncertainty of 0.1 rad is certain from 1.2 rad."""
    found = SimpleNamespace(drop=SimpleNamespace(angle=1.0, uncertainty=0.1), drop_seen_to=None, why="")
    inputs = SimpleNamespace(intention=PAST, intention_source="notes", given=lambda name: True)
    judged = []
    _against_intention(inputs, SimpleNamespace(judge=lambda *told: judged.append(told)), found, end)
    assert judged[0][6] is outcome


@pytest.mark.parametrize(("use", "reason"), [(NEW, None), (REUSED, "shared")])
def test_a_reason_that_all_share_is_of_the_reused_bolts(use, reason):
    inputs = dict.fromkeys(FACT_NAMES) | {"use": use, "reason": "shared"}
    assert _bolt(inputs, None, "1", (0.0, 0.0), 0, {}).facts["reason"] == reason


def test_the_plan_of_a_face_shows_the_pieces_of_a_line_on_metal_and_its_number_before_its_start():
    """The bores have 80 mm, at 70, 200 and 330 mm (geometry)."""
    working = get("flatness_lines")
    figure = figure_of(working, working(FACE))
    x = by_gid(figure, "line0").get_xdata()
    assert np.nan_to_num(x, nan=-1).tolist() == pytest.approx([0, 30, -1, 110, 160, -1, 240, 290, -1, 370, 400, -1])
    dotted = [line for line in figure.findobj(Line2D) if line.get_linewidth() == 0.6]
    assert [tuple(line.get_xdata()) for line in dotted] == [(0, 400), (0, 400), (20, 30)]
    assert [tuple(line.get_ydata()) for line in dotted] == [(75, 75), (10, 130), (0, 150)]
    for number, (dx, dy) in (("1", (400, 0)), ("2", (400, 120)), ("3", (10, 150))):
        (text,) = (t for t in figure.findobj(Annotation) if t.get_text() == number)
        assert np.dot(text.get_position(), (dx, dy)) / math.hypot(dx, dy) == pytest.approx(-11)


@pytest.mark.parametrize(("tightened", "refused"), [("99.02 mm", False), ("98.98 mm", True)])
def test_a_length_1_percent_below_that_of_before_is_refused(tightened, refused):
    typed_lengths = typed(get("preload_from_elongation")) | {"length_before": "100 mm", "length_tightened": tightened}
    with pytest.raises(BadInput) if refused else contextlib.suppress(BadInput) as caught:
        get("preload_from_elongation")(typed_lengths)
    if refused:
        assert "length_tightened" in [p.field for p in caught.value.problems]


@pytest.mark.parametrize(("gap", "no_go", "outcome", "word"), [
    ("0.03 mm", "0.05 mm", Outcome.NO_LIMIT, UNSOURCED), ("0.20 mm", "0.25 mm", Outcome.FAIL, "source missing"),
])  # fmt: skip
def test_a_gap_without_a_source_cannot_pass_and_says_so(gap, no_go, outcome, word):
    more = {"gap": gap, "no_go": no_go, "limit": "0.10 mm", "limit_source": ""}
    (check,) = get("timing_gap")(typed(get("timing_gap")) | more).checks
    assert (check.outcome, check.remark) == (outcome, word)


@pytest.mark.parametrize(("end", "to_the_end", "between"), [(18.0, (-3, -1), (-3, 1)), (22.0, (1, 3), (-1, 3))])
def test_the_temperature_changed_at_least_as_much_between_two_readings_as_to_the_end(end, to_the_end, between):
    """From 20, each read to 0.5 (arithmetic)."""
    inputs = SimpleNamespace(half_digit=lambda name: 0.5, start_temperature=20.0, end_temperature=end)
    assert _changes(inputs) == (to_the_end, between)


def test_a_peak_is_uncertain_by_twice_the_noise_and_the_deviation_of_the_wrench():
    found = SimpleNamespace(noise=1.0, peak=SimpleNamespace(torque=100.0))
    assert _reached(SimpleNamespace(torque_deviation=0.04), found) == pytest.approx((100, 94, 106))
    assert _reached(SimpleNamespace(torque_deviation=None), found) == pytest.approx((100, 98, 102))


@pytest.mark.parametrize(("gap", "outcome"), [("0.105 mm", Outcome.UNDECIDED), ("0.115 mm", Outcome.FAIL)])
def test_a_leaf_that_fits_proves_a_fail_when_the_thinnest_it_may_be_is_above_the_limit(gap, outcome):
    more = {"gap": gap, "no_go": "", "leaf_tolerance": "0.01 mm", "limit": "0.10 mm", "limit_source": "notes"}
    (check,) = get("timing_gap")(typed(get("timing_gap")) | more).checks
    assert check.outcome is outcome


@pytest.mark.parametrize("ranged", ["mu_thread", "mu_head"])
def test_a_range_of_one_friction_is_enough_for_a_scatter(ranged):
    inputs = typed(get("preload_scatter"))
    inputs = {k: v for k, v in inputs.items() if k not in ("mu_low", "mu_high")} | {"draws": "2000"}
    assert get("preload_scatter")({**inputs, "mu_thread": "0.12", "mu_head": "0.12", ranged: "0.10 to 0.14"}).values
    with pytest.raises(BadInput):
        get("preload_scatter")({**inputs, "mu_thread": "0.12", "mu_head": "0.12"})
