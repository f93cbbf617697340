"""A grid for tables of readings: blank is missing, decimal comma, paste from a spreadsheet, arrows and Enter."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import anywidget
import traitlets

from shoplib.desk import STATIC
from shoplib.working import Field

_BARE = re.compile(r"[+\-−]?(\d+([.,]\d+)?|[.,]\d+)([eE][+\-]?\d+)?")


class Grid(anywidget.AnyWidget):
    """Cells of text, kept as typed.  ``records()`` gives rows for a table field."""

    _esm = STATIC / "grid.js"
    _css = STATIC / "grid.css"
    heads = traitlets.List(traitlets.Unicode()).tag(sync=True)
    value = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)
    bad = traitlets.List(traitlets.Unicode()).tag(sync=True)  # "row,column" of cells to mark

    def __init__(self, columns: Sequence[Field], rows: Sequence[dict[str, Any]] = ()) -> None:
        self.columns = tuple(columns)
        heads = [f"{c.label}, {c.unit.text}" if c.kind == "quantity" and c.unit.text else c.label for c in self.columns]
        value = [[str(r.get(c.name, "")) for c in self.columns] for r in rows]
        super().__init__(heads=heads, value=[*value, [""] * len(self.columns)], bad=[])

    def records(self) -> list[dict[str, str]]:
        """The rows that hold something; a bare number takes the unit of its column's heading."""
        return [
            {c.name: self._with_unit(c, text) for c, text in zip(self.columns, row, strict=True) if text.strip()}
            for row in self.value
            if any(text.strip() for text in row)
        ]

    @staticmethod
    def _with_unit(column: Field, text: str) -> str:
        bare = column.kind == "quantity" and column.unit.name and _BARE.fullmatch(text.strip())
        return f"{text.strip()} {column.unit.name}" if bare else text.strip()
