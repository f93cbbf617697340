"""The header of a job on screen: all its fields, people and instruments; each change has a reason."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import ipywidgets as W

from shoplib.core.fields import Field, table, words
from shoplib.desk.widgets.components import (
    StatusMessage,
    TextAreaField,
    button,
    heading,
    reason_box,
    row,
    set_typed,
    who_box,
)
from shoplib.desk.widgets.display_text import local
from shoplib.desk.widgets.entry_actions import Desk
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.input_field import Entry
from shoplib.record import header
from shoplib.record.extra_fonts import warnings_of
from shoplib.record.instruments import calibrations
from shoplib.record.job import Job


def _fields() -> list[Field]:
    plain = [words(f.name, f.label, required=f.required, example=f.example) for f in header.FIELDS]
    return plain + [
        table(
            t.name,
            tuple(words(c.name, c.label, required=c.required, example=c.example) for c in t.columns),
            t.label,
            required=False,
            help=t.help,
        )
        for t in header.TABLES
    ]


def _texts(job: Job) -> dict[str, str]:
    """The texts of the header, by the labels of the fields; a table as one text."""
    return {
        header.LABELS[name]: " ".join(map(str, (v for row in said for v in row.values())))
        if isinstance(said, list | tuple)
        else str(said)
        for name, said in job.header.items()
        if name in header.LABELS
    }


class HeaderForm(W.VBox):
    """All fields of the header.  Typed values are saved with the reason when the button is pressed."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._shown: dict[str, Any] = {}  # what was put into the boxes from the record
        several_lines = [f.name for f in header.FIELDS if f.long]
        tables = [t.name for t in header.TABLES]
        self.boxes: dict[str, Entry] = {
            f.name: TextAreaField(f, "") if f.name in several_lines else Entry(f, None) for f in _fields()
        }
        self.boxes |= {"because": reason_box(), "who": who_box(desk.who)}
        self.calibration = W.HTML()
        self.go = button("Save the header", self.keep, main=True)
        self.back = button("Undo changes", self._back)
        self.said = StatusMessage()
        plain = [b for n, b in self.boxes.items() if n not in (*tables, "because", "who")]
        why = [self.boxes["because"], self.boxes["who"]]
        super().__init__([
            heading("Header"), row(*plain, named="jd-boxes"), *(self.boxes[n] for n in tables),
            self.calibration, row(*why, named="jd-boxes"), row(self.go, self.back), self.said,
        ])  # fmt: skip

    def show(self, job: Job) -> None:
        """Show the present header; boxes with typed changes stay as they are."""
        for name, box in self.boxes.items():
            if name in ("because", "who"):
                continue
            stands = job.header.get(name) or ([] if box.field.kind == "table" else "")
            if name not in self._shown or self._typed(name) == self._shown[name]:
                if name not in self._shown or stands != self._shown[name]:
                    set_typed(box, stands)
                self._shown[name] = self._typed(name)
        closed = job.closed
        self.go.disabled = closed
        self.go.tooltip = "The job is closed. Reopen it first." if closed else "Save the changes"
        lines = "".join(
            f'<li data-overdue="{str(c.overdue).lower()}">{"▲" if c.overdue else "·"} {e(c.words)}</li>'
            for c in calibrations(job)
        )
        lines += "".join(f'<li data-overdue="true">▲ {e(words)}</li>' for words in warnings_of(_texts(job)))
        self.calibration.value = f'<ul class="jd-due">{lines}</ul>' if lines else ""

    def _typed(self, name: str) -> Any:
        box = self.boxes[name]
        return box.typed or ([] if box.field.kind == "table" else "")

    def changed(self) -> Mapping[str, Any]:
        """The fields that differ from the record."""
        return {name: self._typed(name) for name, stood in self._shown.items() if self._typed(name) != stood}

    def keep(self) -> None:
        """Save the changes; the old values stay in the record."""
        job, changed = self._desk.job, self.changed()
        if job is None:
            return
        if not changed:
            self.said.bad("Nothing was changed, so nothing was saved.")
            return
        because, who = (str(self.boxes[n].typed or "") for n in ("because", "who"))
        kept = self._desk.act(
            self.said,
            self.boxes,
            lambda store: store.amend(job.number, who=who, because=because, **changed),
            settled=lambda: self._shown.update(changed),  # the boxes match the record from now on
        )
        if kept is None:
            return
        set_typed(self.boxes["because"], "")
        self.said.good(f"Saved as line {kept.n}, {local(kept.at)}. The old values stay in the record.")

    def _back(self) -> None:
        """Discard the typed changes."""
        self._shown.clear()
        self.said.clear()
        for box in self.boxes.values():
            box.show_errors([])
        if self._desk.job is not None:
            self.show(self._desk.job)
