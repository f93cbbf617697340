"""The tables of the classroom: classes, rosters, assignments, attempts, marks and comments.

Rows are added, never changed.  The present state is the last row: of a learner in the roster, of the mark of an
attempt.  An attempt holds what the learner answered and the first mark; ``mark`` holds later marks.  ``class_secret``
is apart from the rest, so that a role can be kept from it.
"""

from __future__ import annotations

import sqlalchemy as sa

metadata = sa.MetaData()
_Id = sa.BigInteger().with_variant(sa.Integer, "sqlite")
LOGIN = sa.String(40)


def _id() -> sa.Column[int]:
    return sa.Column("id", _Id, primary_key=True, autoincrement=True)


def _class() -> sa.Column[int]:
    return sa.Column("class", _Id, sa.ForeignKey("classroom.id"), nullable=False)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _at() -> sa.Column[str]:
    return sa.Column("at", sa.String(32), nullable=False)


classroom = sa.Table(
    "classroom",
    metadata,
    _id(),
    sa.Column("uid", sa.String(64), nullable=False, unique=True),
    sa.Column("name", sa.String(80), nullable=False, unique=True),
    _text("who"),
    _at(),
)

class_secret = sa.Table(
    "class_secret",
    metadata,
    sa.Column("class", _Id, sa.ForeignKey("classroom.id"), primary_key=True),
    sa.Column("what", sa.String(20), primary_key=True),  # salt, key; of an offline learner: key, certificate
    _text("value"),
)

roster = sa.Table(
    "roster",
    metadata,
    _id(),
    _class(),
    sa.Column("login", LOGIN, nullable=False),
    _text("name"),
    sa.Column("role", sa.String(12), nullable=False),  # learner, instructor
    sa.Column("present", sa.Boolean, nullable=False),  # False: left the class
    _text("who"),
    _at(),
    sa.Index("roster_login", "class", "login"),
)

assignment = sa.Table(
    "assignment",
    metadata,
    _id(),
    sa.Column("uid", sa.String(64), nullable=False, unique=True),
    _class(),
    sa.Column("n", sa.Integer, nullable=False),  # in its class
    sa.Column("kind", sa.String(12), nullable=False),  # topic, lesson, test
    sa.Column("item", sa.String(80), nullable=False),  # name of the topic or the lesson, form of the test
    sa.Column("opens", sa.String(32), nullable=False),  # UTC; "" at once
    sa.Column("due", sa.String(32), nullable=False),  # UTC; "" never
    _text("who"),
    _at(),
    sa.UniqueConstraint("class", "n"),
)

seat = sa.Table(  # the seed of each learner
    "seat",
    metadata,
    sa.Column("assignment", _Id, sa.ForeignKey("assignment.id"), primary_key=True),
    sa.Column("login", LOGIN, primary_key=True),
    sa.Column("seed", _Id, nullable=False),
)

attempt = sa.Table(
    "attempt",
    metadata,
    _id(),
    sa.Column("uid", sa.String(64), nullable=False, unique=True),
    _class(),
    sa.Column("assignment", _Id, sa.ForeignKey("assignment.id"), nullable=False),
    sa.Column("login", LOGIN, nullable=False),
    sa.Column("item", sa.String(80), nullable=False),  # the exercise, the step of the lesson, the question of the test
    sa.Column("seed", _Id, nullable=False),
    _text("typed"),  # as typed, or the place of the chosen option
    _text("body"),  # JSON: what else belongs to it
    sa.Column("seconds", sa.Integer),  # since the question was shown; NULL where not known
    sa.Column("state", sa.String(8), nullable=False),  # right, wrong, seen
    sa.Column("idea", sa.Text, nullable=False),  # the belief or mistake behind a wrong answer
    sa.Column("rule", sa.String(40), nullable=False),  # the version of the rule that gave the mark
    _at(),
    sa.Column("program", sa.String(40), nullable=False),
    sa.Index("attempt_place", "class", "assignment", "login", "item", "state"),
    sa.Index("attempt_idea", "class", "login", "idea"),
)

mark = sa.Table(
    "mark",
    metadata,
    _id(),
    sa.Column("attempt", _Id, sa.ForeignKey("attempt.id"), nullable=False, index=True),
    _class(),
    sa.Column("state", sa.String(8), nullable=False),
    sa.Column("idea", sa.Text, nullable=False),
    sa.Column("rule", sa.String(40), nullable=False),
    _text("because"),
    _text("who"),
    _at(),
)

comment = sa.Table(
    "comment",
    metadata,
    _id(),
    sa.Column("uid", sa.String(64), nullable=False, unique=True),
    _class(),
    sa.Column("login", LOGIN, nullable=False),  # the learner it is for
    sa.Column("attempt", _Id, sa.ForeignKey("attempt.id")),
    _text("text"),
    _text("who"),
    _at(),
)

FIXED = tuple(metadata.tables)  # none of them is ever changed
