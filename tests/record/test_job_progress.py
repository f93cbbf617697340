"""The progress of a job: done, begun, open, skipped; what is next; what closing needs.  And the card as a file."""

import datetime
import html
import json
import uuid

import pytest

from shoplib.core.errors import BadInput
from shoplib.core.paths import NOTEBOOKS
from shoplib.desk.widgets.engine_card import EngineCard
from shoplib.desk.widgets.job_desk import JobDesk
from shoplib.desk.widgets.job_progress import JobProgress
from shoplib.desk.widgets.session import session
from shoplib.record.card_file import from_file, to_file
from shoplib.record.errors import NotAJob
from shoplib.record.job_progress import progress, skip, tell
from shoplib.record.sample_job import invented_job
from shoplib.topics import all_workings, get
from shoplib.topics.job_steps import BY_CODE, STEPS
from tests.desk.guide.helpers import ORDER, plan
from tests.record_fixtures import HEADER, NUMBER

MOMENT = datetime.datetime(2026, 11, 28, tzinfo=datetime.UTC)
HOLD = {"start": "90 kPa", "end": "89 kPa", "minutes": "15 min"}
CARD = {"engine": "pump engine", "coolant_capacity": "6,0 L", "glycol": "ethylene", "order": "2; 1",
        "positions": [{"name": "1", "x": "0 mm", "y": "0 mm"}, {"name": "2", "x": "90 mm", "y": "0 mm"}]}  # fmt: skip


@pytest.fixture
def store():
    store = session.store()
    store.start(**HEADER)
    session.number, session.who = NUMBER, "A. Learner"
    return store


def now(store):
    return {s.step.code: s for s in progress(store.job(NUMBER)).steps}


def hold(store, **more):
    return store.keep(NUMBER, get("pressure_hold")(HOLD), who="A. Learner", **more)


# ------------------------------------------------------------------------------ the declaration
def test_every_step_has_a_notebook_with_its_form_and_known_workings():
    assert len(BY_CODE) == len(STEPS)
    for step in STEPS:
        source = (NOTEBOOKS / step.notebook).read_text(encoding="utf-8")
        assert set(step.workings) <= set(all_workings())
        assert not step.workings or any(f'\\"{w}\\"' in source or "EngineCard(" in source for w in step.workings)


# ------------------------------------------------------------------------------ states
def test_a_new_job_has_everything_open_and_the_first_step_next(store):
    found = progress(store.job(NUMBER))
    assert {s.state for s in found.steps} == {"open"}
    assert found.next.step is STEPS[0]
    assert found.to_close[-1] == "the root cause, and the signature"
    assert len(found.missing) == len(STEPS) - 1


def test_a_test_before_and_after_the_repair_is_two_steps(store):
    hold(store)
    assert (now(store)["hold"].state, now(store)["hold_after"].state) == ("done", "open")
    hold(store, condition="as_left")
    assert now(store)["hold_after"].state == "done"
    assert now(store)["hold_after"].outcome == "undecided"


def test_the_worst_outcome_of_several_entries_counts(store):
    limit = {"limit": "0.5 kPa", "limit_source": "page 9", "start_temperature": "18.0 degC",
             "end_temperature": "18.0 degC", "hold_minutes": "15 min", "hold_minutes_source": "page 9"}  # fmt: skip
    hold(store)
    store.keep(NUMBER, get("pressure_hold")(HOLD | limit | {"end": "80 kPa"}), who="A")
    hold(store)
    assert (now(store)["hold"].outcome, now(store)["hold"].what) == ("fail", "3 entries")


def test_a_stale_step_is_not_done(store):
    first = store.keep(NUMBER, get("measurement")(what="a", where="b", value="1 mm"), who="A")
    hold(store, sources=[first.uid])
    store.strike(NUMBER, first.uid, who="A", because="wrong job")
    assert now(store)["hold"].state == "out of date"
    assert progress(store.job(NUMBER)).stale == 1


def test_tightening_is_begun_until_the_last_tick(store):
    uid = store.keep(NUMBER, plan(), who="A. Learner").uid
    assert (now(store)["plan"].state, now(store)["tightening"].state) == ("done", "open")
    for stage in (1, 2):
        for bolt in ORDER:
            assert now(store)["tightening"].state != "done"
            store.tick(NUMBER, programme=uid, stage=stage, bolt=bolt, value="as the programme says", initials="AL",
                       uid=uuid.uuid4().hex)  # fmt: skip
    assert now(store)["tightening"].state == "done"


# ------------------------------------------------------------------------------ skipping
def test_a_step_is_skipped_with_a_reason_and_the_next_one_comes(store):
    with pytest.raises(BadInput):
        skip(store, NUMBER, "card", who="A. Learner", because=" ")
    kept = skip(store, NUMBER, "card", who="A. Learner", because="one-off engine")
    found = now(store)["card"]
    assert (found.state, found.what) == ("skipped", "one-off engine (A. Learner)")
    assert progress(store.job(NUMBER)).next.step is STEPS[1]
    assert "– Engine card: skipped, one-off engine (A. Learner)" in tell(store.job(NUMBER))
    store.strike(NUMBER, kept.uid, who="A. Learner", because="the card is here now")
    assert now(store)["card"].state == "open"


def test_work_done_after_it_was_skipped_counts(store):
    skip(store, NUMBER, "hold", who="A. Learner", because="no pump")
    hold(store)
    assert now(store)["hold"].state == "done"


def test_the_invented_job_shows_what_was_never_done():
    with invented_job() as (other, number):
        found = progress(other.job(number))
    open_ = [s.step.code for s in found.steps if s.state == "open"]
    assert {"gas", "oil", "recheck"} <= set(open_)
    assert found.closed
    assert found.to_close == ()


# ------------------------------------------------------------------------------ on the screen
def test_the_screen_shows_the_next_step_and_skips_one(store):
    shown = JobProgress()
    shown.look()
    page = shown.page
    assert 'href="01-engine-card.ipynb"' in page.steps.value
    assert f"0 of {len(STEPS)}" in page.steps.value
    assert page.more.layout.display == "none"
    page.which.value = "gas"
    page.go.click()
    assert page.boxes["because"].error.value
    assert now(store)["gas"].state == "open"
    page.boxes["because"].box.value = "<b>no tester</b>"
    page.go.click()
    assert now(store)["gas"].state == "skipped"
    assert "<b>no tester" not in page.steps.value
    assert "no tester" in page.steps.value
    page.which.value = "gas"
    assert page.go.description == "Do it after all"
    page.boxes["because"].box.value = "tester borrowed"
    page.go.click()
    assert now(store)["gas"].state == "open"


def test_without_a_job_it_says_where_to_start_one():
    shown = JobProgress()
    shown.look()
    assert shown.page.layout.display == "none"
    assert "Today's job" in html.unescape(shown.none.value)


def test_with_a_job_it_does_not(store):
    shown = JobProgress()
    shown.look()
    assert shown.none.value == ""


def test_the_desk_says_before_closing_what_was_not_done(store):
    desk = JobDesk()
    desk.go_to("hand")
    assert "Recheck after cooling" in desk.pages["hand"].state.value
    desk.go_to("progress")
    assert "Engine card" in desk.pages["progress"].steps.value


# ------------------------------------------------------------------------------ the card as a file
def test_a_card_goes_through_a_file_unchanged(store):
    raw = to_file(CARD)
    assert from_file(raw) == CARD
    shown = EngineCard()
    shown.form.keeping.activate()
    shown.file.set_trait(
        "value",
        ({"name": "card.json", "type": "application/json", "size": len(raw), "last_modified": MOMENT, "content": raw},),
    )
    shown.open_file()
    assert {n: x.typed for n, x in shown.form.entries.items() if x.typed is not None} == CARD
    assert "engine_card" not in {x.form for x in store.job(NUMBER).lines}, "opening a file saves nothing"
    shown.save_file()
    assert "engine-card-pump-engine.json" in shown.said.value


@pytest.mark.parametrize("raw", [b"", b"[]", b"{}", b"\xff\xfe", b'{"schema": "shoplib-engine-card/1"}',
                                 json.dumps({"schema": "shoplib-job/1", "card": {}}).encode(), b"[" * 100_000])  # fmt: skip
def test_a_file_that_is_no_card_is_refused(raw):
    with pytest.raises((NotAJob, BadInput)):
        from_file(raw)


@pytest.mark.parametrize(
    ("card", "field"),
    [({"engine": "x", "coolant_capacity": "6"}, "coolant_capacity"), ({"engine": "x", "secret": "1"}, "secret"),
     ({"engine": "a\u202eb"}, "card.engine"), ({"engine": "x", "positions": "../../etc/passwd.csv"}, "positions")],
)  # fmt: skip
def test_every_bad_value_of_a_card_is_named(card, field):
    with pytest.raises(BadInput) as error:
        from_file(to_file(card))
    assert field in {p.field for p in error.value.problems}
