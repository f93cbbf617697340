"""A bolt in its joint, typed exactly at a limit: what is said, and how it is judged.  The numbers are arithmetic."""

import math

import pytest

from shoplib.core.checks import Outcome
from shoplib.core.errors import BadInput
from shoplib.topics import get
from tests.topics.typed_inputs import refused, run, typed


def test_what_a_quarter_turn_adds_to_a_bolt():
    """A quarter of 1.5 mm, 71.5 kN for each; torque by VDI 2230, F (0.16 P + 0.58 d_2 μ_G + μ_K D_Km / 2), from memory."""
    more = {"pitch": "", "thread": "M10x1.5", "series_stiffness": "71.5 kN/mm", "bearing_mean": "13 mm"}
    more |= {"mu_thread": "0.12", "mu_head": "0.15"}
    r = run("angle_travel", angle="90 deg", **more, mu_low="", mu_high="")
    assert r["preload_gain"] == pytest.approx(71.5e6 * 0.375e-3)
    assert r.values["preload_gain"].unit.name == "kN"
    pitch_diameter = 10e-3 - 0.6495 * 1.5e-3  # ISO 724

    def torque(mu_thread, mu_head):
        return r["preload_gain"] * (0.16 * 1.5e-3 + 0.58 * mu_thread * pitch_diameter + mu_head * 6.5e-3)

    assert r["torque_gain"] == pytest.approx(torque(0.12, 0.15), rel=1e-4)
    banded = run("angle_travel", angle="90 deg", **more | {"mu_thread": "0.10 to 0.14", "mu_head": "0.13 to 0.17"})
    assert banded["torque_gain_low"] == pytest.approx(torque(0.10, 0.13), rel=1e-4)
    assert banded["torque_gain_high"] == pytest.approx(torque(0.14, 0.17), rel=1e-4)
    assert {banded.values[n].unit.name for n in ("torque_gain", "torque_gain_low", "torque_gain_high")} == {"N*m"}


@pytest.mark.parametrize(("preload", "apart"), [("12.723 kN", True), ("12.724 kN", False)])
def test_faces_separate_when_no_clamp_load_is_left(preload, apart):
    """80 bar on 90 mm for 4 bolts, none of it in the bolt: 12.72345 kN."""
    more = {"bolts_per_cylinder": "4", "sharing": "0", "load_factor": "0", "minimum_clamp": ""}
    (check,) = run("gas_load_reserve", preload=preload, peak_pressure="80 bar", sealing_diameter="90 mm", **more).checks
    assert check.outcome is (Outcome.FAIL if apart else Outcome.NO_LIMIT)
    assert (check.remark == "the faces separate") == apart


@pytest.mark.parametrize(("left", "closed"), [(0.5, True), (-0.5, False)])
def test_a_cold_joint_is_closed_while_any_preload_is_left(left, closed):
    cooled = {"temperature_change_parts": "-80 K", "temperature_change_bolt": "-80 K"}
    lost = -run("hot_preload", **cooled)["preload_change"]
    r = run("hot_preload", **cooled, preload=f"{lost + left:.6f} N")
    assert r["preload_hot"] == pytest.approx(max(left, 0.0), abs=1e-3)
    assert [c.outcome for c in r.checks] == [Outcome.FAIL] * (not closed)


def test_a_tightening_factor_needs_a_mean_above_two_deviations():
    """Of 1, 2 and 3 kN the mean is 2 kN and the deviation 1 kN."""
    assert run("scatter_of_readings", readings="1 kN; 2 kN; 3 kN")["tightening_factor"] is None
    assert run("scatter_of_readings", readings="1.1 kN; 2 kN; 2.9 kN")["tightening_factor"] == pytest.approx(3.8 / 0.2)


@pytest.mark.parametrize(("count", "few"), [(2, True), (9, True), (10, False)])
def test_fewer_than_ten_readings_tell_little_about_scatter(count, few):
    r = run("scatter_of_readings", readings="; ".join(["20 kN"] * (count - 1) + ["21 kN"]))
    assert any("tell you little" in c for c in r.cautions) == few


def test_one_reading_does_not_scatter():
    assert refused("scatter_of_readings", readings="20 kN").keys() == {"readings"}


LAYER = {"modulus": "70 GPa", "hole_diameter": "11 mm"}


def test_the_cone_is_widest_at_its_end():
    """14.6 mm, and 2 tan 30° for each of 110 mm (geometry)."""
    layers = [{**LAYER, "thickness": "50 mm", "bearing_diameter": "14.6 mm"}, {**LAYER, "thickness": "60 mm"}]
    r = run("joint_stiffness", layers=layers, thread="M10x1.5", engaged="tapped", parts_stiffness="")
    assert r["cone_diameter"] == pytest.approx(
        14.6e-3 + 2 * 0.11 * math.tan(math.pi / 6), rel=1e-3
    )  # the code has 1.155


def test_a_head_without_a_size_is_asked_for_where_the_cone_begins():
    """The table has no head of an inch thread; the last layer has its own bearing diameter."""
    layers = [{**LAYER, "thickness": "50 mm"}, {**LAYER, "thickness": "60 mm", "bearing_diameter": "14.6 mm"}]
    inch = {"thread": "3/8-16 UNC", "parts_stiffness": ""}
    assert refused("joint_stiffness", layers=layers, **inch).keys() == {"layers[1].bearing_diameter"}
    layers[0]["bearing_diameter"] = "15 mm"
    assert run("joint_stiffness", layers=layers, **inch).values


# ------------------------------------------------------------------------------ the scatter of the preload
def scattered(**more):
    """2000 bolts; thread and head rub as 0.10 to 0.14, and nothing else scatters."""
    inputs = {k: v for k, v in typed(get("preload_scatter")).items() if k not in ("mu_low", "mu_high")}
    only = {"mu_thread": "0.10 to 0.14", "mu_head": "0.10 to 0.14", "torque_percent": "0 %", "yield_percent": "0 %"}
    return get("preload_scatter")({**inputs, **only, "angle_error": "0 deg", "draws": "2000", **more})


NARROW = {"mu_thread": "0.1199 to 0.1201", "mu_head": "0.12"}


@pytest.mark.parametrize("correlation", ["0", "0.5", "1"])
def test_all_of_the_scatter_is_that_of_the_friction_where_nothing_else_scatters(correlation):
    r = scattered(stages="20 N*m", friction_correlation=correlation, draws="20000")
    for name in ("torque_only", "torque_angle"):
        shares = {k: v.value for k, v in r[name][0].items() if k.startswith("share_")}
        assert shares.pop("share_friction") == pytest.approx(1, abs=0.01)
        assert shares.pop("share_angle") == 0
        assert set(shares) == {"share_torque", "share_yield", "share_together"}
        assert max(shares.values()) < 0.01


def test_the_share_of_several_angles_is_that_of_the_sum_of_their_errors():
    r = scattered(stages="20 N*m; +30 deg; +30 deg", **NARROW, angle_error="5 deg")
    assert r["torque_angle"][0]["share_angle"].value == pytest.approx(1, abs=0.01)
    assert r["torque_only"][0]["share_angle"].value == 0


def test_bolts_that_do_not_scatter_have_the_preload_of_one_bolt():
    stages = {"stages": "20 N*m; +30 deg"}
    row = scattered(**stages, **NARROW)["torque_angle"][0]
    one = {"mu_thread": "0.12", "mu_head": "0.12", "mu_low": "", "mu_high": ""}
    assert row["mean"].value == pytest.approx(run("staged_tightening", **stages, **one)["preload"][-1], rel=1e-3)
    assert row["cv"].value < 1e-3


@pytest.mark.parametrize(("stages", "why"), [
    ("+30 deg; loosen 30 deg", "end without preload"), ("wait 10 min", "contain no torque and no angle"),
])  # fmt: skip
def test_a_programme_that_leaves_no_preload_has_no_scatter(stages, why):
    with pytest.raises(BadInput, match=why):
        scattered(stages=stages)


def test_less_than_a_newton_is_a_preload():
    """One degree gives some 285 N."""
    assert scattered(stages="+30 deg; loosen 29.998 deg")["torque_angle"][0]["mean"].value == pytest.approx(
        0.5, abs=0.3
    )


def test_a_stage_of_no_angle_travels_nothing():
    r = run("staged_tightening", stages="+0 deg; 40 N*m")
    assert [s.arguments["theta"] for s in r.steps if s.title.endswith(": travel")] == [0]


def test_a_range_of_one_stage_is_said_to_be_left_out():
    assert any("ranges typed in the stages" in a for a in scattered(stages="38 N*m to 42 N*m; +30 deg").assumptions)
    assert not any("ranges typed" in a for a in scattered(stages="40 N*m; +30 deg").assumptions)


@pytest.mark.parametrize(("turn", "breaks"), [("+30 deg", False), ("+400 deg", True), ("+720 deg", True)])
def test_bolts_that_break_are_said(turn, breaks):
    """Of +400° some break, of +720° all; torque alone for a mean preload well below breaking breaks none."""
    r = scattered(stages=f"40 N*m; {turn}", yield_percent="20 %")
    assert any("simulated bolts will neck" in c for c in r.cautions) == breaks


def test_some_bolts_break_by_the_error_of_the_angle_alone():
    """They break near 550°; torque alone gives each the same preload, below that of breaking."""
    r = scattered(stages="40 N*m; +470 deg", **NARROW, angle_error="90 deg")
    assert 0 < r["torque_angle"][0]["breaks"].value < 1
    assert r["torque_only"][0]["breaks"].value == 0
    assert any("simulated bolts will neck" in c for c in r.cautions)


def test_bolts_that_all_break_at_one_preload_do_not_scatter():
    """The friction of the head does not change the preload of breaking; what rounding leaves is no scatter."""
    r = scattered(stages="40 N*m; +720 deg", mu_thread="0.12", torque_percent="4 %", angle_error="5 deg")
    for name in ("torque_only", "torque_angle"):
        row = {k: v.value for k, v in r[name][0].items()}
        assert {row[k] for k in row if k.startswith("share_")} | {row["sd"], row["cv"]} == {0}
    assert r["sd_ratio"] is None
    low, *_, high = r.plot_data["edges"]
    assert (low, high - low) == (pytest.approx(r["torque_angle"][0]["mean"].value), pytest.approx(1))


# ------------------------------------------------------------------------------ a programme and its bolt
def test_a_group_is_asked_for_where_the_stages_name_several():
    assert run("staged_tightening", stages="40 N*m group long").values
    two = "40 N*m group long; 30 N*m group short"
    assert "the stages name long, short" in refused("staged_tightening", stages=two)["group"]
    assert "not named in any stage" in refused("staged_tightening", stages=two, group="inner")["group"]


def test_a_bolt_needs_a_free_length():
    both = {"shank_length": "0 mm", "thread_length": "0 mm"}
    assert "both zero" in refused("staged_tightening", **both)["thread_length"]
    assert run("staged_tightening", **both | {"thread_length": "1 mm"}).values


BAND = {"mu_thread": "0.12", "mu_head": "0.12", "mu_low": "0.08", "mu_high": "0.20"}


@pytest.mark.parametrize("before", ["40 N*m", "40 N*m; +200 deg"])
def test_loosening_is_allowed_while_the_bolt_as_typed_holds_preload(before):
    """A bolt with more friction holds less after the torque, and one that yielded comes loose earlier."""
    (why,) = refused("staged_tightening", stages=f"{before}; loosen 720 deg", **BAND).values()
    gone = float(why.removeprefix("loosens past zero: the preload is gone after ").removesuffix("°"))
    r = run("staged_tightening", stages=f"{before}; loosen {gone - 0.5} deg", **BAND)
    assert r["state"][-1] == ("elastic" if before == "40 N*m" else "yielded")
    assert 0 < r["preload"][-1] < 1000
    assert refused("staged_tightening", stages=f"{before}; loosen {gone + 0.5} deg", **BAND)


@pytest.mark.parametrize(("turn", "low", "typed_friction", "high"), [
    ("510 deg", True, True, True), ("540 deg", True, True, False), ("550 deg", True, False, False),
    ("580 deg", False, False, False),
])  # fmt: skip
def test_the_bolt_with_the_least_friction_breaks_first(turn, low, typed_friction, high):
    """The least friction gives the most preload, and so the most travel."""
    r = run("staged_tightening", stages=f"40 N*m; +{turn}", **BAND)
    holds = [r[name][-1] is not None for name in ("preload_low", "preload", "elongation", "preload_high")]
    assert holds == [low, typed_friction, typed_friction, high]
    titles = [step.title for step in r.steps]
    assert ("Stretch of the bolt, at the end" in titles) == typed_friction


@pytest.mark.parametrize(("friction", "remark"), [
    ({"mu_thread": "0.12", "mu_head": "0.12"}, ""),
    ({"mu_thread": "0.10 to 0.14", "mu_head": "0.12"}, "40.0 to 40.0 N·m over the ranges typed"),
])  # fmt: skip
def test_a_torque_over_the_ranges_is_said_where_there_is_a_range(friction, remark):
    inputs = typed(get("staged_tightening")) | friction | {"mu_low": "", "mu_high": ""}
    r = get("staged_tightening")({**inputs, "stages": "40 N*m; check >= 30 N*m", "stages_source": "notes"})
    assert (r.checks[0].outcome, r.checks[0].remark) == (Outcome.PASS, remark)


@pytest.mark.parametrize(("stages", "headline"), [
    ("40 N*m", "spread {0[0]}"), ("+60 deg; +200 deg", "spread {0[1]}"), ("40 N*m; +90 deg", "{0[0]} → {0[1]}"),
    ("40 N*m; +90 deg; +90 deg", "{0[0]} → {0[2]}"), ("20 N*m; 40 N*m; +90 deg", "{0[1]} → {0[2]}"),
])  # fmt: skip
def test_the_spread_is_told_from_the_torque_before_the_angles_to_the_end(stages, headline):
    r = run("staged_tightening", stages=stages, **BAND)
    assert r.plot_data["headline"][0] == headline.format([f"{ratio:.2f}" for ratio in r["spread_ratio"]])


@pytest.mark.parametrize(("turn", "least", "outcome", "named"), [
    ("60 deg", "57.5 N*m", "pass", ()),
    ("60 deg", "59 N*m", "undecided", ("Torsion at yield", "bearing diameter")),
    ("500 deg", "0.5 N*m", "pass", ()),
    ("514 deg", "0.5 N*m", "undecided", ("Torsion at yield", "bearing diameter")),
])  # fmt: skip
def test_a_torque_that_an_input_at_its_default_decides_stays_open(turn, least, outcome, named):
    """At 60° a wrench shows 59.4 N·m at least, with the other torsion 58.9; past 510° with the other torsion the bolt breaks."""
    r = run("staged_tightening", stages=f"40 N*m; +{turn}; check >= {least}", stages_source="notes", **BAND)
    assert str(r.checks[0].outcome) == outcome
    for name in named:
        assert name in r.checks[0].remark
    assert ("depends on" in r.checks[0].remark) == bool(named)
