"""The sheets for the job desk, ``JobDesk(fordesk)``; the desk is in the same layer and imports no sheet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from shoplib.sheet import job_sheet
from shoplib.sheet.verify import JOB_RECORD_SCHEMA, job_in, read_record, verify

__all__ = ["SheetPreview", "job_sheet", "look"]


class SheetPreview(NamedTuple):
    """The findings about a sheet.  ``problems``: what is NOT verified; ``notes``: what is verified or not covered."""

    number: str  # of the job in it
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    exported: bytes | None  # a whole job, for Store.import_job
    job_file: Mapping[str, Any] | None  # the record of a job file, for Store.start_from


def look(pdf: bytes) -> SheetPreview:
    """Verify a sheet and find the job in it.  Raises NotASheet."""
    record = read_record(pdf)
    verdict = verify(pdf)
    job = record.get("job")
    number = str(job.get("number", "")) if isinstance(job, Mapping) else ""
    if record["schema"] != JOB_RECORD_SCHEMA:
        return SheetPreview(number, verdict.problems, verdict.notes, None, record)
    return SheetPreview(number, verdict.problems, verdict.notes, job_in(pdf) if not verdict.problems else None, None)
