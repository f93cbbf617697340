"""What can be done to a saved entry: correct it, strike it out, add a photograph."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol

import ipywidgets as W

from shoplib.core.errors import BadInput
from shoplib.core.working import Result
from shoplib.desk.widgets.components import (
    StatusMessage,
    button,
    condition_choice,
    labelled,
    reason_box,
    row,
    text_box,
    who_box,
)
from shoplib.desk.widgets.display_text import local
from shoplib.desk.widgets.entry_html import photos_of
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.form import Form
from shoplib.desk.widgets.input_field import Entry as Box
from shoplib.desk.widgets.job_list import IdempotencyKey
from shoplib.desk.widgets.note_boxes import note_boxes
from shoplib.desk.widgets.photo import PhotoBox
from shoplib.record.history import rework_plan
from shoplib.record.job import Entry, Job, Line
from shoplib.record.taken import Taken, corrected, taken_by
from shoplib.topics import get

if TYPE_CHECKING:
    from shoplib.record.store import Store

THERE_TOO = (
    "These values came from an earlier entry. If the value is wrong there too, tick it: both are corrected together, "
    "with the same reason."
)
TEXTS = ("title", "remark", "when")  # texts of an entry; they can be corrected like its readings


class Desk(Protocol):
    """What a part needs from the job desk that contains it."""

    job: Job | None
    who: str

    def act(
        self, say: StatusMessage, boxes: dict[str, Box], work: Callable[[Store], Any], settled: Callable[[], None] = ...
    ) -> Any:
        """Change the record, show any error, read the job again; return None if nothing was done."""

    def write(self, work: Callable[[Store], Any]) -> Any:
        """Change the record and read the job again.  Raises StoreError or BadInput."""

    def picture(self, digest: str) -> bytes:
        """A photograph from the record."""


class ActionPanel(Protocol):
    """What an action needs from the panel that contains it."""

    part: W.VBox

    def finished(self, said: str) -> None:
        """An action is done: remove its boxes, keep its answer."""


class Action(W.VBox):
    """An action on an entry: boxes, a button, an answer."""

    button_says = ""

    def __init__(self, desk: Desk, panel: ActionPanel) -> None:
        self._desk, self._panel = desk, panel
        self.entry: Entry | None = None
        self.boxes: dict[str, Box] = {}
        self.said = StatusMessage()
        self.go = button(self.button_says, self.do, main=True)
        self.leave = button("Cancel", self._away)
        super().__init__([])
        self.add_class("jd-action")

    def show(self, entry: Entry, job: Job) -> None:
        """Show the present entry; text being typed stays."""
        self.entry = entry

    def do(self) -> None:
        """Carry it out."""
        raise NotImplementedError

    def _away(self) -> None:
        self._panel.part.children = []

    def _act(self, work: Callable[[Store], Any], done: str) -> None:
        kept = self._desk.act(self.said, self.boxes, work)
        if kept is not None:
            self._panel.finished(f"{done}: line {kept.n}, {local(kept.at)}")


class Correction(Action):
    """The entry in its form again.  The old version stays in the record, struck out, with the reason."""

    button_says = "Save the correction"

    def __init__(self, desk: Desk, panel: ActionPanel) -> None:
        super().__init__(desk, panel)
        self.form: Form | None = None
        self.condition = condition_choice()
        self.sources: dict[str, Any] = {}  # uid of a source → its checkbox
        self.taken: list[tuple[Taken, Any]] = []  # a value that came from an earlier entry, and its checkbox
        self.content: Callable[[], Any] = dict  # reads the content of a note from its boxes

    def show(self, entry: Entry, job: Job) -> None:
        """Build the boxes once from the saved inputs; text being typed stays."""
        super().show(entry, job)
        if self.boxes:
            return
        body = entry.line.body
        about: dict[str, Box] = {
            "because": reason_box(rework_plan(job, entry).reason if entry.stale else ""),
            "who": who_box(self._desk.who),
            "remark": text_box("remark", "Remark", str(body.get("remark", "")), required=False, long=True),
            "when": text_box("when", "When it was done", str(body.get("when", "")), required=False,
                             example='"2026-11-25 10:40"'),
            "title": text_box("title", "Title", str(body.get("title", "")), required=entry.kind == "note"),
        }  # fmt: skip
        self.condition.value = str(entry.condition or "")
        self.condition.layout.display = "" if entry.kind == "entry" else "none"
        self.sources = {uid: _source_box(job.line(uid), not entry.sources_assumed) for uid in entry.sources or ()}
        said_so = "" if self.sources and not entry.stale else "none"
        choice = W.VBox([W.HTML('<p class="jd-note">Calculated from:</p>'), *self.sources.values()])
        choice.layout.display = said_so
        self.taken = [(x, W.Checkbox(value=False, description=x.label, indent=False)) for x in taken_by(job, entry)]
        there_too = W.VBox([W.HTML(f'<p class="jd-note">{THERE_TOO}</p>'), *(box for _, box in self.taken)])
        there_too.layout.display = "" if self.taken else "none"
        self.children = [
            *self._readings(entry),
            there_too,
            row(*about.values(), named="jd-boxes jd-long"),
            row(self.condition),
            choice,
            row(self.go, self.leave),
            self.said,
        ]
        self.boxes |= about

    def _readings(self, entry: Entry) -> list[Any]:
        if entry.kind == "note":
            self.boxes, self.content = note_boxes(entry.content or {})
            lone = [box for box in self.boxes.values() if box.field.kind != "table"]
            wide = [box for box in self.boxes.values() if box.field.kind == "table"]
            return [row(*lone, named="jd-boxes jd-long"), *wide]
        try:
            working = get(entry.form)
        except KeyError:
            return [
                W.HTML(
                    f'<p class="jd-note">This version has no form {e(entry.form)}. Strike the entry out instead.</p>'
                )
            ]
        typed = {name: value for name, value in (entry.inputs or {}).items() if working.field(name) is not None}
        lost = [name for name in entry.inputs or {} if name not in typed]
        self.form = Form(working, keeping=False, **typed)
        note = f'<p class="jd-note">No longer an input: {e(", ".join(lost))}.</p>' if lost else ""
        return [*([W.HTML(note)] if note else []), self.form]

    def do(self) -> None:
        """Save the correction."""
        entry, job = self.entry, self._desk.job
        if entry is None or job is None:
            return
        better: Any = self.content()
        if entry.kind == "entry":
            better = self.form.result if self.form is not None else None
        if better is None:
            self.said.bad("Nothing was saved: the form has no result yet. Correct the marked fields.")
            return
        try:
            there_too = self._there_too(entry)
        except BadInput as error:
            self.said.bad(f"Nothing was saved. The earlier entry cannot take this: {error}")
            return
        picked = [uid for uid, box in self.sources.items() if box.value]
        sources = rework_plan(job, entry).sources if entry.stale else picked
        more: dict[str, Any] = {"condition": self.condition.value} if entry.kind == "entry" else {}
        typed = {name: str(self.boxes[name].typed or "") for name in ("who", "because", *TEXTS)}
        if self.form is not None:  # an empty title becomes the title of the form again
            typed["title"] = typed["title"].strip() or self.form.working.title

        def work(store: Store) -> Any:
            return store.correct(
                job.number, entry.uid, better, who=typed["who"], because=typed["because"], sources=sources,
                there_too=there_too,
                **{**more, **{name: typed[name] for name in TEXTS}},
            )  # fmt: skip

        self._act(work, "Correction saved")

    def _there_too(self, entry: Entry) -> dict[str, Result]:
        """The earlier entries that are corrected together with this one."""
        if self.form is None or self.form.result is None:
            return {}
        now, before = self.form.result.inputs.as_entered, entry.inputs or {}
        ticked = [one for one, box in self.taken if box.value and now.get(one.input) != before.get(one.input)]
        return corrected(ticked, now)


def _source_box(line: Line, said_so: bool) -> Any:
    """A checkbox for a source; the user must tick a source that was only assumed."""
    name = line.name if said_so else f"{line.name}: assumed by version 0.1.0; tick it if it is correct"
    return W.Checkbox(value=said_so, description=name, indent=False)


class Strike(Action):
    """Strike something out, with the reason; it stays readable."""

    button_says = "Strike out"

    def show(self, entry: Entry, job: Job) -> None:
        """Offer what can be struck out: the entry, its ticks, their photographs."""
        super().show(entry, job)
        targets = [("the whole entry", entry.uid)]
        targets += [(f"{t.title} (line {t.n})", t.uid) for t in job.ticks_of(entry.uid) if t.stands]
        targets += [(f"photograph: {p.title[:60]} (line {p.n})", p.uid) for p in photos_of(entry, job)]
        if not self.boxes:
            self.target = labelled(W.Dropdown(options=targets), "What")
            self.boxes = {"because": reason_box(), "who": who_box(self._desk.who)}
            self.children = [self.target, row(*self.boxes.values(), named="jd-boxes"), row(self.go, self.leave),
                             self.said]  # fmt: skip
        elif list(self.target.options) != targets:
            chosen = self.target.value
            self.target.options = targets
            self.target.value = chosen if chosen in dict(targets).values() else entry.uid
        self.target.layout.display = "" if len(targets) > 1 else "none"

    def do(self) -> None:
        """Strike it out."""
        job, about = self._desk.job, self.target.value
        if job is None:
            return
        because, who = (str(self.boxes[n].typed or "") for n in ("because", "who"))
        self._act(lambda store: store.strike(job.number, about, who=who, because=because), "Struck out")


class AddPhotograph(Action):
    """Add a photograph with its caption."""

    def show(self, entry: Entry, job: Job) -> None:
        """Offer what it can belong to: the entry or one of its ticks."""
        super().show(entry, job)
        targets = [("the whole entry", entry.uid)]
        targets += [(f"{t.title} (line {t.n})", t.uid) for t in job.ticks_of(entry.uid) if t.stands]
        if not self.boxes:
            self.target = labelled(W.Dropdown(options=targets), "Photograph of")
            self.boxes = {"who": who_box(self._desk.who)}
            self.photo, self._once = PhotoBox(self._attach), IdempotencyKey()
            self.children = [
                W.HTML('<p class="jd-note">Place, time and owner are removed; the picture is made smaller.</p>'),
                self.target, row(*self.boxes.values(), named="jd-boxes"), self.photo, row(self.leave),
            ]  # fmt: skip
        self.target.layout.display = "" if len(targets) > 1 else "none"

    def _attach(self, raw: bytes, caption: str) -> str:
        """Attach it and return the confirmation.  Raises StoreError or BadInput."""
        job, about, who = self._desk.job, self.target.value, str(self.boxes["who"].typed or "")
        assert job is not None
        uid = self._once.uid((job.number, about, hashlib.sha256(raw).digest(), who, caption))
        kept = self._desk.write(lambda store: store.attach(job.number, about, raw, who=who, caption=caption, uid=uid))
        self._once.done()
        return f"Photograph added: line {kept.n}, {local(kept.at)}"
