"""Flatness from heights: minimum zone and least squares.

Points are an array of shape (N, 3) in metres: place x, y and height z.  The minimum zone is the pair of
parallel planes, nearest the nominal orientation (z), that holds every point with the least perpendicular
distance.  It is exact: the answer carries its support points, whose weights prove it.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core.errors import ShoplibError
from shoplib.core.formula import formula
from shoplib.core.rounding import NOISE, SAME
from shoplib.core.units import mm, one, rad, um

ZONE = "ISO 12781-1:2011, 3.1.1 (flatness); perpendicular distance of two parallel planes"
GUARD = (
    "ISO 14253-1:2017, default rule: 95 % conformance probability, one-sided factor 1.645 (from memory, not checked)"
)


# ------------------------------------------------------------------------------ formulas
@formula(symbol="t", source=ZONE)
def perpendicular_zone(h: mm, a: one, b: one) -> mm:
    """Perpendicular width of a zone of height h along z, whose planes climb by a along x and b along y."""
    return h / np.sqrt(1 + a**2 + b**2)


@formula(symbol="T_A", source=GUARD)
def acceptance_limit(T: mm, u: mm) -> mm:
    """Largest measured value that proves conformity, with standard uncertainty u.  For one upper limit."""
    return T - 1.645 * u


@formula(symbol="T_R", source=GUARD)
def rejection_limit(T: mm, u: mm) -> mm:
    """Measured value above which non-conformity is proved, with standard uncertainty u.  For one upper limit."""
    return T + 1.645 * u


@formula(symbol="u", source="JCGM 100:2008, definition 2.3.5, U = k u")
def standard_uncertainty(U: mm, k: one) -> mm:
    """Standard uncertainty from an expanded one and its coverage factor."""
    return U / k


@formula(
    symbol="delta_z", source="Moody, How to Calibrate Surface Plates in the Plant, The Tool Engineer, October 1955"
)
def step_height(s: mm, alpha: rad) -> um:
    """Climb over one step of a foot of length s standing at a small angle."""
    return s * np.sin(alpha)


@formula(symbol="t", source="DIN 876 (plates), DIN 874-1 (straightedges): t = constant + length / divisor")
def edge_tolerance(L: mm, t_0: um, q: one) -> um:
    """Permitted deviation of a plate or straightedge of length L by its grade."""
    return t_0 + L / q


# Grade: constant in metres, divisor of a length.  Straightedges from memory.
STRAIGHTEDGE_GRADES = {"00": (1e-6, 150e3), "0": (2e-6, 100e3), "1": (4e-6, 60e3), "2": (8e-6, 40e3)}


def probability_within(limit: float, y: float, u: float) -> float:
    """Probability that the true value lies at or below an upper limit, for a normal spread.

    JCGM 106:2012, 7.3, one-sided tolerance intervals (from memory).

    Any one unit for all three; u above zero.

    :param limit: the upper limit; in the unit of y
    :param y: the best estimate; in any one unit
    :param u: its standard uncertainty, above zero; in the unit of y
    :returns: probability; a pure number
    """
    from scipy.special import ndtr

    return float(ndtr((limit - y) / u))


# ------------------------------------------------------------------------------ the minimum zone
class NotASurface(ShoplibError, ValueError):
    """Points that span no surface: too few, not finite, or all on a line seen from above."""


@dataclass(frozen=True)
class Zone:
    """Two parallel planes that hold every point: ``lower <= normal . p <= upper``.

    ``support`` are indices of the points that pin it, ``side`` is +1 for the upper plane and -1 for the
    lower one, ``weight`` the share of each.  On either side the weights add up to 1, and
    sum(weight * side * p) = width * normal.  So no pair of planes that holds these points and is tilted by
    an angle t from this one is closer than width * cos(t): that is the certificate.
    """

    width: float
    normal: Any
    lower: float
    upper: float
    support: Any
    side: Any
    weight: Any

    @property
    def slopes(self) -> tuple[float, float]:
        """Climb of the planes along x and along y."""
        n = self.normal
        return float(-n[0] / n[2]), float(-n[1] / n[2])

    def heights(self, points: Any) -> Any:
        """Perpendicular height of each point above the lower plane: the tilt removed."""
        return np.asarray(points, float) @ self.normal - self.lower


def minimum_zone(points: Any) -> Zone:
    """Exact minimum zone, perpendicular, nearest the nominal orientation z.  Metres; at least three points.

    Within a frame the zone along its z is a linear program.  Its dual has four rows, so a simplex basis is
    four points, and pricing is one vectorised scan of all heights.  The frame is levelled on what was found
    until the tilt vanishes; then the height along z is the perpendicular width.

    :param points: x, y and height z; m, array of shape (N, 3)
    :returns: the zone: its width in m, direction and support points
    :raises NotASurface: fewer than three points, a value that is not finite, or all places on a line
    """
    points = np.asarray(points, float)
    if points.ndim != 2 or points.shape[1] != 3 or len(points) < 3:
        raise NotASurface("at least three points x, y, z are needed")
    P = np.array(points.T, order="C", copy=True)
    if not np.isfinite(P.sum()):
        raise NotASurface("a coordinate is not a finite number")
    centre = (P.min(axis=1) + P.max(axis=1)) / 2
    P -= centre[:, None]
    start = _first_four(P)
    stride = len(points) // 1000
    if stride > 1:  # a cheap first guess from every stride-th point
        sample = np.ascontiguousarray(P[:, ::stride])
        with contextlib.suppress(NotASurface):  # the sampled ones may happen to lie on a line
            start = _Search(sample).down(NOMINAL, _first_four(sample))[1] * stride
    search = _Search(P)
    normal, corners, side, weight, low, high = search.out_of_flat(search.down(NOMINAL, start))
    kept = weight > NOISE
    shift = float(normal @ centre)
    return Zone(
        float(high - low), normal, float(low) + shift, float(high) + shift, corners[kept], side[kept], weight[kept]
    )


def _first_four(P: Any) -> Any:
    """Four points whose places are not all on one line."""
    x, y = P[0], P[1]
    size = max(np.ptp(x), np.ptp(y))
    if not size > 0:
        raise NotASurface("all points are at one place")
    first = int(np.argmax(np.abs(x - x[0]) + np.abs(y - y[0])))
    second = int(np.argmax((x - x[first]) ** 2 + (y - y[first]) ** 2))
    across = (x - x[first]) * (y[second] - y[first]) - (y - y[first]) * (x[second] - x[first])
    left, right = int(np.argmax(across)), int(np.argmin(across))
    third, fourth = (left, right) if across[left] >= -across[right] else (right, left)
    length = np.hypot(x[second] - x[first], y[second] - y[first])
    if abs(across[third]) <= 1e-10 * size * length:
        raise NotASurface("all points lie on one line, seen from above")
    return np.array([first, second, third, fourth])


class _Search:
    """The descent over one set of points, P of shape (3, N), centred."""

    patience = 50  # steps without gain, after which Bland's rule chooses

    def __init__(self, P: Any) -> None:
        self.P = P
        self.size = np.abs(P).max(axis=1)

    def scan(self, v: Any) -> tuple[Any, float, float, int, int]:
        """Heights of all points along v, the greatest and the least, and the first points that are as high and as low.

        Processors round otherwise, so a difference of a few last digits does not choose a point.
        """
        r = v @ self.P
        high, low, tie = float(r.max()), float(r.min()), TIE * float(np.abs(v) @ self.size)
        return r, high, low, int(np.argmax(r >= high - tie)), int(np.argmax(r <= low + tie))

    def down(self, n: Any, corners: Any) -> Any:
        """Level again and again from the orientation n until the tilt vanishes."""
        best = np.inf
        for _ in range(200):
            tilted, corners, side, low, high = self.program(n, corners)
            _, highest, lowest, _, _ = self.scan(n)
            if highest - lowest <= (high - low) / float(tilted @ n) * (1 + 1e-13):
                low, high = lowest, highest  # level is as good as any tilt: nearest counts
            else:
                n = tilted
            B = self.basis(_frame(n), corners, side)
            weight = np.linalg.solve(B, _ONES) if abs(np.linalg.det(B)) > 1e-300 else -_ONES
            if weight.min() > -1e-11 or high - low >= best * (1 - 1e-15):
                break
            best = high - low
        return n, corners, side, np.maximum(weight, 0.0), low, high

    def basis(self, frame: Any, corners: Any, side: Any) -> Any:
        """The dual's matrix: a column is (1, 0, x, y) for an upper point and (0, 1, -x, -y) for a lower one.

        Places are scaled by the size of the set, so that its condition does not depend on the unit.
        """
        x, y = frame[:2] @ self.P[:, corners] / self.size[:2].max()
        return np.array([side > 0, side < 0, side * x, side * y], float)

    def program(self, n: Any, corners: Any) -> Any:
        """The zone of least height along n: revised simplex on the dual of the linear program."""
        frame = _frame(n)
        scale = self.size[:2].max()
        side = self.partition(frame, corners)
        corners = corners.copy()
        stalled, before = 0, -np.inf
        while True:
            B = self.basis(frame, corners, side)
            cost = side * (n @ self.P[:, corners])
            high, minus_low, a, b = np.linalg.solve(B.T, cost)
            v = n - (a * frame[0] + b * frame[1]) / scale
            r, highest, lowest, top, bottom = self.scan(v)
            over, under = highest - high, -minus_low - lowest
            reach = float(np.abs(v) @ self.size)
            tolerance, worst = 4 * np.finfo(float).eps * reach, max(over, under)
            if worst <= (NOISE * reach if stalled > 3 else tolerance) or stalled > 2000:  # points that lie alike
                length = float(np.linalg.norm(v))
                return v / length, corners, side, lowest / length, highest / length
            height = high + minus_low
            stalled = 0 if height > before + tolerance else stalled + 1
            before = max(before, height)
            enter, sign = (top, 1.0) if over >= under - TIE * reach else (bottom, -1.0)
            if stalled > self.patience:  # Bland's rule: the first that improves, so that no cycle can last
                enter = int(np.argmax((r > high + tolerance) | (r < -minus_low - tolerance)))
                sign = 1.0 if r[enter] > high else -1.0
            x, y = frame[:2] @ self.P[:, enter] / scale
            column = np.array([sign > 0, sign < 0, sign * x, sign * y], float)
            weight, change = np.linalg.solve(B, np.stack([_ONES, column], axis=1)).T
            ratio = np.full(4, np.inf)
            falling = change > 1e-11
            ratio[falling] = np.maximum(weight[falling], 0.0) / change[falling]
            ties = np.flatnonzero(ratio <= ratio.min() + NOISE)
            most = change[ties] >= change[ties].max() * (1 - SAME)
            leave = ties[np.argmin(corners[ties])] if stalled > self.patience else ties[np.argmax(most)]
            corners[leave], side[leave] = enter, sign

    def partition(self, frame: Any, corners: Any) -> Any:
        """Radon's partition of four places: which are upper, which lower, so that the two parts meet."""
        x, y, z = frame @ self.P[:, corners]
        scale = self.size[:2].max()
        c = np.linalg.svd(np.array([np.ones(4), x / scale, y / scale]))[2][3]
        height = c @ z
        if abs(height) <= TIE * self.size.max():  # all four in one plane: the first share that counts is upper
            height = c[np.argmax(np.abs(c) > SAME)]
        return np.where(np.sign(height) * c > NOISE, 1.0, -1.0)  # the shares add up to zero, so there are both

    def out_of_flat(self, found: Any) -> Any:
        """Where the height stays the same as the planes tilt, the perpendicular width still shrinks: follow it."""
        for _ in range(20):
            ways = self.flat_ways(found)
            tried = [self.down(_unit(found[0] - 1e-3 * t), found[1]) for t in ways]
            better = [f for f in tried if f[5] - f[4] < (found[5] - found[4]) * (1 - 1e-13)]
            if not better:
                break
            found = max(better, key=lambda f: round(float(f[0][2]), 12))  # the one nearest the nominal orientation
        return found

    def flat_ways(self, found: Any) -> list[Any]:
        """Directions of tilt that leave the height as it is; none when the support pins the planes strictly."""
        n, corners, side, weight, low, high = found
        if weight.min() > SAME:
            return []
        frame = _frame(n)
        tolerance = NOISE * float(self.size.max()) * 8
        if high - low <= tolerance:
            return []  # all in one plane: nothing can be narrower
        r = n @ self.P
        on_top, on_bottom = r >= high - tolerance, r <= low + tolerance
        place = frame[:2] @ self.P[:, corners[side > 0]] @ weight[side > 0]
        arms = np.concatenate([
            (frame[:2] @ self.P[:, on_top]).T - place, place - (frame[:2] @ self.P[:, on_bottom]).T
        ])  # fmt: skip
        arms = arms[np.hypot(*arms.T) > SAME * float(self.size.max())]
        if len(arms) == 0:
            angles = np.arange(8) * np.pi / 4
            return [np.cos(t) * frame[0] + np.sin(t) * frame[1] for t in angles]
        angles = np.arctan2(arms[:, 1], arms[:, 0])
        angles = np.sort(np.where(angles < SAME - np.pi, angles + 2 * np.pi, angles))  # −180° is 180°
        gaps = np.diff(np.append(angles, angles[0] + 2 * np.pi))
        ways = []
        for start, gap in zip(angles, gaps, strict=True):
            if gap >= np.pi - SAME:  # every arm lies in the opposite half: tilting toward it opens nothing
                middle = start + gap / 2 + np.pi
                spread = (gap - np.pi) / 2
                for t in (middle,) if spread < 1e-6 else (middle - spread / 2, middle, middle + spread / 2):
                    ways.append(np.cos(t) * frame[0] + np.sin(t) * frame[1])
        return ways


_ONES = np.array([1.0, 1.0, 0.0, 0.0])
TIE = 2.0**-48  # relative to the reach of the points: what lies as near as this is in one plane
NOMINAL = np.array([0.0, 0.0, 1.0])


def _unit(v: Any) -> Any:
    return v / np.linalg.norm(v)


def _frame(n: Any) -> Any:
    """Two axes across n, and n: the rotation that levels n by the shortest way."""
    k = 1 / (1 + n[2])  # a zone stays within a quarter turn of the nominal: never one by zero
    return np.array([
        [1 - k * n[0] ** 2, -k * n[0] * n[1], -n[0]],
        [-k * n[0] * n[1], 1 - k * n[1] ** 2, -n[1]],
        n,
    ])  # fmt: skip


# ------------------------------------------------------------------------------ other measures of a surface
@dataclass(frozen=True)
class Plane:
    """Least-squares plane: unit normal and the lowest and highest level of the points along it."""

    normal: Any
    lower: float
    upper: float

    @property
    def width(self) -> float:
        """Peak to valley about the plane."""
        return self.upper - self.lower


def least_squares_plane(points: Any) -> Plane:
    """Plane of least squared perpendicular distances (LSPL of ISO 12781-1), and the peak to valley about it.

    :param points: x, y and height z; m, array of shape (N, 3)
    :returns: the plane, and the peak to valley about it in m
    """
    points = np.asarray(points, float)
    middle = points.mean(axis=0)
    centred = points - middle
    _, axes = np.linalg.eigh(centred.T @ centred)
    n = axes[:, 0] if axes[2, 0] >= 0 else -axes[:, 0]
    r = centred @ n
    shift = float(n @ middle)
    return Plane(n, float(r.min()) + shift, float(r.max()) + shift)


def cut_along(points: Any, normal: Any) -> float:
    """Depth of the cut, from first touch to clean all over, by planes square to the given direction.

    :param points: x, y and height z; m, array of shape (N, 3)
    :param normal: direction of the cut, of any length; array of shape (3,)
    :returns: depth of the cut; m
    """
    r = np.asarray(points, float) @ _unit(np.asarray(normal, float))
    return float(r.max() - r.min())
