"""An exercise of the lesson about the order: how many neighbours were tightened after a bolt, and what they took.

Every neighbour takes the same load here.  Real joints are not so simple; the picture of the lesson shows one.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from shoplib.core.fields import integer, listing, quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import kN
from shoplib.core.working import Result, Working
from shoplib.core.worksheet import Worksheet
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value
from shoplib.teaching.solution_text import entered, short

BOLTS = 5


class RowOfBoltsInputs(Inputs):
    """Inputs of ``row_of_bolts``."""

    click = quantity("click", kN, "Load at the click")
    loss = quantity("loss", kN, "Load that each neighbour takes")
    order = listing("order", integer("bolt", "Bolt"), "Order")
    asked = integer("asked", "Bolt that is asked about")


def _run(inputs: RowOfBoltsInputs, worksheet: Worksheet) -> None:
    """The load at the end: only neighbours that are tightened later take load."""
    order = list(inputs.order)
    after = order[order.index(inputs.asked) + 1 :]
    beside = sum(abs(bolt - inputs.asked) == 1 for bolt in after)
    worksheet.result("later", len(after), None, "Bolts tightened later")
    worksheet.result("later_beside", beside, None, "Neighbours tightened later")
    worksheet.result("load", inputs.click - beside * inputs.loss, kN, "Load at the end", 3)


ROW_OF_BOLTS = Working(
    name="row_of_bolts",
    title="A row of bolts, tightened in turn",
    question="what load does a bolt have at the end",
    inputs=RowOfBoltsInputs,
    run=_run,
)


def _numbers(rng: np.random.Generator) -> dict[str, Any]:
    """An order in which two, one or none of the bolt's neighbours come after it."""
    wanted = choose_one(rng, 2, 2, 2, 1, 1, 0)
    while True:
        order = [int(n) for n in rng.permutation(BOLTS) + 1]
        asked = int(rng.integers(2, BOLTS))  # a bolt with two neighbours
        after = order[order.index(asked) + 1 :]
        if (asked - 1 in after) + (asked + 1 in after) == wanted:
            break
    return {"click": draw_value(rng, 18, 36, 1, "kN"), "loss": draw_value(rng, 1.5, 3, 0.5, "kN"),
            "order": "; ".join(map(str, order)), "told": ", ".join(map(str, order)), "asked": str(asked)}  # fmt: skip


def _less(r: Result, times: int, *taken: int) -> float | None:
    """The load after so many losses, where that is wrong and looks like no other mistake."""
    return None if times in (r["later_beside"], *taken) else float(r.inputs.click - times * r.inputs.loss)


def _solution(r: Result) -> str:
    order, asked = list(r.inputs.order), r.inputs.asked
    after = [bolt for bolt in order[order.index(asked) + 1 :] if abs(bolt - asked) == 1]
    told = " and ".join(map(str, after))
    click, loss = entered(r, "click"), entered(r, "loss")
    if not after:
        return f"Both neighbours of bolt {asked} came before it, so nothing is taken: {short(click)} kN."
    times = f"{len(after)} × " if len(after) > 1 else ""
    return (
        f"After bolt {asked}, its {'neighbours' if len(after) > 1 else 'neighbour'} {told} came. "
        f"{click:g} − {times}{loss:g} = {short(click - len(after) * loss)} kN."
    )


LOAD_IN_A_ROW = Exercise(
    name="load_in_a_row",
    topic="tightening",
    title="A row of bolts",
    question="Five bolts in a row are numbered 1 to 5 from left to right. They are tightened in the order {told}. Each "
    "one has {click} at its click. Each bolt takes {loss} from each tight bolt next to it when it is tightened, and "
    "nothing from the others. What load does bolt {asked} have at the end?",
    working=ROW_OF_BOLTS,
    result="load",
    numbers=_numbers,
    tolerance="0.1 kN",
    solution=_solution,
    steps_solve=False,
    mistakes=(
        Mistake("thought that a bolt keeps the load of its click", lambda r: _less(r, 0),
                "Its neighbours that are tightened later take load from it."),
        Mistake("counted both neighbours, whatever the order", lambda r: _less(r, 2),
                "A neighbour that was tightened earlier takes nothing: the click came after it."),
        Mistake("counted every bolt that was tightened later", lambda r: _less(r, r["later"], 2),
                "Only the bolts right beside it take load here."),
    ),
    first_step="Which bolts right beside it come later in the order?",
    lesson="The order decides which bolts lose load: those whose neighbours are tightened later.",
)  # fmt: skip
