"""Lines of a job: kept as typed, never overwritten; stale numbers flagged; each tick once."""

import datetime
import json

import pytest

from shoplib import __version__
from shoplib.core.errors import BadInput
from shoplib.record.errors import NoSuchJob
from shoplib.record.jobfile_record import canonical, make_record
from shoplib.record.store import AlreadyTicked, Refused, Stale, Store, new_id
from shoplib.topics import get
from tests.job_file_of import as_job_file
from tests.record.store.helpers import WHO, fields_of, tick
from tests.record_fixtures import HEADER, NUMBER, programme, protrusion


# ------------------------------------------------------------------------------ jobs
def test_a_job_names_every_bad_field_at_once(store):
    with pytest.raises(BadInput) as error:
        store.start(number="", engine="x\u202ey", date="25/11/26", instruments=[{"what": "gauge"}], colour="red")
    assert fields_of(error) == {"number", "engine", "date", "done_by", "instruments[1].id", "colour"}


def test_a_number_is_given_once(store):
    with pytest.raises(Refused, match="26-014 already exists"):
        store.start(**HEADER)


def test_starting_twice_with_one_uid_is_one_job(store):
    uid = new_id()
    header = HEADER | {"number": "26-015"}
    first, again = store.start(**header, uid=uid), store.start(**header, uid=uid)
    assert (first.n, again.n, again.again) == (1, 1, True)
    assert store.jobs().found == 2


def test_the_header_keeps_people_and_instruments(store):
    instrument = {"id": "D-1", "what": "depth gauge", "resolution": "0.01 mm", "calibration_due": "2027-02-01"}
    store.amend(NUMBER, who="B", people=[{"name": "A. Learner", "initials": "AL"}], instruments=[instrument])
    job = store.job(NUMBER)
    assert job.header["instruments"] == [instrument]
    assert job.header["people"] == [{"name": "A. Learner", "initials": "AL"}]
    with pytest.raises(BadInput, match="is listed twice"):
        store.amend(NUMBER, who="B", instruments=[instrument, instrument])


def test_a_changed_header_shows_both(store):
    store.amend(NUMBER, who="B. Instructor", because="asked again", complaint="loses coolant under load")
    store.amend(NUMBER, who="B. Instructor", number="26-041", because="figures swapped")
    job = store.job("26-041")
    assert job.header["complaint"] == "loses coolant under load"
    assert job.changes(1) == [
        "Complaint: nothing became “loses coolant under load”. Reason: asked again",
        "Job number: “26-014” became “26-041”. Reason: figures swapped",
    ]
    with pytest.raises(NoSuchJob):
        store.job(NUMBER)
    with pytest.raises(BadInput):
        store.amend("26-041", who="B", engine="")  # a needed field cannot be blanked out


def test_the_list_is_searched_in_every_word(store):
    store.start(**HEADER | {"number": "26-015", "engine": "Würfelpresse 100 %", "customer_ref": "Orchard_7"})
    assert [r.number for r in store.jobs().rows] == ["26-015", NUMBER]
    for search, found in (("WÜRFEL", ["26-015"]), ("pump learner", [NUMBER]), ("100 %", ["26-015"]), ("d_7", ["26-015"]),
                          ("_", ["26-015"]), ("%", ["26-015"]), ("pump würfel", []), ("' OR 1=1 --", [])):  # fmt: skip
        assert [r.number for r in store.jobs(search).rows] == found, search
    store.keep(NUMBER, protrusion(), **WHO)
    listed = store.jobs(limit=1)
    assert [r.number for r in listed.rows] == [NUMBER]  # the one changed last comes first
    assert listed.found == 2


@pytest.mark.parametrize("name", ["Robert'); DROP TABLE line;--", '" OR ""="', "%s %(x)s {0} :name ?", "\\'; --"])
def test_sql_in_a_name_is_a_name(store, name):
    store.amend(NUMBER, who=name, customer_ref=name)
    store.save_draft(name, {name: name}, number=NUMBER)
    kept = store.keep(NUMBER, protrusion(), who=name, title=name)
    entry = store.job(NUMBER).entries[0]
    assert (entry.uid, entry.who, entry.title) == (kept.uid, name, name)
    assert store.draft(name, number=NUMBER).inputs == {name: name}
    assert [r.customer_ref for r in store.jobs(name).rows] == [name]


# ------------------------------------------------------------------------------ entries
def test_an_entry_is_kept_as_typed_with_what_came_of_it(store):
    result = get("preload_from_torque")(torque="40 Nm ±4 %", thread="M10x1.25", mu_thread="0,12", mu_head="0.10–0.16")
    kept = store.keep(NUMBER, result, who="A. Learner", remark="oiled", when="2026-11-25 09:30")
    entry = store.job(NUMBER).entries[0]
    assert (entry.n, entry.form, entry.phase, entry.remark, entry.when) == (
        2,
        "preload_from_torque",
        "tighten",
        "oiled",
        "2026-11-25 09:30",
    )
    assert entry.inputs["torque"] == "40 Nm ±4 %"
    assert entry.inputs["mu_thread"] == "0,12"
    assert entry.result == json.loads(canonical(result.to_json(steps=False)))  # to the last bit
    assert (entry.program, kept.again, entry.stands) == (__version__, False, True)
    assert str(kept).startswith("saved as line 2, 20")


def test_readings_from_a_file_are_kept_themselves(store, tmp_path):
    (tmp_path / "map.csv").write_text("name,x_mm,y_mm\nA,0,0\nB,90,0\nC,180,0\n", encoding="utf-8")
    result = get("tightening_order")({"positions": "map.csv"}, folder=tmp_path)
    store.keep(NUMBER, result, **WHO)
    (tmp_path / "map.csv").unlink()
    assert store.job(NUMBER).entries[0].inputs["positions"][1] == {"name": "B", "x": "90.0 mm", "y": "0.0 mm"}
    again = make_record(as_job_file(store.job(NUMBER)))["entries"][0]["result"]["results"]
    assert again["suggested_order"]["value"] == result["suggested_order"]


def test_the_time_is_the_machines_in_utc(tmp_path):
    east = datetime.timezone(datetime.timedelta(hours=9))
    with Store.open(tmp_path / "jobs.db", clock=lambda: datetime.datetime(2026, 1, 1, 3, 0, tzinfo=east)) as store:
        assert store.start(**HEADER).at == "2025-12-31T18:00:00.000Z"


def test_a_correction_shows_both(store):
    wrong = store.keep(NUMBER, protrusion("0,60 mm"), **WHO, remark="cold")
    right = store.correct(NUMBER, wrong.uid, protrusion(), **WHO, because="decimal point misplaced")
    old, new = store.job(NUMBER).entries
    assert (old.state, old.by.uid, old.outcome) == ("corrected", right.uid, "fail")
    assert (new.state, new.corrects.uid, new.outcome, new.remark, new.first) == ("stands", wrong.uid, "pass", "cold", 2)
    assert [e.uid for e in store.job(NUMBER).chain(right.uid)] == [wrong.uid, right.uid]
    assert store.job(NUMBER).changes(2) == [
        "line 2 (Measurement) was corrected by line 3: value “0,60 mm” became “0,06 mm”; "
        "outcome “fail” became “pass”. Reason: decimal point misplaced"
    ]
    with pytest.raises(Refused, match="already corrected by line 3; continue from line 3"):
        store.correct(NUMBER, wrong.uid, protrusion(), **WHO, because="again")
    with pytest.raises(BadInput) as error:
        store.correct(NUMBER, right.uid, protrusion(), **WHO, because=" ")
    assert fields_of(error) == {"because"}
    with pytest.raises(Refused, match="is measurement, not thread"):
        store.correct(NUMBER, right.uid, get("thread")(thread="M10"), **WHO, because="other")


def test_a_strike_is_dated_and_stays_readable(store):
    kept = store.keep(NUMBER, protrusion(), **WHO)
    with pytest.raises(BadInput):
        store.strike(NUMBER, kept.uid, who="A. Learner", because="")
    store.strike(NUMBER, kept.uid, who="B. Instructor", because="wrong engine")
    (entry,) = store.job(NUMBER).entries
    assert (entry.state, entry.by.who, entry.by.body["because"], entry.inputs["value"]) == (
        "struck", "B. Instructor", "wrong engine", "0,06 mm")  # fmt: skip
    assert "struck out by line 3" in entry.as_line()
    with pytest.raises(Refused, match="already struck out"):
        store.strike(NUMBER, kept.uid, who="B", because="once more")
    with pytest.raises(BadInput):
        store.strike(NUMBER, "no-such-line-at-all", who="B", because="x")


def test_the_same_call_again_is_kept_once(store):
    uid = new_id()
    first = store.keep(NUMBER, protrusion(), **WHO, uid=uid)
    again = store.keep(NUMBER, protrusion(), **WHO, uid=uid)
    assert (again.n, again.at, again.again) == (first.n, first.at, True)
    assert len(store.job(NUMBER).entries) == 1
    with pytest.raises(Refused, match="already used"):
        store.keep(NUMBER, protrusion("0,07 mm"), **WHO, uid=uid)
    strike = new_id()
    for expected in (False, True):
        assert store.strike(NUMBER, uid, **WHO, because="x", uid=strike).again is expected


# ------------------------------------------------------------------------------ stale
def test_a_correction_flags_everything_downstream(store):
    height = store.keep(NUMBER, protrusion("0,60 mm"), **WHO, title="height")
    reach = store.keep(NUMBER, protrusion(), **WHO, title="reach", sources=[height.uid])
    timing = store.keep(NUMBER, protrusion(), **WHO, title="timing", sources=[reach.uid])
    other = store.keep(NUMBER, protrusion(), **WHO, title="other")
    assert store.job(NUMBER).stale == ()
    right = store.correct(NUMBER, height.uid, protrusion(), **WHO, because="misread")
    assert {e.title: e.stale for e in store.job(NUMBER).stale} == {
        "reach": ("line 2 (height), on which it depends, was corrected by line 6",),
        "timing": ("line 3 (reach), on which it depends, is itself stale",),
    }
    for refused in (
        lambda: store.sign(NUMBER, who="A", role="done by"),
        lambda: store.issue(NUMBER, who="A"),
        lambda: store.close_job(NUMBER, who="A", root_cause="gasket blown"),
        lambda: as_job_file(store.job(NUMBER)),
    ):
        with pytest.raises(Stale, match=r"line 3 \(reach\).*\n.*line 4 \(timing\)"):
            refused()
    assert store.job(NUMBER).signatures == ()
    # worked again from what stands, the flags go; a correction that forgets to say from what keeps its flag
    forgot = store.correct(NUMBER, reach.uid, protrusion(), **WHO, because="worked again")
    assert {e.uid for e in store.job(NUMBER).stale} == {forgot.uid, timing.uid}
    reach = store.correct(NUMBER, forgot.uid, protrusion(), **WHO, because="worked again", sources=[right.uid])
    store.correct(NUMBER, timing.uid, protrusion(), **WHO, because="worked again", sources=[reach.uid])
    assert store.job(NUMBER).stale == ()
    store.sign(NUMBER, who="A", role="done by")
    assert store.job(NUMBER).line(other.uid).title == "other"


def test_a_struck_source_flags_too(store):
    source = store.keep(NUMBER, protrusion(), **WHO)
    store.keep(NUMBER, protrusion(), **WHO, sources=[source.uid])
    store.strike(NUMBER, source.uid, **WHO, because="wrong cylinder")
    assert "was struck out by line 4" in store.job(NUMBER).stale[0].stale[0]


def test_sources_are_entries_that_stand(store):
    first = store.keep(NUMBER, protrusion(), **WHO)
    store.correct(NUMBER, first.uid, protrusion(), **WHO, because="x")
    with pytest.raises(Refused, match="use a current entry"):
        store.keep(NUMBER, protrusion(), **WHO, sources=[first.uid])
    with pytest.raises(BadInput, match="not a line of job"):
        store.keep(NUMBER, protrusion(), **WHO, sources=[new_id()])
    last = store.job(NUMBER).entries[-1].uid
    with pytest.raises(BadInput, match="own source"):
        store.correct(NUMBER, last, protrusion(), **WHO, because="x", sources=[last])


def test_a_tick_is_kept_once_however_often_it_is_sent(store):
    plan, uid = programme(store), new_id()
    first = tick(store, plan, uid=uid)
    assert [tick(store, plan, uid=uid).again for _ in range(3)] == [True] * 3
    assert [t.n for t in store.job(NUMBER).ticks] == [first.n]


def test_a_bolt_is_ticked_once_a_stage(store):
    plan = programme(store)
    tick(store, plan)
    tick(store, plan, stage=2, value="+90 deg")
    tick(store, plan, bolt="2")
    with pytest.raises(AlreadyTicked, match="bolt 1, stage 1 was already ticked by AL") as error:
        tick(store, plan, initials="BI")
    assert error.value.line.body["initials"] == "AL"
    assert sorted(store.job(NUMBER).ticked(plan)) == [(1, "1"), (1, "2"), (2, "1")]


def test_a_corrected_tick_shows_both(store):
    plan = programme(store)
    wrong = tick(store, plan, value="44 N*m")
    right = tick(store, plan, value="40 N*m", replaces=wrong.uid, because="typed wrong")
    assert [(t.value, t.state) for t in store.job(NUMBER).ticks] == [("44 N*m", "corrected"), ("40 N*m", "stands")]
    assert store.job(NUMBER).ticked(plan)[1, "1"].uid == right.uid
    with pytest.raises(Refused, match="another bolt or stage"):
        tick(store, plan, bolt="2", replaces=right.uid, because="x")
    store.strike(NUMBER, right.uid, **WHO, because="bolt replaced")
    assert store.job(NUMBER).ticked(plan) == {}
    tick(store, plan)  # and may be ticked anew


def test_a_deviation_needs_its_reason_and_action(store):
    plan = programme(store)
    with pytest.raises(BadInput) as error:
        tick(store, plan, deviation="went to about 100 deg")
    assert fields_of(error) == {"reason", "action"}
    tick(store, plan, deviation="went to about 100 deg", reason="slipped", action="bolt replaced")
    assert store.job(NUMBER).ticks[0].deviation == "went to about 100 deg"


def test_a_corrected_programme_keeps_its_ticks(store):
    plan = programme(store)
    tick(store, plan)
    better = store.correct(NUMBER, plan, {"stages": ["40 N*m", "+95 deg"]}, **WHO, because="maker's page 12").uid
    assert list(store.job(NUMBER).ticked(better)) == [(1, "1")]
    with pytest.raises(AlreadyTicked):
        tick(store, better)


def test_a_tick_says_what_it_is_missing(store):
    plan = programme(store)
    with pytest.raises(BadInput) as error:
        tick(store, plan, stage=0, bolt="", value="", initials="")
    assert fields_of(error) == {"stage", "bolt", "value", "initials"}
    with pytest.raises(BadInput, match="not a line"):
        tick(store, new_id())
    entry = store.keep(NUMBER, protrusion(), **WHO)
    with pytest.raises(BadInput, match="is not a plan of tightening"):
        tick(store, entry.uid)


# ------------------------------------------------------------------------------ drafts
def test_a_draft_is_whatever_stood_on_the_screen(store):
    typed = {"torque": "40 N", "note": "\u202e\x00\ud800", "rows": [{"x": ""}], "n": 3}
    store.save_draft("preload_from_torque", {"torque": "4"}, number=NUMBER)
    at = store.save_draft("preload_from_torque", typed, number=NUMBER)
    store.save_draft("preload_from_torque", {"torque": "9"})  # before a job is chosen
    assert store.draft("preload_from_torque", number=NUMBER) == (typed, at)
    assert store.drafts(number=NUMBER).keys() == {"preload_from_torque"}
    assert store.draft("preload_from_torque").inputs == {"torque": "9"}
    assert store.draft("thread", number=NUMBER) is None
    store.drop_draft("preload_from_torque", number=NUMBER)
    assert store.draft("preload_from_torque", number=NUMBER) is None
    with pytest.raises(NoSuchJob):
        store.save_draft("thread", {}, number="none")


def test_desks_that_share_a_record_keep_their_drafts_apart(store):
    store.save_draft("thread", {"thread": "M10"}, desk="bench 1")
    store.save_draft("thread", {"thread": "M12"}, desk="bench 2")
    store.save_draft("thread", {"thread": "M8"})
    assert store.draft("thread", desk="bench 1").inputs == {"thread": "M10"}
    assert store.draft("thread", desk="bench 2").inputs == {"thread": "M12"}
    assert store.draft("thread").inputs == {"thread": "M8"}
    assert store.draft("thread", desk="bench 3") is None
    store.drop_draft("thread", desk="bench 1")
    assert store.drafts(desk="bench 1") == {}
    assert store.drafts(desk="bench 2").keys() == {"thread"}


def test_a_glance_at_a_job(store):
    store.keep(NUMBER, protrusion(), **WHO)
    found = store.glance(NUMBER)
    assert (store.number_of(found.uid), found.lines) == (NUMBER, 2)
    assert store.glance("none") is None
