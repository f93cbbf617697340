"""After the skim: height and removal, ratio, gasket grade, cam timing, valve clearance, roughness."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from shoplib.checks import Origin, Outcome, Uncertainty, added
from shoplib.core import rounding
from shoplib.look import ACCENT, INK, PALE, PALER, SOFT, WARM, around, frame, round_up, settle
from shoplib.physics import engine_geometry as e
from shoplib.physics import roughness as r
from shoplib.physics import skim as s
from shoplib.physics import timing
from shoplib.physics import timing_drive as t
from shoplib.units import cm3, deg, mm, mm2, one, show, uin, um, unit_of
from shoplib.working import (
    GOVERNS,
    Field,
    Inputs,
    Result,
    Working,
    Worksheet,
    choice,
    half_digit_in_si,
    integer,
    judging,
    limit,
    listing,
    number,
    quantity,
    table,
    words,
    yes_no,
)

MM, DEG = unit_of(mm), unit_of(deg)
USUAL = "common practice, no source"
NOT_STRAIGHT = "A skim does not straighten a bent head: measure the cam bore's straightness as well."
TURN = "Turn the engine by hand, two full turns, before the starter does; resistance means stop."
SPROCKETS = "Free, pin-timed sprockets take the timing error out; keyed ones keep it."

# ------------------------------------------------------------------------------ fields that several workings share
_CUT = "enter what is taken off, as a positive length; 0 mm if nothing"
CUTS, SIZES = (-5e-3, 5e-3), (0.01, 2.0)  # m; a cut of more is a slip of the unit; bores and heights of engines
HEAD_SKIM = quantity("head_skim", mm, "Cut off the head", symbol="c_H", help=_CUT, example='"0.2 mm"', group="The cut",
                     plausible=CUTS)  # fmt: skip
BLOCK_SKIM = quantity(
    "block_skim", mm, "Cut off the block's deck", symbol="c_B", default="0 mm", example='"0.1 mm"', group="The cut",
    plausible=CUTS,
)  # fmt: skip
GASKET_GAIN = quantity(
    "gasket_gain",
    mm,
    "New gasket thicker by",
    symbol="g",
    default="0 mm",
    help="compressed, new less old; negative if thinner",
    example='"0.1 mm"',
    group="The cut",
    plausible=CUTS,
)
BORE = quantity("bore", mm, "Bore", symbol="B", above=0.0, example='"86 mm"', group="Engine", plausible=SIZES)
STROKE = quantity("stroke", mm, "Stroke", symbol="S", above=0.0, example='"86 mm"', group="Engine", plausible=SIZES)
RULE_AND_LIMIT = tuple(f for f in judging(mm) if f.name in ("decision_rule", "at_limit"))
FEWEST_HEIGHTS = 4  # of a head: common practice, no source
OPENING = quantity(
    "chamber_opening_area",
    mm2,
    "Chamber's opening in the head's face",
    symbol="A_o",
    at_least=0.0,
    required=False,
    help="its area, not the bore's; on a flat face that of the recess or prechamber, 0 mm² if there is none",
    example='"3900 mm**2"',
    group="Engine",
)
CHAMBER, FLAT = "chamber in head", "flat face"
FACE = choice(
    "head_face", "The head's face", (CHAMBER, FLAT), default=CHAMBER, help="where the room above the piston lies",
    group="Engine",
)  # fmt: skip
GASKET_BORE = quantity(
    "gasket_bore",
    mm,
    "Hole of the gasket",
    symbol="d_g",
    above=0.0,
    required=False,
    help="its diameter at the cylinder; needed where the gasket's thickness counts",
    example='"87.5 mm"',
    group="Engine",
)
DRIVE = (
    quantity(
        "sprocket_diameter",
        mm,
        "Cam sprocket, pitch diameter",
        symbol="D",
        above=0.0,
        required=False,
        help="or pitch, teeth and drive",
        plausible=SIZES,
        example='"120 mm"',
        group="Timing drive",
    ),
    quantity(
        "pitch", mm, "Pitch of chain or belt", symbol="p", above=0.0, required=False, example='"9.525 mm"',
        plausible=(1e-3, 0.05),
        group="Timing drive",
    ),
    integer(
        "teeth", "Teeth of the cam sprocket", symbol="z", at_least=6, at_most=500, required=False, example="38",
        group="Timing drive",
    ),
    choice("drive", "Drive", ("chain", "belt"), required=False, example="chain", group="Timing drive"),
    quantity(
        "run_angle",
        deg,
        "Tight run to cylinder axis",
        symbol="beta",
        default="0 deg",
        at_least=-DEG.si * 80,
        at_most=DEG.si * 80,
        help="angle between the run that pulls the cam and the cylinder",
        example='"5 deg"',
        group="Timing drive",
    ),
    yes_no(
        "idler_in_tight_run",
        "Idler, guide wheel or tensioner in the tight run",
        required=False,
        example="no",
        group="Timing drive",
    ),
    choice(
        "sprockets", "Sprockets", ("free", "keyed"), required=False,
        help="free: locked by pin and then clamped; keyed: held by key or dowel", example="keyed", group="Timing drive",
    ),
)  # fmt: skip
VALVE_ANGLE = quantity(
    "valve_angle",
    deg,
    "Valve to cylinder axis",
    symbol="alpha",
    at_least=0.0,
    at_most=DEG.si * 60,
    help="0° for an upright valve",
    example='"20 deg"',
    group="Valve",
)
POCKET = "pocket square to the valve"
CROWN = choice(
    "crown", "Crown under the valve", (POCKET, "flat"), required=False, help="left out: judged as the worse of the two",
    example="flat", group="Valve",
)  # fmt: skip
MINIMUM_CLEARANCE = limit("minimum_clearance", mm, "Smallest valve clearance", example='"1.0 mm"', group="Valve")
MINIMUM_HEIGHT = limit(
    "minimum_height", mm, "Smallest height of the head", symbol="H_min", above=0.0, example='"135.50 mm"',
    group="Limits",
)  # fmt: skip


def ask_about_negative(i: Inputs, w: Worksheet, *names: str) -> None:
    """A negative removal is asked about, never taken for its opposite."""
    for name in names:
        value = getattr(i, name)
        if value is not None and value < 0:
            w.refuse(
                name,
                f"is {show(value, MM)}: a negative removal would add material. "
                f"If {show(-value, MM)} was taken off, type it without the minus",
                f'"{MM.from_si(-value):g} mm"',
            )


# ------------------------------------------------------------------------------ height and removal
def read_height(i: Inputs, w: Worksheet) -> float | None:
    """The height now: one reading, or the lowest of several; refused above the new height."""
    if i.given("measured_height") and i.given("heights"):
        w.refuse("heights", "goes without measured_height; type one or the other")
    if not i.given("measured_height") and not i.given("heights"):
        w.refuse("measured_height", "or heights is needed", '"135.72 mm"')
    if i.given("heights") and any(h is None for h in i.heights):
        w.refuse("heights", "has a missing reading; a missing height is not zero: measure it, or leave that point out")
        return None
    found = i.measured_height if i.given("measured_height") else min(i.heights) if i.given("heights") else None
    if found is not None and i.new_height is not None and rounding.below(i.new_height, found):
        name = "measured_height" if i.given("measured_height") else "heights"
        w.refuse(
            name,
            f"{show(found, MM, 6)} is above new_height {show(i.new_height, MM, 6)}: less than nothing would have been "
            "removed. Read both again, or leave new_height out",
            f'"{MM.from_si(i.new_height):g} mm"',
        )
    return None if found is None else float(found)


def work_height(i: Inputs, w: Worksheet, H: float, cut: float, spread: Uncertainty, few: str) -> float:
    """Height after the cut, and its check; ``few``: why the heights are too few to pass."""
    after = float(w.step("Height after the cut", s.height_after, H=H, c_H=cut, digits=6))
    w.result("height_after", after, mm, "Height after the cut", 6)
    if i.given("minimum_height"):
        left = w.step("Largest cut that the minimum allows", s.largest_cut, H=H, H_min=i.minimum_height, digits=6)
        w.result("largest_cut", left, mm, "Largest cut that the minimum allows", 3)
    short = i.minimum_height is not None and rounding.below(after, i.minimum_height)
    remark = f"{show(i.minimum_height - after, MM, 3)} below the minimum: do not cut, replace the head" if short else ""
    w.check(
        "Height of the head after the cut", after, "≥", i.minimum_height, mm, i.minimum_height_source, remark=remark,
        digits=6, uncertainty=spread, missing=few,
    )  # fmt: skip
    return after


def few_heights(count: int) -> str:
    """Why so many heights are too few; empty when they are enough."""
    if count >= FEWEST_HEIGHTS:
        return ""
    return (
        f"{count} height(s) measured; {FEWEST_HEIGHTS} at least, round the head ({USUAL}): it may be thinner elsewhere"
    )


def run_allowance(i: Inputs, w: Worksheet) -> None:
    """Height after the cut, what head and block have lost, and both limits."""
    ask_about_negative(i, w, "cut", "block_cut")
    H = read_height(i, w)
    w.door()
    assert H is not None
    if i.given("heights"):
        w.result("lowest_height", H, mm, "Lowest of the heights", 6)
        w.result("out_of_parallel", max(i.heights) - H, mm, "Highest less lowest", 3)
        w.assume("the lowest of the heights counts, and the cut is taken from there")
    count = len(i.heights) if i.given("heights") else 1
    at = (
        [w.uncertainty("heights", k) for k in range(count)]
        if i.given("heights")
        else [w.uncertainty("measured_height")]
    )
    height, cut = max(at, key=lambda u: u.half_width), digits(i, "cut")
    few = few_heights(count)
    after = work_height(i, w, H, i.cut, added(height, cut), few)
    removed = None
    if i.given("new_height"):
        removed = w.step("Taken off the head in all", s.head_removed, H_new=i.new_height, H_after=after, digits=6)
        w.result("head_removed", removed, mm, "Taken off the head in all", 3)
    combined = None
    if removed is not None and i.given("block_cut"):
        combined = w.step("Head and block together", s.combined_removed, R_H=removed, c_B=i.block_cut)
        w.result("combined_removed", combined, mm, "Head and block together", 3)
    spread = added(height, cut, digits(i, "new_height"), digits(i, "block_cut"))
    if i.given("combined_limit"):
        label, source = "Head and block together", i.combined_limit_source
        if combined is None and removed is not None and rounding.below(i.combined_limit, removed):
            w.check(label, removed, "≤", i.combined_limit, mm, source, remark="the head alone is over the limit",
                    uncertainty=spread, missing="block_cut not given; missing is not zero")  # fmt: skip
        else:
            missing = [n for n in ("new_height", "block_cut") if not i.given(n)]
            remark = f"{' and '.join(missing)} not given; missing is not zero" if missing else ""
            w.check(label, combined, "≤", i.combined_limit, mm, source, remark=remark, uncertainty=spread, missing=few)


def digits(i: Inputs, name: str) -> Uncertainty:
    """That of an input by the digits in which it was typed; zero says that nothing was cut, and is exact."""
    return Uncertainty(i.half_digit(name) if getattr(i, name) else 0.0, Origin.DIGITS)


def draw_allowance(figure: Any) -> Callable[[Result], None]:
    """The head's height as a bar: when new, now, after the cut, and the zone below the minimum."""
    ax = figure.subplots()
    gauge = Gauge(ax, "height", "Head height, mm")

    def move(result: Result) -> None:
        i = result.inputs
        H = i.measured_height if i.given("measured_height") else min(i.heights)
        top = max(H, i.new_height or H)
        low = min(result["height_after"], i.minimum_height or result["height_after"])
        gauge.scale(low * 1e3 - 0.15 * (top - low) * 1e3, top * 1e3)
        gauge.forbid(None if i.minimum_height is None else i.minimum_height * 1e3)
        after = result["height_after"] * 1e3
        low_ = i.minimum_height is not None and rounding.below(after, i.minimum_height * 1e3)
        says = f"{H * 1e3:.2f} → {after:.2f}" + (", too low" if low_ else "")
        gauge.show(H * 1e3, after, says, (top * 1e3, after))

    return move


def alt_allowance(result: Result) -> str:
    """The picture in words."""
    i = result.inputs
    against = "" if i.minimum_height is None else f", smallest allowed {show(i.minimum_height, MM, 6)}"
    return f"Bar of the head's height: {show(result['height_after'], MM, 6)} after the cut{against}."


# ------------------------------------------------------------------------------ ratio
def check_areas(i: Inputs, w: Worksheet) -> None:
    """The areas that the cuts and the gasket work on; neither is the bore."""
    ask_about_negative(i, w, "head_skim", "block_skim")
    if i.head_skim and not i.given("chamber_opening_area"):
        w.refuse("chamber_opening_area", "is needed: the head's cut works on this area, not on the bore")
    if not i.given("gasket_bore") and (i.gasket_gain or not i.given("ratio")):
        w.refuse("gasket_bore", "is needed: the gasket's thickness works on its hole, not on the bore")


CUT_DEFAULTS = ("block_skim", "gasket_gain")
RATIO_INPUTS = ("bore", "stroke", "ratio", "chamber_volume", "gasket_thickness", "deck_clearance", "piston_volume",
                "head_skim", "block_skim", "gasket_gain", "chamber_opening_area", "gasket_bore")  # fmt: skip
PARTS = ("chamber_volume", "gasket_thickness", "deck_clearance", "piston_volume")


def check_ratio(i: Inputs, w: Worksheet) -> None:
    """Either the ratio or the four parts of the clearance volume."""
    if i.given("ratio"):
        for name in ("chamber_volume", "piston_volume"):
            if i.given(name):
                w.refuse(name, "goes without ratio; type the ratio, or the four parts of the clearance volume")
    elif not any(i.given(name) for name in PARTS):
        w.refuse("ratio", f"or {', '.join(PARTS)} is needed", "18")
    else:
        for name in PARTS:
            if not i.given(name):
                w.refuse(
                    name, "is needed with the other parts of the clearance volume (or type ratio); 0 if it is none"
                )


def work_ratio(i: Inputs, w: Worksheet) -> float:
    """Volumes and ratio before and after; the gasket that would keep the ratio."""
    V_d = w.step("Swept volume", e.swept_volume, B=i.bore, S=i.stroke)
    if i.given("ratio"):
        V_c = w.step("Clearance volume before", e.clearance_volume, V_d=V_d, r_c=i.ratio)
        before = i.ratio
    else:
        V_g = w.step("In the gasket", e.gasket_volume, d_g=i.gasket_bore, h_g=i.gasket_thickness)
        V_D = w.step("Between crown and deck", e.deck_volume, B=i.bore, h_D=i.deck_clearance)
        V_c = w.step(
            "Clearance volume before",
            e.clearance_of_parts,
            V_ch=i.chamber_volume,
            V_g=V_g,
            V_D=V_D,
            V_p=i.piston_volume,
        )
        if not V_c > 0:
            w.refuse(
                "piston_volume", "leaves no room above the piston; look at the signs: dish positive, dome negative"
            )
            w.door()
        before = w.step("Ratio before", e.compression_ratio, V_d=V_d, V_c=V_c)
    area = i.chamber_opening_area or 0.0  # only where the head is not cut, held by check_areas
    hole = i.gasket_bore or i.bore  # only where the gasket's thickness stays, held by check_areas
    cuts = {"A_o": area, "c_H": i.head_skim, "B": i.bore, "c_B": i.block_skim, "d_g": hole}
    after = w.step("Clearance volume after", e.clearance_after_cuts, V_c=V_c, g=i.gasket_gain, **cuts)
    if not after > 0:
        w.refuse("head_skim", "leaves no room above the piston: look at cut and chamber_opening_area again")
        w.door()
    ratio = w.step("Ratio after", e.compression_ratio, V_d=V_d, V_c=after)
    w.result("ratio_after", ratio, one, "Compression ratio after")
    w.result("ratio_before", before, one, "Compression ratio before")
    if i.given("gasket_bore"):
        keep = w.step("Gasket gain that would keep the ratio", e.gain_that_keeps_the_ratio, **cuts)
        w.result("gasket_gain_to_keep", keep, mm, "Gasket gain that would keep the ratio", 3)
    w.result("swept_volume", V_d, cm3, "Swept volume")
    w.result("clearance_before", V_c, cm3, "Clearance volume before")
    w.result("clearance_after", after, cm3, "Clearance volume after")
    if area > 1.02 * np.pi / 4 * i.bore**2:
        w.caution("The opening typed is larger than the bore: only what lies inside the gasket's hole counts.")
    return float(ratio)


def ratio_after(typed: Mapping[str, Any], **other: float) -> float:
    """The ratio after the cuts with some inputs otherwise; infinite where no room is left above the piston."""
    x = {**typed, **other}
    V_d = e.swept_volume(x["bore"], x["stroke"])
    if x["ratio"] is not None:
        V_c = e.clearance_volume(V_d, x["ratio"])
    else:
        V_g = e.gasket_volume(x["gasket_bore"], x["gasket_thickness"])
        V_D = e.deck_volume(x["bore"], x["deck_clearance"])
        V_c = e.clearance_of_parts(x["chamber_volume"], V_g, V_D, x["piston_volume"])
    after = e.clearance_after_cuts(
        V_c, x["chamber_opening_area"] or 0.0, x["head_skim"], x["bore"], x["block_skim"],
        x["gasket_bore"] or x["bore"], x["gasket_gain"],
    )  # fmt: skip
    return float(e.compression_ratio(V_d, after)) if after > 0 else math.inf


def say_which_branch(i: Inputs, w: Worksheet) -> None:
    """Skimmed, so a thicker gasket: two different problems."""
    if i.head_face == FLAT:
        says = (
            "flat face: the ratio hardly moves; valve recess and valve clearance do. "
            "Choose the gasket by piston projection."
        )
    else:
        says = (
            "chamber in the head: the cut takes volume over the chamber's opening, the gasket gives it back over its "
            "own hole; equal thicknesses do not cancel."
        )
    w.result("branch", says, None, "Which of the two problems")


def run_ratio(i: Inputs, w: Worksheet) -> None:
    """Compression ratio before and after, and squish."""
    check_ratio(i, w)
    check_areas(i, w)
    w.door()
    ratio = work_ratio(i, w)
    if i.given("ratio_limit"):
        typed = {n: getattr(i, n) for n in RATIO_INPUTS}
        names = [n for n, x in typed.items() if x is not None]
        w.check(
            "Compression ratio after", ratio, "≤", i.ratio_limit, one, i.ratio_limit_source,
            uncertainty=w.carried(lambda **x: ratio_after(typed, **x), *names),
            otherwise={"block_skim": [ratio_after(typed, block_skim=CUTS[1])], "gasket_gain": ()},
        )  # fmt: skip
    if i.given("gasket_thickness", "deck_clearance"):
        h = {"h_g": i.gasket_thickness, "h_D": i.deck_clearance}
        w.result("squish_before", e.squish(**h, c_B=0.0, g=0.0), mm, "Squish before")
        squish = w.step("Squish after", e.squish, **h, c_B=i.block_skim, g=i.gasket_gain)
        w.result("squish_after", squish, mm, "Squish after")
        rest: Any = {
            "uncertainty": added(*(digits(i, n) for n in ("gasket_thickness", "deck_clearance", *CUT_DEFAULTS))),
            "otherwise": {"block_skim": [float(squish) - CUTS[1]], "gasket_gain": ()},
        }
        source = "geometry: below zero they touch"
        w.check("Crown clear of the head's face", float(squish), ">", 0.0, mm, source, geometry=True, **rest)
        if i.given("minimum_squish"):
            w.check("Squish after", float(squish), "≥", i.minimum_squish, mm, i.minimum_squish_source, **rest)
    elif i.given("minimum_squish"):
        remark = "gasket_thickness and deck_clearance not given; missing is not zero"
        w.check("Squish after", None, "≥", i.minimum_squish, mm, i.minimum_squish_source, remark=remark)
    say_which_branch(i, w)


# ------------------------------------------------------------------------------ cam timing
def check_drive(i: Inputs, w: Worksheet) -> None:
    """Pitch diameter, or pitch, teeth and drive; and nothing in the tight run."""
    three = ("pitch", "teeth", "drive")
    if i.given("sprocket_diameter"):
        for name in ("pitch", "drive"):
            if i.given(name):
                w.refuse(name, "goes without sprocket_diameter; type the diameter, or pitch, teeth and drive")
    elif not any(i.given(n) for n in three):
        w.refuse("sprocket_diameter", "or pitch, teeth and drive is needed")
    else:
        for name in three:
            if not i.given(name):
                w.refuse(name, f"is needed with {' and '.join(n for n in three if n != name)}")
    if i.idler_in_tight_run:
        w.refuse(
            "idler_in_tight_run",
            "with an idler in the tight run the drop is no longer taken up at the cam alone: this sum does not hold; "
            "measure the timing with the engine's own pins or a degree disc",
            "no",
        )


def pitch_radius(i: Inputs, **other: float) -> float:
    """Pitch radius of the cam sprocket, from its diameter or from pitch and teeth."""
    if i.given("sprocket_diameter"):
        return float(t.radius_of_diameter(other.get("sprocket_diameter", i.sprocket_diameter)))
    radius = t.chain_pitch_radius if i.drive == "chain" else t.belt_pitch_radius
    return float(radius(other.get("pitch", i.pitch), float(i.teeth)))


def crank_retard(i: Inputs, **other: float) -> float:
    """How late the camshaft runs, in radians of the crankshaft, with some inputs otherwise."""
    x = {n: other.get(n, getattr(i, n)) for n in ("head_skim", *CUT_DEFAULTS, "run_angle")}
    drop = s.net_drop(x["head_skim"], x["block_skim"], x["gasket_gain"])
    cam = t.cam_retard(t.slack_in_tight_run(drop, x["run_angle"]), pitch_radius(i, **other))
    return float(timing.crank_from_cam(cam))


def work_retard(i: Inputs, w: Worksheet, drop: float) -> float:
    """How late the camshaft runs, in radians of the crankshaft."""
    if i.given("sprocket_diameter"):
        radius = w.step("Pitch radius", t.radius_of_diameter, D=i.sprocket_diameter)
    else:
        formula = t.chain_pitch_radius if i.drive == "chain" else t.belt_pitch_radius
        radius = w.step(f"Pitch radius, {i.drive}", formula, p=i.pitch, z=float(i.teeth))
    slack = w.step("Slack in the tight run", t.slack_in_tight_run, Delta_h=drop, beta=i.run_angle)
    cam = float(w.step("Camshaft late by", t.cam_retard, Delta_l=slack, r=radius))
    crank = float(w.step("Crankshaft degrees", timing.crank_from_cam, phi=cam))
    w.result("cam_angle", cam, deg, "Camshaft late by")
    w.result("crank_angle", crank, deg, "The same in crankshaft degrees")
    w.result("direction", "late" if cam > 0 else "early" if cam < 0 else "unchanged", None, "The camshaft now runs")
    if not i.given("sprocket_diameter"):
        w.result("pitch_diameter", 2 * radius, mm, "Pitch diameter")
    if i.given("teeth"):
        tooth = w.step("One tooth", timing.tooth_angle, n=1.0, z=float(i.teeth))
        w.result("part_of_a_tooth", cam / tooth, one, "As a part of one tooth", 3)
    if i.idler_in_tight_run is None:
        w.assume("no idler, guide wheel or tensioner in the tight run")
    return crank


def run_retard(i: Inputs, w: Worksheet) -> None:
    """How late a head that came down makes its camshaft."""
    ask_about_negative(i, w, "head_skim", "block_skim")
    check_drive(i, w)
    w.door()
    drop = w.step("Net drop of the head", s.net_drop, c_H=i.head_skim, c_B=i.block_skim, g=i.gasket_gain)
    crank = work_retard(i, w, float(drop))
    w.result("net_drop", drop, mm, "Net drop of the head")
    if i.given("sprockets"):
        w.result("left_after_retiming", 0.0 if i.sprockets == "free" else crank, deg,
                 "Left after re-timing, crankshaft degrees")  # fmt: skip
    if i.given("retard_limit"):
        judge_retard(i, w, crank)


def judge_retard(i: Inputs, w: Worksheet, crank: float) -> None:
    """The error that stays against the largest allowed; free sprockets are re-timed, which nobody has looked at yet."""
    label = "Timing error left, crankshaft degrees"
    if i.sprockets == "free":
        w.check(
            label, 0.0, "≤", i.retard_limit, deg, i.retard_limit_source,
            missing="re-time with the locking pins, then check after two turns: this calculation measures nothing",
        )  # fmt: skip
        return
    names = [n for n in ("head_skim", *CUT_DEFAULTS, "sprocket_diameter", "pitch", "run_angle") if i.given(n)]
    w.check(
        label, abs(crank), "≤", i.retard_limit, deg, i.retard_limit_source,
        uncertainty=w.carried(lambda **x: crank_retard(i, **x), *names),
        otherwise={
            "sprockets": [0.0],
            "idler_in_tight_run": (),
            "run_angle": [abs(crank_retard(i, run_angle=DEG.si * 80))],
            **dict.fromkeys(CUT_DEFAULTS, ()),
        },
    )  # fmt: skip


# ------------------------------------------------------------------------------ valve clearance
def work_gap(w: Worksheet, gap: float, drop: float, angle: float, crown: str | None) -> tuple[float, float]:
    """(clearance along the valve, the one to judge) after the drop."""
    over_flat = crown == "flat"
    formula = s.clearance_over_flat_crown if over_flat else s.clearance_over_pocket
    title = f"Clearance along the valve, {'flat crown' if over_flat else POCKET}"
    after = float(w.step(title, formula, e=gap, Delta_h=drop, alpha=angle))
    worst = after
    if crown is None and angle > 0 and drop > 0:
        worst = float(
            w.step("If the crown is flat there", s.clearance_over_flat_crown, e=gap, Delta_h=drop, alpha=angle)
        )
        w.assume(f"{POCKET}; the check takes the flat crown, which is worse")
    return after, worst


def gap_after(gap: float, drop: float, angle: float, crown: str | None) -> float:
    """Clearance along the valve after the drop; where the crown was not told, over the worse of the two."""
    over = {POCKET: s.clearance_over_pocket, "flat": s.clearance_over_flat_crown}
    return min(float(over[c](gap, drop, angle)) for c in ([crown] if crown else over))


def judge_gap(
    i: Inputs, w: Worksheet, worst: float, gap: Callable[..., float], names: Sequence[str], **otherwise: Sequence[float]
) -> None:
    """Never through the piston; and above the typed minimum.  ``gap`` takes the inputs in ``names``, and the crown."""
    typed = {n: getattr(i, n) for n in names}
    rest: Any = {
        "uncertainty": w.carried(lambda **x: gap(crown=i.crown, **x), *names),
        "otherwise": {"crown": [gap(crown=c, **typed) for c in (POCKET, "flat")], **otherwise},
    }
    source = "geometry: below zero they touch"
    w.check("Valve clear of the piston", worst, ">", 0.0, mm, source, geometry=True, **rest)
    if i.given("minimum_clearance"):
        w.check("Valve clearance", worst, "≥", i.minimum_clearance, mm, i.minimum_clearance_source, **rest)


def run_clearance(i: Inputs, w: Worksheet) -> None:
    """What is left between valve and piston."""
    after, worst = work_gap(w, i.clearance, i.net_drop, i.valve_angle, i.crown)
    w.result("clearance_after", after, mm, "Clearance after, along the valve")
    if worst != after:
        w.result("clearance_after_flat_crown", worst, mm, "The same if the crown is flat there")

    def gap(clearance: float, net_drop: float, valve_angle: float, crown: str | None) -> float:
        return gap_after(clearance, net_drop, valve_angle, crown)

    judge_gap(i, w, worst, gap, ("clearance", "net_drop", "valve_angle"))


# ------------------------------------------------------------------------------ gasket grade
RULES = ("mean_then_max", "max", "mean_of_all")
_SAYS = {
    "one": "",
    "boundary": "lies on a boundary that both grades print",
    "near": "lies so near a boundary that the uncertainty reaches over it",
    "overlap": "lies in two grades that overlap in the table",
    "gap": "lies in a gap between two grades",
    "below": "is below every grade of the table",
    "above": "is above every grade of the table",
}


def read_grades(i: Inputs, w: Worksheet) -> list[s.Grade]:
    """The table of grades; each bad row is named."""
    grades: list[s.Grade] = []
    for k, row in enumerate(i.grades, 1):
        low, high = row["low"], row["high"]
        if low is None and high is None:
            w.refuse(f"grades[{k}].low", "or high is needed", '"0.60 mm"')
            continue
        if low is not None and high is not None and low > high:
            w.refuse(f"grades[{k}].low", "is above high", '"0.60 mm"')
        if row["name"] in [g.name for g in grades]:
            w.refuse(f"grades[{k}].name", f"{row['name'][:40]} is given twice")
        grades.append(s.Grade(row["name"], low, high))
    return grades


MOST_ROCK = 0.1e-3  # m between the two readings of a piston; common practice, no source


def rocking(names: Sequence[str], read: Sequence[Sequence[float]], grades: Sequence[s.Grade]) -> list[str]:
    """Pistons whose readings are further apart than a grade is wide, or than a piston tilts: a slip, or it rocks."""
    widths = [g.high - g.low for g in grades if g.low is not None and g.high is not None and g.high > g.low]
    most = min([MOST_ROCK, *widths])
    return [
        f"piston {name}: its readings are {show(max(kept) - min(kept), MM, 2)} apart, more than {show(most, MM, 2)}: "
        "measure again, and take the rock out of it"
        for name, kept in zip(names, read, strict=True)
        if rounding.below(most, max(kept) - min(kept), max(map(abs, kept)))
    ]


def coarsest(i: Inputs) -> float:
    """The most by which a projection may be out through the digits of its readings."""
    cells = [row["readings"] for row in i.typed_rows("projections")]
    typed = [str(x) for cell in cells for x in (cell.split(";") if isinstance(cell, str) else cell)]
    return max((half_digit_in_si(x, MM) for x in typed if re.search(r"\d", x)), default=0.0)


def run_grade(i: Inputs, w: Worksheet) -> None:
    """Averages, the governing projection, and the grade or grades it calls for."""
    grades = read_grades(i, w)
    w.door()
    names = [row["piston"] or str(k) for k, row in enumerate(i.projections, 1)]
    read = [[x for x in row["readings"] if x is not None] for row in i.projections]
    doubts = []
    for k, (name, row, kept) in enumerate(zip(names, i.projections, read, strict=True), 1):
        if not kept:
            w.refuse(
                f"projections[{k}].readings", f"piston {name} has no reading; missing is not zero", '"0.62 mm; 0.66 mm"'
            )
        elif len(kept) < len(row["readings"]):
            doubts.append(f"piston {name}: a reading is missing")
        elif len(kept) == 1 and i.rule != "max":
            doubts.append(f"piston {name}: one reading only, its tilt is not averaged out")
    w.door()
    means = [
        w.step(f"Piston {name}", s.mean_of_two, P_1=kept[0], P_2=kept[1]) if len(kept) == 2 else float(np.mean(kept))
        for name, kept in zip(names, read, strict=True)
    ]
    everything = [x for kept in read for x in kept]
    by_rule = {"mean_then_max": max(means), "max": max(everything), "mean_of_all": float(np.mean(everything))}
    governing = by_rule[i.rule]
    u = i.uncertainty if i.given("uncertainty") else coarsest(i)
    doubts += rocking(names, read, grades)
    each = [max(kept) for kept in read] if i.rule == "max" else means
    highest = [n for n, x in zip(names, each, strict=True) if rounding.at_most(governing, x)]
    called, case = s.grades_at(governing, grades, u)
    fits = case not in ("below", "above")
    names_called = " or ".join(g.name for g in called)
    w.result("grade", names_called if fits else f"none (nearest: {names_called})", None, "Gasket grade")
    warning = None
    if case != "one":
        warning = f"{show(governing, MM)} {_SAYS[case]}: {names_called}. Ask what the source says there."
    w.result("boundary_warning", warning or False, None, "Boundary warning")
    w.result("governing", governing, mm, "Projection that governs", 4)
    w.result("averages", means, mm, "Average of each piston", 3)
    if i.rule != "mean_of_all":
        w.result("highest_piston", ", ".join(highest), None, "Highest piston")
    if not i.typed("rule") and len({str(s.grades_at(x, grades, u)) for x in by_rule.values()}) > 1:
        doubts.append(f"depends on “{w.working.field('rule').label}”, which was not typed")  # type: ignore[union-attr] # declared below
    if not i.given("uncertainty") and case == "near":
        doubts.append(f"the readings are typed to ±{show(u, MM, 2)}")
    source = i.grades_source
    if not fits:
        outcome, remark = Outcome.FAIL, warning or ""
    elif case != "one" or doubts:
        outcome, remark = Outcome.UNDECIDED, "; ".join([*([warning] if warning else []), *doubts])
    elif not source:
        outcome, remark = Outcome.NO_LIMIT, "one grade fits, but the source of the table is missing"
    else:
        outcome, remark = Outcome.PASS, ""
    found = names_called if fits else "no grade"
    w.judge(f"Grade for {show(governing, MM)}", found, "one grade fits", None, None, source, outcome, remark)
    for doubt in doubts:
        w.caution(f"{doubt[0].upper()}{doubt[1:]}.")
    w.curve.update(names=names, read=read, means=means, governing=governing, grades=grades, called=called, rule=i.rule)


# ------------------------------------------------------------------------------ roughness
def run_roughness(i: Inputs, w: Worksheet) -> None:
    """The same parameter in µm and µin; another parameter is refused with the reason."""
    for name in ("wanted_parameter", "limit_parameter"):
        other = getattr(i, name)
        if other is not None and other != i.parameter:
            w.refuse(name, r.why_not(i.parameter, other), i.parameter)
    if i.given("limit", "least") and i.least > i.limit:
        w.refuse("least", "is above limit")
    w.door()
    R = i.value
    w.result("micrometre", R, um, f"{i.parameter} in micrometres")
    w.result("microinch", R, uin, f"{i.parameter} in microinches")
    w.step("In micrometres", r.number_of, R=R, R_0=unit_of(um).si)
    w.step("In microinches", r.number_of, R=R, R_0=unit_of(uin).si)
    rest: Any = {"uncertainty": w.uncertainty("value"), "otherwise": {"limit_parameter": ()}}
    if i.given("limit"):
        w.check(f"{i.parameter} of the face", R, "≤", i.limit, um, i.limit_source, **rest)
    if i.given("least"):
        w.check(f"{i.parameter} of the face", R, "≥", i.least, um, i.least_source, **rest)
    w.curve.update(profiles=r.model_profiles(i.parameter, R, waves=6, points=1200), parameter=i.parameter)


# ------------------------------------------------------------------------------ all of it together
SLIDER = 0.5e-3  # m; the picture's scales reach this far, further only for a larger cut


def run_chain(i: Inputs, w: Worksheet) -> None:
    """One cut, and everything that hangs on it."""
    check_areas(i, w)
    check_drive(i, w)
    w.door()
    drop = float(w.step("Net drop of the head", s.net_drop, c_H=i.head_skim, c_B=i.block_skim, g=i.gasket_gain))
    w.result("net_drop", drop, mm, "Net drop of the head")
    work_ratio(i, w)
    after, worst = work_gap(w, i.valve_clearance, drop, i.valve_angle, i.crown)
    w.result("valve_clearance_after", after, mm, "Valve clearance after, along the valve")
    work_retard(i, w, drop)
    spread = added(digits(i, "measured_height"), digits(i, "head_skim"))
    work_height(i, w, i.measured_height, i.head_skim, spread, few_heights(1))

    def gap(valve_clearance: float, valve_angle: float, crown: str | None, **cuts: float) -> float:
        return gap_after(valve_clearance, _drop(cuts), valve_angle, crown)

    names = ("valve_clearance", "valve_angle", "head_skim", *CUT_DEFAULTS)
    cut_more = gap_after(i.valve_clearance, drop + CUTS[1], i.valve_angle, i.crown)
    judge_gap(i, w, worst, gap, names, block_skim=[cut_more], gasket_gain=())
    say_which_branch(i, w)
    w.curve.update(worst_clearance=worst, **_far_ends(i, max(SLIDER, i.head_skim)))


def _drop(cuts: Mapping[str, float]) -> float:
    return float(s.net_drop(cuts["head_skim"], cuts["block_skim"], cuts["gasket_gain"]))


def _far_ends(i: Inputs, top: float) -> dict[str, Any]:
    """Where each gauge begins and ends while the head's cut goes from nothing to the top of the slider."""
    V_d = e.swept_volume(i.bore, i.stroke)
    V_c = e.clearance_volume(V_d, i.ratio)
    cut = np.array([0.0, top])
    drop = s.net_drop(cut, i.block_skim, i.gasket_gain)
    hole = i.gasket_bore or i.bore

    def ratio(area: float) -> Any:
        after = e.clearance_after_cuts(V_c, area, cut, i.bore, i.block_skim, hole, i.gasket_gain)
        # a scale that ends somewhere even for a cut through the chamber
        return e.compression_ratio(V_d, np.maximum(after, 0.2 * V_c))

    over_flat = i.crown == "flat" or (i.crown is None and i.valve_angle > 0)
    gap = s.clearance_over_flat_crown if over_flat else s.clearance_over_pocket
    return {
        "ratio": ratio(i.chamber_opening_area or 0.0),
        "ratio_over_bore": ratio(
            np.pi / 4 * i.bore**2
        ),  # the scale of every kind of head, so that a flat face shows flat
        "gap": gap(i.valve_clearance, drop, i.valve_angle),
        "height": s.height_after(i.measured_height, cut),
        "drop": drop,
    }


class Gauge:
    """A scale with where it stood, where it stands, and what is not allowed; what the slider moves has a gid."""

    def __init__(self, ax: Any, key: str, title: str) -> None:
        self.ax = ax
        ax.set(ylim=(0, 1), yticks=[])
        ax.spines[["left", "top", "right"]].set_visible(False)
        ax.tick_params(labelsize=8, length=3)
        ax.locator_params(axis="x", nbins=6)
        self.zone = ax.axvspan(0, 0, facecolor=PALER, edgecolor=SOFT, hatch="////", lw=0)
        (self.edge,) = ax.plot([], [], color=INK, lw=1.2)
        (self.track,) = ax.plot([], [], color=PALE, lw=1.2, gid=f"{key}-track")
        (self.bar,) = ax.plot([], [], color=ACCENT, lw=6, solid_capstyle="butt", gid=f"{key}-bar")
        (self.was,) = ax.plot([], [], "o", ms=6, mfc="white", mec=ACCENT, mew=1.3, clip_on=False, gid=f"{key}-was")
        (self.now,) = ax.plot([], [], "D", ms=7, mfc=ACCENT, mec="white", mew=1, clip_on=False, gid=f"{key}-now")
        ax.text(0, 1.12, title, transform=ax.transAxes, ha="left", va="bottom", fontsize=9, color=SOFT)
        self.least = ax.text(0, 0.98, "", ha="left", va="top", fontsize=7.5, color=INK)
        self.says = ax.text(
            1, 1.12, "", transform=ax.transAxes, ha="right", va="bottom", fontsize=10, gid=f"{key}-says"
        )

    def scale(self, *values: float) -> None:
        """Limits in whole steps around these values, changed only when they must."""
        low, high = min(values), max(values)
        step = round_up(max(high - low, 1e-6 * abs(high), 1e-9) / 5, (1, 2, 5, 10))
        limits = (step * np.floor(low / step + 1e-6), step * np.ceil(high / step - 1e-6))
        if limits[0] == limits[1]:
            limits = (limits[0], limits[1] + step)
        settle(self.ax, xlim=limits)

    def forbid(self, below: float | None, digits: int = 2) -> None:
        """Hatch what lies below a limit."""
        first = float(self.ax.get_xlim()[0])
        end = first if below is None else below
        words_at = end + 0.012 * (float(self.ax.get_xlim()[1]) - first)
        frame(self.zone, visible=(end > first,), x=(first,), width=(max(end - first, 0.0),))
        least = "" if below is None else f"smallest allowed {below:.{digits}f}"
        frame(self.least, text=(least,), position=((words_at, 0.98),))
        frame(self.edge, data=((end, end), (0.0, 1.0)), visible=(below is not None,))

    def show(self, was: float, now: float, says: str, far: tuple[float, float] | None = None) -> None:
        """Where it stood and stands."""
        self.bar.set_data([was, now], [0.5, 0.5])
        frame(self.was, data=((was,), (0.5,)))
        self.now.set_data([now], [0.5])
        frame(self.track, data=(tuple(map(float, far or (was, now))), (0.5, 0.5)))
        self.says.set_text(says)


LARGER = 600.0  # units of the sketch a metre of drop moves: 0.5 mm is drawn as 0.3, a bore as 2


class Sketch:
    """Head, gasket, block and piston cut open, and the timing drive beside them; the drop is drawn large."""

    def __init__(self, ax: Any) -> None:
        ax.set_aspect("equal")
        ax.axis("off")
        ax.set(xlim=(-2.25, 3.75), ylim=(-2.5, 3.0))
        block: dict[str, Any] = {"facecolor": PALER, "edgecolor": SOFT, "lw": 0.8}
        self.left = ax.fill([0], [0], **block)[0]
        self.right = ax.fill([0], [0], **block)[0]
        self.seal = [ax.fill([0], [0], facecolor=INK, lw=0)[0] for _ in "lr"]
        self.piston = ax.fill([0], [0], facecolor="white", edgecolor=INK, lw=1)[0]
        for y in (-0.42, -0.62, -0.82):
            ax.plot([-0.98, 0.98], [y, y], color=SOFT, lw=0.8)
        self.head = ax.fill([0], [0], facecolor=PALE, edgecolor=ACCENT, lw=1, gid="head")[0]
        self.ghost = [ax.plot([], [], color=SOFT, lw=0.9, ls=(0, (3, 2)))[0] for _ in range(2)]
        (self.stem,) = ax.plot([], [], color=INK, lw=2.2, solid_capstyle="butt", gid="stem")
        (self.disc,) = ax.plot([], [], color=INK, lw=3, solid_capstyle="butt", gid="disc")
        (self.gap,) = ax.plot([], [], color=WARM, lw=1.4, marker="_", ms=7, mew=1.4, gid="gap")
        (self.tall,) = ax.plot([], [], color=INK, lw=0.9, marker="_", ms=7, gid="tall")
        self.tall_word = ax.text(
            -2.0,
            0,
            "height",
            rotation=90,
            rotation_mode="anchor",
            ha="center",
            va="bottom",
            fontsize=8,
            gid="tall-word",
        )
        # the drive: tight run on the right, slack run with its tensioner on the left
        turn = np.linspace(0, 2 * np.pi, 73)
        self.round = np.array([np.cos(turn), np.sin(turn)]) * CAM_R
        (self.cam_was,) = ax.plot(DRIVE_X + self.round[0], CAM_Y + self.round[1], color=SOFT, lw=0.9, ls=(0, (3, 2)))
        (self.cam,) = ax.plot([], [], color=ACCENT, lw=1.8, gid="cam")
        ax.plot(DRIVE_X + self.round[0] / 2, CRANK_Y + self.round[1] / 2, color=ACCENT, lw=1.8)
        ax.plot([DRIVE_X], [CRANK_Y], "o", ms=3, color=ACCENT)
        ax.plot([DRIVE_X, DRIVE_X], [CAM_Y, CAM_Y + CAM_R], color=SOFT, lw=0.9, ls=(0, (3, 2)))
        (self.mark,) = ax.plot([], [], color=WARM, lw=2, gid="mark")
        (self.tight,) = ax.plot([], [], color=INK, lw=1.6, gid="tight")
        (self.slack,) = ax.plot([], [], color=INK, lw=1, ls=(0, (2, 1.5)), gid="slack")
        (self.tension,) = ax.plot([], [], "o", ms=9, mfc="white", mec=SOFT, mew=1.2, gid="tension")
        (self.carry,) = ax.plot([], [], color=SOFT, lw=0.7, ls=(0, (1, 2)), gid="carry")
        for x, y, word in ((0, -1.35, "piston"), (-1.38, -1.7, "block"), (DRIVE_X + 0.72, 0.1, "tight run")):
            ax.text(x, y, word, ha="center", va="center", fontsize=8, color=SOFT, rotation=90 if "run" in word else 0)
        self.head_word = ax.text(1.2, 0, "head", ha="center", va="center", fontsize=8, color=INK, gid="head-word")
        arc: dict[str, Any] = {"arrowstyle": "->", "connectionstyle": "arc3,rad=-0.45", "color": SOFT, "lw": 1}
        ax.annotate("", (DRIVE_X + 0.24, CRANK_Y + 0.36), (DRIVE_X - 0.24, CRANK_Y + 0.36), arrowprops=arc)
        ax.text(DRIVE_X, CRANK_Y - 0.42, "crankshaft", ha="center", va="center", fontsize=8, color=SOFT)
        ax.text(DRIVE_X, CAM_Y + CAM_R + 0.12, "camshaft", ha="center", va="bottom", fontsize=8, color=SOFT)
        ax.text(
            -2.2, 2.98, "movement drawn larger than life; dashed: before", ha="left", va="top", fontsize=7.5, color=SOFT
        )

    def move(self, result: Result) -> None:
        """Everything that is fixed to the head comes down by the net drop."""
        i = result.inputs
        block = -i.block_skim * LARGER
        face = block + 0.1 + i.gasket_gain * LARGER
        down = -result["net_drop"] * LARGER
        crown = -0.06
        flat = i.head_face == FLAT
        valve = -0.38
        share = (i.chamber_opening_area or 0.0) / (np.pi / 4 * i.bore**2)
        half, roof, middle = (0.34, 0.75, valve) if flat else (float(np.clip(np.sqrt(share), 0.3, 1.0)), 0.85, 0.0)
        top, wall = 2.1, 1.72
        slope = 0.0 if flat else 0.12

        def outline(face: float, down: float) -> tuple[list[float], list[float]]:
            xs = [-wall, -wall, wall, wall, middle + half, middle + half - slope, middle - half + slope, middle - half]
            ys = [face, top + down, top + down, face, face, roof + down, roof + down, face]
            return xs, ys

        xs, ys = outline(face, down)
        self.head.set_xy(np.column_stack([xs, ys]))
        gx, gy = outline(0.1, 0.0)
        for old, a, b in zip(self.ghost, (1, 5), (2, 6), strict=True):
            frame(old, data=((gx[a], gx[b]), (gy[a], gy[b])))
        for side, patch in ((-1, self.left), (1, self.right)):
            frame(patch, xy=(((side * 1.0, -2.2), (side * wall, -2.2), (side * wall, block), (side * 1.0, block)),))
        for side, patch in zip((-1, 1), self.seal, strict=True):
            frame(patch, xy=(((side * 1.04, block), (side * wall, block), (side * wall, face), (side * 1.04, face)),))
        bowl = [(0.05, crown), (0.12, -0.3), (0.62, -0.3), (0.69, crown)] if flat else []
        frame(self.piston, xy=(((-0.97, -1.9), (-0.97, crown), *bowl, (0.97, crown), (0.97, -1.9)),))
        # the valve, and what is left under it
        lean = 0.0 if flat else min(i.valve_angle, 0.6)
        across, along = np.array([np.cos(lean), -np.sin(lean)]), np.array([-np.sin(lean), np.cos(lean)])
        first = float(np.clip(i.valve_clearance * LARGER, 0.18, 0.62)) + 0.27 * np.sin(lean)
        foot = np.array([valve, crown + first + down])
        ends = np.array([foot - 0.27 * across, foot + 0.27 * across, foot, foot + along * 1.75])
        lowest = ends[:2][np.argmin(ends[:2, 1])] if lean else foot
        self.disc.set_data(ends[:2, 0], ends[:2, 1])
        self.stem.set_data(ends[2:, 0], ends[2:, 1])
        self.gap.set_data([lowest[0]] * 2, [crown, max(float(lowest[1]), crown)])
        self.tall.set_data([-1.95, -1.95], [face, top + down])
        self.tall_word.set_position((-2.0, (face + top + down) / 2))
        self.head_word.set_position((1.3, (face + top + down) / 2 + 0.2))
        # the drive
        y = CAM_Y + down
        self.cam.set_data(self.round[0] + DRIVE_X, self.round[1] + y)
        back = TWIST * result["cam_angle"]
        self.mark.set_data([DRIVE_X, DRIVE_X - CAM_R * np.sin(back)], [y, y + CAM_R * np.cos(back)])
        self.tight.set_data([DRIVE_X + CAM_R, DRIVE_X + CAM_R / 2], [y, CRANK_Y])
        s_ = np.linspace(0, 1, 25)
        bulge = 0.10 - 0.8 * down
        line = DRIVE_X - CAM_R + s_ * CAM_R / 2 + 4 * s_ * (1 - s_) * bulge
        self.slack.set_data(line, y + s_ * (CRANK_Y - y))
        self.tension.set_data([line[12] - 0.16], [(y + CRANK_Y) / 2])
        self.carry.set_data([wall, DRIVE_X], [y, y])


DRIVE_X, CAM_Y, CRANK_Y, CAM_R, TWIST = 2.75, 1.85, -1.75, 0.56, 20.0


def draw_chain(figure: Any) -> Callable[[Result], None]:
    """One cut drives ratio, valve clearance, timing and height: a sketch that moves, and four gauges."""
    grid = figure.add_gridspec(4, 2, width_ratios=(1.12, 1))
    sketch = Sketch(figure.add_subplot(grid[:, 0]))
    keys = (
        ("ratio", "Compression ratio"),
        ("gap", "Valve clearance, mm"),
        ("late", "Camshaft, crank degrees late"),
        ("height", "Head height, mm"),
    )
    gauges = {key: Gauge(figure.add_subplot(grid[k, 1]), key, title) for k, (key, title) in enumerate(keys)}
    cut = figure.suptitle("", x=0.01, ha="left", fontsize=12, color=INK)
    cut.set_gid("cut")
    for artist in figure.findobj(lambda a: a.get_gid() not in (None, "cut")):
        artist.set_in_layout(False)  # so that the axes stand still while their contents move

    def move(result: Result) -> None:
        i, c = result.inputs, result.curve
        sketch.move(result)
        cut.set_text(f"{_mm(i.head_skim)} off the head: it comes {_down(result)}")
        late = c["drop"] * DEG.from_si(_late_per_drop(result))
        shown: dict[str, tuple[float, float, str, Any, float | None]] = {
            "ratio": (result["ratio_before"], result["ratio_after"],
                      f"{result['ratio_before']:.2f} → {result['ratio_after']:.2f}", c["ratio"], None),
            "gap": (i.valve_clearance * 1e3, c["worst_clearance"] * 1e3,
                    f"{i.valve_clearance * 1e3:.2f} → {c['worst_clearance'] * 1e3:.2f}", c["gap"] * 1e3,
                    None if i.minimum_clearance is None else i.minimum_clearance * 1e3),
            "late": (0.0, DEG.from_si(result["crank_angle"]), _late(result),
                     late, None),
            "height": (i.measured_height * 1e3, result["height_after"] * 1e3,
                       f"{i.measured_height * 1e3:.2f} → {result['height_after'] * 1e3:.2f}", c["height"] * 1e3,
                       None if i.minimum_height is None else i.minimum_height * 1e3),
        }  # fmt: skip
        for key, (was, now, says, far, least) in shown.items():
            gauge = gauges[key]
            gauge.scale(
                was, *far, *([] if least is None else [least]), *(c["ratio_over_bore"] if key == "ratio" else [])
            )
            gauge.forbid(least)
            gauge.show(
                was, now, says + (", too low" if least is not None and rounding.below(now, least) else ""), tuple(far)
            )

    return move


def _late_per_drop(result: Result) -> float:
    """Crank retard a metre of drop."""
    i = result.inputs
    if i.given("sprocket_diameter"):
        radius = t.radius_of_diameter(i.sprocket_diameter)
    else:
        radius = (t.chain_pitch_radius if i.drive == "chain" else t.belt_pitch_radius)(i.pitch, float(i.teeth))
    return float(timing.crank_from_cam(t.cam_retard(t.slack_in_tight_run(1.0, i.run_angle), radius)))


def _late(result: Result) -> str:
    angle = float(DEG.from_si(result["crank_angle"]))
    return f"{abs(angle):.2f}°" + (" late" if angle > 0.005 else " early" if angle < -0.005 else "")


def _down(result: Result) -> str:
    drop = result["net_drop"]
    return f"{'up' if drop < 0 else 'down'} by {_mm(abs(drop))}"


def _mm(x: float) -> str:
    return f"{x * 1e3:.2f} mm".replace("-", "−")


def alt_chain(result: Result) -> str:
    """The picture in words."""
    i = result.inputs
    return (
        f"A cut of {_mm(i.head_skim)} brings the head {_down(result)}: compression ratio "
        f"{result['ratio_before']:.2f} to {result['ratio_after']:.2f}, valve clearance {_mm(i.valve_clearance)} to "
        f"{_mm(result.curve['worst_clearance'])}, camshaft {_late(result)} in crankshaft "
        f"degrees, height {_mm(i.measured_height)} to {_mm(result['height_after'])}."
    )


# ------------------------------------------------------------------------------ pictures of grade and roughness
def draw_grade(figure: Any) -> Callable[[Result], None]:
    """Each reading, each piston's mean and the governing projection against the grades of the table."""
    ax = figure.subplots()
    ax.spines[["top", "right"]].set_visible(False)
    ax.set_xlabel("piston")
    ax.set_ylabel("projection, mm")
    state: dict[str, Any] = {"made": None, "bands": []}
    (dots,) = ax.plot([], [], "o", ms=5, mfc="white", mec=SOFT, mew=1, gid="dots")
    (means,) = ax.plot([], [], "_", ms=22, color=ACCENT, mew=2.4, gid="means")
    (line,) = ax.plot([], [], color=WARM, lw=1.2, ls=(0, (5, 2)), gid="governs")
    says = ax.text(0, 0, "", ha="left", va="bottom", fontsize=8.5, color=WARM, gid="says")

    def build(names: list[str], grades: list[str]) -> None:
        """A band for each grade; made anew only when there are others, or other pistons."""
        for artist in itertools.chain.from_iterable(state["bands"]):
            artist.remove()
        right = len(names) + 0.5
        style: Any = {"edgecolor": PALE, "lw": 0.8, "zorder": 0}
        state["bands"] = [
            (
                ax.axhspan(
                    0, 1, facecolor=PALER if k % 2 else "white", hatch="" if k % 2 else "//", gid=f"band{k}", **style
                ),
                ax.text(right + 0.05, 0, f"grade {name[:24]}", va="center", fontsize=8.5, gid=f"grade{k}"),
            )
            for k, name in enumerate(grades)
        ]
        state["ends"] = (0.5 - 0.4 * len(names), right)  # before the first piston, room for the words at the line
        frame(ax, xlim=state["ends"], xticks=(range(1, len(names) + 1), [n[:12] for n in names]))

    def move(result: Result) -> None:
        c = result.curve
        grades = sorted(c["grades"], key=lambda g: g.middle)
        made = (c["names"], [g.name for g in grades])
        if state["made"] != made:
            build(*made)
            state["made"] = made
        projections = [1e3 * x for kept in c["read"] for x in kept]
        ends = [1e3 * x for g in grades for x in (g.low, g.high) if x is not None] + projections
        low, high = settle(ax, ylim=around(min(ends), max(ends), 10))
        for g, (band, word) in zip(grades, state["bands"], strict=True):
            a, b = low if g.low is None else 1e3 * g.low, high if g.high is None else 1e3 * g.high
            band.set_y(a)
            band.set_height(b - a)
            word.set_y((a + b) / 2)
        side = [
            (k + 0.12 * (n - (len(kept) - 1) / 2), x) for k, kept in enumerate(c["read"], 1) for n, x in enumerate(kept)
        ]
        dots.set_data([x for x, _ in side], [1e3 * y for _, y in side])
        means.set_data(range(1, len(c["means"]) + 1), [1e3 * x for x in c["means"]])
        means.set_visible(c["rule"] != "max")
        governing = 1e3 * c["governing"]
        line.set_data(state["ends"], [governing, governing])
        says.set_position((state["ends"][0] + 0.02 * len(c["names"]), governing))
        says.set_text(f"governs: {governing:.3f} mm")

    return move


def alt_grade(result: Result) -> str:
    """The picture in words."""
    return (
        f"Projections of {len(result.curve['names'])} pistons against the bands of the grades; "
        f"{show(result['governing'], MM)} governs: grade {result['grade']}."
    )


def draw_roughness(figure: Any) -> Callable[[Result], None]:
    """Three surfaces that share the typed parameter: the other parameters differ."""
    axes = figure.subplots(3, 1, sharex=True)
    lines, words_ = [], []
    for k, ax in enumerate(axes):
        ax.axis("off")
        ax.set(xlim=(0, 1), ylim=(-1.15, 1.15))
        ax.axhline(0, color=SOFT, lw=0.6, ls=(0, (4, 3)))
        (line,) = ax.plot([], [], color=ACCENT, lw=1.4, gid=f"profile{k}")
        lines.append(line)
        words_.append(ax.text(0, 1.2, "", fontsize=9, va="bottom", ha="left", color=INK, gid=f"says{k}"))

    def move(result: Result) -> None:
        profiles = result.curve["profiles"]
        top = max(float(np.abs(z).max()) for _, z in profiles.values())
        for line, says, (name, (x, z)) in zip(lines, words_, profiles.items(), strict=True):
            line.set_data(x, z / top)
            found = r.parameters_of(z)
            says.set_text(f"{name}: " + ", ".join(f"{k} {v * 1e6:.2f} µm" for k, v in found.items()))

    return move


def alt_roughness(result: Result) -> str:
    """The picture in words."""
    parameter = result.curve["parameter"]
    found = {name: r.parameters_of(z) for name, (_, z) in result.curve["profiles"].items()}
    other = "Ra" if parameter not in ("Ra", "Rq") else "Rz"
    told = "; ".join(f"{name} {other} {p[other] * 1e6:.2f} µm" for name, p in found.items())
    return f"Three surfaces of the same {parameter}, {show(result['micrometre'], unit_of(um))}: {told}."


# ------------------------------------------------------------------------------ declared
RATIO = number("ratio", "Compression ratio before", symbol="r_c", above=1.0, at_most=40.0, required=False,
               help="or the four parts below", example="18", group="Engine")  # fmt: skip
READING = quantity("reading", mm, "Reading", may_be_missing=True, example='"0.62 mm"')
GRADE_COLUMNS = (
    words("name", "Grade", example='"2"'),
    quantity("low", mm, "From", required=False, example='"0.60 mm"'),
    quantity("high", mm, "To", required=False, example='"0.70 mm"'),
)
PROJECTION_COLUMNS = (
    words("piston", "Piston", required=False, example='"1"'),
    listing("readings", READING, "Readings", example='"0.62 mm; 0.66 mm"', help="two, one on each side along the pin"),
)

ALLOWANCE = Working(
    name="skim_allowance",
    title="Is there enough head left for this cut?",
    question="may this head still be cut, and what have head and block lost together",
    phase="skim",
    fields=(
        quantity("new_height", mm, "Height when new", symbol="H_new", above=0.0, required=False, plausible=SIZES,
                 help="needed for what was taken off in all", example='"136.00 mm"', group="Head"),
        quantity("measured_height", mm, "Height now", symbol="H", above=0.0, required=False, example='"135.72 mm"',
                 help="one height alone cannot pass", group="Head", plausible=SIZES),
        listing("heights", quantity("height", mm, "Height", above=0.0, may_be_missing=True, example='"135.72 mm"',
                                    plausible=SIZES),
                "Heights at several points", required=False, csv=True,
                help="in place of height now: four or more, the lowest counts",
                example='"135.72 mm; 135.74 mm; 135.73 mm; 135.75 mm"', group="Head"),
        quantity("cut", mm, "Cut still needed", symbol="c_H", help=_CUT, example='"0.15 mm"', group="The cut",
                 plausible=CUTS),
        *(Field(**{**vars(f), "group": "Limits"}) for f in MINIMUM_HEIGHT),
        quantity("block_cut", mm, "All cuts off the block's deck", symbol="c_B", required=False, example='"0.20 mm"',
                 help="0 mm if the deck was never cut", group="The cut", plausible=CUTS),
        *limit("combined_limit", mm, "Most that head and block may lose together", at_least=0.0, example='"0.40 mm"',
               group="Limits"),
        *judging(mm),
    ),
    run=run_allowance,
    cautions=(GOVERNS, NOT_STRAIGHT, "A thicker gasket does not make good a head below its minimum height."),
    draw=draw_allowance,
    alt=alt_allowance,
    figure_size=(6.2, 1.2),
)  # fmt: skip

COMPRESSION = Working(
    name="compression_ratio",
    title="Compression ratio before and after the cut",
    question="skimmed: what is the ratio now, and which gasket would keep it",
    phase="skim",
    fields=(
        BORE,
        STROKE,
        RATIO,
        FACE,
        OPENING,
        GASKET_BORE,
        quantity("chamber_volume", cm3, "Chamber in the head", symbol="V_ch", at_least=0.0, required=False,
                 help="poured out, valves in", example='"32 cm3"', group="Clearance volume, part by part"),
        quantity("gasket_thickness", mm, "Gasket, compressed", symbol="h_g", above=0.0, required=False,
                 help="with deck clearance also for squish", example='"1.2 mm"',
                 group="Clearance volume, part by part"),
        quantity("deck_clearance", mm, "Crown below deck", symbol="h_D", required=False,
                 help="negative where the piston stands proud", example='"0.2 mm"',
                 group="Clearance volume, part by part"),
        quantity("piston_volume", cm3, "Dish in the piston", symbol="V_p", required=False,
                 help="negative for a dome, 0 cm3 for a flat crown", example='"5 cm3"',
                 group="Clearance volume, part by part"),
        HEAD_SKIM,
        BLOCK_SKIM,
        GASKET_GAIN,
        *limit("ratio_limit", one, "Highest ratio allowed", above=1.0, example="19.0", group="Limits"),
        *limit("minimum_squish", mm, "Smallest squish", at_least=0.0, example='"0.9 mm"', group="Limits"),
        *RULE_AND_LIMIT,
    ),
    run=run_ratio,
    cautions=(
        GOVERNS,
        "Geometric ratio: it says nothing of knock or smoke by itself.",
        "Chambers are cast: pour each one out where the ratio matters.",
        NOT_STRAIGHT,
    ),
)  # fmt: skip

GRADE = Working(
    name="gasket_grade",
    title="Which gasket grade do these pistons call for?",
    question="diesel piston projections: which grade of gasket",
    phase="skim",
    fields=(
        table("projections", PROJECTION_COLUMNS, "Projections, piston by piston", csv=True,
              help="a piston's readings in one cell, parted by a semicolon; below the deck negative",
              example='[["0.62 mm", "0.66 mm"], ["0.70 mm", "0.72 mm"]]', group="Pistons"),
        table("grades", GRADE_COLUMNS, "Grades of the source's table", csv=True,
              help="both ends as printed; an end that is not printed stays empty",
              example='[{"name": "1", "low": "0.55 mm", "high": "0.65 mm"}]', group="Grades"),
        choice("rule", "Rule", RULES, default="mean_then_max",
               help="mean then max: average each piston, then take the highest", group="Grades"),
        quantity("uncertainty", mm, "Uncertainty of the projection", symbol="u", above=0.0, required=False,
                 help="plus or minus; without it half the last digit typed", example='"0.01 mm"', group="Pistons"),
        words("grades_source", "Source of the grades", required=False,
              help="document, edition, page; without it nothing can pass",
              example='"workshop manual, 3rd edition, page 41"', group="Grades"),
    ),
    run=run_grade,
    cautions=(
        GOVERNS,
        "Measure both sides of each piston along its pin, at top dead centre, and take the rock out of it.",
        "One grade for the whole engine: the highest piston decides.",
    ),
    draw=draw_grade,
    alt=alt_grade,
    figure_size=(6.2, 3.0),
)  # fmt: skip

RETARD = Working(
    name="cam_retard",
    title="How far does the cut put the camshaft out?",
    question="cam out after so much off: how many degrees",
    phase="skim",
    fields=(
        HEAD_SKIM,
        BLOCK_SKIM,
        GASKET_GAIN,
        *DRIVE,
        *limit("retard_limit", deg, "Largest timing error allowed, crank degrees", at_least=0.0, example='"0.5 deg"',
               group="Limits"),
        *RULE_AND_LIMIT,
    ),
    run=run_retard,
    cautions=(
        GOVERNS,
        SPROCKETS,
        "A shorter drive always makes the camshaft late, whichever way the engine turns.",
        "For a camshaft in the head; with one in the block a cut shifts the rockers instead.",
        TURN,
    ),
)  # fmt: skip

CLEARANCE = Working(
    name="valve_clearance",
    title="What is left between valve and piston?",
    question="after the cut, how near does the valve come to the piston",
    phase="skim",
    fields=(
        quantity("clearance", mm, "Clearance before, along the valve", symbol="e", above=0.0, example='"1.60 mm"',
                 help="smallest over the whole turn, measured before the cut", group="Valve"),
        quantity("net_drop", mm, "Net drop of the head", symbol="Delta_h", example='"0.25 mm"',
                 help="head skim + block skim − gasket gain", group="The cut", plausible=CUTS),
        VALVE_ANGLE,
        CROWN,
        *MINIMUM_CLEARANCE,
        *RULE_AND_LIMIT,
    ),
    run=run_clearance,
    cautions=(
        GOVERNS,
        "A late camshaft brings the exhaust valve nearer still, on top of the drop: measure, do not only reckon.",
        "Valves that sit deeper after a regrind come less near; newly cut seats and cut heads are measured again.",
        TURN,
    ),
)  # fmt: skip

ROUGHNESS = Working(
    name="surface_roughness",
    title="Surface roughness in other units",
    question="is this roughness the same as that one",
    phase="skim",
    fields=(
        quantity("value", um, "Roughness as read", symbol="R", above=0.0, example='"30 uin"', group="Reading"),
        choice("parameter", "Parameter", tuple(r.PARAMETERS), example="Ra",
               help="it stands beside the number on the drawing", group="Reading"),
        choice("wanted_parameter", "Wanted as", tuple(r.PARAMETERS), required=False, example="Ra",
               help="only the same parameter", group="Reading"),
        *limit("limit", um, "Roughest allowed", above=0.0, example='"0.8 um"', group="Limits"),
        *limit("least", um, "Smoothest allowed", above=0.0, example='"0.4 um"', group="Limits"),
        choice("limit_parameter", "Parameter of the limits", tuple(r.PARAMETERS), required=False, example="Ra",
               help="as it stands beside the limit; without it nothing can pass", group="Limits"),
        *judging(um),
    ),
    run=run_roughness,
    cautions=(GOVERNS, "Too smooth can be as wrong as too rough: some gaskets need a grip; use the source's figures."),
    draw=draw_roughness,
    alt=alt_roughness,
    figure_size=(6.2, 2.6),
)  # fmt: skip

CHAIN = Working(
    name="skim_chain",
    title="Everything that one cut changes",
    question="this much off the head: ratio, valve clearance, timing and height at once",
    phase="skim",
    fields=(
        HEAD_SKIM,
        BLOCK_SKIM,
        GASKET_GAIN,
        BORE,
        STROKE,
        Field(**{**vars(RATIO), "required": True, "help": ""}),
        FACE,
        OPENING,
        GASKET_BORE,
        quantity("measured_height", mm, "Height of the head now", symbol="H", above=0.0, example='"135.72 mm"',
                 group="Head", plausible=SIZES),
        *(Field(**{**vars(f), "group": "Head"}) for f in MINIMUM_HEIGHT),
        quantity("valve_clearance", mm, "Valve clearance before, along the valve", symbol="e", above=0.0,
                 example='"1.60 mm"', group="Valve"),
        VALVE_ANGLE,
        CROWN,
        *MINIMUM_CLEARANCE,
        *DRIVE,
        *RULE_AND_LIMIT,
    ),
    run=run_chain,
    cautions=(GOVERNS, NOT_STRAIGHT, SPROCKETS, TURN),
    draw=draw_chain,
    alt=alt_chain,
    figure_size=(7.4, 4.1),
)  # fmt: skip

WORKINGS = [ALLOWANCE, COMPRESSION, GRADE, RETARD, CLEARANCE, ROUGHNESS, CHAIN]
