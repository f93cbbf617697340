"""One input of a form: its label, its box, and the errors of the typed value."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Any

import ipywidgets as W
import traitlets

from shoplib.core.fields import Field
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.grid import Grid
from shoplib.desk.widgets.offer import Offer
from shoplib.desk.widgets.trace_upload import upload_of

NOTHING = "—"
EXAMPLE = "shop-example"  # CSS class of a box that contains the example


def _rows(value: Any, columns: int) -> bool:
    return isinstance(value, list) and all(isinstance(row, list) and len(row) == columns for row in value)


class Entry(W.VBox):
    """One input: the label above, the box, and the error message."""

    def __init__(self, field: Field, value: Any) -> None:
        self.field = field
        self.filled = False  # contains the example, untouched and unconfirmed
        example = "" if field.kind in ("trace", "table", "choice", "boolean") else field.example.strip('"')
        optional = not field.help.startswith("required") and not (field.required and field.default is None)
        without = "" if field.choices or field.default is None else f"; if left empty, {field.spoken(field.default)}"
        hints = [
            f"optional{without}" if optional else "",
            field.help or (f"such as {example}" if example else ""),
        ]
        hint = "; ".join(filter(None, hints))
        self.label = f'<span class="shop-label">{e(field.label)} <i>{e(hint)}</i></span>'
        self.box = self._make_box(value)
        self.error = W.HTML("")
        self.complained = False  # an attribute is read in less time than a trait, at every keystroke
        self.offer = Offer(self)
        if isinstance(self.box, Grid):
            super().__init__([W.HTML(self.label), self.box, self.error])
        else:  # the widget's own label belongs to its box, for a tap on the label and for screen readers
            self.box.description_allow_html, self.box.description = True, self.label
            super().__init__([self.box, *([upload_of(self)] if field.kind == "trace" else []), self.error])
        self.example = self.box.value  # as given by the notebook
        self.add_class("shop-field")
        if field.kind == "table":
            self.add_class("shop-wide")

    def _make_box(self, value: Any) -> Any:
        f = self.field
        if f.kind == "table":
            return Grid(f.columns, f.rows(value, Path()) if value else ())
        if f.kind in ("choice", "boolean"):
            words = f.choices or ("yes", "no")
            options = [(f.spoken(w), w) for w in words]
            options.insert(0, (NOTHING if f.default is None else self._unless_typed(), NOTHING))
            box = W.Dropdown(options=options, value=str(value) if value is not None else options[0][1])
        else:
            shown = (
                "; ".join(map(str, value)) if isinstance(value, list | tuple) else "" if value is None else str(value)
            )
            if f.kind == "trace":
                hint = "angle_deg;torque_Nm\n0;0.4\n…"
                return W.Textarea(value=shown, placeholder=hint, rows=5, continuous_update=True)
            placeholder = f.example.strip('"') if f.default is None else self._unless_typed()
            box = W.Text(value=shown, placeholder=placeholder, continuous_update=True)
        return box

    def _unless_typed(self) -> str:
        """The value used if nothing is typed; it is shown as a default."""
        said = self.field.spoken(self.field.default)
        return f"if not chosen: {said}" if self.field.choices else f"{said} (default)"

    @property
    def typed(self) -> Any:
        """The content of the box; None if it is empty."""
        if isinstance(self.box, Grid):
            return self.box.records() or None
        value = self.box.value
        return None if value == NOTHING or not str(value).strip() else value

    @property
    def empty(self) -> Any:
        """The content of the box before anything is typed."""
        if isinstance(self.box, Grid):
            return [[""] * len(self.box.columns)]
        return NOTHING if isinstance(self.box, W.Dropdown) else ""

    def as_box(self, typed: Any) -> Any:
        """A value as typed, as the content of this box: of a table its rows, of a list one text."""
        if typed in (None, "", []):
            return self.empty
        if isinstance(self.box, Grid):
            return self.box.as_value(typed)
        return "; ".join(map(str, typed)) if isinstance(typed, list) else str(typed)

    def restore(self, value: Any, *, example: bool = False) -> None:
        """Fill the box from a draft or with the example; a value that does not fit is left out."""
        if not isinstance(self.box, Grid) or _rows(value, len(self.box.columns)):
            with contextlib.suppress(traitlets.TraitError):
                self.box.value = value
        same = isinstance(self.box, Grid) or self.box.value == self.example
        self._mark(example and same and self.typed is not None)

    # -- example or own value
    @property
    def borrowed(self) -> str:
        """The untouched part of the example, in words; "" if there is none."""
        if not self.filled or self.typed is None:
            return ""
        if not isinstance(self.box, Grid):
            return self.field.label
        given = self._rows_given()
        rows = [str(k) for k, row in self._rows_typed() if row in given]
        return f"{self.field.label}, row{'s' * (len(rows) > 1)} {', '.join(rows)}" if rows else ""

    @property
    def own(self) -> bool:
        """Whether the box contains a value that is not from the example."""
        if self.typed is None or not self.filled:
            return self.typed is not None
        if not isinstance(self.box, Grid):
            return False
        given = self._rows_given()
        return any(row not in given for _, row in self._rows_typed())

    def touched(self) -> None:
        """The user typed here.  Rows of a table that equal the example still count as the example."""
        self._mark(self.filled and isinstance(self.box, Grid) and bool(self.borrowed))

    def confirm(self) -> None:
        """The user confirms that the value of the example is correct for this job."""
        self._mark(False)

    def _mark(self, filled: bool) -> None:
        self.filled = filled
        if filled != (EXAMPLE in self._dom_classes):
            (self.add_class if filled else self.remove_class)(EXAMPLE)

    def _rows_typed(self) -> list[tuple[int, tuple[str, ...]]]:
        return [(k, tuple(row)) for k, row in enumerate(self.box.value, 1) if any(x.strip() for x in row)]

    def _rows_given(self) -> set[tuple[str, ...]]:
        return {tuple(row) for row in self.example}

    def show_errors(self, messages: list[str]) -> None:
        """Show the errors, or clear them."""
        if not messages and not self.complained:
            return
        self.complained = bool(messages)
        text = "<br>".join(e(m) for m in messages)
        shown = f'<div class="shop-error" role="alert">{text}</div>' if messages else ""
        if self.error.value != shown:
            self.error.value = shown
            (self.add_class if messages else self.remove_class)("shop-bad")
