"""Torque, friction and preload: the torque equation of VDI 2230 and the combined stress."""

from __future__ import annotations

import numpy as np

from shoplib.formula import formula
from shoplib.units import N_m, kN, mm, one

VDI = "VDI 2230-1:2003, section 5.4.2"


@formula(symbol="F_M", source=VDI)
def preload(M_A: N_m, P: mm, d_2: mm, D_Km: mm, mu_G: one, mu_K: one) -> kN:
    """Preload reached by a tightening torque.  For 60° threads; friction constant while tightening."""
    return M_A / (0.16 * P + 0.58 * d_2 * mu_G + D_Km / 2 * mu_K)
