"""Readings from a CSV file: the folder that a person named, and no file outside it."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from shoplib.core import files
from shoplib.core.reading_limits import CSV_FILE
from shoplib.core.units import Unreadable

MOST_COLUMNS = 200
_NUMERIC = re.compile(r"[\d.,+\-−]")  # a word such as "not measured" takes no unit


def names_a_file(typed: object) -> bool:
    """Whether what was typed is the name of a CSV file.

    :param typed: as it was typed
    """
    return isinstance(typed, str) and typed.strip().lower().endswith(".csv")


def rows_of(name: str, folder: Path | None) -> list[list[str]]:
    """Rows of a CSV file in the folder, its heading first; semicolon, comma or tab between cells.

    Without a folder nothing is opened: a record, a sheet or an export never names a file.  Raises Unreadable.

    :param name: of the file
    :param folder: whose CSV files may be named; None: no file is opened
    """
    shown = f'"{name.strip()[:60]}"'
    if folder is None:
        raise Unreadable(f"{shown} is the name of a file; enter the readings themselves here")
    try:
        raw = files.read_bounded(files.inside(folder, name.strip()), CSV_FILE.size)
    except files.NotRead as error:
        raise Unreadable(f"{shown} {error}") from None
    try:
        content = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Unreadable(f"{shown} is not UTF-8 text") from None
    first = content.partition("\n")[0]
    separator = next((s for s in (";", "\t", ",") if s in first), ",")
    rows = []
    try:
        for row in csv.reader(_narrow(content, separator, shown), delimiter=separator):
            if any(c.strip() for c in row):
                rows.append(row)
            if CSV_FILE.pieces and len(rows) > CSV_FILE.pieces + 1:
                raise Unreadable(f"{shown} has too many rows; at most {CSV_FILE.pieces}")
    except csv.Error as error:
        raise Unreadable(f"{shown} is not a table: {error}") from None
    if len(rows) < 2:
        raise Unreadable(f"{shown} has no rows below its heading")
    return rows


def _narrow(content: str, separator: str, shown: str) -> Iterator[str]:
    for line in io.StringIO(content):
        if line.count(separator) >= MOST_COLUMNS:
            raise Unreadable(f"{shown} has more than {MOST_COLUMNS} columns")
        yield line


def with_units(rows: list[list[str]], names: Sequence[str]) -> list[dict[str, str]]:
    """Records of a CSV whose heading carries the units: ``x_mm,y_mm,z_um``.  Raises Unreadable.

    :param rows: cells as text, the heading first
    :param names: of the columns, without their units
    """
    heads = []
    for head in rows[0]:
        name = head.strip()
        if name in names:
            heads.append((name, ""))
        else:
            name, _, unit = name.rpartition("_")
            heads.append((name, " " + unit))
    unknown = [rows[0][i] for i, (name, _) in enumerate(heads) if name not in names]
    if unknown:
        raise Unreadable(
            f"column {unknown[0][:40]!r} is not known; the heading holds {', '.join(names)}, with units such as x_mm"
        )
    for i, row in enumerate(rows[1:], 2):
        if len(row) != len(heads):
            raise Unreadable(f"line {i} has {len(row)} cells, but the heading has {len(heads)}")
    return [
        {
            n: c.strip() + (u if _NUMERIC.match(c.strip()) else "")
            for (n, u), c in zip(heads, row, strict=True)
            if c.strip()
        }
        for row in rows[1:]
    ]
