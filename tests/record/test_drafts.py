"""Drafts belong to a desk, a job and a form; those of version 0.1.0 come back."""

import shutil
import sqlite3
from pathlib import Path

import platformdirs
import pytest
import sqlalchemy as sa

from shoplib.desk.widgets.session import Session, _short, desk
from shoplib.record import schema
from shoplib.record.store import Store
from tests.record_fixtures import KINDS, NUMBER, fresh, started

OLD = Path(__file__).parents[1] / "archive" / "0.1.0" / "databases" / "jobs.db"


@pytest.fixture(params=KINDS)
def store(request, tmp_path):
    with fresh(request.param, tmp_path) as where, started(where) as opened:
        yield opened


def test_two_desks_with_one_job_do_not_overwrite_each_other(store):
    store.save_draft("thread", {"thread": "M10"}, number=NUMBER, desk="bench 1")
    store.save_draft("thread", {"thread": "M12"}, number=NUMBER, desk="bench 2")
    assert store.draft("thread", number=NUMBER, desk="bench 1").inputs == {"thread": "M10"}
    assert store.draft("thread", number=NUMBER, desk="bench 2").inputs == {"thread": "M12"}
    assert store.draft("thread", number=NUMBER, desk="bench 3") is None
    assert store.draft("thread", desk="bench 1") is None  # of no job
    store.drop_draft("thread", number=NUMBER, desk="bench 1")
    assert store.drafts(number=NUMBER, desk="bench 1") == {}
    assert store.drafts(number=NUMBER, desk="bench 2").keys() == {"thread"}


def test_the_table_of_drafts_names_no_desk(store):
    """Whoever reads the table learns no name with which to ask for the drafts of another desk."""
    store.save_draft("thread", {}, number=NUMBER, desk="bench 1")
    with store._reading() as c:
        (name,) = c.scalars(sa.select(schema.draft.c.desk)).all()
    assert "bench" not in name
    assert store.draft("thread", number=NUMBER, desk=name) is None


def test_a_desk_cannot_be_read_by_giving_its_name(tmp_path, monkeypatch):
    """The name alone is not enough: the desk's own key, in its user's data folder, is part of it."""
    found = []
    for user in ("one", "two"):
        monkeypatch.setattr(platformdirs, "user_data_dir", lambda *_, user=user, **__: str(tmp_path / user))
        monkeypatch.setenv("SHOPLIB_DESK", "bench 1")
        found.append(desk())
        assert desk() == found[-1]
        assert (tmp_path / user / "desk").stat().st_mode & 0o077 == 0
        assert not list((tmp_path / user).glob("*.part"))
    assert found[0] != found[1]


def as_of_0_1_0(path, scope, inputs):
    """A store of version 0.1.0 with one draft more."""
    shutil.copy(OLD, path)
    path.chmod(0o600)
    connection = sqlite3.connect(path)
    with connection:
        connection.execute("INSERT INTO draft VALUES (?, 'thread', ?, '2026-11-25T10:00:00.000Z')", (scope, inputs))
        uid, number = connection.execute("SELECT uid, number FROM job ORDER BY id").fetchone()
        connection.execute("INSERT INTO draft VALUES (?, 'angle', ?, '2026-11-25T10:00:00.000Z')", (uid, inputs))
    connection.close()
    return number


def test_old_drafts_come_back(tmp_path, monkeypatch):
    monkeypatch.setattr(platformdirs, "user_data_dir", lambda *_, **__: str(tmp_path / "user"))
    monkeypatch.setenv("SHOPLIB_DESK", "bench 1")
    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "jobs.db"))
    number = as_of_0_1_0(tmp_path / "jobs.db", f"@{_short('bench 1')}", '{"thread": "M8"}')
    session = Session()
    try:
        store = session.store()
        assert store.draft("thread", desk=desk()).inputs == {"thread": "M8"}
        assert store.draft("thread", desk=_short("bench 1")) is None  # no longer by the name alone
        # a draft of a job did not say whose it was: it comes back where there is none yet
        assert store.draft("angle", number=number, desk=desk()).inputs == {"thread": "M8"}
        assert store.draft("angle", number=number, desk="another").inputs == {"thread": "M8"}
        store.save_draft("angle", {"thread": "M9"}, number=number, desk=desk())
        assert store.draft("angle", number=number, desk=desk()).inputs == {"thread": "M9"}
        store.drop_draft("angle", number=number, desk=desk())
        assert store.draft("angle", number=number, desk=desk()) is None
    finally:
        session.close()


def test_a_random_desk_of_0_1_0_keeps_its_drafts(tmp_path, monkeypatch):
    monkeypatch.setattr(platformdirs, "user_data_dir", lambda *_, **__: str(tmp_path))
    monkeypatch.delenv("SHOPLIB_DESK", raising=False)
    monkeypatch.delenv("JUPYTERHUB_USER", raising=False)
    (tmp_path / "desk").write_text("0123456789abcdef" * 2)
    (tmp_path / "desk").chmod(0o644)
    as_of_0_1_0(tmp_path / "jobs.db", "@" + "0123456789abcdef" * 2, '{"thread": "M8"}')
    with Store.open(tmp_path / "jobs.db") as store:
        assert store.draft("thread", desk=desk()).inputs == {"thread": "M8"}
        assert store.check() == []
    assert (tmp_path / "desk").stat().st_mode & 0o077 == 0
