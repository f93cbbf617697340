"""A grid for tables of readings: blank means missing; decimal comma, paste from a spreadsheet, arrow keys and Enter."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import anywidget
import traitlets

from shoplib.core.fields import Field
from shoplib.desk import STATIC

_NUMBER = r"(\d+([.,]\d+)?|[.,]\d+)([eE][+\-]?\d+)?"
_BARE = re.compile(rf"[+\-−]?{_NUMBER}(\s*\+\s*{_NUMBER})*")  # also a stack: 0.05 + 0.03
UNITS = {  # of a column → the units that may be chosen for its bare numbers; the first is the one of its heading
    "mm": ("mm", "thou", "in"),
    "N*m": ("N·m", "ft-lb", "in-lb"),
    "kPa": ("kPa", "bar", "psi"),
    "L": ("L", "US qt"),
    "degC": ("°C", "°F"),
}
_KINDS = {"text": "text", "list": "text", "choice": "choice", "boolean": "choice"}


class Grid(anywidget.AnyWidget):
    """Text cells, exactly as typed.  ``records()`` returns rows for a table field; ``mark()`` marks bad cells."""

    _esm = STATIC / "grid.js"
    _css = STATIC / "grid.css"
    heads = traitlets.List(traitlets.Unicode()).tag(sync=True)
    words = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)  # the choices of a column
    labels = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)  # what each choice is called
    units = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)  # that may be chosen for a column
    kinds = traitlets.List(traitlets.Unicode()).tag(sync=True)  # text wraps, a choice has a list, a number is plain
    pads = traitlets.List(traitlets.Unicode()).tag(sync=True)  # the keypad of a phone for a column; "" for letters
    hints = traitlets.List(traitlets.Unicode()).tag(sync=True)  # help for the column in use
    value = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)
    bad = traitlets.List(traitlets.Unicode()).tag(sync=True)  # "row,column" of cells to mark

    def __init__(self, columns: Sequence[Field], rows: Sequence[Mapping[str, Any]] = ()) -> None:
        self.columns = tuple(columns)
        heads = [f"{c.label}, {c.unit.text}" if c.kind == "quantity" and c.unit.text else c.label for c in self.columns]
        super().__init__(
            heads=heads,
            words=[list(self._words(c)) for c in self.columns],
            labels=[[c.spoken(word) for word in self._words(c)] for c in self.columns],
            units=[list(UNITS.get(c.unit.name, ()) if c.kind == "quantity" else ()) for c in self.columns],
            kinds=[_KINDS.get(c.kind, "number") for c in self.columns],
            pads=[self._pad(c) for c in self.columns],
            hints=[self._hint(c) for c in self.columns],
            value=self.as_value(rows),
            bad=[],
        )

    @staticmethod
    def _words(column: Field) -> tuple[str, ...]:
        return column.choices or column.states or (("yes", "no") if column.kind == "boolean" else ())

    @staticmethod
    def _pad(column: Field) -> str:
        """Digits and a decimal sign, where neither a minus nor a word nor a sum may be typed."""
        lowest = max((b for b in (column.above, column.at_least) if b is not None), default=-1.0)
        plain = not (column.states or column.terms or column.band or column.may_be_missing)
        if column.kind == "integer":
            return "numeric" if lowest >= 0 else ""
        return "decimal" if column.kind in ("quantity", "number") and plain and lowest >= 0 else ""

    @staticmethod
    def _hint(column: Field) -> str:
        example = "" if column.kind in ("choice", "boolean") else column.example.strip('"')
        return "; ".join(filter(None, (column.help, f"such as {example}" if example else "")))

    @staticmethod
    def _shown(typed: Any) -> str:
        if isinstance(typed, list | tuple):
            return "; ".join(map(str, typed))
        return "" if typed is None else str(typed)

    def as_value(self, rows: Sequence[Mapping[str, Any]]) -> list[list[str]]:
        """Records as the value of this grid: one list of texts per row, and an empty row at the end."""
        return [*([self._shown(r.get(c.name)) for c in self.columns] for r in rows), [""] * len(self.columns)]

    def records(self) -> list[dict[str, str]]:
        """The rows that are not empty; a bare number gets the unit of its column heading."""
        return [
            {c.name: self._with_unit(c, text) for c, text in zip(self.columns, row, strict=True) if text.strip()}
            for row in self.value
            if any(text.strip() for text in row)
        ]

    def mark(self, fields: Iterable[str]) -> None:
        """Mark the cells named by problems, such as ``lines[3].goes``; ``lines[3]`` marks the whole row."""
        filled = [k for k, row in enumerate(self.value) if any(text.strip() for text in row)]
        names = [c.name for c in self.columns]
        marked: dict[str, None] = {}
        for field in fields:
            found = re.fullmatch(r"[^\[\]]+\[(\d+)\](?:\.([^.\[\]]+).*)?", field)
            if not found or not 0 < int(found[1]) <= len(filled):
                continue  # a problem of the whole table
            row = filled[int(found[1]) - 1]
            columns = range(len(names)) if found[2] is None else [names.index(found[2])] if found[2] in names else []
            marked |= dict.fromkeys(f"{row},{column}" for column in columns)
        if self.bad != list(marked):
            self.bad = list(marked)

    @staticmethod
    def _with_unit(column: Field, text: str) -> str:
        bare = column.kind == "quantity" and column.unit.name and _BARE.fullmatch(text.strip())
        return f"{text.strip()} {column.unit.name}" if bare else text.strip()
