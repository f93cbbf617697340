"""A commit is forced to the disk after its locks are released, and before it is acknowledged.

Forcing takes longer than everything else that saves an entry.  While one writer waits for the disk, the next one may
already write; and one forced write serves all that wrote before it.  The promise is the same: a call returns only when
its lines are on the disk.  Lines are on the disk in the order of their commits, so nobody's line is there without
those that it builds on.  Until a call returns, others may read a line that a power cut could still take away.

SQLite (Linux): the write-ahead log is not forced by COMMIT (``synchronous = NORMAL``), which cannot damage the file,
but by :func:`force`.  Another system keeps ``synchronous = FULL``.  PostgreSQL: the commit is asynchronous.  The next
one, of an empty message to the log, is not: it waits until the log up to itself is on the disk.  Both are sent to the
server together.

Parameters that have one meaning in all functions:

- ``connection``: an open connection to the record
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import sys
from collections.abc import Iterator

import sqlalchemy as sa

from shoplib.record.errors import Failing

POSSIBLE = sys.platform == "linux"
NOT_FORCED = "SET LOCAL synchronous_commit = off"  # of this transaction of PostgreSQL
_COMMIT = "COMMIT; SELECT pg_logical_emit_message(true, 'shoplib', '')"
_LOG = "log of this commit"


def begun(connection: sa.Connection, path: str) -> None:
    """A transaction of SQLite has begun: open its log now, so that an error of the disk from here on is reported.

    :param path: of the file of the record
    """
    if POSSIBLE:
        connection.info[_LOG] = os.open(f"{path}-wal", os.O_RDONLY)


@contextlib.contextmanager
def settings(connection: sa.Connection) -> Iterator[None]:
    """Give the connection back as it was."""
    try:
        yield
    finally:
        log = connection.info.pop(_LOG, None)
        if log is not None:
            os.close(log)
        raw = None if connection.invalidated else connection.connection.driver_connection
        if isinstance(raw, sqlite3.Connection) and not raw.in_transaction:
            raw.execute("PRAGMA synchronous = FULL")


def commit(connection: sa.Connection) -> None:
    """Commit on PostgreSQL, and wait until it is on the disk; on SQLite that follows, see :func:`force`."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(_COMMIT)


def force(connection: sa.Connection) -> None:
    """Wait until what this connection has committed to SQLite is on the disk.  Raises Failing."""
    raw = connection.connection.driver_connection
    if POSSIBLE and isinstance(raw, sqlite3.Connection):
        _force_log(raw, connection.info[_LOG])


def _force_log(raw: sqlite3.Connection, log: int) -> None:
    try:
        os.fdatasync(log)
    except OSError as error:
        # The system may now take the lost pages for written.  Copying them into the record writes them again.
        raw.execute("PRAGMA synchronous = FULL")
        busy, pages, copied = raw.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        if busy or pages != copied:
            raise Failing(f"the disk did not take what was written ({error.strerror})") from error
