"""Preload of a bolt from its length: before, tightened, and loosened again."""

from __future__ import annotations

from shoplib.core.formula import formula
from shoplib.core.units import kelvin, kN, kN_per_mm, mm, per_MK

LENGTHS = "difference of two lengths at one temperature"


@formula(symbol="Delta_l_T", source="linear thermal expansion")
def warm_growth(l_1: mm, alpha_S: per_MK, T_1: kelvin, T_2: kelvin) -> mm:
    """How much longer the bolt is only because it is warmer than at its first measurement."""
    return l_1 * alpha_S * (T_2 - T_1)


@formula(symbol="Delta_l", source=LENGTHS)
def change_of_length(l_2: mm, l_1: mm, Delta_l_T: mm) -> mm:
    """Change of length without the part that heat explains."""
    return l_2 - l_1 - Delta_l_T


@formula(symbol="Delta_l_e", source="elastic and permanent parts add up; shoplib's own geometry")
def elastic_part(Delta_l: mm, u_p: mm) -> mm:
    """The part of the stretch that springs back when the bolt is loosened; u_p is the permanent part."""
    return Delta_l - u_p


@formula(symbol="F_M", source="Hooke; stiffness of the bolt")
def preload_of_stretch(Delta_l_e: mm, k_b: kN_per_mm) -> kN:
    """Preload of an elastic stretch."""
    return Delta_l_e * k_b
