"""After the skim: nothing cut changes nothing, more cut moves one way, inches give what millimetres give."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.physics import skim, timing_drive
from shoplib.topics import all_workings

W = all_workings()


def length(low, high):
    return st.floats(low, high).map(lambda x: round(x, 4))


ENGINES = st.fixed_dictionaries(
    {
        "bore": length(60, 140), "stroke": length(60, 160), "ratio": length(7, 22), "opening": length(0.05, 1.0),
        "gasket": length(1.0, 1.05), "clearance": length(0.6, 3.0), "angle": length(0, 40), "sprocket": length(60, 200),
        "height": length(80, 160),
    }
)  # fmt: skip
CUTS = st.tuples(length(0, 0.5), length(0, 0.3), length(-0.2, 0.3))


def chain(engine, cuts, inch=False):
    def mm(x):
        return f"{x / 25.4!r} in" if inch else f"{x!r} mm"

    area = math.pi / 4 * engine["bore"] ** 2 * engine["opening"]
    head, block, gain = cuts
    return W["skim_chain"](bore=mm(engine["bore"]), stroke=mm(engine["stroke"]), ratio=engine["ratio"],
                           chamber_opening_area=f"{area / 645.16!r} in2" if inch else f"{area!r} mm2",
                           gasket_bore=mm(engine["bore"] * engine["gasket"]), head_skim=mm(head), block_skim=mm(block),
                           gasket_gain=mm(gain), valve_to_piston_clearance=mm(engine["clearance"]),
                           valve_angle=f"{engine['angle']!r} deg", sprocket_diameter=mm(engine["sprocket"]),
                           measured_height=mm(engine["height"]), )  # fmt: skip


RESULTS = ("net_drop", "ratio_after", "valve_to_piston_clearance_after", "crank_angle", "height_after")


def all_of(result):
    return [result[name] for name in RESULTS]


@settings(max_examples=60, deadline=None)
@given(ENGINES)
def test_no_cut_changes_nothing(engine):
    result = chain(engine, (0.0, 0.0, 0.0))
    assert result["net_drop"] == 0 and result["crank_angle"] == 0
    assert result["ratio_after"] == pytest.approx(engine["ratio"], rel=1e-12)
    assert result["valve_to_piston_clearance_after"] == pytest.approx(engine["clearance"] * 1e-3, rel=1e-12)
    assert result["height_after"] == pytest.approx(engine["height"] * 1e-3, rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(ENGINES, CUTS)
def test_inches_give_what_millimetres_give(engine, cuts):
    for a, b in zip(all_of(chain(engine, cuts)), all_of(chain(engine, cuts, inch=True)), strict=True):
        assert a == pytest.approx(b, rel=1e-9, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(ENGINES, CUTS, length(0.01, 0.2))
def test_more_off_moves_each_link_one_way(engine, cuts, more):
    head, block, gain = cuts
    before, after = chain(engine, cuts), chain(engine, (head + more, block, gain))
    assert after["net_drop"] > before["net_drop"]
    assert after["ratio_after"] > before["ratio_after"]
    assert after["crank_angle"] > before["crank_angle"]
    assert after["valve_to_piston_clearance_after"] < before["valve_to_piston_clearance_after"]
    assert after["height_after"] < before["height_after"]
    thicker = chain(engine, (head, block, gain + more))
    assert thicker["ratio_after"] < before["ratio_after"] and thicker["crank_angle"] < before["crank_angle"]
    assert thicker["valve_to_piston_clearance_after"] > before["valve_to_piston_clearance_after"]


@settings(max_examples=60, deadline=None)
@given(ENGINES, length(0.05, 0.5))
def test_a_smaller_opening_moves_the_ratio_less(engine, cut):
    small = chain({**engine, "opening": engine["opening"] / 2}, (cut, 0.0, 0.0))
    assert small["ratio_after"] < chain(engine, (cut, 0.0, 0.0))["ratio_after"]


@settings(max_examples=100, deadline=None)
@given(st.lists(st.lists(length(0.3, 1.2), min_size=2, max_size=2), min_size=1, max_size=8), st.randoms())
def test_the_grade_does_not_hang_on_the_order_of_pistons_or_grades(readings, random):
    grades = [{"name": n, "low": f"{a} mm", "high": f"{b} mm"}
              for n, a, b in (("1", 0.3, 0.5), ("2", 0.5, 0.7), ("3", 0.72, 0.9), ("4", 0.9, 1.1))]  # fmt: skip
    typed = [[f"{x!r} mm" for x in pair] for pair in readings]
    first = W["gasket_grade"](projections=typed, grades=grades)
    random.shuffle(typed)
    random.shuffle(grades)
    again = W["gasket_grade"](projections=[pair[::-1] for pair in typed], grades=grades)
    assert first["governing"] == pytest.approx(again["governing"], abs=1e-15)
    assert first["grade"] == again["grade"]
    highest = max(sum(pair) / 2 for pair in readings)
    assert 1e3 * first["governing"] == pytest.approx(highest, abs=1e-9)


@settings(max_examples=200, deadline=None)
@given(st.floats(-2, 3))
def test_every_projection_gets_an_answer_and_only_a_clear_one_is_alone(x):
    grades = [skim.Grade("1", 0.0, 0.5), skim.Grade("2", 0.5, 1.0), skim.Grade("3", 1.2, None)]
    called, case = skim.grades_at(x, grades)
    assert called
    assert (len(called) == 2) == (case in ("boundary", "gap"))
    if case == "one":
        assert called[0].holds(x, x)


@settings(max_examples=60, deadline=None)
@given(length(5, 30), st.integers(8, 120))
def test_chain_and_belt_pitch_circles(p, z):
    chain, belt = timing_drive.chain_pitch_radius(p, z), timing_drive.belt_pitch_radius(p, z)
    assert 2 * chain * math.sin(math.pi / z) == pytest.approx(p)  # the chord is the pitch
    assert 2 * math.pi * belt == pytest.approx(p * z)  # the pitches are the circle
    assert chain > belt


@settings(max_examples=100, deadline=None)
@given(length(20, 90), length(20, 90), length(200, 500), length(0.05, 0.5))
def test_retard_agrees_with_a_drive_wound_up_in_full(cam, crank, distance, drop):
    """Independent: the whole length of the tight side, wrap and tangent, kept constant by turning the cam."""

    def path(C):  # from a mark behind the crank sprocket to a mark beyond the cam sprocket
        lean = math.acos((crank - cam) / C)
        return crank * (math.pi - lean) + C * math.sin(lean) + cam * lean

    turned = (path(distance) - path(distance - drop)) / cam
    run_angle = math.asin((crank - cam) / distance)
    assert timing_drive.cam_retard(timing_drive.slack_in_tight_run(drop, run_angle), cam) == pytest.approx(
        turned, rel=2e-3
    )
