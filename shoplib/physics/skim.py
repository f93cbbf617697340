"""What a cut takes away: height, combined removal, net drop, valve-to-piston clearance, and the gasket's grade."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shoplib.core import rounding
from shoplib.core.formula import formula
from shoplib.core.units import deg, mm, one


# ------------------------------------------------------------------------------ height
@formula(symbol="H_after", source="difference of heights")
def height_after(H: mm, c_H: mm) -> mm:
    """Height of the head after a cut c_H, from the height H before it.  For a cut parallel to the face."""
    return H - c_H


@formula(symbol="R_H", source="difference of heights")
def head_removed(H_new: mm, H_after: mm) -> mm:
    """What all cuts together have taken off the head, from its height when new."""
    return H_new - H_after


@formula(symbol="R_HB", source="sum of removals")
def combined_removed(R_H: mm, c_B: mm) -> mm:
    """What head and block together have lost; c_B is the sum of all cuts of the block's deck."""
    return R_H + c_B


@formula(symbol="c_max", source="difference of heights")
def largest_cut(H: mm, H_min: mm) -> mm:
    """The most that may still be cut before the head is below its minimum height; negative: already below."""
    return H - H_min


@formula(symbol="Delta_h", source="difference of heights along the cylinder axis")
def net_drop(c_H: mm, c_B: mm, g: mm) -> mm:
    """How far the head with its camshaft comes nearer to the crankshaft; g is what the new gasket is thicker by."""
    return c_H + c_B - g


# ------------------------------------------------------------------------------ valve-to-piston clearance
@formula(symbol="e_after", source="component of the drop along the valve, shoplib's own geometry")
def clearance_over_pocket(e: mm, Delta_h: mm, alpha: deg) -> mm:
    """Clearance along the valve over a pocket cut square to it; alpha from the cylinder axis, below 90°."""
    return e - Delta_h * np.cos(alpha)


@formula(symbol="e_after", source="distance along the valve to a flat crown, shoplib's own geometry")
def clearance_over_flat_crown(e: mm, Delta_h: mm, alpha: deg) -> mm:
    """Clearance along the valve over a crown square to the cylinder; alpha as above, below 90°."""
    return e - Delta_h / np.cos(alpha)


# ------------------------------------------------------------------------------ valve lash
@formula(symbol="s_after", source="sum of lengths along the valve, shoplib's own geometry")
def lash_after_tip_rise(s: mm, t: mm) -> mm:
    """Lash at a valve whose camshaft is in the head; t is how much higher the stem is after work on seat or valve."""
    return s - t


@formula(symbol="s_after", source="lever: both arms turn by one angle, shoplib's own geometry")
def lash_after_drop(s: mm, i_R: one, Delta_h: mm, beta: deg, t: mm) -> mm:
    """Lash at a valve with pushrod and rocker of ratio i_R, the camshaft in the block; beta from the cylinder axis."""
    return s - i_R * Delta_h * np.cos(beta) - t


@formula(symbol="h_new", source="sum of lengths along the valve, shoplib's own geometry")
def shim_for_lash(h: mm, s: mm, s_w: mm) -> mm:
    """Shim that gives the lash s_w, in place of the shim h that gives the lash s."""
    return h + s - s_w


# ------------------------------------------------------------------------------ piston projection and grade
@formula(symbol="P_m", source="arithmetic mean")
def mean_of_two(P_1: mm, P_2: mm) -> mm:
    """Projection of a piston from two readings, one on each side along the pin: tilt drops out."""
    return (P_1 + P_2) / 2


@dataclass(frozen=True)
class Grade:
    """A gasket of the table and the projections it serves, ends included, in metres; None is an open end."""

    name: str
    low: float | None
    high: float | None

    def holds(self, low: float, high: float) -> bool:
        """Does any of the projections from low to high fall in this grade?"""
        above = self.low is None or rounding.at_most(self.low, high)
        return above and (self.high is None or rounding.at_most(low, self.high))

    def holds_all(self, low: float, high: float) -> bool:
        """Do all of the projections from low to high fall in this grade?"""
        above = self.low is None or rounding.at_most(self.low, low)
        return above and (self.high is None or rounding.at_most(high, self.high))

    @property
    def middle(self) -> float:
        """For putting grades in order."""
        ends = [x for x in (self.low, self.high) if x is not None]
        return sum(ends) / len(ends)


def grades_at(projection: float, grades: Sequence[Grade], u: float = 0.0) -> tuple[list[Grade], str]:
    """The grades that a projection (m), known to ± u, may call for, and which case it is.

    Cases: ``one``; ``boundary`` (a printed boundary belongs to two); ``near`` (± u reaches out of it);
    ``overlap``; ``gap`` (between two: both neighbours are returned); ``below`` and ``above`` the whole table.

    :param projection: piston above the deck; m
    :param grades: rows of the maker's table; Grades in m
    :param u: expanded uncertainty of the projection; m
    :returns: the grades, and the code of the case
    """
    ordered = sorted(grades, key=lambda g: g.middle)
    exact = [g for g in ordered if g.holds(projection, projection)]
    reached = [g for g in ordered if g.holds(projection - u, projection + u)]
    if len(exact) > 1:
        ends = [x for g in exact for x in (g.low, g.high) if x is not None]
        at_an_end = any(rounding.same(projection, x) for x in ends)
        return reached, "boundary" if at_an_end else "overlap"
    if len(exact) == 1:
        whole = exact[0].holds_all(projection - u, projection + u)
        return reached, "one" if len(reached) == 1 and whole else "near"
    if reached:  # in no grade, though not for certain
        return reached, "near"
    under = [g for g in ordered if g.high is not None and g.high < projection]
    over = [g for g in ordered if g.low is not None and g.low > projection]
    if under and over:
        return [under[-1], over[0]], "gap"
    return (over[:1], "below") if over else (under[-1:], "above")
