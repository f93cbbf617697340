"""The working ``gas_in_coolant``: does a test suggest combustion gas in the coolant."""

from __future__ import annotations

from shoplib.core.checks import Outcome
from shoplib.core.fields import choice, quantity, words, yes_no
from shoplib.core.inputs import Inputs
from shoplib.core.units import minute
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.cautions import FAN, HOT
from shoplib.topics.diagnosis.cylinders import SUGGESTS

FOUND, NOT_FOUND, UNCLEAR = "gas found", "no gas found", "unclear"
STAYED, REACTED, NOT_DONE = "no reaction", "reacted", "not done"
MISSED = "a leak that opens only hot or under load can be missed"


def run(inputs: GasInCoolantInputs, worksheet: Worksheet) -> None:
    """What the test suggests.  A test that reacts to clean air shows nothing; one on a cold engine can miss a leak."""
    worksheet.result("suggests", _suggests(inputs), None, "The test suggests")
    worksheet.result("minutes", inputs.minutes, minute, "Time tested")
    outcome, remark = _judged(inputs)
    worksheet.judge(
        "Combustion gas in the coolant", inputs.found, "must be", NOT_FOUND, None, inputs.source, outcome, remark
    )


def _suggests(inputs: GasInCoolantInputs) -> str:
    if inputs.clean_air == REACTED or inputs.found == UNCLEAR:
        return "nothing"
    return "combustion gas in the coolant" if inputs.found == FOUND else "no combustion gas in the coolant"


def _judged(inputs: GasInCoolantInputs) -> tuple[Outcome, str]:
    if inputs.clean_air == REACTED:
        return Outcome.UNDECIDED, "the tester also reacts to clean air: renew the fluid or repair the tester"
    if inputs.found == UNCLEAR:
        return Outcome.UNDECIDED, "repeat the test"
    if inputs.found == FOUND:
        return Outcome.FAIL, "it suggests a leak from a cylinder; it does not show which"
    missing = [word for word, known in (
        ("the clean-air test was not done", inputs.clean_air == STAYED),
        ("the engine was not warm, with the thermostat open", inputs.warm),
        ("the time tested was not noted", inputs.minutes is not None),
    ) if not known]  # fmt: skip
    if missing:
        return Outcome.UNDECIDED, f"{'; '.join(missing)}; {MISSED}"
    return (
        (Outcome.PASS, MISSED) if inputs.source else (Outcome.NO_LIMIT, "the instructions of the tester are not named")
    )


class GasInCoolantInputs(Inputs):
    """Inputs of ``gas_in_coolant``."""

    method = choice(
        "method", "Method", ("test fluid", "gas analyser", "bubbles seen"), example="test fluid", group="Test"
    )
    warm = yes_no("warm", "Engine warm, thermostat open", example="yes", group="Test")
    minutes = quantity("minutes", minute, "Time tested", required=False, above=0.0, example='"5 min"', group="Test")
    conditions = words(
        "conditions", "Conditions", required=False, example='"fast idle, level lowered by 40 mm"', group="Test"
    )
    clean_air = choice(
        "clean_air", "Tester in clean air first", (STAYED, REACTED, NOT_DONE), example=STAYED, group="Result"
    )
    found = choice("found", "Result", (FOUND, NOT_FOUND, UNCLEAR), example=NOT_FOUND, group="Result")
    reading = words("reading", "As read", required=False, example='"blue to yellow after 2 min"', group="Result")
    source = words(
        "source",
        "Instructions of the tester",
        required=False,
        group="Result",
        help="document, edition, page",
        example='"instructions of the tester, page 2"',
    )


GAS_IN_COOLANT = Working(
    name="gas_in_coolant",
    title="Gas in the coolant",
    question="does a test suggest combustion gas in the coolant",
    phase="prove",
    inputs=GasInCoolantInputs,
    run=run,
    cautions=(
        GOVERNS,
        SUGGESTS,
        HOT,
        "Follow the tester's instructions, and keep coolant out of it: coolant spoils the test fluid.",
        FAN,
    ),
)
