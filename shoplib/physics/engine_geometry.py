"""Engine geometry: swept and clearance volume, compression ratio before and after a cut."""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import cm3, mm, mm2, one

PULKRABEK = (
    "Pulkrabek, Engineering Fundamentals of the Internal Combustion Engine, chapter 2 (from memory, not checked)"
)
OWN = "volumes added, shoplib's own geometry"


# ------------------------------------------------------------------------------ volumes
@formula(symbol="V_d", source=PULKRABEK)
def swept_volume(B: mm, S: mm) -> cm3:
    """Volume that one piston sweeps, from bore B and stroke S."""
    return np.pi / 4 * B**2 * S


@formula(symbol="r_c", source=PULKRABEK)
def compression_ratio(V_d: cm3, V_c: cm3) -> one:
    """Geometric compression ratio, from swept and clearance volume; valve timing does not enter."""
    return (V_d + V_c) / V_c


@formula(symbol="r_c_after", source=PULKRABEK)
def compression_ratio_after(V_d: cm3, V_c_after: cm3) -> one:
    """Geometric compression ratio after the cuts, from swept volume and the clearance volume that is left."""
    return (V_d + V_c_after) / V_c_after


@formula(symbol="V_c", source=PULKRABEK)
def clearance_volume(V_d: cm3, r_c: one) -> cm3:
    """Volume left above the piston at top dead centre, from the ratio; the ratio is above 1."""
    return V_d / (r_c - 1)


@formula(symbol="V_g", source=OWN)
def gasket_volume(d_g: mm, h_g: mm) -> cm3:
    """Volume inside the gasket's hole d_g at its compressed thickness h_g.  For round holes."""
    return np.pi / 4 * d_g**2 * h_g


@formula(symbol="V_D", source=OWN)
def deck_volume(B: mm, h_D: mm) -> cm3:
    """Volume over the crown's flat from crown to deck; h_D is negative where the piston stands proud."""
    return np.pi / 4 * B**2 * h_D


@formula(symbol="V_c", source=OWN)
def clearance_of_parts(V_ch: cm3, V_g: cm3, V_D: cm3, V_p: cm3) -> cm3:
    """Clearance volume from chamber in the head, gasket, deck and piston; a dish counts positive, a dome negative."""
    return V_ch + V_g + V_D + V_p


@formula(symbol="V_c_after", source=OWN)
def clearance_after_cuts(V_c: cm3, A_o: mm2, c_H: mm, B: mm, c_B: mm, d_g: mm, g: mm) -> cm3:
    """Clearance volume after the cuts: the head's works on the chamber's opening A_o, the block's on the bore.

    A_o is the opening at the head's face; valid while the chamber's wall is upright over the depth of the cut.
    """
    V_H: cm3 = A_o * c_H
    V_B: cm3 = np.pi / 4 * B**2 * c_B
    V_g: cm3 = np.pi / 4 * d_g**2 * g
    return V_c - V_H - V_B + V_g


@formula(symbol="g_keep", source=OWN)
def gain_that_keeps_the_ratio(A_o: mm2, c_H: mm, B: mm, c_B: mm, d_g: mm) -> mm:
    """What the gasket must be thicker by, so that the clearance volume stays as it was before the cuts."""
    return (A_o * c_H + np.pi / 4 * B**2 * c_B) / (np.pi / 4 * d_g**2)


@formula(symbol="h_q", source=OWN)
def squish(h_g: mm, h_D: mm, c_B: mm, g: mm) -> mm:
    """Height between crown and head's flat face; a cut of the head does not enter, its new face lies there too."""
    return h_g + h_D - c_B + g
