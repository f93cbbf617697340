"""The working ``oil_service``: oil drained, filter renewed, oil filled, level read."""

from __future__ import annotations

import math

from shoplib.core.checks import Outcome
from shoplib.core.fields import choice, listing, quantity, words, yes_no
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import total
from shoplib.core.units import L
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.assembly.checklist import COMMON

APPEARANCES = {
    "clean": "",
    "dark": "",
    "milky": "milky oil suggests coolant in it; it does not prove where from",
    "metal in it": "metal in the oil: find the cause before the engine runs",
    "smells of fuel": "fuel in the oil",
}
LEVELS = ("below the lower mark", "between the marks", "above the upper mark", "not read")
MARKS = "the marks on the dipstick"


def run(inputs: OilServiceInputs, worksheet: Worksheet) -> None:
    """Add up what came out and went in; judge level, filter and grade."""
    drained = math.fsum(inputs.drained) if inputs.drained else None
    filled = math.fsum(inputs.filled)
    worksheet.result("filled", filled, L, "Filled")
    worksheet.result("drained", drained, L, "Drained")
    worksheet.result("difference", None if drained is None else total(filled, -drained), L, "Filled more than drained")
    if inputs.given("capacity"):
        worksheet.result("against_capacity", total(filled, -inputs.capacity), L, "Filled more than the stated capacity")
    outcome = {LEVELS[1]: Outcome.PASS, LEVELS[3]: Outcome.UNDECIDED}.get(inputs.level, Outcome.FAIL)
    worksheet.judge("Oil level", inputs.level, "between the marks", None, None, MARKS, outcome)
    worksheet.judge(
        "Oil filter",
        "renewed" if inputs.filter else "not renewed",
        "must be",
        "renewed",
        None,
        COMMON,
        Outcome.PASS if inputs.filter else Outcome.UNDECIDED,
        "" if inputs.filter else "old oil stays in it",
    )
    worksheet.judge(
        "Grade of the oil",
        inputs.grade,
        "as the instructions say",
        None,
        None,
        inputs.grade_source,
        Outcome.PASS if inputs.given("grade_source") else Outcome.NO_LIMIT,
        "" if inputs.given("grade_source") else "the source of the grade is missing",
    )
    if inputs.given("appearance"):
        told = APPEARANCES[inputs.appearance]
        worksheet.judge(
            "Drained oil",
            inputs.appearance,
            "clean or dark",
            None,
            None,
            COMMON,
            Outcome.UNDECIDED if told else Outcome.PASS,
            told,
        )
    else:
        worksheet.judge("Drained oil", "not looked at", "clean or dark", None, None, COMMON, Outcome.UNDECIDED)


class OilServiceInputs(Inputs):
    """Inputs of ``oil_service``."""

    drained = listing(
        "drained",
        quantity("drained", L, "Drained", at_least=0.0, example='"5.0 L"'),
        "Oil drained",
        required=False,
        help="each catch as measured; if empty, not measured",
        example='"5.0 L"',
        group="Drained",
    )
    appearance = choice(
        "appearance", "Drained oil, as seen", tuple(APPEARANCES), required=False, example="clean", group="Drained"
    )
    filter = yes_no("filter", "Filter renewed", example="yes", group="Filled")
    filled = listing(
        "filled",
        quantity("filled", L, "Filled", at_least=0.0, example='"5.4 L"'),
        "Oil filled",
        help="each can or jug as measured",
        example='"5.0 L; 0.4 L"',
        group="Filled",
    )
    grade = words("grade", "Grade of the oil", example='"15W-40"', group="Filled")
    grade_source = words(
        "grade_source",
        "Source of the grade of the oil",
        required=False,
        help="document, edition, page",
        example='"workshop manual, 3rd edition, page 12"',
        group="Filled",
    )
    capacity = quantity(
        "capacity", L, "Capacity with a new filter", required=False, above=0.0, example='"5.5 L"', group="Filled"
    )
    level = choice("level", "Level on the dipstick", LEVELS, example=LEVELS[1], group="Filled")
    plug = words("plug", "Drain plug", required=False, example='"new washer, 35 N·m, manual page 12"', group="Filled")


OIL_SERVICE = Working(
    name="oil_service",
    title="Oil: drain, filter, fill",
    question="how much oil came out and went in, and is the level right",
    phase="fill",
    inputs=OilServiceInputs,
    run=run,
    cautions=(
        GOVERNS,
        "Hot oil scalds. Let the engine cool, and wear gloves.",
        "Catch the oil. Take oil and filter to a collecting point.",
        "Read the level on level ground, some minutes after filling.",
    ),
)
