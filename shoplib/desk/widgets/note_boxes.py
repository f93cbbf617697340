"""The content of a note as boxes, so that it can be corrected: plain data of any shape."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from shoplib.core.fields import table, words
from shoplib.desk.widgets.components import TextAreaField
from shoplib.desk.widgets.display_text import as_words, plain
from shoplib.desk.widgets.grid import Grid
from shoplib.desk.widgets.input_field import Entry as Box

SHORT = 40  # characters of a note that fit on one line


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
        box = boxes[where] = (TextAreaField if len(typed) > SHORT or "\n" in typed else Box)(words(where, label), typed)
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
