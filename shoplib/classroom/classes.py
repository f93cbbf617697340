"""The classes of a centre in the record: rosters, assignments, answers, comments.

    with Classroom.open() as room:
        room.new_class("Spring 26", who="b.teacher")
        room.enrol("Spring 26", [Person("a.learner", "A. Learner")], who="b.teacher")
        room.assign("Spring 26", "topic", "preload", who="b.teacher", due="2026-12-04 16:00")
        task = room.tasks("a.learner")[0]
        room.keep(task, [Answer("clamp", "25 kN")])

Every method that writes is one transaction, as in :mod:`shoplib.record.store`; a repeated call with the same uid is
saved once.  Nothing is changed: the present state is the last row.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from shoplib import __version__
from shoplib.classroom import marking, moments
from shoplib.classroom.people import INSTRUCTOR, LEARNER, Person, checked, me
from shoplib.core.errors import BadInput, Problem
from shoplib.record import class_tables as tables
from shoplib.record import validation
from shoplib.record.asking import asked_again
from shoplib.record.errors import Refused
from shoplib.record.receipt import new_id
from shoplib.record.store_connection import StoreConnection

BATCH = 2000  # rows of one statement
LONGEST_ANSWER = 2000  # characters


@dataclass(frozen=True)
class Class:
    """A class of the centre."""

    id: int
    uid: str
    name: str


@dataclass(frozen=True)
class Assignment:
    """What a class has to do, from when and until when (UTC; empty: at once, never)."""

    id: int
    uid: str
    n: int
    kind: str
    item: str
    opens: str
    due: str

    @property
    def title(self) -> str:
        """What it is, in words."""
        return marking.title_of(self.kind, self.item)


@dataclass(frozen=True)
class Task:
    """An assignment of one learner, with the learner's own seed."""

    of: Class
    assignment: Assignment
    login: str
    seed: int


@dataclass(frozen=True)
class Answer:
    """One answer, as typed; ``uid`` makes it repeatable.  ``at`` is given for an answer from a result file."""

    item: str
    typed: str
    body: Mapping[str, Any] = field(default_factory=dict)
    seconds: int | None = None
    uid: str = field(default_factory=new_id)
    at: str = ""


@dataclass(frozen=True)
class Comment:
    """What an instructor wrote to a learner."""

    text: str
    who: str
    at: str


class Classroom(StoreConnection):
    """The classes in one database.  Made by :meth:`open`."""

    # ------------------------------------------------------------------------------ classes and people
    @asked_again
    def new_class(self, name: str, *, who: str, uid: str | None = None) -> Class:
        """A class with its secret and its signing key; ``who`` (a login) is its first instructor."""
        from shoplib.classroom import result_file

        problems: list[Problem] = []
        name = validation.line_of_text(name, "name of the class", problems, longest=80, example="Spring 26")
        (teacher, *_) = checked([Person(who, who, INSTRUCTOR)], problems) or [Person("", "")]
        if problems:
            raise BadInput(problems)
        with self._writing() as c:
            twin = c.execute(sa.select(tables.classroom).where(tables.classroom.c.uid == uid)).first()
            if twin is not None:
                return Class(twin.id, twin.uid, twin.name)
            if c.scalar(sa.select(tables.classroom.c.id).where(tables.classroom.c.name == name)) is not None:
                raise Refused(f"there is already a class called {name}; choose another name")
            values = {"uid": uid, "name": name, "who": who, "at": self._now()}
            made = _inserted(c, tables.classroom, values)
            secret = {"salt": secrets.token_hex(32), "key": result_file.new_key()}
            c.execute(tables.class_secret.insert(), [{"class": made, "what": k, "value": v} for k, v in secret.items()])
            c.execute(tables.roster.insert(), [_row(made, teacher, who, self._now())])
            return Class(made, str(uid), name)

    def classes(self, login: str | None = None) -> list[Class]:
        """All classes, or those in which somebody teaches or learns."""
        with self._reading() as c:
            found = [Class(r.id, r.uid, r.name) for r in c.execute(sa.select(tables.classroom).order_by("name"))]
            mine = None if login is None else set(c.scalars(_present(tables.roster.c.login == login, "class")))
        return [x for x in found if mine is None or x.id in mine]

    def login(self) -> str:
        """The login of the person at this desk; on an offline learner's machine the one of the work file."""
        t = tables.class_secret.c
        with self._reading() as c:
            joined = c.scalar(sa.select(t.value).where(t.what == "certificate").limit(1)) if not me() else None
        return str(json.loads(joined)["login"]) if joined else me()

    def class_of(self, name: str) -> Class:
        """The class of that name.  Raises Refused, naming those there are."""
        found = self.classes()
        for one in found:
            if one.name == name or one.uid == name:
                return one
        there = ", ".join(x.name for x in found[:20]) or "none yet"
        raise Refused(f"there is no class called {name[:80]!r}; classes: {there}")

    def enrol(self, of: Class, people: Iterable[Person], *, who: str, remove: bool = False) -> tuple[int, int]:
        """Add people, or change their names; with ``remove`` those who are not named leave.  (added, removed)."""
        problems: list[Problem] = []
        wanted = {p.login: p for p in checked(people, problems)}
        if problems:
            raise BadInput(problems)
        with self._writing() as c:
            there = {p.login: p for p in _people(c, of.id)}
            new = [p for p in wanted.values() if there.get(p.login) != p]
            gone = [p for p in there.values() if remove and p.role == LEARNER and p.login not in wanted]
            rows = [_row(of.id, p, who, self._now()) for p in new]
            rows += [_row(of.id, p, who, self._now()) | {"present": False} for p in gone]
            if rows:
                c.execute(tables.roster.insert(), rows)
            self._seat(c, of.id, [p.login for p in new if p.role == LEARNER])
        return sum(p.login not in there for p in new), len(gone)

    def people(self, of: Class) -> list[Person]:
        """Everybody in the class, by login."""
        with self._reading() as c:
            return _people(c, of.id)

    # ------------------------------------------------------------------------------ assignments
    @asked_again
    def assign(
        self, of: Class, kind: str, item: str, *, who: str, opens: str = "", due: str = "", uid: str | None = None
    ) -> Assignment:
        """Assign a topic, a lesson or a form of the concept test; times as ``2026-12-04 16:00``, local."""
        problems: list[Problem] = []
        if kind not in marking.KINDS:
            problems.append(Problem("kind", f"must be one of {', '.join(marking.KINDS)}"))
        elif item not in marking.names(kind):
            problems.append(Problem(kind, f"unknown; choose one of {', '.join(marking.names(kind))}"))
        times = {"opens": moments.read(opens, "opens", problems), "due": moments.read(due, "due", problems)}
        if times["opens"] and times["due"] and times["due"] <= times["opens"]:
            problems.append(Problem("due", "must be after the time at which it opens"))
        if problems:
            raise BadInput(problems)
        with self._writing() as c:
            t = tables.assignment.c
            twin = c.execute(sa.select(tables.assignment).where(t.uid == uid)).first()
            if twin is None:
                last = c.scalar(sa.select(sa.func.max(t.n)).where(t["class"] == of.id)) or 0
                values = {"uid": uid, "class": of.id, "n": last + 1, "kind": kind, "item": item, **times,
                          "who": who, "at": self._now()}  # fmt: skip
                _inserted(c, tables.assignment, values)
                twin = c.execute(sa.select(tables.assignment).where(t.uid == uid)).one()
                learners = [p.login for p in _people(c, of.id) if p.role == LEARNER]
                self._seat(c, of.id, learners, _assignment(twin))
            return _assignment(twin)

    def _seat(self, c: sa.Connection, of: int, logins: Sequence[str], only: Assignment | None = None) -> None:
        """A seed for each learner in each assignment, or in one."""
        wanted = [only] if only else _assignments(c, of)
        if not wanted or not logins:
            return
        salt = str(c.scalar(_secret(of, "salt")))
        t = tables.seat.c
        ids = [a.id for a in wanted]
        there = {(r.assignment, r.login) for r in c.execute(sa.select(tables.seat).where(t.assignment.in_(ids)))}
        rows = [
            {"assignment": a.id, "login": login, "seed": marking.seed_of(salt, a.uid, login)}
            for a in wanted
            for login in logins
            if (a.id, login) not in there
        ]
        if rows:
            c.execute(tables.seat.insert(), rows)

    def assignments(self, of: Class) -> list[Assignment]:
        """The assignments of a class, in their order."""
        with self._reading() as c:
            return _assignments(c, of.id)

    def assignment(self, of: Class, n: int) -> Assignment:
        """The assignment of that number.  Raises Refused."""
        found = {a.n: a for a in self.assignments(of)}
        if n not in found:
            there = ", ".join(map(str, found)) or "none yet"
            raise Refused(f"class {of.name} has no assignment {n}; assignments: {there}")
        return found[n]

    def tasks(self, login: str, *, also_closed: bool = False) -> list[Task]:
        """What a learner has to do now; assignments that are not open yet are left out."""
        a, k, s = tables.assignment, tables.classroom, tables.seat
        now = self._now()
        query = (
            sa.select(a, s.c.seed, k.c.uid.label("class_uid"), k.c.name)
            .join(s, s.c.assignment == a.c.id)
            .join(k, k.c.id == a.c["class"])
            .where(s.c.login == login, a.c.opens <= now)
            .order_by(a.c.due == "", a.c.due, a.c["class"], a.c.n)
        )
        with self._reading() as c:
            mine = set(c.scalars(_present(tables.roster.c.login == login, "class")))
            rows = [r for r in c.execute(query) if r._mapping["class"] in mine]
        of = {r.id: Class(r._mapping["class"], r.class_uid, r.name) for r in rows}
        found = [Task(of[r.id], _assignment(r), login, r.seed) for r in rows]
        return [t for t in found if also_closed or not t.assignment.due or t.assignment.due >= now]

    def seats(self, assignment: Assignment) -> dict[str, int]:
        """Login to seed."""
        with self._reading() as c:
            found = c.execute(sa.select(tables.seat).where(tables.seat.c.assignment == assignment.id))
            return {r.login: r.seed for r in found}

    # ------------------------------------------------------------------------------ answers
    def keep(self, task: Task, answers: Sequence[Answer]) -> list[marking.Marked]:
        """Mark these answers and save them: acknowledged means on the disk.  Raises BadInput, CannotMark."""
        marks = self.keep_all([(task, answer) for answer in answers])
        return [m for m in marks if m is not None]

    def keep_all(self, answers: Sequence[tuple[Task, Answer]]) -> list[marking.Marked]:
        """Answers of many learners in one transaction; an answer that is already there is not added again."""
        problems: list[Problem] = []
        rows, marks = [], []
        for task, answer in answers:
            typed = validation.line_of_text(answer.typed, answer.item, problems, longest=LONGEST_ANSWER, needed=False)
            a = task.assignment
            found = marking.mark(a.kind, a.item, answer.item, task.seed, typed, answer.body)
            marks.append(found)
            rows.append(
                {"uid": answer.uid, "class": task.of.id, "assignment": a.id, "login": task.login, "item": answer.item,
                 "seed": task.seed, "typed": typed, "body": json.dumps(dict(answer.body)) if answer.body else "",
                 "seconds": answer.seconds, "state": found.state, "idea": found.idea, "rule": found.rule,
                 "at": answer.at or self._now(), "program": __version__}
            )  # fmt: skip
        if problems:
            raise BadInput(problems)
        self._settled(lambda writer: _add_new(writer.connection, tables.attempt, rows))
        return marks

    def answers(self, task: Task) -> list[Any]:
        """The learner's attempts in an assignment, oldest first: rows of the table."""
        t = tables.attempt.c
        mine = (t["class"] == task.of.id, t.assignment == task.assignment.id, t.login == task.login)
        with self._reading() as c:
            return list(c.execute(sa.select(tables.attempt).where(*mine).order_by(t.at, t.id)).all())

    # ------------------------------------------------------------------------------ comments
    @asked_again
    def comment(
        self, of: Class, login: str, text: str, *, who: str, attempt: int | None = None, uid: str | None = None
    ) -> None:
        """A comment for a learner, about one attempt or about all."""
        problems: list[Problem] = []
        said = validation.words(text, "comment", problems, longest=4000, example="Look at the pitch again.")
        if problems:
            raise BadInput(problems)
        row = {"uid": uid, "class": of.id, "login": login, "attempt": attempt, "text": said, "who": who,
               "at": self._now()}  # fmt: skip
        with self._writing() as c:
            if login not in {p.login for p in _people(c, of.id)}:
                raise Refused(f"class {of.name} has no learner {login[:40]}")
            _add_new(c, tables.comment, [row])

    def comments(self, of: Class, login: str) -> list[Comment]:
        """The comments for a learner, oldest first."""
        t = tables.comment.c
        query = sa.select(tables.comment).where(t["class"] == of.id, t.login == login).order_by(t.id)
        with self._reading() as c:
            return [Comment(r.text, r.who, r.at) for r in c.execute(query)]

    def secret(self, of: Class, what: str) -> str:
        """A secret of the class: ``salt``, ``key``; at an offline learner's machine ``key`` and ``certificate``."""
        with self._reading() as c:
            return str(c.scalar(_secret(of.id, what)) or "")


# ------------------------------------------------------------------------------ rows
def _inserted(c: sa.Connection, table: sa.Table, values: Mapping[str, Any]) -> int:
    return int(c.execute(table.insert().values(values).returning(table.c.id)).scalar_one())


def _add_new(c: sa.Connection, table: sa.Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Add rows; one whose uid is already there is left as it is."""
    from sqlalchemy.dialects import postgresql, sqlite

    insert = postgresql.insert if c.dialect.name == "postgresql" else sqlite.insert
    for start in range(0, len(rows), BATCH):
        c.execute(insert(table).on_conflict_do_nothing(index_elements=["uid"]), list(rows[start : start + BATCH]))


def _row(of: int, person: Person, who: str, at: str) -> dict[str, Any]:
    return {"class": of, "login": person.login, "name": person.name, "role": person.role, "present": True,
            "who": who, "at": at}  # fmt: skip


def _present(where: sa.ColumnElement[bool], column: str) -> sa.Select[Any]:
    """A column of the last roster row of each person in each class, for those who are present."""
    t = tables.roster
    last = sa.select(sa.func.max(t.c.id)).where(where).group_by(t.c["class"], t.c.login)
    return sa.select(t.c[column]).where(t.c.id.in_(last), t.c.present)


def _people(c: sa.Connection, of: int) -> list[Person]:
    t = tables.roster
    last = sa.select(sa.func.max(t.c.id)).where(t.c["class"] == of).group_by(t.c.login)
    rows = c.execute(sa.select(t).where(t.c.id.in_(last), t.c.present).order_by(t.c.login))
    return [Person(r.login, r.name, r.role) for r in rows]


def _assignment(row: Any) -> Assignment:
    return Assignment(row.id, row.uid, row.n, row.kind, row.item, row.opens, row.due)


def _assignments(c: sa.Connection, of: int) -> list[Assignment]:
    t = tables.assignment
    return [_assignment(r) for r in c.execute(sa.select(t).where(t.c["class"] == of).order_by(t.c.n))]


def _secret(of: int, what: str) -> sa.Select[Any]:
    t = tables.class_secret.c
    return sa.select(t.value).where(t["class"] == of, t.what == what)
