"""The job on screen: open points, history with corrections, header, signing and handover, files.

    from shoplib.desk import JobDesk
    from shoplib.sheet import sheet_service as fordesk
    JobDesk(fordesk)

It decides nothing: open points, signatures and changes are read from :mod:`shoplib.record`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from typing import TYPE_CHECKING, Any

import ipywidgets as W

from shoplib.core.errors import BadInput
from shoplib.desk import STATIC
from shoplib.desk.widgets.components import StatusMessage, button, heading, labelled, row, said, show_errors
from shoplib.desk.widgets.display_text import local
from shoplib.desk.widgets.entry_detail import EntryRow
from shoplib.desk.widgets.entry_html import row_html
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.form import CSS as FORM_CSS
from shoplib.desk.widgets.header_form import HeaderForm
from shoplib.desk.widgets.job_files import Files
from shoplib.desk.widgets.job_progress import ProgressPage
from shoplib.desk.widgets.point_decision import Decide, decided_html
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.sign_off import HandOver, Sheets
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.record.errors import StoreError
from shoplib.record.history import by_phase, in_words, paper_trail
from shoplib.record.job import Job
from shoplib.record.open_points import OPEN, OpenPoint, all_points, open_points

if TYPE_CHECKING:
    from shoplib.desk.widgets.input_field import Entry
    from shoplib.record.store import Store

CSS = FORM_CSS + "".join((STATIC / name).read_text(encoding="utf-8") for name in ("jobdesk.css", "progress.css"))
SIGNS = {  # of an open point; the word is always shown beside the sign
    "changed outside": "✕", "stale": "▲", "fail": "✕", "undecided": "◆", "not measured": "□", "no limit given": "○",
    "not ticked": "□", "overdue": "▲", "blank": "□", "deviation": "▲", "calibration unknown": "▲", "not listed": "▲",
    "not signed": "□", "own work": "▲",
}  # fmt: skip
LEADS = {  # status of a point without an entry → label of the button, and the page it opens
    "blank": ("Fill it in", "hand"), "overdue": ("See the instruments", "head"),
    "calibration unknown": ("See the instruments", "head"), "not signed": ("Sign", "hand"),
}  # fmt: skip
NONE = "— choose a job —"
WHAT_IT_IS = (
    "Run the notebook to see the job here: what is still open, its history with every correction, its header, "
    "signing and handing over the sheet, and the job as a file."
)


class OpenPage(W.VBox):
    """Open points, worst first; each entry can be opened, each point can be accepted or resolved."""

    def __init__(self, desk: JobDesk) -> None:
        self._desk = desk
        self._places: dict[str, EntryRow] = {}
        self._decisions: dict[str, Decide] = {}
        super().__init__([])

    def show(self, job: Job) -> None:
        """Show the open points, and the decided ones."""
        by_place: dict[str, list[OpenPoint]] = {}
        found = all_points(job)
        for point in found:
            if point.state == OPEN:
                of_entry = point.uid and point.where.startswith("line ")
                by_place.setdefault(point.uid if of_entry else point.where, []).append(point)
        entries = {x.uid: x for x in job.entries}
        children: list[Any] = []
        for where, points in by_place.items():
            if where in entries:
                place = self._places.setdefault(where, EntryRow(self._desk))
                place.show(points_html(points), entries[where], job)
                children.append(place)
            else:
                children.append(self._elsewhere(points))
            if not job.closed and any(p.key for p in points):
                decide = self._decisions.setdefault(where, Decide(self._desk))
                decide.show(points)
                children.append(decide)
        if not children:
            children = [W.HTML('<div class="jd-state" data-state="done">✓ Nothing is open.</div>')]
        self._places = {uid: p for uid, p in self._places.items() if uid in by_place}
        self._decisions = {k: d for k, d in self._decisions.items() if k in by_place}
        if told := decided_html([p for p in found if p.state != OPEN]):
            children.append(W.HTML(told))
        self.children = children

    def _elsewhere(self, points: Sequence[OpenPoint]) -> Any:
        """Points without an entry, with a button that leads to them."""
        words, status = W.HTML(points_html(points)), points[0].status
        if status not in LEADS:
            return row(words, named="jd-place")
        says, page = LEADS[status]
        return row(words, button(says, lambda: self._desk.go_to(page)), named="jd-place")


class HistoryPage(W.VBox):
    """All entries in the order of the job; corrected and struck-out entries stay readable."""

    def __init__(self, desk: JobDesk) -> None:
        self._desk = desk
        self._places: dict[int, EntryRow] = {}
        super().__init__([])

    def show(self, job: Job) -> None:
        """Show the present history."""
        children: list[Any] = []
        for title, chains in by_phase(job):
            children.append(heading(title))
            for chain in chains:
                place = self._places.setdefault(chain.first, EntryRow(self._desk))
                place.show(row_html(chain.last, chain.before), chain.last, job)
                children.append(place)
        if not children:
            children = [W.HTML('<p class="jd-note">Nothing is saved in this job yet. Every form can save to it.</p>')]
        self.children = [*children, heading("Paper trail"), W.HTML(trail_html(job))]


class JobDesk(StaticFallback, W.VBox):
    """``JobDesk(shoplib.sheet.fordesk)``: the job chosen in this kernel, or a job chosen here."""

    def __init__(self, sheets: Sheets | None = None, *, session: Any = None) -> None:
        if session is None:
            from shoplib.desk.widgets.session import session
        self._session = session
        self.job: Job | None = None
        self._page = "open"
        self._quiet = False  # true while this desk itself changes the session
        self.choose = labelled(W.Dropdown(options=[(NONE, "")], value=""), "Job")
        self.again = button("Refresh", self.look, tip="Read what other notebooks have saved since")
        self.head = W.HTML()
        self.news = StatusMessage()
        self._sheets, self._files = sheets, Files(self, sheets)
        self._pages: dict[str, dict[str, Any]] = {}
        self.pages = self._pages_of("")
        self.tabs = {name: button("", lambda name=name: self.go_to(name)) for name in self.pages}
        self.shown = W.VBox([])
        super().__init__([
            RootWidget(CSS), row(self.choose, self.again, named="jd-top"), self.head, self.news,
            row(*self.tabs.values(), named="jd-tabs"), self.shown,
        ])  # fmt: skip
        self.add_class("shop")
        self.add_class("shop-jobdesk")
        self.choose.observe(self._chosen, "value")
        session.observe(self._moved, ["number", "written"])
        self.look()

    # -- used by the pages
    @property
    def who(self) -> str:
        """The person at this desk."""
        return str(self._session.who)

    def picture(self, digest: str) -> bytes:
        """A photograph from the record.  Raises StoreError."""
        content: bytes = self._session.store().picture(digest)
        return content

    def act(
        self,
        say: StatusMessage,
        boxes: dict[str, Entry],
        work: Callable[[Store], Any],
        settled: Callable[[], None] = lambda: None,
    ) -> Any:
        """Change the record, then read the job again.  An error is shown beside the control, typed values stay, and
        None is returned.
        """
        try:
            done = self.write(work, settled)
        except BadInput as error:
            others = show_errors(boxes, error.problems)
            told = (
                "Nothing was saved. Correct the marked boxes."
                if len(others) < len(error.problems)
                else "Nothing was saved."
            )
            say.bad("\n".join([told, *map(str, others)]))
            self.look()
            return None
        except (StoreError, RuntimeError, ValueError) as error:  # RuntimeError: a sheet cannot be printed
            show_errors(boxes, ())
            say.bad(str(error))
            self.look()
            return None
        show_errors(boxes, ())
        who = boxes["who"].typed if "who" in boxes else None
        if who and not self.who:
            self._session.who = str(who).strip()
        return done

    def write(self, work: Callable[[Store], Any], settled: Callable[[], None] = lambda: None) -> Any:
        """Change the record, then read the job again.  Raises StoreError, BadInput and whatever ``work`` raises."""
        before = self._uids()
        done = work(self._session.store())
        settled()
        self._tell_others()
        self.look(mine=self._uids() - before)
        return done

    def _uids(self) -> set[str]:
        """The uids of the lines of this job in the record."""
        try:
            return {x.uid for x in self._session.store().job(self.job.number).lines} if self.job else set()
        except StoreError:
            return set()

    def _pages_of(self, uid: str) -> dict[str, Any]:
        """Each job has its own pages: text typed for one job stays there and never appears in another."""
        if uid not in self._pages:
            self._pages[uid] = {
                "progress": ProgressPage(self),
                "open": OpenPage(self),
                "history": HistoryPage(self),
                "head": HeaderForm(self),
                "hand": HandOver(self, self._sheets),
                "files": self._files,
            }
        return self._pages[uid]

    def go_to(self, page: str) -> None:
        """Show another page of the job."""
        self._page = page
        self.news.clear()
        self._show()

    # -- reading the record
    def look(self, *, mine: Collection[str] = ()) -> None:
        """Read the job again; report the lines of others (all but ``mine``) since the last reading."""
        before = self.job
        try:
            store = self._session.store()
            number = str(self._session.number)
            if before is not None and number == before.number:
                number = store.number_of(before.uid) or number  # follow a job whose number was changed
                self._set_number(number)
            self._offer(store, number)
            self.job = store.job(number) if number else None
            self.pages = self._pages_of(self.job.uid if self.job else "")
        except StoreError as error:
            self.news.bad(str(error))
            if before is None:
                self._show()
            return  # the screen stays as it was
        self.news.clear()
        if before is not None and self.job is not None and before.uid == self.job.uid:
            self._say_news({x.uid for x in before.lines} | set(mine), self.job)
        self._show()

    def _say_news(self, known: set[str], now: Job) -> None:
        new = [x for x in now.lines if x.uid not in known]
        if new:
            told = "; ".join(f"{x.name} by {x.who}" for x in new[-3:])
            self.news.good(f"{len(new)} new line{'s' * (len(new) > 1)} since the last refresh: {told}")

    def _offer(self, store: Store, number: str) -> None:
        """All jobs, last changed first."""
        rows = store.jobs(limit=200).rows
        options = [(NONE, "")]
        options += [(f"{r.number} · {r.engine}{' (closed)' if r.closed else ''}"[:120], r.number) for r in rows]
        if number and number not in (r.number for r in rows):
            options.append((number, number))
        self._quiet = True
        try:
            if list(self.choose.options) != options:
                self.choose.options = options
            self.choose.value = number
        finally:
            self._quiet = False

    def _chosen(self, change: Any) -> None:
        if not self._quiet:
            self._session.number = change["new"]

    def _set_number(self, number: str) -> None:
        if number != self._session.number:
            self._quiet = True
            try:
                self._session.number = number
            finally:
                self._quiet = False

    def _tell_others(self) -> None:
        self._quiet = True
        try:
            self._session.written += 1
        finally:
            self._quiet = False

    def _moved(self, _: Any) -> None:
        """Another form of this kernel chose a job or saved to it."""
        if not self._quiet:
            self.look()

    def _show(self) -> None:
        job = self.job
        self.head.value = head_html(job)
        counted = len(open_points(job)) if job else 0
        says = {
            "progress": "Progress",
            "open": f"Still open ({counted})",
            "history": f"History and corrections ({len(job.current_entries) if job else 0})",
            "head": "Header, people",
            "hand": "Sign and hand over",
            "files": "Files",
        }
        shown = self._page if job is not None else "files"
        for name, tab in self.tabs.items():
            tab.description = says[name]
            tab.disabled = job is None and name != "files"
            (tab.add_class if name == shown else tab.remove_class)("shop-picked")
        if job is not None or shown == "files":
            self.pages[shown].show(job)
        if self.shown.children != (self.pages[shown],):
            self.shown.children = [self.pages[shown]]

    # -- for viewers without a kernel
    def text(self) -> str:
        """What this widget is for."""
        return WHAT_IT_IS


# ------------------------------------------------------------------------------ as HTML
def head_html(job: Job | None) -> str:
    """Number, engine, complaint, open or closed, and notes about the record itself."""
    if job is None:
        return (
            '<div class="jd-state" data-state="open">No job is selected. Choose one above, start one in notebook 00, '
            "or import one below.</div>"
        )
    h = job.header
    facts = [h.get("engine"), h.get("customer_ref"), h.get("hours"), h.get("date")]
    last = job.lines[-1] if job.lines else None
    state = "closed" if job.closed else "open"
    letter = f", sheet {e(job.issues[-1].body.get('letter'))} issued" if job.issues else ""
    when = f" · last line {last.n}, {e(local(last.at))}" if last else ""
    complaint = f'<div class="jd-complaint">{e(h["complaint"])}</div>' if h.get("complaint") else ""
    notes = "".join(said("bad", note, named="jd-said") for note in job.notes)
    return (
        f'<div class="jd-head"><h3>Job {e(job.number)} <span class="jd-mark">{state}{letter}</span></h3>'
        f"<div>{e(' · '.join(str(f) for f in facts if f))}</div>{complaint}"
        f"<small>Done by {e(h.get('done_by', ''))}{when}</small></div>{notes}"
    )


def points_html(points: Sequence[OpenPoint]) -> str:
    """The place once; then sign, word and description of each point there."""
    rows = "".join(
        f'<div class="jd-point"><span class="jd-mark" data-outcome="{e(p.status)}">{SIGNS.get(p.status, "□")} '
        f"{e(p.status)}</span><div>{e(p.what)}</div></div>"
        for p in points
    )
    return f'<div class="jd-where">{e(points[0].where)}</div>{rows}'


def trail_html(job: Job) -> str:
    """Header, signatures, sheets, closing: one line each."""
    rows = "".join(
        f"<tr><td>{x.n}</td><td>{e(in_words(x, job))}</td><td>{e(x.who)}</td>"
        f'<td class="jd-when">{e(local(x.at))}</td></tr>'
        for x in paper_trail(job)
    )
    return (
        f'<table class="jd-table jd-trail"><tr><th>Line</th><th>What</th><th>Who</th><th>When</th></tr>{rows}</table>'
    )
