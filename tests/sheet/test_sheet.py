"""From a job file to a sheet and back: same bytes, hostile text, tampering seen."""

import io
import json
import shutil
from pathlib import Path

import pypdf
import pytest

from shoplib.cli import main
from shoplib.core.errors import BadInput
from shoplib.core.paths import DATA
from shoplib.record import jobfile_record as document
from shoplib.record.jobfile import BadFile, read_job_file
from shoplib.record.jobfile_record import canonical, make_record
from shoplib.sheet import entry_sheet as build
from shoplib.sheet import files, typeset
from shoplib.sheet import table_layout as columns
from shoplib.sheet.render import SheetError
from shoplib.sheet.verdict import Code, Part, State
from shoplib.sheet.verify import NotASheet, read_record, verify
from shoplib.topics import get
from tests.sheet.sheet_parts import every_leaf, job, replace_attachment, words_of

DEMO = DATA / "demo" / "job.toml"


@pytest.fixture(scope="module")
def demo():
    return make_record(read_job_file(DEMO), folder=DEMO.parent)


@pytest.fixture(scope="module")
def small():
    record = make_record(job())
    return record, typeset(record)


# ------------------------------------------------------------------------------ the round trip
def test_the_demo_job_end_to_end(tmp_path, capsys):
    out = tmp_path / "demo.pdf"
    assert main(["sheet", str(DEMO), "-o", str(out)]) == 0
    assert "outcome: undecided" in capsys.readouterr().out
    assert main(["read", str(out)]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["job"]["number"] == "26-014" and record["outcome"] == "undecided"
    assert main(["verify", str(out)]) == 0
    shown = capsys.readouterr().out
    assert "pages: verified, identical to the pages made from the record" in shown and shown.endswith("\nverified\n")


def test_never_overwrites_without_force(tmp_path, capsys):
    out = tmp_path / "demo.pdf"
    out.write_bytes(b"mine")
    assert main(["sheet", str(DEMO), "-o", str(out)]) == 2
    assert "already exists" in capsys.readouterr().err and out.read_bytes() == b"mine"
    assert main(["sheet", str(DEMO), "-o", str(out), "--force"]) == 0
    assert out.read_bytes().startswith(b"%PDF") and [p.name for p in tmp_path.iterdir()] == ["demo.pdf"]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_two_runs_give_the_same_bytes(paper):
    first, second = (typeset(make_record(read_job_file(DEMO), paper=paper, folder=DEMO.parent)) for _ in range(2))
    assert first == second
    width, height = (float(x) for x in pypdf.PdfReader(io.BytesIO(first)).pages[0].mediabox[2:])
    assert (round(width), round(height)) == {"a4": (595, 842), "letter": (612, 792)}[paper]


def test_the_pdf_says_what_it_is(small):
    _, pdf = small
    meta = pypdf.PdfReader(io.BytesIO(pdf)).metadata
    xmp = pdf.decode("latin-1")
    assert meta.author == "A. Learner"
    assert "<pdfaid:part>3</pdfaid:part>" in xmp and "<pdfaid:conformance>A</pdfaid:conformance>" in xmp
    assert "<pdfuaid:part>1</pdfuaid:part>" in xmp


def test_the_page_holds_inputs_results_steps_version_and_hash(small):
    record, pdf = small
    text = words_of(pdf)
    for word in (
        "AS TYPED\nTorque 𝑀 40 N·m\n",
        "29.50 lbf·ft",
        "40 N·m (30 lbf·ft)",
        "computed in full precision",
        "shoplib",
        document.digest(record)[:20],
        "Page 1 of",
    ):
        assert word in text, word


def test_fail_wins_and_open_points_come_first(demo):
    failing = job(working="measurement", inputs={"what": "gap", "where": "2", "value": "0.12 mm", "high": "0.10 mm"})
    failing["entry"] += [{"working": "measurement", "inputs": {"what": "gap", "where": "3", "state": "not measured"}}]
    record = make_record(failing)
    assert record["outcome"] == "fail"
    text = words_of(typeset(record))
    assert text.index("gap, 2") < text.index("gap, 3") and "source missing" in text


# ------------------------------------------------------------------------------ hostile text
@pytest.mark.parametrize(
    "typed",
    [
        '#read("x")',
        "=1+1",
        "$x^2$",
        "<b>bold</b>",
        "*a* _b_ `c`",
        "\\alpha",
        "@me",
        '"; drop table',
        "// no",
        "//x /* y",
        "{{7*7}}",
        "-- a ~ b",
    ],
)
def test_text_is_printed_as_typed(typed):
    record = make_record(job(done_by=typed, remark=typed, engine=typed))
    assert record["job"]["done_by"] == typed
    text = words_of(typeset(record)).replace("\u200b", "")
    assert text.count(typed) >= 2, text[:600]


@pytest.mark.parametrize("typed", ["a\x00b", "a\u202eb", "a\u200bb", "a\ufeffb", "a\u2028b", "\ud800"])
def test_invisible_text_is_refused_naming_the_field(typed):
    for change, field in (({"done_by": typed}, "job.done_by"), ({"remark": typed}, "entry 1, remark")):
        with pytest.raises(BadInput) as caught:
            make_record(job(**change))
        assert field in str(caught.value)


@pytest.mark.parametrize(
    ("change", "field"), [({"done_by": "技術者"}, "job.done_by"), ({"remark": "ฟ"}, "entry 1, remark")]
)
def test_a_script_without_glyphs_names_the_field(change, field):
    with pytest.raises(SheetError) as caught:
        typeset(make_record(job(**change)))
    assert field in str(caught.value) and "cannot print" in str(caught.value)


@pytest.mark.parametrize("number", ["../../etc/x", "/etc/passwd", "..", "a/b\\c", "C:\\x", "....//", " ", "x" * 300])
def test_a_job_number_cannot_leave_the_output_folder(number, tmp_path, monkeypatch):
    name = files.name_for(number)
    assert Path(name).name == name and not name.startswith(".") and len(name) < 100
    if not number.strip() or len(number) > 100:
        return
    monkeypatch.chdir(tmp_path)
    toml = DEMO.read_text(encoding="utf-8").replace('"26-014"', json.dumps(number))
    (tmp_path / "job.toml").write_text(toml, encoding="utf-8")
    assert main(["sheet", "job.toml"]) == 0
    assert [p.parent.name for p in tmp_path.rglob("*.pdf")] == ["sheets"]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"\xff\xfe", "not UTF-8"),
        (b"[job", "not a job file"),
        (b"x" * 6_000_000, "too large"),
        (b"a=" + b"[" * 3000, "not a job file"),
    ],
)
def test_a_bad_job_file_is_named(tmp_path, capsys, content, says):
    path = tmp_path / "bad.toml"
    path.write_bytes(content)
    with pytest.raises(BadFile, match=says):
        read_job_file(path)
    assert main(["sheet", str(path)]) == 2
    assert says in capsys.readouterr().err
    assert main(["sheet", str(tmp_path / "none.toml")]) == 2


def test_every_bad_field_of_a_job_in_one_message():
    bad = job(number="", date="yesterday", inputs={"torque": "40"})
    bad["job"]["colour"] = "red"
    bad["entry"] += [
        {"working": "guess"},
        {"working": "thread", "inputs": {"thread": "M10", "extra": "1"}, "who": "x" * 9000},
    ]
    with pytest.raises(BadInput) as caught:
        make_record(bad)
    said = str(caught.value)
    for part in (
        "job.number: is missing",
        "job.date",
        "job.colour",
        "entry 1 (torque_units), torque",
        "entry 2, working",
        "entry 3, who",
    ):
        assert part in said, said
    with pytest.raises(BadInput, match=r"at least one \[\[entry\]\]"):
        make_record({"job": job()["job"]})


def test_wide_content_never_runs_off_the_page():
    record = make_record(job(engine="W" * 390, remark="W" * 3900, title="W" * 300))
    pages = pypdf.PdfReader(io.BytesIO(typeset(record))).pages
    for page in pages:
        right = []
        page.extract_text(
            visitor_text=lambda text, cm, tm, font, size, right=right: (
                right.append(cm[4] + tm[4]) if text.strip() else None
            )
        )
        assert max(right) < float(page.mediabox[2])


# ------------------------------------------------------------------------------ tampering


def altered(record, path, value):
    copy = json.loads(json.dumps(record))
    at = copy
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = value
    return copy


def test_every_single_value_changed_in_the_record_is_seen(small):
    record, pdf = small
    leaves = list(every_leaf(record))
    assert len(leaves) > 30
    for path, value in leaves:
        other = (
            value + 1
            if isinstance(value, int | float) and not isinstance(value, bool)
            else f"{value or ''}x"
            if value is None or isinstance(value, str)
            else not value
        )
        forged = replace_attachment(pdf, canonical(altered(record, path, other)))
        if path[0] == "schema":
            with pytest.raises(NotASheet):
                verify(forged)
            continue
        verdict = verify(forged)
        assert verdict.problems, path
        if path[0] == "program":  # another version cannot be told from a forged one; the pages show that it is forged
            assert verdict.state(Part.PAGES) is State.NOT_VERIFIED


def test_changed_bytes_of_the_attachment_are_seen(small):
    record, pdf = small
    assert verify(replace_attachment(pdf, json.dumps(record, indent=1).encode())).exit_code == 1
    with pytest.raises(NotASheet):
        verify(replace_attachment(pdf, b"{"))
    with pytest.raises(NotASheet):
        verify(replace_attachment(pdf, b"[" * 100_000))


def test_changed_pages_are_seen(small):
    record, pdf = small
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(pdf))
    writer.pages[0].rotate(180)
    out = io.BytesIO()
    writer.write(out)
    verdict = verify(out.getvalue())
    assert [f.code for f in verdict.of(Part.PAGES)] == [Code.OTHER_PAGES] and verdict.exit_code == 5
    assert read_record(out.getvalue()) == record


def test_another_version_compares_numbers_with_a_tolerance(small, monkeypatch):
    record, _ = small
    older = altered(record, ("program", "numpy"), "1.0")
    older["entries"][0]["result"]["version"] = "0.0.9"
    verdict = verify(typeset(older))
    assert verdict.verified and verdict.of(Part.RECORD)[0].code is Code.OTHER_VERSION
    older["entries"][0]["result"]["results"]["pound_foot"]["value"] *= 1 + 1e-6
    verdict = verify(typeset(older))
    assert verdict.exit_code == 1 and "pound_foot" in verdict.problems[0]


def test_exit_codes_of_read_and_verify(tmp_path, small, capsys):
    record, pdf = small
    (tmp_path / "not.pdf").write_bytes(b"hello")
    (tmp_path / "good.pdf").write_bytes(pdf)
    (tmp_path / "bad.pdf").write_bytes(
        replace_attachment(pdf, canonical(altered(record, ("job", "engine"), "another")))
    )
    for name, code in (("not.pdf", 2), ("good.pdf", 0), ("bad.pdf", 5), ("none.pdf", 2)):
        assert main(["verify", str(tmp_path / name)]) == code, name
    assert main(["read", str(tmp_path / "not.pdf")]) == 2
    assert capsys.readouterr().err.count("not.pdf") == 2


# ------------------------------------------------------------------------------ writing
def test_a_folder_that_cannot_be_written_is_named(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(files.NotWritten, match="cannot write here"):
        files.write(tmp_path / "file" / "out.pdf", b"x")


def test_a_csv_named_by_an_entry_travels_in_the_record(tmp_path):
    record = make_record(read_job_file(DEMO), folder=DEMO.parent)
    assert canonical(record) == canonical(json.loads(canonical(record)))
    shutil.copy(DEMO, tmp_path / "job.toml")
    assert make_record(read_job_file(tmp_path / "job.toml"), folder=tmp_path) == record


def test_readings_in_a_cell_are_printed_with_their_unit():
    inputs = {"projections": [["0.62 mm", "0.66 mm"]], "grades": [{"name": "1", "low": "0.5 mm"}]}
    result = get("gasket_grade")(inputs)
    assert "0.62 mm; 0.66 mm" in str(build.typed_rows(result, result.inputs.field("projections")))


def test_headings_of_a_wide_table_do_not_touch():
    """Where the text of a table is set smaller its headings are not: 1.31 characters of full size a letter (OUTCOME)."""
    head = [
        "Bolt",
        "x",
        "y",
        "Thread",
        "Gauged",
        "Tapped",
        "Length",
        "Washer",
        "Hole",
        "Hand",
        "Fitted",
        "Dry",
        "Chased",
    ]
    cells = [
        "95.0",
        "96.0",
        "M10x1.25",
        "1.250 mm",
        "1.250 mm",
        "110.0",
        "none",
        "blind",
        "left",
        "re-used",
        "yes",
        "not checked",
    ]
    table = columns.as_table("log", head, [[str(k), *(f"{c}{k}" for c in cells)] for k in range(3)])
    assert table["small"] and len(table["head"]) == len(head)
    a_part = columns.LINE / sum(table["widths"])  # characters of full size
    for title, width in zip(head, table["widths"], strict=True):
        assert width * a_part >= len(title) * 1.31 + 1.5, title
