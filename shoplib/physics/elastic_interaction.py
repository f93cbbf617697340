"""Bolts that share elastic parts: to tighten one compresses the parts under its neighbours, which then lose load.

Linear springs: each bolt is a spring, and the loads of all bolts compress the parts under each bolt.  How strongly a
load acts at a distance is an exponential chosen for teaching.  It is an illustration, not a prediction.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np


def coupling(places: Sequence[tuple[float, float]], k_p: float, reach: float) -> Any:
    """Compression of the parts at each place (row) for one newton at each place (column), in m/N.

    ``k_p`` is the stiffness of the parts under one bolt, ``reach`` the distance at which the effect is 1/e.

    :param places: x and y of each bolt; m, N pairs
    :param k_p: stiffness of the parts under one bolt; N/m
    :param reach: distance at which the effect is 1/e; m
    :returns: compression for each newton; m/N, array of shape (N, N)
    """
    at = np.asarray(places, float)
    return np.exp(-np.linalg.norm(at[:, None] - at[None, :], axis=2) / reach) / k_p


def tighten_in_turn(parts: Any, k_b: float, turns: Sequence[tuple[int, float]]) -> Any:
    """Loads of all bolts after each turn of the wrench; a turn is (bolt, the load that it then has).

    A bolt that is not turned keeps its nut where it is: its stretch and the compression under it add up to the same.

    :param parts: compression of the parts for each newton; m/N, array of shape (N, N)
    :param k_b: stiffness of one bolt; N/m
    :param turns: index of the bolt from 0 and the load that it then has in N; pairs in order
    :returns: loads; N, a row for each turn and a column for each bolt
    """
    count = len(parts)
    whole = parts + np.eye(count) / k_b  # nut travel for the loads
    loads, travel, tight = np.zeros(count), np.zeros(count), np.zeros(count, bool)
    found = []
    for bolt, load in turns:
        tight[bolt] = True
        others = [n for n in np.flatnonzero(tight) if n != bolt]
        loads = np.zeros(count)
        loads[bolt] = load
        if others:
            known = travel[others] - whole[others, bolt] * load
            loads[others] = np.linalg.solve(whole[np.ix_(others, others)], known)
        travel[bolt] = whole[bolt] @ loads
        found.append(loads)
    return np.array(found)
