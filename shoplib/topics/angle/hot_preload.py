"""The working ``hot_preload``: how does heat change the preload."""

from __future__ import annotations

from shoplib.core.checks import Outcome
from shoplib.core.fields import Field, quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import kelvin, kN, mm, per_MK
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import loads
from shoplib.topics.angle.load_inputs import BOLT_STIFFNESS, PARTS_STIFFNESS, PRELOAD, WARM
from shoplib.topics.threads.bolt_inputs import TEACHING


# ------------------------------------------------------------------------------ heat
def run(inputs: HotPreloadInputs, worksheet: Worksheet) -> None:
    """Preload when head and bolt are warm, elastic."""
    Delta_l = worksheet.step(
        "Parts expand more than the bolt by",
        loads.free_expansion_difference,
        l=inputs.clamp_length,
        alpha_P=inputs.alpha_parts,
        Delta_T_P=inputs.temperature_change_parts,
        alpha_S=inputs.alpha_bolt,
        Delta_T_S=inputs.temperature_change_bolt,
    )
    worksheet.result("misfit", Delta_l, mm, "Parts expand more than the bolt by")
    Delta_F = worksheet.step(
        "Change of preload",
        loads.preload_of_misfit,
        Delta_l=Delta_l,
        k_b=inputs.bolt_stiffness,
        k_p=inputs.parts_stiffness,
    )
    worksheet.result("preload_change", Delta_F, kN, "Change of preload")
    hot = worksheet.step("Preload, warm", loads.preload_after, F_M=inputs.preload, Delta_F=Delta_F)
    worksheet.assume(WARM)
    if hot <= 0:
        worksheet.result("preload_hot", 0.0, kN, "Preload, warm")
        worksheet.judge(
            "Joint stays closed",
            "no clamp left",
            ">",
            "0 kN",
            None,
            "equilibrium of bolt and parts",
            Outcome.FAIL,
            "the parts no longer press on each other",
        )
    else:
        worksheet.result("preload_hot", hot, kN, "Preload, warm")


def _change(name: str, label: str, symbol: str) -> Field:
    return quantity(
        name,
        kelvin,
        label,
        symbol=symbol,
        above=-273.0,
        below=1000.0,
        help="above the temperature at assembly; negative if colder",
        example='"80 K"',
        group="Heat",
    )


class HotPreloadInputs(Inputs):
    """Inputs of ``hot_preload``."""

    preload = PRELOAD
    bolt_stiffness = BOLT_STIFFNESS
    parts_stiffness = PARTS_STIFFNESS
    clamp_length = quantity(
        "clamp_length",
        mm,
        "Clamped length",
        symbol="l",
        above=0.0,
        example='"110 mm"',
        group="Heat",
        plausible=(1e-3, 2.0),
    )
    alpha_parts = quantity(
        "alpha_parts",
        per_MK,
        "Expansion of the parts",
        symbol="alpha_P",
        above=0.0,
        plausible=(0.0, 4e-5),
        help="aluminium about 23e-6/K, cast iron about 11e-6/K",
        example='"23e-6/K"',
        group="Heat",
    )
    alpha_bolt = quantity(
        "alpha_bolt",
        per_MK,
        "Expansion of the bolt",
        symbol="alpha_S",
        above=0.0,
        plausible=(0.0, 4e-5),
        help="steel about 11.5e-6/K",
        example='"11.5e-6/K"',
        group="Heat",
    )
    temperature_change_parts = _change("temperature_change_parts", "Temperature rise of the parts", "Delta_T_P")
    temperature_change_bolt = _change("temperature_change_bolt", "Temperature rise of the bolt", "Delta_T_S")


HOT_PRELOAD = Working(
    name="hot_preload",
    title="Preload when warm",
    question="how does heat change the preload",
    phase="tighten",
    inputs=HotPreloadInputs,
    run=run,
    cautions=(
        GOVERNS,
        TEACHING,
        "Do not use this elastic estimate for a bolt tightened past yield: it cannot take the extra load elastically.",
    ),
)
