"""What a class has done: who is where, which ideas are behind the wrong answers, one learner's history.

The valid mark of an attempt is its last one: the first mark stands in the attempt, later ones in ``mark``.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import sqlalchemy as sa

from shoplib.classroom import marking
from shoplib.classroom.classes import Assignment, Class, Classroom, Task
from shoplib.classroom.people import LEARNER, Person
from shoplib.record import class_tables as tables

_A = tables.attempt.c


def _later() -> sa.Subquery:
    """The last of the later marks of each attempt that has any."""
    t = tables.mark
    last = sa.select(sa.func.max(t.c.id)).group_by(t.c.attempt)
    return sa.select(t.c.attempt, t.c.state, t.c.idea, t.c.rule).where(t.c.id.in_(last)).subquery("later")


@dataclass(frozen=True)
class Place:
    """How far one learner is in one assignment."""

    right: int  # items
    answered: int  # items
    attempts: int
    last: str  # UTC; "" when nothing was answered
    late: bool = False  # an answer came after the due time


@dataclass(frozen=True)
class Overview:
    """A class at one moment."""

    of: Class
    learners: tuple[Person, ...]
    assignments: tuple[Assignment, ...]
    places: Mapping[tuple[str, int], Place]  # login and assignment (its id)

    def place(self, login: str, assignment: Assignment) -> Place:
        """Where that learner is."""
        return self.places.get((login, assignment.id), Place(0, 0, 0, ""))


def overview(room: Classroom, of: Class) -> Overview:
    """Who is where in a class."""
    later = _later()
    state = sa.func.coalesce(later.c.state, _A.state)
    items = (
        sa.select(
            _A.assignment, _A.login, _A.item, sa.func.count().label("attempts"), sa.func.max(_A.at).label("last"),
            sa.func.max(sa.case((state == marking.RIGHT, 2), (state == marking.WRONG, 1), else_=0)).label("best"),
        )
        .select_from(tables.attempt.outerjoin(later, later.c.attempt == _A.id))
        .where(_A["class"] == of.id)
        .group_by(_A.assignment, _A.login, _A.item)
        .subquery()
    )  # fmt: skip
    i = items.c
    query = sa.select(
        i.assignment, i.login, sa.func.sum(sa.case((i.best == 2, 1), else_=0)).label("right"),
        sa.func.sum(sa.case((i.best > 0, 1), else_=0)).label("answered"), sa.func.sum(i.attempts).label("attempts"),
        sa.func.max(i.last).label("last"),
    ).group_by(i.assignment, i.login)  # fmt: skip
    assignments = tuple(room.assignments(of))
    due = {a.id: a.due for a in assignments}
    with room._reading() as c:
        rows = c.execute(query).all()
    places = {}
    for r in rows:
        late = bool(due[r.assignment]) and r.last > due[r.assignment]
        places[r.login, r.assignment] = Place(int(r.right), int(r.answered), int(r.attempts), r.last, late)
    learners = tuple(p for p in room.people(of) if p.role == LEARNER)
    return Overview(of, learners, assignments, places)


def right_items(room: Classroom, task: Task) -> int:
    """How many items of an assignment the learner has answered rightly."""
    found = entries(room, task.of, task.login, task.assignment.id)
    return len({x.item for x in found if x.state == marking.RIGHT} & set(marking.items(*_what(task))))


def _what(task: Task) -> tuple[str, str]:
    return task.assignment.kind, task.assignment.item


@dataclass(frozen=True)
class HeatMap:
    """How often each idea is behind a wrong answer of each learner; the most frequent ideas first."""

    ideas: tuple[str, ...]
    counts: Mapping[tuple[str, str], int]  # login and idea
    learners: tuple[Person, ...]

    def total(self, idea: str) -> int:
        """In the whole class."""
        return sum(self.counts.get((p.login, idea), 0) for p in self.learners)

    def learners_with(self, idea: str) -> int:
        """How many learners had it."""
        return sum((p.login, idea) in self.counts for p in self.learners)


def heat_map(room: Classroom, of: Class) -> HeatMap:
    """The ideas behind the wrong answers of a class, learner by learner."""
    later = _later()
    first = (
        sa.select(_A.login, _A.idea, sa.func.count().label("n"))
        .where(_A["class"] == of.id, _A.idea != "")
        .group_by(_A.login, _A.idea)
    )
    changed = (
        sa.select(_A.login, _A.idea.label("old"), later.c.idea.label("new"))
        .join(later, later.c.attempt == _A.id)
        .where(_A["class"] == of.id)
    )
    with room._reading() as c:
        counts = Counter({(r.login, r.idea): int(r.n) for r in c.execute(first)})
        for r in c.execute(changed):
            counts[r.login, r.old] -= 1
            counts[r.login, r.new] += 1
    learners = tuple(p for p in room.people(of) if p.role == LEARNER)
    kept = {(login, idea): n for (login, idea), n in counts.items() if idea and n > 0}
    here = {p.login for p in learners}
    totals: Counter[str] = Counter()
    for (login, idea), n in kept.items():
        totals[idea] += n if login in here else 0
    ideas = tuple(idea for idea, n in sorted(totals.items(), key=lambda x: (-x[1], x[0])) if n)
    return HeatMap(ideas, kept, learners)


class Entry(NamedTuple):
    """One attempt with its valid mark."""

    id: int
    uid: str
    login: str
    assignment: int
    item: str
    typed: str
    seed: int
    seconds: int | None
    at: str
    state: str
    idea: str
    rule: str
    first_state: str
    first_idea: str
    body: str

    @property
    def answer(self) -> str:
        """The answer in words: what was typed, or the words of the chosen option."""
        said = json.loads(self.body).get("said", "") if self.body else ""
        return str(said or self.typed)


def entries(room: Classroom, of: Class, login: str | None = None, assignment: int | None = None) -> Iterator[Entry]:
    """The attempts of a class, of one learner or one assignment, oldest first."""
    later = _later()
    query = (
        sa.select(
            _A.id, _A.uid, _A.login, _A.assignment, _A.item, _A.typed, _A.seed, _A.seconds, _A.at,
            sa.func.coalesce(later.c.state, _A.state), sa.func.coalesce(later.c.idea, _A.idea),
            sa.func.coalesce(later.c.rule, _A.rule), _A.state, _A.idea, _A.body,
        )
        .select_from(tables.attempt.outerjoin(later, later.c.attempt == _A.id))
        .where(_A["class"] == of.id)
        .order_by(_A.id)
    )  # fmt: skip
    if login is not None:
        query = query.where(_A.login == login)
    if assignment is not None:
        query = query.where(_A.assignment == assignment)
    with room._reading() as c:
        for row in c.execution_options(yield_per=5000).execute(query):
            yield Entry._make(row)


@dataclass(frozen=True)
class Change:
    """What a corrected rule changes about one attempt."""

    entry: Entry
    new: marking.Marked


@dataclass(frozen=True)
class Regrade:
    """A preview of all answers marked again; nothing is saved.  ``code`` names exactly these changes."""

    of: Class
    checked: int
    changes: tuple[Change, ...]
    not_marked: tuple[str, ...]  # attempts that this version cannot mark, with the reason

    @property
    def code(self) -> str:
        """Eight characters that name these changes."""
        import hashlib

        said = "\n".join(f"{c.entry.uid} {c.new.state} {c.new.idea} {c.new.rule}" for c in self.changes)
        return hashlib.sha256(said.encode()).hexdigest()[:8]


def preview(room: Classroom, of: Class, assignments: Iterable[Assignment]) -> Regrade:
    """Every answer marked again from what was typed.  A mark that does not hold is a change."""
    changes, failed, checked = [], [], 0
    for a in assignments:
        for entry in entries(room, of, assignment=a.id):
            checked += 1
            try:
                body = json.loads(entry.body) if entry.body else {}
                new = marking.mark(a.kind, a.item, entry.item, entry.seed, entry.typed, body)
            except (marking.CannotMark, ValueError) as error:
                failed.append(f"{entry.login}: {error}")
                continue
            if (new.state, new.idea) != (entry.state, entry.idea):
                changes.append(Change(entry, new))
    return Regrade(of, checked, tuple(changes), tuple(failed))


def keep(room: Classroom, found: Regrade, *, who: str, because: str) -> int:
    """Save the new marks of a preview, with the reason; the earlier marks stay."""
    from shoplib.core.errors import BadInput, Problem
    from shoplib.record import validation

    problems: list[Problem] = []
    said = validation.words(because, "because", problems, longest=400, example="the tolerance was too narrow")
    if problems:
        raise BadInput(problems)
    with room._writing() as c:
        at = room._now()
        rows = [
            {"attempt": x.entry.id, "class": found.of.id, "state": x.new.state, "idea": x.new.idea,
             "rule": x.new.rule, "because": said, "who": who, "at": at}
            for x in found.changes
        ]  # fmt: skip
        if rows:
            c.execute(tables.mark.insert(), rows)
    return len(found.changes)


def as_text(found: Overview) -> str:
    """The overview as a table of text: right of all items, per learner and assignment."""
    heads = ["login", "name", *(f"{a.n}" for a in found.assignments)]
    sizes = {a.id: len(marking.items(a.kind, a.item)) for a in found.assignments}
    rows = [
        [p.login, p.name, *(_cell(found.place(p.login, a), sizes[a.id]) for a in found.assignments)]
        for p in found.learners
    ]
    widths = [max(len(r[k]) for r in [heads, *rows]) for k in range(len(heads))]
    lines = ["  ".join(c.ljust(w) for c, w in zip(r, widths, strict=True)).rstrip() for r in [heads, *rows]]
    lines += ["", *(f"{a.n}  {a.title}" for a in found.assignments)]
    return "\n".join(lines)


def _cell(place: Place, of: int) -> str:
    if not place.attempts:
        return "–"
    return f"{place.right}/{of}" + (" late" if place.late else "")
