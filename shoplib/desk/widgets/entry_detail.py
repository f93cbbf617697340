"""A row of the history or of the open points, and the entry behind it in full."""

from __future__ import annotations

import ipywidgets as W

from shoplib.desk.widgets.components import StatusMessage, button, row
from shoplib.desk.widgets.entry_actions import Action, AddPhotograph, Correction, Desk, Strike
from shoplib.desk.widgets.entry_html import detail_html, stale_html
from shoplib.record.job import Entry, Job


class EntryRow(W.VBox):
    """A row of the history, or of the open points, that can be opened."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.words = W.HTML()
        self.button = button("View", self.toggle)
        self.panel: EntryPanel | None = None
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
            self.panel = EntryPanel(self._desk)
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


class EntryPanel(W.VBox):
    """An entry with its full content and the actions on it."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.entry: Entry | None = None
        self.detail = W.HTML()
        self.stale = W.HTML()
        self.correct_it = button("Correct this …", lambda: self._open(Correction))
        self.strike_it = button("Strike out …", lambda: self._open(Strike))
        self.add_photo = button("Add a photograph …", lambda: self._open(AddPhotograph))
        self.actions = row(self.correct_it, self.strike_it, self.add_photo)
        self.shut = W.HTML()
        self.part = W.VBox([])  # the action in progress
        self.said = StatusMessage()
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
