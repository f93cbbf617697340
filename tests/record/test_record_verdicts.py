"""The record judges itself: ticks, deviations, new bolts, calibration, signatures; whoever wrote the line.

The inputs are those of an audit of version 0.1.0, which let each of them pass.
"""

import json

import pytest

from shoplib.core.errors import BadInput
from shoplib.record.errors import Refused
from shoplib.record.job_record import whole_record
from shoplib.record.open_points import all_points, open_points
from shoplib.record.store import Store, new_id
from shoplib.record.ticks import NEW_BOLT, PLAN_CORRECTED, STOPPED, code_of_action
from shoplib.record.tightening import progress_of
from shoplib.sheet.tightening_grid import grids
from shoplib.topics import get
from tests.record_fixtures import HEADER, NUMBER, clock, protrusion

WHO = {"who": "A. Learner"}
SOURCE = "teaching workshop, bench notes, sheet 4"
PLAN = {
    "positions": [{"name": n, "x": f"{x} mm", "y": "0 mm"} for n, x in (("1", 0), ("2", 100), ("3", 200))],
    "stages": "60 N*m; +85–95 deg",
    "stages_source": SOURCE,
    "order": "2; 1; 3",
    "order_source": SOURCE,
    "lubricant": "engine oil",
    "lubricant_where": "threads",
}
OVER = {"deviation": "over: 104° for +85–95°", "reason": "the bar slipped"}


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "jobs.db", clock=clock("2026-11-25T09:00:00")) as opened:
        opened.start(**HEADER)
        yield opened


def planned(store, **more):
    return store.keep(NUMBER, get("tightening_plan")(PLAN | more), **WHO).uid


def tick(store, plan, stage, bolt, value="as the programme says", **more):
    return store.tick(NUMBER, programme=plan, stage=stage, bolt=bolt, value=value, initials="AL", uid=new_id(), **more)


def told(store, *statuses):
    return [(p.status, p.what) for p in open_points(store.job(NUMBER)) if p.status in statuses]


# ------------------------------------------------------------------------------ ticks through the store
def test_a_tick_outside_its_stage_is_open_whoever_wrote_it(store, tmp_path):
    plan = planned(store)
    tick(store, plan, 1, "2", "300 N*m")
    tick(store, plan, 2, "2", "20 deg")
    tick(store, plan, 1, "1", "60.8 N*m")
    tick(store, plan, 1, "3", "tight")
    tick(store, plan, 2, "1")
    tick(store, plan, 2, "3", "90 deg")
    judged = progress_of(store.job(NUMBER), plan).judged
    assert [judged[key].code for key in ((1, "2"), (1, "1"), (2, "3"))] == ["fail", "undecided", "pass"]
    fails = [("fail", "over: 300 N·m for 60 N·m"), ("fail", "under: 20° for +85–95°")]
    assert told(store, "fail") == fails
    undecided = [what for _, what in told(store, "undecided")]
    assert any("not decided: 60.8 N·m for 60 N·m, which has no tolerance" in what for what in undecided)
    assert any("“tight” cannot be judged" in what for what in undecided)
    assert len(undecided) == 2
    written = {(t.stage, t.bolt): t.line.body["judged"] for t in store.job(NUMBER).ticks}
    assert written == {(1, "2"): "fail", (2, "2"): "fail", (1, "1"): "undecided", (1, "3"): "undecided",
                       (2, "1"): "stated", (2, "3"): "pass"}  # fmt: skip
    with Store.open(tmp_path / "other.db") as other:
        other.import_job(store.export(NUMBER))
        assert told(other, "fail") == fails


def test_a_tick_of_0_1_0_is_judged_when_it_is_read(store, tmp_path, monkeypatch):
    monkeypatch.setattr("shoplib.record.tightening.judged_by", lambda *_: "")
    plan = planned(store)
    tick(store, plan, 1, "2", "300 N*m")
    assert "judged" not in store.job(NUMBER).ticks[0].line.body
    assert len(told(store, "fail")) == 1


def test_a_press_for_another_stage_is_undecided(store):
    plan = planned(store)
    tick(store, plan, 1, "2", "as the programme says (60 N·m)")
    tick(store, plan, 1, "1", "as the programme says (40 N·m)")
    assert told(store, "undecided") == [("undecided", "the tick is for 40 N·m, but the stage is 60 N·m")]


def test_the_instruments_that_the_plan_names_are_used(store):
    wrench = {"id": "TW-2", "what": "torque wrench", "deviation": "1 %", "calibration_due": "2027-01-01"}
    gauge = {"id": "AG-1", "deviation": "±8 deg", "calibration_due": "2027-01-01"}
    store.amend(NUMBER, instruments=[wrench, gauge], **WHO)
    plan = planned(store, stages="60 N*m; +90 deg", tools="TW-2, AG-1")
    tick(store, plan, 1, "2", "61 N*m")  # within 1 % and the printed digit
    tick(store, plan, 1, "1", "61.5 N*m")  # a fail by 1 %; by the 4 % of a wrench that is not known it is undecided
    tick(store, plan, 2, "2", "98 deg")  # within the gauge's 8°
    tick(store, plan, 2, "1", "100 deg")
    assert [what for _, what in told(store, "fail")] == ["over: 61.5 N·m for 60 N·m", "over: 100° for +90°"]
    assert len(told(store, "undecided")) == 2


def test_a_note_as_programme_is_judged_too(store):
    content = {"stages": ["40 N*m", "+85–95 deg", "by feel"], "bolts": ["1"]}
    note = store.note(NUMBER, "programme", content, title="Stages", **WHO).uid
    tick(store, note, 1, "1", "90 N*m")
    tick(store, note, 2, "1", "90 deg")
    tick(store, note, 3, "1", "felt right")
    assert [what for _, what in told(store, "fail")] == ["over: 90 N·m for 40 N·m"]
    assert not told(store, "undecided")


# ------------------------------------------------------------------------------ deviations have a state
@pytest.mark.parametrize(
    "said",
    [
        "stopped; the maker's rule to be looked up",
        "stopped; check the manufacturer's instructions",
        "stopped, to check the manufacturer's instructions",
        "stopped, to check the maker's instructions",
    ],
)
def test_the_words_of_an_action_in_a_line_of_any_version_are_understood(said):
    assert code_of_action(said) == STOPPED


def test_a_deviation_is_open_until_somebody_decides(store):
    plan = planned(store)
    kept = tick(store, plan, 2, "2", "104 deg", action="stopped; the maker's rule to be looked up",
                action_code=STOPPED, **OVER)  # fmt: skip
    (point,) = (p for p in open_points(store.job(NUMBER)) if p.status == "deviation")
    assert "104°" in point.what
    assert "check the maker's instructions" in point.what
    said = {"decision": "accepted", "by": "B. Instructor", "because": "one bolt in three; the customer was told"}
    store.decide(NUMBER, point.key, **said, **WHO)
    assert not told(store, "deviation", "fail")
    (now,) = (p for p in all_points(store.job(NUMBER)) if p.key == point.key)
    assert now.state == "accepted"
    assert now.decided.startswith("accepted by B. Instructor, line ")
    assert "the customer was told" in now.decided
    line = store.job(NUMBER).lines[-1]
    assert (line.kind, line.about) == ("decision", kept.uid)
    store.strike(NUMBER, line.uid, because="he did not say so", **WHO)
    assert len(told(store, "deviation")) == 1


def test_a_resolution_that_the_reading_does_not_meet_leaves_it_open(store):
    plan = planned(store)
    tick(store, plan, 2, "2", "104 deg", action="not backed off", **OVER)
    (point,) = (p for p in open_points(store.job(NUMBER)) if p.status == "deviation")
    said = {"decision": "resolved", "by": "B. Instructor", "because": "the maker's rule", "allowed_source": SOURCE}
    store.decide(NUMBER, point.key, **said, allowed="+85–100 deg", **WHO)
    ((_, what),) = told(store, "deviation")
    assert "but over: 104° for +85–100°" in what
    store.decide(NUMBER, point.key, **said, allowed="+85–110 deg", **WHO)
    assert not told(store, "deviation")


def test_a_decision_needs_a_name_a_reason_and_a_point(store):
    plan = planned(store)
    tick(store, plan, 1, "2", "300 N*m")
    (point,) = (p for p in open_points(store.job(NUMBER)) if p.status == "fail")
    with pytest.raises(BadInput) as error:
        store.decide(NUMBER, point.key, decision="ignored", by="", because="", allowed="110", **WHO)
    assert {p.field for p in error.value.problems} == {"decision", "by", "because", "allowed", "allowed_source"}
    with pytest.raises(Refused, match="not a point"):
        store.decide(NUMBER, "tick/nothing", decision="accepted", by="B", because="x", **WHO)


def test_stale_and_blank_points_cannot_be_accepted(store):
    first = store.keep(NUMBER, protrusion(), **WHO)
    store.keep(NUMBER, protrusion("0,05 mm"), sources=[first.uid], **WHO)
    store.strike(NUMBER, first.uid, because="wrong liner", **WHO)
    assert {p.status: p.key for p in open_points(store.job(NUMBER))} == {"stale": "", "blank": ""}


def test_decisions_go_out_and_in_and_are_told(store, tmp_path):
    from shoplib.record.exchange import load, tables
    from shoplib.record.history import tell

    plan = planned(store)
    tick(store, plan, 2, "2", "104 deg", action="not backed off", **OVER)
    (point,) = (p for p in open_points(store.job(NUMBER)) if p.status == "deviation")
    store.decide(NUMBER, point.key, decision="resolved", by="B. Instructor", because="maker's rule",
                 allowed="+85–110 deg", allowed_source=SOURCE, **WHO)  # fmt: skip
    raw = store.export(NUMBER)
    load(raw)
    with Store.open(tmp_path / "other.db") as other:
        other.import_job(raw)
        job = other.job(NUMBER)
    assert not [p for p in open_points(job) if p.status == "deviation"]
    assert f"Resolved by B. Instructor: line 3 (bolt 2, stage 2); allowed +85–110 deg [{SOURCE}]" in tell(job)
    assert "resolved,B. Instructor,maker's rule,'+85–110 deg" in tables(job)["decisions.csv"]
    assert any("was resolved by B. Instructor. Reason: maker's rule" in x for x in job.changes(3))


# ------------------------------------------------------------------------------ a new bolt
def test_a_new_bolt_has_none_of_the_earlier_stages(store):
    plan = planned(store)
    for bolt in ("2", "1", "3"):
        tick(store, plan, 1, bolt)
    bad = tick(store, plan, 2, "2", "104 deg", action="new bolt fitted", action_code=NEW_BOLT, **OVER)
    now = progress_of(store.job(NUMBER), plan)
    assert now.next == (1, "2")
    assert set(now.old_bolt) == {(1, "2"), (2, "2")}
    assert [now.stage(n).number for n in (1, 2)] == [1, 2]
    assert [now.why_again(key) for key in ((1, "2"), (2, "2"), (1, "1"))] == [NEW_BOLT, NEW_BOLT, PLAN_CORRECTED]
    assert "tighten again: 2" in str(told(store, "not ticked"))
    (grid,) = grids(store.job(NUMBER)).values()
    marks = {row["bolt"]: [cell["marks"] for cell in row["cells"]] for row in grid["rows"]}
    assert marks["2"] == [["old bolt"], ["old bolt", "Dev. 1"]]
    assert grid["missing"] == 4  # both stages of bolt 2, the last stage of the others
    assert len(told(store, "deviation")) == 1
    again = {"because": "new bolt", "because_code": NEW_BOLT}
    tick(store, plan, 1, "2", replaces=now.old_bolt[1, "2"].uid, **again)
    assert progress_of(store.job(NUMBER), plan).next == (2, "2")
    fresh = tick(store, plan, 2, "2", "90 deg", replaces=bad.uid, **again)
    now = progress_of(store.job(NUMBER), plan)
    assert now.next == (2, "1")
    assert not now.old_bolt
    assert not told(store, "deviation")
    assert [t.value for t in now.deviations] == ["104 deg"]  # never erased
    tick(store, plan, 2, "2", "91 deg", replaces=fresh.uid, because="misread")
    assert progress_of(store.job(NUMBER), plan).ticked[2, "2"].value == "91 deg"


def test_a_new_bolt_that_was_none_gives_the_stages_back(store):
    plan = planned(store)
    tick(store, plan, 1, "2")
    bad = tick(store, plan, 2, "2", "104 deg", action="New bolt fitted", **OVER)  # as 0.1.0 wrote it, in words alone
    assert progress_of(store.job(NUMBER), plan).next == (1, "2")
    store.strike(NUMBER, bad.uid, because="another bolt", **WHO)
    assert (1, "2") in progress_of(store.job(NUMBER), plan).ticked


# ------------------------------------------------------------------------------ instruments
def test_every_overdue_use_is_told(store):
    store.amend(NUMBER, instruments=[{"id": "F-2", "what": "leaves", "calibration_due": "2026-10-31"}], **WHO)
    store.keep(NUMBER, protrusion(instrument="F-2"), when="2026-11-01", title="As it came off", **WHO)
    store.keep(NUMBER, protrusion(instrument="F-2"), when="2026-11-10", title="Again", **WHO)
    store.keep(NUMBER, protrusion(instrument="F-2"), when="2026-10-30", title="In date", **WHO)
    assert [what.split(", ")[-1] for _, what in told(store, "overdue")] == [
        "line 3 (As it came off)", "line 4 (Again)",
    ]  # fmt: skip


def test_a_wrench_that_runs_out_while_bolts_are_ticked(store):
    store.amend(NUMBER, instruments=[{"id": "TW-2", "calibration_due": "2026-11-24"}], **WHO)
    plan = planned(store, tools="TW-2")
    store.correct(NUMBER, plan, get("tightening_plan")(PLAN | {"tools": "TW-2"}), when="2026-11-20",
                  because="day", **WHO)  # fmt: skip
    assert not told(store, "overdue")
    tick(store, plan, 1, "2")  # on the 25th
    assert len(told(store, "overdue")) == 1


def test_no_date_and_no_place_in_the_list_are_open(store):
    store.amend(NUMBER, instruments=[{"id": "C-1", "what": "gauge"}], **WHO)
    store.keep(NUMBER, protrusion(instrument="vernier 7"), **WHO)
    planned(store, tools="TW-2, C-1")
    assert told(store, "calibration unknown") == [
        ("calibration unknown", "calibration date not given; used in line 4 (Tightening plan)")
    ]
    assert [what.split(" is not")[0] for _, what in told(store, "not listed")] == ["“vernier 7”", "“TW-2”"]


def test_a_plan_that_says_another_date_than_the_list(store):
    store.amend(NUMBER, instruments=[{"id": "TW-2", "calibration_due": "2026-12-24"}], **WHO)
    planned(store, tools="TW-2", calibration_due="2027-03-01", date_used="2026-11-25")
    assert any(
        "2027-03-01 as the date when calibration is due; the list of instruments gives TW-2 2026-12-24" in w
        for _, w in told(store, "undecided")
    )


# ------------------------------------------------------------------------------ signatures
def test_who_signed_and_who_did_not(store):
    store.amend(NUMBER, people=[{"name": "A. Learner", "initials": "AL"}], **WHO)
    plan = planned(store)
    tick(store, plan, 1, "2")
    store.sign(NUMBER, who="C. Stranger", role="checked")
    store.sign(NUMBER, who="A. Learner", role="checked the work")
    assert told(store, "not listed") == [
        ("not listed", "C. Stranger, who signed “checked”, is not in the job's list of people")
    ]
    assert told(store, "own work") == [
        ("own work", "A. Learner, who signed “checked the work”, also made 1 of the ticks: bolt 2 at stage 1")
    ]
    store.close_job(NUMBER, root_cause="pump bearing", **WHO)
    assert len(told(store, "not signed")) == 1
    store.sign(NUMBER, who="A. Learner", role="Did the work")
    assert not told(store, "not signed")


def test_an_export_of_0_1_0_says_more_now_and_loses_nothing(tmp_path):
    from pathlib import Path

    raw = (Path(__file__).parents[1] / "archive" / "0.1.0" / "exports" / "whole_job.json").read_bytes()
    with Store.open(tmp_path / "jobs.db") as store:
        job = store.job(store.import_job(raw).number)
    statuses = [p.status for p in open_points(job)]
    assert len(job.lines) == len(json.loads(raw)["lines"])
    assert "deviation" in statuses  # 104° against 85–95°
    assert "calibration unknown" in statuses  # C-1
    assert "own work" in statuses  # the checker ticked two bolts
    assert statuses.count("overdue") == 2  # the leaves, at the face and again in the work order


# ------------------------------------------------------------------------------ as found, as left
def outcomes(store):
    record = whole_record(store.job(NUMBER))
    return record["outcome"], record["outcome_as_found"], record["outcome_as_left"]


def test_a_repaired_job_fails_as_found_and_passes_as_left(store):
    store.keep(NUMBER, protrusion("0,12 mm"), condition="as_found", **WHO)
    assert outcomes(store) == ("fail", "fail", None)
    assert len(told(store, "fail")) == 1
    store.keep(NUMBER, protrusion("0,06 mm"), condition="as_left", **WHO)
    assert outcomes(store) == ("fail", "fail", "pass")
    assert not told(store, "fail"), "answered by the same measurement as left"
    (point,) = (p for p in all_points(store.job(NUMBER)) if p.status == "fail")
    assert (point.state, point.decided) == ("resolved", "measured again after the work, line 3 (Measurement): pass")


def test_what_says_neither_leaves_no_pass(store):
    store.keep(NUMBER, protrusion("0,12 mm"), **WHO)
    assert outcomes(store) == ("fail", None, None)  # as every job of 0.1.0
    store.keep(NUMBER, protrusion("0,06 mm"), condition="as_left", **WHO)
    assert outcomes(store) == ("fail", None, "undecided")


def test_a_tick_outside_its_stage_fails_the_job_as_left(store):
    store.keep(NUMBER, protrusion("0,06 mm"), condition="as_left", **WHO)
    plan = planned(store)
    assert outcomes(store) == ("undecided", None, "undecided")  # no bolt is ticked
    for stage in (1, 2):
        for bolt in ("2", "1", "3"):
            tick(store, plan, stage, bolt, "300 N*m" if (stage, bolt) == (1, "1") else "as the programme says")
    assert outcomes(store) == ("fail", None, "fail")
    (point,) = (p for p in open_points(store.job(NUMBER)) if p.status == "fail")
    said = {"decision": "accepted", "by": "B. Instructor", "because": "the customer wants it so"}
    store.decide(NUMBER, point.key, **said, **WHO)
    assert outcomes(store) == ("fail", None, "fail"), "accepted is no pass"


def test_a_deviation_counts_until_it_is_decided_and_by_what_a_source_allows(store):
    store.keep(NUMBER, protrusion("0,06 mm"), condition="as_left", **WHO)
    plan = planned(store)
    for stage in (1, 2):
        for bolt in ("2", "1", "3"):
            wide = (stage, bolt) == (2, "1")
            more = OVER | {"action": "not backed off"} if wide else {}
            tick(store, plan, stage, bolt, "104 deg" if wide else "as the programme says", **more)
    assert outcomes(store)[2] == "fail"
    (point,) = (p for p in open_points(store.job(NUMBER)) if p.status == "deviation")
    said = {"by": "B. Instructor", "because": "looked up"}
    store.decide(NUMBER, point.key, decision="resolved", **said, **WHO)
    assert outcomes(store)[2] == "fail", "words alone make no pass"
    store.decide(NUMBER, point.key, decision="resolved", allowed="+85–110 deg", allowed_source=SOURCE, **said, **WHO)
    assert outcomes(store)[2] == "pass"


def test_a_condition_is_a_code_and_is_corrected_like_a_reading(store):
    with pytest.raises(BadInput, match="condition: must be one of as_found, as_left"):
        store.keep(NUMBER, protrusion(), condition="before", **WHO)
    kept = store.keep(NUMBER, protrusion(), condition="as_found", **WHO)
    store.correct(NUMBER, kept.uid, protrusion("0,05 mm"), because="misread", **WHO)
    store.correct(NUMBER, store.job(NUMBER).current_entries[0].uid, protrusion("0,05 mm"), because="it was after the work",
                  condition="as_left", **WHO)  # fmt: skip
    assert [e.condition for e in store.job(NUMBER).entries] == ["as_found", "as_found", "as_left"]


# ------------------------------------------------------------------------------ what nobody said
def test_an_origin_of_0_1_0_is_called_assumed(store, monkeypatch):
    first = store.keep(NUMBER, protrusion(), **WHO)
    said = store.keep(NUMBER, protrusion("0,05 mm"), sources=[first.uid], **WHO)
    monkeypatch.setattr("shoplib.record.line_writer.__version__", "0.1.0")
    guessed = store.keep(NUMBER, protrusion("0,04 mm"), sources=[first.uid], **WHO)
    monkeypatch.undo()
    entries = {e.uid: e for e in store.job(NUMBER).entries}
    assert not entries[said.uid].sources_assumed
    assert entries[guessed.uid].sources_assumed
    store.strike(NUMBER, first.uid, because="wrong liner", **WHO)
    stale = {e.uid: e.stale[0] for e in store.job(NUMBER).stale}
    assert "on which it depends" in stale[said.uid]
    assert "on which it is assumed to depend" in stale[guessed.uid]


def test_a_blank_re_torque_states_nothing(store):
    from shoplib.sheet import typeset
    from tests.sheet.forged_sheets import squeezed
    from tests.sheet.sheet_parts import words_of

    store.keep(NUMBER, protrusion(), **WHO)
    store.close_job(NUMBER, root_cause="pump bearing", **WHO)
    text = squeezed(words_of(typeset(whole_record(store.job(NUMBER)))))
    assert "Re-torqueNothingstated." in text
    assert "askfornone" not in text


def test_a_job_file_says_as_found_or_as_left_and_gives_it_back(store, tmp_path):
    from tests.job_file_of import as_job_file

    store.keep(NUMBER, protrusion("0,06 mm"), condition="as_left", **WHO)
    job_file = as_job_file(store.job(NUMBER))
    assert job_file["entry"][0]["condition"] == "as_left"
    with Store.open(tmp_path / "other.db") as other:
        assert other.job(other.start_from(job_file)).current_entries[0].condition == "as_left"
        job_file["entry"][0]["condition"] = "after"
        with pytest.raises(BadInput, match="condition: must be one of as_found, as_left"):
            other.start_from(job_file)


def test_no_pass_stands_beside_an_overdue_instrument(store):
    from shoplib.sheet.job_pages import build_whole

    store.amend(NUMBER, instruments=[{"id": "TW-2", "calibration_due": "2026-11-01"}], **WHO)
    store.keep(NUMBER, protrusion("0,06 mm"), condition="as_left", **WHO)
    typed = {"tools": "TW-2", "calibration_due": "2027-03-01", "date_used": "2026-11-25",
             "calibration_source": "certificate 7"}  # fmt: skip
    store.keep(NUMBER, get("tightening_plan")(PLAN | typed), condition="as_left", **WHO)
    record = whole_record(store.job(NUMBER))
    assert record["outcome_as_left"] == "undecided"
    sheet = build_whole(record)
    (plan,) = [e for p in sheet["phases"] for e in p["entries"] if e["grid"]]
    (check,) = [c for c in plan["checks"] if c["label"].startswith("Calibration")]
    assert (plan["outcome"], check["status"]) == ("undecided", "undecided")
    assert "overdue in the job's list" in check["remark"]
    left = sheet["verdicts"][1]["entries"]
    assert [x["word"] for x in left] == ["Pass", "Undecided: an instrument was overdue"]
