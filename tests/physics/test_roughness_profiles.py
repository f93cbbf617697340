"""Ra, Rq and Rz of profiles whose values are known: square and sine (common textbook integrals), and a known offset."""

import math

import numpy as np
import pytest

from shoplib.physics.roughness import FINE, model_profiles, parameters_of

X = (np.arange(FINE) + 0.5) / FINE
SINE = {"Ra": 2 / math.pi, "Rq": 1 / math.sqrt(2), "Rz": 2.0}  # of amplitude 1
SQUARE = {"Ra": 1.0, "Rq": 1.0, "Rz": 2.0}


@pytest.mark.parametrize("offset", [0.0, 3.0, -7.5])
def test_known_profiles_wherever_they_lie(offset):
    assert parameters_of(np.sin(2 * np.pi * X) + offset) == pytest.approx(SINE, rel=1e-6)
    assert parameters_of(np.where(X < 0.5, 1.0, -1.0) + offset) == pytest.approx(SQUARE, rel=1e-9)


@pytest.mark.parametrize("parameter", ["Ra", "Rq", "Rz", "Rt", "Rmax"])
def test_model_profiles_share_the_value_that_was_asked_for(parameter):
    profiles = model_profiles(parameter, 2.5e-6)
    assert len(profiles) == 3
    for name, (x, z) in profiles.items():
        assert abs(z.mean()) < 1e-15, name
        assert parameters_of(z)[parameter if parameter in ("Ra", "Rq") else "Rz"] == pytest.approx(2.5e-6, rel=1e-9)
        assert (x[0], x[-1], len(x)) == (0.5 / FINE, 1 - 0.5 / FINE, FINE)


def test_their_shapes():
    shapes = {name: z for name, (_, z) in model_profiles("Ra", 1.0).items()}
    square, waves, scratches = shapes["plateaus and grooves"], shapes["round waves"], shapes["few deep scratches"]
    assert np.all(square[: FINE // 2] > 0) and np.all(square[FINE // 2 :] < 0)
    assert abs(waves[0]) < 1e-3 and waves[FINE // 4] == pytest.approx(math.pi / 2, rel=1e-6)
    assert scratches.argmin() in (FINE // 2 - 1, FINE // 2) and scratches.max() > 0
    deep = np.ptp(scratches)
    width = np.mean(scratches < scratches.max() - deep / math.e)  # of the wave, at 1/e of the depth: 2 × 0.045
    assert width == pytest.approx(0.09, abs=1e-4)


def test_one_wave_unless_more_are_asked_for_and_they_repeat():
    for one, three in zip(
        model_profiles("Rz", 1.0, points=3000).values(), model_profiles("Rz", 1.0, 3, 9000).values(), strict=True
    ):
        assert np.allclose(three[1], np.tile(one[1], 3), atol=1e-9)
        assert not np.allclose(one[1][:1500], one[1][1500:], atol=1e-3)
