"""Who may read and write what on a shared PostgreSQL, enforced by the server: roles and row-level security.

Each person logs in as a role of their own, ``shoplib_learner_LOGIN`` or ``shoplib_instructor_LOGIN``.  A learner reads
and writes their own answers and jobs; an instructor reads their classes, and the jobs of the learners in them.  What
the program does is not trusted for this: the same holds for SQL that a person types.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Iterable
from pathlib import Path

import sqlalchemy as sa

from shoplib.classroom.people import INSTRUCTOR, LEARNER, Person
from shoplib.core.errors import BadInput, Problem
from shoplib.record import class_tables, database, roles, schema
from shoplib.record.errors import Refused

GROUPS = {LEARNER: "shoplib_learner", INSTRUCTOR: "shoplib_instructor"}
_NOW = "to_char(now() AT TIME ZONE 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS.MS\"Z\"')"
_OWN, _MINE = "owner = session_user", "login = shoplib_login()"
_HERE, _TAUGHT = '"class" IN (SELECT shoplib_classes(NULL))', "\"class\" IN (SELECT shoplib_classes('instructor'))"
_JOB = "EXISTS (SELECT 1 FROM job WHERE job.id = line.job{})"
_SEAT = (
    "EXISTS (SELECT 1 FROM seat s JOIN assignment a ON a.id = s.assignment WHERE s.assignment = attempt.assignment "
    'AND s.login = shoplib_login() AND s.seed = attempt.seed AND a."class" = attempt."class")'
)
_PUPILS = "owner IN (SELECT shoplib_pupils())"
_PICTURE = "owner = session_user OR EXISTS (SELECT 1 FROM line WHERE position(picture.digest IN line.body) > 0)"
_IN_ASSIGNMENT = "EXISTS (SELECT 1 FROM assignment a WHERE a.id = seat.assignment)"
_OF_ATTEMPT = "EXISTS (SELECT 1 FROM attempt a WHERE a.id = mark.attempt)"

# table, what it allows, to whom, the condition
_POLICIES = (
    ("classroom", "SELECT", "both", "id IN (SELECT shoplib_classes(NULL))"),
    ("class_secret", "SELECT", INSTRUCTOR, _TAUGHT),
    ("roster", "SELECT", LEARNER, _MINE),
    ("roster", "SELECT", INSTRUCTOR, _TAUGHT),
    ("roster", "INSERT", INSTRUCTOR, f"{_TAUGHT} AND role = '{LEARNER}'"),
    ("assignment", "SELECT", LEARNER, f"{_HERE} AND opens <= {_NOW}"),
    ("assignment", "SELECT", INSTRUCTOR, _TAUGHT),
    ("assignment", "INSERT", INSTRUCTOR, _TAUGHT),
    ("seat", "SELECT", LEARNER, f"{_MINE} AND {_IN_ASSIGNMENT}"),
    ("seat", "SELECT", INSTRUCTOR, _IN_ASSIGNMENT),
    ("seat", "INSERT", INSTRUCTOR, _IN_ASSIGNMENT),
    ("attempt", "SELECT", LEARNER, _MINE),
    ("attempt", "INSERT", LEARNER, f"{_MINE} AND {_SEAT}"),
    ("attempt", "SELECT", INSTRUCTOR, _TAUGHT),
    ("attempt", "INSERT", INSTRUCTOR, _TAUGHT),
    ("mark", "SELECT", LEARNER, _OF_ATTEMPT),
    ("mark", "SELECT", INSTRUCTOR, _TAUGHT),
    ("mark", "INSERT", INSTRUCTOR, f"{_TAUGHT} AND {_OF_ATTEMPT}"),
    ("comment", "SELECT", LEARNER, _MINE),
    ("comment", "SELECT", INSTRUCTOR, _TAUGHT),
    ("comment", "INSERT", INSTRUCTOR, _TAUGHT),
    ("job", "SELECT", "both", f"{_OWN} OR {_PUPILS}"),
    ("job", "INSERT", "both", _OWN),
    ("job", "UPDATE", "both", _OWN),
    ("line", "SELECT", "both", _JOB.format("")),
    ("line", "INSERT", "both", _JOB.format(f" AND {_OWN}")),
    ("picture", "SELECT", "both", _PICTURE),
    ("picture", "INSERT", "both", _OWN),
    ("draft", "ALL", "both", _OWN),
    ("ledger", "SELECT", "both", "true"),
    ("ledger", "INSERT", "both", "true"),
)
_OWNED = ("job", "picture", "draft")

_LOGIN = """
CREATE OR REPLACE FUNCTION shoplib_login() RETURNS text LANGUAGE sql STABLE SET search_path = pg_catalog AS $$
SELECT CASE WHEN starts_with(session_user, '{learner}_') THEN substr(session_user, length('{learner}_') + 1)
WHEN starts_with(session_user, '{instructor}_') THEN substr(session_user, length('{instructor}_') + 1) END $$"""
_CLASSES = """
CREATE OR REPLACE FUNCTION shoplib_classes(wanted text) RETURNS SETOF bigint LANGUAGE sql STABLE SECURITY DEFINER
SET search_path = {here}, pg_temp AS $$
SELECT r."class" FROM roster r WHERE r.login = shoplib_login() AND r.present
AND (wanted IS NULL OR r.role = wanted) AND (r.role = 'learner' OR starts_with(session_user, '{instructor}_'))
AND r.id = (SELECT max(x.id) FROM roster x WHERE x."class" = r."class" AND x.login = r.login) $$"""
_OF_PUPILS = """
CREATE OR REPLACE FUNCTION shoplib_pupils() RETURNS SETOF name LANGUAGE sql STABLE SECURITY DEFINER
SET search_path = {here}, pg_temp AS $$
SELECT DISTINCT ('{learner}_' || r.login)::name FROM roster r WHERE r.role = 'learner' AND r.present
AND r."class" IN (SELECT shoplib_classes('instructor')) $$"""
# A new row of the ledger continues it, and names a line of one's own job.
_LINK = """
CREATE OR REPLACE FUNCTION shoplib_next_link() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = {here}, pg_temp AS $$
DECLARE last record; owner_of name; BEGIN
SELECT n, chain INTO last FROM ledger ORDER BY n DESC LIMIT 1;
IF last IS NULL THEN SELECT 0::bigint AS n, encode(sha256(''), 'hex')::varchar AS chain INTO last; END IF;
IF NEW.n <> last.n + 1 OR NEW.chain <> encode(sha256(convert_to(concat_ws(E'\\n', last.chain, NEW.n, NEW.job,
NEW.number, NEW.line, NEW.digest), 'UTF8')), 'hex') THEN RAISE EXCEPTION 'the ledger does not continue'; END IF;
SELECT j.owner INTO owner_of FROM line l JOIN job j ON j.id = l.job
WHERE j.uid = NEW.job AND l.n = NEW.line AND l.digest = NEW.digest;
IF shoplib_login() IS NOT NULL AND owner_of IS DISTINCT FROM session_user THEN
RAISE EXCEPTION 'the ledger names only lines of your own jobs'; END IF;
RETURN NEW; END $$"""


def make_borders(
    where: str | Path,
    *,
    owner: str = roles.OWNER,
    writer: str = roles.WRITER,
    groups: dict[str, str] = GROUPS,
    wait: float = 10.0,
) -> None:
    """Install the borders, as an administrator of the database.  The call can be repeated."""
    roles.make_roles(where, owner=owner, writer=writer, wait=wait)
    opened = database.opened(database.url_of(where), wait)
    try:
        with database.in_words(opened.place, wait), opened.engine.begin() as c:
            here = c.dialect.identifier_preparer.quote(str(c.scalar(sa.text("SELECT current_schema()"))))
            found = set(c.scalars(sa.text("SELECT rolname FROM pg_roles")))
            for group in groups.values():
                if group not in found:
                    c.exec_driver_sql(f"CREATE ROLE {group} NOLOGIN")
                c.exec_driver_sql(f"GRANT USAGE ON SCHEMA {here} TO {group}")
            c.exec_driver_sql(f"SET LOCAL ROLE {owner}")
            for table in _OWNED:
                c.exec_driver_sql(f"ALTER TABLE {table} ADD COLUMN IF NOT EXISTS owner name DEFAULT session_user")
            for text in (_LOGIN, _CLASSES, _OF_PUPILS, _LINK):
                c.exec_driver_sql(text.format(here=here, **groups))
            c.exec_driver_sql(
                "CREATE OR REPLACE TRIGGER ledger_next BEFORE INSERT ON ledger "
                "FOR EACH ROW EXECUTE FUNCTION shoplib_next_link()"
            )
            _grant(c, groups)
            _policies(c, writer, groups)
    finally:
        opened.engine.dispose()


def _grant(c: sa.Connection, groups: dict[str, str]) -> None:
    """Rights on tables; for a table with an owner, on its other columns only."""
    every = {**schema.metadata.tables, **class_tables.metadata.tables}
    sequences = [c.scalar(sa.text("SELECT pg_get_serial_sequence(:t, 'id')"), {"t": t}) for t in roles.NUMBERED]
    for role, group in groups.items():
        c.exec_driver_sql(f"GRANT SELECT ON store TO {group}")
        c.exec_driver_sql(f"GRANT USAGE ON SEQUENCE {', '.join(map(str, sequences))} TO {group}")
        for table in dict.fromkeys(p[0] for p in _POLICIES):
            c.exec_driver_sql(f"REVOKE ALL ON {table} FROM {group}")
            rights = dict.fromkeys(p[1] for p in _POLICIES if p[0] == table and p[2] in ("both", role))
            columns = ", ".join(f'"{x.name}"' for x in every[table].c)
            for right in rights:
                c.exec_driver_sql(f"GRANT {_rights(table, right, columns)} ON {table} TO {group}")
        c.exec_driver_sql(f"GRANT SELECT (owner) ON job TO {group}")  # the condition for lines reads it


def _rights(table: str, right: str, columns: str) -> str:
    if right == "ALL":
        return ", ".join((f"SELECT ({columns})", f"INSERT ({columns})", f"UPDATE ({columns})", "DELETE"))
    if table == "ledger" and right == "SELECT":  # its length and last hash only
        return "SELECT (n, chain)"
    return f"{right} ({roles.OF_JOB if (table, right) == ('job', 'UPDATE') else columns})"


def _policies(c: sa.Connection, writer: str, groups: dict[str, str]) -> None:
    """Row-level security on every table; the writer of a record without people keeps what it had."""
    for table in dict.fromkeys(p[0] for p in _POLICIES):
        c.exec_driver_sql(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
        for name in c.scalars(sa.text("SELECT polname FROM pg_policy WHERE polrelid = CAST(:t AS regclass)"),
                              {"t": table}).all():  # fmt: skip
            c.exec_driver_sql(f'DROP POLICY "{name}" ON {table}')
        c.exec_driver_sql(f"CREATE POLICY writer ON {table} TO {writer} USING (true) WITH CHECK (true)")
    for n, (table, right, who, condition) in enumerate(_POLICIES):
        to = ", ".join(groups.values()) if who == "both" else groups[who]
        using = "" if right == "INSERT" else f" USING ({condition})"
        check = "" if right == "SELECT" else f" WITH CHECK ({condition})"
        c.exec_driver_sql(f"CREATE POLICY p{n} ON {table} FOR {right} TO {to}{using}{check}")


def role_of(person: Person, groups: dict[str, str] = GROUPS) -> str:
    """The name of a person's role."""
    return f"{groups[person.role]}_{person.login}"


def password_of(secret: str, role: str) -> str:
    """The password of a role, computed from a secret of the hub: it need not be stored anywhere else."""
    if len(secret) < 16:
        raise BadInput([Problem("secret", "must have at least 16 characters")])
    return hmac.new(secret.encode(), role.encode(), hashlib.sha256).hexdigest()


def make_logins(
    where: str | Path,
    people: Iterable[Person],
    *,
    secret: str = "",
    groups: dict[str, str] = GROUPS,
    wait: float = 10.0,
) -> list[str]:
    """A role for each person, with a password if there is a secret; returns the roles.  The call can be repeated."""
    url = database.url_of(where)
    if url.drivername == "sqlite":
        raise Refused("only PostgreSQL has roles; a file belongs to one person")
    opened, made = database.opened(url, wait), []
    try:
        with database.in_words(opened.place, wait), opened.engine.begin() as c:
            quote = c.dialect.identifier_preparer.quote_identifier
            found = set(c.scalars(sa.text("SELECT rolname FROM pg_roles")))
            for person in people:
                name = role_of(person, groups)
                if name not in found:
                    c.exec_driver_sql(
                        f"CREATE ROLE {quote(name)} LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS"
                    )
                c.exec_driver_sql(f"GRANT {groups[person.role]} TO {quote(name)}")
                if secret:
                    c.exec_driver_sql(f"ALTER ROLE {quote(name)} PASSWORD '{password_of(secret, name)}'")
                made.append(name)
    finally:
        opened.engine.dispose()
    return made
