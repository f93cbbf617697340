"""What the pictures of the topic skim show at a limit."""

from dataclasses import replace

import numpy as np
import pytest

from tests.topics.picture_parts import by_gid
from tests.topics.test_at_limits_pictures import LONG, drawn, labels


@pytest.mark.parametrize(("degrees", "stands", "shift"), [(-0.01, "left", 2.0), (0.0, "right", -2.0)])
def test_the_words_at_the_smallest_gap_stand_away_from_the_valve(degrees, stands, shift):
    figure, _ = drawn("valve_sweep", lambda d: {"at": replace(d["at"], angle=np.radians(degrees) + d["centre"])})
    note = by_gid(figure, "note")
    assert note.get_ha() == stands
    assert note.get_position()[0] == pytest.approx(degrees + shift)


OPEN = [({-62: 5}, -48.0), ({-63: 5}, 48.0), ({62: 5}, 48.0), ({-62: 5, 62: 8}, 48.0), ({-62: 8, 62: 5}, -48.0)]


@pytest.mark.parametrize(("lifts", "side"), OPEN)
def test_the_valve_is_named_on_the_side_where_it_is_open(lifts, side):
    """Only what lies within the axis counts; a valve closed at both ends of it is named on the right."""

    def lift(data):
        at = np.zeros(len(data["theta"]))
        for degree, mm in lifts.items():
            at[90 + degree] = 1e-3 * mm
        return {"lift": at}

    figure, _ = drawn("valve_sweep", lift)
    assert by_gid(figure, "valve").get_position()[0] == side


def test_a_sweep_about_the_next_turn_is_drawn_at_the_same_place():
    def turned(data):
        at = replace(data["at"], angle=data["at"].angle + 2 * np.pi)
        return {"at": at, "theta": data["theta"] + 2 * np.pi, "centre": data["centre"] + 2 * np.pi}

    first, second = (drawn("valve_sweep", change)[0] for change in (None, turned))
    for gid in ("lift", "gap"):
        assert by_gid(second, gid).get_xdata() == pytest.approx(by_gid(first, gid).get_xdata())
    assert by_gid(second, "lift").get_xdata() == pytest.approx(np.arange(-90, 91))


@pytest.mark.parametrize(("degree", "top"), [(29, 80.0), (30, 50.0), (-29, 80.0), (-30, 50.0)])
def test_the_axis_has_the_room_of_the_piston_within_30_degrees(degree, top):
    def room(data):
        at = np.full(len(data["theta"]), 50e-3)
        at[90 + degree] = 80e-3
        return {"room": at}

    figure, _ = drawn("valve_sweep", room)
    assert figure.axes[0].get_ylim() == (0.0, top)


@pytest.mark.parametrize(("degree", "top"), [(62, 80.0), (63, 50.0), (-62, 80.0), (-63, 50.0)])
def test_the_axis_has_the_lift_that_lies_within_it(degree, top):
    def both(data):
        lift = np.zeros(len(data["theta"]))
        lift[90 + degree] = 80e-3
        return {"room": np.full(len(lift), 50e-3), "lift": lift}

    figure, _ = drawn("valve_sweep", both)
    assert figure.axes[0].get_ylim() == (0.0, top)


def test_names_of_grades_have_24_letters_and_those_of_pistons_12():
    def named(data):
        first, *rest = data["grades"]
        return {"names": [LONG, *data["names"][1:]], "grades": [replace(first, name=LONG), *rest]}

    figure, result = drawn("gasket_grade", named)
    assert labels(figure.axes[0].xaxis)[0] == LONG[:12]
    order = sorted(result.plot_data["grades"], key=lambda g: g.middle)
    place = next(k for k, g in enumerate(order) if g.name == LONG)
    assert by_gid(figure, f"grade{place}").get_text() == f"grade {LONG[:24]}"


@pytest.mark.parametrize(("millimetres", "held"), [(0.0, True), (0.01, False)])
def test_a_valve_without_any_lash_is_held_open(millimetres, held):
    figure, result = drawn("valve_lash", lash=f"{millimetres + 0.1} mm", tip_rise="0.1 mm", camshaft="in the head")
    assert result["lash_after"] == pytest.approx(1e-3 * millimetres, abs=1e-12)
    assert by_gid(figure, "told").get_text().endswith("the valve is held open") == held
