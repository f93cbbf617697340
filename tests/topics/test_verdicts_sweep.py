"""The open valve over the piston: by hand, by a different integration of the crank, and against the slow judge."""

import itertools
import math
import random

import numpy as np
import pytest

from shoplib.core.errors import BadInput
from shoplib.physics import valve_motion
from shoplib.topics import get
from tests.slow_judge import CASES, differential, judged, together

SWEEP = get("valve_sweep")
SOURCE = "bench notes of the teaching workshop, sheet 23"
ENGINE = {"valve_angle": "0 deg", "crown": "flat", "rod_length": "143 mm", "stroke": "86 mm", "net_drop": "0 mm",
          "retard": "0 deg", "closed_gap": "4.00 mm"}  # fmt: skip


def curve(points):
    return [{"angle": f"{a} deg", "lift": f"{x} mm"} for a, x in points]


BUMP = curve([(-40, "0.00"), (0, "2.00"), (40, "0.00")])


def depth(theta, rod=143.0, radius=43.0):
    """Piston below top dead centre in mm, from the pin's place in the plane: a circle cut with a line."""
    x, y = radius * math.sin(theta), radius * math.cos(theta)
    return rod + radius - (y + math.sqrt(rod**2 - x**2))


def slow_sweep(points, gap, drop, late, alpha, crown, step=0.02):
    """The smallest gap by small steps, the lift by looking for its interval."""
    f = math.cos(alpha) if crown == "pocket" else 1 / math.cos(alpha)
    best = math.inf
    degrees = points[0][0] + late
    while degrees <= points[-1][0] + late:
        at = degrees - late
        (a, p), (b, q) = next((one, two) for one, two in itertools.pairwise(points) if at <= two[0] + 1e-9)
        lift = p + (q - p) * (at - a) / (b - a)
        best = min(best, gap + (depth(math.radians(degrees)) - drop) * f - lift)
        degrees += step
    return best


def test_the_gap_by_hand():
    # closest at top dead centre: 4.00 − 2.00 mm; a drop of 0.30 mm takes 0.30 mm
    found = SWEEP(ENGINE, lift_curve=BUMP)
    assert found["smallest_clearance"] == pytest.approx(2e-3) and found["at_angle"] == pytest.approx(0, abs=1e-9)
    assert SWEEP({**ENGINE, "net_drop": "0.30 mm"}, lift_curve=BUMP)["lost"] == pytest.approx(0.3e-3)
    # from parts: 1.10 + 1.45 + 2.00 − 0.55 mm
    parts = {
        "valve_recess": "1.10 mm",
        "gasket_thickness": "1.45 mm",
        "projection": "0.55 mm",
        "pocket_depth": "2.00 mm",
    }
    built = {k: v for k, v in ENGINE.items() if k != "closed_gap"} | parts
    assert SWEEP(built, lift_curve=BUMP)["smallest_clearance"] == pytest.approx(2e-3)


def test_a_late_camshaft_brings_the_exhaust_valve_closer_and_the_intake_valve_further():
    closing = curve([(-200, "0.00"), (-110, "9.00"), (-20, "2.00"), (0, "0.90"), (20, "0.20"), (40, "0.00")])
    opening = curve([(-40, "0.00"), (-20, "0.20"), (0, "0.90"), (20, "2.00"), (110, "9.00"), (200, "0.00")])
    late = {**ENGINE, "retard": "5 deg"}
    assert SWEEP(late, lift_curve=closing)["lost"] > 0.1e-3
    assert SWEEP(late, lift_curve=opening)["lost"] < -0.1e-3


def test_a_law_decides_nothing_and_agrees_with_its_own_points():
    law = {"duration": "240 deg", "peak_lift": "9 mm", "peak_angle": "-100 deg"}
    limit = {"minimum_clearance": "0.10 mm", "minimum_clearance_source": SOURCE, "at_limit": "allowed"}
    built = SWEEP(ENGINE, **law, **limit)
    assert str(built.outcome) == "undecided"
    points = [(k, f"{4.5 * (1 + math.cos(2 * math.pi * (k + 100) / 240)):.4f}") for k in range(-220, 21, 2)]
    measured = SWEEP({**ENGINE, "angle_uncertainty": "0.1 deg"}, lift_curve=curve(points), **limit)
    assert measured["smallest_clearance"] == pytest.approx(built["smallest_clearance"], abs=2e-6)
    assert str(measured.outcome) == "pass"


def test_the_bulge_covers_what_lies_between_the_points():
    """A cosine through its points: nowhere further from the straight lines than the bound."""
    for spacing in (2, 5, 10, 20):
        angles = np.radians(np.arange(-120, 121, spacing))
        fine = np.linspace(angles[0], angles[-1], 4001)
        lifts, smooth = ((9e-3 * (1 + np.cos(1.5 * x)) / 2) for x in (angles, fine))
        between = np.abs(smooth - valve_motion.lift_at(fine, angles, lifts))
        assert (between <= valve_motion.bulge_at(fine, angles, lifts) + 1e-12).all()
        assert valve_motion.bulge_at(angles[1:-1], angles, lifts) == pytest.approx(0, abs=1e-15)


def test_a_curve_that_does_not_close_never_passes():
    open_end = curve([(-40, "0.10"), (0, "2.00"), (40, "0.00")])
    few = {**ENGINE, "angle_uncertainty": "0.1 deg", "closed_gap": "9.00 mm"}
    assert str(SWEEP(few, lift_curve=BUMP).outcome) == "pass"
    assert str(SWEEP(few, lift_curve=open_end).outcome) == "undecided"


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"lift_curve": BUMP[:2]}, "lift_curve"),
        ({"lift_curve": BUMP[::-1]}, "lift_curve"),
        ({"lift_curve": curve([(-300, "0.00"), (0, "2.00"), (300, "0.00")])}, "lift_curve"),
        ({"lift_curve": BUMP, "duration": "240 deg"}, "duration"),
        ({"lift_curve": BUMP, "rod_length": "40 mm"}, "rod_length"),
    ],
)
def test_curves_that_are_none_are_refused(typed, field):
    with pytest.raises(BadInput) as caught:
        SWEEP({**ENGINE, **typed})
    assert field in {p.field for p in caught.value.problems}


def test_a_curve_from_a_file(tmp_path):
    (tmp_path / "lift.csv").write_text("angle_deg;lift_mm\n-40;0.00\n0;2.00\n40;0.00\n", encoding="utf-8")
    found = SWEEP({**ENGINE, "lift_curve": "lift.csv"}, folder=tmp_path)
    assert found["smallest_clearance"] == pytest.approx(2e-3)


@differential("valve_sweep")
def test_a_sweep_equals_the_slow_judge():
    rng, seen = random.Random(38), set()
    for _ in range(2 * CASES // 3):  # each looks at thousands of crank angles, many times
        angles = [-150, -90, -60, -40, -30, -20, -10, 0, 10, 20, 30, 45]
        scale, crown = rng.uniform(0.7, 1.1), rng.choice(("pocket", "flat"))
        points = [(a, round(scale * 9 * (1 + math.cos(math.pi * (a + 90) / 135)) / 2, 2) if -150 < a < 45 else 0.0)
                  for a in angles]  # fmt: skip
        alpha, late, drop = rng.choice((0, 20)), round(rng.uniform(-1, 4), 1), round(rng.uniform(0.1, 0.5), 2)
        gap = round(rng.uniform(1.2, 4.0), 2)
        typed = {**ENGINE, "lift_curve": curve([(a, f"{x:.2f}") for a, x in points]), "crown": {"flat": "flat"}.get(
            crown, "pocket square to the valve"), "valve_angle": f"{alpha}.0 deg", "retard": f"{late:.1f} deg",
            "net_drop": f"{drop:.2f} mm", "closed_gap": f"{gap:.2f} mm", "rod_length": "143.00 mm",
            "stroke": "86.00 mm", "angle_uncertainty": "0.2 deg"}  # fmt: skip
        middle = slow_sweep(points, gap, drop, late, math.radians(alpha), crown)
        least, most = math.inf, -math.inf
        for turned in (-0.25, 0.25):  # 0.2° of the disc and half the digit of the lateness
            for tilt in (-0.05, 0.05) if alpha else (0,):
                other = slow_sweep(points, gap, drop, late + turned, math.radians(alpha + tilt), crown, step=0.1)
                least, most = min(least, other), max(most, other)
        f = math.cos(math.radians(alpha)) if crown == "pocket" else 1 / math.cos(math.radians(alpha))
        half = max(middle - least, most - middle) + 0.005 + 0.005 * f + 0.005
        bound, source = round(middle + rng.uniform(-1.4, 1), 2), rng.random() < 0.6
        typed |= {"minimum_clearance": f"{bound} mm", "at_limit": "allowed"} if bound > 0 else {}
        typed |= {"minimum_clearance_source": SOURCE} if source and bound > 0 else {}
        typed |= {"decision_rule": "simple_acceptance"} if rng.random() < 0.3 else {}
        found = SWEEP(typed)
        assert found["smallest_clearance"] == pytest.approx(1e-3 * middle, abs=2e-6)
        told = 1e3 * found.checks[0].uncertainty.value  # it holds what lies between the points as well
        assert half - 2e-3 <= told <= half + 0.35, (half, told)
        limits = [(0.0, ">", None, True, told)]
        if bound > 0:
            limits.append((bound, "≥", "allowed", source, 0.0 if "decision_rule" in typed else told))
        expected = [judged([middle - u, middle, middle + u], sign, b, at, s) for b, sign, at, s, u in limits]
        if all(abs(middle + k * u - b) > 5e-3 for b, *_, u in limits for k in (-1, 0, 1)):
            seen.add(together(expected))
            assert str(found.outcome) == together(expected), typed
    assert seen == {"fail", "undecided", "no limit given", "pass"}


def test_fewer_points_are_less_sure():
    points = [
        (-150, "0.00"),
        (-90, "7.00"),
        (-40, "3.40"),
        (-20, "1.72"),
        (-10, "1.02"),
        (0, "0.50"),
        (10, "0.20"),
        (30, "0.00"),
    ]
    dense, coarse = (
        SWEEP({**ENGINE, "angle_uncertainty": "0.1 deg", "lift_curve": curve(p)}).checks[0].uncertainty.value
        for p in (points, [p for p in points if p[0] != 0])
    )
    assert coarse > dense + 0.05e-3
