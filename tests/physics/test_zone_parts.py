"""The parts of the minimum zone: its first points, frames and bases, and zones of bodies that are worked by hand."""

from math import cos, sin, sqrt

import numpy as np
import pytest

from shoplib.physics import flatness
from shoplib.physics.flatness import NotASurface, minimum_zone

SQUARE = np.array([(0, 0), (1, 0), (0, 1), (1, 1)], float)


def turned(t, way):
    """A unit direction tilted by the angle t toward ``way``."""
    return np.array([sin(t) * cos(way), sin(t) * sin(way), cos(t)])


# ------------------------------------------------------------------------------ formulas
def test_grades_and_limits():
    assert flatness.STRAIGHTEDGE_GRADES == {
        "00": (1e-6, 150e3),
        "0": (2e-6, 100e3),
        "1": (4e-6, 60e3),
        "2": (8e-6, 40e3),
    }
    assert flatness.acceptance_limit(10.0, 2.0) == pytest.approx(10 - 3.29)
    assert flatness.rejection_limit(10.0, 2.0) == pytest.approx(10 + 3.29)
    assert flatness.standard_uncertainty(6.0, 2.0) == 3.0
    assert flatness.perpendicular_zone(6.0, 2.0, 2.0) == pytest.approx(2.0)
    assert flatness.step_height(2.0, np.pi / 6) == pytest.approx(1.0)
    assert flatness.edge_tolerance(6.0, 1.0, 3.0) == 3.0
    # 1.645 standard deviations are 95 % on one side (any table of the normal distribution)
    assert flatness.probability_within(10.0, 10.0 - 2 * 1.6448536, 2.0) == pytest.approx(0.95, abs=1e-8)
    assert flatness.probability_within(10.0, 14.0, 2.0) == pytest.approx(0.0227501, abs=1e-7)


# ------------------------------------------------------------------------------ what is a surface
@pytest.mark.parametrize(
    ("points", "why"),
    [
        ([1.0, 2.0, 3.0], "three points"),
        ([[0, 0, 0], [1, 0, 0]], "three points"),
        ([[0, 0], [1, 0], [0, 1]], "three points"),
        ([[0, 0, 0, 0], [1, 0, 0, 0], [0, 1, 0, 0]], "three points"),
        ([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]], "three points"),
        ([[0, 0, 0], [1, 0, np.nan], [0, 1, 0]], "not a finite"),
        ([[2, 3, 0]] * 4, "one place"),
        ([[0, 0, 0], [1, 0, 0], [0.5, 1e-10, 0]], "one line"),
        ([[0, 0, 0], [0, 1, 0], [1e-10, 0.5, 0]], "one line"),
    ],
)
def test_what_is_no_surface(points, why):
    with pytest.raises(NotASurface, match=why):
        minimum_zone(points)


@pytest.mark.parametrize("scale", [1.0, 1e-3, 1e3])
def test_three_points_are_one_plane_and_a_narrow_triangle_still_is(scale):
    zone = minimum_zone(np.array([[0, 0, 0.3], [1, 0, 0.1], [0, 1, 0.2]]) * scale)
    assert zone.width == pytest.approx(0, abs=1e-15 * scale)
    assert zone.slopes == pytest.approx((-0.2, -0.1))
    assert minimum_zone(np.array([[0, 0, 0], [1, 0, 0], [0.5, 1.02e-10, 0]]) * scale).width == pytest.approx(
        0, abs=1e-15
    )
    with pytest.raises(NotASurface):
        minimum_zone(np.array([[0, 0, 0], [1, 0, 0], [0.5, 0.98e-10, 0]]) * scale)


@pytest.mark.parametrize(
    ("places", "first"),
    [
        # farthest from the first point by steps along x and y; farthest from that; farthest aside; farthest on the other side
        ([(0, 0), (1, 0), (4, 3), (0, 3), (3, 0)], [2, 0, 3, 4]),
        ([(1, 1), (0, 0), (5, 1), (3, 3), (2, 1), (3, 0.5)], [2, 1, 3, 5]),
        ([(0, 0), (3, 3.5), (6, 0), (3, 1), (3, -1)], [1, 0, 2, 0]),
        ([(0, 0), (1, 0), (0, 1), (1, 1)], [3, 0, 2, 1]),  # as far on both sides: the one on the left first
        ([(0, 0), (0, 1), (1, 0), (1, 1)], [3, 0, 1, 2]),
        ([(-2, 0), (0, -2), (2, 0), (0, 2)], [1, 3, 2, 0]),
    ],
)
def test_first_four(places, first):
    found = flatness._first_four(np.array(places, float).T).tolist()
    assert flatness._first_four(np.add(places, (10.0, 20.0)).T).tolist() == found
    assert found == first
    a, b, c, d = (np.array(places[k]) for k in found)
    aside = [abs((p - a)[0] * (b - a)[1] - (p - a)[1] * (b - a)[0]) for p in (c, d)]
    assert aside[0] >= aside[1]
    assert aside[0] == max(abs((np.array(p) - a)[0] * (b - a)[1] - (np.array(p) - a)[1] * (b - a)[0]) for p in places)


# ------------------------------------------------------------------------------ frame, basis, partition
@pytest.mark.parametrize("n", [turned(0, 0), turned(0.5, 0.3), turned(1.2, 2.5), turned(0.9, -1.9), turned(1.5, -0.7)])
def test_a_frame_levels_its_direction_by_the_shortest_way(n):
    frame = flatness._frame(n)
    assert frame @ n == pytest.approx([0, 0, 1], abs=1e-12)
    assert frame @ frame.T == pytest.approx(np.eye(3), abs=1e-12)
    axis = np.array([-n[1], n[0], 0.0])  # the axis of the turn stays where it is
    assert frame @ axis == pytest.approx(axis, abs=1e-12)
    assert np.linalg.det(frame) == pytest.approx(1)


def search(points):
    return flatness._Search(np.array(points, float).T)


def test_scan_and_basis():
    of = search([(1, 2, 3), (-4, 1, 0), (2, -1, 5), (0, 0, -1)])
    heights, high, low, top, bottom = of.scan(np.array([1.0, 0.0, 2.0]))
    assert heights.tolist() == [7, -4, 12, -2]
    assert (high, low, top, bottom) == (12, -4, 2, 1)
    assert of.size.tolist() == [4, 2, 5]
    basis = of.basis(np.eye(3), np.array([0, 1, 2, 3]), np.array([1.0, -1.0, 1.0, -1.0]))
    assert basis == pytest.approx(np.array([[1, 0, 1, 0], [0, 1, 0, 1], [0.25, 1, 0.5, 0], [0.5, -0.25, -0.25, 0]]))


@pytest.mark.parametrize(
    ("places", "up"),
    [
        (SQUARE, {0, 3}),  # the diagonals cross
        ([(0, 0), (4, 0), (0, 4), (1, 1)], {3}),  # one lies within the other three
        ([(0, 0), (3, 1), (5, 0), (3, -2)], {0, 2}),
    ],
)
@pytest.mark.parametrize("frame", [np.eye(3), flatness._frame(turned(0.2, 1.0))])
def test_radons_partition(places, up, frame):
    for sign in (1, -1):
        z = [0.3 * sign * (k in up) for k in range(4)]
        of = search(np.column_stack([places, z]) @ frame)
        side = of.partition(frame, np.arange(4))
        assert {k for k in range(4) if (side[k] > 0) == (sign > 0)} == up
        assert set(np.abs(side)) == {1.0}


POST = [(0, 0, 1), (0, 0, 0), (2, 2, 0.5), (-2, -2, 0.5), (2, -2, 0.5), (-2, 2, 0.5)]


@pytest.mark.parametrize(
    ("more", "found", "degrees"),
    [
        ([], {}, [0, 45, 90, 135, 180, 225, 270, 315]),  # one point over another: any way
        ([(1, 0, 1), (-1, 0, 1)], {}, [90, 270]),  # an edge along x: across it
        ([(0, 1, 1), (0, -1, 1)], {}, [0, 180]),
        ([(1, 0, 1), (1, 0, 0)], {}, [90, 270]),  # a lower point counts the other way round
        ([(1, 0, 1)], {}, [315, 0, 45]),  # toward the other high point only
        ([(1, 0, 0)], {}, [135, 180, 225]),
        ([(1, 0, 1), (0, 1, 1)], {}, [22.5, 45, 67.5]),
        ([(1, 1, 1), (-1, 1, 1), (0, -1, 1)], {}, []),  # high points all round
        ([(1, 0, 1 - 1.5e-11)], {}, [315, 0, 45]),  # as high, but for noise: 8e-12 of the size, which is 2
        ([(1, 0, 1 - 1.7e-11)], {}, [0, 45, 90, 135, 180, 225, 270, 315]),
        ([(1, 0, 1.5e-11)], {}, [135, 180, 225]),
        ([(1, 0, 1.7e-11)], {}, [0, 45, 90, 135, 180, 225, 270, 315]),
        ([(1.9e-9, 0, 1)], {}, [0, 45, 90, 135, 180, 225, 270, 315]),  # at one place
        ([(2.1e-9, 0, 1)], {}, [315, 0, 45]),
        ([], {"weight": [0.5, 1, 0.5, 1.1e-9]}, []),  # pinned by all four
        ([], {"weight": [1, 1, 0, 0.9e-9]}, [0, 45, 90, 135, 180, 225, 270, 315]),
        ([], {"low": 1 - 1.5e-11}, []),  # all in one plane
    ],
)
def test_ways_to_tilt_that_leave_the_height(more, found, degrees):
    given = {"weight": [1, 1, 0, 0], "low": 0.0} | found
    ways = search([*POST, *more]).flat_ways(
        (
            flatness.NOMINAL,
            np.arange(4),
            np.array([1.0, -1.0, 1.0, -1.0]),
            np.array(given["weight"], float),
            given["low"],
            1.0,
        )
    )
    angles = [np.degrees(np.arctan2(t[1], t[0])) % 360 for t in ways]
    assert sorted(round(a, 6) % 360 for a in angles) == pytest.approx(sorted(degrees), abs=1e-5)
    assert all(np.linalg.norm(t) == pytest.approx(1) and t[2] == 0 for t in ways)


# ------------------------------------------------------------------------------ zones worked by hand
def tilt(points, n):
    return np.asarray(points, float) @ flatness._frame(n)


def assert_zone(points, width, normal=(0, 0, 1)):
    points = np.asarray(points, float)
    zone = minimum_zone(points)
    assert zone.width == pytest.approx(width, rel=1e-9, abs=1e-13)
    assert zone.normal == pytest.approx(np.array(normal), abs=1e-7)
    heights = zone.heights(points)
    assert (heights.min(), heights.max()) == pytest.approx((0, zone.width), abs=1e-12)
    assert zone.upper - zone.lower == pytest.approx(zone.width, abs=1e-12)
    assert zone.slopes == pytest.approx((-normal[0] / normal[2], -normal[1] / normal[2]), abs=1e-7)
    for side in (1, -1):
        assert zone.weight[zone.side == side].sum() == pytest.approx(1, abs=1e-9)
    assert (zone.weight > 1e-12).all()
    return zone


TILTS = [turned(0, 0), turned(0.1, 0.4), turned(0.4, 2.0), turned(0.7, -2.4)]


@pytest.mark.parametrize("n", TILTS)
def test_zones_of_plain_bodies(n):
    corners = np.array([(x, y, 0.0) for x in (0, 3) for y in (0, 2)])
    assert_zone(tilt([*corners, (1, 1, 0.3)], n) + 5, 0.3, n)  # one peak over a level plate
    assert_zone(tilt([*corners, (1, 1, -0.3)], n) - 7, 0.3, n)
    assert_zone(tilt([*corners, *np.add(corners, (0, 0, 0.4))], n), 0.4, n)  # a box
    twist = np.column_stack([SQUARE * (3, 2), [0.1, 0, 0, 0.1]])  # diagonals 0.1 apart where they cross
    assert_zone(tilt(twist, n), 0.1, n)
    assert_zone(tilt([*twist, (1.5, 1, 0.05), (1, 0.5, 0.05)], n), 0.1, n)


@pytest.mark.parametrize("seed", range(4))
def test_a_face_far_from_the_origin_is_as_exact(seed):
    """Its places are whole eighths, so that the shift of 1049 km itself rounds nothing."""
    rng = np.random.default_rng(seed)
    points = np.column_stack([rng.integers(0, 9, (30, 2)) / 8, rng.normal(0, 1e-3, 30)])
    far = minimum_zone(np.add(points, (2.0**20, -(2.0**20), 0.0)))
    assert far.width == pytest.approx(minimum_zone(points).width, rel=1e-13)


@pytest.mark.parametrize("axes", [(0.5, 0.5, 1.0), (0.8, 0.8, 1.0), (0.9, 0.7, 1.0)])
def test_an_octahedron_is_narrowest_across_two_faces(axes):
    """Along z its corners lie one above the other: any tilt is as good at first, and the width shrinks to that of two faces."""
    points = np.concatenate([np.diag(axes), -np.diag(axes)])
    zone = minimum_zone(points)
    assert zone.width == pytest.approx(2 / sqrt(sum(1 / a**2 for a in axes)), rel=1e-9)
    assert np.abs(zone.normal) == pytest.approx(zone.width / 2 / np.array(axes), rel=1e-6)


def test_a_long_edge_over_a_point():
    """A tent: the ridge is level, and the plate may tilt about it; the narrower of the ways is followed."""
    tent = np.array([(-1, 0, 1), (1, 0, 1), (-1, 0, -1.0), (1, 0, -1.0), (0, 0.6, 0), (0, -0.6, 0)])
    zone = minimum_zone(tent)
    # a rhombus of half axes 1 and 0.6 seen along the ridge: its sides are 2·1·0.6 / hypot(1, 0.6) apart
    assert zone.width == pytest.approx(2 * 0.6 / sqrt(1.36), rel=1e-9)


@pytest.mark.parametrize("many", [1500, 2500, 4100])
def test_many_points(many):
    k = np.arange(many)
    x, y = (k * 0.6180339887) % 1.0, (k * 0.7548776662) % 1.0
    dome = np.column_stack([x, y, 1e-3 * ((x - 0.5) ** 2 + (y - 0.5) ** 2)])
    zone = minimum_zone(dome)
    assert 0.4e-3 < zone.width < 0.5e-3
    far = np.linalg.norm(dome[:, :2] - 0.5, axis=1)
    assert zone.width <= np.ptp(dome[:, 2])
    for slope in np.linspace(-1e-4, 1e-4, 5):
        for other in np.linspace(-1e-4, 1e-4, 5):
            assert flatness.cut_along(dome, [slope, other, 1]) >= zone.width * (1 - 1e-9)
    assert far[zone.support[zone.side > 0]].min() > 0.5


@pytest.mark.parametrize("seed", range(12))
def test_blands_rule_finds_the_same_zone(monkeypatch, seed):
    """It is kept for points that lie so much alike that the quick rule could go round for ever."""
    rng = np.random.default_rng(seed)
    points = np.column_stack(
        [rng.uniform(0, 1, (25, 2)), rng.normal(0, 1e-3, 25) if seed % 3 else rng.integers(0, 4, 25) * 1e-3]
    )
    quick = minimum_zone(points)
    monkeypatch.setattr(flatness._Search, "patience", -1)
    slow = minimum_zone(points)
    assert slow.width == pytest.approx(quick.width, rel=1e-9)
    for zone in (quick, slow):
        heights = zone.heights(points)
        assert (heights.min(), heights.max()) == pytest.approx((0, zone.width), abs=1e-12)


def test_a_sample_on_one_line_does_not_spoil_the_rest():
    """Every third point lies on one line; all of them do not."""
    k = np.arange(3000)
    points = np.column_stack([k / 3000, np.where(k % 3, (k % 7) / 7, 0.0), np.where(k == 1000, 0.01, 0.0)])
    zone = minimum_zone(points)
    assert 0 < zone.width <= 0.01


# ------------------------------------------------------------------------------ least squares, cut
@pytest.mark.parametrize("n", [*TILTS, *(turned(0.1 * k, 0.7 * k) for k in range(1, 15))])
def test_least_squares_plane(n):
    flat = np.array([(0, 0, 0.2), (2, 0, -0.2), (0, 2, -0.2), (2, 2, 0.2)])  # the mean plane is level, ±0.2 about it
    plane = flatness.least_squares_plane(np.add(tilt(flat, n), (1, 2, 3)))
    assert plane.normal == pytest.approx(n, abs=1e-9)
    shift = n @ (1, 2, 3)
    assert (plane.lower, plane.upper) == pytest.approx((shift - 0.2, shift + 0.2), abs=1e-12)
    assert plane.width == pytest.approx(0.4)


def test_cut():
    points = [(0, 0, 0), (1, 0, 0.5), (0, 1, -0.2)]
    assert flatness.cut_along(points, [0, 0, 7]) == pytest.approx(0.7)
    assert flatness.cut_along(points, [3, 0, 4]) == pytest.approx(0.6 + 0.4 + 0.16)
