"""One input of a form: its words, its box, and what is wrong with what was typed."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Any

import ipywidgets as W
import traitlets

from shoplib.desk.escape import e
from shoplib.desk.grid import Grid
from shoplib.working import Field

SIGNS = {"pass": "✓", "fail": "✕", "undecided": "◆", "no limit given": "○"}  # the word always stands beside
NOTHING = "—"


def _rows(value: Any, columns: int) -> bool:
    return isinstance(value, list) and all(isinstance(row, list) and len(row) == columns for row in value)


class Entry(W.VBox):
    """One input: label above, the box, and what is wrong with it in words."""

    def __init__(self, field: Field, value: Any) -> None:
        self.field = field
        example = field.example.strip('"')
        hints = [
            "" if field.required and field.default is None else "optional",
            field.help or (f"such as {example}" if example else ""),
        ]
        hint = "; ".join(filter(None, hints))
        self.label = f'<span class="shop-label">{e(field.label)} <i>{e(hint)}</i></span>'
        self.box = self._make_box(value)
        self.error = W.HTML("")
        if isinstance(self.box, Grid):
            super().__init__([W.HTML(self.label), self.box, self.error])
        else:  # the widget's own label belongs to its box: a tap on the words and a screen reader find it
            self.box.description_allow_html, self.box.description = True, self.label
            super().__init__([self.box, self.error])
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
            placeholder = f.example.strip('"') if f.default is None else self._unless_typed()
            box = W.Text(value=shown, placeholder=placeholder, continuous_update=True)
        return box

    def _unless_typed(self) -> str:
        """What is taken when nothing is typed; it stays a default, and is shown as one."""
        return f"{self.field.spoken(self.field.default)} (default)"

    @property
    def typed(self) -> Any:
        """What stands in the box now; None when it is empty."""
        if isinstance(self.box, Grid):
            return self.box.records() or None
        value = self.box.value
        return None if value == NOTHING or not str(value).strip() else value

    def put(self, value: Any) -> None:
        """What stood in the box before, from a draft; what the box cannot hold is left out."""
        if isinstance(self.box, Grid) and not _rows(value, len(self.box.columns)):
            return
        with contextlib.suppress(traitlets.TraitError):
            self.box.value = value

    def complain(self, messages: list[str]) -> None:
        """Show what is wrong, or nothing."""
        text = "<br>".join(e(m) for m in messages)
        shown = f'<div class="shop-error" role="alert">{text}</div>' if messages else ""
        if self.error.value != shown:
            self.error.value = shown
            (self.add_class if messages else self.remove_class)("shop-bad")
