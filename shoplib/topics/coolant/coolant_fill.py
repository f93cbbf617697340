"""The working ``coolant_fill``: how much concentrate and water do I pour in, when water or old coolant stayed in."""

from __future__ import annotations

from shoplib.core.fields import quantity
from shoplib.core.rounding import below
from shoplib.core.units import L, pct_vol, show_short
from shoplib.core.working import Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import coolant_mix as mix
from shoplib.topics.coolant.coolant_inputs import (
    CAPACITY,
    CONCENTRATE,
    FILL_CAUTIONS,
    LITRE,
    MOST_DRAINS,
    MixInputs,
    _buy,
    _litres,
    _percent,
    _plan,
    _shown,
    _what_it_gives,
    refuse_weak_product,
)


# ------------------------------------------------------------------------------ fill
def run(inputs: CoolantFillInputs, worksheet: Worksheet) -> None:
    """Product and water for one fill; several drains where one is not enough; what one fill can reach."""
    V, V_d, c_r, c_t, c_p = (
        inputs.capacity,
        inputs.drained,
        inputs.residual_concentration,
        inputs.target,
        inputs.product_concentration,
    )
    if below(V, V_d):
        worksheet.refuse(
            "drained", f"is more than the capacity, {show_short(V, LITRE)}: a system cannot release more than it holds"
        )
        worksheet.raise_refusals()
    V_d = min(V_d, V)
    V_r = worksheet.step("Stayed in the system", mix.stayed_in, V=V, V_d=V_d)
    first = mix.fill(V, V_d, c_r, c_t, c_p)
    too_weak = first.strength < c_t and below(c_p, c_t)
    if too_weak:
        refuse_weak_product(inputs, worksheet)
        worksheet.raise_refusals()
    weakest, strongest = mix.reach_of_fill(V, V_d, c_r, c_p)
    reachable = first.strength == c_t
    arguments = {"V": V, "V_r": V_r, "c_r": c_r}
    wanted = worksheet.step("Product needed", mix.product_volume, c_t=c_t, c_p=c_p, **arguments)
    if reachable:
        worksheet.step("Water", mix.water_volume, V=V, V_r=V_r, V_p=wanted)
        advice = f"Pour in {_shown(first.product)} of product and {_shown(first.water)} of water."
        more: list[mix.DrainFillStep] = []
        done = True
    else:
        note = "more than there is room for" if wanted > V_d else "less than nothing"
        worksheet.step(
            f"That is {note}: the closest strength in one fill",
            mix.strength_after_fill,
            V_p=first.product,
            c_p=c_p,
            **arguments,
        )
        more, done = mix.swaps(V, V_d, first.strength, c_t, c_p, at_most=MOST_DRAINS)
        what = "product" if first.water == 0 else "water"
        advice = f"Impossible in one fill: with {what} alone it reaches {_percent(first.strength)}. " + (
            f"Drain and refill {'once' if len(more) == 1 else f'{len(more)} times'} more, as the plan shows, or drain "
            "more the first time."
            if done
            else f"Draining again never reaches {_percent(c_t)}: "
            + ("drain more, or use a stronger product." if c_p > c_t else "use a stronger product.")
        )
    plan = [first, *more]
    worksheet.result("advice", advice, None, "What to do")
    _litres(worksheet, "product", first.product, "Product, first fill")
    _litres(worksheet, "water", first.water, "Water, first fill")
    worksheet.result("best_possible", strongest, pct_vol, "Strongest in one fill", 3)
    worksheet.result("weakest_possible", weakest, pct_vol, "Weakest in one fill", 3)
    worksheet.result("reachable", reachable, None, "Reachable in one fill")
    worksheet.result("strength", first.strength, pct_vol, "Strength after the first fill", 3)
    _litres(worksheet, "stayed", V_r, "Stayed in the system")
    _plan(worksheet, plan if done else plan[:6], done, V, c_r, c_p, V_r)
    if done:  # otherwise the plan is not one to follow
        _buy(inputs, worksheet, sum(p.product for p in plan))
    worksheet.assume(CONCENTRATE)
    _what_it_gives(
        inputs,
        worksheet,
        first.strength,
        [(V_r, c_r), (first.product, c_p), (first.water, 0.0)],
        V,
        plan[-1].strength if done else first.strength,
    )
    worksheet.plot_data.update(
        before=[("stayed", V_r / V, c_r)],
        room=V_d / V,
        after=[("stayed", V_r / V, c_r), ("product", first.product / V, c_p), ("water", first.water / V, 0.0)],
        capacity=V,
        reach=(weakest, strongest),
        target=c_t,
        reached=first.strength,
        more=len(more) if done else -1,
    )


class CoolantFillInputs(MixInputs):
    """Inputs of ``coolant_fill``."""

    capacity = CAPACITY
    drained = quantity(
        "drained",
        L,
        "Volume drained",
        symbol="V_d",
        above=0.0,
        help="measured, not guessed",
        example='"6.0 L"',
        group="System",
    )
    residual_concentration = quantity(
        "residual_concentration",
        pct_vol,
        "Strength of what stayed in",
        symbol="c_r",
        default="0 %",
        at_least=0.0,
        at_most=1.0,
        help="this holds after a flush with water; otherwise type the strength measured before draining",
        example='"0 %"',
        group="System",
    )


COOLANT_FILL = Working(
    name="coolant_fill",
    title="Filling after a drain",
    question="how much concentrate and water do I pour in, when water or old coolant stayed in",
    phase="fill",
    inputs=CoolantFillInputs,
    run=run,
    calculation=2,  # what to do with a product that is no stronger than what is wanted
    cautions=FILL_CAUTIONS,
)
