"""The learner's side of a class: what is assigned, how far it is, and each assignment to work on in place.

``MyClass()`` in notebook 05; ``MyAssignments()`` is the short list on the contents page.  Who the learner is: the user
of the hub, SHOPLIB_LEARNER, or the learner of the work file that this machine has joined.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as W

from shoplib.classroom import marking, moments, results
from shoplib.classroom.classes import Classroom, Comment, Task
from shoplib.desk import STATIC
from shoplib.desk.widgets.class_answers import ClassAnswers
from shoplib.desk.widgets.components import StatusMessage, button
from shoplib.desk.widgets.form import CSS as FORM_CSS
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.session import session
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.desk.widgets.templates import render
from shoplib.record.errors import StoreError

CSS = FORM_CSS + (STATIC / "class.css").read_text(encoding="utf-8")
NOTEBOOK = "05-my-class.ipynb"
NO_CLASS = "Here you will find what your instructor assigns. You are not in a class yet."


class Mine:
    """What the record says about the learner at this desk."""

    def __init__(self, room: Classroom) -> None:
        login = room.login()
        self.login = login
        self.tasks = room.tasks(login) if login else []
        classes = {t.of.id: t.of for t in self.tasks} or {k.id: k for k in (room.classes(login) if login else [])}
        self.comments: list[Comment] = [c for k in classes.values() for c in room.comments(k, login)]
        self.right = {t.assignment.id: results.right_items(room, t) for t in self.tasks}

    def row(self, task: Task) -> tuple[str, str, str, int, int]:
        """Title, class, due time, items that are right, all items."""
        a = task.assignment
        return a.title, task.of.name, moments.shown(a.due), self.right[a.id], len(marking.items(a.kind, a.item))


class _Shown(StaticFallback, W.VBox):
    """The base of both: read the record when shown."""

    def __init__(self, children: list[Any]) -> None:
        self.said = StatusMessage("shop-said")
        super().__init__([RootWidget(CSS), *children, self.said])
        self.add_class("shop")
        self.add_class("shop-class")

    def read(self) -> None:
        """Read the record again in a worker thread."""

        def back(found: Mine | BaseException) -> None:
            if isinstance(found, StoreError):
                self.said.bad(str(found))
            elif isinstance(found, BaseException):
                raise found
            else:
                self.said.clear()
                self.show(found)

        session.run_in_thread(lambda: Mine(session.classroom()), back)

    def show(self, mine: Mine) -> None:
        """Show it."""
        raise NotImplementedError

    def put_out(self) -> None:
        """Read the record."""
        if session.anything():
            session.call_soon(self.read)

    def text(self) -> str:
        """What it is for: a saved notebook shows nobody's work."""
        return NO_CLASS


class MyAssignments(_Shown):
    """The open assignments of the learner at this desk, as a list."""

    def __init__(self) -> None:
        self.list = W.HTML(f"<p>{NO_CLASS}</p>")
        super().__init__([self.list])

    def show(self, mine: Mine) -> None:
        """The list, where there is a class."""
        if mine.tasks or mine.comments:
            self.list.value = render("class", "todo", [mine.row(t) for t in mine.tasks], NOTEBOOK)


class MyClass(_Shown):
    """The assignments of the learner at this desk; one is open at a time."""

    def __init__(self) -> None:
        self.tasks: list[Task] = []
        self.list = W.VBox([W.HTML(f"<p>{NO_CLASS}</p>")])
        self.comments = W.HTML()
        self.place = W.VBox()
        self.opened: Any = None  # the widget of the open assignment
        super().__init__([self.list, self.comments, self.place])

    def show(self, mine: Mine) -> None:
        """Every assignment with its state."""
        self.tasks = mine.tasks
        rows = []
        for task in mine.tasks:
            title, of, due, right, items = mine.row(task)
            state = W.HTML(render("class", "task", title, of, due, right, items, right == items))
            row = W.Box([state, button("Open", self._opener(task), main=True)])
            row.add_class("kl-todo")
            rows.append(row)
        none = "No assignment is open." if mine.login else NO_CLASS
        self.list.children = rows or [W.HTML(f"<p>{none}</p>")]
        told = [(c.text, c.who, moments.shown(c.at)) for c in mine.comments]
        self.comments.value = render("class", "comments", told)

    def _opener(self, task: Task) -> Callable[[], None]:
        return lambda: self.work_on(task)

    def work_on(self, task: Task) -> None:
        """Work on one assignment, from where it was left."""
        answers = ClassAnswers(task)
        a = task.assignment
        done = button("Close this assignment", self.close_task)
        if a.kind == "lesson":
            self.opened = self._lesson(a.item, answers)
        elif a.kind == "test":
            self.opened = self._test(a.item, answers)
        else:
            self.opened = self._exercises(a.item, task, answers)
        self.list.layout.display = "none"
        self.place.children = [self.opened, answers.status, done]

    def close_task(self) -> None:
        """Back to the list."""
        self.place.children = []
        self.opened = None
        self.list.layout.display = ""
        self.read()

    @staticmethod
    def _lesson(name: str, answers: ClassAnswers) -> Any:
        from shoplib.desk.widgets.guided_widget import Guided

        made = Guided(name, answers)
        answers.load(made.lesson, made.restored)
        return made

    @staticmethod
    def _test(form: str, answers: ClassAnswers) -> Any:
        from shoplib.desk.widgets.concept_widget import ConceptTest

        def answered(n: int, place: int) -> None:
            answers.keep(str(n), str(place), {"said": made.items[n - 1].option(place).words})

        made = ConceptTest(form, answered)
        answers.read(lambda rows: made.restore([int(r.typed) for r in rows]))
        return made

    @staticmethod
    def _exercises(topic: str, task: Task, answers: ClassAnswers) -> Any:
        from shoplib.desk.widgets.practice import Practice
        from shoplib.teaching.exercise import Score

        made = Practice(
            topic, seed=task.seed, score=Score(), answered=lambda q, typed: answers.keep(q.exercise.name, typed)
        )
        made.fresh.layout.display = "none"  # an assignment has one set of numbers
        answers.read(lambda rows: made.restore([(r.item, r.typed) for r in rows]))
        return made
