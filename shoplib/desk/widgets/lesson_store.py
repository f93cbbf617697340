"""Where the answers of lessons are stored: one draft per lesson and desk, in the record.

An assignment of a class stores them in the record of the class instead (:class:`class_answers.ClassAnswers`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Protocol

from shoplib.core.errors import BadInput
from shoplib.desk.widgets.session import desk, session
from shoplib.record.errors import StoreError
from shoplib.teaching.guided import GuidedLesson, Run, restored


class Answers(Protocol):
    """Where a lesson stores its answers: this module, or the answers of an assignment."""

    def save(self, run: Run, /) -> None:
        """Store the run."""

    def load(self, lesson: GuidedLesson, then: Callable[[Run], None], /) -> None:
        """Call ``then`` with the stored run, if there is one."""


def _key(name: str) -> str:
    return f"lesson-{name}"


def save(run: Run) -> None:
    """Store the run in a worker thread.  An error does not stop the lesson; the session reports it."""
    save_answers(run.lesson.name, run.record())


def save_answers(name: str, answers: dict[str, Any]) -> None:
    """Store answers under the name of a lesson or of a test."""

    def write() -> None:
        session.store().save_draft(_key(name), answers, desk=desk())

    session.run_in_thread(write, _trouble)


def load(lesson: GuidedLesson, then: Callable[[Run], None]) -> None:
    """Call ``then`` with the stored run, when the cell has been shown; not at all if there is none."""

    load_answers(lesson.name, lambda record: then(restored(lesson, record)))


def load_answers(name: str, then: Callable[[Mapping[str, Any]], None]) -> None:
    """Call ``then`` with the answers stored under this name, when the cell has been shown; not if there are none."""

    def read() -> Mapping[str, Any] | None:
        kept = session.store().draft(_key(name), desk=desk())
        return kept.inputs if kept else None

    def back(found: Mapping[str, Any] | BaseException | None) -> None:
        if isinstance(found, Mapping):
            then(found)
        else:
            _trouble(found)

    if session.anything():
        session.call_soon(lambda: session.run_in_thread(read, back))


def answers() -> list[dict[str, Any]]:
    """Every stored run of this desk, as plain values: for a report, or for the record of a class."""
    found = session.store().drafts(desk=desk())
    return [dict(draft.inputs) for key, draft in sorted(found.items()) if key.startswith("lesson-")]


def _trouble(found: object) -> None:
    if isinstance(found, StoreError | BadInput):
        session.trouble = str(found)
    elif isinstance(found, BaseException):
        raise found
