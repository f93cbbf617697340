"""Timing: what goes one way comes back the other way, whatever the sizes."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shoplib.core.errors import BadInput
from shoplib.physics import timing
from shoplib.topics.timing.dead_centre import DEAD_CENTRE
from shoplib.topics.timing.piston_position import PISTON_POSITION
from shoplib.topics.timing.timing_gap import TIMING_GAP
from shoplib.topics.timing.timing_mark import TIMING_MARK
from shoplib.topics.timing.two_turn_check import TWO_TURN_CHECK

calm = settings(deadline=None)  # the first reading of a unit loads the table of units
cranks = st.tuples(st.floats(100, 300), st.floats(20, 60), st.floats(-15, 15))
angles = st.floats(0.02, math.pi - 0.02)


@calm
@given(cranks, angles)
def test_drop_and_angle_are_inverse(crank, theta):
    l, r, e = (v * 1e-3 for v in crank)
    assume(r + abs(e) < 0.95 * l)
    top = float(timing.top_angle(e, l, r))
    drop = float(timing.piston_drop(theta + top, l, r, e))
    travel = math.sqrt((l + r) ** 2 - e**2) - math.sqrt((l - r) ** 2 - e**2)
    assume(drop < 0.999 * travel)
    q = timing.pin_distance(drop, l, r, e)
    gamma, aside = timing.half_angle(q, l, r), timing.pin_direction(drop, l, r, e) - top
    # one of the two positions of that depth; with an offset both may lie on one side of the bottom
    assert min(abs(math.remainder(a - theta, 2 * math.pi)) for a in (aside + gamma, aside - gamma)) < 1e-6


@calm
@given(cranks, angles, st.floats(-0.3, 0.3))
def test_the_stop_finds_dead_centre_whatever_the_disc_and_the_offset(crank, theta, slip):
    """Turn to a stop both ways, read a disc that is off by ``slip``: the correction gives the slip back."""
    l, r, e = (v * 1e-3 for v in crank)
    assume(r + abs(e) < 0.9 * l and theta < 2.0)
    top = float(timing.top_angle(e, l, r))
    drop = float(timing.piston_drop(theta + top, l, r, e))
    assume(drop > 1e-5)
    gamma = float(timing.half_angle(timing.pin_distance(drop, l, r, e), l, r))
    delta = float(timing.pin_direction(drop, l, r, e))
    before, after = gamma - (delta - top) - slip, gamma + (delta - top) + slip
    typed = {"stop_before": f"{before!r} rad", "stop_after": f"{after!r} rad", "rod_length": f"{crank[0]!r} mm",
             "stroke": f"{2 * crank[1]!r} mm", "pin_offset": f"{crank[2]!r} mm"}  # fmt: skip
    result = DEAD_CENTRE(typed)
    assert result["correction"] == pytest.approx(slip, abs=1e-6)
    assert result["stop_depth_found"] == pytest.approx(drop, abs=1e-8)


@calm
@given(st.floats(-180, 180), cranks)
def test_every_crank_angle_has_a_position(angle, crank):
    assume(crank[1] + abs(crank[2]) < 0.95 * crank[0])
    result = PISTON_POSITION(angle=f"{angle!r} deg", rod_length=f"{crank[0]!r} mm", stroke=f"{2 * crank[1]!r} mm",
                        pin_offset=f"{crank[2]!r} mm")  # fmt: skip
    assert all(math.isfinite(result[n]) for n in ("drop", "angle_before", "angle_after"))
    typed = math.radians(angle)  # with an offset the bottom does not lie opposite the top: compare round the circle
    after, before = result["angle_after"], -result["angle_before"]
    assert min(abs(math.remainder(a - typed, 2 * math.pi)) for a in (after, before)) < 1e-4


@calm
@given(st.floats(0.0, 0.999), st.sampled_from(["cam", "crank"]))
def test_the_crank_turns_twice_as_far(part, shaft):
    result = TIMING_GAP(gap=f"{part * 100!r} mm", lever_length="100 mm", shaft=shaft)
    assert result["crank_angle"] == pytest.approx(2 * result["cam_angle"], abs=1e-15)
    tilt = result[f"{shaft}_angle"]
    assert math.sin(tilt) == pytest.approx(part, abs=1e-12)


@calm
@given(st.integers(4, 400), st.integers(1, 8))
def test_teeth_and_the_same_length_of_rim_agree(count, halves):
    assume(halves / 2 <= count)
    teeth = TIMING_MARK(teeth=str(halves / 2), tooth_count=str(count))
    rim = TIMING_MARK(arc=f"{math.pi * 100 * halves / 2 / count!r} mm", diameter="100 mm")
    assert teeth["angle"] == pytest.approx(rim["angle"], rel=1e-12)
    assert teeth["other_angle"] == pytest.approx(2 * teeth["angle"], rel=1e-15)


@calm
@given(st.floats(0, 0.02), st.floats(0.03, 0.2), st.floats(0, 2 * math.pi), st.floats(0, 2 * math.pi))
def test_no_reading_of_an_off_centre_disc_errs_more_than_stated(s, R, true, way):
    """The pointer stands still at the radius R; the disc turns about a point s off its own centre."""
    pointer = (R * math.sin(true), R * math.cos(true))
    seen = math.atan2(pointer[0] - s * math.sin(way), pointer[1] - s * math.cos(way))
    error = abs((seen - true + math.pi) % (2 * math.pi) - math.pi)
    assert error <= float(timing.off_centre_error(s, R)) + 1e-12


@calm
@given(st.floats(90, 110), st.floats(90, 110), st.floats(0, 2 * math.pi))
def test_no_angle_of_an_unevenly_printed_disc_errs_more_than_stated(across, along, true):
    seen = math.atan2(math.sin(true) * across, math.cos(true) * along)
    error = abs((seen - true + math.pi) % (2 * math.pi) - math.pi)
    assert error <= abs(float(timing.unequal_scale_error(across, along))) + 1e-12


@pytest.mark.parametrize(
    ("typed", "fields"),
    [
        ({}, {"arc"}),
        ({"arc": "3 mm"}, {"diameter"}),
        ({"tooth_count": "38"}, {"teeth"}),
        ({"arc": "3 mm", "diameter": "100 mm", "teeth": "1", "tooth_count": "38"}, {"teeth", "tooth_count"}),
        ({"teeth": "39", "tooth_count": "38"}, {"teeth"}),
        ({"arc": "400 mm", "diameter": "100 mm"}, {"arc"}),
    ],
)
def test_marks_refuse_what_does_not_go_together(typed, fields):
    with pytest.raises(BadInput) as refused:
        TIMING_MARK(typed)
    assert {p.field for p in refused.value.problems} == fields


@pytest.mark.parametrize(
    ("typed", "fields"),
    [
        ({"rod_length": "143 mm"}, {"stroke"}),
        ({"pin_offset": "1 mm"}, {"rod_length", "stroke"}),
        ({"rod_length": "40 mm", "stroke": "86 mm"}, {"rod_length"}),
        ({"rod_length": "143 mm", "stroke": "86 mm", "stop_depth": "90 mm"}, {"stop_depth"}),
        ({"stop_after": "-24 deg"}, {"stop_after"}),
    ],
)
def test_dead_centre_refuses_an_impossible_crank(typed, fields):
    with pytest.raises(BadInput) as refused:
        DEAD_CENTRE({"stop_before": "24 deg", "stop_after": "26 deg", **typed})
    assert {p.field for p in refused.value.problems} == fields


def test_the_gap_must_be_smaller_than_the_bar():
    with pytest.raises(BadInput, match="gap: must be smaller than"):
        TIMING_GAP(gap="10 mm", lever_length="10 mm")


TURNED = {"turns": "2", "direction": "running direction", "resistance": "no", "marks": "in line"}


@pytest.mark.parametrize(
    ("typed", "outcome"),
    [
        ({"marks_source": "bench notes, page 3"}, "pass"),
        ({}, "no limit given"),
        ({"marks": "off", "marks_source": "bench notes, page 3"}, "fail"),
        ({"marks": "not seen", "marks_source": "bench notes, page 3"}, "undecided"),
        ({"turns": "1", "marks_source": "bench notes, page 3"}, "undecided"),
        ({"direction": "against it", "marks_source": "bench notes, page 3"}, "undecided"),
        ({"resistance": "yes", "marks_source": "bench notes, page 3"}, "fail"),
    ],
)
def test_two_turns_by_hand(typed, outcome):
    assert str(TWO_TURN_CHECK({**TURNED, **typed}).outcome) == outcome
