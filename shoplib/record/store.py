"""The job record: lines are appended, never overwritten; acknowledged means on the disk.

    with Store.open() as store:
        store.start(number="26-014", engine="…", done_by="A. Learner", date="2026-11-25")
        height = store.keep("26-014", working("measurement")(…), who="A. Learner")
        store.keep("26-014", result, who="A. Learner", sources=[height.uid])
        store.correct("26-014", height.uid, better, who="A. Learner", because="misread")   # flags what used it
        job = store.job("26-014")

Every method that writes is one transaction: all of it is saved, or nothing, with an error that says why
(:class:`StoreError` and its kinds in :mod:`shoplib.record.errors`; ``BadInput`` naming every bad field).
``uid`` makes a call repeatable: after a crash or a lost connection the same call with the same ``uid`` is saved
once.  A store belongs to one process; several processes may have the same file or server open.
"""

from __future__ import annotations

import contextlib
import datetime
import hashlib
import json
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, NamedTuple

import sqlalchemy as sa

from shoplib import __version__
from shoplib.core.errors import BadInput, Problem
from shoplib.core.working import Result
from shoplib.record import checking, database, drafts, importing, ledger, photos, schema
from shoplib.record import line_schema as rules
from shoplib.record import validation as door
from shoplib.record.asking import asked_again, may_be_saved, settled
from shoplib.record.config import default_place
from shoplib.record.drafts import Draft
from shoplib.record.errors import Damaged, NoSuchJob, NotAJob, ReadOnly, Refused, Stale, StoreError, Uncertain
from shoplib.record.job import ISSUED, START, SUBSTANCE, Job, Line, digest_of, refuse_stale
from shoplib.record.jobfile_record import as_typed, canonical, make_record
from shoplib.record.sanitise import fold
from shoplib.record.ticks import shown
from shoplib.topics import get, present_name

__all__ = [
    "AlreadyTicked", "Draft", "Job", "JobRow", "Jobs", "Kept", "NoSuchJob", "Refused", "Stale", "Store", "StoreError",
    "new_id",
]  # fmt: skip


READ_ONLY = "this copy of the record is read-only: you can read it, not change it"


class AlreadyTicked(Refused):
    """This bolt was ticked at this stage before; ``line`` is that tick."""

    def __init__(self, line: Line) -> None:
        self.line = line
        said = f"{line.title} was already ticked by {line.who} at {line.at}: {shown(str(line.body.get('value', '')))}"
        super().__init__(f"{said}. To correct it, say which tick the new one replaces, and why.")


def new_id() -> str:
    """A new uid.  Make it before the call and keep it until the call has returned."""
    return uuid.uuid4().hex


@dataclass(frozen=True)
class Kept:
    """The acknowledgement: this line is on the disk."""

    uid: str
    n: int
    at: str  # UTC, ISO
    again: bool = False  # it was already there, from an earlier attempt

    def __str__(self) -> str:
        return f"saved as line {self.n}, {self.at[:10]} {self.at[11:19]} UTC"


class JobRow(NamedTuple):
    """One row of the list of jobs."""

    number: str
    engine: str
    customer_ref: str
    complaint: str
    done_by: str
    date: str
    closed: bool
    issue: str  # letter of the last issued sheet
    lines: int
    changed_at: str


class Jobs(NamedTuple):
    """The list of jobs, last changed first, and how many were found in all."""

    rows: list[JobRow]
    found: int


class Glance(NamedTuple):
    """A job in brief."""

    uid: str
    lines: int  # their number


@dataclass
class _Head:
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
class _New:
    """A line to be written."""

    kind: str
    who: str
    body: Mapping[str, Any]
    uid: str | None = None
    about: str | None = None
    form: str = ""
    at: str | None = None  # of an imported line
    program: str | None = None


class Store:
    """The record of all jobs in one database.  Made by :meth:`open`."""

    def __init__(
        self, engine: sa.Engine, *, wait: float, clock: Callable[[], datetime.datetime], opened: database.Opened
    ) -> None:
        self.place = opened.place
        self.read_only = opened.read_only  # it can be read, not written
        self.caution = opened.caution  # what the user should know about this connection, or ""
        self._version = opened.version  # older than the current one only if read-only
        self._engine, self.wait, self._clock = engine, wait, clock
        self._writer = engine.execution_options(writes=True)  # lock first, then read
        self._known = ledger.End(0, ledger.START)  # the end of the ledger as this program last read it

    # ------------------------------------------------------------------------------ opening
    @classmethod
    def open(
        cls,
        where: str | Path | None = None,
        *,
        wait: float = 10.0,
        clock: Callable[[], datetime.datetime] = lambda: datetime.datetime.now(datetime.UTC),
    ) -> Store:
        """Open the record, or create it if missing: a file name, or ``postgresql://user@host/database``.

        Without ``where``: the environment variable SHOPLIB_STORE, or a file in the user's data folder.
        ``wait``: seconds to wait for another program.  Raises StoreError.
        """
        url = database.url_of(where if where is not None else default_place())
        opened = database.opened(url, wait)
        return cls(opened.engine, wait=wait, clock=clock, opened=opened)

    def close(self) -> None:
        """Close the connections to the database."""
        self._engine.dispose()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextlib.contextmanager
    def _reading(self) -> Iterator[sa.Connection]:
        with database.in_words(self.place, self.wait), self._engine.begin() as connection:
            yield connection

    @contextlib.contextmanager
    def _writing(self) -> Iterator[sa.Connection]:
        if self.read_only:
            raise ReadOnly(f"{self.place}: {READ_ONLY}. {database.NOTHING_SAVED}")
        committing, end = False, None
        try:
            with database.in_words(self.place, self.wait), self._writer.begin() as connection:
                connection.info.pop("ledger", None)
                ledger.still_there(connection, self._known, self.place)
                yield connection
                end = connection.info.pop("ledger", None)
                committing = True
        except StoreError as error:
            if committing and may_be_saved(error):
                raise Uncertain(database.unknown(error)) from error
            raise
        if end is not None:  # now it is on the disk
            self._know(end)

    def _know(self, end: ledger.End) -> None:
        if end.n > self._known.n:
            self._known = end

    def _now(self) -> str:
        now = self._clock().astimezone(datetime.UTC)
        return now.strftime("%Y-%m-%dT%H:%M:%S.") + f"{now.microsecond // 1000:03d}Z"

    # ------------------------------------------------------------------------------ jobs
    @asked_again
    def start(self, *, who: str | None = None, uid: str | None = None, **header: Any) -> Kept:
        """Start a job.  ``header``: number, engine, date, done_by; where known customer_ref, complaint, checked_by,
        hours, people (name, initials, role) and instruments (id, what, resolution, calibration_due).
        """
        with self._writing() as c:
            return self._start(c, header, who, uid, new=True)

    def _start(
        self, c: sa.Connection, header: Mapping[str, Any], who: str | None, uid: str | None, *, new: bool
    ) -> Kept:
        problems: list[Problem] = []
        fields = rules.read_header(header, problems, new=new)
        job_uid = self._uid(uid, problems)
        if problems:
            raise BadInput(problems)
        self._one_at_a_time(c)
        found = c.execute(sa.select(schema.job.c.uid, schema.job.c.number).where(schema.job.c.uid == job_uid)).first()
        if found is None:
            self._number_is_free(c, fields["number"])
            self._insert_job(c, job_uid, fields)
        head = self._head(c, fields["number"] if found is None else found.number)
        full = {k: v for k, v in fields.items() if v}
        line = _New("header", who or fields["done_by"], {"fields": full}, uid=job_uid)
        return self._append(c, head, line)

    @asked_again
    def amend(self, number: str, /, *, who: str, because: str = "", uid: str | None = None, **header: Any) -> Kept:
        """Change fields of the header; the old values stay in the record."""
        with self._writing() as c:
            head = self._head(c, number)
            return self._append(c, head, _New("header", who, {"fields": header, "because": because}, uid=uid))

    def jobs(self, search: str = "", *, limit: int = 200) -> Jobs:
        """The jobs whose header contains every word of ``search``; last changed first."""
        t = schema.job.c
        words = [t.search.contains(w, autoescape=True) for w in fold(search[:400]).split()]
        shown = sa.select(t.number, t.engine, t.customer_ref, t.complaint, t.done_by, t.date, t.closed, t.issue,
                          t.lines, t.changed_at)  # fmt: skip
        count = sa.select(sa.func.count()).select_from(schema.job)
        with self._reading() as c:
            rows = c.execute(shown.where(*words).order_by(t.last.desc()).limit(limit)).all()
            found = len(rows) if len(rows) < limit else c.scalar(count.where(*words))
        return Jobs([JobRow._make(r) for r in rows], int(found or 0))

    def job(self, number: str) -> Job:
        """The current state of a job, with its whole history."""
        with self._reading() as c:
            row = c.execute(sa.select(schema.job.c.id, schema.job.c.uid).where(schema.job.c.number == number)).first()
            if row is None:
                raise NoSuchJob(_no_job(number))
            return self._read(c, row.id, row.uid)

    def number_of(self, uid: str) -> str | None:
        """The current number of the job with that uid, or None."""
        with self._reading() as c:
            return c.scalar(sa.select(schema.job.c.number).where(schema.job.c.uid == uid))

    def glance(self, number: str) -> Glance | None:
        """Whether a job of that number exists, and how many lines it has: cheaper than reading it."""
        t = schema.job.c
        with self._reading() as c:
            row = c.execute(sa.select(t.uid, t.lines).where(t.number == number)).first()
        return None if row is None else Glance._make(row)

    # ------------------------------------------------------------------------------ entries
    @asked_again
    def keep(
        self,
        number: str,
        result: Result,
        *,
        who: str,
        title: str = "",
        remark: str = "",
        when: str = "",
        sources: Sequence[str] = (),
        condition: str = "",
        origins: Mapping[str, Mapping[str, str]] | None = None,
        uid: str | None = None,
    ) -> Kept:
        """Save a result: its working, the inputs as typed, the results.  ``sources``: uids of the entries
        from which it was computed; when one of these is corrected, this entry is flagged as stale.
        ``condition``: of the engine, as a person stated it: ``as_found``, ``as_left`` or nothing.
        ``origins``: input → the entry from which a person took it (:mod:`shoplib.record.origins`).
        """
        body = _body_of(result, title, remark, when) | {"sources": list(sources), "condition": condition}
        body["origins"] = dict(origins or {})
        with self._writing() as c:
            return self._append(c, self._head(c, number), _New("entry", who, body, uid, form=result.working.name))

    @asked_again
    def note(
        self,
        number: str,
        form: str,
        content: Mapping[str, Any],
        *,
        title: str,
        who: str,
        phase: str = "",
        remark: str = "",
        when: str = "",
        sources: Sequence[str] = (),
        uid: str | None = None,
    ) -> Kept:
        """Save something other than a calculation: a fastener map, a tightening programme, a strip-down log.
        ``form`` names its kind, ``content`` is plain data (text, numbers, lists, tables).
        """
        body = {"content": content, "title": title, "phase": phase, "remark": remark, "when": when,
                "sources": list(sources)}  # fmt: skip
        with self._writing() as c:
            return self._append(c, self._head(c, number), _New("note", who, body, uid, form=form))

    @asked_again
    def correct(
        self,
        number: str,
        about: str,
        result: Result | Mapping[str, Any],
        *,
        who: str,
        because: str,
        title: str | None = None,
        remark: str | None = None,
        when: str | None = None,
        sources: Sequence[str] | None = None,
        condition: str | None = None,
        origins: Mapping[str, Mapping[str, str]] | None = None,
        uid: str | None = None,
    ) -> Kept:
        """Correct an entry (by a result of the same working) or a note (by its new content), with the reason.

        Both stay in the record, and everything computed from the old one is stale until it is recalculated.
        Arguments that are left out (title, remark, when, sources, condition) stay as they were; so do the origins of
        inputs that are typed as before.
        """
        with self._writing() as c:
            head = self._head(c, number)
            row = self._row(c, head, about, "about")
            old = checking.body_of(row, head.number)
            said = {"title": title, "remark": remark, "when": when}
            if isinstance(result, Result):
                said["condition"] = condition
                if result.working.name != present_name(row.form):
                    raise Refused(f"line {row.n} is {row.form}, not {result.working.name}; strike it out instead")
                body = _body_of(result, "", "", "")
                body["origins"] = _origins_after(old, result, origins)
            else:
                body = {"content": result, "phase": old.get("phase", "")}
            body |= {k: old.get(k, "") if v is None else v for k, v in said.items()}
            body |= {"because": because, "sources": old.get("sources", []) if sources is None else list(sources)}
            return self._append(c, head, _New(row.kind, who, body, uid, about, present_name(row.form)))

    @asked_again
    def strike(self, number: str, about: str, *, who: str, because: str, uid: str | None = None) -> Kept:
        """Strike out an entry, note, tick or photograph, dated and with the reason; it stays readable."""
        with self._writing() as c:
            return self._append(c, self._head(c, number), _New("strike", who, {"because": because}, uid, about))

    # ------------------------------------------------------------------------------ ticks
    @asked_again
    def tick(
        self,
        number: str,
        *,
        programme: str,
        stage: int,
        bolt: str,
        value: str,
        initials: str,
        uid: str,
        when: str = "",
        deviation: str = "",
        reason: str = "",
        action: str = "",
        remark: str = "",
        replaces: str | None = None,
        because: str = "",
        action_code: str = "",
        because_code: str = "",
    ) -> Kept:
        """One bolt at one stage is done.  ``uid`` is made by the caller before the call, so that a repeated call
        is saved once.  ``programme``: uid of the entry (tightening_plan) or note with the programme.  A deviation
        needs its reason and action.  Raises AlreadyTicked when this bolt is already ticked at this stage, unless
        ``replaces`` names that tick.  ``action_code`` and ``because_code``: :mod:`shoplib.record.ticks`.
        """
        body = {"programme": programme, "stage": stage, "bolt": bolt, "value": value, "initials": initials,
                "when": when, "deviation": deviation, "reason": reason, "action": action, "remark": remark,
                "because": because, "action_code": action_code, "because_code": because_code}  # fmt: skip
        with self._writing() as c:
            head = self._head(c, number)
            body["judged"] = self._judged(c, head, uid, body)
            return self._append(c, head, _New("tick", initials, body, uid, replaces))

    def _judged(self, c: sa.Connection, head: _Head, uid: str, body: Mapping[str, Any]) -> str:
        """The verdict on the reading against its stage, saved with the tick; the first attempt decides."""
        from shoplib.record.tightening import judged_by

        t = schema.line.c
        uids = [u for u in (uid, body["programme"]) if isinstance(u, str)]
        rows = c.execute(sa.select(schema.line).where(t.job == head.id, t.uid.in_(uids))).all()
        lines = {r.uid: checking.line_of(r, {}) for r in rows}
        if uid in lines:
            return str(lines[uid].body.get("judged", ""))
        programme = lines.get(body["programme"])
        return judged_by(self._header(c, head), programme, body["stage"], body["value"]) if programme else ""

    @asked_again
    def decide(
        self,
        number: str,
        point: str,
        *,
        decision: str,
        by: str,
        because: str,
        who: str,
        allowed: str = "",
        allowed_source: str = "",
        uid: str | None = None,
    ) -> Kept:
        """Save a person's (``by``) decision about an open point (:attr:`OpenPoint.key`): ``accepted`` or ``resolved``.

        It changes the state of the point, never a reading.  ``allowed``: for a tick, the stage that the source allows
        instead; the reading is judged against it.
        """
        from shoplib.record.open_points import about_of

        body = {"point": point, "decision": decision, "by": by, "because": because, "allowed": allowed,
                "allowed_source": allowed_source}  # fmt: skip
        with self._writing() as c:
            head = self._head(c, number)
            about = about_of(self._read(c, head.id, head.uid), point)
            return self._append(c, head, _New("decision", who, body, uid, about))

    # ------------------------------------------------------------------------------ photographs
    @asked_again
    def attach(
        self, number: str, about: str, raw: bytes, *, who: str, caption: str = "", uid: str | None = None
    ) -> Kept:
        """Attach a photograph to an entry, note or tick.  Raises photos.BadPhoto."""
        photo = photos.take_in(raw)
        body = {"picture": photo.digest, "thumb": photo.thumb_digest, "original": photo.original_digest,
                "width": photo.width, "height": photo.height, "caption": caption}  # fmt: skip
        with self._writing() as c:
            head = self._head(c, number)
            for digest, content in ((photo.digest, photo.content), (photo.thumb_digest, photo.thumb)):
                self._keep_picture(c, digest, content)
            return self._append(c, head, _New("photo", who, body, uid, about))

    def picture(self, digest: str) -> bytes:
        """The JPEG of that hash: ``body["picture"]`` or, for print, ``body["thumb"]`` of a photo line."""
        with self._reading() as c:
            content = c.scalar(sa.select(schema.picture.c.content).where(schema.picture.c.digest == digest))
        if content is None or hashlib.sha256(content).hexdigest() != digest:
            raise Damaged(f"{self.place}: the photograph {digest[:12]}… is missing or was altered")
        return bytes(content)

    def _keep_picture(self, c: sa.Connection, digest: str, content: bytes) -> None:
        there = c.scalar(sa.select(sa.func.count()).where(schema.picture.c.digest == digest))
        if not there:
            c.execute(schema.picture.insert().values(digest=digest, content=content))

    # ------------------------------------------------------------------------------ signing, handing out, closing
    @asked_again
    def sign(self, number: str, *, who: str, role: str, seen: int | None = None, uid: str | None = None) -> Kept:
        """Sign for all present entries.  Raises Stale.

        ``seen``: the number of the last line that the signer saw; if lines were added since, it is refused.
        """
        with self._writing() as c:
            head = self._head(c, number)
            job = self._read(c, head.id, head.uid)
            for x in job.lines:
                if x.uid == uid and x.kind == "sign":
                    return Kept(x.uid, x.n, x.at, again=True)
            _nothing_unseen(job, seen, SUBSTANCE)
            return self._append(c, head, _New("sign", who, {"role": role, "covers": head.lines}, uid))

    @asked_again
    def issue(
        self, number: str, *, who: str, record: str = "", seen: int | None = None, uid: str | None = None
    ) -> tuple[str, list[str]]:
        """Issue a sheet: save its letter and what changed since the previous one.  ``record``: the seal of its
        contents (:func:`shoplib.record.job_record.seal`); ``seen``: the number of the last line that it was made from.

        Issued again without changes, it keeps its letter.  Raises Stale.
        """
        with self._writing() as c:
            head = self._head(c, number)
            job = self._read(c, head.id, head.uid)
            last = job.issues[-1] if job.issues else None
            changed = [x for x in job.lines if x.kind in ISSUED and x.n > (last.body.get("covers", 0) if last else 0)]
            if last is not None and (not changed or last.uid == uid):
                return str(last.body.get("letter", "")), list(last.body.get("changes", []))
            _nothing_unseen(job, seen, ISSUED)
            letter = _letter(len(job.issues))
            changes = job.changes(last.body.get("covers", 0)) if last else []
            body = {"letter": letter, "covers": head.lines, "record": record, "changes": changes}
            self._append(c, head, _New("issue", who, body, uid))
            return letter, changes

    @asked_again
    def close_job(
        self,
        number: str,
        *,
        who: str,
        root_cause: str,
        retorque: str = "",
        parts_returned: str = "",
        remark: str = "",
        uid: str | None = None,
    ) -> Kept:
        """Close a job.  The root cause may not be blank; a re-torque instruction is quoted.  Raises Stale."""
        body = {"root_cause": root_cause, "retorque": retorque, "parts_returned": parts_returned, "remark": remark}
        with self._writing() as c:
            return self._append(c, self._head(c, number), _New("close", who, body, uid))

    @asked_again
    def reopen(self, number: str, *, who: str, because: str, uid: str | None = None) -> Kept:
        """Reopen a closed job, with the reason."""
        with self._writing() as c:
            return self._append(c, self._head(c, number), _New("reopen", who, {"because": because}, uid))

    # ------------------------------------------------------------------------------ drafts
    def save_draft(self, form: str, inputs: Mapping[str, Any], *, number: str | None = None, desk: str = "") -> str:
        """Save all inputs of a form at every change; the last write wins.  Returns the time.

        Anything that can be typed can be saved, good or bad; it is validated only when it is saved to the job.
        ``desk``: the name of the desk.  Desks that share a record have separate drafts, with a job and without.
        """
        text = json.dumps(inputs, allow_nan=True)  # ASCII, so that every character can be stored
        if len(text) > door.LARGEST_BODY or len(form) > 80:
            raise BadInput([Problem(form[:60], f"too long for a draft; at most {door.LARGEST_BODY} characters")])
        saved_at = self._now()

        def write() -> str:
            with self._writing() as c:
                drafts.save(c, desk, self._draft_of(c, number), form, text, saved_at)
            return saved_at

        return settled(write, self.wait)

    def draft(self, form: str, *, number: str | None = None, desk: str = "") -> Draft | None:
        """The draft of that form at that desk, or None."""
        with self._reading() as c:
            found = self._draft_of(c, number)
            return drafts.find(c, desk, found, form).get(form) if self._version > 1 else None

    def drafts(self, *, number: str | None = None, desk: str = "") -> dict[str, Draft]:
        """All drafts of a desk, by form: for a job, or from before a job was chosen."""
        with self._reading() as c:
            found = self._draft_of(c, number)
            return drafts.find(c, desk, found) if self._version > 1 else {}

    def drop_draft(self, form: str, *, number: str | None = None, desk: str = "") -> None:
        """Delete a draft when the user clears the form."""
        with self._writing() as c:
            drafts.drop(c, desk, self._draft_of(c, number), form)

    def rename_desk(self, old: str, new: str) -> None:
        """Move the drafts of the desk ``old`` to ``new``, except where ``new`` has its own."""
        if self.read_only:
            return
        with self._reading() as c:
            needed = old != new and drafts.left(c, old)
        if needed:
            with self._writing() as c:
                drafts.rename(c, old, new)

    def _draft_of(self, c: sa.Connection, number: str | None) -> str:
        if number is None:
            return ""
        uid = c.scalar(sa.select(schema.job.c.uid).where(schema.job.c.number == number))
        if uid is None:
            raise NoSuchJob(_no_job(number))
        return str(uid)

    # ------------------------------------------------------------------------------ whole jobs in and out
    def start_from(self, job_file: Mapping[str, Any], *, who: str | None = None, folder: Path | None = None) -> str:
        """Start a job from a job file, or from the record in a sheet; returns its number.

        Every entry is recalculated from what was typed; nothing is saved if one is bad (BadInput).
        """
        entries = job_file.get("entries", job_file.get("entry"))
        if isinstance(entries, list) and "entries" in job_file:
            entries = [{k: v for k, v in e.items() if k != "result"} if isinstance(e, Mapping) else e for e in entries]
        record = make_record({"job": job_file.get("job"), "entry": entries}, folder=folder)
        uid = new_id()

        def write() -> None:
            with self._writing() as c:
                if self._start(c, record["job"], who, uid, new=False).again:  # with all its entries
                    return
                head = self._head(c, record["job"]["number"])
                for e in record["entries"]:
                    body = {k: e.get(k, "") for k in ("title", "remark", "when", "condition", "inputs", "result")}
                    body["phase"] = get(e["working"]).phase
                    entry_who = e.get("who") or who or record["job"]["done_by"]
                    self._append(c, head, _New("entry", entry_who, body, form=e["working"]))

        settled(write, self.wait)
        return str(record["job"]["number"])

    def export(self, number: str) -> bytes:
        """A whole job with its photographs as JSON, in the form of ``job.schema.json``."""
        from shoplib.record import exchange

        with self._reading() as c:
            head = self._head(c, number, lock=False)
            job = self._read(c, head.id, head.uid)
        photographs = [x for x in job.lines if x.kind == "photo" and x.body]  # nothing is known about a damaged line
        digests = dict.fromkeys(x.body[k] for x in photographs for k in ("picture", "thumb"))
        return exchange.dump(job, {d: self.picture(d) for d in digests})

    def import_job(self, raw: bytes, *, number: str | None = None, who: str = "") -> str:
        """Import an exported job; returns its number.  Importing it again adds only its new lines.

        ``number`` (with ``who``) gives it another number when its own is taken.  Raises NotAJob or Refused;
        then nothing is saved.
        """
        from shoplib.record import exchange

        job, pictures = exchange.load(raw)
        problems: list[Problem] = []
        if number is not None:
            number = door.line_of_text(number, "number", problems, longest=80)
        if problems:
            raise BadInput(problems)
        judged = self._judged_lines(job, number, who)
        return settled(lambda: self._write_import(job, judged, pictures, number or job.number), self.wait)

    def _judged_lines(self, job: Job, number: str | None, who: str) -> importing.Judged:
        """Validate every line as if it were written now, before the record is locked.  Raises NotAJob or Refused."""
        with importing.in_memory() as c:
            self._insert_job(c, job.uid, {"number": number or job.number})
            head = self._head(c, number or job.number)
            head.forced, head.watch = number or "", importing.Watch()
            for line in job.lines:
                new = _New(line.kind, line.who, line.body, line.uid, line.about, line.form, line.at, line.program)
                kept = self._append(c, head, new, imported=line)
                if kept.n != line.n or kept.again:
                    raise NotAJob(f"line {line.n} is in the file twice")
            if head.forced and head.forced != job.number:
                because = f"imported as {number}; its own number was {job.number}"
                self._append(c, head, _New("header", who, {"fields": {"number": number}, "because": because}))
            return importing.rows_of(c)

    def _write_import(self, job: Job, judged: importing.Judged, pictures: Mapping[str, bytes], number: str) -> str:
        with self._writing() as c:
            self._one_at_a_time(c)
            t, n = schema.job.c, schema.line.c
            there = c.execute(sa.select(t.id, t.number).where(t.uid == job.uid).with_for_update()).first()
            self._number_is_free(c, number if there is None else judged.job["number"], but=there and there.id)
            if there is None:
                self._insert_job(c, job.uid, {"number": number})
            job_id = c.execute(sa.select(t.id).where(t.uid == job.uid)).scalar_one()
            mine = c.execute(sa.select(n.n, n.digest, n.form).where(n.job == job_id).order_by(n.n)).all()
            for a, b in zip(mine, job.lines, strict=False):
                if a.digest != b.digest:
                    raise Refused(
                        f"job {job.number} already exists here and differs from line {a.n} onward "
                        f"({a.form[:60]} here, {b.title[:60]} in the file); nothing was imported"
                    )
            if there is not None and len(mine) >= len(job.lines):
                return str(there.number)
            for digest, content in pictures.items():
                self._keep_picture(c, digest, content)
            c.info["ledger"] = importing.write(c, judged, job_id, len(mine) + 1)
            return str(judged.job["number"])

    # ------------------------------------------------------------------------------ maintenance
    def check(self) -> list[str]:
        """Check the whole record: the file, each line, photograph, job and draft, and what is missing.  Returns the
        problems, each with its job; an empty list if there are none.
        """
        with self._reading() as c:
            wrong = checking.damage(c, self._known, self.place, self._version)
            if self._version > 1:
                self._know(ledger.end(c))
        return wrong

    @property
    def seen(self) -> ledger.End:
        """The total number of lines when this program last wrote or checked, and the last hash."""
        return self._known

    def copy_to(self, target: str | Path) -> None:
        """A consistent copy of an SQLite store, while others go on writing.  Never over an existing file."""
        if self._engine.dialect.name != "sqlite":
            raise Refused("use the server's own backup for a record on a server")
        if Path(target).exists():
            raise Refused(f"{target} already exists; nothing was written")
        with database.in_words(str(target), self.wait):
            database.copy_to(self._engine, Path(target))

    # ------------------------------------------------------------------------------ the only way to write
    def _append(self, c: sa.Connection, head: _Head, new: _New, *, imported: Line | None = None) -> Kept:
        """Validate a line and write it.  The caller holds the job's lock."""
        problems: list[Problem] = []
        uid = self._uid(new.uid, problems)
        who = door.line_of_text(new.who, "who" if new.kind != "tick" else "initials", problems, longest=200)
        form = door.line_of_text(new.form, "form", problems, longest=80, needed=new.kind in ("entry", "note"))
        raw = rules.read_body(new.kind, form, new.about, new.body, problems)
        if new.kind == "header":
            raw["fields"] = self._header_fields(c, head, new.body.get("fields"), problems)
        body = {k: v for k, v in raw.items() if v not in ("", [], {}, None)}
        if problems:
            raise BadInput(_once(problems))
        t = schema.line.c
        twin = c.execute(sa.select(schema.line).where(t.job == head.id, t.uid == uid)).first()
        if twin is not None:
            return self._again(c, head, twin, replace(new, form=form), body)
        renumbered = new.kind == "header" and bool(head.forced)
        if head.closed and new.kind not in rules.AFTER_CLOSING and not renumbered:
            raise Refused(f"job {head.number} is closed; reopen it first and give the reason")
        about = self._about(c, head, new)
        for source in (*body.get("sources", ()), *(x["uid"] for x in body.get("origins", {}).values())):
            self._source(c, head, source, about, old_ones=self._sources_of(head, about))
        place = self._place(c, head, body, about) if new.kind == "tick" else None
        if new.kind in ("sign", "issue", "close"):
            self._fit_to_be_signed(c, head, new.kind, body)
        if new.kind == "reopen" and not head.closed:
            raise Refused(f"job {head.number} is not closed")
        line = Line(head.lines + 1, uid, new.kind, new.about, form, who, new.at or self._now(),
                    new.program or __version__, body, "")  # fmt: skip
        digest = digest_of(line, head.uid, head.digest)
        if imported is not None and digest != imported.digest:
            raise NotAJob(f"line {imported.n} does not match its hash: the file was altered")
        values = {"job": head.id, "n": line.n, "uid": uid, "kind": line.kind, "about": about.id if about else None,
                  "form": form, "place": place, "at": line.at, "who": who, "program": line.program,
                  "body": canonical(body).decode("utf-8"), "digest": digest}  # fmt: skip
        row_id = c.execute(schema.line.insert().values(values).returning(schema.line.c.id)).scalar_one()
        if head.watch is not None:
            head.watch.add(line)
        self._advance(c, head, replace(line, digest=digest), row_id)
        c.info["ledger"] = ledger.append(c, [ledger.Row(head.uid, head.number, line.n, digest)])
        return Kept(uid, line.n, line.at)

    def _again(self, c: sa.Connection, head: _Head, twin: Any, new: _New, body: Mapping[str, Any]) -> Kept:
        """The same call again: saved once.  Different content under the same uid is a bug in the caller."""
        about = self._row(c, head, new.about, "about").id if new.about else None
        same = (twin.kind, twin.form, twin.about) == (new.kind, new.form, about)
        if not same or canonical(body).decode("utf-8") != twin.body:
            raise Refused(f"the uid {twin.uid} is already used for line {twin.n}; make a new one for new content")
        return Kept(twin.uid, twin.n, twin.at, again=True)

    def _advance(self, c: sa.Connection, head: _Head, line: Line, row_id: int) -> None:
        """Update the job's row to its newest line."""
        head.lines, head.digest = line.n, line.digest
        values: dict[str, Any] = {"lines": line.n, "head": line.digest, "last": row_id, "changed_at": line.at}
        match line.kind:
            case "header":
                header = self._header(c, head)
                head.number = header["number"] = head.forced or header["number"]
                values |= checking.row_of_header(header)
            case "close" | "reopen":
                head.closed = values["closed"] = line.kind == "close"
            case "issue":
                head.issue = values["issue"] = line.body["letter"]
        c.execute(schema.job.update().where(schema.job.c.id == head.id).values(values))

    # -- parts of it
    def _uid(self, uid: str | None, problems: list[Problem]) -> str:
        if uid is None:
            return new_id()
        if not isinstance(uid, str) or not rules.UID.fullmatch(uid):
            problems.append(Problem("uid", "must be 8 to 64 letters, digits and dashes"))
            return ""
        return uid

    def _one_at_a_time(self, c: sa.Connection) -> None:
        """Jobs are started one at a time; SQLite's own lock does that already."""
        if c.dialect.name == "postgresql":
            c.execute(sa.select(sa.func.pg_advisory_xact_lock(schema.APPLICATION_ID + 1)))

    def _number_is_free(self, c: sa.Connection, number: str, but: int | None = None) -> None:
        found = c.execute(sa.select(schema.job.c.id).where(schema.job.c.number == number)).first()
        if found is not None and found.id != but:
            raise Refused(f"a job with the number {number} already exists; open it, or choose another number")

    def _insert_job(self, c: sa.Connection, uid: str, header: Mapping[str, Any]) -> None:
        values = checking.row_of_header(header) | {
            "uid": uid, "closed": False, "issue": "", "lines": 0, "head": START, "last": 0, "changed_at": "",
        }  # fmt: skip
        c.execute(schema.job.insert().values(values))

    def _head(self, c: sa.Connection, number: str, *, lock: bool = True) -> _Head:
        t = schema.job
        query = sa.select(t).where(t.c.number == number)
        row = c.execute(query.with_for_update() if lock else query).first()
        if row is None:
            raise NoSuchJob(_no_job(number))
        return _Head(row.id, row.uid, row.number, row.lines, row.head, row.closed, row.issue)

    def _row(self, c: sa.Connection, head: _Head, uid: str, field: str) -> Any:
        t = schema.line.c
        row = c.execute(sa.select(schema.line).where(t.job == head.id, t.uid == str(uid)[:64])).first()
        if row is None:
            raise BadInput([Problem(field, f"{str(uid)[:64]!r} is not a line of job {head.number}")])
        return row

    def _successor(self, c: sa.Connection, row: Any) -> Any:
        t = schema.line.c
        kinds = ("entry", "note", "tick", "strike")
        return c.execute(sa.select(t.n, t.kind).where(t.about == row.id, t.kind.in_(kinds))).first()

    def _about(self, c: sa.Connection, head: _Head, new: _New) -> Any:
        """The row that the new line refers to: of an allowed kind, and neither corrected nor struck out."""
        allowed = rules.ABOUT[new.kind]
        if new.about is None:
            if None not in allowed:
                raise BadInput([Problem("about", "say which line it refers to")])
            return None
        row = self._row(c, head, new.about, "about")
        if row.kind not in allowed:
            raise Refused(f"line {row.n} is of the kind {row.kind}; a line of the kind {new.kind} cannot refer to it")
        if new.kind in ("entry", "note") and present_name(row.form) != new.form:
            raise Refused(f"line {row.n} is {present_name(row.form)}, not {new.form}; strike it out instead")
        after = self._successor(c, row)
        if after is not None:
            did = "struck out" if after.kind == "strike" else "corrected"
            where = "" if after.kind == "strike" else f"; continue from line {after.n}"
            raise Refused(f"line {row.n} was already {did} by line {after.n}{where}")
        return row

    def _sources_of(self, head: _Head, about: Any) -> list[str]:
        if about is None:
            return []
        old = checking.body_of(about, head.number)
        return [*old.get("sources", ()), *(x["uid"] for x in old.get("origins", {}).values())]

    def _source(self, c: sa.Connection, head: _Head, uid: str, about: Any, old_ones: list[str]) -> None:
        row = self._row(c, head, uid, "sources")
        if row.kind not in ("entry", "note"):
            raise BadInput([Problem("sources", f"line {row.n} is of the kind {row.kind}; nothing is computed from it")])
        if about is not None and row.id == about.id:
            raise BadInput([Problem("sources", f"line {row.n} is corrected here; it cannot be its own source")])
        after = self._successor(c, row)
        if after is not None and uid not in old_ones:  # an old source stays named, and the entry stays stale
            raise Refused(
                f"line {row.n} was replaced or struck out by line {after.n}; use a current entry as the source"
            )

    def _place(self, c: sa.Connection, head: _Head, body: Mapping[str, Any], about: Any) -> str:
        """Programme, stage and bolt of a tick; refused if that bolt is already ticked at that stage."""
        row = self._row(c, head, body["programme"], "programme")
        if row.kind != "note" and (row.kind, row.form) != ("entry", "tightening_plan"):
            raise BadInput([Problem("programme", f"line {row.n} is not a tightening programme")])
        t = schema.line.c
        if head.watch is not None:
            row = self._row(c, head, head.watch.root(row.uid), "programme")
        while row.about is not None:  # a corrected programme is the same programme
            row = c.execute(sa.select(schema.line).where(t.id == row.about)).one()
        place = f"{row.uid}|{body['stage']}|{body['bolt']}"
        if about is not None and about.place != place:
            raise Refused(f"line {about.n} is for another bolt or stage; strike out that tick and tick the right one")
        later = schema.line.alias()
        gone = sa.exists().where(later.c.about == t.id, later.c.kind.in_(("tick", "strike")))
        standing = c.execute(sa.select(schema.line).where(t.job == head.id, t.place == place, ~gone)).first()
        if standing is not None and (about is None or standing.id != about.id):
            raise AlreadyTicked(checking.line_of(standing, {}))
        return place

    def _fit_to_be_signed(self, c: sa.Connection, head: _Head, kind: str, body: Mapping[str, Any]) -> None:
        what = {"sign": "nothing can be signed yet", "issue": "no sheet can be issued yet",
                "close": "the job cannot be closed yet"}[kind]  # fmt: skip
        issues = head.watch.issues if head.watch is not None else 0
        if head.watch is None or head.watch.stale:
            job = self._read(c, head.id, head.uid)
            refuse_stale(job, what)
            issues = len(job.issues)
        if kind in ("sign", "issue") and body["covers"] != head.lines:
            raise Refused("a signature or sheet covers all lines before it")
        if kind == "issue" and body["letter"] != _letter(issues):
            raise Refused(f"the next issue is {_letter(issues)}, not {body['letter']}")

    def _header(self, c: sa.Connection, head: _Head) -> dict[str, Any]:
        if head.watch is not None:
            return dict(head.watch.header)
        t = schema.line.c
        rows = c.execute(sa.select(t.n, t.body).where(t.job == head.id, t.kind == "header").order_by(t.n)).all()
        fields: dict[str, Any] = {}
        for row in rows:
            fields |= checking.fields_of(row, head.number)
        return fields

    def _header_fields(self, c: sa.Connection, head: _Head, raw: Any, problems: list[Problem]) -> dict[str, Any]:
        """The changed fields, validated with the whole header; "" and [] clear a field."""
        if not isinstance(raw, Mapping) or not raw:
            problems.append(Problem("fields", "say which field of the header to change"))
            return {}
        whole = rules.read_header(self._header(c, head) | dict(raw), problems)
        changed = {k: whole[k] for k in raw if k in whole}
        if "number" in changed and not problems and not head.forced and changed["number"] != head.number:
            self._one_at_a_time(c)
            self._number_is_free(c, changed["number"], but=head.id)
        return changed

    def _read(self, c: sa.Connection, job_id: int, job_uid: str) -> Job:
        t = schema.line
        return checking.job_of(job_uid, c.execute(sa.select(t).where(t.c.job == job_id).order_by(t.c.n)).all())


# ------------------------------------------------------------------------------ plain helpers
def _nothing_unseen(job: Job, seen: int | None, kinds: Sequence[str]) -> None:
    unseen = [] if seen is None else [x for x in job.lines if x.n > seen and x.kind in kinds]
    if unseen:
        raise Refused(f"the job changed after you opened it: {unseen[-1].name}. Read it again before you sign.")


def _body_of(result: Result, title: str, remark: str, when: str) -> dict[str, Any]:
    typed = {k: v for k, v in result.inputs.as_entered.items() if v is not None and v != ""}
    return {
        "title": title or result.working.title,
        "phase": result.working.phase,
        "remark": remark,
        "when": when,
        "inputs": _plain(as_typed(result, typed)),
        "result": _plain(result.to_json(steps=False)),
    }


def _origins_after(
    old: Mapping[str, Any], result: Result, origins: Mapping[str, Mapping[str, str]] | None
) -> dict[str, Any]:
    """The origins of a correction: as stated, else those of the inputs that are typed as before."""
    if origins is not None:
        return dict(origins)
    typed, before = result.inputs.as_entered, old.get("inputs", {})
    return {k: v for k, v in old.get("origins", {}).items() if typed.get(k) == before.get(k)}


def _plain(value: Any) -> Any:
    """Dates as text; the rest is JSON already."""
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    return value.isoformat() if hasattr(value, "isoformat") else value


def _letter(count: int) -> str:
    """A … Z, AA, AB …: the issue after so many."""
    letters = ""
    count += 1
    while count:
        count, rest = divmod(count - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _no_job(number: object) -> str:
    return f"there is no job with the number {str(number)[:80]!r}; the list of jobs shows what there is"


def _once(problems: list[Problem]) -> list[Problem]:
    return list(dict.fromkeys(problems))
