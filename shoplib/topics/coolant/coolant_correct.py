"""The working ``coolant_correct``: how much do I drain and replace when the strength is wrong."""

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


# ------------------------------------------------------------------------------ correct
def run(inputs: CoolantCorrectInputs, worksheet: Worksheet) -> None:
    """How much to drain and replace, with product or with water, in as many drains as it takes."""
    V, c_m, c_t, c_p = inputs.capacity, inputs.measured, inputs.target, inputs.product_concentration
    most = inputs.drainable if inputs.given("drainable") else V
    if below(V, most):
        worksheet.refuse("drainable", f"is more than the capacity, {show_short(V, LITRE)}")
    if c_m < c_t and below(c_p, c_t):
        refuse_weak_product(inputs, worksheet)
    worksheet.raise_refusals()
    most = min(most, V)
    stronger = c_t > c_m
    other = c_p if stronger else 0.0
    if c_t == c_m:
        x, what = 0.0, "nothing: the strength is right"
    else:
        x = worksheet.step("Drain and replace", mix.swap_volume, V=V, c_m=c_m, c_t=c_t, c_p=other)
        what = "product" if stronger else "water"
    plan, done = mix.swaps(V, most, c_m, c_t, c_p, at_most=MOST_DRAINS)
    if x == 0:
        advice = "Nothing to drain: the strength is right."
    elif len(plan) == 1 and done:
        advice = f"Drain {_shown(x)} and pour in {_shown(x)} of {what}."
        worksheet.step("Strength after that", mix.strength_after_swap, V=V, c_m=c_m, x=x, c_p=other)
    elif done:
        advice = (
            f"One drain releases only {_shown(most)}: drain and refill {len(plan)} times with {what}, as the plan "
            f"shows ({_shown(sum(p.drain for p in plan))} in total)."
        )
    else:
        advice = f"Draining {_shown(most)} at a time never reaches {_percent(c_t)}: drain more" + (
            ", or use a stronger product." if stronger else "."
        )
    worksheet.result("advice", advice, None, "What to do")
    _litres(worksheet, "swap", x, "Drain and replace in one step")
    worksheet.result("swap_with", what, None, "Replace it with")
    _plan(worksheet, plan if done else plan[:6], done, V, c_m, c_p, V)
    if done:
        _buy(inputs, worksheet, sum(p.product for p in plan))
    worksheet.assume(CONCENTRATE)
    if not inputs.given("drainable"):
        worksheet.assume(f"one drain can release this much; if not, type {worksheet.label('drainable')}")
    drain = plan[0].drain if plan else 0.0
    reached = plan[0].strength if plan else c_m
    poured = (drain, other)
    end = plan[-1].strength if plan and done else reached
    _what_it_gives(inputs, worksheet, reached, [(V - drain, c_m), poured], V, end)
    full = float(mix.strength_after_swap(V, c_m, most, c_p)), float(mix.strength_after_swap(V, c_m, most, 0.0))
    worksheet.plot_data.update(
        before=[("stayed", (V - drain) / V, c_m)],
        room=drain / V,
        after=[
            ("stayed", (V - drain) / V, c_m),
            ("product", drain / V if stronger else 0.0, c_p),
            ("water", 0.0 if stronger else drain / V, 0.0),
        ],
        capacity=V,
        reach=(min(*full, c_m), max(*full, c_m)),
        target=c_t,
        reached=reached,
        more=len(plan) - 1 if done and plan else 0 if done else -1,
    )


class CoolantCorrectInputs(MixInputs):
    """Inputs of ``coolant_correct``."""

    capacity = CAPACITY
    measured = quantity(
        "measured",
        pct_vol,
        "Measured strength",
        symbol="c_m",
        at_least=0.0,
        at_most=1.0,
        help="measured after the coolant has mixed",
        example='"35 %"',
        group="System",
    )
    drainable = quantity(
        "drainable",
        L,
        "Largest volume one drain releases",
        required=False,
        above=0.0,
        help="if some coolant stays in the block",
        example='"6.0 L"',
        group="System",
    )


COOLANT_CORRECT = Working(
    name="coolant_correct",
    title="Correcting the strength",
    question="how much do I drain and replace when the strength is wrong",
    phase="fill",
    inputs=CoolantCorrectInputs,
    run=run,
    cautions=FILL_CAUTIONS,
)
