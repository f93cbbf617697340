"""Air through a small hole: subsonic and choked, the isentropic nozzle of the textbooks."""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import Pa, mm, mm2, one

NOZZLE = "isentropic nozzle of a perfect gas, textbook (from memory, not checked); ratio of specific heats 1.4 for air"
GAMMA = 1.4  # ratio of the specific heats of air


@formula(symbol="r_c", source=NOZZLE)
def critical_ratio(gamma: one) -> one:
    """Ratio of absolute pressures, after over before, below which the flow is choked."""
    return (2 / (gamma + 1)) ** (gamma / (gamma - 1))


@formula(symbol="psi", source=NOZZLE)
def flow_function(p_1: Pa, p_2: Pa, r_c: one, gamma: one) -> one:
    """Flow number of a hole between two absolute pressures; constant where the flow is choked."""
    r: one = np.maximum(p_2 / p_1, r_c)
    return np.sqrt(2 * gamma / (gamma - 1) * (r ** (2 / gamma) - r ** ((gamma + 1) / gamma)))


@formula(symbol="A_L", source="the same air flows through both holes, one after the other; both with one coefficient")
def leak_area(A_t: mm2, p_1: Pa, psi_t: one, p_2: Pa, psi_L: one) -> mm2:
    """Area of the leak after a tester's hole A_t; absolute pressures before each hole."""
    return A_t * p_1 * psi_t / (p_2 * psi_L)


@formula(symbol="d_L", source="area of a circle")
def diameter_of_area(A_L: mm2) -> mm:
    """Diameter of one round hole of that area."""
    return np.sqrt(4 * A_L / np.pi)
