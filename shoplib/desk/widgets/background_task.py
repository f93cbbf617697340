"""Long work in a worker thread, so that the page stays responsive.

A :class:`Runner` starts work in answer to a UI event.  A result within ``PATIENCE`` is shown at once, as after a
direct call.  Longer work continues in a worker thread: the page shows the progress and a **Stop** button, a new start
stops the old one, and the result returns through the kernel's event loop.  If the caller waits for the result anyway
(a running cell, a test, a script), the work is called directly.

The work reports its progress by :func:`shoplib.core.progress.step`.  Work that never reports cannot be stopped; its
result can only be ignored.
"""

from __future__ import annotations

import asyncio
import contextlib
import contextvars
import sys
import threading
import time
from collections.abc import Callable
from typing import Any

import ipywidgets as W

from shoplib.core import progress
from shoplib.desk import STATIC
from shoplib.desk.widgets.escape_html import e

CSS = (STATIC / "running.css").read_text(encoding="utf-8")
PATIENCE = 0.4  # seconds before the page says that it is working
EVERY = 0.2  # seconds between two progress messages


def event_loop() -> asyncio.AbstractEventLoop | None:
    """The kernel's event loop while it serves a UI event; None if the caller waits for the result."""
    shell = sys.modules["IPython"].get_ipython() if "IPython" in sys.modules else None
    kernel = getattr(shell, "kernel", None)
    if kernel is None or kernel.get_parent().get("header", {}).get("msg_type") != "comm_msg":
        return None
    try:
        return asyncio.get_running_loop()
    except RuntimeError:
        return None


def _later(loop: asyncio.AbstractEventLoop, call: Callable[[], None]) -> None:
    """Call it from the loop; a closed loop no longer has a page."""
    with contextlib.suppress(RuntimeError):
        loop.call_soon_threadsafe(call)


class _Run:
    """One run of the work, in its own thread."""

    def __init__(self, work: Callable[[], Any], told: Callable[[progress.Progress], None]) -> None:
        self.stop = threading.Event()
        self.value: Any = None
        self.error: BaseException | None = None
        self._work, self._told = work, told
        self._lock = threading.Lock()
        self._done = threading.Event()
        self._when_done: Callable[[], None] = lambda: None
        self._next, self._what = 0.0, ""
        context = contextvars.copy_context()
        threading.Thread(target=context.run, args=(self._body,), daemon=True, name="shoplib work").start()

    def _body(self) -> None:
        try:
            with progress.listening(self._hear):
                self.value = self._work()
        except BaseException as error:  # noqa: BLE001 -- raised again in the thread of the caller
            self.error = error
        with self._lock:
            self._done.set()
            self._when_done()

    def _hear(self, how_far: progress.Progress) -> None:
        if self.stop.is_set():
            raise progress.Stopped
        now = time.monotonic()
        if now >= self._next or how_far.what != self._what:
            self._next, self._what = now + EVERY, how_far.what
            self._told(how_far)

    def done_within(self, seconds: float) -> bool:
        return self._done.wait(seconds)

    def when_done(self, call: Callable[[], None]) -> None:
        """Call it when the work is done, or now if it is already done; from the worker thread."""
        with self._lock:
            self._when_done = call
            if self._done.is_set():
                call()


class Runner(W.Box):
    """``run(work, then)``: ``then`` receives the result of ``work``.  Visible only during the work, or after a stop."""

    def __init__(self, loop: Callable[[], asyncio.AbstractEventLoop | None] = event_loop) -> None:
        self._loop = loop
        self._current: _Run | None = None
        self._again: Callable[[], None] = lambda: None
        self.told = W.HTML()
        self.button = W.Button(description="Stop")
        self.button.on_click(self._pressed)
        super().__init__([self.told, self.button])
        self.add_class("shop-running")
        self.layout.display = "none"

    @property
    def working(self) -> bool:
        """Whether a result is still to come."""
        return self._current is not None

    def run(self, work: Callable[[], Any], then: Callable[[Any], None], slow: Callable[[], None] | None = None) -> None:
        """Start the work; an older run is stopped and its result is discarded.

        ``slow`` is called if the result will come later: the shown answer is then out of date.
        """
        self._leave()
        loop = self._loop()
        if loop is None:
            then(work())
            return
        self._again = lambda: self.run(work, then, slow)

        def told(how_far: progress.Progress) -> None:
            _later(loop, lambda: self._tell(run, how_far))

        run = self._current = _Run(work, told)
        if run.done_within(PATIENCE):
            self._arrived(run, then)
            return
        self._show("working …", "Stop")
        if slow is not None:
            slow()
        run.when_done(lambda: _later(loop, lambda: self._arrived(run, then)))

    def _leave(self) -> None:
        if self._current is not None:
            self._current.stop.set()
            self._current = None
        self.layout.display = "none"

    def _arrived(self, run: _Run, then: Callable[[Any], None]) -> None:
        if run is not self._current:
            return
        self._leave()
        if isinstance(run.error, progress.Stopped):
            self._show("Stopped before it finished. No result is shown.", "Calculate again")
        elif run.error is not None:
            raise run.error
        else:
            then(run.value)

    def _tell(self, run: _Run, how_far: progress.Progress) -> None:
        if run is self._current and not run.stop.is_set():
            self._show(f"working … {how_far}", "Stop", how_far.share)

    def _pressed(self, _: Any) -> None:
        if self._current is None:
            self._again()
            return
        self._current.stop.set()
        self._show("stopping …", "Stop")
        self.button.disabled = True

    def _show(self, text: str, button: str, share: float | None = None) -> None:
        bar = "" if share is None else f'<progress max="1" value="{share:.3f}" aria-hidden="true"></progress>'
        self.told.value = f'<style>{CSS}</style><div role="status">{e(text)}</div>{bar}'
        self.button.description, self.button.disabled = button, False
        self.layout.display = ""
