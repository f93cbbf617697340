"""Tightening bolt by bolt: the next bolt, a reading against its stage, stop and look."""

from __future__ import annotations

import re
import statistics
from typing import Any

import numpy as np

from shoplib.core.rounding import same
from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value
from shoplib.teaching.solution_text import entered, entered_list, short
from shoplib.topics.tightening.peak_torque import PEAK_TORQUE
from shoplib.topics.tightening.residual_torque import RESIDUAL_TORQUE
from shoplib.topics.tightening.stage_reading import STAGE_READING
from shoplib.topics.tightening.tightening_plan import TIGHTENING_PLAN
from shoplib.topics.tightening.trace_exercises import BOLTS, DEGREE, ON_TRACES

PLAN: dict[str, Any] = {
    "positions": [{"name": str(k + 1), "x": f"{95 * (k % 3)} mm", "y": f"{110 * (k // 3)} mm"} for k in range(6)],
    "lubricant": "engine oil, a film",
    "lubricant_where": "threads and under the head",
}


SPREAD = (-4, -2, 0, 1, 3)  # of bolts that are alike, N·m from their median


def _shuffled(rng: np.random.Generator) -> dict[str, str]:
    return {"order": "; ".join(rng.permutation(BOLTS))}


def _first(stage: int) -> Any:
    return lambda r: r["stages"][stage]["bolts"].value[0]


def _last(stage: int) -> Any:
    return lambda r: r["stages"][stage]["bolts"].value[-1]


def _by_number(r: Result) -> str | None:
    bolts = r["stages"][0]["bolts"].value
    return "1" if "1" not in (bolts[0], bolts[-1]) else None


def _near_a_band(rng: np.random.Generator) -> dict[str, str]:
    low, high = choose_one(rng, (85, 95), (80, 90), (58, 64), (115, 125))
    return _stage(low, high, draw_value(rng, low - 6, high + 6, 1))


def _stage(low: int, high: int, reading: str) -> dict[str, str]:
    """A stage and a reading, as they are typed and as they are told."""
    return {
        "stage": f"+{low}–{high} deg",
        "reading": f"{reading} deg",
        "told": f"{low}° to {high}°",
        "shown": f"{reading}°",
    }


def _past(rng: np.random.Generator) -> dict[str, str]:
    low, high = choose_one(rng, (85, 95), (80, 90), (55, 65))
    return _stage(low, high, draw_value(rng, 97, 112, 1))


def _peaks(rng: np.random.Generator) -> dict[str, str]:
    middle, odd = int(rng.integers(100, 131)), int(choose_one(rng, -45, -38, -32, 32, 38, 45))
    values = [middle + d for d in rng.permutation(SPREAD)]
    values.insert(int(rng.integers(6)), middle + odd)
    return {"readings": "; ".join(f"{v} N·m" for v in values)}


def _loudest(r: Result) -> str | None:
    """A learner who looks only for the highest misses a low one."""
    readings = list(r.inputs.readings)
    highest = str(readings.index(max(readings)) + 1)
    return None if highest == r["unlike"][0] else highest


def _quietest(r: Result) -> str | None:
    """A learner who looks only for the lowest misses a high one."""
    readings = list(r.inputs.readings)
    lowest = str(readings.index(min(readings)) + 1)
    return None if lowest == r["unlike"][0] else lowest


def _degrees(r: Result) -> tuple[int, int, float]:
    """Both ends of the stage as typed, and the reading, in degrees."""
    low, high = map(int, re.findall(r"\d+", str(r.inputs.as_entered["stage"])))
    return low, high, float(r["reading"]) / DEGREE


def _band_solution(r: Result) -> str:
    low, high, reading = _degrees(r)
    told = f"The ends are {low}° and {high}°. The gauge shows {reading:g}°. "
    if r["side"] == "within":
        return told + "That is between them, or equal to one of them: within."
    return told + (f"That is more than {high}°: over." if r["side"] == "over" else f"That is less than {low}°: under.")


def _past_solution(r: Result) -> str:
    _, high, reading = _degrees(r)
    return f"The upper end is still allowed: {reading:g}° − {high}° = {reading - high:g}°."


def _next_solution(r: Result) -> str:
    return (
        f"The stage at 40 N·m is complete: its last bolt was {_last(0)(r)}. The next stage begins with the first "
        f"bolt of the order. That is bolt {_first(1)(r)}."
    )


def _reverse_solution(r: Result) -> str:
    return f"Loosen in the reverse order, so begin with the last bolt of it. That is bolt {_first(1)(r)}."


def _look_solution(r: Result) -> str:
    readings = entered_list(r, "readings")
    middle = statistics.median(readings)
    odd = int(r["unlike"][0])
    return (
        f"The median is {middle:g} N·m. One reading is {abs(readings[odd - 1] - middle):g} N·m away from it, "
        f"the others at most 6 N·m. That is bolt {odd}."
    )


def _residual(rng: np.random.Generator) -> dict[str, object]:
    """Three residual torques, one of them far below the others."""
    assembly = int(rng.integers(5, 10)) * 10
    low, middle, high = round(assembly * 0.6), round(assembly * 0.85), round(assembly * 0.92)
    order = [f"{x} N·m" for x in rng.permutation([low, middle, high])]
    rows = [{"bolt": str(k), "torque": x} for k, x in enumerate(order, 1)]
    return {"readings": rows, "assembly_torque": f"{assembly} N·m", **dict(zip("abc", order, strict=True))}


def _residual_solution(r: Result) -> str:
    readings = sorted(float(str(row["torque"]).split()[0]) for row in r.inputs.as_entered["readings"])
    whole, middle = entered(r, "assembly_torque"), readings[1]
    return f"The middle one of the three is {middle:g} N·m: {middle:g} ÷ {whole:g} = {short(middle / whole, 3)}."


EXERCISES = [
    *ON_TRACES,
    Exercise(
        name="phone_rang_between_stages",
        topic="guide",
        title="Interrupted between stages",
        question="You tighten six bolts in the maker's order {order}, first to 40 N·m, then a further 90°. You are "
        "interrupted. The last bolt ticked is the last one at 40 N·m. Which bolt is next?",
        working=TIGHTENING_PLAN,
        result=("stages", 1, "bolts", 0),
        numbers=_shuffled,
        fixed={**PLAN, "stages": "40 N*m; +90 deg"},
        tolerance="0 %",
        solution=_next_solution,
        choices=BOLTS,
        mistakes=(
            Mistake(
                "continued with the bolt under the wrench",
                _last(0),
                "Do not take one bolt through all stages: its neighbours would lose clamp load.",
            ),
            Mistake("followed the numbers on the map", _by_number, "Follow the order, not the names of the bolts."),
        ),
        first_step="Complete the whole pattern at each stage, in order.",
        lesson=(
            "Complete the whole pattern at each stage: after the last bolt, start again with the first one at the "
            "next stage."
        ),
    ),
    Exercise(
        name="loosening_stage_order",
        topic="guide",
        title="A stage that loosens",
        question="The maker's order is {order}. After 40 N·m the programme says: loosen by 90°. It names no "
        "other order for that. Which bolt does the plan loosen first?",
        working=TIGHTENING_PLAN,
        result=("stages", 1, "bolts", 0),
        numbers=_shuffled,
        fixed={**PLAN, "stages": "40 N*m; loosen 90 deg; 40 N*m"},
        tolerance="0 %",
        solution=_reverse_solution,
        choices=BOLTS,
        mistakes=(
            Mistake(
                "loosened in the order of tightening",
                _first(0),
                "Loosen in the reverse order, from the outside in, unless the maker gives another order.",
            ),
            Mistake("followed the numbers on the map", _by_number, "Follow the order, not the names of the bolts."),
        ),
        first_step="A loosening stage without its own order uses the reverse order.",
        lesson="Loosen in the reverse of the tightening order, unless the maker gives another order.",
    ),
    Exercise(
        name="inside_the_band",
        topic="guide",
        title="Inside the stage or not",
        question="The stage is a further {told}. The gauge shows {shown}. Is that within the stage, over or under?",
        working=STAGE_READING,
        result="side",
        numbers=_near_a_band,
        tolerance="0 %",
        choices=("within", "over", "under"),
        solution=_band_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "took the middle of the range as the only right value",
                lambda r: (
                    None
                    if r["side"] != "within" or same(r["reading"], _middle(r))
                    else "over"
                    if r["reading"] > _middle(r)
                    else "under"
                ),
                "Every value between the two ends is to specification, and so are the ends themselves.",
            ),
            Mistake(
                "took a near miss as within",
                lambda r: None if r["side"] == "within" else "within",
                "Outside is outside. Record it with its reason; the maker's rule decides.",
            ),
        ),
        first_step="Compare with both ends of the range.",
        lesson=(
            "Within means from end to end. Record anything outside with reason and action. Never turn back to the mark."
        ),
    ),
    Exercise(
        name="how_far_past",
        topic="guide",
        title="How far past the stage",
        question="The stage is a further {told}. The gauge slipped and the bolt went to {shown}. How many degrees is "
        "it past the limit?",
        working=STAGE_READING,
        result="by",
        numbers=_past,
        tolerance="0.1°",
        solution=_past_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "counted from the middle of the range",
                lambda r: r["by"] + 5 * DEGREE,
                "The upper end is still allowed. Count only what is past it.",
            ),
            Mistake(
                "counted from the lower end",
                lambda r: r["by"] + 10 * DEGREE,
                "The whole range is allowed. Count only what is past its upper end.",
            ),
        ),
        first_step="Subtract the upper end of the range from the reading.",
        lesson="Record these degrees. Do not turn the bolt back: follow the maker's rule, or fit a new bolt.",
    ),
    Exercise(
        name="which_bolt_to_look_at",
        topic="guide",
        title="Stop and look",
        question="Peak torques at the final angle, bolts 1 to 6: {readings}. At which bolt do you stop and look?",
        working=PEAK_TORQUE,
        result=("unlike", 0),
        numbers=_peaks,
        tolerance="0 %",
        solution=_look_solution,
        choices=BOLTS,
        mistakes=(
            Mistake(
                "looked only for the highest",
                _loudest,
                "A low one is just as bad: a stripping thread turns easily.",
            ),
            Mistake(
                "looked only for the lowest",
                _quietest,
                "A high one is just as bad: a thread that seizes turns hard.",
            ),
        ),
        first_step="Find the median, then the bolt that is far from it on either side.",
        lesson="If a bolt is unlike the others, high or low, stop and find out why. It is not a verdict.",
    ),
    Exercise(
        name="residual_part",
        topic="guide",
        title="Residual torque",
        question="Three bolts were tightened to {assembly_torque}. Two days later they first move at {a}, {b} and {c}. "
        "What part of the torque at assembly is their median?",
        working=RESIDUAL_TORQUE,
        result="part_of_assembly",
        numbers=_residual,
        fixed={"method": "first movement, tightening"},
        tolerance="1 %",
        solution=_residual_solution,
        mistakes=(
            Mistake(
                "took the mean",
                lambda r: sum(row["torque"] for row in r.inputs.readings) / 3 / r.inputs.assembly_torque,
                "Put the three in order: the median is the second.",
            ),
            Mistake(
                "took the lowest",
                lambda r: r["lowest"] / r.inputs.assembly_torque,
                "Put the three in order: the median is the second.",
            ),
            Mistake(
                "divided the other way round",
                lambda r: 1 / r["part_of_assembly"],
                "A part of the torque at assembly: divide by the torque at assembly.",
            ),
        ),
        first_step="Put the three torques in order and take the middle one.",
        lesson="A residual torque is a record. It shows friction at rest, not the preload.",
    ),
]


def _middle(r: Result) -> float:
    low, high = (check.limit.value for check in r.checks if check.limit is not None)
    return float(low + high) / 2
