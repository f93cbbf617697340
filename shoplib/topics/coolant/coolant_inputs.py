"""Inputs, words and steps that the workings of the coolant share."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from shoplib.core.checks import Value
from shoplib.core.fields import choice, listing, quantity
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import below, without_noise
from shoplib.core.units import L, degC, one, pct_mass, pct_vol, show, unit_of
from shoplib.core.working import GOVERNS
from shoplib.core.worksheet import Worksheet
from shoplib.physics import coolant_mix as mix
from shoplib.physics import coolant_properties
from shoplib.topics.cautions import HOT, POISON

LITRE, VOL, CELSIUS = unit_of(L), unit_of(pct_vol), unit_of(degC)


MOST_DRAINS = 12  # more than is practical; beyond it another method is needed


NEGLIGIBLE_PART = 0.005  # part of the capacity below which contraction is not worth a top-up


NEVER_MIX = (
    "Never mix inhibitor types or the two glycols. If you do not know what is in the system, drain it, flush it and "
    "fill it with new coolant."
)


WATER = (
    "Use the water that the coolant's maker specifies. If nothing is specified, use distilled or demineralised water "
    "(common practice, no source)."
)


BAND = (
    "The scope of ASTM D3306 is 40 to 60 % concentrate by volume (70 % by agreement). Below about 30 % the "
    "inhibitors are too weak. Above about 60 % frost protection and heat transfer get worse (common practice, "
    "no source)."
)


CONCENTRATE = "a concentrate counts as 100 %, as in mixing charts; its own water and inhibitors are not subtracted"


SAFE_SIDE = (
    "Rely on the safe side only: freezing and boiling points are accurate to ±3 K, because published tables differ by "
    "2.9 to 3.0 K."
)


MIXED = "before each further drain, the engine is run until it is warm so that the coolant mixes; then it cools down"


# ------------------------------------------------------------------------------ fields
CAPACITY = quantity(
    "capacity",
    L,
    "Capacity of the whole system",
    symbol="V",
    above=0.0,
    help="with heater and overflow tank, from the manual",
    example='"9 L"',
    group="System",
)


TARGET = quantity(
    "target",
    pct_vol,
    "Required strength",
    symbol="c_t",
    at_least=0.0,
    at_most=1.0,
    help="glycol by volume",
    example='"50 %"',
    group="Required",
)


PRODUCT = quantity(
    "product_concentration",
    pct_vol,
    "Strength of the product",
    symbol="c_p",
    default="100 %",
    above=0.0,
    at_most=1.0,
    help="this holds for a concentrate; a common premix has 50 %",
    example='"50 %"',
    group="Product",
)


SIZES = listing(
    "bottle_sizes",
    quantity("size", L, "Bottle", above=0.0, example='"5 L"'),
    "Bottle sizes on sale",
    required=False,
    help="for the list of what to buy",
    example='"1 L; 5 L"',
    group="Product",
)


GLYCOL = choice(
    "glycol",
    "Glycol",
    coolant_properties.GLYCOLS,
    help="as printed on the product",
    example="ethylene",
    group="Coolant",
)


GLYCOL_IF_KNOWN = replace(
    GLYCOL, required=False, help="for the freezing point and the shrinkage on mixing", group="Product"
)


def _digits(litres: float) -> int:
    """Three figures below 10 L, four above: what a measuring jug can show."""
    return 3 if abs(litres) < 10e-3 else 4


def _litres(worksheet: Worksheet, name: str, V: float | None, label: str) -> None:
    worksheet.result(name, V, L, label, _digits(V or 0.0), all_digits=True)


def _degrees(worksheet: Worksheet, name: str, T: float | None, label: str, *, towards: int = 0) -> None:
    """A temperature to the tenth of a degree; no table is better than that.

    ``towards``: a temperature to rely on is rounded to its safe side, up (1) or down (−1).
    """
    T = None if T is None else _to_tenths(T, towards)
    worksheet.result(name, T, degC, label, 1 + _whole_digits(T), all_digits=True)


def _to_tenths(T: float, towards: int = 0) -> float:
    """Rounded to the tenth of a degree Celsius: to the nearest, up (1) or down (−1)."""
    tenths = round(10 * (T - coolant_properties.ZERO), 6)
    return {0: round(T - coolant_properties.ZERO, 1), 1: math.ceil(tenths) / 10, -1: math.floor(tenths) / 10}[
        towards
    ] + coolant_properties.ZERO


def _whole_digits(T: float | None) -> int:
    return 1 if T is None else len(str(int(abs(round(T - coolant_properties.ZERO, 1)))))


def _closing(worksheet: Worksheet, residue: float, unit: Any, label: str) -> None:
    """The closing residual of the balance, relative to 1; zero if the answer is right."""
    worksheet.result("closing_residual", without_noise(residue, 1.0), unit, label, 2)


def _shown(V: float) -> str:
    return show(V, LITRE, _digits(V))


def _percent(v: float) -> str:
    return show(v, VOL, 3)


class MixInputs(Inputs):
    """The mixture wanted, and the product to buy."""

    target = TARGET
    product_concentration = PRODUCT
    bottle_sizes = SIZES
    glycol = GLYCOL_IF_KNOWN


# ------------------------------------------------------------------------------ what fill and correct share
def _buy(inputs: MixInputs, worksheet: Worksheet, need: float) -> None:
    """Bottles for the product that the whole plan takes."""
    if not inputs.given("bottle_sizes"):
        return
    try:
        counts, total = mix.bottles(need, inputs.bottle_sizes)
    except ValueError:
        worksheet.refuse(
            "bottle_sizes", "are too small or too many for this volume of product; give larger bottles", '"5 L"'
        )
        return
    rows = [
        {"count": Value(n, None, "bottles"), "size": Value(size, LITRE, "size", _digits(size))}
        for n, size in zip(counts, inputs.bottle_sizes, strict=True)
        if n
    ]
    worksheet.result("buy", rows or "nothing", None, "To buy", all_digits=True)
    _litres(worksheet, "left_over", total - need if rows else 0.0, "Left in the bottles, undiluted")


def refuse_weak_product(inputs: MixInputs, worksheet: Worksheet) -> None:
    """Refuse a product that can never give the target."""
    c_t, c_p = inputs.target, inputs.product_concentration
    worksheet.refuse("target", f"is above the product: {_percent(c_p)} can never give {_percent(c_t)}", '"50 %"')
    worksheet.refuse(
        "product_concentration", f"is weaker than the target, {_percent(c_t)}; type a stronger one", '"100 %"'
    )


def _plan(
    worksheet: Worksheet, plan: list[mix.DrainFillStep], done: bool, V: float, c_0: float, c_p: float, V_r: float
) -> None:
    """The table of pours, its totals, and the proof that no glycol was lost or made."""
    rows = [
        {
            "step": Value(k, None, "step"),
            "drain": Value(p.drain, LITRE, "drain", _digits(p.drain)),
            "product": Value(p.product, LITRE, "product", _digits(p.product)),
            "water": Value(p.water, LITRE, "water", _digits(p.water)),
            "strength": Value(p.strength, VOL, "strength then", 3),
        }
        for k, p in enumerate(plan, 1)
    ]
    label = "Plan" if done else "Drains one after the other, which are not enough"
    worksheet.result("plan", rows or "nothing to do", None, label, all_digits=True)
    if not done:
        worksheet.result("never_reached", "no number of drains is enough", None, "Steps needed")
    else:
        worksheet.result("steps_needed", len(plan), None, "Steps needed")
        _litres(worksheet, "product_total", sum(p.product for p in plan), "Product, all steps")
        _litres(worksheet, "water_total", sum(p.water for p in plan), "Water, all steps")
    glycol = V_r * c_0
    poured = drained = 0.0
    strength = c_0
    for p in plan:
        drained += p.drain * strength
        poured += p.product * c_p
        strength = p.strength
    left = V * strength if plan else glycol
    _closing(worksheet, (glycol + poured - drained - left) / V, one, "Check of the glycol balance (0 is right)")
    if len(plan) > 1:
        worksheet.assume(MIXED)


def _what_it_gives(
    inputs: MixInputs, worksheet: Worksheet, strength: float, parts: list[tuple[float, float]], V: float, end: float
) -> None:
    """Freezing point and contraction, where the glycol is known.

    :param strength: after the first step
    :param parts: volume and strength of what was mixed in it
    :param V: capacity of the system
    :param end: strength after the last step of the plan
    """
    if strength < 0.3 or strength > coolant_properties.STRONGEST:
        worksheet.caution(f"{_percent(strength)} is outside the usual range. {BAND}")
    if not inputs.given("glycol"):
        worksheet.assume("volumes are added as poured; in fact glycol and water shrink by about 1 to 2 % when they mix")
        return
    about, first = f"Freezes at about (±{coolant_properties.ACCURACY:g} °C)", ""
    if end != strength:
        first = ", after the first step"
    _freezes(worksheet, "freezing_point", inputs.glycol, strength, about + first)
    if first:
        _freezes(worksheet, "freezing_point_at_the_end", inputs.glycol, end, f"{about}, after the last step")
    if (
        all(part <= coolant_properties.STRONGEST or part >= 1 for _, part in parts)
        and strength <= coolant_properties.STRONGEST
    ):
        lost = coolant_properties.contraction(inputs.glycol, parts)
        worksheet.result("contraction", lost, L, f"Shrinkage on mixing, estimated{first}", 2)
        if lost > NEGLIGIBLE_PART * V:
            worksheet.caution(
                "Top up with the same mixture, not with water, before you look for trapped air: the coolant shrinks "
                "by "
                f"about {show(lost, LITRE, 2)} on mixing."
            )


def _freezes(worksheet: Worksheet, name: str, glycol: str, strength: float, label: str) -> None:
    """To the degree: the tables differ by more than that."""
    known = strength <= coolant_properties.STRONGEST
    frozen = _to_tenths(float(coolant_properties.freezing_point(glycol, strength))) if known else None
    worksheet.result(name, frozen, degC, label, _whole_digits(frozen))


def _protection(glycol: str, weak: float, strong: float) -> tuple[float, float]:
    """The coldest and the warmest that a mixture may freeze at, weak and strong being the ends of its strength.

    Nothing freezes above 0 °C; the warmest is what one can rely on.
    """
    ends = (
        float(coolant_properties.freezing_point(glycol, strong)) - coolant_properties.ACCURACY,
        float(coolant_properties.freezing_point(glycol, weak)) + coolant_properties.ACCURACY,
    )
    return ends[0], min(ends[1], coolant_properties.ZERO)


def _tenths(t: float) -> str:
    return f"{t:.1f} °C".replace("-", "−")


# ------------------------------------------------------------------------------ strength from the freezing point
def _ends(glycol: str, warmest: float, coldest: float) -> tuple[float, float | None]:
    """Strengths that freeze at the warmest and at the coldest of a band; none above, where the table ends."""
    low = coolant_properties.strength_from_freezing(glycol, warmest) if warmest <= coolant_properties.ZERO else 0.0
    high = (
        coolant_properties.strength_from_freezing(glycol, coldest)
        if coldest >= coolant_properties.coldest_freezing(glycol)
        else None
    )
    return low, high


def _not_unique(glycol: str, T: float) -> str | None:
    """Why a freezing point gives no strength, or None when it does."""
    coldest = coolant_properties.coldest_freezing(glycol)
    if below(coolant_properties.ZERO, T):
        return "is above 0 °C, where water alone freezes, so it gives no strength"
    if below(T, coldest):
        return (
            f"is below {_tenths(coldest - coolant_properties.ZERO)}, the freezing point of 60 vol %. Above 60 vol "
            f"% the freezing point "
            "rises again, so one freezing point belongs to two strengths. Mix a sample with the same volume of water, "
            "measure that, and double the strength"
        )
    return None


WEAK_SIDE = (
    "the strength is below 60 vol %. Ethylene glycol above about 80 vol % freezes at the same temperatures: if it "
    "may be that strong, mix a sample with the same volume of water and measure that"
)


def _strength_results(worksheet: Worksheet, glycol: str, v: float, low: float | None, high: float | None) -> None:
    worksheet.result("concentration", v, pct_vol, "Strength by volume", 3)
    worksheet.result(
        "concentration_mass", float(coolant_properties.mass_fraction(glycol, v)), pct_mass, "Strength by mass", 3
    )
    worksheet.result("concentration_low", low, pct_vol, "Strength, lowest", 3)
    worksheet.result("concentration_high", high, pct_vol, "Strength, highest", 3)
    if v < 0.3:
        worksheet.caution(f"{_percent(v)} is weak. {BAND}")


def _strength_curve(worksheet: Worksheet, glycol: str, v: float, protects: float, wrong: float | None = None) -> None:
    other = next(g for g in coolant_properties.GLYCOLS if g != glycol)
    worksheet.plot_data.update(
        at=coolant_properties.CURVE_AT,
        freezing=coolant_properties.freezing_curve(glycol) - coolant_properties.ZERO,
        other_freezing=coolant_properties.freezing_curve(other) - coolant_properties.ZERO,
        glycol=glycol,
        other=other,
        v=v,
        frozen=float(coolant_properties.freezing_point(glycol, v)) - coolant_properties.ZERO,
        protects=_to_tenths(min(protects, coolant_properties.ZERO), 1) - coolant_properties.ZERO,
        weak=worksheet.values["concentration_low"].value,
        wrong=wrong,
    )


# ------------------------------------------------------------------------------ declarations
FILL_CAUTIONS = (GOVERNS, NEVER_MIX, POISON, HOT, WATER)


STRENGTH_CAUTIONS = (GOVERNS, SAFE_SIDE, NEVER_MIX, POISON, HOT)
