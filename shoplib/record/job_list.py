"""The list of jobs, read from the database without reading the jobs."""

from __future__ import annotations

from typing import NamedTuple

import sqlalchemy as sa

from shoplib.record import schema
from shoplib.record.sanitise import fold


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


class JobSummary(NamedTuple):
    """A job in brief."""

    uid: str
    lines: int  # their number


def jobs(c: sa.Connection, search: str, limit: int) -> Jobs:
    """The jobs whose header contains every word of ``search``; last changed first.

    :param c: an open connection to the record
    :param search: words, all of them in the header
    :param limit: how many at most
    """
    t = schema.job.c
    words = [t.search.contains(w, autoescape=True) for w in fold(search[:400]).split()]
    columns = [t.number, t.engine, t.customer_ref, t.complaint, t.done_by, t.date, t.closed, t.issue, t.lines,
               t.changed_at]  # fmt: skip
    rows = c.execute(sa.select(*columns).where(*words).order_by(t.last.desc()).limit(limit)).all()
    count = sa.select(sa.func.count()).select_from(schema.job).where(*words)
    found = len(rows) if len(rows) < limit else c.scalar(count)
    return Jobs([JobRow._make(r) for r in rows], int(found or 0))


def summary(c: sa.Connection, number: str) -> JobSummary | None:
    """The job of that number in brief, or None.

    :param c: an open connection to the record
    :param number: of the job
    """
    t = schema.job.c
    row = c.execute(sa.select(t.uid, t.lines).where(t.number == number)).first()
    return None if row is None else JobSummary._make(row)
