"""The exercise of the lesson about yield: how much of an angle is past yield."""

from __future__ import annotations

import math

import numpy as np

from shoplib.core.fields import quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import deg, kN
from shoplib.core.working import Result, Working
from shoplib.core.worksheet import Worksheet
from shoplib.teaching.exercise import Exercise, Mistake, pick
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
    return float(past) if past > 0 else None


def _numbers(rng: np.random.Generator) -> dict[str, str]:
    """A bolt whose angle past yield differs from what each mistake gives."""
    while True:
        typed = {
            "snug": pick(rng, 12, 24, 1, "kN"),
            "gain": pick(rng, 2, 4, 0.1, "kN"),
            "yields": pick(rng, 40, 60, 1, "kN"),
            "angle": pick(rng, 120, 240, 5) + "°",
        }
        r = PAST_YIELD(typed)
        found = [r["up_to"], _without_snug(r) or r["up_to"]]
        if r["past"] > math.radians(25) and all(abs(x / r["past"] - 1) > APART for x in found):
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
    question="At the snug torque a bolt has {snug}. While it is elastic, each 10° add {gain}. It yields at {yields}. "
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
