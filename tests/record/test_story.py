"""A job told in words: by phase, with what stood before; what a stale entry must be worked from."""

import pytest

from shoplib.record import sample_job
from shoplib.record.history import (
    by_phase,
    findings,
    in_words,
    named,
    open_points_as_text,
    paper_trail,
    rework_plan,
    tell,
)
from shoplib.record.job import Job
from shoplib.record.open_points import all_points, settled_points
from shoplib.record.store import Store, new_id
from shoplib.topics import get
from tests.record_fixtures import HEADER, NUMBER, clock, programme, protrusion

WHO = {"who": "A. Learner"}


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "jobs.db", clock=clock("2026-11-25T09:00:00")) as opened:
        opened.start(**HEADER)
        yield opened


def test_history_follows_the_job_not_the_order_of_keeping(store):
    store.keep(NUMBER, get("coolant_fill")(capacity="9 L", drained="6 L", target="50 %"), **WHO)
    first = store.keep(NUMBER, protrusion(), **WHO)
    second = store.correct(NUMBER, first.uid, protrusion("0,07 mm"), because="misread", **WHO)
    store.strike(NUMBER, second.uid, because="wrong liner", **WHO)
    store.note(NUMBER, "strip_log", {"text": "dowel stuck"}, title="Strip log", phase="strip", **WHO)
    store.note(NUMBER, "odd", {"text": "x"}, title="Odd", phase="<b>", **WHO)
    found = by_phase(store.job(NUMBER))
    assert [heading for heading, _ in found] == [
        "Lock and strip",
        "Measurements",
        "Fill and bleed",
        "Other entries",
    ]
    (place,) = dict(found)["Measurements"]
    assert (place.last.n, place.last.state, [e.n for e in place.before], place.first) == (4, "struck", [3], 3)


def test_what_a_stale_entry_is_worked_from(store):
    a = store.keep(NUMBER, protrusion(), title="A", **WHO)
    b = store.keep(NUMBER, protrusion(), title="B", **WHO)
    mid = store.keep(NUMBER, protrusion(), title="Mid", sources=[a.uid], **WHO)
    end = store.keep(NUMBER, protrusion(), title="End", sources=[mid.uid, b.uid], **WHO)
    better = store.correct(NUMBER, a.uid, protrusion("0,07 mm"), because="misread", **WHO)
    store.strike(NUMBER, b.uid, because="wrong liner", **WHO)
    job = store.job(NUMBER)
    entry = {e.title: e for e in job.current_entries}
    again = rework_plan(job, entry["Mid"])
    assert (again.sources, again.first) == ([better.uid], [])
    assert again.reason == "recalculated: line 2 became line 6"
    assert again.said == ["line 2 (A) became line 6: value “0,06 mm” became “0,07 mm”. Reason: misread"]
    again = rework_plan(job, entry["End"])
    assert again.sources == [mid.uid]
    assert [e.uid for e in again.first] == [mid.uid]
    assert "line 3 (B) was struck out by line 7 (wrong liner)" in " ".join(again.said)
    kept = store.correct(
        NUMBER, mid.uid, protrusion("0,07 mm"), because="worked again", sources=rework_plan(job, entry["Mid"]).sources,
        **WHO,
    )  # fmt: skip
    again = rework_plan(store.job(NUMBER), entry["End"])
    store.correct(NUMBER, end.uid, protrusion("0,07 mm"), because="worked again", sources=again.sources, **WHO)
    assert again.sources == [kept.uid]
    assert store.job(NUMBER).stale == ()


def test_ticks_stay_with_a_corrected_programme(store):
    uid = programme(store)
    other = programme(store)
    tick = {"stage": 1, "bolt": "1", "value": "40 N*m", "initials": "AL"}
    store.tick(NUMBER, programme=uid, uid=new_id(), **tick)
    store.tick(NUMBER, programme=other, uid=new_id(), **tick)
    new = store.correct(NUMBER, uid, {"stages": ["42 N*m"]}, because="read the wrong column", **WHO)
    store.tick(NUMBER, programme=new.uid, uid=new_id(), **tick | {"bolt": "2"})
    job = store.job(NUMBER)
    found = job.ticks_of(new.uid)
    assert [t.bolt for t in found] == ["1", "2"]


def test_the_paper_trail_in_words(store):
    store.keep(NUMBER, protrusion(), **WHO)
    store.amend(NUMBER, complaint="loses coolant", because="the customer rang", **WHO)
    store.sign(NUMBER, role="did the work", **WHO)
    store.issue(NUMBER, **WHO)
    store.amend(NUMBER, complaint="", **WHO)
    store.issue(NUMBER, **WHO)
    store.close_job(NUMBER, root_cause="pump bearing", retorque="none, page 12", parts_returned="gasket", **WHO)
    store.reopen(NUMBER, because="leaks again", **WHO)
    job = store.job(NUMBER)
    assert [in_words(x, job) for x in paper_trail(job)] == [
        "The job was started",
        "Header: Complaint: nothing became “loses coolant”. Reason: the customer rang",
        "Signed “did the work”, lines 1 to 3",
        "Issued as sheet A, lines 1 to 4",
        "Header: Complaint: “loses coolant” became nothing.",
        "Issued as sheet B, lines 1 to 6; 1 change since the previous issue",
        "Closed. Root cause: pump bearing. Re-torque, as instructed: “none, page 12”. Parts returned: gasket",
        "Reopened. Reason: leaks again",
    ]


def test_everything_is_told_once(store):
    first = store.keep(NUMBER, protrusion("0,12 mm"), **WHO)
    store.correct(NUMBER, first.uid, protrusion(), because="misread", **WHO)
    text = tell(store.job(NUMBER))
    assert "Job 26-014\nEngine: Three-cylinder irrigation-pump diesel\n" in text
    assert (
        "  3. Measurement: pass (A. Learner, 2026-11-25 09:00 UTC) – Liner protrusion, cylinder 2: 0,06 mm, must be at most 0.10 mm [bench notes, sheet 12]\n      was 2. Measurement: fail"
        in text
    )
    assert "Open points: 1\n  blank: closing the job: the root cause" in text
    assert "  1. The job was started (A. Learner, " in text
    assert tell(Job("x" * 32, ())).startswith("Job \n"), "a job without lines can be told too"


def test_findings_tell_the_worst_check_else_results_with_a_unit(store):
    rows = [{"name": "a", "goes": "0.05 mm", "no_go": "0.06 mm"}, {"name": "b", "goes": "0.09 mm", "no_go": "0.10 mm"}]
    kept = store.keep(NUMBER, get("flatness_lines")(lines=rows, limit="0.08 mm", limit_source="s"), **WHO)
    plain = store.keep(NUMBER, get("coolant_fill")(capacity="9 L", drained="6 L", target="50 %"), **WHO)
    entry = {e.uid: e for e in store.job(NUMBER).entries}
    assert (
        findings(entry[kept.uid])
        == "Straightedge line “b”: gap 0.09 mm or more, must be at most 0.08 mm [s]; from 0.09 mm to below 0.10 mm "
        "(and 2 more checks)"
    )
    without = entry[plain.uid].line.body["result"] | {"checks": []}
    object.__setattr__(entry[plain.uid].line, "body", entry[plain.uid].line.body | {"result": without})
    assert findings(entry[plain.uid]).startswith("best possible 66.6667 %; product 4.5 L")


def test_the_invented_job_is_the_same_every_time_and_leaves_nothing_behind():
    from pathlib import Path

    from shoplib.record.sample_job import invented_job

    told = []
    for _ in range(2):
        with invented_job() as (store, number):
            assert store.check() == []
            store.reopen(number, because="looked into again", **WHO)
            told.append(tell(store.job(number)))
            place = Path(store.place)
        assert not place.parent.exists()
    assert told[0] == told[1]
    assert "Reason: looked into again (A. Learner, 2026-11-27 08:0" in told[0]


def test_an_exported_job_is_looked_at_line_by_line(store):
    from shoplib.record.preview import preview_of

    store.keep(NUMBER, protrusion(), **WHO)
    raw = store.export(NUMBER)
    looked = preview_of(raw)
    assert looked[:2] == (NUMBER, ())
    assert looked.notes[0] == "2 lines, 0 photographs"
    assert store.job(NUMBER).lines[-1].digest in looked.notes[1]
    assert looked.notes[2].startswith("not covered: ")
    assert preview_of(raw.replace(b"0,06 mm", b"0,05 mm")).problems == (
        "line 2 does not match its hash: the file was changed",
    )


def test_a_line_is_named_by_what_it_says(store):
    store.keep(NUMBER, protrusion(), title="A. B; C", **WHO)
    store.sign(NUMBER, role="did the work", **WHO)
    store.close_job(NUMBER, root_cause="pump. bearing", **WHO)
    job = store.job(NUMBER)
    assert [named(x, job) for x in job.lines] == [
        "line 1 (The job was started)",
        "line 2 (A. B; C)",
        "line 3 (Signed “did the work”, lines 1 to 2)",
        "line 4 (Closed)",
    ]


def test_a_point_that_a_later_test_answered_is_not_under_what_a_person_decided():
    with sample_job.invented_job() as (opened, number):
        job = opened.job(number)
    headings = dict(settled_points(all_points(job)))
    decided, answered = headings.values()
    assert list(headings) == ["Accepted or resolved", "Measured again after the work, now a pass"]
    assert (len(decided), len(answered)) == (3, 9)
    assert all(" by B. Instructor, line " in p.decided for p in decided)
    assert "Accepted or resolved: 3" in open_points_as_text(job)


def test_a_test_after_the_repair_stands_under_the_hand_over():
    with sample_job.invented_job() as (opened, number):
        places = {h: [c.last.title for c in chains] for h, chains in by_phase(opened.job(number))}
    assert "Compression before the work" in places["Prove the fault"]
    assert "Compression after the work" in places["Prove and hand over"]
