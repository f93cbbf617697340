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

import uuid
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from shoplib.core.working import Result
from shoplib.record import (
    checking,
    database,
    job_list,
    ledger,
    photos,
    schema,
)
from shoplib.record.asking import asked_again
from shoplib.record.drafts import Draft
from shoplib.record.errors import NoSuchJob, Refused, Stale, StoreError
from shoplib.record.job import Job
from shoplib.record.job_list import JobRow, Jobs, JobSummary
from shoplib.record.jobfile_record import entry_body
from shoplib.record.line_writer import LineWriter, NewLine
from shoplib.record.origins import moved, origins_after
from shoplib.record.receipt import AlreadyTicked, Receipt, new_id, no_such_job
from shoplib.record.store_drafts import StoreDrafts
from shoplib.record.store_signing import StoreSigning
from shoplib.record.store_transfer import StoreTransfer
from shoplib.topics import present_name

__all__ = [
    "AlreadyTicked", "Draft", "Job", "JobRow", "JobSummary", "Jobs", "NoSuchJob", "Receipt", "Refused", "Stale",
    "Store", "StoreError", "new_id",
]  # fmt: skip


class Store(StoreDrafts, StoreSigning, StoreTransfer):
    """The record of all jobs in one database.  Made by :meth:`open`.

    Parameters that have one meaning in all methods:

    - ``number``: of the job
    - ``who``: initials of the person who does this
    - ``because``: the reason, in words
    - ``uid``: of the new line, so that a repeated call saves one; None makes one
    - ``remark``: a note; empty for none
    - ``when``: of the work, date and time; empty for now
    """

    @asked_again
    def start(self, *, who: str | None = None, uid: str | None = None, **header: Any) -> Receipt:
        """Start a job.  ``header``: number, engine, date, done_by; where known customer_ref, complaint, checked_by,
        hours, people (name, initials, role) and instruments (id, what, resolution, calibration_due).

        :param who: initials of the person who starts it; None: those of ``done_by``
        :param uid: of the new job, so that a repeated call starts one; None makes one
        :param header: fields of the job's header, by name
        """
        with self._appending() as writer:
            return writer.start(header, who, uid, new=True)

    @asked_again
    def amend(self, number: str, /, *, who: str, because: str = "", uid: str | None = None, **header: Any) -> Receipt:
        """Change fields of the header; the old values stay in the record.

        :param header: fields of the job's header, by name
        """
        return self._add(number, NewLine("header", who, {"fields": header, "because": because}, uid=uid))

    def jobs(self, search: str = "", *, limit: int = 200) -> Jobs:
        """The jobs whose header contains every word of ``search``; last changed first.

        :param search: words, all of them in the header
        :param limit: how many jobs at most
        """
        with self._reading() as c:
            return job_list.jobs(c, search, limit)

    def job(self, number: str) -> Job:
        """The current state of a job, with its whole history.

        :raises NoSuchJob: no job of that number
        """
        with self._reading() as c:
            row = c.execute(sa.select(schema.job.c.id, schema.job.c.uid).where(schema.job.c.number == number)).first()
            if row is None:
                raise no_such_job(number)
            return LineWriter(c, self._now, self._reader).job(row.id, row.uid)

    def number_of(self, uid: str) -> str | None:
        """The current number of the job with that uid, or None.

        :param uid: of the job
        """
        with self._reading() as c:
            return c.scalar(sa.select(schema.job.c.number).where(schema.job.c.uid == uid))

    def glance(self, number: str) -> JobSummary | None:
        """Whether a job of that number exists, and how many lines it has: cheaper than reading it."""
        with self._reading() as c:
            return job_list.summary(c, number)

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
    ) -> Receipt:
        """Save a result: its working, the inputs as typed, the results.  ``sources``: uids of the entries
        from which it was calculated; when one of these is corrected, this entry is flagged as stale.
        ``condition``: of the engine, as a person stated it: ``as_found``, ``as_left`` or nothing.
        ``origins``: input → the entry from which a person took it (:mod:`shoplib.record.origins`).

        :param result: of the working
        :param title: the heading of the entry
        :param sources: uids of the entries that it is calculated from
        :param condition: as found or as left; empty where it does not matter
        :param origins: input to the entry and the place in it from which it was taken
        """
        body = entry_body(result, title, remark, when) | {"sources": list(sources), "condition": condition}
        body["origins"] = dict(origins or {})
        return self._add(number, NewLine("entry", who, body, uid, form=result.working.name))

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
    ) -> Receipt:
        """Save something other than a calculation: a fastener map, a tightening programme, a strip-down log.
        ``form`` names its kind, ``content`` is plain data (text, numbers, lists, tables).

        :param form: the kind of note
        :param content: plain data, as JSON holds it
        :param title: the heading of the entry
        :param phase: of the job, under whose heading it is listed; empty where it follows from the form
        :param sources: uids of the entries that it is calculated from
        """
        body = {"content": content, "title": title, "phase": phase, "remark": remark, "when": when,
                "sources": list(sources)}  # fmt: skip
        return self._add(number, NewLine("note", who, body, uid, form=form))

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
        there_too: Mapping[str, Result] | None = None,
        uid: str | None = None,
    ) -> Receipt:
        """Correct an entry (by a result of the same working) or a note (by its new content), with the reason.

        Both stay in the record, and everything computed from the old one is stale until it is recalculated.
        Arguments that are left out (title, remark, when, sources, condition) stay as they were; so do the origins of
        inputs that are typed as before.  ``there_too``: earlier entries, by uid, from which values were taken; they are
        corrected first, with the same reason.  All of it is saved, or nothing.

        :param about: uid of the entry that is corrected
        :param result: of the working, or the content of a note
        :param title: the heading of the entry; None: as before
        :param remark: a note; None: as before
        :param when: of the work, date and time; None: as before
        :param sources: uids of the entries that it is calculated from; None: as before
        :param condition: as found or as left; None: as before
        :param origins: input to the entry and the place in it from which it was taken; None: as before
        :param there_too: uid of an earlier entry to its result with the corrected value, saved together with this
        :raises Refused: the result is of another working than the entry
        """
        new: dict[str, str] = {}
        if there_too and uid:  # the same uids when it is asked again
            new = {old: uuid.uuid5(uuid.UUID(uid), old).hex for old in there_too}
        with self._appending() as writer:
            cursor = writer.cursor(number)
            for source, better in (there_too or {}).items():
                was = writer.row(cursor, source, "about")
                self._of_its_working(was, better)
                content = entry_body(better, "", "", "")
                before = checking.body_of(was, cursor.number)
                kept = {k: before.get(k, "") for k in ("title", "remark", "when", "condition")}
                content |= {**kept, "because": because, "sources": before.get("sources", []),
                            "origins": origins_after(before, better, None)}  # fmt: skip
                writer.append(cursor, NewLine(was.kind, who, content, new[source], source, present_name(was.form)))
            row = writer.row(cursor, about, "about")
            old = checking.body_of(row, cursor.number)
            said = {"title": title, "remark": remark, "when": when}
            if isinstance(result, Result):
                said["condition"] = condition
                self._of_its_working(row, result)
                body = entry_body(result, "", "", "")
                body["origins"] = moved(origins_after(old, result, origins), new)
            else:
                body = {"content": result, "phase": old.get("phase", "")}
            body |= {k: old.get(k, "") if v is None else v for k, v in said.items()}
            named = old.get("sources", []) if sources is None else sources
            body |= {"because": because, "sources": [new.get(one, one) for one in named] if new else named}
            return writer.append(cursor, NewLine(row.kind, who, body, uid, about, present_name(row.form)))

    @staticmethod
    def _of_its_working(row: Any, result: Result) -> None:
        if result.working.name != present_name(row.form):
            raise Refused(f"line {row.n} is {row.form}, not {result.working.name}; strike it out instead")

    @asked_again
    def strike(self, number: str, about: str, *, who: str, because: str, uid: str | None = None) -> Receipt:
        """Strike out an entry, note, tick or photograph, dated and with the reason; it stays readable.

        :param about: uid of the line that is struck out
        """
        return self._add(number, NewLine("strike", who, {"because": because}, uid, about))

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
    ) -> Receipt:
        """One bolt at one stage is done.  ``uid`` is made by the caller before the call, so that a repeated call
        is saved once.  ``programme``: uid of the entry (tightening_plan) or note with the programme.  A deviation
        needs its reason and action.  Raises AlreadyTicked when this bolt is already ticked at this stage, unless
        ``replaces`` names that tick.  ``action_code`` and ``because_code``: :mod:`shoplib.record.ticks`.

        :param programme: uid of the plan for tightening or loosening
        :param stage: its number in the plan, from 1
        :param bolt: its name in the plan
        :param value: what was reached, as it was typed
        :param initials: of the person who did it
        :param uid: made by the caller, so that a repeated call saves one tick
        :param deviation: code of what was different; empty for nothing
        :param reason: of the deviation, in words
        :param action: what was done about it, in words
        :param replaces: uid of the tick that this one replaces; None for the first
        :param because: why it replaces that tick, in words
        :param action_code: of the action, where it is a known one
        :param because_code: of ``because``, where it is a known reason
        """
        body = {"programme": programme, "stage": stage, "bolt": bolt, "value": value, "initials": initials,
                "when": when, "deviation": deviation, "reason": reason, "action": action, "remark": remark,
                "because": because, "action_code": action_code, "because_code": because_code}  # fmt: skip
        with self._appending() as writer:
            cursor = writer.cursor(number)
            body["judged"] = writer.verdict_on_tick(cursor, uid, body)
            return writer.append(cursor, NewLine("tick", initials, body, uid, replaces))

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
        reopens: str = "",
        uid: str | None = None,
    ) -> Receipt:
        """Save a person's (``by``) decision about an open point (:attr:`OpenPoint.key`): ``accepted`` or ``resolved``.

        It changes the state of the point, never a reading.  ``allowed``: for a tick, the stage that the source allows
        instead; the reading is judged against it.
        ``reopens``: for a tick, ``new_bolt`` or ``loosened``: all stages of its bolt are open again.

        :param point: key of the open point
        :param decision: ``accepted`` or ``resolved``
        :param by: the person who decides, by name
        :param allowed: range that the reading may have, as it was typed; empty for none
        :param allowed_source: where that range comes from
        :param reopens: uid of the decision that this one takes back; empty for none
        """
        from shoplib.record.open_points import about_of

        body = {"point": point, "decision": decision, "by": by, "because": because, "allowed": allowed,
                "allowed_source": allowed_source, "reopens": reopens}  # fmt: skip
        with self._appending() as writer:
            cursor = writer.cursor(number)
            about = about_of(writer.job(cursor.id, cursor.uid), point)
            return writer.append(cursor, NewLine("decision", who, body, uid, about))

    # ------------------------------------------------------------------------------ photographs
    @asked_again
    def attach(
        self, number: str, about: str, raw: bytes, *, who: str, caption: str = "", uid: str | None = None
    ) -> Receipt:
        """Attach a photograph to an entry, note or tick.  Raises photos.BadPhoto.

        :param about: uid of the line that this is about
        :param raw: the photograph, as JPEG, PNG or WebP
        :param caption: under the photograph
        """
        photo = photos.read_photo(raw)
        body = {"picture": photo.digest, "thumb": photo.thumb_digest, "original": photo.original_digest,
                "width": photo.width, "height": photo.height, "caption": caption, "taken": photo.taken}  # fmt: skip
        with self._appending() as writer:
            for digest, content in ((photo.digest, photo.content), (photo.thumb_digest, photo.thumb)):
                writer.save_picture(digest, content)
            return writer.append(writer.cursor(number), NewLine("photo", who, body, uid, about))

    # ------------------------------------------------------------------------------ signing, handing out, closing
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
    ) -> Receipt:
        """Close a job.  The root cause may not be blank; a re-torque instruction is quoted.  Raises Stale.

        :param root_cause: why the joint failed, in words
        :param retorque: the instruction, quoted; empty for none
        :param parts_returned: which parts the customer gets back
        """
        body = {"root_cause": root_cause, "retorque": retorque, "parts_returned": parts_returned, "remark": remark}
        return self._add(number, NewLine("close", who, body, uid))

    @asked_again
    def reopen(self, number: str, *, who: str, because: str, uid: str | None = None) -> Receipt:
        """Reopen a closed job, with the reason."""
        return self._add(number, NewLine("reopen", who, {"because": because}, uid))

    # ------------------------------------------------------------------------------ maintenance
    def check(self) -> list[str]:
        """Check the whole record: the file, each line, photograph, job and draft, and what is missing.  Returns the
        problems, each with its job; an empty list if there are none.
        """
        with self._reading() as c:
            wrong = checking.damage(c, self._known, self.place, self._version)
            if self._version > 1:
                self._known = max(self._known, ledger.end(c), key=lambda known: known.n)
        return wrong

    @property
    def seen(self) -> ledger.End:
        """The total number of lines when this program last wrote or checked, and the last hash."""
        return self._known

    def copy_to(self, target: str | Path) -> None:
        """A consistent copy of an SQLite store, while others go on writing.  Never over an existing file.

        :param target: the file to be made
        """
        database.backup(self._engine, Path(target), self.wait)
