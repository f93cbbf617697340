"""Friction of a bolt from a test: torque, thread torque and clamp force in, coefficients out."""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import N_m, kN, mm, one

ISO = "ISO 16047:2005, evaluation of the coefficients of friction (formula from memory, not checked)"


@formula(symbol="T_b", source="equilibrium: the torque on the head is thread torque and friction under the head")
def head_torque(T: N_m, T_th: N_m) -> N_m:
    """Friction torque under the head, from the torque on the head and the torque in the thread."""
    return T - T_th


@formula(symbol="mu_th", source=ISO)
def thread_friction(T_th: N_m, F: kN, P: mm, d_2: mm) -> one:
    """Friction in the thread.  For 60° threads; the torque is read while the bolt turns."""
    lever: mm = T_th / F - P / (2 * np.pi)
    return 2 * np.cos(np.pi / 6) * lever / d_2


@formula(symbol="mu_b", source=ISO)
def head_friction(T_b: N_m, F: kN, D_b: mm) -> one:
    """Friction under the head, on the mean diameter D_b of the bearing face."""
    return 2 * T_b / (F * D_b)


@formula(symbol="mu_tot", source=ISO)
def total_friction(T: N_m, F: kN, P: mm, d_2: mm, D_b: mm) -> one:
    """The one coefficient that, in thread and head alike, would need this torque for this clamp force."""
    lever: mm = T / F - P / (2 * np.pi)
    return lever / (d_2 / (2 * np.cos(np.pi / 6)) + D_b / 2)
