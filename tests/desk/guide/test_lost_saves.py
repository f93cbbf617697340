"""Saves that are lost, locked or made twice, and two kernels at one joint."""

import sqlite3

from shoplib.record.store import Store
from tests.desk.guide.helpers import enter, guide, job_ticks, kept_plan, tick


class Lost:
    """A store whose answer is lost after it has kept the tick: the line breaks once."""

    def __init__(self, store):
        self._store, self.broken = store, False

    def __getattr__(self, name):
        return getattr(self._store, name)

    def tick(self, *args, **more):
        kept = self._store.tick(*args, **more)
        if not self.broken:
            self.broken = True
            from shoplib.record.errors import Busy

            raise Busy("the record is held by another program")
        return kept


def test_a_lost_acknowledgement_is_sent_again_and_kept_once(store, desk, monkeypatch):
    kept_plan(store)
    made = guide()
    monkeypatch.setattr(desk, "_open", Lost(store))
    made.value.value = "40 N*m"
    made.done.click()
    assert "Not saved" in made.said.value
    assert made.value.value == "40 N*m"  # what was typed stays
    made.done.click()
    assert job_ticks(store) == [(1, "2", "40 N*m")]
    assert "already in the record" in made.said.value
    assert made.at == (1, "5")


def test_after_a_lost_acknowledgement_another_value_is_not_kept_over_it(store, desk, monkeypatch):
    kept_plan(store)
    made = guide()
    monkeypatch.setattr(desk, "_open", Lost(store))
    made.value.value = "40 N*m"
    made.done.click()
    made.value.value = "40.3 N*m"
    made.done.click()
    assert job_ticks(store) == [(1, "2", "40 N*m")]
    assert "already saved by" in made.said.value
    assert "correct it below" in made.said.value


def test_a_locked_record_is_said_in_words_and_nothing_is_lost(store, desk, tmp_path, monkeypatch):
    """A real lock, held by another connection, as an SQLite browser or a backup would hold it."""
    kept_plan(store)
    made = guide()
    with Store.open(tmp_path / "jobs.db", wait=0.1) as impatient:
        monkeypatch.setattr(desk, "_open", impatient)
        other = sqlite3.connect(tmp_path / "jobs.db", isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        made.value.value = "40 N*m"
        enter(made.value)
        assert "Not saved" in made.said.value
        assert "still here" in made.said.value
        assert (made.value.value, made.at) == ("40 N*m", (1, "2"))
        other.execute("ROLLBACK")
        other.close()
        enter(made.value)
        assert "saved" in made.said.value
    monkeypatch.setattr(desk, "_open", store)
    assert job_ticks(store) == [(1, "2", "40 N*m")]


def test_two_kernels_tick_the_same_joint(store, desk, tmp_path):
    uid = kept_plan(store)
    made = guide()
    with Store.open(tmp_path / "jobs.db") as other:
        tick(other, uid, 1, "2", "40 N*m")
        made.done.click()  # this screen still shows bolt 2
        assert "already ticked by AL" in made.said.value
        assert job_ticks(store) == [(1, "2", "40 N*m")]
        assert made.at == (1, "5")
        tick(other, uid, 1, "5")
        made.look.click()
        assert made.at == (1, "3")


def test_no_initials_no_tick(store, desk):
    kept_plan(store)
    made = guide(None)
    made.initials.value = ""
    made.done.click()
    assert "initials first" in made.said.value
    assert job_ticks(store) == []
