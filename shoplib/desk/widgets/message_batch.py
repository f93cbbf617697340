"""Text that is sent in the message of another widget, so that the browser shows both in one frame.

Sent alone, a moment earlier, the text would use one frame, and the picture would wait for the next.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator
from contextvars import ContextVar
from typing import Any

import ipywidgets as W

Load = dict[str, dict[str, Any]]  # model id -> its changes
_load: ContextVar[Load | None] = ContextVar("load", default=None)


@contextlib.contextmanager
def carrying() -> Iterator[Load]:
    """Collect the changes of BatchedWidget; another widget sends them (``livefigure.js`` applies them)."""
    load: Load = {}
    token = _load.set(load)
    try:
        yield load
    finally:
        _load.reset(token)


class BatchedWidget(W.Widget):
    """A widget whose changes can be sent with another widget's."""

    def send_state(self, key: str | Iterable[str] | None = None) -> None:
        """Send to the browser at once, or add to the collected changes."""
        load = _load.get()
        if load is None:
            super().send_state(key)
        else:
            load.setdefault(self.model_id, {}).update(self.get_state(key))


class BatchedHTML(BatchedWidget, W.HTML):
    """HTML that can be sent with another widget."""
