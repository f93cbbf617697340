"""Learners of a large class, a page at a time, with a box that finds one by name or login."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import ipywidgets as W

from shoplib.classroom.people import Person
from shoplib.desk.widgets.components import button, labelled, row

SIZE = 50  # learners on one page


class LearnerPages(W.VBox):
    """Shows one page of the learners by ``show``.  A class that fits on one page has no controls."""

    def __init__(self, learners: Sequence[Person], show: Callable[[Sequence[Person]], Any]) -> None:
        self.learners, self._show, self._first = list(learners), show, 0
        self.find = labelled(W.Text(continuous_update=False), "Find a name or a login")
        self.back = button("Previous", lambda: self._turn(-SIZE))
        self.on = button("Next", lambda: self._turn(SIZE))
        self.place, self.page = W.HTML(), W.VBox()
        self.find.observe(lambda _: self._turn(None), "value")
        controls = [row(self.find, self.back, self.on, self.place)] if len(self.learners) > SIZE else []
        super().__init__([*controls, self.page])
        self._turn(None)

    def _found(self) -> list[Person]:
        wanted = self.find.value.strip().casefold()
        return [p for p in self.learners if wanted in p.name.casefold() or wanted in p.login.casefold()]

    def _turn(self, by: int | None) -> None:
        found = self._found()
        self._first = 0 if by is None else max(0, self._first + by)
        here = found[self._first : self._first + SIZE]
        self.back.disabled, self.on.disabled = self._first == 0, self._first + SIZE >= len(found)
        last = self._first + len(here)
        self.place.value = f"{self._first + 1} to {last} of {len(found)}" if found else "Nobody has this name or login."
        self.page.children = [self._show(here)]
