"""PostgreSQL: the role that writes cannot change or remove what was saved; the owner is warned, and TRUNCATE refused."""

import contextlib
import io
import logging
import sqlite3
import uuid

import pytest
import sqlalchemy as sa
from PIL import Image

from shoplib import cli
from shoplib.core.errors import BadInput
from shoplib.desk.widgets.session import Session
from shoplib.record import roles, schema
from shoplib.record.errors import ReadOnly, Refused
from shoplib.record.store import Store, new_id
from tests.record.roles import as_role
from tests.record_fixtures import HEADER, NUMBER, fresh, programme, protrusion, started


@pytest.fixture
def place(tmp_path):
    with fresh("postgres", tmp_path) as where:
        yield where


@pytest.fixture
def names(place):
    """Two roles that no other test has, and that go at the end."""
    import psycopg

    tail = uuid.uuid4().hex[:8]
    found = {"owner": f"o_{tail}", "writer": f"w_{tail}"}
    yield found
    with psycopg.connect(place, autocommit=True) as admin:
        for name in found.values():
            with contextlib.suppress(psycopg.errors.UndefinedObject):
                admin.execute(f"REASSIGN OWNED BY {name} TO CURRENT_USER")
                admin.execute(f"DROP OWNED BY {name}")
                admin.execute(f"DROP ROLE {name}")


def work(store):
    """Everything that a desk does."""
    entry = store.keep(NUMBER, protrusion(), who="A. Learner")
    out = io.BytesIO()
    Image.linear_gradient("L").resize((90, 60)).convert("RGB").save(out, "JPEG")
    store.attach(NUMBER, entry.uid, out.getvalue(), who="A. Learner")
    plan = programme(store)
    store.tick(NUMBER, programme=plan, stage=1, bolt="1", value="40 N·m", initials="AL", uid=new_id())
    store.amend(NUMBER, who="A. Learner", complaint="leaks")
    store.save_draft("thread", {"a": 1}, number=NUMBER, desk="x")
    store.save_draft("thread", {"a": 2}, number=NUMBER, desk="x")
    store.drop_draft("thread", number=NUMBER, desk="x")
    assert store.check() == []


FORBIDDEN = [
    "TRUNCATE line CASCADE", "TRUNCATE job CASCADE", "TRUNCATE ledger", "TRUNCATE picture", "TRUNCATE draft",
    "DELETE FROM line", "UPDATE line SET who = 'x'", "DELETE FROM picture", "DELETE FROM ledger",
    "UPDATE ledger SET number = 'x'", "DELETE FROM job", "UPDATE job SET uid = 'x'", "UPDATE store SET value = '9'",
    "DROP TABLE draft", "DROP TRIGGER line_no_delete ON line", "ALTER TABLE line DISABLE TRIGGER ALL",
    "SET session_replication_role = replica", "CREATE TABLE mine (x int)", "ALTER TABLE line ADD COLUMN x int",
    "CREATE OR REPLACE FUNCTION shoplib_append_only() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN OLD; END'",
]  # fmt: skip


def test_the_writer_adds_and_cannot_change_or_remove(place, names):
    roles.make_roles(place, **names)
    roles.make_roles(place, **names)  # once more changes nothing
    with Store.open(as_role(place, names["writer"])) as store:
        assert store.caution == ""
        store.start(**HEADER)
        work(store)
        for statement in FORBIDDEN:
            with (
                pytest.raises(sa.exc.ProgrammingError, match=r"permission denied|must be owner"),
                store._engine.begin() as c,
            ):
                c.exec_driver_sql(statement)
        assert store.check() == []


@pytest.mark.parametrize("table", ["line", "picture", "ledger", "job"])
def test_truncate_is_refused_to_the_owner_too(place, table):
    with started(place) as store:
        work(store)
        with pytest.raises(sa.exc.DBAPIError, match="append-only"), store._engine.begin() as c:
            c.exec_driver_sql(f"TRUNCATE {table} CASCADE")
        assert store.check() == []


def test_a_start_as_owner_warns(place, monkeypatch, capsys, caplog):
    monkeypatch.setenv("SHOPLIB_STORE", place)
    with Store.open(place) as store:
        assert "owns the tables of the record, or is a superuser" in store.caution
    assert cli.main(["store", "check"]) == 0
    said = capsys.readouterr()
    assert "can delete saved lines" in said.err
    assert "last hash: " in said.out
    session = Session()
    try:
        with caplog.at_level(logging.WARNING, "shoplib"):
            session.store()
    finally:
        session.close()
    assert "can delete saved lines" in caplog.text


def test_one_command_makes_the_roles(place, names, monkeypatch, capsys):
    monkeypatch.setenv("SHOPLIB_STORE", place)
    assert cli.main(["store", "roles", "--owner", names["owner"], "--writer", names["writer"]]) == 0
    assert f"{names['writer']} adds lines and cannot change or remove them" in capsys.readouterr().out
    monkeypatch.setenv("SHOPLIB_STORE", as_role(place, names["writer"]))
    assert cli.main(["store", "check"]) == 0
    assert capsys.readouterr().err == ""


def test_older_tables_are_for_their_owner_to_bring_up_to_date(place, names, monkeypatch):
    roles.make_roles(place, **names)
    after = schema.VERSION + 1
    monkeypatch.setattr(schema, "VERSION", after)
    monkeypatch.setitem(schema.STEPS, after - 1, lambda c: c.exec_driver_sql("ALTER TABLE job ADD COLUMN bay TEXT"))
    with pytest.raises(ReadOnly, match=r"older version.*shoplib store roles"):
        Store.open(as_role(place, names["writer"]))
    roles.make_roles(place, **names)
    with Store.open(as_role(place, names["writer"])) as store:
        store.start(**HEADER)


def test_roles_that_would_help_nobody_are_refused(place, names, tmp_path):
    with pytest.raises(BadInput) as error:
        roles.make_roles(place, owner="a b", writer='x"; DROP')
    assert {p.field for p in error.value.problems} == {"owner", "writer"}
    with pytest.raises(BadInput):
        roles.make_roles(place, owner="same", writer="same")
    with pytest.raises(Refused, match="superuser"):
        roles.make_roles(place, owner=names["owner"], writer="postgres")
    with pytest.raises(Refused, match="PostgreSQL"):
        roles.make_roles(tmp_path / "jobs.db")


def test_check_from_the_command_line_names_the_damage(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "jobs.db"))
    started(tmp_path / "jobs.db").close()
    assert cli.main(["store", "check"]) == 0
    assert "lines: 1; last hash: " in capsys.readouterr().out
    with contextlib.closing(sqlite3.connect(tmp_path / "jobs.db")) as other, other:
        other.execute("UPDATE job SET engine = 'Another'")
    assert cli.main(["store", "check"]) == 1
    assert "job 26-014: engine in the list of jobs was altered" in capsys.readouterr().err
