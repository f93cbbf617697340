"""Drafts: what was typed into a form and not yet saved to a job.

A draft belongs to one desk, one job (or none yet) and one form.  The table holds only a hash of the desk's name, so
that nobody who reads one draft can find the others by name.  Version 1 of the record did not store the desk of a
job's draft: such a draft (desk ``?``) is restored at every desk that has none of its own.

Parameters that have one meaning in all functions:

- ``desk``: name of the desk, which has its own drafts
- ``c``: an open connection to the record
- ``job``: key of the job's drafts: its uid, or empty
"""

from __future__ import annotations

import hashlib
import json
from typing import Any, NamedTuple

import sqlalchemy as sa

from shoplib.record import schema
from shoplib.record.receipt import no_such_job

UNKNOWN = "?"
_t = schema.draft.c


class Draft(NamedTuple):
    """What was typed on a screen, and when it was saved."""

    inputs: dict[str, Any]
    saved_at: str


def key(desk: str) -> str:
    """The key under which a desk's drafts are stored."""
    return hashlib.sha256(desk.encode("utf-8", "replace")).hexdigest() if desk else ""


def job_key(c: sa.Connection, number: str | None) -> str:
    """The key of a job's drafts: its uid; none before a job was chosen.

    :param number: of the job; None: none was chosen
    :raises NoSuchJob: no job of that number
    """
    if number is None:
        return ""
    uid = c.scalar(sa.select(schema.job.c.uid).where(schema.job.c.number == number))
    if uid is None:
        raise no_such_job(number)
    return str(uid)


def read(inputs: Any) -> dict[str, Any] | None:
    """The inputs in a draft; None when they cannot be read.

    :param inputs: as they were saved, in JSON
    """
    try:
        found = json.loads(inputs)
    except (ValueError, TypeError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


def save(c: sa.Connection, desk: str, job: str, form: str, inputs: str, saved_at: str) -> None:
    """The last one wins.

    :param form: name of the working, or of the kind of line
    :param inputs: of the form, as JSON
    :param saved_at: date and time, in ISO form
    """
    from sqlalchemy.dialects import postgresql, sqlite

    insert = postgresql.insert if c.dialect.name == "postgresql" else sqlite.insert
    said = {"inputs": inputs, "saved_at": saved_at}
    new = insert(schema.draft).values(desk=key(desk), job=job, form=form, **said)
    c.execute(new.on_conflict_do_update(index_elements=["desk", "job", "form"], set_=said))


def find(c: sa.Connection, desk: str, job: str, form: str | None = None) -> dict[str, Draft]:
    """Form to draft: the desk's own, else one of an unknown desk.  One that cannot be read is ignored.

    :param form: name of one form; None: all
    """
    wanted = [_t.desk.in_((key(desk), UNKNOWN)), _t.job == job, *([] if form is None else [_t.form == form])]
    found: dict[str, Draft] = {}
    for row in c.execute(sa.select(schema.draft).where(*wanted).order_by(_t.desk != UNKNOWN)):
        inputs = read(row.inputs)
        if inputs is not None:
            found[row.form] = Draft(inputs, row.saved_at)
    return found


def drop(c: sa.Connection, desk: str, job: str, form: str) -> None:
    """Delete a draft, and one of an unknown desk that it replaced.

    :param form: name of the working, or of the kind of line
    """
    c.execute(schema.draft.delete().where(_t.desk.in_((key(desk), UNKNOWN)), _t.job == job, _t.form == form))


def left(c: sa.Connection, desk: str) -> bool:
    """Whether a desk has any draft."""
    return c.execute(sa.select(_t.form).where(_t.desk == key(desk)).limit(1)).first() is not None


def rename(c: sa.Connection, old: str, new: str) -> None:
    """Move the drafts of a renamed desk; drafts that the new name already has are not replaced.

    :param old: the desk's name up to now
    :param new: its new name
    """
    mine = schema.draft.alias()
    there = sa.exists().where(mine.c.desk == key(new), mine.c.job == _t.job, mine.c.form == _t.form)
    c.execute(schema.draft.update().where(_t.desk == key(old), ~there).values(desk=key(new)))
