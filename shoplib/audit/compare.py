"""What is unusual across jobs: groups of one lubricant, wrench or bolt batch against all other jobs.

Each job counts once for each measure: by its median, and by its spread (MAD ÷ median).  The groups are compared with
the rank test of Mann and Whitney; the limit is divided by the number of comparisons (Bonferroni), so that an archive
without differences gives a false alarm in at most ALARM of all audits.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np

ALARM = 0.01  # chance that an archive without differences names a group (chosen here)
FEWEST = 8  # jobs in a group and outside it; fewer are not compared
FACTORS = ("lubricant", "wrench", "bolts")


class Unusual(NamedTuple):
    """A group that differs from the other jobs by more than chance explains."""

    factor: str
    group: str
    measure: str
    what: str  # median or spread
    jobs: int
    of_group: float
    of_others: float
    chance: float  # of a difference this large, after the correction


def unusual(readings: Iterable[Mapping[str, Any]]) -> list[Unusual]:
    """The groups that differ, the least likely first."""
    import pandas
    from scipy.stats import mannwhitneyu

    frame = pandas.DataFrame(list(readings))
    if frame.empty:
        return []
    jobs = frame.groupby(["measure", "job"]).agg(
        median=("value", "median"), spread=("value", _spread), **{f: (f, "first") for f in FACTORS}
    )
    pairs = list(_pairs(jobs.reset_index()))
    found = []
    for factor, group, measure, what, inside, outside in pairs:
        chance = min(float(mannwhitneyu(inside, outside).pvalue) * len(pairs), 1.0)
        if chance < ALARM:
            found.append(Unusual(factor, group, measure, what, len(inside), float(np.median(inside)),
                                 float(np.median(outside)), chance))  # fmt: skip
    return sorted(found, key=lambda u: u.chance)


def _spread(values: Any) -> float:
    middle = float(np.median(values))
    if len(values) < 3 or middle == 0:
        return float("nan")
    return float(np.median(np.abs(values - middle))) / abs(middle)


def _pairs(jobs: Any) -> Iterator[tuple[str, str, str, str, Any, Any]]:
    for measure, part in jobs.groupby("measure"):
        for factor in FACTORS:
            for group, inside in part[part[factor] != ""].groupby(factor):
                outside = part[part[factor] != group]
                for what in ("median", "spread"):
                    a, b = inside[what].dropna().to_numpy(), outside[what].dropna().to_numpy()
                    if len(a) >= FEWEST and len(b) >= FEWEST:
                        yield factor, str(group), str(measure), what, a, b
