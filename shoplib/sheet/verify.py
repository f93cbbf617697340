"""Reading a sheet back, and checking that it still says what its inputs give."""

from __future__ import annotations

import io
import json
import logging
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from shoplib.record import door
from shoplib.record.document import SCHEMA, canonical, make_record, versions
from shoplib.record.trouble import BadPhoto, NotAJob
from shoplib.sheet import typeset
from shoplib.sheet.render import SheetError
from shoplib.working import BadInput

ATTACHMENT = "record.json"
WHOLE = "shoplib-record/2"
LARGEST = door.LARGEST_FILE  # bytes of a sheet, and of everything attached to it
MOST_ATTACHED = 2000
TOLERANCE = 1e-9  # relative, between versions
# where a difference between versions is one of the rules, not of the readings
_JUDGED = re.compile(r"\.(outcome|checks|outcome\.value)$")
RULES_SINCE = (0, 2, 0)  # the version of this package since which checks are judged as they are
_PICTURE = re.compile(r"([0-9a-f]{64})\.jpg")


class NotASheet(ValueError):
    """A file without a readable record."""


def read_record(pdf: bytes) -> dict[str, Any]:
    """The record attached to a sheet.  Raises NotASheet."""
    return _parse(read_attachment(pdf))


def read_attachment(pdf: bytes) -> bytes:
    """The attached record's bytes as they lie in the PDF.  Raises NotASheet."""
    return _attached(pdf)[ATTACHMENT]


def read_pictures(pdf: bytes) -> dict[str, bytes]:
    """The photographs attached to the sheet of a whole job, by the hash in their name.  Raises NotASheet."""
    named = ((_PICTURE.fullmatch(name), content) for name, content in _attached(pdf).items())
    return {name[1]: content for name, content in named if name}


def job_in(pdf: bytes) -> bytes:
    """The whole job in a sheet as an exported job, for :meth:`Store.import_job`: history, ticks, photographs and all.

    Raises NotASheet, also for the sheet of a job file, which holds no history (:meth:`Store.start_from` takes that).
    """
    from shoplib.record.whole import exported

    record = read_record(pdf)
    if record["schema"] != WHOLE:
        raise NotASheet("the sheet is that of a job file; it holds no stored job")
    try:
        return exported(record, read_pictures(pdf))
    except NotAJob as error:
        raise NotASheet(f"the job in it {error}") from None


def _attached(pdf: bytes) -> dict[str, bytes]:
    import pypdf

    logging.getLogger("pypdf").setLevel(logging.CRITICAL)  # it logs what we report ourselves
    if len(pdf) > LARGEST:
        raise NotASheet("the file is too large for a sheet")
    found: dict[str, bytes] = {}
    room = LARGEST
    try:
        attachments = pypdf.PdfReader(io.BytesIO(pdf)).attachments
        names = list(attachments)
        if len(names) > MOST_ATTACHED:
            raise NotASheet(f"the PDF carries {len(names)} attachments; that is no sheet")
        for name in names:
            contents = attachments[name]
            if len(contents) > 1:
                raise NotASheet(
                    f"the PDF carries more than one {'record' if name == ATTACHMENT else 'file'} of one name"
                )
            found[str(name)] = bytes(contents[0])
            room -= len(contents[0])
            if room < 0:
                raise NotASheet("what is attached to the PDF is too large for a sheet")
    except NotASheet:
        raise
    except Exception as error:  # noqa: BLE001 -- pypdf raises many kinds; all mean "not a readable PDF"
        raise NotASheet(f"the file is not a readable PDF ({type(error).__name__})") from None
    if not found.get(ATTACHMENT):
        raise NotASheet("the PDF carries no record of this program")
    return found


def _parse(raw: bytes) -> dict[str, Any]:
    try:
        record = door.read_json(raw)
    except NotAJob as error:
        raise NotASheet(f"the attached record {error}") from None
    if not isinstance(record, dict) or record.get("schema") not in (SCHEMA, WHOLE):
        raise NotASheet(f"the attached record is not of the kind {SCHEMA} or {WHOLE}")
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
    """Recompute every working from what was typed, compare, and with the same versions compare the pages.

    Of a whole job also the hash of each line, the seal of its last issue and the photographs.
    """
    raw = read_attachment(pdf)
    record = _parse(raw)
    problems: list[str] = []
    pictures: dict[str, bytes] = {}
    try:
        if canonical(record) != raw:
            problems.append("the attached record is not in the form in which it is written")
        if record["schema"] == WHOLE:
            pictures = read_pictures(pdf)
            again, found = _whole_again(record, pictures)
            problems += found
        else:
            again = make_record(_as_job(record), paper=record.get("paper", "a4"))
    except (BadInput, NotAJob, KeyError, TypeError, AttributeError, ValueError, RecursionError) as error:
        return Verdict((*problems, f"the record's inputs can no longer be worked: {str(error)[:300]}"), ())
    notes: list[str] = []
    same_version = record.get("program") == versions()
    older_rules = _made_with(record) < RULES_SINCE
    again["program"] = record.get("program")
    if not same_version:
        notes.append(
            f"other version: made with {_say(record.get('program'))}, checked with {_say(versions())}; "
            "numbers compared, pages not"
        )
        _forget_words(record, again, older_rules=older_rules)
    for where, there, here in _differences(record, again, 0.0 if same_version else TOLERANCE):
        said = f"{where}: the sheet says {_clip(there)}, recomputed {_clip(here)}"
        if older_rules and _JUDGED.search(where):
            notes.append(f"the rules of judging changed in {'.'.join(map(str, RULES_SINCE))}: {said}")
        else:
            problems.append(f"changed: {said}")
    if same_version and not problems:
        if _pages(record, pictures) == pdf:
            notes.append("the pages are byte for byte those of the record")
        else:
            problems.append("the pages are not those that this record gives")
    return Verdict(tuple(problems), tuple(notes))


def _pages(record: dict[str, Any], pictures: dict[str, bytes]) -> bytes | None:
    try:
        pdf: bytes = typeset(record, pictures=pictures)
    except SheetError:
        return None
    return pdf


def _whole_again(record: dict[str, Any], pictures: dict[str, bytes]) -> tuple[dict[str, Any], list[str]]:
    """The record that its lines give, worked again; and what is wrong with its lines, seal and photographs."""
    from shoplib.record import exchange, photos
    from shoplib.record.whole import job_of, seal, sealed_part, whole_record

    job = job_of(record)
    again = whole_record(job, paper=record.get("paper", ""), blank=record.get("blank", False))
    problems = [f"changed: {d} does not carry its hash" for d in job.damaged]
    problems += [
        f"issue {x.body.get('letter')} does not carry the seal of what was handed out"
        for x in job.issues
        if x.body.get("record") and seal(sealed_part(job, x)) != x.body["record"]
    ]
    wanted = exchange.pictures_of(job.lines)
    problems += [f"a photograph is missing, {digest[:12]}…" for digest in sorted(wanted - set(pictures))]
    problems += [f"a photograph is attached that no line names, {d[:12]}…" for d in sorted(set(pictures) - wanted)]
    for digest, content in sorted(pictures.items()):
        try:
            photos.check(content, digest)
        except BadPhoto as error:
            problems.append(f"changed: {error}, {digest[:12]}…")
    return again, problems


def _as_job(record: dict[str, Any]) -> dict[str, Any]:
    entries = [{k: v for k, v in e.items() if k != "result"} for e in record["entries"]]
    return {"job": record["job"], "entry": entries}


def _made_with(record: dict[str, Any]) -> tuple[int, ...]:
    """The version of this package that made a record; the present one where none is named."""
    program = record.get("program")
    named = str(program.get("shoplib", "")) if isinstance(program, dict) else ""
    return tuple(map(int, named.split("."))) if re.fullmatch(r"\d{1,4}(\.\d{1,4}){1,3}", named) else RULES_SINCE


def _forget_words(*records: dict[str, Any], older_rules: bool) -> None:
    """Between versions the numbers count; the wording of a caution or label may have been bettered.

    ``older_rules``: results in words are forgotten as well, since they follow the rules of judging.
    """
    for record in records:
        record.pop("open", None)  # told in words; it follows from the outcomes, which are compared
        for entry in record.get("entries", record.get("worked", [])):
            result = entry.get("result", {})
            for key in ("version", "cautions", "assumptions"):
                result.pop(key, None)
            told = result.get("results", {}) if older_rules else {}
            for key in [k for k, v in told.items() if _is_words(v)]:
                result["results"].pop(key)
            for read in result.get("inputs", {}).values() if older_rules else ():
                read.pop("as_entered", None)  # stands in the entry's inputs; 0.1.0 wrote a default here too
            for check in result.get("checks", []):
                for key in ("label", "remark"):
                    check.pop(key, None)


def _is_words(value: dict[str, Any]) -> bool:
    """Whether a result is told in words, such as what the readings suggest."""
    told = value.get("value")
    return value.get("unit") is None and not isinstance(told, int | float) and not _rows(told)


def _rows(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], dict)


def _differences(there: Any, here: Any, tolerance: float, where: str = "") -> Iterator[tuple[str, Any, Any]]:
    if isinstance(there, dict) and isinstance(here, dict):
        for key in sorted({*there} & {*here} if tolerance else {*there, *here}):  # across versions: what both know
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
