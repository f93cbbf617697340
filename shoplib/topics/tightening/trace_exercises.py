"""Traces of the wrench: the snug point by the line, the odd bolt of a joint, the slope against the model."""

from __future__ import annotations

import functools
import statistics
from typing import Any

import numpy as np

from shoplib.core.units import deg, unit_of
from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, choose_one
from shoplib.topics.tightening.bolts_compared import BOLTS_COMPARED
from shoplib.topics.tightening.torque_angle_trace import TORQUE_ANGLE_TRACE
from shoplib.topics.tightening.trace_against_model import ABOVE, BELOW, TRACE_AGAINST_MODEL, WITHIN

BOLTS = ("1", "2", "3", "4", "5", "6")
DEGREE = unit_of(deg).si
MODELLED: dict[str, Any] = {  # an invented joint, with a range of friction
    "thread": "M10x1.5", "bearing_mean": "13 mm", "mu_thread": "0.12", "mu_head": "0.12", "mu_low": "0.10",
    "mu_high": "0.14", "yield_strength": "830 MPa", "yield_strength_source": "invented", "tensile_strength": "930 MPa",
    "tensile_strength_source": "invented", "uniform_strain": "6 %", "uniform_strain_source": "invented",
    "shank_diameter": "10 mm", "shank_length": "60 mm", "thread_length": "20 mm", "parts_stiffness": "300 kN/mm",
    "ends": "none",
}  # fmt: skip


def _trace(snug: int, running: int, slope: float, last: int, digits: int) -> str:
    """A trace without noise, as a CSV: the running torque up to the snug point, then the straight line."""
    rows = (f"{x};{running + slope * max(0, x - snug):.{digits}f}" for x in range(0, last + 1))
    return "\n".join(("angle_deg;torque_Nm", *rows))


def _on_the_line(rng: np.random.Generator) -> dict[str, str]:
    """A trace without noise, and two points on its straight part."""
    snug, running = int(rng.integers(40, 81)), int(choose_one(rng, 2, 3, 4))
    slope = float(choose_one(rng, 0.8, 1.0, 1.2, 1.6))
    low, high = snug + 30, snug + 70
    return {
        "trace": _trace(snug, running, slope, snug + 80, 1),
        "running": f"{running} N·m",
        "low": f"{running + 30 * slope:.0f} N·m at {low}°",
        "high": f"{running + 70 * slope:.0f} N·m at {high}°",
    }


def _line_solution(r: Result) -> str:
    slope, running = float(r["slope"]) * DEGREE, float(r["running_torque"])
    snug = float(r["snug_angle"]) / DEGREE
    return (
        f"The line rises by {slope:.2g} N·m per degree. From {running:.3g} N·m at the snug point to the first point "
        f"it rises for 30°. That is {snug + 30:.0f}° − 30° = {snug:.0f}°."
    )


SLOPES = (-0.03, -0.01, 0.0, 0.01, 0.02)  # of bolts that are alike, N·m per degree from the middle


def _one_slope_apart(rng: np.random.Generator) -> dict[str, Any]:
    """Six bolts with like peak torques; the slope of one is far from the others, and its torque is an inner one."""
    middle, torque = float(choose_one(rng, 1.1, 1.3, 1.5, 1.7)), int(rng.integers(85, 106))
    bolts = [(middle + s, torque + p) for s, p in zip(SLOPES, rng.permutation((-3, -2, 1, 2, 4)), strict=True)]
    bolts.append((middle + float(choose_one(rng, -0.4, -0.3, 0.3, 0.4)), torque - 1))
    bolts = [bolts[k] for k in rng.permutation(6)]
    rows = [{"bolt": str(k), "slope": f"{s:.2f} N*m/deg", "torque": f"{t} N*m"} for k, (s, t) in enumerate(bolts, 1)]
    return {"traces": rows, "told": "; ".join(f"{s:.2f} and {t}" for s, t in bolts)}


def _slopes(r: Result) -> list[float]:
    return [row["slope"] * DEGREE for row in r.inputs.traces]


def _furthest_torque(r: Result) -> str:
    """The bolt whose torque is furthest from the median: here the largest, 4 N·m above; the least is 3 below."""
    torques = [row["torque"] for row in r.inputs.traces]
    return str(torques.index(max(torques)) + 1)


def _other_end(r: Result) -> str | None:
    """The bolt at the other end of the slopes."""
    slopes = _slopes(r)
    odd = slopes[int(r["odd"][0]) - 1]
    other = str(slopes.index(max(slopes) if odd == min(slopes) else min(slopes)) + 1)
    return None if other == _furthest_torque(r) else other


def _slope_solution(r: Result) -> str:
    slopes = _slopes(r)
    middle, odd = statistics.median(slopes), int(r["odd"][0])
    return (
        f"The peak torques lie close together. The median of the slopes is {middle:.4g} N·m per degree. One slope is "
        f"{abs(slopes[odd - 1] - middle):.3g} N·m per degree away from it, the others at most "
        f"{max(abs(x - middle) for k, x in enumerate(slopes, 1) if k != odd):.2g}. That is bolt {odd}."
    )


@functools.cache
def _model_range() -> tuple[float, float]:
    """The least and the largest slope of the model of the joint in the exercise, N·m per degree."""
    r = TRACE_AGAINST_MODEL({**MODELLED, "trace": _trace(0, 0, 1.0, 59, 0)})
    return float(r["model_slope_low"]) * DEGREE, float(r["model_slope_high"]) * DEGREE


def _beside_the_model(rng: np.random.Generator) -> dict[str, str]:
    """A trace without noise whose slope is below, within or above the range of the model."""
    low, high = _model_range()
    slope = round(float(choose_one(rng, 0.8 * low, 0.87 * low, (low + high) / 2, 1.12 * high, 1.2 * high)), 2)
    snug, running = int(rng.integers(60, 101)), int(choose_one(rng, 2, 3, 4))
    first, last = snug + 20, snug + 60
    return {
        "trace": _trace(snug, running, slope, last, 2),
        "range": f"{low:.2f} to {high:.2f}",
        "first": f"{running + 20 * slope:.1f} N·m at {first}°",
        "last": f"{running + 60 * slope:.1f} N·m at {last}°",
    }


def _whole_angle(r: Result) -> str | None:
    """The last torque divided by the whole angle: at least half of it is running down, so that it is always low."""
    return None if r["slope_is"] == BELOW else BELOW


def _beside_solution(r: Result) -> str:
    torque, slope = r.inputs.trace.torque, float(r["slope"]) * DEGREE
    rise = float(torque[-1] - torque[-41])
    return (
        f"Between the two points the torque rises by {rise:.1f} N·m in 40°. {rise:.1f} N·m ÷ 40° = {slope:.3g} N·m per "
        f"degree. Compare that with both ends of the range. The slope is {r['slope_is']}."
    )


ON_TRACES = [
    Exercise(
        name="snug_by_the_line",
        topic="traces",
        title="The snug point by the elastic line",
        question="The trace of a bolt runs down at {running}. Its straight part passes {low} and {high}. Take the "
        "straight line back to the running torque. At which angle is the snug point?",
        working=TORQUE_ANGLE_TRACE,
        result="snug_angle",
        numbers=_on_the_line,
        tolerance="0.5°",
        solution=_line_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "took the line back to zero torque",
                lambda r: r["snug_angle"] - r["running_torque"] / r["slope"],
                "The running torque does not clamp. Stop the line at the running torque.",
            ),
            Mistake(
                "took the first point on the line",
                lambda r: r["snug_angle"] + 30 * DEGREE,
                "At that point the bolt clamps already. Go back along the line.",
            ),
        ),
        first_step="First find the slope: the difference of the two torques, divided by the difference of the angles.",
        lesson="The snug point lies where the elastic line meets the running torque. From there the angle stretches "
        "the bolt.",
    ),
    Exercise(
        name="slope_unlike_the_others",
        topic="traces",
        title="One trace is unlike the others",
        question="Slope in N·m per degree and peak torque in N·m of six bolts, 1 to 6: {told}. At which bolt do you "
        "stop and look?",
        working=BOLTS_COMPARED,
        result=("odd", 0),
        numbers=_one_slope_apart,
        tolerance="0 %",
        choices=BOLTS,
        solution=_slope_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "compared the peak torques only",
                _furthest_torque,
                "The torques lie close together. Compare the slopes as well.",
            ),
            Mistake(
                "looked at the wrong end of the slopes",
                _other_end,
                "Find the median first. A slope may be too high or too low.",
            ),
        ),
        first_step="Compare each measure by itself: find its median, then the bolt that is far from it.",
        lesson="A bolt can reach a normal torque with a wrong slope. Then its friction or its joint differs.",
    ),
    Exercise(
        name="slope_beside_the_model",
        topic="traces",
        title="The trace against the model",
        question="For its range of friction, the model of a joint gives a slope of {range} N·m per degree. The "
        "straight part of a trace passes {first} and ends at {last}. Where is its slope?",
        working=TRACE_AGAINST_MODEL,
        result="slope_is",
        numbers=_beside_the_model,
        fixed=MODELLED,
        tolerance="0 %",
        choices=(BELOW, WITHIN, ABOVE),
        solution=_beside_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "divided the last torque by the whole angle",
                _whole_angle,
                "The running down is in the whole angle. Use the two points on the straight part.",
            ),
            Mistake(
                "expected the middle of the range",
                lambda r: WITHIN if r["slope_is"] != WITHIN else None,
                "Work out the slope, and compare it with both ends of the range.",
            ),
        ),
        first_step="Divide the rise of the torque between the two points by the angle between them.",
        lesson="A slope outside the range means that the joint or its friction is not as assumed. The trace does not "
        "say which.",
    ),
]
