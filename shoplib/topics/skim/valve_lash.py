"""The working ``valve_lash``: what is left of the valve lash after the skim, and which shim brings it back."""

from __future__ import annotations

from typing import Any

from shoplib.core.carried import Show, carried, only_value
from shoplib.core.fields import choice, number, quantity, sourced_limit
from shoplib.core.inputs import Inputs
from shoplib.core.units import deg, mm
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import skim
from shoplib.topics.skim.skim_inputs import CUTS, DEG, RULE_AND_LIMIT

IN_HEAD, IN_BLOCK = "in the head", "in the block"
LASHES = (-5e-3, 5e-3)  # m; a larger lash is a wrong unit
STEEPEST = DEG.si * 60  # of a pushrod to the cylinder


class ValveLashInputs(Inputs):
    """Inputs of ``valve_lash``."""

    lash = quantity("lash", mm, "Lash before, at the valve", symbol="s", at_least=0.0, example='"0.40 mm"',
                    group="Lash", plausible=LASHES, help="cold, with a feeler gauge")  # fmt: skip
    tip_rise = quantity("tip_rise", mm, "Rise of the valve stem", symbol="t", example='"0.10 mm"', group="Lash",
                        plausible=LASHES, help="after work on seats or valves; 0 mm if nothing was cut")  # fmt: skip
    camshaft = choice("camshaft", "Camshaft", (IN_HEAD, IN_BLOCK), example=IN_HEAD, group="Valve train")
    net_drop = quantity(
        "net_drop", mm, "Net drop of the head", symbol="Delta_h", required=False, example='"0.20 mm"', plausible=CUTS,
        help="head skim + block skim − extra thickness of the new gasket", needed_when=("camshaft", IN_BLOCK),
        group="Valve train",
    )  # fmt: skip
    rocker_ratio = number(
        "rocker_ratio", "Rocker ratio", symbol="i_R", required=False, at_least=0.5, at_most=3.0, example="1.5",
        help="valve movement ÷ pushrod movement", needed_when=("camshaft", IN_BLOCK),
        only_when=("camshaft", IN_BLOCK), group="Valve train",
    )  # fmt: skip
    pushrod_angle = quantity(
        "pushrod_angle", deg, "Angle of the pushrod to the cylinder axis", symbol="beta", default="0 deg", at_least=0.0,
        at_most=STEEPEST, help="parallel to the cylinder", example='"10 deg"', group="Valve train",
    )  # fmt: skip
    wanted_lash = quantity(
        "wanted_lash", mm, "Lash to set", symbol="s_w", required=False, above=0.0, example='"0.40 mm"',
        plausible=LASHES, help="from your manual, cold", group="Adjustment",
    )  # fmt: skip
    shim = quantity(
        "shim", mm, "Shim fitted now", symbol="h", required=False, above=0.0, example='"2.50 mm"',
        help="where lash is set by shims", needs=("wanted_lash",), group="Adjustment",
    )  # fmt: skip
    minimum_lash, minimum_lash_source = sourced_limit("minimum_lash", mm, "Smallest lash", above=0.0, group="Limits")
    maximum_lash, maximum_lash_source = sourced_limit("maximum_lash", mm, "Largest lash", above=0.0, group="Limits")
    decision_rule, at_limit = RULE_AND_LIMIT


def lash_after(inputs: ValveLashInputs, show: Show) -> float:
    """The lash at the valve after the cut."""
    if inputs.camshaft == IN_HEAD:
        return float(show("Lash after", skim.lash_after_tip_rise)(s=inputs.lash, t=inputs.tip_rise))
    return float(
        show("Lash after", skim.lash_after_drop)(
            s=inputs.lash, i_R=inputs.rocker_ratio, Delta_h=inputs.net_drop, beta=inputs.pushrod_angle,
            t=inputs.tip_rise,
        )
    )  # fmt: skip


def run(inputs: ValveLashInputs, worksheet: Worksheet) -> None:
    """The lash after the cut, whether the valve still closes, and what to set."""
    worksheet.raise_refusals()
    after = lash_after(inputs, worksheet.show)
    names, otherwise = ["lash", "tip_rise"], {}
    if inputs.camshaft == IN_HEAD:
        worksheet.assume("camshaft, followers and valves come down together: the cut itself changes no lash")
    else:
        names += ["net_drop", "rocker_ratio", "pushrod_angle"]
        otherwise = {"pushrod_angle": [lash_after(inputs.replaced(pushrod_angle=STEEPEST), only_value)]}
    worksheet.result("lash_after", after, mm, "Lash after, at the valve")
    worksheet.result("change", after - inputs.lash, mm, "Change of the lash", 3)
    if inputs.given("wanted_lash"):
        worksheet.result("difference", after - inputs.wanted_lash, mm, "Difference from the lash to set", 3)
    if inputs.given("shim"):
        new = worksheet.step("New shim", skim.shim_for_lash, h=inputs.shim, s=after, s_w=inputs.wanted_lash)
        worksheet.result("new_shim", new, mm, "New shim")
    rest: Any = {"uncertainty": carried(lash_after, inputs, *names), "otherwise": otherwise}
    worksheet.check(
        "The valve closes", after, ">", 0.0, mm, "geometry: without lash it is held open", geometry=True, **rest
    )
    for name, sign, label in (("minimum_lash", "≥", "Lash not too small"), ("maximum_lash", "≤", "Lash not too large")):
        if inputs.given(name):
            worksheet.check(label, after, sign, inputs[name], mm, inputs[f"{name}_source"], **rest)


VALVE_LASH = Working(
    name="valve_lash",
    title="Valve lash after a cut",
    question="what is left of the valve lash after the skim, and which shim brings it back",
    phase="skim",
    inputs=ValveLashInputs,
    run=run,
    cautions=(
        GOVERNS,
        "Measure every lash again on the cold engine, after the head is tightened. This calculation is only a "
        "preparation.",
        "Do not use this for hydraulic lash adjusters: they have no lash. Check the plunger travel instead.",
        "If the valve is held open, do not use the starter: back off the adjuster or change the shim first.",
    ),
)
