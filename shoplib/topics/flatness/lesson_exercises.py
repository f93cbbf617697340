"""Exercises of the lessons about the straightedge: the leaf that proves something, and the gap under one line."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from shoplib.core.fields import choice, listing, quantity
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import same
from shoplib.core.units import mm
from shoplib.core.working import Result, Working
from shoplib.core.worksheet import Worksheet
from shoplib.teaching.exercise import Exercise, Mistake, choose_one
from shoplib.teaching.solution_text import entered, short

PASSES, FAILS = "passes", "fails"


# ------------------------------------------------------------------------------ the leaf that proves it
class LeafThatProvesInputs(Inputs):
    """Inputs of ``leaf_that_proves``."""

    limit = quantity("limit", mm, "Limit")
    step = quantity("step", mm, "Step of the leaves")
    proves = choice("proves", "What must be proved", (PASSES, FAILS))


def _run_leaf(inputs: LeafThatProvesInputs, worksheet: Worksheet) -> None:
    """The leaves on the two sides of the limit; a leaf that does not fit proves less, one that fits at least."""
    below = math.floor(inputs.limit / inputs.step) * inputs.step  # the limit lies between two leaves
    above = below + inputs.step
    at, other = (below, above) if inputs.proves == PASSES else (above, below)
    worksheet.result("leaf", at, mm, "Leaf", 2)
    worksheet.result("other", other, mm, "Leaf on the other side of the limit", 2)


LEAF_THAT_PROVES = Working(
    name="leaf_that_proves",
    title="The leaf that proves it",
    question="which leaf proves a pass by not fitting, and which a fail by fitting",
    inputs=LeafThatProvesInputs,
    run=_run_leaf,
)


def _leaves(rng: np.random.Generator) -> dict[str, Any]:
    """A limit between two leaves of a set."""
    step = int(choose_one(rng, 2, 3, 4, 5))
    limit = step * int(rng.integers(1, 4)) + int(rng.integers(1, step))
    proves = choose_one(rng, FAILS, PASSES)
    passes = proves == PASSES
    return {
        "limit": f"{limit / 100:.2f} mm", "step": f"{step / 100:.2f} mm", "proves": proves,
        "first": f"{step / 100:.2f}", "second": f"{2 * step / 100:.2f}", "third": f"{3 * step / 100:.2f} mm",
        "which": "thickest" if passes else "thinnest", "how": "not fitting" if passes else "fitting",
    }  # fmt: skip


def _leaf_solution(r: Result) -> str:
    limit, step = entered(r, "limit"), entered(r, "step")
    passes = r.inputs.proves == PASSES
    n = round((r["leaf"] if passes else r["other"]) / r.inputs.step)  # the last leaf that is not above the limit
    between = f"{n} × {step:g} = {n * step:.2f} mm and {n + 1} × {step:g} = {(n + 1) * step:.2f} mm"
    proof = (
        f"Not fitting, {n * step:.2f} mm proves less than {n * step:.2f} mm, all of it within the limit"
        if passes
        else f"Fitting, {(n + 1) * step:.2f} mm proves at least {(n + 1) * step:.2f} mm, all of it above the limit"
    )
    return f"The limit of {limit:.2f} mm lies between {between}. {proof}. Leaf: {short(1e3 * r['leaf'], 2)} mm."


DECIDING_LEAF = Exercise(
    name="leaf_that_proves",
    topic="faces",
    title="The leaf that proves it",
    question="The instructions allow a gap of at most {limit}. Your leaves are {first}, {second}, {third} and so on. "
    "You want to prove that a line {proves}. Which is the {which} leaf that proves this by {how}?",
    working=LEAF_THAT_PROVES,
    result="leaf",
    numbers=_leaves,
    tolerance="0.001 mm",
    solution=_leaf_solution,
    steps_solve=False,
    mistakes=(
        Mistake("took the leaf on the other side of the limit", lambda r: r["other"],
                "A leaf that does not fit proves only: less than this leaf. A leaf that fits proves: at least this "
                "leaf. Part of that is on the other side of the limit."),
        Mistake("took the limit itself", lambda r: r.inputs.limit, "There is no such leaf in the set."),
    ),
    first_step="Write down what the leaf proves: less than it, or at least it. Compare all of that with the limit.",
    lesson="Not fitting, a leaf at or below the limit proves a pass. Fitting, a leaf above the limit proves a fail.",
)  # fmt: skip


# ------------------------------------------------------------------------------ the gap under one line
ALONG, ACROSS, DIAGONAL = "along", "across", "diagonal"
PLACES = {ALONG: (3, 4, 5), ACROSS: (1, 4, 7), DIAGONAL: (0, 4, 8)}  # among nine, row by row
LAID = {
    ALONG: "along the head, over the middle row",
    ACROSS: "across the head, over the second place of each row",
    DIAGONAL: "over the diagonal, from the first place of the front row to the last place of the back row",
}


class NineHeightsInputs(Inputs):
    """Inputs of ``nine_heights``."""

    heights = listing("heights", quantity("height", mm, "Height"), "Heights, row by row")
    line = choice("line", "Line", tuple(PLACES))


def _under(heights: list[float], line: str) -> float:
    """The gap at the centre of a straightedge that rests on both ends of a line."""
    one, middle, other = (heights[n] for n in PLACES[line])
    return (one + other) / 2 - middle


def _run_heights(inputs: NineHeightsInputs, worksheet: Worksheet) -> None:
    """The gap under the line."""
    worksheet.result("gap", _under(inputs.heights, inputs.line), mm, "Gap at the centre", 2)


NINE_HEIGHTS = Working(
    name="nine_heights",
    title="Nine heights of a face",
    question="which gap does a straightedge show on one line",
    inputs=NineHeightsInputs,
    run=_run_heights,
)


def _heights(rng: np.random.Generator) -> dict[str, Any]:
    """A face that is hollow along, across or both, with another gap in each direction; and which line is asked."""
    line = choose_one(rng, ALONG, ACROSS, ACROSS, DIAGONAL)
    big, small = int(rng.integers(5, 10)), int(rng.integers(0, 3))
    hollow = {ALONG: big, ACROSS: small} if line == ALONG else {ALONG: small, ACROSS: big}
    if line == DIAGONAL:
        hollow[ALONG] += 2
    rows, places = ((h + tilt, 0, h - tilt) for h, tilt in
                    ((hollow[ACROSS], int(rng.integers(0, 3))), (hollow[ALONG], int(rng.integers(0, 3)))))  # fmt: skip
    z = [row + place + 4 for row in rows for place in places]
    told = {name: ", ".join(map(str, z[3 * n : 3 * n + 3])) for n, name in enumerate(("front", "middle", "back"))}
    return {**told, "heights": "; ".join(f"{x / 100:.2f} mm" for x in z), "line": line, "laid": LAID[line]}


def _of_another_line(r: Result) -> float:
    return _under(r.inputs.heights, ALONG if r.inputs.line != ALONG else ACROSS)


def _highest_and_lowest(r: Result) -> float | None:
    z = [r.inputs.heights[n] for n in PLACES[r.inputs.line]]
    found = max(z) - min(z)
    return None if same(found, r["gap"]) else float(found)


def _heights_solution(r: Result) -> str:
    one, middle, other = (round(1e5 * r.inputs.heights[n]) for n in PLACES[r.inputs.line])
    gap = f"{1e3 * r['gap']:.2f}"
    return (
        f"The edge rests on {one} and {other}. In its middle it is at ({one} + {other}) ÷ 2 = {(one + other) / 2:g}. "
        f"The face is at {middle} there. Gap: {(one + other) / 2 - middle:g} hundredths = {gap} mm."
    )


GAP_UNDER_A_LINE = Exercise(
    name="gap_under_a_line",
    topic="faces",
    title="The gap under one line",
    question="The heights of a face at nine places, in hundredths of a millimetre: front row {front}; middle row "
    "{middle}; back row {back}. Each row runs along the head. A straightedge is laid {laid}. It rests on both ends. "
    "How large is the gap in its middle?",
    working=NINE_HEIGHTS,
    result="gap",
    numbers=_heights,
    tolerance="0.001 mm",
    solution=_heights_solution,
    steps_solve=False,
    mistakes=(
        Mistake("read a line in another direction", _of_another_line,
                "A line shows only its own direction. Take the three places under this one."),
        Mistake("took the highest minus the lowest", _highest_and_lowest,
                "The edge leans with its two ends. Take the height of the edge in its middle."),
    ),
    first_step="Which three places are under the straightedge? How high is the edge in its middle?",
    lesson="Another line over the same face shows another gap.",
)  # fmt: skip
