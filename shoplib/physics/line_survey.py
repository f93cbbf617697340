"""Heights of a surface from angles read along lines that meet at named places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core.errors import ShoplibError
from shoplib.physics.flatness import step_height


@dataclass(frozen=True)
class SteppedLine:
    """Readings of one line: the angle at each step, from one named place to another."""

    name: str
    start: str
    end: str
    angles: tuple[float, ...]


@dataclass(frozen=True)
class Closure:
    """Where a line meets a place whose height is already known: what it says there more than is known."""

    line: str
    place: str
    error: float


@dataclass(frozen=True)
class Survey:
    """Heights of all stations of all lines, the places' heights, and how the lines close."""

    points: Any  # (N, 3), in the order of the lines
    of_line: tuple[str, ...]
    places: dict[str, float]
    closures: tuple[Closure, ...]
    gain: float  # no height is out by more than this many times the largest error of one step


class NoNet(ShoplibError, ValueError):
    """Lines that do not hang together."""


def survey(lines: Sequence[SteppedLine], places: dict[str, tuple[float, float]], foot: float) -> Survey:
    """Heights from step readings along lines that meet at named places.

    After Moody, How to Calibrate Surface Plates in the Plant, The Tool Engineer, October 1955.

    The first two lines that cross set the reference plane: the ends of each come out at one height.  Every
    further line is tied at the outermost two of its places that are known; at the others it closes with an
    error, which is reported and not spread.  Heights count from the lowest station.  SI: metres, radians.

    :param lines: step readings of each line in rad, and the places that it meets; SteppedLines
    :param places: x and y of each named place; m
    :param foot: distance of the feet of the level; m
    :returns: heights in m, and how each line closes
    :raises NoNet: a line meets fewer than two places that are known
    """
    known: dict[str, float] = {}
    gains: dict[str, float] = {}
    most = 0.0
    closures: list[Closure] = []
    profiles = []
    for k, line in enumerate(lines):
        raw = np.concatenate([[0.0], np.cumsum([step_height(foot, a) for a in line.angles])])
        steps = np.linspace(0.0, 1.0, len(raw))
        level = raw - raw[-1] * steps
        met = _places_on(line, places, len(raw))
        ties = [(p, i) for p, i in met if p in known]
        own = (len(raw) - 1) / 2  # a line that is level at both ends: n steps out by one, half of them each way
        gain = own
        if k == 0:
            height = level
        elif k == 1:
            if not ties:
                raise NoNet(f"line {line.name} does not cross the first line")
            height = level + known[ties[0][0]] - level[ties[0][1]]
            gain += own + gains[ties[0][0]]
            ties = ties[:1]
        else:
            if len(ties) < 2:
                raise NoNet(f"line {line.name} meets fewer than two places that are known; give the lines in order")
            (p, i), (q, j) = ties[0], ties[-1]
            first, last = known[p] - level[i], known[q] - level[j]
            height = level + first + (last - first) * (steps - steps[i]) / (steps[j] - steps[i])
            share = (steps - steps[i]) / (steps[j] - steps[i])
            gain += float(np.max(np.abs(1 - share) * (gains[p] + own) + np.abs(share) * (gains[q] + own)))
            closures += [Closure(line.name, s, float(height[m] - known[s])) for s, m in ties[1:-1]]
        most = max(most, gain)
        for place, i in met:
            known.setdefault(place, float(height[i]))
            gains.setdefault(place, gain)
        (x0, y0), (x1, y1) = places[line.start], places[line.end]
        profiles.append(np.stack([x0 + (x1 - x0) * steps, y0 + (y1 - y0) * steps, height], axis=1))
    points = np.concatenate(profiles)
    lowest = float(points[:, 2].min())
    points[:, 2] -= lowest
    names = tuple(line.name for line, p in zip(lines, profiles, strict=True) for _ in p)
    return Survey(points, names, {p: z - lowest for p, z in known.items()}, tuple(closures), most)


def _places_on(line: SteppedLine, places: dict[str, tuple[float, float]], stations: int) -> list[tuple[str, int]]:
    """Named places at stations of this line, in order along it."""
    a, b = np.array(places[line.start]), np.array(places[line.end])
    along = b - a
    length = float(along @ along)
    found = []
    for name, xy in places.items():
        t = float((np.array(xy) - a) @ along) / length
        off = np.abs(np.array(xy) - a - t * along).max()
        station = round(t * (stations - 1))
        near = 0.01 / (stations - 1)
        if 0 <= station < stations and abs(t - station / (stations - 1)) < near and off < near * np.sqrt(length):
            found.append((name, station))
    return sorted(found, key=lambda f: f[1])
