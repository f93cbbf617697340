"""A head and its bolt that warm up one after the other: two lumped bodies, an illustration."""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import kelvin, minute

LUMPED = "lumped bodies, each warming towards the one before it; textbook, first order"


@formula(symbol="Delta_T_P", source=LUMPED)
def head_warming(Delta_T: kelvin, t: minute, tau_P: minute) -> kelvin:
    """How much warmer the head is at a time, on its way to Delta_T."""
    return Delta_T * (1 - np.exp(-t / tau_P))


@formula(symbol="Delta_T_S", source=LUMPED)
def bolt_warming(Delta_T: kelvin, t: minute, tau_P: minute, tau_S: minute) -> kelvin:
    """How much warmer the bolt is, which follows the head.  For two different time constants."""
    return Delta_T * (1 - (tau_P * np.exp(-t / tau_P) - tau_S * np.exp(-t / tau_S)) / (tau_P - tau_S))
