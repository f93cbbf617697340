"""Lines over a face, crossing outlines and an edge on a profile, worked by hand."""

from math import inf, sqrt

import numpy as np
import pytest

from shoplib.physics import feeler
from shoplib.physics.feeler import Bracket, Face, Round, StraightedgeRest

SQUARE = [(0, 0), (1, 0), (1, 1), (0, 1)]
PLATE = [(0, 0), (4, 0), (4, 2), (0, 2)]


@pytest.mark.parametrize(
    ("one", "other", "found"),
    [
        ((1, 4), (3, 12), (0.75, 3)),
        ((3, 12), (1, 4), (0.75, 3)),
        ((0, 4), (3, 12), (0, 3)),
        ((1, 4), (0, 12), (0, 3)),
        ((0, 4), (0, 12), (0, 3)),
        ((-1, 4), (3, 12), (0, 3)),  # below zero proves nothing
        ((1, 4), (3, inf), (0.75, 4)),
        ((1, inf), (3, 12), (0.75, 12)),
        ((1, inf), (3, inf), (0.75, inf)),
    ],
)
def test_balanced(one, other, found):
    assert feeler.balanced(Bracket(*one), Bracket(*other)) == Bracket(*found)
    assert feeler.balanced(Bracket(), Bracket()) == Bracket(0.0, inf)


# ------------------------------------------------------------------------------ inside
@pytest.mark.parametrize(
    ("x", "y", "slack", "rim", "inside"),
    [
        (0.5, 0.5, 0.1, True, True),
        (0.5, 0.5, 0.1, False, True),
        (0.5, -0.25, 0.25, True, True),  # the rim is as wide as the slack
        (0.5, -0.25, 0.25, False, False),
        (0.5, 0.25, 0.25, False, False),
        (0.5, -0.25, 0.24, True, False),
        (-0.1, -0.1, 0.15, True, True),  # the nearest place is a corner
        (-0.1, -0.1, 0.14, True, False),
        (1.5, 0.0, 0.2, True, False),
        (0.0, 1.5, 0.2, True, False),
        (-0.5, 0.0, 0.2, True, False),
    ],
)
def test_inside_a_square_and_its_rim(x, y, slack, rim, inside):
    assert feeler._inside(SQUARE, x, y, slack, rim=rim) is inside


@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize(("x", "y", "inside"), [(-0.5, 0, True), (0, 0, True), (0.5, 0, True), (-2, 0, False), (2, 0, False), (-0.5, 0.8, False), (-1.2, 1, False), (-1.2, -1, False)])  # fmt: skip
def test_a_ray_through_corners(turn, x, y, inside):
    diamond = np.roll([(1, 0), (0, 1), (-1, 0), (0, -1)], turn, axis=0)
    assert feeler._inside(diamond, x, y, 1e-9, rim=True) is inside
    assert feeler._inside(diamond[::-1], x, y, 1e-9, rim=True) is inside


def test_a_slanted_side_is_met_where_it_is():
    wedge = [(0, 0), (4, 0), (2, 2)]
    for x, inside in ((0.9, False), (1.1, True), (2.9, True), (3.1, False)):
        assert feeler._inside(wedge, x, 1.0, 1e-9, rim=False) is inside
    assert feeler._inside(wedge, 0.4, 0.5, 1e-9, rim=False) is False
    assert feeler._inside(wedge, 3.4, 0.5, 1e-9, rim=False) is True


def test_what_a_face_holds():
    face = Face(PLATE, [Round(2, 1, 1)], [[(3, 0.5), (3.5, 0.5), (3.5, 1.5), (3, 1.5)]])
    assert face.size == 4
    assert Face([(0, 0), (1, 0), (1, 3)]).size == 3
    slack = 4e-9
    for x, y, held in (
        (1, 1, True), (2, 1, False), (1.51, 1, False), (1.49, 1, True), (2, 1.49, False), (2, 1.51, True), (2.4, 1.4, True),
        (2.3, 1.3, False), (3.2, 1, False), (3, 1, True), (3.2, 1.5, True), (2.5, 1, True), (5, 1, False),
        (-0.9 * slack, 1, True), (-1.1 * slack, 1, False), (1.5 + 0.9 * slack, 1, True), (1.5 + 1.1 * slack, 1, False),
    ):  # fmt: skip
        assert face.holds(x, y) is held, (x, y)
    assert Face(PLATE, [Round(0, 1, 1)]).holds(0.5 - 1e-9 * 4, 1.0)  # the rim of the hole as wide as the slack


# ------------------------------------------------------------------------------ lines
FACE = Face(PLATE, [Round(2, 1, 1)])


@pytest.mark.parametrize(
    ("start", "end", "pieces"),
    [
        ((0, 1), (4, 1), [(0, 1.5), (2.5, 4)]),
        ((4, 1), (0, 1), [(0, 1.5), (2.5, 4)]),
        ((0, 1.3), (4, 1.3), [(0, 1.6), (2.4, 4)]),
        ((0, 1.4), (4, 1.4), [(0, 1.7), (2.3, 4)]),
        ((0, 1.5), (4, 1.5), [(0, 4)]),  # it touches the hole
        ((0, 0.2), (4, 0.2), [(0, 4)]),
        ((-1, 1), (6, 1), [(1, 2.5), (3.5, 5)]),
        ((0, 0), (4, 0), [(0, 4)]),  # along a side
        ((-1, 0), (5, 0), [(1, 5)]),
        ((-1, 3), (5, 3), []),
        ((0.5, -1), (0.5, 3), [(1, 3)]),
        ((0, -1), (4, 3), [(sqrt(2), 2 * sqrt(2) - 0.5), (2 * sqrt(2) + 0.5, 3 * sqrt(2))]),
        ((-1, 1), (1, -1), []),  # a corner only
        ((1, 0.2), (4, 0.2), [(0, 3)]),
        ((2, 1), (4, 1), [(0.5, 2)]),
        ((1.8, 1), (2.2, 1), []),
    ],
)
def test_where_a_line_lies_on_the_face(start, end, pieces):
    assert np.ravel(feeler.spans(start, end, FACE)) == pytest.approx(np.ravel(pieces), abs=1e-12)


def test_polygonal_holes_and_gaps_too_narrow_to_count():
    holed = Face(PLATE, [], [[(1, 0.5), (2, 0.5), (2, 1.5), (1, 1.5)], [(3, 1), (3.5, 0.5), (3.5, 1.5)]])
    found = feeler.spans((0, 1), (4, 1), holed)
    assert np.ravel(found) == pytest.approx([0, 1, 2, 3, 3.5, 4], abs=1e-12)
    assert np.ravel(feeler.spans((0, 0.5), (4, 0.5), holed)) == pytest.approx([0, 4])  # along the rim of the hole
    # between two holes 1 nm apart there is no piece of face, in a face of 4 m
    twin = Face(PLATE, [Round(1.5, 1, 1), Round(2.5 + 1e-9, 1, 1)])
    assert np.ravel(feeler.spans((0, 1), (4, 1), twin)) == pytest.approx([0, 1, 3, 4])
    apart = Face(PLATE, [Round(1.5, 1, 1), Round(2.5 + 1e-8, 1, 1)])
    assert len(feeler.spans((0, 1), (4, 1), apart)) == 3
    edges = Face(PLATE, [], [[(0.5, 1.5), (1, 1.5), (1, 1.8)], [(1 + 1e-9, 0.5), (1 + 1e-9, 0.2), (1.5, 0.2)]])
    assert np.ravel(feeler.spans((0, 1), (4, 1), edges)) == pytest.approx([0, 4])  # one piece


# ------------------------------------------------------------------------------ outlines
@pytest.mark.parametrize(
    ("corners", "sides"),
    [
        (SQUARE, None),
        (SQUARE[::-1], None),
        ([(0, 0), (1, 0), (1, 1)], None),
        ([(0, 0), (1, 0), (2, 0), (2, 1)], None),  # a corner on a straight side
        ([(0, 0), (1, 1), (1, 0), (0, 1)], (0, 2)),
        ([(0, 0), (1, 0), (0.5, 0), (0.5, 1)], (0, 1)),  # folds back
        ([(0, 0), (1, 0), (1, -1), (2, -1), (2, 0)], (0, 4)),
        ([(0, 0), (2, 0), (2, 2), (1, 0), (0, 2)], (0, 2)),  # a corner touches a side
        ([(0, 0), (3, 0), (3, 3), (2, 1), (1, 3), (0, 3)], None),
        ([(0, 0), (0, 0), (1, 0), (1, 1)], (0, 0)),
        ([(0, 0), (1, 0), (1, 1), (1, 1)], (2, 2)),
        ([(0, 0), (1, 0), (1, 1), (0, 0)], (3, 3)),
        ([(2, 2)] * 3, (0, 0)),
        ([(0, 0), (1e4, 0), (1e4, 1), (0.9e-8, 0)], (3, 3)),
        ([(0, 0), (0.9e-8, 0), (1e4, 1e4), (1e4 - 1, 1e4)], (0, 0)),
        ([(0, 0), (100, 0), (50, 0.9e-10), (50, 50)], (0, 1)),
        ([(0, 0), (100, 0), (50, 1.1e-10), (50, 50)], None),
        ([(0, 0), (1, 0), (0.5, 1e-12), (0.5, 0.5)], (0, 2)),
        ([(0, 0), (0.9e-12, 0), (1, 1), (0, 1)], (0, 0)),
        ([(0, 0), (1e-12, 0), (1, 1), (0, 1)], (1, 3)),
        ([(0, 0), (100, 0), (100, 100), (50, 1e-9), (0, 100)], None),
        ([(0, 0), (100, 0), (100, 100), (50, 0.5e-10), (0, 100)], (0, 2)),
        ([(0, 0), (100, 0), (100, 100), (50, -1e-3), (0, 100)], (0, 2)),
        ([(0, 0), (1e-3, 0), (1e-3, 1e-3), (0, 1e-3)], None),
    ],
)
def test_sides_that_cross(corners, sides):
    assert feeler.self_crossing(corners) == sides
    if all(x == round(x, 1) for corner in corners for x in corner):
        assert feeler.self_crossing(np.add(corners, (7, -3))) == sides


@pytest.mark.parametrize(
    ("a", "b", "c", "d", "meet"),
    [
        ((0, 0), (2, 2), (0, 2), (2, 0), True),
        ((0, 0), (2, 2), (3, 0), (2, 1), False),
        ((0, 0), (2, 2), (3, 0), (1.5, 1.4), False),
        ((0, 0), (2, 0), (1, 0), (1, 3), True),
        ((0, 0), (2, 0), (1, 3), (1, 0), True),
        ((1, 0), (1, 3), (0, 0), (2, 0), True),
        ((1, 3), (1, 0), (0, 0), (2, 0), True),
        ((0, 0), (2, 0), (1, 1e-3), (1, 3), False),
        ((0, 0), (2, 0), (1, 0), (3, 0), True),
        ((0, 0), (2, 0), (2, 0), (3, 0), True),
        ((0, 0), (2, 0), (2.001, 0), (3, 0), False),
        ((3, 0), (2.001, 0), (2, 0), (0, 0), False),
        ((0, 0), (2, 0), (0, 1), (2, 1), False),
        ((0, 0), (0, 2), (0, 2.001), (0, 3), False),
        ((0, 0), (3, 0), (1, 0), (2, 0), True),
        ((0, 0), (100, 100), (50 + 4.9e-11, 50 - 4.9e-11), (100, 0), True),
        ((0, 0), (100, 100), (50 + 5.2e-11, 50 - 5.2e-11), (100, 0), False),
        ((0, 0), (100, 0), (100 + 1.9e-10, 0), (200, 0), True),
        ((0, 0), (100, 0), (100 + 2.1e-10, 0), (200, 0), False),
    ],
)
def test_pieces_of_line_that_meet(a, b, c, d, meet):
    for p in ((a, b, c, d), (c, d, a, b), (b, a, c, d), (a, b, d, c)):
        assert feeler._meet(*map(np.array, p)) is meet
        assert feeler._meet(*(np.add(q, (8, -4)) for q in p)) is meet


# ------------------------------------------------------------------------------ the edge
@pytest.mark.parametrize(
    ("z", "rest"),
    [
        ([1, 0, 0.5, 0, 1], (1, 1, (0, 4), False)),
        ([1, 0.2, 0, 1, 0.5], (1, 2, (0, 3), False)),
        ([0, 0, 1, 0, 0], (1, 4, (2,), True)),
        ([0, 1, 0.5, 0.2, 0], (1, 4, (1,), True)),
        ([0, 1, -1, 0], (1.5, 2, (1, 3), False)),  # as deep as high: it lies
        ([0, 0, 0], (0, 0, (0, 2), False)),
        ([0, 1, 2], (0, 0, (0, 2), False)),
        ([0, -3.9e-12, 0, 0, 0], (0, 0, (0, 4), False)),
        ([0, -4e-12, 0, 0, 0], (0, 0, (0, 4), False)),
        ([0, -4.1e-12, 0, 0, 0], (4.1e-12, 1, (0, 2), False)),
    ],
)
def test_an_edge_on_a_profile(z, rest):
    found = feeler.laid_on(range(len(z)), z)
    if z == [0, -4.1e-12, 0, 0, 0]:
        assert (found.gap, found.at) == pytest.approx((4.1e-12, 1), rel=1e-9)
        return
    assert (found.gap, found.at) == pytest.approx(rest[:2])
    assert (found.touches, found.rocks) == (tuple(map(float, rest[2])), rest[3])
    assert isinstance(found, StraightedgeRest)


@pytest.mark.parametrize("seed", range(20))
def test_hull_is_every_corner_above_all_chords(seed):
    rng = np.random.default_rng(seed)
    t, z = np.arange(9.0), rng.integers(0, 4, 9).astype(float)
    above = [
        k for k in range(9)
        if all(z[k] > z[i] + (z[j] - z[i]) * (k - i) / (j - i) for i in range(k) for j in range(k + 1, 9))
    ]  # fmt: skip
    assert feeler._upper(t, z) == above
    assert feeler._upper(t[:3], np.zeros(3)) == [0, 2]
