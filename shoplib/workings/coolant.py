"""Coolant: fill after a drain, correct the strength, protection, readings, and the ledger of litres."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from shoplib.checks import Origin, Outcome, Uncertainty, Value
from shoplib.core.rounding import at_most, below, total, without_noise
from shoplib.look import ACCENT, INK, PALE, PALER, SOFT, WARM, settle
from shoplib.physics import atmosphere as air
from shoplib.physics import coolant_mix as mix
from shoplib.physics import coolant_properties as c
from shoplib.units import (
    J_per_kgK,
    L,
    Unreadable,
    degC,
    kelvin,
    kg_per_m3,
    kPa,
    m,
    one,
    pct,
    pct_mass,
    pct_vol,
    read,
    show,
    unit_of,
)
from shoplib.working import (
    GOVERNS,
    PURE,
    Field,
    Inputs,
    Result,
    Working,
    Worksheet,
    choice,
    half_digit_in_si,
    judging,
    limit,
    listing,
    quantity,
    table,
    words,
)

LITRE, VOL, CELSIUS = unit_of(L), unit_of(pct_vol), unit_of(degC)
MOST_DRAINS = 12  # more than anybody does; beyond it another way is needed
LITTLE = 0.005  # part of the capacity below which contraction is not worth a top-up

NEVER_MIX = (
    "Never mix inhibitor types or the two glycols; where nobody knows what is in there, drain, flush and fill anew."
)
POISON = (
    "Coolant is poisonous and tastes sweet: catch it, cover it, keep it from children and animals, "
    "and dispose of it as local law says."
)
HOT = "Never open a hot pressurised system; let it cool first."
WATER = (
    "Use the water that the coolant's maker asks for; where nothing is said, distilled or demineralised "
    "(common practice, no source)."
)
BAND = (
    "ASTM D3306, scope, counts on 40 to 60 % concentrate by volume (70 % by agreement). Below about 30 % the "
    "inhibitors are too thin, above about 60 % frost protection and heat transfer get worse (common practice, "
    "no source)."
)
CONCENTRATE = "a concentrate counts as 100 %, as mixing charts do; the water and inhibitors in it are not taken off"
SAFE_SIDE = (
    "Freezing and boiling points hold within ±3 K: published tables differ by 2.9 to 3.0 K. Count on the safe side."
)
MIXED = "before each further drain the engine was run warm so that everything has mixed, and has cooled again"

# ------------------------------------------------------------------------------ fields
CAPACITY = quantity(
    "capacity",
    L,
    "Capacity of the whole system",
    symbol="V",
    above=0.0,
    help="with heater and overflow tank, as the book says",
    example='"9 L"',
    group="System",
)
TARGET = quantity(
    "target",
    pct_vol,
    "Strength wanted",
    symbol="c_t",
    at_least=0.0,
    at_most=1.0,
    help="glycol by volume",
    example='"50 %"',
    group="Wanted",
)
PRODUCT = quantity(
    "product_concentration",
    pct_vol,
    "Strength of the product",
    symbol="c_p",
    default="100 %",
    above=0.0,
    at_most=1.0,
    help="100 % for concentrate, 50 % for a usual premix",
    example='"50 %"',
    group="Product",
)
SIZES = listing(
    "bottle_sizes",
    quantity("size", L, "Bottle", above=0.0, example='"5 L"'),
    "Bottles on sale",
    required=False,
    help="to say what to buy",
    example='"1 L; 5 L"',
    group="Product",
)
GLYCOL = choice(
    "glycol",
    "Glycol",
    c.GLYCOLS,
    help="as printed on the product",
    example="ethylene",
    group="Coolant",
)
GLYCOL_IF_KNOWN = replace(
    GLYCOL, required=False, help="to show the freezing point and what mixing takes away", group="Product"
)


def _digits(litres: float) -> int:
    """Three figures below 10 L, four above: what a measuring jug can show."""
    return 3 if abs(litres) < 10e-3 else 4


def _litres(w: Worksheet, name: str, V: float | None, label: str) -> None:
    w.result(name, V, L, label, _digits(V or 0.0))


def _degrees(w: Worksheet, name: str, T: float | None, label: str, *, towards: int = 0) -> None:
    """A temperature to the tenth of a degree; no table is better than that.

    ``towards``: a temperature that somebody counts on is rounded to its safe side, up (1) or down (−1).
    """
    T = None if T is None else _to_tenths(T, towards)
    w.result(name, T, degC, label, 1 + _whole_digits(T))


def _to_tenths(T: float, towards: int = 0) -> float:
    """Rounded to the tenth of a degree Celsius: to the nearest, up (1) or down (−1)."""
    tenths = round(10 * (T - c.ZERO), 6)
    return {0: round(T - c.ZERO, 1), 1: math.ceil(tenths) / 10, -1: math.floor(tenths) / 10}[towards] + c.ZERO


def _whole_digits(T: float | None) -> int:
    return 1 if T is None else max(len(str(int(abs(round(T - c.ZERO, 1))))), 1)


def _closing(w: Worksheet, residue: float, unit: Any, label: str) -> None:
    """What is left over in the balance, beside 1; nothing, if the answer is right."""
    w.result("closing_residual", without_noise(residue, 1.0), unit, label, 2)


def _said(V: float) -> str:
    return show(V, LITRE, _digits(V))


def _percent(v: float) -> str:
    return show(v, VOL, 3)


# ------------------------------------------------------------------------------ what fill and correct share
def _buy(i: Inputs, w: Worksheet, need: float) -> None:
    """Bottles for the product that the whole plan takes."""
    if not i.given("bottle_sizes"):
        return
    try:
        counts, total = mix.bottles(need, i.bottle_sizes)
    except ValueError:
        w.refuse("bottle_sizes", "are too small or too many for this much product; name the larger bottles", '"5 L"')
        return
    rows = [
        {"count": Value(n, None, "bottles"), "size": Value(size, LITRE, "of", _digits(size))}
        for n, size in zip(counts, i.bottle_sizes, strict=True)
        if n
    ]
    w.result("buy", rows or "nothing", None, "To buy")
    _litres(w, "left_over", total - need if rows else 0.0, "Left over for topping up")


def _plan(w: Worksheet, plan: list[mix.Pour], done: bool, V: float, c_0: float, c_p: float, V_r: float) -> None:
    """The table of pours, its totals, and the proof that no glycol was lost or made."""
    rows = [
        {
            "step": Value(k, None, "step"),
            "drain": Value(p.drain, LITRE, "drain", _digits(p.drain)),
            "product": Value(p.product, LITRE, "product", _digits(p.product)),
            "water": Value(p.water, LITRE, "water", _digits(p.water)),
            "strength": Value(p.strength, VOL, "then", 3),
        }
        for k, p in enumerate(plan, 1)
    ]
    w.result("plan", rows or "nothing to do", None, "Plan")
    enough = "Steps needed" if done else "Steps needed (no number is enough)"
    w.result("steps_needed", len(plan) if done else None, None, enough)
    _litres(w, "product_total", sum(p.product for p in plan) if done else None, "Product, all steps")
    _litres(w, "water_total", sum(p.water for p in plan) if done else None, "Water, all steps")
    glycol = V_r * c_0
    poured = drained = 0.0
    strength = c_0
    for p in plan:
        drained += p.drain * strength
        poured += p.product * c_p
        strength = p.strength
    left = V * strength if plan else glycol
    _closing(w, (glycol + poured - drained - left) / V, one, "Closing residual of the glycol")
    if len(plan) > 1:
        w.assume(MIXED)


def _what_it_gives(i: Inputs, w: Worksheet, strength: float, parts: list[tuple[float, float]], V: float) -> None:
    """Freezing point and contraction, where the glycol is known."""
    if strength < 0.3 or strength > c.STRONGEST:
        w.caution(f"{_percent(strength)} is outside the usual band. {BAND}")
    if not i.given("glycol"):
        w.assume("volumes are added as poured; glycol and water shrink by about 1 to 2 % when they mix")
        return
    frozen = float(c.freezing_point(i.glycol, strength)) if strength <= c.STRONGEST else None
    _degrees(w, "freezing_point", frozen, f"Freezes at about (±{c.ACCURACY:g} K)")
    if all(part <= c.STRONGEST or part >= 1 for _, part in parts) and strength <= c.STRONGEST:
        lost = c.contraction(i.glycol, parts)
        w.result("contraction", lost, L, "Shrinks on mixing by about", 2)
        if lost > LITTLE * V:
            w.caution(
                f"Mixing takes away about {show(lost, LITRE, 2)}: top up with the same mixture, not with water, "
                "before you look for trapped air."
            )


# ------------------------------------------------------------------------------ fill
def run_fill(i: Inputs, w: Worksheet) -> None:
    """Product and water for one fill; several drains where one is not enough; what one fill can reach."""
    V, V_d, c_r, c_t, c_p = i.capacity, i.drained, i.residual_concentration, i.target, i.product_concentration
    if below(V, V_d):
        w.refuse("drained", f"is more than the capacity, {show(V, LITRE)}: no system gives more than it holds")
        w.door()
    V_d = min(V_d, V)
    V_r = w.step("Stayed in", mix.stayed_in, V=V, V_d=V_d)
    first = mix.fill(V, V_d, c_r, c_t, c_p)
    too_weak = first.strength < c_t and below(c_p, c_t)
    if too_weak:
        w.refuse("target", f"is above the product: {_percent(c_p)} can never make {_percent(c_t)}", '"50 %"')
        w.refuse("product_concentration", f"is weaker than the target, {_percent(c_t)}; type a stronger one", '"100 %"')
        w.door()
    weakest, strongest = mix.reach_of_fill(V, V_d, c_r, c_p)
    reachable = first.strength == c_t
    arguments = {"V": V, "V_r": V_r, "c_r": c_r}
    wanted = w.step("Product that the balance asks for", mix.product_volume, c_t=c_t, c_p=c_p, **arguments)
    if reachable:
        w.step("Water", mix.water_volume, V=V, V_r=V_r, V_p=wanted)
        advice = f"Pour {_said(first.product)} of product and {_said(first.water)} of water."
        more: list[mix.Pour] = []
        done = True
    else:
        note = "more than the room" if wanted > V_d else "less than nothing"
        w.step(
            f"That is {note}: the nearest in one fill",
            mix.strength_after_fill,
            V_p=first.product,
            c_p=c_p,
            **arguments,
        )
        more, done = mix.swaps(V, V_d, first.strength, c_t, c_p, at_most=MOST_DRAINS)
        what = "product" if first.water == 0 else "water"
        advice = f"Impossible in one fill: with {what} alone it comes to {_percent(first.strength)}. " + (
            f"Drain and refill {len(more)} more time{'s' if len(more) > 1 else ''}, as planned, or get more out."
            if done
            else f"Draining again only creeps towards {_percent(c_t)}: get more out, or take a stronger product."
        )
    plan = [first, *more]
    w.result("advice", advice, None, "What to do")
    _litres(w, "product", first.product, "Product, first fill")
    _litres(w, "water", first.water, "Water, first fill")
    w.result("best_possible", strongest, pct_vol, "Strongest in one fill", 3)
    w.result("weakest_possible", weakest, pct_vol, "Weakest in one fill", 3)
    w.result("reachable", reachable, None, "Reachable in one fill")
    w.result("strength", first.strength, pct_vol, "Strength after the first fill", 3)
    _litres(w, "stayed", V_r, "Stayed in the system")
    _plan(w, plan if done else plan[:6], done, V, c_r, c_p, V_r)
    _buy(i, w, sum(p.product for p in plan) if done else first.product)
    if not done:
        w.assume("product is counted for the first fill only, since no number of drains is enough")
    w.assume(CONCENTRATE)
    _what_it_gives(i, w, first.strength, [(V_r, c_r), (first.product, c_p), (first.water, 0.0)], V)
    w.curve.update(
        before=[("stayed", V_r / V, c_r)],
        room=V_d / V,
        after=[("stayed", V_r / V, c_r), ("product", first.product / V, c_p), ("water", first.water / V, 0.0)],
        capacity=V,
        reach=(weakest, strongest),
        target=c_t,
        reached=first.strength,
        more=len(more) if done else -1,
    )


# ------------------------------------------------------------------------------ correct
def run_correct(i: Inputs, w: Worksheet) -> None:
    """How much to drain and replace, with product or with water, in as many drains as it takes."""
    V, c_m, c_t, c_p = i.capacity, i.measured, i.target, i.product_concentration
    most = i.drainable if i.given("drainable") else V
    if below(V, most):
        w.refuse("drainable", f"is more than the capacity, {show(V, LITRE)}")
    if c_m < c_t and below(c_p, c_t):
        w.refuse("target", f"is above the product: {_percent(c_p)} can never make {_percent(c_t)}", '"50 %"')
        w.refuse("product_concentration", f"is weaker than the target, {_percent(c_t)}; type a stronger one", '"100 %"')
    w.door()
    most = min(most, V)
    stronger = c_t > c_m
    other = c_p if stronger else 0.0
    if c_t == c_m:
        x, what = 0.0, "nothing: it has the strength wanted"
    else:
        x = w.step("Drain and replace", mix.swap_volume, V=V, c_m=c_m, c_t=c_t, c_p=other)
        what = "product" if stronger else "water"
    plan, done = mix.swaps(V, most, c_m, c_t, c_p, at_most=MOST_DRAINS)
    if x == 0:
        advice = "Nothing to drain: it has the strength wanted."
    elif len(plan) == 1 and done:
        advice = f"Drain {_said(x)} and pour {_said(x)} of {what}."
        w.step("Strength then", mix.strength_after_swap, V=V, c_m=c_m, x=x, c_p=other)
    elif done:
        advice = (
            f"One drain gives only {_said(most)}: drain and refill {len(plan)} times with {what}, as planned "
            f"({_said(sum(p.drain for p in plan))} in all)."
        )
    else:
        advice = f"Draining {_said(most)} at a time only creeps towards {_percent(c_t)}: get more out" + (
            ", or take a stronger product." if stronger else "."
        )
    w.result("advice", advice, None, "What to do")
    _litres(w, "swap", x, "Drain and replace, in one go")
    w.result("swap_with", what, None, "Replace it with")
    _plan(w, plan if done else plan[:6], done, V, c_m, c_p, V)
    _buy(i, w, sum(p.product for p in plan) if done else 0.0)
    w.assume(CONCENTRATE)
    if not i.given("drainable"):
        w.assume("the whole system can be drained; type drainable if a drain gives less")
    drain = plan[0].drain if plan else 0.0
    reached = plan[0].strength if plan else c_m
    poured = (drain, other)
    _what_it_gives(i, w, reached, [(V - drain, c_m), poured], V)
    full = float(mix.strength_after_swap(V, c_m, most, c_p)), float(mix.strength_after_swap(V, c_m, most, 0.0))
    w.curve.update(
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


# ------------------------------------------------------------------------------ the tank
LAYERS = (("stayed", PALE, "--", "stayed in"), ("product", ACCENT, "", "product"), ("water", PALER, "", "water"))
ROW = 0.062  # of the tank's height that a row of words takes
LEAST_LABEL = 0.075  # of the tank's height, below which a label would not fit


def draw_tank(figure: Any) -> Callable[[Result], None]:
    """Tank after the drain, tank after the pour, and the scale of strength with what is out of reach hatched."""
    from matplotlib.patches import Rectangle
    from matplotlib.transforms import offset_copy

    tank, scale = figure.subplots(1, 2, width_ratios=(2.5, 1))
    tank.set(xlim=(-0.08, 2.28), ylim=(-0.16, 1.14))
    tank.axis("off")
    scale.set(xlim=(0, 1.9), ylim=(0, 100), xticks=[], ylabel="strength of the filled system, vol %")
    scale.spines[["top", "right", "bottom"]].set_visible(False)
    left, right, wide = 0.0, 1.25, 0.95
    parts: dict[str, Any] = {}

    def layer(name: str, x: float, face: str, hatch: str, ink: str) -> None:
        box = Rectangle((x, 0), wide, 0, facecolor=face, edgecolor="white", hatch=hatch, lw=1.0, gid=name)
        tank.add_patch(box)
        plate = Rectangle((x + wide * 0.17, 0), wide * 0.66, 0, facecolor=face, edgecolor="none", gid=name + "-plate")
        if hatch:  # words must read on the hatching (of lines: dots would make the picture forty times larger)
            tank.add_patch(plate)
        rows = [
            tank.text(x + wide / 2, 0, "", ha="center", color=ink, fontsize=8.5, gid=f"{name}-row{k}") for k in (0, 1)
        ]
        parts[name] = box, plate, rows

    layer("before-stayed", left, PALE, "--", INK)
    layer("before-room", left, "white", "", SOFT)
    for name, face, hatch, _ in LAYERS:
        layer("after-" + name, right, face, hatch, "white" if face == ACCENT else INK)
    for x in (left, right):
        tank.plot([x, x, x + wide, x + wide], [1.03, 0, 0, 1.03], color=INK, lw=1.6, solid_joinstyle="round")
    tank.annotate("", (right - 0.04, 0.5), (left + wide + 0.04, 0.5), arrowprops={"arrowstyle": "->", "color": SOFT})
    heads = [
        tank.text(x + wide / 2, 1.08, text, ha="center", va="bottom", fontsize=9, color=INK, weight="bold")
        for x, text in ((left, "after the drain"), (right, "after the pour"))
    ]
    assert heads
    below = tank.text(1.1, -0.07, "", ha="center", va="center", fontsize=9, color=INK, gid="below")
    zones = [
        Rectangle((0, 0), 0.55, 0, facecolor="white", edgecolor=SOFT, hatch="////", lw=0.6, gid=f"zone{k}")
        for k in range(2)
    ]
    within = Rectangle((0, 0), 0.55, 0, facecolor=ACCENT, alpha=0.30, edgecolor="none", gid="within")
    for zone in (*zones, within):
        scale.add_patch(zone)
    (wanted,) = scale.plot([], [], color=WARM, lw=1.8, ls=(0, (5, 2)), gid="wanted")
    (reached,) = scale.plot([], [], marker="<", ms=9, color=ACCENT, mec="white", gid="reached")
    notes = {
        "high": scale.text(0.62, 0, "", fontsize=8, color=SOFT, va="center", gid="note-high"),
        "wanted": scale.text(0.75, 0, "", fontsize=9, color=WARM, va="center", weight="bold", gid="note-wanted"),
        "reached": scale.text(0.75, 0, "", fontsize=9, color=ACCENT, va="center", weight="bold", gid="note-reached"),
    }

    # where the letters of the first and the second of two rows stand below the middle, and those of a lone row
    feet = [offset_copy(tank.transData, figure, y=up, units="points") for up in (2.6, -8.4, -2.9)]

    def place(name: str, bottom: float, height: float, text: str) -> None:
        box, plate, rows = parts[name]
        box.set_y(bottom)
        box.set_height(height)
        said = text.split("\n") if text and height >= LEAST_LABEL else []
        plate.set_y(bottom + height / 2 - len(said) * ROW / 2)
        plate.set_height(len(said) * ROW)
        for k, row in enumerate(rows):  # one row or two, round the middle
            row.set_text(said[k] if k < len(said) else "")
            row.set_transform(feet[k if len(said) > 1 else 2])
            row.set_y(bottom + height / 2)

    def move(result: Result) -> None:
        k = result.curve
        V = k["capacity"]
        _, kept, c_kept = k["before"][0]
        place("before-stayed", 0, kept, f"{_said(kept * V)} stayed\nat {_percent(c_kept)}")
        place("before-room", kept, k["room"], f"room for\n{_said(k['room'] * V)}")
        bottom = 0.0
        for (name, height, strength), (_, _, _, word) in zip(k["after"], LAYERS, strict=True):
            text = f"{_said(height * V)} {word}"
            if name != "water" and height >= 2 * LEAST_LABEL:
                text += f"\nat {_percent(strength)}"
            place("after-" + name, bottom, height, text)
            bottom += height
        more = k["more"]
        below.set_text(
            f"mixed: {_percent(k['reached'])}"
            + (f", then {more} more drain{'s' if more > 1 else ''}" if more > 0 else "")
            + (", and no number of drains gets there" if more < 0 else "")
        )
        low, high = (100 * x for x in k["reach"])
        zones[0].set_bounds(0, 0, 0.55, low)
        zones[1].set_bounds(0, high, 0.55, 100 - high)
        within.set_bounds(0, low, 0.55, high - low)
        target, now = 100 * k["target"], 100 * k["reached"]
        wanted.set_data([0, 0.7], [target, target])
        reached.set_data([0.62], [now])
        apart = abs(target - now) > 6
        notes["wanted"].set_position((0.75, min(max(target + (0 if apart else 2.6), 3), 97)))
        notes["wanted"].set_text(f"wanted {target:.3g} %")
        notes["reached"].set_position((0.75, min(max(now - (0 if apart else 2.6), 3), 97)))
        notes["reached"].set_text(f"reached {now:.3g} %")
        top = 100 - high >= 12
        notes["high"].set_position((0.62, high + (100 - high) / 2 if top else 0))
        clear = abs(high + (100 - high) / 2 - target) > 6
        notes["high"].set_text("out of reach\nin one fill" if top and clear else "")

    return move


def alt_tank(result: Result) -> str:
    """The picture in words."""
    k = result.curve
    V = k["capacity"]
    _, kept, c_kept = k["before"][0]
    low, high = k["reach"]
    poured = ", ".join(f"{_said(h * V)} {name}" for name, h, _ in k["after"][1:] if h > 0) or "nothing poured"
    return (
        f"Tank of {_said(V)}: {_said(kept * V)} stayed at {_percent(c_kept)}, room for {_said(k['room'] * V)}; then "
        f"{poured}: {_percent(k['reached'])}. One fill reaches {_percent(low)} to {_percent(high)}; the zones outside "
        f"are hatched. Wanted: {_percent(k['target'])}."
    )


# ------------------------------------------------------------------------------ protection
def _volume_fraction(i: Inputs, w: Worksheet) -> float | None:
    """The typed strength as a fraction by volume; refused above the tables."""
    most = float(c.mass_fraction(i.glycol, c.STRONGEST)) if i.basis == "mass" else c.STRONGEST
    if not at_most(i.concentration, most):
        shown = show(most, unit_of(pct_mass) if i.basis == "mass" else VOL, 3)
        w.refuse(
            "concentration",
            f"is above {shown}, where the tables end: beyond, laboratories disagree, and more glycol "
            "protects less. Dilute it and measure again",
            '"50 %"',
        )
        return None
    if i.basis == "mass":
        return c.volume_fraction(i.glycol, min(i.concentration, most))
    return float(min(i.concentration, c.STRONGEST))


def run_protection(i: Inputs, w: Worksheet) -> None:
    """Freezing and boiling point with their doubt, density and specific heat, at cap pressure and altitude."""
    v = _volume_fraction(i, w)
    w.door()
    assert v is not None
    glycol, T = i.glycol, i.temperature
    try:
        rho, heat = c.density(glycol, v, T), c.specific_heat(glycol, v, T)
    except c.OutOfTable as error:
        w.refuse("temperature", f"has no density at this strength: {error}", '"20 degC"')
    w.door()
    if not i.given("gauge_pressure"):
        w.assume("no cap pressure given: boiling as in an open vessel")
    if not i.given("altitude"):
        w.assume("no altitude given: sea level")
    p_a = w.step("Air pressure", air.standard_pressure, z=i.altitude or 0.0, digits=5, **air.CONSTANTS)
    p = w.step("Pressure on the coolant", air.absolute_pressure, p_a=p_a, p_g=i.gauge_pressure or 0.0, digits=5)
    frozen = float(c.freezing_point(glycol, v))
    doubt = w.uncertainty("concentration")
    weak, strong = _strength_ends(i, w.counted(doubt), i.basis)
    coldest, protects = _protection(glycol, weak, strong)
    mass = float(c.mass_fraction(glycol, v))
    poured = mass
    if i.basis == "volume":
        densities: dict[str, Any] = {"rho_g": c.pure_density(glycol), "rho_w": c.WATER_20}
        poured = w.step("Mass of glycol in the volumes as poured, 20 °C", c.mass_as_poured, v=v, **densities)
        w.assume(
            f"mass percent by the table's own pairs; the boiling point takes the volumes as poured, "
            f"{show(poured, unit_of(pct_mass), 3)}"
        )
    boils = float(c.boiling_point(glycol, poured, p))
    x_w = w.step("Water among the molecules", c.water_mole_fraction, w=poured, M_w=c.M_WATER, M_g=c.molar_mass(glycol))
    p_w = w.step(
        "Water at the boiling point", c.water_vapour_pressure, T=boils, K=c.KELVIN, MPa_1=c.MEGAPASCAL, digits=8
    )
    p_gl = w.step(
        "Glycol at the boiling point",
        c.glycol_vapour_pressure,
        T=boils,
        K=c.KELVIN,
        Pa_1=c.PASCAL,
        **c.constants(glycol),
    )
    over = w.step(
        "It boils where this is the pressure on it", c.mixture_vapour_pressure, x_w=x_w, p_w=p_w, p_gl=p_gl, digits=5
    )
    _degrees(w, "freezing_point", frozen, "Freezing point")
    _degrees(w, "freezing_point_safe", protects, "Count on frost protection to", towards=1)
    _degrees(w, "boiling_point", boils, "Boiling point")
    weakest = float(c.boiling_point(glycol, c.as_poured(glycol, weak) if i.basis == "volume" else
                                    c.mass_fraction(glycol, weak), p))  # fmt: skip
    _degrees(w, "boiling_point_safe", weakest - c.ACCURACY, "Count on boiling from", towards=-1)
    w.result("accuracy", c.ACCURACY, kelvin, "Both within ±, at the strength typed", 2)
    w.result("concentration_volume", v, pct_vol, "Strength by volume", 3)
    w.result("concentration_mass", mass, pct_mass, "Strength by mass", 3)
    w.result("density", rho, kg_per_m3, f"Density at {show(T, CELSIUS, 3)}")
    w.result("specific_heat", heat, J_per_kgK, f"Specific heat at {show(T, CELSIUS, 3)}")
    w.result("absolute_pressure", p, kPa, "Pressure on the coolant")
    _closing(w, over / p - 1, one, "Closing residual of the boiling point")
    if i.given("lowest_temperature"):
        _frost_check(i, w, frozen, coldest, protects, doubt)
    w.assume(f"freezing point between the rows of {c.FREEZING_SOURCE}, by PCHIP")
    w.assume(f"density and specific heat of {c.DENSITY_SOURCE}")
    if v < 0.3:
        w.caution(f"{_percent(v)} is thin. {BAND}")
    _protection_curves(w, glycol, v, p, frozen, boils)
    w.curve.update(protects=_to_tenths(protects, 1) - c.ZERO, boils_from=_to_tenths(weakest - c.ACCURACY, -1) - c.ZERO)


def _frost_check(i: Inputs, w: Worksheet, frozen: float, coldest: float, protects: float, doubt: Uncertainty) -> None:
    """The freezing point, somewhere in its band, against the coldest temperature to protect to.

    Where nobody typed what the per cent is of, it may be either: then the band of both counts.
    """
    remark = f"it protects to {_tenths(_to_tenths(protects, 1) - c.ZERO)} at the weak end of the band"
    between = coldest, protects
    if not i.typed("basis"):
        other = _protection(i.glycol, *_strength_ends(i, w.counted(doubt), "mass"))
        between = min(coldest, other[0]), max(protects, other[1])
        remark += f"; by mass, which was not ruled out, to {_tenths(_to_tenths(other[1], 1) - c.ZERO)}"
    w.check(
        "Freezing point", frozen, "≤", i.lowest_temperature, degC, i.lowest_temperature_source, remark=remark,
        uncertainty=Uncertainty((between[1] - between[0]) / 2, Origin.COMBINED), between=between,
    )  # fmt: skip


def _strength_ends(i: Inputs, half: float, basis: str) -> tuple[float, float]:
    """The weakest and the strongest that the mixture can be, by volume, as far as the tables go."""
    ends = []
    for typed in (max(i.concentration - half, 0.0), i.concentration + half):
        if basis == "mass":
            most = float(c.mass_fraction(i.glycol, c.STRONGEST))
            ends.append(c.volume_fraction(i.glycol, min(typed, most)))
        else:
            ends.append(float(min(typed, c.STRONGEST)))
    return ends[0], ends[1]


def _protection(glycol: str, weak: float, strong: float) -> tuple[float, float]:
    """The coldest and the warmest that a mixture may freeze at, weak and strong being the ends of its strength.

    Nothing freezes above water; the warmest is what one can count on.
    """
    ends = float(c.freezing_point(glycol, strong)) - c.ACCURACY, float(c.freezing_point(glycol, weak)) + c.ACCURACY
    return ends[0], min(ends[1], c.ZERO)


def _protection_curves(w: Worksheet, glycol: str, v: float, p: float, frozen: float, boils: float) -> None:
    other = next(g for g in c.GLYCOLS if g != glycol)
    w.curve.update(
        at=c.CURVE_AT,
        freezing=c.freezing_curve(glycol) - c.ZERO,
        other_freezing=c.freezing_curve(other) - c.ZERO,
        boiling=c.boiling_curve(glycol, p) - c.ZERO,
        glycol=glycol,
        other=other,
        v=v,
        frozen=frozen - c.ZERO,
        boils=boils - c.ZERO,
    )


def _hatch_unknown(ax: Any) -> None:
    """Above 60 vol % nobody knows well enough."""
    ax.axvspan(60, 72, facecolor="white", edgecolor=SOFT, hatch="////", lw=0)


def _freezing_axes(ax: Any) -> None:
    """Fixed axes, and the part above 60 vol % hatched."""
    ax.set(xlim=(0, 72), ylim=(-60, 6), xlabel="glycol, vol %", ylabel="freezes, °C")
    ax.spines[["top", "right"]].set_visible(False)
    ax.axhline(0, color=SOFT, lw=0.6)
    _hatch_unknown(ax)
    ax.text(66, -27, "tables\ndisagree", ha="center", va="center", fontsize=8, color=INK, backgroundcolor="white")


def draw_protection(figure: Any) -> Callable[[Result], None]:
    """Boiling above, freezing below, against strength; the band of doubt and the reading on both."""
    top, low = figure.subplots(2, 1, sharex=True, height_ratios=(1, 1.5))
    _freezing_axes(low)
    _hatch_unknown(top)
    top.set(ylim=(95, 125), ylabel="boils, °C")
    top.spines[["top", "right"]].set_visible(False)
    bands = [
        ax.fill_between([0, 1], [0, 1], [0, 1], color=ACCENT, alpha=0.16, lw=0, gid=f"band{k}")
        for k, ax in enumerate((top, low))
    ]
    lines = [ax.plot([], [], color=ACCENT, lw=1.8, gid=f"line{k}")[0] for k, ax in enumerate((top, low))]
    (other,) = low.plot([], [], color=SOFT, lw=1.0, ls=(0, (4, 2)), gid="other")
    other_name = low.text(0, 0, "", fontsize=8, color=SOFT, ha="left", va="bottom", gid="other-name")
    guides = [
        ax.plot([], [], color=SOFT, lw=0.8, ls=(0, (1.5, 2)), gid=f"guide{k}")[0] for k, ax in enumerate((top, low))
    ]
    dots = [
        ax.plot([], [], "o", ms=7, mfc="white", mec=WARM, mew=1.8, gid=f"dot{k}")[0] for k, ax in enumerate((top, low))
    ]
    labels = [ax.text(0, 0, "", fontsize=9, color=INK, gid=f"label{k}") for k, ax in enumerate((top, low))]
    title = top.set_title("", fontsize=9, color=INK, loc="left")
    title.set_gid("title")

    def move(result: Result) -> None:
        k = result.curve
        x, at = 100 * k["at"], 100 * k["v"]
        curves = (k["boiling"], k["freezing"])
        for band, line, y in zip(bands, lines, curves, strict=True):
            band.set_data(x, y - c.ACCURACY, y + c.ACCURACY)
            line.set_data(x, y)
        other.set_data(x, k["other_freezing"])
        other_name.set_position((2, -22))
        other_name.set_text(f"dashed: {k['other']} glycol")
        spans = ((-1000, 1000), (-60, 6))
        for guide, span in zip(guides, spans, strict=True):
            guide.set_data([at, at], span)
        for dot, y in zip(dots, (k["boils"], k["frozen"]), strict=True):
            dot.set_data([at], [y])
        side, shift = ("right", -1.5) if at > 34 else ("left", 1.5)
        for label, y, word, safe in (
            (labels[0], k["boils"], "boils", k["boils_from"]),
            (labels[1], k["frozen"], "freezes", k["protects"]),
        ):
            label.set_ha(side)
            label.set_text(f"{word} {_tenths(y)}, count on {_tenths(safe)}")
        labels[0].set_position((at + shift, k["boils"] + 3.4))
        labels[0].set_va("bottom")
        below = side == "right"  # the curve falls: there is room under it on the left, above it on the right
        labels[1].set_position((at + shift, k["frozen"] + (-3.5 if below else 3.5)))
        labels[1].set_va("top" if below else "bottom")
        pressure = result["absolute_pressure"] / 1e3
        title.set_text(f"{k['glycol']} glycol, {pressure:.4g} kPa on it; shaded: ±{c.ACCURACY:g} K")
        limits = 10.0 * math.floor((curves[0][0] - 4) / 10), 10.0 * math.ceil((curves[0][-1] + 6) / 10)
        settle(top, ylim=limits)

    return move


def _tenths(t: float) -> str:
    return f"{t:.1f} °C".replace("-", "−")


def alt_protection(result: Result) -> str:
    """The picture in words."""
    k = result.curve
    return (
        f"Curves of freezing and boiling point against strength for {k['glycol']} glycol, each with a band of "
        f"±{c.ACCURACY:g} K. At {_percent(k['v'])} it freezes at {_tenths(k['frozen'])} and boils at "
        f"{_tenths(k['boils'])}; count on {_tenths(k['protects'])} and {_tenths(k['boils_from'])}. "
        "Above 60 vol % the picture is hatched: tables disagree."
    )


# ------------------------------------------------------------------------------ strength from the freezing point
def _ends(glycol: str, warmest: float, coldest: float) -> tuple[float, float | None]:
    """Strengths that freeze at the warmest and at the coldest of a band; none above, where the table ends."""
    low = c.strength_from_freezing(glycol, warmest) if warmest <= c.ZERO else 0.0
    high = c.strength_from_freezing(glycol, coldest) if coldest >= c.coldest_freezing(glycol) else None
    return low, high


def _not_unique(glycol: str, T: float) -> str | None:
    """Why a freezing point tells no strength, or None when it does."""
    coldest = c.coldest_freezing(glycol)
    if below(c.ZERO, T):
        return "is above 0 °C: water alone freezes there, so this tells no strength"
    if below(T, coldest):
        return (
            f"is below {_tenths(coldest - c.ZERO)}, where 60 vol % freezes: beyond, more glycol freezes earlier "
            "again, so one freezing point belongs to two strengths. Mix a sample with as much water, measure that, "
            "and double the strength"
        )
    return None


WEAK_SIDE = (
    "taken on the weak side of 60 vol %. Ethylene glycol above about 80 vol % freezes at the same temperatures: if "
    "it may be nearly neat, mix a sample with as much water and measure that"
)


def _strength_results(w: Worksheet, glycol: str, v: float, low: float | None, high: float | None) -> None:
    w.result("concentration", v, pct_vol, "Strength by volume", 3)
    w.result("concentration_mass", float(c.mass_fraction(glycol, v)), pct_mass, "Strength by mass", 3)
    w.result("concentration_low", low, pct_vol, "At the least", 3)
    w.result("concentration_high", high, pct_vol, "At the most", 3)
    if v < 0.3:
        w.caution(f"{_percent(v)} is thin. {BAND}")


def _strength_curve(w: Worksheet, glycol: str, v: float, protects: float, wrong: float | None = None) -> None:
    other = next(g for g in c.GLYCOLS if g != glycol)
    w.curve.update(
        at=c.CURVE_AT,
        freezing=c.freezing_curve(glycol) - c.ZERO,
        other_freezing=c.freezing_curve(other) - c.ZERO,
        glycol=glycol,
        other=other,
        v=v,
        frozen=float(c.freezing_point(glycol, v)) - c.ZERO,
        protects=_to_tenths(min(protects, c.ZERO), 1) - c.ZERO,
        weak=w.values["concentration_low"].value,
        wrong=wrong,
    )


def run_strength(i: Inputs, w: Worksheet) -> None:
    """Percent from the freezing point, refused where two strengths share it."""
    why = _not_unique(i.glycol, i.freezing_point)
    if why:
        w.refuse("freezing_point", why, '"-37 degC"')
    w.door()
    T = max(min(i.freezing_point, c.ZERO), c.coldest_freezing(i.glycol))
    v = c.strength_from_freezing(i.glycol, T)
    doubt = c.ACCURACY + w.uncertainty("freezing_point").half_width
    _strength_results(w, i.glycol, v, *_ends(i.glycol, T + doubt, T - doubt))
    _degrees(w, "freezing_point_safe", min(T + doubt, c.ZERO), "Count on frost protection to", towards=1)
    _closing(w, float(c.freezing_point(i.glycol, v)) - T, kelvin, "Closing residual of the freezing point")
    w.assume(
        f"between the rows of {c.FREEZING_SOURCE}, by PCHIP; least and most are ±{c.ACCURACY:g} K and half the last "
        "digit of the reading"
    )
    w.assume(WEAK_SIDE)
    _strength_curve(w, i.glycol, v, T + doubt)


def draw_strength(figure: Any) -> Callable[[Result], None]:
    """The freezing curve with the reading on it, and the wrong glycol's scale as the error that it makes."""
    ax = figure.subplots()
    _freezing_axes(ax)
    band = ax.fill_between([0, 1], [0, 1], [0, 1], color=ACCENT, alpha=0.16, lw=0, gid="band")
    (line,) = ax.plot([], [], color=ACCENT, lw=1.8, gid="line")
    (other,) = ax.plot([], [], color=SOFT, lw=1.0, ls=(0, (4, 2)), gid="other")
    (guide,) = ax.plot([], [], color=SOFT, lw=0.8, ls=(0, (1.5, 2)), gid="guide")
    (wrong,) = ax.plot([], [], "X", ms=9, color=WARM, mec="white", gid="wrong")
    (dot,) = ax.plot([], [], "o", ms=7, mfc="white", mec=ACCENT, mew=1.8, gid="dot")
    label = ax.text(0, 0, "", fontsize=9, color=ACCENT, va="top", gid="label")
    (weak,) = ax.plot([], [], "v", ms=8, color=WARM, mec="white", gid="weak")
    counted = ax.text(0, 0, "", fontsize=8, color=INK, va="bottom", gid="counted")
    wrong_label = ax.text(0, 0, "", fontsize=8.5, color=WARM, va="top", ha="right", gid="wrong-label")
    wrong_label.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 1.0})
    title = ax.set_title("", fontsize=9, color=INK, loc="left")
    title.set_gid("title")

    def move(result: Result) -> None:
        k = result.curve
        x, at = 100 * k["at"], 100 * k["v"]
        band.set_data(x, k["freezing"] - c.ACCURACY, k["freezing"] + c.ACCURACY)
        line.set_data(x, k["freezing"])
        other.set_data(x, k["other_freezing"])
        guide.set_data([0, at, at], [k["frozen"], k["frozen"], -60])
        dot.set_data([at], [k["frozen"]])
        left = at > 32  # the curve falls: there is room under it on the left, above it on the right
        label.set_position((at - 1.5 if left else at + 1.5, k["frozen"] + (-2.5 if left else 1.0)))
        label.set_ha("right" if left else "left")
        label.set_va("top" if left else "bottom")
        label.set_text(f"{at:.1f} vol % as read")
        weak.set_data([100 * k["weak"]], [k["protects"]])
        counted.set_position((min(100 * k["weak"] + 0.8, 45.0), k["protects"] + 3.0))
        counted.set_text(f"count on {_tenths(k['protects'])}")
        w = k["wrong"]
        wrong.set_data([] if w is None else [100 * w], [] if w is None else [_interpolated(k, w)])
        # under the curve, and clear of the right reading's own words when the two are near
        near = 9.0 if w is not None and left and abs(_interpolated(k, w) - k["frozen"]) < 6 else 3.0
        wrong_label.set_position((100 * (w or 0) - 1.5, _interpolated(k, w) - near if w is not None else 0))
        wrong_label.set_text("" if w is None else f"{k['other']} scale says {100 * w:.1f} %")
        title.set_text(f"{k['glycol']} glycol (line, ±{c.ACCURACY:g} K); dashed: {k['other']} glycol")

    return move


def _interpolated(curve: Any, v: float) -> float:
    """Height of the drawn line at a strength."""
    return float(np.interp(v, curve["at"], curve["freezing"]))


def alt_strength(result: Result) -> str:
    """The picture in words."""
    k = result.curve
    wrong = "" if k["wrong"] is None else f" On the {k['other']} scale it would read {_percent(k['wrong'])}."
    return (
        f"Freezing curve of {k['glycol']} glycol with the reading at {_percent(k['v'])}, freezing at "
        f"{_tenths(k['frozen'])}; count on {_tenths(k['protects'])}.{wrong}"
    )


# ------------------------------------------------------------------------------ reading an instrument
SUGAR = re.compile(r"brix|°\s*bx|\bbx\b|%", re.IGNORECASE)
INDEX_TEMPERATURE, INDEX_WITHIN = 293.15, 1.0  # K; the table holds 20 °C only


def _value_of_reading(i: Inputs, w: Worksheet) -> float | None:
    """The number on the instrument; a Brix number or a bare percentage is not one."""
    if SUGAR.search(i.value):
        w.refuse(
            "value",
            "is a Brix number or a percentage, that is sugar in water; it is no percentage of glycol. Read the "
            "freezing-point scale of your glycol, or the refractive index",
            '"-24 degC"',
        )
        return None
    unit = CELSIUS if i.instrument == "freezing_point" else PURE
    example = {"freezing_point": '"-24 degC"', "refractive_index": "1.3728", "relative_density": "1.065"}[i.instrument]
    try:
        reading = read(i.value, unit)
    except Unreadable as error:
        w.refuse("value", str(error), example)
        return None
    if i.instrument == "freezing_point" and reading.value < 0:
        w.refuse("value", "is below absolute zero", example)
        return None
    return reading.value


def _strength_of(i: Inputs, glycol: str, value: float) -> float:
    """Fraction by volume that the instrument's value means for a glycol.  Raises OutOfTable."""
    if i.instrument == "freezing_point":
        why = _not_unique(glycol, value)
        if why:
            raise c.OutOfTable(why)
        return c.strength_from_freezing(glycol, value)
    if i.instrument == "refractive_index":
        return c.strength_from_index(glycol, value)
    rho = float(c.density_from_relative(value, c.water_density(i.reference_temperature)))
    return c.strength_from_density(glycol, rho, i.temperature)


def run_reading(i: Inputs, w: Worksheet) -> None:
    """Percent from an instrument, and the error that the other glycol's scale makes."""
    value = _value_of_reading(i, w)
    glycol, kind = i.glycol, i.instrument
    if kind != "freezing_point" and not i.given("temperature"):
        w.refuse("temperature", "of the sample is needed for this instrument", '"20 degC"')
    elif kind == "refractive_index" and below(INDEX_WITHIN, abs(i.temperature - INDEX_TEMPERATURE)):
        w.refuse(
            "temperature", "is not 20 °C (within 1 K), and the table holds no other: bring sample and instrument there"
        )
    w.door()
    assert value is not None
    try:
        v = _strength_of(i, glycol, value)
    except c.OutOfTable as error:
        sourced = "no sourced table" in str(error)
        w.refuse("glycol" if sourced else "value", _why_no_strength(kind, glycol, str(error)))
    w.door()
    frozen = float(c.freezing_point(glycol, v))
    low, high, protects = _doubt(i, w, glycol, value, v)
    if kind == "relative_density":
        rho_ref = c.water_density(i.reference_temperature)
        w.step("Density of the sample", c.density_from_relative, d=value, rho_ref=rho_ref, digits=5)
        w.assume(f"relative to water at {show(i.reference_temperature, CELSIUS, 3)}; density of {c.DENSITY_SOURCE}")
    elif kind == "refractive_index":
        w.assume(f"refractive index of {c.INDEX_SOURCE}, pure glycol")
    else:
        w.assume("the instrument corrects for temperature and its scale is that of this glycol")
    if kind == "freezing_point" or (kind == "relative_density" and glycol == "propylene"):
        w.assume(WEAK_SIDE if glycol == "ethylene" else "taken on the weak side of 60 vol %")
    _strength_results(w, glycol, v, low, high)
    _degrees(w, "freezing_point", frozen, "Freezes at about, if the strength is as read")
    _degrees(w, "freezing_point_safe", protects, "Count on frost protection to", towards=1)
    other = next(g for g in c.GLYCOLS if g != glycol)
    try:
        wrong = _strength_of(i, other, value)
    except c.OutOfTable:
        wrong = None
    w.result("wrong_scale", other, None, "Wrong scale: that of the other glycol")
    w.result("wrong_scale_concentration", wrong, pct_vol, "What it would have said", 3)
    w.result("wrong_scale_error", None if wrong is None else wrong - v, pct_vol, "Error of the strength", 2)
    promised = None if wrong is None or wrong > c.STRONGEST else float(c.freezing_point(glycol, wrong)) - frozen
    w.result("wrong_scale_freezing_error", promised, kelvin, "Error of the freezing point it promises", 2)
    if wrong is None:
        w.caution(
            "What the other glycol's scale would have said is not known: no sourced table reaches there. Read only the "
            "scale of your own glycol."
        )
    _strength_curve(w, glycol, v, protects, wrong if promised is not None else None)


def _why_no_strength(kind: str, glycol: str, why: str) -> str:
    if kind == "freezing_point" or "no sourced table" in why:
        return why
    what = "refractive index" if kind == "refractive_index" else "relative density"
    return f"is outside the table of the {what} of {glycol} glycol in water up to 60 vol % ({why})"


def _doubt(i: Inputs, w: Worksheet, glycol: str, value: float, v: float) -> tuple[float, float | None, float]:
    """Lowest and highest strength to believe, and the temperature down to which one can count on it.

    Half the last digit of the reading counts always; beside it for a freezing point ±3 K, and for a hydrometer the
    tables with and without inhibitors.
    """
    half = half_digit_in_si(i.value, CELSIUS if i.instrument == "freezing_point" else PURE)
    if i.instrument == "relative_density":
        return _doubt_of_density(i, w, glycol, value, v, half)
    frozen = [value - half, value + half]
    if i.instrument == "refractive_index":
        ends = [_strength_or_none(i, glycol, n) for n in (value + half, value - half)]
        strengths = [c.STRONGEST if ends[0] is None else ends[0], ends[1] or 0.0]
        frozen = [float(c.freezing_point(glycol, min(x, c.STRONGEST))) for x in strengths]
    warmest, coldest = frozen[1] + c.ACCURACY, frozen[0] - c.ACCURACY
    w.assume(f"least and most are ±{c.ACCURACY:g} K of the freezing point, and half the last digit of the reading")
    return *_ends(glycol, warmest, coldest), min(warmest, c.ZERO)


def _doubt_of_density(
    i: Inputs, w: Worksheet, glycol: str, value: float, v: float, half: float
) -> tuple[float, float | None, float]:
    """The same of a hydrometer: what inhibitors do to the density is not known."""
    rise = abs(c.density(glycol, v, INDEX_TEMPERATURE) - c.uninhibited_density(glycol, v))
    rho_ref = c.water_density(i.reference_temperature)
    rho, doubt = float(c.density_from_relative(value, rho_ref)), 2 * rise + half * rho_ref
    ends: list[float | None] = []
    for shifted in (rho - doubt, rho + doubt):
        try:
            ends.append(c.strength_from_density(glycol, shifted, i.temperature))
        except c.OutOfTable:
            ends.append(None)
    w.assume(
        f"a hydrometer is rough: with and without inhibitors the tables differ by {show(rise, unit_of(kg_per_m3), 2)} "
        "here, and one handbook by twice that; least and most are twice that apart, and half the last digit read"
    )
    low = ends[0] or 0.0
    return low, ends[1], _protection(glycol, low, v)[1]


def _strength_or_none(i: Inputs, glycol: str, value: float) -> float | None:
    try:
        return _strength_of(i, glycol, value)
    except c.OutOfTable:
        return None


# ------------------------------------------------------------------------------ the ledger
SEEN = ("between the marks", "below the low mark", "above the high mark", "not looked at")
MARKS = "marks on the tank"


def run_ledger(i: Inputs, w: Worksheet) -> None:
    """Litres in and out, what is unaccounted for, levels, and the bleed points with their temperatures."""
    total_in = math.fsum(getattr(i, "in"))
    V = i.capacity
    total_out = math.fsum(i.out) if i.given("out") else None
    if total_out is not None and below(V, total_out):
        w.refuse("out", f"adds up to {_said(total_out)}, more than the capacity, {_said(V)}")
    w.door()
    room = V if total_out is None else total_out
    missing = total(room, -total_in)
    _litres(w, "total_in", total_in, "Poured in")
    _litres(w, "total_out", total_out, "Came out")
    _litres(w, "residual", None if total_out is None else V - total_out, "Stayed in")
    _litres(w, "unaccounted", missing, "Unaccounted for")
    if total_out is None:
        w.caution(
            f"What came out was not measured: the {_said(abs(missing))} between the capacity and what was poured may "
            "be old coolant that stayed in, or air. The strength cannot be worked out either: measure it."
        )
    half = math.fsum(w.uncertainty(n, k).half_width for n in ("in", "out") for k in range(len(getattr(i, n) or ())))
    doubt = Uncertainty(half)
    half = w.counted(doubt)
    outcome = w.check(
        "Litres unaccounted for",
        abs(missing) if total_out is not None else None,
        "≤",
        i.unaccounted_limit,
        L,
        i.unaccounted_limit_source,
        remark="" if total_out is not None else "what came out was not measured",
        uncertainty=doubt if total_out is not None else None,
        between=(max(abs(missing) - half, 0.0), abs(missing) + half),
    )
    if outcome is not Outcome.PASS:
        _unaccounted(w, missing)
    for name, word in (("level_cold", "Level, cold"), ("level_hot", "Level, hot")):
        seen = getattr(i, name)
        if seen is not None:
            w.judge(word, seen, "between the marks", None, None, MARKS, _level(seen))
    _bleed(i, w)


def _unaccounted(w: Worksheet, missing: float) -> None:
    """What litres that nobody can account for may mean; not said where the limit allows them."""
    if missing > 0:
        w.caution(
            f"{_said(missing)} are unaccounted for: air may be trapped. Do not run the engine until they are found; a "
            "hot spot without coolant cracks a head."
        )
    elif missing < 0:
        w.caution(
            f"{_said(-missing)} more went in than came out: the level was low before, it leaks, or a reading is wrong."
        )


def _level(seen: str) -> Outcome:
    return {SEEN[0]: Outcome.PASS, SEEN[3]: Outcome.UNDECIDED}.get(seen, Outcome.FAIL)


def _bleed(i: Inputs, w: Worksheet) -> None:
    """Each bleed point counts as it was seen last."""
    if not i.given("bleed"):
        w.judge("Bleeding", "not recorded", "clear", None, None, None, Outcome.UNDECIDED, "tick each bleed point")
        return
    last: dict[str, Any] = {}
    for tick in i.bleed:
        last[tick["where"].strip().casefold()] = tick
    for tick in last.values():
        warm = "" if tick["temperature"] is None else f" at {show(tick['temperature'], CELSIUS, 3)}"
        outcome = Outcome.PASS if tick["seen"] == "clear" else Outcome.FAIL
        remark = "" if outcome is Outcome.PASS else "air still comes: bleed again"
        w.judge(f"Bleed: {tick['where']}", tick["seen"] + warm, "clear", None, None, "as seen", outcome, remark)
    w.result("bleed_points", len(last), None, "Bleed points ticked")
    if any(t["temperature"] is not None and t["temperature"] > c.ZERO + 50 for t in i.bleed):
        w.caution("Bleeding was done above 50 °C: open nothing hot under pressure unless the procedure says how.")


# ------------------------------------------------------------------------------ declarations
FILL_CAUTIONS = (GOVERNS, NEVER_MIX, POISON, HOT, WATER, BAND)
STRENGTH_CAUTIONS = (GOVERNS, SAFE_SIDE, NEVER_MIX, POISON, HOT)

_CONCENTRATION = Field(
    "concentration",
    "quantity",
    "Strength",
    unit=unit_of(pct),
    at_least=0.0,
    at_most=1.0,
    help="of the glycol; say below whether by volume or by mass",
    example='"50 %"',
    group="Coolant",
)

WORKINGS = [
    Working(
        name="coolant_fill",
        title="Filling after a drain",
        question="how much concentrate and how much water, when water or old coolant stayed in",
        phase="fill",
        fields=(
            CAPACITY,
            quantity(
                "drained",
                L,
                "Came out when drained",
                symbol="V_d",
                above=0.0,
                help="measured, not guessed",
                example='"6.0 L"',
                group="System",
            ),
            quantity(
                "residual_concentration",
                pct_vol,
                "Strength of what stayed in",
                symbol="c_r",
                default="0 %",
                at_least=0.0,
                at_most=1.0,
                help="0 % after a flush with water",
                example='"0 %"',
                group="System",
            ),
            TARGET,
            PRODUCT,
            SIZES,
            GLYCOL_IF_KNOWN,
        ),
        run=run_fill,
        cautions=FILL_CAUTIONS,
        draw=draw_tank,
        alt=alt_tank,
        figure_size=(6.6, 3.5),
    ),
    Working(
        name="coolant_correct",
        title="Correcting the strength",
        question="how much to drain and replace when the strength is wrong",
        phase="fill",
        fields=(
            CAPACITY,
            quantity(
                "measured",
                pct_vol,
                "Strength measured",
                symbol="c_m",
                at_least=0.0,
                at_most=1.0,
                help="mixed and measured at working strength",
                example='"35 %"',
                group="System",
            ),
            quantity(
                "drainable",
                L,
                "One drain gives at most",
                required=False,
                above=0.0,
                help="if the block keeps some back",
                example='"6.0 L"',
                group="System",
            ),
            TARGET,
            PRODUCT,
            SIZES,
            GLYCOL_IF_KNOWN,
        ),
        run=run_correct,
        cautions=FILL_CAUTIONS,
        draw=draw_tank,
        alt=alt_tank,
        figure_size=(6.6, 3.5),
    ),
    Working(
        name="coolant_protection",
        title="Protection of a coolant",
        question="to what temperature does this mixture protect, cold and hot",
        phase="fill",
        fields=(
            GLYCOL,
            _CONCENTRATION,
            choice(
                "basis",
                "Percent of",
                ("volume", "mass"),
                default="volume",
                help="volume as poured, or mass",
                group="Coolant",
            ),
            quantity(
                "gauge_pressure",
                kPa,
                "Cap lifts at (gauge)",
                required=False,
                at_least=0.0,
                at_most=1e6,
                help="as stamped on the cap; empty: open vessel",
                example='"100 kPa"',
                group="System",
            ),
            quantity(
                "altitude",
                m,
                "Altitude",
                required=False,
                at_least=air.LOWEST,
                at_most=air.HIGHEST,
                help="empty: sea level",
                example='"1500 m"',
                group="System",
            ),
            quantity(
                "temperature",
                degC,
                "Temperature for density and specific heat",
                default="20 degC",
                at_least=0.0,
                example='"20 degC"',
                group="System",
            ),
            *limit(
                "lowest_temperature",
                degC,
                "Coldest temperature to protect to",
                at_least=0.0,
                help="to judge the frost protection",
                example='"-25 degC"',
                group="Wanted",
            ),
            *judging(pct),
        ),
        run=run_protection,
        cautions=(*STRENGTH_CAUTIONS, WATER, BAND),
        draw=draw_protection,
        alt=alt_protection,
        figure_size=(6.2, 4.4),
    ),
    Working(
        name="coolant_strength",
        title="Strength from the freezing point",
        question="how strong is a coolant that freezes at this temperature",
        phase="fill",
        fields=(
            GLYCOL,
            quantity(
                "freezing_point",
                degC,
                "Freezing point",
                at_least=0.0,
                help="measured, or from the instrument's scale",
                example='"-37 degC"',
                group="Coolant",
            ),
        ),
        run=run_strength,
        cautions=STRENGTH_CAUTIONS,
        draw=draw_strength,
        alt=alt_strength,
        figure_size=(6.2, 3.4),
    ),
    Working(
        name="coolant_reading",
        title="Strength from an instrument",
        question="what does this reading mean, and what would the wrong scale have said",
        phase="fill",
        fields=(
            choice(
                "instrument",
                "What the instrument shows",
                ("freezing_point", "refractive_index", "relative_density"),
                help="a hydrometer shows relative density",
                example="freezing_point",
                group="Reading",
            ),
            words(
                "value",
                "Value as read",
                help="a freezing point with its unit, else the bare number",
                example='"-24 degC"',
                group="Reading",
            ),
            quantity(
                "temperature",
                degC,
                "Temperature of the sample",
                required=False,
                at_least=0.0,
                help="needed unless the instrument shows a freezing point",
                example='"20 degC"',
                group="Reading",
            ),
            quantity(
                "reference_temperature",
                degC,
                "Hydrometer counts from water at",
                default="20 degC",
                at_least=c.ZERO,
                at_most=c.ZERO + 30,
                help="as marked on it",
                example='"60 degF"',
                group="Reading",
            ),
            GLYCOL,
        ),
        run=run_reading,
        cautions=(*STRENGTH_CAUTIONS, "Read only the scale of the glycol that is in the system; never a Brix scale."),
        draw=draw_strength,
        alt=alt_strength,
        figure_size=(6.2, 3.4),
    ),
    Working(
        name="fluid_ledger",
        title="Ledger of litres",
        question="did as much go in as came out, and is the air out",
        phase="fill",
        fields=(
            CAPACITY,
            listing(
                "out",
                quantity("out", L, "Out", at_least=0.0, example='"6.0 L"'),
                "Came out",
                required=False,
                help="every drain, spill and sample; empty: not measured",
                example='"4.2 L; 1.8 L"',
                group="Litres",
            ),
            listing(
                "in",
                quantity("in", L, "In", at_least=0.0, example='"4.5 L"'),
                "Poured in",
                help="every pour and top-up",
                example='"4.5 L; 1.5 L"',
                group="Litres",
            ),
            *limit(
                "unaccounted_limit",
                L,
                "Most that may be unaccounted for",
                at_least=0.0,
                example='"0.2 L"',
                group="Litres",
            ),
            choice("level_cold", "Level, cold", SEEN, required=False, example="between the marks", group="Levels"),
            choice("level_hot", "Level, hot", SEEN, required=False, example="between the marks", group="Levels"),
            table(
                "bleed",
                (
                    words("where", "Bleed point", example='"heater hose"'),
                    choice("seen", "Seen", ("clear", "bubbles"), example="clear"),
                    quantity("temperature", degC, "Coolant at", required=False, at_least=0.0, example='"60 degC"'),
                ),
                "Bleed points as ticked",
                required=False,
                help="in the order done; the last tick of a point counts",
                example='[{"where": "heater hose", "seen": "clear", "temperature": "60 degC"}]',
                group="Levels",
            ),
            *judging(L),
        ),
        run=run_ledger,
        cautions=(
            GOVERNS,
            HOT,
            POISON,
            NEVER_MIX,
        ),
    ),
]
