"""Typed inputs at the limit that decides: heights, leaves and liners of a face, measurements, and what bolts keep.

Limits of numbers are common practice, no source; counts are ours.
"""

import numpy as np
import pytest

from shoplib.topics.flatness.surface_points import lacking
from tests.topics.typed_inputs import refused, run

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


# ------------------------------------------------------------------------------ heights of a face
def heights(length=300, width=150, columns=3, rows=3):
    """A grid of places that spans so much, in mm; the middle is a hundredth high."""
    xs = [length * k / (columns - 1) for k in range(columns)]
    ys = [width * k / (rows - 1) for k in range(rows)]
    middle = (xs[columns // 2], ys[rows // 2])
    return [
        {"x": f"{x:g} mm", "y": f"{y:g} mm", "z": "0.010 mm" if (x, y) == middle else "0.000 mm"}
        for x in xs for y in ys
    ]  # fmt: skip


OUTLINE = [
    {"x": x, "y": y} for x, y in (("0 mm", "0 mm"), ("400 mm", "0 mm"), ("400 mm", "200 mm"), ("0 mm", "200 mm"))
]
JUDGED = {"limit": "0.05 mm", "limit_source": "notes", "u": "0.004 mm"}


@pytest.mark.parametrize(
    ("length", "width", "said"),
    [(300, 150, ""), (300, 140, "the places span 70 % of the face"), (280, 150, "the places span 70 % of the face"),
     (280, 130, "the places span 65 % of the face"), (260, 140, "the places span 65 % of the face"),
     (299, 150, "the places span 74.8 % of the face")],
)  # fmt: skip
def test_the_places_span_three_quarters_of_the_face_both_ways(length, width, said):
    (check,) = run("flatness_grid", points=heights(length, width), outline=OUTLINE, **JUDGED).checks
    assert str(check.outcome) == ("undecided" if said else "pass")
    assert said in check.remark
    assert ("the places span" in check.remark) == bool(said)


def test_a_place_outside_the_outline_is_refused():
    assert set(refused("flatness_grid", points=heights(410), outline=OUTLINE)) == {
        "points[7]", "points[8]", "points[9]",
    }  # fmt: skip
    rows = [{"x": "50 mm", "y": "50 mm", "z": "not measured"}, *heights(410, columns=30)]
    assert len(refused("flatness_grid", points=rows, outline=OUTLINE)) == 3
    rows = [*heights(), *({"x": f"{500 + k} mm", "y": "0 mm", "z": "0 mm"} for k in range(22))]
    assert list(refused("flatness_grid", points=rows, outline=OUTLINE)) == [f"points[{10 + k}]" for k in range(20)]
    rows.insert(0, {"x": "50 mm", "y": "50 mm", "z": "not measured"})
    assert next(iter(refused("flatness_grid", points=rows, outline=OUTLINE))) == "points[11]"


def test_so_many_second_heights_are_named():
    """Places nearer than a nanometre are one place."""
    again = [{"x": f"{k % 3 * 150} mm", "y": "0 mm", "z": "0.020 mm"} for k in range(21)]
    assert list(refused("flatness_grid", points=[*heights(), *again])) == [f"points[{10 + k}]" for k in range(20)]
    for x, y, taken in (("150.0000003 mm", "0 mm", False), ("150 mm", "0.0000003 mm", False), ("151 mm", "0 mm", True)):
        wrong = refused("flatness_grid", points=[*heights(), {"x": x, "y": y, "z": "0.020 mm"}])
        assert (not wrong) == taken


def test_a_place_that_is_measured_twice_is_one_place():
    P = np.array([[0.1 * (k % 3), 0.1 * (k // 3), 0.0] for k in range(9)])
    assert lacking(P) == []
    assert lacking(P[:8])[0].startswith("heights at 8 places")
    for again in ([0, 0, 1e-5], [3e-10, 0, 0]):
        assert lacking(np.vstack([P[:8], again]))[0].startswith("heights at 8 places")


@pytest.mark.parametrize(("inward", "shows"), [(0.003, False), (0.005, True)])
def test_places_on_one_circle_do_not_show_every_bend(inward, shows):
    """One of nine places stands inward; the least singular value, for the root of their number, is 0.8 or 1.3 thousandths."""
    turn, radius = np.arange(9) * 2 * np.pi / 9, np.full(9, 0.1)
    radius[0] -= inward * 0.1
    P = np.stack([radius * np.cos(turn), radius * np.sin(turn), 0 * turn], axis=1)
    assert (lacking(P) == []) == shows


@pytest.mark.parametrize(("columns", "listed"), [(10, True), (11, False)])
def test_forty_heights_are_listed(columns, listed):
    found = run("flatness_grid", points=heights(columns=columns, rows=4))
    assert ("levelled" in found.values) == listed


@pytest.mark.parametrize(("more", "missing"), [([], None), (["void"], None), (["not measured", "unreadable"], 2)])
def test_a_place_that_is_not_measured_is_counted_and_a_void_is_not(more, missing):
    rows = [*heights(), *({"x": f"{k + 10} mm", "y": "10 mm", "z": state} for k, state in enumerate(more))]
    found = run("flatness_grid", points=rows, **JUDGED)
    assert found["not_measured"] == (missing or 0)
    assert found["points_used"] == 9
    assert str(found.outcome) == ("undecided" if missing else "pass")


@pytest.mark.parametrize("along", ["x", "y"])
@pytest.mark.parametrize(
    ("beside", "wrong"), [("0 mm", True), ("0.00009 mm", True), ("0.00011 mm", False), ("-0.00011 mm", False)]
)
def test_three_points_of_a_datum_span_a_plane(along, beside, wrong):
    """Twice the area of the triangle, 100 mm · 0.0001 mm, against a millionth of 100 mm squared."""
    across = "y" if along == "x" else "x"
    places = (("0 mm", "0 mm"), ("100 mm", "0 mm"), ("50 mm", beside))
    datum = [{along: a, across: b, "z": "0 mm"} for a, b in places]
    assert bool(refused("flatness_grid", points=heights(), datum=datum)) == wrong


def test_the_coarsest_height_counts_for_the_flatness():
    """±0.005 mm at the top and at the bottom."""
    rows = heights()
    rows[0]["z"] = "0.00 mm"
    (check,) = run("flatness_grid", points=rows, limit="0.05 mm", limit_source="notes").checks
    assert "uncertainty ±0.01 mm, half a unit in the last digit" in check.as_line()


def corners(*places):
    return [{"x": f"{x} mm", "y": f"{y} mm"} for x, y in places]


def test_an_outline_that_is_none_says_nothing_of_the_places():
    """Three corners make a face; two or a crossing make none, and no place is refused for it."""
    points = heights(100, 100)
    assert refused("flatness_grid", points=points, outline=corners((-10, -10), (300, -10), (-10, 300))) == {}
    assert set(refused("flatness_grid", points=points, outline=corners((-10, -10), (300, -10)))) == {"outline"}
    crossing = corners((-10, -10), (300, 300), (300, -10), (-10, 300))
    assert set(refused("flatness_grid", points=points, outline=crossing)) == {"outline"}


@pytest.mark.parametrize(
    "hole", [((40, 40), (60, 60)), ((40, 40), (60, 60), (60, 40), (40, 60)), ((40, 50), (60, 50), (40, 50))]
)
def test_a_hole_that_is_none_says_nothing_of_the_places(hole):
    more = {"outline": OUTLINE, "holes": [{"name": "slot", **corner} for corner in corners(*hole)]}
    assert set(refused("flatness_grid", points=heights(100, 100), **more)) == {"holes"}


def test_a_place_is_read_in_the_unit_of_both_or_of_each_coordinate():
    for start in ("0.1 m; 0 m", "0.1; 0 m", "100 mm; 0 m", "0.1m;0m"):
        found = run("flatness_lines", lines=[{"name": "A", "from": start, "to": "400; 0 mm", **ONE}])
        assert found["brackets"][0]["length"].value == pytest.approx(0.3)


def test_a_cut_parallel_to_a_datum_takes_off_its_tilt():
    """The datum rises 1 mm/m along x and 2 mm/m along y, and lies 1 mm higher; the flat face of 300 mm by 150 mm then falls
    by 0.6 mm."""
    places = [("100 mm", "50 mm", "1.2 mm"), ("200 mm", "50 mm", "1.3 mm"), ("100 mm", "150 mm", "1.4 mm")]
    datum = [{"x": x, "y": y, "z": z} for x, y, z in places]
    found = run("flatness_grid", points=heights(), datum=datum)
    assert found["clean_up_cut_datum"] == pytest.approx(0.6e-3, rel=1e-5)
    for wrong in (datum[:2], [*datum, {"x": "0 mm", "y": "0 mm", "z": "0 mm"}]):
        assert set(refused("flatness_grid", points=heights(), datum=wrong)) == {"datum"}
