"""The open valve over the piston: the gap at one crank angle, and what a late camshaft takes from it."""

from __future__ import annotations

import math

import numpy as np

from shoplib.core.working import Result
from shoplib.physics import timing
from shoplib.teaching.exercise import Exercise, Mistake, draw_value
from shoplib.teaching.solution_text import entered
from shoplib.topics.skim.valve_sweep import VALVE_SWEEP


def _numbers(rng: np.random.Generator) -> dict[str, object]:
    """A curve so flat about one angle that the smallest gap lies there."""
    angle = -int(rng.integers(4, 9))
    drop = float(timing.piston_drop(math.radians(angle), 0.143, 0.043, 0.0)) * 1e3
    lift = f"{1.2 + 0.1 * rng.integers(0, 8):.2f} mm"
    rows = ((angle - 60, "0.00 mm"), (angle - 1, lift), (angle, lift), (angle + 1, "0.00 mm"))
    return {
        "lift_curve": [{"angle": f"{a} deg", "lift": x} for a, x in rows],
        "closed_gap": draw_value(rng, 2.5, 4.0, 0.1, "mm"),
        "net_drop": draw_value(rng, 0.1, 0.4, 0.05, "mm"),
        "before": f"{-angle}°", "piston_drop": f"{drop:.2f} mm", "lift": lift,
    }  # fmt: skip


def _gap_solution(r: Result) -> str:
    closed, drop = entered(r, "closed_gap"), entered(r, "net_drop")
    lift = 1e3 * r["lift_there"]
    lower = 1e3 * r["smallest_clearance"] - closed + lift + drop
    return (
        f"The gap when closed, less the lift, plus what the piston is lower, less the cut: {closed:g} − {lift:.2f} + "
        f"{lower:.2f} − {drop:.2f} = {closed - lift + lower - drop:.2f} mm."
    )


EXERCISES = [
    Exercise(
        name="gap_under_an_open_valve",
        topic="skim",
        title="The open valve over the piston",
        question="An upright exhaust valve is {closed_gap} above the piston at top dead centre when it is closed. The "
        "valve comes closest {before} before top dead centre: there it is open by {lift}, and the piston is "
        "{piston_drop} below its highest position. The head then comes down by {net_drop}. What gap is left?",
        working=VALVE_SWEEP,
        result="smallest_clearance",
        numbers=_numbers,
        fixed={"retard": "0 deg", "valve_angle": "0 deg", "crown": "flat", "rod_length": "143 mm", "stroke": "86 mm"},
        tolerance="0.02 mm",
        solution=_gap_solution,
        mistakes=(
            Mistake(
                "forgot that the piston is lower there",
                lambda r: r.inputs.closed_gap - r.inputs.net_drop - r["lift_there"],
                "Before top dead centre the piston is not at the top yet: add how far it is below.",
            ),
            Mistake(
                "forgot the cut",
                lambda r: r["clearance_before"],
                "The head comes down and takes the valve with it.",
            ),
            Mistake(
                "added the cut",
                lambda r: r["clearance_before"] + r.inputs.net_drop,
                "The head comes down: the cut takes from the gap.",
            ),
            Mistake(
                "left out the lift",
                lambda r: r["smallest_clearance"] + r["lift_there"],
                "The valve is open there. Its lift takes from the gap.",
            ),
        ),
        first_step="Gap when closed, plus how far the piston is down, less the lift, less the cut.",
        lesson="The closest place is near top dead centre, not at the largest lift: there the piston is far away.",
    ),
]
