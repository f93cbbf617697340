"""The working ``gas_load_reserve``: does the clamp load hold against the peak pressure, and with what reserve."""

from __future__ import annotations

from shoplib.core.fields import choice, integer, number, quantity, sourced_limit
from shoplib.core.former import Former
from shoplib.core.inputs import Inputs
from shoplib.core.units import bar, kN, mm, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import loads
from shoplib.topics.angle.load_inputs import PRELOAD
from shoplib.topics.threads.bolt_inputs import TEACHING


# ------------------------------------------------------------------------------ gas load
def run(inputs: GasLoadReserveInputs, worksheet: Worksheet) -> None:
    """Gas load per bolt, the clamp load that is left, and the reserve."""
    if inputs.sharing > inputs.bolts_per_cylinder:
        worksheet.refuse("sharing", f"is more than the {inputs.bolts_per_cylinder} bolts around the cylinder")
    worksheet.raise_refusals()
    whole = inputs.sharing_rule == WHOLE
    both = bool(inputs.sharing) and not inputs.typed("sharing_rule")
    left = _one_reading(
        inputs, worksheet, 0 if whole else inputs.sharing, "", ", a shared bolt counted half" if both else ""
    )
    worksheet.assume("the pressure acts on the whole area within the sealing diameter and loads the bolts equally")
    other: list[float] = []
    if both:
        other.append(_one_reading(inputs, worksheet, 0, "_whole", ", a shared bolt counted whole"))
        worksheet.assume(
            "both rules for shared bolts are shown: a shared bolt counts half; or it counts whole, because "
            "neighbouring cylinders do not peak together"
        )
    elif inputs.sharing:
        worksheet.assume(RULE_WORDS[inputs.sharing_rule])
    otherwise = {"sharing_rule": other} if other else None
    if left <= 0:
        worksheet.check("Clamp load left at peak pressure, per bolt", left, ">", 0.0, kN,
                        "equilibrium of bolt and parts", remark="the faces separate", otherwise=otherwise)  # fmt: skip
    else:
        worksheet.check("Clamp load left at peak pressure, per bolt", left, "≥", inputs.minimum_clamp, kN,
                        inputs.minimum_clamp_source, otherwise=otherwise)  # fmt: skip


HALF, WHOLE = "half", "whole"


RULE_WORDS = {
    HALF: "a bolt shared with the next cylinder counts half for each",
    WHOLE: "a bolt shared with the next cylinder counts whole: the two do not peak together",
}


def _one_reading(inputs: GasLoadReserveInputs, worksheet: Worksheet, shared: int, suffix: str, said: str) -> float:
    """The results when ``shared`` bolts count half; returns the clamp load left, negative when the faces separate."""
    n_eff = worksheet.step("Effective bolts per cylinder" + said, loads.effective_bolts, n=inputs.bolts_per_cylinder,
                           n_shared=shared)  # fmt: skip
    F_A = worksheet.step(
        "Gas load on one bolt" + said, loads.gas_load, p=inputs.peak_pressure, d=inputs.sealing_diameter, n_eff=n_eff
    )
    in_bolt = worksheet.step("Part of it in the bolt" + said, loads.bolt_load, Phi=inputs.load_factor, F_A=F_A)
    left = worksheet.step(
        "Clamp load left" + said, loads.residual_clamp, F_M=inputs.preload, Phi=inputs.load_factor, F_A=F_A
    )
    reserve = worksheet.step("Reserve" + said, loads.reserve, F_M=inputs.preload, F_A=F_A)
    worksheet.result("gas_load_per_bolt" + suffix, F_A, kN, "Gas load on one bolt" + said)
    worksheet.result("bolt_load" + suffix, in_bolt, kN, "Part of it in the bolt" + said)
    worksheet.result("residual_clamp" + suffix, max(left, 0.0), kN, "Clamp load left at peak pressure, per bolt" + said)
    worksheet.result("reserve" + suffix, reserve, one, "Preload ÷ gas load" + said, 3)
    return float(left)


class GasLoadReserveInputs(Inputs):
    """Inputs of ``gas_load_reserve``."""

    preload = PRELOAD
    bolts_per_cylinder = integer(
        "bolts_per_cylinder",
        "Bolts around one cylinder",
        symbol="n",
        at_least=1,
        at_most=40,
        example="4",
        group="Bolts",
    )
    sharing = integer(
        "sharing",
        "Bolts shared with the next cylinder",
        symbol="n_shared",
        at_least=0,
        at_most=40,
        example="2",
        group="Bolts",
    )
    sharing_rule = choice(
        "sharing_rule",
        "A shared bolt counts",
        {HALF: "half for each cylinder", WHOLE: "whole for each cylinder"},
        required=False,
        example=HALF,
        help="half: shared by two cylinders; whole: the two do not peak together. If left empty, both are shown",
        group="Bolts",
    )
    sealing_diameter = quantity(
        "sealing_diameter",
        mm,
        "Sealing diameter",
        symbol="d",
        above=0.0,
        plausible=(5e-3, 1.0),
        help="of the gasket's fire ring",
        example='"90 mm"',
        group="Gas",
    )
    peak_pressure = quantity(
        "peak_pressure", bar, "Peak pressure", symbol="p", above=0.0, example='"80 bar"', group="Gas"
    )
    load_factor = number(
        "load_factor",
        "Load factor",
        symbol="Phi",
        at_least=0.0,
        at_most=1.0,
        help="the share of an external load that the bolt takes; from “Stiffness of bolt and clamped parts”",
        example="0.25",
        group="Gas",
    )
    minimum_clamp, minimum_clamp_source = sourced_limit(
        "minimum_clamp",
        kN,
        "Smallest clamp load that the gasket needs, per bolt",
        above=0.0,
        example='"12 kN"',
        group="Limit",
    )


GAS_LOAD_RESERVE = Working(
    name="gas_load_reserve",
    title="Clamp load against gas load",
    question="does the clamp load hold against the peak pressure, and with what reserve",
    phase="tighten",
    inputs=GasLoadReserveInputs,
    run=run,
    cautions=(
        GOVERNS,
        TEACHING,
        "Do not take a calculated clamp load as proof of sealing: a warped face or a bad gasket leaks at any clamp "
        "load.",
    ),
    former=Former(labels={"Clamp left at peak pressure": ("Clamp load left at peak pressure, per bolt",)}),
)
