"""The working ``two_turn_check``: are the marks still in line after two full turns."""

from __future__ import annotations

from shoplib.core.checks import Outcome
from shoplib.core.fields import choice, number, words, yes_no
from shoplib.core.former import Former
from shoplib.core.inputs import Inputs
from shoplib.core.working import Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.timing.timing_inputs import CAUTIONS

# ------------------------------------------------------------------------------ two turns by hand
USUAL = "common practice, no source"
TURNS = "common practice, no source; the maker's procedure may ask for more"


def run(inputs: TwoTurnCheckInputs, worksheet: Worksheet) -> None:
    """Was it turned far enough and freely, and are the marks in line again?"""
    worksheet.result("resistance", inputs.resistance, None, "Resistance felt")
    worksheet.judge(
        "Turned without resistance",
        "resistance" if inputs.resistance else "free",
        "free",
        None,
        None,
        USUAL,
        Outcome.FAIL if inputs.resistance else Outcome.PASS,
        "stop: do not force it; lock, take the drive off and look" if inputs.resistance else "",
    )
    turned = Outcome.PASS if inputs.turns >= 2 and inputs.direction == "running direction" else Outcome.UNDECIDED
    worksheet.judge(
        "Two full turns in the running direction",
        f"{inputs.turns:g}, {inputs.direction}",
        "two or more",
        None,
        None,
        TURNS,
        turned,
        "" if turned is Outcome.PASS else "two full turns by hand, in the running direction, are needed",
    )
    if inputs.marks == "not seen":
        outcome, remark = Outcome.UNDECIDED, "look again: “not seen” is not “in line”"
    elif inputs.marks == "off":
        outcome, remark = Outcome.FAIL, "set the timing again from the lock"
    elif inputs.marks_source:
        outcome, remark = Outcome.PASS, ""
    else:
        outcome, remark = Outcome.NO_LIMIT, "no source shows where the marks belong: fill in marks_source"
    worksheet.judge(
        "Marks or lock after turning", inputs.marks, "in line", None, None, inputs.marks_source, outcome, remark
    )


class TwoTurnCheckInputs(Inputs):
    """Inputs of ``two_turn_check``."""

    turns = number(
        "turns", "Full turns of the crankshaft, by hand", at_least=0.0, at_most=100.0, example="2", group="Turned"
    )
    direction = choice(
        "direction", "Direction", ("running direction", "against it"), group="Turned", example="running direction"
    )
    resistance = yes_no(
        "resistance", "Resistance felt", help="any, other than compression", example="no", group="Turned"
    )
    marks = choice("marks", "Marks or lock afterwards", ("in line", "off", "not seen"), example="in line", group="Seen")
    marks_source = words(
        "marks_source",
        "Source for the position of the marks",
        required=False,
        help="document, edition, page; without a source the result cannot be a pass",
        group="Seen",
    )


TWO_TURN_CHECK = Working(
    name="two_turn_check",
    title="Two turns by hand, and the marks again",
    question="are the marks still in line after two full turns",
    phase="re-time",
    inputs=TwoTurnCheckInputs,
    run=run,
    cautions=CAUTIONS,
    former=Former(sources={"Resistance = stop": (USUAL,)}),
)
