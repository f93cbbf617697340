"""A form made from a working.  It does no arithmetic: it passes text in and shows the result."""

from __future__ import annotations

import functools
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as W
import traitlets
from IPython import get_ipython
from IPython.display import display

from shoplib.core.checks import NO_LIMIT
from shoplib.core.errors import BadInput, Problem
from shoplib.core.fields import Field
from shoplib.core.units import Unreadable
from shoplib.core.working import Result, Working
from shoplib.desk import STATIC
from shoplib.desk.widgets.background_task import Runner
from shoplib.desk.widgets.components import heading, show_errors
from shoplib.desk.widgets.display_text import with_sign
from shoplib.desk.widgets.input_field import Entry
from shoplib.desk.widgets.live_figure import LiveFigure
from shoplib.desk.widgets.message_batch import BatchedHTML
from shoplib.desk.widgets.offer import OfferAll
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.save_bar import Keeping
from shoplib.desk.widgets.static_fallback import FoldedText, StaticFallback
from shoplib.desk.widgets.templates import render
from shoplib.topics import get

if TYPE_CHECKING:
    from shoplib.record.suggestions import Suggestion

CSS = (STATIC / "form.css").read_text(encoding="utf-8")
KEEPING_CSS = (STATIC / "keeping.css").read_text(encoding="utf-8")
NOT_YOURS = "Example with invented values. Type your own over them: the form lists those that you have not replaced."
THEN_JUDGED = "Pass or fail is shown as soon as you type."
HERE = Path()
WORKING_TITLE = "Working (shown rounded, computed in full precision)"


class Steps(W.VBox):
    """The steps of the working, collapsed; they are typeset only while they are open."""

    def __init__(self) -> None:
        self.result: Result | None = None
        self._shown: tuple[bool, bool] | None = None  # whether there are steps, and whether they are open
        self.fold = W.ToggleButton()
        self.body = W.HTMLMath()
        super().__init__([self.fold, self.body])
        self.add_class("shop-steps")
        self.fold.observe(lambda _: self.show(self.result), "value")

    def show(self, result: Result | None) -> None:
        """Show the steps of this result."""
        self.result = result
        now = result is not None and bool(result.steps), self.fold.value
        if now == self._shown and not self.fold.value:
            return
        self._shown = now
        self.fold.layout.display = "" if now[0] else "none"
        self.fold.description = f"{'▾' if self.fold.value else '▸'} {WORKING_TITLE}"
        self.body.value = steps_html(result) if self.fold.value and result is not None else ""


class Form(StaticFallback, W.VBox):
    """``Form("preload_from_torque", torque="40 N*m", …)``: type, and see the result at once.

    ``result`` is the current Result, or None while an input is bad.  Typed values are never changed.
    A table is given as records, or as text as on the command line; text without a table raises BadInput.
    ``keeping``: with the bar that saves it to a job, and a draft of the boxes.  The given values are then the worked
    example: it is marked as an example, it has no outcome, and with a job open the form starts empty.
    Without the bar the given values count as typed.
    """

    typed = traitlets.Bool()  # whether any value here is not from the example

    def __init__(self, working: str | Working, /, *, keeping: bool = True, **values: Any) -> None:
        self.working = get(working) if isinstance(working, str) else working
        values = self.working.current(values)
        unknown = [name for name in values if self.working.field(name) is None]
        if unknown:
            raise TypeError(f"{self.working.name} has no input {', '.join(unknown)}")
        self.told_above = _told_above(self.working)
        self.result: Result | None = None
        self.figure: LiveFigure | None = None
        self.entries = {f.name: _entry(f, values.get(f.name)) for f in self.working.fields}
        self.given = {name: entry.typed for name, entry in self.entries.items()}  # the worked example
        if keeping:
            for entry in self.entries.values():
                entry.restore(entry.example, example=entry.typed is not None)
        self.runner = Runner()
        self.answer = BatchedHTML()
        self.picture = W.VBox([])
        self.picture.add_class("shop-picture")
        self.steps = Steps()
        self.notes = W.HTML()
        self.offers = OfferAll(self.accept_all)
        grid = W.Box([self.offers, *self._grouped()])
        grid.add_class("shop-fields")
        self.keeping = Keeping(self) if keeping else None
        shown = W.VBox(
            [self.runner, self.answer, *([self.keeping] if self.keeping else []), self.picture, self.steps, self.notes]
        )
        shown.add_class("shop-shown")
        desk = W.Box([grid, shown])
        desk.add_class("shop-desk")
        if any(f.kind == "table" for f in self.working.fields):
            desk.add_class("shop-stacked")  # a table of readings needs the full width
        super().__init__([RootWidget(CSS + KEEPING_CSS), desk])
        self.add_class("shop")
        for entry in self.entries.values():
            entry.box.observe(lambda _, entry=entry: self._typed_into(entry), "value")
        self._filling = False
        self._changed()

    def is_folded(self) -> None:
        """Behind its title, or never shown: later forms repeat its cautions, since nobody may have seen them."""
        if _first and _first[0].name == self.working.name:
            _first.clear()

    def _grouped(self) -> list[Any]:
        """Headings and boxes; a group is placed where its first field is."""
        groups: dict[str, list[Any]] = {}
        for entry in self.entries.values():
            groups.setdefault(entry.field.group, []).append(entry)
        children: list[Any] = []
        for group, entries in groups.items():
            if group:
                title = heading(group)
                title.add_class("shop-wide")
                children.append(title)
            children += entries
        return children

    # -- the content of the boxes, good or bad
    def boxes(self) -> dict[str, Any]:
        """The content of all boxes."""
        return {name: entry.box.value for name, entry in self.entries.items()}

    @property
    def own(self) -> bool:
        """Whether any value here is not from the example."""
        return any(entry.own for entry in self.entries.values())

    @property
    def borrowed(self) -> list[Entry]:
        """The boxes that still contain the example, or rows of it, untouched and unconfirmed."""
        return [entry for entry in self.entries.values() if entry.borrowed]

    @functools.cached_property
    def worked(self) -> Result:
        """The result of the worked example, whatever the boxes contain now."""
        return self.working({name: value for name, value in self.given.items() if value is not None}, folder=Path())

    def fill(self, boxes: Mapping[str, Any], example: Collection[str] = ()) -> None:
        """Restore the boxes.  Values that do not fit a box, or have no box, are left out.

        ``example``: the names of the boxes that contain the example.
        """
        self._filling = True
        try:
            for name, value in boxes.items():
                if name in self.entries:
                    self.entries[name].restore(value, example=name in example)
        finally:
            self._filling = False
        self._count_offers()
        self._changed()

    def confirm(self, entry: Entry) -> None:
        """The user confirms that the example's value in this box is correct for the job."""
        entry.confirm()
        self._changed()

    # -- what the job offers
    def suggest(self, found: Mapping[str, Suggestion]) -> None:
        """Offer these values beside their boxes; nothing is filled in."""
        for name, entry in self.entries.items():
            entry.offer.show(found.get(name))
        self._count_offers()

    def accept_all(self) -> None:
        """Take every value that is offered for an empty box."""
        self._filling = True
        try:
            for entry in self.entries.values():
                entry.offer.accept()
        finally:
            self._filling = False
        self._count_offers()
        self._changed()

    @property
    def origins(self) -> dict[str, dict[str, str]]:
        """Input → the entry from which a person took its value, and the words for it."""
        return {name: entry.offer.origin for name, entry in self.entries.items() if entry.offer.origin}

    def _count_offers(self) -> None:
        self.offers.show(sum(entry.offer.waits for entry in self.entries.values()))

    # -- on every change
    def _typed_into(self, entry: Entry) -> None:
        if not self._filling:
            entry.touched()
            self._count_offers()
            self._changed()

    def _changed(self) -> None:
        typed = {name: value for name, entry in self.entries.items() if (value := entry.typed) is not None}
        self.typed = self.own
        self.runner.run(lambda: self._worked(typed), self._came, self._waiting)

    def _worked(self, typed: Mapping[str, Any]) -> Result | BadInput | None:
        if not typed:
            return None
        try:
            return self.working(typed, folder=HERE)
        except BadInput as error:
            return error

    def _waiting(self) -> None:
        """The result comes later: remove the old answer."""
        self.result = None
        self._show(render("form", "waiting"))
        if self.keeping is not None:
            self.keeping.changed()

    def _came(self, came: Result | BadInput | None) -> None:
        self.result = came if isinstance(came, Result) else None
        elsewhere = show_errors(self.entries, came.problems if isinstance(came, BadInput) else ())
        self._show("" if self.result else self._empty() if came is None else render("form", "stop", elsewhere))
        if self.keeping is not None:
            self.keeping.changed()

    def _empty(self) -> str:
        needed = [x.field.label for x in self.entries.values() if x.field.required and x.field.default is None]
        return render("form", "empty", needed)

    def _show(self, without: str) -> None:
        """Show the words first, then the picture; without a result, show why there is none."""
        if self.result is None:
            self.answer.value = without
            self.picture.layout.display = "none"
            self.steps.show(None)
            first = bool(_first) and _first[0].name == self.working.name
            self.notes.value = _notes("", self.working.cautions, False) if first else ""  # the others refer to them
            return
        if not self._show_picture(self.result):
            self._show_answer()
        self.steps.show(self.result)
        self.notes.value = notes_html(self.result, self.told_above)

    def _show_answer(self) -> None:
        """Show the numbers."""
        if self.result is not None:
            self.answer.value = self._answer(self.result)

    def _answer(self, result: Result) -> str:
        """The answer; values of the example are marked, and the example alone has no outcome."""
        own, borrowed = self.typed, [x.borrowed for x in self.borrowed]
        judged = f" {THEN_JUDGED}" if result.outcome is not None else ""
        told = f"Still as in the example: {'; '.join(borrowed)}." if own else NOT_YOURS + judged
        note = render("form", "not_yours", told) if borrowed else ""
        return note + answer_html(result, judged=own)

    def _show_picture(self, result: Result) -> bool:
        """Show the picture, and just before it the numbers; False if there is no picture."""
        draw = self.working.draw
        if draw is None or not self.working.pictures(result):
            self.picture.layout.display = "none"
            return False
        alt = self.working.alt(result) if self.working.alt else self.working.title
        if self.figure is None:
            self._show_answer()
            self.figure = LiveFigure(draw, result, name=self.working.name, alt=alt, figsize=self.working.figure_size)
            self.picture.children = [self.figure]
        else:
            self.figure.move(result, alt, self._show_answer)
        self.picture.layout.display = ""
        return True

    def text(self) -> str:
        """The whole result as plain text."""
        if self.result is None:
            return "No result yet. Correct the marked fields."
        return self.result.as_text() if self.own else f"{NOT_YOURS}\n\n{self.result.as_text()}"

    def static_html(self) -> str:
        """The form as a page without widgets."""
        typed = [
            (x.field.label, x.field.spoken(x.typed))
            for x in self.entries.values()
            if x.typed is not None and x.field.kind != "table"
        ]
        parts = []
        if self.result:
            parts = [self._answer(self.result), self.figure.as_image() if self.figure else ""]
            parts.append(notes_html(self.result, self.told_above))
        return render("form", "static", CSS, typed, parts)


def _entry(field: Field, value: Any) -> Entry:
    try:
        return Entry(field, value)
    except Unreadable as error:  # a table given as text; in a text box the message would be beside the box
        raise BadInput([Problem(field.name, str(error), field.example)]) from None


def answer_html(result: Result, *, judged: bool = True) -> str:
    """Results, then the outcome and its checks; ``judged=False`` without them."""
    values = [(name, v.label, v.shown) for name, v in result.values.items() if not v.is_table]
    tables = [
        (v.label, [x.label for x in v.value[0].values()], [[x.shown for x in row.values()] for row in v.value])
        for v in result.values.values()
        if v.is_table
    ]
    outcome = str(result.outcome) if judged and result.outcome is not None else ""
    checks = [
        (
            with_sign(c.outcome),
            c.sentence + (f"; {result.in_labels(c.remark)}" if c.remark not in ("", NO_LIMIT) else ""),
            c.basis,
        )
        for c in (result.checks if outcome else ())
    ]
    return render("form", "answer", values, outcome, checks, tables)


def steps_html(result: Result) -> str:
    """The working: each formula with its numbers and its source."""
    return render("form", "steps", result.to_json()["steps"])


def notes_html(result: Result, told_above: frozenset[str] = frozenset()) -> str:
    """The assumptions and the cautions, without those that the first form of the notebook shows."""
    assumed = result.in_labels("; ".join(result.assumptions)) if result.assumptions else ""
    told = tuple(result.labelled_cautions)
    return _notes(assumed, tuple(c for c in told if c not in told_above), any(c in told_above for c in told))


@functools.lru_cache(maxsize=256)  # they seldom change at a keystroke
def _notes(assumed: str, cautions: tuple[str, ...], above: bool) -> str:
    return render("form", "notes", assumed, cautions, above)


def _in_a_notebook() -> bool:
    return getattr(get_ipython(), "kernel", None) is not None


_first: list[Working] = []  # the working of the first form of this notebook: it is open, and at the top


def _told_above(working: Working) -> frozenset[str]:
    """The cautions that the first form of this notebook shows always; none outside a notebook."""
    if not _in_a_notebook():
        return frozenset()
    if not _first:
        _first.append(working)
    return frozenset() if working.name == _first[0].name else frozenset(_first[0].cautions)


def example(form: Form, *, also: Mapping[str, str] | None = None) -> None:
    """Show the worked example of a form as text, folded; ``also`` replaces or adds inputs."""
    typed = {name: value for name, value in form.given.items() if value is not None}
    text = form.working({**typed, **(also or {})}, folder=Path()).as_text(cautions=False)  # the form shows them
    display(FoldedText("Show the worked example", text))
