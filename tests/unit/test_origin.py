"""Which kept results were typed again: proposed by dimension and value, never by a number alone."""

import pytest

from shoplib.record.origin import origins
from shoplib.record.store import Store
from shoplib.workings import get
from tests.stores import HEADER, NUMBER, protrusion

WHO = {"who": "A. Learner"}
BOLT = {"torque": "40 N*m", "thread": "M10x1.5", "mu_thread": "0.12", "mu_head": "0.12", "bearing_mean": "13 mm"}


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "jobs.db") as opened:
        opened.start(**HEADER)
        yield opened


def found(store, result):
    job = store.job(NUMBER)
    return [job.line(uid).n for uid in origins(job, result)]


def back(preload, **more):
    """A working that takes a preload."""
    return get("torque_from_preload")(
        **{**{k: v for k, v in BOLT.items() if k != "torque"}, "preload": preload, **more}
    )


@pytest.mark.parametrize(
    ("typed", "same"),
    [
        ("24.27 kN", True),  # as printed; the kept one is 24.26904… kN
        ("24,3 kN", True),
        ("24269 N", True),
        ("24.26 kN", False),
        ("24.2690 kN", True),
        ("24.2691 kN", False),
        ("24 kN", False),  # two digits prove nothing
        ("5456 lbf", True),
        ("−24.27 kN", False),
    ],
)
def test_a_printed_result_typed_again_is_known(store, typed, same):
    store.keep(NUMBER, get("preload_from_torque")(BOLT), **WHO)
    try:
        result = back(typed)
    except ValueError:
        assert not same  # refused at the door
        return
    assert found(store, result) == ([2] if same else [])


def read(value):
    """A reading of any kind."""
    return get("measurement")(what="Load on the test ring", where="bench", value=value)


def test_another_dimension_or_nothing_in_common_is_not_proposed(store):
    store.keep(NUMBER, read("24.27 mm"), **WHO)
    assert found(store, back("24.27 kN")) == []
    store.keep(NUMBER, read("24.27 kN"), **WHO)
    assert found(store, back("24.27 kN")) == [3]
    assert found(store, back("24270 N")) == [3]
    assert found(store, back("24.28 kN")) == []


def test_what_no_longer_stands_is_not_proposed(store):
    first = store.keep(NUMBER, read("24.27 kN"), **WHO)
    better = store.correct(NUMBER, first.uid, read("25.27 kN"), because="misread", **WHO)
    assert found(store, back("24.27 kN")) == []
    assert found(store, back("25.27 kN")) == [better.n]


def test_two_digits_must_be_equal_and_have_a_unit(store):
    store.keep(NUMBER, read("24 kN"), **WHO)
    assert found(store, back("24 kN")) == [2]
    assert found(store, back("24.1 kN")) == []


def test_two_equal_readings_are_two_readings(store):
    store.keep(NUMBER, protrusion("0.127 mm"), **WHO)
    assert found(store, protrusion("0.127 mm")) == []


@pytest.mark.parametrize(
    "results",
    [
        None,
        {},
        {"x": 3},
        {"x": {"value": "a", "unit": "mm"}},
        {"x": {"value": None, "unit": 7}},
        {"x": {"value": [[{"value": {"value": 1}}]], "unit": "nonsense"}},
    ],
)
def test_a_strange_result_of_a_foreign_record_breaks_nothing(store, results):
    from shoplib.record.job import Job, Line

    line = Line(1, "aaaaaaaa", "entry", None, "x", "A", "2026-11-25", "1", {"result": {"results": results}}, "")
    assert origins(Job("j", (line,)), back("24 kN")) == []
