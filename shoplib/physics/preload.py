"""Torque, friction and preload: the torque equation of VDI 2230 and the combined stress."""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import MPa, N_m, kN, mm, mm2, mm3, one, rad

VDI = "VDI 2230-1:2003, calculation step R13, tightening torque (step not checked against the standard)"
COMBINED = "VDI 2230-1:2003, calculation step R7, assembly stress (step not checked against the standard)"


@formula(symbol="F_M", source=VDI)
def preload(M_A: N_m, P: mm, d_2: mm, D_Km: mm, mu_G: one, mu_K: one) -> kN:
    """Preload reached by a tightening torque.  For 60° threads; friction constant while tightening."""
    return M_A / (0.16 * P + 0.58 * d_2 * mu_G + D_Km / 2 * mu_K)


@formula(symbol="M_A", source=VDI)
def tightening_torque(F_M: kN, P: mm, d_2: mm, D_Km: mm, mu_G: one, mu_K: one) -> N_m:
    """Torque that reaches a preload.  For 60° threads."""
    return F_M * (0.16 * P + 0.58 * d_2 * mu_G + D_Km / 2 * mu_K)


@formula(symbol="M_P", source=VDI)
def pitch_torque(F_M: kN, P: mm) -> N_m:
    """Part of the torque that stretches the bolt."""
    return 0.16 * P * F_M


@formula(symbol="M_GR", source=VDI)
def thread_friction_torque(F_M: kN, d_2: mm, mu_G: one) -> N_m:
    """Part of the torque that thread friction takes."""
    return 0.58 * d_2 * mu_G * F_M


@formula(symbol="M_K", source=VDI)
def head_friction_torque(F_M: kN, D_Km: mm, mu_K: one) -> N_m:
    """Part of the torque that friction under the head takes."""
    return D_Km / 2 * mu_K * F_M


@formula(symbol="s", source="quotient")
def share(M_part: N_m, M_A: N_m) -> one:
    """A part of the torque as a fraction of the whole."""
    return M_part / M_A


@formula(symbol="K", source="definition of the nut factor, T = K F d (Shigley, 9th edition, section 8-8)")
def nut_factor(M_A: N_m, F_M: kN, d: mm) -> one:
    """Torque over preload and nominal diameter."""
    return M_A / (F_M * d)


@formula(symbol="D_Km", source=VDI)
def mean_bearing_diameter(d_w: mm, d_h: mm) -> mm:
    """Mean diameter on which friction under the head acts."""
    return (d_w + d_h) / 2


@formula(symbol="M_G", source=VDI)
def thread_torque(F_M: kN, P: mm, d_2: mm, mu_G: one) -> N_m:
    """Torque that twists the bolt's shank: pitch and thread friction."""
    phi: rad = np.arctan(P / (np.pi * d_2))
    rho_prime: rad = np.arctan(mu_G / np.cos(np.pi / 6))
    return F_M * d_2 / 2 * np.tan(phi + rho_prime)


@formula(symbol="W_P", source=COMBINED)
def torsion_modulus_plastic(d_0: mm) -> mm3:
    """Polar section modulus, torsion fully plastic."""
    return np.pi / 12 * d_0**3


@formula(symbol="W_P", source="strength of materials, elastic torsion of a round bar")
def torsion_modulus_elastic(d_0: mm) -> mm3:
    """Polar section modulus, torsion elastic."""
    return np.pi / 16 * d_0**3


@formula(symbol="sigma_red", source="von Mises; " + COMBINED)
def combined_stress(F_M: kN, M_G: N_m, A_0: mm2, W_P: mm3) -> MPa:
    """Tension and torsion together while tightening, at the weakest section."""
    sigma_M: MPa = F_M / A_0
    tau_M: MPa = M_G / W_P
    return np.sqrt(sigma_M**2 + 3 * tau_M**2)


@formula(symbol="nu", source="quotient")
def utilisation(sigma_red: MPa, R_p: MPa) -> one:
    """Combined stress as a fraction of the yield strength."""
    return sigma_red / R_p


@formula(symbol="F_M", source=COMBINED)
def assembly_preload(nu: one, R_p: MPa, A_0: mm2, W_P: mm3, P: mm, d_2: mm, mu_G: one) -> kN:
    """Preload at which the combined stress while tightening is nu times the yield strength."""
    phi: rad = np.arctan(P / (np.pi * d_2))
    rho_prime: rad = np.arctan(mu_G / np.cos(np.pi / 6))
    k: one = A_0 * d_2 / (2 * W_P) * np.tan(phi + rho_prime)
    return A_0 * nu * R_p / np.sqrt(1 + 3 * k**2)
