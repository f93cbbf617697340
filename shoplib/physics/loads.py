"""What happens to the clamp after tightening: heat, embedding, gas load."""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import bar, kelvin, kN, kN_per_mm, mm, one, per_MK

VDI = "VDI 2230-1:2003, calculation step R4, loss by embedding, change by heat (from memory, not checked)"


@formula(symbol="Delta_l", source="linear thermal expansion; " + VDI)
def free_expansion_difference(l: mm, alpha_P: per_MK, Delta_T_P: kelvin, alpha_S: per_MK, Delta_T_S: kelvin) -> mm:
    """How much more the clamped parts would grow than the bolt, if they were free."""
    return l * (alpha_P * Delta_T_P - alpha_S * Delta_T_S)


@formula(symbol="Delta_F", source="springs in series; " + VDI)
def preload_of_misfit(Delta_l: mm, k_b: kN_per_mm, k_p: kN_per_mm) -> kN:
    """Preload that a misfit between bolt and parts adds.  Elastic, stiffness as cold."""
    return Delta_l * k_b * k_p / (k_b + k_p)


@formula(symbol="F_Z", source=VDI)
def embedment_loss(f_Z: mm, k_b: kN_per_mm, k_p: kN_per_mm) -> kN:
    """Preload lost when the surfaces settle by f_Z."""
    return f_Z * k_b * k_p / (k_b + k_p)


@formula(symbol="F_hot", source="sum")
def preload_after(F_M: kN, Delta_F: kN) -> kN:
    """Preload after a change."""
    return F_M + Delta_F


@formula(symbol="n_eff", source="a shared bolt carries half for each of its two cylinders (this project's own rule)")
def effective_bolts(n: one, n_shared: one) -> one:
    """Bolts that one cylinder has to itself."""
    return n - n_shared / 2


@formula(symbol="F_A", source="pressure on the sealed area, shared by the bolts")
def gas_load(p: bar, d: mm, n_eff: one) -> kN:
    """Gas load on one bolt."""
    return p * np.pi / 4 * d**2 / n_eff


@formula(symbol="F_SA", source="VDI 2230-1:2003, load factor (from memory, not checked)")
def bolt_load(Phi: one, F_A: kN) -> kN:
    """Part of the outside load that the bolt takes on top of its preload."""
    return Phi * F_A


@formula(symbol="F_KR", source="VDI 2230-1:2003, residual clamp load (from memory, not checked)")
def residual_clamp(F_M: kN, Phi: one, F_A: kN) -> kN:
    """Clamp left between the faces under the outside load."""
    return F_M - (1 - Phi) * F_A


@formula(symbol="r_F", source="quotient")
def reserve(F_M: kN, F_A: kN) -> one:
    """Preload over gas load."""
    return F_M / F_A
