"""The outcomes of a job from its recalculated entries and its points: each rule at both of its sides."""

from types import SimpleNamespace

import pytest

from shoplib.record import outcomes
from shoplib.record.open_points import ACCEPTED, OPEN, RESOLVED, OpenPoint
from shoplib.record.outcomes import outcomes_of, overdue_uses


@pytest.fixture
def judged(monkeypatch):
    """``(together, as found, as left)`` of entries given as (outcome, condition) and of points."""

    def of(*entries, points=(), stale=(), damaged=(), **more):
        lines = [SimpleNamespace(n=k, uid=f"u{k}", kind="entry", condition=c) for k, (_, c) in enumerate(entries, 1)]
        worked = [{"line": k, "result": {"outcome": o}} | more for k, (o, _) in enumerate(entries, 1)]
        monkeypatch.setattr(outcomes, "all_points", lambda job: list(points))
        found = outcomes_of(SimpleNamespace(current_entries=lines, stale=stale, damaged=damaged), worked)
        return found.together, found.as_found, found.as_left

    return of


def tick(state, outcome):
    return OpenPoint("deviation", "turned too far", "line 9", "t", "tick/t", state, outcome=outcome)


@pytest.mark.parametrize(
    ("state", "outcome", "expected"),
    [
        (OPEN, "pass", "undecided"), (OPEN, "fail", "fail"), (OPEN, "undecided", "undecided"), (OPEN, "", "undecided"),
        (RESOLVED, "pass", "pass"), (RESOLVED, "fail", "fail"), (RESOLVED, "undecided", "undecided"),
        (ACCEPTED, "pass", "pass"), (ACCEPTED, "fail", "fail"), (ACCEPTED, "undecided", "undecided"),
        (RESOLVED, "", "pass"),
    ],
)  # fmt: skip
def test_a_tick_counts_by_its_reading_and_an_open_deviation_is_never_a_pass(judged, state, outcome, expected):
    assert judged(("pass", "as_left"), points=[tick(state, outcome)]) == (expected, None, expected)


@pytest.mark.parametrize(("key", "state", "expected"), [
    ("not ticked/p/1", OPEN, "undecided"), ("not ticked/p/1", ACCEPTED, "undecided"),
    ("look/t", OPEN, "undecided"), ("look/t", RESOLVED, "pass"), ("check/u/1", OPEN, "pass"),
])  # fmt: skip
def test_bolts_not_ticked_and_bolts_to_examine(judged, key, state, expected):
    point = OpenPoint("undecided", "…", "line 9", "t", key, state)
    assert judged(("pass", "as_left"), points=[point])[2] == expected


def test_ticks_say_nothing_of_what_was_found(judged):
    assert judged(("pass", "as_found"), points=[tick(OPEN, "fail")]) == ("fail", "pass", None)


@pytest.mark.parametrize(("state", "expected"), [(OPEN, "undecided"), (ACCEPTED, "pass")])
def test_a_reading_with_an_overdue_instrument_is_no_pass_until_somebody_accepts_it(judged, state, expected):
    overdue = OpenPoint("overdue", "calibration was due", "gauge", "u1", "calibration/g/u1", state)
    assert judged(("pass", "as_left"), points=[overdue])[2] == expected
    assert judged(("fail", "as_left"), points=[overdue])[2] == "fail"
    assert overdue_uses([overdue]) == ({"u1": "calibration was due"} if state == OPEN else {})


def test_an_instrument_that_was_not_used_or_another_point_makes_no_reading_doubtful():
    unused = OpenPoint("overdue", "calibration was due", "gauge", "", "calibration/g", OPEN)
    unlisted = OpenPoint("not listed", "…", "gauge", "u1", "instrument/u1/g", OPEN)
    assert overdue_uses([unused, unlisted]) == {}


@pytest.mark.parametrize(("outcome", "expected"), [("pass", "pass"), ("fail", "undecided"), ("undecided", "undecided")])
def test_an_entry_without_a_condition_makes_both_undecided_when_it_does_not_pass(judged, outcome, expected):
    together, found, left = judged(("pass", "as_found"), ("pass", "as_left"), (outcome, None))
    assert (together, found, left) == (outcome, expected, expected)


def test_what_was_not_judged_at_all_has_no_outcome(judged):
    assert judged(("no limit given", "as_found"))[2] is None
    assert judged() == (None, None, None)


@pytest.mark.parametrize("doubt", [{"stale": ["u1"]}, {"damaged": ["line 1"]}, {"why": "cannot be recalculated"}])
def test_values_that_cannot_be_relied_on_are_never_a_pass(judged, doubt):
    assert judged(("pass", "as_found"), ("pass", "as_left"), **doubt) == ("undecided",) * 3


def test_one_entry_that_cannot_be_recalculated_is_enough(judged, monkeypatch):
    monkeypatch.setattr(outcomes, "all_points", lambda job: [])
    job = SimpleNamespace(current_entries=[], stale=(), damaged=())
    worked = [{"line": 1, "result": {"outcome": "pass"}}, {"line": 2, "result": {}, "why": "damaged"}]
    assert outcomes_of(job, worked).together == "undecided"
