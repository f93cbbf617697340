"""The working ``loosening_plan``: which bolt is loosened next, in which pass.  The guide follows it bolt by bolt."""

from __future__ import annotations

from dataclasses import replace

from shoplib.core.checks import Value
from shoplib.core.fields import integer, quantity
from shoplib.core.tightening_program import Stage, read_stage
from shoplib.core.units import deg
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.cautions import ISOLATE, LOOSEN
from shoplib.topics.fasteners.tightening_order import (
    NOT_MAKERS,
    TIGHTENING_ORDER,
    TighteningOrderInputs,
    order_within,
)
from shoplib.topics.tightening.stage_reading import in_words
from shoplib.topics.tightening.tightening_plan import DASH, PlannedStage, sequence_of

MOST_PASSES = 6
_ORDER_SOURCE = next(f for f in TIGHTENING_ORDER.fields if f.name == "order_source")


def run(inputs: LooseningPlanInputs, worksheet: Worksheet) -> None:
    """The bolts of each pass in the loosening order: the maker's, otherwise the reverse of the tightening order."""
    inner = order_within(inputs, worksheet)
    worksheet.raise_refusals()
    assert inner is not None  # else it was refused
    order = tuple(inner.values["loosening_order"].value)
    part = str(inputs.as_entered["part_turn"]) if inputs.given("part_turn") else ""
    typed = [f"loosen {part}".strip()] * (inputs.pass_count - 1) + ["loosen"]
    stages = [read_stage(each) for each in typed]
    planned = [
        PlannedStage(n, s, in_words(s), order, DASH, False, _says(s, last=n == len(stages)))
        for n, s in enumerate(stages, 1)
    ]
    sequence = sequence_of(planned, ())
    whose = _whose(inputs)
    worksheet.result("loosening_order", list(order), None, "Loosening order")
    worksheet.result("order_is", whose, None, "Order")
    rows = [{"stage": Value(p.number, None, "Pass"), "what": Value(p.do, None, "What")} for p in planned]
    worksheet.result("stages", rows, None, "Passes")
    worksheet.result("total", len(sequence), None, "Loosening steps, total")
    data = inner.plot_data
    points = {n: (float(x), float(y)) for n, (x, y) in zip(data["names"], data["points"], strict=True)}
    worksheet.plot_data.update(names=data["names"], points=points, runs=[order], groups=[], says=whose,
                               stages=tuple(planned), sequence=tuple(sequence), singly=())  # fmt: skip


def _says(stage: Stage, *, last: bool) -> str:
    """What to do in a pass; "" where the stage names the angle."""
    return "" if stage.value is not None else "Loosen it fully" if last else "Loosen it a little"


def _whose(inputs: LooseningPlanInputs) -> str:
    if inputs.given("loosening"):
        return "the maker's, as typed"
    return "the maker's tightening order, reversed" if inputs.given("order") else f"reversed, {NOT_MAKERS}"


class LooseningPlanInputs(TighteningOrderInputs):
    """Inputs of ``loosening_plan``."""

    order_source = replace(_ORDER_SOURCE, label="Source of the order and the passes", needs=())
    pass_count = integer(
        "pass_count", "Passes of loosening", at_least=1, at_most=MOST_PASSES, example="3", group="Passes",
        help="how often you go around all bolts; in the last pass each comes free",
    )  # fmt: skip
    part_turn = quantity(
        "part_turn", deg, "Turn back at each pass before the last", required=False, above=0.0, example='"90 deg"',
        help="if the source gives it; left empty: a little at each pass", group="Passes",
    )  # fmt: skip


LOOSENING_PLAN = Working(
    name="loosening_plan",
    title="Loosening plan",
    question="which bolt is loosened next, and in which pass",
    phase="strip",
    inputs=LooseningPlanInputs,
    run=run,
    cautions=(GOVERNS, ISOLATE, LOOSEN),
)
