"""Tests of the cylinders and of the cooling system, typed exactly at a limit: what is said, and how it is judged.

Each reading counts with half of its last digit; the numbers are arithmetic.  Words are those of the workings.
"""

import pytest

from shoplib.core.checks import Outcome
from shoplib.core.errors import BadInput
from shoplib.topics import get
from shoplib.topics.diagnosis.leak_down import LEAK_DOWN
from shoplib.topics.diagnosis.pressure_hold import Logged
from tests.topics.typed_inputs import run, typed

FOUR = {"readings": "10.0 bar; 10.0 bar; 10.0 bar; 10.0 bar", "layout": "1 2 3 4", "rule": "none"}


def compression(**more):
    return get("compression_test")({**FOUR, **more})


def refused(name, **more):
    """What is said about each field that is refused."""
    with pytest.raises(BadInput) as caught:
        get(name)({**(FOUR if name == "compression_test" else typed(get(name))), **more})
    return {problem.field: problem.why for problem in caught.value.problems}


# ------------------------------------------------------------------------------ cylinders along their banks
@pytest.mark.parametrize(("layout", "banks", "assumed"), [
    ("1 2; 3 4", [[1, 2], [3, 4]], ""),
    ("1 3; 2; 4", [[1, 3], [2], [4]], ""),
    ("2; 1; 3; 4", [[2, 1, 3, 4]], "layout 2; 1; 3; 4 is read as one bank in this order"),
    ("2; 2", [[1, 2], [3, 4]], "cylinders are counted along the banks: 1 2; 3 4"),
])  # fmt: skip
def test_how_banks_are_read(layout, banks, assumed):
    r = compression(layout=layout)
    assert r.plot_data["banks"] == banks
    assert [a for a in r.assumptions if "bank" in a] == [assumed] * bool(assumed)


@pytest.mark.parametrize(("layout", "why"), [
    ("1 2; 3 4 left", "must contain cylinder numbers only"),
    ("1 2 3 4; –", "must contain cylinder numbers only"),
    ("2; 1 1", "lists twice 1; does not list 3, 4"),
])  # fmt: skip
def test_banks_that_do_not_hold_every_cylinder_once(layout, why):
    assert refused("compression_test", layout=layout) == {"layout": why}


# ------------------------------------------------------------------------------ compression
@pytest.mark.parametrize(("rule", "limit", "is_refused"), [
    ("lowest/highest", "100 %", False), ("lowest/highest", "101 %", True), ("lowest/highest", "0 %", True),
    ("lowest/highest", "3 bar", True), ("spread", "3 bar", False), ("spread", "25 %", False), ("spread", "0 bar", True),
])  # fmt: skip
def test_the_limit_is_in_the_unit_of_its_rule(rule, limit, is_refused):
    typed_limit = {"rule": rule, "limit": limit, "limit_source": "notes"}
    if is_refused:
        assert set(refused("compression_test", **typed_limit)) == {"limit"}
    else:
        assert compression(**typed_limit).checks


def test_zeros_and_a_single_reading_are_nothing_to_compare():
    assert "are all zero" in refused("compression_test", readings="0 bar; 0 bar; 0 bar; 0 bar")["readings"]
    single = "9 bar; not measured; not measured; not measured"
    assert "nothing to compare" in refused("compression_test", readings=single)["readings"]


@pytest.mark.parametrize(("limit", "second", "outcome", "words"), [
    # 10.0 − 7.0 = 3.0, between 2.9 and 3.1
    ("3.1 bar", "7.0", Outcome.UNDECIDED, "Cylinder 2, 7.0 bar (70 % of the highest), is too close to the limit to decide."),
    ("3.11 bar", "7.0", Outcome.PASS, "Every cylinder that was measured is within the limit."),
    ("3.05 bar", "7.0", Outcome.UNDECIDED, "is too close to the limit to decide."),
    ("2.95 bar", "7.0", Outcome.UNDECIDED, "is too close to the limit to decide."),
    ("2.89 bar", "7.0", Outcome.FAIL, "Cylinder 2, 7.0 bar (70 % of the highest), is below the limit."),
    # 1 − 7.0 ÷ 10.0 = 30 %, between 1 − 7.05 ÷ 9.95 = 29.1 % and 1 − 6.95 ÷ 10.05 = 30.8 %
    ("29.1 %", "7.0", Outcome.FAIL, "is below the limit."),
    ("29.2 %", "7.0", Outcome.UNDECIDED, "is too close to the limit to decide."),
    ("30.8 %", "7.0", Outcome.UNDECIDED, "is too close to the limit to decide."),
    ("30.9 %", "7.0", Outcome.PASS, "Every cylinder that was measured is within the limit."),
])  # fmt: skip
def test_a_spread_at_its_limit(limit, second, outcome, words):
    r = compression(
        readings=f"10.0 bar; {second} bar; 10.0 bar; 10.0 bar", rule="spread", limit=limit, limit_source="notes"
    )
    assert (r.checks[0].label, r.checks[0].outcome) == ("Spread", outcome)
    assert words in r["suggests"]


@pytest.mark.parametrize(("rule", "limit", "half_width"), [
    ("lowest/highest", "75 %", (1 - 9.95 / 10.05) / 2), ("spread", "25 %", (1 - 9.95 / 10.05) / 2),
    ("spread", "3 bar", 0.05e5),
])  # fmt: skip
def test_equal_readings_cannot_be_more_than_the_highest(rule, limit, half_width):
    """Each is between 9.95 and 10.05 bar."""
    check = compression(rule=rule, limit=limit, limit_source="notes").checks[0]
    assert check.uncertainty.value == pytest.approx(half_width)


def test_the_highest_may_be_zero_within_its_uncertainty():
    """±1 bar: of a highest of 1 bar nothing is left, and the lowest may be as high as the highest."""
    more = {"rule": "lowest/highest", "limit": "75 %", "limit_source": "notes", "resolution": "2 bar"}
    check = compression(readings="1.0 bar; 1.0 bar; 1.0 bar; 1.0 bar", **more).checks[0]
    assert (check.uncertainty.value, check.outcome) == (pytest.approx(0.5), Outcome.UNDECIDED)


def test_the_pressure_at_which_the_limits_are_met_is_drawn():
    """10 bar less 3 bar, less 25 %, or the lowest pressure allowed where that is more (arithmetic)."""
    assert compression(rule="spread", limit="3 bar").plot_data["floor"] == pytest.approx(7e5)
    assert compression(rule="spread", limit="25 %").plot_data["floor"] == pytest.approx(7.5e5)
    assert compression(rule="spread", limit="25 %", minimum="8 bar").plot_data["floor"] == pytest.approx(8e5)


def test_the_first_cylinder_was_not_measured():
    readings = "not measured; 10.0 bar; 10.0 bar; 10.0 bar"
    (check,) = compression(readings=readings, minimum="9 bar", minimum_source="notes").checks[1:]
    assert (check.outcome, "cylinder 1 not measured" in check.remark) == (Outcome.UNDECIDED, True)


@pytest.mark.parametrize(("readings", "two_lowest"), [
    ("5 bar; 5 bar; 6 bar", False), ("5 bar; 5 bar; 7 bar", True), ("5 bar; 6 bar; 7 bar", False),
])  # fmt: skip
def test_two_cylinders_are_far_below_when_the_next_is_farther_than_the_uncertainty(readings, two_lowest):
    """Two of three, each ±0.5 bar: the third must be more than 1 bar above, and farther than they are apart."""
    r = compression(readings=readings, layout="1 2 3")
    assert ("they are by far the two lowest" in r["suggests"]) == two_lowest


@pytest.mark.parametrize(("lowest", "pair"), [("5.1 bar", [1, 2]), ("5.0 bar", [])])
def test_the_two_lowest_are_named_when_the_lowest_is_below_the_limit(lowest, pair):
    r = compression(readings="5.0 bar; 5.2 bar; 12.0 bar", layout="1 2 3", minimum=lowest, minimum_source="notes")
    assert r["adjacent_low_pair"] == pair
    assert ("they are the two lowest, clearly below the others" in r["suggests"]) == bool(pair)


@pytest.mark.parametrize(("low", "said"), [(2, False), (3, True)])
def test_more_than_half_of_the_cylinders_suggest_the_test_itself(low, said):
    readings = "; ".join(["6.0 bar"] * low + ["12.0 bar"] * (4 - low))
    r = compression(readings=readings, minimum="10 bar", minimum_source="notes")
    assert ("suggests the test itself" in r["suggests"]) == said


@pytest.mark.parametrize(("wet", "words"), [
    ("8.7 bar", "Cylinder 1 rises by 0.7 bar when wet, cylinders 2, 3 and 4 by 0.4 bar on average: a larger rise "),
    ("8.6 bar", "Cylinder 1 rises by 0.6 bar when wet, cylinders 2, 3 and 4 by 0.4 bar on average. Cylinder 1 gains no "
                "more than the others."),
    ("8.0 bar", "Cylinder 1 rises by 0 bar when wet, "),
    ("7.9 bar", "Cylinder 1 falls by 0.1 bar when wet, "),
])  # fmt: skip
def test_a_rise_when_wet_counts_beyond_the_uncertainty_of_four_readings(wet, words):
    """Four readings of ±0.05 bar: 0.2 bar."""
    r = compression(readings="8.0 bar; 12.0 bar; 12.0 bar; 12.0 bar", wet=f"{wet}; 12.4 bar; 12.4 bar; 12.4 bar",
                    minimum="10 bar", minimum_source="notes")  # fmt: skip
    assert words in r["suggests"]


@pytest.mark.parametrize(("others", "words"), [
    ("10.1", "a difference too small for this gauge"), ("10.2", "Cylinder 1 gains no more than the others."),
])  # fmt: skip
def test_a_cylinder_that_is_hardly_low_suggests_nothing_when_wet(others, words):
    """It lacks 0.2 or 0.3 bar; four readings are uncertain by 0.2 bar."""
    three = "; ".join([f"{others} bar"] * 3)
    r = compression(readings=f"9.9 bar; {three}", wet=f"10.1 bar; {three}", minimum="9.96 bar", minimum_source="notes")
    assert words in r["suggests"]


def test_nothing_rises_from_zero():
    r = compression(readings="0.0 bar; 10.0 bar; 10.0 bar; 10.0 bar", wet="5.0 bar; 10.4 bar; 10.4 bar; 10.4 bar",
                    minimum="9 bar", minimum_source="notes")  # fmt: skip
    assert "Cylinder 1, 0 bar" in r["suggests"]
    assert "when wet" not in r["suggests"]


# ------------------------------------------------------------------------------ leak-down
def test_the_place_where_air_was_heard_is_refused_by_its_number():
    two = {"readings": "8 %; 9 %"}
    assert refused("leak_down", **two, escapes="exhaust; roof").keys() == {"escapes[2]"}
    assert "also a place" in refused("leak_down", **two, escapes="none heard + exhaust; exhaust")["escapes[1]"]
    assert run("leak_down", **two, escapes="none heard; exhaust + intake").values


def test_words_of_earlier_versions_without_a_cylinder_have_no_former_words():
    assert LEAK_DOWN.former.found("none heard") == ()
    assert LEAK_DOWN.former.found("cylinder 2 (coolant)") == ("cylinder 2, coolant", "cylinder 2 (coolant)")


def test_the_worst_cylinder_has_its_own_uncertainty_and_the_first_may_be_missing():
    heard = {"escapes": "none heard; none heard; none heard", "limit": "40 %", "limit_source": "notes"}
    (check, *_) = run("leak_down", readings="34 %; 9.0 %; 9.0 %", **heard).checks
    assert check.uncertainty.value == pytest.approx(0.005)
    (check, *others) = run("leak_down", readings="not measured; 9 %; 9 %", **heard).checks
    assert (check.outcome, "cylinder 1 not measured" in check.remark, others) == (Outcome.UNDECIDED, True, [])


# ------------------------------------------------------------------------------ pressure hold
@pytest.mark.parametrize(("pressures", "halves", "sign", "most"), [
    ((100, 100, 90), (0, 0, 0), 0, (10, 1, 2)),  # from start to end is another check
    ((100, 90), (0, 0), 0, None),
    ((90, 100, 100, 80, 85), (0, 0, 0, 0, 0), 0, (20, 1, 3)),  # of equal drops the first
    ((100, 95, 100, 90, 95), (0, 0, 0, 0, 0), 0, (10, 0, 3)),
    ((100, 99, 98, 90), (0, 3, 0, 0), 1, (12, 1, 3)),  # 99 + 3 − 90
    ((100, 99, 98, 90), (0, 3, 0, 0), -1, (8, 2, 3)),  # 98 − 90; 99 − 3 − 90 is less
    ((100, 98, 90), (0, 0, 1), -1, (7, 1, 2)),
    ((100, 98, 90, 95), (0, 3, 0, 0), 1, (11, 1, 2)),  # 98 + 3 is the highest before
    ((100, 98, 90), (0, 0, 1), 1, (9, 1, 2)),
])  # fmt: skip
def test_the_largest_drop_between_two_readings_of_which_one_is_between(pressures, halves, sign, most):
    found = Logged(list(range(len(pressures))), list(pressures), list(halves)).most_drop(sign)
    assert found == most or (most is None and found[0] < 0)


def test_readings_up_to_a_time_are_a_whole_hold_only_when_all_are_there():
    logged = Logged([0.0, 60.0, 120.0], [100.0, 95.0, 90.0], [0.0, 0.0, 0.0])
    assert logged.until(120.0) == logged
    assert logged.until(60.0) == Logged([0.0, 60.0], [100.0, 95.0], [0.0, 0.0], to_the_end=False)
    assert logged.until(60.0).most_drop(0) == (5.0, 0, 1)


HOLD = {"start": "100.0 kPa", "end": "97.0 kPa", "start_temperature": "18.0 °C", "end_temperature": "18.0 °C",
        "hold_minutes": "15 min", "hold_minutes_source": "notes", "limit_source": "notes"}  # fmt: skip


def test_a_start_and_an_end_have_their_own_digits():
    """The start ±0.5 kPa, the reading after 5 min ±0.05 kPa: up to 10.55 kPa, and little from the temperature."""
    log = '[{"time": "5 min", "pressure": "90.0 kPa"}]'
    more = {**HOLD, "start": "100 kPa", "end": "90.0 kPa", "log": log}
    check = run("pressure_hold", **more, limit="10.5 kPa").checks[1]
    assert (check.outcome, run("pressure_hold", **more, limit="10 kPa").checks[1].outcome) == (Outcome.UNDECIDED,) * 2


@pytest.mark.parametrize(("limit", "outcome"), [("0 kPa", Outcome.UNDECIDED), ("40 kPa", Outcome.PASS)])
def test_a_hold_longer_than_required_proves_no_fail(limit, outcome):
    more = {**HOLD, "minutes": "20 min", "end": "70.0 kPa", "limit": limit}
    check = run("pressure_hold", **more).checks[0]
    assert (check.outcome, "held longer than the source requires" in check.remark) == (outcome, True)
    assert run("pressure_hold", **more | {"minutes": "15 min"}).checks[0].outcome is (
        Outcome.FAIL if outcome is Outcome.UNDECIDED else Outcome.PASS
    )


def test_a_drop_of_zero_that_is_not_allowed_is_not_proved_by_a_longer_hold():
    more = {**HOLD, "minutes": "20 min", "end": "100.0 kPa", "limit": "0 kPa", "at_limit": "not allowed"}
    assert run("pressure_hold", **more).checks[0].outcome is Outcome.UNDECIDED


@pytest.mark.parametrize(("limit", "outcome"), [("9.6 kPa", Outcome.FAIL), ("9.7 kPa", Outcome.UNDECIDED)])
def test_a_drop_between_two_readings_counts_once_the_uncertainty_of_each(limit, outcome):
    """10.0 less 0.05 for each reading, and less what 0.1 K may do."""
    log = '[{"time": "5 min", "pressure": "90.0 kPa"}]'
    check = run("pressure_hold", **HOLD | {"log": log, "limit": limit, "end": "90.0 kPa"}).checks[1]
    assert check.outcome is outcome


def test_a_pressure_above_the_rating_counts_its_uncertainty_under_every_rule():
    """100 ± 0.5 kPa against 99.8 kPa is undecided, also under simple acceptance: the rating is no limit of a source."""
    more = {"start": "100 kPa", "cap_rating": "99.8 kPa"}
    for rule in ("iso_14253_1", "simple_acceptance"):
        (check,) = (c for c in run("pressure_hold", **more, decision_rule=rule).checks if "pumped" in c.label)
        assert check.outcome is Outcome.UNDECIDED
