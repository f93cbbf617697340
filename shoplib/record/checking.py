"""Reads lines that may be damaged, and checks the whole record for damage.

Nothing here trusts the contents of the database: a damaged line is shown as far as it can be read, and is named.

Parameters that have one meaning in all functions:

- ``row``: a row of the table of lines
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import sqlalchemy as sa

from shoplib.record import drafts, ledger, schema
from shoplib.record.errors import Damaged
from shoplib.record.job import START, Job, Line, chained
from shoplib.record.sanitise import fold

_OUTSIDE = "was altered outside this program"
SHOWN = ("number", "engine", "customer_ref", "complaint", "done_by", "date")  # of the header, in the list of jobs


# ------------------------------------------------------------------------------ reading what may be damaged
def body_of(row: Any, number: str) -> dict[str, Any]:
    """The body of a line that the next one builds on.  Raises Damaged, naming the job and the line.

    :param number: of the job
    """
    found = _parsed(row.body)
    if not isinstance(found, dict):
        raise _unreadable(row, number)
    return found


def fields_of(row: Any, number: str) -> dict[str, Any]:
    """The fields in a line of the header.  Raises Damaged.

    :param number: of the job
    """
    found = body_of(row, number).get("fields")
    if not isinstance(found, dict):
        raise _unreadable(row, number)
    return found


def _unreadable(row: Any, number: str) -> Damaged:
    return Damaged(f"job {number}, line {row.n}: cannot be read; it {_OUTSIDE}. Nothing was saved.")


def line_of(row: Any, uids: Mapping[int, str]) -> Line:
    """A stored line, as far as it can be read.

    :param uids: number of a line to its uid
    """
    about = None if row.about is None else uids.get(row.about, "?")
    body = _parsed(row.body)
    n = row.n if isinstance(row.n, int) else 0
    return Line(
        n=n,
        uid=_text(row.uid),
        kind=_text(row.kind),
        about=about,
        form=_text(row.form),
        who=_text(row.who),
        at=_text(row.at),
        program=_text(row.program),
        body=body if isinstance(body, dict) else {},
        digest=_text(row.digest),
    )


class Read(NamedTuple):
    """A job as it was read before: its stored lines, and what they say."""

    rows: Sequence[Any]
    job: Job


def job_of(job_uid: str, rows: Sequence[Any], before: Read | None = None) -> Job:
    """The job of these stored lines, in order.

    ``before``: the same job read earlier.  Each stored line is compared with it, and only what differs is parsed and
    hashed.  A damaged job is always read in full.

    :param job_uid: uid of the job
    :param rows: of the table of lines, in order
    :param before: what was read of the job earlier; None: nothing
    """
    same = 0 if before is None or before.job.damaged else _same(before.rows, rows)
    if before is not None and same == len(rows) == len(before.rows) > 0:
        return before.job
    lines = list(before.job.lines[:same]) if before is not None else []
    uids = {r.id: _text(r.uid) for r in rows}
    lines += [line_of(r, uids) for r in rows[same:]]
    return chained(job_uid, lines, [_text(r.body) for r in rows], sound=same)


class JobReader:
    """Reads jobs from the record, and knows the one that it read last."""

    def __init__(self) -> None:
        self._last: Read | None = None

    def job(self, c: sa.Connection, job_id: int, job_uid: str) -> Job:
        """The current state of a job, with its whole history.

        :param c: an open connection to the record
        :param job_id: key of the job's row in the table of jobs
        :param job_uid: uid of the job
        """
        t = schema.line
        rows = c.execute(sa.select(t).where(t.c.job == job_id).order_by(t.c.n)).all()
        last = self._last
        job = job_of(job_uid, rows, last if last is not None and last.job.uid == job_uid else None)
        self._last = Read(rows, job)
        return job


def _same(before: Sequence[Any], now: Sequence[Any]) -> int:
    """How many of the first rows are the same."""
    pairs = enumerate(zip(before, now, strict=False))
    return next((k for k, (old, new) in pairs if old != new), min(len(before), len(now)))


def _text(value: Any) -> str:
    return value if isinstance(value, str) else "" if value is None else str(value)


def _parsed(text: Any) -> Any:
    try:
        return json.loads(text, parse_constant=_no_constant)
    except (ValueError, TypeError, RecursionError):
        return None


def _no_constant(name: str) -> Any:
    raise ValueError(name)  # NaN and Infinity are not JSON


# ------------------------------------------------------------------------------ checking the record
def damage(c: sa.Connection, known: ledger.End, place: str, version: int) -> list[str]:
    """All damage found, each item named with its job.  ``version``: of the tables.

    :param c: an open connection to the record
    :param known: the end of the chain, as this program read or wrote it last
    :param place: the record in messages: its address without a password
    :param version: of the tables
    """
    jobs: dict[str, Job] = {}
    looks: tuple[Callable[[], Iterator[str]], ...] = (
        lambda: _file(c),
        lambda: _jobs(c, jobs),
        lambda: _photographs(c, jobs),
    )
    if version > 1:  # an older one on a read-only disk has no ledger
        looks += (
            lambda: _triggers(c, version),
            lambda: ledger.broken(c),
            lambda: _missing(c, jobs),
            lambda: _seen(c, known, place),
            lambda: _drafts(c),
        )
    wrong: list[str] = []
    for look in looks:
        try:
            for found in look():
                wrong.append(found)
        except sa.exc.DBAPIError as error:  # one unreadable part must not hide the others
            if c.dialect.name == "postgresql":
                raise
            wrong.append(f"{place}: the file is damaged ({str(error.orig)[:120]})")
    return list(dict.fromkeys(wrong))


def _file(c: sa.Connection) -> Iterator[str]:
    if c.dialect.name == "sqlite":
        yield from (f"the file is damaged: {r[0]}" for r in c.exec_driver_sql("PRAGMA integrity_check") if r[0] != "ok")
        for r in c.exec_driver_sql("PRAGMA foreign_key_check"):
            yield f"a reference in the table {r[0]} points to a missing row"


def _triggers(c: sa.Connection, version: int) -> Iterator[str]:
    for name in schema.missing_triggers(c, version):
        yield f"the write protection {name} is missing or was altered: lines can be overwritten"


def _jobs(c: sa.Connection, jobs: dict[str, Job]) -> Iterator[str]:
    t = schema.line.c
    for row in c.execute(sa.select(schema.job).order_by(schema.job.c.id)).all():
        try:
            rows = c.execute(sa.select(schema.line).where(t.job == row.id).order_by(t.n)).all()
        except sa.exc.DBAPIError as error:
            yield f"job {row.number}: its lines cannot be read ({str(error.orig)[:80]})"
            continue
        job = jobs[_text(row.uid)] = job_of(_text(row.uid), rows)
        yield from (f"job {row.number}, {d}: {_OUTSIDE}" for d in job.damaged)
        last = job.lines[-1] if job.lines else None
        if row.lines != len(job.lines) or row.head != (last.digest if last else START):
            yield f"job {row.number}: its last line is missing or {_OUTSIDE}"
        elif not job.damaged:  # else it is only another sign of the same damage
            yield from (
                f"job {row.number}: {x} in the list of jobs {_OUTSIDE}" for x in _contradictions(row, job, rows)
            )
            yield from (f"job {row.number}, {x}" for x in _places(job, rows))


def row_of_header(header: Mapping[str, Any]) -> dict[str, str]:
    """What the list of jobs shows of a header, and what is searched.

    :param header: its fields, by name
    """
    texts = [v for v in header.values() if isinstance(v, str)]
    texts += [t for k in ("people", "instruments") for r in header.get(k, ()) for t in r.values()]
    return {k: str(header.get(k, "")) for k in SHOWN} | {"search": fold("\n".join(texts))}


def _contradictions(row: Any, job: Job, rows: Sequence[Any]) -> Iterator[str]:
    """Fields of the job's row that disagree with its lines."""
    wanted: dict[str, Any] = row_of_header(job.header) | {
        "closed": job.closed,
        "issue": job.issues[-1].body.get("letter", "") if job.issues else "",
        "last": rows[-1].id if rows else 0,
        "changed_at": job.lines[-1].at if job.lines else "",
    }
    yield from (name for name, value in wanted.items() if _lines_of(name, getattr(row, name)) != _lines_of(name, value))


def _lines_of(column: str, value: Any) -> Any:
    """The words that are searched, in any order: it follows the order in which a header was typed."""
    return sorted(str(value).split("\n")) if column == "search" else value


def _places(job: Job, rows: Sequence[Any]) -> Iterator[str]:
    """Ticks whose index disagrees with their own text, and two valid ticks for the same bolt and stage."""
    by_uid = {x.uid: x for x in job.lines}
    for line, row in zip(job.lines, rows, strict=True):
        if row.place != (place_of(line.body, by_uid) if line.kind == "tick" else None):
            yield f"line {line.n}: its bolt and stage in the index of ticks {_OUTSIDE}"
    seen: dict[Any, int] = {}
    for tick in job.ticks:
        if tick.stands:
            first = seen.setdefault(place_of(tick.line.body, by_uid), tick.n)
            if first != tick.n:
                yield f"line {tick.n}: the same bolt and stage are ticked in line {first}"


def place_of(body: Mapping[str, Any], by_uid: Mapping[str, Line]) -> str:
    """Programme, stage and bolt of a tick: a corrected programme is the same programme.

    :param body: the fields of the line
    :param by_uid: uid to line
    """
    programme = str(body.get("programme"))
    while (line := by_uid.get(programme)) is not None and line.about is not None:
        programme = line.about
    return f"{programme}|{body.get('stage')}|{body.get('bolt')}"


def _photographs(c: sa.Connection, jobs: Mapping[str, Job]) -> Iterator[str]:
    t = schema.picture.c
    state: dict[str, str] = {}
    for digest in c.scalars(sa.select(t.digest)).all():
        content = c.scalar(sa.select(t.content).where(t.digest == digest))
        true = isinstance(content, bytes) and hashlib.sha256(content).hexdigest() == digest
        state[_text(digest)] = "" if true else _OUTSIDE
    for job in jobs.values():
        for line in job.lines:
            for part in ("picture", "thumb") if line.kind == "photo" and line.body else ():
                wrong = state.get(str(line.body.get(part)), "is missing")
                if wrong:
                    yield f"job {job.number}, line {line.n}: its photograph {wrong}"
            if line.kind == "print" and state.get(str(line.body.get("sheet"))):  # an import does not hold the sheets
                yield f"job {job.number}, line {line.n}: its sheet {_OUTSIDE}"


def _missing(c: sa.Connection, jobs: Mapping[str, Job]) -> Iterator[str]:
    """Jobs and lines that are in the ledger but not in the record, or in the record but not in the ledger."""
    t = schema.ledger.c
    listed: dict[str, dict[int, str]] = {}
    numbers: dict[str, str] = {}
    for row in c.execute(sa.select(t.job, t.number, t.line, t.digest).order_by(t.n)):
        listed.setdefault(row.job, {})[row.line] = row.digest
        numbers[row.job] = row.number
    for uid, lines in listed.items():
        job = jobs.get(uid)
        if job is None:
            yield f"job {numbers[uid]}: the whole job is missing ({len(lines)} lines)"
            continue
        held = {x.n: x.digest for x in job.lines}
        for n, digest in lines.items():
            if n not in held:
                yield f"job {numbers[uid]}: line {n} is missing"
            elif held[n] != digest:
                yield f"job {numbers[uid]}, line {n}: {_OUTSIDE}"
    for uid, job in jobs.items():
        extra = [x.n for x in job.lines if x.n not in listed.get(uid, {})]
        if extra:
            yield f"job {job.number}: line {extra[0]} was written outside this program"
        elif not job.lines:
            yield f"job {uid}: it has no lines"


def _seen(c: sa.Connection, known: ledger.End, place: str) -> Iterator[str]:
    try:
        ledger.still_there(c, known, place)
    except Damaged as error:
        yield str(error)


def _drafts(c: sa.Connection) -> Iterator[str]:
    """Drafts that cannot be read.  Elsewhere they are skipped; here they are named."""
    numbers = {r.uid: r.number for r in c.execute(sa.select(schema.job.c.uid, schema.job.c.number))}
    for row in c.execute(sa.select(schema.draft)):
        if drafts.read(row.inputs) is None:
            of = f"job {numbers.get(row.job, row.job)}" if row.job else "no job"
            yield f"{of}: the draft of the form {row.form} cannot be read; it is ignored"
