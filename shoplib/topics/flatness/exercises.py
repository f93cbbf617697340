"""Flatness: a feeler reading is a bracket, an edge that rocks, heights, and the guard band."""

from __future__ import annotations

from typing import Any

import numpy as np

from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value
from shoplib.teaching.solution_text import entered, short
from shoplib.topics.flatness.flatness_grid import FLATNESS_GRID
from shoplib.topics.flatness.flatness_lines import FLATNESS_LINES
from shoplib.topics.flatness.liner_protrusion import LINER_PROTRUSION

SOURCE = "bench notes of the teaching workshop, sheet 12"


def _bracket(rng: np.random.Generator) -> dict[str, Any]:
    """Two leaves and a limit: at, between, below or above them."""
    low = int(rng.integers(3, 9))
    high = low + int(rng.integers(2, 6))
    between = int(rng.integers(low + 1, high))
    limit = choose_one(rng, low, high, high + 1, between, between)
    goes, no_go = f"{low / 100:.2f} mm", f"{high / 100:.2f} mm"
    return {"goes": goes, "no_go": no_go, "limit": f"{limit / 100:.2f} mm",
            "lines": [{"name": "diagonal", "goes": goes, "no_go": no_go}]}  # fmt: skip


def _of_line(r: Result) -> str:
    return str(r["brackets"][0]["outcome"].value)


def _ends(r: Result) -> tuple[float, float]:
    line = r.inputs.lines[0]
    return float(line["goes"].value), float(line["other_goes"].value)


def _rocking(rng: np.random.Generator) -> dict[str, Any]:
    """Gaps at the two ends of a rocking edge, not equal."""
    first, more = int(rng.integers(8, 20)), int(rng.integers(4, 12))
    one, other = f"{first / 100:.2f} mm", f"{(first + more) / 100:.2f} mm"
    return {"one": one, "other": other, "lines": [{"name": "along", "goes": one, "other_goes": other}]}


def _corner(rng: np.random.Generator) -> dict[str, Any]:
    """A face whose four corners were measured, one of them high."""
    height, x, y = (
        draw_value(rng, 0.04, 0.3, 0.01, "mm"),
        draw_value(rng, 260, 460, 10, "mm"),
        draw_value(rng, 120, 180, 5, "mm"),
    )
    corners = [("0 mm", "0 mm"), (x, "0 mm"), ("0 mm", y), (x, y)]
    points = [{"x": a, "y": b, "z": height if n == 3 else "0 mm"} for n, (a, b) in enumerate(corners)]
    return {"height": height, "long": x, "wide": y, "points": points}


FLAT = [
    {"x": f"{x} mm", "y": f"{y} mm", "z": f"{z} um"} for x, y, z in ((0, 0, 0), (300, 0, 8), (300, 120, 0), (0, 120, 8))
]


def _bracket_solution(r: Result) -> str:
    line = r.inputs.lines[0]
    goes, no_go, most = (1e3 * x for x in (line["goes"].value, line["no_go"].value, r.inputs.limit))
    told = f"The gap is at least {goes:.2f} mm and below {no_go:.2f} mm. Allowed is less than {most:.2f} mm: "
    if no_go <= most:
        return told + "the whole bracket is allowed, so it is a pass."
    if goes >= most:
        return told + "even the smallest gap is too large, so it is a fail."
    return told + f"the limit lies inside the bracket, so it is undecided; use a leaf of {most:.2f} mm."


def _rocking_solution(r: Result) -> str:
    one, other = (1e3 * x for x in _ends(r))
    return f"{one:g} × {other:g} ÷ ({one:g} + {other:g}) = {short(1e3 * r['worst_low'], 3)} mm."


def _corner_solution(r: Result) -> str:
    high = 1e3 * r["peak_to_valley"]
    return (
        "Tilt both planes about the diagonal that does not pass through the high corner. Then the two other corners "
        f"share the height: {high:g} ÷ 2 = {short(high / 2)} mm."
    )


def _guard_solution(r: Result) -> str:
    limit, u = entered(r, "limit"), entered(r, "u")
    return f"Guard band: 1.645 × {u:g} = {short(1.645 * u)} mm. {limit:g} − {short(1.645 * u)} = " + (
        f"{short(limit - 1.645 * u)} mm."
    )


def _liners(rng: np.random.Generator) -> dict[str, object]:
    """Two liners, the second lower, each tilted a little."""
    base, step = int(rng.integers(7, 11)), int(rng.integers(2, 4))
    tilt = int(choose_one(rng, 1, 3, 2))
    places = (base, base + tilt, base - step - 1, base - step - 1 + tilt)
    a, b, c, d = (f"{x / 100:.2f} mm" for x in places)
    rows = [{"liner": "1", "place_1": a, "place_2": b}, {"liner": "2", "place_1": c, "place_2": d}]
    return {"liners": rows, "a": a, "b": b, "c": c, "d": d}


def _liner_solution(r: Result) -> str:
    one, two = (
        [float(str(row[place]).split()[0]) for place in ("place_1", "place_2")] for row in r.inputs.as_entered["liners"]
    )
    means = [sum(pair) / 2 for pair in (one, two)]
    told = [f"({a:.2f} + {b:.2f}) ÷ 2 = {mean:.3f} mm" for (a, b), mean in zip((one, two), means, strict=True)]
    return f"Means: {told[0]} and {told[1]}. Step: {means[0]:.3f} − {means[1]:.3f} = {means[0] - means[1]:.3f} mm."


EXERCISES = [
    Exercise(
        name="feeler_bracket",
        topic="faces",
        title="What has the feeler proved?",
        question="Along the diagonal a leaf of {goes} fits and one of {no_go} does not. The instructions say less "
        "than {limit}. Each leaf is as thick as marked. Is this line a pass, a fail or undecided?",
        working=FLATNESS_LINES,
        result=("brackets", 0, "outcome"),
        choices=("pass", "fail", "undecided"),
        numbers=_bracket,
        fixed={"limit_source": SOURCE, "at_limit": "not allowed", "decision_rule": "simple_acceptance"},
        tolerance="0 %",
        solution=_bracket_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "took the leaf that fits as the gap",
                lambda r: "pass" if _of_line(r) == "undecided" else None,
                "The leaf that fits proves only that the gap is at least that wide. It may be wider.",
            ),
            Mistake(
                "took the leaf that does not fit as the gap",
                lambda r: "fail" if _of_line(r) in ("undecided", "pass") else None,
                "The leaf that does not fit proves that the gap is smaller than that leaf.",
            ),
            Mistake(
                "called it undecided although all possible gaps are on one side of the limit",
                lambda r: "undecided" if _of_line(r) != "undecided" else None,
                "The limit is LESS THAN, so a gap of exactly the limit fails. A leaf as thick as the limit always "
                "decides.",
            ),
        ),
        first_step="Write the bracket: the gap is at least the leaf that fits, and below the leaf that does not fit.",
        lesson="Certainly below the limit: pass. Certainly at or above it: fail. In between, only another leaf "
        "can decide. Where the limit says “less than”, the best leaf is as thick as the limit.",
    ),
    Exercise(
        name="rocking_edge",
        topic="faces",
        title="The straightedge rocks",
        question="The straightedge rocks on a crown (a face that is highest at its centre). "
        "With one end pressed down, a leaf of {one} goes under the other; "
        "pressed the other way, {other} goes under the first. At least how wide is the gap when it is the same at "
        "both ends? (That gap is the product of the two readings, divided by their sum.)",
        working=FLATNESS_LINES,
        result="worst_low",
        numbers=_rocking,
        tolerance="2 %",
        solution=_rocking_solution,
        mistakes=(
            Mistake(
                "took the larger reading",
                lambda r: max(_ends(r)),
                "With one end pressed down, the other opens too far: balance the edge first.",
            ),
            Mistake(
                "took the mean of the two readings",
                lambda r: sum(_ends(r)) / 2,
                "Pressing closes one end and opens the other: the balanced gap is smaller than either reading.",
            ),
            Mistake(
                "halved the larger reading",
                lambda r: max(_ends(r)) / 2,
                "Half is right only when the straightedge rocks at its middle; then both readings are equal.",
            ),
        ),
        first_step="Multiply the two readings and divide by their sum.",
        lesson="Balanced gap = product of the two readings over their sum; for two equal readings that is half of one.",
    ),
    Exercise(
        name="one_high_corner",
        topic="faces",
        title="One corner is high",
        question="On a face of {long} by {wide}, three corners have the same height; the fourth is {height} "
        "high. Judge by the four corners alone: how flat is it (two parallel planes, as close together "
        "as possible, at any tilt)?",
        working=FLATNESS_GRID,
        result="minimum_zone",
        numbers=_corner,
        tolerance="2 %",
        solution=_corner_solution,
        mistakes=(
            Mistake(
                "took the highest minus the lowest",
                lambda r: r["peak_to_valley"],
                "That leaves the tilt in. Tilt the planes along the diagonal: the height is then shared.",
            ),
            Mistake(
                "shared the height among all four corners",
                lambda r: r["peak_to_valley"] / 4,
                "Each corner is then a quarter of the height from the middle plane, so the two planes are half of "
                "it apart.",
            ),
        ),
        first_step="Tilt both planes about the diagonal that does not pass through the high corner.",
        lesson="One corner high by h is a twist: the face is flat within h/2, and only the diagonals show it.",
    ),
    Exercise(
        name="guard_band",
        topic="faces",
        title="How much may you measure?",
        question="The source allows {limit}. Your flatness has a standard uncertainty of {u}. The guard band of "
        "ISO 14253-1 is 1.645 of it. Up to which measured value may you accept?",
        working=FLATNESS_GRID,
        result="accept_up_to",
        numbers=lambda rng: {
            "limit": draw_value(rng, 0.04, 0.12, 0.01, "mm"),
            "u": draw_value(rng, 0.005, 0.011, 0.001, "mm"),
        },
        fixed={"points": FLAT, "limit_source": SOURCE},
        tolerance="0.001 mm",
        solution=_guard_solution,
        safe="below",
        mistakes=(
            Mistake(
                "made no allowance",
                lambda r: r.inputs.limit,
                "A value at the limit is as likely to be beyond it as within it.",
            ),
            Mistake(
                "added the allowance",
                lambda r: r["reject_above"],
                "Uncertainty counts against whoever makes the claim: to accept, stay below the limit by the allowance.",
            ),
            Mistake(
                "subtracted one standard uncertainty",
                lambda r: r.inputs.limit - r.inputs.u,
                "That would be right only 84 times in 100; for 95 times subtract 1.645 of them.",
            ),
            Mistake(
                "subtracted the expanded uncertainty, k = 2",
                lambda r: r.inputs.limit - 2 * r.inputs.u,
                "Two of them guard both sides; against one limit, 1.645 of them give 95 %.",
            ),
        ),
        first_step="Subtract 1.645 standard uncertainties from the limit.",
        lesson="Accept up to limit − 1.645 u, reject above limit + 1.645 u; in between nothing is proved.",
    ),
    Exercise(
        name="step_between_liners",
        topic="faces",
        title="Step between two liners",
        question="Liner 1 stands {a} and {b} above the deck, measured at two places. Liner 2 stands {c} and {d}. "
        "What is the step between them, by their means?",
        working=LINER_PROTRUSION,
        result="largest_step",
        numbers=_liners,
        fixed={"places": "2"},
        tolerance="0.002 mm",
        solution=_liner_solution,
        mistakes=(
            Mistake(
                "took the highest and the lowest reading",
                lambda r: r["highest"] - r["lowest"],
                "First take the mean of each liner: a tilted liner has no single height.",
            ),
            Mistake(
                "added the means",
                lambda r: sum(row["mean"].value for row in r["each"]),
                "The step is the difference of the two means.",
            ),
        ),
        first_step="Take the mean of each liner, then subtract the smaller mean.",
        lesson="The gasket bridges the step. Liners that are all low may be better than liners that differ.",
    ),
]
