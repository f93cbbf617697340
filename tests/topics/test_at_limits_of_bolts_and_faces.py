"""Typed inputs at the limit that decides: bolts, faces, cuts, wrenches and timing.  Recorded runs do not see these."""

from types import SimpleNamespace

import pytest

from shoplib.core.errors import BadInput
from shoplib.topics import get
from shoplib.topics.tightening import torque_angle_trace, trace_against_model
from tests.topics.typed_inputs import outcomes, refused, run

GUARDED, SIMPLE = "iso_14253_1", "simple_acceptance"


# ------------------------------------------------------------------------------ wrench
WRENCH = {
    "torque": "80 N*m",
    "wrench_length": "400 mm",
    "wrench_range_source": "marked on TW-2",
    "wrench_min": "20 N*m",
}
IN_RANGE = "Setting within the wrench's range"


@pytest.mark.parametrize(
    ("adapter", "largest", "outcome"),
    [("50 mm", "91 N*m", "undecided"), ("50 mm", "92 N*m", "pass"), ("400 mm", "79 N*m", "undecided"),
     ("400 mm", "81 N*m", "pass"), ("0 mm", "81 N*m", "pass")],
)  # fmt: skip
def test_an_adapter_whose_angle_was_not_typed_counts_square_and_turned_back(adapter, largest, outcome):
    """M L ÷ (L + E cos α), the law of the lever: 91.4 N·m turned back; as long as the wrench it cannot be turned back."""
    found = run("wrench_setting", **WRENCH, adapter_length=adapter, wrench_max=largest)
    assert outcomes(found)[IN_RANGE] == outcome


def test_a_lever_of_less_than_a_twentieth_of_the_wrench_is_refused_at_any_angle():
    """cos 120° = −½: 100 mm − ½ · 180 mm = 10 mm.  The twentieth is common practice, no source."""
    lengths = {"wrench_length": "100 mm", "adapter_angle": "120 deg"}
    assert not refused("wrench_setting", **lengths, adapter_length="189.8 mm")
    assert refused("wrench_setting", **lengths, adapter_length="190.2 mm").keys() == {"adapter_length"}


def test_a_setting_is_judged_in_three_digits():
    check = run("wrench_setting", **WRENCH, adapter_length="50 mm", wrench_max="92 N*m").checks[0]
    assert check.as_line().startswith(f"{IN_RANGE}: 71.1 N·m, must be at most 92 N·m")


@pytest.mark.parametrize(("torque", "told"), [("19.9 N*m", True), ("20.5 N*m", False)])
def test_below_a_fifth_of_the_largest_value_the_certificate_is_asked_for(torque, told):
    found = run("wrench_setting", **{**WRENCH, "torque": torque}, adapter_length="0 mm", wrench_max="100 N*m")
    assert any("below a fifth of the largest value" in caution for caution in found.cautions) == told


# ------------------------------------------------------------------------------ units
@pytest.mark.parametrize(
    ("first", "second", "found", "outcome"),
    [("5 N*m", "5 N*m", "yes", "pass"), ("5 N*m", "7 N*m", "no", "fail"), ("5 N*m", "0.5 kgf*m", "yes", "undecided")],
)
def test_two_printed_values_that_leave_a_fifth_open(first, second, found, outcome):
    """±0.5 N·m twice is a fifth of 5 N·m; with ±0.05 kgf·m = ±0.490 N·m it is more than a fifth of 4.903 N·m (SI Brochure)."""
    (check,) = run("unit_pair", first=first, second=second).checks
    assert (check.found.value, str(check.outcome)) == (found, outcome)


def test_a_step_becomes_ten_times_finer_where_it_rounds_too_much():
    rows = run("conversion_card", kind="pressure", first="0.0514 bar", last="0.0516 bar", step="0.0002 bar")["rows"]
    assert [row["kPa"].value for row in rows] == pytest.approx([5.1e3, 5.2e3], rel=1e-12)


def test_what_a_misread_unit_would_apply_is_rounded_to_a_tenth():
    """7 N·m ÷ 1.35582 = 5.163 lbf·ft."""
    rows = run("conversion_card", first="7 lbf*ft", last="8 lbf*ft", step="1 lbf*ft")["rows"]
    assert rows[0]["misread"].value / rows[0]["misread"].unit.si == pytest.approx(5.2, rel=1e-12)


def test_a_card_is_typed_in_one_unit_and_has_sixty_rows_at_most():
    ends = {"first": "20 N*m", "last": "79 N*m"}
    assert not refused("conversion_card", **ends, step="1 N*m")
    assert refused("conversion_card", first="20 N*m", last="80 N*m", step="1 N*m").keys() == {"step"}
    assert refused("conversion_card", **ends, step="4 lbf*ft").keys() == {"step"}
    assert "each number is the exact quotient, rounded to the last digit shown (common practice)" in run(
        "conversion_card", **ends, step="1 N*m").assumptions  # fmt: skip


# ------------------------------------------------------------------------------ timing
def test_two_stops_are_less_than_one_turn_apart():
    assert not refused("dead_centre", stop_before="180 deg", stop_after="179 deg")
    assert refused("dead_centre", stop_before="180 deg", stop_after="181 deg").keys() == {"stop_after"}


def test_a_piston_with_an_offset_pin_travels_a_little_further_than_the_stroke():
    """√((l + r)² − e²) − √((l − r)² − e²) = √(186² − 10²) − √(100² − 10²) = 86.232 mm, by hand."""
    crank = {"rod_length": "143 mm", "stroke": "86 mm", "pin_offset": "10 mm", "angle": ""}
    assert not refused("piston_position", **crank, drop="86.22 mm")
    with pytest.raises(BadInput, match=r"more than the piston travels, 86\.23 mm"):
        run("piston_position", **crank, drop="86.24 mm")


@pytest.mark.parametrize(
    ("rule", "gap", "no_go", "outcome"),
    [(SIMPLE, "0.30 mm", "", "fail"), (GUARDED, "0.30 mm", "", "undecided"), (GUARDED, "0.31 mm", "", "fail"),
     (SIMPLE, "0.20 mm", "0.29 mm", "pass"), (GUARDED, "0.20 mm", "0.29 mm", "undecided"),
     (GUARDED, "0.20 mm", "0.28 mm", "pass")],
)  # fmt: skip
def test_a_gap_under_a_bar_is_judged_with_the_tolerance_of_the_leaves(rule, gap, no_go, outcome):
    found = run("timing_gap", gap=gap, no_go=no_go, leaf_tolerance="0.01 mm", limit="0.295 mm", limit_source="notes",
                decision_rule=rule, at_limit="allowed")  # fmt: skip
    assert str(found.outcome) == outcome


def test_no_leaf_that_fits_has_no_uncertainty():
    (check,) = run("timing_gap", gap="0 mm", no_go="", limit="0.3 mm", limit_source="notes").checks
    assert check.uncertainty.value == 0


# ------------------------------------------------------------------------------ strip down
def test_a_drain_of_which_one_part_was_not_measured_is_a_lower_bound():
    drained = {"step": "liquid drained", "state": "done", "liquid": "coolant"}
    for amounts, told in (
        (("2 L", "not measured"), "at least: 1 of 2 not measured"),
        (("not measured", "not measured"), "not measured"),
        (("2 L", "3 L"), "all measured"),
    ):
        (row,) = run("strip_log", steps=[{**drained, "amount": amount} for amount in amounts])["drained"]
        assert row["complete"].value == told


def test_each_pass_that_went_on_is_named_with_the_bolts_left_out():
    passes = [{"bolt": "1", "pass_1": "done"}, {"bolt": "2"}, {"bolt": "3", "pass_1": "done"}]
    found = run("strip_log", loosening="1; 2; 3", passes=passes)
    assert [(row["what"].value, row["where"].value) for row in found["warnings"]] == [
        ("pass 1 continued with bolt 3 and left out", "2")
    ]


# ------------------------------------------------------------------------------ skim
PARTS = {
    "bore": "86 mm", "stroke": "86 mm", "chamber_volume": "32 cm3", "gasket_thickness": "1.2 mm", "gasket_bore": "87.5 mm",
    "deck_clearance": "0.2 mm", "piston_volume": "5 cm3", "head_skim": "0 mm", "chamber_opening_area": "3900 mm**2", "ratio": "",
}  # fmt: skip


def test_the_ratio_before_comes_from_the_parts():
    """499.56 cm³ swept; 32 + 7.2158 + 1.1618 + 5 = 45.378 cm³ left, by hand: 1 + 499.56 ÷ 45.378 = 12.009."""
    found = run("compression_ratio", **PARTS)
    assert found["ratio_before"] == pytest.approx(12.009, abs=5e-4)
    assert found["squish_before"] == pytest.approx(1.4e-3)


@pytest.mark.parametrize(
    ("block", "gain", "minimum", "outcome"),
    [("0.3 mm", "0 mm", "1.0 mm", "pass"), ("0.3 mm", "0 mm", "1.2 mm", "fail"), ("", "0 mm", "1.0 mm", "undecided")],
)
def test_a_squish_is_judged_after_all_cuts_and_a_cut_that_was_not_typed_leaves_it_open(block, gain, minimum, outcome):
    """1.2 mm + 0.2 mm − 0.3 mm = 1.1 mm."""
    found = run("compression_ratio", **PARTS, block_skim=block, gasket_gain=gain, minimum_squish=minimum,
                minimum_squish_source="notes", decision_rule=SIMPLE, at_limit="allowed")  # fmt: skip
    assert outcomes(found)["Squish after"] == outcome


def test_a_crown_that_may_touch_is_not_clear_whatever_rule_the_source_has():
    """1.4 mm less the cut, ±0.005 mm for each size that was typed."""
    touching = {
        "deck_clearance": "0.20 mm",
        "gasket_thickness": "1.20 mm",
        "gasket_gain": "0 mm",
        "decision_rule": SIMPLE,
    }
    for block, outcome in (
        ("1.42 mm", "fail"),
        ("1.41 mm", "undecided"),
        ("1.39 mm", "undecided"),
        ("1.38 mm", "pass"),
    ):
        found = run("compression_ratio", **{**PARTS, **touching}, block_skim=block)
        assert outcomes(found)["Crown clear of the head face"] == outcome


DRIVE = {
    "head_skim": "0.20 mm",
    "block_skim": "0 mm",
    "gasket_gain": "0 mm",
    "idler_in_tight_run": "no",
    "sprockets": "keyed",
}


@pytest.mark.parametrize(("drive", "diameter"), [("chain", 63.908e-3), ("belt", 63.670e-3)])
def test_a_chain_bends_at_its_pins_and_a_belt_lies_round(drive, diameter):
    """9.525 mm ÷ sin(180° ÷ 21) and 21 · 9.525 mm ÷ π: geometry, by hand."""
    found = run("cam_retard", **{**DRIVE, "sprocket_diameter": "", "pitch": "9.525 mm", "teeth": "21", "drive": drive})
    assert found["pitch_diameter"] == pytest.approx(diameter, abs=2e-6)


@pytest.mark.parametrize(("limit", "outcome"), [("0.1 deg", "fail"), ("0.15 deg", "undecided"), ("0.8 deg", "pass")])
def test_a_tight_run_whose_angle_was_not_typed_may_lie_at_80_degrees(limit, outcome):
    """0.2 mm ÷ 30 mm = 0.382° of the camshaft, 0.764° of the crankshaft; times cos 80° 0.133°."""
    found = run("cam_retard", **DRIVE, sprocket_diameter="60 mm", retard_limit=limit, retard_limit_source="notes",
                decision_rule=SIMPLE, at_limit="allowed")  # fmt: skip
    assert str(found.outcome) == outcome


GRADES = [{"name": "1", "low": "0.50 mm", "high": "0.60 mm"}, {"name": "2", "low": "0.60 mm", "high": "0.70 mm"}]


def test_a_single_reading_of_a_piston_leaves_its_tilt_open_unless_the_highest_counts():
    for rule, outcome in (("max", "pass"), ("mean_then_max", "undecided")):
        found = run("gasket_grade", projections=[["0.650 mm"], ["0.651 mm", "0.652 mm"]], grades=GRADES,
                    grades_source="notes", uncertainty="0.001 mm", rule=rule)  # fmt: skip
        assert str(found.outcome) == outcome
    assert refused("gasket_grade", projections=[["0.65 mm"], ["not measured"]], grades=GRADES).keys() == {
        "projections[2].readings"
    }


@pytest.mark.parametrize(("last", "fields"), [("180 deg", set()), ("181 deg", {"lift_curve"})])
def test_a_lift_curve_is_no_longer_than_one_turn(last, fields):
    rows = [{"angle": angle, "lift": "1 mm"} for angle in ("-180 deg", "0 deg", last)]
    assert refused("valve_sweep", lift_curve=rows).keys() == fields


# ------------------------------------------------------------------------------ tightening
def test_a_score_of_exactly_three_and_a_half_is_not_named():
    """0.6745 · 1750 ÷ 337.25 = 3.5; beyond 3.5 a reading is labelled (Iglewicz and Hoaglin 1993, from memory, not checked)."""
    assert 0.6745 * 1750 / 337.25 == 3.5
    sound = [1662.75, 1662.75, 2000, 2000, 2337.25, 2337.25]
    for highest, odd in ((3750, []), (3751, ["7"])):
        peaks = [f"{x} N*m" for x in (*sound, highest)]
        assert run("peak_torque", readings="; ".join(peaks))["unlike"] == odd
        rows = [{"bolt": str(k), "torque": peak} for k, peak in enumerate(peaks, 1)]
        assert run("bolts_compared", traces=rows)["odd"] == odd


def test_one_reading_that_differs_from_equal_ones_is_named_without_a_score():
    (check,) = run("peak_torque", readings="40 N*m; 40 N*m; 40 N*m; 40 N*m; 41 N*m").checks
    assert check.as_line().startswith("Bolt 5: 41 N·m, median 40 N·m; score: none, must be within ± 3.5 [")


def test_the_coarsest_reading_counts_for_the_median():
    """40 N·m ±0.5 N·m: 41.0 N·m is 2.5 % off, ±1.4 %."""
    readings = "40.0 N*m; 40 N*m; 40.0 N*m; 41.0 N*m"
    found = run("peak_torque", readings=readings, peak_tolerance="3.5 %", peak_tolerance_source="notes")
    assert outcomes(found)["Bolt 4: distance from the median"] == "undecided"


@pytest.mark.parametrize(("count", "told"), [(4, False), (5, True), (9, True), (10, False)])
def test_the_rule_is_good_enough_only_for_readings_that_it_scores(count, told):
    found = run("peak_torque", readings="; ".join(["40 N*m"] * count))
    assert any("the rule is good enough" in text for text in found.assumptions) == told


@pytest.mark.parametrize(
    ("stage", "reading", "deviation", "side"),
    [("90 deg", "92.5 deg", "2 deg", "undecided"), ("90 deg", "92.6 deg", "2 deg", "over"),
     ("90 deg", "87.5 deg", "2 deg", "undecided"), ("90 deg", "87.4 deg", "2 deg", "under"),
     ("5 kgf*m", "5 kgf*m", "4 %", "within"), ("5 kgf*m", "5.3 kgf*m", "4 %", "over"),
     ("5 kgf*m", "5.2 kgf*m", "4 %", "undecided")],
)  # fmt: skip
def test_a_reading_within_the_deviation_of_the_instrument_stays_open(stage, reading, deviation, side):
    """90° ±0.5° as printed, and the gauge; 5 kgf·m counts exactly: 5.3 · 0.96 = 5.088, 5.2 · 0.96 = 4.992."""
    assert run("stage_reading", stage=stage, reading=reading, instrument_deviation=deviation)["side"] == side


def test_a_reading_below_a_stage_that_asks_for_a_minimum_is_short_by_the_difference():
    found = run("stage_reading", stage="check 30 N*m", reading="29.5 N*m")
    assert (found["side"], found["by"]) == ("under", pytest.approx(0.5))
    assert run("stage_reading", stage="check 30 N*m", reading="31 N*m")["side"] == "within"


@pytest.mark.parametrize(
    ("stage", "reading", "example"), [("90 deg", "91 deg", '"2 deg"'), ("40 N*m", "41 N*m", '"4 %"')]
)
def test_a_deviation_that_cannot_be_read_is_asked_for_in_the_unit_of_its_gauge(stage, reading, example):
    with pytest.raises(BadInput) as caught:
        run("stage_reading", stage=stage, reading=reading, instrument_deviation="some")
    (problem,) = caught.value.problems
    assert (problem.field, problem.example) == ("instrument_deviation", example)


def test_a_stage_in_another_unit_is_said_in_newton_metres_too():
    """30 lbf·ft = 40.7 N·m."""
    assert "30 lbf·ft (40.67 N·m)" in run("stage_reading", stage="30 lbf*ft", reading="33 lbf*ft")["state"]


PLAN = {
    "positions": [{"name": "1", "x": "0 mm", "y": "0 mm"}, {"name": "2", "x": "90 mm", "y": "0 mm"}], "order": "2; 1",
    "stages_source": "notes", "lubricant": "oil", "lubricant_where": "thread",
}  # fmt: skip


def plan(*stages, **more):
    return get("tightening_plan")({**PLAN, "stages": list(stages), **more})


def test_stages_that_are_done_bolt_by_bolt_follow_each_other_at_each_bolt():
    found = plan("20 N*m", "40 N*m", "+90 deg", singly="2; 3")
    assert found.plot_data["sequence"] == ((1, "2"), (1, "1"), (2, "2"), (3, "2"), (2, "1"), (3, "1"))
    found = plan("20 N*m", "40 N*m order 1 2", "+90 deg", singly="2; 3")
    assert found.plot_data["sequence"] == ((1, "2"), (1, "1"), (2, "1"), (3, "1"), (2, "2"), (3, "2"))
    assert plan("20 N*m", "40 N*m", "+90 deg", singly="1; 2").plot_data["sequence"][:2] == ((1, "2"), (2, "2"))


@pytest.mark.parametrize(
    ("stages", "singly", "why"),
    [(("20 N*m", "40 N*m", "+90 deg"), "3; 4", "does not exist"), (("20 N*m", "40 N*m"), "2; 4", "does not exist"),
     (("20 N*m", "wait 10 min", "40 N*m"), "2; 3", "none of them a wait"),
     (("20 N*m", "40 N*m", "wait 10 min"), "2; 3", "none of them a wait"),
     (("20 N*m group long", "40 N*m"), "1; 2", "needs stages of one group")],
)  # fmt: skip
def test_stages_that_cannot_be_done_bolt_by_bolt(stages, singly, why):
    with pytest.raises(BadInput, match=why):
        plan(*stages, singly=singly, groups=[{"name": "long", "bolts": "1"}])


def test_a_wait_of_one_group_is_named_after_it():
    found = plan("20 N*m group long", "wait 10 min group long", "40 N*m", groups=[{"name": "long", "bolts": "1"}])
    assert found.plot_data["sequence"] == ((1, "1"), (2, "long"), (3, "2"), (3, "1"))
    assert plan("20 N*m", "wait 10 min").plot_data["sequence"][-1] == (2, "all bolts")


@pytest.mark.parametrize(("singly", "told"), [("", True), ("1; 2", False)])
def test_a_loosening_stage_goes_backwards_unless_it_is_done_bolt_by_bolt(singly, told):
    found = plan("40 N*m", "loosen 90 deg", "45 N*m", singly=singly)
    assert any("reverse of the tightening order" in text for text in found.assumptions) == told


@pytest.mark.parametrize(("stage", "told"), [("30 lbf*ft", True), ("40 N*m", False)])
def test_a_stage_in_another_unit_is_to_be_read_twice(stage, told):
    assert any("Read the unit twice" in text for text in plan(stage, "+90 deg").cautions) == told


@pytest.mark.parametrize(
    ("slope", "uncertainty", "low", "high", "side"),
    [(10.0, 1.0, 5.0, 8.0, trace_against_model.WITHIN), (10.0, 1.0, 5.0, 7.9, trace_against_model.ABOVE),
     (2.0, 1.0, 4.0, 8.0, trace_against_model.WITHIN), (2.0, 1.0, 4.1, 8.0, trace_against_model.BELOW),
     (2.0, 0.5, 3.5, 8.0, trace_against_model.BELOW)],
)  # fmt: skip
def test_a_slope_is_outside_by_twice_its_standard_uncertainty(slope, uncertainty, low, high, side):
    assert trace_against_model._side_of_range(slope, uncertainty, low, high) == side


@pytest.mark.parametrize(
    ("reached", "least", "most"),
    [((1.0, 1.1, 1.25), 0.69, 1.06), ((None, 1.1, None), 0.0, 1.86), ((1.0, 1.1, None), 0.0, 1.06)],
)
def test_the_angle_from_the_threshold_with_the_deviation_of_torque_and_angle(reached, least, most):
    """±(2 · 0.01 + 0.02 ÷ 2 + 0.03) rad; a threshold 10 % off is passed at another angle, or before and after the trace."""
    at = dict(zip((9.0, 10.0, 11.0), reached, strict=True))
    found = SimpleNamespace(
        spacing=0.02, angle=[0.2, 0.3, 2.0],
        crossing=lambda torque: None if (x := at[round(torque, 9)]) is None else SimpleNamespace(angle=x),
    )  # fmt: skip
    inputs = SimpleNamespace(torque_deviation=0.1, angle_deviation=0.03, threshold=10.0)
    told = torque_angle_trace._turned(inputs, found, 2.0, SimpleNamespace(angle=1.1, uncertainty=0.01))
    assert told == pytest.approx((0.9, least, most))
    assert torque_angle_trace._turned(inputs, found, 2.0, None) is None


# ------------------------------------------------------------------------------ bolts
D_2 = 10 - 0.649519 * 1.5  # mm, of M10x1.5


def preload_at(torque, mu_thread, mu_head):
    """kN from N·m: VDI 2230-1, (R10), with a mean bearing diameter of 13 mm; from memory, not checked."""
    return torque / (0.16 * 1.5 + 0.58 * D_2 * mu_thread + 6.5 * mu_head)


BOLT = {"thread": "M10x1.5", "bearing_mean": "13 mm", "mu_thread": "0.10–0.14", "mu_head": "0.12"}


def test_a_range_of_friction_in_the_thread_alone_gives_a_range():
    found = run("preload_from_torque", **BOLT, torque="40 N*m")
    assert found["preload_low"] == pytest.approx(1e3 * preload_at(40, 0.14, 0.12), rel=2e-3)
    assert found["preload_high"] == pytest.approx(1e3 * preload_at(40, 0.10, 0.12), rel=2e-3)
    found = run("torque_from_preload", **BOLT, preload="25 kN")
    assert found["torque_high"] == pytest.approx(25 / preload_at(1, 0.14, 0.12), rel=2e-3)


def test_the_highest_preload_may_lie_inside_a_range_of_the_stiffness():
    """At 30 N·m 18.20 kN; then the stiffness at which 0.25 mm just reach 40 kN; 0.020 mm settle; 5 kN from the heat."""
    found = run("preload_budget", **{**BOLT, "mu_thread": "0.12"}, torque="30 N*m", angle="60 deg", draws="1000",
                series_stiffness="60–120 kN/mm", yield_preload="40 kN", embedment="0.020 mm", relaxation="0 %",
                relaxation_source="notes", gasket_creep="0 %", gasket_creep_source="notes", heat_change="5 kN")  # fmt: skip
    stiffness = (40 - preload_at(30, 0.12, 0.12)) / 0.25
    assert found["preload_highest"] == pytest.approx(1e3 * (40 - 0.020 * stiffness + 5), rel=1e-4)


def test_a_stretch_that_may_all_be_permanent_proves_no_preload_at_all():
    found = run("preload_from_elongation", length_before="120.000 mm", length_tightened="120.300 mm",
                bolt_stiffness="95 kN/mm", stiffness_accuracy="5 %", minimum_preload="0.0005 kN",
                minimum_preload_source="notes", temperature_before="20 degC", temperature_tightened="20 degC", alpha_bolt="11.5e-6/K")  # fmt: skip
    assert outcomes(found)["Preload, smallest"] == "undecided"


def test_an_inch_thread_has_whole_threads_per_inch():
    found = run("thread", thread="1/2-13 UNC")
    assert found["threads_per_inch"] == 13
    assert found.values["threads_per_inch"].as_lines() == ["Threads per inch: 13"]


def test_settings_of_a_plan_are_judged_in_three_digits():
    """80 N·m · 400 ÷ 450 = 71.11 N·m."""
    wrench = {"wrench_length": "400 mm", "adapter_length": "50 mm", "adapter_angle": "0 deg", "wrench_max": "100 N*m"}
    lines = [check.as_line() for check in plan("80 N*m", **wrench).checks]
    assert any(
        line.startswith("Settings within the wrench's range: 71.1 N·m, must be at most 100 N·m") for line in lines
    )


def test_three_stages_bolt_by_bolt_are_each_done_once():
    found = plan("20 N*m", "40 N*m", "+90 deg", singly="1; 2; 3")
    assert found.plot_data["sequence"] == tuple((n, bolt) for bolt in "21" for n in (1, 2, 3))
    with pytest.raises(BadInput) as caught:
        plan("20 N*m", "40 N*m order 1 7", "+90 deg", singly="2; 3")
    assert {problem.field for problem in caught.value.problems} == {"stages[2]"}


def test_a_peak_is_known_to_twice_the_noise_and_the_deviation_of_the_sensor():
    """40 N·m ± (2 · 0.5 N·m + 4 % of 40 N·m)."""
    found = SimpleNamespace(noise=0.5, peak=SimpleNamespace(torque=40.0))
    told = torque_angle_trace._reached(SimpleNamespace(torque_deviation=0.04), found)
    assert told == pytest.approx((40.0, 37.4, 42.6))


# ------------------------------------------------------------------------------ lines of a face
LEAVES = {"goes": "0.030 mm", "no_go": "0.050 mm"}
FACE = [{"x": x, "y": y} for x, y in (("0 mm", "0 mm"), ("400 mm", "0 mm"), ("400 mm", "150 mm"), ("0 mm", "150 mm"))]
FOUR = [
    {"name": "along 1", "from": "0; 10 mm", "to": "400; 10 mm"}, {"name": "along 2", "from": "0; 140 mm", "to": "400; 140 mm"},
    {"name": "across 1", "from": "10; 0 mm", "to": "10; 150 mm"}, {"name": "across 2", "from": "390; 0 mm", "to": "390; 150 mm"},
]  # fmt: skip
UP, UP_BACK = {"from": "0; 0 mm", "to": "400; 150 mm"}, {"from": "400; 150 mm", "to": "0; 0 mm"}
UP_TOO, DOWN = {"from": "0; 5 mm", "to": "390; 150 mm"}, {"from": "0; 150 mm", "to": "400; 0 mm"}
DOWN_BACK, SOMEWHERE = {"from": "400; 0 mm", "to": "0; 150 mm"}, {"direction": "diagonal"}


@pytest.mark.parametrize(
    ("first", "second", "outcome"),
    [(UP, DOWN, "pass"), (UP, DOWN_BACK, "pass"), (UP_BACK, DOWN, "pass"), (UP, UP_TOO, "undecided"),
     (UP_BACK, UP_TOO, "undecided"), (UP, SOMEWHERE, "pass")],
)  # fmt: skip
def test_two_diagonals_that_climb_to_the_same_side_show_no_twist(first, second, outcome):
    lines = [*FOUR, {"name": "first", **first}, {"name": "second", **second}]
    found = run("flatness_lines", lines=[{**line, **LEAVES} for line in lines], limit="0.08 mm", limit_source="notes")
    assert outcomes(found)["Lines of the whole face"] == outcome


ON_ONE = [{"from": "0; 10 mm", "to": "400; 10 mm"}, {"from": "20; 10 mm", "to": "300; 10 mm"}]


@pytest.mark.parametrize(("typed", "said"), [({}, "0 along, 0 across, 0 diagonal"),
                                             ({"direction": "along"}, "2 along, 0 across, 0 diagonal")])  # fmt: skip
def test_lines_that_lie_on_one_do_not_tell_which_way_the_face_is_long(typed, said):
    lines = [{"name": f"line {k}", **line, **typed, **LEAVES} for k, line in enumerate(ON_ONE, 1)]
    found = run("flatness_lines", lines=lines, limit="0.08 mm", limit_source="notes")
    (check,) = (c for c in found.checks if c.label == "Lines of the whole face")
    assert said in str(check.found.value) and str(check.outcome) == "undecided"
    assert ("choose whether it runs along" in check.remark) == (not typed)


def own_limit(line, holes=(), **leaves):
    """The check of a line against its own limit of 0.02 mm."""
    limit = {"span_limit": "0.020 mm", "span_limit_source": "notes"}
    more = {"outline": FACE} if "from" in line else {}
    more |= {"holes": list(holes)} if holes else {}
    (check,) = run("flatness_lines", lines=[{"name": "A", **line, **limit, **leaves}], **more).checks
    return str(check.outcome), check.remark


WITHIN, BEYOND = {"goes": "0.010 mm", "no_go": "0.015 mm"}, {"goes": "0.030 mm", "no_go": "0.050 mm"}
MIDDLE = {"from": "0; 75 mm", "to": "400; 75 mm"}
HOLE = {"name": "bore", "x": "200 mm", "y": "75 mm", "diameter": "80 mm"}


@pytest.mark.parametrize(
    ("line", "holes", "leaves", "outcome"),
    [(MIDDLE, (), BEYOND, "fail"), (MIDDLE, (HOLE,), BEYOND, "undecided"), (MIDDLE, (HOLE,), WITHIN, "pass"),
     ({}, (), WITHIN, "pass"), ({}, (), BEYOND, "fail")],
)  # fmt: skip
def test_an_edge_that_bridges_a_hole_proves_no_fail(line, holes, leaves, outcome):
    assert own_limit(line, holes, **leaves)[0] == outcome


def test_a_limit_for_a_length_is_not_scaled():
    outcome, remark = own_limit({"span_limit_over": "100 mm"}, **WITHIN)
    assert (outcome, remark.count("type the line's length")) == ("undecided", 1)
    outcome, remark = own_limit({"from": "-20; 75 mm", "to": "400; 75 mm", "span_limit_over": "410 mm"}, **WITHIN)
    assert outcome == "undecided"
    assert "the line is 400.0 mm long, the limit is for 410.0 mm" in remark
