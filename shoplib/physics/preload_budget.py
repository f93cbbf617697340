"""What is left of the preload after assembly: the sum of a preload budget."""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import kN, kN_per_mm, mm, one

LOSSES = "losses after assembly add up; VDI 2230-1:2003, calculation steps R4 and R8 (from memory, not checked)"


@formula(symbol="F_t", source="torque, then the elastic gain of the angle; level once the bolt yields")
def tightened_preload(F_s: kN, Delta_F: kN, F_y: kN) -> kN:
    """Preload right after tightening.  Beyond yield it is taken as level at F_y."""
    return np.minimum(F_s + Delta_F, F_y)


@formula(symbol="F_l", source=LOSSES)
def preload_left(F_t: kN, f_Z: mm, k_J: kN_per_mm, r: one, c: one, Delta_F_T: kN) -> kN:
    """Preload left after embedding, relaxation, gasket creep and heat; r and c are parts of the preload F_t."""
    return F_t * (1 - r - c) - f_Z * k_J + Delta_F_T
