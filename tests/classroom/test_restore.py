"""The restore drill of binder/hub/README.md: back up, lose everything, restore, and prove that everything is there."""

import contextlib
import hashlib
import io
import os
import shutil
import subprocess
import uuid

import pytest
import sqlalchemy as sa
from PIL import Image

from shoplib import cli
from shoplib.classroom import borders, marking, results
from shoplib.classroom.classes import Answer, Classroom
from shoplib.classroom.people import Person
from shoplib.record import class_tables, schema
from shoplib.record.store import Store, new_id
from tests.record_fixtures import HEADER, NUMBER, programme, protrusion, server, started

TEACHER, A, B = Person("teacher", "T.", "instructor"), Person("a", "A."), Person("b", "B.")
ITEM = "clamp_of_a_torque"


def fill(where):
    """A job with every kind of line, and a class with answers, a mark and a comment."""
    with started(where) as store:
        entry = store.keep(NUMBER, protrusion(), who="A. Learner")
        photograph = io.BytesIO()
        Image.linear_gradient("L").resize((300, 200)).convert("RGB").save(photograph, "JPEG")
        store.attach(NUMBER, entry.uid, photograph.getvalue(), who="A. Learner")
        plan = programme(store)
        store.tick(NUMBER, programme=plan, stage=1, bolt="1", value="40 N·m", initials="AL", uid=new_id())
        store.issue(NUMBER, who="A. Learner")
        store.save_draft("thread", {"thread": "M10"}, number=NUMBER, desk="bench 1")
    with Classroom.open(where) as room:
        of = room.new_class("Spring", who="teacher")
        room.enrol(of, [TEACHER, A, B], who="teacher")
        room.assign(of, "topic", "preload", who="teacher")
        for login in ("a", "b"):
            (task,) = room.tasks(login)
            room.keep(task, [Answer(ITEM, "1 kN", seconds=7), Answer(ITEM, "")])
        entry, *_ = results.entries(room, of)
        change = results.Change(entry, marking.Marked("right", rule="corrected"))
        results.keep(room, results.Regrade(of, 1, (change,), ()), who="teacher", because="the rule was wrong")
        room.comment(of, "a", "Look at the pitch.", who="teacher")


def everything(where):
    """Of each table: how many rows, and a hash over all of them."""
    found = {}
    with Store.open(where) as store, store._reading() as c:
        for name, table in {**schema.metadata.tables, **class_tables.metadata.tables}.items():
            rows = sorted(map(repr, c.execute(sa.select(table)).all()))
            found[name] = len(rows), hashlib.sha256("\n".join(rows).encode()).hexdigest()
    assert all(count for count, _ in found.values()), found  # an empty table proves nothing
    return found


def checked(where, monkeypatch, capsys):
    """What ``shoplib store check`` prints: the number of lines and the last hash of the chain."""
    monkeypatch.setenv("SHOPLIB_STORE", where)
    assert cli.main(["store", "check"]) == 0
    return capsys.readouterr().out


def goes_on(where):
    """The restored record takes new lines, answers and marks."""
    with Store.open(where) as store:
        before = len(store.job(NUMBER).lines)
        assert store.keep(NUMBER, protrusion(), who="A. Learner").n == before + 1
        store.start(**{**HEADER, "number": "after the restore"})
        assert store.check() == []
    with Classroom.open(where) as room:
        (task,) = room.tasks("b")
        room.keep(task, [Answer(ITEM, "2 kN")])
        assert [e.typed for e in results.entries(room, task.of, "b")] == ["1 kN", "", "2 kN"]


def test_an_sqlite_record_is_copied_lost_and_restored(tmp_path, monkeypatch, capsys):
    record, copy = tmp_path / "jobs.db", tmp_path / "safe" / "record.db"
    copy.parent.mkdir()
    fill(record)
    with Store.open(record) as at_work:  # another desk has it open: part of it is still in the log
        at_work.keep(NUMBER, protrusion(), who="A. Learner")
        monkeypatch.setenv("SHOPLIB_STORE", str(record))
        assert cli.main(["store", "copy", str(copy)]) == 0
        before, said = everything(record), checked(str(record), monkeypatch, capsys)
        assert cli.main(["store", "copy", str(copy)]) == 2  # never over an existing file
        assert "already exists" in capsys.readouterr().err
    for path in tmp_path.glob("jobs.db*"):
        path.unlink()
    shutil.copy(copy, record)
    assert everything(record) == before
    assert checked(str(record), monkeypatch, capsys).splitlines()[-1] in said
    goes_on(record)


def tool(name, *arguments, **more):
    """A program of PostgreSQL; what it prints."""
    found = shutil.which(name)
    if found is None:
        (pytest.fail if os.environ.get("SHOPLIB_REQUIRE_POSTGRES") else pytest.skip)(f"{name} is not on the path")
    ran = subprocess.run([found, *arguments], capture_output=True, text=True, timeout=120, check=False, **more)
    assert ran.returncode == 0, ran.stderr[-2000:]
    return ran.stdout


def test_a_record_on_a_server_is_dumped_lost_and_restored_with_its_roles(tmp_path, monkeypatch, capsys):
    import psycopg

    admin, tail = server(), uuid.uuid4().hex[:8]
    name, owner, writer = f"drill_{tail}", f"o_{tail}", f"w_{tail}"
    groups = {"learner": f"l_{tail}", "instructor": f"i_{tail}"}
    where, dump = admin.rpartition("/")[0] + f"/{name}", str(tmp_path / "record.dump")

    def role_names():
        return [borders.role_of(p, groups) for p in (TEACHER, A, B)] + [*groups.values(), writer, owner]

    def lose(c):
        c.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        for role in role_names():
            with contextlib.suppress(psycopg.errors.UndefinedObject):
                c.execute(f'DROP ROLE "{role}"')

    with psycopg.connect(admin, autocommit=True) as c:
        c.execute(f"CREATE DATABASE {name}")
        try:
            borders.make_borders(where, owner=owner, writer=writer, groups=groups)
            borders.make_logins(where, [TEACHER, A, B], groups=groups)
            fill(where)
            before, said = everything(where), checked(where, monkeypatch, capsys)
            tool("pg_dump", "-Fc", "-f", dump, where)
            roles = tool("pg_dumpall", "--roles-only", "-d", admin)
            lose(c)
            c.execute(f"CREATE DATABASE {name}")
            ours = "\n".join(x for x in roles.splitlines() if tail in x)  # other tests have roles on this server too
            tool("psql", "-v", "ON_ERROR_STOP=1", "-d", admin, input=ours)
            tool("pg_restore", "--exit-on-error", "-d", where, dump)
            assert everything(where) == before
            assert checked(where, monkeypatch, capsys).splitlines()[-1] in said
            as_a = where.replace("//postgres@", f"//{borders.role_of(A, groups)}@")
            with Classroom.open(as_a) as room:  # the borders are there as well
                (task,) = room.tasks("a")
                assert [e.login for e in results.entries(room, task.of)] == ["a", "a"]
            goes_on(where)
        finally:
            lose(c)
