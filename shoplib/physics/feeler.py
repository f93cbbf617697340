"""Straightedge and feeler leaves: a reading is a bracket; where a line crosses a face; what an edge sees.

SI throughout: metres.  A face is a polygon with holes, seen from above.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.rounding import NOISE, SAME
from shoplib.core.units import mm

LEAF = "definition of a feeler reading: a leaf that fits proves a gap of at least its thickness"
ROCKS = "geometry of three points: gaps at the ends, the other end pressed down (derived here)"


@formula(symbol="g_low", source=LEAF)
def gap_at_least(t_goes: mm, e: mm) -> mm:
    """Gap that is proved by the thickest leaf that fits, the straightedge itself being out by up to e.

    A value below zero proves nothing.
    """
    return t_goes - e


@formula(symbol="g_high", source=LEAF)
def gap_at_most(t_no: mm, e: mm) -> mm:
    """Gap that is excluded by the thinnest leaf that does not fit, the straightedge itself being out by up to e."""
    return t_no + e


@formula(symbol="g", source=ROCKS)
def balanced_gap(g_1: mm, g_2: mm) -> mm:
    """Gap at both ends alike of an edge that rocks, from the gap at each end while the other is pressed down."""
    return g_1 * g_2 / (g_1 + g_2)


# ------------------------------------------------------------------------------ a bracket
@dataclass(frozen=True)
class Bracket:
    """The gap is at least ``low`` and below ``high``; ``high`` is infinite when nothing bounds it."""

    low: float = 0.0
    high: float = math.inf


def balanced(one: Bracket, other: Bracket) -> Bracket:
    """Bracket of the balanced gap; it grows with the gap at either end, so the ends of the brackets give its ends.

    :param one: gap at one end; a Bracket in m
    :param other: gap at the other end; a Bracket in m
    :returns: the balanced gap; a Bracket in m
    """
    low = balanced_gap(one.low, other.low) if one.low > 0 and other.low > 0 else 0.0
    if math.isinf(one.high) or math.isinf(other.high):  # the balanced gap is below the smaller of the two
        return Bracket(low, min(one.high, other.high))
    return Bracket(low, balanced_gap(one.high, other.high))


# ------------------------------------------------------------------------------ the face from above
@dataclass(frozen=True)
class Round:
    """A round hole."""

    x: float
    y: float
    diameter: float


@dataclass(frozen=True)
class Face:
    """A polygon and its holes: round ones, or polygons given by their corners."""

    corners: Any
    round_holes: Sequence[Round] = ()
    holes: Sequence[Any] = field(default_factory=tuple)

    @property
    def size(self) -> float:
        """The longer side of the box around it."""
        return float(np.ptp(np.asarray(self.corners, float), axis=0).max())

    def holds(self, x: float, y: float) -> bool:
        """Is this place on the face?  Its rim and the rims of its holes are."""
        slack = SAME * self.size
        if not _inside(self.corners, x, y, slack, rim=True):
            return False
        if any(math.hypot(x - h.x, y - h.y) < h.diameter / 2 - slack for h in self.round_holes):
            return False
        return not any(_inside(h, x, y, slack, rim=False) for h in self.holes)


def self_crossing(corners: Any) -> tuple[int, int] | None:
    """Two sides of a closed polygon that cross or touch out of turn, by number from 0; None when it is sound.

    :param corners: x and y of each corner in order; m, array of shape (N, 2)
    :returns: the two sides, or None
    """
    P = np.asarray(corners, float)
    n = len(P)
    size = float(np.ptp(P, axis=0).max()) or 1.0
    short = np.hypot(*(np.roll(P, -1, axis=0) - P).T) < NOISE * size
    if short.any():
        return int(short.argmax()), int(short.argmax())
    for i in range(n):
        a, b = P[i], P[(i + 1) % n]
        for j in range(i + 1, n):
            c, d = P[j], P[(j + 1) % n]
            if j == i + 1 or (i == 0 and j == n - 1):
                pivot, u, v = (b, a, d) if j == i + 1 else (a, b, c)
                if abs(_cross(u - pivot, v - pivot)) < NOISE * size**2 and (u - pivot) @ (v - pivot) > 0:
                    return i, j  # folds back on itself
            elif _meet(a, b, c, d):
                return i, j
    return None


def spans(start: Any, end: Any, face: Face) -> list[tuple[float, float]]:
    """Where the line from start to end lies on the face: pieces (from, to), in metres along the line.

    :param start: x and y of the start; m, array of shape (2,)
    :param end: x and y of the end, another place; m, array of shape (2,)
    :param face: outline and holes; a Face in m
    :returns: the pieces in order; m from the start
    """
    a, b = np.asarray(start, float), np.asarray(end, float)
    length = float(np.hypot(*(b - a)))
    u = (b - a) / length
    cuts = {0.0, length}
    for polygon in (face.corners, *face.holes):
        P = np.asarray(polygon, float)
        for c, d in zip(P, np.roll(P, -1, axis=0), strict=True):
            across = _cross(u, d - c)
            if across:  # the ends of a side along the line are where its neighbours meet the line
                cuts.add(_cross(c - a, d - c) / across)
    for h in face.round_holes:
        centre = np.array([h.x, h.y])
        along, aside = float((centre - a) @ u), abs(_cross(u, centre - a))
        if aside < h.diameter / 2:
            half = math.sqrt((h.diameter / 2) ** 2 - aside**2)
            cuts |= {along - half, along + half}
    marks = sorted(t for t in cuts if 0 <= t <= length)
    found: list[tuple[float, float]] = []
    for t0, t1 in itertools.pairwise(marks):
        if t1 - t0 > SAME * face.size and face.holds(*(a + (t0 + t1) / 2 * u)):
            if found and t0 - found[-1][1] <= SAME * face.size:
                found[-1] = (found[-1][0], t1)
            else:
                found.append((t0, t1))
    return found


def _cross(u: Any, v: Any) -> float:
    return float(u[0] * v[1] - u[1] * v[0])


def _meet(a: Any, b: Any, c: Any, d: Any) -> bool:
    """Do two pieces of line have a point in common?"""
    size = max(np.ptp([a, b, c, d], axis=0))
    one, two = _cross(b - a, c - a), _cross(b - a, d - a)
    three, four = _cross(d - c, a - c), _cross(d - c, b - c)
    near = NOISE * size**2
    if one * two < -(near**2) and three * four < -(near**2):
        return True
    for p, q, r, side in ((a, b, c, one), (a, b, d, two), (c, d, a, three), (c, d, b, four)):
        slack = NOISE * size
        if abs(side) <= near and (np.minimum(p, q) - slack <= r).all() and (r <= np.maximum(p, q) + slack).all():
            return True
    return False


def _inside(corners: Any, x: float, y: float, slack: float, *, rim: bool) -> bool:
    """Even-odd rule; ``rim`` says whether the outline itself counts as inside."""
    P = np.asarray(corners, float)
    inside = False
    for (x0, y0), (x1, y1) in zip(P, np.roll(P, -1, axis=0), strict=True):
        dx, dy = x1 - x0, y1 - y0
        t = min(max(((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy), 0.0), 1.0)
        if math.hypot(x - x0 - t * dx, y - y0 - t * dy) <= slack:
            return rim
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) / dy * dx:
            inside = not inside
    return inside


# ------------------------------------------------------------------------------ what an edge sees
@dataclass(frozen=True)
class StraightedgeRest:
    """Largest gap under an edge balanced on a profile, where it is, where the edge touches; does it rock?"""

    gap: float
    at: float
    touches: tuple[float, ...]
    rocks: bool


def laid_on(t: Any, z: Any) -> StraightedgeRest:
    """Lay a straightedge on a profile of heights z at places t in rising order.

    The profile's least zone decides: with two high points and a dip between them the edge lies still; on one
    high point between two low ends it rocks, and the gap is that of the balanced edge.

    :param t: places along the edge in rising order; m, array of shape (N,)
    :param z: heights of the profile there; m, array of shape (N,)
    :returns: gap, its place and where the edge touches; in m
    """
    t, z = np.asarray(t, float), np.asarray(z, float)
    hull = _upper(t, z)
    dip = np.interp(t, t[hull], z[hull]) - z
    floor = _upper(t, -z)
    rise = z - np.interp(t, t[floor], z[floor])
    if dip.max() >= rise.max():  # the edge lies on two high points
        k = int(dip.argmax())
        if dip[k] <= NOISE * float(np.ptp(t)):
            return StraightedgeRest(0.0, float(t[0]), (float(t[0]), float(t[-1])), False)
        right = int(np.searchsorted(t[hull], t[k]))
        return StraightedgeRest(float(dip[k]), float(t[k]), (float(t[hull][right - 1]), float(t[hull][right])), False)
    k = int(rise.argmax())
    right = int(np.searchsorted(t[floor], t[k]))
    return StraightedgeRest(float(rise[k]), float(t[floor][right]), (float(t[k]),), True)


def _upper(t: Any, z: Any) -> list[int]:
    """Corners of the upper hull of a profile."""
    hull: list[int] = []
    t, z = t.tolist(), z.tolist()  # one number at a time is many times quicker from a list
    for k in range(len(t)):
        while len(hull) > 1:
            i, j = hull[-2], hull[-1]
            if (z[j] - z[i]) * (t[k] - t[i]) <= (z[k] - z[i]) * (t[j] - t[i]):
                hull.pop()
            else:
                break
        hull.append(k)
    return hull
