"""Angles of the timing: locking bar, marks and teeth, dead centre, crank and slider, and the error of a degree disc."""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import FULL_TURN, formula
from shoplib.core.units import deg, mm, one

FOUR_STROKE = "four-stroke engine: the crankshaft turns twice for one turn of the camshaft"
SLIDER = "crank and slider, exact geometry"


# ------------------------------------------------------------------------------ bars, marks, teeth
@formula(symbol="phi", source="geometry of a tilted bar")
def bar_tilt(s: mm, L_b: mm) -> deg:
    """Tilt of a locking bar that touches at one point and has a gap s at the distance L_b from it."""
    return np.arcsin(s / L_b)


@formula(symbol="theta", source=FOUR_STROKE)
def crank_from_cam(phi: deg) -> deg:
    """Crankshaft angle of a camshaft angle.  Four-stroke engines."""
    return 2 * phi


@formula(symbol="phi", source=FOUR_STROKE)
def cam_from_crank(theta: deg) -> deg:
    """Camshaft angle of a crankshaft angle.  Four-stroke engines."""
    return theta / 2


@formula(symbol="alpha_m", source="arc of a circle")
def arc_angle(b: mm, D: mm) -> deg:
    """Angle of a length b along the rim of a wheel of diameter D.  Along the rim, not straight across."""
    return 2 * b / D


@formula(symbol="alpha_m", source="equal division of a turn")
def tooth_angle(n: one, z: one) -> deg:
    """Angle of n teeth of a wheel that has z of them; n may be a half."""
    return FULL_TURN * n / z


# ------------------------------------------------------------------------------ crank and slider
@formula(symbol="x", source=SLIDER)
def piston_drop(theta: deg, l: mm, r: mm, e: mm) -> mm:
    """Piston below its highest position.  theta from the crank standing along the cylinder; offset e below l − r."""
    y_0: mm = np.sqrt((l + r) ** 2 - e**2)
    return y_0 - r * np.cos(theta) - np.sqrt(l**2 - (r * np.sin(theta) - e) ** 2)


@formula(symbol="theta_0", source="crank and rod in one line; " + SLIDER)
def top_angle(e: mm, l: mm, r: mm) -> deg:
    """Crank angle at which the piston stands highest; zero without offset."""
    return np.arcsin(e / (l + r))


@formula(symbol="q", source=SLIDER)
def pin_distance(x: mm, l: mm, r: mm, e: mm) -> mm:
    """From the crank's centre to the piston pin, with the piston x below its highest position."""
    y_0: mm = np.sqrt((l + r) ** 2 - e**2)
    return np.sqrt((y_0 - x) ** 2 + e**2)


@formula(symbol="gamma", source="cosine rule in the triangle of crank, rod and pin")
def half_angle(q: mm, l: mm, r: mm) -> deg:
    """Half of the crank angle between the two positions at which the pin stands at the distance q."""
    return np.arccos((r**2 + q**2 - l**2) / (2 * r * q))


@formula(symbol="delta", source=SLIDER)
def pin_direction(x: mm, l: mm, r: mm, e: mm) -> deg:
    """Direction of the pin seen from the crank's centre; the two positions lie half_angle to either side of it."""
    y_0: mm = np.sqrt((l + r) ** 2 - e**2)
    return np.arctan(e / (y_0 - x))


@formula(symbol="x", source="inverse of the cosine rule; " + SLIDER)
def drop_between(gamma: deg, l: mm, r: mm, e: mm) -> mm:
    """How far down the piston stands when two crank positions 2 gamma apart give the same height."""
    y_0: mm = np.sqrt((l + r) ** 2 - e**2)
    q: mm = r * np.cos(gamma) + np.sqrt(l**2 - (r * np.sin(gamma)) ** 2)
    return y_0 - np.sqrt(q**2 - e**2)


@formula(symbol="c", source="positive stop: the piston is at the same height at both readings")
def stop_correction(theta_1: deg, theta_2: deg) -> deg:
    """Where dead centre lies on the disc, after its zero: theta_1 read before the zero, theta_2 after it."""
    return (theta_2 - theta_1) / 2


@formula(symbol="gamma", source="positive stop: the piston is at the same height at both readings")
def half_sum(theta_1: deg, theta_2: deg) -> deg:
    """Half of the crank angle between the two stops; what both readings become when the disc is set right."""
    return (theta_1 + theta_2) / 2


@formula(symbol="c_e", source="difference of the two directions; " + SLIDER)
def offset_correction(delta: deg, theta_0: deg) -> deg:
    """How far the middle between the stops lies from the piston's highest position, because the pin is offset."""
    return delta - theta_0


# ------------------------------------------------------------------------------ degree disc
@formula(symbol="b_1", source="arc of a circle")
def rim_per_degree(D: mm) -> mm:
    """Length of one degree along the rim."""
    return np.pi * D / 360


@formula(symbol="epsilon_c", source="geometry of an eccentric scale: largest at a right angle to the offset")
def off_centre_error(s: mm, R: mm) -> deg:
    """Largest error of a reading at the radius R when the disc sits s off centre.  Between two readings up to twice."""
    return np.arcsin(s / R)


@formula(symbol="epsilon_s", source="geometry of a scale stretched one way: largest near 45°")
def unequal_scale_error(L_x: mm, L_y: mm) -> deg:
    """Largest error of an angle when the printer's scale differs across and along the paper; equal scales give none."""
    return np.arcsin((L_x - L_y) / (L_x + L_y))
