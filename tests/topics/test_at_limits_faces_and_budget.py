"""Typed inputs at the limit that decides: heights, leaves and liners of a face, measurements, and what bolts keep.

Limits of numbers are common practice, no source; counts are ours.
"""

import pytest

from shoplib.core.errors import BadInput
from shoplib.topics import get
from tests.topics.typed_inputs import typed


def run(name, **more):
    return get(name)({**typed(get(name)), **more})


def refused(name, **more):
    """What is wrong, by field; nothing: it is taken."""
    try:
        run(name, **more)
    except BadInput as caught:
        return {problem.field: str(problem) for problem in caught.problems}
    return {}


def outcomes(result):
    return {check.label: str(check.outcome) for check in result.checks}


# ------------------------------------------------------------------------------ bolts
YIELDS = {
    "thread": "M10x1.5", "bearing_mean": "13 mm", "torque": "80 N*m ± 4 %", "angle": "90 deg ± 5 deg",
    "series_stiffness": "60–120 kN/mm", "relaxation": "3.3 %", "relaxation_source": "notes", "gasket_creep": "1.1 %",
    "gasket_creep_source": "notes", "draws": "10000",
}  # fmt: skip


@pytest.mark.parametrize("load", ["41.7 kN", "40.0 kN", "39.9 kN"])
def test_bolts_that_all_yield_at_one_preload_have_no_cause_of_scatter(load):
    found = run("preload_budget", **YIELDS, yield_preload=load)
    assert {row["share"].value for row in found["contributions"]} == {0}
    assert len(found["contributions"]) == 3


def test_a_yield_of_a_narrow_range_is_the_cause_of_all_scatter():
    rows = run("preload_budget", **YIELDS, yield_preload="41.699–41.701 kN")["contributions"]
    (cause,) = [row["share"].value for row in rows if "yields" in row["cause"].value]
    assert cause == pytest.approx(1, abs=1e-3)
    assert sum(row["share"].value for row in rows) == pytest.approx(1, abs=0.01)


def test_a_head_that_is_not_in_the_table_is_asked_for_its_missing_diameter():
    bolt = {"thread": "1/2-13 UNC", "bearing_mean": "", "torque": "40 N*m"}
    wrong = refused("preload_from_torque", **bolt, bearing_outer="19 mm")
    assert set(wrong) == {"bearing_hole"}
    assert set(refused("preload_from_torque", **bolt, bearing_hole="13.5 mm")) == {"bearing_outer"}


@pytest.mark.parametrize(("one", "other"), [("mu_thread", "mu_head"), ("mu_head", "mu_thread")])
def test_a_range_of_one_friction_and_one_for_both_are_two_ranges(one, other):
    bolt = {"thread": "M10x1.5", "torque": "40 N*m", "mu_low": "0.08", "mu_high": "0.20"}
    wrong = refused("preload_from_torque", **bolt, **{one: "0.10–0.14", other: "0.12"})
    assert "is a second range" in wrong["mu_low"]
    assert refused("preload_from_torque", **bolt, mu_thread="0.12", mu_head="0.12") == {}


@pytest.mark.parametrize(
    ("more", "named"), [({"property_class": "8.8"}, "(class 8.8)"), ({}, ", the strongest class in the tables)")]
)
def test_a_bolt_that_would_break_is_named_by_its_class(more, named):
    cautions = run("preload_from_torque", thread="M10x1.5", torque="400 N*m", **more).cautions
    assert any("The bolt would break" in text and named in text for text in cautions)


# ------------------------------------------------------------------------------ lines of a face
ONE = {"goes": "0.030 mm", "no_go": "0.200 mm"}
LIMIT = {"limit": "0.080 mm", "limit_source": "notes"}


def advice(leaves):
    return run("flatness_lines", lines=[{"name": "A", **ONE}], leaves=leaves, **LIMIT)["advice"]


def test_a_stack_has_at_most_three_leaves_the_thickest_first():
    """Each leaf may be out by half a digit: 0.03 + 0.04 mm by 0.01 mm together, so a gap below is below 0.08 mm."""
    assert advice("0.03 mm; 0.05 mm; 0.04 mm") == (
        "Line “A”: it passes if 0.04 + 0.03 mm does not fit; it fails if 0.05 + 0.04 + 0.03 mm fits."
    )


def test_four_leaves_are_no_stack():
    said = advice("0.024 mm; 0.023 mm; 0.022 mm; 0.021 mm")
    assert said == "Line “A”: it passes if 0.024 + 0.023 + 0.022 mm does not fit."


def test_a_line_says_what_was_typed_of_it():
    rows = [
        {"name": "A"}, {"name": "B", "state": "unreadable"}, {"name": "C", "state": "rocks"},
        {"name": "D", "goes": "1000 um", "no_go": "1.5 mm"},
    ]  # fmt: skip
    found = run("flatness_lines", lines=rows, **LIMIT)
    assert [row["read"].value for row in found["brackets"]] == [
        "not measured", "unreadable", "rocks", "1000 um / 1.5 mm",
    ]  # fmt: skip
    (remark,) = [check.remark for check in found.checks if "“D”" in check.label]
    assert remark == "from 1 mm to below 1.5 mm"


def test_the_working_shows_the_widest_gap_of_an_edge_that_does_not_rock():
    """Where the edge itself may be out; a line that rocks has a working of its own."""
    rows = [
        {"name": "A", "goes": "0.02 mm", "no_go": "0.03 mm"}, {"name": "B"},
        {"name": "C", "goes": "0.10 mm", "no_go": "0.11 mm", "other_goes": "0.10 mm", "other_no_go": "0.11 mm"},
    ]  # fmt: skip
    found = run("flatness_lines", lines=rows, edge_error="0.005 mm", **LIMIT)
    assert [step.title for step in found.steps] == [
        "Line A, at least", "Line A, below", "Line C rocks: balanced, at least", "Line C rocks: balanced, below",
    ]  # fmt: skip


# ------------------------------------------------------------------------------ measurement
WHERE = {"what": "temperature", "where": "oil", "state": ""}


@pytest.mark.parametrize(("value", "outcome"), [("90.4 degC", "pass"), ("90.6 degC", "undecided")])
def test_the_resolution_of_a_temperature_is_a_difference(value, outcome):
    found = run("measurement", **WHERE, value=value, high="91 degC", high_source="notes", resolution="1 degC")
    assert [str(check.outcome) for check in found.checks] == [outcome]


def test_limits_contradict_each_other_without_a_value_too():
    state = {**WHERE, "state": "not measured", "value": ""}
    assert set(refused("measurement", **state, low="2 mm", high="1 mm")) == {"low"}
    assert refused("measurement", **state, low="1 mm", high="1 mm") == {}
    assert set(refused("measurement", **state, low="2 mm", high="1 N")) == {"high"}


@pytest.mark.parametrize(
    ("limits", "said"), [({}, ["must be measured"]), ({"low": "1 mm"}, ["must be at least 1 mm"]),
                         ({"high": "1 mm"}, ["must be at most 1 mm"]),
                         ({"low": "1 mm", "high": "2 mm"}, ["must be at least 1 mm", "must be at most 2 mm"])],
)  # fmt: skip
def test_what_was_not_measured_is_open_once_for_each_limit(limits, said):
    found = run("measurement", **{**WHERE, "state": "not measured", "value": ""}, **limits)
    assert len(found.checks) == len(said)
    assert all(text in check.as_line() for text, check in zip(said, found.checks, strict=True))
