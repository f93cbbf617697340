"""Words that travel in the message of another widget, so that the browser shows both in one frame.

Sent by themselves, a moment earlier, they would take a frame, and what follows would wait for the next.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator
from contextvars import ContextVar
from typing import Any

import ipywidgets as W

Load = dict[str, dict[str, Any]]  # model id -> what is new of it
_load: ContextVar[Load | None] = ContextVar("load", default=None)


@contextlib.contextmanager
def carrying() -> Iterator[Load]:
    """What Carried widgets would send is collected, for somebody else to send (``livefigure.js`` hands it out)."""
    load: Load = {}
    token = _load.set(load)
    try:
        yield load
    finally:
        _load.reset(token)


class Carried(W.Widget):
    """A widget whose changes can travel with another's."""

    def send_state(self, key: str | Iterable[str] | None = None) -> None:
        """To the browser at once, or into the load that is being collected."""
        load = _load.get()
        if load is None:
            super().send_state(key)
        else:
            load.setdefault(self.model_id, {}).update(self.get_state(key))


class Words(Carried, W.HTML):
    """HTML that can travel."""
