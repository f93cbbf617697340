"""Sign and hand over: the signature, the sheet with its issue letter, closing and reopening the job."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

import ipywidgets as W

from shoplib.core.errors import BadInput
from shoplib.desk.widgets import download
from shoplib.desk.widgets.background_task import Runner
from shoplib.desk.widgets.components import (
    PAPERS,
    StatusMessage,
    button,
    heading,
    labelled,
    reason_box,
    row,
    set_typed,
    text_box,
    who_box,
)
from shoplib.desk.widgets.display_text import local
from shoplib.desk.widgets.entry_actions import Desk
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.session import session
from shoplib.record.errors import StoreError
from shoplib.record.history import named
from shoplib.record.job import Job, Line
from shoplib.record.job_progress import progress
from shoplib.record.open_points import open_points

if TYPE_CHECKING:
    from shoplib.desk.widgets.input_field import Entry
    from shoplib.record.store import Store

ROLES = ("did the work", "checked the work")


class Sheets(Protocol):
    """Makes and reads the sheets: the module ``shoplib.sheet.sheet_service``, of the same layer as the desk."""

    def job_sheet(
        self, store: Store, number: str, *, paper: str = "a4", blank: bool = False, who: str = "",
        recipient: str = "", extent: str = "whole",
    ) -> bytes:  # fmt: skip
        """The sheet of a whole job as a PDF; with ``who`` it is issued, for ``recipient``, and gets its letter."""

    def look(self, pdf: bytes) -> Any:
        """The content of a sheet: number, problems, notes, exported, job_file."""


class HandOver(W.VBox):
    """Sign, print, close."""

    def __init__(self, desk: Desk, sheets: Sheets | None) -> None:
        self._desk, self._sheets = desk, sheets
        self._seen = 0  # the last line shown on this screen
        self.state = W.HTML()
        self._build_sign()
        self._build_sheet()
        self._build_close()
        super().__init__([
            self.state,
            self.close_heading, self.close_part, self.reopen_part,
            heading("2 · Sign"), self.signs_for, row(*self.sign_boxes.values(), named="jd-boxes"), row(self.sign_it),
            self.sign_said, self.signed,
            heading("3 · Issue the sheet"), self.issued,
            row(self.sheet_who, self.sheet_for, self.paper, named="jd-boxes"),
            row(self.hand_it, self.customer_it, self.copy_it, self.blank_it), self.runner, self.sheet_said,
        ])  # fmt: skip

    def _build_sign(self) -> None:
        self.signs_for, self.signed, self.sign_said = W.HTML(), W.HTML(), StatusMessage()
        role = text_box("role", "Signs as", help="such as did the work, checked the work", example=f'"{ROLES[0]}"')
        self.sign_boxes: dict[str, Entry] = {"who": who_box(self._desk.who, "Who signs"), "role": role}
        self.sign_it = button("Sign", self.sign, main=True)

    def _build_sheet(self) -> None:
        self.issued, self.sheet_said, self.runner = W.HTML(), StatusMessage(), Runner()
        self.paper = labelled(W.Dropdown(options=list(PAPERS.items())), "Paper")
        self.sheet_who = who_box(self._desk.who, "Issued by")
        self.sheet_for = text_box("recipient", "Issued for", required=False, help="who gets it; printed on page 1",
                                  example='"the customer"')  # fmt: skip
        self.customer_it = button("Pages for the customer", lambda: self.make("customer"))
        self.copy_it = button("Working copy", lambda: self.make("copy"))
        self.hand_it = button("Issue the sheet", lambda: self.make("out"), main=True)
        self.blank_it = button("Blank sheet for the bench", lambda: self.make("blank"))

    def _build_close(self) -> None:
        self.close_heading = heading("")
        self.close_said, self.reopen_said = StatusMessage(), StatusMessage()
        self.close_boxes: dict[str, Entry] = {
            "root_cause": text_box("root_cause", "Root cause", long=True, help="why the joint failed; required",
                                   example='"sealing ring of liner 2 torn"'),
            "retorque": text_box("retorque", "Re-torque", required=False, long=True,
                                 help="only if the instructions require it: quote them, with document and page"),
            "parts_returned": text_box("parts_returned", "Parts returned", required=False, long=True,
                                       help="old parts given back to the customer"),
            "remark": text_box("remark", "Remark", required=False, long=True),
            "who": who_box(self._desk.who, "Who closes it"),
        }  # fmt: skip
        self.close_it = button("Close the job", self.close_job, main=True)
        self.close_part = W.VBox([row(*self.close_boxes.values(), named="jd-boxes jd-long"), row(self.close_it),
                                  self.close_said])  # fmt: skip
        self.closed_with = W.HTML()
        self.reopen_boxes: dict[str, Entry] = {
            "because": reason_box(example="leaks again, the customer rang"),
            "who": who_box(self._desk.who, "Who reopens it"),
        }
        self.reopen_it = button("Reopen the job", self.reopen)
        self.reopen_part = W.VBox([self.closed_with, row(*self.reopen_boxes.values(), named="jd-boxes"),
                                   row(self.reopen_it), self.reopen_said])  # fmt: skip

    # -- showing
    def show(self, job: Job) -> None:
        """Show the present job."""
        self._seen = job.lines[-1].n if job.lines else 0
        self.state.value = state_html(job) + missing_html(job)
        last = job.lines[-1] if job.lines else None
        until = f"; the last is {e(named(last, job))} by {e(last.who)}" if last else ""
        self.signs_for.value = (
            f'<p class="jd-note">You sign for <b>lines 1 to {self._seen}</b> as they are now{until}. '
            "Read the history first. Your signature is a name in the record, not a digital signature.</p>"
        )
        self.signed.value = signatures_html(job)
        self.issued.value = issues_html(job)
        self.hand_it.description = hand_out_says(job)
        self.close_heading.value = heading("1 · The job is closed" if job.closed else "1 · Close the job").value
        self.close_part.layout.display = "none" if job.closed else ""
        self.reopen_part.layout.display = "" if job.closed else "none"
        if job.closing is not None:
            self.closed_with.value = closing_html(job.closing)

    # -- doing
    def sign(self) -> None:
        """Sign for all present lines."""
        job, seen = self._desk.job, self._seen
        if job is None:
            return
        who, role = (str(self.sign_boxes[n].typed or "").strip() for n in ("who", "role"))
        if any(x.who == who and x.body.get("role") == role and stands for x, stands in job.signatures):
            self.sign_said.good(f"{who} has already signed as {role} for all lines.")
            return
        kept = self._desk.act(
            self.sign_said, self.sign_boxes, lambda store: store.sign(job.number, who=who, role=role, seen=seen)
        )
        if kept is not None:
            self.sign_said.good(f"Signed by {who}, {role}: line {kept.n}, {local(kept.at)}")

    def make(self, what: str) -> None:
        """Make the sheet: a working copy, an issued sheet, the pages for the customer, or a blank sheet."""
        job, sheets = self._desk.job, self._sheets
        if job is None:
            return
        if sheets is None:
            self.sheet_said.bad("No sheet can be made here. Open notebook 91 and make the sheet there.")
            return
        who = str(self.sheet_who.typed or "").strip()
        if what == "out" and not who:
            self.sheet_who.show_errors(["is missing; type the name of the person who issues the sheet"])
            self.sheet_said.bad("The sheet was not issued. Type a name under “Issued by”.")
            return
        self.sheet_who.show_errors([])
        self.sheet_said.wait("Making the sheet … A long job takes a few seconds.")
        paper, recipient = str(self.paper.value), str(self.sheet_for.typed or "").strip()

        def work(store: Store) -> bytes:
            return sheets.job_sheet(
                store, job.number, paper=paper, blank=what == "blank", who=who if what == "out" else "",
                recipient=recipient if what == "out" else "", extent="customer" if what == "customer" else "whole",
            )  # fmt: skip

        if what == "out":  # it changes the record, so it must not be interrupted
            self._made(what, job, self._desk.act(self.sheet_said, {"who": self.sheet_who}, work))
            return

        def carried() -> Any:
            try:
                return work(session.store())
            except (
                StoreError,
                BadInput,
                RuntimeError,
                ValueError,
            ) as error:  # shown by the desk, not by the worker thread
                return error

        def arrived(came: Any) -> None:
            self._made(what, job, self._desk.act(self.sheet_said, {}, lambda _: opened(came)))

        self.runner.run(carried, arrived, self.sheet_said.clear)

    def _made(self, what: str, job: Job, pdf: bytes | None) -> None:
        if pdf is None:
            return
        now = self._desk.job
        now = job if now is None or now.uid != job.uid else now  # the screen may show another job by now
        letter = f"sheet-{now.issues[-1].body['letter']}" if what == "out" and now.issues else {
            "copy": "working-copy", "blank": "blank", "customer": "customer", "out": "sheet"}[what]  # fmt: skip
        name = download.safe_name("job", now.number, letter, ending="pdf")
        says = {
            "copy": "Working copy made. It has no letter. Do not hand it over.",
            "customer": "Pages for the customer made: page 1 and the closing page."
            + ("" if now.issue is not None else " The sheet is not issued, so they say “working copy”."),
            "blank": "Blank sheet made. Print it, fill it in at the bench, and type it in later.",
            "out": f"Issued as sheet {now.issues[-1].body['letter'] if now.issues else 'A'}.",
        }[what]
        self.sheet_said.good(says, f"<div>{download.link(pdf, name, 'Save the PDF')}</div>")

    def close_job(self) -> None:
        """Close the job with its root cause."""
        job = self._desk.job
        if job is None:
            return
        typed = {n: str(b.typed or "") for n, b in self.close_boxes.items()}
        kept = self._desk.act(self.close_said, self.close_boxes, lambda store: store.close_job(job.number, **typed))
        if kept is not None:
            self.close_said.clear()
            self.reopen_said.good(f"Closed: line {kept.n}, {local(kept.at)}")

    def reopen(self) -> None:
        """Reopen the job, with the reason."""
        job = self._desk.job
        if job is None:
            return
        typed = {n: str(b.typed or "") for n, b in self.reopen_boxes.items()}
        kept = self._desk.act(self.reopen_said, self.reopen_boxes, lambda store: store.reopen(job.number, **typed))
        if kept is not None:
            set_typed(self.reopen_boxes["because"], "")
            self.reopen_said.clear()
            self.close_said.good(f"Reopened: line {kept.n}, {local(kept.at)}")


def opened(came: Any) -> Any:
    """The result of the work; an error in it is raised here."""
    if isinstance(came, Exception):
        raise came
    return came


# ------------------------------------------------------------------------------ as HTML
def state_html(job: Job) -> str:
    """Whether the job can be signed and its sheet issued, in one sentence at the top."""
    if job.stale or job.damaged:
        return (
            '<div class="jd-state" data-state="stop">▲ You cannot sign, issue or close yet: '
            "some numbers are stale or damaged. See <b>Still open</b>.</div>"
        )
    points = [p for p in open_points(job) if p.status != "blank"]
    if points:
        return (
            f'<div class="jd-state" data-state="open">◆ {_points(len(points))} still open. You can still sign and '
            "issue the sheet; it lists these points first.</div>"
        )
    return '<div class="jd-state" data-state="done">✓ Every check passes and nothing is stale.</div>'


def missing_html(job: Job) -> str:
    """The steps of the job that were neither done nor skipped; nothing when there are none."""
    missing = [] if job.closed else progress(job).missing
    if not missing:
        return ""
    items = "".join(f"<li>{e(s.step.title)}{': ' * bool(s.what)}{e(s.what)}</li>" for s in missing)
    return (
        '<div class="jd-state" data-state="open">◆ Not done and not skipped. Do each step, or skip it with a reason '
        f"on the page <b>Progress</b>.<ul>{items}</ul></div>"
    )


def _points(count: int) -> str:
    return "1 point is" if count == 1 else f"{count} points are"


def signatures_html(job: Job) -> str:
    """The signatures, and whether anything changed since."""
    now = {(x.who, x.body.get("role")) for x, stands in job.signatures if stands}

    def since(line: Line) -> str:
        return ": changed since" if (line.who, line.body.get("role")) in now else ": <b>changed since, sign again</b>"

    items = "".join(
        f"<li>{'✓' if stands else '▲'} <b>{e(x.who)}</b>, {e(x.body.get('role'))}, {e(local(x.at))}, for lines 1 to "
        f"{e(x.body.get('covers'))}{'' if stands else since(x)}</li>"
        for x, stands in job.signatures
    )
    return f'<ul class="jd-due">{items}</ul>' if items else '<p class="jd-note">Nobody has signed yet.</p>'


def hand_out_says(job: Job) -> str:
    """The label of the button."""
    last = job.issue
    return f"Issue sheet {last.body['letter']} again" if last is not None else "Issue the sheet"


def issues_html(job: Job) -> str:
    """The sheets issued so far, and what changed since the last one."""
    if not job.issues:
        return '<p class="jd-note">No sheet was issued yet. The first is A. After a change, B lists the changes.</p>'
    items = "".join(
        f"<li>Sheet <b>{e(x.body.get('letter'))}</b>, {e(local(x.at))}, by {e(x.who)}</li>" for x in job.issues
    )
    last = job.issues[-1]
    letter = e(last.body.get("letter"))
    if job.issue is not None:
        since = f"<p>Nothing changed since sheet {letter}.</p>"
    else:
        changes = "".join(f"<li>{e(c)}</li>" for c in job.changes(int(last.body.get("covers", 0))))
        since = f"<p><b>Changed since sheet {letter}</b>; the next sheet lists these changes:</p><ul>{changes}</ul>"
    return f'<div class="jd-issues"><ul>{items}</ul>{since}</div>'


def closing_html(line: Any) -> str:
    """The closing entry of the job."""
    body = line.body
    rows = [("Root cause", body.get("root_cause")), ("Re-torque, as instructed", body.get("retorque")),
            ("Parts returned", body.get("parts_returned")), ("Remark", body.get("remark"))]  # fmt: skip
    cells = "".join(f'<tr><th scope="row">{label}</th><td>{e(value)}</td></tr>' for label, value in rows if value)
    return (
        f'<p class="jd-note">Closed by {e(line.who)}, {e(local(line.at))}.</p><table class="jd-table">{cells}</table>'
        '<p class="jd-note">To change the job, reopen it with the reason. It can still be signed and printed.</p>'
    )
