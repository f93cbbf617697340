"""After the skim: what is refused, asked about, warned of and judged; and the pictures."""

import math

import pytest
from matplotlib.figure import Figure

from shoplib.core.checks import Outcome
from shoplib.core.errors import BadInput
from shoplib.core.working import GOVERNS
from shoplib.desk.widgets.live_figure import LiveFigure
from shoplib.physics import skim
from shoplib.topics import all_workings
from shoplib.topics.skim.cam_retard import SPROCKETS
from shoplib.topics.skim.pictures import alt_chain, draw_chain

W = all_workings()
ALLOW = {"new_height": "136.00 mm", "measured_height": "135.72 mm", "cut": "0.15 mm"}
ENGINE = {
    "bore": "86 mm",
    "stroke": "86 mm",
    "ratio": "18",
    "chamber_opening_area": "3900 mm2",
    "gasket_bore": "87.5 mm",
}
PARTS = {
    "bore": "86 mm", "stroke": "86 mm", "chamber_volume": "32 cm3", "gasket_thickness": "1.2 mm",
    "deck_clearance": "0.2 mm", "piston_volume": "5 cm3", "chamber_opening_area": "3900 mm2", "gasket_bore": "87.5 mm",
}  # fmt: skip
CHAIN = ENGINE | {
    "measured_height": "135.72 mm", "minimum_height": "135.50 mm", "minimum_height_source": "bench notes, sheet 7",
    "valve_to_piston_clearance": "1.0 mm", "valve_angle": "20 deg", "sprocket_diameter": "120 mm",
}  # fmt: skip
GRADES = [
    {"name": "1", "low": "0.55 mm", "high": "0.65 mm"},
    {"name": "2", "low": "0.65 mm", "high": "0.70 mm"},
    {"name": "3", "low": "0.72 mm", "high": "0.80 mm"},
]
TABLE = {"grades": GRADES, "grades_source": "bench notes, sheet 8"}


def problems(name, *typed, **more):
    with pytest.raises(BadInput) as caught:
        W[name]({k: v for t in (*typed, more) for k, v in t.items()})
    return {p.field: str(p) for p in caught.value.problems}


# ------------------------------------------------------------------------------ height and removal
@pytest.mark.parametrize(
    ("name", "field"),
    [("skim_allowance", "cut"), ("skim_allowance", "block_cut"), ("compression_ratio", "head_skim"),
     ("compression_ratio", "block_skim"), ("cam_retard", "head_skim"), ("cam_retard", "block_skim"),
     ("skim_chain", "head_skim"), ("skim_chain", "block_skim")],
)  # fmt: skip
def test_a_negative_removal_is_asked_about(name, field):
    good = {"skim_allowance": ALLOW, "compression_ratio": ENGINE | {"head_skim": "0.2 mm"},
            "cam_retard": {"head_skim": "0.2 mm", "sprocket_diameter": "120 mm"},
            "skim_chain": CHAIN | {"head_skim": "0.2 mm"}}[name]  # fmt: skip
    said = problems(name, good, {field: "-0.15 mm"})
    assert set(said) == {field}
    assert "would add material" in said[field] and '"0.15 mm"' in said[field]


def test_measured_above_new_is_asked_about_not_taken():
    said = problems("skim_allowance", ALLOW, measured_height="136.02 mm")
    assert (
        "above new_height 136.00 mm" in said["measured_height"] and "leave new_height empty" in said["measured_height"]
    )
    result = W["skim_allowance"](measured_height="136.02 mm", cut="0.15 mm")
    assert result["height_after"] == pytest.approx(135.87e-3) and "head_removed" not in result.values


@pytest.mark.parametrize(
    ("minimum", "source", "outcome", "says"),
    [
        ("135.55 mm", "notes", Outcome.PASS, ""),
        ("135.57 mm", "notes", Outcome.UNDECIDED, "lies at the limit"),
        ("135.59 mm", "notes", Outcome.FAIL, "0.0200 mm below the minimum: do not cut"),
        ("135.59 mm", None, Outcome.FAIL, "source missing"),
        ("135.50 mm", None, Outcome.NO_LIMIT, "a limit without a source does not count"),
        (None, None, Outcome.NO_LIMIT, "no limit was given"),
    ],
)
def test_minimum_height(minimum, source, outcome, says):
    typed = {k: v for k, v in ALLOW.items() if k != "measured_height"} | {"heights": "; ".join(["135.72 mm"] * 4)}
    check = W["skim_allowance"](typed, minimum_height=minimum, minimum_height_source=source).checks[0]
    assert check.outcome is outcome and says in check.remark


@pytest.mark.parametrize(
    ("typed", "outcome", "says"),
    [
        ({"block_cut": "0.00 mm"}, Outcome.FAIL, ""),
        ({}, Outcome.FAIL, "the head alone is over the limit"),
        ({"cut": "0.05 mm"}, Outcome.UNDECIDED, "block_cut not typed; missing is not zero"),
        (
            {"cut": "0.05 mm", "block_cut": "0.04 mm", "measured_height": "", "heights": "; ".join(["135.72 mm"] * 4)},
            Outcome.PASS,
            "",
        ),
        ({"cut": "0.05 mm", "block_cut": "0.04 mm"}, Outcome.UNDECIDED, "heights measured: 1; at least 4 are needed"),
        ({"new_height": "", "block_cut": "0.07 mm"}, Outcome.UNDECIDED, "new_height not typed"),
    ],
)
def test_combined_limit(typed, outcome, says):
    limits = {"combined_limit": "0.40 mm", "combined_limit_source": "notes"}
    check = W["skim_allowance"]({**ALLOW, **limits, **typed}).checks[-1]
    assert check.label == "Head and block together" and check.outcome is outcome and says in check.remark


def test_the_lowest_of_several_heights_counts_and_a_missing_one_is_not_zero():
    typed = {"new_height": "136.00 mm", "cut": "0.15 mm"}
    result = W["skim_allowance"](typed, heights="135.80 mm; 135,72 mm; 135.76 mm; 135.75 mm")
    assert result["lowest_height"] == pytest.approx(135.72e-3) and result["out_of_parallel"] == pytest.approx(0.08e-3)
    assert result["height_after"] == pytest.approx(135.57e-3) and result.assumptions
    assert "missing is not zero" in problems("skim_allowance", typed, heights="135.80 mm; not measured")["heights"]
    assert "heights" in problems("skim_allowance", ALLOW, heights="135.8 mm")
    assert "measured_height" in problems("skim_allowance", typed)
    assert "not plausible" in problems("skim_allowance", ALLOW, cut="140 mm")["cut"]


# ------------------------------------------------------------------------------ ratio
def test_the_cut_works_on_the_opening_not_the_bore():
    chamber = W["compression_ratio"](ENGINE, head_skim="0.2 mm")
    bore = W["compression_ratio"](ENGINE, head_skim="0.2 mm", chamber_opening_area=f"{math.pi / 4 * 86**2} mm2")
    assert chamber["clearance_before"] - chamber["clearance_after"] == pytest.approx(3900e-6 * 0.2e-3)
    assert 18 < chamber["ratio_after"] < bore["ratio_after"]
    said = problems(
        "compression_ratio", {k: v for k, v in ENGINE.items() if k != "chamber_opening_area"}, head_skim="0.2 mm"
    )
    assert "not over the bore" in said["chamber_opening_area"]


def test_equal_thickness_does_not_cancel_and_the_gain_that_keeps_the_ratio_does():
    equal = W["compression_ratio"](ENGINE, head_skim="0.2 mm", gasket_gain="0.2 mm")
    assert equal["ratio_after"] < 17.9  # the gasket gives back more than the cut took
    keep = equal["gasket_gain_to_keep"]
    kept = W["compression_ratio"](ENGINE, head_skim="0.2 mm", gasket_gain=f"{keep * 1e3!r} mm")
    assert kept["ratio_after"] == pytest.approx(18, rel=1e-12) and keep < 0.2e-3


def test_on_a_flat_face_the_ratio_hardly_moves_and_the_grade_follows_projection():
    flat = W["compression_ratio"](
        {**ENGINE, "chamber_opening_area": "0 mm2", "head_face": "flat face", "head_skim": "0.3 mm"}
    )
    assert flat["ratio_after"] == pytest.approx(18, rel=1e-12)
    assert "hardly changes" in flat["branch"] and "piston projection" in flat["branch"]
    assert "does not restore the ratio exactly" in W["compression_ratio"](ENGINE, head_skim="0.2 mm")["branch"]


def test_the_four_parts_add_up_with_their_signs():
    result = W["compression_ratio"](PARTS, head_skim="0 mm")
    gasket, deck = math.pi / 4 * 87.5**2 * 1.2e-3, math.pi / 4 * 86**2 * 0.2e-3
    assert 1e6 * result["clearance_before"] == pytest.approx(32 + 5 + gasket + deck)
    proud_dome = W["compression_ratio"](PARTS, head_skim="0 mm", deck_clearance="-0.2 mm", piston_volume="-5 cm3")
    assert 1e6 * proud_dome["clearance_before"] == pytest.approx(32 - 5 + gasket - deck)
    assert proud_dome["ratio_before"] > result["ratio_before"]


def test_a_cut_of_the_head_leaves_squish_alone_one_of_the_block_does_not():
    def squish(**typed):
        return W["compression_ratio"](PARTS | {"head_skim": "0 mm"} | typed)["squish_after"]

    assert squish(head_skim="0.3 mm") == squish() == pytest.approx(1.4e-3)
    assert squish(block_skim="0.3 mm", gasket_gain="0.1 mm") == pytest.approx(1.2e-3)
    none = {"head_skim": "0 mm", "block_skim": "0 mm", "gasket_gain": "0.00 mm"}
    touching = W["compression_ratio"](PARTS | none, deck_clearance="-1.30 mm")
    assert touching.outcome is Outcome.FAIL and "clear of the head" in touching.checks[0].label


def test_ratio_and_squish_limits():
    typed = {"head_skim": "0.20 mm", "block_skim": "0 mm", "gasket_gain": "0.00 mm", "ratio_limit": "18.4",
             "ratio_limit_source": "notes", "ratio": "18.00", "bore": "86.0 mm", "stroke": "86.0 mm"}  # fmt: skip
    assert W["compression_ratio"](ENGINE | typed).checks[0].outcome is Outcome.FAIL  # 18.46
    unknown = W["compression_ratio"](ENGINE, head_skim="0.2 mm", minimum_squish="0.9 mm", minimum_squish_source="notes")
    assert unknown.checks[0].outcome is Outcome.UNDECIDED and "missing is not zero" in unknown.checks[0].remark
    none = {"head_skim": "0 mm", "block_skim": "0 mm", "gasket_gain": "0.00 mm", "deck_clearance": "0.20 mm"}
    tight = W["compression_ratio"](PARTS | none, minimum_squish="1.5 mm", minimum_squish_source="notes")
    assert tight.checks[-1].outcome is Outcome.FAIL


@pytest.mark.parametrize(
    ("typed", "fields"),
    [
        ({"bore": "86 mm", "stroke": "86 mm", "head_skim": "0 mm"}, {"ratio", "gasket_bore"}),
        (ENGINE | {"head_skim": "0 mm", "chamber_volume": "30 cm3", "piston_volume": "1 cm3"},
         {"chamber_volume", "piston_volume"}),
        ({"bore": "86 mm", "stroke": "86 mm", "head_skim": "0 mm", "chamber_volume": "30 cm3"},
         {"gasket_thickness", "deck_clearance", "piston_volume", "gasket_bore"}),
        (PARTS | {"head_skim": "0 mm", "piston_volume": "-60 cm3"}, {"piston_volume"}),
        (ENGINE | {"head_skim": "9 mm"}, {"head_skim"}),
        ({"bore": "86 mm", "stroke": "86 mm", "ratio": "18", "head_skim": "0 mm", "gasket_gain": "0.1 mm"}, {"gasket_bore"}),
        (ENGINE | {"head_skim": "0.2", "ratio": "1", "bore": "0 mm"}, {"head_skim", "ratio", "bore"}),
    ],
)  # fmt: skip
def test_bad_volumes_are_named_all_at_once(typed, fields):
    assert set(problems("compression_ratio", typed)) == fields


def test_an_opening_larger_than_the_bore_is_remarked():
    result = W["compression_ratio"](ENGINE, head_skim="0.1 mm", chamber_opening_area="6500 mm2")
    assert any("larger than the bore" in c for c in result.cautions)


# ------------------------------------------------------------------------------ timing
def test_chain_belt_and_diameter_agree_where_they_should():
    cut = {"head_skim": "0.25 mm"}
    chain = W["cam_retard"](cut, pitch="9.525 mm", teeth="38", drive="chain")
    same = W["cam_retard"](cut, sprocket_diameter=f"{chain['pitch_diameter'] * 1e3!r} mm")
    belt = W["cam_retard"](cut, pitch="9.525 mm", teeth="38", drive="belt")
    assert chain["cam_angle"] == pytest.approx(same["cam_angle"], rel=1e-12)
    assert belt["cam_angle"] > chain["cam_angle"]  # the arc is longer than the chord, so its pitch circle is smaller
    assert chain["part_of_a_tooth"] == pytest.approx(math.degrees(chain["cam_angle"]) / (360 / 38))


def test_a_thicker_gasket_gives_it_back_and_more_makes_it_early():
    def said(gain):
        return W["cam_retard"](head_skim="0.2 mm", gasket_gain=gain, sprocket_diameter="120 mm")

    assert (said("0 mm")["direction"], said("0.2 mm")["direction"], said("0.3 mm")["direction"]) == (
        "late", "unchanged", "early",
    )  # fmt: skip
    assert said("0.2 mm")["cam_angle"] == pytest.approx(0, abs=1e-15)


def test_an_idler_in_the_tight_run_is_refused_and_its_absence_is_an_assumption():
    typed = {"head_skim": "0.2 mm", "sprocket_diameter": "120 mm"}
    assert "does not apply" in problems("cam_retard", typed, idler_in_tight_run="yes")["idler_in_tight_run"]
    assert any("tight run" in a for a in W["cam_retard"](typed).assumptions)
    assert not W["cam_retard"](typed, idler_in_tight_run="no").assumptions


@pytest.mark.parametrize(
    ("sprockets", "outcome"), [("free", Outcome.UNDECIDED), ("keyed", Outcome.FAIL), (None, Outcome.UNDECIDED)]
)
def test_free_sprockets_take_the_error_out_keyed_ones_keep_it(sprockets, outcome):
    typed = {
        "head_skim": "0.300 mm",
        "block_skim": "0.000 mm",
        "gasket_gain": "0.000 mm",
        "run_angle": "0 deg",
        "idler_in_tight_run": "no",
        "sprocket_diameter": "120 mm",
        "retard_limit": "0.5 deg",
        "retard_limit_source": "notes",
    }
    result = W["cam_retard"](typed, sprockets=sprockets)
    assert result.outcome is outcome
    assert SPROCKETS in result.cautions
    if sprockets:
        assert result["left_after_retiming"] == (0 if sprockets == "free" else result["crank_angle"])


@pytest.mark.parametrize(
    ("typed", "fields"),
    [
        ({}, {"sprocket_diameter"}),
        ({"pitch": "8 mm"}, {"teeth", "drive"}),
        ({"sprocket_diameter": "120 mm", "pitch": "8 mm", "drive": "belt"}, {"pitch", "drive"}),
        ({"pitch": "8 mm", "teeth": "3", "drive": "rope"}, {"teeth", "drive"}),
        ({"sprocket_diameter": "120 mm", "run_angle": "85 deg"}, {"run_angle"}),
    ],
)
def test_bad_drives_are_named(typed, fields):
    assert set(problems("cam_retard", {"head_skim": "0.2 mm"}, typed)) == fields


# ------------------------------------------------------------------------------ valve clearance
def test_clearance_along_the_valve_in_a_pocket_and_over_a_flat_crown():
    typed = {"clearance": "1.60 mm", "net_drop": "0.25 mm", "valve_angle": "20 deg"}
    pocket = W["valve_to_piston_clearance"](typed, crown="pocket square to the valve")
    flat = W["valve_to_piston_clearance"](typed, crown="flat")
    assert 1e3 * pocket["clearance_after"] == pytest.approx(1.6 - 0.25 * math.cos(math.radians(20)))
    assert 1e3 * flat["clearance_after"] == pytest.approx(1.6 - 0.25 / math.cos(math.radians(20)))


def test_an_unknown_crown_passes_as_the_worse_and_fails_as_neither():
    typed = {"clearance": "1.600 mm", "net_drop": "0.250 mm", "valve_angle": "20.0 deg", "minimum_clearance": "1.35 mm",
             "minimum_clearance_source": "notes"}  # fmt: skip
    result = W["valve_to_piston_clearance"](typed)
    assert result["clearance_after"] > 1.35e-3 > result["clearance_after_flat_crown"]
    assert result.outcome is Outcome.UNDECIDED and any("worse" in a for a in result.assumptions)
    assert "Crown under the valve" in result.checks[1].remark
    assert W["valve_to_piston_clearance"](typed, crown="pocket square to the valve").outcome is Outcome.PASS
    assert W["valve_to_piston_clearance"](typed, crown="flat").outcome is Outcome.FAIL
    assert W["valve_to_piston_clearance"](typed, minimum_clearance="1.3 mm").outcome is Outcome.PASS
    upright = W["valve_to_piston_clearance"](typed, valve_angle="0 deg", minimum_clearance="1.34 mm")
    assert upright.outcome is Outcome.PASS and not upright.assumptions


def test_a_valve_that_would_touch_fails_without_any_typed_limit():
    result = W["valve_to_piston_clearance"](clearance="0.20 mm", net_drop="0.30 mm", valve_angle="0 deg")
    assert result.outcome is Outcome.FAIL and "touch" in result.checks[0].limit_source


# ------------------------------------------------------------------------------ grade
@pytest.mark.parametrize(
    ("readings", "grade", "outcome", "says"),
    [
        (["0.60 mm", "0.64 mm"], "1", Outcome.PASS, None),
        (["0.64 mm", "0.66 mm"], "1 or 2", Outcome.UNDECIDED, "a boundary that is printed for both grades"),
        (["0.70 mm", "0.72 mm"], "2 or 3", Outcome.UNDECIDED, "in a gap between two grades"),
        (["0.50 mm", "0.54 mm"], "none (nearest: 1)", Outcome.FAIL, "below every grade"),
        (["0.81 mm", "0.83 mm"], "none (nearest: 3)", Outcome.FAIL, "above every grade"),
    ],
)
def test_grade(readings, grade, outcome, says):
    result = W["gasket_grade"](TABLE, projections=[readings, ["0.40 mm", "0.40 mm"]], rule="mean_then_max")
    assert result["grade"] == grade and result.outcome is outcome
    warning = result["boundary_warning"]
    assert (
        warning is False if says is None else says in warning and grade.removeprefix("none (nearest: ")[:1] in warning
    )


@pytest.mark.parametrize(("rule", "governing"), [("mean_then_max", 0.66), ("max", 0.70), ("mean_of_all", 0.64)])
def test_rules_differ(rule, governing):
    result = W["gasket_grade"](TABLE, projections=[["0.62 mm", "0.70 mm"], ["0.60 mm", "0.64 mm"]], rule=rule)
    assert 1e3 * result["governing"] == pytest.approx(governing)
    assert [round(1e3 * x, 6) for x in result["averages"]] == [0.66, 0.62]
    assert ("highest_piston" in result.values) == (rule != "mean_of_all")
    assert rule == "mean_of_all" or result["highest_piston"] == "1"


def test_grade_without_a_source_never_passes_and_mean_then_max_is_the_default():
    result = W["gasket_grade"](projections=[["0.60 mm", "0.60 mm"]], grades=GRADES)
    assert result.outcome is Outcome.NO_LIMIT and result.inputs.rule == "mean_then_max"


def test_uncertainty_and_overlap_warn():
    near = W["gasket_grade"](TABLE, projections=[["0.64 mm", "0.64 mm"]], uncertainty="0.02 mm")
    assert near["grade"] == "1 or 2" and "uncertainty" in near["boundary_warning"]
    overlapping = [{"name": "a", "low": "0.5 mm", "high": "0.7 mm"}, {"name": "b", "low": "0.6 mm", "high": "0.8 mm"}]
    result = W["gasket_grade"](projections=[["0.65 mm", "0.65 mm"]], grades=overlapping, grades_source="notes")
    assert result["grade"] == "a or b" and "overlap" in result["boundary_warning"]


def test_open_ends_and_recessed_pistons():
    grades = [{"name": "thin", "high": "-0.1 mm"}, {"name": "thick", "low": "-0.1 mm"}]
    result = W["gasket_grade"](projections=[["-0.30 mm", "-0.34 mm"]], grades=grades, grades_source="notes")
    assert result["grade"] == "thin" and result.outcome is Outcome.PASS


def test_a_missing_reading_cannot_pass():
    table = TABLE | {"projections": [["0.60 mm", "0.62 mm"], ["0.60 mm", "not measured"]]}
    missing = W["gasket_grade"](table)
    assert missing.outcome is Outcome.UNDECIDED and "piston 2: a reading is missing" in missing.checks[0].remark
    single = W["gasket_grade"](TABLE, projections=[["0.60 mm"]])
    assert single.outcome is Outcome.UNDECIDED and "only one reading" in single.checks[0].remark
    assert "no reading" in problems("gasket_grade", TABLE, projections=[["-", "-"]])["projections[1].readings"]


def test_bad_grades_are_named():
    grades = [{"name": "1", "low": "0.7 mm", "high": "0.6 mm"}, {"name": "1", "low": "0.7 mm"}, {"name": "2"}]
    said = problems("gasket_grade", projections=[["0.6 mm", "0.6 mm"]], grades=grades)
    assert set(said) == {"grades[1].low", "grades[2].name", "grades[3].low"}


def test_many_ways_to_type_projections():
    records = W["gasket_grade"](TABLE, projections='[{"piston": "front", "readings": "0,60 mm; 24.4 thou"}]')
    assert records["highest_piston"] == "front"
    assert 1e3 * records["governing"] == pytest.approx((0.60 + 24.4 * 0.0254) / 2)


# ------------------------------------------------------------------------------ roughness
def test_one_parameter_is_never_another():
    for field in ("wanted_parameter", "limit_parameter"):
        said = problems("surface_roughness", value="30 uin", parameter="Ra", **{field: "Rz"})
        assert set(said) == {field}
        assert "cannot be turned into Rz" in said[field] and "depends on the shape of the surface" in said[field]
    same = W["surface_roughness"](value="30 uin", parameter="Ra", wanted_parameter="Ra")
    assert f"{1e6 * same['micrometre']:.2f}" == "0.76"


def test_roughness_is_judged_from_both_sides():
    typed = {"value": "30 uin", "parameter": "Ra", "limit": "0.8 um", "limit_source": "notes", "least": "0.5 um",
             "limit_parameter": "Ra"}  # fmt: skip
    unsaid = W["surface_roughness"]({k: v for k, v in typed.items() if k != "limit_parameter"}).checks[0]
    assert unsaid.outcome is Outcome.UNDECIDED and "Parameter of the limits" in unsaid.remark
    top, bottom = W["surface_roughness"](typed).checks
    assert (top.outcome, bottom.outcome) == (Outcome.PASS, Outcome.NO_LIMIT)
    assert W["surface_roughness"](typed, limit="28 uin").checks[0].outcome is Outcome.FAIL
    assert "least" in problems("surface_roughness", typed, least="1 um")


# ------------------------------------------------------------------------------ the chain, and pictures
def test_the_chain_says_what_its_links_say():
    chain = W["skim_chain"](CHAIN, head_skim="0.2 mm", block_skim="0.1 mm", gasket_gain="0.05 mm")
    cuts = {"head_skim": "0.2 mm", "block_skim": "0.1 mm", "gasket_gain": "0.05 mm"}
    ratio = W["compression_ratio"](ENGINE | cuts)
    retard = W["cam_retard"](cuts, sprocket_diameter="120 mm")
    gap = W["valve_to_piston_clearance"](clearance="1.0 mm", net_drop="0.25 mm", valve_angle="20 deg")
    assert chain["ratio_after"] == ratio["ratio_after"]
    assert chain["crank_angle"] == retard["crank_angle"]
    assert chain["valve_to_piston_clearance_after"] == pytest.approx(gap["clearance_after"], rel=1e-12)
    assert chain["height_after"] == pytest.approx(135.52e-3)
    assert [c.outcome for c in chain.checks][:1] == [Outcome.UNDECIDED], "one height is too few to pass"
    assert W["skim_chain"](CHAIN, head_skim="0.25 mm").outcome is Outcome.FAIL  # 135.47 is below 135.50
    assert "not plausible" in problems("skim_chain", CHAIN, head_skim="136 mm")["head_skim"]


EXAMPLES = {
    "skim_chain": CHAIN | {"head_skim": "0.2 mm"},
    "skim_allowance": ALLOW | {"minimum_height": "135.50 mm"},
    "gasket_grade": TABLE | {"projections": [["0.60 mm", "0.62 mm"], ["0.66 mm", "0.66 mm"]]},
    "surface_roughness": {"value": "30 uin", "parameter": "Ra"},
}


@pytest.mark.parametrize("name", EXAMPLES)
def test_pictures_move_by_their_gids_alone(name):
    working = W[name]
    figure = Figure(figsize=working.figure_size, layout="constrained")
    move = working.draw(figure)
    result = working(EXAMPLES[name])
    move(result)
    gids = [a.get_gid() for a in figure.findobj() if a.get_gid()]
    assert gids and len(set(gids)) == len(gids)
    axes = [(ax.get_xlim(), ax.get_ylim()) for ax in figure.axes]
    other = {"skim_chain": {"head_skim": "0.5 mm"}, "skim_allowance": {"minimum_height": "135.52 mm"},
             "gasket_grade": {"uncertainty": "0.01 mm"}, "surface_roughness": {"value": "60 uin"}}[name]  # fmt: skip
    second = working(EXAMPLES[name] | other)
    move(second)
    if name != "skim_allowance":
        assert axes == [(ax.get_xlim(), ax.get_ylim()) for ax in figure.axes]
    assert working.alt(result) and working.alt(second)
    figure.draw_without_rendering()


def test_the_picture_says_the_numbers_of_the_result():
    figure = Figure(figsize=(7, 4), layout="constrained")
    move = draw_chain(figure)
    for cut in ("0 mm", "0.2 mm", "0.37 mm"):
        result = W["skim_chain"](CHAIN, head_skim=cut)
        move(result)
        said = {t.get_gid(): t.get_text() for t in figure.findobj() if hasattr(t, "get_text") and t.get_gid()}
        assert said["ratio-says"].endswith(f"{result['ratio_after']:.2f}")
        assert said["late-says"].removesuffix(" late") == f"{math.degrees(result['crank_angle']):.2f}°"
        assert f"{1e3 * result['height_after']:.2f}" in said["height-says"]
        assert ("too low" in said["height-says"]) == (result["height_after"] < 135.5e-3)
        assert f"{result['crank_angle'] * 180 / math.pi:.2f}" in alt_chain(result)


def test_grades_at_works_on_any_order_and_names_neighbours():
    grades = [skim.Grade("c", 3.0, 4.0), skim.Grade("a", 1.0, 2.0), skim.Grade("b", 2.0, 2.5)]
    assert [g.name for g in skim.grades_at(2.0, grades)[0]] == ["a", "b"]
    assert [g.name for g in skim.grades_at(2.7, grades)[0]] == ["b", "c"]
    assert skim.grades_at(9.0, grades)[1] == "above" and skim.grades_at(0.0, grades)[1] == "below"


def test_every_working_carries_its_cautions_and_prints():
    for name, typed in EXAMPLES.items():
        assert GOVERNS in W[name].cautions
        assert W[name].title in W[name](typed).as_text()


def test_while_the_slider_moves_only_what_moves_is_drawn_and_it_equals_a_full_picture():
    first, second = (W["skim_chain"](CHAIN, head_skim=cut) for cut in ("0.10 mm", "0.43 mm"))
    size = {"figsize": W["skim_chain"].figure_size}
    live = LiveFigure(draw_chain, first, name="chain", **size)
    base = live.svg
    live.move(second)
    assert live.svg == base
    assert live.to_svg() == LiveFigure(draw_chain, second, name="chain", **size).to_svg()
