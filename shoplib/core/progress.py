"""The progress of long work, and stopping it.

Code with a long loop says ``step(done, total, "bolts drawn")`` from time to time.  Without a listener this
does nothing.  Whoever starts the work listens around it::

    with listening(listener):
        working(typed)

The listener gets each :class:`Progress`; to stop the work it raises :class:`Stopped`, which comes out of ``step``.
The listener is held by the context, so that two threads, or two tasks, do not hear each other.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import TextIO

from shoplib.core.errors import ShoplibError


class Stopped(ShoplibError):
    """The work was stopped on purpose, before it was done; nothing of it may be kept."""


@dataclass(frozen=True)
class Progress:
    """How much of the total is done."""

    done: float
    total: float
    what: str = ""

    @property
    def share(self) -> float:
        """From 0 to 1."""
        return min(max(self.done / self.total, 0.0), 1.0) if self.total > 0 else 0.0

    def __str__(self) -> str:
        return f"{int(100 * self.share)} %" + (f" {self.what}" if self.what else "")


Listener = Callable[[Progress], None]
_LISTENER: ContextVar[Listener | None] = ContextVar("listener", default=None)


def step(done: float, total: float, what: str = "") -> None:
    """Report the progress.  Raises Stopped when the listener stops the work.

    :param done: how much is done, in the unit of ``total``
    :param total: how much there is to do
    :param what: is done now, in words; empty for no word
    """
    listener = _LISTENER.get()
    if listener is not None:
        listener(Progress(done, total, what))


@contextmanager
def listening(listener: Listener) -> Iterator[None]:
    """Listen to the work inside.

    :param listener: called with each report; it stops the work by raising Stopped
    """
    token = _LISTENER.set(listener)
    try:
        yield
    finally:
        _LISTENER.reset(token)


@contextmanager
def part(done: float, total: float, what: str = "", *, size: float = 1) -> Iterator[None]:
    """A part of the work, from ``done`` to ``done + size``; steps told inside count as fractions of it.

    :param done: how much is done before this part, in the unit of ``total``
    :param total: how much there is to do
    :param what: is done in this part, in words
    :param size: how much this part is, in the unit of ``total``
    """
    step(done, total, what)
    outer = _LISTENER.get()
    if outer is None:
        yield
        return
    token = _LISTENER.set(lambda p: outer(Progress(done + size * p.share, total, what)))
    try:
        yield
    finally:
        _LISTENER.reset(token)


class TooMuch(ShoplibError):
    """The work asks for more than all parts of it together are allowed."""


_LEFT: ContextVar[list[int] | None] = ContextVar("left", default=None)


@contextmanager
def allowance(amount: int) -> Iterator[None]:
    """Let the work inside spend so much, all parts together, such as random draws.  Outside nothing is counted.

    :param amount: that may be spent
    """
    token = _LEFT.set([amount])
    try:
        yield
    finally:
        _LEFT.reset(token)


def spend(amount: int) -> None:
    """Say what a part of the work costs, before it is done.  Raises TooMuch.

    :param amount: of the part that comes
    """
    left = _LEFT.get()
    if left is not None:
        if amount > left[0]:
            raise TooMuch(f"{amount} random draws are too many for one sheet; use fewer draws per entry")
        left[0] -= amount


@contextmanager
def no_longer_than(seconds: float) -> Iterator[None]:
    """Stop the work inside after so many seconds, at its next step: it raises Stopped.

    :param seconds: how long at most
    """
    outer, end = _LISTENER.get(), time.monotonic() + seconds

    def listen(progress: Progress) -> None:
        if time.monotonic() > end:
            raise Stopped(f"it takes longer than {seconds:g} s")
        if outer is not None:
            outer(progress)

    with listening(listen):
        yield


class TerminalLine:
    """A listener that keeps one line on a terminal, for work that takes longer than ``after`` seconds."""

    def __init__(self, stream: TextIO, *, after: float = 0.5, every: float = 0.1) -> None:
        self.stream, self.every = stream, every
        self._next = time.monotonic() + after
        self._written = 0

    def __call__(self, progress: Progress) -> None:
        """Write the progress, no more often than people can read it."""
        now = time.monotonic()
        if now >= self._next:
            self._next = now + self.every
            self._write(f"working … {progress}  (Ctrl-C stops)")

    def clear(self) -> None:
        """Clear the line."""
        if self._written:
            self._write("")
            self.stream.write("\r")
            self.stream.flush()
            self._written = 0

    def _write(self, text: str) -> None:
        self.stream.write("\r" + text.ljust(self._written))
        self.stream.flush()
        self._written = max(self._written, len(text))


@contextmanager
def on_terminal(stream: TextIO) -> Iterator[None]:
    """Show the work inside on a terminal; into a file or a pipe nothing is written.

    :param stream: where it is written, usually standard error
    """
    if not stream.isatty():
        yield
        return
    line = TerminalLine(stream)
    try:
        with listening(line):
            yield
    finally:
        line.clear()
