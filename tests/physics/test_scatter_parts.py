"""Classes, shares and correlated draws, worked by hand."""

from math import pi, sin, sqrt
from statistics import NormalDist

import numpy as np
import pytest

from shoplib.core import progress
from shoplib.physics import scatter


def test_classes():
    u = np.array([0, 0.0249, 0.0251, 0.974, 0.976, 1.0])
    assert scatter.classes(u).tolist() == [0, 0, 1, 38, 39, 39]
    assert scatter.classes(np.array([0.0, 0.49, 0.51, 1.0]), 2).tolist() == [0, 0, 1, 1]


@pytest.mark.parametrize(
    ("F", "label", "share"),
    [
        ([1, 1, 2, 2], [0, 0, 1, 1], 1.0),
        ([1, 2, 1, 2], [0, 0, 1, 1], 0.0),
        ([1, 1, 1, 1], [0, 0, 1, 1], 0.0),  # nothing to share
        # means 0.5 and 2 about 1.25: between = 0.5625 of 1.1875; chance = 0.625 / 4, taken off
        ([0, 1, 1, 3], [0, 0, 2, 2], (0.5625 - 0.625 / 4) / 1.1875),
        ([0, 10, 10, 30], [0, 0, 2, 2], (0.5625 - 0.625 / 4) / 1.1875),
        ([0, 4, 8, 8], [0, 0, 1, 1], (9 - 2 / 4) / 11),
    ],
)
def test_shares(F, label, share):
    found = scatter.shares(np.array(F, float), {"one": np.array(label), "other": np.zeros(4, int)})
    assert found == {"one": pytest.approx(share), "other": 0.0}


@pytest.mark.parametrize(
    ("per", "most", "mean", "torque"),
    [
        ([1, 1], [100, 100], 50, 50),
        ([1, 3], [100, 60], 50, 40),  # the second is at its limit: (40 + 60) / 2
        ([1, 1], [40, 10], 26, 42),  # cannot be reached: where the last one came to its limit
        ([2, 4], [100, 100], 30, 10),
        ([1, 1, 1], [30, 100, 10], 30, 50),
    ],
)
def test_torque_for_a_mean(per, most, mean, torque):
    found = scatter.torque_for_mean(np.array(per, float), np.array(most, float), float(mean))
    assert found == pytest.approx(torque)


def test_more_draws_than_the_first_part():
    per = np.concatenate([np.full(50_000, 1.0), np.full(50_000, 3.0)])
    heard = []
    with progress.listening(lambda p: heard.append((p.done, p.total))):
        assert scatter.torque_for_mean(per, np.full(100_000, 1e9), 50.0) == pytest.approx(25)
    # one step from the mean of all, 25 N·m, to the mean of the first part, and one back
    assert heard == [(0, 80), (1, 80), (40, 80), (41, 80)]


@pytest.mark.parametrize("r", [0.0, 0.5, 0.999])
def test_correlated_draws(r):
    a, b = scatter.correlated(np.random.default_rng(3), 40, r)
    rng, g, cdf = np.random.default_rng(3), 2 * sin(pi * r / 6), NormalDist().cdf
    first, second = rng.standard_normal(40), rng.standard_normal(40)
    assert a == pytest.approx([cdf(x) for x in first])
    assert b == pytest.approx([cdf(g * x + sqrt(1 - g * g) * y) for x, y in zip(first, second, strict=True)])


def test_full_correlation_is_the_same_draw():
    a, b = scatter.correlated(np.random.default_rng(3), 40, 1.0)
    assert a.tolist() == b.tolist() == np.random.default_rng(3).random(40).tolist()
