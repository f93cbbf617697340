"""What each part of ``verify`` finds, and how much of it is told: on records and files in memory, without a PDF."""

import copy
import importlib
import io
import json

import pypdf
import pytest

from shoplib.core import progress
from shoplib.core.errors import BadInput, Problem
from shoplib.record import exchange, job_record
from shoplib.record.errors import NotAJob
from shoplib.record.jobfile_record import canonical, make_record
from shoplib.sheet import attachments, compare, pdf_signature, typeset
from shoplib.sheet.attachments import ATTACHMENT, PAGES, NotASheet
from shoplib.sheet.verdict import Code, Part, State, not_covered, not_verified
from tests import whole_job
from tests.sheet.forged_sheets import rehashed
from tests.sheet.sheet_parts import job

verifying = importlib.import_module("shoplib.sheet.verify")  # the package has a function of this name


def sheet_of(record, files=None, pdf=b"", reader=None):
    raw = canonical(record)
    return verifying._Sheet(pdf, reader, {ATTACHMENT: raw} | (files or {}), raw, record)


def told(findings):
    return [(f.part, f.state, f.code, dict(f.about)) for f in findings]


@pytest.fixture(scope="module")
def demo():
    """The lines of the invented job as a record has them, and its photographs."""
    found, pictures = exchange.load(whole_job.FILE.read_bytes())
    lines = [exchange.plain_line(x) for x in found.lines]
    job = {"uid": found.uid, "number": found.number}
    return {"schema": job_record.SCHEMA, "program": {"shoplib": "0.2.0"}, "job": job, "lines": lines}, pictures


@pytest.fixture(scope="module")
def small():
    """The record of a job file, and its sheet."""
    record = make_record(job())
    return record, typeset(record)


@pytest.fixture(scope="module")
def drawn_elsewhere(small):
    """The same, drawn by another version of the program that sets pages."""
    record = copy.deepcopy(small[0])
    record["program"]["typst"] = "0.0.1"
    pdf = typeset(record)
    return record, pdf, attachments.attached(pdf)


# ------------------------------------------------------------------------------ the whole
def test_after_sixty_seconds_what_was_not_reached_is_not_covered(small, monkeypatch):
    now = [100.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])

    def looked_at(sheet):
        now[0] += spent
        progress.step(0, 1)
        return [not_verified(Part.ATTACHMENTS, Code.FILE_UNKNOWN, name="x")]

    monkeypatch.setattr(verifying, "_files", looked_at)
    spent = 60.0
    assert {f.code for f in verifying.verify(small[1]).findings}.isdisjoint({Code.TOO_LONG})
    spent = 60.1
    found = verifying.verify(small[1]).findings
    assert [(f.part, f.state, f.about) for f in found if f.code is Code.TOO_LONG] == [
        (part, State.NOT_COVERED, {"seconds": "60"}) for part in (Part.ATTACHMENTS, Part.PAGES)
    ]
    assert {f.part for f in found} == set(Part)


def test_who_stops_it_gets_no_verdict(small, monkeypatch):
    def stopped(_):
        raise progress.Stopped("stopped by the user")

    monkeypatch.setattr(verifying, "_files", stopped)
    with pytest.raises(progress.Stopped, match="by the user"):
        verifying.verify(small[1])


def test_only_what_the_pages_are_made_from_keeps_them_from_being_looked_at(small, monkeypatch):
    broken = not_verified(Part.SIGNATURE, Code.SIGNATURE_BROKEN, name="A")
    monkeypatch.setattr(pdf_signature, "findings_of", lambda *_: [broken])
    monkeypatch.setattr(verifying, "_typeset", lambda *_: small[1])
    assert [f.code for f in verifying.verify(small[1]).of(Part.PAGES)] == [Code.SAME_BYTES]
    monkeypatch.setattr(verifying, "_files", lambda _: [not_verified(Part.ATTACHMENTS, Code.FILE_UNKNOWN, name="x")])
    assert [f.code for f in verifying.verify(small[1]).of(Part.PAGES)] == [Code.NOT_LOOKED_AT]


def test_the_version_that_made_a_sheet_in_twenty_characters():
    programs = ({"shoplib": "0.1.0"}, {"shoplib": "x" * 30}, {}, "text", None)
    assert [sheet_of({"program": p}).made for p in programs] == ["0.1.0", "x" * 20, "None", "unknown", "unknown"]


def test_the_hash_of_the_last_line(monkeypatch):
    def last(lines):
        monkeypatch.setattr(verifying, "read_record", lambda _: {"lines": lines})
        return verifying.last_hash(b"")

    one, two, three = ({"digest": x} for x in "abc")
    assert [last(x) for x in ([one], [one, two], [one, two, three])] == ["a", "b", "c"]
    for lines in (None, {"digest": "a"}, "abc", [], [one, two, "x"], ["x"]):
        with pytest.raises(NotASheet, match="not the sheet of a stored job"):
            last(lines)


# ------------------------------------------------------------------------------ the record
def test_twenty_findings_of_one_kind_are_told():
    one = not_verified(Part.RECORD, Code.NOT_CANONICAL)
    assert verifying._listed([one] * 20, not_verified) == [one] * 20
    more = not_verified(Part.RECORD, Code.MORE, count="1")
    assert verifying._listed([one] * 21, not_verified) == [*[one] * 20, more]


def test_what_is_wrong_comes_first_and_then_the_outcome_of_an_entry(small, monkeypatch):
    places = ("entries[1].result.checks[1].outcome", "entries[1].result.outcome", "outcome")
    other = [not_covered(Part.RECORD, Code.RULES_CHANGED, where=where) for where in places]
    nowhere = not_covered(Part.RECORD, Code.CHECK_UNKNOWN, label="x")
    wrong = not_verified(Part.RECORD, Code.CHANGED, where="outcome")
    monkeypatch.setattr(compare, "findings_of", lambda *_: [nowhere, *other, wrong])
    assert verifying._record(sheet_of(small[0])) == [wrong, other[1], nowhere, other[0], other[2]]
    more = not_verified(Part.RECORD, Code.NOT_CANONICAL)
    spaced = sheet_of(small[0])._replace(raw=canonical(small[0]) + b" ")
    assert verifying._record(spaced) == [more, wrong, other[1], nowhere, other[0], other[2]]


@pytest.mark.parametrize(
    ("error", "why"),
    [(BadInput([Problem("x", "y" * 400)]), "x: " + "y" * 297), (NotAJob("n" * 400), "n" * 300),
     (ValueError("v" * 400), f"ValueError: {'v' * 100!r}")],
)  # fmt: skip
def test_why_a_record_cannot_be_recalculated_is_told_in_short(small, monkeypatch, error, why):
    def refuses(_):
        raise error

    monkeypatch.setattr(verifying, "_job_file_again", refuses)
    found = verifying._record(sheet_of(small[0]))
    assert told(found) == [(Part.RECORD, State.NOT_VERIFIED, Code.UNREADABLE, {"why": why})]


def test_a_refused_input_of_another_version_is_told_in_two_hundred_characters(small, monkeypatch):
    def refuses(*_, **__):
        raise BadInput([Problem("x", "y" * 400)])

    older = copy.deepcopy(small[0])
    older["program"]["shoplib"] = "0.1.0"
    monkeypatch.setattr(verifying, "make_record", refuses)
    about = {"where": "entry 1", "why": "x: " + "y" * 197}
    again, found = verifying._job_file_again(older)
    assert (again, told(found)) == ({}, [(Part.RECORD, State.NOT_COVERED, Code.NOT_RECALCULATED, about)])
    with pytest.raises(BadInput):
        verifying._job_file_again(small[0])


@pytest.mark.parametrize(("program", "lost"), [({"shoplib": "0.1.0"}, True), (None, False)])
def test_an_entry_that_another_version_could_recalculate(small, monkeypatch, program, lost):
    results = [
        {"line": 3, "why": "w" * 300},
        {"line": 4, "result": {}},
        {"line": 5, "why": "w"},
        {"line": 6, "why": "w"},
    ]
    record = {
        "program": program or small[0]["program"],
        "worked": [{"line": 3, "result": {}}, {"line": 4, "result": {}}, {"line": 5, "why": "v"}],
    }
    asked = []
    monkeypatch.setattr(job_record, "job_of", lambda _: "the job")
    monkeypatch.setattr(job_record, "whole_record", lambda job, **how: asked.append((job, how)) or {"worked": results})
    again, found = verifying._whole_again(record)
    assert again == {"worked": results}
    about = {"where": "line 3", "why": "w" * 200}
    assert told(found) == ([(Part.RECORD, State.NOT_COVERED, Code.NOT_RECALCULATED, about)] if lost else [])
    verifying._whole_again(record | {"paper": "letter", "extent": "customer", "blank": True})
    assert asked == [
        ("the job", {"blank": False, "paper": "", "extent": "whole"}),
        ("the job", {"blank": True, "paper": "letter", "extent": "customer"}),
    ]


# ------------------------------------------------------------------------------ chain
def changed_lines(demo, kind, change):
    """The record with these lines changed, and all hashes made to fit."""
    record = copy.deepcopy(demo[0])
    for line in record["lines"]:
        if line["kind"] == kind:
            change(line)
    rehashed(record)
    return record


def test_the_chain_of_a_whole_job(demo, small):
    lines = demo[0]["lines"]
    about = {"lines": str(len(lines)), "last": lines[-1]["digest"]}
    assert told(verifying._chain(sheet_of(demo[0]))) == [(Part.CHAIN, State.VERIFIED, Code.HASHES_MATCH, about)]
    assert told(verifying._chain(sheet_of(small[0]))) == [(Part.CHAIN, State.NOT_COVERED, Code.NO_HISTORY, {})]


def test_an_issue_is_compared_with_its_seal_where_it_has_one(demo):
    def other_seal(line):
        line["body"] |= {"record": "0" * 64, "letter": line["body"]["letter"] * 30}

    found = verifying._chain(sheet_of(changed_lines(demo, "issue", other_seal)))
    assert told(found) == [
        (Part.CHAIN, State.NOT_VERIFIED, Code.SEAL_CHANGED, {"letter": letter * 20}) for letter in ("A", "B")
    ]
    found = verifying._chain(sheet_of(changed_lines(demo, "issue", lambda line: line["body"].pop("record"))))
    assert [f.code for f in found] == [Code.HASHES_MATCH]


def test_twenty_changed_lines_are_told(demo):
    record = copy.deepcopy(demo[0])
    for line in record["lines"]:
        line["who"] += " and another"
    assert len(record["lines"]) > 20
    assert [f.code for f in verifying._chain(sheet_of(record))][:21] == [Code.LINE_CHANGED] * 20 + [Code.SEAL_CHANGED]


def test_the_hash_of_a_line_that_somebody_holds(demo):
    lines = demo[0]["lines"]
    kept = lines[4]["digest"]

    def held(holds, lines=lines):
        return told(verifying._held(sheet_of({"lines": lines}), holds))

    assert held("") == []
    holds = [(Part.CHAIN, State.VERIFIED, Code.HOLDS, {"line": "5"})]
    assert [held(x) for x in (kept, f" {kept[:32].upper()}\n\u200b{kept[32:]} ")] == [holds, holds]
    assert held(kept, ["text", 5, *lines]) == holds
    for other in (lines[:4], [], None, {"digest": kept}, [kept]):
        assert held(kept, other) == [(Part.CHAIN, State.NOT_VERIFIED, Code.NOT_HELD, {})]
    for typed in (kept[:-1], kept + "0", "g" * 64):
        assert held(typed) == [(Part.CHAIN, State.NOT_VERIFIED, Code.NO_HASH, {"typed": typed})]
    assert held("x" * 90) == [(Part.CHAIN, State.NOT_VERIFIED, Code.NO_HASH, {"typed": "x" * 80})]


# ------------------------------------------------------------------------------ attachments
def test_the_photographs_of_a_whole_job(demo):
    record, pictures = demo
    files = {f"{d}.jpg": content for d, content in pictures.items()}
    one, two = sorted(pictures)

    def found(files, record=record):
        return told(verifying._files(sheet_of(record, files)))

    part, wrong = Part.ATTACHMENTS, State.NOT_VERIFIED
    assert found(files) == [(part, State.VERIFIED, Code.PHOTOGRAPHS, {"count": "2"})]
    assert found({f"{two}.jpg": pictures[two]}) == [(part, wrong, Code.PHOTOGRAPH_MISSING, {"digest": one[:12]})]
    without = record | {"lines": record["lines"][:5]}
    assert "photo" not in {x["kind"] for x in without["lines"]}
    unnamed = [(part, wrong, Code.PHOTOGRAPH_UNNAMED, {"digest": d[:12]}) for d in (one, two)]
    assert found(files, without) == unnamed
    assert found({}, without) == [(part, State.VERIFIED, Code.NOTHING_ELSE, {})]
    swapped = found(files | {f"{one}.jpg": pictures[two]})
    assert [(code, about["digest"]) for _, _, code, about in swapped] == [(Code.PHOTOGRAPH_CHANGED, one[:12])]
    long = "n" * 70
    assert found(files | {long: b""}) == [(part, wrong, Code.FILE_UNKNOWN, {"name": repr("n" * 60)})]
    assert [code for _, _, code, _ in found({}, record | {"lines": None})] == [Code.UNREADABLE]


def test_each_photograph_that_is_checked_is_told_as_progress(demo):
    heard = []
    with progress.listening(lambda p: heard.append((p.done, p.total))):
        verifying._files(sheet_of(demo[0], {f"{d}.jpg": content for d, content in demo[1].items()}))
    assert heard == [(0, 2), (1, 2)]


def test_twenty_wrong_files_are_told(demo):
    found = verifying._files(sheet_of(demo[0], {f"more {n}": b"" for n in range(25)}))
    assert len(found) == 20


def test_a_job_file_has_no_photographs(small):
    part, wrong = Part.ATTACHMENTS, State.NOT_VERIFIED
    assert told(verifying._files(sheet_of(small[0], {PAGES: b""}))) == [(part, State.VERIFIED, Code.NOTHING_ELSE, {})]
    name = "0" * 64 + ".jpg"
    assert told(verifying._files(sheet_of(small[0], {name: b""}))) == [
        (part, wrong, Code.FILE_UNKNOWN, {"name": repr(name[:60])})
    ]


# ------------------------------------------------------------------------------ pages
def on_pages(drawn, of=None, **changed):
    """What is found about the pages with another record or another hash of the pages attached."""
    own, pdf, files = drawn
    about = json.dumps(json.loads(files[PAGES]) | changed).encode()
    sheet = sheet_of(of or own, {PAGES: about}, pdf, pypdf.PdfReader(io.BytesIO(pdf)))
    return [f.code for f in verifying._pages(sheet, wrong=False)]


def test_each_part_of_the_hash_of_pages_is_compared(drawn_elsewhere):
    assert on_pages(drawn_elsewhere) == [Code.SAME_PAGES]
    for name, value, code in (
        ("schema", "x", Code.HASH_OF_ANOTHER), ("record", "0" * 64, Code.HASH_OF_ANOTHER),
        ("count", 7, Code.PAGES_CHANGED), ("pages", "0" * 64, Code.PAGES_CHANGED),
    ):  # fmt: skip
        assert on_pages(drawn_elsewhere, **{name: value}) == [code], name


def test_pages_are_set_again_only_where_all_that_draws_them_is_the_same(drawn_elsewhere, small, monkeypatch):
    monkeypatch.setattr(verifying, "_set_again", lambda _: not_covered(Part.PAGES, Code.NOT_LOOKED_AT))
    monkeypatch.setattr(verifying, "_of_another_renderer", lambda _: [not_covered(Part.PAGES, Code.TEXT_ONLY)])
    assert on_pages(drawn_elsewhere) == [Code.TEXT_ONLY]
    assert on_pages(drawn_elsewhere, small[0]) == [Code.NOT_LOOKED_AT]
    assert on_pages(drawn_elsewhere, small[0] | {"program": "text"}) == [Code.TEXT_ONLY]


@pytest.mark.parametrize(
    ("version", "codes"),
    [("0.1.0", [Code.TEXT_ONLY]), ("0.1.9", [Code.TEXT_ONLY]), ("0.2.0", [Code.HASH_MISSING]), ("x", [Code.HASH_MISSING])],
)  # fmt: skip
def test_a_version_before_0_2_0_attached_no_hash(drawn_elsewhere, monkeypatch, version, codes):
    own, pdf, files = drawn_elsewhere
    record = own | {"program": {"shoplib": version}}
    sheet = verifying._Sheet(pdf, pypdf.PdfReader(io.BytesIO(pdf)), {}, files[ATTACHMENT], record)
    monkeypatch.setattr(verifying.pagetext, "foreign", lambda _: [])
    monkeypatch.setattr(verifying.pagetext, "missing", lambda *_: [])
    assert [f.code for f in verifying._pages(sheet, wrong=False)] == codes


def test_twenty_missing_values_and_twenty_foreign_things_are_told(drawn_elsewhere, monkeypatch):
    own, pdf, files = drawn_elsewhere
    record = own | {"program": {"shoplib": "0.1.0"}}
    sheet = verifying._Sheet(pdf, pypdf.PdfReader(io.BytesIO(pdf)), {}, files[ATTACHMENT], record)
    place = verifying.pagetext.missing([""], own)[0]
    monkeypatch.setattr(verifying.pagetext, "missing", lambda *_: [place] * 25)
    monkeypatch.setattr(verifying.pagetext, "foreign", lambda _: ["a font"] * 25)
    found = [f.code for f in verifying._pages(sheet, wrong=False)]
    assert found == [Code.VALUE_NOT_ON_PAGES] * 20 + [Code.FOREIGN] * 20


# ------------------------------------------------------------------------------ pages set again
@pytest.mark.parametrize(
    ("own", "files", "code"),
    [(None, None, Code.OTHER_PAGES), ("same", None, Code.SAME_BYTES), ("start", None, Code.ONLY_SIGNED),
     ("start", {"more.txt": b""}, Code.HASH_CHANGED), ("other", None, Code.SAVED_AGAIN), ("elsewhere", None, Code.OTHER_PAGES)],
)  # fmt: skip
def test_pages_that_were_set_again(small, drawn_elsewhere, monkeypatch, own, files, code):
    record, pdf = small
    saved = io.BytesIO()
    pypdf.PdfWriter(clone_from=io.BytesIO(pdf)).write(saved)
    looked_at = saved.getvalue() if own == "other" else pdf + b"more" if own == "start" else pdf
    monkeypatch.setattr(
        verifying, "_typeset", lambda *_: None if own is None else drawn_elsewhere[1] if own == "elsewhere" else pdf
    )
    attached = attachments.attached(pdf) | (files or {})
    sheet = verifying._Sheet(looked_at, pypdf.PdfReader(io.BytesIO(pdf)), attached, attached[ATTACHMENT], record)
    assert verifying._set_again(sheet).code is code
