"""The working ``measurement``: is this reading within the limits that the source gives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from shoplib.core.checks import NO_LIMIT, Origin, Outcome, Uncertainty
from shoplib.core.conditions import one_of
from shoplib.core.fields import choice, judging, words
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import half_digit
from shoplib.core.typed_text import unit_typed
from shoplib.core.units import Unit, one, read_any, tidy
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.cautions import MISSING

NOT_MEASURED, NOT_APPLICABLE, UNREADABLE = "not measured", "not applicable", "unreadable"


STATES = ("good", "bad", "doubtful", NOT_MEASURED, NOT_APPLICABLE, UNREADABLE)


@dataclass(frozen=True)
class _Read:
    """A quantity that was typed, in SI: the value, its dimension, one of its unit, and the value without an offset."""

    value: float
    kind: str
    per: float
    size: float  # of a difference: 2 °C is 2 K


TYPED = ("value", "low", "high", "resolution", "expanded_uncertainty")


def _quantities(inputs: MeasurementInputs, worksheet: Worksheet) -> dict[str, _Read]:
    """What was typed with a unit; all must have the same dimension."""
    found: dict[str, _Read] = {}
    for name in TYPED:
        if inputs.given(name):
            typed = inputs[name]
            x, kind, per = read_any(typed)
            found[name] = _Read(x, kind, per, x - read_any(f"0 {unit_typed(typed)}")[0])
    if "value" in found:
        for name, other in found.items():
            if other.kind != found["value"].kind:
                worksheet.refuse(name, "is not the same kind of quantity as the value", '"0.05 mm"')
    elif len({x.kind for x in found.values()}) > 1:
        worksheet.refuse("high", "is not the same kind of quantity as the lowest allowed", '"0.05 mm"')
    for name in TYPED[3:]:
        if name in found and not found[name].size > 0:
            worksheet.refuse(name, "must be above zero: every instrument has some uncertainty", '"0.01 mm"')
    if {"low", "high"} <= found.keys() and found["low"].value > found["high"].value:
        worksheet.refuse("low", "is above the highest allowed")
    return found


def _uncertainty(inputs: MeasurementInputs, found: dict[str, _Read]) -> Uncertainty:
    """Of the reading: from the certificate or the resolution, whichever is more, else from the digits typed."""
    parts = []
    if "expanded_uncertainty" in found:
        parts.append(Uncertainty(found["expanded_uncertainty"].size * 2.0 / inputs.coverage_factor, Origin.CERTIFICATE))
    if "resolution" in found:
        parts.append(Uncertainty(found["resolution"].size / 2, Origin.RESOLUTION))
    digits = Uncertainty(half_digit(tidy(inputs.value)) * found["value"].per, Origin.DIGITS)
    return max(parts or [digits], key=lambda u: u.half_width)


def run(inputs: MeasurementInputs, worksheet: Worksheet) -> None:
    """Judge a value or a state; missing is never taken as zero."""
    if inputs.given("value") and inputs.given("state") and inputs.state not in ("good", "bad", "doubtful"):
        worksheet.refuse("state", f'is "{inputs.state}", but there is a value', "doubtful")
    found = _quantities(inputs, worksheet)
    worksheet.raise_refusals()
    label = f"{inputs.what}, {inputs.where}"
    worksheet.result("found", inputs.value if inputs.given("value") else inputs.state, None, "Found")
    missing = {NOT_MEASURED: "", UNREADABLE: "cannot be read: stop; it is not zero"}
    if inputs.state in missing:
        for sign, bound, source in (("≥", inputs.low, inputs.low_source), ("≤", inputs.high, inputs.high_source)):
            if bound is not None:
                worksheet.judge(
                    label, inputs.state, sign, bound, None, source, Outcome.UNDECIDED, missing[inputs.state]
                )
        if not (inputs.given("low") or inputs.given("high")):
            worksheet.judge(label, inputs.state, "measured", None, None, None, Outcome.UNDECIDED, missing[inputs.state])
        return
    if inputs.state == NOT_APPLICABLE:
        return
    if not inputs.given("value"):
        word = {"good": Outcome.PASS, "bad": Outcome.FAIL, "doubtful": Outcome.UNDECIDED}[inputs.state]
        source = inputs.state_source
        if word is Outcome.PASS and not source:
            word = Outcome.NO_LIMIT
        remark = (
            "" if source else "no source says what is good: fill in state_source" if word is Outcome.NO_LIMIT else ""
        )
        worksheet.judge(label, inputs.state, "state", None, None, source, word, remark)
        return
    _against_limits(inputs, worksheet, label, found)


def _against_limits(inputs: MeasurementInputs, worksheet: Worksheet, label: str, found: dict[str, _Read]) -> None:
    reading = found["value"]
    text = unit_typed(inputs.value)
    unit = Annotated[Any, Unit(text, reading.per, text)]
    doubt = "the reading is doubtful: measure again" if inputs.state == "doubtful" else ""
    for name, sign in (("low", "≥"), ("high", "≤")):
        if name in found:
            worksheet.check(
                label, reading.value, sign, found[name].value, unit, inputs[f"{name}_source"],
                uncertainty=_uncertainty(inputs, found), missing=doubt, as_typed=(inputs.value, inputs[name]),
            )  # fmt: skip
    if "low" not in found and "high" not in found:
        worksheet.judge(label, inputs.value, "≤", None, None, None, Outcome.NO_LIMIT, NO_LIMIT)
    if inputs.state == "bad":
        worksheet.judge(
            f"{label}: seen", "bad", "state", None, None, inputs.state_source, Outcome.FAIL, "judged bad on sight"
        )


class MeasurementInputs(Inputs):
    """Inputs of ``measurement``."""

    combinations = (one_of("value", "state", shared=("value", "state")),)
    what = words(
        "what",
        "What was measured",
        example='"cam-bore straightness"',
        help="such as cam-bore straightness, hardness, crack test",
        group="Reading",
    )
    where = words(
        "where",
        "Where",
        example='"bearing 2 to 4"',
        help="the place, such as bearing 2 or between bores 1 and 2",
        group="Reading",
    )
    value = words(
        "value",
        "Value as read",
        required=False,
        example='"0.04 mm"',
        help="as the instrument showed it, with its unit; if it has no unit, or one that shoplib does not know (HB), "
        "choose the State instead",
        grammar=read_any,
        group="Reading",
    )
    state = choice(
        "state",
        "State",
        STATES,
        required=False,
        example="not measured",
        help="when no value is typed, or the value is doubtful",
        group="Reading",
    )
    state_source = words(
        "state_source",
        "Source for good or bad",
        required=False,
        help="who judged it, by which limit and document",
        group="Reading",
    )
    low = words(
        "low",
        "Lowest allowed",
        required=False,
        example='"0.02 mm"',
        help="for a value, with its unit",
        group="Limits",
        grammar=read_any,
    )
    low_source = words(
        "low_source", "Source of the lowest", required=False, help="document, edition, page", group="Limits"
    )
    high = words(
        "high",
        "Highest allowed",
        required=False,
        example='"0.05 mm"',
        help="for a value, with its unit",
        group="Limits",
        grammar=read_any,
    )
    high_source = words(
        "high_source", "Source of the highest", required=False, help="document, edition, page", group="Limits"
    )
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = (
        words(f.name, f.label, required=False, help=f.help, example='"0.01 mm"', group=f.group, needs=f.needs,
              grammar=read_any)
        if f.name in TYPED
        else f
        for f in judging(one)
    )  # fmt: skip
    instrument = words(
        "instrument",
        "Instrument",
        required=False,
        help="its number, resolution, and when calibration is due",
        group="Reading",
    )


MEASUREMENT = Working(
    name="measurement",
    title="Measurement",
    question="is this reading within the limits that the source gives",
    phase="measure",
    inputs=MeasurementInputs,
    run=run,
    cautions=(GOVERNS, MISSING),
)
