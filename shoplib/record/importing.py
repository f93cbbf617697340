"""Import of an exported job: every line is validated before the record is locked, then all are written at once.

The lines are first appended to an empty record in memory, by the same code and rules as everywhere.  Only if that
succeeds are its rows copied, in one short transaction.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from shoplib.record import ledger, schema
from shoplib.record.job import Line


@dataclass
class Watch:
    """The state of a job, updated with each line; without it each line would read the whole job again."""

    header: dict[str, Any] = field(default_factory=dict)
    issues: int = 0
    stale: set[str] = field(default_factory=set)  # current entries with a source that was corrected or struck out
    _roots: dict[str, str] = field(default_factory=dict)
    _gone: set[str] = field(default_factory=set)
    _used_by: dict[str, list[str]] = field(default_factory=dict)

    def add(self, line: Line) -> None:
        """The next line.

        :param line: a line of the record
        """
        if line.kind == "header":
            self.header |= line.body["fields"]
        self.issues += line.kind == "issue"
        if line.kind not in ("entry", "note", "tick", "strike"):
            return
        if line.about is not None:
            self._gone.add(line.about)
            self.stale.discard(line.about)
            self.stale.update(x for x in self._used_by.get(line.about, ()) if x not in self._gone)
            if line.kind != "strike":
                self._roots[line.uid] = self.root(line.about)
        for source in line.body.get("sources", ()):
            self._used_by.setdefault(source, []).append(line.uid)
            if source in self._gone:
                self.stale.add(line.uid)

    def root(self, uid: str) -> str:
        """The first line of a chain of corrections.

        :param uid: of any line of the chain
        """
        return self._roots.get(uid, uid)


@contextmanager
def in_memory() -> Iterator[sa.Connection]:
    """An empty record in memory."""
    engine = sa.create_engine("sqlite://", poolclass=sa.pool.StaticPool)
    try:
        with engine.connect() as c:
            schema.create(c)
            yield c
    finally:
        engine.dispose()


@dataclass(frozen=True)
class Judged:
    """A validated job: its row and the rows of its lines, by their number in the job."""

    job: Mapping[str, Any]
    lines: Sequence[Mapping[str, Any]]


def rows_of(c: sa.Connection) -> Judged:
    """The one job in a record in memory.

    :param c: an open connection to the record
    """
    job = c.execute(sa.select(schema.job)).one()._asdict()
    lines = [r._asdict() for r in c.execute(sa.select(schema.line).order_by(schema.line.c.n))]
    numbers = {x["id"]: x["n"] for x in lines}
    for x in lines:
        x["about"] = numbers.get(x["about"])
    return Judged(job, lines)


def write(c: sa.Connection, judged: Judged, job_id: int, first: int) -> None:
    """Add the lines from number ``first`` on to the job of that id, and set its row.  The caller holds its lock.

    :param c: an open connection to the record
    :param judged: the validated lines
    :param job_id: key of the job's row in the table of jobs
    :param first: number of the first line that is new
    """
    t = schema.line.c
    ids: dict[Any, int] = {r.n: r.id for r in c.execute(sa.select(t.n, t.id).where(t.job == job_id))}
    new = [x for x in judged.lines if x["n"] >= first]
    ids |= dict(zip((x["n"] for x in new), _free_ids(c, len(new)), strict=True))
    rows = [{**x, "id": ids[x["n"]], "job": job_id, "about": ids.get(x["about"])} for x in new]
    c.execute(schema.line.insert(), rows)
    values = {k: v for k, v in judged.job.items() if k not in ("id", "uid", "last")} | {"last": rows[-1]["id"]}
    c.execute(schema.job.update().where(schema.job.c.id == job_id).values(values))
    uid, number = judged.job["uid"], judged.job["number"]
    ledger.append(c, [ledger.Row(uid, number, x["n"], x["digest"]) for x in new])


def _free_ids(c: sa.Connection, count: int) -> list[int]:
    """This many ids for lines, in order."""
    if c.dialect.name == "postgresql":
        query = "SELECT nextval(pg_get_serial_sequence('line', 'id')) FROM generate_series(1, :count)"
        return sorted(c.scalars(sa.text(query), {"count": count}))
    last = c.scalar(sa.select(sa.func.max(schema.line.c.id))) or 0
    return list(range(last + 1, last + 1 + count))
