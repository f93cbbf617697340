"""Strength of a coolant from the table of its own maker: between the rows, and between the temperatures."""

from __future__ import annotations

from shoplib.core.formula import formula
from shoplib.core.units import kelvin, one, pct_vol

LINEAR = "linear interpolation"


@formula(symbol="c", source=LINEAR + " between two rows of the table")
def strength_between(R: one, R_1: one, R_2: one, c_1: pct_vol, c_2: pct_vol) -> pct_vol:
    """Strength at a reading between two rows of one temperature."""
    return c_1 + (c_2 - c_1) * (R - R_1) / (R_2 - R_1)


@formula(symbol="c_T", source=LINEAR + " between two temperatures of the table")
def strength_at_temperature(T: kelvin, T_1: kelvin, T_2: kelvin, c_1: pct_vol, c_2: pct_vol) -> pct_vol:
    """Strength at the temperature of the sample, from the strengths at the two nearest temperatures."""
    return c_1 + (c_2 - c_1) * (T - T_1) / (T_2 - T_1)
