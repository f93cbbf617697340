"""The instruments of a job: every use of each against its calibration, and those that the header does not list.

Parameters that have one meaning in all functions:

- ``job``: the job, read from its lines
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from shoplib.core.dates import read_date
from shoplib.core.units import Unreadable
from shoplib.record.job import Entry, Job, kept_with_job


class Use(NamedTuple):
    """An instrument in an entry."""

    day: str  # ISO date of the last reading there
    uid: str  # of the entry
    name: str  # of the entry
    overdue: bool


class Calibration(NamedTuple):
    """An instrument of the header, and whether its calibration had run out when it was used."""

    id: str
    what: str  # its number, and what it is
    due: str  # ISO date; empty when it was not typed
    uses: tuple[Use, ...]  # every entry that names it, in the order of the job
    overdue: bool  # at one or more uses; without a use, on the date of the job
    words: str


class Unlisted(NamedTuple):
    """An instrument that an entry names and the header does not list."""

    typed: str
    field: str
    entry: Entry


@kept_with_job
def calibrations(job: Job) -> tuple[Calibration, ...]:
    """Each instrument of the header, with its uses."""
    found = []
    written = [(e, written_in(e)) for e in job.current_entries]
    for instrument in job.header.get("instruments", ()):
        name, due = str(instrument.get("id", "")), str(instrument.get("calibration_due", ""))
        uses = tuple(
            Use(day, e.uid, e.name, bool(due) and day > due)  # ISO dates sort as text
            for e, text in written
            if named_in(text, name)
            for day in [_last_day(job, e)]
        )
        what = f"{name}, {instrument['what']}" if instrument.get("what") else name
        dated = str(job.header.get("date", ""))
        overdue = any(u.overdue for u in uses) if uses else bool(due) and dated > due
        found.append(Calibration(name, what, due, uses, overdue, _words(what, due, uses, overdue, dated)))
    return tuple(found)


def _words(what: str, due: str, uses: tuple[Use, ...], overdue: bool, dated: str) -> str:
    if not due:
        return f"{what}: calibration date not given"
    late = [u for u in uses if u.overdue]
    told = "; ".join(f"used on {u.day}, {u.name}" for u in (late or uses[-1:])) or f"the date of the job is {dated}"
    return (
        f"{what}: calibration was due on {due}, {told}: overdue"
        if overdue
        else (f"{what}: calibration due on {due}, {told}: in date")
    )


def _last_day(job: Job, entry: Entry) -> str:
    """The last day on which a reading was made; a plan is in use as long as bolts are ticked."""
    return max([_day(entry), *(_day(t) for t in job.ticks_of(entry.uid) if t.stands)])


def _day(entry: Entry) -> str:
    """The date of an entry: as typed, else when it was saved."""
    try:
        return read_date(str(entry.when or "")[:10])
    except Unreadable:
        return str(entry.at)[:10]


NAMING = {"measurement": ("instrument",), "tightening_plan": ("tools",)}  # working → inputs that name instruments


def unlisted(job: Job) -> Iterator[Unlisted]:
    """Instruments that entries name and the header does not list: their calibration is not known."""
    listed = [str(i.get("id", "")) for i in job.header.get("instruments", ())]
    for entry in job.current_entries:
        for field in NAMING.get(entry.form, ()):
            typed = (entry.inputs or {}).get(field)
            named = re.split(r"[;,]", typed) if isinstance(typed, str) and field == "tools" else [typed]
            for part in named:
                if isinstance(part, str) and part.strip() and not any(named_in(part, name) for name in listed):
                    yield Unlisted(part.strip(), field, entry)


READ_WITH = ("skim_allowance", "gasket_grade")  # workings of other phases whose readings need an instrument


def without(job: Job) -> list[Entry]:
    """Tests and measurements with readings for which no instrument is named: its calibration is not known."""
    used = {u.uid for c in calibrations(job) for u in c.uses} | {u.entry.uid for u in unlisted(job)}
    return [
        e
        for e in job.current_entries
        if e.kind == "entry"
        and (e.phase in ("prove", "measure") or e.form in READ_WITH)
        and not (e.form == "measurement" and not (e.inputs or {}).get("value"))
        and e.uid not in used
    ]


def written_in(entry: Entry) -> str:
    """All that was typed into an entry, as one text in which :func:`named_in` can look.

    :param entry: an entry or a note
    """
    return "\0".join(_texts([entry.title, entry.remark, entry.inputs, entry.content]))


def named_in(value: Any, instrument: str) -> bool:
    """Whether anything typed names this instrument, as a separate word.

    :param value: text, or a list or table of texts
    :param instrument: its name in the header
    """
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
