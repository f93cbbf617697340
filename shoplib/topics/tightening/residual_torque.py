"""The working ``residual_torque``: what torque did the bolts show afterwards, and how was it read."""

from __future__ import annotations

import statistics

from shoplib.core.fields import choice, date, quantity, table, words
from shoplib.core.inputs import Inputs
from shoplib.core.units import N_m, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import residual

TIGHTENING, LOOSENING, MARKED = "first movement, tightening", "first movement, loosening", "loosened, back to a mark"


class ResidualTorqueInputs(Inputs):
    """Inputs of ``residual_torque``."""

    method = choice("method", "How it was read", (TIGHTENING, LOOSENING, MARKED), example=TIGHTENING, group="Readings",
                    help="the three differ: compare readings of one kind only")  # fmt: skip
    readings = table(
        "readings",
        (
            words("bolt", "Bolt", example="1"),
            quantity("torque", N_m, "Torque at the first movement", above=0.0, example='"52 N*m"'),
        ),
        "Residual torque of each bolt", csv=True, group="Readings",
        example='[{"bolt": "1", "torque": "52 N*m"}, {"bolt": "2", "torque": "47 N*m"}]',
    )  # fmt: skip
    assembly_torque = quantity("assembly_torque", N_m, "Torque at assembly", symbol="M_A", above=0.0, required=False,
                               example='"60 N*m"', group="Assembly", help="last torque stage of that bolt")  # fmt: skip
    after = words("after", "Read after", required=False, example='"48 h, engine not yet run"', group="Assembly")
    read_on = date("read_on", "Read on", required=False, group="Assembly")


def run(inputs: ResidualTorqueInputs, worksheet: Worksheet) -> None:
    """Lowest, highest and median, and the median as a part of the torque at assembly.  Nothing is judged."""
    torques = [row["torque"] for row in inputs.readings]
    low, high, middle = min(torques), max(torques), statistics.median(torques)
    worksheet.result("median", middle, N_m, "Median", 3)
    worksheet.result("lowest", low, N_m, "Lowest", 3)
    worksheet.result("lowest_bolt", inputs.readings[torques.index(low)]["bolt"], None, "Bolt with the lowest")
    worksheet.result("highest", high, N_m, "Highest", 3)
    ratio = worksheet.step("Highest over lowest", residual.torque_ratio, M_max=high, M_min=low)
    worksheet.result("ratio", ratio, one, "Highest over lowest", 3)
    if inputs.given("assembly_torque"):
        part = worksheet.step("Median over assembly", residual.residual_part, M_R=middle, M_A=inputs.assembly_torque)
        worksheet.result("part_of_assembly", part, one, "Median as a part of the torque at assembly", 3)
    worksheet.result("method", inputs.method, None, "How it was read")
    if inputs.method == LOOSENING:
        worksheet.caution("Expect a lower torque when loosening: the slope of the thread helps the wrench.")


RESIDUAL_TORQUE = Working(
    name="residual_torque",
    title="Residual torque",
    question="what torque did the bolts show afterwards, and how was it read",
    phase="tighten",
    inputs=ResidualTorqueInputs,
    run=run,
    cautions=(
        GOVERNS,
        "Do not read preload from a residual torque: friction at rest differs from friction while turning.",
        "Never check bolts that were tightened by angle or past yield in this way unless the manual says so.",
        "Stop at the first movement. Turning further tightens the bolt and falsifies the record.",
    ),
)
