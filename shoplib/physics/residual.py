"""Residual torque: what a bolt shows some time after its assembly."""

from __future__ import annotations

from shoplib.core.formula import formula
from shoplib.core.units import N_m, one


@formula(symbol="q", source="quotient")
def torque_ratio(M_max: N_m, M_min: N_m) -> one:
    """Highest over lowest residual torque of the bolts of a joint."""
    return M_max / M_min


@formula(symbol="q_R", source="quotient")
def residual_part(M_R: N_m, M_A: N_m) -> one:
    """Residual torque as a part of the torque at assembly."""
    return M_R / M_A
