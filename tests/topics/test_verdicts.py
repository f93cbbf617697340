"""The judge: corners, uncertainty, missing evidence, the limit itself, noise and printed digits.

The inputs of the audit's findings stand in ``test_verdicts_*.py``; here is what all of them rest on.
"""

import importlib
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.core import rounding
from shoplib.core.checks import Origin, Outcome, Rule, Uncertainty, Value, added, corners, decide
from shoplib.core.errors import BadInput
from shoplib.core.fields import choice, judging, number, quantity, sourced_limit
from shoplib.core.inputs import half_digit_in_si
from shoplib.core.units import mm, pct, unit_of
from shoplib.core.working import Working
from tests.asked import asked
from tests.topics.judging import working_names_that_judge

MM = unit_of(mm)
NUMBERS = st.floats(-1e6, 1e6, allow_nan=False)
SIGNS = st.sampled_from("≤<≥>")


def slow_judge(values, comparison, bound):
    """Obviously right: each value on its own."""
    holds = {"≤": lambda x: x <= bound, "<": lambda x: x < bound, "≥": lambda x: x >= bound, ">": lambda x: x > bound}
    found = {holds[comparison](x) for x in values}
    return Outcome.UNDECIDED if len(found) == 2 else Outcome.PASS if found.pop() else Outcome.FAIL


@given(st.integers(-50, 50), st.integers(0, 20), SIGNS, st.integers(-60, 60))
def test_decide_equals_each_value_judged_alone(low, width, comparison, bound):
    values = range(low, low + width + 1)  # whole numbers: no value lies within noise of another
    assert decide(low, low + width, comparison, bound) == slow_judge(values, comparison, bound)


@given(NUMBERS, st.floats(0, 1e3), st.floats(0, 1e3), SIGNS, NUMBERS)
def test_more_uncertainty_never_gives_a_verdict(x, small, more, comparison, bound):
    then = decide(x - small, x + small, comparison, bound)
    now = decide(x - small - more, x + small + more, comparison, bound)
    assert now in (then, Outcome.UNDECIDED)


@given(st.floats(0.01, 1), st.floats(0.01, 1), st.floats(0.01, 1), st.floats(0.01, 1))
def test_corners_are_the_extremes_of_a_monotone_function(a, b, c, d):
    ranges = {"x": tuple(sorted((a, b))), "y": tuple(sorted((c, d)))}
    low, high = corners(lambda x, y: x / y - x * y, **ranges)
    for k in range(11):
        for j in range(11):
            x = ranges["x"][0] + k / 10 * (ranges["x"][1] - ranges["x"][0])
            y = ranges["y"][0] + j / 10 * (ranges["y"][1] - ranges["y"][0])
            assert low.value - 1e-12 <= x / y - x * y <= high.value + 1e-12
    assert set(high.at) == {"x", "y"}


def test_noise_is_no_difference():
    assert rounding.total(0.1, 0.2, -0.3) == 0.0
    assert rounding.compare(0.1 + 0.2, 0.3) == 0
    assert rounding.below(0.3, 0.3001)
    assert not rounding.below(0.1 * 3, 0.3)
    assert not rounding.at_most(math.inf, 1.0), "unbounded is not equal to anything"
    assert rounding.below(-math.inf, 1.0)
    assert decide(-2.2e-3, 4e-19, ">", 0.0) is Outcome.FAIL, "the upper end is zero but for noise"


@pytest.mark.parametrize(
    ("x", "digits", "shown"),
    [(12.815, 4, "12.82"), (0.125, 2, "0.13"), (9.9996, 4, "10.00"), (-2.5, 1, "-3"), (74.995, 4, "75.00")],
)
def test_digits_are_rounded_half_up(x, digits, shown):
    assert f"{rounding.round_half_up(x, digits):f}" == shown


@pytest.mark.parametrize(
    ("typed", "half"),
    [("0.08 mm", 0.005e-3), ("0,080 mm", 0.0005e-3), ("12 mm", 0.5e-3), ("3 1/16 in", 25.4e-3 / 32),
     ("1/2 in", 25.4e-3 / 4), ("0.05 + 0.003 mm", 0.005e-3), ("3 thou", 0.5 * 25.4e-6)],
)  # fmt: skip
def test_half_of_the_last_digit_typed(typed, half):
    assert half_digit_in_si(typed, MM) == pytest.approx(half, rel=1e-12)


def _run(inputs, worksheet):
    worksheet.result("found", inputs.reading, mm)
    worksheet.check(
        "Reading",
        inputs.reading,
        "≤",
        inputs.limit,
        mm,
        inputs.limit_source,
        uncertainty=worksheet.uncertainty("reading"),
    )


GAUGE = Working(
    name="gauge",
    title="Gauge",
    question="?",
    run=_run,
    cautions=(),
    inputs=asked(
        quantity("reading", mm, "Reading", example='"0.05 mm"'), *sourced_limit("limit", mm, "Limit"), *judging(mm)
    ),
)
SOURCE = {"limit_source": "bench notes, sheet 3"}


@pytest.mark.parametrize(
    ("more", "outcome"),
    [
        ({"reading": "0.04 mm"}, "pass"),
        ({"reading": "0.05 mm"}, "undecided"),  # at the limit: the digits typed leave 0.045 to 0.055
        ({"reading": "0.06 mm"}, "fail"),
        ({"reading": "0.04 mm", "resolution": "0.05 mm"}, "undecided"),
        ({"reading": "0.040 mm", "expanded_uncertainty": "0.012 mm", "coverage_factor": "2"}, "undecided"),
        ({"reading": "0.040 mm", "expanded_uncertainty": "0.012 mm", "coverage_factor": "3"}, "pass"),
        ({"reading": "0.06 mm", "decision_rule": "simple_acceptance"}, "fail"),
        ({"reading": "0.05 mm", "decision_rule": "simple_acceptance"}, "undecided"),  # nobody said whether allowed
        ({"reading": "0.05 mm", "decision_rule": "simple_acceptance", "at_limit": "allowed"}, "pass"),
        ({"reading": "0.05 mm", "decision_rule": "simple_acceptance", "at_limit": "not allowed"}, "fail"),
        ({"reading": "0.04 mm", "limit_source": ""}, "no limit given"),
        ({"reading": "0.06 mm", "limit_source": ""}, "fail"),
    ],
)
def test_a_reading_against_its_limit(more, outcome):
    result = GAUGE({"limit": "0.05 mm", **SOURCE, **more})
    assert result.outcome == outcome
    (check,) = result.checks
    assert check.rule in (Rule.GUARD_BANDS, Rule.SIMPLE)
    assert check.uncertainty is not None
    assert check.uncertainty.value > 0
    assert check.to_json()["decision_rule"] == str(check.rule)


def test_no_uncertainty_at_all_is_refused():
    with pytest.raises(BadInput, match="above"):
        GAUGE(reading="0.04 mm", limit="0.05 mm", expanded_uncertainty="0 mm", coverage_factor="2")
    with pytest.raises(BadInput, match="needed together with expanded_uncertainty"):
        GAUGE(reading="0.04 mm", limit="0.05 mm", expanded_uncertainty="0.01 mm")


def test_a_printed_comparison_agrees_with_its_outcome():
    def run(inputs, worksheet):
        worksheet.check("Ratio", inputs.ratio, "≥", 0.75, pct, "notes")

    low = Working(name="r", title="r", question="?", run=run, inputs=asked(quantity("ratio", pct, "Ratio")))
    (check,) = low(ratio="74.9999 %").checks
    assert check.outcome is Outcome.FAIL
    found, bound = check.shown
    assert found != bound


def test_a_default_that_decides_leaves_it_undecided():
    def run(inputs, worksheet):
        factor = {"one": 1.0, "two": 2.0}
        found = inputs.x * factor[inputs.way]
        others = [inputs.x * v for k, v in factor.items() if k != inputs.way]
        worksheet.check("x", found, "<", inputs.most, mm, "notes", otherwise={"way": others})

    both = Working(
        name="d", title="d", question="?", run=run,
        inputs=asked(quantity("x", mm, "x"), quantity("most", mm, "most"),
                choice("way", "Way", ("one", "two"), default="one")),
    )  # fmt: skip
    assert both(x="1 mm", most="3 mm").outcome is Outcome.PASS
    assert both(x="1 mm", most="1.5 mm").outcome is Outcome.UNDECIDED
    assert both(x="1 mm", most="1.5 mm", way="one").outcome is Outcome.PASS
    assert both(x="1 mm", most="1.5 mm").inputs.to_json()["way"]["as_entered"] is None
    assert both(x="1 mm", most="1.5 mm").inputs.to_json()["way"]["default"] == "one"


def test_missing_evidence_stops_a_pass_and_no_fail():
    def run(inputs, worksheet):
        worksheet.check("x", inputs.x, "<", 1e-3, mm, "notes", missing="at least four heights are needed; there are 3")

    few = Working(name="m", title="m", question="?", run=run, inputs=asked(quantity("x", mm, "x")))
    assert few(x="0.5 mm").outcome is Outcome.UNDECIDED
    assert "four heights" in few(x="0.5 mm").checks[0].remark
    assert few(x="2 mm").outcome is Outcome.FAIL


def test_implausible_values_and_endless_results_are_refused():
    def run(inputs, worksheet):
        worksheet.result("y", 1.0 / (inputs.x * 0.0) if inputs.n == 1 else math.inf, mm)

    bad = Working(name="b", title="b", question="?", run=run, inputs=asked(quantity("x", mm, "x"), number("n", "n")))
    for n in ("1", "2"):
        with pytest.raises(BadInput, match="no finite result"):
            bad(x="1 mm", n=n)
    with pytest.raises(BadInput, match="not plausible"):
        bad(x="1e6 mm", n="2")


def test_uncertainties_add_at_their_worst():
    both = added(Uncertainty(1e-6, Origin.DIGITS), Uncertainty(2e-6, Origin.RESOLUTION).times(-3))
    assert both.half_width == pytest.approx(7e-6)
    assert both.origin is Origin.COMBINED
    assert Value(both.half_width, MM, "U", 2).shown


# ------------------------------------------------------------------------------ every working that judges has a slow judge


def test_every_working_that_judges_is_compared_with_a_slow_judge():
    judging_ones = set(working_names_that_judge())
    compared = set()
    for path in Path(__file__).parent.glob("test_verdicts_*.py"):
        module = importlib.import_module(f"{__package__}.{path.stem}")
        compared |= {name for test in vars(module).values() for name in getattr(test, "differential", ())}
    assert len(judging_ones) > 25
    assert compared == judging_ones
