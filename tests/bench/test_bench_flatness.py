"""How long an exact minimum zone takes, beside the linear program on all points."""

import resource

import numpy as np
import pytest

from shoplib.physics.flatness import minimum_zone
from tests.property.clouds import cloud, program


def heights(kind, n):
    return cloud(kind, n, np.random.default_rng(7))


@pytest.mark.parametrize("kind", ["cube", "face", "crown"])
@pytest.mark.parametrize("n", [1_000, 100_000, 1_000_000])
def test_minimum_zone(benchmark, kind, n):
    points = heights(kind, n)
    benchmark.extra_info["width"] = benchmark(minimum_zone, points).width
    benchmark.extra_info["peak_MB"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    print(f"\n{kind}, {n} points: {benchmark.extra_info}")


@pytest.mark.parametrize("kind", ["cube", "crown"])
def test_linear_program_on_all_points_one_pass(benchmark, kind):
    benchmark.pedantic(program, args=(heights(kind, 100_000),), rounds=2)
