"""Heights in whole steps at even places: many planes are as good, and the last digit must not choose between them."""

import numpy as np
import pytest

from shoplib.physics.flatness import minimum_zone


def faces(kind, many=150):
    """Faces whose points lie alike, each with the same face out by the last digit, as another processor rounds it."""
    random = np.random.default_rng(17)
    for _ in range(many):
        columns, rows = random.integers(2, 7, 2)
        x, y = np.meshgrid(
            np.arange(columns) * random.choice([20.0, 37.5, 50.0]), np.arange(rows) * random.choice([20.0, 31.3])
        )
        x, y = x.ravel(), y.ravel()
        z = {
            "steps": lambda x=x: random.integers(-3, 4, len(x)),
            "two heights": lambda x=x: random.integers(0, 2, len(x)),
            "dome": lambda x=x, y=y: -1e-3 * ((x - x.mean()) ** 2 + (y - y.mean()) ** 2),
            "tilted": lambda x=x, y=y: np.round(0.1 * x + 0.2 * y) + random.integers(0, 3, len(x)),
        }[kind]()
        points = np.stack([x * 1e-3, y * 1e-3, z * 1e-6], axis=1)
        yield points, points * (1 + random.integers(-1, 2, points.shape) * np.finfo(float).eps)


@pytest.mark.parametrize("kind", ["steps", "two heights", "dome", "tilted"])
def test_points_that_lie_alike_give_the_same_support_whatever_the_last_digit(kind):
    for points, shaken in faces(kind):
        one, other = minimum_zone(points), minimum_zone(shaken)
        assert one.width == pytest.approx(other.width, rel=1e-9, abs=1e-15)
        if one.width < 1e-15:
            continue  # all in one plane: whatever pins it
        found = [sorted(zip(z.side, z.support, z.weight.round(6), strict=True)) for z in (one, other)]
        pins = [[(side, point) for side, point, weight in each if weight > 1e-6] for each in found]
        assert pins[0] == pins[1], points.tolist()
