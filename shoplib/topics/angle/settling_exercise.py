"""The exercise of the lesson about settling: the loss from what bolt and parts are deformed by, without a formula."""

from __future__ import annotations

import numpy as np

from shoplib.core.fields import quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import kN, mm
from shoplib.core.working import Result, Working
from shoplib.core.worksheet import Worksheet
from shoplib.teaching.exercise import Exercise, Mistake, draw_value
from shoplib.teaching.solution_text import entered, short


class SettledStretchInputs(Inputs):
    """Inputs of ``settled_stretch``."""

    clamp = quantity("clamp", kN, "Clamp load")
    stretch = quantity("stretch", mm, "Stretch of the bolt")
    pressed = quantity("pressed", mm, "Compression of the parts")
    settled = quantity("settled", mm, "Settling of all surfaces")


def _run(inputs: SettledStretchInputs, worksheet: Worksheet) -> None:
    """The load falls in proportion to what is left of stretch and compression together."""
    loss = inputs.clamp * inputs.settled / (inputs.stretch + inputs.pressed)
    worksheet.result("loss", loss, kN, "Clamp load lost", 3)


SETTLED_STRETCH = Working(
    name="settled_stretch",
    title="What settling takes from the stretch",
    question="how much clamp load is lost",
    inputs=SettledStretchInputs,
    run=_run,
)


def _numbers(rng: np.random.Generator) -> dict[str, str]:
    """A bolt that is stretched two to four times as far as its parts are compressed."""
    while True:
        typed = {
            "clamp": draw_value(rng, 18, 36, 1, "kN"),
            "stretch": draw_value(rng, 0.16, 0.36, 0.01, "mm"),
            "pressed": draw_value(rng, 0.05, 0.12, 0.01, "mm"),
            "settled": draw_value(rng, 0.012, 0.03, 0.002, "mm"),
        }
        stretch, pressed = (float(typed[n].split()[0]) for n in ("stretch", "pressed"))
        if 2 <= stretch / pressed <= 4:
            return typed


def _of(r: Result, deformed: float) -> float:
    """The loss, if only this were deformed."""
    return float(r.inputs.clamp * r.inputs.settled / deformed)


def _solution(r: Result) -> str:
    clamp, stretch, pressed, settled = (entered(r, n) for n in ("clamp", "stretch", "pressed", "settled"))
    both = stretch + pressed
    return (
        f"Bolt and parts are deformed by {stretch:g} + {pressed:g} = {both:.2f} mm together. {settled:g} mm of that is "
        f"lost, and the load with it: {clamp:g} × {settled:g} ÷ {both:.2f} = {short(clamp * settled / both)} kN."
    )


LOSS_FROM_STRETCH = Exercise(
    name="loss_from_stretch",
    topic="angle",
    title="What settling takes from the stretch",
    question="A bolt clamps with a force of {clamp}. It is stretched by {stretch}, and the parts are compressed by "
    "{pressed}. Then all surfaces settle by {settled}. How much clamp load is lost?",
    working=SETTLED_STRETCH,
    result="loss",
    numbers=_numbers,
    tolerance="2 %",
    solution=_solution,
    steps_solve=False,
    mistakes=(
        Mistake("thought that a bolt stays at its load", lambda r: 0.0,
                "What settles is taken from the stretch and from the compression. The load falls with them."),
        Mistake("took all of the settling from the bolt", lambda r: _of(r, r.inputs.stretch),
                "The parts spring back by a part of it. Which part of stretch and compression together is lost?"),
        Mistake("took all of the settling from the parts", lambda r: _of(r, r.inputs.pressed),
                "The bolt gets shorter by a part of it. Which part of stretch and compression together is lost?"),
        Mistake("gave the load that is left", lambda r: r.inputs.clamp - r["loss"], "Asked is how much is lost."),
    ),
    first_step="By how much are bolt and parts deformed together? Which part of that is lost?",
    lesson="What settles is taken from stretch and compression together, and the load falls in proportion.",
)  # fmt: skip
