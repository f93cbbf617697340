"""The header of a job, declared once: forms, job files, sheets, exports and the JSON Schema read it from here.

A new field is one entry of ``FIELDS``.  A field that is required since a later version is asked for when a job is
started; jobs, job files and sheets of before need not hold it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

FIRST = "0.1.0"  # the first version that wrote records


@dataclass(frozen=True)
class HeaderField:
    """A text of the header, or of a row of one of its tables."""

    name: str
    label: str
    required: bool = False
    example: str = ""
    at_start: bool = False  # offered when a job is started, though not required
    date: bool = False
    long: bool = False  # a text of several lines
    longest: int = 400  # characters
    required_since: str = FIRST

    @property
    def required_always(self) -> bool:
        """Whether every record holds it, whatever version wrote it."""
        return self.required and self.required_since == FIRST


@dataclass(frozen=True)
class HeaderTable:
    """A table of the header; no two rows have the same text in the first column."""

    name: str
    label: str
    columns: tuple[HeaderField, ...]
    help: str = ""


FIELDS = (
    HeaderField("number", "Job number", True, '"26-101"', longest=80),
    HeaderField("engine", "Engine", True, '"three-cylinder diesel, bench 4"'),
    HeaderField("serial", "Serial or registration number", example='"SN 48213"', at_start=True),
    HeaderField("date", "Date", True, "2026-11-25", date=True),
    HeaderField("customer_ref", "Customer reference", False, '"order 88"', at_start=True),
    HeaderField("customer_contact", "Customer contact", example='"call C. Owner, 555 0101, before cutting"'),
    HeaderField("complaint", "Complaint", False, '"loses coolant"', at_start=True, long=True),
    HeaderField("done_by", "Done by", True, '"A. Learner"'),
    HeaderField("checked_by", "Checked by", False, '"B. Teacher"'),
    HeaderField("workshop", "Workshop", example='"Teaching workshop"', at_start=True),
    HeaderField("workshop_address", "Workshop address", example='"Mill Lane 4, Exampleton"', at_start=True),
    HeaderField("workshop_contact", "Workshop contact", example='"555 0100"'),
    HeaderField("received", "Received", example="2026-11-22", date=True),
    HeaderField("received_condition", "Condition when received", example='"complete, without coolant"'),
    HeaderField("returned", "Returned", example="2026-11-26", date=True),
    HeaderField("hours", "Hours or mileage", False, '"1240 h"'),
)
PEOPLE = HeaderTable(
    "people",
    "People",
    (
        HeaderField("name", "Name", True, '"A. Learner"'),
        HeaderField("initials", "Initials"),
        HeaderField("role", "Role"),
    ),
    "everybody who works on this job",
)
INSTRUMENTS = HeaderTable(
    "instruments",
    "Instruments",
    (
        HeaderField("id", "ID", True, '"TW-2"'),
        HeaderField("what", "What"),
        HeaderField("resolution", "Resolution"),
        HeaderField("deviation", "Permitted error"),
        HeaderField("calibration_due", "Calibration due", date=True),
        HeaderField("certificate", "Certificate number"),
    ),
    "every gauge and wrench used; dates as 2026-11-25",
)
PARTS = HeaderTable(
    "parts",
    "Parts fitted",
    (
        HeaderField("what", "Part", True, '"Head gasket, grade 2"'),
        HeaderField("part_number", "Part number"),
        HeaderField("batch", "Batch number"),
    ),
    "gasket, bolts and other new parts",
)
TABLES = (PEOPLE, INSTRUMENTS, PARTS)
LABELS = {f.name: f.label for f in (*FIELDS, *TABLES)}
NAMES = tuple(LABELS)


def texts(header: Mapping[str, Any]) -> dict[str, str]:
    """The fields that hold a text, in the order of the declaration: what a job file takes.

    :param header: fields of the job's header, by name
    """
    return {f.name: str(header[f.name]) for f in FIELDS if header.get(f.name)}


def schema() -> dict[str, Any]:
    """JSON Schema of the fields of a header line; a change of the header holds only what changed."""
    text = {"type": "string"}
    row = {t.name: {"type": "object", "properties": {c.name: text for c in t.columns}} for t in TABLES}
    return {
        "type": "object",
        "properties": {
            **{f.name: {**text, "description": f.label} for f in FIELDS},
            **{t.name: {"type": "array", "description": t.label, "items": row[t.name]} for t in TABLES},
        },
    }
