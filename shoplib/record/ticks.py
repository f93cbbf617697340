"""What a tick says, and whether its reading is what the stage asks for: judged whoever wrote it.

One press says "as the programme says": a statement by the person who ticked, not a reading.  Every reading is judged
by :func:`shoplib.topics.tightening.stage_reading.judge_reading`, when it is written and each time it is read.
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

AS_PROGRAMME = "as the programme says"
SOFT = "went soft"
OUT_OF_ORDER = "out of order"
_PEAK = "; peak "

# what was done about a deviation: code in the record → words
STOPPED, NEW_BOLT, TO_FINISH, WENT_ON = "stopped", "new_bolt", "to_finish", "went_on"
ACTIONS: Mapping[str, str] = {
    STOPPED: "stopped; the maker's rule to be looked up",
    NEW_BOLT: "new bolt fitted",
    TO_FINISH: "to be finished by the programme",
    WENT_ON: "went on in order after it",
}
# why a tick replaces another: code → words
PLAN_CORRECTED = "plan_corrected"
REPLACED: Mapping[str, str] = {NEW_BOLT: "new bolt fitted", PLAN_CORRECTED: "the plan was corrected"}

STATED = "stated"  # ticked by one press: nothing was read that could be judged
CODES = (STATED, "pass", "fail", "undecided", "no limit given")


class Judged(NamedTuple):
    """What a tick proves: ``stated``, ``pass``, ``fail``, ``undecided`` or ``no limit given``; and why, in words."""

    code: str
    words: str = ""


def spoken(value: str, peak: str = "") -> str:
    """The value of a tick, with the peak torque behind it where one was read."""
    return value.strip() + (_PEAK + peak.strip() if peak.strip() else "")


def heard(value: str) -> tuple[str, str]:
    """The two parts of a tick's value: what was read, and the peak torque or nothing."""
    found, _, peak = value.rpartition(_PEAK)
    return (found, peak) if found else (value, "")


def as_programme(stage: PlannedStage) -> str:
    """What is recorded by one press."""
    return f"{AS_PROGRAMME} ({stage.what})"


def action_of(tick: Entry) -> str:
    """The code of what was done about a deviation; of a line of 0.1.0 by its words; "" for anything else."""
    body = tick.line.body
    return str(body.get("action_code") or "") or code_of_action(str(body.get("action") or ""))


def code_of_action(said: str) -> str:
    """The code of an action in its own words; "" for anything else that was typed."""
    folded = said.strip().casefold()
    return next((code for code, words in ACTIONS.items() if words.casefold() == folded), "")


def judge(
    stage: Stage, what: str, value: str, source: str = "", instruments: Iterable[Mapping[str, Any]] = ()
) -> Judged:
    """A tick's value against its stage.

    :param what: the stage as people read it, as a press records it
    :param source: of the stage; a reading without it is never called a pass
    :param instruments: of the job's header, as far as they were used here
    """
    said, _ = heard(value.strip())
    if said == AS_PROGRAMME or said == f"{AS_PROGRAMME} ({what})":
        return Judged(STATED)
    if said.startswith(f"{AS_PROGRAMME} ("):
        named = said.removeprefix(f"{AS_PROGRAMME} (").removesuffix(")")
        return Judged("undecided", f"the tick says {named}, the stage says {what}")
    if said.startswith(SOFT):
        return Judged("fail", "the bolt went soft")
    if stage.value is None:
        return Judged(STATED)
    return _judged(stage, said, bool(source), _deviation_of(stage, instruments))


@functools.lru_cache(maxsize=4096)
def _judged(stage: Stage, reading: str, sourced: bool, deviation: str) -> Judged:
    from shoplib.topics.tightening.stage_reading import (
        judge_reading,  # with it come the workings, which a list does not need
    )

    try:
        verdict = judge_reading(stage, reading, deviation)
    except Unreadable as error:
        return Judged("undecided", f"“{reading[:60]}” cannot be judged: {error}")
    if verdict.outcome is Outcome.PASS:
        return Judged("pass") if sourced else Judged("no limit given", "the source of the stage is missing")
    if verdict.outcome is Outcome.FAIL:
        return Judged("fail", verdict.state)
    return Judged("undecided", f"{verdict.state}: type it in the plan, with its source")


def _deviation_of(stage: Stage, instruments: Iterable[Mapping[str, Any]]) -> str:
    """How far the instruments that read this stage may deviate, as typed in the header; the largest; "" for nothing.

    A deviation in percent is that of a torque tool; any other belongs to the stages of its unit.
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
    if not text or stage.value is None:
        return None
    try:
        if text.endswith("%"):
            return stage.value * float(text[:-1].replace(",", ".")) / 100 if torque else None
        return read(text, stage.unit).value
    except (Unreadable, ValueError):
        return None


def stage_of(programme: Entry, number: int) -> Stage | None:
    """A stage of a programme that is a note: its list ``stages``; None where it cannot be read as one."""
    stages = (programme.content or {}).get("stages")
    if not isinstance(stages, list | tuple) or not 0 < number <= len(stages):
        return None
    try:
        return read_stage(stages[number - 1])
    except Unreadable:
        return None
