"""Loosening in the guide: the same state machine, backwards or in the order of the source, each press a line."""

import pytest

from shoplib.core.errors import BadInput
from shoplib.desk.widgets.tightening_guide import Guide
from shoplib.record.job_progress import BEGUN, DONE, OPEN, progress
from shoplib.record.open_points import open_points
from shoplib.record.store import Store
from shoplib.record.suggestions import suggest
from shoplib.record.ticks import ACTIONS, LOOSENING_PLAN, REOPENING, STOPPED
from shoplib.record.tightening import plans, progress_of
from shoplib.sheet.tightening_grid import grids
from shoplib.topics import get
from shoplib.topics.job_steps import LOOSENING
from tests.record_fixtures import HEADER, NUMBER

SOURCE = "teaching workshop, bench notes, sheet 4"
PLACES = [("1", 0, 0), ("2", 100, 0), ("3", 200, 0), ("4", 0, 90), ("5", 100, 90), ("6", 200, 90)]
ORDER = ("2", "5", "3", "4", "1", "6")
INPUTS = {
    "positions": [{"name": n, "x": f"{x} mm", "y": f"{y} mm"} for n, x, y in PLACES],
    "order": "; ".join(ORDER),
    "order_source": SOURCE,
    "pass_count": "2",
}


def plan(**more):
    return get(LOOSENING_PLAN)({**INPUTS, **more})


@pytest.fixture
def store(tmp_path, monkeypatch):
    """A job with a loosening plan; it is today's job of this desk."""
    from shoplib.desk.widgets.session import session

    with Store.open(tmp_path / "jobs.db") as opened:
        opened.start(**HEADER)
        opened.keep(NUMBER, plan(part_turn="90 deg"), who="A. Learner")
        session.close()
        monkeypatch.setattr(session, "_open", opened)
        session.number = NUMBER
        yield opened
        monkeypatch.setattr(session, "_open", None)
        session.close()


@pytest.fixture
def guide(store):
    made = Guide(LOOSENING_PLAN, quiet=0)
    made.initials.value = "AL"
    return made


def now(store):
    job = store.job(NUMBER)
    return progress_of(job, plans(job, LOOSENING_PLAN)[0].uid)


# ------------------------------------------------------------------------------ the plan
def test_each_pass_goes_backwards_through_the_tightening_order():
    result = plan()
    assert result.plot_data["sequence"] == tuple((n, b) for n in (1, 2) for b in reversed(ORDER))
    assert any("reverse" in a for a in result.assumptions)


def test_the_order_of_the_source_comes_before_the_reverse():
    result = plan(loosening="1 6 4 3 5 2", pass_count="1")
    assert [b for _, b in result.plot_data["sequence"]] == ["1", "6", "4", "3", "5", "2"]
    assert result["order_is"] == "the maker's, as typed"


def test_without_any_order_it_says_that_it_is_not_the_makers():
    assert "not the maker's" in plan(order=None, order_source=None)["order_is"]


@pytest.mark.parametrize(("wrong", "field"), [
    ({"pass_count": "0"}, "pass_count"), ({"loosening": "1 6 4 3 5"}, "loosening"), ({"order": "1; 2; 9"}, "order"),
    ({"part_turn": "-90 deg"}, "part_turn"),
])  # fmt: skip
def test_what_cannot_be_is_refused_at_its_field(wrong, field):
    with pytest.raises(BadInput) as told:
        plan(**wrong)
    assert field in {p.field for p in told.value.problems}


# ------------------------------------------------------------------------------ in the guide
def test_bolt_by_bolt_and_each_press_is_a_line(store, guide):
    assert [s.do for s in now(store).stages] == ["Loosen by 90°", "Loosen it fully"]
    assert guide.at == (1, "6")
    before = len(store.job(NUMBER).lines)
    for _ in range(12):
        guide.done.click()
    lines = store.job(NUMBER).lines[before:]
    assert [(x.kind, x.body["stage"], x.body["bolt"]) for x in lines] == [
        ("tick", n, b) for n in (1, 2) for b in reversed(ORDER)
    ]
    assert guide.text() == "All 12 done."


def test_it_stops_at_a_bolt_that_broke_until_somebody_decides(store, guide):
    guide.done.click()
    guide.soft.click()
    assert [b.description for b in guide.reason_chips.children] == ["seized", "broke off", "its head is rounded"]
    guide.reason.value, guide.action.value = "broke off", guide.action_chips.children[0].description
    guide.record.click()
    assert now(store).deviations[0].deviation == "did not loosen"
    assert now(store).deviations[0].line.body["action_code"] == STOPPED
    assert guide.holding
    assert guide.at == (1, "1")
    assert [b.layout.display for b in (guide.held.new_bolt, guide.held.loosen)] == ["none", "none"]
    guide.done.click()
    assert len(now(store).ticked) == 2, "nothing goes on before the decision"
    guide.held.because.value, guide.held.by.value = "stud to be drilled out", "B. Master"
    guide.held.go_on.click()
    assert guide.at == (1, "4")


def test_no_answer_offers_a_new_bolt_or_to_tighten_again(store, guide):
    guide.value.value = "120 deg"
    guide.done.click()
    guide.done.click()
    offered = [b.description for b in guide.action_chips.children]
    assert offered
    assert not {ACTIONS[code] for code in REOPENING} & set(offered)


def test_the_tightening_guide_does_not_take_a_loosening_plan(store):
    assert "tightening plan" in Guide(quiet=0).text()


# ------------------------------------------------------------------------------ in the job
def step(store):
    return next(s for s in progress(store.job(NUMBER)).steps if s.step.code == LOOSENING)


def test_the_job_tells_how_far_the_loosening_is(store, guide):
    assert step(store).state == OPEN
    assert len([p for p in open_points(store.job(NUMBER)) if p.status == "not ticked"]) == 2
    guide.done.click()
    assert (step(store).state, step(store).what) == (BEGUN, "1 of 12 ticked")
    for _ in range(11):
        guide.done.click()
    assert step(store).state == DONE
    assert not [p for p in open_points(store.job(NUMBER)) if p.status == "not ticked"]
    (grid,) = grids(store.job(NUMBER)).values()
    assert (len(grid["rows"]), len(grid["stages"]), grid["missing"]) == (6, 2, 0)


def test_without_a_plan_the_strip_down_log_says_that_the_bolts_were_loosened(tmp_path):
    with Store.open(tmp_path / "jobs.db") as store:
        store.start(**HEADER)
        assert step(store).state == OPEN
        log = {"steps": [{"step": "head bolts loosened"}]}
        store.keep(NUMBER, get("strip_log")(log), who="A. Learner")
        assert step(store).state == OPEN, "a step without a state is open"
        log["steps"][0]["state"] = "done"
        store.keep(NUMBER, get("strip_log")(log), who="A. Learner")
        assert step(store).state == DONE


def test_the_engine_card_fills_the_plan(tmp_path):
    with Store.open(tmp_path / "jobs.db") as store:
        store.start(**HEADER)
        card = {k: v for k, v in INPUTS.items() if k != "pass_count"}
        store.keep(NUMBER, get("engine_card")(
            {**card, "engine": "invented", "loosening_passes": "3", "loosening_turn": "90 deg"}), who="A. Learner")  # fmt: skip
        offered = suggest(store.job(NUMBER), get(LOOSENING_PLAN))
        assert {"positions", "order", "order_source", "pass_count", "part_turn"} <= set(offered)
        result = get(LOOSENING_PLAN)({k: s.value for k, s in offered.items()})
        assert result["total"] == 18
