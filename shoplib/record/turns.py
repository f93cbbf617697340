"""Writers to one SQLite file take turns, in the order in which they came.

SQLite gives its write lock to whoever asks at the right moment.  Between many writers one can wait a long time, and
one that has just written often gets it again.  Here each writer draws a ticket from a small file beside the record
and waits until nobody with a lower ticket is left.  A ticket is a lock on one byte, so the system ends it with its
process.  The queue only orders the writers: SQLite's own lock still protects the record.  Without the file (another
system, a folder of somebody else) writers ask SQLite at random moments instead.

The file also contains the ticket that had its turn last.  A writer pauses longer, the more tickets are before its own:
many writers that ask often take the processor from the one that writes.  A wrong number there only changes a pause.
"""

from __future__ import annotations

import contextlib
import os
import random
import threading
import time
from collections.abc import Iterator
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

COUNTER = 8  # bytes at the beginning: the last ticket drawn; byte 0 is locked while one draws
SERVED = 8  # where 8 bytes contain the last ticket that had its turn
FIRST = 16  # where the bytes of the tickets begin
LAST = 2**62  # a counter beyond it is damaged
NAP = 0.0003  # seconds between two questions of the next writer
PER_TICKET = 0.0005  # seconds longer for each ticket before it; one entry takes longer than that
LONGEST = 0.02  # seconds


def nap(before: int = 0) -> None:
    """A short pause of random length, so that several programs do not ask at the same moment.

    :param before: how many writers are before this one
    """
    pause = min(NAP + PER_TICKET * max(0, before), LONGEST)
    time.sleep(random.uniform(0.5 * pause, 1.5 * pause))  # noqa: S311 -- no secret


class Turns:
    """The queue of one record, as this program takes part in it."""

    def __init__(self, record: Path) -> None:
        self.path = record.with_name(record.name + "-queue")
        self._one_thread = threading.Lock()  # locks on bytes are of a process, not of a thread
        self._file: int | None = None
        self._of = 0  # the process that opened the file: a child of it opens it again

    @contextlib.contextmanager
    def turn(self, until: float) -> Iterator[None]:
        """Wait for this writer's turn, at most until that time; then go on in any case.

        :param until: s, on the monotonic clock
        """
        got = self._one_thread.acquire(timeout=max(0.0, until - time.monotonic()))
        try:
            ticket = self._draw(until) if got and fcntl is not None else None
            try:
                while ticket is not None and self._others_before(ticket) and time.monotonic() < until:
                    nap(ticket - FIRST - 1 - self._served())
                if ticket is not None:
                    self._note_served(ticket)
                yield
            finally:
                if ticket is not None:
                    self._unlock(1, ticket)
        finally:
            if got:
                self._one_thread.release()

    def close(self) -> None:
        """Close the file."""
        if self._file is not None and self._of == os.getpid():
            os.close(self._file)
        self._file = None

    def _open(self) -> int:
        if self._file is None or self._of != os.getpid():
            self._file = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o600)
            self._of = os.getpid()
        return self._file

    def _draw(self, until: float) -> int | None:
        """The next ticket, as the byte that is locked for it.  None where there is no queue."""
        try:
            file = self._open()
            while not self._lock(1, 0):
                if time.monotonic() > until:
                    return None
                nap()
            try:
                last = int.from_bytes(os.pread(file, COUNTER, 0), "little")
                number = last + 1 if last < LAST else 1
                os.pwrite(file, number.to_bytes(COUNTER, "little"), 0)
                ticket = FIRST + number
                return ticket if self._lock(1, ticket) else None
            finally:
                self._unlock(1, 0)
        except OSError:  # no such folder, no right to write in it, a full disk
            return None

    def _served(self) -> int:
        assert self._file is not None
        with contextlib.suppress(OSError):
            return int.from_bytes(os.pread(self._file, 8, SERVED), "little")
        return 0

    def _note_served(self, ticket: int) -> None:
        assert self._file is not None
        with contextlib.suppress(OSError):
            os.pwrite(self._file, (ticket - FIRST).to_bytes(8, "little"), SERVED)

    def _others_before(self, ticket: int) -> bool:
        try:
            free = self._lock(ticket - FIRST, FIRST)
            if free:
                self._unlock(ticket - FIRST, FIRST)
        except OSError:
            return False
        return not free

    def _lock(self, length: int, start: int) -> bool:
        assert self._file is not None
        try:
            fcntl.lockf(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB, length, start)
        except (BlockingIOError, PermissionError):  # both, by system
            return False
        return True

    def _unlock(self, length: int, start: int) -> None:
        assert self._file is not None
        with contextlib.suppress(OSError):
            fcntl.lockf(self._file, fcntl.LOCK_UN, length, start)
