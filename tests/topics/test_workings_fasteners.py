"""The fastener workings at their edges: what is refused, what is assumed, what is said."""

import numpy as np
import pytest

from shoplib.core.errors import BadInput
from shoplib.physics import torque_units
from shoplib.topics import get

PRELOAD, ASSEMBLY, THREAD = (get(n) for n in ("preload_from_torque", "assembly_preload", "thread"))
WRENCH, UNITS, PAIR, MEASURE = (get(n) for n in ("wrench_setting", "torque_units", "unit_pair", "measurement"))
BOLT = {"torque": "40 N*m", "thread": "M10x1.5", "mu_thread": "0.12", "mu_head": "0.12"}


def refused(working, typed, **more):
    with pytest.raises(BadInput) as caught:
        working(typed, **more)
    return {p.field for p in caught.value.problems}


@pytest.mark.parametrize(
    ("change", "fields"),
    [
        ({"thread": "M10x3"}, {"thread"}),
        ({"thread": "10"}, {"thread"}),
        ({"mu_thread": "0"}, {"mu_thread"}),
        ({"mu_thread": "-0.1", "mu_head": "2"}, {"mu_thread", "mu_head"}),
        ({"mu_low": "0.1"}, {"mu_high"}),
        ({"mu_low": "0.2", "mu_high": "0.1"}, {"mu_low"}),
        ({"mu_low": "0.13", "mu_high": "0.16"}, {"mu_low"}),
        ({"mu_thread": "0.10–0.14", "mu_low": "0.1", "mu_high": "0.16"}, {"mu_low"}),
        ({"bearing_mean": "13 mm", "bearing_outer": "14 mm"}, {"bearing_mean"}),
        ({"bearing_outer": "9 mm", "bearing_hole": "11 mm"}, {"bearing_outer"}),
        ({"shank_diameter": "11 mm"}, {"shank_diameter"}),
        ({"yield_strength": "940 MPa", "property_class": "10.9"}, {"yield_strength"}),
        ({"thread": "3/8-16 UNC"}, {"bearing_outer", "bearing_hole"}),
        ({"torque": "0 N*m"}, {"torque"}),
        ({"torque": "-5 N*m"}, {"torque"}),
    ],
)
def test_what_does_not_go_together_is_named(change, fields):
    assert refused(PRELOAD, {**BOLT, **change}) == fields


def test_what_nobody_typed_is_printed_as_assumed():
    result = PRELOAD({**BOLT, "thread": "M10"})
    said = " ".join(result.assumptions)
    assert "coarse" in said
    assert "14.63 mm (ISO 4014)" in said
    assert "11 mm (ISO 273" in said
    measured = {**BOLT, "bearing_mean": "13 mm"}
    assert PRELOAD(measured).assumptions == ()
    judged = {**measured, "property_class": "10.9"}  # a thinner shank would yield first
    (assumed,) = PRELOAD(judged).assumptions
    assert assumed.startswith("shank diameter the same as the thread, 10 mm") and "8.593 mm" in assumed
    assert PRELOAD({**judged, "shank_diameter": "8.4 mm"}).assumptions == ()


def test_a_thin_shank_is_the_weaker_section():
    thick = PRELOAD({**BOLT, "property_class": "10.9"})
    thin = PRELOAD({**BOLT, "property_class": "10.9", "shank_diameter": "7 mm"})
    assert thin["preload"] == thick["preload"]
    assert thin["utilisation"] > 1.3 * thick["utilisation"]
    assert (
        PRELOAD({**BOLT, "property_class": "10.9", "shank_diameter": "9.9 mm"})["utilisation"] == thick["utilisation"]
    )


def test_elastic_torsion_on_request_is_harder_on_the_bolt():
    plastic, elastic = (PRELOAD({**BOLT, "property_class": "10.9"}, torsion=t) for t in ("plastic", "elastic"))
    assert elastic["utilisation"] > plastic["utilisation"]


def test_a_strength_without_a_source_can_fail_and_never_pass():
    measured = {**BOLT, "shank_diameter": "8.4 mm"}  # a shank that nobody measured leaves it undecided
    assert PRELOAD({**measured, "yield_strength": "940 MPa"}).outcome == "no limit given"
    assert PRELOAD({**BOLT, "yield_strength": "300 MPa"}).outcome == "fail"
    sourced = {"yield_strength": "940 MPa", "yield_strength_source": "test certificate"}
    assert PRELOAD({**measured, **sourced}).outcome == "pass"
    assert PRELOAD({**BOLT, **sourced}).outcome == "undecided"
    assert PRELOAD(BOLT).outcome is None


def test_a_torque_band_goes_through():
    result = PRELOAD({**BOLT, "torque": "37–43 Nm"})
    assert result["preload_low"] / result["preload"] == pytest.approx(37 / 40)
    assert result["preload_high"] / result["preload"] == pytest.approx(43 / 40)


def test_inch_bolts_with_their_sizes_typed():
    result = PRELOAD({**BOLT, "thread": "3/8-16 UNC", "torque": "30 ft-lb", "bearing_mean": "0.5 in"})
    assert result["preload"] > 0
    assert refused(
        ASSEMBLY, {"thread": "3/8-16 UNC", "mu_thread": "0.12", "mu_head": "0.12", "bearing_mean": "0.5 in"}
    ) == {"property_class"}


def test_a_class_that_does_not_cover_the_thread():
    assert refused(THREAD, {"thread": "3/8-16 UNC", "property_class": "10.9"}) == {"property_class"}


# ------------------------------------------------------------------------------ wrench, units, measurement
def test_wrench_range_and_calibration():
    base = {"torque": "80 N*m", "wrench_length": "400 mm", "adapter_length": "50 mm"}
    base["adapter_angle"] = "0 deg"
    dates = {"calibration_due": "2027-01-01", "date_used": "2026-11-20"}
    good = WRENCH(base | dates, wrench_min="20 N*m", wrench_max="200 N*m")
    assert good.outcome == "no limit given"  # neither the range nor the date has a source
    sources = {"wrench_range_source": "marked on TW-2", "calibration_source": "certificate 12"}
    assert WRENCH(base | dates | sources, wrench_min="20 N*m", wrench_max="200 N*m").outcome == "pass"
    late = WRENCH(base, calibration_due="2026-01-01", date_used="2026-11-20")
    assert late.outcome == "fail"
    assert WRENCH(base, wrench_min="20 N*m", wrench_max="60 N*m").outcome == "fail"
    assert "date_used" in refused(WRENCH, base, calibration_due="2026-01-01")
    assert "adapter_length" in refused(WRENCH, {**base, "adapter_length": "400 mm"}, adapter_angle="180 deg")


def test_a_printed_pair_is_judged_by_its_printed_digits():
    assert PAIR(first="40 N*m", second="30 lbf*ft").outcome == "pass"
    assert PAIR(first="146 mm", second="5.59 in").outcome == "fail"
    assert refused(PAIR, {"first": "40 N*m", "second": "30 mm"}) == {"second"}


@pytest.mark.parametrize(
    ("torque", "printed"), [("40", "30"), ("20", "15"), ("50", "37"), ("10", "89"), ("5", "44"), ("0.7", "6")]
)
def test_one_rounding_rule(torque, printed):  # common practice, no source
    assert f" {printed} " in UNITS(torque=f"{torque} N*m")["printed_pair"].replace("(", " ")


def test_missing_is_not_zero():
    base = {"what": "liner protrusion", "where": "cylinder 2", "low": "0.03 mm", "low_source": "sheet 12"}
    assert MEASURE(base, state="not measured").outcome == "undecided"
    assert MEASURE(base, state="unreadable").outcome == "undecided"
    assert MEASURE(base, value="0.00 mm").outcome == "fail"
    assert MEASURE(base, value="0.04 mm", state="doubtful").outcome == "undecided"
    assert MEASURE(base, state="not applicable").outcome is None
    assert refused(MEASURE, base) == {"value"}


def test_limits_of_different_kinds_are_not_compared():
    base = {"what": "liner protrusion", "where": "cylinder 2", "value": "0.04 mm"}
    assert refused(MEASURE, base | {"low": "90 deg", "high": "0.06 mm"}) == {"low"}
    assert refused(MEASURE, base | {"low": "0.03 mm", "high": "1 deg"}) == {"high"}
    assert refused(MEASURE, base | {"low": "0.07 mm", "high": "0.06 mm"}) == {"low"}


@pytest.mark.parametrize("degrees", [0, 30, 60, 90, 120, 150, 180])
def test_a_wrench_with_an_adapter_against_the_moment_of_the_force_at_its_grip(degrees):
    """Statics: the moment about the bolt of a force at the grip, square to the wrench (a cross product)."""
    torque, reach, adapter = 80.0, 0.4, 0.05
    grip = np.array([-reach, 0.0])  # the drive is the origin
    bolt = adapter * np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
    arm, force = grip - bolt, np.array([0.0, -torque / reach])  # a force that gives the torque at the drive
    at_bolt = arm[0] * force[1] - arm[1] * force[0]
    result = WRENCH(torque="80 N*m", wrench_length="400 mm", adapter_length="50 mm", adapter_angle=f"{degrees} deg")
    assert result["uncorrected_torque"] == pytest.approx(at_bolt)
    assert result["setting"] == pytest.approx(torque**2 / at_bolt)


def test_a_printed_pair_at_the_ends_of_its_rule():
    assert [torque_units.whole(x) for x in (0.48, 0.5, 1.49, 1.5, 2.51)] == [0, 1, 1, 2, 3]
    assert torque_units.printed_pair(10.5) == "10.5 N·m (93 lbf·in)"  # 92.9
    assert torque_units.printed_pair(10.6) == "10.6 N·m (8 lbf·ft)"  # 7.8
    assert torque_units.misread_ratio(30 * 1.3558179483, 30.0) == pytest.approx(1.3558179483)
