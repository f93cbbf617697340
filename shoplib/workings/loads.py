"""After tightening: heat, embedding, gas load."""

from __future__ import annotations

from dataclasses import replace

from shoplib.checks import Outcome
from shoplib.physics import loads as x
from shoplib.units import bar, kelvin, kN, kN_per_mm, mm, one, per_MK
from shoplib.working import GOVERNS, Field, Inputs, Working, Worksheet, choice, integer, limit, number, quantity
from shoplib.workings.bolts import TEACHING
from shoplib.workings.joint import PARTS

PRELOAD = quantity("preload", kN, "Preload", symbol="F_M", above=0.0, example='"25 kN"', group="Clamp")
BOLT_STIFFNESS = quantity(
    "bolt_stiffness",
    kN_per_mm,
    "Stiffness of the bolt",
    symbol="k_b",
    above=0.0,
    help="from the working joint_stiffness",
    example='"95.4 kN/mm"',
    group="Springs",
)
PARTS_STIFFNESS = replace(PARTS, help="from the working joint_stiffness")
ELASTIC = "elastic: nothing yields, slides or opens, and stiffness is as cold"


# ------------------------------------------------------------------------------ heat
def run_hot(i: Inputs, w: Worksheet) -> None:
    """Preload when head and bolt are warm, elastic."""
    Delta_l = w.step(
        "Parts grow more than the bolt by",
        x.free_expansion_difference,
        l=i.clamp_length,
        alpha_P=i.alpha_parts,
        Delta_T_P=i.temperature_change_parts,
        alpha_S=i.alpha_bolt,
        Delta_T_S=i.temperature_change_bolt,
    )
    w.result("misfit", Delta_l, mm, "Parts grow more than the bolt by")
    Delta_F = w.step(
        "Change of preload", x.preload_of_misfit, Delta_l=Delta_l, k_b=i.bolt_stiffness, k_p=i.parts_stiffness
    )
    w.result("preload_change", Delta_F, kN, "Change of preload")
    hot = w.step("Preload, warm", x.preload_after, F_M=i.preload, Delta_F=Delta_F)
    w.assume(ELASTIC)
    if hot <= 0:
        w.result("preload_hot", 0.0, kN, "Preload, warm")
        w.judge(
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
        w.result("preload_hot", hot, kN, "Preload, warm")


def _change(name: str, label: str, symbol: str) -> Field:
    return quantity(
        name,
        kelvin,
        label,
        symbol=symbol,
        above=-273.0,
        below=1000.0,
        help="from the assembly temperature; negative when colder",
        example='"80 K"',
        group="Heat",
    )


HOT = Working(
    name="hot_preload",
    title="Preload when warm",
    question="what does the heat do to the clamp",
    phase="tighten",
    fields=(
        PRELOAD,
        BOLT_STIFFNESS,
        PARTS_STIFFNESS,
        quantity(
            "clamp_length",
            mm,
            "Clamped length",
            symbol="l",
            above=0.0,
            example='"110 mm"',
            group="Heat",
            plausible=(1e-3, 2.0),
        ),
        quantity(
            "alpha_parts",
            per_MK,
            "Expansion of the parts",
            symbol="alpha_P",
            above=0.0,
            plausible=(0.0, 4e-5),
            help="aluminium about 23, cast iron about 11, in 10⁻⁶/K",
            example='"23e-6/K"',
            group="Heat",
        ),
        quantity(
            "alpha_bolt",
            per_MK,
            "Expansion of the bolt",
            symbol="alpha_S",
            above=0.0,
            plausible=(0.0, 4e-5),
            help="steel about 11.5, in 10⁻⁶/K",
            example='"11.5e-6/K"',
            group="Heat",
        ),
        _change("temperature_change_parts", "Parts warmer by", "Delta_T_P"),
        _change("temperature_change_bolt", "Bolt warmer by", "Delta_T_S"),
    ),
    run=run_hot,
    cautions=(
        GOVERNS,
        TEACHING,
        "Elastic estimate. A bolt tightened past yield cannot take the extra load elastically.",
    ),
)


# ------------------------------------------------------------------------------ embedding
def run_embedment(i: Inputs, w: Worksheet) -> None:
    """Preload lost to settling surfaces."""
    loss = w.step("Loss", x.embedment_loss, f_Z=i.embedment, k_b=i.bolt_stiffness, k_p=i.parts_stiffness)
    w.result("preload_loss", loss, kN, "Preload lost")
    w.assume(ELASTIC)


EMBEDMENT = Working(
    name="embedment_loss",
    title="Preload lost to settling",
    question="how much clamp goes when the surfaces settle",
    phase="tighten",
    fields=(
        quantity(
            "embedment",
            mm,
            "Surfaces settle by",
            symbol="f_Z",
            at_least=0.0,
            plausible=(0.0, 0.5e-3),
            help="all faces and the gasket together",
            example='"0.02 mm"',
            group="Settling",
        ),
        BOLT_STIFFNESS,
        PARTS_STIFFNESS,
    ),
    run=run_embedment,
    cautions=(GOVERNS, TEACHING),
)


# ------------------------------------------------------------------------------ gas load
def run_gas(i: Inputs, w: Worksheet) -> None:
    """Gas load on each bolt, what clamp is left, and the reserve."""
    if i.sharing > i.bolts_per_cylinder:
        w.refuse("sharing", f"is more than the {i.bolts_per_cylinder} bolts round the cylinder")
    w.door()
    whole = i.sharing_rule == WHOLE
    left = _one_reading(i, w, 0 if whole else i.sharing, "")
    w.assume("pressure acts on the whole sealing diameter, evenly on the bolts")
    other: list[float] = []
    if i.sharing and not i.typed("sharing_rule"):
        other.append(_one_reading(i, w, 0, "_whole"))
        w.assume("two readings of the rule of sharing: a shared bolt counts half, or whole because neighbours do not "
                 "peak together; both are shown")  # fmt: skip
    elif i.sharing:
        w.assume(RULE_WORDS[i.sharing_rule])
    otherwise = {"sharing_rule": other} if other else None
    if left <= 0:
        w.check("Clamp left at peak pressure", left, ">", 0.0, kN, "equilibrium of bolt and parts",
                remark="the faces part", otherwise=otherwise)  # fmt: skip
    else:
        w.check("Clamp left at peak pressure", left, "≥", i.minimum_clamp, kN, i.minimum_clamp_source,
                otherwise=otherwise)  # fmt: skip


HALF, WHOLE = "half", "whole"
RULE_WORDS = {
    HALF: "a bolt shared with a neighbour counts half for each cylinder",
    WHOLE: "a bolt shared with a neighbour counts whole: neighbours do not peak together",
}


def _one_reading(i: Inputs, w: Worksheet, shared: int, suffix: str) -> float:
    """The results with so many bolts that count half; gives the clamp left, negative when the faces part."""
    said = ", shared bolts whole" if suffix else ""
    n_eff = w.step("Bolts that one cylinder counts on" + said, x.effective_bolts, n=i.bolts_per_cylinder,
                   n_shared=shared)  # fmt: skip
    F_A = w.step("Gas load on one bolt" + said, x.gas_load, p=i.peak_pressure, d=i.sealing_diameter, n_eff=n_eff)
    in_bolt = w.step("What the bolt feels of it" + said, x.bolt_load, Phi=i.load_factor, F_A=F_A)
    left = w.step("Clamp left" + said, x.residual_clamp, F_M=i.preload, Phi=i.load_factor, F_A=F_A)
    reserve = w.step("Reserve" + said, x.reserve, F_M=i.preload, F_A=F_A)
    w.result("gas_load_per_bolt" + suffix, F_A, kN, "Gas load on one bolt" + said)
    w.result("bolt_load" + suffix, in_bolt, kN, "What the bolt feels of it" + said)
    w.result("residual_clamp" + suffix, max(left, 0.0), kN, "Clamp left at peak pressure" + said)
    w.result("reserve" + suffix, reserve, one, "Preload over gas load" + said, 3)
    return float(left)


GAS = Working(
    name="gas_load_reserve",
    title="Clamp against gas load",
    question="does the clamp hold against the peak pressure, and with what reserve",
    phase="tighten",
    fields=(
        PRELOAD,
        integer(
            "bolts_per_cylinder",
            "Bolts round one cylinder",
            symbol="n",
            at_least=1,
            at_most=40,
            example="4",
            group="Bolts",
        ),
        integer(
            "sharing",
            "Of them shared with a neighbour",
            symbol="n_shared",
            at_least=0,
            at_most=40,
            example="2",
            group="Bolts",
        ),
        choice(
            "sharing_rule",
            "Shared bolts count",
            (HALF, WHOLE),
            required=False,
            example=HALF,
            help="half for each cylinder; or whole, because neighbours do not peak together. Left out: both are shown",
            group="Bolts",
        ),
        quantity(
            "sealing_diameter",
            mm,
            "Sealing diameter",
            symbol="d",
            above=0.0,
            plausible=(5e-3, 1.0),
            help="of the gasket's fire ring",
            example='"90 mm"',
            group="Gas",
        ),
        quantity("peak_pressure", bar, "Peak pressure", symbol="p", above=0.0, example='"80 bar"', group="Gas"),
        number(
            "load_factor",
            "Load factor",
            symbol="Phi",
            at_least=0.0,
            at_most=1.0,
            help="part of an outside load the bolt takes; from joint_stiffness",
            example="0.25",
            group="Gas",
        ),
        *limit("minimum_clamp", kN, "Least clamp the gasket needs", above=0.0, example='"12 kN"', group="Limit"),
    ),
    run=run_gas,
    cautions=(
        GOVERNS,
        TEACHING,
        "Clamp left on paper is no proof of sealing: a bent face or a poor gasket leaks at any clamp.",
    ),
)

WORKINGS = [HOT, EMBEDMENT, GAS]
