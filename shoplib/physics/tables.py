"""Reference tables from data/reference, read once.  Numbers are in SI."""

from __future__ import annotations

import csv
import functools
from collections.abc import Mapping
from types import MappingProxyType

from shoplib.core.paths import DATA


@functools.cache
def table(name: str) -> tuple[Mapping[str, str], ...]:
    """Rows of data/reference/NAME.csv as text, a blank where the source gives nothing.

    :param name: name of the file without its ending; text
    :returns: the rows; text by the name of the column
    """
    with (DATA / "reference" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(MappingProxyType(row) for row in csv.DictReader(file))


def number(row: Mapping[str, str], column: str, si: float = 1.0) -> float | None:
    """A cell in SI, or None where the table is blank.

    :param row: a row of a table; text by the name of the column
    :param column: name of the column; text
    :param si: what one unit of the table is in SI; a pure number
    :returns: the value; SI
    """
    return float(row[column]) * si if row[column] else None
