"""The first cell of each row of a table becomes a row header, for screen readers.

Typst marks only the heads of columns.  Its files are plain objects with a table of their places, and the mark of a row
header is no longer than that of a cell.  So the bytes are replaced in place, and no place in the file moves.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

_ELEMENT = re.compile(rb"\d+ 0 obj\n<</Type/StructElem/S/(\w+)/P \d+ 0 R")
_KIDS = re.compile(rb"/K\[([^\]]*)\]")
_REFERENCE = re.compile(rb"(\d+) 0 R")
_HEADERS = re.compile(rb"/O/Table/Headers\[[^\]]*\]")
_ROW = b"/O/Table/Scope/Row"


def mark_row_headers(pdf: bytes) -> bytes:
    """The same file, of the same length, with a row header in each row of each table that has a head."""
    tree = _Tree(pdf)
    for cell in tree.first_cells():
        tree.change(cell)
    return bytes(tree.changed)


class _Tree:
    """The structure elements of a file, found by the table of its objects: no text of the file can pass for one."""

    def __init__(self, pdf: bytes) -> None:
        self.changed = bytearray(pdf)
        self.kinds: dict[int, bytes] = {}
        self.kids: dict[int, list[int]] = {}
        self.filled: set[int] = set()
        self.ranges: dict[int, tuple[int, int]] = {}
        for number, start in _places(pdf):
            found = _ELEMENT.match(pdf, start)
            if found is None:
                continue
            end = pdf.index(b"endobj", start)
            self.kinds[number] = found[1]
            self.ranges[number] = (start, end)
            inside = _KIDS.search(pdf, start, end)
            listed = inside[1] if inside else b""
            self.kids[number] = [int(x) for x in _REFERENCE.findall(listed)]
            if re.search(rb"\d", _REFERENCE.sub(b"", listed)):
                self.filled.add(number)  # it has content of a page

    def first_cells(self) -> Iterator[int]:
        """The first cell of each row, where it is not empty."""
        for table, kind in self.kinds.items():
            parts = [k for k in self.kids[table] if kind == b"Table"]
            if not any(self.kinds.get(p) == b"THead" for p in parts):
                continue
            for body in (p for p in parts if self.kinds.get(p) == b"TBody"):
                rows = (r for r in self.kids[body] if self.kinds.get(r) == b"TR" and self.kids[r])
                cells = (self.kids[row][0] for row in rows)
                yield from (c for c in cells if self.kinds.get(c) == b"TD" and self._says_something(c))

    def _says_something(self, element: int) -> bool:
        return element in self.filled or any(self._says_something(k) for k in self.kids.get(element, ()))

    def change(self, cell: int) -> None:
        start, end = self.ranges[cell]
        whole = bytes(self.changed[start:end])
        marked = _HEADERS.sub(lambda m: _ROW.ljust(len(m[0])), whole, count=1)
        if marked != whole:
            self.changed[start:end] = marked.replace(b"/S/TD", b"/S/TH", 1)


def _places(pdf: bytes) -> Iterator[tuple[int, int]]:
    """Number and place of every object, from the table at the end of a file as Typst writes it."""
    at = int(pdf[pdf.rindex(b"startxref") :].split()[1])
    head = re.compile(rb"xref\n0 (\d+)\n").match(pdf, at)
    if head is None:
        return  # of another form: it stays as it is
    for number in range(int(head[1])):
        line = pdf[head.end() + 20 * number : head.end() + 20 * number + 20]
        if line[17:18] == b"n":
            yield number, int(line[:10])
