"""The connection of the store to its database: opening, transactions, and what is known when an answer is lost."""

from __future__ import annotations

import contextlib
import datetime
import hashlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Self, TypeVar

import sqlalchemy as sa

from shoplib.core.errors import ShoplibError
from shoplib.record import checking, database, group_commit, ledger, schema
from shoplib.record.asking import may_be_saved, settled
from shoplib.record.config import default_place
from shoplib.record.errors import Damaged, ReadOnly, StoreError, Uncertain
from shoplib.record.line_writer import LineWriter, NewLine, checked
from shoplib.record.receipt import Receipt

T = TypeVar("T")


class StoreConnection:
    """An open record: reading and writing, each in one transaction that is saved whole or not at all."""

    def __init__(
        self, engine: sa.Engine, *, wait: float, clock: Callable[[], datetime.datetime], opened: database.Opened
    ) -> None:
        self.place = opened.place
        self.read_only = opened.read_only  # it can be read, not written
        self.caution = opened.caution  # what the user should know about this connection, or ""
        self._version = opened.version  # older than the current one only if read-only
        self._engine, self.wait, self._clock = engine, wait, clock
        self._zone: datetime.timedelta | None = None  # of local time from UTC, when the clock was last read
        self._writer = engine.execution_options(writes=True, grouped=True)  # lock first, then read
        self._known = ledger.End(0, ledger.START)  # the end of the ledger as this program last read it
        self._reader = checking.JobReader()

    @classmethod
    def open(
        cls,
        where: str | Path | None = None,
        *,
        wait: float = 10.0,
        clock: Callable[[], datetime.datetime] = lambda: datetime.datetime.now().astimezone(),
    ) -> Self:
        """Open the record, or create it if missing: a file name, or ``postgresql://user@host/database``.

        Without ``where``: the environment variable SHOPLIB_STORE, or a file in the user's data folder.
        ``wait``: seconds to wait for another program.  Raises StoreError.

        :param where: the file's name, or the URL of a server; None: the usual place
        :param wait: s, how long a lock is waited for
        :param clock: gives the present time
        """
        url = database.url_of(where if where is not None else default_place())
        opened = database.opened(url, wait)
        return cls(opened.engine, wait=wait, clock=clock, opened=opened)

    def close(self) -> None:
        """Close the connections to the database."""
        self._engine.dispose()

    def __enter__(self) -> Self:
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
            raise ReadOnly(f"{self.place}: {database.READ_ONLY}. {database.NOTHING_SAVED}")
        committing, committed, end = False, False, None
        try:
            with (
                database.in_words(self.place, self.wait),
                self._writer.connect() as connection,
                group_commit.settings(connection),
            ):
                with connection.begin():
                    ledger.begun(connection, self._known, self.place)
                    try:
                        yield connection
                    except ShoplibError:  # that lines are missing may be the reason, and is worse
                        ledger.ends(connection)
                        raise
                    ledger.ends(connection)
                    end = ledger.added(connection)
                    committing = True
                    group_commit.commit(connection)
                committed = True
                group_commit.force(connection)
        except StoreError as error:
            if committed or (committing and may_be_saved(error)):
                raise Uncertain(database.unknown(error)) from error
            raise
        if end is not None:  # now it is on the disk
            self._known = max(self._known, end, key=lambda known: known.n)

    @contextlib.contextmanager
    def _appending(self) -> Iterator[LineWriter]:
        with self._writing() as connection:
            yield LineWriter(connection, self._now, self._reader, self._offset)

    def _add(self, number: str, new: NewLine) -> Receipt:
        """One line, in a transaction of its own; what needs no lock is done before it."""
        line = checked(new)
        with self._appending() as writer:
            return writer.append(writer.cursor(number), line)

    def _settled(self, write: Callable[[LineWriter], T]) -> T:
        """One transaction that may be repeated; retried while it is not known whether it was saved."""

        def attempt() -> T:
            with self._appending() as writer:
                return write(writer)

        return settled(attempt, self.wait)

    def _offset(self) -> str:
        """The offset of local time from UTC when the clock was last read, as +01:00; "" where there is none."""
        minutes = round((self._zone or datetime.timedelta()).total_seconds() / 60)
        return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}" if minutes else ""

    def _now(self) -> str:
        local = self._clock()
        self._zone, now = local.utcoffset(), local.astimezone(datetime.UTC)
        return now.strftime("%Y-%m-%dT%H:%M:%S.") + f"{now.microsecond // 1000:03d}Z"

    def picture(self, digest: str) -> bytes:
        """The JPEG of that hash: ``body["picture"]`` or, for print, ``body["thumb"]`` of a photo line.

        :param digest: SHA-256, in hexadecimal
        :raises Damaged: the photograph is missing, or does not have this hash
        """
        content = self._content(digest)
        if content is None or hashlib.sha256(content).hexdigest() != digest:
            raise Damaged(f"{self.place}: the photograph {digest[:12]}… is missing or was altered")
        return content

    def _content(self, digest: str) -> bytes | None:
        """The bytes that are kept under a hash, unchecked; None where there are none."""
        with self._reading() as c:
            found = c.scalar(sa.select(schema.picture.c.content).where(schema.picture.c.digest == digest))
        return None if found is None else bytes(found)
