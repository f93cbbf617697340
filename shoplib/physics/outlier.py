"""Is one reading unlike the others: a rule that one odd reading cannot spoil."""

from __future__ import annotations

import functools
from collections.abc import Sequence

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import N_m, one, pct

# The handbook's page was read only as others quote it: formula, 0.6745 and 3.5 agree in all of them.
SOURCE = "NIST/SEMATECH e-Handbook 1.3.5.17, after Iglewicz & Hoaglin 1993 (as quoted)"
LIMIT = 3.5  # of the rule's authors: beyond it a reading is labelled a potential outlier
FEWEST = 5  # below it no score is given (chosen here, no source); the authors tried the rule on 10, 20 and 40


@formula(symbol="M_i", source=SOURCE)
def modified_z_score(x: N_m, x_med: N_m, MAD: N_m) -> one:
    """How far a reading lies from the median, in units of the spread of all.  For readings that scatter normally.

    MAD is the median of the distances from the median; it must be above zero.
    """
    return 0.6745 * (x - x_med) / MAD


@formula(symbol="e", source="quotient")
def relative_deviation(x: N_m, x_med: N_m) -> pct:
    """A reading's distance from the median, as a part of the median."""
    return (x - x_med) / x_med


def median(values: Sequence[float]) -> float:
    """The median; of an even number, the mean of the two middle values.

    :param values: readings; in any one unit, at least one
    :returns: the median; in the unit of the values
    """
    return float(np.median(values))


def median_deviation(values: Sequence[float]) -> float:
    """Median of the distances from the median (MAD), not scaled.  Zero when more than half are alike.

    :param values: readings; in any one unit, at least one
    :returns: the median distance; in the unit of the values
    """
    return float(np.median(np.abs(np.asarray(values, dtype=float) - np.median(values))))


@functools.cache
def false_alarm(readings: int, limit: float = LIMIT) -> float:
    """How often the rule names at least one of so many readings that scatter normally, by simulation to 0.005."""
    rng = np.random.default_rng(readings)
    x = rng.standard_normal((20_000, readings))
    away = np.abs(x - np.median(x, axis=1, keepdims=True))
    spread = np.median(away, axis=1, keepdims=True)
    return float((0.6745 * away > limit * spread).any(axis=1).mean())
