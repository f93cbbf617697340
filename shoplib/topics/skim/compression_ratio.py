"""The working ``compression_ratio``: what is the compression ratio after the skim, and which gasket would keep it."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from shoplib.core.carried import Show, carried, only_value
from shoplib.core.checks import added
from shoplib.core.conditions import one_of
from shoplib.core.fields import choice, number, quantity, sourced_limit
from shoplib.core.units import cm3, mm, mm2, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import engine_geometry
from shoplib.topics.cautions import CAM_BORE
from shoplib.topics.skim.skim_inputs import (
    BLOCK_SKIM,
    CUT_DEFAULTS,
    CUTS,
    GASKET_GAIN,
    HEAD_SKIM,
    RULE_AND_LIMIT,
    SIZES,
    Cuts,
    ask_about_negative,
    digits,
)

BORE = quantity("bore", mm, "Bore", symbol="B", above=0.0, example='"86 mm"', group="Engine", plausible=SIZES)


STROKE = quantity("stroke", mm, "Stroke", symbol="S", above=0.0, example='"86 mm"', group="Engine", plausible=SIZES)


OPENING = quantity(
    "chamber_opening_area",
    mm2,
    "Area of the chamber's opening in the head face",
    symbol="A_o",
    at_least=0.0,
    required=False,
    help="not the area of the bore; on a flat face the area of the recess or prechamber, 0 mm² if there is none",
    example='"3900 mm**2"',
    group="Engine",
)


CHAMBER, FLAT = "chamber in head", "flat face"


FACE = choice(
    "head_face", "Head face", (CHAMBER, FLAT), default=CHAMBER, help="where the combustion chamber is",
    group="Engine",
)  # fmt: skip


GASKET_BORE = quantity(
    "gasket_bore",
    mm,
    "Bore of the gasket",
    symbol="d_g",
    above=0.0,
    required=False,
    help="diameter of the gasket's hole at the cylinder; needed where the gasket changes, and for the thickness "
    "that keeps the ratio",
    example='"87.5 mm"',
    group="Engine",
)


RATIO = number("ratio", "Compression ratio before", symbol="r_c", above=1.0, at_most=40.0, required=False,
               help="or fill in the four boxes of “Clearance volume, part by part”",
               example="18", group="Engine")  # fmt: skip


class ChamberInputs(Cuts):
    """Cylinder, chamber and gasket of which the ratio is wanted, and the cuts."""

    bore = BORE
    stroke = STROKE
    ratio = RATIO
    head_face = FACE
    chamber_opening_area = OPENING
    gasket_bore = GASKET_BORE


# ------------------------------------------------------------------------------ ratio
def check_areas(inputs: ChamberInputs, worksheet: Worksheet) -> None:
    """The areas over which the cuts and the gasket count; neither is the bore."""
    ask_about_negative(inputs, worksheet, "head_skim", "block_skim")
    if inputs.head_skim and not inputs.given("chamber_opening_area"):
        worksheet.refuse("chamber_opening_area", "is needed: the cut removes volume over this area, not over the bore")
    if not inputs.given("gasket_bore") and (inputs.gasket_gain or not inputs.given("ratio")):
        worksheet.refuse(
            "gasket_bore", "is needed: the gasket thickness acts on the area of its own hole, not on that of the bore"
        )


PARTS = ("chamber_volume", "gasket_thickness", "deck_clearance", "piston_volume")


RATIO_INPUTS = ("bore", "stroke", "ratio", *PARTS, "head_skim", "block_skim", "gasket_gain", "chamber_opening_area",
                "gasket_bore")  # fmt: skip


class Ratio(NamedTuple):
    """Volumes and ratio before and after the cuts; SI."""

    swept: float
    clearance_before: float
    before: float
    clearance_after: float
    after: float


def ratio_of(inputs: ChamberInputs, show: Show) -> Ratio:
    """Infinite where no volume is left above the piston."""
    V_d = show("Swept volume", engine_geometry.swept_volume)(B=inputs.bore, S=inputs.stroke)
    if inputs.given("ratio"):
        V_c = show("Clearance volume before", engine_geometry.clearance_volume)(V_d=V_d, r_c=inputs.ratio)
        before = inputs.ratio
    else:
        V_c = clearance_of_parts(inputs, show)
        before = math.inf
        if V_c > 0:
            before = show("Ratio before", engine_geometry.compression_ratio)(V_d=V_d, V_c=V_c)
    V_c_after = show("Clearance volume after", engine_geometry.clearance_after_cuts)(
        V_c=V_c,
        g=inputs.gasket_gain,
        A_o=inputs.chamber_opening_area or 0.0,  # only where the head is not cut, held by check_areas
        c_H=inputs.head_skim,
        B=inputs.bore,
        c_B=inputs.block_skim,
        d_g=inputs.gasket_bore or inputs.bore,  # only where the gasket's thickness stays, held by check_areas
    )
    after = math.inf
    if V_c_after > 0:
        after = show("Ratio after", engine_geometry.compression_ratio_after)(V_d=V_d, V_c_after=V_c_after)
    return Ratio(V_d, V_c, before, V_c_after, after)


def clearance_of_parts(inputs: ChamberInputs, show: Show) -> float:
    """The volume above the piston before the cuts, part by part."""
    assert isinstance(inputs, CompressionRatioInputs)  # the only one that takes the parts in place of the ratio
    V_g = show("In the gasket", engine_geometry.gasket_volume)(d_g=inputs.gasket_bore, h_g=inputs.gasket_thickness)
    V_D = show("Between crown and deck", engine_geometry.deck_volume)(B=inputs.bore, h_D=inputs.deck_clearance)
    return float(
        show("Clearance volume before", engine_geometry.clearance_of_parts)(
            V_ch=inputs.chamber_volume,
            V_g=V_g,
            V_D=V_D,
            V_p=inputs.piston_volume,
        )
    )


def work_ratio(inputs: ChamberInputs, worksheet: Worksheet) -> float:
    """Volumes and ratio before and after; the gasket that would keep the ratio."""
    found = ratio_of(inputs, worksheet.show)
    if not found.clearance_before > 0:
        worksheet.refuse(
            "piston_volume", "leaves no volume above the piston; check the signs: dish positive, dome negative"
        )
    elif not found.clearance_after > 0:
        worksheet.refuse("head_skim", "leaves no volume above the piston; check the cut and chamber_opening_area")
    worksheet.raise_refusals()
    worksheet.result("ratio_after", found.after, one, "Compression ratio after", all_digits=True)
    worksheet.result("ratio_before", found.before, one, "Compression ratio before")
    if inputs.given("gasket_bore"):
        keep = worksheet.step(
            "Extra gasket thickness that would keep the ratio",
            engine_geometry.gain_that_keeps_the_ratio,
            A_o=inputs.chamber_opening_area or 0.0,
            c_H=inputs.head_skim,
            B=inputs.bore,
            c_B=inputs.block_skim,
            d_g=inputs.gasket_bore,
        )
        worksheet.result("gasket_gain_to_keep", keep, mm, "Extra gasket thickness that would keep the ratio", 3)
    worksheet.result("swept_volume", found.swept, cm3, "Swept volume")
    worksheet.result("clearance_before", found.clearance_before, cm3, "Clearance volume before")
    worksheet.result("clearance_after", found.clearance_after, cm3, "Clearance volume after")
    if inputs.given("chamber_opening_area") and inputs.chamber_opening_area > 1.02 * np.pi / 4 * inputs.bore**2:
        worksheet.caution(
            "Check the opening: it is larger than the bore. Only the part inside the gasket's hole counts."
        )
    return float(found.after)


def _ratio_after(inputs: CompressionRatioInputs, show: Show) -> float:
    return ratio_of(inputs, show).after


def say_which_branch(inputs: ChamberInputs, worksheet: Worksheet) -> None:
    """Skimmed, so a thicker gasket: two different problems."""
    if inputs.head_face == FLAT:
        says = (
            "flat face: the cut hardly changes the ratio, so a thicker gasket lowers it; the cut does change the "
            "valve recess "
            "and the valve-to-piston clearance. "
            "Choose the gasket by piston projection."
        )
    else:
        says = (
            "chamber in the head: the cut acts on the area of the chamber's opening, the gasket on the area of its own "
            "hole. A gasket that is thicker by the depth of the cut does not restore the ratio exactly."
        )
    worksheet.result("branch", says, None, "What a thicker gasket does")


def run(inputs: CompressionRatioInputs, worksheet: Worksheet) -> None:
    """Compression ratio before and after, and squish."""
    check_areas(inputs, worksheet)
    worksheet.raise_refusals()
    ratio = work_ratio(inputs, worksheet)
    if inputs.given("ratio_limit"):
        names = [name for name in RATIO_INPUTS if inputs.given(name)]
        worksheet.check(
            "Compression ratio after", ratio, "≤", inputs.ratio_limit, one, inputs.ratio_limit_source,
            uncertainty=carried(_ratio_after, inputs, *names),
            otherwise={
                "block_skim": [_ratio_after(inputs.replaced(block_skim=CUTS[1]), only_value)],
                "gasket_gain": (),
            },
        )  # fmt: skip
    if inputs.given("gasket_thickness", "deck_clearance"):
        h = {"h_g": inputs.gasket_thickness, "h_D": inputs.deck_clearance}
        worksheet.result("squish_before", engine_geometry.squish(**h, c_B=0.0, g=0.0), mm, "Squish before")
        squish = worksheet.step(
            "Squish after", engine_geometry.squish, **h, c_B=inputs.block_skim, g=inputs.gasket_gain
        )
        worksheet.result("squish_after", squish, mm, "Squish after")
        rest: Any = {
            "uncertainty": added(*(digits(inputs, n) for n in ("gasket_thickness", "deck_clearance", *CUT_DEFAULTS))),
            "otherwise": {"block_skim": [float(squish) - CUTS[1]], "gasket_gain": ()},
        }
        source = "geometry: below zero they touch"
        worksheet.check("Crown clear of the head face", float(squish), ">", 0.0, mm, source, geometry=True, **rest)
        if inputs.given("minimum_squish"):
            worksheet.check(
                "Squish after", float(squish), "≥", inputs.minimum_squish, mm, inputs.minimum_squish_source, **rest
            )
    elif inputs.given("minimum_squish"):
        remark = "gasket_thickness and deck_clearance were not typed; missing is not zero"
        worksheet.check(
            "Squish after", None, "≥", inputs.minimum_squish, mm, inputs.minimum_squish_source, remark=remark
        )
    say_which_branch(inputs, worksheet)


# ------------------------------------------------------------------------------ declared
class CompressionRatioInputs(ChamberInputs):
    """Inputs of ``compression_ratio``."""

    combinations = (one_of("ratio", PARTS, shared=("gasket_thickness", "deck_clearance")),)
    bore = BORE
    stroke = STROKE
    ratio = RATIO
    head_face = FACE
    chamber_opening_area = OPENING
    gasket_bore = GASKET_BORE
    chamber_volume = quantity(
        "chamber_volume", cm3, "Chamber in the head, volume", symbol="V_ch", at_least=0.0, required=False,
        help="measured by filling (cc’d), valves fitted", example='"32 cm3"', group="Clearance volume, part by part",
    )  # fmt: skip
    gasket_thickness = quantity("gasket_thickness", mm, "Gasket thickness, compressed", symbol="h_g", above=0.0,
                                required=False,
                                help="with “Crown below deck” also gives the squish, the gap from crown to head",
                                example='"1.2 mm"', group="Clearance volume, part by part")  # fmt: skip
    deck_clearance = quantity("deck_clearance", mm, "Crown below deck", symbol="h_D", required=False,
                              help="negative where the piston stands proud of the deck", example='"0.2 mm"',
                              group="Clearance volume, part by part")  # fmt: skip
    piston_volume = quantity("piston_volume", cm3, "Dish in the piston, volume", symbol="V_p", required=False,
                             help="negative for a dome, 0 cm3 for a flat crown", example='"5 cm3"',
                             group="Clearance volume, part by part")  # fmt: skip
    head_skim = HEAD_SKIM
    block_skim = BLOCK_SKIM
    gasket_gain = GASKET_GAIN
    ratio_limit, ratio_limit_source = sourced_limit(
        "ratio_limit", one, "Highest ratio allowed", above=1.0, example="19.0", group="Limits"
    )
    minimum_squish, minimum_squish_source = sourced_limit(
        "minimum_squish", mm, "Smallest squish clearance", at_least=0.0, example='"0.9 mm"', group="Limits"
    )
    decision_rule, at_limit = RULE_AND_LIMIT


COMPRESSION_RATIO = Working(
    name="compression_ratio",
    title="Compression ratio after a cut",
    question="what is the compression ratio after the skim, and which gasket would keep it",
    phase="skim",
    inputs=CompressionRatioInputs,
    run=run,
    cautions=(
        GOVERNS,
        "This is the geometric ratio; by itself it does not predict knock or smoke.",
        "Measure each chamber by filling where the ratio matters: chambers are cast and differ.",
        CAM_BORE,
    ),
)  # fmt: skip
