"""Widths of a table's columns from their contents, as fractions of the line; the template only applies them.

Each column first gets space for its longest word; the rest is shared in proportion to the amount of text.
Widths are estimated from character counts: the template breaks long words, so nothing leaves the page.
"""

from __future__ import annotations

from collections.abc import Sequence

LINE = 112.0  # characters of the table's text on a line of the page
GAP = 2.4  # characters: the space on both sides of a column
UNBROKEN_LENGTH = 14  # a cell up to this length stays on one line: 0.08000 mm
BREAKS = 23  # the template breaks words that are longer
LABEL = 1.3  # headings are smaller, but in wide capitals: measured on a sheet, 1.23 (CONVERTED) to 1.31 (OUTCOME)
LEAST = 2.0
MANY_COLUMNS = 7  # columns; with more, values that are the same in every row go above the table
MANY_ROWS = 8  # rows of a narrow table, to be folded
SMALL = 9  # columns; with more, the text is smaller


def widths(head: Sequence[str], rows: Sequence[Sequence[str]], *, line: float = LINE) -> list[float]:
    """Relative widths, one per column."""
    label = LABEL * line / LINE  # headings keep their size when the text is smaller
    words, unbroken, whole = [], [], []  # space for each word, for short cells on one line, for everything on one line
    for k, title in enumerate(head):
        cells = [str(row[k]) for row in rows]
        longest = max((min(len(w), BREAKS) for cell in cells for w in cell.split()), default=0)
        in_title = max((len(w) for w in title.split()), default=0) * label
        words.append(max(LEAST, longest, in_title))
        unbroken.append(max([words[-1], *(len(cell) for cell in cells if len(cell) <= UNBROKEN_LENGTH)]))
        whole.append(max([unbroken[-1], *map(len, cells), min(len(title) * label, 14.0)]))
    room = line - GAP * len(head)
    wanted = [min(w, room * 0.6) for w in whole]
    if sum(wanted) <= room:
        found = [w * room / sum(wanted) for w in wanted]
    else:  # interpolate between the two widths around the line width
        less, more = (words, unbroken) if sum(unbroken) > room else (unbroken, wanted)
        over = sum(more) - sum(less)
        share = max(room - sum(less), 0.0) / over if over > 0 else 0.0
        found = [a + (b - a) * share for a, b in zip(less, more, strict=True)]
    return [round(w + GAP, 2) for w in found]


def as_table(label: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> dict[str, object]:
    """A table for the template.  If there are many columns, values that are equal in all rows go above it once."""
    same: list[dict[str, str]] = []
    if len(head) > MANY_COLUMNS and len(rows) > 2:
        kept = [k for k in range(len(head)) if k == 0 or len({r[k] for r in rows}) > 1]
        same = [{"label": head[k], "value": rows[0][k]} for k in range(len(head)) if k not in kept and rows[0][k]]
        head, rows = [head[k] for k in kept], [[r[k] for k in kept] for r in rows]
    parts = _folded(head, rows)
    small = len(head) > SMALL
    line = LINE * 9.2 / 7.8 if small else LINE
    size = sum(len(cell) for row in rows for cell in row)
    return {"label": label, "head": list(head), "rows": [list(r) for r in rows], "parts": parts,
            "widths": widths(head, rows, line=line), "same": same, "small": small,
            "short": len(rows) <= 10 and size < 1200}  # fmt: skip


def _folded(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[list[list[str]]]:
    """The rows in parts: a long narrow table continues beside itself."""
    whole = [list(r) for r in rows]
    natural = sum(max([len(t) * LABEL, *(len(r[k]) for r in rows)]) + 2 * GAP for k, t in enumerate(head))
    folds = min(3, int(LINE // natural)) if len(rows) >= MANY_ROWS else 1
    high = -(-len(rows) // max(folds, 1)) or 1
    return [whole[k : k + high] for k in range(0, len(whole), high)] or [[]]
