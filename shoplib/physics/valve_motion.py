"""The gap between an open valve and the piston over the crank angle."""

from __future__ import annotations

from typing import Any

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import deg, mm

ALONG = "distances along the valve, shoplib's own geometry"


@formula(symbol="h_0", source="sum of heights along the cylinder")
def closed_height(r_v: mm, h_g: mm, d_p: mm, p: mm) -> mm:
    """Closed valve above the piston at top dead centre, from recess, gasket, pocket and piston projection."""
    return r_v + h_g + d_p - p


@formula(symbol="e_r", source=ALONG)
def room_over_pocket(e_0: mm, h_0: mm, x: mm, Delta_h: mm, alpha: deg) -> mm:
    """Room along the valve over a pocket cut square to it, with the piston x below its highest position."""
    return e_0 + (h_0 + x - Delta_h) * np.cos(alpha)


@formula(symbol="e_r", source=ALONG)
def room_over_flat_crown(e_0: mm, h_0: mm, x: mm, Delta_h: mm, alpha: deg) -> mm:
    """Room along the valve over a crown square to the cylinder; alpha below 90°."""
    return e_0 + (h_0 + x - Delta_h) / np.cos(alpha)


@formula(symbol="e", source=ALONG)
def open_gap(e_r: mm, L: mm) -> mm:
    """Gap that the open valve leaves of the room."""
    return e_r - L


@formula(symbol="L", source="simple harmonic motion of a cam follower, textbook law; no camshaft follows it exactly")
def harmonic_lift(L_m: mm, theta: deg, theta_c: deg, D_v: deg) -> mm:
    """Lift from the largest lift, its angle and the duration.  Within half the duration of theta_c."""
    return L_m / 2 * (1 + np.cos(2 * np.pi * (theta - theta_c) / D_v))


def lift_at(theta: Any, angles: Any, lifts: Any) -> Any:
    """Lift between the points of a measured curve, along straight lines; closed outside.

    :param theta: crank or cam angle; rad, array of any shape
    :param angles: angles of the measured points in rising order; rad, array of shape (N,)
    :param lifts: lifts there; m, array of shape (N,)
    :returns: lift; m, of the shape of theta
    """
    return np.interp(theta, angles, lifts, left=0.0, right=0.0)


def bulge_at(theta: Any, angles: Any, lifts: Any) -> Any:
    """How far a smooth curve may lie from the straight line between its points.

    The bound of linear interpolation, |L''| (θ − θ₁)(θ₂ − θ) / 2, with twice the curvature that the points show.

    :param theta: crank or cam angle; rad, array of any shape
    :param angles: angles of the measured points in rising order; rad, array of shape (N,)
    :param lifts: lifts there; m, array of shape (N,)
    :returns: the bound; m, of the shape of theta
    """
    if len(angles) < 3:
        return np.zeros_like(theta)
    gaps = np.diff(angles)
    curved = np.abs(np.diff(np.diff(lifts) / gaps)) / ((gaps[1:] + gaps[:-1]) / 2)
    most = np.maximum(np.concatenate([[0.0], curved]), np.concatenate([curved, [0.0]]))  # of each interval
    k = np.clip(np.searchsorted(angles, theta, side="right") - 1, 0, len(gaps) - 1)
    inside = np.maximum((theta - angles[k]) * (angles[k + 1] - theta), 0.0)
    return most[k] * inside
