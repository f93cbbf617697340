"""Whole jobs in and out of the record: from a job file, and as an exported job.

An import is validated before the record is locked: its lines are appended to an empty record in memory, by the same
code and rules as everywhere. Only if that succeeds are its rows copied, in one short transaction.

Parameters that have one meaning in all functions:

- ``number``: of the new job; None: the number that it had
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from shoplib.core.errors import BadInput, Problem
from shoplib.record import importing, schema, validation
from shoplib.record.errors import NotAJob, Refused
from shoplib.record.job import Job
from shoplib.record.jobfile_record import make_record
from shoplib.record.line_writer import LineWriter, NewLine
from shoplib.record.receipt import Imported
from shoplib.topics import get


def record_of(job_file: Mapping[str, Any], folder: Path | None) -> dict[str, Any]:
    """The recalculated record of a job file, or of the record in a sheet.  Raises BadInput.

    :param job_file: the tables of a job file, or the record in a sheet
    :param folder: whose CSV files may be named; None: no file is opened
    """
    entries = job_file.get("entries", job_file.get("entry"))
    if isinstance(entries, list) and "entries" in job_file:
        entries = [{k: v for k, v in e.items() if k != "result"} if isinstance(e, Mapping) else e for e in entries]
    return make_record({"job": job_file.get("job"), "entry": entries}, folder=folder)


def start_from(writer: LineWriter, record: Mapping[str, Any], who: str | None, uid: str) -> None:
    """Start a job and save all its entries, once.

    :param writer: an open transaction on the record
    :param record: the whole record, as plain data
    :param who: initials of the person who does this
    :param uid: of the new job; the same call again is saved once
    """
    if writer.start(record["job"], who, uid, new=False).again:  # with all its entries
        return
    cursor = writer.cursor(record["job"]["number"])
    for entry in record["entries"]:
        body = {k: entry.get(k, "") for k in ("title", "remark", "when", "condition", "inputs", "result")}
        body["phase"] = get(entry["working"]).phase
        entry_who = entry.get("who") or who or record["job"]["done_by"]
        writer.append(cursor, NewLine("entry", entry_who, body, form=entry["working"]))


def new_number(number: str | None) -> str | None:
    """The number that an imported job gets instead of its own.  Raises BadInput."""
    problems: list[Problem] = []
    if number is not None:
        number = validation.line_of_text(number, "number", problems, longest=80)
    if problems:
        raise BadInput(problems)
    return number


def judged_lines(job: Job, number: str | None, who: str, now: Callable[[], str]) -> importing.Judged:
    """Validate every line as if it were written now, before the record is locked.  Raises NotAJob or Refused.

    :param job: the job, read from its lines
    :param who: initials of the person who does this
    :param now: gives date and time, in ISO form
    """
    with importing.in_memory() as connection:
        writer = LineWriter(connection, now)
        writer.insert_job(job.uid, {"number": number or job.number})
        cursor = writer.cursor(number or job.number)
        cursor.forced, cursor.watch = number or "", importing.Watch()
        for line in job.lines:
            new = NewLine(line.kind, line.who, line.body, line.uid, line.about, line.form, line.at, line.program)
            kept = writer.append(cursor, new, imported=line)
            if kept.n != line.n or kept.again:
                raise NotAJob(f"line {line.n} is in the file twice")
        if cursor.forced and cursor.forced != job.number:
            because = f"imported as {number}; its own number was {job.number}"
            writer.append(cursor, NewLine("header", who, {"fields": {"number": number}, "because": because}))
        return importing.rows_of(connection)


def write_import(
    writer: LineWriter, job: Job, judged: importing.Judged, pictures: Mapping[str, bytes], number: str
) -> Imported:
    """Copy the validated lines that the record does not have yet.

    :param writer: an open transaction on the record
    :param job: the job, read from its lines
    :param judged: the validated lines
    :param pictures: hash of a photograph to its bytes
    :raises Refused: the record has this job with other lines
    """
    c = writer.connection
    writer.lock_numbers()
    t, n = schema.job.c, schema.line.c
    there = c.execute(sa.select(t.id, t.number).where(t.uid == job.uid).with_for_update()).first()
    writer.require_free_number(number if there is None else judged.job["number"], but=there and there.id)
    if there is None:
        writer.insert_job(job.uid, {"number": number})
    job_id = c.execute(sa.select(t.id).where(t.uid == job.uid)).scalar_one()
    mine = c.execute(sa.select(n.n, n.digest, n.form).where(n.job == job_id).order_by(n.n)).all()
    for a, b in zip(mine, job.lines, strict=False):
        if a.digest != b.digest:
            raise Refused(
                f"job {job.number} already exists here and differs from line {a.n} onward "
                f"({a.form[:60]} here, {b.title[:60]} in the file); nothing was imported"
            )
    if there is not None and len(mine) >= len(job.lines):
        return Imported(str(there.number), 0)
    for digest, content in pictures.items():
        writer.save_picture(digest, content)
    importing.write(c, judged, job_id, len(mine) + 1)
    return Imported(str(judged.job["number"]), len(judged.lines) - len(mine))
