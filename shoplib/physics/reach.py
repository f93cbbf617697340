"""Reach of a bolt into its hole, and what is left of a used bolt.  Depths count from the deck face, downwards."""

from __future__ import annotations

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import mm

_LENGTHS = "sum of lengths along the bolt's axis"


@formula(symbol="l_P", source=_LENGTHS)
def reach(l: mm, t_S: mm) -> mm:
    """Length of the bolt below the deck face: length under the head less the stack it clamps.  Negative: too short."""
    return l - t_S


@formula(symbol="l_E", source="overlap of the bolt's thread with the hole's, along the axis")
def engagement(l_P: mm, b: mm, t_1: mm, t_2: mm) -> mm:
    """Length over which the two threads hold: the bolt's from l_P − b to l_P, the hole's from t_1 to t_2.

    Negative: the threads do not meet, by that much.
    """
    z_1: mm = np.maximum(t_1, l_P - b)
    z_2: mm = np.minimum(t_2, l_P)
    return z_2 - z_1


@formula(symbol="c_B", source=_LENGTHS)
def bottom_clearance(h: mm, l_P: mm) -> mm:
    """Room left below the bolt's tip.  Zero or less: the bolt stands on the bottom and clamps nothing."""
    return h - l_P


@formula(symbol="c_S", source=_LENGTHS)
def shank_clearance(t_1: mm, l_P: mm, b: mm) -> mm:
    """Room left between the end of the bolt's thread and the first thread of the hole.  Zero or less: it jams there."""
    return t_1 - (l_P - b)


@formula(symbol="c_T", source=_LENGTHS)
def thread_clearance(t_2: mm, l_P: mm) -> mm:
    """Full thread left below the bolt's tip.  Below zero: the tip runs into the run-out of the thread."""
    return t_2 - l_P


# ------------------------------------------------------------------------------ used bolts
@formula(symbol="Delta_l", source="difference of a measured length and its limit")
def length_margin(l_max: mm, l: mm) -> mm:
    """What a bolt may still be longer before it is at its maximum length."""
    return l_max - l


@formula(symbol="Delta_d", source="difference of a measured diameter and its limit")
def diameter_margin(d: mm, d_min: mm) -> mm:
    """What a bolt is still thicker than its minimum diameter."""
    return d - d_min


@formula(symbol="N", source="difference of two diameters of one bolt")
def necking(d_ref: mm, d: mm) -> mm:
    """How much thinner a bolt is where it has stretched than where it has not."""
    return d_ref - d


@formula(symbol="Delta_N", source="difference of the necking and its limit")
def necking_margin(N_max: mm, N: mm) -> mm:
    """What a bolt may still neck before it is at its limit."""
    return N_max - N
