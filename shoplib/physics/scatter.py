"""Scatter: its measures, and draws of torque, friction, angle and strength taken through the stages."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from shoplib.core import progress
from shoplib.core.formula import formula
from shoplib.core.rounding import without_noise
from shoplib.core.units import kN, one

BINS = 40  # classes of one input, for its share in the variance


@formula(symbol="c_v", source="definition of the coefficient of variation")
def variation(s: kN, F_mean: kN) -> one:
    """Standard deviation as a part of the mean."""
    return s / F_mean


@formula(symbol="alpha_A", source="VDI 2230-1, tightening factor, ends of the scatter at two standard deviations")
def tightening_factor(F_mean: kN, s: kN) -> one:
    """Largest over smallest preload to be expected.  Defined only while two deviations stay below the mean."""
    return (F_mean + 2 * s) / (F_mean - 2 * s)


@formula(symbol="r", source="quotient")
def spread_ratio(F_max: kN, F_min: kN) -> one:
    """Highest over lowest."""
    return F_max / F_min


def rectangular(u: Any, half_width: float) -> Any:
    """A draw between -half_width and +half_width from u in 0…1 (JCGM 101:2008, section 6.4.2).

    :param u: draws in 0…1; pure numbers, array of any shape
    :param half_width: half of the width; in any unit
    :returns: the draws; in the unit of half_width, of the shape of u
    """
    return half_width * (2 * u - 1)


def correlated(rng: np.random.Generator, n: int, r: float) -> tuple[Any, Any]:
    """Two uniform draws in 0…1 whose correlation is r, by a normal copula; r = 1 gives the same draw twice.

    :param rng: the source of the random numbers; a NumPy Generator
    :param n: number of draws; a whole number
    :param r: correlation; a pure number from 0 to 1
    :returns: both draws; pure numbers, arrays of shape (n,)
    """
    if r >= 1:
        u = rng.random(n)
        return u, u
    from scipy.special import ndtr

    g = 2 * np.sin(np.pi * r / 6)  # the normal correlation that gives r between the uniforms
    z = rng.standard_normal(n)
    return ndtr(z), ndtr(g * z + np.sqrt(1 - g**2) * rng.standard_normal(n))


def classes(u: Any, bins: int = BINS) -> Any:
    """Class of each draw, small integers so that a million of them stay light.

    :param u: draws in 0…1; pure numbers, array of any shape
    :param bins: number of classes; a whole number
    :returns: class of each draw from 0; whole numbers, of the shape of u
    """
    return np.minimum((u * bins).astype(np.uint16), bins - 1)


def shares(F: Any, label: Mapping[str, Any]) -> dict[str, float]:
    """First-order share of each input in the variance: variance of the class means over the variance.

    Sobol', first-order index, estimated from the same draws; the part that chance alone gives is taken off.

    :param F: result of each draw; in any one unit, array of shape (N,)
    :param label: class of each draw by the name of the input; arrays of shape (N,)
    :returns: share of each input by its name; pure numbers
    """
    mean, total = float(F.mean()), float(F.var())
    found = {}
    for n, (name, classed) in enumerate(label.items()):
        progress.step(n, len(label))
        count = np.bincount(classed)
        filled = count > 0
        sums = np.bincount(classed, weights=F)[filled]
        count = count[filled]
        between = float(np.sum(count * (sums / count - mean) ** 2) / F.size)
        chance = (count.size - 1) * (total - between) / F.size
        found[name] = min(max((between - chance) / total, 0.0), 1.0) if total > 0 else 0.0
    return found


def torque_for_mean(per_torque: Any, F_m: Any, mean: float) -> float:
    """Torque at which draws clamp ``mean`` on average, none above its necking preload.  Newton, monotone.

    :param per_torque: preload of each draw for each unit of torque; N/(N·m), array of shape (N,)
    :param F_m: necking preload of each draw; N, array of shape (N,)
    :param mean: preload wanted on average; N
    :returns: torque; N·m
    """
    T = mean / float(per_torque.mean())
    # a part of the draws comes near, all of them settle it
    for half, part in enumerate((slice(0, 50_000), slice(None))):
        per, top = per_torque[part], F_m[part]
        for n in range(40):
            progress.step(40 * half + n, 80)
            F = T * per
            slope = float(per[top > F].sum()) / F.size
            missing = mean - float(np.minimum(F, top).mean())
            if without_noise(missing, mean) == 0 or slope == 0:
                break
            T += missing / slope
    return T
