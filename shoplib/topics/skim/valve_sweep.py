"""The working ``valve_sweep``: how close does the open valve come to the piston, and at which crank angle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core.carried import Show, carried, only_value
from shoplib.core.checks import Uncertainty, added
from shoplib.core.conditions import one_of
from shoplib.core.fields import quantity, table
from shoplib.core.units import deg, mm, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import timing, valve_motion
from shoplib.topics.cautions import TWO_TURNS
from shoplib.topics.skim.skim_inputs import CUTS, RULE_AND_LIMIT
from shoplib.topics.skim.valve_to_piston_clearance import CROWN, MINIMUM_CLEARANCE, POCKET, VALVE_ANGLE
from shoplib.topics.timing.timing_inputs import OFFSET, ROD, STROKE, CrankInputs, _crank

MM, DEG = unit_of(mm), unit_of(deg)
TURN = 2 * np.pi
ROOM = {POCKET: valve_motion.room_over_pocket, "flat": valve_motion.room_over_flat_crown}
HEIGHTS = ("valve_recess", "gasket_thickness", "projection")
STEP = np.radians(0.5)  # of the crank angles looked at first; then 20 times finer about the smallest gap
SHIFTS = (-np.pi / 2, np.pi / 2)


class ValveSweepInputs(CrankInputs):
    """Inputs of ``valve_sweep``."""

    combinations = (
        one_of("lift_curve", ("duration", "peak_lift", "peak_angle")),
        one_of("closed_gap", HEIGHTS),
    )
    lift_curve = table(
        "lift_curve",
        (
            quantity("angle", deg, "Crank angle", at_least=-TURN, at_most=TURN, example='"-10 deg"',
                     help="from top dead centre of gas exchange; negative before it"),
            quantity("lift", mm, "Valve lift", at_least=0.0, example='"1.20 mm"', plausible=(0.0, 25e-3)),
        ),
        "Lift curve, measured", required=False, csv=True, group="Valve lift", example=(
            '[{"angle": "-240 deg", "lift": "0.00 mm"}, {"angle": "-110 deg", "lift": "9.00 mm"}, '
            '{"angle": "-20 deg", "lift": "2.10 mm"}, {"angle": "-10 deg", "lift": "1.42 mm"}, '
            '{"angle": "0 deg", "lift": "0.90 mm"}, {"angle": "10 deg", "lift": "0.52 mm"}, '
            '{"angle": "20 deg", "lift": "0.20 mm"}, {"angle": "40 deg", "lift": "0.00 mm"}]'
        ),
        help="along the valve, with the lash set; from closed to closed. A file has two columns, angle and lift",
    )  # fmt: skip
    angle_uncertainty = quantity(
        "angle_uncertainty", deg, "Uncertainty of the angles, ±", required=False, at_least=0.0, at_most=0.2,
        example='"0.5 deg"', group="Valve lift", help="of disc and pointer; without it, half a unit in the last "
                                                      "digit counts",
    )  # fmt: skip
    duration = quantity("duration", deg, "Duration, crank degrees", symbol="D_v", required=False, above=0.5,
                        at_most=TURN, example='"230 deg"', group="Valve lift",
                        help="instead of a curve; the lift is then only assumed, and decides nothing")  # fmt: skip
    peak_lift = quantity("peak_lift", mm, "Largest lift", symbol="L_m", required=False, above=0.0, example='"9.0 mm"',
                         group="Valve lift", plausible=(0.0, 25e-3))  # fmt: skip
    peak_angle = quantity("peak_angle", deg, "Crank angle of the largest lift", symbol="theta_c", required=False,
                          at_least=-TURN, at_most=TURN, example='"-108 deg"', group="Valve lift",
                          help="from top dead centre of gas exchange; the exhaust valve is before it")  # fmt: skip
    closed_gap = quantity(
        "closed_gap", mm, "Valve to piston at top dead centre, valve closed", symbol="e_0", required=False,
        example='"4.20 mm"', group="Gap before the cut", plausible=(-5e-3, 40e-3), help="along the valve",
    )  # fmt: skip
    valve_recess = quantity("valve_recess", mm, "Closed valve above the head face", symbol="r_v", required=False,
                            example='"1.10 mm"', plausible=(-5e-3, 40e-3), group="Gap before the cut",
                            help="negative if it stands out")  # fmt: skip
    gasket_thickness = quantity(
        "gasket_thickness", mm, "Gasket thickness, compressed", symbol="h_g", required=False, above=0.0,
        example='"1.45 mm"', plausible=(0.0, 5e-3), group="Gap before the cut",
    )  # fmt: skip
    projection = quantity("projection", mm, "Piston projection", symbol="p", required=False, example='"0.55 mm"',
                          plausible=(-40e-3, 5e-3), group="Gap before the cut",
                          help="above the deck at top dead centre; negative if below")  # fmt: skip
    pocket_depth = quantity("pocket_depth", mm, "Depth of the pocket", symbol="d_p", default="0 mm", at_least=0.0,
                            example='"2.0 mm"', plausible=(0.0, 20e-3), group="Gap before the cut",
                            help="in the crown, under the valve")  # fmt: skip
    net_drop = quantity(
        "net_drop", mm, "Net drop of the head", symbol="Delta_h", example='"0.25 mm"', group="The cut",
        help="head skim + block skim − extra thickness of the new gasket; 0 mm if nothing was cut", plausible=CUTS,
    )  # fmt: skip
    retard = quantity(
        "retard", deg, "Camshaft late by, crank degrees", symbol="delta", example='"0.4 deg"', at_least=-0.6,
        at_most=0.6, group="The cut",
        help="from “Camshaft timing after a cut”; 0° if it is timed again; negative if early",
    )  # fmt: skip
    valve_angle = VALVE_ANGLE
    crown = CROWN
    rod_length, stroke, pin_offset = ROD, STROKE, OFFSET
    minimum_clearance, minimum_clearance_source = MINIMUM_CLEARANCE
    decision_rule, at_limit = RULE_AND_LIMIT


# ------------------------------------------------------------------------------ the sweep
@dataclass(frozen=True)
class Curve:
    """Lift over the crank angle, SI; the angles rise."""

    angles: np.ndarray
    lifts: np.ndarray


@dataclass(frozen=True)
class Smallest:
    """The smallest gap and where it is, SI."""

    gap: float
    angle: float
    lift: float
    room: float


def sweep(curve: Curve, at: Mapping[str, float], crown: str, *, bulged: bool = False) -> Smallest:
    """The smallest gap over all crank angles at which the valve is open; with the most lift between the points."""
    angles = curve.angles + at["retard"]
    theta = np.unique(np.concatenate([np.arange(angles[0], angles[-1], STEP), angles]))
    found = _smallest_at(theta, curve, at, crown, bulged)
    close = np.linspace(found.angle - STEP, found.angle + STEP, 41)
    return min(found, _smallest_at(close, curve, at, crown, bulged), key=lambda s: s.gap)


def _smallest_at(theta: Any, curve: Curve, at: Mapping[str, float], crown: str, bulged: bool) -> Smallest:
    """The smallest gap at these crank angles."""
    angles = curve.angles + at["retard"]
    lift = valve_motion.lift_at(theta, angles, curve.lifts)
    if bulged:
        lift = lift + valve_motion.bulge_at(theta, angles, curve.lifts)
    room = ROOM[crown](at["closed_gap"], at["height"], _drop(theta, at), at["net_drop"], at["valve_angle"])
    gap = valve_motion.open_gap(room, lift)
    k = int(np.argmin(gap))
    return Smallest(float(gap[k]), float(theta[k]), float(lift[k]), float(room[k]))


def _drop(theta: Any, at: Mapping[str, float]) -> Any:
    """Piston below its highest position at crank angles from top dead centre."""
    crank = {"l": at["rod_length"], "r": at["stroke"] / 2, "e": at["pin_offset"]}
    return timing.piston_drop(theta + float(timing.top_angle(**crank)), **crank)


def worst_of(curve: Curve, at: Mapping[str, float], crown: str | None, *, bulged: bool = False) -> Smallest:
    """Over the crown that was typed, or over the worse of the two."""
    found = (sweep(curve, at, c, bulged=bulged) for c in ((crown,) if crown else ROOM))
    return min(found, key=lambda s: s.gap)


def values_of(inputs: ValveSweepInputs, show: Show) -> dict[str, float]:
    """All that a sweep needs, in SI."""
    x = {n: inputs[n] or 0.0 for n in ("closed_gap", "net_drop", "retard", "valve_angle", "rod_length", "stroke",
                                       "pin_offset")}  # fmt: skip
    x["height"] = 0.0
    if inputs.given(*HEIGHTS):
        x["height"] = float(show("Closed valve above the piston", valve_motion.closed_height)(
            r_v=inputs.valve_recess, h_g=inputs.gasket_thickness, d_p=inputs.pocket_depth, p=inputs.projection,
        ))  # fmt: skip
    return x


def _curve_of(inputs: ValveSweepInputs, worksheet: Worksheet) -> Curve | None:
    """The measured curve, or the one of the law."""
    if inputs.given("lift_curve"):
        rows = inputs.lift_curve
        angles, lifts = (np.array([row[name] for row in rows], dtype=float) for name in ("angle", "lift"))
        if len(rows) < 3:
            worksheet.refuse("lift_curve", "has too few points: at least 3 are needed")
            return None
        if not (np.diff(angles) > 0).all():
            worksheet.refuse("lift_curve", "must have its crank angles in rising order, each one once")
            return None
        if angles[-1] - angles[0] > TURN:
            worksheet.refuse("lift_curve", "is longer than one turn of the crankshaft: type one opening of the valve")
            return None
        return Curve(angles, lifts)
    half = inputs.duration / 2
    angles = np.linspace(inputs.peak_angle - half, inputs.peak_angle + half, 361)
    return Curve(angles, valve_motion.harmonic_lift(inputs.peak_lift, angles, inputs.peak_angle, inputs.duration))


def run(inputs: ValveSweepInputs, worksheet: Worksheet) -> None:
    """The smallest gap over the crank angle, before and after the cut."""
    crank = _crank(inputs, worksheet)
    curve = _curve_of(inputs, worksheet)
    worksheet.raise_refusals()
    assert curve is not None
    at = values_of(inputs, worksheet.show)
    crown = inputs.crown
    found = worst_of(curve, at, crown)
    before = worst_of(curve, {**at, "net_drop": 0.0, "retard": 0.0}, crown)
    over = next(c for c in ((crown,) if crown else ROOM) if sweep(curve, at, c).gap == found.gap)
    if crown is None:
        worksheet.assume(f"over the worse of a flat crown and a {POCKET}")
    top = float(timing.top_angle(**crank))
    x = worksheet.step("Piston below its highest position, there", timing.piston_drop, theta=found.angle + top, **crank)
    room = worksheet.step("Room along the valve, there", ROOM[over], e_0=at["closed_gap"], h_0=at["height"], x=x,
                          Delta_h=at["net_drop"], alpha=at["valve_angle"])  # fmt: skip
    worksheet.step("Smallest gap", valve_motion.open_gap, e_r=room, L=found.lift)
    worksheet.result("smallest_clearance", found.gap, mm, "Smallest valve-to-piston clearance", 3)
    worksheet.result("at_angle", found.angle, deg, "At the crank angle, from top dead centre", 3)
    worksheet.result("lift_there", found.lift, mm, "Valve lift there", 3)
    worksheet.result("clearance_before", before.gap, mm, "Smallest clearance before the cut", 3)
    worksheet.result("lost", before.gap - found.gap, mm, "Lost by the cut and the late camshaft", 3)
    worksheet.assume("angles count from top dead centre of gas exchange, in crank degrees; the lash is as measured")
    if inputs.given("lift_curve"):
        half = _half_width(inputs, worksheet, curve, crown)
        closed = curve.lifts[0] == 0 and curve.lifts[-1] == 0
        missing = "" if closed else "the lift curve does not begin and end with the valve closed"
        _judge(inputs, worksheet, found, half, missing, curve, at)
    else:
        worksheet.assume("the lift follows simple harmonic motion, not this camshaft: an illustration")
        _judge_nothing(inputs, worksheet)
    _keep_curves(worksheet, curve, at, over, found)


def _half_width(
    inputs: ValveSweepInputs, worksheet: Worksheet, curve: Curve, crown: str | None
) -> Uncertainty:  # fmt: skip
    """Of the smallest gap: from the sizes, the angles, the lifts, and what lies between the points of the curve."""
    rows = range(len(inputs.lift_curve))
    digits = max(inputs.half_digit("lift_curve", k, "angle") for k in rows)
    turned = inputs.angle_uncertainty if inputs.given("angle_uncertainty") else digits
    sizes = ("net_drop", "retard", "valve_angle", "rod_length", "stroke", "closed_gap", *HEIGHTS, "pocket_depth")
    names = [name for name in sizes if inputs.typed(name)]
    halves = {"retard": turned + inputs.half_digit("retard")}
    sized = carried(lambda at, show: worst_of(curve, values_of(at, show), crown).gap, inputs, *names, halves=halves)
    lifted = max(inputs.half_digit("lift_curve", k, "lift") for k in rows)
    at = values_of(inputs, only_value)
    between = worst_of(curve, at, crown).gap - worst_of(curve, at, crown, bulged=True).gap
    return added(sized, Uncertainty(lifted), Uncertainty(between))


CHECKS = ("Valve clear of the piston", "Valve-to-piston clearance")


def _judge(
    inputs: ValveSweepInputs, worksheet: Worksheet, found: Smallest, half: Uncertainty, missing: str, curve: Curve,
    at: Mapping[str, float],
) -> None:  # fmt: skip
    """Never into the piston, and above the minimum that was typed."""
    rest: Any = {
        "uncertainty": half, "missing": missing,
        "otherwise": {"crown": [sweep(curve, at, c).gap for c in ROOM], "pocket_depth": ()}
        if inputs.given(*HEIGHTS) else {"crown": [sweep(curve, at, c).gap for c in ROOM]},
    }  # fmt: skip
    source = "geometry: below zero they touch"
    worksheet.check(CHECKS[0], found.gap, ">", 0.0, mm, source, geometry=True, **rest)
    if inputs.given("minimum_clearance"):
        worksheet.check(
            CHECKS[1], found.gap, "≥", inputs.minimum_clearance, mm, inputs.minimum_clearance_source, **rest
        )


def _judge_nothing(inputs: ValveSweepInputs, worksheet: Worksheet) -> None:
    """A law is no evidence of this camshaft."""
    why = "the lift follows a law: measure the lift curve"
    worksheet.check(CHECKS[0], None, ">", 0.0, mm, "geometry: below zero they touch", remark=why, geometry=True)
    if inputs.given("minimum_clearance"):
        worksheet.check(CHECKS[1], None, "≥", inputs.minimum_clearance, mm, inputs.minimum_clearance_source, remark=why)


def _keep_curves(
    worksheet: Worksheet, curve: Curve, at: Mapping[str, float], crown: str, found: Smallest
) -> None:  # fmt: skip
    """The lift and the room over the crank angle, for the picture."""
    centre = round(found.angle / TURN) * TURN
    theta = np.radians(np.linspace(-90, 90, 181)) + centre
    drop = _drop(theta, at)
    args = (at["closed_gap"], at["height"], drop)
    worksheet.plot_data.update(
        at=found, centre=centre, theta=theta,
        lift=valve_motion.lift_at(theta, curve.angles + at["retard"], curve.lifts),
        lift_before=valve_motion.lift_at(theta, curve.angles, curve.lifts),
        room=ROOM[crown](*args, at["net_drop"], at["valve_angle"]),
        room_before=ROOM[crown](*args, 0.0, at["valve_angle"]),
    )  # fmt: skip


VALVE_SWEEP = Working(
    name="valve_sweep",
    title="Valve-to-piston clearance over the crank angle",
    question="how close does the open valve come to the piston, and at which crank angle",
    phase="skim",
    inputs=ValveSweepInputs,
    run=run,
    cautions=(
        GOVERNS,
        "Measure the smallest clearance on the engine too, with clay or soft springs: parts bend and stretch at speed.",
        "Check every kind of valve: intake and exhaust come close at different crank angles.",
        TWO_TURNS,
    ),
)
