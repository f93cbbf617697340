"""Signing a job and issuing its sheet, within one transaction.

Parameters that have one meaning in all functions:

- ``writer``: an open transaction on the record
- ``number``: of the job
- ``who``: initials of the person who does this
- ``uid``: of the new line, so that a repeated call saves one; None makes one
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from shoplib.record.errors import Refused
from shoplib.record.job import ISSUED, SUBSTANCE, Job
from shoplib.record.line_writer import LineWriter, NewLine, letter_after
from shoplib.record.receipt import Receipt


def sign(writer: LineWriter, number: str, *, who: str, role: str, seen: int | None, uid: str | None) -> Receipt:
    """Sign for all present entries; the same call again is saved once.

    :param role: as what: technician, checked_by, customer
    :param seen: number of the last line that the person saw; None: any
    """
    cursor = writer.cursor(number)
    job = writer.job(cursor.id, cursor.uid)
    for line in job.lines:
        if line.uid == uid and line.kind == "sign":
            return Receipt(line.uid, line.n, line.at, again=True)
    _require_seen(job, seen, SUBSTANCE)
    return writer.append(cursor, NewLine("sign", who, {"role": role, "covers": cursor.lines}, uid))


def issue(
    writer: LineWriter, number: str, *, who: str, record: str, recipient: str, seen: int | None, uid: str | None
) -> tuple[str, list[str]]:
    """The letter of the sheet, and what changed since the previous one; without changes it keeps its letter.

    :param record: seal of the record that the sheet was made from
    :param recipient: to whom the sheet goes
    :param seen: number of the last line that the person saw; None: any
    """
    cursor = writer.cursor(number)
    job = writer.job(cursor.id, cursor.uid)
    last = job.issues[-1] if job.issues else None
    covered = last.body.get("covers", 0) if last else 0
    changed = [line for line in job.lines if line.kind in ISSUED and line.n > covered]
    if last is not None and (not changed or last.uid == uid):
        return str(last.body.get("letter", "")), list(last.body.get("changes", []))
    _require_seen(job, seen, ISSUED)
    letter = letter_after(len(job.issues))
    changes = job.changes(covered) if last else []
    body = {"letter": letter, "covers": cursor.lines, "record": record, "changes": changes, "recipient": recipient}
    writer.append(cursor, NewLine("issue", who, body, uid))
    return letter, changes


def keep_print(
    writer: LineWriter, number: str, *, issue: str, who: str, paper: str, extent: str, pdf: bytes, uid: str | None
) -> str:
    """Keep the bytes of an issued sheet; the hash of those that were kept first.

    :param issue: uid of the line that issued the sheet
    :param paper: A4 or letter
    :param extent: which pages: all of them, or the customer's
    :param pdf: the bytes of the sheet
    """
    cursor = writer.cursor(number)
    kept = writer.job(cursor.id, cursor.uid).printed(issue, paper, extent)
    if kept is not None:
        return kept
    digest = hashlib.sha256(pdf).hexdigest()
    writer.save_picture(digest, pdf)
    body = {"paper": paper, "extent": extent, "sheet": digest}
    writer.append(cursor, NewLine("print", who, body, uid, issue))
    return digest


def _require_seen(job: Job, seen: int | None, kinds: Sequence[str]) -> None:
    """Refuse if the job has lines that the person who signs has not seen."""
    unseen = [] if seen is None else [line for line in job.lines if line.n > seen and line.kind in kinds]
    if unseen:
        raise Refused(f"the job changed after you opened it: {unseen[-1].name}. Read it again before you sign.")
