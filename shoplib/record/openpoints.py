"""What is still open in a job, worst first: one list for the screen, the sheet and the command line."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from shoplib.record.job import Entry, Job
from shoplib.units import Unreadable, read_date, show_number

# in the order in which they are told
STATUSES = (
    "changed outside", "stale", "fail", "undecided", "not measured", "not ticked", "no limit given", "overdue", "blank",
)  # fmt: skip


class OpenPoint(NamedTuple):
    """One point that keeps the job from being complete."""

    status: str  # one of STATUSES
    what: str  # in words
    where: str  # which line, or which part of the job
    uid: str  # of that line; empty where there is none


class Calibration(NamedTuple):
    """An instrument, and whether its calibration had run out when it was used."""

    id: str
    due: str  # ISO date; empty when nobody typed it
    used: str  # the latest ISO date on which it was used; the job's date when no entry names it
    overdue: bool
    words: str
    uid: str  # of the entry that used it


def open_points(job: Job) -> list[OpenPoint]:
    """Everything open: damaged or stale lines, checks that do not pass, bolts not ticked, overdue instruments, a blank
    root cause.
    """
    points = [
        OpenPoint("changed outside", "was changed outside this program; compare with the last sheet", d, "")
        for d in job.damaged
    ]
    for entry in job.standing:
        points += [OpenPoint("stale", reason, entry.name, entry.uid) for reason in entry.stale]
        points += _of_checks(entry)
        points += _of_bolts(job, entry)
    points += [OpenPoint("overdue", c.words, f"instrument {c.id}", c.uid) for c in calibrations(job) if c.overdue]
    if not job.closed:
        points.append(OpenPoint("blank", "the root cause is not written down", "closing the job", ""))
    return sorted(points, key=lambda p: STATUSES.index(p.status))


def _of_checks(entry: Entry) -> Iterator[OpenPoint]:
    for check in entry.result.get("checks") or ():
        status = str(check.get("outcome"))
        if status == "pass" or status not in STATUSES:
            continue
        if status == "undecided" and (check.get("found") or {}).get("value") is None:
            status = "not measured"
        yield OpenPoint(status, check_in_words(check), entry.name, entry.uid)


def _of_bolts(job: Job, plan: Entry) -> Iterator[OpenPoint]:
    """Bolts that the plan asks for and nobody ticked, stage by stage; and those to stop and look at."""
    from shoplib.record import tightening  # with it come the workings, which a list of jobs does not need

    if plan.form != tightening.FORM or plan.kind != "entry":
        return
    try:
        now = tightening.standing(job, plan.uid)
    except tightening.NoPlan as error:
        yield OpenPoint("undecided", str(error), plan.name, plan.uid)
        return
    for (number, bolt), why in now.looks.items():
        yield OpenPoint("undecided", f"Stage {number}, bolt {bolt}: stop and look: {why}", plan.name, plan.uid)
    for stage in now.stages:
        missing = [b for n, b in now.sequence if n == stage.number and (n, b) not in now.ticked]
        if missing:
            which = "no bolt" if len(missing) == len(stage.bolts) else f"not {', '.join(missing)}"
            yield OpenPoint("not ticked", f"Stage {stage.number}, {stage.what}: {which} ticked", plan.name, plan.uid)
    for tick in now.strangers:
        said_ = f"{tick.title} was ticked (line {tick.n}), but the plan no longer has it"
        yield OpenPoint("undecided", said_, plan.name, plan.uid)


def check_in_words(check: Mapping[str, Any]) -> str:
    """A kept check on one line: what was found, against which limit, from where."""
    found, limit = check.get("found") or {}, check.get("limit") or {}
    digits = DIGITS
    while digits < 12 and _said(found, digits) == _said(limit, digits) and found.get("value") != limit.get("value"):
        digits += 1  # two values that differ also look different
    said = f"{check.get('label')}: {_said(found, digits)}"
    if limit.get("value") is not None:
        said += f", wanted {check.get('comparison')} {_said(limit, digits)}"
    said += f" [{check['limit_source']}]" if check.get("limit_source") else ""
    return said + (f"; {check['remark']}" if check.get("remark") else "")


DIGITS = 6  # significant, of a kept value: a height to the hundredth of a millimetre
_POWERS = {"**2": "²", "**3": "³", "*": "·", "deg": "°", "um": "µm"}


def said(value: Mapping[str, Any]) -> str:
    """A kept value as people read it: ``{"value": 40.0, "unit": "N*m"}`` is 40 N·m."""
    return _said(value, DIGITS, missing="not known")


def _said(value: Mapping[str, Any], digits: int, missing: str = "not measured") -> str:
    found, unit = value.get("value"), str(value.get("unit") or "")
    if found is None:
        return missing if "value" in value else "nothing"
    if isinstance(found, bool):
        return "yes" if found else "no"
    if isinstance(found, list):
        return "; ".join(_said({"value": v, "unit": unit}, digits, missing) for v in found) or "none"
    if isinstance(found, Mapping):
        return ", ".join(f"{k} {_said(v, digits, missing) if isinstance(v, Mapping) else v}" for k, v in found.items())
    if not isinstance(found, int | float):
        return str(found)
    for ascii_, sign in _POWERS.items():
        unit = unit.replace(ascii_, sign)
    number = str(found) if isinstance(found, int) else _trimmed(show_number(found, digits))
    return f"{number}{'' if unit == '°' else ' '}{unit}".strip()


def _trimmed(number: str) -> str:
    """Without zeros that nobody measured: the record keeps values, not the digits in which they were shown."""
    head, times, power = number.partition("×")
    return (head.rstrip("0").rstrip(".") if "." in head else head) + times + power


def calibrations(job: Job) -> list[Calibration]:
    """Each instrument of the header against the latest date on which an entry used it."""
    found = []
    for instrument in job.header.get("instruments", ()):
        name, due = str(instrument.get("id", "")), str(instrument.get("calibration_due", ""))
        uses = [(_day(e), e) for e in job.standing if _names(name, [e.title, e.remark, e.inputs, e.content])]
        used, entry = max(uses, key=lambda u: u[0], default=(str(job.header.get("date", "")), None))
        overdue = bool(due) and used > due  # ISO dates sort as text
        what = f"{name}, {instrument['what']}" if instrument.get("what") else name
        on = f"used on {used}, {entry.name}" if entry else f"the job is dated {used}"
        if not due:
            words = f"{what}: no date is given on which its calibration is due"
        elif overdue:
            words = f"{what}: calibration was due on {due}, {on}: overdue"
        else:
            words = f"{what}: calibration due on {due}, {on}: in date"
        found.append(Calibration(name, due, used, overdue, words, entry.uid if entry else ""))
    return found


def _day(entry: Entry) -> str:
    """The date of an entry: as typed, else when it was kept."""
    try:
        return read_date(str(entry.when or "")[:10])
    except Unreadable:
        return str(entry.at)[:10]


def _names(instrument: str, value: Any) -> bool:
    """Does anything typed name this instrument, as a word of its own?"""
    word = re.compile(rf"(?<!\w){re.escape(instrument)}(?!\w)")
    return bool(instrument) and any(word.search(text) for text in _texts(value))


def _texts(value: Any) -> Iterable[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for member in value.values():
            yield from _texts(member)
    elif isinstance(value, list | tuple):
        for member in value:
            yield from _texts(member)
