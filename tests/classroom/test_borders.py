"""PostgreSQL: a learner who types SQL reads and writes only their own work; an instructor only their class."""

import contextlib
import tempfile
import uuid
from pathlib import Path

import pytest

from shoplib.classroom import borders, marking, results
from shoplib.classroom.classes import Answer, Classroom
from shoplib.classroom.people import Person
from shoplib.record.errors import Refused
from shoplib.record.store import Store
from tests.record.roles import as_role
from tests.record_fixtures import HEADER, fresh

TEACHER, OTHER = Person("teacher", "T.", "instructor"), Person("other", "O.", "instructor")
A, B, C = Person("a", "A."), Person("b", "B."), Person("c.c", "C.")


@pytest.fixture(scope="module")
def centre(tmp_path_factory):
    """Two classes: a and b are in the first, c in the second; every learner has answers and a job."""
    import psycopg

    tail = uuid.uuid4().hex[:6]
    groups = {"learner": f"l{tail}", "instructor": f"i{tail}"}
    with fresh("postgres", tmp_path_factory.mktemp("pg")) as place:
        borders.make_borders(place, owner=f"o{tail}", writer=f"w{tail}", groups=groups)
        borders.make_borders(place, owner=f"o{tail}", writer=f"w{tail}", groups=groups)  # once more changes nothing
        made = borders.make_logins(place, [TEACHER, OTHER, A, B, C], secret="a secret of the hub", groups=groups)
        with Classroom.open(place) as room:
            for name, teacher, people in (("One", TEACHER, [A, B]), ("Two", OTHER, [C])):
                of = room.new_class(name, who=teacher.login)
                room.enrol(of, people, who=teacher.login)
                room.assign(of, "topic", "preload", who=teacher.login)
                room.assign(of, "test", "A", who=teacher.login, opens="2096-01-01")
        as_person = {p.login: as_role(place, borders.role_of(p, groups)) for p in (TEACHER, OTHER, A, B, C)}
        for p in (A, B, C):
            with Classroom.open(as_person[p.login]) as room:
                (task,) = room.tasks(p.login)
                room.keep(task, [Answer("clamp_of_a_torque", "1 kN")])
            with Store.open(as_person[p.login]) as store:
                assert store.caution == ""
                store.start(**{**HEADER, "number": f"job of {p.login}"})
        yield place, as_person
        with psycopg.connect(place, autocommit=True) as admin:
            for name in [*made, *groups.values(), f"w{tail}", f"o{tail}"]:
                with contextlib.suppress(psycopg.errors.UndefinedObject):
                    admin.execute(f'REASSIGN OWNED BY "{name}" TO CURRENT_USER')
                    admin.execute(f'DROP OWNED BY "{name}" CASCADE')
                    admin.execute(f'DROP ROLE "{name}"')


def rows(place, statement):
    """What a person who types this sees; an error is its first line."""
    import psycopg

    with psycopg.connect(place, autocommit=True) as c:
        try:
            found = c.execute(statement)
        except psycopg.Error as error:
            return str(error).splitlines()[0]
        return found.fetchall() if found.description else found.rowcount


def test_a_learner_works_as_ever(centre, tmp_path):
    _, as_person = centre
    with Store.open(as_person["a"]) as store:
        store.start(**HEADER)
        work_at = store.job(HEADER["number"])
        assert len(work_at.lines) == 1
    with Store.open(as_person["b"]) as store:
        with pytest.raises(Refused, match="choose another number"):
            store.start(**HEADER)
        assert [r.number for r in store.jobs().rows] == ["job of b"]


def test_the_record_of_many_people_has_no_damage(centre):
    place, _ = centre
    with Store.open(place) as store:
        assert store.check() == []


@pytest.mark.parametrize(
    ("statement", "seen"),
    [
        ("SELECT DISTINCT login FROM attempt", [("a",)]),
        ("SELECT DISTINCT login FROM seat", [("a",)]),
        ("SELECT count(*) FROM seat", [(1,)]),  # an assignment that is not open yet is not seen
        ("SELECT DISTINCT login FROM roster", [("a",)]),
        ("SELECT name FROM classroom", [("One",)]),
        ("SELECT count(*) FROM assignment", [(1,)]),
        ("SELECT count(*) FROM job WHERE number LIKE 'job of%'", [(1,)]),
        ("SELECT count(*) FROM line WHERE who <> 'A. Learner'", [(0,)]),
        ("SELECT count(*) FROM comment", [(0,)]),
        ("UPDATE job SET complaint = 'x' WHERE number = 'job of b'", 0),
        ("DELETE FROM draft", 0),
    ],
)
def test_a_learner_sees_only_their_own(centre, statement, seen):
    _, as_person = centre
    assert rows(as_person["a"], statement) == seen


ATTEMPT = (
    'INSERT INTO attempt (uid, "class", assignment, login, item, seed, typed, body, state, idea, rule, at, program) '
    "SELECT 'x' || random(), {of}, {task}, '{login}', 'clamp_of_a_torque', {seed}, '1', '', 'right', '', '', '', ''"
)
CROSSINGS = [
    "SELECT value FROM class_secret",
    "SELECT digest FROM ledger", "SELECT number FROM ledger",
    ATTEMPT.format(of=1, task=1, login="b", seed="(SELECT seed FROM seat)"),
    ATTEMPT.format(of=1, task=1, login="a", seed="7"),
    ATTEMPT.format(of=2, task=3, login="a", seed="(SELECT seed FROM seat)"),
    ATTEMPT.format(of=2, task=1, login="a", seed="(SELECT seed FROM seat)"),
    'INSERT INTO mark (attempt, "class", state, idea, rule, because, who, at) VALUES (1, 1, \'right\', \'\', \'\', \'\', \'\', \'\')',
    "INSERT INTO seat (assignment, login, seed) VALUES (2, 'a', 7)",
    'INSERT INTO roster ("class", login, name, role, present, who, at) VALUES (1, \'a\', \'A\', \'instructor\', true, \'\', \'\')',
    'INSERT INTO roster ("class", login, name, role, present, who, at) VALUES (2, \'a\', \'A\', \'learner\', true, \'\', \'\')',
    "INSERT INTO classroom (uid, name, who, at) VALUES ('x', 'Mine', 'a', '')",
    'INSERT INTO comment (uid, "class", login, text, who, at) VALUES (\'x\', 1, \'a\', \'well done\', \'teacher\', \'\')',
    'INSERT INTO assignment (uid, "class", n, kind, item, opens, due, who, at) VALUES (\'x\', 1, 9, \'test\', \'A\', \'\', \'\', \'a\', \'\')',
    "UPDATE attempt SET state = 'right'", "DELETE FROM attempt", "TRUNCATE attempt", "UPDATE seat SET seed = 1",
    "UPDATE job SET owner = session_user", "UPDATE roster SET role = 'instructor'", "UPDATE store SET value = '9'",
    "INSERT INTO line (job, n, uid, kind, form, at, who, program, body, digest) SELECT j, 9, 'x', 'note', '', '', '', '', '', '' FROM generate_series(1, 4) j",
    "INSERT INTO ledger (n, job, number, line, digest, chain) VALUES (1000, 'x', 'x', 1, 'x', 'x')",
    "INSERT INTO ledger (n, job, number, line, digest, chain) SELECT max(n) + 1, 'x', 'x', 1, 'x', 'x' FROM ledger",
    "INSERT INTO job (uid, number, engine, customer_ref, complaint, done_by, date, search, closed, issue, lines, head, last, changed_at, owner) "
    "VALUES ('x', 'x', '', '', '', '', '', '', false, '', 0, '', 0, '', 'somebody')",
    "ALTER TABLE attempt DISABLE ROW LEVEL SECURITY", "DROP POLICY p11 ON attempt", "SET session_replication_role = replica",
    "CREATE OR REPLACE FUNCTION shoplib_login() RETURNS text LANGUAGE sql AS $$ SELECT 'b' $$",
    "CREATE FUNCTION shoplib_login(x int) RETURNS text LANGUAGE sql AS $$ SELECT 'b' $$", "CREATE TABLE mine (x int)",
    "SET SESSION AUTHORIZATION postgres", "SET ROLE postgres", "ALTER ROLE CURRENT_USER BYPASSRLS", "CREATE ROLE more",
    f"COPY attempt TO '{Path(tempfile.gettempdir(), 'all.csv')}'", "SELECT pg_read_file('/etc/passwd')", "SELECT rolpassword FROM pg_authid",
]  # fmt: skip


@pytest.mark.parametrize("statement", CROSSINGS)
def test_a_learner_crosses_no_border(centre, statement):
    place, as_person = centre
    before = rows(
        place, "SELECT (SELECT count(*) FROM attempt), (SELECT count(*) FROM line), (SELECT count(*) FROM roster)"
    )
    said = rows(as_person["a"], statement)
    assert isinstance(said, str), said
    assert any(
        w in said
        for w in (
            "denied",
            "row-level security",
            "must be owner",
            "superuser",
            "privileges",
            "permission",
            "does not continue",
            "only",
            "superuser",
            "privileges",
        )
    ), said
    after = rows(
        place, "SELECT (SELECT count(*) FROM attempt), (SELECT count(*) FROM line), (SELECT count(*) FROM roster)"
    )
    assert before == after


def test_another_role_sees_nothing_through_set_role(centre):
    _, as_person = centre
    group = rows(as_person["a"], "SELECT session_user")[0][0].rpartition("_")[0]
    assert rows(as_person["a"], f"SET ROLE {group}; SELECT count(*) FROM attempt") is not None
    import psycopg

    with psycopg.connect(as_person["a"], autocommit=True) as c:
        c.execute(f"SET ROLE {group}")
        assert c.execute("SELECT DISTINCT login FROM attempt").fetchall() == [("a",)]


def test_an_instructor_has_their_class(centre):
    _, as_person = centre
    with Classroom.open(as_person["teacher"]) as room:
        assert [k.name for k in room.classes()] == ["One"]
        of = room.class_of("One")
        room.enrol(of, [Person("d", "D.")], who="teacher")
        room.assign(of, "test", "B", who="teacher")
        room.comment(of, "a", "Look again.", who="teacher")
        assert {e.login for e in results.entries(room, of)} == {"a", "b"}
        found = results.preview(room, of, room.assignments(of))
        assert (len(found.changes), found.not_marked) == (0, ())
        assert marking.KINDS
    with Store.open(as_person["teacher"]) as store:
        assert {"job of a", "job of b"} <= {r.number for r in store.jobs().rows}
        assert "job of c.c" not in {r.number for r in store.jobs().rows}
    with Classroom.open(as_person["a"]) as room:
        assert [c.text for c in room.comments(of, "a")] == ["Look again."]


@pytest.mark.parametrize(
    "statement",
    [
        'INSERT INTO roster ("class", login, name, role, present, who, at) VALUES (2, \'x\', \'X\', \'learner\', true, \'\', \'\')',
        'INSERT INTO roster ("class", login, name, role, present, who, at) VALUES (1, \'x\', \'X\', \'instructor\', true, \'\', \'\')',
        'INSERT INTO mark (attempt, "class", state, idea, rule, because, who, at) SELECT 3, 2, \'right\', \'\', \'\', \'\', \'\', \'\'',
        'INSERT INTO mark (attempt, "class", state, idea, rule, because, who, at) SELECT 3, 1, \'right\', \'\', \'\', \'\', \'\', \'\'',
        "UPDATE job SET complaint = 'x'; SELECT 1/(SELECT count(*) FROM job WHERE complaint = 'x')",
    ],
)  # fmt: skip
def test_an_instructor_stays_in_their_class(centre, statement):
    _, as_person = centre
    assert isinstance(rows(as_person["teacher"], statement), str)
    assert rows(as_person["teacher"], "SELECT count(*) FROM class_secret") == [(2,)]
    assert rows(as_person["other"], "SELECT DISTINCT login FROM attempt") == [("c.c",)]


def test_the_password_of_a_role_needs_the_secret():
    assert borders.password_of("a secret of the hub", "x") != borders.password_of("another secret of it", "x")
