"""The worst corner of the ranges that were typed, for many lanes at once.

A lane is one combination of the ends of all ranges.  :func:`shoplib.core.checks.corners` does the same for a function
of numbers; here the function takes arrays, so that a form stays quick.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from typing import Any

import numpy as np

Range = tuple[float, float]


def lanes(points: Mapping[str, int] | None = None, /, **ranges: Range) -> dict[str, Any]:
    """Each input's value in every lane: all combinations of the ends of the ranges.

    ``points``: how many values to take of a range where its ends alone do not suffice.

    :param points: input to how many values of its range are taken; without it two, the ends
    :param ranges: each input's least and largest value; in SI
    """
    values = [_values(ends, (points or {}).get(name, 2)) for name, ends in ranges.items()]
    return dict(zip(ranges, np.array(list(itertools.product(*values)), dtype=float).T, strict=True))


def _values(ends: Range, points: int) -> list[float]:
    low, high = ends
    if low == high:
        return [low]
    return [low, high] if points == 2 else [low + (high - low) * k / (points - 1) for k in range(points)]


def corner_at(found: Mapping[str, Any], lane: int) -> dict[str, float]:
    """The inputs that were typed as ranges, at a lane.

    :param found: each input's value in every lane; in SI, arrays
    :param lane: index of the lane, from 0
    """
    return {name: float(values[lane]) for name, values in found.items() if values[0] != values[-1]}
