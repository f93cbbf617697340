"""A job that is read again: each stored line is compared, only what differs is parsed and hashed, nothing is missed."""

import contextlib
import sqlite3

import pytest

from shoplib.record import job as jobs
from shoplib.record.store import Store
from tests.record_fixtures import HEADER, NUMBER, protrusion

WHO = {"who": "A. Learner"}


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "jobs.db") as store:
        store.start(**HEADER)
        for _ in range(6):
            store.keep(NUMBER, protrusion(), **WHO)
        yield store


@pytest.fixture
def hashed(monkeypatch):
    """The numbers of the lines that are hashed from now on."""
    found, true = [], jobs.digest_of

    def counted(line, *rest):
        found.append(line.n)
        return true(line, *rest)

    monkeypatch.setattr(jobs, "digest_of", counted)
    return found


def by_hand(store, *statements):
    with contextlib.closing(sqlite3.connect(store.place)) as raw:
        for name in ("update", "delete"):
            raw.execute(f"DROP TRIGGER IF EXISTS line_no_{name}")
        for statement in statements:
            raw.execute(statement)
        raw.commit()


def fresh(store):
    with Store.open(store.place) as other:
        return other.job(NUMBER)


def test_only_new_lines_are_hashed(store, hashed):
    store.job(NUMBER)
    assert hashed == [1, 2, 3, 4, 5, 6, 7]
    hashed.clear()
    assert store.job(NUMBER) is store.job(NUMBER) and hashed == []
    store.keep(NUMBER, protrusion("0,60 mm"), **WHO)
    assert store.job(NUMBER) == fresh(store)
    assert hashed == [8, *range(1, 9)]  # the second number of lines is of the fresh store


@pytest.mark.parametrize("n", [1, 2, 4, 7])
@pytest.mark.parametrize(
    "change", ["body = replace(body, '0', '1')", "who = 'B. Other'", "at = '2026-01-01'", "digest = 'x'", "form = 'note'",
               "program = '9'", "uid = 'another-uid'", "kind = 'note'", "n = n + 100", "about = 1"],
)  # fmt: skip
def test_a_line_that_is_altered_meanwhile_is_found(store, n, change):
    assert store.job(NUMBER).damaged == ()
    by_hand(store, f"UPDATE line SET {change} WHERE n = {n}")
    again = store.job(NUMBER)
    assert again.damaged and again == fresh(store)
    assert store.job(NUMBER) == again  # and read once more


@pytest.mark.parametrize("n", [1, 3, 7])
def test_a_line_that_is_missing_meanwhile_is_found(store, n):
    store.job(NUMBER)
    by_hand(store, f"DELETE FROM line WHERE n = {n}")
    again = store.job(NUMBER)
    assert again == fresh(store) and len(again.lines) == 6
    assert bool(again.damaged) == (n < 7)  # a cut tail is found by check, not by the chain
    assert store.check() != []


def test_a_line_that_is_put_right_again_is_sound(store):
    store.job(NUMBER)
    by_hand(store, "UPDATE line SET who = 'B. Other' WHERE n = 3")
    assert store.job(NUMBER).damaged == ("line 3",)
    by_hand(store, "UPDATE line SET who = 'A. Learner' WHERE n = 3")
    assert store.job(NUMBER).damaged == () and store.job(NUMBER) == fresh(store)


def test_two_jobs_do_not_mix(store):
    store.start(**HEADER | {"number": "26-015"})
    for _ in range(2):
        assert [len(store.job(n).lines) for n in (NUMBER, "26-015")] == [7, 1]
        assert store.job(NUMBER).number == NUMBER
