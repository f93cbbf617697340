"""Compression and leak-down: each cylinder against the others."""

from __future__ import annotations

from shoplib.core.formula import formula
from shoplib.core.units import bar, pct

RATIO = "quotient of the readings"


@formula(symbol="k", source=RATIO)
def part_of_highest(p: bar, p_max: bar) -> pct:
    """A cylinder's pressure as a part of the highest; gauge readings, taken alike."""
    return p / p_max


@formula(symbol="Delta_p", source="difference of the readings")
def spread(p_max: bar, p_min: bar) -> bar:
    """Highest minus lowest."""
    return p_max - p_min


@formula(symbol="s_r", source="difference over the highest reading")
def relative_spread(p_max: bar, p_min: bar) -> pct:
    """Highest minus lowest, as a part of the highest."""
    return (p_max - p_min) / p_max


@formula(symbol="g", source="wet less dry, over dry")
def wet_gain(p_w: bar, p: bar) -> pct:
    """Rise of a cylinder with a little oil in it, as a part of its dry reading."""
    return (p_w - p) / p


@formula(symbol="Delta_L", source="difference of the readings")
def leak_spread(L_max: pct, L_min: pct) -> pct:
    """Largest less smallest leakage, in points of per cent."""
    return L_max - L_min
