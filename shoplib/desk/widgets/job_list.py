"""Today's job: a list to search and pick from, and a header to start a new one."""

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
from shoplib.desk.widgets.components import Say, button, complain, local, text_box
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.root_widget import Ground
from shoplib.desk.widgets.session import session
from shoplib.desk.widgets.static_fallback import AtRest
from shoplib.record.errors import StoreError
from shoplib.record.header import FIELDS

if TYPE_CHECKING:
    from shoplib.record.store import Jobs

CSS = "".join((STATIC / name).read_text(encoding="utf-8") for name in ("form.css", "keeping.css"))
HEADS = ("Job", "Engine", "Customer, complaint", "State", "Lines", "Last change")
FEW, MANY = 6, 20  # rows shown at first: in a form's bar, and on a page of its own
AT_START = (*(f for f in FIELDS if f.required), *(f for f in FIELDS if f.at_start))


class Once:
    """One uid for one content: what is sent again after trouble is kept once."""

    def __init__(self) -> None:
        self._content: Any = None
        self._uid = ""

    def uid(self, content: Any) -> str:
        """The same uid until the content is another, or :meth:`done`."""
        if not self._uid or content != self._content:
            self._content, self._uid = content, uuid.uuid4().hex
        return self._uid

    def done(self) -> None:
        """It was answered; the next one is new, whatever it holds."""
        self._uid = ""


class JobTable(anywidget.AnyWidget):
    """Rows of text to pick one from, by touch, mouse or keyboard."""

    _esm = STATIC / "joblist.js"
    heads = traitlets.List(traitlets.Unicode()).tag(sync=True)
    rows = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)
    today = traitlets.Unicode("").tag(sync=True)  # number of the job that is worked on

    def __init__(self, pick: Callable[[str], None]) -> None:
        super().__init__(heads=list(HEADS))
        self._pick = pick
        self.on_msg(self._told)

    def _told(self, _: Any, content: Any, __: Any) -> None:
        number = content.get("pick") if isinstance(content, dict) else None
        if isinstance(number, str) and any(row[0] == number for row in self.rows):
            self._pick(number)


class StartJob(W.VBox):
    """The header of a new job.  Every bad field is named beside it; what was typed stays."""

    def __init__(self, started: Callable[[str], None]) -> None:
        self._started, self._once = started, Once()
        self.entries = {f.name: text_box(f.name, f.label, example=f.example, required=f.required) for f in AT_START}
        self.go = button("Start the job", self.start, main=True)
        self.said = Say("shop-said")
        fields = W.Box(list(self.entries.values()))
        fields.add_class("shop-fields")
        super().__init__([fields, W.Box([self.go, self.said], _dom_classes=["shop-keep-row"])])
        self.add_class("shop-start")

    def offer(self) -> None:
        """What is likely, where nothing was typed yet: today, and who works here."""
        likely = {"date": datetime.datetime.now().astimezone().date().isoformat(), "done_by": session.who}
        for name, value in likely.items():
            if not self.entries[name].box.value:
                self.entries[name].box.value = value

    def start(self) -> None:
        """Start it, or say beside each field what is wrong."""
        header = {name: entry.box.value for name, entry in self.entries.items()}
        self.said.clear()
        complain(self.entries, ())
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
        session.who = session.who or header["done_by"].strip()
        session.number = header["number"].strip()
        session.written += 1
        self._started(session.number)

    def _bad(self, problems: tuple[Problem, ...]) -> None:
        others = complain(self.entries, problems)
        text = "\n".join(map(str, others)) or "Not started: see the marked fields."
        self.said.bad(text)


class JobChooser(W.VBox):
    """Search, pick, or start a new one.  ``chosen(number)`` is called after ``session.number`` was set."""

    def __init__(self, chosen: Callable[[str], None] = lambda _: None, *, rows: int = FEW) -> None:
        self._chosen, self._first, self._shown = chosen, rows, rows
        self.search = W.Text(placeholder="number, engine, customer, complaint, name", continuous_update=True)
        self.search.description_allow_html = True
        self.search.description = '<span class="shop-label">Find a job</span>'
        self.table = JobTable(self.pick)
        self.said = Say("shop-said")
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
        """Read the list anew, beside the kernel.  A record that cannot be read is said in words."""
        words, most = self.search.value.strip(), self._shown
        self._asked += 1
        mine = self._asked
        if not self.table.rows:
            self.said.plain("Reading the job record …")

        def read() -> tuple[str, Jobs] | None:
            return (session.number, session.store().jobs(words, limit=most)) if mine == self._asked else None

        session.later(read, lambda found: self._show(found, words))

    _asked = 0  # how often; an answer that another question has overtaken is not wanted

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
        """Work on that job from now on."""
        session.number = number
        if session.trouble:
            words = f"Job {number} is worked on here, but the choice will not be remembered. {session.trouble}"
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


class JobList(AtRest, W.VBox):
    """``JobList()``: the jobs of this record; the one picked is worked on in every notebook of this desk."""

    def __init__(self) -> None:
        self.today = W.HTML()
        self.leave = button("Put it aside", self._put_aside, tip="work on no job for now")
        self.chooser = JobChooser(rows=MANY)
        head = W.Box([self.today, self.leave], _dom_classes=["shop-keep-row", "shop-today"])
        super().__init__([Ground(CSS), head, self.chooser])
        self.add_class("shop")
        self.add_class("shop-joblist")
        self._tell("")
        session.observe(lambda _: self._tell(session.number), "number")
        session.soon(self.look)

    def look(self) -> None:
        """Read the record: which job is worked on, and which there are."""
        self.chooser.look()
        session.later(lambda: session.number, lambda number: self._tell(number if isinstance(number, str) else ""))

    def _tell(self, number: str) -> None:
        now = f"Working on job <b>{e(number)}</b>. Every form keeps into it." if number else NONE
        self.today.value = f'<div class="shop-now" role="status">{now}</div>'
        self.leave.layout.display = "" if number else "none"

    def _put_aside(self) -> None:
        session.number = ""

    def text(self) -> str:
        """A sentence, never what the record holds."""
        return WITHOUT_KERNEL


NONE = "No job is worked on. Pick one below, or start a new one."
WITHOUT_KERNEL = "The list of jobs appears here when the notebook runs."


def in_words(error: BaseException) -> str:
    """What went wrong with the record."""
    known = isinstance(error, StoreError | BadInput)
    return str(error) if known else f"The job record does not answer ({type(error).__name__})."


def _count(shown: int, found: int, words: str) -> str:
    if not found:
        return f"No job has all of these words: {words}" if words else "No jobs yet. Fill in the header to start one."
    if shown < found:
        return f"{shown} of {found} jobs, the one changed last first"
    return "1 job" if found == 1 else f"{found} jobs, the one changed last first"
