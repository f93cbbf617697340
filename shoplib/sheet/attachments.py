"""Reads the attachments of a sheet: the record, the hash of the pages, the photographs."""

from __future__ import annotations

import io
import json
import logging
import re
from typing import Any

from shoplib.core.errors import ShoplibError
from shoplib.core.reading_limits import RECORD, SHEET
from shoplib.record import validation
from shoplib.record.errors import NotAJob
from shoplib.record.jobfile_record import SCHEMA

ATTACHMENT = "record.json"
PAGES = "pages.json"
JOB_RECORD_SCHEMA = "shoplib-record/2"
MOST_ATTACHED = 2000
PICTURE = re.compile(r"([0-9a-f]{64})\.jpg")
_HEAD, _TAIL = 1024, 2048  # bytes with the PDF's header, and with the position of its cross-reference table


class NotASheet(ShoplibError, ValueError):
    """A file without a readable record."""


def opened(pdf: bytes) -> Any:
    """The PDF, opened.  Raises NotASheet.

    A file without the end of a PDF is refused at once: a search for its objects takes a minute for 50 MB.
    """
    import pypdf

    logging.getLogger("pypdf").setLevel(logging.CRITICAL)  # it logs the errors that we report ourselves
    if len(pdf) > SHEET.size:
        raise NotASheet("the file is too large for a sheet")
    start = re.search(rb"startxref\s+(\d{1,12})\s+%%EOF\s*\Z", pdf[-_TAIL:])
    if b"%PDF-" not in pdf[:_HEAD] or not start or int(start[1]) >= len(pdf):
        raise NotASheet("the file is not a readable PDF: its beginning or its end is not that of a PDF")
    try:
        reader = pypdf.PdfReader(io.BytesIO(pdf))
        pages = reader.root_object["/Pages"]
        if int(pages["/Count"]) > (SHEET.pieces or 0) or len(reader.pages) > (SHEET.pieces or 0):
            raise NotASheet(f"the PDF has more than {SHEET.pieces} pages; it is not a sheet")
    except NotASheet:
        raise
    except Exception as error:  # noqa: BLE001 -- pypdf raises many kinds; all mean "not a readable PDF"
        raise NotASheet(f"the file is not a readable PDF ({type(error).__name__})") from None
    return reader


def attached(pdf: bytes) -> dict[str, bytes]:
    """Everything that is attached, by name; the record is among it.  Raises NotASheet."""
    return attached_to(opened(pdf))


def attached_to(reader: Any) -> dict[str, bytes]:
    """The same for a PDF that is open."""
    found: dict[str, bytes] = {}
    room = SHEET.size
    try:
        attachments = reader.attachments
        names = list(attachments)
        if len(names) > MOST_ATTACHED:
            raise NotASheet(f"the PDF has {len(names)} attachments; it is not a sheet")
        for name in names:
            contents = attachments[name]
            if len(contents) > 1:
                raise NotASheet(
                    f"the PDF has more than one {'record' if name == ATTACHMENT else 'attachment'} with the same name"
                )
            found[str(name)] = bytes(contents[0])
            room -= len(contents[0])
            if room < 0:
                raise NotASheet("the attachments of the PDF are too large for a sheet")
    except NotASheet:
        raise
    except Exception as error:  # noqa: BLE001 -- pypdf raises many kinds; all mean "not a readable PDF"
        raise NotASheet(f"the file is not a readable PDF ({type(error).__name__})") from None
    if not found.get(ATTACHMENT):
        raise NotASheet("the PDF does not contain a record of this program")
    return found


def parsed(raw: bytes) -> dict[str, Any]:
    """The attached record.  Raises NotASheet."""
    try:
        record = validation.read_json(raw, RECORD)
    except NotAJob as error:
        raise NotASheet(f"the attached record {error}") from None
    if not isinstance(record, dict) or record.get("schema") not in (SCHEMA, JOB_RECORD_SCHEMA):
        raise NotASheet(f"the attached record is not of the kind {SCHEMA} or {JOB_RECORD_SCHEMA}")
    return record


def read_record(pdf: bytes) -> dict[str, Any]:
    """The record attached to a sheet.  Raises NotASheet."""
    return parsed(read_attachment(pdf))


def read_attachment(pdf: bytes) -> bytes:
    """The attached record's bytes, exactly as in the PDF.  Raises NotASheet."""
    return attached(pdf)[ATTACHMENT]


def pictures_among(files: dict[str, bytes]) -> dict[str, bytes]:
    """The photographs among the attached files, by the hash in their name."""
    named = ((PICTURE.fullmatch(name), content) for name, content in files.items())
    return {name[1]: content for name, content in named if name}


def read_pictures(pdf: bytes) -> dict[str, bytes]:
    """The photographs attached to the sheet of a whole job, by the hash in their name.  Raises NotASheet."""
    return pictures_among(attached(pdf))


def job_in(pdf: bytes) -> bytes:
    """The whole job in a sheet as an exported job, for :meth:`Store.import_job`: history, ticks, photographs and all.

    Raises NotASheet, also for the sheet of a job file, which has no history (:meth:`Store.start_from` reads that).
    """
    from shoplib.record.job_record import exported

    files = attached(pdf)
    record = parsed(files[ATTACHMENT])
    if record["schema"] != JOB_RECORD_SCHEMA:
        raise NotASheet("this is the sheet of a job file; it does not contain a stored job")
    try:
        return exported(record, pictures_among(files))
    except NotAJob as error:
        raise NotASheet(f"the job in it {error}") from None


def read_pages_attachment(files: dict[str, bytes]) -> dict[str, Any] | None:
    """The attached hash of the pages, or None.  Raises NotASheet when it cannot be read."""
    raw = files.get(PAGES)
    if raw is None:
        return None
    try:
        about = json.loads(raw[:2000])
    except (ValueError, RecursionError):
        about = None
    if not isinstance(about, dict):
        raise NotASheet("the attached hash of the pages cannot be read")
    return about
