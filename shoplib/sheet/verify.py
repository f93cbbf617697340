"""Checks that a sheet still agrees with its inputs: record, chain, attachments, pages, signature."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from shoplib.core import progress
from shoplib.core.errors import BadInput
from shoplib.record.errors import BadPhoto, NotAJob
from shoplib.record.jobfile_record import DRAWN_BY, canonical, make_record, versions
from shoplib.sheet import attachments, compare, pagetext, pdf_signature, typeset
from shoplib.sheet.attachments import JOB_RECORD_SCHEMA, NotASheet, job_in, read_attachment, read_pictures, read_record
from shoplib.sheet.pagehash import page_hash
from shoplib.sheet.render import PAGES_SCHEMA, SheetError
from shoplib.sheet.verdict import Code, Finding, Part, State, Verdict, any_wrong, not_covered, not_verified, verified

__all__ = [
    "JOB_RECORD_SCHEMA",
    "NotASheet",
    "Verdict",
    "job_in",
    "read_attachment",
    "read_pictures",
    "read_record",
    "verify",
]

LONGEST = 60  # seconds of recalculating
HASHED_SINCE = "0.2.0"  # earlier versions attached no hash of the pages
HELD = re.compile(r"[0-9a-f]{64}")  # the hash of a line, as a sheet prints it
MOST_TOLD = 20  # findings of one kind
_BROKEN = (NotAJob, KeyError, TypeError, AttributeError, ValueError, RecursionError, ArithmeticError, IndexError)


class _Sheet(NamedTuple):
    """A sheet that was read."""

    pdf: bytes
    reader: Any
    files: dict[str, bytes]
    raw: bytes
    record: dict[str, Any]

    @property
    def whole(self) -> bool:
        return bool(self.record["schema"] == JOB_RECORD_SCHEMA)

    @property
    def pictures(self) -> dict[str, bytes]:
        return attachments.pictures_among(self.files)

    @property
    def made(self) -> str:
        program = self.record.get("program")
        return str(program.get("shoplib"))[:20] if isinstance(program, Mapping) else "unknown"


def verify(pdf: bytes, *, holds: str = "") -> Verdict:
    """Check every part of a sheet.  Raises NotASheet for a file without a readable record.

    The record is recalculated from what was typed.  The lines of a whole job are compared with their hashes, an issue
    with its seal, a photograph with its hash.  The pages are typeset again and compared if the same version made them;
    otherwise they are compared with the attached hash and with the values in the record.

    ``holds``: the hash of a line that somebody kept, from an earlier sheet; the sheet must contain that line.  A
    complete forged sheet, with new hashes, is detected only with such a hash or by a signature.
    """
    reader = attachments.opened(pdf)
    files = attachments.attached_to(reader)
    raw = files[attachments.ATTACHMENT]
    sheet = _Sheet(pdf, reader, files, raw, attachments.parsed(raw))
    found = pdf_signature.findings_of(pdf, reader)
    try:
        with progress.no_longer_than(LONGEST):
            found += _record(sheet)
            found += _chain(sheet)
            found += _held(sheet, holds)
            found += _files(sheet)
            found += _pages(sheet, any_wrong(f for f in found if f.part is not Part.SIGNATURE))
    except progress.Stopped as error:
        if "longer than" not in str(error):  # the user stopped it
            raise
        parts = {f.part for f in found}
        found += [not_covered(p, Code.TOO_LONG, seconds=str(LONGEST)) for p in Part if p not in parts]
    return Verdict(tuple(found))


def last_hash(pdf: bytes) -> str:
    """The hash of the last line in the sheet of a stored job.  Raises NotASheet."""
    lines = read_record(pdf).get("lines")
    if not isinstance(lines, list) or not lines or not isinstance(lines[-1], Mapping):
        raise NotASheet("this is not the sheet of a stored job; it has no hash of a last line")
    return str(lines[-1].get("digest"))


# ------------------------------------------------------------------------------ record
def _record(sheet: _Sheet) -> list[Finding]:
    found: list[Finding] = []
    record = copy.deepcopy(sheet.record)
    try:
        if canonical(record) != sheet.raw:
            found.append(not_verified(Part.RECORD, Code.NOT_CANONICAL))
        again, more = _whole_again(record) if sheet.whole else _job_file_again(record)
        found += more + compare.findings_of(record, again)
    except BadInput as error:
        found.append(not_verified(Part.RECORD, Code.UNREADABLE, why=str(error)[:300]))
    except _BROKEN as error:
        found.append(not_verified(Part.RECORD, Code.UNREADABLE, why=_error_text(error)))
    wrong = [f for f in found if f.state is State.NOT_VERIFIED]
    other = [f for f in found if f.state is not State.NOT_VERIFIED]
    other.sort(key=lambda f: not f.about.get("where", "").endswith(".result.outcome"))  # what an entry says, first
    return _listed(wrong, not_verified) + _listed(other, not_covered)


def _listed(found: list[Finding], more: Callable[..., Finding]) -> list[Finding]:
    left = len(found) - MOST_TOLD
    return found[:MOST_TOLD] + ([more(Part.RECORD, Code.MORE, count=str(left))] if left > 0 else [])


def _error_text(error: BaseException) -> str:
    return str(error)[:300] if isinstance(error, NotAJob) else f"{type(error).__name__}: {str(error)[:100]!r}"


def _job_file_again(record: dict[str, Any]) -> tuple[dict[str, Any], list[Finding]]:
    """The record recalculated.  Another version may refuse an input: then only the other entries are compared."""
    entries = [{k: v for k, v in e.items() if k != "result"} for e in record["entries"]]
    paper = record.get("paper", "a4")
    try:
        return make_record({"job": record["job"], "entry": entries}, paper=paper), []
    except BadInput:
        if compare.same_calculation(record.get("program")):
            raise
    found, kept, again = [], [], []
    for n, entry in enumerate(entries):
        try:
            again += make_record({"job": record["job"], "entry": [entry]}, paper=paper)["entries"]
            kept.append(record["entries"][n])
        except BadInput as error:
            about = {"where": f"entry {n + 1}", "why": str(error)[:200]}
            found.append(not_covered(Part.RECORD, Code.NOT_RECALCULATED, **about))
    if not kept:
        return {}, found
    record["entries"] = kept
    record.pop("outcome", None)
    return {"schema": record["schema"], "paper": paper, "job": record["job"], "entries": again}, found


def _whole_again(record: dict[str, Any]) -> tuple[dict[str, Any], list[Finding]]:
    from shoplib.record.job_record import job_of, whole_record

    job = job_of(record)
    printed = {"paper": record.get("paper", ""), "extent": record.get("extent", "whole")}
    again = whole_record(job, blank=bool(record.get("blank")), **printed)
    if compare.same_calculation(record.get("program")):
        return again, []
    there = {w["line"]: w for w in record["worked"]}
    lost = [w for w in again["worked"] if "why" in w and "result" in there.get(w["line"], {})]
    return again, [
        not_covered(Part.RECORD, Code.NOT_RECALCULATED, where=f"line {w['line']}", why=str(w["why"])[:200])
        for w in lost
    ]


# ------------------------------------------------------------------------------ chain and attachments
def _chain(sheet: _Sheet) -> list[Finding]:
    from shoplib.record.job_record import job_of, seal, sealed_part

    if not sheet.whole:
        return [not_covered(Part.CHAIN, Code.NO_HISTORY)]
    try:
        job = job_of(sheet.record)
        found = [not_verified(Part.CHAIN, Code.LINE_CHANGED, line=str(d)) for d in job.damaged[:MOST_TOLD]]
        found += [
            not_verified(Part.CHAIN, Code.SEAL_CHANGED, letter=str(x.body.get("letter"))[:20])
            for x in job.issues
            if x.body.get("record") and seal(sealed_part(job, x)) != x.body["record"]
        ]
        last = str(job.lines[-1].digest)
    except _BROKEN as error:
        return [not_verified(Part.CHAIN, Code.UNREADABLE, why=_error_text(error))]
    return found or [verified(Part.CHAIN, Code.HASHES_MATCH, lines=str(len(job.lines)), last=last)]


def _held(sheet: _Sheet, holds: str) -> list[Finding]:
    """Whether the sheet contains the line whose hash somebody holds, and so everything before that line."""
    if not holds:
        return []
    wanted = re.sub(r"[\s\u200b]", "", holds).lower()
    if not HELD.fullmatch(wanted):
        return [not_verified(Part.CHAIN, Code.NO_HASH, typed=holds[:80])]
    lines = sheet.record.get("lines")
    for line in lines if isinstance(lines, list) else ():
        if isinstance(line, Mapping) and str(line.get("digest")) == wanted:
            return [verified(Part.CHAIN, Code.HOLDS, line=str(line.get("n")))]
    return [not_verified(Part.CHAIN, Code.NOT_HELD)]


def _files(sheet: _Sheet) -> list[Finding]:
    from shoplib.record import exchange, photos
    from shoplib.record.job_record import job_of

    known = {attachments.ATTACHMENT, attachments.PAGES} | {f"{d}.jpg" for d in sheet.pictures if sheet.whole}
    found = [
        not_verified(Part.ATTACHMENTS, Code.FILE_UNKNOWN, name=repr(name[:60]))
        for name in sorted({*sheet.files} - known)
    ]
    if not sheet.whole:
        return found or [verified(Part.ATTACHMENTS, Code.NOTHING_ELSE)]
    try:
        wanted = exchange.pictures_of(job_of(sheet.record).lines)
    except _BROKEN as error:
        return [*found, not_verified(Part.ATTACHMENTS, Code.UNREADABLE, why=_error_text(error))]
    pictures = sheet.pictures
    for digest in sorted(wanted - set(pictures)):
        found.append(not_verified(Part.ATTACHMENTS, Code.PHOTOGRAPH_MISSING, digest=digest[:12]))
    for digest in sorted(set(pictures) - wanted):
        found.append(not_verified(Part.ATTACHMENTS, Code.PHOTOGRAPH_UNNAMED, digest=digest[:12]))
    for n, (digest, content) in enumerate(sorted(pictures.items())):
        progress.step(n, len(pictures), "of the photographs checked")
        try:
            photos.check(content, digest)
        except BadPhoto as error:
            found.append(not_verified(Part.ATTACHMENTS, Code.PHOTOGRAPH_CHANGED, why=str(error), digest=digest[:12]))
    if not found and not wanted:
        return [verified(Part.ATTACHMENTS, Code.NOTHING_ELSE)]
    return found[:MOST_TOLD] or [verified(Part.ATTACHMENTS, Code.PHOTOGRAPHS, count=str(len(wanted)))]


# ------------------------------------------------------------------------------ pages
def _pages(sheet: _Sheet, wrong: bool) -> list[Finding]:
    program = sheet.record.get("program")
    mine = versions()
    try:
        if isinstance(program, Mapping) and all(program.get(k) == mine.get(k) for k in DRAWN_BY):
            return [not_covered(Part.PAGES, Code.NOT_LOOKED_AT)] if wrong else [_set_again(sheet)]
        return _of_another_renderer(sheet)
    except (RecursionError, ValueError) as error:
        return [not_covered(Part.PAGES, Code.UNREADABLE, why=_error_text(error))]
    except Exception as error:  # noqa: BLE001 -- pypdf raises many kinds on a page that is no page
        return [not_verified(Part.PAGES, Code.UNREADABLE, why=_error_text(error))]


def _set_again(sheet: _Sheet) -> Finding:
    """Compare with the pages that the same version makes."""
    own = _typeset(sheet.record, sheet.pictures, sheet.files.get(attachments.PAGES, b""))
    if own == sheet.pdf:
        return verified(Part.PAGES, Code.SAME_BYTES)
    if own is None:
        return not_verified(Part.PAGES, Code.OTHER_PAGES)
    reader = attachments.opened(own)
    if page_hash(reader, structure=True) != page_hash(sheet.reader, structure=True):
        return not_verified(Part.PAGES, Code.OTHER_PAGES)
    if attachments.attached_to(reader) != sheet.files:
        return not_verified(Part.PAGES, Code.HASH_CHANGED)
    return verified(Part.PAGES, Code.ONLY_SIGNED if sheet.pdf.startswith(own) else Code.SAVED_AGAIN)


def _typeset(record: dict[str, Any], pictures: dict[str, bytes], hash_expected: bytes) -> bytes | None:
    try:
        pdf: bytes = typeset(record, pictures=pictures, hash_expected=hash_expected)
    except SheetError:
        return None
    return pdf


def _of_another_renderer(sheet: _Sheet) -> list[Finding]:
    """Compare pages of another version: by their hash, and by the values in the record."""
    texts = pagetext.texts_of(sheet.reader)
    found = [
        not_verified(Part.PAGES, Code.PAGE_OF_ANOTHER, page=str(n), pages=str(len(texts)))
        for n in pagetext.pages_without_record(texts, sheet.raw)
    ]
    found += [
        not_verified(Part.PAGES, Code.VALUE_NOT_ON_PAGES, where=w.where, value=compare.clip(w.value))
        for w in pagetext.missing(texts, sheet.record)[:MOST_TOLD]
    ]
    about = attachments.read_pages_attachment(sheet.files)
    if about is not None:
        if about.get("schema") != PAGES_SCHEMA or about.get("record") != pagetext.sha256(sheet.raw):
            found.append(not_verified(Part.PAGES, Code.HASH_OF_ANOTHER))
        elif about.get("count") != len(texts) or about.get("pages") != page_hash(sheet.reader):
            found.append(not_verified(Part.PAGES, Code.PAGES_CHANGED))
        return found or [verified(Part.PAGES, Code.SAME_PAGES, made=compare.say(sheet.record.get("program")))]
    if not compare.older_than(sheet.made, HASHED_SINCE):
        found.append(not_verified(Part.PAGES, Code.HASH_MISSING, made=sheet.made))
    found += [not_verified(Part.PAGES, Code.FOREIGN, what=what) for what in pagetext.foreign(sheet.reader)[:MOST_TOLD]]
    return found or [Finding(Part.PAGES, State.NOT_COVERED, Code.TEXT_ONLY, {"made": sheet.made})]
