"""One chain over the lines of all jobs, so that a missing job or a missing last line is found.

Each line of each job has a row here: its job, its number in the job, its hash, and a hash over the row before.
Whoever can rewrite the whole database can rewrite this chain too.  Its length and last hash, written down
elsewhere, show that as well.

Parameters that have one meaning in all functions:

- ``c``: an open connection to the record
"""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import sqlalchemy as sa

from shoplib.record import schema
from shoplib.record.errors import Damaged

START = hashlib.sha256(b"").hexdigest()
_T = schema.ledger.c
_END = sa.select(_T.n, _T.chain).order_by(_T.n.desc()).limit(1)  # built once: every entry executes them
_CHAIN_AT = sa.select(_T.chain).where(_T.n == sa.bindparam("at"))
_ADD = schema.ledger.insert()
_END_AND_KNOWN = (
    sa.select(_T.n, _T.chain)
    .where((_T.n == sa.bindparam("at")) | (_T.n == sa.select(sa.func.max(_T.n)).scalar_subquery()))
    .order_by(_T.n.desc())
)
_LOCK = f"SELECT pg_advisory_xact_lock({schema.APPLICATION_ID + 2}); "
_TO_CHECK, _ADDED = "ledger as this program knows it", "end of the ledger with what this transaction added"


class Row(NamedTuple):
    """A line that was saved."""

    job: str  # uid
    number: str  # of the job, when the line was saved
    line: int
    digest: str


class End(NamedTuple):
    """How long the chain is, and its last hash."""

    n: int
    chain: str


def end(c: sa.Connection) -> End:
    """The current end of the chain."""
    found = c.execute(_END).first()
    return End(found.n, found.chain) if found else End(0, START)


def begun(c: sa.Connection, known: End, place: str) -> None:
    """A transaction that writes has begun: before it ends, what this program knows of the chain is compared with it.

    :param known: the end of the chain, as this program read or wrote it last
    :param place: the record in messages: its address without a password
    """
    c.info.pop(_ADDED, None)
    c.info[_TO_CHECK] = known, place


def ends(c: sa.Connection) -> None:
    """Compare now, where nothing was added to the chain.

    :raises Damaged: lines that this program saved or read before are missing
    """
    known, place = c.info.pop(_TO_CHECK, (End(0, START), ""))
    still_there(c, known, place)


def added(c: sa.Connection) -> End | None:
    """The new end of the chain, if the transaction added to it."""
    end: End | None = c.info.pop(_ADDED, None)
    return end


def append(c: sa.Connection, rows: Sequence[Row]) -> None:
    """Add these lines to the chain, one transaction at a time.

    :param rows: the lines that were saved, in order
    :raises Damaged: lines that this program saved or read before are missing
    """
    last, values = c.info.get(_ADDED) or _checked_end(c), []
    for row in rows:
        last = End(last.n + 1, follow(last, row))
        values.append({"n": last.n, **row._asdict(), "chain": last.chain})
    c.execute(_ADD, values)
    c.info[_ADDED] = last


@functools.cache
def _locked_end_and_known(dialect: sa.Dialect) -> str:
    """The lock and ``_END_AND_KNOWN`` as one text with the place of a number in it, ``%(at)s``.

    They are sent together; the second sees what was committed while the first waited. Two statements in one text have
    no parameters on the server.
    """
    return _LOCK + str(_END_AND_KNOWN.compile(dialect=dialect))


def _checked_end(c: sa.Connection) -> End:
    """The end of the chain, which nobody else moves until this transaction ends."""
    known, place = c.info.pop(_TO_CHECK, (End(0, START), ""))
    if c.dialect.name == "postgresql":
        with c.exec_driver_sql(_locked_end_and_known(c.dialect) % {"at": int(known.n)}) as answers:
            assert answers.cursor is not None
            answers.cursor.nextset()
            found = [End(*row) for row in answers.cursor.fetchall()]
    else:  # SQLite has one writer anyway
        found = [End(row.n, row.chain) for row in c.execute(_END_AND_KNOWN, {"at": known.n})]
    if known.n and known not in found:
        raise _missing(known, place)
    return found[0] if found else End(0, START)


def follow(last: End, row: Row) -> str:
    """The hash of the row after ``last``.

    :param last: the end of the chain before it
    :param row: the line that was saved
    """
    text = f"{last.chain}\n{last.n + 1}\n{row.job}\n{row.number}\n{row.line}\n{row.digest}"
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()


def still_there(c: sa.Connection, known: End, place: str) -> None:
    """Raise Damaged when lines that this program saved or read before are missing.

    :param known: the end of the chain, as this program read or wrote it last
    :param place: the record in messages: its address without a password
    """
    if known.n and c.scalar(_CHAIN_AT, {"at": known.n}) != known.chain:
        raise _missing(known, place)


def _missing(known: End, place: str) -> Damaged:
    return Damaged(
        f"{place}: lines that this program read before are missing or altered ({known.n} lines, last hash "
        f"{known.chain[:12]}). Nothing was saved. Stop work and find out who altered the record."
    )


def broken(c: sa.Connection) -> Iterator[str]:
    """What is wrong with the chain itself."""
    t = schema.ledger.c
    last = End(0, START)
    for found in c.execute(sa.select(t.n, t.job, t.number, t.line, t.digest, t.chain).order_by(t.n)):
        row = Row(found.job, found.number, found.line, found.digest)
        if found.n != last.n + 1:
            yield f"ledger: rows from {last.n + 1} on are missing"
        elif follow(last, row) != found.chain:
            yield f"ledger: row {found.n} (job {found.number}, line {found.line}) was altered outside this program"
        last = End(found.n if isinstance(found.n, int) else last.n + 1, str(found.chain))
