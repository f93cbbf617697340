"""What is open in a job: every kind of point, told once, worst first; nothing that passes is told."""

import dataclasses
import datetime

import pytest

from shoplib.record.instruments import calibrations
from shoplib.record.open_points import STATUSES, check_in_words, open_points, said
from shoplib.record.store import Store, new_id
from shoplib.topics import get
from tests.record_fixtures import HEADER, NOTES, NUMBER, clock, protrusion

WHO = {"who": "A. Learner"}
INSTRUMENTS = [
    {"id": "D-1", "what": "depth gauge", "calibration_due": "2026-10-01"},
    {"id": "D-10", "what": "depth gauge", "calibration_due": "2026-10-01"},
    {"id": "F-2", "what": "leaves", "calibration_due": "2027-02-01"},
    {"id": "H-3"},
]


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "jobs.db", clock=clock("2026-11-25T09:00:00")) as opened:
        opened.start(**HEADER)
        yield opened


def told(store):
    return [(p.status, p.where) for p in open_points(store.job(NUMBER))]


def lines(**more):
    rows = [{"name": "a", "goes": "0.05 mm", "no_go": "0.10 mm"}, {"name": "b"}]
    return get("flatness_lines")(lines=rows, limit="0.08 mm", limit_source=NOTES, **more)


def test_a_new_job_lacks_only_its_root_cause(store):
    assert told(store) == [("blank", "closing the job")]
    store.amend(NUMBER, people=[{"name": "A. Learner"}], **WHO)
    store.close_job(NUMBER, root_cause="pump bearing", **WHO)
    assert told(store) == [("not signed", "signatures")]
    store.sign(NUMBER, role="did the work", **WHO)
    assert told(store) == []
    store.reopen(NUMBER, because="leaks again", **WHO)
    assert told(store) == [("blank", "closing the job")]


def test_each_kind_of_check_worst_first_and_no_pass(store):
    store.keep(NUMBER, get("measurement")(what="Recess", where="1", value="0.7 mm"), **WHO)
    store.keep(NUMBER, lines(), **WHO)
    store.keep(NUMBER, protrusion("0,12 mm"), title="Protrusion", **WHO)
    store.keep(NUMBER, protrusion("0,06 mm"), title="Fine", **WHO)
    found = open_points(store.job(NUMBER))
    assert [p.status for p in found] == ["fail", "undecided", "undecided", "not measured", "no limit given", "blank"]
    assert found[0].where == "line 4 (Protrusion)"
    assert found[0].what == f"Liner protrusion, cylinder 2: 0,12 mm, must be at most 0.10 mm [{NOTES}]"
    assert "Lines of the whole face" in found[2].what
    assert "Straightedge line “b”: not measured" in found[3].what
    assert [store.job(NUMBER).line(p.uid).n for p in found[:-1]] == [4, 3, 3, 3, 2]
    assert not any("Fine" in p.where for p in found)


def test_corrected_and_struck_entries_are_no_longer_open(store):
    bad = store.keep(NUMBER, protrusion("0,12 mm"), **WHO)
    better = store.correct(NUMBER, bad.uid, protrusion("0,06 mm"), because="misread", **WHO)
    assert told(store) == [("blank", "closing the job")]
    rests = store.keep(NUMBER, protrusion("0,05 mm"), title="Rests", sources=[better.uid], **WHO)
    store.strike(NUMBER, better.uid, because="wrong liner", **WHO)
    assert told(store)[0] == ("stale", "line 4 (Rests)")
    store.strike(NUMBER, rests.uid, because="not needed", **WHO)
    assert told(store) == [("blank", "closing the job")]


def test_a_line_changed_outside_comes_first(store):
    store.keep(NUMBER, protrusion("0,12 mm"), **WHO)
    job = dataclasses.replace(store.job(NUMBER), damaged=("line 2",))
    assert open_points(job)[0][:3:2] == ("changed outside", "line 2")


def test_calibration_by_the_date_of_use(store):
    store.amend(NUMBER, instruments=INSTRUMENTS, **WHO)
    found = {c.id: c for c in calibrations(store.job(NUMBER))}
    assert {i: c.overdue for i, c in found.items()} == {"D-1": True, "D-10": True, "F-2": False, "H-3": False}
    assert "the date of the job is 2026-11-25" in found["D-1"].words
    assert "calibration date not given" in found["H-3"].words
    assert ("calibration unknown", "instrument H-3") in told(store)
    used = protrusion(instrument="depth gauge D-1, 0.01 mm")
    store.keep(NUMBER, used, when="2026-09-30 10:15", **WHO)
    found = {c.id: c for c in calibrations(store.job(NUMBER))}
    assert ([u.day for u in found["D-1"].uses], found["D-1"].overdue) == (["2026-09-30"], False)
    assert found["D-10"].overdue, "D-1 is not D-10"
    store.keep(NUMBER, used, when="2026-10-01", **WHO)
    assert not calibrations(store.job(NUMBER))[0].overdue, "on the day itself it is in date"
    store.keep(NUMBER, used, when="", title="Later", **WHO)  # kept on the day that the clock shows
    store.keep(NUMBER, used, when="2026-09-29", **WHO)  # an earlier use, kept later, hides nothing
    (point,) = (p for p in open_points(store.job(NUMBER)) if p.where == "instrument D-1, depth gauge")
    assert point.what == "calibration was due on 2026-10-01; used on 2026-11-25, line 5 (Later)"
    assert all(datetime.date.fromisoformat(u.day) for u in calibrations(store.job(NUMBER))[0].uses)


def test_values_as_people_read_them():
    assert said({"value": 40.0, "unit": "N*m"}) == "40 N·m"
    assert said({"value": [12.4, None], "unit": "bar"}) == "12.4 bar; not known"
    assert said({"value": [], "unit": None}) == "none"
    assert said({"value": 7, "unit": ""}) == "7"
    assert said({"value": True, "unit": None}) == "yes"
    assert said({"value": 84.3, "unit": "mm**2"}) == "84.3 mm²"
    assert said({"value": 135.57, "unit": "mm"}) == "135.57 mm"
    assert said({"value": 0.0, "unit": "mm"}) == "0 mm"
    assert said({"value": 200.0, "unit": "bar"}) == "200 bar"
    assert said({"value": 1.5e9, "unit": ""}) == "1.5×10⁹"
    assert said({"value": 12345.0, "unit": "N"}) == "12\u202f345 N"
    assert said({"value": -0.25, "unit": "deg"}) == "−0.25°"
    assert said({"value": "thinnest will not go", "unit": None}) == "thinnest will not go"
    check = {"label": "Height", "found": {"value": 135.5001, "unit": "mm"}, "comparison": "≥",
             "limit": {"value": 135.5002, "unit": "mm"}, "limit_source": "", "outcome": "fail", "remark": "r"}  # fmt: skip
    assert check_in_words(check) == "Height: 135.5001 mm, must be at least 135.5002 mm; r"


def test_every_outcome_of_a_check_has_its_place():
    from shoplib.core.checks import Outcome

    assert {str(o) for o in Outcome} - {"pass"} <= set(STATUSES)


PLACES = [("1", 0), ("2", 100), ("3", 200)]
PLAN = {
    "positions": [{"name": n, "x": f"{x} mm", "y": "0 mm"} for n, x in PLACES],
    "stages": "40 N*m; +90 deg",
    "stages_source": NOTES,
    "order": "2; 1; 3",
    "lubricant": "engine oil",
    "lubricant_where": "threads",
}


def ticked(store, uid, *keys):
    for stage, bolt in keys:
        store.tick(
            NUMBER, programme=uid, stage=stage, bolt=bolt, value="as the programme says", initials="AL", uid=new_id()
        )
    return [(p.status, p.what) for p in open_points(store.job(NUMBER)) if p.uid == uid]


def test_bolts_not_ticked_stage_by_stage(store):
    uid = store.keep(NUMBER, get("tightening_plan")(PLAN), **WHO).uid
    assert ticked(store, uid) == [
        ("not ticked", "Stage 1, 40 N·m: no bolt ticked"),
        ("not ticked", "Stage 2, +90°: no bolt ticked"),
    ]
    assert ticked(store, uid, (1, "2"), (1, "1"), (1, "3"), (2, "2")) == [
        ("not ticked", "Stage 2, +90°: not 1, 3 ticked")
    ]
    assert ticked(store, uid, (2, "1"), (2, "3")) == []
    struck = next(t for t in store.job(NUMBER).ticks if t.bolt == "3")
    store.strike(NUMBER, struck.uid, because="wrong bolt", **WHO)
    assert ticked(store, uid) == [("not ticked", "Stage 1, 40 N·m: not 3 ticked")]


def test_a_tick_for_a_bolt_that_the_plan_lost(store):
    first = store.keep(NUMBER, get("tightening_plan")(PLAN), **WHO).uid
    ticked(store, first, *((n, b) for n in (1, 2) for b in "213"))
    fewer = PLAN | {"positions": PLAN["positions"][:2], "order": "2; 1"}
    uid = store.correct(NUMBER, first, get("tightening_plan")(fewer), because="drawn by mistake", **WHO).uid
    assert {s for s, _ in ticked(store, uid)} == {"undecided"}
    assert "bolt 3, stage 1 was ticked (line 5), but is no longer in the plan" in str(ticked(store, uid))
