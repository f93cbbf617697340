"""The working ``valve_to_piston_clearance``: how close does the valve come to the piston after the cut."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from shoplib.core.carried import Show, carried, only_value
from shoplib.core.fields import choice, quantity, sourced_limit
from shoplib.core.inputs import Inputs
from shoplib.core.units import deg, mm
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import skim
from shoplib.topics.cautions import TWO_TURNS
from shoplib.topics.skim.skim_inputs import CUTS, DEG, RULE_AND_LIMIT

VALVE_ANGLE = quantity(
    "valve_angle",
    deg,
    "Angle between valve and cylinder axis",
    symbol="alpha",
    at_least=0.0,
    at_most=DEG.si * 60,
    help="0° for an upright valve",
    example='"20 deg"',
    group="Valve",
)


POCKET = "pocket square to the valve"


CROWN = choice(
    "crown", "Crown under the valve", (POCKET, "flat"), required=False, example="flat", group="Valve",
    help="if left empty, the check uses the worse of the two",
)  # fmt: skip


MINIMUM_CLEARANCE = sourced_limit(
    "minimum_clearance", mm, "Smallest valve-to-piston clearance", example='"1.0 mm"', group="Valve"
)


class ValveInputs(Inputs):
    """The valve over its piston, and the smallest clearance."""

    valve_angle = VALVE_ANGLE
    crown = CROWN
    minimum_clearance, minimum_clearance_source = MINIMUM_CLEARANCE


# ------------------------------------------------------------------------------ valve-to-piston clearance
Its = TypeVar("Its", bound=ValveInputs)
OVER = {
    POCKET: (f"Clearance along the valve, {POCKET}", skim.clearance_over_pocket),
    "flat": ("Clearance along the valve, flat crown", skim.clearance_over_flat_crown),
}


def gaps_after(gap: float, drop: float, angle: float, crown: str | None, show: Show) -> tuple[float, float]:
    """(clearance along the valve, the one to judge) after the drop: where no crown was typed, the worse of the two."""
    after = worst = float(show(*OVER[crown or POCKET])(e=gap, Delta_h=drop, alpha=angle))
    if crown is None and angle > 0 and drop > 0:
        worst = float(show(*OVER["flat"])(e=gap, Delta_h=drop, alpha=angle))
    return after, worst


def work_gap(worksheet: Worksheet, gap: float, drop: float, angle: float, crown: str | None) -> tuple[float, float]:
    """(clearance along the valve, the one to judge) after the drop."""
    after, worst = gaps_after(gap, drop, angle, crown, worksheet.show)
    if crown is None and angle > 0 and drop > 0:
        worksheet.assume("the crown under the valve is flat: the check uses this worse case")
    return after, worst


def judge_gap(
    inputs: Its,
    worksheet: Worksheet,
    worst: float,
    gap: Callable[[Its, Show], float],
    names: Sequence[str],
    **otherwise: Sequence[float],
) -> None:
    """Never into the piston, and above the typed minimum.  ``gap`` depends on ``names``, and the crown."""
    rest: Any = {
        "uncertainty": carried(gap, inputs, *names),
        "otherwise": {"crown": [gap(inputs.replaced(crown=c), only_value) for c in OVER], **otherwise},
    }
    source = "geometry: below zero they touch"
    worksheet.check("Valve clear of the piston", worst, ">", 0.0, mm, source, geometry=True, **rest)
    if inputs.given("minimum_clearance"):
        worksheet.check(
            "Valve-to-piston clearance",
            worst,
            "≥",
            inputs.minimum_clearance,
            mm,
            inputs.minimum_clearance_source,
            **rest,
        )


def run(inputs: ValveToPistonClearanceInputs, worksheet: Worksheet) -> None:
    """What is left between valve and piston."""
    after, worst = work_gap(worksheet, inputs.clearance, inputs.net_drop, inputs.valve_angle, inputs.crown)
    label = "Clearance after, along the valve"
    if worst != after:
        worksheet.result("clearance_after_flat_crown", worst, mm, f"{label}, over a flat crown (worse, judged)")
        label = f"{label}, over a {POCKET}"
    worksheet.result("clearance_after", after, mm, label)
    judge_gap(inputs, worksheet, worst, _gap_after, ("clearance", "net_drop", "valve_angle"))


def _gap_after(inputs: ValveToPistonClearanceInputs, show: Show) -> float:
    """The clearance to judge."""
    return gaps_after(inputs.clearance, inputs.net_drop, inputs.valve_angle, inputs.crown, show)[1]


class ValveToPistonClearanceInputs(ValveInputs):
    """Inputs of ``valve_to_piston_clearance``."""

    clearance = quantity(
        "clearance", mm, "Clearance before, along the valve", symbol="e", above=0.0, example='"1.60 mm"',
        help="smallest over two turns of the crankshaft, measured before the cut", group="Valve",
    )  # fmt: skip
    net_drop = quantity("net_drop", mm, "Net drop of the head", symbol="Delta_h", example='"0.25 mm"',
                        help="head skim + block skim − extra thickness of the new gasket", group="The cut",
                        plausible=CUTS)  # fmt: skip
    valve_angle = VALVE_ANGLE
    crown = CROWN
    minimum_clearance, minimum_clearance_source = MINIMUM_CLEARANCE
    decision_rule, at_limit = RULE_AND_LIMIT


VALVE_TO_PISTON_CLEARANCE = Working(
    name="valve_to_piston_clearance",
    title="Valve-to-piston clearance",
    question="how close does the valve come to the piston after the cut",
    phase="skim",
    inputs=ValveToPistonClearanceInputs,
    run=run,
    cautions=(
        GOVERNS,
        "A late camshaft also brings the exhaust valve closer, on top of the drop: measure; do not rely on "
        "calculation alone.",
        "Measure again after cutting seats or skimming the head: a skim brings the valve closer to the piston, a "
        "deeper "
        "seat takes it further away.",
        TWO_TURNS,
    ),
)  # fmt: skip
