"""The working ``piston_position``: how far down is the piston at a crank angle, or the other way round."""

from __future__ import annotations

import numpy as np

from shoplib.core import rounding
from shoplib.core.conditions import one_of
from shoplib.core.fields import quantity
from shoplib.core.units import deg, mm
from shoplib.core.working import Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import timing
from shoplib.topics.timing.timing_inputs import CAUTIONS, CrankInputs, _crank


# ------------------------------------------------------------------------------ position of the piston
def run(inputs: PistonPositionInputs, worksheet: Worksheet) -> None:
    """From crank angle to piston depth, or the other way."""
    crank = _crank(inputs, worksheet)
    worksheet.raise_refusals()
    reach, back, e = crank["l"] + crank["r"], crank["l"] - crank["r"], crank["e"]
    full = float(np.sqrt(reach**2 - e**2) - np.sqrt(back**2 - e**2))
    if inputs.given("drop") and rounding.below(full, inputs.drop):
        worksheet.refuse("drop", f"is more than the piston travels, {full * 1e3:.4g} mm")
    worksheet.raise_refusals()
    top = worksheet.step("Crank angle with the piston highest", timing.top_angle, **crank)
    if inputs.given("angle"):
        drop = worksheet.step(
            "Piston below its highest position", timing.piston_drop, theta=inputs.angle + top, **crank
        )
    else:
        drop = inputs.drop
    ends = {True: 0.0, False: np.pi}
    if rounding.below(0.0, drop, full) and rounding.below(drop, full):
        q = worksheet.step("Crank centre to pin", timing.pin_distance, x=drop, **crank)
        gamma = worksheet.step(
            "Half of the angle between the two positions", timing.half_angle, q=q, l=crank["l"], r=crank["r"]
        )
    else:  # at an end of the stroke both positions are one, and rounding must not push the cosine past 1
        gamma = ends[drop < full / 2]
    delta = worksheet.step("Direction of the pin", timing.pin_direction, x=drop, **crank)
    worksheet.result("drop", drop, mm, "Piston below its highest position", 3, all_digits=True)
    worksheet.result("angle_before", gamma - delta + top, deg, "Crank angle before dead centre", 3)
    worksheet.result("angle_after", gamma + delta - top, deg, "Crank angle after dead centre", 3)
    worksheet.assume("angles count from dead centre, the piston at its highest")
    theta = np.radians(np.linspace(-180, 180, 361))
    worksheet.plot_data.update(theta=theta, drop=timing.piston_drop(theta + top, **crank))


class PistonPositionInputs(CrankInputs):
    """Inputs of ``piston_position``."""

    combinations = (one_of("angle", "drop"),)
    angle = quantity(
        "angle",
        deg,
        "Crank angle after dead centre",
        symbol="theta",
        required=False,
        at_least=-np.pi,
        at_most=np.pi,
        example='"20 deg"',
        group="Known",
    )
    drop = quantity(
        "drop",
        mm,
        "Piston below its highest position",
        symbol="x",
        required=False,
        at_least=1e-5,
        example='"5 mm"',
        help="as a dial gauge shows it; type this or the crank angle",
        group="Known",
    )


PISTON_POSITION = Working(
    name="piston_position",
    title="Piston depth and crank angle",
    question="how far down is the piston at this crank angle, or at which angle is it that far down",
    phase="re-time",
    inputs=PistonPositionInputs,
    run=run,
    cautions=CAUTIONS,
)
