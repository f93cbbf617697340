"""The judge, the words of a check and its JSON, each at its limits, one value at a time."""

import itertools
import math

import pytest

from shoplib.core.checks import (
    ORIGINS,
    RULES,
    Check,
    Origin,
    Outcome,
    Rule,
    Uncertainty,
    Value,
    added,
    corners,
    decide,
    demand,
    gap_label,
    in_words,
    worst,
)
from shoplib.core.units import mm, unit_of

MM = unit_of(mm)
PASS, FAIL, UNDECIDED = Outcome.PASS, Outcome.FAIL, Outcome.UNDECIDED


def value(x, label="gap", of=MM, **more):
    return Value(x, of, label, **more)


# ------------------------------------------------------------------------------ the judge
@pytest.mark.parametrize(
    ("low", "high", "comparison", "bound", "at_limit", "outcome"),
    [
        (1.0, 2.0, "≤", 2.0, None, PASS), (1.0, 2.0, "<", 2.0, None, UNDECIDED), (2.0, 3.0, "<", 2.0, None, FAIL),
        (2.0, 3.0, "≤", 2.0, None, UNDECIDED), (1.0, 2.0, "≥", 1.0, None, PASS), (1.0, 2.0, ">", 1.0, None, UNDECIDED),
        (0.0, 1.0, ">", 1.0, None, FAIL), (0.0, 1.0, "≥", 1.0, None, UNDECIDED), (2.0, 2.0, "≤", 2.0, None, PASS),
        (2.0, 2.0, "<", 2.0, None, FAIL), (2.0, 2.0, "≥", 2.0, None, PASS), (2.0, 2.0, ">", 2.0, None, FAIL),
        (2.0, 2.0, "≤", 2.0, False, FAIL), (2.0, 2.0, "<", 2.0, True, PASS), (2.0, 2.0, "≥", 2.0, False, FAIL),
        (2.0, 2.0, ">", 2.0, True, PASS), (1.0, 2.0, "≤", 1.5, None, UNDECIDED), (-3.0, -2.0, "≤", -2.5, None, UNDECIDED),
        (-3.0, -2.0, "≥", -3.0, None, PASS), (-3.0, -2.0, "≤", -4.0, None, FAIL), (1.0, 2.0, "≥", 3.0, None, FAIL),
        (-math.inf, 1.0, "≤", 2.0, None, PASS), (-math.inf, 1.0, "≥", 0.0, None, UNDECIDED),
        (1.0, math.inf, "≥", 0.0, None, PASS), (1.0, math.inf, "≤", 2.0, None, UNDECIDED),
    ],
)  # fmt: skip
def test_a_verdict_at_its_limit(low, high, comparison, bound, at_limit, outcome):
    assert decide(low, high, comparison, bound, at_limit=at_limit) is outcome


def test_the_size_of_the_ends_is_the_scale_of_noise_and_no_other():
    assert decide(-100.0, 0.99e-10, "≤", 0.0) is PASS
    assert decide(-100.0, 1.01e-10, "≤", 0.0) is UNDECIDED
    assert decide(-1e-3, 0.9e-12, "≤", 0.0) is UNDECIDED
    assert decide(-math.inf, 0.9e-12, "≤", 0.0) is UNDECIDED  # an open end has no size
    assert decide(-math.inf, 5.0, "≤", 3.0) is UNDECIDED and decide(5.0, math.inf, "≥", 10.0) is UNDECIDED
    assert decide(-0.9e-12, math.inf, "≥", 0.0) is UNDECIDED
    assert decide(-math.inf, 1.0 + 1e-12, "≤", 1.0) is PASS and decide(1.0 - 1e-12, math.inf, "≥", 1.0) is PASS
    assert decide(-0.9e-10, 100.0, "≥", 0.0) is PASS and decide(-1.1e-10, 100.0, "≥", 0.0) is UNDECIDED


def test_the_worst_outcome_first():
    order = [FAIL, UNDECIDED, Outcome.NO_LIMIT, PASS]
    for a, b in itertools.combinations(order, 2):
        assert worst([b, a]) is worst([a, b]) is a
    assert worst([PASS, PASS]) is PASS and worst([]) is None


# ------------------------------------------------------------------------------ uncertainty and corners
def test_uncertainties_add_up_and_a_factor_has_no_sign():
    one, two = Uncertainty(0.1, Origin.DIGITS), Uncertainty(0.25, Origin.DIGITS)
    assert one.times(-3.0) == Uncertainty(pytest.approx(0.3), Origin.DIGITS)
    assert added(one) == one
    assert added(one, two) == Uncertainty(0.35, Origin.COMBINED)
    assert Uncertainty(1.0).origin is Origin.COMBINED


def test_corners_are_the_ends_with_where_they_are():
    low, high = corners(lambda x, y: x - y, x=(1.0, 2.0), y=(10.0, 30.0))
    assert (low.value, dict(low.at)) == (-29.0, {"x": 1.0, "y": 30.0})
    assert (high.value, dict(high.at)) == (-8.0, {"x": 2.0, "y": 10.0})
    calls = []
    corners(lambda x: calls.append(x) or x, x=(1.0, 1.0))
    assert calls == [1.0]  # one value has no ends


# ------------------------------------------------------------------------------ words
@pytest.mark.parametrize(
    ("comparison", "limit", "said"),
    [("≤", "5 mm", "must be at most 5 mm"), ("<", "5 mm", "must be below 5 mm"), ("≥", "5 mm", "must be at least 5 mm"),
     (">", "5 mm", "must be above 5 mm"), ("≤", "", ""), (">", "", ""), ("agree", "", "must agree"), ("state", "x", ""),
     ("never", "", "must not be"), ("", "5 mm", ""), ("within", "1 to 2", "must be within 1 to 2"),
     ("must be", "dry", "must be dry"), ("calibration", "due 2027-03-01", "calibration due 2027-03-01")],
)  # fmt: skip
def test_what_a_check_asks_for(comparison, limit, said):
    assert demand(comparison, limit) == said


def test_a_check_as_a_sentence():
    assert in_words("Lowest", "65.7 %", "must be at least 80 %", "page 8") == (
        "Lowest: 65.7 %, must be at least 80 % [page 8]"
    )
    assert in_words("Lowest", "65.7 %", "", None) == "Lowest: 65.7 %"
    assert in_words("Lowest", "", "must agree", "") == "Lowest: must agree"


def test_a_reading_of_leaves_is_told_as_a_bound_of_the_gap():
    assert in_words("Line “2”: gap below", "0.06 mm", "", None) == "Straightedge line “2”: gap below 0.06 mm"
    assert in_words("Line “2”, smallest possible gap", "0.06 mm", "must be at most 0.05 mm", "page 8") == (
        "Straightedge line “2”: gap 0.06 mm or more, must be at most 0.05 mm [page 8]"
    )
    assert gap_label("Line “2”, gap below") == ("Line “2”", "gap below {}")
    assert gap_label("Slope below") is None


# ------------------------------------------------------------------------------ values
def test_a_value_as_people_read_it():
    assert value(None).shown == "not known" and value(None, of=None).shown == "not known"
    assert value(0.0012345).shown == "1.235 mm" and value(0.0012345, digits=2).shown == "1.2 mm"
    assert value([0.001, 0.002]).shown == "1.000 mm; 2.000 mm"
    assert value(["1", "2"], of=None).shown == "1; 2" and value([], of=None).shown == "none"
    assert value("dry", of=None).shown == "dry" and value(7, of=None).shown == "7"
    assert value(True, of=None).shown == "yes" and value(False, of=None).shown == "no"
    assert value([True, False], of=None).shown == "yes; no"


def test_a_value_on_lines_and_as_json():
    table = value([{"a": value(0.001, "A"), "b": value("x", "B", of=None)}], "rows", of=None)
    assert table.is_table and not value([], of=None).is_table and not value([1], of=None).is_table
    assert not value("a", of=None).is_table
    assert table.as_lines() == ["rows:", "    A 1.000 mm, B x"]
    assert value(0.001).as_lines() == ["gap: 1.000 mm"]
    assert table.to_json() == {
        "value": [{"a": {"value": 1.0, "unit": "mm"}, "b": {"value": "x", "unit": None}}], "unit": None,
    }  # fmt: skip
    assert value([0.001, None]).to_json() == {"value": [1.0, None], "unit": "mm"}
    assert value((0.001,)).to_json() == {"value": [1.0], "unit": "mm"}
    assert value(None).to_json() == {"value": None, "unit": "mm"}
    assert value(["a"], of=None).to_json() == {"value": ["a"], "unit": None}


# ------------------------------------------------------------------------------ a check
def check(found, limit, **more):
    told = {"label": "Gap", "comparison": "≤", "limit_source": "page 3", "outcome": PASS} | more
    return Check(found=found, limit=limit, **told)


def test_as_many_digits_as_tell_why():
    assert check(value(0.0012345), value(0.00123451)).shown == ("1.23450 mm", "1.23451 mm")
    assert check(value(0.001), value(0.002)).shown == ("1.000 mm", "2.000 mm")
    assert check(value(0.001, digits=2), value(0.002, digits=6)).shown == ("1.0 mm", "2.00000 mm")
    assert check(value(0.001, digits=6), value(0.002, digits=2)).shown == ("1.00000 mm", "2.0 mm")
    assert check(value(0.001), None).shown == ("1.000 mm", "")
    assert check(value("a", of=None), value("b", of=None)).shown == ("a", "b")
    assert check(value(True, of=None), value(1, of=None)).shown == ("yes", "1")
    assert check(value([0.001]), value(0.002)).shown == ("1.000 mm", "2.000 mm")
    assert check(value(None), value(0.002)).shown == ("not known", "2.000 mm")
    assert check(value(1, of=None), value(2, of=None)).shown == ("1", "2")
    assert check(value(1, of=None), value(0.002)).shown == ("1", "2.000 mm")
    assert check(value(0.002), value(1, of=None)).shown == ("2.000 mm", "1")


def test_no_more_digits_than_tell_why():
    """A shift by one that nobody asked for, or by an uncertainty on one side only, would need more digits."""
    assert check(value(0.01024, digits=3), value(0.00924, digits=3)).shown == ("10.2 mm", "9.24 mm")
    unsure = {"uncertainty": value(0.002, digits=1), "rule": Rule.GUARD_BANDS}
    assert check(value(0.010, digits=3), value(0.011, digits=3), **unsure).shown == ("10.0 mm", "11.0 mm")
    assert check(value(0.01004, digits=3), value(0.0121, digits=3), **unsure).shown == ("10.0 mm", "12.1 mm")


def test_the_readings_of_a_value_are_no_part_of_it():
    class Two:
        def place(self, value, unit, digits, half_width=None):
            return 0, 0

    assert value(0.00149).supported(Two()) == value(0.00149) and "readings" not in repr(value(0.00149))
    assert value([0.00149, None, 0.002]).supported(Two()).shown == "1 mm; not known; 2 mm"
    assert value([None]).supported(Two()).shown == "not known"


def test_without_zeros_that_nobody_measured():
    assert check(value(0.001), value(0.002)).told == ("1 mm", "must be at most 2 mm")
    assert check(value("1.50", of=None), value("2.0", of=None)).told == ("1.50", "must be at most 2.0")
    assert check(value(0.001), value(0.002)).sentence == "Gap: 1 mm, must be at most 2 mm [page 3]"


def test_the_basis_of_a_verdict_and_the_line():
    bare = check(value(0.001), None, limit_source=None, outcome=Outcome.NO_LIMIT)
    assert bare.basis == "" and bare.as_line() == "Gap: 1 mm → no limit given"
    unsure = {"uncertainty": value(0.0001), "uncertainty_origin": Origin.DIGITS}
    whole = check(value(0.001), value(0.002), remark="cold", rule=Rule.GUARD_BANDS, **unsure,
                  corner={"p": value(0.003, "Pitch"), "q": value(0.004, "Other")})  # fmt: skip
    basis = f"worst case of the ranges typed: Pitch 3.000 mm, Other 4.000 mm; uncertainty ±0.1000 mm, {ORIGINS[Origin.DIGITS]}; {RULES[Rule.GUARD_BANDS]}"
    assert whole.basis == basis
    assert whole.as_line() == f"Gap: 1 mm, must be at most 2 mm [page 3] → pass (cold; {basis})"
    assert check(value(0.001), value(0.002), uncertainty=value(0.0001)).basis == ""
    assert check(value(0.001), value(0.002), **unsure).basis == f"uncertainty ±0.1000 mm, {ORIGINS[Origin.DIGITS]}"
    corner = check(value(0.001), value(0.002), rule=Rule.WORST_CASE, corner={"p": value(0.003, "Pitch")})
    assert corner.basis == f"{RULES[Rule.WORST_CASE]}: Pitch 3.000 mm"
    assert check(value(0.001), value(0.002), uncertainty_origin=Origin.DIGITS).basis == ""
    assert check(value(0.001), value(0.002)).as_line() == "Gap: 1 mm, must be at most 2 mm [page 3] → pass"


def test_a_check_as_json():
    bare = check(value(0.001), None, limit_source=None).to_json()
    assert bare == {
        "label": "Gap", "found": {"value": 1.0, "unit": "mm"}, "limit": None, "comparison": "≤", "limit_source": None,
        "outcome": "pass", "remark": "", "uncertainty": None, "uncertainty_origin": None, "decision_rule": None,
        "worst_corner": {},
    }  # fmt: skip
    whole = check(value(0.001), value(0.002), uncertainty=value(0.0001), uncertainty_origin=Origin.LEAVES,
                  rule=Rule.SIMPLE, corner={"p": value(0.003)}).to_json()  # fmt: skip
    assert whole["limit"] == {"value": 2.0, "unit": "mm"}
    assert whole["uncertainty"] == {"value": pytest.approx(0.1), "unit": "mm"}
    assert (whole["uncertainty_origin"], whole["decision_rule"]) == ("leaves", "simple_acceptance")
    assert whole["worst_corner"] == {"p": {"value": 3.0, "unit": "mm"}}
