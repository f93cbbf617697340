"""The verdicts of verify: each part by itself, across versions, and no altered page that passes."""

import copy
import dataclasses
import io
import json
import re
from pathlib import Path

import pypdf
import pytest
import typst

from shoplib.cli import main
from shoplib.core.former import Former
from shoplib.record import jobfile_record as document
from shoplib.record.jobfile_record import canonical, make_record
from shoplib.record.store import Store
from shoplib.sheet import compare, job_sheet, render, typeset
from shoplib.sheet.attachments import PAGES, attached
from shoplib.sheet.pagehash import page_hash
from shoplib.sheet.render import pages_attachment
from shoplib.sheet.verdict import EXIT_CODES, EXIT_NOT_COVERED, EXIT_WORDS, WORDS, Code, Finding, Part, State, Verdict
from shoplib.sheet.verify import verify
from shoplib.topics import find
from tests import whole_job
from tests.sheet.sheet_parts import job, replace_attachment


@pytest.fixture(scope="module")
def sheet():
    """The record and the sheet of a job with a check that fails."""
    inputs = {"what": "protrusion", "where": "liner 1", "value": "0.12 mm",
              "high": "0.05 mm", "high_source": "bench notes, page 3"}  # fmt: skip
    record = make_record(job(working="measurement", inputs=inputs))
    assert record["outcome"] == "fail"
    return record, typeset(record)


def rewritten(pdf, change):
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(pdf))
    change(writer)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def overlay(writer, text="OUTCOME: PASS"):
    """Text laid over the first page."""
    from pypdf.generic import DecodedStreamObject, DictionaryObject, NameObject

    other = pypdf.PdfWriter()
    page = other.add_blank_page(*map(float, writer.pages[0].mediabox[2:]))
    font = DictionaryObject(
        {NameObject("/Type"): NameObject("/Font"), NameObject("/Subtype"): NameObject("/Type1"),
         NameObject("/BaseFont"): NameObject("/Helvetica")})  # fmt: skip
    page[NameObject("/Resources")] = DictionaryObject(
        {NameObject("/Font"): DictionaryObject({NameObject("/F1"): font})}
    )
    stream = DecodedStreamObject()
    stream.set_data(f"BT /F1 30 Tf 60 600 Td ({text}) Tj ET".encode())
    page[NameObject("/Contents")] = stream
    writer.pages[0].merge_page(page)


def blank(writer):
    """Every page replaced by an empty one."""
    from pypdf.generic import DecodedStreamObject

    for page in writer.pages:
        empty = DecodedStreamObject()
        empty.set_data(b"")
        page.replace_contents(pypdf.generic.ContentStream(empty, writer))


def exchanged(writer):
    """The pages of another job."""
    other = typeset(make_record(job(engine="another engine")))
    while len(writer.pages):
        writer.remove_page(0)
    for page in pypdf.PdfReader(io.BytesIO(other)).pages:
        writer.add_page(page)


def removed(writer):
    writer.remove_page(len(writer.pages) - 1)
    if not len(writer.pages):
        writer.add_blank_page(595, 842)


ALTERATIONS = {"blank": blank, "overlay": overlay, "exchanged": exchanged, "removed": removed}


# ------------------------------------------------------------------------------ altered pages never pass
@pytest.mark.parametrize(
    "program", [{}, {"shoplib": "9.9.9"}, {"shoplib": "0.1.0"}, {"numpy": "1.0"}, {"pages": "0" * 12}, "text"]
)
@pytest.mark.parametrize("alteration", ALTERATIONS)
def test_altered_pages_are_not_verified_whatever_the_record_says_of_its_program(sheet, alteration, program):
    record, pdf = sheet
    forged = copy.deepcopy(record)
    forged["program"] = program if isinstance(program, str) else record["program"] | program
    altered = rewritten(replace_attachment(pdf, canonical(forged)), ALTERATIONS[alteration])
    verdict = verify(altered)
    assert verdict.state(Part.PAGES) is State.NOT_VERIFIED
    assert not verdict.verified
    assert verdict.exit_code == EXIT_CODES[Part.PAGES if not isinstance(program, str) else verdict_first(verdict)]


def verdict_first(verdict):
    return next(p for p in Part if verdict.state(p) is State.NOT_VERIFIED)


@pytest.mark.parametrize("alteration", ["blank", "exchanged", "removed"])
def test_who_sets_the_hash_of_altered_pages_anew_is_found_out_by_their_text(sheet, alteration):
    """Another version is claimed, and the attached hash is that of the altered pages."""
    record, _ = sheet
    forged = copy.deepcopy(record)
    forged["program"]["pages"] = "0" * 12
    altered = rewritten(typeset(forged), ALTERATIONS[alteration])
    anew = pages_attachment(altered, canonical(forged))
    verdict = verify(replace_attachment(altered, anew, "pages.json"))
    assert verdict.state(Part.PAGES) is State.NOT_VERIFIED
    assert {f.code for f in verdict.of(Part.PAGES)} & {Code.VALUE_NOT_ON_PAGES, Code.PAGE_OF_ANOTHER}


def test_pages_of_another_version_are_covered_by_their_hash_and_text(sheet):
    record, _ = sheet
    older = copy.deepcopy(record)
    older["program"]["typst"] = "0.0.1"
    verdict = verify(typeset(older))
    assert [f.code for f in verdict.of(Part.PAGES)] == [Code.SAME_PAGES]
    assert verdict.verified


def test_an_unaltered_sheet_is_typeset_once(sheet, monkeypatch):
    made = []
    really = render._compiler

    class Counted:
        def __init__(self, compiler):
            self.compiler = compiler

        def compile_with_warnings(self, **options):
            made.append(options["format"])
            return self.compiler.compile_with_warnings(**options)

    monkeypatch.setattr(render, "_compiler", lambda *of: Counted(really(*of)))
    _, pdf = sheet
    assert {f.code for f in verify(pdf).of(Part.PAGES)} == {Code.SAME_BYTES}
    assert len(made) == 1
    about = json.loads(attached(pdf)[PAGES])
    another = about | {"pages": about["pages"][::-1]}
    wrong = verify(replace_attachment(pdf, json.dumps(another, sort_keys=True, separators=(",", ":")).encode(), PAGES))
    assert wrong.state(Part.PAGES) is State.NOT_VERIFIED
    assert len(made) == 3


@pytest.mark.parametrize(
    "expected", [b"", b"{}", b'"]) #panic("typst")', b"\xff\x00", b"\x00", b"1" * 399, b"1" * 10**6]
)
def test_the_hash_that_a_sheet_has_never_changes_what_is_typeset(sheet, expected):
    record, pdf = sheet
    assert typeset(record, hash_expected=expected) == pdf


def test_another_numpy_does_not_keep_the_pages_from_being_compared(sheet):
    record, _ = sheet
    older = copy.deepcopy(record)
    older["program"]["numpy"] = "1.0"
    verdict = verify(typeset(older))
    assert [f.code for f in verdict.of(Part.PAGES)] == [Code.SAME_BYTES]


def test_a_sheet_without_the_hash_of_its_pages_is_not_verified_unless_its_version_attached_none(sheet):
    record, pdf = sheet

    def drop(writer):
        names = writer.root_object["/Names"]["/EmbeddedFiles"]["/Names"]
        at = names.index("pages.json")
        del names[at : at + 2]

    for version, code in (("0.3.0", Code.HASH_MISSING), ("nonsense", Code.HASH_MISSING)):
        older = copy.deepcopy(record)
        older["program"]["shoplib"] = version
        assert code in {f.code for f in verify(rewritten(typeset(older), drop)).of(Part.PAGES)}
    assert verify(rewritten(pdf, drop)).state(Part.PAGES) is State.NOT_VERIFIED


# ------------------------------------------------------------------------------ saved again, not altered
ARCHIVE = Path(__file__).parents[1] / "archive" / "0.1.0" / "pdf"


@pytest.mark.parametrize("name", ["job_file.pdf", "ten_workings.pdf"])
def test_words_laid_over_a_genuine_sheet_of_0_1_0_never_make_it_verified(name, capsys, tmp_path):
    """It attached no hash of its pages.  Nothing tells words with an embedded font from its own: "not covered"."""
    stamp = typst.compile(b"#set page(fill: none)\n#text(40pt)[OUTCOME: PASS]")
    pdf = rewritten(
        (ARCHIVE / name).read_bytes(), lambda w: w.pages[0].merge_page(pypdf.PdfReader(io.BytesIO(stamp)).pages[0])
    )
    assert "OUTCOME: PASS" in pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    verdict = verify(pdf)
    assert [(f.state, f.code) for f in verdict.of(Part.PAGES)] == [(State.NOT_COVERED, Code.TEXT_ONLY)]
    assert (verdict.verified, verdict.exit_code) == (False, EXIT_NOT_COVERED)
    path = tmp_path / name
    path.write_bytes(pdf)
    assert main(["verify", str(path)]) == EXIT_NOT_COVERED
    assert "whether anything was added to them cannot be found" in capsys.readouterr().out


@pytest.mark.parametrize("alteration", ALTERATIONS)
def test_what_can_be_told_of_a_genuine_sheet_of_0_1_0_is_told(alteration):
    """Without an embedded font, with a page exchanged, blank or removed, it is NOT verified."""
    verdict = verify(rewritten((ARCHIVE / "ten_workings.pdf").read_bytes(), ALTERATIONS[alteration]))
    assert verdict.exit_code == EXIT_CODES[Part.PAGES]


def test_a_sheet_that_was_only_saved_again_is_told_apart_from_an_altered_one(sheet):
    _, pdf = sheet
    again = rewritten(pdf, lambda _: None)
    assert again != pdf
    verdict = verify(again)
    assert verdict.verified
    assert [f.code for f in verdict.of(Part.PAGES)] == [Code.SAVED_AGAIN]
    for alteration in ALTERATIONS.values():
        assert [f.code for f in verify(rewritten(pdf, alteration)).of(Part.PAGES)] == [Code.OTHER_PAGES]


def test_the_hash_of_the_pages_that_was_exchanged_is_seen(sheet):
    _, pdf = sheet
    about = json.loads(attached(pdf)[PAGES])
    for key, value in (("pages", "0" * 64), ("record", "0" * 64), ("count", 7), ("schema", "x")):
        other = replace_attachment(pdf, json.dumps(about | {key: value}).encode(), "pages.json")
        assert verify(other).exit_code == EXIT_CODES[Part.PAGES], key


def test_the_hash_is_that_of_everything_shown(sheet):
    _, pdf = sheet
    base = page_hash(pypdf.PdfReader(io.BytesIO(pdf)))
    assert json.loads(attached(pdf)[PAGES])["pages"] == base
    name, number = pypdf.generic.NameObject, pypdf.generic.FloatObject
    changes = [
        *ALTERATIONS.values(),
        lambda w: w.pages[0].rotate(90),
        lambda w: w.pages[0].cropbox.__setitem__(2, number(300)),
        lambda w: w.root_object.__setitem__(name("/OpenAction"), name("/X")),
    ]
    found = [page_hash(pypdf.PdfReader(io.BytesIO(rewritten(pdf, c)))) for c in changes]
    assert len({base, *found}) == len(found) + 1


# ------------------------------------------------------------------------------ part by part
def test_a_whole_job_has_its_chain_and_attachments_looked_at(tmp_path):
    with Store.open(tmp_path / "jobs.db") as store:
        number = store.import_job(whole_job.FILE.read_bytes()).number
        pdf = job_sheet(store, number)
        lines = store.job(number).lines
    verdict = verify(pdf)
    assert verdict.verified
    said = "\n".join(verdict.as_lines())
    assert f"chain: verified, {len(lines)} lines, last hash {lines[-1].digest}" in said
    record = json.loads(attached(pdf)["record.json"])
    record["lines"][1]["who"] = "Another"
    assert verify(replace_attachment(pdf, canonical(record))).state(Part.CHAIN) is State.NOT_VERIFIED
    more = verify(rewritten(pdf, lambda w: w.add_attachment("more.txt", b"x")))
    assert more.state(Part.ATTACHMENTS) is State.NOT_VERIFIED
    assert more.exit_code == EXIT_CODES[Part.ATTACHMENTS]


def test_every_code_has_words_and_every_part_a_code_of_its_own():
    assert set(WORDS) == set(Code)
    codes = [0, 2, 7, *EXIT_CODES.values()]
    assert len(codes) == len(set(codes))
    assert set(EXIT_CODES) == set(Part)
    for part, code in EXIT_CODES.items():
        verdict = Verdict((Finding(part, State.NOT_VERIFIED, Code.OTHER_PAGES),))
        assert verdict.exit_code == code
        assert re.search(rf"^  {code}  the {part}\b[^:]* NOT verified", EXIT_WORDS, re.MULTILINE)
        assert not verdict.verified


def test_a_name_in_a_record_cannot_look_like_a_line_of_the_verdict(sheet, tmp_path, capsys):
    """Found by fuzzing: names of unknown members were printed as they were, control characters included."""
    record, pdf = sheet
    forged = copy.deepcopy(record)
    forged["entries"][0]["result"]["checks"][0]["x\nsignature: verified\x1b[2J\u202e"] = 1
    path = tmp_path / "forged.pdf"
    path.write_bytes(replace_attachment(pdf, canonical(forged)))
    assert main(["verify", str(path)]) == EXIT_CODES[Part.RECORD]
    lines = capsys.readouterr().out.splitlines()
    assert not any(line.startswith("signature: verified") for line in lines)
    assert any("x signature: verified·[2J·" in line for line in lines)


def test_nothing_looked_at_is_not_verified():
    verdict = Verdict(())
    assert not verdict.verified
    assert verdict.exit_code == 7
    assert verdict.headline.startswith("nothing wrong was found, but not covered: record, chain")


# ------------------------------------------------------------------------------ other rules of judging
def aged(record, version="0.1.0"):
    """The record as that version would have written it, here with another outcome."""
    older = copy.deepcopy(record)
    older["program"]["shoplib"] = version
    if version == "0.1.0":  # it did not state the version of a calculation
        del older["entries"][0]["result"]["calculation"]
    older["outcome"] = older["entries"][0]["result"]["outcome"] = "undecided"
    older["entries"][0]["result"]["checks"][0]["outcome"] = "undecided"
    return older


def test_an_outcome_of_other_rules_is_told_and_not_called_altered(sheet, monkeypatch):
    monkeypatch.setattr(document, "__version__", "0.2.0")
    record, _ = sheet
    older = aged(record)
    found = compare.findings_of(older, copy.deepcopy(record))
    assert {f.state for f in found if f.code is Code.RULES_CHANGED} == {State.NOT_COVERED}
    said = [f.words for f in found if f.code is Code.RULES_CHANGED]
    assert len(said) == 3
    assert all("rules of judging changed in 0.2.0" in x and '"undecided"' in x and '"fail"' in x for x in said)
    assert Verdict(tuple(found)).problems == ()


@pytest.mark.parametrize(("made", "here"), [("0.2.0", "0.2.1"), ("0.3.0", "0.2.0"), ("0.1.0", "0.1.9"), ("x", "0.2.0")])
def test_an_outcome_that_differs_under_the_same_rules_is_a_change(sheet, monkeypatch, made, here):
    monkeypatch.setattr(document, "__version__", here)
    record, _ = sheet
    found = compare.findings_of(aged(record, made), copy.deepcopy(record))
    assert sum(f.code is Code.CHANGED for f in found) == 3


def test_a_number_that_differs_is_a_change_also_under_other_rules(sheet, monkeypatch):
    monkeypatch.setattr(document, "__version__", "0.2.0")
    record, _ = sheet
    older = aged(record)
    older["entries"][0]["result"]["checks"][0]["limit"]["value"] = "0.06 mm"
    found = compare.findings_of(older, copy.deepcopy(record))
    assert [f.about["where"] for f in found if f.code is Code.CHANGED] == ["entries[1].result.checks[1].limit.value"]


@pytest.mark.parametrize(
    ("made", "calculations", "code"),
    [("0.2.0", (1, 1), Code.CHANGED), ("0.2.0", (1, 2), Code.CALCULATION_CHANGED),
     ("0.2.0", (2, 1), Code.CHANGED), ("0.3.0", (1, 2), Code.CHANGED), ("0.4.0", (2, 1), Code.CALCULATION_CHANGED)],
)  # fmt: skip
def test_another_number_is_excused_only_by_a_raised_calculation(sheet, monkeypatch, made, calculations, code):
    """Here is 0.3.0.  An older program cannot have a newer calculation, nor a newer program an older one."""
    monkeypatch.setattr(document, "__version__", "0.3.0")
    record, _ = sheet
    older, now = copy.deepcopy(record), copy.deepcopy(record)
    older["program"]["shoplib"] = made
    now["program"]["shoplib"] = "0.3.0"
    for whole, stated in zip((older, now), calculations, strict=True):
        whole["entries"][0]["result"]["calculation"] = stated
    older["entries"][0]["result"]["checks"][0]["limit"]["value"] = "0.06 mm"
    if made != "0.3.0":
        found = compare.findings_of(older, now)
        assert [f.code for f in found if f.code is not Code.OTHER_VERSION] == [code]
    else:
        older["program"]["numpy"] = "1.0"
        assert {f.code for f in compare.findings_of(older, now)} == {Code.OTHER_VERSION, code}


@pytest.mark.parametrize(("made", "code"), [("0.1.0", Code.RULES_CHANGED), ("0.2.1", Code.CHANGED)])
def test_a_result_in_words_follows_the_rules_of_judging(sheet, monkeypatch, made, code):
    monkeypatch.setattr(document, "__version__", "0.2.0")
    record, _ = sheet
    older = copy.deepcopy(record)
    older["program"]["shoplib"] = made
    if made == "0.1.0":
        del older["entries"][0]["result"]["calculation"]
    older["entries"][0]["result"]["results"]["found"]["value"] = "read: 0.12 mm"
    found = compare.findings_of(older, copy.deepcopy(record))
    assert [f.code for f in found if f.code is not Code.OTHER_VERSION] == [code]


def test_checks_are_paired_by_their_labels_when_a_version_makes_more_of_them(sheet, monkeypatch):
    monkeypatch.setattr(document, "__version__", "0.2.0")
    record, _ = sheet
    older = copy.deepcopy(record)
    older["program"]["shoplib"] = "0.1.0"
    newer = copy.deepcopy(record)
    extra = newer["entries"][0]["result"]["checks"][0] | {"label": "Another check"}
    newer["entries"][0]["result"]["checks"].insert(0, extra)
    assert not any(f.code in (Code.CHANGED, Code.RULES_CHANGED) for f in compare.findings_of(older, newer))


def reworded_in(record, label, **more):
    """The record as 0.1.0 would have written it, with a check more before the first, which has this label."""
    older = copy.deepcopy(record)
    older["program"]["shoplib"] = "0.1.0"
    checks = older["entries"][0]["result"]["checks"]
    checks[0] |= {"label": label, **more}
    checks.insert(0, checks[0] | {"label": "Tools", "outcome": "pass"})
    return older


@pytest.fixture
def reworded(sheet, monkeypatch):
    """The record, and its working with a table of former labels."""
    monkeypatch.setattr(document, "__version__", "0.2.0")
    record, _ = sheet
    result = record["entries"][0]["result"]
    now = result["checks"][0]["label"]
    former = Former(labels={"Old words of {}": (now,), "Tools": ()})
    working = dataclasses.replace(find(result["working"]), former=former)
    monkeypatch.setattr(compare, "find", lambda name: working if name == result["working"] else None)
    return record


def test_a_reworded_check_is_compared_where_a_version_makes_fewer_checks(reworded):
    assert [
        f.code for f in compare.findings_of(reworded_in(reworded, "Old words of a line"), copy.deepcopy(reworded))
    ] == [Code.OTHER_VERSION]  # "Tools" is known to be made no longer
    older = reworded_in(reworded, "Old words of a line", limit={"value": "0.06 mm"})
    assert Code.CHANGED in {f.code for f in compare.findings_of(older, copy.deepcopy(reworded))}


def test_a_check_that_no_version_made_is_told(reworded):
    found = compare.findings_of(reworded_in(reworded, "Invented"), copy.deepcopy(reworded))
    assert [(f.state, f.about) for f in found if f.code is Code.CHECK_UNKNOWN] == [
        (State.NOT_COVERED, {"label": '"Invented"'})
    ]


def test_checks_in_another_order_are_not_changed(sheet, monkeypatch):
    monkeypatch.setattr(document, "__version__", "0.2.0")
    record, _ = sheet
    older, newer = copy.deepcopy(record), copy.deepcopy(record)
    older["program"]["shoplib"] = "0.1.0"
    first = newer["entries"][0]["result"]["checks"][0]
    for whole in (older, newer):
        whole["entries"][0]["result"]["checks"].append(first | {"label": "Another check", "outcome": "no limit given"})
    newer["entries"][0]["result"]["checks"].reverse()
    assert [f.code for f in compare.findings_of(older, newer)] == [Code.OTHER_VERSION]


def test_inputs_that_this_version_refuses_are_not_covered_in_a_sheet_of_another(sheet):
    record, _ = sheet
    older = copy.deepcopy(record)
    older["program"] |= {"shoplib": "0.1.0"}
    older["entries"].append(copy.deepcopy(older["entries"][0]))
    older["entries"][1]["inputs"]["of_old"] = "1 mm"
    from shoplib.sheet.verify import _job_file_again

    again, found = _job_file_again(older)
    assert [f.code for f in found] == [Code.NOT_RECALCULATED]
    assert "entry 2" in found[0].words
    assert len(again["entries"]) == len(older["entries"]) == 1


# ------------------------------------------------------------------------------ import
def test_import_verifies_first_and_says_what_is_not_covered(sheet, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "jobs.db"))
    _, pdf = sheet
    (tmp_path / "bad.pdf").write_bytes(rewritten(pdf, overlay))
    (tmp_path / "good.pdf").write_bytes(pdf)
    assert main(["import", str(tmp_path / "bad.pdf")]) == EXIT_CODES[Part.PAGES]
    said = capsys.readouterr()
    assert "nothing was imported" in said.err
    assert not (tmp_path / "jobs.db").exists()
    assert main(["import", str(tmp_path / "good.pdf")]) == 0
    out = capsys.readouterr().out
    assert "signature: not present" in out and "imported: job T-1, 2 lines" in out


def test_the_exit_codes_are_in_the_help(capsys):
    with pytest.raises(SystemExit):
        main(["verify", "--help"])
    assert EXIT_WORDS in capsys.readouterr().out, "one code per line"
