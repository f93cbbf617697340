"""Stripping of engaged threads: shear areas, Alexander's factors, and what gives way first."""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import MPa, kN, mm, mm2, one

R11 = "VDI 2230-1:2003, calculation step R11 (step not checked against the standard)"
AREAS = R11 + "; on the basic profile 7/8 π d m and 3/4 π D1 m as in FED-STD-H28 (from memory, not checked)"
ALEXANDER = "Alexander, Analysis and Design of Threaded Assemblies, SAE 770420, 1977 (from memory, not checked)"


@formula(symbol="D_1", source="ISO 724, basic minor diameter of the internal thread")
def minor_diameter_internal(d: mm, P: mm) -> mm:
    """Minor diameter of a tapped 60° thread, basic profile."""
    return d - 1.082532 * P


@formula(symbol="A_SGM", source=AREAS)
def internal_shear_area(d: mm, D_2: mm, P: mm, m_e: mm) -> mm2:
    """Area in which the tapped thread shears, at the bolt's major diameter, over the length of full engagement."""
    return np.pi * d * m_e / P * (P / 2 + (d - D_2) * np.tan(np.pi / 6))


@formula(symbol="A_SGS", source=AREAS)
def external_shear_area(D_1: mm, d_2: mm, P: mm, m_e: mm) -> mm2:
    """Area in which the bolt's thread shears, at the minor diameter of the hole, over the length of full engagement."""
    return np.pi * D_1 * m_e / P * (P / 2 + (d_2 - D_1) * np.tan(np.pi / 6))


@formula(symbol="tau_S", source=ALEXANDER)
def bolt_shear_strength(R_m: MPa, k_S: one) -> MPa:
    """Shear strength of the bolt from its tensile strength."""
    return k_S * R_m


@formula(symbol="R_S", source=ALEXANDER)
def strength_ratio(tau_M: MPa, A_SGM: mm2, tau_S: MPa, A_SGS: mm2) -> one:
    """Shear strength of the tapped thread over that of the bolt's thread."""
    return tau_M * A_SGM / (tau_S * A_SGS)


@formula(symbol="C_1", source=ALEXANDER)
def dilation_factor(s_w: mm, d: mm) -> one:
    """How far a thin wall round the thread gives way.  For widths from 1.4 d; from 1.9 d on it is 1."""
    return np.where(s_w < 1.9 * d, 3.8 * (s_w / d) - (s_w / d) ** 2 - 2.61, 1.0)


@formula(symbol="C_2", source=ALEXANDER)
def bolt_bending_factor(R_S: one) -> one:
    """Bending of the bolt's thread.  The polynomial holds for ratios between 1 and 2.2; outside 0.897."""
    p: one = 5.594 - 13.682 * R_S + 14.107 * R_S**2 - 6.057 * R_S**3 + 0.9353 * R_S**4
    return np.where(R_S <= 1, 0.897, np.where(R_S < 2.2, p, 0.897))


@formula(symbol="C_3", source=ALEXANDER)
def tapped_bending_factor(R_S: one) -> one:
    """Bending of the tapped thread.  The polynomial holds for ratios between 0.4 and 1; outside 0.897."""
    p: one = 0.728 + 1.769 * R_S - 2.896 * R_S**2 + 1.296 * R_S**3
    return np.where(R_S <= 0.4, 0.897, np.where(R_S < 1, p, 0.897))


@formula(symbol="F_SGM", source=R11 + ", with the factors of Alexander")
def internal_strip_load(tau_M: MPa, A_SGM: mm2, C_1: one, C_3: one) -> kN:
    """Load at which the tapped thread strips."""
    return tau_M * A_SGM * C_1 * C_3


@formula(symbol="F_SGS", source=R11 + ", with the factors of Alexander")
def external_strip_load(tau_S: MPa, A_SGS: mm2, C_1: one, C_2: one) -> kN:
    """Load at which the bolt's thread strips."""
    return tau_S * A_SGS * C_1 * C_2


@formula(symbol="F_B", source="definition of tensile strength")
def break_load(R_m: MPa, A_0: mm2) -> kN:
    """Load at which the bolt breaks in its weakest section."""
    return R_m * A_0


@formula(symbol="m_r", source="both strip loads are proportional to the engaged length")
def needed_engagement(m_e: mm, F_B: kN, F_S: kN) -> mm:
    """Engaged length at which bolt and thread are equally strong; less, and the thread strips first."""
    return m_e * F_B / F_S


@formula(
    symbol="d_STI",
    source="geometry of a wire insert: basic profile one thread height further out (from memory, not checked)",
)
def wire_insert_diameter(d: mm, P: mm) -> mm:
    """Major diameter of the hole tapped for a wire thread insert of nominal diameter d."""
    return d + 1.299038 * P
