"""The suggested order: every bolt once, from the middle, the same however the map is turned, shifted or scaled."""

import math

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shoplib.topics.fasteners.tightening_order import suggest_order

place = st.tuples(st.integers(0, 40), st.integers(0, 25)).map(lambda p: (p[0] * 10.0, p[1] * 10.0))
maps = st.lists(place, min_size=1, max_size=30, unique=True)


@given(maps)
def test_every_bolt_stands_once(points):
    assert sorted(suggest_order(points)) == list(range(len(points)))


@given(maps)
def test_it_begins_in_the_middle_and_works_outwards(points):
    xy = np.array(points) - np.mean(points, axis=0)
    radius = np.hypot(*xy.T)
    size = radius.max() or 1.0
    order = suggest_order(points)
    assert radius[order[0]] <= radius.min() + 0.0801 * size
    reached = 0.0
    for k in order:  # never back to a bolt that lies a whole ring further in
        assert radius[k] >= reached - 0.0801 * size
        reached = max(reached, radius[k])


@settings(max_examples=60)
@given(
    maps,
    st.floats(0, 2 * math.pi),
    st.floats(0.1, 9),
    st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
    st.booleans(),
)
def test_turned_shifted_scaled_or_mirrored_it_is_the_same(points, angle, scale, shift, mirrored):
    xy = np.array(points)
    rel = xy - xy.mean(axis=0)
    radius = np.hypot(*rel.T)
    size = radius.max() or 1.0
    spread = np.sort(radius / size)
    # a ring's edge that falls between two bolts by less than the arithmetic can tell is no fair question
    assume(not np.any(np.abs(np.subtract.outer(spread, spread) - 0.08) < 1e-5))
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    moved = (xy * ([-1, 1] if mirrored else [1, 1])) @ turn.T * scale + shift
    assert suggest_order(moved.tolist()) == suggest_order(points)


@given(st.integers(1, 15), st.floats(40, 120), st.floats(40, 120))
def test_in_a_symmetric_head_each_bolt_is_followed_by_the_one_across(pairs, pitch, apart):
    points = [(pitch * c, apart * r) for r in (0, 1) for c in range(2 * pairs)]
    middle = np.mean(points, axis=0)
    order = suggest_order(points)
    for a, b in zip(order[::2], order[1::2], strict=True):
        assert np.allclose(np.add(points[a], points[b]) / 2, middle)
