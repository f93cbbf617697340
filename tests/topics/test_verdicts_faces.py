"""Flatness by lines, by heights and by steps: what may be concluded, from how much, and how sure.

The inputs are those of the audit; limits and sources are invented.
"""

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from shoplib.core.errors import BadInput
from shoplib.topics import get
from tests.slow_judge import CASES, TINY, differential, exact, judged, together

SOURCE = "bench notes of the teaching workshop, sheet 7"
LINES, GRID, STEPS = map(get, ("flatness_lines", "flatness_grid", "flatness_steps"))
WORSE = ("fail", "undecided", "no limit given", "pass")
WAYS = ("along", "along", "across", "across", "diagonal", "diagonal")


def rank(result):
    return WORSE.index(str(result.outcome))


def six(no_go="0.05 mm", **more):
    return [{"name": f"{way} {k}", "direction": way, "goes": "0.02 mm", "no_go": no_go} | more
            for k, way in enumerate(WAYS)]  # fmt: skip


def heights(*rows):
    return [{"x": f"{x} mm", "y": f"{y} mm", "z": z} for x, y, z in rows]


def rows_of_three(*z):
    return heights(*((200 * (k % 3), 75 * (k // 3), h) for k, h in enumerate(z)))


LIMIT = {"limit": "0.08 mm", "limit_source": SOURCE}
NINE = rows_of_three(*["0.000 mm"] * 9)


# ------------------------------------------------------------------------------ the audit's inputs
def test_three_heights_and_four_prove_nothing():
    typed = {"limit": "0.05 mm", "limit_source": SOURCE, "u": "0.004 mm"}
    three = GRID(typed, points=heights((0, 0, "0 mm"), (400, 0, "0.5 mm"), (0, 150, "0.2 mm")))
    assert three["minimum_zone"] == 0.0, "noise is zero"
    assert three.outcome == "undecided"
    assert "at 3 places; at least 9 are needed" in three.checks[0].remark
    corners = heights((0, 0, "0 mm"), (400, 0, "0 mm"), (0, 150, "0 mm"), (400, 150, "0 mm"))
    assert GRID(typed, points=corners).outcome == "undecided", "four show only a twist"
    assert GRID(typed, points=NINE).outcome == "pass"
    corners[3]["z"] = "0.5 mm"
    assert GRID(typed, points=corners).outcome == "fail", "what is proved stays proved"


def test_heights_on_a_rim_or_in_a_corner_prove_nothing():
    typed = {"limit": "0.05 mm", "limit_source": SOURCE, "u": "0.004 mm"}
    round_ = [(200 + 150 * np.cos(a), 75 + 60 * np.sin(a), "0 mm") for a in np.linspace(0, 6, 12)]
    rim = GRID(typed, points=heights(*round_))
    assert rim.outcome == "undecided"
    assert "every bend and twist" in rim.checks[0].remark
    outline = [{"x": f"{x} mm", "y": f"{y} mm"} for x, y in ((0, 0), (600, 0), (600, 150), (0, 150))]
    assert "span 67 %" in GRID(typed, points=NINE, outline=outline).checks[0].remark


def test_no_uncertainty_and_none_at_all_pass_nothing():
    typed = {"limit": "0.05 mm", "limit_source": SOURCE, "points": NINE}
    assert GRID(typed).outcome == "undecided"
    with pytest.raises(BadInput, match="above"):
        GRID(typed, u="0 mm")


def test_a_short_line_says_nothing_of_the_length_of_its_limit():
    own = {"span_limit": "0.03 mm", "span_limit_source": SOURCE, "span_limit_over": "100 mm"}
    line = {"name": "A", "goes": "0.01 mm", "no_go": "0.02 mm", **own}
    (short,) = LINES(lines=[{**line, "length": "20 mm"}]).checks
    assert short.outcome == "undecided"
    assert "measure over that length" in short.remark
    assert LINES(lines=[line]).outcome == "undecided", "nobody typed how long the line is"
    assert LINES(lines=[{**line, "length": "100 mm"}]).outcome == "pass"
    assert LINES(lines=[{**line, "length": "400 mm"}]).outcome == "pass"
    wide = {**line, "goes": "0.05 mm", "no_go": "0.06 mm", "length": "20 mm"}
    assert LINES(lines=[wide]).outcome == "fail", "a gap over a part is a gap over the whole"


def test_the_whole_face_needs_its_lines():
    assert LINES(LIMIT, lines=six()).outcome == "pass"
    for left_out in range(6):
        few = LINES(LIMIT, lines=[line for k, line in enumerate(six()) if k != left_out])
        assert few.outcome == "undecided"
        assert f"1 more {WAYS[left_out]}" in few.checks[-1].remark
    unsaid = LINES(LIMIT, lines=[{k: v for k, v in line.items() if k != "direction"} for line in six()])
    assert unsaid.outcome == "undecided"
    assert "along, across or diagonal" in unsaid.checks[-1].remark
    assert LINES(LIMIT, lines=[{"name": "A", "goes": "0.10 mm", "no_go": "0.12 mm"}]).outcome == "fail"


def test_two_diagonals_that_lie_the_same_way_show_half_a_twist():
    ends = {"along": ("0; 10 mm", "400; 10 mm"), "across": ("10; 0 mm", "10; 150 mm")}

    def lines(second):
        found = []
        for k, way in enumerate(WAYS):
            start, end = ends.get(way, ("0; 0 mm", "400; 150 mm") if k == 4 else second)
            found.append({"name": f"{k}", "from": start, "to": end, "goes": "0.02 mm", "no_go": "0.05 mm"})
        return found

    assert LINES(LIMIT, lines=lines(("0; 150 mm", "400; 0 mm"))).outcome == "pass"
    same = LINES(LIMIT, lines=lines(("0; 10 mm", "390; 150 mm")))
    assert same.outcome == "undecided"
    assert "run the same way" in same.checks[-1].remark


def test_leaves_are_out_by_their_tolerance_and_the_comparison_is_no_default():
    assert LINES(LIMIT, lines=six("0.08 mm")).outcome == "undecided", "a leaf of 0.08 mm may be one of 0.085"
    assert LINES(LIMIT, lines=six("0.08 mm"), decision_rule="simple_acceptance").outcome == "pass"
    assert LINES(LIMIT, lines=six("0.076 mm"), leaf_tolerance="0.003 mm").outcome == "pass"
    assert LINES(LIMIT, lines=six("0.078 mm"), leaf_tolerance="0.003 mm").outcome == "undecided"
    stack = LINES(LIMIT, lines=six("0.04 + 0.036 mm"), leaf_tolerance="0.003 mm")
    assert stack.outcome == "undecided", "two leaves are out by twice as much"
    check = LINES(LIMIT, lines=six("0.076 mm"), leaf_tolerance="0.003 mm").checks[0].to_json()
    assert (check["uncertainty_origin"], check["decision_rule"]) == ("leaves", "iso_14253_1")
    simple = LIMIT | {"decision_rule": "simple_acceptance",
                      "lines": [{"name": "A", "goes": "0.08 mm", "no_go": "0.09 mm"}]}  # fmt: skip
    assert LINES(simple).outcome == "undecided", "nobody typed whether the limit itself is allowed"
    assert LINES(simple, at_limit="not allowed").outcome == "fail"
    assert LINES(simple, comparison="<").outcome == "fail", "the old name is still read"
    assert LINES(simple, comparison="<=").outcome == "undecided"
    assert "comparison" not in LINES(simple, comparison="<").inputs.to_json()
    with pytest.raises(BadInput, match="old name of at_limit"):
        LINES(simple, comparison="<", at_limit="allowed")


def test_the_advice_names_leaves_that_do_decide():
    typed = LIMIT | {"leaf_tolerance": "0.003 mm"}
    result = LINES(typed, lines=[{"name": "A", "goes": "0.05 mm", "no_go": "0.10 mm"}])
    assert "above 0.05 mm, up to 0.077 mm," in result["advice"]
    assert "0.083 mm or thicker" in result["advice"]
    assert LINES(typed, lines=[{"name": "A", "no_go": "0.077 mm"}]).checks[0].outcome == "pass"
    assert LINES(typed, lines=[{"name": "A", "goes": "0.0831 mm"}]).checks[0].outcome == "fail"


PLACES = [{"name": n, "x": f"{x} mm", "y": f"{y} mm"} for n, x, y in
          (("A", 0, 0), ("B", 100, 0), ("C", 0, 100), ("D", 100, 100), ("M", 50, 50), ("S", 50, 0), ("N", 50, 100),
           ("W", 0, 50), ("E", 100, 50))]  # fmt: skip
NET = ("AD", "BC", "AB", "BD", "DC", "CA", "SN", "WE")


def steps(reading, **more):
    lines = [{"name": n, "from": n[0], "to": n[1], "readings": f"{reading}; -{reading}"} for n in NET]
    return STEPS(lines=lines, reading_unit="arcsec", foot="2 in", places=PLACES, limit="0.02 mm", limit_source=SOURCE,
                 **more)  # fmt: skip


def test_steps_count_with_the_digits_of_their_readings():
    assert steps("1.0", u="0.002 mm").outcome == "pass"
    assert steps("1.0").outcome == "undecided", "errors add up along a line: type the uncertainty"
    assert steps("200.0").outcome == "fail"
    assert steps("200").checks[0].uncertainty.value > steps("200.0").checks[0].uncertainty.value > 0


# ------------------------------------------------------------------------------ properties
@settings(max_examples=60, deadline=None)
@given(st.integers(1, 15), st.integers(1, 8), st.integers(1, 20), st.integers(0, 20))
def test_a_wider_leaf_tolerance_never_improves_an_outcome(goes, more, small, wider):
    no_go = f"{(goes + more) / 100:.2f} mm"
    lines = [*six(no_go, goes="0.01 mm"), {"name": "last", "goes": f"{goes / 100:.2f} mm", "no_go": no_go}]
    before = LINES(LIMIT, lines=lines, leaf_tolerance=f"{small / 1000:.3f} mm")
    after = LINES(LIMIT, lines=lines, leaf_tolerance=f"{(small + wider) / 1000:.3f} mm")
    assert str(after.outcome) in (str(before.outcome), "undecided")


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 15), st.integers(1, 8), st.integers(0, 5))
def test_a_further_line_never_improves_a_face_that_has_its_six(goes, more, left_out):
    further = {"name": "further", "goes": f"{goes / 100:.2f} mm", "no_go": f"{(goes + more) / 100:.2f} mm"}
    assert rank(LINES(LIMIT, lines=[*six(), further])) <= rank(LINES(LIMIT, lines=six()))
    fewer = [line for k, line in enumerate(six()) if k != left_out]
    assert rank(LINES(LIMIT, lines=fewer)) <= rank(LINES(LIMIT, lines=six()))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 60), min_size=9, max_size=9), st.integers(0, 8), st.integers(1, 10), st.integers(0, 10))
def test_less_or_worse_evidence_never_improves_a_grid(z, left_out, small, more):
    points = rows_of_three(*(f"{h} um" for h in z))
    typed = {"limit": "0.04 mm", "limit_source": SOURCE}
    before = GRID(typed, points=points, u=f"{small / 1000:.3f} mm")
    wider = GRID(typed, points=points, u=f"{(small + more) / 1000:.3f} mm")
    assert str(wider.outcome) in (str(before.outcome), "undecided")
    fewer = GRID(typed, points=[p for k, p in enumerate(points) if k != left_out], u=f"{small / 1000:.3f} mm")
    assert str(fewer.outcome) != "pass"
    high = [*points, {"x": "190 mm", "y": "70 mm", "z": "900 um"}]
    assert rank(GRID(typed, points=high, u=f"{small / 1000:.3f} mm")) <= rank(before)


# ------------------------------------------------------------------------------ against the slow judge
@differential("flatness_lines")
def test_lines_equal_the_slow_judge():
    rng = random.Random(6)
    for _ in range(CASES):
        typed = {"limit": "0.08 mm"}
        for name, values in (("limit_source", [SOURCE]), ("at_limit", ["allowed", "not allowed"]),
                             ("decision_rule", ["simple_acceptance"]), ("leaf_tolerance", ["0.003 mm"]),
                             ("edge_error", ["0.002 mm"])):  # fmt: skip
            if rng.random() < 0.5:
                typed[name] = rng.choice(values)
        ways = list(WAYS if rng.random() < 0.7 else rng.sample(WAYS, rng.randint(1, 5)))
        good = rng.random() < 0.6
        typed["lines"] = []
        for k, way in enumerate(ways):
            goes = rng.randint(1, 4 if good else 9)
            line = {"name": str(k), "direction": way, "goes": f"{goes / 100:.2f} mm",
                    "no_go": f"{(goes + rng.randint(1, 4)) / 100:.2f} mm"}  # fmt: skip
            if rng.random() < 0.05:
                line["state"] = "doubtful"
            if rng.random() < 0.2:
                line |= {"span_limit": "0.03 mm", "span_limit_source": SOURCE, "span_limit_over": "100 mm",
                         "length": rng.choice(("20 mm", "100 mm", "400 mm"))}  # fmt: skip
            typed["lines"].append(line)
        assert str(LINES(typed).outcome) == _slow_lines(typed, ways), typed


def _slow_lines(typed, ways):
    def gap_outcome(line, limit, source, missing, longer=False):
        bound, e = exact(limit)[0], exact(typed.get("edge_error", "0 mm"))[0]
        (low, u), (high, v) = exact(line["goes"]), exact(line["no_go"])
        if "leaf_tolerance" in typed:
            u = v = exact(typed["leaf_tolerance"])[0]
        if "decision_rule" in typed:
            u = v = 0
        low, high = max(low - u - e, 0), high + v + e
        gaps = [g for g in (low, (low + high) / 2, high - TINY, bound, bound - TINY, bound + TINY) if low <= g < high]
        found = judged(gaps, "≤", bound, typed.get("at_limit"), source, missing or "state" in line)
        return "undecided" if longer and found == "fail" else found

    outcomes = []
    for line in typed["lines"]:
        outcomes.append(gap_outcome(line, typed["limit"], "limit_source" in typed, False))
        if "span_limit" in line:
            length = exact(line["length"])[0]
            outcomes.append(gap_outcome(line, line["span_limit"], True, length < 100, length > 100))
    if "limit_source" in typed and any(ways.count(w) < 2 for w in WAYS):
        outcomes.append("undecided")
    return together(outcomes)


def _slow_zone(points):
    """The least height between two planes, by a linear program, in metres, perpendicular to them."""
    P = np.array(points)
    one = np.ones(len(P))
    # z ≤ a x + b y + c + h and z ≥ a x + b y + c
    A = np.vstack([np.c_[-P[:, :2], -one, -one], np.c_[P[:, :2], one, 0 * one]])
    found = linprog([0, 0, 0, 1], A_ub=A, b_ub=np.r_[-P[:, 2], P[:, 2]], bounds=[(None, None)] * 3 + [(0, None)])
    a, b, _, h = found.x
    return h / np.sqrt(1 + a * a + b * b)


@differential("flatness_grid")
def test_a_grid_equals_the_slow_judge():
    rng = np.random.default_rng(12)
    for _ in range(CASES):
        kind = rng.choice(["grid", "scattered", "corners", "rim"])
        n = {"grid": 9, "corners": 4, "rim": 11, "scattered": int(rng.integers(6, 14))}[kind]
        if kind == "grid":
            places = [(200 * (k % 3), 75 * (k // 3)) for k in range(9)]
        elif kind == "corners":
            places = [(0, 0), (400, 0), (0, 150), (400, 150)]
        elif kind == "rim":
            places = [
                (round(200 + 180 * np.cos(a), 9), round(75 + 70 * np.sin(a), 9)) for a in np.arange(n) / n * 6.283
            ]
        else:
            places = [(int(x), int(y)) for x, y in zip(rng.permutation(400)[:n], rng.permutation(150)[:n], strict=True)]
        scale = rng.choice([20, 60, 150])
        z = rng.integers(0, scale, n)
        bound, u = int(rng.integers(10, 80)), rng.choice([0, 1, 3, 8])
        typed = {"points": heights(*((x, y, f"{h} um") for (x, y), h in zip(places, z, strict=True))),
                 "limit": f"{bound} um", **({"limit_source": SOURCE} if rng.random() < 0.7 else {}),
                 **({"u": f"{u} um"} if u else {})}  # fmt: skip
        t = _slow_zone([(x / 1e3, y / 1e3, h / 1e6) for (x, y), h in zip(places, z, strict=True)]) * 1e6
        half = 1.645 * u if u else 1.0  # µm; without u two heights may each be out by half a micrometre
        if min(abs(abs(t - bound) - half), abs(t - bound)) < 1e-6:
            continue
        enough = u and len(places) >= 9 and kind in ("grid", "scattered")
        expected = judged([t - half, t, t + half], "≤", bound, None, "limit_source" in typed, not enough)
        assert str(GRID(typed).outcome) == expected, (typed, t)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(*[st.floats(-1, 1)] * 2), min_size=len(NET), max_size=len(NET)), st.integers(0, 10**6))
def test_no_error_of_a_step_moves_the_flatness_by_more_than_is_said(errors, seed):
    rng = np.random.default_rng(seed)
    typed = [rng.integers(-20, 20, 2).tolist() for _ in NET]

    def zone(readings):
        lines = [{"name": n, "from": n[0], "to": n[1], "readings": [f"{float(x):.12f}" for x in r]}
                 for n, r in zip(NET, readings, strict=True)]  # fmt: skip
        return STEPS(lines=lines, reading_unit="arcsec", foot="2 in", places=PLACES)["minimum_zone"]

    lines = [{"name": n, "from": n[0], "to": n[1], "readings": [str(x) for x in r]}
             for n, r in zip(NET, typed, strict=True)]  # fmt: skip
    said = STEPS(lines=lines, reading_unit="arcsec", foot="2 in", places=PLACES, limit="0.02 mm")
    most = said.checks[0].uncertainty.value
    moved = [[x + 0.5 * e for x, e in zip(r, es, strict=True)] for r, es in zip(typed, errors, strict=True)]
    assert abs(zone(moved) - zone(typed)) <= most * (1 + 1e-6)


# ------------------------------------------------------------------------------ the steps against the slow judge
def steps_by_hand(read):
    """The heights of every station from its two readings (in climbs), as one does it with a pencil; in the order of NET.

    The ends of the first diagonal lie at one height, those of the second too, and they meet in the middle.  Every other
    line is laid through its two ends.
    """
    (a1, a2), (b1, b2) = read["AD"], read["BC"]
    h = {"A": 0.0, "D": 0.0, "M": (a1 - a2) / 2}
    h["B"] = h["C"] = h["M"] - (b1 - b2) / 2
    stations = [(n, h[n]) for n in "AMDBMC"]
    for line, middle in (("AB", "S"), ("BD", "E"), ("DC", "N"), ("CA", "W"), ("SN", "M"), ("WE", "M")):
        if line in read:
            first, second = read[line]
            here = (h[line[0]] + h[line[1]]) / 2 + (first - second) / 2
            h.setdefault(middle, here)
            stations += [(line[0], h[line[0]]), (middle, here), (line[1], h[line[1]])]
    return stations


# How many steps' error a height gathers at most, by hand: a line itself 1; its tie on the first diagonal 1 + 1; on the
# second 3 + 1; on a rim line 5 + 1, from the rim's 1 + 4.
GATHERED = {3: 5, 4: 5, 5: 5, 6: 5, 7: 7, 8: 7}


@differential("flatness_steps")
def test_steps_equal_the_slow_judge():
    rng, seen = random.Random(55), set()
    where = {row["name"]: (float(row["x"][:-3]), float(row["y"][:-3])) for row in PLACES}
    for _ in range(CASES):
        count = rng.choice((3, 4, 6, 6, 7, 8))
        scale = rng.choice((4, 20, 60))
        read = {n: (rng.randint(-scale, scale), rng.randint(-scale, scale)) for n in NET[:count]}
        typed = {"lines": [{"name": n, "from": n[0], "to": n[1], "readings": [str(x) for x in r]} for n, r in read.items()],
                 "reading_unit": "um/m", "foot": "50 mm", "places": PLACES}  # fmt: skip
        u = rng.choice((0, 0.1, 0.4))
        typed |= {"u": f"{u} um"} if u else {}
        typed |= {"limit_source": SOURCE} if rng.random() < 0.7 else {}
        stations = steps_by_hand({n: (x * 0.05, y * 0.05) for n, (x, y) in read.items()})  # µm
        t = _slow_zone([(*where[n], z / 1e3) for n, z in stations]) * 1e3
        half = 1.645 * u if u else 2 * GATHERED[count] * 0.5 * 0.05
        bound = max(round(t + rng.choice((-1, -0.2, 0.2, 1)), 1), 0.1)
        typed["limit"] = f"{bound} um"
        if min(abs(abs(t - bound) - half), abs(t - bound)) < 1e-6:
            continue
        enough = u and len({n for n, _ in stations}) >= 9
        expected = judged([t - half, t, t + half], "≤", bound, None, "limit_source" in typed, not enough)
        assert str(STEPS(typed).outcome) == expected, (typed, t)
        seen.add(expected)
    assert len(seen) == 4
