"""Open points and progress from invented entries: each rule at both of its sides."""

from types import SimpleNamespace

import pytest

from shoplib.core.tightening_program import read_stage
from shoplib.record import instruments, job_progress, open_points, ticks
from shoplib.record.errors import Refused
from shoplib.record.instruments import NAMING, READ_WITH, calibrations, named_in, unlisted, without
from shoplib.record.job_progress import DONE, OPEN, Progress, StepNow
from shoplib.record.open_points import check_in_words, within_allowed
from shoplib.record.ticks import (
    ACTIONS,
    AS_PROGRAMME,
    Judged,
    code_of_action,
    join_reading,
    shown,
    split_reading,
    stage_of,
)
from shoplib.topics.job_steps import CLOSING, STEPS


def entry(uid="e", **more):
    plain = {"kind": "entry", "form": "measurement", "condition": "as_found", "outcome": "fail", "stale": (), "uid": uid,
             "name": f"line {uid}", "inputs": {}, "content": None, "title": "", "remark": "", "when": "2026-11-25",
             "at": "2026-11-26T10:00:00", "result": {}, "phase": "measure", "stands": True}  # fmt: skip
    return SimpleNamespace(**plain | more)


def job(*entries, **more):
    plain = {"current_entries": entries, "ticks": [], "decisions": {}, "header": {}, "signatures": [], "closed": False, "damaged": (),
             "stale": (), "ticks_of": lambda uid: []}  # fmt: skip
    return SimpleNamespace(**plain | more)


# ------------------------------------------------------------------------------ answered as left
PLACE = {"what": "recess", "where": "liner 1"}
LEFT = {"condition": "as_left", "outcome": "pass", "inputs": PLACE}


@pytest.mark.parametrize(
    ("found", "later", "answered"),
    [
        ({}, [LEFT], True), ({}, [], False), ({}, [LEFT | {"outcome": "fail"}], False), ({}, [LEFT | {"stale": ("x",)}], False),
        ({}, [LEFT | {"condition": "as_found"}], False), ({}, [LEFT | {"form": "other"}], False),
        ({}, [LEFT | {"inputs": PLACE | {"where": "liner 2"}}], False), ({}, [LEFT | {"inputs": None}], False),
        ({}, [LEFT | {"outcome": "fail"}, LEFT], True), ({}, [LEFT, LEFT | {"outcome": "fail"}], False),
        ({"condition": "as_left"}, [LEFT], False), ({"kind": "note"}, [LEFT], False), ({"condition": ""}, [LEFT], False),
        ({"condition": "as_left", "kind": "note"}, [LEFT], False),
    ],
)  # fmt: skip
def test_a_check_as_found_is_answered_by_the_last_of_its_place_as_left(found, later, answered):
    first = entry(inputs=PLACE, **found)
    others = [entry(f"l{k}", **one) for k, one in enumerate(later)]
    answer = open_points._passes_as_left(job(first, *others), first)
    assert answer is others[-1] if answered else answer is None


def test_checks_are_numbered_and_only_known_outcomes_are_points():
    def checks(*outcomes, **more):
        return entry(
            result={"checks": [{"label": "x", "outcome": o, "found": {"value": 1.0}} | more for o in outcomes]}
        )

    points = list(open_points._of_checks(checks("pass", "fail", "no such outcome", "undecided"), None))
    assert [(p.status, p.key, p.state) for p in points] == [
        ("fail", "check/e/2", "open"),
        ("undecided", "check/e/4", "open"),
    ]
    (point,) = open_points._of_checks(checks("undecided", found=None), entry("left"))
    assert (point.status, point.state, point.decided) == (
        "not measured",
        "resolved",
        "measured again after the work, line left: pass",
    )
    (point,) = open_points._of_checks(checks("fail", found=None), None)
    assert point.status == "fail"


# ------------------------------------------------------------------------------ decisions
def decided(by="B. Teacher", who="B. Teacher", value="41 N*m", **body):
    line = SimpleNamespace(who=who, n=9, body={"decision": "accepted", "by": by, "because": "as agreed"} | body)
    tick = SimpleNamespace(uid="t", value=value)
    point = open_points.OpenPoint("fail", "what", "where", "t", "tick/t", outcome="fail")
    return open_points._decided(
        job(decisions={"tick/t": line}, ticks=[SimpleNamespace(uid="x", value="1 N*m"), tick]), point
    )


def test_a_decision_says_who_decided_and_who_entered_it():
    assert decided().decided == "accepted by B. Teacher, line 9: as agreed"
    assert decided(by="b.  teacher").decided == "accepted by b.  teacher, line 9: as agreed"
    assert decided(who="A. Learner").decided == "accepted by B. Teacher, line 9, entered by A. Learner: as agreed"
    assert (decided().state, decided().outcome) == ("accepted", "fail")


def test_what_a_source_allows_must_hold_the_reading():
    allowed = {"allowed": "40–42 N*m", "allowed_source": "page 3"}
    assert (decided(**allowed).state, decided(**allowed).outcome) == ("accepted", "pass")
    assert decided(**allowed).decided.endswith("(allowed: 40–42 N·m [page 3])")
    outside = decided(value="43 N*m", **allowed)
    assert (outside.state, "; but " in outside.what) == ("open", True)
    assert decided(**allowed | {"allowed_source": ""}).state == "open"
    assert within_allowed(job(), "t", allowed) is None
    assert within_allowed(job(ticks=[SimpleNamespace(uid="t", value="41 N*m")]), "t", {}) is None


def test_a_point_that_is_settled_or_has_no_key_takes_no_decision():
    line = SimpleNamespace(who="A", n=9, body={"decision": "accepted", "by": "A", "because": "x"})
    for key, state in (("", "open"), ("k", "resolved")):
        point = open_points.OpenPoint("fail", "what", "where", "t", key, state)
        assert open_points._decided(job(decisions={key: line}), point) is point


def test_settled_points_stand_under_the_one_who_settled_them():
    by = {"open": "", "accepted": "accepted by A", "resolved": "measured again after the work, line 9: pass"}
    points = [open_points.OpenPoint("fail", "", "", "", "", state, decided) for state, decided in by.items()]
    assert open_points.settled_points(points) == [
        ("Accepted or resolved", [points[1]]), ("Measured again after the work, now a pass", [points[2]])]  # fmt: skip
    assert open_points.settled_points(points[:1]) == []


def test_a_decision_is_about_the_line_of_its_point(monkeypatch):
    points = [open_points.OpenPoint("blank", "", "", "b", ""), open_points.OpenPoint("fail", "", "", "u", "k"),
              open_points.OpenPoint("not signed", "", "", "", "s")]  # fmt: skip
    monkeypatch.setattr(open_points, "all_points", lambda one: points)
    assert [open_points.about_of(job(), key) for key in ("k", "s")] == ["u", None]
    for key in ("", "other"):
        with pytest.raises(Refused):
            open_points.about_of(job(), key)


# ------------------------------------------------------------------------------ ticks, signatures
def test_a_deviation_of_a_replaced_bolt():
    def points(action, replaced, deviation="turned too far", code="fail"):
        body = {"action_code": action, "action": ""}
        tick = SimpleNamespace(uid="t", n=7, title="bolt 1", deviation=deviation, value="41 N*m", reason="r", action=action,
                               line=SimpleNamespace(body=body))  # fmt: skip
        return list(open_points._of_tick(tick, Judged(code, "words"), replaced=replaced))

    (again,), (first,) = points("new_bolt", True), points("new_bolt", False)
    assert again.what == first.what + "; repeat its stages with the new bolt"
    assert (
        points("loosened", True) == points("", True, deviation="") == points("", False, deviation="", code="pass") == []
    )
    assert [p.status for c in ("fail", "undecided") for p in points("", False, deviation="", code=c)] == [
        "fail",
        "undecided",
    ]


def signatures(role="checked", ticks_made=1, initials="AL", people=({"name": "A. Learner", "initials": "AL"},), **more):
    made = [SimpleNamespace(stands=True, initials=initials, bolt=str(k), stage=1) for k in range(ticks_made)]
    line = SimpleNamespace(who="A. Learner", uid="s", n=5, body={"role": role})
    return list(
        open_points._of_signatures(job(header={"people": people}, ticks=made, signatures=[(line, True)], **more))
    )


def test_who_checks_made_no_tick():
    assert [p.status for p in signatures()] == ["own work"]
    assert [p.status for p in signatures(initials="a. learner")] == ["own work"]
    assert (
        signatures(role="did the work")
        == signatures(initials="XY")
        == signatures(ticks_made=0)
        == signatures(initials="")
        == []
    )
    assert [p.status for p in signatures(people=(), initials="AL")] == ["not listed"]
    assert [p.status for p in signatures(people=(), initials="A. Learner")] == ["not listed", "own work"]
    assert [signatures(ticks_made=n)[0].what.endswith(" …") for n in (6, 7)] == [False, True]
    assert signatures(ticks_made=7)[0].what.count("bolt ") == 6


# ------------------------------------------------------------------------------ calibration
def calibration(name="G-1", due="2026-12-01", uses=("e",), overdue=False):
    return instruments.Calibration(
        name, name, due, tuple(instruments.Use("2026-11-25", u, u, overdue) for u in uses), overdue, ""
    )


@pytest.mark.parametrize(
    ("typed", "found", "open_"),
    [
        ("2026-12-02", [calibration()], True), ("2026-12-01", [calibration()], False), ("2026-12-01 08:00", [calibration()], False),
        ("", [calibration()], False), ("2026-12-02", [calibration(uses=("other",))], False), ("2026-12-02", [calibration(due="")], False),
        ("2026-12-02", [calibration(), calibration(due="2026-12-02")], False), ("2026-12-02", [], False),
        ("2026-12-02", [calibration(uses=("other", "e"))], True), ("2026-12-02", [calibration(due="", uses=())], False),
    ],
)  # fmt: skip
def test_a_plan_with_another_date_than_the_list(typed, found, open_):
    points = list(open_points._two_dates(entry(inputs={"calibration_due": typed}), found))
    assert [p.status for p in points] == ["undecided"] * open_


@pytest.mark.parametrize(
    ("listed", "used", "told"),
    [
        ({"id": "G-1", "calibration_due": "2026-11-25"}, "G-1", False), ({"id": "G-1", "calibration_due": "2026-11-24"}, "G-1", True),
        ({"id": "G-1"}, "G-1", False), ({"id": "G-1", "calibration_due": "2026-11-24"}, "G-11", True),
        ({"id": "G-1", "calibration_due": "2026-11-25"}, "", False), ({"id": "G-1", "calibration_due": "2026-11-26"}, "", False),
    ],
)  # fmt: skip
def test_calibration_at_each_use_and_without_a_use_on_the_date_of_the_job(listed, used, told):
    (found,) = calibrations(
        job(entry(inputs={"instrument": used}), header={"instruments": [listed], "date": "2026-11-25"})
    )
    assert found.overdue is told
    assert len(found.uses) == (used == "G-1")


def test_the_last_tick_is_a_use_of_its_plan():
    plan = entry("p", inputs={"tools": "G-1"})
    tick = [
        entry(when="2026-11-28"),
        entry(when="2026-11-29", stands=False),
        entry(when="no date", at="2026-11-27T08:00:00"),
    ]
    one = job(
        plan, header={"instruments": [{"id": "G-1", "what": "wrench"}]}, ticks_of=lambda uid: tick if uid == "p" else []
    )
    (found,) = calibrations(one)
    assert ([u.day for u in found.uses], found.what) == (["2026-11-28"], "G-1, wrench")


@pytest.mark.parametrize(
    ("text", "name", "found"),
    [("gauge G-1, 0.01", "G-1", True), ("G-10", "G-1", False), ("xG-1", "G-1", False), ({"a": ["G-1"]}, "G-1", True), (5, "5", False),
     ("a+b", "a+b", True), ("aab", "a+b", False), ("anything", "", False), (("G-1",), "G-1", True)],
)  # fmt: skip
def test_an_instrument_is_named_as_a_word(text, name, found):
    assert named_in(text, name) is found


def test_instruments_that_are_used_and_not_listed():
    assert dict(NAMING) == {"measurement": ("instrument",), "tightening_plan": ("tools",)}
    made = [entry("m", inputs={"instrument": "gauge; G-2"}), entry("t", form="tightening_plan", inputs={"tools": "G-1; W-1, W-2;"}),
            entry("n", inputs=None), entry("o", form="other", inputs={"instrument": "G-9"}), entry("l", inputs={"instrument": " "}),
            entry("x", inputs={"instrument": 5})]  # fmt: skip
    found = list(unlisted(job(*made, header={"instruments": [{"id": "G-1"}]})))
    assert [(u.typed, u.entry.uid) for u in found] == [("gauge; G-2", "m"), ("W-1", "t"), ("W-2", "t")]


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"form": "pressure_hold", "phase": "prove"}, True), ({"form": "pressure_hold", "phase": "measure"}, True),
        ({"form": "pressure_hold", "phase": "other"}, False), ({"form": READ_WITH[0], "phase": "other"}, True),
        ({"form": READ_WITH[1], "phase": "other"}, True), ({"kind": "note"}, False), ({"inputs": {"value": "1 mm"}}, True),
        ({"inputs": {}}, False), ({"inputs": {"value": "1 mm", "instrument": "G-1"}}, False),
        ({"inputs": {"value": "1 mm", "instrument": "G-2"}}, False), ({"inputs": None, "form": "pressure_hold"}, True),
    ],
)  # fmt: skip
def test_readings_without_an_instrument(more, told):
    found = without(job(entry(**more), header={"instruments": [{"id": "G-1"}]}))
    assert len(found) == told


# ------------------------------------------------------------------------------ checks in words
def words(value, limit=None, uncertainty=None, **more):
    check = {
        "label": "x",
        "found": {"value": value, "unit": "mm"},
        "comparison": "≤",
        "uncertainty": {"value": uncertainty},
    }
    return check_in_words(check | ({"limit": {"value": limit, "unit": "mm"}} if limit is not None else {}) | more)


@pytest.mark.parametrize(
    ("value", "uncertainty", "told"),
    [
        (71.4285714, 0.4, "71.4"), (71.4285714, 0.04, "71.43"), (71.4285714, 4.0, "71"), (71.4285714, 400.0, "70"),
        (71.4285714, None, "71.43"), (0.0712345678, 0.001, "0.071"), (71.25, None, "71.25"), (123.456, None, "123.456"),
        (123.456, 1.0, "123.456"), (0.0, None, "0"), (12345.678912, 1.0, "12\u202f346"),
    ],
)  # fmt: skip
def test_a_value_is_told_with_the_digits_that_it_has(value, uncertainty, told):
    assert words(value, uncertainty=uncertainty).startswith(f"x: {told} mm")


def test_a_check_without_a_bound_a_value_or_a_remark():
    assert words(1.5, 2.0) == "x: 1.5 mm, must be at most 2 mm"
    assert words(None) == "x: not measured"
    no_bound = {"label": "x", "found": {"value": 1.5, "unit": "mm"}, "comparison": "≤", "limit": {"value": None}}
    assert check_in_words(no_bound) == "x: 1.5 mm"
    assert check_in_words(no_bound | {"comparison": "the same"}) == "x: 1.5 mm"
    assert words(1.5, comparison="the same") == "x: 1.5 mm, must be the same"
    assert words(1.5, 2.0, remark="1.5 mm") == words(1.5, 2.0)
    assert words(1.5, 2.0, remark="cold") == words(1.5, 2.0) + "; cold"


# ------------------------------------------------------------------------------ progress
def progressed(**more):
    plain = {"steps": (StepNow(STEPS[0], DONE), StepNow(STEPS[1], OPEN)), "open_points": 0, "stale": 0, "closed": False}
    return Progress(**plain | more)


def test_what_closing_needs_in_words():
    last = "the root cause, and the signature"
    assert progressed().to_close == (f"{STEPS[1].title}: open", last)
    assert progressed(stale=1).to_close[1:] == ("1 entry is out of date", last)
    assert progressed(stale=2).to_close[1:] == ("2 entries are out of date", last)
    assert progressed(open_points=1).to_close[1:] == ("1 open point to decide", last)
    assert progressed(open_points=2).to_close[1:] == ("2 open points to decide", last)
    assert progressed(closed=True, stale=2).to_close == ()
    assert (progressed().done, progressed().next.step) == (1, STEPS[1])
    closing = next(s for s in STEPS if s.code == CLOSING)
    assert progressed(steps=(StepNow(closing, OPEN),)).missing == ()


def test_the_progress_as_text_begins_with_what_comes_next(monkeypatch):
    monkeypatch.setattr(job_progress, "progress", lambda _: progressed())
    assert job_progress.tell(job()) == [
        f"Next: {STEPS[1].title}",
        f"✓ {STEPS[0].title}: done",
        f"□ {STEPS[1].title}: open",
    ]
    monkeypatch.setattr(job_progress, "progress", lambda _: progressed(steps=(StepNow(STEPS[0], DONE),)))
    assert job_progress.tell(job())[0] == "Every step is done or skipped."


def test_a_strip_down_log_says_that_the_bolts_were_loosened():
    def state(rows, **more):
        log = entry(**{"form": "strip_log", "inputs": {"steps": rows}} | more)
        return job_progress._in_the_log(job(log), STEPS[0]).state

    loosened, other = {"step": job_progress.BOLTS, "state": "done"}, {"step": "cover off", "state": "done"}
    assert [state(x) for x in ([loosened], [other, loosened, "x"])] == [DONE, DONE]
    assert [state(x) for x in ([], None, [other], ["x"], [loosened | {"state": "not done"}])] == [OPEN] * 5
    assert [state([loosened], **x) for x in ({"kind": "note"}, {"form": "measurement"})] == [OPEN, OPEN]


def test_open_points_of_the_progress_are_those_that_somebody_decides(monkeypatch):
    points = [SimpleNamespace(status=s) for s in ("blank", "stale", "fail", "undecided", "overdue")]
    monkeypatch.setattr(job_progress, "open_points", lambda one: points)
    assert job_progress.progress(job(stale=("a",))).open_points == 3
    assert job_progress.progress(job(stale=("a",))).stale == 1


# ------------------------------------------------------------------------------ the text of a tick
def test_a_reading_and_its_peak():
    assert join_reading(" 40 N*m ", " 42 N*m ") == "40 N*m; peak 42 N*m"
    assert join_reading("40 N*m", " ") == "40 N*m"
    assert split_reading("40 N*m; peak 42 N*m") == ("40 N*m", "42 N*m")
    assert split_reading("40 N*m") == ("40 N*m", "")
    assert split_reading("; peak 42 N*m") == ("; peak 42 N*m", "")
    assert shown(f"{AS_PROGRAMME} (40 N·m)") == "to specification (40 N·m)"
    assert shown("40 N*m") == "40 N*m"
    assert {code_of_action(f" {said.upper()} ") for said in ACTIONS.values()} == set(ACTIONS)
    assert code_of_action("something else") == ""


@pytest.mark.parametrize(
    ("typed", "stage", "largest"),
    [
        (["4 %"], "40 N*m", "4 %"), (["±4 %", "2 N*m"], "40 N*m", "2 N*m"), (["4 %", "1 N*m"], "40 N*m", "4 %"), (["4 %"], "90 deg", ""),
        (["2 deg", "4 %"], "90 deg", "2 deg"), ([""], "40 N*m", ""), ([None], "40 N*m", ""), (["x %"], "40 N*m", ""), (["4 mm"], "40 N*m", ""),
        (["2,5 %"], "40 N*m", "2,5 %"), (["4%"], "40 N*m", "4%"), (["0 %"], "40 N*m", ""), (["4 %"], "loosen", ""), (["2 deg"], "loosen", ""), (["4 %", "1.6 N*m"], "40 N*m", "4 %"),
    ],
)  # fmt: skip
def test_the_largest_permitted_error_of_the_instruments_of_a_stage(typed, stage, largest):
    assert ticks._deviation_of(read_stage(stage), [{"deviation": t} for t in typed]) == largest


@pytest.mark.parametrize(
    ("content", "number", "found"),
    [({"stages": ["40 N*m", "+90 deg"]}, 1, "40 N·m"), ({"stages": ["40 N*m", "+90 deg"]}, 2, "+90°"), ({"stages": ["40 N*m"]}, 0, None),
     ({"stages": ["40 N*m"]}, 2, None), ({"stages": "40 N*m"}, 1, None), (None, 1, None), ({"stages": ["much"]}, 1, None)],
)  # fmt: skip
def test_a_stage_of_a_note(content, number, found):
    stage = stage_of(SimpleNamespace(content=content), number)
    assert (stage.shown if stage else None) == found


@pytest.mark.parametrize(
    ("value", "code"),
    [
        (AS_PROGRAMME, "stated"), (f"{AS_PROGRAMME} (40 N·m)", "stated"), (f"{AS_PROGRAMME} (41 N·m)", "undecided"), ("went soft", "fail"),
        ("did not loosen, broke", "fail"), ("40 N*m", "pass"), ("60 N*m", "fail"), ("much", "undecided"), (" 40 N*m; peak 42 N*m", "pass"),
    ],
)  # fmt: skip
def test_a_tick_is_judged_by_its_words_or_its_reading(value, code):
    stage = read_stage("38–42 N*m")
    assert ticks.judge(stage, "40 N·m", value, "page 3").code == code
    if code == "pass":
        assert ticks.judge(stage, "40 N·m", value).code == "no limit given"


def test_a_stage_without_a_value_is_stated():
    assert ticks.judge(read_stage("loosen"), "loosen", "done", "page 3").code == "stated"
