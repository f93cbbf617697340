"""The working ``stage_reading``: is this reading of the wrench or the gauge within the limits of its stage."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import Annotated, Any

from shoplib.core.checks import UNSOURCED, Outcome, Rule
from shoplib.core.fields import words
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import compare, half_digit
from shoplib.core.tightening_program import Stage, read_stage
from shoplib.core.units import N_m, Unit, Unreadable, read, show, tidy, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics.wrench import permissible_deviation
from shoplib.topics.angle.programme import STAGES
from shoplib.topics.cautions import SHEAR

TORQUE = unit_of(N_m)


WITHIN, OVER, UNDER, UNDECIDED = "within", "over", "under", "undecided"


WITH_WRENCH = ("torque", "repeat", "check")


SETTING_DIGITS = 3  # a torque wrench is set no finer


WHOLE_DIGITS = ("N*m", "lbf*ft", "lbf*in", "degree")  # a stage in turns or kgf·m is taken as exact


ANGLE_DEVIATION = math.radians(5.0)  # no angle gauge in use has a larger error (common practice, no source)


PAST_THE_MARK = (
    "Never back a bolt off to its mark after you have turned it too far: follow the maker's rule, or fit a new bolt."
)


OVER_DO = (
    "Past the stage: do not back the bolt off to the mark. Follow the maker's rule, or fit a new bolt. Record which."
)


UNDER_DO = "Short of the stage: not done yet. If the bolt went soft, stop. Do not tighten it to match the others."


UNDECIDED_DO = (
    "The stage has no tolerance, so this reading cannot be judged. "
    "Look up the tolerance and type it with its source. Do not turn the bolt back."
)


ASK = "the stage has no tolerance: type it with the stage, such as {example}, and give its source"


ENDS_COUNT = "the ends of the range are allowed"


AS_PRINTED = "equal to the stage in all printed digits"


# ------------------------------------------------------------------------------ the rule
@dataclass(frozen=True)
class StageVerdict:
    """The result of a reading at a stage.   Quantities in SI."""

    side: str  # within, over, under or undecided
    outcome: Outcome  # pass, fail or undecided; the source of the stages is not looked at here
    reading: float
    low: float  # of the stage; without a tolerance: half its last printed digit either way
    high: float  # infinite for a minimum
    deviation: float  # of the instrument, as used; 0 for a stage with a range
    origin: str  # of the deviation, in words
    told: str  # "91° for +90°"

    @property
    def state(self) -> str:
        """In words: ``within the stage``, ``over: 100° for +85–95°``."""
        if self.side == WITHIN:
            return "within the stage"
        if self.side == UNDECIDED:
            return f"not decided: {self.told}, which has no tolerance"
        return f"{self.side}: {self.told}"


def judge_reading(stage: Stage, typed: str, deviation: str = "") -> StageVerdict:
    """Compare a reading, as typed, with its stage.   Raises Unreadable.

    A stage with a range or a minimum: its ends count, and the reading is compared as it was read.
    A stage without a tolerance: a reading equal to it in all printed digits passes.  One within the deviation of the
    instrument is undecided: the tolerance is missing.  One further away fails.
    ``deviation`` is that of the instrument, as typed ("4 %", "2 deg"); without it the largest one that is usual.
    """
    if stage.value is None:
        raise Unreadable("the stage gives no amount, so any reading would match")
    assert stage.low is not None
    assert stage.high is not None
    reading = read(tidy(typed).removeprefix("+"), stage.unit).value
    if reading < 0:
        raise Unreadable("is below zero; type it as read, without the sign")
    low, high, off, origin = stage.low, stage.high, 0.0, ""
    if stage.kind in ("check", "wait"):
        high = math.inf
    elif not stage.is_band:
        half = half_printed_digit(stage)
        low, high = low - half, high + half
        off, origin = _deviation(stage, reading, deviation)
    over, under = compare(reading, high) > 0, compare(reading, low) < 0
    beyond = compare(reading - off, high) > 0 or compare(reading + off, low) < 0
    side = OVER if over else UNDER if under else WITHIN
    outcome = Outcome.PASS if side == WITHIN else Outcome.FAIL
    if side != WITHIN and not beyond:
        side, outcome = UNDECIDED, Outcome.UNDECIDED
    told = f"{_exact(reading, stage.unit)} for {in_words(stage)}"
    return StageVerdict(side, outcome, reading, low, high, off, origin, told)


def half_printed_digit(stage: Stage) -> float:
    """Half of the last printed digit of a stage, in SI."""
    if stage.typed_unit not in WHOLE_DIGITS:
        return 0.0
    bare = re.split(r"\s+(?:group|order)\s", stage.as_entered, flags=re.IGNORECASE)[0]
    return half_digit(bare) * read(f"1 {stage.typed_unit}", stage.unit).value


def _deviation(stage: Stage, reading: float, typed: str) -> tuple[float, str]:
    """How far the instrument may be off at this reading, in SI, and where that comes from."""
    if typed.strip():
        text = tidy(typed).removeprefix("±").strip()
        if text.endswith("%"):
            return reading * read(text, _PERCENT).value, "as typed"
        return read(text, stage.unit).value, "as typed"
    if stage.unit.name == TORQUE.name:
        share = permissible_deviation(stage.value or 0.0)
        return (
            reading * share,
            f"±{100 * share:g} % of the reading, the most that ISO 6789-1:2017 permits (from memory, not checked)",
        )
    return ANGLE_DEVIATION, "±5° for an angle gauge (common practice, no source)"


_PERCENT = Unit("%", 0.01, "%")


# ------------------------------------------------------------------------------ a stage in words
def in_both(low: float, high: float, unit: Unit) -> str:
    """A setting in the unit typed, and in N·m where that is another."""
    told = shown(low, high, unit, SETTING_DIGITS)
    return told + ("" if unit is TORQUE else f" ({shown(low, high, TORQUE, SETTING_DIGITS)})")


def shown(low: float, high: float, unit: Unit, digits: int = 4) -> str:
    """One value, or both ends of a range."""
    if low == high:
        return show(low, unit, digits)
    return f"{show(low, unit, digits).removesuffix(' ' + unit.text)}–{show(high, unit, digits)}"


def in_words(stage: Stage) -> str:
    """The stage as people read it, in the unit typed."""
    if stage.kind not in WITH_WRENCH or stage.wrench_unit is TORQUE:
        return stage.shown
    assert stage.low is not None
    assert stage.high is not None
    return f"{stage.shown_in(stage.wrench_unit)} ({shown(stage.low, stage.high, TORQUE)})"


def _exact(value: float, unit: Unit) -> str:
    number = f"{float(unit.from_si(value)):.6g}"
    return number + unit.text if unit.text == "°" else f"{number} {unit.text}"


# ------------------------------------------------------------------------------ the working
def run(inputs: StageReadingInputs, worksheet: Worksheet) -> None:
    """Judge the reading, and print each end of the stage with which it was compared."""
    stage = read_stage(inputs.stage)
    if stage.value is None:
        worksheet.refuse("stage", "gives no amount, so any reading would match")
        worksheet.raise_refusals()
    verdict = None
    try:
        verdict = judge_reading(stage, inputs.reading)
        verdict = judge_reading(stage, inputs.reading, inputs.instrument_deviation or "")
    except Unreadable as error:
        example = {"deg": '"90 deg"', "min": '"10 min"'}.get(stage.unit.name, '"40 N*m"')
        if verdict is None:
            worksheet.refuse("reading", str(error), example)
        else:
            worksheet.refuse("instrument_deviation", str(error), '"2 deg"' if stage.unit.name == "deg" else '"4 %"')
    worksheet.raise_refusals()
    assert verdict is not None
    unit = _annotated(stage.unit)
    worksheet.result("reading", verdict.reading, unit, "Reading")
    worksheet.result("side", verdict.side, None, "Compared with the stage")
    worksheet.result("state", verdict.state, None, "Result")
    assert stage.high is not None
    assert stage.low is not None
    past = verdict.reading - stage.high if math.isfinite(verdict.high) else 0.0
    worksheet.result("by", max(past, stage.low - verdict.reading, 0.0) if verdict.side != WITHIN else 0.0, unit,
                     "Outside the stage by")  # fmt: skip
    _checks(inputs, worksheet, stage, verdict)
    do = {OVER: OVER_DO, UNDER: UNDER_DO, UNDECIDED: UNDECIDED_DO}.get(verdict.side, "Go on to the next bolt.")
    worksheet.result("text", do, None, "Advice")
    if verdict.origin and not inputs.instrument_deviation and verdict.side != WITHIN:
        worksheet.assume(f"deviation of the instrument: {verdict.origin}")


def _checks(inputs: StageReadingInputs, worksheet: Worksheet, stage: Stage, verdict: StageVerdict) -> None:
    """One check for each end; the one that the reading fails has the outcome of the rule."""
    ranged = stage.is_band or not math.isfinite(verdict.high)
    for label, sign, bound in (("Not below the stage", "≥", verdict.low), ("Not beyond the stage", "≤", verdict.high)):
        if not math.isfinite(bound):
            continue
        met = compare(verdict.reading, bound) != (-1 if sign == "≥" else 1)
        outcome = Outcome.PASS if met else verdict.outcome
        said = [ENDS_COUNT if ranged else AS_PRINTED if verdict.side == WITHIN else ""]
        if outcome is Outcome.UNDECIDED:
            said.append(ASK.format(example="90 deg ±5 deg" if stage.unit.name == "deg" else "40 N*m ±4 %"))
        if not inputs.stages_source and outcome is Outcome.PASS:
            outcome = Outcome.NO_LIMIT
            said.append(UNSOURCED)
        elif not inputs.stages_source and outcome is Outcome.FAIL:
            said.append("source missing")
        if outcome is Outcome.FAIL and not ranged:
            said.append(f"further from the stage than the deviation of the instrument allows, {verdict.origin}")
        worksheet.judge(label, verdict.reading, sign, bound, _annotated(stage.unit), inputs.stages_source, outcome,
                        "; ".join(filter(None, said)),
                        rule=Rule.SIMPLE if ranged else Rule.NONE if met else Rule.GUARD_BANDS)  # fmt: skip


def _annotated(unit: Unit) -> Any:
    """The annotation of a unit that is known only when the stage is read."""
    return Annotated[Any, unit]


class StageReadingInputs(Inputs):
    """Inputs of ``stage_reading``."""

    stage = words(
        "stage", "Stage", example='"+85–95 deg"', help="as in the programme, with its tolerance", group="Stage",
        grammar=read_stage,
    )  # fmt: skip
    reading = words("reading", "Reading", example='"93 deg"', help="as read, with its unit", group="Reading")
    stages_source = replace(
        STAGES[1], help="document, edition, page; without a source the result cannot be a pass", group="Stage"
    )
    instrument_deviation = words(
        "instrument_deviation",
        "Deviation of the instrument, ±",
        required=False,
        example='"4 %"',
        help="from its certificate; used only if the stage has no tolerance",
        group="Reading",
    )


STAGE_READING = Working(
    name="stage_reading",
    title="Compare a reading with its stage",
    question="is this reading of the wrench or the gauge within the limits of its stage",
    phase="tighten",
    inputs=StageReadingInputs,
    run=run,
    cautions=(GOVERNS, PAST_THE_MARK, SHEAR),
)
