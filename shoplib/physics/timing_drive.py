"""What a shorter timing drive does to the camshaft."""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import deg, mm, one

OWN = "shoplib's own geometry, to first order in the drop"


@formula(symbol="r", source="half the pitch diameter")
def radius_of_diameter(D: mm) -> mm:
    """Pitch radius of the cam sprocket from its pitch diameter."""
    return D / 2


@formula(
    symbol="r",
    source="chordal pitch: the pitch is a chord of the pitch circle (ISO 606, from memory, not checked)",
)
def chain_pitch_radius(p: mm, z: one) -> mm:
    """Pitch radius of a chain sprocket from chain pitch p and tooth count z, three or more."""
    return p / (2 * np.sin(np.pi / z))


@formula(
    symbol="r",
    source="belt pitch line: the pitch is an arc of the pitch circle (ISO 5296, from memory, not checked)",
)
def belt_pitch_radius(p: mm, z: one) -> mm:
    """Pitch radius of a toothed-belt sprocket from belt pitch p and tooth count z; the pitch line lies in the cords."""
    return p * z / (2 * np.pi)


@formula(symbol="Delta_l", source=OWN)
def slack_in_tight_run(Delta_h: mm, beta: deg) -> mm:
    """Length that the tight run has too much when the cam comes nearer by Delta_h; beta between run and cylinder axis.

    The tight run is the one that pulls the cam.  No idler or tensioner may touch it.
    """
    return Delta_h * np.cos(beta)


@formula(symbol="phi_cam", source=OWN)
def cam_retard(Delta_l: mm, r: mm) -> deg:
    """Angle by which the cam lags: its sprocket turns back until the tight run is taut.  Negative: it leads."""
    return Delta_l / r
