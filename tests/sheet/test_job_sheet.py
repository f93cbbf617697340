"""The sheet of a whole stored job: same bytes, everything shown, tampering seen, and the job back from the paper."""

import base64
import copy
import importlib
import io
import json
import re

import pypdf
import pytest

from shoplib.cli import main
from shoplib.core.errors import BadInput
from shoplib.record import exchange
from shoplib.record.errors import NotAJob, Refused
from shoplib.record.job import Line, chained
from shoplib.record.job_record import exported, job_of, seal, whole_record
from shoplib.record.jobfile_record import canonical
from shoplib.record.store import Stale, Store
from shoplib.sheet import job_sheet, summary, typeset
from shoplib.sheet.job_pages import build_whole
from shoplib.sheet.verdict import Code, Part, State
from shoplib.sheet.verify import NotASheet, job_in, read_pictures, read_record, verify
from shoplib.topics import get
from tests import ci_part, whole_job
from tests.record_fixtures import HEADER, NUMBER, clock, programme, protrusion, started
from tests.sheet.forged_sheets import (
    attached,
    changed,
    found_out,
    rehashed,
    replace_record,
    rewritten,
    squeezed,
    with_value,
)
from tests.sheet.sheet_parts import every_leaf, words_of

WHO = {"who": "A. Learner"}
sheet_attachments = importlib.import_module("shoplib.sheet.attachments")
sheet_verify = importlib.import_module("shoplib.sheet.verify")


@pytest.fixture(scope="module")
def demo():
    """The job of data/demo, its photographs, its record and its sheet."""
    job, pictures = exchange.load(whole_job.FILE.read_bytes())
    record = whole_record(job)
    return job, pictures, record, typeset(record, pictures=pictures)


@pytest.fixture
def store(tmp_path):
    with started(tmp_path / "jobs.db", clock=clock("2026-11-25T09:00:00")) as opened:
        yield opened


def text_of(store, **more):
    return words_of(job_sheet(store, NUMBER, **more))


# ------------------------------------------------------------------------------ the demo job
def test_the_demo_is_what_its_script_gives():
    assert whole_job.exported() == whole_job.FILE.read_bytes()


def test_the_demo_holds_one_of_each_thing(demo):
    job, pictures, record, _ = demo
    assert {x.kind for x in job.lines} == {
        "header",
        "entry",
        "tick",
        "photo",
        "strike",
        "decision",
        "sign",
        "issue",
        "close",
    }
    assert {e.form for e in job.entries} >= {
        "compression_test", "strip_log", "work_order", "gasket_grade", "fastener_log", "tightening_plan",
    }  # fmt: skip
    assert len(job.ticks) == 41 and [x.body["letter"] for x in job.issues] == ["A", "B"]
    assert len(pictures) == 2 and record["outcome"] == "fail" and not job.stale
    assert (record["outcome_as_found"], record["outcome_as_left"]) == ("fail", "pass")
    assert {e.state for e in job.entries} == {"stands", "corrected", "struck"}


@pytest.fixture(scope="module")
def pages(demo):
    """The words on the demo job's sheet."""
    return words_of(demo[3])


def test_every_part_is_printed(demo, pages):
    job, _, record, _ = demo
    text = squeezed(pages)
    after = next(e for e in job.current_entries if e.title == "Compression after the work")
    for word in (
        "Job 26-027", "ISSUE B", "replaces issue A", "1240 h", "SN 48213", "Teaching workshop, hall 2", "call before cutting",
        "coolant topped up by customer", "certificate 2026-114", "HG-1402", "batch B-07",
        "9 of 10 bolts ticked as within the programme", "bolt 7", "programme +85–95°", "104° is within this limit", "nobody yet", "evidence named: lines", "End of the sheet of job 26-027, issue B", "Orchard co-operative", "AL did the work", "is that of the record in the PDF file",
        "OVERDUE when used on", "2026-10-31", "0.5 N·m",
        "What changed since issue A", "was corrected by line", "The job was closed",
        "not measured, must be at most 0.05 mm", "Corrected.", "misread by a decimal place", "0.60 mm", "0.06 mm",
        "Struck out by line", "belongs to another engine", "Bolt by bolt, stage by stage",
        "42 N·m", "a slip of the pen", "Deviation, bolt 7, stage 4", "the bar slipped in the socket", "not backed off",
        "peak 96 N·m", "Peak torques, stage 4", "Face at cylinder 2",
        "the gasket burnt through between cylinder 2", "Instruction: “No re-torque is asked for", "ten head bolts, in a bag",
        f"As left, line {after.n}: pass", "As found", "As left", f"Open points: {len(record['open'])}", "resolved by B. Instructor", "39 ticked “to specification”", "Limit for this decision: +85–110°", "1 line changed since: line", "no change since", "CHECKED BY", str(len(job.lines) - 2), "ticks", job.lines[-1].digest,
    ):  # fmt: skip
        assert squeezed(word) in text or squeezed(word).upper() in text.upper(), word
    assert text.count("Followthemaker'sprocedureforthisengine") == 1, "each caution once"


def test_page_one_answers_a_cold_reader(demo):
    """What a reader of page 1 alone searched for: each where it is looked for, and in words for a customer."""
    job, _, record, _ = demo
    data = build_whole(record)
    found, left = ({e["n"]: e for e in v["entries"] if not e["work"]} for v in data["verdicts"])
    work = {e["n"]: e for v in data["verdicts"] for e in v["entries"] if e["work"]}
    n = {e.title: e.n for e in job.current_entries}
    cams, faced = found[n["Cam-bore straightness"]], found[n["Head face, as it came off"]]
    assert re.fullmatch(r"Accepted, line \d+: the machine shop measured 0.03 mm, line \d+", cams["decided"])
    assert re.fullmatch(r"Overdue calibration of feeler set F-2: accepted, line \d+", faced["decided"]), (
        "the face itself is answered as left"
    )
    assert found[n["Coolant pump belt before the work"]]["fact"].startswith("deflection, mid-span, under 50 N: 24 mm")
    liner = found[n["Liner protrusion, cylinder 2"]]
    assert liner["fact"].startswith("0.06 mm, ") and "(0.60 mm)" in liner["corrected"]
    assert left[n["Compression after the work"]]["open"] == "Open point: calibration of compression gauge C-1"
    assert [e["n"] for e in left.values() if e["open"]] == [n["Compression after the work"]]
    assert left[n["Test run under load"]]["fact"].endswith(
        "no white vapour when hot (none after the cold start either)"
    )
    assert "Straightness of the cam bore: 0.03 mm" in left[n["Head to the machine shop: face cut 0.15 mm"]]["fact"]
    assert n["Planned cut: 0.15 mm"] not in work, "the order tells what was cut"
    assert work[n["Head bolts: the programme"]]["fact"] == "40 of 40 steps recorded; see Tightening"
    assert "timing drive removed (timing belt)" in work[n["Strip-down"]]["fact"]
    (calibration,) = (p for p in data["open"] if p["word"] == "Calibration")
    assert calibration["line"] == f"{n['Compression before the work']}, {n['Compression after the work']}"
    (deviation,) = data["tightenings"][0]["deviations"]
    signed = [x.n for x, fresh in job.signatures if x.who == "B. Instructor" and fresh]
    assert deviation["by"].endswith(f"entered by A. Learner, signed by B. Instructor in line {signed[-1]}")


def test_a_decimal_comma_is_printed_as_a_point_and_once_as_typed(store):
    store.keep(NUMBER, protrusion("0,06 mm"), condition="as_found", **WHO)
    data = build_whole(whole_record(store.job(NUMBER)))
    assert data["verdicts"][0]["entries"][0]["fact"] == "Liner protrusion, cylinder 2: 0.06 mm, must be at most 0.10 mm"
    (row,) = (e["row"] for p in data["phases"] for e in p["entries"])
    assert row["read"] == "0.06 mm" and "typed as 0,06 mm" in row["more"]


def test_an_unsigned_record_has_lines_for_signatures(store):
    store.keep(NUMBER, protrusion(), **WHO)
    assert "DONE BY, DATE" in text_of(store)


def test_open_points_come_before_the_entries(pages):
    text = pages
    assert text.index("Cam-bore straightness") < text.index("Prove the fault") < text.index("Prove and hand over")


def test_each_line_of_the_record_has_an_author_among_the_people(demo):
    from shoplib.sheet.job_pages import build_whole

    told = [row[-1].partition(";")[0] for row in build_whole(demo[2])["people"]["rows"]]
    runs = [
        re.fullmatch(r"(\d+)(?: to (\d+))?", x)
        for t in told
        for x in re.split(r", | and ", t.removeprefix("wrote lines "))
    ]
    numbers = sorted(n for a, b in (r.groups() for r in runs) for n in range(int(a), int(b or a) + 1))
    assert numbers == [x.n for x in demo[0].lines]


def test_a_leaf_is_printed_as_a_bound_and_a_planned_cut_as_a_plan(demo):
    from shoplib.sheet.job_pages import build_whole

    entries = {e["title"]: e for p in build_whole(demo[2])["phases"] for e in p["entries"]}
    came_off, cut = entries["Head face, as it came off"], entries["Head face, after the cut"]
    found = {c["label"]: (c["found"], c["uncertainty"], c["status"]) for c in came_off["checks"]}
    assert found["Straightedge line “left, along”"] == ("0.10 mm or more", "leaf ±0.005 mm", "fail")
    assert found["Straightedge line “right, along”"] == ("below 0.08 mm", "leaf ±0.005 mm", "undecided")
    largest = [[r["value"] for r in e["results"] if "proven gap" in r["label"]] for e in (came_off, cut)]
    assert largest == [["left, along; diagonal, one"], ["all are alike"]]
    planned = entries["Planned cut: 0.15 mm"]
    assert {planned["word"], *(c["word"] for c in planned["checks"])} == {"Plan: Pass"}


def test_every_tick_stands_in_the_grid(demo):
    from shoplib.sheet.job_pages import build_whole

    (grid,) = [e["grid"] for p in build_whole(demo[2])["phases"] for e in p["entries"] if e["grid"]]
    assert [r["bolt"] for r in grid["rows"]] == whole_job.ORDER.split("; ")
    cells = [c for r in grid["rows"] for c in r["cells"]]
    assert len(cells) == 40 and all(
        c["value"] and re.fullmatch(r"(AL|BI) \d\d:\d\d(, corrected \d\d:\d\d)?", c["by"]) for c in cells
    )
    seven = next(r for r in grid["rows"] if r["bolt"] == "7")["cells"][3]
    assert (seven["value"], seven["peak"], seven["marks"]) == ("104°", "96 N·m", ["Dev. 1"])
    eight = next(r for r in grid["rows"] if r["bolt"] == "8")["cells"][1]
    assert eight["by"].startswith(eight["old"][0]["by"] + ", corrected "), "the first time stays"
    assert eight["value"] == "✓ 40 N·m" and [o["value"] for o in eight["old"]] == ["42 N·m"]
    assert grid["missing"] == 0


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("blank", [False, True])
def test_the_same_record_gives_the_same_bytes_on_both_papers(demo, paper, blank):
    job, pictures, *_ = demo
    first, second = (typeset(whole_record(job, paper=paper, blank=blank), pictures=pictures) for _ in range(2))
    assert first == second
    reader = pypdf.PdfReader(io.BytesIO(first))
    width, height = (float(x) for x in reader.pages[0].mediabox[2:])
    assert (round(width), round(height)) == {"a4": (595, 842), "letter": (612, 792)}[paper]
    assert verify(first).verified


def test_the_sheet_is_accessible_and_archivable(demo):
    xmp = demo[3].decode("latin-1")
    assert "<pdfaid:part>3</pdfaid:part>" in xmp and "<pdfuaid:part>1</pdfuaid:part>" in xmp


# ------------------------------------------------------------------------------ issues, working copies, stale numbers
def test_without_handing_out_it_is_a_working_copy(store):
    store.keep(NUMBER, protrusion(), **WHO)
    assert "Working copy: not issued" in text_of(store) and not store.job(NUMBER).issues


def test_readings_without_an_instrument_are_named_on_page_one(store):
    store.keep(NUMBER, protrusion(), **WHO)
    store.keep(NUMBER, protrusion(instrument="D-1"), title="With one", **WHO)
    assert "No instrument is named for the readings of line 2:" in " ".join(text_of(store).split())


def test_the_root_cause_tells_whether_it_names_evidence(store):
    store.keep(NUMBER, protrusion(), **WHO)
    store.close_job(NUMBER, root_cause="the pump bearing seized", **WHO)
    assert "it names no line as evidence" in " ".join(text_of(store).split())
    assert summary.lines_named("seized (lines 2 and 4, see line 3); line 99", 9) == [2, 3, 4]


def test_handing_out_gives_letters_and_names_the_changes(store):
    kept = store.keep(NUMBER, protrusion(), title="Protrusion", **WHO)
    first = job_sheet(store, NUMBER, who="A. Learner")
    assert "ISSUE\nA" in words_of(first) and "What changed" not in words_of(first)
    assert job_sheet(store, NUMBER) == first, "printed again, unchanged, it is the same issue"
    assert job_sheet(store, NUMBER, who="B. Instructor") == first, "handed out again, it keeps its letter"
    store.correct(NUMBER, kept.uid, protrusion("0,07 mm"), because="read again", **WHO)
    copy_ = text_of(store)
    assert "Working copy" in copy_ and "since issue A" in copy_ and "read again" in copy_
    second = words_of(job_sheet(store, NUMBER, who="B. Instructor"))
    assert "ISSUE\nB" in second and "since issue A" in second and "0,07 mm" in second
    store.close_job(NUMBER, root_cause="pump bearing", **WHO)
    third = words_of(job_sheet(store, NUMBER, who="A. Learner"))
    assert "The job was closed" in third and "pump bearing" in third[: third.index("What changed")]


def test_the_issue_seals_the_lines_before_it(store):
    store.keep(NUMBER, protrusion(), **WHO)
    before = store.job(NUMBER)
    pdf = job_sheet(store, NUMBER, who="A. Learner")
    issue = store.job(NUMBER).issue
    assert issue.body["record"] == seal(before)
    assert verify(pdf).verified
    store.keep(NUMBER, protrusion("0,05 mm"), **WHO)
    with pytest.raises(Refused, match="changed after you opened it"):
        store.issue(NUMBER, who="A. Learner", seen=len(before.lines))


def test_a_wrong_seal_is_seen(store):
    store.keep(NUMBER, protrusion(), **WHO)
    store.issue(NUMBER, who="A. Learner", record="0" * 64)
    assert "issue A does not match the seal of what was issued" in verify(job_sheet(store, NUMBER)).problems


def test_a_stale_number_is_never_handed_out_and_its_copy_has_no_lines_to_sign(store):
    height = store.keep(NUMBER, protrusion(), **WHO)
    store.keep(NUMBER, protrusion("0,05 mm"), title="Rests on it", sources=[height.uid], **WHO)
    store.correct(NUMBER, height.uid, protrusion("0,07 mm"), because="misread", **WHO)
    with pytest.raises(Stale):
        job_sheet(store, NUMBER, who="A. Learner")
    text = text_of(store)
    assert "do not sign" in text and "Stale, do not rely on it" in text and "CHECKED BY\n" in text
    assert "Do not sign this sheet" in text and "HANDED OVER TO" not in text
    assert read_record(job_sheet(store, NUMBER))["outcome"] != "pass"


def test_a_blank_is_never_an_issue_and_says_what_to_set(store):
    with pytest.raises(BadInput, match="blank"):
        job_sheet(store, NUMBER, blank=True, who="A. Learner")
    assert "The job has no tightening programme yet" in text_of(store, blank=True)
    positions = [{"name": str(k), "x": f"{90 * k} mm", "y": "0 mm"} for k in range(1, 5)]
    plan = {"positions": positions, "stages": "40 N*m; +90 deg", "lubricant": "oil", "lubricant_where": "thread",
            "wrench_length": "400 mm", "adapter_length": "50 mm", "adapter_angle": "0 deg"}  # fmt: skip
    store.keep(NUMBER, get("tightening_plan")(plan), **WHO)
    blank = job_sheet(store, NUMBER, blank=True)
    text = words_of(blank)
    for word in ("set 35.6 N·m", "+90°", "TRANSCRIBED BY", "Compression and leak-down", "Deviations"):
        assert word in text, word
    assert read_record(blank)["blank"] is True and verify(blank).verified
    with pytest.raises(BadInput, match="paper"):
        job_sheet(store, NUMBER, paper="foolscap", who="A. Learner")
    assert not store.job(NUMBER).issues, "a paper that is not known is refused before an issue is made"


def test_bolts_that_nobody_ticked_are_open(store):
    uid = programme(store)
    store.tick(NUMBER, programme=uid, stage=1, bolt="2", value="40 N·m", initials="AL", uid="tick-0001")
    text = text_of(store)
    assert "5 not ticked" in text and text.count("not ticked") >= 6


def test_what_was_kept_and_no_longer_comes_out_is_said(store):
    """A kept result that its inputs do not give: changed before the hash was made, so only working again shows it."""
    body = store.job(NUMBER).lines[0].body
    kept = store.keep(NUMBER, protrusion("0,12 mm"), **WHO)
    whole = json.loads(store.export(NUMBER))
    line = whole["lines"][-1]
    line["body"]["result"]["outcome"] = "pass"
    line["body"]["result"]["checks"][0]["outcome"] = "pass"
    forged = rehashed(whole)
    record = whole_record(chained(whole["job"]["uid"], exchange.load(forged)[0].lines))
    assert record["open"][0]["status"] == "changed outside" and record["outcome"] == "fail"
    assert "the saved result does not follow from the inputs" in squeezed_none(typeset(record))
    assert body and kept


def squeezed_none(pdf):
    return " ".join(words_of(pdf).split())


def test_an_entry_of_another_program_is_printed_as_kept(store):
    store.keep(NUMBER, protrusion(), **WHO)
    whole = json.loads(store.export(NUMBER))
    whole["lines"][-1]["form"] = "compression_of_the_future"
    record = whole_record(exchange.load(rehashed(whole))[0])
    text = squeezed_none(typeset(record))
    assert record["outcome"] == "undecided" and "Not recalculated" in text and "0,06 mm" in text


@pytest.mark.parametrize(
    "result", [{"checks": 5}, {"checks": [5]}, {"checks": [{"found": 3}]}, {"results": [1]}, {"outcome": ["pass"]},
               {"results": {"a": "b"}}]
)  # fmt: skip
def test_a_kept_result_that_is_none_says_nothing_and_breaks_nothing(store, result):
    """It is not imported today; version 0.1.0 imported it, so a record may hold it, and its hashes fit."""
    store.keep(NUMBER, protrusion(), **WHO)
    whole = json.loads(store.export(NUMBER))
    whole["lines"][-1]["body"]["result"] = result
    raw = rehashed(whole)
    with pytest.raises(NotAJob, match="result"):
        exchange.load(raw)
    job = chained(whole["job"]["uid"], [Line(**x) for x in json.loads(raw)["lines"]])
    assert not job.damaged
    assert job.entries[0].result == {} and job.entries[0].outcome is None
    record = whole_record(job)
    assert [p["status"] for p in record["open"]] == ["changed outside", "blank"] and record["outcome"] == "pass"


# ------------------------------------------------------------------------------ reading back
def test_the_whole_job_comes_back_from_the_paper(demo, tmp_path):
    job, pictures, record, pdf = demo
    assert read_record(pdf) == record and read_pictures(pdf) == pictures
    with Store.open(tmp_path / "new.db") as new:
        assert new.import_job(job_in(pdf)) == (job.number, len(job.lines))
        assert new.export(job.number) == whole_job.FILE.read_bytes()
        assert new.job(job.number) == job and new.check() == []
        assert job_sheet(new, job.number) == pdf
        assert new.import_job(job_in(pdf)) == (job.number, 0), "a second time adds nothing"
        assert new.import_job(job_in(typeset(whole_record(job, blank=True), pictures=pictures))).number == job.number


def test_a_job_in_work_goes_on_after_it_came_back(demo, tmp_path):
    pdf = demo[3]
    with Store.open(tmp_path / "new.db") as new:
        number = new.import_job(job_in(pdf), number="26-027b", who="A. Learner").number
        new.reopen(number, because="weeps again", **WHO)
        new.keep(number, protrusion(), **WHO)
        text = words_of(job_sheet(new, number, who="A. Learner"))
        assert "ISSUE\nC" in text and "The job was reopened" in text and verify(job_sheet(new, number)).verified


def test_a_job_file_s_sheet_holds_no_stored_job():
    from shoplib.record.jobfile_record import make_record

    pdf = typeset(make_record({"job": HEADER, "entry": [{"working": "torque_units", "inputs": {"torque": "4 N*m"}}]}))
    with pytest.raises(NotASheet, match="job file"):
        job_in(pdf)


# ------------------------------------------------------------------------------ tampering


@pytest.fixture
def carrying(monkeypatch, small):
    """A function that verifies the small job's pages with another record in them; the PDF itself is written by
    ``replace_attachment`` elsewhere, hundreds of times would be slow.
    """
    whole = sheet_attachments.attached(small[1])

    def look(record):
        with monkeypatch.context() as patched:
            patched.setattr(sheet_attachments, "attached_to", lambda _: whole | {"record.json": canonical(record)})
            return found_out(small[1])

    assert not look(small[0])
    return look


@pytest.fixture
def small(store):
    """A small job with one of most things, its record and its sheet."""
    one = store.keep(NUMBER, protrusion(), remark="as read", **WHO)
    store.keep(NUMBER, protrusion("0,05 mm"), title="Second", sources=[one.uid], **WHO)
    plan = programme(store)
    tick = store.tick(NUMBER, programme=plan, stage=1, bolt="1", value="40 N·m", initials="AL", uid="tick-0001")
    store.attach(NUMBER, tick.uid, whole_job.photograph(), caption="bolt 1", **WHO)
    store.sign(NUMBER, role="did the work", **WHO)
    pdf = job_sheet(store, NUMBER, who="A. Learner")
    return read_record(pdf), pdf


def test_every_single_value_of_the_record_that_is_changed_is_seen(small, carrying):
    record, pdf = small
    assert found_out(replace_record(pdf, canonical(with_value(record, ("lines", 1, "who"), "Another"))))
    leaves = list(every_leaf(record))
    assert len(leaves) > 150
    missed = []
    for path, value in ci_part.a_part(leaves, 3):
        if path[0] == "program":
            continue  # another version cannot be told from a forged one; the next test says what is said then
        if not carrying(with_value(record, path, changed(value))):
            missed.append(path)
    assert missed == []


def test_every_name_and_member_that_is_left_out_is_seen(small, carrying):
    record, _ = small
    paths = {path[:k] for path, _ in every_leaf(record) for k in range(1, len(path) + 1)}
    for path in ci_part.a_part(sorted(paths, key=str), 5):
        forged = copy.deepcopy(record)
        at = forged
        for key in path[:-1]:
            at = at[key]
        del at[path[-1]]
        if path[0] != "program":
            assert carrying(forged), path


def test_a_changed_version_does_not_let_the_pages_pass(small):
    record, pdf = small
    for name in record["program"]:
        verdict = verify(replace_record(pdf, canonical(with_value(record, ("program", name), "9.9"))))
        assert verdict.state(Part.PAGES) is State.NOT_VERIFIED, name


def test_a_value_changed_under_another_version_is_seen_all_the_same(small, carrying):
    """Whoever calls it another version still cannot change what the lines, their hashes or the photographs say."""
    record, _ = small
    older = with_value(record, ("program", "numpy"), "1.0")
    words = ("open", "version", "calculation", "label", "remark", "cautions", "assumptions")
    for path, value in ci_part.a_part(every_leaf(older), 5):
        if path[0] in ("program", "paper", "blank") or (path[0] in ("worked", "open") and set(path) & set(words)):
            continue
        assert carrying(with_value(older, path, changed(value))), path


def replace_picture(pdf, content, *, of=0):
    return rewritten(pdf, lambda w: attached(w, ".jpg")[of].set_data(content))


def test_a_changed_photograph_is_seen(small, tmp_path):
    _, pdf = small
    pictures = read_pictures(pdf)
    assert len(pictures) == 2
    for k, content in enumerate(dict(sorted(pictures.items())).values()):
        for at in (30, len(content) // 2, len(content) - 3):
            one = bytearray(content)
            one[at] ^= 1
            verdict = verify(replace_picture(pdf, bytes(one), of=k))
            assert any("photograph" in p for p in verdict.problems), (k, at)
    with Store.open(tmp_path / "new.db") as new, pytest.raises(NotAJob, match="photograph"):  # nor is it taken in
        new.import_job(job_in(replace_picture(pdf, bytes(one), of=0)))


def test_an_attachment_more_or_less_is_seen(small):
    _, pdf = small
    more = rewritten(pdf, lambda w: w.add_attachment("f" * 64 + ".jpg", b"x"))
    assert any("belongs to no line" in p for p in verify(more).problems)

    def drop(writer):
        names = writer.root_object["/Names"]["/EmbeddedFiles"]["/Names"]
        at = next(k for k in range(0, len(names), 2) if str(names[k]).endswith(".jpg"))
        del names[at : at + 2]

    less = rewritten(pdf, drop)
    assert any("is missing" in p for p in verify(less).problems)
    with pytest.raises(NotASheet, match="photographs are missing"):
        job_in(less)


def test_changed_text_of_the_pages_is_seen(small, monkeypatch):
    """Pieces of text from every page, one after the other, with one bit of one sign changed."""
    _, pdf = small
    monkeypatch.setattr(sheet_verify, "_typeset", lambda *_: pdf)  # what it gives, without setting it each time
    assert verify(pdf).verified
    count = 0
    for number, page in enumerate(pypdf.PdfReader(io.BytesIO(pdf)).pages):
        content = page.get_contents().get_data()
        spots = [m.start() + 1 for m in re.finditer(rb"<[0-9a-f]{4,}>|\((?:[^()\\]|\\.)+\)", content)]
        for spot in spots[:: max(1, len(spots) // 6)]:
            raw = bytearray(content)
            raw[spot] ^= 1 if raw[spot] ^ 1 not in b"()\\<>" else 2

            def change(writer, number=number, raw=raw):
                stream = writer.pages[number].get_contents()
                stream.set_data(bytes(raw))
                writer.pages[number].replace_contents(stream)

            assert [f.code for f in verify(rewritten(pdf, change)).of(Part.PAGES)] == [Code.OTHER_PAGES]
            count += 1
    assert count > 12


# ------------------------------------------------------------------------------ hostile text and hostile files
HOSTILE = [
    '#read("/etc/passwd")',
    "=1+1",
    "$x^2$",
    "<b>x</b>",
    "*a* _b_ `c`",
    "\\alpha",
    "../../etc/x",
    "'; DROP TABLE",
]


@pytest.mark.parametrize("typed", HOSTILE)
def test_text_in_every_place_is_printed_as_typed(tmp_path, typed):
    header = HEADER | {
        "engine": typed, "complaint": typed, "customer_ref": typed, "hours": typed, "done_by": typed,
        "people": [{"name": typed, "initials": typed, "role": typed}],
        "instruments": [{"id": typed, "what": typed, "resolution": typed}],
    }  # fmt: skip
    with Store.open(tmp_path / "jobs.db", clock=clock("2026-11-25T09:00:00")) as store:
        store.start(**header)
        who = {"who": typed}
        kept = store.keep(NUMBER, protrusion(instrument=typed), title=typed, remark=typed, when=typed, **who)
        store.correct(NUMBER, kept.uid, protrusion("0,07 mm", instrument="D-1"), because=typed, **who)
        gone = store.note(NUMBER, "log", {typed: typed, "rows": [{typed: typed}]}, title=typed, **who)
        store.strike(NUMBER, gone.uid, because=typed, **who)
        note = store.note(NUMBER, typed, {typed: [typed, typed], "rows": [{typed: typed}]}, title=typed, **who)
        plan = store.note(NUMBER, "programme", {"stages": [typed], "bolts": [typed[:40]]}, title=typed, **who)
        tick = {"programme": plan.uid, "stage": 1, "bolt": typed[:40], "initials": "AL"}
        first = store.tick(NUMBER, **tick, value=typed, deviation=typed, reason=typed, action=typed, uid="tick-0001")
        store.tick(NUMBER, **tick, value=typed, remark=typed, replaces=first.uid, because=typed, uid="tick-0002")
        store.attach(NUMBER, note.uid, whole_job.photograph(), caption=typed, **who)
        store.sign(NUMBER, role=typed, **who)
        store.close_job(NUMBER, root_cause=typed, retorque=typed, parts_returned=typed, remark=typed, **who)
        pdf = job_sheet(store, NUMBER, who=typed)
        assert squeezed(words_of(pdf)).count(squeezed(typed)) > 30
        assert verify(pdf).verified
        assert squeezed(words_of(job_sheet(store, NUMBER, blank=True))).count(squeezed(typed)) > 5


def test_signs_that_the_fonts_lack_are_spelled_because_a_record_cannot_be_changed(store):
    store.amend(NUMBER, engine="発動機 🚜", **WHO)
    store.keep(NUMBER, protrusion(), remark="ฟ", **WHO)
    pdf = job_sheet(store, NUMBER)
    text = words_of(pdf)
    assert "‹U+767A›" in squeezed(text) and "‹U+0E1F›" in text and verify(pdf).verified
    assert "発動機" in json.dumps(read_record(pdf), ensure_ascii=False)


@pytest.mark.parametrize("typed", ["a\x00b", "a\u202eb", "a\u200bb", "\ud800", "x" * 200_001])
def test_what_cannot_be_read_is_refused_on_input(store, typed):
    with pytest.raises(BadInput):
        store.keep(NUMBER, protrusion(), remark=typed, **WHO)
    assert verify(job_sheet(store, NUMBER)).verified


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"{", "not JSON"),
        (b"[" * 200_000, "nested"),
        (b'{"schema":"shoplib-record/2","schema":"shoplib-record/1"}', "duplicate key"),
        (b'{"a":' + b"[1,2]," * 10 + b"}", "not JSON"),
        (b"[" + b"1," * 5_100_000 + b"1]", "values"),
        (b'{"schema":"shoplib-record/3"}', "not of the kind"),
        (b"\xff\xfe", "not"),
    ],
)
def test_a_bomb_or_rubbish_in_the_attachment_is_refused(small, raw, says):
    forged = replace_record(small[1], raw)
    for read in (read_record, verify, job_in):
        with pytest.raises(NotASheet, match=says):
            read(forged)


def test_a_bomb_that_unpacks_to_gigabytes_is_refused(small):
    import zlib

    packer = zlib.compressobj(9)
    packed = b"".join(packer.compress(b"0" * 10_000_000) for _ in range(20)) + packer.flush()

    def pack(writer):
        (stream,) = attached(writer, "record.json")
        stream._data = packed
        stream[pypdf.generic.NameObject("/Filter")] = pypdf.generic.NameObject("/FlateDecode")

    bomb = rewritten(small[1], pack)
    assert len(bomb) < 2_000_000
    with pytest.raises(NotASheet):
        read_record(bomb)


@pytest.mark.parametrize("schema", ["lines", "job", "uid", "number", "at", "deep"])
def test_hostile_lines_in_a_record_are_refused_in_words(small, schema, tmp_path):
    record, pdf = copy.deepcopy(small[0]), small[1]
    match schema:
        case "lines":
            record["lines"] = [{"n": 1, "body": {"x": "y" * 50_000_000}}]
        case "job":
            record["job"] = ["../../etc"]
        case "uid":
            record["lines"][0]["uid"] = "../../etc/passwd"
        case "number":
            record["lines"] = record["lines"][::-1]
        case "at":
            record["lines"][0]["at"] = "yesterday"
        case "deep":
            record["lines"][0]["body"] = {"fields": {}}
            record["lines"][0]["about"] = json.loads("[" * 800 + "]" * 800)
    forged = replace_record(pdf, canonical(record))
    with pytest.raises(NotASheet):
        job_in(forged)
    assert found_out(forged)
    (tmp_path / "forged.pdf").write_bytes(forged)
    assert main(["verify", str(tmp_path / "forged.pdf")]) in (1, 2, 3)


def test_a_file_name_in_a_job_cannot_leave_the_folder(store, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "jobs.db"))
    monkeypatch.chdir(tmp_path)
    store.amend(NUMBER, number="../../evil", **WHO)
    for command in (["sheet", "--job"], ["export"]):
        assert main([*command, "../../evil"]) == 0
    assert main(["export", "../../evil", "--tables"]) == 0
    found = [p.relative_to(tmp_path).parts[0] for p in tmp_path.rglob("*") if p.is_file()]
    assert set(found) <= {"sheets", "jobs", "jobs.db", "jobs.db-wal", "jobs.db-shm", "jobs.db-queue"}
    assert not (tmp_path.parent / "evil.json").exists()


# ------------------------------------------------------------------------------ readable on paper
def test_thirty_bolts_in_five_stages_run_off_no_page(tmp_path):
    from tests.bench.test_bench_job_sheet import thirty_by_five

    with Store.open(tmp_path / "jobs.db", clock=clock("2026-11-25T09:00:00")) as store:
        thirty_by_five(store)
        for paper, blank in (("a4", False), ("letter", False), ("letter", True)):
            inside(job_sheet(store, NUMBER, paper=paper, blank=blank))


def test_long_words_wrap_in_every_place(store):
    long = "W" * 390
    store.amend(NUMBER, engine=long, complaint=long, people=[{"name": "M" * 190, "initials": "W" * 190, "role": "W" * 190}],
                instruments=[{"id": "W" * 190, "what": "M" * 190, "resolution": "W" * 190}], **WHO)  # fmt: skip
    kept = store.keep(NUMBER, protrusion(), title=long, remark="W" * 3900, **WHO)
    store.strike(NUMBER, kept.uid, because="W" * 3900, **WHO)
    cells = [{f"column {k} " + "W" * 30: "M" * 60 for k in range(12)}] * 3
    store.note(NUMBER, "wide", {"rows": cells, "deep": {"a": ["M" * 3900]}}, title=long, **WHO)
    plan = store.note(NUMBER, "programme", {"stages": ["W" * 60] * 5, "bolts": ["W" * 40] * 1}, title="p", **WHO)
    for k in range(1, 6):
        store.tick(
            NUMBER, programme=plan.uid, stage=k, bolt="W" * 40, value="W" * 200, initials="W" * 20, uid=f"tick-{k:04}"
        )
    store.close_job(NUMBER, root_cause="W" * 3900, **WHO)
    inside(job_sheet(store, NUMBER))
    inside(job_sheet(store, NUMBER, paper="letter", blank=True))


def inside(pdf):
    """No text begins outside the margins, and none is wider than what is left of the page."""
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        edges = []
        page.extract_text(
            visitor_text=lambda text, cm, tm, font, size, edges=edges: (
                edges.append((cm[4] + tm[4], text.strip())) if text.strip() else None
            )
        )
        width = float(page.mediabox[2])
        for x, text in edges:
            assert 45 <= x <= width - 48, (x, text[:40])


# ------------------------------------------------------------------------------ the command line
def test_the_command_line_for_jobs(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "jobs.db"))
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        code = main(list(arguments))
        said = capsys.readouterr()
        return code, said.out, said.err

    assert run("jobs")[0] == 0 and run("jobs")[2] == "no job found\n"
    code, out, err = run("import", str(whole_job.FILE))
    assert (code, err) == (0, "") and out.endswith(f"\nimported: job 26-027, {LINES} lines\n")
    assert f"{LINES} lines, " in out and "last hash " in out and "not covered: " in out
    assert run("import", str(whole_job.FILE))[1].endswith(
        "nothing to import: job 26-027 is already in the record, with all these lines\n"
    )
    code, out, _ = run("jobs", "orchard", "PUMP")
    assert code == 0 and out.startswith("26-027  2026-11-23  closed  issue B")
    assert run("jobs", "nothing of the kind")[1] == ""
    assert run("sheet", "--job", "26-027")[1] == "issue B of job 26-027: sheets/job-26-027.pdf\n"
    assert run("sheet", "--job", "26-027")[0] == 2, "never over an existing file"
    assert run("sheet", "--job", "26-027", "--blank")[1].startswith(
        "blank sheet of job 26-027: sheets/job-26-027-blank"
    )
    assert run("verify", "sheets/job-26-027.pdf")[1].endswith("\nverified\n")
    assert json.loads(run("read", "sheets/job-26-027-blank.pdf")[1])["blank"] is True
    assert run("export", "26-027")[1] == "job 26-027: jobs/job-26-027.json\n"
    assert (tmp_path / "jobs/job-26-027.json").read_bytes() == whole_job.FILE.read_bytes()
    assert run("sheet", "--job", "26-027", "--force", "--paper", "letter", "--issue", "B. Instructor")[0] == 0
    assert run("export", "26-027", "--tables", "-o", "out")[0] == 0
    assert (tmp_path / "out/ticks.csv").read_bytes().startswith(b"\xef\xbb\xbfline,")
    assert run("import", "sheets/job-26-027.pdf", "--number", "other", "--who", "A. Learner")[0] == 0
    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "new.db"))
    assert run("import", "sheets/job-26-027.pdf", "--number", "other", "--who", "A. Learner")[1].endswith(
        f"\nverified\nimported: job other, {int(LINES) + 1} lines\n"
    )


LINES = str(len(json.loads(whole_job.FILE.read_bytes())["lines"]))


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["sheet", "--job", "no such"], "no job with the number"),
        (["sheet", "--job", " "], "the job number is missing"),
        (["sheet"], "give either a job file, or a stored job"),
        (["sheet", "job.toml", "--job", "1"], "give either a job file, or a stored job"),
        (["sheet", "job.toml", "--blank"], "need --job"),
        (["export", "no such"], "no job with the number"),
        (["import", "none.json"], "cannot be read"),
        (["import", "."], "cannot be read"),
        (["import", "rubbish.json"], "not JSON"),
        (["import", "rubbish.pdf"], "not a readable PDF"),
        (["import", "rubbish.json", "--number", "x"], "--who"),
    ],
)
def test_bad_input_on_the_command_line_is_said_in_words(tmp_path, monkeypatch, capsys, arguments, says):
    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "jobs.db"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "rubbish.json").write_bytes(b"rubbish")
    (tmp_path / "rubbish.pdf").write_bytes(b"%PDF-rubbish")
    assert main(arguments) == 2
    said = capsys.readouterr()
    assert says in said.err and said.out == "" and "Traceback" not in said.err


def test_an_interrupted_pipe_is_no_traceback():
    import subprocess
    import sys

    run = subprocess.run(
        f"{sys.executable} -m shoplib.cli work | head -1", shell=True, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0 and run.stderr == "" and run.stdout.count("\n") == 1


def test_base64_of_the_pictures_is_what_the_export_holds(demo):
    job, pictures, record, _ = demo
    whole = json.loads(exported(record, pictures))
    assert {k: base64.b64decode(v) for k, v in whole["pictures"].items()} == pictures
    assert job_of(record) == job
