"""The answers to one assignment, saved to the record of the class as they are given.

Each answer is saved in a worker thread.  "Saved" is shown only when it is on the disk.  An answer that could not be
saved stays here and is sent again with the next one, or by the button; it is saved once.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Mapping
from typing import Any

import ipywidgets as W

from shoplib.classroom import marking, moments
from shoplib.classroom.classes import Answer, Task
from shoplib.core.errors import BadInput
from shoplib.desk.widgets.components import StatusMessage, button
from shoplib.desk.widgets.session import session
from shoplib.record.errors import StoreError
from shoplib.teaching.guided import GuidedLesson, Run, restored


class ClassAnswers:
    """What a learner answers to a task.  ``status`` says whether all of it is saved."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self._waiting: list[Answer] = []
        self._shown = time.monotonic()
        self._count = 0
        self._say = StatusMessage("shop-said")
        self._again = button("Save again", self._send)
        self._again.layout.display = "none"
        self.status = W.VBox([self._say, self._again])

    def keep(self, item: str, typed: str, body: Mapping[str, Any] | None = None) -> None:
        """Save one answer."""
        seconds, self._shown = round(time.monotonic() - self._shown), time.monotonic()
        self._waiting.append(Answer(item, typed, body or {}, seconds, at=moments.now()))
        self._send()

    def _send(self) -> None:
        sent = list(self._waiting)
        self._say.wait("Saving your answer …")

        def back(found: list[marking.Marked] | BaseException) -> None:
            if isinstance(found, StoreError | BadInput | marking.CannotMark):
                self._say.bad(f"Your answer is not saved yet: {found}")
                self._again.layout.display = ""
                return
            if isinstance(found, BaseException):
                raise found
            uids = {x.uid for x in sent}
            self._waiting = [x for x in self._waiting if x.uid not in uids]
            self._count += len(sent)
            self._again.layout.display = "none"
            self._say.good(f"Saved: {self._count} answers" if self._count != 1 else "Saved: 1 answer")

        session.run_in_thread(lambda: session.classroom().keep(self.task, sent), back)

    def read(self, then: Callable[[list[Any]], None]) -> None:
        """Call ``then`` with the stored answers, oldest first."""

        def back(found: list[Any] | BaseException) -> None:
            if isinstance(found, StoreError):
                self._say.bad(str(found))
            elif isinstance(found, BaseException):
                raise found
            else:
                self._count = len(found)
                then(found)

        session.run_in_thread(lambda: session.classroom().answers(self.task), back)

    # -- as the store of a guided lesson
    def save(self, run: Run) -> None:
        """The last answer of a lesson, with all answers before it."""
        item, typed = marking.last_answer(run)
        self.keep(item, typed, run.record())

    def load(self, lesson: GuidedLesson, then: Callable[[Run], None]) -> None:
        """The lesson as it was left."""

        def back(rows: list[Any]) -> None:
            if rows:
                then(restored(lesson, json.loads(rows[-1].body)))

        self.read(back)
