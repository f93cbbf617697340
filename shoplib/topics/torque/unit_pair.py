"""The working ``unit_pair``: the book prints one value in two units; do they agree."""

from __future__ import annotations

from shoplib.core import rounding
from shoplib.core.checks import Outcome
from shoplib.core.fields import words
from shoplib.core.inputs import Inputs
from shoplib.core.unit_names import same_dimension
from shoplib.core.units import one, pct, tidy
from shoplib.core.units import read_any as read_any_quantity
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import torque_units

CONFUSED = 0.2  # imperial and US gallon differ by a fifth: the closest two units that people confuse


def run(inputs: UnitPairInputs, worksheet: Worksheet) -> None:
    """Do two printed values mean the same, within the rounding of what is printed?"""
    (x_1, unit_1, per_1), (x_2, unit_2, per_2) = map(read_any_quantity, (inputs.first, inputs.second))
    if not same_dimension(unit_1, unit_2):
        worksheet.refuse("second", f"is not the same kind of quantity as {inputs.first}")
    elif x_1 == 0:
        worksheet.refuse("first", "is zero; two zeros cannot be compared")
    worksheet.raise_refusals()
    r = worksheet.step(Heading("Second value divided by first", digits=6), torque_units.pair_ratio, x_2=x_2, x_1=x_1)
    worksheet.result("ratio", r, one, "Second value divided by first", 6)
    worksheet.result(
        "deviation_percent", worksheet.step("Deviation", torque_units.pair_deviation, r=r), pct, "Deviation"
    )
    half_1, half_2 = rounding.half_digit(tidy(inputs.first)) * per_1, rounding.half_digit(tidy(inputs.second)) * per_2
    gap, allowed = abs(x_2 - x_1), half_1 + half_2
    agree = rounding.at_most(gap, allowed, max(abs(x_1), abs(x_2)))
    worksheet.result("agree", agree, None, "The two agree")
    outcome, remark = Outcome.PASS, ""
    if not agree:
        outcome, remark = Outcome.FAIL, "one of the two printed values is wrong; find out which before using either"
    elif allowed > CONFUSED * min(abs(x_1), abs(x_2)):
        outcome = Outcome.UNDECIDED
        remark = (
            "too few digits are printed: values that differ by a fifth would still agree, so a wrong unit could go "
            "unnoticed"
        )
    worksheet.judge(
        "The two printed values agree within their rounding",
        "yes" if agree else "no",
        "agree",
        None,
        None,
        "rounding of the printed digits",
        outcome,
        remark,
    )


class UnitPairInputs(Inputs):
    """Inputs of ``unit_pair``."""

    first = words("first", "First value as printed", example='"40 N*m"', grammar=read_any_quantity)
    second = words("second", "Second value as printed", example='"30 lbf*ft"', grammar=read_any_quantity)


UNIT_PAIR = Working(
    name="unit_pair",
    title="Two printed values: do they agree?",
    question="the book prints one value in two units; do they agree",
    phase="wrench",
    inputs=UnitPairInputs,
    run=run,
    cautions=(
        GOVERNS,
        "If the two printed values disagree, stop until you know which one is right: printed pairs are often wrong.",
    ),
)
