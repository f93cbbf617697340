"""The text of a tick, and the verdict on its reading against the stage.

One press records "as the programme says", shown as "to specification": a statement by the person who ticked,
not a reading.  Every reading is judged by
:func:`shoplib.topics.tightening.stage_reading.judge_reading`, when it is written and each time it is read.

Parameters that have one meaning in all functions:

- ``value``: as it is stored
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from shoplib.core.checks import Outcome
from shoplib.core.tightening_program import Stage, read_stage
from shoplib.core.units import N_m, Unreadable, read, unit_of

if TYPE_CHECKING:
    from shoplib.record.job import Entry
    from shoplib.topics.tightening.tightening_plan import PlannedStage

TIGHTENING_PLAN, LOOSENING_PLAN = "tightening_plan", "loosening_plan"
PLANS = (TIGHTENING_PLAN, LOOSENING_PLAN)  # the workings whose entries the guide follows

AS_PROGRAMME = "as the programme says"  # in the record; shown as TO_SPECIFICATION
TO_SPECIFICATION = "to specification"
SOFT = "went soft"
STUCK = "did not loosen"
OUT_OF_ORDER = "out of order"
_PEAK = "; peak "

# what was done about a deviation: code in the record → words
STOPPED, NEW_BOLT, LOOSENED, TO_FINISH, WENT_ON = "stopped", "new_bolt", "loosened", "to_finish", "went_on"
ACTIONS: Mapping[str, str] = {
    STOPPED: "stopped, to check the maker's instructions",
    NEW_BOLT: "new bolt fitted",
    LOOSENED: "loosened, to be tightened again",
    TO_FINISH: "to be completed to the programme",
    WENT_ON: "continued in the planned order",
}
_FORMER_ACTIONS: Mapping[str, str] = {  # words of earlier versions, in the record → code
    "stopped; the maker's rule to be looked up": STOPPED,
    "stopped; check the manufacturer's instructions": STOPPED,
    "stopped, to check the manufacturer's instructions": STOPPED,
    "to be finished by the programme": TO_FINISH,
    "went on in order after it": WENT_ON,
    "continued in the tightening order": WENT_ON,
}
# why a tick replaces another: code → words
PLAN_CORRECTED = "plan_corrected"
REPLACED: Mapping[str, str] = {
    NEW_BOLT: "new bolt fitted",
    LOOSENED: "tightened again after loosening",
    PLAN_CORRECTED: "the plan was corrected",
}
REOPENING = (NEW_BOLT, LOOSENED)  # what opens all stages of a bolt again

STATED = "stated"  # ticked by one press: nothing was read that could be judged
ASKED = ": type it in the plan, with its source"  # on the screen only
CODES = (STATED, "pass", "fail", "undecided", "no limit given")


class Judged(NamedTuple):
    """The verdict on a tick: ``stated``, ``pass``, ``fail``, ``undecided`` or ``no limit given``; and why, in words."""

    code: str
    words: str = ""


def shown(value: str) -> str:
    """A tick's value as people read it: what one press records, in the words of today."""
    return TO_SPECIFICATION + value.removeprefix(AS_PROGRAMME) if value.startswith(AS_PROGRAMME) else value


def shown_action(said: str) -> str:
    """What was done about a deviation, as people read it: a known action in the words of today.

    :param said: as it is stored
    """
    return ACTIONS.get(code_of_action(said), said)


def join_reading(value: str, peak: str = "") -> str:
    """The value of a tick, followed by the peak torque if one was read.

    :param value: what was reached, as it was typed
    :param peak: the peak torque, as it was typed; empty for none
    """
    return value.strip() + (_PEAK + peak.strip() if peak.strip() else "")


def split_reading(value: str) -> tuple[str, str]:
    """The two parts of a tick's value: the reading, and the peak torque or nothing."""
    found, _, peak = value.rpartition(_PEAK)
    return (found, peak) if found else (value, "")


def as_programme(stage: PlannedStage) -> str:
    """What one press records.

    :param stage: of the plan
    """
    return f"{AS_PROGRAMME} ({stage.what})"


def action_of(tick: Entry) -> str:
    """The code of what was done about a deviation, from the words in a line of 0.1.0; "" for anything else.

    :param tick: a tick of the job
    """
    body = tick.line.body
    return str(body.get("action_code") or "") or code_of_action(str(body.get("action") or ""))


def code_of_action(said: str) -> str:
    """The code of an action in its own words; "" for anything else that was typed.

    :param said: what was typed
    """
    folded = said.strip().casefold()
    known = {**{words: code for code, words in ACTIONS.items()}, **_FORMER_ACTIONS}
    return next((code for words, code in known.items() if words.casefold() == folded), "")


def judge(
    stage: Stage, what: str, value: str, source: str = "", instruments: Iterable[Mapping[str, Any]] = ()
) -> Judged:
    """The verdict on a tick's value against its stage.

    :param stage: of the plan
    :param what: the stage as people read it, as a press records it
    :param source: of the stage; without it a reading is never a pass
    :param instruments: of the job's header, as far as they were used here
    """
    said, _ = split_reading(value.strip())
    if said == AS_PROGRAMME or said == f"{AS_PROGRAMME} ({what})":
        return Judged(STATED)
    if said.startswith(f"{AS_PROGRAMME} ("):
        named = said.removeprefix(f"{AS_PROGRAMME} (").removesuffix(")")
        return Judged("undecided", f"the tick is for {named}, but the stage is {what}")
    if said.startswith(SOFT):
        return Judged("fail", "the bolt went soft")
    if said.startswith(STUCK):
        return Judged("fail", "the bolt did not loosen as it should")
    if stage.value is None:
        return Judged(STATED)
    return _judged(stage, said, bool(source), _deviation_of(stage, instruments))


@functools.lru_cache(maxsize=4096)
def _judged(stage: Stage, reading: str, sourced: bool, deviation: str) -> Judged:
    from shoplib.topics.tightening.stage_reading import (
        judge_reading,  # it imports the workings, which a list does not need
    )

    try:
        verdict = judge_reading(stage, reading, deviation)
    except Unreadable as error:
        return Judged("undecided", f"“{reading[:60]}” cannot be judged: {error}")
    if verdict.outcome is Outcome.PASS:
        return Judged("pass") if sourced else Judged("no limit given", "the source of the stage is missing")
    if verdict.outcome is Outcome.FAIL:
        return Judged("fail", verdict.state)
    return Judged("undecided", verdict.state + ASKED)


def _deviation_of(stage: Stage, instruments: Iterable[Mapping[str, Any]]) -> str:
    """The largest permitted error of the instruments that read this stage, as typed in the header; "" for none.

    A percentage belongs to a torque tool; any other value belongs to the stages in its unit.
    """
    largest, typed = 0.0, ""
    for instrument in instruments:
        text = str(instrument.get("deviation") or "").strip().lstrip("±").strip()
        size = _size(text, stage)
        if size is not None and size > largest:
            largest, typed = size, text
    return typed


def _size(text: str, stage: Stage) -> float | None:
    torque = stage.unit is unit_of(N_m)
    if stage.value is None:
        return None
    try:
        if text.endswith("%"):
            return stage.value * float(text[:-1].replace(",", ".")) / 100 if torque else None
        return read(text, stage.unit).value
    except (Unreadable, ValueError):
        return None


def stage_of(programme: Entry, number: int) -> Stage | None:
    """A stage of a programme saved as a note, from its list ``stages``; None if it cannot be read as a stage.

    :param programme: the note
    :param number: of the stage, from 1
    """
    stages = (programme.content or {}).get("stages")
    if not isinstance(stages, list | tuple) or not 0 < number <= len(stages):
        return None
    try:
        return read_stage(stages[number - 1])
    except Unreadable:
        return None
