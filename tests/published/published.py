"""Comparing with published values: one CSV a source, the printed digits are the tolerance.

Every comparison goes through one of four functions, so that the evidence page can be made of exactly what the tests
compare: ``assert_printed`` (the digits of a source), ``assert_within`` (a stated accuracy, or a reference library),
``assert_between`` (a requirement or a published range) and ``assert_disagrees`` (the source is wrong or cut off, and
the test says so).  Source and mark come from the row of the CSV, or from ``@cited`` above the test.
"""

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent
MARKS = {"read", "quoted", "from memory", "common practice", "derived", "library"}


class Row(dict):
    """A row of a CSV that knows where it stands."""

    file = ""
    line = 0


def rows(name):
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        found = [Row(r) for r in csv.DictReader(file)]
    for line, row in enumerate(found, 2):
        row.file, row.line = name, line
    return found


@dataclass(frozen=True)
class Compared:
    """One comparison: what came out, what is printed, and the interval in which the test is content."""

    value: float
    printed: str
    tolerance: str
    low: float | None
    high: float | None
    what: str
    unit: str
    source: str
    mark: str
    note: str
    file: str  # of the CSV, without its ending; empty when the number stands in the test
    line: int
    agrees: bool  # False: a disagreement that is stated


@dataclass
class Watch:
    """What a test is about while it runs; the plugin in conftest.py sets it and listens."""

    about: dict[str, Any] | None = None
    listener: Callable[[Compared], None] | None = None
    lenient: bool = False  # a disturbed formula is being tried: take notes, fail nothing


NOW = Watch()


def cited(source, mark, *, unit="", note=""):
    """Above a test whose numbers stand in the test itself."""
    assert mark in MARKS, mark

    def put(fn):
        fn.about = {"source": source, "mark": mark, "unit": unit, "note": note}
        return fn

    return put


def last_digit(printed):
    """Half a unit of the last printed digit."""
    decimals = len(printed.partition(".")[2])
    return 0.5 * 10.0**-decimals


def _compare(value, printed, tolerance, low, high, what, row, unit, source, mark, agrees=True, message=""):
    about = dict(NOW.about or {})
    if row is not None:
        about |= {"source": row["source"], "mark": row["mark"], "row": row}
    row = {} if source else about.get("row", {})  # a source of its own, not that of the row
    value = float(value)
    if NOW.listener:
        where = getattr(row, "file", ""), getattr(row, "line", 0)
        unit = unit if unit is not None else row.get("unit") or about.get("unit", "")
        note = row.get("note") or row.get("remark") or about.get("note", "")
        source, mark = source or about.get("source", ""), mark or about.get("mark", "")
        assert source and mark in MARKS, "a comparison names its source and mark: a row, @cited, or source= and mark="
        NOW.listener(
            Compared(value, str(printed), tolerance, low, high, what, unit, source, mark, note, *where, agrees)
        )
    if not NOW.lenient:
        assert (low is None or low <= value) and (high is None or value <= high), (
            f"{what}: computed {value}, printed {printed} ({message or tolerance})"
        )


def assert_printed(value, printed, tolerance="printed digits", what="", *, row=None, unit=None, source="", mark=""):
    """The value agrees with what is printed: within its printed digits, or within a stated percentage."""
    number = float(printed)
    if tolerance.startswith("last digit cut off"):  # the source truncates this entry: stated, not loosened
        half = last_digit(printed)
        assert NOW.lenient or value - number > half, f"{what}: rounds as printed; say so in the CSV"
        low, high, message = number + half, number + 2 * half * (1 - 1e-12), tolerance
        _compare(value, printed, tolerance, low, high, what, row, unit, source, mark, agrees=False, message=message)
        return
    allowed = last_digit(printed)
    if tolerance.endswith("%"):
        allowed = max(allowed, abs(number) * float(tolerance.rstrip(" %")) / 100)
    else:
        assert tolerance in ("printed digits", "exact"), tolerance
        if tolerance == "exact":
            allowed = abs(number) * 4e-16
    allowed *= 1 + 1e-9
    _compare(value, printed, tolerance, number - allowed, number + allowed, what, row, unit, source, mark)


def assert_within(value, reference, allowed, what="", *, why="", row=None, unit=None, source="", mark=""):
    """The value lies within a stated accuracy of the reference, both in the same unit."""
    number = float(reference)
    printed = reference if isinstance(reference, str) else f"{number:.9g}"
    tolerance = f"within {allowed:.3g}" + (f" ({why})" if why else "")
    _compare(value, printed, tolerance, number - allowed, number + allowed, what, row, unit, source, mark)


def assert_between(value, low, high, what="", *, row=None, unit=None, source="", mark=""):
    """The value satisfies a requirement (one end None) or lies in a published range."""
    printed = f"≥ {low:g}" if high is None else f"≤ {high:g}" if low is None else f"{low:g} to {high:g}"
    _compare(
        value, printed, "requirement" if None in (low, high) else "range", low, high, what, row, unit, source, mark
    )


def assert_disagrees(value, printed, right, allowed, what="", *, row=None, unit=None, source="", mark=""):
    """What is printed does not come out, and what is right does: a disagreement that is stated."""
    assert NOW.lenient or abs(value - float(printed)) > last_digit(printed), f"{what}: agrees; say so in the CSV"
    tolerance = f"disagrees: right is {float(right):.6g}"
    low, high = float(right) - allowed, float(right) + allowed
    _compare(value, printed, tolerance, low, high, what, row, unit, source, mark, agrees=False)
