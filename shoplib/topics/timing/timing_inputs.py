"""Inputs and cautions that the workings of timing share."""

from __future__ import annotations

from typing import Any

from shoplib.core.fields import choice, quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import deg, mm, unit_of
from shoplib.core.working import GOVERNS
from shoplib.core.worksheet import Worksheet
from shoplib.physics import timing
from shoplib.topics.cautions import LOCKED, RESISTANCE

RUNNING = "Turn in the running direction only: turning back slackens the drive, and the marks then mislead."


CAUTIONS = (GOVERNS, RESISTANCE, LOCKED, RUNNING)


DEG = unit_of(deg)


def _both_shafts(worksheet: Worksheet, shaft: str, angle: float) -> tuple[float, float]:
    """(cam, crank) angle of an angle on one of the shafts; the step is shown."""
    if shaft == "cam":
        return angle, float(worksheet.step("Angle of the crankshaft", timing.crank_from_cam, phi=angle))
    return float(worksheet.step("Angle of the camshaft", timing.cam_from_crank, theta=angle)), angle


SHAFT = choice(
    "shaft",
    "Shaft",
    {"cam": "camshaft", "crank": "crankshaft"},
    default="cam",
    help="the one that the bar locks, or that carries the sprocket; the crankshaft turns twice as far as the camshaft",
)


# ------------------------------------------------------------------------------ crank and slider, shared
ROD = quantity(
    "rod_length",
    mm,
    "Connecting rod, centre to centre",
    symbol="l",
    above=0.0,
    example='"143 mm"',
    group="Crank and rod",
)


STROKE = quantity(
    "stroke",
    mm,
    "Stroke",
    symbol="H",
    above=0.0,
    example='"86 mm"',
    help="twice the crank radius",
    group="Crank and rod",
)


OFFSET = quantity(
    "pin_offset",
    mm,
    "Pin or cylinder offset",
    needs=("rod_length", "stroke"),
    symbol="e",
    required=False,
    example='"0.6 mm"',
    help="positive if the pin is offset to the side to which the crank swings after top dead centre",
    group="Crank and rod",
)


class CrankInputs(Inputs):
    """Crank and rod."""

    rod_length = ROD
    stroke = STROKE
    pin_offset = OFFSET


def _crank(inputs: CrankInputs, worksheet: Worksheet) -> dict[str, Any]:
    """Rod, crank radius and offset; refuses a crank that cannot turn."""
    l, r, e = inputs.rod_length, inputs.stroke / 2, inputs.pin_offset or 0.0
    if r + abs(e) >= l:
        worksheet.refuse("rod_length", "is too short for that stroke and offset: the crank could not turn")
    elif abs(e) > r:
        worksheet.refuse("pin_offset", "is larger than the crank radius")
    return {"l": l, "r": r, "e": e}
