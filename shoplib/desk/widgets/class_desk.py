"""The class desk of an instructor: who is where, which ideas dominate, one learner, marks, files.

``ClassDesk()`` in notebook 06.  Each part reads the record when it is opened.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import ipywidgets as W

from shoplib.classroom import export, marking, moments, results
from shoplib.classroom.classes import Class, Classroom
from shoplib.classroom.people import LEARNER, Person, me, write_roster
from shoplib.core.errors import BadInput
from shoplib.desk.widgets.components import StatusMessage, button, labelled, row, text_box
from shoplib.desk.widgets.download import TooLarge, link
from shoplib.desk.widgets.learner_pages import LearnerPages
from shoplib.desk.widgets.my_class import CSS
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.session import session
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.desk.widgets.templates import render
from shoplib.record.errors import StoreError

T = TypeVar("T")
PARTS = ("Who is where", "Ideas", "One learner", "Marks", "Files")
FOR = "Here an instructor sees who is where, which ideas are behind wrong answers, and marks answers again."
SETUP = (
    "No class is in this record yet. Create one on the command line: shoplib class new NAME, then "
    "shoplib class roster NAME ROSTER.csv and shoplib class assign NAME topic preload."
)


class ClassDesk(StaticFallback, W.VBox):
    """The classes of the instructor at this desk."""

    def __init__(self) -> None:
        self.which = labelled(W.Dropdown(options=[("—", None)], value=None), "Class")
        self.tabs = [button(name, self._opener(name)) for name in PARTS]
        self.fresh = button("Read again", self.read)
        self.said = StatusMessage("shop-said")
        self.page = W.VBox()
        self._part = PARTS[0]
        self.which.observe(lambda _: self.show(self._part), "value")
        super().__init__(
            [RootWidget(CSS), row(self.which, self.fresh), row(*self.tabs, named="jd-tabs"), self.said, self.page]
        )
        self.add_class("shop")
        self.add_class("shop-class")

    # -- reading
    def _do(self, work: Callable[[Classroom], T], then: Callable[[T], None]) -> None:
        """Ask the record in a worker thread, then show the answer; an error is shown in words."""

        def back(found: T | BaseException) -> None:
            if isinstance(found, StoreError | BadInput):
                self.said.bad(str(found))
            elif isinstance(found, BaseException):
                raise found
            else:
                self.said.clear()
                then(found)

        session.run_in_thread(lambda: work(session.classroom()), back)

    def read(self) -> None:
        """Read the list of classes again, and the open part."""

        def listed(found: list[Class]) -> None:
            before = self.which.value
            self.which.options = [(k.name, k) for k in found] or [("—", None)]
            self.which.value = before if before in found else (found[0] if found else None)
            if not found:
                self.said.plain(SETUP)
            elif before == self.which.value:
                self.show(self._part)

        self._do(lambda room: room.classes(me() or None), listed)

    def _opener(self, name: str) -> Callable[[], None]:
        return lambda: self.show(name)

    def show(self, part: str) -> None:
        """Open a part for the chosen class."""
        self._part = part
        for tab in self.tabs:
            (tab.add_class if tab.description == part else tab.remove_class)("shop-picked")
        of = self.which.value
        if of is None:
            return
        show = {"Who is where": self._places, "Ideas": self._ideas, "One learner": self._learner,
                "Marks": self._marks, "Files": self._files}  # fmt: skip
        show[part](of)

    # -- the parts
    def _places(self, of: Class) -> None:
        def told(found: results.Overview) -> None:
            sizes = {a.id: len(marking.items(a.kind, a.item)) for a in found.assignments}
            heads = [(a.n, a.title) for a in found.assignments]

            def shown(learners: Sequence[Person]) -> Any:
                rows = []
                for p in learners:
                    places = [(found.place(p.login, a), sizes[a.id]) for a in found.assignments]
                    cells = [(x.right, n, _state(x, n), x.late) for x, n in places]
                    rows.append((p.login, p.name, cells, moments.shown(max((x.last for x, _ in places), default=""))))
                return W.HTML(render("class", "overview", heads, rows))

            self.page.children = [LearnerPages(found.learners, shown)]

        self._do(lambda room: results.overview(room, of), told)

    def _ideas(self, of: Class) -> None:
        def told(found: results.HeatMap) -> None:
            whole = [(idea, marking.idea_in_words(idea), found.learners_with(idea), found.total(idea))
                     for idea in found.ideas[:40]]  # fmt: skip
            most = max([5, *found.counts.values()])

            def shown(learners: Sequence[Person]) -> Any:
                rows = [
                    (words, many, total, [found.counts.get((p.login, idea), 0) for p in learners])
                    for idea, words, many, total in whole
                ]
                return W.HTML(render("class", "heat", [p.name for p in learners], rows, most))

            self.page.children = [LearnerPages(found.learners, shown)]

        self._do(lambda room: results.heat_map(room, of), told)

    def _learner(self, of: Class) -> None:
        def told(found: list[Person]) -> None:
            self.learner = labelled(W.Dropdown(options=[("—", "")], value=""), "Learner")
            self.history = W.HTML()

            def shown(learners: Sequence[Person]) -> Any:
                self.learner.value = ""
                self.learner.options = [("—", ""), *((f"{p.name} ({p.login})", p.login) for p in learners)]
                return self.learner

            choice = LearnerPages([p for p in found if p.role == LEARNER], shown)
            self.comment = text_box("comment", "Comment to the learner", long=True, example="Look at the pitch again.")
            self.send = button("Save the comment", lambda: self._comment(of))
            self.learner.observe(lambda _: self._history(of), "value")
            self.page.children = [choice, self.history, self.comment, row(self.send)]

        self._do(lambda room: room.people(of), told)

    def _history(self, of: Class) -> None:
        login = self.learner.value
        if not login:
            self.history.value = ""
            return

        def asked(room: Classroom) -> tuple[list[Any], list[Any]]:
            numbers = {a.id: a.n for a in room.assignments(of)}
            rows = [
                (moments.shown(x.at), numbers[x.assignment], x.item.replace("_", " "), x.answer, x.state,
                 marking.idea_in_words(x.idea), x.seconds, x.first_state if x.first_state != x.state else "")
                for x in results.entries(room, of, login)
            ]  # fmt: skip
            return rows, [(c.text, c.who, moments.shown(c.at)) for c in room.comments(of, login)]

        def told(found: tuple[list[Any], list[Any]]) -> None:
            self.history.value = render("class", "history", found[0]) + render("class", "comments", found[1])

        self._do(asked, told)

    def _comment(self, of: Class) -> None:
        login, text = self.learner.value, self.comment.typed or ""
        if not login:
            self.said.bad("Choose a learner first.")
            return

        def told(_: None) -> None:
            self.comment.box.value = ""
            self._history(of)

        self._do(lambda room: room.comment(of, login, str(text), who=me() or "instructor"), told)

    def _marks(self, of: Class) -> None:
        self.preview = button("Mark all answers again", lambda: self._preview(of))
        self.page.children = [
            W.HTML(
                "<p>All answers are marked again by the present rules. You see what changes before it is saved.</p>"
            ),
            self.preview,
        ]

    def _preview(self, of: Class) -> None:
        self.said.wait("Marking …")

        def told(found: results.Regrade) -> None:
            rows = [
                (x.entry.login, x.entry.item.replace("_", " "), x.entry.answer, _mark(x.entry.state, x.entry.idea),
                 _mark(x.new.state, x.new.idea))
                for x in found.changes[:500]
            ]  # fmt: skip
            children = [W.HTML(render("class", "changes", found.checked, rows))]
            if found.changes:
                self.because = text_box("because", "Reason", example="the tolerance was too narrow")
                self.keep = button("Save these marks", lambda: self._keep(found), main=True)
                children += [self.because, self.keep]
            self.page.children = children

        self._do(lambda room: results.preview(room, of, room.assignments(of)), told)

    def _keep(self, found: results.Regrade) -> None:
        because = str(self.because.typed or "")

        def told(count: int) -> None:
            self._preview(found.of)
            self.said.good(f"{count} marks saved. The earlier marks stay in the record.")

        self._do(lambda room: results.keep(room, found, who=me() or "instructor", because=because), told)

    def _files(self, of: Class) -> None:
        self.downloads = W.HTML()

        def asked(make: Callable[[Classroom, Class, Any], int], name: str) -> Callable[[], None]:
            def made(room: Classroom) -> bytes:
                out = io.StringIO()
                make(room, of, out)
                return out.getvalue().encode("utf-8")

            return lambda: self._do(made, lambda raw: self._give(name, raw))

        def roster(room: Classroom, of: Class, out: io.StringIO) -> int:
            return out.write(write_roster(room.people(of)))

        self.page.children = [
            row(
                button("Answers as CSV", asked(export.write_csv, "answers.csv")),
                button("Answers as xAPI statements", asked(export.write_statements, "statements.json")),
                button("Roster as CSV", asked(roster, "roster.csv")),
            ),
            self.downloads,
            W.HTML("<p>Printed sets with their key: shoplib class papers NAME NUMBER. "
                   "Result files: shoplib class collect FOLDER.</p>"),
        ]  # fmt: skip

    def _give(self, name: str, raw: bytes) -> None:
        try:
            self.downloads.value = link(raw, name, "Save the file")
        except TooLarge as error:
            self.said.bad(f"{error}. Use the command line: shoplib class export NAME -o FILE")

    # -- shown
    def put_out(self) -> None:
        """Read the record."""
        if session.anything():
            session.call_soon(self.read)

    def text(self) -> str:
        """What it is for: a saved notebook shows nobody's work."""
        return FOR


def _state(place: results.Place, items: int) -> str:
    return "none" if not place.attempts else "all" if place.right == items else "some"


def _mark(state: str, idea: str) -> str:
    return f"{state}: {marking.idea_in_words(idea)}" if idea else state
