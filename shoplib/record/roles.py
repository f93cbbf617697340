"""Two PostgreSQL roles: one owns the tables, the other adds lines and cannot remove or change what was saved."""

from __future__ import annotations

import re
from pathlib import Path

import sqlalchemy as sa

from shoplib.core.errors import BadInput, Problem
from shoplib.record import class_tables, database, schema
from shoplib.record.errors import Refused

OWNER, WRITER = "shoplib_owner", "shoplib_writer"
_NAME = re.compile(r"[a-z_][a-z0-9_]{0,62}")
# What the writer may do.  TRUNCATE, TRIGGER and REFERENCES are granted to nobody.
OF_JOB = "number, engine, customer_ref, complaint, done_by, date, search, closed, issue, lines, head, last, changed_at"
_GRANTS = {
    "store": "SELECT",
    "line": "SELECT, INSERT",
    "picture": "SELECT, INSERT",
    "ledger": "SELECT, INSERT",
    "job": f"SELECT, INSERT, UPDATE ({OF_JOB})",
    "draft": "SELECT, INSERT, UPDATE, DELETE",
    **dict.fromkeys(class_tables.FIXED, "SELECT, INSERT"),
}
NUMBERED = ("line", "job", *(name for name, t in class_tables.metadata.tables.items() if "id" in t.c))


def make_roles(where: str | Path, *, owner: str = OWNER, writer: str = WRITER, wait: float = 10.0) -> None:
    """Create the tables if they are missing, make ``owner`` their owner, and let ``writer`` only add lines.

    ``where``: the address of the database, as an administrator.  Missing roles are created; the writer gets no
    password here.  The call can be repeated; it also upgrades older tables.

    :param where: the URL of the server
    :param owner: role that owns the tables
    :param writer: role that adds lines
    :param wait: s, how long a lock is waited for
    :raises BadInput: names of roles that cannot be used
    :raises Refused: a file, which has no roles
    """
    problems = [
        Problem(field, "must be the name of a PostgreSQL role: lower-case letters, digits and _", example)
        for field, name, example in (("owner", owner, OWNER), ("writer", writer, WRITER))
        if not _NAME.fullmatch(name)
    ]
    if not problems and owner == writer:
        problems.append(Problem("writer", "must not be the same role as the owner", WRITER))
    if problems:
        raise BadInput(problems)
    url = database.url_of(where)
    if url.drivername == "sqlite":
        raise Refused("only PostgreSQL has roles; for a file, set the permissions in the file system")
    opened = database.opened(url, wait)
    try:
        with database.in_words(opened.place, wait), opened.engine.begin() as c:
            _roles(c, owner, writer)
            _ownership(c, owner)
            _rights(c, owner, writer)
    finally:
        opened.engine.dispose()


def _roles(c: sa.Connection, owner: str, writer: str) -> None:
    found = {r.rolname: r for r in c.execute(sa.text("SELECT rolname, rolsuper FROM pg_roles"))}
    if owner not in found:
        c.exec_driver_sql(f"CREATE ROLE {owner} NOLOGIN")
    if writer not in found:
        c.exec_driver_sql(f"CREATE ROLE {writer} LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS")
    elif found[writer].rolsuper:
        raise Refused(f"{writer} is a superuser and could change everything; choose another role")
    elif c.scalar(sa.text("SELECT pg_has_role(:w, :o, 'MEMBER')"), {"w": writer, "o": owner}):
        raise Refused(f"{writer} is a member of {owner} and could change everything; choose another role")


def _ownership(c: sa.Connection, owner: str) -> None:
    if not c.scalar(sa.text("SELECT pg_has_role(current_user, :o, 'MEMBER')"), {"o": owner}):
        c.exec_driver_sql(f"GRANT {owner} TO CURRENT_USER")
    c.exec_driver_sql(f"GRANT USAGE, CREATE ON SCHEMA {_schema(c)} TO {owner}")
    for table in (*schema.metadata.tables, *class_tables.FIXED):
        c.exec_driver_sql(f"ALTER TABLE {table} OWNER TO {owner}")
    c.exec_driver_sql(f"ALTER FUNCTION shoplib_append_only() OWNER TO {owner}")


def _rights(c: sa.Connection, owner: str, writer: str) -> None:
    here = _schema(c)
    c.exec_driver_sql(f"REVOKE CREATE ON SCHEMA {here} FROM PUBLIC, {writer}")
    c.exec_driver_sql(f"GRANT USAGE ON SCHEMA {here} TO {writer}")
    c.exec_driver_sql(f"SET LOCAL ROLE {owner}")
    for table, rights in _GRANTS.items():
        c.exec_driver_sql(f"REVOKE ALL ON {table} FROM PUBLIC, {writer}")
        c.exec_driver_sql(f"GRANT {rights} ON {table} TO {writer}")
    for table in NUMBERED:
        sequence = c.scalar(sa.text("SELECT pg_get_serial_sequence(:t, 'id')"), {"t": table})
        c.exec_driver_sql(f"GRANT USAGE, SELECT ON SEQUENCE {sequence} TO {writer}")
    c.exec_driver_sql("RESET ROLE")


def _schema(c: sa.Connection) -> str:
    return c.dialect.identifier_preparer.quote(str(c.scalar(sa.text("SELECT current_schema()"))))
