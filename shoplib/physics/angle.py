"""From angle to preload: travel of the thread, elastic gain, yield while tightening, and what follows it.

Position s is the travel of the thread since the faces first touched without load.  It is what the
turning has to be spent on: elastic give of bolt and parts, and plastic elongation of the bolt.
"""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import FULL_TURN, formula
from shoplib.core.units import deg, kN, kN_per_mm, mm, mm_per_kN, one

RAMP = "geometry of a helix: one turn advances one pitch"
CLOSURE = "the lengths add up: travel of the thread = give of bolt and parts + plastic elongation"
HARDENING = (
    "from yield to tensile strength over the uniform strain, level at the tensile strength because that is the "
    "highest load (parabola: this project's choice, no source)"
)


@formula(symbol="s", source=RAMP)
def travel(theta: deg, P: mm) -> mm:
    """How far the thread travels while it turns."""
    return P * theta / FULL_TURN


@formula(symbol="theta", source=RAMP)
def angle_of_travel(s: mm, P: mm) -> deg:
    """Angle that a travel takes."""
    return FULL_TURN * s / P


@formula(symbol="Delta_F", source="Hooke; travel times the series stiffness")
def elastic_gain(k_J: kN_per_mm, s: mm) -> kN:
    """Preload that a travel adds.  Elastic, faces in contact."""
    return k_J * s


@formula(symbol="u_u", source="definition of strain")
def uniform_elongation(epsilon_u: one, l_0: mm) -> mm:
    """Plastic elongation at which necking begins, over the free length of the weakest section."""
    return epsilon_u * l_0


@formula(symbol="u_p", source=HARDENING)
def plastic_elongation(F: kN, F_y: kN, F_m: kN, u_u: mm) -> mm:
    """Plastic elongation of a bolt first loaded to F.  Zero up to yield; F at most F_m."""
    x: one = np.minimum((F_m - F) / (F_m - F_y), 1.0)
    return u_u * (1 - np.sqrt(x))


@formula(symbol="F_h", source="the curve of the plastic elongation above, where its slope is that of the elastic line")
def half_slope_preload(F_y: kN, F_m: kN, delta: mm_per_kN, u_u: mm) -> kN:
    """Preload at which the slope of preload over travel falls to half; the yield preload where it falls at once."""
    x: one = np.minimum(u_u / (2 * delta * (F_m - F_y)), 1.0)
    return F_m - (F_m - F_y) * x**2


@formula(symbol="s", source=CLOSURE)
def position(F: kN, delta: mm_per_kN, u_p: mm) -> mm:
    """Travel of a joint under a preload: elastic give and plastic elongation."""
    return F * delta + u_p


@formula(symbol="s", source=CLOSURE)
def position_after(s_0: mm, Delta_s: mm) -> mm:
    """Travel of a joint after further turning."""
    return s_0 + Delta_s


@formula(symbol="F", source=CLOSURE + "; " + HARDENING)
def preload_past_yield(s: mm, delta: mm_per_kN, F_y: kN, F_m: kN, u_u: mm) -> kN:
    """Preload at a travel beyond yield.  Inverse of position and plastic elongation, up to necking."""
    c: mm = np.maximum(F_m * delta + u_u - s, 0 * s)
    x: one = 2 * c / (u_u + np.sqrt(u_u**2 + 4 * delta * (F_m - F_y) * c))
    return F_m - (F_m - F_y) * x**2


@formula(symbol="F", source=CLOSURE)
def preload_elastic(s: mm, delta: mm_per_kN, u_p: mm) -> kN:
    """Preload at a travel on the elastic line, which the set already there has moved."""
    return (s - u_p) / delta


@formula(symbol="F", source="the lower of the elastic line and the curve past yield")
def preload_lower(F_e: kN, F_p: kN) -> kN:
    """Preload of a turned bolt: the elastic line as long as that is the lower one."""
    return np.minimum(F_e, F_p)


@formula(symbol="Delta_l", source="Hooke; " + CLOSURE)
def bolt_elongation(F: kN, delta_S: mm_per_kN, u_p: mm) -> mm:
    """How much longer the bolt is: elastic and plastic."""
    return F * delta_S + u_p


@formula(symbol="s_u", source=CLOSURE)
def necking_position(F_m: kN, delta: mm_per_kN, u_u: mm) -> mm:
    """Travel at which the bolt begins to neck."""
    return F_m * delta + u_u
