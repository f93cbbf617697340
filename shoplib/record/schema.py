"""The tables of the job record, their version, and the steps from one version to the next.

One append-only table, ``line``, holds everything that happened in a job, in one order: entries, corrections,
strike-throughs, ticks, photographs, header changes, signatures, issues.  Each line carries the hash of the line
before it.  ``job`` is what the list of jobs needs, kept in step with the lines; ``draft`` is what stands on a screen.
"""

from __future__ import annotations

from collections.abc import Callable

import sqlalchemy as sa

VERSION = 1
APPLICATION_ID = 0x73686F70  # "shop", in the head of the SQLite file

metadata = sa.MetaData()
_Id = sa.BigInteger().with_variant(sa.Integer, "sqlite")  # SQLite numbers rows only in INTEGER

store = sa.Table(
    "store",
    metadata,
    sa.Column("key", sa.String(40), primary_key=True),
    sa.Column("value", sa.Text, nullable=False),
)

job = sa.Table(
    "job",
    metadata,
    sa.Column("id", _Id, primary_key=True, autoincrement=True),
    sa.Column("uid", sa.String(64), nullable=False, unique=True),
    sa.Column("number", sa.String(80), nullable=False, unique=True),
    sa.Column("engine", sa.Text, nullable=False),
    sa.Column("customer_ref", sa.Text, nullable=False),
    sa.Column("complaint", sa.Text, nullable=False),
    sa.Column("done_by", sa.Text, nullable=False),
    sa.Column("date", sa.String(10), nullable=False),
    sa.Column("search", sa.Text, nullable=False),  # the header, case folded
    sa.Column("closed", sa.Boolean, nullable=False),
    sa.Column("issue", sa.String(8), nullable=False),
    sa.Column("lines", sa.Integer, nullable=False),  # how many; the last one's number
    sa.Column("head", sa.String(64), nullable=False),  # the last one's hash
    sa.Column("last", _Id, nullable=False, index=True),  # its place among all lines: the order of the list, no clock
    sa.Column("changed_at", sa.String(32), nullable=False),
)

line = sa.Table(
    "line",
    metadata,
    sa.Column("id", _Id, primary_key=True, autoincrement=True),
    sa.Column("job", _Id, sa.ForeignKey("job.id"), nullable=False),
    sa.Column("n", sa.Integer, nullable=False),
    sa.Column("uid", sa.String(64), nullable=False),
    sa.Column("kind", sa.String(16), nullable=False),
    sa.Column("about", _Id, sa.ForeignKey("line.id"), index=True),
    sa.Column("form", sa.String(80), nullable=False),
    sa.Column("place", sa.Text),  # of a tick: programme, stage and bolt
    sa.Column("at", sa.String(32), nullable=False),
    sa.Column("who", sa.Text, nullable=False),
    sa.Column("program", sa.String(40), nullable=False),
    sa.Column("body", sa.Text, nullable=False),
    sa.Column("digest", sa.String(64), nullable=False),
    sa.UniqueConstraint("job", "n"),
    sa.UniqueConstraint("job", "uid"),
    sa.Index("line_place", "job", "place"),
)

picture = sa.Table(
    "picture",
    metadata,
    sa.Column("digest", sa.String(64), primary_key=True),
    sa.Column("content", sa.LargeBinary, nullable=False),
)

draft = sa.Table(
    "draft",
    metadata,
    sa.Column("scope", sa.String(64), primary_key=True),  # uid of a job; before one is chosen "@" and the desk
    sa.Column("form", sa.String(80), primary_key=True),
    sa.Column("inputs", sa.Text, nullable=False),
    sa.Column("saved_at", sa.String(32), nullable=False),
)

VERSION_NOW = sa.select(store.c.value).where(store.c.key == "version")

_FIXED = ("line", "picture")  # nothing in these is ever changed or deleted, not even by a slip of this program


def _append_only(connection: sa.Connection) -> None:
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(
            "CREATE FUNCTION shoplib_append_only() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION 'the job record is append-only'; END $$"
        )
    for table in _FIXED:
        for verb in ("UPDATE", "DELETE"):
            name = f"{table}_no_{verb.lower()}"
            then = (
                "FOR EACH ROW EXECUTE FUNCTION shoplib_append_only()"
                if connection.dialect.name == "postgresql"
                else "BEGIN SELECT RAISE(ABORT, 'the job record is append-only'); END"
            )
            connection.exec_driver_sql(f"CREATE TRIGGER {name} BEFORE {verb} ON {table} {then}")


def create(connection: sa.Connection) -> None:
    """The tables as they are now, in an empty database, within the caller's transaction."""
    metadata.create_all(connection)
    _append_only(connection)
    connection.execute(store.insert().values(key="version", value=str(VERSION)))
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")


# From version k to k + 1.  A step is never edited after its release: stores of that age are out there.
STEPS: dict[int, Callable[[sa.Connection], None]] = {}


def version_of(connection: sa.Connection) -> int | None:
    """The store's version; 0 for an empty database, None for one that is something else's."""
    names = set(sa.inspect(connection).get_table_names())
    if not names:
        return 0
    if "store" not in names or not {"job", "line"} <= names:
        return None
    found = connection.execute(VERSION_NOW).scalar()
    return int(found) if found and str(found).isdigit() else None


def migrate(connection: sa.Connection, found: int) -> None:
    """Step by step from the version found to this one, within the caller's transaction."""
    for version in range(found, VERSION):
        STEPS[version](connection)
    connection.execute(store.update().where(store.c.key == "version").values(value=str(VERSION)))
