"""The words of the tightening guide: reasons, actions, names of boxes, messages, and a unit for a bare number."""

from __future__ import annotations

import datetime
import re
from typing import Any

from shoplib.core.errors import BadInput
from shoplib.desk.widgets.escape_html import e
from shoplib.record.ticks import (
    LOOSENED,
    LOOSENING_PLAN,
    NEW_BOLT,
    OUT_OF_ORDER,
    SOFT,
    STOPPED,
    STUCK,
    TIGHTENING_PLAN,
    TO_FINISH,
    WENT_ON,
)
from shoplib.teaching.exercise import bound
from shoplib.topics.tightening.stage_reading import PAST_THE_MARK
from shoplib.topics.tightening.tightening_plan import PlannedStage

NO_JOB = "Choose or start a job in notebook 00 (Contents), or save the plan below to a job."
_NO_PLAN = "First save a {} plan to job {{}}: fill in the form below and press “Save to the job”."
NO_PLAN = {TIGHTENING_PLAN: _NO_PLAN.format("tightening"), LOOSENING_PLAN: _NO_PLAN.format("loosening")}
OVER, UNDER = "over", "under"
# reasons offered as buttons, for gloved hands; any other reason is typed
REASONS = {
    OVER: ("gauge or ratchet slipped", "turned past the mark"),
    UNDER: ("stopped too early", "no room for the wrench"),
    SOFT: ("turned without getting tighter", "felt rough"),
    STUCK: ("seized", "broke off", "its head is rounded"),
    OUT_OF_ORDER: ("had to be done first for access", "the bolt was skipped"),
}
OFFERED = {
    OVER: (STOPPED, NEW_BOLT, LOOSENED),
    UNDER: (STOPPED, TO_FINISH),
    SOFT: (STOPPED, NEW_BOLT),
    STUCK: (STOPPED, TO_FINISH),
    OUT_OF_ORDER: (WENT_ON, STOPPED),
}
BOXES = {  # name of a field in the record → label of its box
    "initials": "Your initials", "value": "Your reading", "reason": "Reason", "action": "What you did about it",
    "because": "Reason for the correction", "who": "Your initials", "when": "When it was done", "by": "Who decides",
}  # fmt: skip
_ADVICE = {
    OVER: PAST_THE_MARK,
    UNDER: "Not reached yet. If possible, finish it by the programme and type the new reading.",
    SOFT: "Stop here. Do not tighten it further. Find the cause; follow the maker's instructions.",
    STUCK: "Stop. Do not use more force. Find the cause; follow the maker's instructions.",
}
_ADVICE_AT = {  # of a stage of that kind
    "check": {UNDER: "Below the least torque. Stop. Do not tighten it up to that torque: the maker decides."},
    "loosen": {OVER: "It was turned back further than the plan says."},
    "wait": {UNDER: "Not long enough yet. Wait longer, then type the time."},
}
LONGEST = 12  # characters of a number that is offered with a unit
_BARE = re.compile(r"\d+(?:[.,]\d+)?")


def together(text: str) -> str:
    """The text as HTML, without line breaks inside a range or between a number and its unit."""
    return bound(e(text)).replace("–", "\u2060–\u2060")


def clock(at: str) -> str:
    """A time of the record in this machine's local time: ``14:02:31``."""
    try:
        return datetime.datetime.fromisoformat(at).astimezone().strftime("%H:%M:%S")
    except ValueError:
        return at


def name_of(stage: PlannedStage, bolt: str) -> str:
    """A step as people say it; a wait is for a group."""
    return f"stage {stage.number}, {bolt}" if stage.stage.kind == "wait" else f"bolt {bolt}, stage {stage.number}"


def told(error: Exception) -> str:
    """The errors, with the label of each box; only the first of a box, because later ones often follow from it."""
    if not isinstance(error, BadInput):
        return str(error)
    first = {problem.field: problem for problem in reversed(error.problems)}
    said = []
    for problem in reversed(first.values()):
        box = f"“{BOXES[problem.field]}”: " if problem.field in BOXES else ""
        said.append(f"{box}{problem.told}")
    return "; ".join(said)


def asks_for(deviation: str, kind: str) -> str:
    """What is asked before a deviation is recorded; ``kind`` of the stage."""
    advice = _ADVICE | _ADVICE_AT.get(kind, {})
    more = next((a for word, a in advice.items() if word in deviation.split(":")[0]), "")
    words = f"Not to specification: {deviation}. {more} Type the reason and what you did; both are recorded."
    return words.replace("  ", " ")


def felt_wrong(kind: str) -> str:
    """The deviation of a bolt that did not feel right at a stage of this kind."""
    return STUCK if kind == "loosen" else SOFT


def kind_of(asks: str) -> str:
    """Which reasons belong to what is asked."""
    return next((k for k in REASONS if f"{k}:" in asks.lower() or f"{k}." in asks.lower()), OVER)


def with_unit(typed: str, stage: PlannedStage) -> str:
    """A bare number in the unit of the stage, to be offered, never taken by itself; "" where nothing is offered."""
    if len(typed) > LONGEST or not _BARE.fullmatch(typed) or stage.stage.value is None:
        return ""
    entered = stage.stage.as_entered
    match stage.stage.kind:
        case "angle" | "loosen":
            return "" if "turn" in entered else f"{typed} deg"
        case "wait":
            return f"{typed} min" if "min" in entered else ""
    return f"{typed} {stage.stage.wrench_unit.name}"


def shown_with_unit(value: str) -> str:
    """What :func:`with_unit` offers, as a button says it: 90°, 40 N·m."""
    number, _, unit = value.partition(" ")
    return f"{number}°" if unit == "deg" else f"{number} {unit.replace('*', '·')}"


def initials_of(who: str, header: Any) -> str:
    """The initials from the job's header; otherwise the first letters of the name."""
    for person in header.get("people") or ():
        if person.get("name") == who and person.get("initials"):
            return str(person["initials"])
    return who if len(who) <= 4 else "".join(part[0] for part in who.split())[:4].upper()
