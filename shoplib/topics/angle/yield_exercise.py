"""The exercises of the lessons about yield: how much of an angle is past yield, and what stays after loosening."""

from __future__ import annotations

import math

import numpy as np

from shoplib.core.fields import quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import deg, kN, kN_per_mm, mm
from shoplib.core.working import Result, Working
from shoplib.core.worksheet import Worksheet
from shoplib.teaching.exercise import Exercise, Mistake, draw_value
from shoplib.teaching.solution_text import entered, short

TEN = math.radians(10.0)
APART = 0.08  # least difference of the answer from each number that a mistake gives


class PastYieldInputs(Inputs):
    """Inputs of ``past_yield``."""

    snug = quantity("snug", kN, "Clamp load at the snug torque")
    gain = quantity("gain", kN, "Gain by each 10° while elastic")
    yields = quantity("yields", kN, "Clamp load at yield")
    angle = quantity("angle", deg, "Angle")


def _run(inputs: PastYieldInputs, worksheet: Worksheet) -> None:
    """The angle up to yield, and the rest."""
    up_to = (inputs.yields - inputs.snug) / inputs.gain * TEN
    worksheet.result("up_to", up_to, deg, "Angle up to yield")
    worksheet.result("past", inputs.angle - up_to, deg, "Angle past yield")


PAST_YIELD = Working(
    name="past_yield",
    title="How much of the angle is past yield",
    question="how many of the degrees are past yield",
    inputs=PastYieldInputs,
    run=_run,
)


def _without_snug(r: Result) -> float | None:
    past = r.inputs.angle - r.inputs.yields / r.inputs.gain * TEN
    return float(past) if past > math.radians(5) else None


def _numbers(rng: np.random.Generator) -> dict[str, str]:
    """A bolt whose angle past yield differs from what each mistake gives."""
    while True:
        typed = {
            "snug": draw_value(rng, 12, 24, 1, "kN"),
            "gain": draw_value(rng, 2, 4, 0.1, "kN"),
            "yields": draw_value(rng, 40, 60, 1, "kN"),
            "angle": draw_value(rng, 120, 240, 5) + "°",
        }
        r = PAST_YIELD(typed)
        up_to, other = r["up_to"], _without_snug(r)
        pairs = [(up_to, r["past"])] + ([(other, r["past"]), (other, up_to)] if other else [])
        if r["past"] > math.radians(25) and all(abs(a / b - 1) > APART for a, b in pairs):
            return typed


def _solution(r: Result) -> str:
    snug, gain, yields, angle = (entered(r, name) for name in ("snug", "gain", "yields", "angle"))
    up_to = 10 * (yields - snug) / gain
    return (
        f"Up to yield: {yields:g} − {snug:g} = {yields - snug:g} kN. Degrees for that: {yields - snug:g} ÷ {gain:g} "
        f"× 10 = {short(up_to)}°. Past yield: {angle:g} − {short(up_to)} = {short(angle - up_to)}°."
    )


DEGREES_PAST_YIELD = Exercise(
    name="degrees_past_yield",
    topic="angle",
    title="How much of the angle is past yield?",
    question="At the snug torque a bolt has {snug}. While it is elastic, each 10° adds {gain}. It yields at {yields}. "
    "It is turned a further {angle}. How many of these degrees are past yield?",
    working=PAST_YIELD,
    result="past",
    numbers=_numbers,
    tolerance="2 %",
    solution=_solution,
    steps_solve=False,
    mistakes=(
        Mistake("gave the degrees up to yield", lambda r: r["up_to"], "Those are elastic. The rest is past yield."),
        Mistake("forgot the clamp load of the snug torque", _without_snug,
                "The bolt does not start at zero: the angle adds to the clamp load of the snug torque."),
        Mistake("took the whole angle as past yield", lambda r: r.inputs.angle,
                "First the bolt is elastic. Only after its clamp load has reached yield is it past yield."),
    ),
    first_step="Divide what is missing up to yield by the gain of 10°.",
    lesson="Degrees past yield add length, and hardly any clamp load.",
)  # fmt: skip


# ------------------------------------------------------------------------------ what stays after loosening
IN_THE_PICTURE = 0.50e-3  # m, what springs back in the picture of the lesson; no case has it


class StaysInputs(Inputs):
    """Inputs of ``stays_longer``."""

    clamp = quantity("clamp", kN, "Clamp load")
    stiffness = quantity("stiffness", kN_per_mm, "Stiffness of the bolt")
    longer = quantity("longer", mm, "Longer than new while tight")


def _run_stays(inputs: StaysInputs, worksheet: Worksheet) -> None:
    """What springs back, and the rest."""
    springs = inputs.clamp / inputs.stiffness
    worksheet.result("springs", springs, mm, "Springs back", 3)
    worksheet.result("stays", inputs.longer - springs, mm, "Stays longer than new", 3)


STAYS_LONGER = Working(
    name="stays_longer",
    title="What stays after loosening",
    question="how much longer than new a bolt stays",
    inputs=StaysInputs,
    run=_run_stays,
)


def _stays_numbers(rng: np.random.Generator) -> dict[str, str]:
    """A bolt past yield; what springs back differs from the picture of the lesson, and from what stays."""
    while True:
        typed = {
            "clamp": draw_value(rng, 30, 60, 0.5, "kN"),
            "stiffness": draw_value(rng, 60, 180, 5, "kN/mm"),
            "longer": draw_value(rng, 0.6, 1.8, 0.02, "mm"),
        }
        r = STAYS_LONGER(typed)
        apart = min(abs(r["springs"] - IN_THE_PICTURE), abs(r["springs"] - r["stays"]))
        if r["stays"] > 0.15e-3 and apart > 0.06e-3:
            return typed


def _stays_solution(r: Result) -> str:
    clamp, stiffness, longer = (entered(r, name) for name in ("clamp", "stiffness", "longer"))
    springs = round(clamp / stiffness, 2)
    return (
        f"The part that springs back is clamp load ÷ stiffness: {clamp:g} kN ÷ {stiffness:g} kN/mm = {springs:.2f} mm. "
        f"The rest stays: {longer:.2f} − {springs:.2f} = {longer - springs:.2f} mm."
    )


LONGER_FOR_GOOD = Exercise(
    name="longer_for_good",
    topic="angle",
    title="What stays after loosening",
    question="A bolt was tightened past yield. It clamps with a force of {clamp} and is {longer} longer than new. Its "
    "stiffness is {stiffness}. It is loosened. How much longer than new does it stay?",
    working=STAYS_LONGER,
    result="stays",
    numbers=_stays_numbers,
    tolerance="0.01 mm",
    solution=_stays_solution,
    steps_solve=False,
    mistakes=(
        Mistake("thought that it springs back completely", lambda r: 0.0,
                "It was past yield. Only the elastic part springs back: clamp load ÷ stiffness."),
        Mistake("thought that it stays as long as it was", lambda r: r.inputs.longer,
                "A yielded bolt is still a spring: clamp load ÷ stiffness springs back."),
        Mistake("gave the part that springs back", lambda r: r["springs"], "That part springs back; the rest stays."),
    ),
    first_step="How much springs back? Clamp load ÷ stiffness. The rest stays.",
    lesson="Past yield a bolt keeps part of its stretch. Re-use it only if a rule with a source allows it, such as a "
    "maximum length.",
)  # fmt: skip
