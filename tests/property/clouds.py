"""Clouds of points over a face, and their flatness by a linear program."""

import numpy as np
from scipy.optimize import linprog


def cloud(kind, n, rng):
    match kind:
        case "cube":
            return rng.random((n, 3))
        case "face":  # a head of 0.4 by 0.15 m with hundredths of a millimetre
            return np.c_[rng.random((n, 2)) * (0.4, 0.15), rng.normal(0, 1e-5, n)]
        case "tilted":
            return np.c_[rng.random((n, 2)), rng.normal(0, 1e-5, n)] @ [[1, 0, 0.3], [0, 1, -0.2], [0, 0, 1]]
        case "integer heights":
            return np.c_[rng.random((n, 2)), rng.integers(0, 4, n) * 1e-3]
        case "integer face":
            return np.c_[rng.integers(0, 8, (n, 2)) * 0.05, rng.integers(0, 5, n) * 1e-5]
        case "integer cube":
            return rng.integers(0, 5, (n, 3)).astype(float)
        case "collinear half":
            points = rng.random((n, 3))
            points[: n // 2, 1:] = points[: n // 2, :1] * (1, 2)
            return points
        case "coplanar":
            xy = rng.random((n, 2))
            return np.c_[xy, xy @ (0.3, -0.2)]
        case "repeated":
            return rng.random((max(n // 4, 5), 3))[rng.integers(0, max(n // 4, 5), n)]
        case "crown":
            xy = rng.random((n, 2)) - 0.5
            return np.c_[xy, -0.1 * (xy**2).sum(axis=1)]
        case "few":
            return rng.random((4, 3))
    raise AssertionError(kind)


def program(points):
    """Zone height along z by the linear program with one row a point and plane; and the planes' slopes."""
    x, y, z = (points - (points.min(axis=0) + points.max(axis=0)) / 2).T
    size, rise = max(np.ptp(x), np.ptp(y)), np.ptp(z)
    one, none = np.ones_like(x), np.zeros_like(x)
    rows = np.concatenate([np.stack([-x, -y, -one * size, none]), np.stack([x, y, none, one * size])], axis=1).T / size
    bounds = np.concatenate([-z, z]) / rise
    found = linprog((0, 0, 1, -1), A_ub=rows, b_ub=bounds, bounds=[(None, None)] * 4, method="highs-ds",
                    options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10})  # fmt: skip
    assert found.status == 0, found.message
    return found.x[0] * rise / size, found.x[1] * rise / size
