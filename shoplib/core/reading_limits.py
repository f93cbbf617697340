"""The limits of everything that reads a file, in one table.

A file may come from anybody.  Its size is known before it is read, its depth before it is parsed, and the number of
its pieces before they are worked on.  These bound the time and the memory of a reader; ``tests/hostile`` holds them.
"""

from __future__ import annotations

from dataclasses import dataclass

MB = 1_000_000


@dataclass(frozen=True)
class Limit:
    """The most that a reader accepts.  None: the format has no such thing."""

    what: str  # as a message calls it
    size: int  # bytes
    depth: int | None = None  # levels of lists and tables
    pieces: int | None = None  # values, rows, pages or pixels, as ``of`` says
    of: str = ""


JOB_FILE = Limit("a job file", 5 * MB, 8, 300_000, "values")
CSV_FILE = Limit("a CSV file of readings", 20 * MB, None, 200_000, "rows")
TRACE_FILE = Limit("a torque–angle trace", 60 * MB, None, 2_000_000, "rows")
EXPORTED_JOB = Limit("an exported job", 150 * MB, 40, 1_500_000, "values")
SHEET = Limit("a sheet", 150 * MB, None, 1_000, "pages")
RECORD = Limit("the record in a sheet", 50 * MB, 40, 1_500_000, "values")
PHOTOGRAPH = Limit("a photograph", 30 * MB, None, 60_000_000, "pixels")

LIMITS = (JOB_FILE, CSV_FILE, TRACE_FILE, EXPORTED_JOB, SHEET, RECORD, PHOTOGRAPH)

MOST_DRAWS = 6_000_000  # random draws of all entries of one sheet together
