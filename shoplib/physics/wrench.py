"""What to set on a torque wrench when an adapter lengthens it."""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import N_m, deg, mm, one


@formula(symbol="M_set", source="lever rule; US Army TM 9-254, torque wrench with adapter (in line)")
def wrench_setting(M: N_m, L: mm, E: mm, alpha: deg) -> N_m:
    """Setting that gives M at the bolt; alpha 0 is in line and away from the grip, 180° points back to it."""
    return M * L / (L + E * np.cos(alpha))


@formula(symbol="M_bolt", source="lever rule; US Army TM 9-254, torque wrench with adapter (in line)")
def torque_at_bolt(M_set: N_m, L: mm, E: mm, alpha: deg) -> N_m:
    """Torque at the bolt for a setting."""
    return M_set * (L + E * np.cos(alpha)) / L


@formula(symbol="M_limit", source="definition of a relative deviation")
def torque_limit(M: N_m, delta: one) -> N_m:
    """Torque at one end of the wrench's permissible deviation."""
    return M * (1 + delta)


@formula(symbol="s", source="quotient")
def part_of_range(M_set: N_m, M_max: N_m) -> one:
    """Setting as a part of the wrench's largest value."""
    return M_set / M_max


def permissible_deviation(torque: float, largest: float | None = None) -> float:
    """Permissible deviation of a hand torque tool: 4 % where its largest value is above 10 N·m, else 6 %.

    Without the largest value the torque tells: a tool that is set above 10 N·m has a largest value above it.
    ISO 6789-1:2017, 5.1.5 (from memory).

    :param torque: torque that is set; N·m
    :param largest: largest value of the tool; N·m, None where it is not known
    :returns: permissible deviation; a pure number
    """
    return 0.04 if (torque if largest is None else largest) > 10.0 else 0.06
