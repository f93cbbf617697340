"""The only way to write into the record: a line is validated against the state of its job, then appended.

A :class:`LineWriter` lives as long as one transaction; :class:`shoplib.record.store.Store` opens the transaction.

Parameters that have one meaning in all functions:

- ``cursor``: the job that is locked, and the end of its chain
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from shoplib import __version__
from shoplib.core.errors import BadInput, Problem
from shoplib.record import checking, importing, ledger, line_schema, schema, validation
from shoplib.record.errors import NotAJob, Refused
from shoplib.record.job import START, Job, Line, digest_of, refuse_stale
from shoplib.record.jobfile_record import canonical
from shoplib.record.receipt import AlreadyTicked, Receipt, new_id, no_such_job
from shoplib.record.ticks import PLANS
from shoplib.topics import present_name

# Statements of every entry, built once: building one anew takes longer than the database needs to execute it.
_LINE_OF_UID = sa.select(schema.line).where(
    schema.line.c.job == sa.bindparam("job"), schema.line.c.uid == sa.bindparam("uid")
)
_JOB_OF_NUMBER = sa.select(schema.job).where(schema.job.c.number == sa.bindparam("number"))
_JOB_TO_CHANGE = _JOB_OF_NUMBER.with_for_update()
_ADD_LINE = {  # nothing is added, and no id told, where the job has a line of that uid
    name: insert(schema.line).on_conflict_do_nothing(index_elements=["job", "uid"]).returning(schema.line.c.id)
    for name, insert in (("sqlite", sqlite.insert), ("postgresql", postgresql.insert))
}
_CHANGE_JOB = schema.job.update().where(schema.job.c.id == sa.bindparam("this"))


@dataclass
class JobCursor:
    """The state of a job inside a transaction."""

    id: int
    uid: str
    number: str
    lines: int
    digest: str
    closed: bool
    issue: str
    forced: str = ""  # the number under which a job is imported, whatever its header says
    watch: importing.Watch | None = None  # of a job that is imported


@dataclass(frozen=True)
class NewLine:
    """A line to be written."""

    kind: str
    who: str
    body: Mapping[str, Any]
    uid: str | None = None
    about: str | None = None
    form: str = ""
    at: str | None = None  # of an imported line
    program: str | None = None


@dataclass(frozen=True)
class CheckedLine:
    """A new line after the checks that need only the line itself."""

    new: NewLine
    uid: str
    who: str
    form: str
    body: dict[str, Any]
    problems: list[Problem]


def checked(new: NewLine) -> CheckedLine:
    """Check a line by itself: a third of the work of saving it, and it needs no lock.

    :param new: the line, before it has a number
    """
    problems: list[Problem] = []
    uid = _uid(new.uid, problems)
    who = validation.line_of_text(new.who, "who" if new.kind != "tick" else "initials", problems, longest=200)
    form = validation.line_of_text(new.form, "form", problems, longest=80, needed=new.kind in ("entry", "note"))
    body = line_schema.read_body(new.kind, form, new.about, new.body, problems)
    return CheckedLine(new, uid, who, form, body, problems)


class LineWriter:
    """Appends lines to jobs within one transaction."""

    def __init__(
        self,
        connection: sa.Connection,
        now: Callable[[], str],
        reader: checking.JobReader | None = None,
        offset: Callable[[], str] = lambda: "",
    ) -> None:
        self.connection, self._now, self._offset = connection, now, offset
        self._reader = reader or checking.JobReader()  # knows the job that was read last

    def start(self, header: Mapping[str, Any], who: str | None, uid: str | None, *, new: bool) -> Receipt:
        """Start a job with its header line.

        :param header: fields of the job's header, by name
        :param who: initials of the person who does this
        :param uid: of the new job; None makes one
        :param new: whether required fields are asked for; an imported job need not have all
        :raises BadInput: fields of the header that are missing or cannot be read
        """
        problems: list[Problem] = []
        fields = line_schema.read_header(header, problems, new=new)
        job_uid = _uid(uid, problems)
        if problems:
            raise BadInput(problems)
        self.lock_numbers()
        found = self.connection.execute(
            sa.select(schema.job.c.uid, schema.job.c.number).where(schema.job.c.uid == job_uid)
        ).first()
        if found is None:
            self.require_free_number(fields["number"])
            self.insert_job(job_uid, fields)
        cursor = self.cursor(fields["number"] if found is None else found.number)
        full = {k: v for k, v in fields.items() if v}
        line = NewLine("header", who or fields["done_by"], {"fields": full}, uid=job_uid)
        return self.append(cursor, line)

    def append(self, cursor: JobCursor, proposed: NewLine | CheckedLine, *, imported: Line | None = None) -> Receipt:
        """Check a line against the state of its job, and write it.  The caller holds the job's lock.

        :param cursor: the job: its number, its last line and its last hash
        :param proposed: the line as it was asked for, or as it was checked before the job was locked
        :param imported: the line of another record that must come out with the same hash
        :returns: the receipt: number of the line, its uid and time
        :raises BadInput: fields of the line that cannot be saved, each named
        :raises Refused: the state of the job does not allow the line
        :raises NotAJob: an imported line that does not match its hash
        """
        found = proposed if isinstance(proposed, CheckedLine) else checked(proposed)
        new, uid, who, form = found.new, found.uid, found.who, found.form
        raw, problems = dict(found.body), list(found.problems)
        if new.kind == "header":
            raw["fields"] = self._header_fields(cursor, new.body.get("fields"), problems)
        at = new.at or self._now()
        if new.at is None:  # of an imported line it is in its body
            raw["offset"] = self._offset()
        body = {k: v for k, v in raw.items() if v not in ("", [], {}, None)}
        if problems:
            raise BadInput(list(dict.fromkeys(problems)))
        again = replace(new, form=form), body
        try:
            about, place = self._allowed(cursor, new, body)
        except (BadInput, Refused):
            if (twin := self._twin(cursor, uid)) is not None:  # the line itself may be what forbids it
                return self._again(cursor, twin, *again)
            raise
        line = Line(cursor.lines + 1, uid, new.kind, new.about, form, who, at,
                    new.program or __version__, body, "")  # fmt: skip
        digest = digest_of(line, cursor.uid, cursor.digest)
        if imported is not None and digest != imported.digest:
            raise NotAJob(f"line {imported.n} does not match its hash: the file was altered")
        values = {"job": cursor.id, "n": line.n, "uid": uid, "kind": line.kind, "about": about.id if about else None,
                  "form": form, "place": place, "at": line.at, "who": who, "program": line.program,
                  "body": canonical(body).decode("utf-8"), "digest": digest}  # fmt: skip
        row_id = self.connection.execute(_ADD_LINE[self.connection.dialect.name], values).scalar()
        if row_id is None:
            return self._again(cursor, self._twin(cursor, uid), *again)
        if cursor.watch is not None:
            cursor.watch.add(line)
        self._advance(cursor, replace(line, digest=digest), row_id)
        ledger.append(self.connection, [ledger.Row(cursor.uid, cursor.number, line.n, digest)])
        return Receipt(uid, line.n, line.at)

    def _allowed(self, cursor: JobCursor, new: NewLine, body: dict[str, Any]) -> tuple[Any, str | None]:
        """The row that the new line refers to, and the place of a tick, where the state of the job allows the line."""
        renumbered = new.kind == "header" and bool(cursor.forced)
        if cursor.closed and new.kind not in line_schema.AFTER_CLOSING and not renumbered:
            raise Refused(f"job {cursor.number} is closed; reopen it first and give the reason")
        about = self._about(cursor, new)
        for source in _uids_of_sources(body):
            self._source(cursor, source, about, old_ones=self._sources_of(cursor, about))
        place = self._place_of_tick(cursor, body, about) if new.kind == "tick" else None
        if new.kind in ("sign", "issue", "close"):
            self._fit_to_be_signed(cursor, new.kind, body)
        if new.kind == "reopen" and not cursor.closed:
            raise Refused(f"job {cursor.number} is not closed")
        return about, place

    def _twin(self, cursor: JobCursor, uid: str) -> Any:
        return self.connection.execute(_LINE_OF_UID, {"job": cursor.id, "uid": uid}).first()

    def _again(self, cursor: JobCursor, twin: Any, new: NewLine, body: Mapping[str, Any]) -> Receipt:
        """The same call again: saved once.  Different content under the same uid is a bug in the caller."""
        about = self.row(cursor, new.about, "about").id if new.about else None
        same = (twin.kind, twin.form, twin.about) == (new.kind, new.form, about)
        if not same or canonical(body).decode("utf-8") != twin.body:
            raise Refused(f"the uid {twin.uid} is already used for line {twin.n}; make a new one for new content")
        return Receipt(twin.uid, twin.n, twin.at, again=True)

    def _advance(self, cursor: JobCursor, line: Line, row_id: int) -> None:
        """Update the job's row to its newest line."""
        cursor.lines, cursor.digest = line.n, line.digest
        values: dict[str, Any] = {"lines": line.n, "head": line.digest, "last": row_id, "changed_at": line.at}
        match line.kind:
            case "header":
                header = self.header(cursor)
                cursor.number = header["number"] = cursor.forced or header["number"]
                values |= checking.row_of_header(header)
            case "close" | "reopen":
                cursor.closed = values["closed"] = line.kind == "close"
            case "issue":
                cursor.issue = values["issue"] = line.body["letter"]
        self.connection.execute(_CHANGE_JOB, {"this": cursor.id, **values})

    def lock_numbers(self) -> None:
        """Jobs are started one at a time; SQLite's own lock does that already."""
        if self.connection.dialect.name == "postgresql":
            self.connection.execute(sa.select(sa.func.pg_advisory_xact_lock(schema.APPLICATION_ID + 1)))

    def require_free_number(self, number: str, but: int | None = None) -> None:
        """Refuse a number that another job has.

        :param number: of the job
        :param but: key of the job that may have it; None: no job
        :raises Refused: the number is another job's
        """
        found = self.connection.execute(sa.select(schema.job.c.id).where(schema.job.c.number == number)).first()
        if found is not None and found.id != but:
            raise Refused(f"a job with the number {number} already exists; open it, or choose another number")

    def insert_job(self, uid: str, header: Mapping[str, Any]) -> None:
        """Add the row of a job that has no line yet.

        :param uid: of the new job
        :param header: fields of the job's header, by name
        """
        values = checking.row_of_header(header) | {
            "uid": uid, "closed": False, "issue": "", "lines": 0, "head": START, "last": 0, "changed_at": "",
        }  # fmt: skip
        self.connection.execute(schema.job.insert().values(values))

    def cursor(self, number: str, *, lock: bool = True) -> JobCursor:
        """The job of that number, locked until the end of the transaction.

        :param number: of the job
        :param lock: False: it is only read
        :raises NoSuchJob: no job of that number
        """
        row = self.connection.execute(_JOB_TO_CHANGE if lock else _JOB_OF_NUMBER, {"number": number}).first()
        if row is None:
            raise no_such_job(number)
        return JobCursor(row.id, row.uid, row.number, row.lines, row.head, row.closed, row.issue)

    def row(self, cursor: JobCursor, uid: str, field: str) -> Any:
        """The line of that uid in the job.

        :param uid: of the line
        :param field: that named the line, for the message
        :raises BadInput: the job has no line of that uid
        """
        row = self.connection.execute(_LINE_OF_UID, {"job": cursor.id, "uid": str(uid)[:64]}).first()
        if row is None:
            raise BadInput([Problem(field, f"{str(uid)[:64]!r} is not a line of job {cursor.number}")])
        return row

    def _successor(self, row: Any) -> Any:
        t = schema.line.c
        kinds = ("entry", "note", "tick", "strike")
        return self.connection.execute(sa.select(t.n, t.kind).where(t.about == row.id, t.kind.in_(kinds))).first()

    def _about(self, cursor: JobCursor, new: NewLine) -> Any:
        """The row that the new line refers to: of an allowed kind, and neither corrected nor struck out."""
        allowed = line_schema.ABOUT[new.kind]
        if new.about is None:
            if None not in allowed:
                raise BadInput([Problem("about", "say which line it refers to")])
            return None
        row = self.row(cursor, new.about, "about")
        if row.kind not in allowed:
            raise Refused(f"line {row.n} is of the kind {row.kind}; a line of the kind {new.kind} cannot refer to it")
        if new.kind in ("entry", "note") and present_name(row.form) != new.form:
            raise Refused(f"line {row.n} is {present_name(row.form)}, not {new.form}; strike it out instead")
        after = self._successor(row)
        if after is not None:
            did = "struck out" if after.kind == "strike" else "corrected"
            where = "" if after.kind == "strike" else f"; continue from line {after.n}"
            raise Refused(f"line {row.n} was already {did} by line {after.n}{where}")
        return row

    def _sources_of(self, cursor: JobCursor, about: Any) -> list[str]:
        return _uids_of_sources(checking.body_of(about, cursor.number)) if about is not None else []

    def _source(self, cursor: JobCursor, uid: str, about: Any, old_ones: list[str]) -> None:
        row = self.row(cursor, uid, "sources")
        if row.kind not in ("entry", "note"):
            raise BadInput(
                [Problem("sources", f"line {row.n} is of the kind {row.kind}; nothing is calculated from it")]
            )
        if about is not None and row.id == about.id:
            raise BadInput([Problem("sources", f"line {row.n} is corrected here; it cannot be its own source")])
        after = self._successor(row)
        if after is not None and uid not in old_ones:  # an old source stays named, and the entry stays stale
            raise Refused(
                f"line {row.n} was replaced or struck out by line {after.n}; use a current entry as the source"
            )

    def _place_of_tick(self, cursor: JobCursor, body: Mapping[str, Any], about: Any) -> str:
        """Programme, stage and bolt of a tick; refused if that bolt is already ticked at that stage."""
        row = self.row(cursor, body["programme"], "programme")
        if row.kind != "note" and not (row.kind == "entry" and row.form in PLANS):
            raise BadInput([Problem("programme", f"line {row.n} is not a plan of tightening or loosening")])
        t = schema.line.c
        if cursor.watch is not None:
            row = self.row(cursor, cursor.watch.root(row.uid), "programme")
        while row.about is not None:  # a corrected programme is the same programme
            row = self.connection.execute(sa.select(schema.line).where(t.id == row.about)).one()
        place = f"{row.uid}|{body['stage']}|{body['bolt']}"
        if about is not None and about.place != place:
            raise Refused(f"line {about.n} is for another bolt or stage; strike out that tick and tick the right one")
        later = schema.line.alias()
        gone = sa.exists().where(later.c.about == t.id, later.c.kind.in_(("tick", "strike")))
        standing = self.connection.execute(
            sa.select(schema.line).where(t.job == cursor.id, t.place == place, ~gone)
        ).first()
        if standing is not None and (about is None or standing.id != about.id):
            raise AlreadyTicked(checking.line_of(standing, {}))
        return place

    def _fit_to_be_signed(self, cursor: JobCursor, kind: str, body: Mapping[str, Any]) -> None:
        what = {"sign": "Nothing can be signed yet", "issue": "No sheet can be issued yet",
                "close": "The job cannot be closed yet"}[kind]  # fmt: skip
        issues = cursor.watch.issues if cursor.watch is not None else 0
        if cursor.watch is None or cursor.watch.stale:
            job = self.job(cursor.id, cursor.uid)
            refuse_stale(job, what)
            issues = len(job.issues)
        if kind in ("sign", "issue") and body["covers"] != cursor.lines:
            raise Refused("a signature or sheet covers all lines before it")
        if kind == "issue" and body["letter"] != letter_after(issues):
            raise Refused(f"the next issue is {letter_after(issues)}, not {body['letter']}")

    def header(self, cursor: JobCursor) -> dict[str, Any]:
        """The present fields of the header."""
        if cursor.watch is not None:
            return dict(cursor.watch.header)
        t = schema.line.c
        rows = self.connection.execute(
            sa.select(t.n, t.body).where(t.job == cursor.id, t.kind == "header").order_by(t.n)
        ).all()
        fields: dict[str, Any] = {}
        for row in rows:
            fields |= checking.fields_of(row, cursor.number)
        return fields

    def _header_fields(self, cursor: JobCursor, raw: Any, problems: list[Problem]) -> dict[str, Any]:
        """The changed fields, validated with the whole header; "" and [] clear a field."""
        if not isinstance(raw, Mapping) or not raw:
            problems.append(Problem("fields", "say which field of the header to change"))
            return {}
        whole = line_schema.read_header(self.header(cursor) | dict(raw), problems)
        changed = {k: whole[k] for k in raw if k in whole}
        if "number" in changed and not problems and not cursor.forced and changed["number"] != cursor.number:
            self.lock_numbers()
            self.require_free_number(changed["number"], but=cursor.id)
        return changed

    def job(self, job_id: int, job_uid: str) -> Job:
        """The whole job, read from its lines.

        :param job_id: key of the job's row in the table of jobs
        :param job_uid: uid of the job
        """
        return self._reader.job(self.connection, job_id, job_uid)

    def verdict_on_tick(self, cursor: JobCursor, uid: str, body: Mapping[str, Any]) -> str:
        """The verdict on the reading against its stage, saved with the tick; the first attempt decides.

        :param uid: of the line
        :param body: the fields of the line
        """
        from shoplib.record.tightening import judged_by

        t = schema.line.c
        uids = [u for u in (uid, body["programme"]) if isinstance(u, str)]
        rows = self.connection.execute(sa.select(schema.line).where(t.job == cursor.id, t.uid.in_(uids))).all()
        lines = {r.uid: checking.line_of(r, {}) for r in rows}
        if uid in lines:
            return str(lines[uid].body.get("judged", ""))
        programme = lines.get(body["programme"])
        return judged_by(self.header(cursor), programme, body["stage"], body["value"]) if programme else ""

    def save_picture(self, digest: str, content: bytes) -> None:
        """Save a photograph under its hash, once.

        :param digest: SHA-256, in hexadecimal
        :param content: the JPEG
        """
        there = self.connection.scalar(sa.select(sa.func.count()).where(schema.picture.c.digest == digest))
        if not there:
            self.connection.execute(schema.picture.insert().values(digest=digest, content=content))


def _uid(uid: str | None, problems: list[Problem]) -> str:
    if uid is None:
        return new_id()
    if not isinstance(uid, str) or not line_schema.UID.fullmatch(uid):
        problems.append(Problem("uid", "must be 8 to 64 letters, digits and dashes"))
        return ""
    return uid


def letter_after(count: int) -> str:
    """A … Z, AA, AB …: the issue after so many.

    :param count: of issues so far
    """
    letters = ""
    count += 1
    while count:
        count, rest = divmod(count - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _uids_of_sources(body: Mapping[str, Any]) -> list[str]:
    """The entries that a line was computed from, and those from which its inputs were taken."""
    return [*body.get("sources", ()), *(x["uid"] for x in body.get("origins", {}).values())]
