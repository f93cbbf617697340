"""One entry of a job in full: inputs, results, photographs; correct it, strike it out, add a photograph."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, Protocol

import ipywidgets as W

from shoplib.core.fields import Field, table, words
from shoplib.desk.widgets.components import (
    Long,
    Say,
    as_words,
    button,
    cell,
    condition_choice,
    labelled,
    local,
    outcome_html,
    plain,
    reason_box,
    row,
    text_box,
    who_box,
)
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.form import Form
from shoplib.desk.widgets.grid import Grid
from shoplib.desk.widgets.input_field import Entry as Box
from shoplib.desk.widgets.job_list import Once
from shoplib.desk.widgets.photo import PhotoBox
from shoplib.record.errors import StoreError
from shoplib.record.history import findings, work_again
from shoplib.record.job import Entry, Job, Line
from shoplib.record.open_points import check_in_words, said
from shoplib.record.outcomes import CONDITION_WORDS
from shoplib.topics import get

if TYPE_CHECKING:
    from shoplib.record.store import Store

TEXTS = ("title", "remark", "when")  # texts of an entry; they can be corrected like its readings
SHORT = 40  # characters of a note that fit on one line


class Desk(Protocol):
    """What a part needs from the job desk that contains it."""

    job: Job | None
    who: str

    def act(
        self, say: Say, boxes: dict[str, Box], work: Callable[[Store], Any], settled: Callable[[], None] = ...
    ) -> Any:
        """Change the record, show any error, read the job again; return None if nothing was done."""

    def write(self, work: Callable[[Store], Any]) -> Any:
        """Change the record and read the job again.  Raises StoreError or BadInput."""

    def picture(self, digest: str) -> bytes:
        """A photograph from the record."""


# ------------------------------------------------------------------------------ one row
def row_html(last: Entry, before: Iterable[Entry] = ()) -> str:
    """Title, outcome, who, when, remark; earlier versions are shown crossed out below."""
    struck = last.state == "struck"
    title = f"<s>{e(last.title)}</s>" if struck else f"<b>{e(last.title)}</b>"
    stale = '<span class="jd-mark" data-outcome="stale">▲ stale</span>' if last.stale else ""
    pictures = f" · {len(last.photos)} photograph{'s' * (len(last.photos) > 1)}" if last.photos else ""
    found = findings(last)
    found = f"<s>{e(found)}</s>" if struck else e(found)
    remark = f'<div class="jd-remark">{e(last.remark)}</div>' if last.remark else ""
    gone = _gone(last) if struck else ""
    older = "".join(
        f'<div class="jd-was"><s>{e(x.title)}{": " * bool(findings(x))}{e(findings(x))}'
        f"{e(f' – {x.outcome}') if x.outcome else ''}</s> <small>{_by(x)}</small>{_gone(x)}</div>"
        for x in before
    )
    return (
        f'<div class="jd-entry" data-state="{last.state}"><div>{title} {outcome_html(last.outcome)}{stale}</div>'
        f'<div class="jd-found">{found}</div><small>{_by(last)}{pictures}</small>{remark}{gone}{older}</div>'
    )


def _by(entry: Entry) -> str:
    done = f"done {e(entry.when)} · " if entry.when else ""
    return f"{e(entry.who)} · {done}saved as line {entry.n}, {e(local(entry.at))}"


def _gone(entry: Entry) -> str:
    """Who corrected it or struck it out, when and why."""
    if entry.by is None:
        return ""
    how = "struck out" if entry.state == "struck" else "corrected"
    because = e(entry.by.body.get("because", ""))
    return (
        f'<div class="jd-gone">{how} by line {entry.by.n}, {e(entry.by.who)}, {e(local(entry.by.at))}. '
        f"Reason: {because}</div>"
    )


class Place(W.VBox):
    """A row of the history, or of the open points, that can be opened."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.words = W.HTML()
        self.button = button("View", self.toggle)
        self.panel: Panel | None = None
        self._entry: Entry | None = None
        self._closed = False
        self._line = row(self.words, self.button, named="jd-place")
        super().__init__([self._line])

    def show(self, html: str, entry: Entry, job: Job) -> None:
        """Show the present words and entry; text being typed in the panel stays."""
        self._entry = entry
        self._closed = job.closed
        self.button.tooltip = f"Line {entry.n}: view, correct, strike out, add a photograph"
        if self.panel is None:
            self.button.description = self._says
        if self.words.value != html:
            self.words.value = html
        if self.panel is not None:
            self.panel.show(entry, job)

    def toggle(self) -> None:
        """Open or close it."""
        if self.panel is None and self._entry is not None and self._desk.job is not None:
            self.panel = Panel(self._desk)
            self.panel.show(self._entry, self._desk.job)
            self.children = [self._line, self.panel]
            self.button.description = "Close"
        else:
            self.panel = None
            self.children = [self._line]
            self.button.description = self._says

    @property
    def _says(self) -> str:
        """The label of the button: what can be done there."""
        if self._entry is None or self._closed or not self._entry.stands:
            return "View"
        return "Recalculate" if self._entry.stale else "View or correct"


# ------------------------------------------------------------------------------ in full
class Panel(W.VBox):
    """An entry with its full content and the actions on it."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.entry: Entry | None = None
        self.detail = W.HTML()
        self.stale = W.HTML()
        self.correct_it = button("Correct this …", lambda: self._open(Correction))
        self.strike_it = button("Strike out …", lambda: self._open(Strike))
        self.add_photo = button("Add a photograph …", lambda: self._open(Photograph))
        self.actions = row(self.correct_it, self.strike_it, self.add_photo)
        self.shut = W.HTML()
        self.part = W.VBox([])  # the action in progress
        self.said = Say()
        super().__init__([self.stale, self.detail, self.shut, self.actions, self.said, self.part])
        self.add_class("jd-panel")

    def show(self, entry: Entry, job: Job) -> None:
        """Show the present entry."""
        self.entry = entry
        self.detail.value = detail_html(entry, job, self._desk.picture)
        self.stale.value = stale_html(entry, job)
        closed = "The job is closed. To change it, first reopen it under <b>Sign and hand over</b>."
        self.shut.value = f'<p class="jd-note">{closed}</p>' if job.closed else ""
        self.actions.layout.display = "none" if job.closed or not entry.stands else ""
        self.correct_it.description = "Recalculate …" if entry.stale else "Correct this …"
        self.correct_it.button_style = "primary" if entry.stale else ""
        for part in self.part.children:
            part.show(entry, job)

    def _open(self, kind: type[Action]) -> None:
        """Open an action; the second press closes it."""
        self.said.clear()
        if any(type(part) is kind for part in self.part.children):
            self.part.children = []
        elif self.entry is not None and self._desk.job is not None:
            self.part.children = []
            self.said.wait("Opening …")
            part = kind(self._desk, self)
            part.show(self.entry, self._desk.job)
            self.part.children = [part]
            self.said.clear()

    def finished(self, said: str) -> None:
        """An action is done: remove its boxes, keep its answer."""
        self.part.children = []
        self.said.good(said)


class Action(W.VBox):
    """An action on an entry: boxes, a button, an answer."""

    button_says = ""

    def __init__(self, desk: Desk, panel: Panel) -> None:
        self._desk, self._panel = desk, panel
        self.entry: Entry | None = None
        self.boxes: dict[str, Box] = {}
        self.said = Say()
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

    def __init__(self, desk: Desk, panel: Panel) -> None:
        super().__init__(desk, panel)
        self.form: Form | None = None
        self.condition = condition_choice()
        self.sources: dict[str, Any] = {}  # uid of a source → its checkbox
        self.content: Callable[[], Any] = dict  # reads the content of a note from its boxes

    def show(self, entry: Entry, job: Job) -> None:
        """Build the boxes once from the saved inputs; text being typed stays."""
        super().show(entry, job)
        if self.boxes:
            return
        body = entry.line.body
        about: dict[str, Box] = {
            "because": reason_box(work_again(job, entry).reason if entry.stale else ""),
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
        choice = W.VBox([W.HTML('<p class="jd-note">Computed from:</p>'), *self.sources.values()])
        choice.layout.display = said_so
        self.children = [
            *self._readings(entry),
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
        picked = [uid for uid, box in self.sources.items() if box.value]
        sources = work_again(job, entry).sources if entry.stale else picked
        more: dict[str, Any] = {"condition": self.condition.value} if entry.kind == "entry" else {}
        typed = {name: str(self.boxes[name].typed or "") for name in ("who", "because", *TEXTS)}
        if self.form is not None:  # an empty title becomes the title of the form again
            typed["title"] = typed["title"].strip() or self.form.working.title

        def work(store: Store) -> Any:
            return store.correct(
                job.number, entry.uid, better, who=typed["who"], because=typed["because"], sources=sources,
                **{**more, **{name: typed[name] for name in TEXTS}},
            )  # fmt: skip

        self._act(work, "Correction saved")


def _source_box(line: Line, said_so: bool) -> Any:
    """A checkbox for a source; the user must tick a source that was only assumed."""
    name = line.name if said_so else f"{line.name}: assumed by version 0.1.0; tick it if it is correct"
    return W.Checkbox(value=said_so, description=name, indent=False)


def note_boxes(content: Mapping[str, Any]) -> tuple[dict[str, Box], Callable[[], Any]]:
    """The content of a note as boxes, named by their path in the record, and a function that reads it back.

    Plain data of any shape: a text or a number has a box; a list, or a list of records, has a table; nested values
    are named by their path.  Untouched values stay as they were, a number as a number and a blank as a blank.
    """
    boxes: dict[str, Box] = {}

    def made(value: Any, where: str, label: str) -> Callable[[], Any]:
        if isinstance(value, Mapping):
            parts = {k: made(v, f"{where}.{k}", f"{label}, {as_words(k)}" if label else as_words(k))
                     for k, v in value.items()}  # fmt: skip
            return lambda: {k: read() for k, read in parts.items()}
        if isinstance(value, list):
            records = bool(value) and all(isinstance(v, Mapping) for v in value)
            heads = list(dict.fromkeys(str(k) for v in value for k in v)) if records else [""]
            rows = [[v.get(h) for h in heads] for v in value] if records else [[v] for v in value]
            if any(isinstance(x, Mapping | list) for cells in rows for x in cells):
                members = [made(v, f"{where}[{k}]", f"{label} {k}") for k, v in enumerate(value, 1)]
                return lambda: [read() for read in members]
            box = boxes[where] = Box(table(where, [words(h, as_words(h) or label) for h in heads], label), None)
            assert isinstance(box.box, Grid)
            box.box.value = [*([plain(x) for x in cells] for cells in rows), [""] * len(heads)]
            return lambda: _rows_again(box.box.value, value, rows, heads if records else None)
        typed = plain(value)
        box = boxes[where] = (Long if len(typed) > SHORT or "\n" in typed else Box)(words(where, label), typed)
        return lambda: _again(box.box.value, value)

    return boxes, made(content, "content", "")


def _again(typed: str, was: Any) -> Any:
    return was if typed == plain(was) else typed


def _rows_again(typed: list[list[str]], was: list[Any], rows: list[list[Any]], heads: list[str] | None) -> list[Any]:
    """A table read again.  An unchanged row, at any position, keeps its old value."""
    stood = [[plain(x) for x in cells] for cells in rows]
    found: list[Any] = []
    for k, cells in enumerate(typed):
        blank = not any(text.strip() for text in cells)
        if stood[k : k + 1] == [cells]:
            found.append(was[k])
        elif cells in stood and not blank:
            found.append(was[stood.index(cells)])
        elif not blank:
            old = rows[k] if k < len(rows) else [""] * len(cells)
            new = [_again(text, x) for text, x in zip(cells, old, strict=True)]
            held = was[k] if k < len(was) and heads else {}
            found.append({h: x for h, x in zip(heads, new, strict=True) if h in held or x} if heads else new[0])
    return found


class Strike(Action):
    """Strike something out, with the reason; it stays readable."""

    button_says = "Strike out"

    def show(self, entry: Entry, job: Job) -> None:
        """Offer what can be struck out: the entry, its ticks, their photographs."""
        super().show(entry, job)
        targets = [("the whole entry", entry.uid)]
        targets += [(f"{t.title} (line {t.n})", t.uid) for t in job.ticks_of(entry.uid) if t.stands]
        targets += [(f"photograph: {p.title[:60]} (line {p.n})", p.uid) for p in _photos(entry, job)]
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


class Photograph(Action):
    """Add a photograph with its caption."""

    def show(self, entry: Entry, job: Job) -> None:
        """Offer what it can belong to: the entry or one of its ticks."""
        super().show(entry, job)
        targets = [("the whole entry", entry.uid)]
        targets += [(f"{t.title} (line {t.n})", t.uid) for t in job.ticks_of(entry.uid) if t.stands]
        if not self.boxes:
            self.target = labelled(W.Dropdown(options=targets), "Photograph of")
            self.boxes = {"who": who_box(self._desk.who)}
            self.photo, self._once = PhotoBox(self._attach), Once()
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


# ------------------------------------------------------------------------------ as HTML
def stale_html(entry: Entry, job: Job) -> str:
    """Why its numbers are out of date, and what to do."""
    if not entry.stale:
        return ""
    again = work_again(job, entry)
    items = "".join(f"<li>{e(x)}</li>" for x in again.said or entry.stale)
    first = f"First recalculate {e(again.first[0].name)}. Then press" if again.first else "Press"
    return (
        '<div class="jd-stale"><b>▲ Stale: a value that it was computed from has changed.</b>'
        f"<ul>{items}</ul><p>{first} <b>Recalculate</b>: the form opens with the saved inputs. "
        "Type what changed, and save it. Until then the job cannot be signed and its sheet cannot be issued.</p></div>"
    )


def detail_html(entry: Entry, job: Job, picture: Callable[[str], bytes]) -> str:
    """Inputs, results, ticks, photographs."""
    parts = []
    if entry.kind == "note":
        parts.append(_block("Saved", [(e(as_words(k)), cell(v)) for k, v in (entry.content or {}).items()]))
    else:
        parts.append(_block("As typed", list(_inputs(entry))))
        parts.append(_block("Result", list(_results(entry))))
        checks = [
            (outcome_html(c.get("outcome")) or e(c.get("outcome")), e(check_in_words(c)))
            for c in entry.result.get("checks") or ()
        ]
        parts.append(_block("Checks", checks))
    parts.append(_ticks(job.ticks_of(entry.uid)))
    parts += [_photo(line, picture) for line in _photos(entry, job)]
    sources = [job.line(uid).name for uid in entry.sources or () if any(x.uid == uid for x in job.lines)]
    if sources:
        assumed = " (assumed: version 0.1.0 proposed it from equal numbers)" if entry.sources_assumed else ""
        parts.append(f'<p class="jd-note">Computed from {e("; ".join(sources))}{assumed}.</p>')
    if entry.kind == "entry":
        parts.append(f'<p class="jd-note">Engine: {e(CONDITION_WORDS[entry.condition or ""])}.</p>')
    return f'<div class="jd-detail">{"".join(parts)}</div>'


def _block(title: str, rows: list[tuple[str, str]]) -> str:
    """Labels and values in one table; a value that is a table follows below, with its label as the heading."""
    lone = [(label, value) for label, value in rows if not value.startswith("<table")]
    wide = [(label, value) for label, value in rows if value.startswith("<table")]
    body = "".join(f'<tr><th scope="row">{label}</th><td>{value}</td></tr>' for label, value in lone)
    parts = (
        [f'<div class="jd-part"><h5>{title}</h5><table class="jd-table jd-pairs">{body}</table></div>'] if body else []
    )
    parts += [f'<div class="jd-part jd-wide"><h5>{title}: {label}</h5>{value}</div>' for label, value in wide]
    return "".join(parts)


def _inputs(entry: Entry) -> Iterable[tuple[str, str]]:
    """The inputs, in the order and with the labels of the form."""
    typed = dict(entry.inputs or {})
    try:
        fields = get(entry.form).fields
    except KeyError:  # this version no longer has the form
        fields = ()
    for field in fields:
        if field.name in typed:
            value = typed.pop(field.name)
            yield e(field.label), _rows(value, field.columns) if field.columns else _picked(field, value)
    yield from ((e(as_words(name)), cell(value)) for name, value in typed.items())


def _rows(value: Any, columns: tuple[Field, ...]) -> str:
    """A typed table, with the columns of the form."""
    if not isinstance(value, list) or not all(isinstance(r, dict) for r in value):
        return cell(value)
    used = [c for c in columns if any(c.name in r for r in value)]
    known = {c.name: c for c in columns}
    others = dict.fromkeys(k for r in value for k in r if k not in known)
    top = "".join(f"<th>{e(c.label)}</th>" for c in used) + "".join(f"<th>{e(as_words(k))}</th>" for k in others)
    names = [*(c.name for c in used), *others]
    rows = "".join("<tr>" + "".join(f"<td>{_picked(known.get(n), r.get(n, ''))}</td>" for n in names) + "</tr>"
                   for r in value)  # fmt: skip
    return f'<table class="jd-table"><tr>{top}</tr>{rows}</table>'


def _picked(field: Field | None, value: Any) -> str:
    """As HTML; a choice as the form shows it."""
    return e(field.spoken(value)) if field is not None and value in field.choices else cell(value)


def _results(entry: Entry) -> Iterable[tuple[str, str]]:
    for name, value in (entry.result.get("results") or {}).items():
        found = value.get("value")
        label = e(name.replace("_", " "))
        if isinstance(found, list) and found and isinstance(found[0], dict):
            heads = list(dict.fromkeys(k for r in found for k in r))
            top = "".join(f"<th>{e(h.replace('_', ' '))}</th>" for h in heads)
            rows = "".join(
                "<tr>" + "".join(f"<td>{e(said(r[h])) if h in r else ''}</td>" for h in heads) + "</tr>" for r in found
            )
            yield label, f'<table class="jd-table"><tr>{top}</tr>{rows}</table>'
        else:
            yield label, e(said(value))


def _ticks(ticks: tuple[Entry, ...]) -> str:
    if not ticks:
        return ""
    rows = []
    for t in ticks:
        says = f"{e(t.value)}"
        if t.deviation:
            says += f" <b>▲ {e(t.deviation)}</b>; reason: {e(t.reason)}; action: {e(t.action)}"
        says += f"; {e(t.remark)}" if t.remark else ""
        says = says if t.stands else f"<s>{says}</s>{_gone(t)}"
        rows.append((f"stage {e(t.stage)}, bolt {e(t.bolt)}", f"{says} <small>{_by(t)}</small>"))
    return _block("Ticks", rows)


def _photos(entry: Entry, job: Job) -> tuple[Line, ...]:
    return (*entry.photos, *(p for t in job.ticks_of(entry.uid) for p in t.photos))


def _photo(line: Line, picture: Callable[[str], bytes]) -> str:
    caption = str(line.body.get("caption") or "no caption")
    try:
        code = base64.b64encode(picture(str(line.body.get("thumb")))).decode("ascii")
    except StoreError as error:
        return f'<p class="jd-note">{e(caption)}: {e(error)}</p>'
    return (
        f'<figure class="jd-photo"><img alt="{e(caption)}" src="data:image/jpeg;base64,{code}">'
        f"<figcaption>{e(caption)} <small>{e(line.who)}, line {line.n}, {e(local(line.at))}</small></figcaption>"
        "</figure>"
    )
