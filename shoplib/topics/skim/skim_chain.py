"""The working ``skim_chain``: this much off the head: ratio, valve-to-piston clearance, timing, height."""

from __future__ import annotations

from typing import Any

import numpy as np

from shoplib.core.carried import Show, only_value
from shoplib.core.checks import added
from shoplib.core.fields import Field, quantity
from shoplib.core.former import Former
from shoplib.core.units import mm
from shoplib.core.working import GOVERNS, Renamed, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import engine_geometry, skim
from shoplib.topics.cautions import CAM_BORE, TWO_TURNS
from shoplib.topics.skim.cam_retard import DRIVE, SPROCKETS, DriveInputs, check_drive, work_retard
from shoplib.topics.skim.compression_ratio import (
    BORE,
    FACE,
    GASKET_BORE,
    OPENING,
    RATIO,
    STROKE,
    ChamberInputs,
    check_areas,
    say_which_branch,
    work_ratio,
)
from shoplib.topics.skim.skim_allowance import MINIMUM_HEIGHT, MinimumHeight, few_heights, work_height
from shoplib.topics.skim.skim_inputs import (
    BLOCK_SKIM,
    CUT_DEFAULTS,
    CUTS,
    GASKET_GAIN,
    HEAD_SKIM,
    RULE_AND_LIMIT,
    SIZES,
    digits,
    net_drop,
)
from shoplib.topics.skim.valve_to_piston_clearance import (
    CROWN,
    MINIMUM_CLEARANCE,
    POCKET,
    VALVE_ANGLE,
    ValveInputs,
    gaps_after,
    judge_gap,
    work_gap,
)

# ------------------------------------------------------------------------------ all of it together
SLIDER = 0.5e-3  # m; the picture's scales reach this far, further only for a larger cut


def run(inputs: SkimChainInputs, worksheet: Worksheet) -> None:
    """One cut, and everything that depends on it."""
    check_areas(inputs, worksheet)
    check_drive(inputs, worksheet)
    worksheet.raise_refusals()
    drop = net_drop(inputs, worksheet.show)
    worksheet.result("net_drop", drop, mm, "Net drop of the head")
    work_ratio(inputs, worksheet)
    after, worst = work_gap(worksheet, inputs.valve_to_piston_clearance, drop, inputs.valve_angle, inputs.crown)
    over = f", over a {POCKET}" if worst != after else ""
    worksheet.result(
        "valve_to_piston_clearance_after", after, mm, f"Valve-to-piston clearance after, along the valve{over}"
    )
    work_retard(inputs, worksheet, drop)
    spread = added(digits(inputs, "measured_height"), digits(inputs, "head_skim"))
    work_height(inputs, worksheet, inputs.measured_height, inputs.head_skim, spread, few_heights(1))

    names = ("valve_to_piston_clearance", "valve_angle", "head_skim", *CUT_DEFAULTS)
    cut_more = _gap_after(inputs.replaced(block_skim=CUTS[1]), only_value)
    judge_gap(inputs, worksheet, worst, _gap_after, names, block_skim=[cut_more], gasket_gain=())
    say_which_branch(inputs, worksheet)
    worksheet.plot_data.update(worst_clearance=worst, **_far_ends(inputs, max(SLIDER, inputs.head_skim)))


def _gap_after(inputs: SkimChainInputs, show: Show) -> float:
    """The valve-to-piston clearance to judge."""
    drop = net_drop(inputs, show)
    return gaps_after(inputs.valve_to_piston_clearance, drop, inputs.valve_angle, inputs.crown, show)[1]


def _far_ends(inputs: SkimChainInputs, top: float) -> dict[str, Any]:
    """Where each gauge begins and ends while the head's cut goes from zero to the end of the slider."""
    V_d = engine_geometry.swept_volume(inputs.bore, inputs.stroke)
    V_c = engine_geometry.clearance_volume(V_d, inputs.ratio)
    cut = np.array([0.0, top])
    drop = skim.net_drop(cut, inputs.block_skim, inputs.gasket_gain)
    hole = inputs.gasket_bore or inputs.bore

    def ratio(area: float) -> Any:
        after = engine_geometry.clearance_after_cuts(
            V_c, area, cut, inputs.bore, inputs.block_skim, hole, inputs.gasket_gain
        )
        # a scale that ends somewhere even for a cut through the chamber
        return engine_geometry.compression_ratio(V_d, np.maximum(after, 0.2 * V_c))

    over_flat = inputs.crown == "flat" or (inputs.crown is None and inputs.valve_angle > 0)
    gap = skim.clearance_over_flat_crown if over_flat else skim.clearance_over_pocket
    return {
        "ratio": ratio(inputs.chamber_opening_area or 0.0),
        "ratio_over_bore": ratio(
            np.pi / 4 * inputs.bore**2
        ),  # the scale of every kind of head, so that a flat face shows flat
        "gap": gap(inputs.valve_to_piston_clearance, drop, inputs.valve_angle),
        "height": skim.height_after(inputs.measured_height, cut),
        "drop": drop,
    }


class SkimChainInputs(ChamberInputs, DriveInputs, MinimumHeight, ValveInputs):
    """Inputs of ``skim_chain``."""

    head_skim = HEAD_SKIM
    block_skim = BLOCK_SKIM
    gasket_gain = GASKET_GAIN
    bore = BORE
    stroke = STROKE
    ratio = Field(**{**vars(RATIO), "required": True, "help": ""})
    head_face = FACE
    chamber_opening_area = OPENING
    gasket_bore = GASKET_BORE
    measured_height = quantity(
        "measured_height", mm, "Height of the head now", symbol="H", above=0.0, example='"135.72 mm"', group="Head",
        plausible=SIZES,
    )  # fmt: skip
    minimum_height, minimum_height_source = (Field(**{**vars(f), "group": "Head"}) for f in MINIMUM_HEIGHT)
    valve_to_piston_clearance = quantity(
        "valve_to_piston_clearance", mm, "Valve-to-piston clearance before, along the valve", symbol="e", above=0.0,
        example='"1.60 mm"', group="Valve",
    )  # fmt: skip
    valve_angle = VALVE_ANGLE
    crown = CROWN
    minimum_clearance, minimum_clearance_source = MINIMUM_CLEARANCE
    sprocket_diameter, pitch, teeth, drive, run_angle, idler_in_tight_run, sprockets = DRIVE
    decision_rule, at_limit = RULE_AND_LIMIT


SKIM_CHAIN = Working(
    name="skim_chain",
    title="Effects of one cut",
    question="what does this cut do to compression ratio, valve-to-piston clearance, timing and height",
    phase="skim",
    inputs=SkimChainInputs,
    run=run,
    cautions=(GOVERNS, CAM_BORE, SPROCKETS, TWO_TURNS),
    renamed={"valve_clearance": Renamed("valve_to_piston_clearance")},
    former=Former(results={"valve_clearance_after": "valve_to_piston_clearance_after"}),


)  # fmt: skip
