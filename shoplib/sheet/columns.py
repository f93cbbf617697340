"""Widths of a table's columns by what stands in them, as parts of the line; the template only sets them.

A column gets room for its longest word first, and what is left is shared by how much text there is.
Widths are estimated by counting characters: the template breaks what does not fit, so nothing runs off.
"""

from __future__ import annotations

from collections.abc import Sequence

LINE = 112.0  # characters of the table's text on a line of the page
GAP = 2.4  # characters: the blank at both sides of a column
BREAKS = 23  # the template breaks words that are longer
LABEL = 1.12  # a heading is set smaller, but wide
LEAST = 2.0
MANY = 7  # columns; with more, what is the same in every row goes above the table
SMALL = 9  # columns; with more, the text is set smaller


def widths(head: Sequence[str], rows: Sequence[Sequence[str]], *, line: float = LINE) -> list[float]:
    """Relative widths, one a column."""
    word, whole = [], []
    for k, title in enumerate(head):
        cells = [str(row[k]) for row in rows]
        words = [w for cell in cells for w in cell.split()]
        longest = max((min(len(w), BREAKS) for w in words), default=0)
        in_title = max((len(w) for w in title.split()), default=0) * LABEL
        word.append(max(LEAST, longest, in_title))
        whole.append(max(word[-1], max((len(cell) for cell in cells), default=0), min(len(title) * LABEL, 14.0)))
    room = line - GAP * len(head)
    wanted = [min(w, room * 0.6) for w in whole]
    spare, over = room - sum(word), sum(wanted) - sum(word)
    if spare <= 0 or over <= 0:
        found = word
    elif over <= spare:
        share = (room - sum(wanted)) / sum(wanted)
        found = [w * (1 + share) for w in wanted]
    else:
        found = [a + (b - a) * spare / over for a, b in zip(word, wanted, strict=True)]
    return [round(w + GAP, 2) for w in found]


def as_table(label: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> dict[str, object]:
    """A table for the template.  Of many columns, those with one value in every row are told above it once."""
    head, rows = list(head), [list(r) for r in rows]
    same: list[dict[str, str]] = []
    if len(head) > MANY and len(rows) > 2:
        kept = [k for k in range(len(head)) if k == 0 or len({r[k] for r in rows}) > 1]
        same = [{"label": head[k], "value": rows[0][k]} for k in range(len(head)) if k not in kept and rows[0][k]]
        head, rows = [head[k] for k in kept], [[r[k] for k in kept] for r in rows]
    small = len(head) > SMALL
    line = LINE * 9.2 / 7.8 if small else LINE
    return {"label": label, "head": head, "rows": rows, "widths": widths(head, rows, line=line), "same": same,
            "small": small}  # fmt: skip
