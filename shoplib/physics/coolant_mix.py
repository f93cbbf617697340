"""Mixing coolant by balance of the glycol: fill, drain and refill, several drains, bottles to buy.

Volumes are added as poured; what mixing takes away is stated apart, by
:func:`shoplib.physics.coolant_properties.contraction`.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from shoplib.core.formula import formula
from shoplib.core.rounding import at_most, below, without_noise
from shoplib.core.units import L, pct_vol

BALANCE = "balance of the glycol, volumes as poured"


@formula(symbol="V_r", source="difference of volumes")
def stayed_in(V: L, V_d: L) -> L:
    """What stays in the system after a drain."""
    return V - V_d


@formula(symbol="V_p", source=BALANCE)
def product_volume(V: L, V_r: L, c_r: pct_vol, c_t: pct_vol, c_p: pct_vol) -> L:
    """Product of strength c_p that brings the filled system to c_t, water making up the rest."""
    return (V * c_t - V_r * c_r) / c_p


@formula(symbol="V_w", source="difference of volumes")
def water_volume(V: L, V_r: L, V_p: L) -> L:
    """Water that fills the system up."""
    return V - V_r - V_p


@formula(symbol="c", source=BALANCE)
def strength_after_fill(V: L, V_r: L, c_r: pct_vol, V_p: L, c_p: pct_vol) -> pct_vol:
    """Strength of the filled system after product and water have mixed with what stayed in."""
    return (V_r * c_r + V_p * c_p) / V


@formula(symbol="x", source=BALANCE + "; drain x of the mixture, pour x of the other")
def swap_volume(V: L, c_m: pct_vol, c_t: pct_vol, c_p: pct_vol) -> L:
    """Volume to drain and to replace by the other liquid (water: c_p = 0) in a full, mixed system."""
    return V * (c_t - c_m) / (c_p - c_m)


@formula(symbol="c", source=BALANCE + "; drain x of the mixture, pour x of the other")
def strength_after_swap(V: L, c_m: pct_vol, x: L, c_p: pct_vol) -> pct_vol:
    """Strength of a full, mixed system after x was drained and replaced."""
    return c_m + x / V * (c_p - c_m)


@dataclass(frozen=True)
class DrainFillStep:
    """One step of a plan, in SI: drain first, then pour; strength of the system when mixed."""

    drain: float
    product: float
    water: float
    strength: float


def swaps(V: float, most: float, c: float, c_t: float, c_p: float, *, at_most: int) -> tuple[list[DrainFillStep], bool]:
    """Drains of a full, mixed system, each at most ``most``, until it has the strength c_t.

    As little as possible is thrown away: every drain is full but the last.  The flag is False when
    ``at_most`` drains are not enough, as with a product that is no stronger than the target.

    :param V: capacity of the system; m³
    :param most: largest volume of one drain; m³
    :param c: strength now, by volume; a pure number
    :param c_t: strength wanted, by volume; a pure number
    :param c_p: strength of what is poured in, by volume; a pure number
    :param at_most: largest number of drains; a whole number
    :returns: the drains in order, and whether they are enough
    """
    plan: list[DrainFillStep] = []
    while without_noise(c_t - c, 1.0):
        if len(plan) == at_most or (c < c_t and below(c_p, c_t)):
            return plan, False
        other = c_p if c < c_t else 0.0
        needed = float(swap_volume(V, c, c_t, other))
        x = min(needed, most)
        c = c_t if needed <= most else float(strength_after_swap(V, c, x, other))
        plan.append(DrainFillStep(x, x, 0.0, c) if other else DrainFillStep(x, 0.0, x, c))
    return plan, True


def fill(V: float, V_d: float, c_r: float, c_t: float, c_p: float) -> DrainFillStep:
    """Pour into the room V_d above what stayed in: exact if the target is within reach, else the nearest.

    :param V: capacity of the system; m³
    :param V_d: volume drained; m³
    :param c_r: strength of what stayed in, by volume; a pure number
    :param c_t: strength wanted, by volume; a pure number
    :param c_p: strength of the product, by volume; a pure number
    :returns: what to pour in, and the strength that it gives
    """
    V_r = float(stayed_in(V, V_d))
    wanted = float(product_volume(V, V_r, c_r, c_t, c_p))
    # a target right at the edge of what one fill reaches is reached: away with the last binary digits
    product = min(max(wanted, 0.0), V_d)
    if not without_noise(wanted - product, V):
        return DrainFillStep(0.0, product, max(V_d - product, 0.0), c_t)
    return DrainFillStep(0.0, product, V_d - product, float(strength_after_fill(V, V_r, c_r, product, c_p)))


def reach_of_fill(V: float, V_d: float, c_r: float, c_p: float) -> tuple[float, float]:
    """(weakest, strongest) that one fill can make: water only, product only.

    :param V: capacity of the system; m³
    :param V_d: volume drained; m³
    :param c_r: strength of what stayed in, by volume; a pure number
    :param c_p: strength of the product, by volume; a pure number
    :returns: the weaker and the stronger end, by volume; a pure number
    """
    V_r = float(stayed_in(V, V_d))
    ends = float(strength_after_fill(V, V_r, c_r, 0.0, c_p)), float(strength_after_fill(V, V_r, c_r, V_d, c_p))
    return min(ends), max(ends)


MOST_COMBINATIONS = 200_000


def _whole(number: float) -> int:
    """The next whole number up; a whole number stays what it is, whatever its last binary digits."""
    nearest = round(number)
    return nearest if at_most(number, nearest, 1.0) else math.ceil(number)


def bottles(need: float, sizes: list[float]) -> tuple[list[int], float]:
    """How many of each size hold at least ``need`` with the least left over, then in the fewest bottles.

    :param need: volume needed; m³
    :param sizes: volumes of the bottles on sale; m³, each above zero
    :returns: how many of each size, in the order of the sizes, and what is left over; m³
    :raises ValueError: too many combinations to look at
    """
    if without_noise(need, *sizes) <= 0:
        return [0] * len(sizes), 0.0
    order = sorted(range(len(sizes)), key=lambda k: -sizes[k])
    *large, small = (sizes[k] for k in order)
    ranges = [range(_whole(need / size) + 1) for size in large]
    if math.prod(map(len, ranges)) > MOST_COMBINATIONS or need / small > MOST_COMBINATIONS:
        raise ValueError("too many bottles")
    best: tuple[float, int, tuple[int, ...]] | None = None
    for counts in itertools.product(*ranges):
        held = sum(n * size for n, size in zip(counts, large, strict=True))
        last = max(_whole((need - held) / small), 0)
        total = held + last * small
        candidate = (round(total, 12), sum(counts) + last, (*counts, last))
        if best is None or candidate < best:
            best = candidate
    assert best is not None
    found = [0] * len(sizes)
    for k, n in zip(order, best[2], strict=True):
        found[k] = n
    return found, best[0]
