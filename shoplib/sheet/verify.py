"""Reading a sheet back, and checking that it still says what its inputs give."""

from __future__ import annotations

import io
import json
import logging
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from shoplib.record.document import SCHEMA, canonical, make_record, versions
from shoplib.sheet import typeset
from shoplib.working import BadInput

ATTACHMENT = "record.json"
LARGEST = 50_000_000  # bytes of a sheet, and of a record
TOLERANCE = 1e-9  # relative, between versions


class NotASheet(ValueError):
    """A file without a readable record."""


def read_record(pdf: bytes) -> dict[str, Any]:
    """The record attached to a sheet.  Raises NotASheet."""
    return _parse(read_attachment(pdf))


def read_attachment(pdf: bytes) -> bytes:
    """The attached bytes as they lie in the PDF.  Raises NotASheet."""
    import pypdf

    logging.getLogger("pypdf").setLevel(logging.CRITICAL)  # it logs what we report ourselves
    if len(pdf) > LARGEST:
        raise NotASheet("the file is too large for a sheet")
    try:
        attached = pypdf.PdfReader(io.BytesIO(pdf)).attachments.get(ATTACHMENT)
    except Exception as error:  # noqa: BLE001 -- pypdf raises many kinds; all mean "not a readable PDF"
        raise NotASheet(f"the file is not a readable PDF ({type(error).__name__})") from None
    if not attached:
        raise NotASheet("the PDF carries no record of this program")
    if len(attached) > 1:
        raise NotASheet("the PDF carries more than one record")
    return bytes(attached[0])


def _parse(raw: bytes) -> dict[str, Any]:
    if len(raw) > LARGEST:
        raise NotASheet("the record is too large")
    try:
        record = json.loads(raw.decode("utf-8"))
    except (ValueError, RecursionError):
        raise NotASheet("the attached record is not readable JSON") from None
    if not isinstance(record, dict) or record.get("schema") != SCHEMA:
        raise NotASheet(f"the attached record is not of the kind {SCHEMA}")
    return record


@dataclass(frozen=True)
class Verdict:
    """What was found: ``problems`` empty means that the sheet stands."""

    problems: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def stands(self) -> bool:
        """True when nothing was found wrong."""
        return not self.problems


def verify(pdf: bytes) -> Verdict:
    """Recompute every working from what was typed, compare, and with the same versions compare the pages."""
    raw = read_attachment(pdf)
    record = _parse(raw)
    problems: list[str] = []
    notes: list[str] = []
    if canonical(record) != raw:
        problems.append("the attached record is not in the form in which this program writes it")
    try:
        again = make_record(_as_job(record), paper=record.get("paper", "a4"))
    except (BadInput, KeyError, TypeError, AttributeError) as error:
        return Verdict((*problems, f"the record's inputs can no longer be worked: {str(error)[:300]}"), tuple(notes))
    same_version = record.get("program") == versions()
    again["program"] = record.get("program")
    tolerance = 0.0 if same_version else TOLERANCE
    if not same_version:
        notes.append(
            f"other version: made with {_say(record.get('program'))}, checked with {_say(versions())}; "
            "numbers compared, pages not"
        )
        _forget_words(record, again)
    problems += [
        f"changed: {where}: the sheet says {_clip(there)}, recomputed {_clip(here)}"
        for where, there, here in _differences(record, again, tolerance)
    ]
    if same_version and not problems:
        if typeset(record) == pdf:
            notes.append("the pages are byte for byte those of the record")
        else:
            problems.append("the pages are not those that this record gives")
    return Verdict(tuple(problems), tuple(notes))


def _as_job(record: dict[str, Any]) -> dict[str, Any]:
    entries = [{k: v for k, v in e.items() if k != "result"} for e in record["entries"]]
    return {"job": record["job"], "entry": entries}


def _forget_words(*records: dict[str, Any]) -> None:
    """Between versions the numbers count; the wording of a caution or label may have been bettered."""
    for record in records:
        for entry in record["entries"]:
            result = entry.get("result", {})
            for key in ("version", "cautions", "assumptions"):
                result.pop(key, None)
            for check in result.get("checks", []):
                for key in ("label", "remark"):
                    check.pop(key, None)


def _differences(there: Any, here: Any, tolerance: float, where: str = "") -> Iterator[tuple[str, Any, Any]]:
    if isinstance(there, dict) and isinstance(here, dict):
        for key in sorted({*there, *here}):
            yield from _differences(there.get(key), here.get(key), tolerance, f"{where}.{key}".lstrip("."))
    elif isinstance(there, list) and isinstance(here, list) and len(there) == len(here):
        for n, (a, b) in enumerate(zip(there, here, strict=True), 1):
            yield from _differences(a, b, tolerance, f"{where}[{n}]")
    elif isinstance(there, float) and isinstance(here, int | float) and tolerance:
        if not math.isclose(there, here, rel_tol=tolerance, abs_tol=1e-300):
            yield where, there, here
    elif there != here:
        yield where, there, here


def _say(program: Any) -> str:
    return ", ".join(f"{k} {v}" for k, v in program.items()) if isinstance(program, dict) else "nothing said"


def _clip(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 80 else text[:80] + "…"
