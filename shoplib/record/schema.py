"""The tables of the job record, their version, and the steps from one version to the next.

One append-only table, ``line``, holds everything that happened in a job, in one order: entries, corrections,
lines struck out, ticks, photographs, header changes, signatures, issues.  Each line contains the hash of the line
before it.  ``ledger`` lists the lines of all jobs in one chain.  ``job`` is what the list of jobs needs, updated
with the lines; ``draft`` is what was typed into a form at a desk.  The tables of the classroom are in
:mod:`shoplib.record.class_tables`.

Parameters that have one meaning in all functions:

- ``connection``: an open connection to the record
"""

from __future__ import annotations

import re

import sqlalchemy as sa

from shoplib.record import class_tables
from shoplib.record.steps import REFUSAL, STEPS, append_only

VERSION = 3
APPLICATION_ID = 0x73686F70  # "shop", in the header of the SQLite file

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

ledger = sa.Table(
    "ledger",
    metadata,
    sa.Column("n", _Id, primary_key=True, autoincrement=False),
    sa.Column("job", sa.String(64), nullable=False),  # its uid
    sa.Column("number", sa.String(80), nullable=False),  # the job's number at that time
    sa.Column("line", sa.Integer, nullable=False),
    sa.Column("digest", sa.String(64), nullable=False),
    sa.Column("chain", sa.String(64), nullable=False),  # hash of this row and the one before
)

draft = sa.Table(
    "draft",
    metadata,
    sa.Column("desk", sa.String(64), primary_key=True),  # hash of its name; "?" of a desk that is not known
    sa.Column("job", sa.String(64), primary_key=True),  # its uid; empty before a job is chosen
    sa.Column("form", sa.String(80), primary_key=True),
    sa.Column("inputs", sa.Text, nullable=False),
    sa.Column("saved_at", sa.String(32), nullable=False),
)

VERSION_NOW = sa.select(store.c.value).where(store.c.key == "version")

_FIXED = ("line", "picture", "ledger")  # rows in these are never changed or deleted, not even by mistake
_FUNCTION = f"BEGIN RAISE EXCEPTION '{REFUSAL}'; END"


def triggers(dialect: str, version: int = VERSION) -> dict[str, tuple[str, str]]:
    """Name of each trigger that refuses a change → its table, and the statement that makes it.

    :param dialect: sqlite or postgresql
    :param version: of the tables
    """
    return append_only(dialect, (*_FIXED, *(class_tables.FIXED if version > 2 else ())))


def missing_triggers(connection: sa.Connection, version: int = VERSION) -> list[str]:
    """Triggers that are missing, switched off, or not as this program made them.

    :param version: of the tables
    """
    wanted = triggers(connection.dialect.name, version)
    if connection.dialect.name == "sqlite":
        rows = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").all()
        made = {r.name: r.sql for r in rows}
        return [name for name, (_, sql) in wanted.items() if made.get(name) != sql]
    rows = connection.exec_driver_sql(
        "SELECT t.tgname, p.prosrc FROM pg_trigger t "
        "JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid "
        "WHERE pg_table_is_visible(c.oid) "
        "AND t.tgenabled IN ('O', 'A') AND p.proname = 'shoplib_append_only'"
    ).all()
    on = {r.tgname for r in rows if r.prosrc.strip() == _FUNCTION}
    return [name for name in wanted if name not in on]


def _append_only(connection: sa.Connection) -> None:
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(
            f"CREATE FUNCTION shoplib_append_only() RETURNS trigger LANGUAGE plpgsql AS $$ {_FUNCTION} $$"
        )
    for _, sql in triggers(connection.dialect.name).values():
        connection.exec_driver_sql(sql)


def create(connection: sa.Connection) -> None:
    """The tables as they are now, in an empty database, within the caller's transaction."""
    metadata.create_all(connection)
    class_tables.metadata.create_all(connection)
    _append_only(connection)
    connection.execute(store.insert().values(key="version", value=str(VERSION)))
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")


def version_of(connection: sa.Connection) -> int | None:
    """The store's version; 0 for an empty database, None for a database of another program."""
    names = set(sa.inspect(connection).get_table_names())
    if not names:
        return 0
    if "store" not in names or not {"job", "line"} <= names:
        return None
    found = connection.execute(VERSION_NOW).scalar()
    return int(str(found)) if re.fullmatch("[0-9]{1,6}", str(found)) else None


def migrate(connection: sa.Connection, found: int) -> None:
    """Step by step from the version found to this one, within the caller's transaction.

    :param found: version of its tables
    """
    for version in range(found, VERSION):
        STEPS[version](connection)
    connection.execute(store.update().where(store.c.key == "version").values(value=str(VERSION)))
