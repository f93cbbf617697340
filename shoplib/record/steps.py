"""The steps from one version of the tables to the next, each as it was released.  A released step is never edited.

A step contains its own table definitions, because those in :mod:`shoplib.record.schema` are the current ones.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable

import sqlalchemy as sa

from shoplib.record import class_tables

REFUSAL = "the job record is append-only"
_Id = sa.BigInteger().with_variant(sa.Integer, "sqlite")


def _to_2(connection: sa.Connection) -> None:
    """Drafts belong to a desk; a ledger lists every line of every job; PostgreSQL refuses TRUNCATE."""
    _drafts_of_desks(connection)
    _ledger(connection)
    _triggers(connection)


def _drafts_of_desks(connection: sa.Connection) -> None:
    """Version 1 stored a draft under the uid of its job, or under "@" and the desk when there was no job."""
    if connection.dialect.name == "postgresql":  # else the new table could not have an index of that name
        connection.exec_driver_sql("ALTER TABLE draft RENAME CONSTRAINT draft_pkey TO draft_1_pkey")
    connection.exec_driver_sql("ALTER TABLE draft RENAME TO draft_1")
    sa.Table(
        "draft",
        sa.MetaData(),
        sa.Column("desk", sa.String(64), primary_key=True),
        sa.Column("job", sa.String(64), primary_key=True),
        sa.Column("form", sa.String(80), primary_key=True),
        sa.Column("inputs", sa.Text, nullable=False),
        sa.Column("saved_at", sa.String(32), nullable=False),
    ).create(connection)
    copy = sa.text(
        "INSERT INTO draft (desk, job, form, inputs, saved_at) "
        "SELECT :desk, :job, form, inputs, saved_at FROM draft_1 WHERE scope = :scope"
    )
    for (scope,) in connection.exec_driver_sql("SELECT DISTINCT scope FROM draft_1").all():
        if scope.startswith("@"):
            desk, job = hashlib.sha256(scope[1:].encode("utf-8", "replace")).hexdigest(), ""
        else:
            desk, job = ("?" if scope else ""), scope  # its desk is not known
        connection.execute(copy, {"desk": desk, "job": job, "scope": scope})
    connection.exec_driver_sql("DROP TABLE draft_1")


def _ledger(connection: sa.Connection) -> None:
    table = sa.Table(
        "ledger",
        sa.MetaData(),
        sa.Column("n", _Id, primary_key=True, autoincrement=False),
        sa.Column("job", sa.String(64), nullable=False),
        sa.Column("number", sa.String(80), nullable=False),
        sa.Column("line", sa.Integer, nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("chain", sa.String(64), nullable=False),
    )
    table.create(connection)
    found = connection.exec_driver_sql(
        "SELECT job.uid, job.number, line.n, line.digest FROM line JOIN job ON job.id = line.job ORDER BY line.id"
    )
    chain = hashlib.sha256(b"").hexdigest()
    rows = []
    for n, (job, number, line, digest) in enumerate(found.all(), 1):
        chain = hashlib.sha256(f"{chain}\n{n}\n{job}\n{number}\n{line}\n{digest}".encode()).hexdigest()
        rows.append({"n": n, "job": job, "number": number, "line": line, "digest": digest, "chain": chain})
    if rows:
        connection.execute(table.insert(), rows)


def _triggers(connection: sa.Connection) -> None:
    if connection.dialect.name == "postgresql":
        then = "EXECUTE FUNCTION shoplib_append_only()"
        for verb in ("UPDATE", "DELETE"):
            connection.exec_driver_sql(
                f"CREATE TRIGGER ledger_no_{verb.lower()} BEFORE {verb} ON ledger FOR EACH ROW {then}"
            )
        for table in ("line", "picture", "ledger"):
            connection.exec_driver_sql(
                f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} FOR EACH STATEMENT {then}"
            )
        return
    for verb in ("UPDATE", "DELETE"):
        connection.exec_driver_sql(
            f"CREATE TRIGGER ledger_no_{verb.lower()} BEFORE {verb} ON ledger "
            "BEGIN SELECT RAISE(ABORT, 'the job record is append-only'); END"
        )


def _to_3(connection: sa.Connection) -> None:
    """The tables of the classroom.  A version that changes them copies their present definitions here."""
    class_tables.metadata.create_all(connection)
    for _, sql in append_only(connection.dialect.name, class_tables.FIXED).values():
        connection.exec_driver_sql(sql)


def append_only(dialect: str, tables: Iterable[str]) -> dict[str, tuple[str, str]]:
    """Name of each trigger that refuses a change → its table, and the statement that makes it.

    :param dialect: sqlite or postgresql
    :param tables: their names
    """
    found = {}
    for table in tables:
        for verb in ("UPDATE", "DELETE"):
            then = (
                "FOR EACH ROW EXECUTE FUNCTION shoplib_append_only()"
                if dialect == "postgresql"
                else f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
            name = f"{table}_no_{verb.lower()}"
            found[name] = (table, f"CREATE TRIGGER {name} BEFORE {verb} ON {table} {then}")
        if dialect == "postgresql":  # SQLite has no TRUNCATE
            name = f"{table}_no_truncate"
            each = "FOR EACH STATEMENT EXECUTE FUNCTION shoplib_append_only()"
            found[name] = (table, f"CREATE TRIGGER {name} BEFORE TRUNCATE ON {table} {each}")
    return found


# From version k to k + 1.
STEPS: dict[int, Callable[[sa.Connection], None]] = {1: _to_2, 2: _to_3}
