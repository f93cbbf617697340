"""The working ``dead_centre``: where is true top dead centre."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from shoplib.core.fields import Field, quantity
from shoplib.core.units import deg, mm
from shoplib.core.working import Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import timing
from shoplib.topics.timing.timing_inputs import CAUTIONS, DEG, OFFSET, ROD, STROKE, CrankInputs, _crank


def _degrees(value: float) -> float:
    return float(DEG.from_si(value))


def _optional(f: Field, other: str) -> Field:
    return replace(f, required=False, needs=(other,))


# ------------------------------------------------------------------------------ dead centre
def run(inputs: DeadCentreInputs, worksheet: Worksheet) -> None:
    """Dead centre on the disc; with crank and rod also the effect of the offset and the depth of the stop."""
    before, after = inputs.stop_before, inputs.stop_after
    if not 0 < before + after < 2 * np.pi:
        worksheet.refuse(
            "stop_after",
            "and stop_before must be less than a full turn apart, with top dead centre between them",
        )
    crank: dict[str, Any] = {}
    if any(inputs.given(n) for n in ("rod_length", "stroke", "stop_depth", "pin_offset")):
        crank = _crank(inputs, worksheet)
        if inputs.given("stop_depth") and inputs.stop_depth >= inputs.stroke:
            worksheet.refuse("stop_depth", "is not within the stroke")
    worksheet.raise_refusals()
    correction = worksheet.step("Middle between the two stops", timing.stop_correction, theta_1=before, theta_2=after)
    gamma = worksheet.step("Half of the angle between the stops", timing.half_sum, theta_1=before, theta_2=after)
    offset_share = depth_found = stop_angle = top = None
    if crank:
        depth_found = worksheet.step("Depth of the stop, from the readings", timing.drop_between, gamma=gamma, **crank)
        top = worksheet.step("Crank angle with the piston highest", timing.top_angle, **crank)
        delta = worksheet.step(
            "Crank angle from the pin offset, at the stop", timing.pin_direction, x=depth_found, **crank
        )
        offset_share = worksheet.step(
            "Correction for the pin offset", timing.offset_correction, delta=delta, theta_0=top
        )
        correction = correction - offset_share
        if inputs.given("stop_depth"):
            q = worksheet.step("Crank centre to pin at the stop", timing.pin_distance, x=inputs.stop_depth, **crank)
            stop_angle = worksheet.step(
                "Half angle expected from this stop", timing.half_angle, q=q, l=crank["l"], r=crank["r"]
            )
    worksheet.result("correction", correction, deg, "Dead centre, degrees past the zero of the disc")
    worksheet.result("half_angle", gamma, deg, "When the disc is set correctly, both readings should be")
    if crank:
        worksheet.result("offset_share", offset_share, deg, "Correction for the pin offset", 3)
        worksheet.result(
            "top_angle", top, deg, "The piston is highest after the crank has passed the cylinder axis, by", 3
        )
        worksheet.result("stop_depth_found", depth_found, mm, "Depth of the stop, from the readings")
    if stop_angle is not None:
        worksheet.result("stop_angle", stop_angle, deg, "Each stop should be from dead centre by", 4, all_digits=True)
    worksheet.assume(
        f"dead centre means the piston at its highest; {worksheet.label('stop_before')} is read before the zero of "
        f"the disc, {worksheet.label('stop_after')} after it"
    )
    if before != after:
        way = "past" if correction > 0 else "before"
        worksheet.caution(
            f"Take the stop out, turn to {abs(_degrees(correction)):.2g}° {way} zero, and set the pointer to zero "
            f"there. "
            "Fit the stop again and take both readings again: they must be equal."
        )


class DeadCentreInputs(CrankInputs):
    """Inputs of ``dead_centre``."""

    stop_before = quantity(
        "stop_before",
        deg,
        "Reading at the stop before top dead centre",
        symbol="theta_1",
        above=-np.pi,
        below=2 * np.pi,
        example='"24.0 deg"',
        help="degrees before the disc's zero; on a disc numbered 0 to 360, type 24° for a reading of 336°",
        group="Readings",
    )
    stop_after = quantity(
        "stop_after",
        deg,
        "Reading at the stop after top dead centre",
        symbol="theta_2",
        above=-np.pi,
        below=2 * np.pi,
        example='"26.0 deg"',
        help="degrees after the disc's zero",
        group="Readings",
    )
    rod_length = _optional(ROD, "stroke")
    stroke = _optional(STROKE, "rod_length")
    stop_depth = quantity(
        "stop_depth",
        mm,
        "Depth of the stop below top dead centre",
        needs=("rod_length", "stroke"),
        symbol="x",
        required=False,
        at_least=1e-5,
        example='"5 mm"',
        help="to compare with the readings",
        group="Crank and rod",
    )
    pin_offset = OFFSET


DEAD_CENTRE = Working(
    name="dead_centre",
    title="Dead centre by a positive stop",
    question="where is true top dead centre",
    phase="re-time",
    inputs=DeadCentreInputs,
    run=run,
    cautions=(
        *CAUTIONS[:-1],
        "Turn in the running direction. For this test only, turn back gently to reach the stop from the other side: "
        "force damages the piston. Take the stop out before the engine is turned again.",
    ),
)
