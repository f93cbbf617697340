"""Straightedge lines, heights and step readings on input, and what they decide."""

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib import topics as workings
from shoplib.core.checks import Outcome
from shoplib.core.errors import BadInput
from shoplib.physics import feeler
from shoplib.physics.flatness import minimum_zone
from tests.published.flatness_places import PLACES
from tests.published.published import rows as published

LINES, GRID, STEPS = (workings.get(n) for n in ("flatness_lines", "flatness_grid", "flatness_steps"))
SOURCE = "bench notes of the teaching workshop, sheet 12"


def one(goes=None, no_go=None, limit="0.08 mm", source=SOURCE, comparison="<", **row):
    line = {"name": "A", **({"goes": goes} if goes else {}), **({"no_go": no_go} if no_go else {}), **row}
    typed = {"lines": [line], "comparison": comparison, "decision_rule": "simple_acceptance"}  # leaves as marked
    return LINES({**typed, **({"limit": limit} if limit else {}), **({"limit_source": source} if source else {})})


def of_line(result):
    """The outcome of the line alone; one line is never enough for the whole face."""
    return result.checks[0].outcome


SIX = [{"name": f"{way} {k}", "direction": way, "goes": "0.03 mm", "no_go": "0.04 mm"}
       for way in ("along", "across", "diagonal") for k in (1, 2)]  # fmt: skip


def problems(working, **typed):
    with pytest.raises(BadInput) as caught:
        working(**typed)
    return {p.field: p.why for p in caught.value.problems}


# ------------------------------------------------------------------------------ a reading is a bracket
@pytest.mark.parametrize(
    ("goes", "no_go", "comparison", "outcome"),
    [
        ("0.05 mm", "0.06 mm", "<", "pass"),
        ("0.05 mm", "0.08 mm", "<", "pass"),  # the leaf of the limit does not go: the gap is below it
        ("0.05 mm", "0.10 mm", "<", "undecided"),
        ("0.08 mm", "0.10 mm", "<", "fail"),  # the gap is at least the limit
        ("0.08 mm", "0.10 mm", "<=", "undecided"),  # the limit itself is allowed, and it may be just that
        ("0.08 mm", "0.10 mm", "≤", "undecided"),
        ("0.09 mm", "0.10 mm", "<=", "fail"),
        ("0.05 + 0.03 mm", "0.10 mm", "<", "fail"),
        ("0,05 mm", "0,08 mm", "<=", "pass"),
        ("0.003 in", "0.004 in", "<", "undecided"),  # 0.076 and 0.102 mm
        ("thinnest will not go", "0.05 mm", "<", "pass"),
        ("thinnest will not go", "0.10 mm", "<", "undecided"),
        ("0.07 mm", "thickest still loose", "<", "undecided"),
        ("0.20 mm", "thickest still loose", "<", "fail"),
        ("0.05 mm", None, "<", "undecided"),
        ("0.09 mm", None, "<", "fail"),
        (None, "0.05 mm", "<", "pass"),
        (None, None, "<", "undecided"),
        ("not measured", None, "<", "undecided"),
        ("unreadable", "0.05 mm", "<", "undecided"),
    ],
)
def test_the_outcome_of_a_bracket(goes, no_go, comparison, outcome):
    assert of_line(one(goes, no_go, comparison=comparison)) == outcome


def test_undecided_names_the_leaf_that_decides():
    result = one("0.05 mm", "0.10 mm")
    assert (result["worst_low"], result["worst_high"]) == (pytest.approx(5e-5), pytest.approx(1e-4))
    assert result["deciding_leaf"] == pytest.approx(8e-5)
    assert "0.08 mm" in result["advice"]
    assert "deciding_leaf" not in one("0.05 mm", "0.06 mm").values
    # and it does decide, either way
    assert of_line(one("0.08 mm", "0.10 mm")) == "fail"
    assert of_line(one("0.05 mm", "0.08 mm")) == "pass"


@pytest.mark.parametrize(
    ("leaves", "says"),
    [
        ("0.05 mm; 0.10 mm; 0.15 mm", "no leaf or stack of your set decides; try a leaf of 0.08 mm"),
        ("0.03 mm; 0.05 mm; 0.10 mm", "0.05 + 0.03 mm"),
        ("0.08 mm; 0.05 mm", "it passes if 0.08 mm does not fit"),
    ],
)
def test_the_deciding_leaf_is_stacked_from_your_set(leaves, says):
    result = LINES(lines=[{"name": "A", "goes": "0.05 mm", "no_go": "0.1 mm"}], limit="0.08 mm", leaves=leaves,
                   decision_rule="simple_acceptance")  # fmt: skip
    assert says in result["advice"]


def test_after_a_stack_a_single_leaf_may_decide():
    """A stack of two may be out by twice as much as one leaf: 0.08 mm less 0.005 mm."""
    lines = [{"name": "A", "goes": "0.05 + 0.02 mm", "no_go": "0.05 + 0.03 mm"}]
    typed = {"lines": lines, "limit": "0.08 mm", "at_limit": "not allowed"}
    single = "it passes if a single leaf above 0.07 mm, up to 0.075 mm, does not fit"
    assert LINES(typed)["advice"] == f"Line “A”: {single}."
    assert LINES(typed, leaves="0.05 mm; 0.03 mm")["advice"] == (
        f"Line “A”: no leaf or stack of your set decides; {single}."
    )


def test_a_stack_is_listed_leaf_by_leaf_as_read():
    result = one("0.05 + 0.02 mm", "0.05 + 0.03 mm", other_goes="0.1 mm", other_no_go="thickest still loose")
    (row,) = result["brackets"]
    assert row["read"].value == "0.05 + 0.02 mm / 0.05 + 0.03 mm; other end 0.1 mm / thickest still loose"
    assert one(None, None)["brackets"][0]["read"].value == "not measured"


def test_a_limit_without_a_source_can_fail_never_pass():
    assert one("0.05 mm", "0.06 mm", source=None).outcome == "no limit given"
    assert one("0.10 mm", "0.12 mm", source=None).outcome == "fail"
    assert "source missing" in one("0.10 mm", "0.12 mm", source=None).checks[0].remark
    assert one("0.05 mm", "0.06 mm", limit=None, source=None).outcome == "no limit given"


@pytest.mark.parametrize("state", ["doubtful", "not measured", "unreadable"])
def test_missing_and_doubtful_block_a_pass_never_a_fail(state):
    good = {"name": "A", "goes": "0.03 mm", "no_go": "0.04 mm"}
    bad = {"name": "B", "goes": "0.10 mm", "no_go": "0.12 mm"}
    open_ = {"name": "C", "state": state, **({"no_go": "0.04 mm"} if state == "doubtful" else {})}
    typed = {"limit": "0.08 mm", "limit_source": SOURCE}
    assert LINES(lines=[*SIX, good], **typed).outcome == "pass"
    assert LINES(lines=[*SIX, good, open_], **typed).outcome == "undecided"
    assert LINES(lines=[*SIX, good, open_, bad], **typed).outcome == "fail"
    assert LINES(lines=[dict(bad, state="doubtful")], **typed).outcome == "fail"


def test_a_line_that_should_be_there_and_is_not_blocks_a_pass():
    typed = {"lines": [*SIX, {"name": "A", "no_go": "0.04 mm"}], "limit": "0.08 mm", "limit_source": SOURCE}
    assert LINES(typed, expected_lines="A").outcome == "pass"
    result = LINES(typed, expected_lines="A; B")
    assert result.outcome == "undecided"
    assert "Line “B”: measure it" in result["advice"]
    assert result["worst_high"] is None


def test_never_an_average_the_worst_line_counts():
    lines = [{"name": str(k), "goes": "0.01 mm", "no_go": "0.02 mm"} for k in range(9)]
    result = LINES(lines=[*lines, {"name": "bad", "goes": "0.09 mm", "no_go": "0.10 mm"}], limit="0.08 mm")
    assert result.outcome == "fail"
    assert result["worst_line"] == "bad"


# ------------------------------------------------------------------------------ an edge that rocks
def test_a_rocking_edge_is_balanced():
    result = one("0.16 mm", "0.17 mm", other_goes="0.16 mm", other_no_go="0.17 mm", limit="0.09 mm")
    assert result["worst_low"] == pytest.approx(8e-5)  # 0.16 at one end pressed is 0.08 balanced
    assert result["worst_high"] == pytest.approx(8.5e-5)
    assert of_line(result) == "pass"
    assert of_line(one("0.16 mm", "0.17 mm", limit="0.09 mm")) == "fail", "unbalanced it would fail"


def test_one_end_alone_bounds_the_balanced_gap_from_above_only():
    assert of_line(one("0.16 mm", "0.17 mm", state="rocks", limit="0.09 mm")) == "undecided"
    assert of_line(one("0.06 mm", "0.07 mm", state="rocks", limit="0.09 mm")) == "pass"


@settings(max_examples=200, deadline=None)
@given(st.floats(0.02, 0.98), st.floats(1e-6, 1e-3), st.floats(1e-6, 1e-3))
def test_the_balanced_gap_is_the_gap_of_three_points(s, left, right):
    """A pivot at part s of the length, the ends lower by left and right."""
    gap = (1 - s) * left + s * right  # height of the pivot over the chord: both ends gape by it
    at_right, at_left = gap / s, gap / (1 - s)  # the other end pressed down
    assert feeler.balanced_gap(at_left, at_right) == pytest.approx(gap, rel=1e-12)
    zone = feeler.laid_on([0, s, 1], [-left, 0, -right])
    assert zone.rocks
    assert zone.gap == pytest.approx(gap, rel=1e-9)


# ------------------------------------------------------------------------------ limits of one span
def test_overall_and_span_limits_are_separate():
    row = {"span_limit": "0.03 mm", "span_limit_source": SOURCE, "span_limit_over": "100 mm", "length": "100 mm"}
    result = one("0.04 mm", "0.05 mm", **row)
    assert [c.outcome for c in result.checks[:2]] == ["pass", "fail"]
    assert [c.outcome for c in one("0.01 mm", "0.02 mm", **row).checks[:2]] == ["pass", "pass"]
    assert one("0.01 mm", "0.02 mm", span_limit="0.03 mm").checks[1].outcome == "no limit given"


def test_a_fixed_span_limit_is_never_scaled():
    row = {"span_limit": "0.03 mm", "span_limit_source": SOURCE, "span_limit_over": "100 mm"}
    longer = one("0.04 mm", "0.05 mm", **row, length="400 mm").checks[1]
    assert longer.outcome == "undecided" and "measure again over that length" in longer.remark
    unknown = one("0.04 mm", "0.05 mm", **row).checks[1]
    assert unknown.outcome == "undecided" and "never scaled" in unknown.remark
    # a gap that is small over the whole is small over any part of it
    assert one("0.01 mm", "0.02 mm", **row, length="400 mm").checks[1].outcome == "pass"


# ------------------------------------------------------------------------------ the face from above
L_SHAPE = [(0, 0), (400, 0), (400, 150), (230, 150), (230, 130), (170, 130), (170, 150), (0, 150)]
OUTLINE = [{"name": n, "x": f"{x} mm", "y": f"{y} mm"} for n, (x, y) in zip("ABCDEFGH", L_SHAPE, strict=True)]
BORES = [{"name": f"bore {k}", "x": f"{70 + 130 * k} mm", "y": "75 mm", "diameter": "80 mm"} for k in range(3)]
SLOT = [{"name": "slot", "x": f"{x} mm", "y": f"{y} mm"} for x, y in ((20, 5), (60, 5), (60, 20), (20, 20))]


def pieces(start, end, holes=(), **row):
    lines = [{"name": "A", "from": start, "to": end, "no_go": "0.05 mm", **row}]
    result = LINES(lines=lines, outline=OUTLINE, **({"holes": list(holes)} if holes else {}))
    return [(round(r["from"].value * 1e3, 6), round(r["to"].value * 1e3, 6)) for r in result["spans"]]


def test_a_line_over_a_void_splits_into_spans_with_their_own_lengths():
    assert pieces("0; 140 mm", "400; 140 mm") == [(0, 170), (230, 400)]  # over the notch
    assert pieces("0; 75 mm", "400; 75 mm", BORES) == [(0, 30), (110, 160), (240, 290), (370, 400)]
    assert pieces("0; 10 mm", "400 mm; 10 mm", SLOT) == [(0, 20), (60, 400)]
    assert pieces("A", "B") == [(0, 400)]  # along the rim
    assert pieces("-50; 50 mm", "450; 50 mm") == [(50, 450)]  # the edge hangs over the end


def test_a_line_along_the_rim_of_a_notch_and_of_a_slot():
    assert pieces("F", "E") == [(0, 60)]
    assert pieces("0; 130 mm", "400; 130 mm") == [(0, 400)]  # touches the foot of the notch
    assert pieces("0; 5 mm", "400; 5 mm", SLOT) == [(0, 400)]  # along the rim of the slot
    why = problems(LINES, lines=[{"name": "A", "from": "G", "to": "D", "no_go": "0.05 mm"}], outline=OUTLINE)
    assert "nowhere on the face" in why["lines[1].from"]


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 10**6))
def test_spans_hold_just_what_lies_on_the_face(seed):
    rng = np.random.default_rng(seed)
    face = feeler.Face(np.array(L_SHAPE, float), [feeler.Round(70 + 130 * k, 75, 80) for k in range(3)])
    a, b = rng.uniform((-20, -20), (420, 170), (2, 2))
    length = math.dist(a, b)
    found = feeler.spans(a, b, face)
    for t in rng.uniform(0, length, 60):
        x, y = a + (b - a) * t / length
        inside = 0 <= x <= 400 and 0 <= y <= 150 and not (170 < x < 230 and y > 130)
        inside = inside and all(math.hypot(x - 70 - 130 * k, y - 75) >= 40 for k in range(3))
        assert inside == any(t0 <= t <= t1 for t0, t1 in found)


def test_an_edge_that_bridges_a_void_says_nothing_of_one_piece():
    row = {"from": "0; 140 mm", "to": "400; 140 mm", "span_limit": "0.03 mm", "span_limit_source": SOURCE}
    line = {"name": "A", "goes": "0.04 mm", "no_go": "0.05 mm", **row}
    check = LINES(lines=[line], outline=OUTLINE, limit="0.08 mm", limit_source=SOURCE).checks[1]
    assert check.outcome == "undecided" and "bridges a void" in check.remark


def test_what_these_lines_cannot_see_is_said():
    def cautions(*lines):
        rows = [{"name": f"{a}-{b}", "from": a, "to": b, "no_go": "0.05 mm"} for a, b in lines]
        return " ".join(LINES(lines=rows, outline=OUTLINE).cautions)

    assert "No line across and none diagonal: a twist cannot show" in cautions(("A", "B"))
    assert "twist cannot show" not in cautions(("A", "B"), ("A", "H"), ("A", "C"))
    assert "Lines typed: 1." in cautions(("A", "B"))
    assert "dip between the lines stays hidden" in cautions(("A", "B"))


# ------------------------------------------------------------------------------ bad lines on input
def test_every_bad_line_is_named():
    lines = [
        {"name": "A", "goes": "0.10 mm", "no_go": "0.05 mm"},
        {"name": "B", "goes": "thinnest will not go"},
        {"name": "C", "no_go": "thickest still loose"},
        {"name": "D", "goes": "0.05 mm", "state": "not measured"},
        {"name": "E", "goes": "0.05 mm", "no_go": "0.05 mm"},
        {"name": "F", "no_go": "0.05 mm", "span_limit_over": "100 mm"},
    ]
    why = problems(LINES, lines=lines)
    assert sorted(why) == [
        "lines[1].goes", "lines[2].no_go", "lines[3].goes", "lines[4].state", "lines[5].goes", "lines[6].span_limit",
    ]  # fmt: skip
    assert "must be the thinner one" in why["lines[1].goes"]


def test_bare_numbers_and_words_are_refused_with_their_place():
    why = problems(LINES, lines=[{"name": "A", "goes": "0.05"}, {"name": "B", "no_go": "tight"}])
    assert "no unit" in why["lines[1].goes"]
    assert "lines[2].no_go" in why


@pytest.mark.parametrize(
    ("corners", "why"),
    [
        ([(0, 0), (4, 0), (0, 3), (4, 3)], "side 2 to 3 meets side 4 to 1"),
        ([(0, 0), (4, 0), (4, 0), (0, 3)], "no length"),
        ([(0, 0), (4, 0)], "at least three"),
        ([(0, 0), (4, 0), (2, 0), (2, 3)], "crosses itself"),
    ],
)
def test_an_outline_that_is_none_is_refused(corners, why):
    outline = [{"x": f"{x} mm", "y": f"{y} mm"} for x, y in corners]
    line = {"name": "A", "from": "0; 0 mm", "to": "1; 1 mm", "no_go": "0.05 mm"}
    assert why in problems(LINES, lines=[line], outline=outline)["outline"]


def test_places_that_are_none_are_refused():
    rows = [
        {"name": "A", "from": "nowhere", "to": "C", "no_go": "0.05 mm"},
        {"name": "B", "from": "A", "to": "A", "no_go": "0.05 mm"},
        {"name": "C", "from": "A", "no_go": "0.05 mm"},
        {"name": "D", "from": "A", "to": "C", "length": "40 mm", "no_go": "0.05 mm"},
        {"name": "E", "from": "0; 0", "to": "C", "no_go": "0.05 mm"},
    ]
    fields = problems(LINES, lines=rows, outline=OUTLINE)
    assert list(fields) == ["lines[1].from", "lines[2].to", "lines[3].to", "lines[4].length", "lines[5].from"]


def test_the_straightedge_itself_counts():
    line = [{"name": "A", "goes": "0.06 mm", "no_go": "0.075 mm"}]
    typed = {"lines": line, "limit": "0.08 mm", "limit_source": SOURCE, "decision_rule": "simple_acceptance"}
    assert of_line(LINES(typed)) == "pass"
    result = LINES(typed, edge_error="0.008 mm")
    assert result.outcome == "undecided"
    assert (result["worst_low"], result["worst_high"]) == (pytest.approx(5.2e-5), pytest.approx(8.3e-5))
    graded = LINES(typed, edge_grade="1", edge_length="600 mm")  # 14 µm
    assert graded["worst_high"] == pytest.approx(8.9e-5)
    assert "edge_length" in problems(LINES, **typed, edge_grade="1")
    assert "edge_error" in problems(LINES, **typed, edge_grade="1", edge_length="1 m", edge_error="0.01 mm")
    assert "0.072 mm" in result["advice"] and "0.088 mm" not in result["advice"]  # 0.075 mm does not fit


# ------------------------------------------------------------------------------ heights
def face(n=40, seed=4):
    rng = np.random.default_rng(seed)
    return np.c_[rng.random((n, 2)) * (400, 150), rng.normal(0, 10, n)]  # mm, mm, µm


def twist(width):
    """Three rows of three heights, two opposite corners high by the width (µm)."""
    return np.array([(400 * x, 150 * y, width * (0.5 - 2 * (x - 0.5) * (y - 0.5)))
                     for x in (0, 0.5, 1) for y in (0, 0.5, 1)])  # fmt: skip


def heights(points):
    return [{"x": f"{x!r} mm", "y": f"{y!r} mm", "z": f"{z!r} um"} for x, y, z in points.tolist()]


def test_heights_from_a_csv_file_with_units_in_its_heading(tmp_path):
    points = face()
    rows = "\n".join(f"{x!r},{y!r},{z!r}" for x, y, z in points.tolist())
    (tmp_path / "heights.csv").write_text(f"x_mm,y_mm,z_um\n{rows}\n", encoding="utf-8")
    result = GRID({"points": "heights.csv"}, folder=tmp_path)
    expected = minimum_zone(points * (1e-3, 1e-3, 1e-6)).width
    assert result["minimum_zone"] == pytest.approx(expected, rel=1e-9)
    assert result.to_json()["results"]["minimum_zone"]["unit"] == "mm"
    assert GRID(points=heights(points))["minimum_zone"] == pytest.approx(expected, rel=1e-9)
    (tmp_path / "comma.csv").write_text("x_mm;y_mm;z_um\n0;0;1,5\n10;0;2\n0;10;3\n10;10;-1\n", encoding="utf-8")
    assert GRID({"points": "comma.csv"}, folder=tmp_path)["minimum_zone"] > 0


def test_measures_of_one_surface_and_their_order():
    result = GRID(points=heights(face()))
    assert result["minimum_zone"] <= result["least_squares"] <= result["peak_to_valley"] * 1.5
    assert result["clean_up_cut"] == result["minimum_zone"]
    assert result["clean_up_cut_as_set"] == result["peak_to_valley"]
    assert result["closing_residual"] < 1e-15
    assert {r["plane"].value for r in result["support"]} == {"upper", "lower"}
    assert sum(r["weight"].value for r in result["support"]) == pytest.approx(2)
    assert max(result["levelled"]) == pytest.approx(result["minimum_zone"], abs=1e-11)


def test_tilt_is_taken_out_and_reported():
    points = face()
    tilted = points + np.c_[np.zeros((40, 2)), 0.5 * points[:, 0] - 0.2 * points[:, 1]]  # µm a mm
    a, b = GRID(points=heights(points)), GRID(points=heights(tilted))
    assert b["minimum_zone"] == pytest.approx(a["minimum_zone"], rel=1e-6)
    assert b["peak_to_valley"] > 3 * a["peak_to_valley"]
    assert b["tilt_x"] - a["tilt_x"] == pytest.approx(5e-4, rel=1e-6)
    assert b["tilt_y"] - a["tilt_y"] == pytest.approx(-2e-4, rel=1e-6)


def test_the_clean_up_cut_for_a_given_datum():
    corner = [
        {"x": f"{x} mm", "y": f"{y} mm", "z": f"{z} mm"}
        for x, y, z in ((0, 0, 0), (400, 0, 0), (0, 150, 0), (400, 150, 0.08))
    ]
    result = GRID(points=corner)
    assert result["clean_up_cut"] == pytest.approx(4e-5, rel=1e-6)  # one corner high by h: h/2
    level = [{"x": f"{x} mm", "y": f"{y} mm", "z": "5 mm"} for x, y in ((0, 0), (100, 0), (0, 100))]
    assert GRID(points=corner, datum=level)["clean_up_cut_datum"] == pytest.approx(8e-5)
    slanted = [dict(p, z=f"{5 + 0.1 * k} mm") for k, p in enumerate(level)]
    assert GRID(points=corner, datum=slanted)["clean_up_cut_datum"] > 2e-4
    assert "three" in problems(GRID, points=corner, datum=level[:2])["datum"]
    line = [dict(level[0]), dict(level[1]), {"x": "50 mm", "y": "0 mm", "z": "5 mm"}]
    assert "one line" in problems(GRID, points=corner, datum=line)["datum"]


@pytest.mark.parametrize(
    ("width", "u", "outcome"),
    [
        (33.5, "0.010 mm", "pass"), (33.6, "0.010 mm", "undecided"), (50, "0.010 mm", "undecided"),
        (66.4, "0.010 mm", "undecided"), (66.5, "0.010 mm", "fail"), (20, None, "undecided"), (60, None, "fail"),
    ],
)  # fmt: skip
def test_guard_bands_decide(width, u, outcome):
    # limit 0.05, u 0.01: accepted up to 0.03355
    square = twist(width)
    result = GRID(points=heights(square), limit="0.05 mm", limit_source=SOURCE, **({"u": u} if u else {}))
    assert result["minimum_zone"] == pytest.approx(width * 1e-6, rel=1e-6)
    assert result.outcome == outcome
    if u == "0.010 mm":
        assert result["accept_up_to"] == pytest.approx(3.355e-5)


def test_the_limit_itself_is_allowed_or_not_as_the_source_says():
    typed = {"points": heights(twist(50)), "limit": "0.05 mm", "limit_source": SOURCE, "u": "0.001 mm",
             "decision_rule": "simple_acceptance"}  # fmt: skip
    assert GRID(typed).outcome == "undecided", "nobody said whether the limit itself is allowed"
    assert GRID(typed, comparison="<=").outcome == "pass"
    assert GRID(typed, comparison="<").outcome == "fail"
    assert "above" in problems(GRID, **{**typed, "u": "0 mm"})["u"]


def test_expanded_uncertainty_needs_its_factor():
    points = heights(face())
    result = GRID(points=points, expanded_uncertainty="0.02 mm", coverage_factor="2", limit="0.05 mm")
    assert result["accept_up_to"] == pytest.approx(3.355e-5)
    assert "is needed together with" in problems(GRID, points=points, expanded_uncertainty="0.02 mm")["coverage_factor"]
    assert "expanded_uncertainty" in problems(GRID, points=points, coverage_factor="2")
    assert "u" in problems(GRID, points=points, u="1 um", expanded_uncertainty="2 um", coverage_factor="2")


def test_no_source_and_missing_places_block_a_pass_never_a_fail():
    points = heights(face())
    typed = {"limit": "0.5 mm", "u": "0.001 mm", "points": points}
    assert GRID(typed, limit_source=SOURCE).outcome == "pass"
    assert GRID(typed).outcome == "no limit given"
    assert GRID(typed, limit="0.005 mm").outcome == "fail"
    gap = {"x": "7 mm", "y": "7 mm", "z": "not measured"}
    assert GRID(typed, points=[*points, gap], limit_source=SOURCE).outcome == "undecided"
    assert GRID(typed, points=[*points, dict(gap, z="void")], limit_source=SOURCE).outcome == "pass"
    assert GRID(typed, points=[*points, gap], limit="0.005 mm").outcome == "fail"
    assert GRID(points=points).outcome == "no limit given"


def test_bad_heights_are_named():
    def row(x, y, z):
        return {"x": f"{x} mm", "y": f"{y} mm", "z": z}

    square = [row(0, 0, "1 um"), row(9, 0, "2 um"), row(9, 9, "3 um")]
    assert "three points" in problems(GRID, points=square[:2])["points"]
    assert "one line" in problems(GRID, points=[row(k, k, "1 um") for k in range(5)])["points"]
    assert "points[4].z" in problems(GRID, points=[*square, row(1, 1, "nan um")])
    assert "points[4].z" in problems(GRID, points=[*square, row(1, 1, "")])
    twice = problems(GRID, points=[*square, row(9, 0, "5 um")])
    assert "another height than points[2]" in twice["points[4]"]
    assert GRID(points=[*square, row(9, 0, "2 um"), row(0, 9, "2 um")])["points_used"] == 5, "the same again is no harm"


def test_a_hundred_thousand_heights_are_read(tmp_path):
    rng = np.random.default_rng(2)
    points = np.c_[rng.random((100_000, 2)) * 400, rng.normal(0, 10, 100_000)].round(3)
    np.savetxt(tmp_path / "many.csv", points, fmt="%.3f", delimiter=",", header="x_mm,y_mm,z_um", comments="")
    result = GRID({"points": "many.csv"}, folder=tmp_path)
    assert result["minimum_zone"] == pytest.approx(minimum_zone(points * (1e-3, 1e-3, 1e-6)).width, rel=1e-9)
    assert "levelled" not in result.values


# ------------------------------------------------------------------------------ steps along lines
def moody_typed():
    lines = [
        {"name": r["line"], "from": r["start"], "to": r["end"], "readings": r["readings_arcsec"].replace(" ", "; ")}
        for r in published("moody_1955_readings")
    ]
    places = [{"name": n, "x": f"{x} m", "y": f"{y} m"} for n, (x, y) in PLACES.items()]
    return {"lines": lines, "places": places, "foot": "4 in", "reading_unit": "arcsec"}


def test_moody_through_the_working():
    result = STEPS(moody_typed())
    assert result["minimum_zone"] / 25.4e-9 == pytest.approx(163.67, abs=0.005)
    found = {r["place"].value: r["height"].value / 254e-9 for r in result["heights"]}
    assert found["NW"] == pytest.approx(6.2056, abs=5e-5)
    assert [r["line"].value for r in result["closures"]] == ["N_S", "E_W"]
    assert result["largest_closure"] / 254e-9 == pytest.approx(1.3575, abs=5e-5)


def test_bad_steps_are_named():
    typed = moody_typed()
    typed["lines"][2] = {"name": "x", "from": "NE", "to": "Nowhere", "readings": "1; 2"}
    assert "not among the places" in problems(STEPS, **typed)["lines[3].to"]
    typed = moody_typed()
    typed["places"].append({"name": "NW", "x": "0 mm", "y": "0 mm"})
    assert "twice" in problems(STEPS, **typed)["places[10].name"]
    typed = moody_typed()
    typed["lines"] = [typed["lines"][0], {"name": "rim", "from": "W", "to": "SW", "readings": "1; 2; 3"}]
    assert "does not cross" in problems(STEPS, **typed)["lines"]
    typed = moody_typed()
    typed["lines"][1]["readings"] = "6.6; 5.4; x"
    assert "lines[2].readings[3]" in problems(STEPS, **typed)


# ------------------------------------------------------------------------------ pictures and words
@pytest.mark.parametrize("name", ["flatness_lines", "flatness_grid"])
def test_the_picture_is_told_in_words_and_drawn(name):
    from matplotlib.figure import Figure

    if name == "flatness_lines":
        rows = [
            {"name": "<b>", "from": "A", "to": "C", "goes": "0.05 mm", "no_go": "0.1 mm"},
            {"name": "missing", "from": "B", "to": "H"},
        ]
        result = LINES(lines=rows, outline=OUTLINE, holes=[*BORES, *SLOT], limit="0.08 mm")
    else:
        result = GRID(points=heights(face()))
    figure = Figure()
    move = result.working.draw(figure)
    move(result)
    move(result)
    figure.canvas.draw()
    assert len(result.working.alt(result)) > 40
    json.dumps(result.to_json())
    assert result.as_text()


def test_outcomes_are_drawn_apart_without_colour():
    from shoplib.topics.flatness.pictures import DASH, HATCH

    for style in (DASH, HATCH):
        assert set(style) == set(Outcome)
        assert len(set(map(str, style.values()))) == len(Outcome)


# ------------------------------------------------------------------------------ what six lines see
def looks(**at):
    from shoplib.topics.lessons import get

    return {look.name: look for look in get("six_lines").at(**at).looks}


def test_what_each_line_sees_of_bow_crown_twist_and_dip():
    seen = {name: [round(s.gap * 1e3, 4) for s in look.seen] for name, look in looks(height=0.1).items()}
    assert seen["bow"] == [0.1, 0.1, 0, 0, 0.1, 0.1]  # across the bow nothing shows
    assert seen["crown"] == [0.05, 0.05, 0.05, 0.05, 0.1, 0.1]
    assert all(s.rocks for s in looks(height=0.1)["crown"].seen)
    assert seen["twist"] == [0, 0, 0, 0, 0.05, 0.05]  # the diagonals alone, and only half of it
    assert seen["dip"] == [0] * 6  # between the lines


def test_a_dip_is_seen_only_when_a_line_crosses_it():
    dip = looks(height=0.1, x=200, y=75)["dip"]
    assert [s.gap > 9e-5 for s in dip.seen] == [False, False, False, False, True, True]
    assert dip.flatness == pytest.approx(1e-4, rel=0.01)
    hidden = looks(height=0.1)["dip"]
    assert hidden.flatness > 9e-5 and hidden.most == 0


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 10**6))
def test_an_edge_laid_on_a_profile_sees_its_least_zone(seed):
    rng = np.random.default_rng(seed)
    t, z = np.sort(rng.random(12)), rng.normal(size=12)
    slopes = np.concatenate([[(z[j] - z[i]) / (t[j] - t[i]) for i in range(j)] for j in range(1, 12)])
    assert feeler.laid_on(t, z).gap == pytest.approx(min(np.ptp(z - s * t) for s in slopes), rel=1e-9)
