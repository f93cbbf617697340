"""Today's job: a list to search and choose from, and a header to start a new job."""

from __future__ import annotations

import datetime
import uuid
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import anywidget
import ipywidgets as W
import traitlets

from shoplib.core.errors import BadInput, Problem
from shoplib.desk import STATIC
from shoplib.desk.widgets.components import StatusMessage, button, show_errors, text_box
from shoplib.desk.widgets.display_text import local
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.session import session
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.record.errors import StoreError
from shoplib.record.header import FIELDS

if TYPE_CHECKING:
    from shoplib.record.job_list import Jobs

CSS = "".join((STATIC / name).read_text(encoding="utf-8") for name in ("form.css", "keeping.css"))
HEADS = ("Job", "Engine", "Customer, complaint", "State", "Lines", "Last change")
FEW, MANY = 6, 20  # rows shown at first: in the bar of a form, and on a separate page
AT_START = (*(f for f in FIELDS if f.required), *(f for f in FIELDS if f.at_start))


class IdempotencyKey:
    """One uid per content: an entry that is sent again after an error is saved once."""

    def __init__(self) -> None:
        self._content: Any = None
        self._uid = ""

    def uid(self, content: Any) -> str:
        """The same uid until the content changes, or until :meth:`done`."""
        if not self._uid or content != self._content:
            self._content, self._uid = content, uuid.uuid4().hex
        return self._uid

    def done(self) -> None:
        """The record has answered; the next entry is new, whatever its content."""
        self._uid = ""


class JobTable(anywidget.AnyWidget):
    """Rows of text; choose one by touch, mouse or keyboard."""

    _esm = STATIC / "joblist.js"
    heads = traitlets.List(traitlets.Unicode()).tag(sync=True)
    rows = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)
    today = traitlets.Unicode("").tag(sync=True)  # number of the current job

    def __init__(self, pick: Callable[[str], None]) -> None:
        super().__init__(heads=list(HEADS))
        self._pick = pick
        self.on_msg(self._told)

    def _told(self, _: Any, content: Any, __: Any) -> None:
        number = content.get("pick") if isinstance(content, dict) else None
        if isinstance(number, str) and any(row[0] == number for row in self.rows):
            self._pick(number)


class StartJob(W.VBox):
    """The header of a new job.  Each bad field has a message beside it; typed values stay."""

    def __init__(self, started: Callable[[str], None]) -> None:
        self._started, self._once = started, IdempotencyKey()
        self.entries = {f.name: text_box(f.name, f.label, example=f.example, required=f.required) for f in AT_START}
        self.go = button("Start the job", self.start, main=True)
        self.said = StatusMessage("shop-said")
        fields = W.Box(list(self.entries.values()))
        fields.add_class("shop-fields")
        super().__init__([fields, W.Box([self.go, self.said], _dom_classes=["shop-keep-row"])])
        self.add_class("shop-start")

    def offer(self) -> None:
        """Fill empty boxes with likely values: today's date, and the person at this desk."""
        likely = {"date": datetime.datetime.now().astimezone().date().isoformat(), "done_by": session.who}
        for name, value in likely.items():
            if not self.entries[name].box.value:
                self.entries[name].box.value = value

    def start(self) -> None:
        """Start the job, or show a message beside each bad field."""
        header = {name: entry.box.value for name, entry in self.entries.items()}
        self.said.clear()
        show_errors(self.entries, ())
        try:
            session.store().start(uid=self._once.uid(header), **header)
        except BadInput as error:
            self._bad(error.problems)
            return
        except StoreError as error:
            self.said.bad(str(error))
            return
        self._once.done()
        for entry in self.entries.values():
            entry.box.value = ""
        session.who = header["done_by"].strip()  # it was proposed, and the person at the desk may have changed it
        session.number = header["number"].strip()
        session.written += 1
        self._started(session.number)

    def _bad(self, problems: tuple[Problem, ...]) -> None:
        others = show_errors(self.entries, problems)
        text = "\n".join(map(str, others)) or "The job was not started. Correct the marked fields."
        self.said.bad(text)


class JobChooser(W.VBox):
    """Search, choose, or start a new job.  ``chosen(number)`` is called after ``session.number`` is set."""

    def __init__(self, chosen: Callable[[str], None] = lambda _: None, *, rows: int = FEW) -> None:
        self._chosen, self._first, self._shown = chosen, rows, rows
        self.search = W.Text(placeholder="number, engine, customer, complaint, name", continuous_update=True)
        self.search.description_allow_html = True
        self.search.description = '<span class="shop-label">Find a job</span>'
        self.table = JobTable(self.pick)
        self.said = StatusMessage("shop-said")
        self.more = button("Show more", self._show_more)
        self.new = button("Start a new job", self._unfold)
        self.start = StartJob(self._started)
        self.start.layout.display = "none"
        self.more.layout.display = "none"
        self.find = W.Box([self.search, self.new], _dom_classes=["shop-keep-row", "shop-find"])
        super().__init__([self.find, self.said, self.start, self.table, self.more])
        self.add_class("shop-chooser")
        self.search.observe(self._typed, "value")
        session.observe(self._another, ["number", "written"])

    def look(self) -> None:
        """Read the list again in a worker thread.  If the record cannot be read, show a message."""
        words, most = self.search.value.strip(), self._shown
        self._asked += 1
        mine = self._asked
        if not self.table.rows:
            self.said.plain("Reading the job record …")

        def read() -> tuple[str, Jobs] | None:
            return (session.number, session.store().jobs(words, limit=most)) if mine == self._asked else None

        session.run_in_thread(read, lambda found: self._show(found, words))

    _asked = 0  # number of requests; an answer to an older request is discarded

    def _show(self, answer: tuple[str, Jobs] | BaseException | None, words: str) -> None:
        if answer is None:
            return
        if isinstance(answer, BaseException):
            self.said.bad(in_words(answer))
            self.table.rows = []
            self.more.layout.display = "none"
            return
        self.table.today, found = answer
        self.table.rows = [
            [j.number, j.engine, " · ".join(filter(None, (j.customer_ref, j.complaint))),
             ("closed" if j.closed else "open") + (f", sheet {j.issue}" if j.issue else ""),
             str(j.lines), local(j.changed_at)[:16]]
            for j in found.rows
        ]  # fmt: skip
        self.said.plain(_count(len(found.rows), found.found, words))
        self.more.layout.display = "" if found.found > len(found.rows) else "none"
        empty = not found.found and not words
        self.find.layout.display = "none" if empty else ""
        if empty:
            self._unfold(True)

    def pick(self, number: str) -> None:
        """Use that job from now on."""
        session.number = number
        if session.trouble:
            words = f"Job {number} is selected, but the selection could not be saved. {session.trouble}"
            self.said.bad(words)
        self.table.today = session.number
        self._chosen(number)

    def _typed(self, _: Any) -> None:
        self._shown = self._first
        self.look()

    def _show_more(self) -> None:
        self._shown *= 4
        self.look()

    def _unfold(self, shown: bool | None = None) -> None:
        self.start.layout.display = "" if shown or self.start.layout.display == "none" else "none"
        if self.start.layout.display == "":
            self.start.offer()

    def _started(self, number: str) -> None:
        self.start.layout.display = "none"
        self.search.value = ""
        self.look()
        self._chosen(number)

    def _another(self, _: Any) -> None:
        if self.table.rows:
            self.look()


class JobList(StaticFallback, W.VBox):
    """``JobList()``: the jobs of this record; every notebook of this desk uses the chosen job."""

    def __init__(self) -> None:
        self.today = W.HTML()
        self.leave = button("Leave this job", self._put_aside, tip="use no job for now")
        self.chooser = JobChooser(rows=MANY)
        head = W.Box([self.today, self.leave], _dom_classes=["shop-keep-row", "shop-today"])
        super().__init__([RootWidget(CSS), head, self.chooser])
        self.add_class("shop")
        self.add_class("shop-joblist")
        self._tell("")
        session.observe(lambda _: self._tell(session.number), "number")
        session.call_soon(self.look)

    def look(self) -> None:
        """Read the record: the current job, and all jobs."""
        self.chooser.look()
        session.run_in_thread(
            lambda: session.number, lambda number: self._tell(number if isinstance(number, str) else "")
        )

    def _tell(self, number: str) -> None:
        now = f"Working on job <b>{e(number)}</b>. Forms save to this job." if number else NONE
        self.today.value = f'<div class="shop-now" role="status">{now}</div>'
        self.leave.layout.display = "" if number else "none"

    def _put_aside(self) -> None:
        session.number = ""

    def text(self) -> str:
        """A fixed sentence, never the content of the record."""
        return WITHOUT_KERNEL


NONE = "No job is selected."
WITHOUT_KERNEL = "The list of jobs appears here when the notebook runs."


def in_words(error: BaseException) -> str:
    """The error of the record, as a message."""
    known = isinstance(error, StoreError | BadInput)
    return str(error) if known else f"The job record cannot be read ({type(error).__name__})."


def _count(shown: int, found: int, words: str) -> str:
    if not found:
        return (
            f"No job contains all of these words: {words}"
            if words
            else "No jobs yet. Fill in the boxes below to start one."
        )
    if shown < found:
        return f"{shown} of {found} jobs, last changed first"
    return "1 job" if found == 1 else f"{found} jobs, last changed first"
