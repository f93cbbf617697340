"""The working ``degree_disc``.

It answers: what does a printable degree disc for these tightening angles look like, and how accurate is it?
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from shoplib.core.checks import Value
from shoplib.core.fields import choice, listing, quantity, words
from shoplib.core.inputs import Inputs
from shoplib.core.tightening_program import Stage, read_stage, read_stages
from shoplib.core.units import deg, mm
from shoplib.core.working import Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import timing
from shoplib.topics.timing.timing_inputs import CAUTIONS, DEG

# ------------------------------------------------------------------------------ degree disc, angle dial
STANDING, TURNING = "stands still", "turns with the shaft"


CLOCKWISE, ANTICLOCKWISE = "clockwise", "anticlockwise"


PRINT_AT_FULL_SIZE = (
    "Print at 100 %, without fitting to the page. Before use, measure both check lines: they must be equal (100 mm)."
)


ROUND, BOTH_WAYS = "0 to 360", "both ways to 180"


@dataclass(frozen=True)
class Mark:
    """An angle stage on the disc; radians past the start mark."""

    n: int
    stage: Stage
    low: float
    at: float
    high: float

    @property
    def says(self) -> str:
        """The stage, and which turn it lies on if not the first."""
        turn = math.ceil(round(self.at / (2 * np.pi), 9))
        return self.stage.shown + (f", turn {turn}" if turn > 1 else "")


def _marks(stages: list[Stage]) -> list[Mark]:
    """Where each angle lies.  Angles add up from the last torque; a torque or loosening starts again at zero."""
    marks: list[Mark] = []
    at = 0.0
    for n, stage in enumerate(stages, 1):
        if stage.kind == "angle":
            assert stage.value is not None
            assert stage.low is not None
            assert stage.high is not None
            marks.append(Mark(n, stage, at + stage.low, at + stage.value, at + stage.high))
            at += stage.value
        elif stage.kind in ("torque", "repeat", "loosen"):
            at = 0.0
    return marks


def run(inputs: DegreeDiscInputs, worksheet: Worksheet) -> None:
    """Marks of the programme, the length of a degree, and the effect of eccentricity and of the printer."""
    if inputs.hole >= 0.7 * inputs.diameter:
        worksheet.refuse("hole", "is too large for the scale; at most 0.7 of the diameter")
    if len(inputs.start_mark) > 24:
        worksheet.refuse("start_mark", "is too long for the disc; at most 24 characters", "TDC 1")
    if inputs.off_centre >= inputs.diameter / 4:
        worksheet.refuse("off_centre", "is more than a quarter of the diameter")
    stages, wrong = read_stages(inputs.stages or [])
    for n, why in wrong:
        worksheet.refuse(f"stages[{n}]", why, '"+90 deg"')
    worksheet.raise_refusals()
    b_1 = worksheet.step("One degree along the rim", timing.rim_per_degree, D=inputs.diameter)
    worksheet.result("rim_per_degree", b_1, mm, "One degree along the rim", 4, all_digits=True)
    error = worksheet.step(
        "Largest error of a reading, off centre", timing.off_centre_error, s=inputs.off_centre, R=inputs.diameter / 2
    )
    worksheet.result(
        "off_centre_error", error, deg, f"Error when {inputs.off_centre * 1e3:.3g} mm off centre, up to", 3
    )
    worksheet.result("off_centre_pair", 2 * error, deg, "Error of the angle between two readings, up to", 3)
    if inputs.given("line_across"):
        stretch = worksheet.step(
            "Unequal scales of the printer", timing.unequal_scale_error, L_x=inputs.line_across, L_y=inputs.line_along
        )
        worksheet.result("scale_error", abs(stretch), deg, "Error from the printer, up to", 3)
        if inputs.line_across != inputs.line_along:
            worksheet.caution("Print again at 100 %, without fitting to the page: the printer stretches one direction.")
    grows = (
        inputs.direction if inputs.mounted == STANDING else {CLOCKWISE: ANTICLOCKWISE}.get(inputs.direction, CLOCKWISE)
    )
    worksheet.result("numbers_grow", grows, None, "Numbers increase, on the paper")
    marks = _marks(stages)
    rows = [
        {
            "stage": Value(m.n, None, "stage"),
            "typed": Value(m.stage.shown, None, "as typed"),
            "low": Value(m.low, DEG, "allowed from"),
            "at": Value(m.at, DEG, "mark at"),
            "high": Value(m.high, DEG, "to"),
        }
        for m in marks
    ]
    if rows:
        worksheet.result("marks", rows, None, "Stages on the disc")
        worksheet.assume(
            "each angle starts where the one before it ended; after a torque the pointer starts at zero again"
        )
    if any(stage.kind == "loosen" for stage in stages):
        worksheet.caution("Do not look for loosening stages on the disc: they turn the other way and are not marked.")
    worksheet.plot_data.update(marks=marks, grows=grows)


class DegreeDiscInputs(Inputs):
    """Inputs of ``degree_disc``."""

    diameter = quantity(
        "diameter",
        mm,
        "Diameter of the scale",
        symbol="D",
        default="160 mm",
        at_least=0.05,
        at_most=0.3,
        help="the paper sets the largest size: 180 mm on A4, 174 mm on Letter",
        group="Disc",
    )
    hole = quantity("hole", mm, "Centre hole", default="20 mm", at_least=0.0, help="for bolt or socket", group="Disc")
    start_mark = words(
        "start_mark", "Label at zero", default="0", help="for example TDC 1, or the lock position", group="Disc"
    )
    start_at = quantity(
        "start_at",
        deg,
        "Angle of zero, clockwise from the top",
        default="0 deg",
        at_least=-2 * np.pi,
        at_most=2 * np.pi,
        group="Disc",
    )
    direction = choice(
        "direction",
        "The shaft or wrench turns, as you look at it",
        (CLOCKWISE, ANTICLOCKWISE),
        default=CLOCKWISE,
        group="Use",
    )
    mounted = choice(
        "mounted",
        "The disc",
        (STANDING, TURNING),
        default=STANDING,
        help="fixed behind a turning pointer, or turning past a fixed pointer",
        group="Use",
    )
    numbering = choice("numbering", "Numbers", (ROUND, BOTH_WAYS), default=ROUND, group="Use")
    stages = listing(
        "stages",
        words("stage", "Stage", example='"+90 deg"', grammar=read_stage),
        "Stages of the programme",
        required=False,
        example='"40 N*m; +90 deg; +90 deg"',
        group="Programme",
    )
    off_centre = quantity(
        "off_centre",
        mm,
        "Possible eccentricity",
        symbol="s",
        default="1 mm",
        at_least=0.0,
        help="how far the disc may be off centre",
        group="Accuracy",
    )
    line_across = quantity(
        "line_across",
        mm,
        "Check line across, as measured",
        needs=("line_along",),
        symbol="L_x",
        required=False,
        above=0.0,
        example='"100.0 mm"',
        help="after printing; 100 mm if printed at full size",
        group="Accuracy",
    )
    line_along = quantity(
        "line_along",
        mm,
        "Check line along, as measured",
        needs=("line_across",),
        symbol="L_y",
        required=False,
        above=0.0,
        example='"99.5 mm"',
        group="Accuracy",
    )


DEGREE_DISC = Working(
    name="degree_disc",
    title="Degree disc and angle dial, to print",
    question="what does a printable degree disc for these tightening angles look like, and how accurate is it",
    phase="re-time",
    inputs=DegreeDiscInputs,
    run=run,
    cautions=(*CAUTIONS, PRINT_AT_FULL_SIZE),
)
