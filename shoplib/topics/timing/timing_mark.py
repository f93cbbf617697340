"""The working ``timing_mark``: the mark is off by half a tooth: how many degrees is that."""

from __future__ import annotations

import numpy as np

from shoplib.core.conditions import one_of
from shoplib.core.fields import Field, integer, number, quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import deg, mm
from shoplib.core.working import Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import timing
from shoplib.topics.timing.timing_inputs import CAUTIONS, SHAFT, _both_shafts


# ------------------------------------------------------------------------------ marks and teeth
def run(inputs: TimingMarkInputs, worksheet: Worksheet) -> None:
    """Angle of an arc on a rim, or of teeth of a sprocket; and what it is at the other shaft."""
    worksheet.raise_refusals()
    if inputs.given("arc"):
        angle = worksheet.step("Angle of the arc", timing.arc_angle, b=inputs.arc, D=inputs.diameter)
        if angle > 2 * np.pi:
            worksheet.refuse("arc", "is longer than the whole rim")
        worksheet.assume("the arc is measured along the rim, with a flexible rule, not straight across")
    else:
        if inputs.teeth > inputs.tooth_count:
            worksheet.refuse("teeth", "is more than the sprocket has", "0.5")
        angle = worksheet.step("Angle of the teeth", timing.tooth_angle, n=inputs.teeth, z=inputs.tooth_count)
    worksheet.raise_refusals()
    cam, crank = _both_shafts(worksheet, inputs.shaft, angle)
    other = "crank" if inputs.shaft == "cam" else "cam"
    worksheet.result("angle", angle, deg, f"Angle of the {inputs.shaft}shaft")
    worksheet.result("other_angle", crank if inputs.shaft == "cam" else cam, deg, f"Angle of the {other}shaft")


class TimingMarkInputs(Inputs):
    """Inputs of ``timing_mark``."""

    combinations = (one_of(("arc", "diameter"), ("teeth", "tooth_count")),)
    arc = quantity(
        "arc",
        mm,
        "Arc between the marks",
        symbol="b",
        required=False,
        above=0.0,
        example='"3.5 mm"',
        help="along the rim",
        group="Arc on a rim",
    )
    diameter = quantity(
        "diameter",
        mm,
        "Diameter of that rim",
        symbol="D",
        required=False,
        above=0.0,
        example='"140 mm"',
        group="Arc on a rim",
    )
    teeth = number(
        "teeth",
        "Teeth off",
        symbol="n",
        required=False,
        above=0.0,
        example="0.5",
        help="such as 0.5",
        group="Or teeth",
    )
    tooth_count = integer(
        "tooth_count",
        "Teeth on that sprocket",
        symbol="z",
        required=False,
        at_least=4,
        at_most=400,
        example="38",
        group="Or teeth",
    )
    shaft = Field(**{**vars(SHAFT), "group": "Sprocket on"})


TIMING_MARK = Working(
    name="timing_mark",
    title="Marks and teeth as degrees",
    question="the mark is off by half a tooth: how many degrees is that",
    phase="re-time",
    inputs=TimingMarkInputs,
    run=run,
    cautions=(
        *CAUTIONS,
        "If the belt or chain is one tooth off: lock, slacken and re-time. One tooth can bend every valve.",
    ),
)
