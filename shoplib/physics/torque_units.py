"""Torque in the units of the trade, printed pairs, and what a misreading does."""

from __future__ import annotations

import math

from shoplib.core.formula import formula
from shoplib.core.units import N_m, lbf_ft, lbf_in, one, pct, unit_of


@formula(symbol="r", source="NIST SP 811, Appendix B: 1 lbf·ft = 1.3558179483314004 N·m (exact)")
def misread_ratio(M_read: lbf_ft, M_meant: N_m) -> one:
    """How far off a number is when it is set in lbf·ft though N·m was meant."""
    return M_read / M_meant


@formula(symbol="r", source="quotient")
def pair_ratio(x_2: one, x_1: one) -> one:
    """Second printed value over the first, both in SI."""
    return x_2 / x_1


@formula(symbol="delta", source="relative deviation")
def pair_deviation(r: one) -> pct:
    """Deviation of the second printed value from the first."""
    return r - 1


def whole(x: float) -> int:
    """The trade's one rounding rule: the exact quotient to the nearest whole number.

    :param x: exact quotient; in any unit
    :returns: the nearest whole number, a half upwards
    """
    return math.floor(x + 0.5)


def printed_pair(torque: float) -> str:
    """Torque (N·m) as a manual prints it beside the metric value.

    Whole lbf·ft above 10.5 N·m; up to that, where whole lbf·ft would be too coarse, whole lbf·in.

    :param torque: torque; N·m
    :returns: both values as text
    """
    unit = unit_of(lbf_ft) if torque > 10.5 else unit_of(lbf_in)
    return f"{torque:.4g} N·m ({whole(unit.from_si(torque))} {unit.text})"
