"""The exercises about stripping: which bolt is loosened first, and how much coolant was drained."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value
from shoplib.topics.fasteners.exercises import NOTES
from shoplib.topics.fasteners.tightening_order import TIGHTENING_ORDER
from shoplib.topics.strip_down.strip_log import STRIP_LOG

NAMES = ("1", "2", "3", "4", "5", "6", "7", "8")


def _order(rng: np.random.Generator) -> Mapping[str, Any]:
    places = [
        {"name": n, "x": f"{110 * (k % 4)} mm", "y": f"{110 * (k // 4)} mm"} for k, n in enumerate(NAMES)
    ]  # two rows of four
    turned = choose_one(
        rng, (1, 2, 3, 4, 5, 6, 7, 8), (4, 3, 2, 1, 8, 7, 6, 5), (5, 6, 7, 8, 1, 2, 3, 4), (8, 7, 6, 5, 4, 3, 2, 1)
    )
    base = choose_one(
        rng, (2, 7, 3, 6, 1, 8, 4, 5), (2, 7, 6, 3, 1, 8, 5, 4), (2, 6, 7, 3, 1, 5, 8, 4), (2, 3, 7, 6, 1, 4, 8, 5)
    )
    order = [str(turned[k - 1]) for k in base]
    return {"order": "; ".join(order), "positions": places}


def _drains(rng: np.random.Generator) -> Mapping[str, Any]:
    a, b, oil = (float(draw_value(rng, low, high, 0.1)) for low, high in ((3.5, 5.5), (0.6, 1.6), (4.0, 6.0)))
    drained = {"step": "liquid drained", "state": "done"}
    rows = [
        drained | {"what": "radiator", "amount": f"{a:.1f} L", "liquid": "coolant"},
        drained | {"what": "sump", "amount": f"{oil:.1f} L", "liquid": "oil"},
        drained | {"what": "block", "amount": f"{b:.1f} L", "liquid": "coolant"},
    ]
    return {"steps": rows, "a": f"{a:.1f} L", "b": f"{b:.1f} L", "oil": f"{oil:.1f} L"}


def _amounts(result: Result) -> list[float]:
    return [r["amount"] for r in result.inputs.steps]


def _drained_solution(r: Result) -> str:
    coolant = [1e3 * x["amount"] for x in r.inputs.steps if x["liquid"] == "coolant"]
    told = " + ".join(f"{x:.1f}" for x in coolant)
    return f"The oil has its own total. Coolant only, radiator and block: {told} = {sum(coolant):.1f} L."


def _loosening_solution(r: Result) -> str:
    return f"Read the tightening order from its end, and begin with its last bolt. That is bolt {r['order'][-1]}."


EXERCISES = (
    Exercise(
        name="loosened_first",
        topic="strip_down",
        title="Which bolt first",
        question="Eight head bolts are tightened in the order {order}. The source gives no order for loosening. "
        "Which bolt is loosened first?",
        working=TIGHTENING_ORDER,
        result=("loosening_order", 0),
        fixed={"order_source": NOTES},
        numbers=_order,
        tolerance="1 %",
        solution=_loosening_solution,
        choices=NAMES,
        mistakes=(
            Mistake(
                "began as for tightening",
                lambda r: r["order"][0],
                "Loosening goes the other way round: from the ends to the middle, so that the head does not warp.",
            ),
            Mistake("took the second-last bolt", lambda r: r["order"][-2], "The very last one tightened comes first."),
        ),
        first_step="Read the tightening order from its end.",
        lesson="The reverse of the tightening order, cold, in several passes, unless the source gives one of its own.",
    ),
    Exercise(
        name="what_came_out",
        topic="strip_down",
        title="What came out",
        question="The radiator gave {a} of coolant, the sump {oil} of oil, the drain plug of the block {b} of coolant. "
        "How much coolant goes into the coolant balance?",
        working=STRIP_LOG,
        result=("drained", 0, "amount"),
        numbers=_drains,
        tolerance="0.01 L",
        solution=_drained_solution,
        steps_solve=False,
        mistakes=(
            Mistake("forgot the block", lambda r: _amounts(r)[0], "The block was drained too."),
            Mistake(
                "counted the oil with it", lambda r: sum(_amounts(r)), "Oil is not coolant: keep one total per liquid."
            ),
        ),
        first_step="Add up every drain of that one liquid.",
        lesson="Add every drain, liquid by liquid. A drain that was not measured is not zero: the total is then "
        "only “at least”.",
    ),
)


NOTES = "bench notes, page 14"
