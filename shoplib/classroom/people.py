"""Who is in a class: logins and names, and the roster as CSV."""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Iterable
from dataclasses import dataclass

from shoplib.core.errors import BadInput, Problem
from shoplib.record import validation
from shoplib.record.exchange import escape_spreadsheet_formula

LOGIN = re.compile(r"[a-z0-9][a-z0-9._-]{0,29}")
LEARNER, INSTRUCTOR = "learner", "instructor"
COLUMNS = ("login", "name", "role")
MOST = 5000  # people in one class
LARGEST = 1_000_000  # characters of a roster


@dataclass(frozen=True)
class Person:
    """Somebody in a class; ``login`` is the name at the hub."""

    login: str
    name: str
    role: str = LEARNER


def me() -> str:
    """The login of the person at this desk: SHOPLIB_LEARNER, or the user of the hub; "" where neither is set."""
    named = os.environ.get("SHOPLIB_LEARNER", "").strip() or os.environ.get("JUPYTERHUB_USER", "").strip()
    return named.lower()


def checked(people: Iterable[Person], problems: list[Problem]) -> list[Person]:
    """The same people with clean names; what is wrong is appended to ``problems``."""
    found: dict[str, Person] = {}
    for n, person in enumerate(people, 1):
        where = f"row {n}"
        if not isinstance(person.login, str) or not LOGIN.fullmatch(person.login):
            why = "the login must be at most 30 lower-case letters, digits, dots and dashes"
            problems.append(Problem(where, why, "a.learner"))
            continue
        if person.login in found:
            problems.append(Problem(where, f"the login {person.login} is listed twice"))
        if person.role not in (LEARNER, INSTRUCTOR):
            problems.append(Problem(where, f"the role must be {LEARNER} or {INSTRUCTOR}"))
        name = validation.line_of_text(person.name or person.login, where, problems, longest=120)
        found[person.login] = Person(person.login, name, person.role)
    if len(found) > MOST:
        problems.append(Problem("roster", f"{len(found)} people are too many; at most {MOST}"))
    return list(found.values())


def read_roster(text: str) -> list[Person]:
    """The people in a CSV file with the columns login and name; the column role may be left out.  Raises BadInput."""
    if len(text) > LARGEST:
        raise BadInput([Problem("roster", "the file is too long")])
    first = text.lstrip("\ufeff").partition("\n")[0]
    separator = next((s for s in (";", "\t") if s in first), ",")
    rows = list(csv.reader(io.StringIO(text.lstrip("\ufeff")), delimiter=separator))
    heads = [h.strip().lower() for h in rows[0]] if rows else []
    missing = [c for c in COLUMNS[:2] if c not in heads]
    if missing:
        raise BadInput([Problem("roster", f"the first line must name the columns {', '.join(missing)}", "login,name")])
    problems: list[Problem] = []
    people = []
    for row in rows[1:]:
        if any(c.strip() for c in row):
            cell = dict(zip(heads, (c.strip() for c in row), strict=False))
            role = cell.get("role", "").lower() or LEARNER
            people.append(Person(cell.get("login", "").lower(), cell.get("name", ""), role))
    found = checked(people, problems)
    if not found and not problems:
        problems.append(Problem("roster", "has no rows below its heading"))
    if problems:
        raise BadInput(problems)
    return found


def write_roster(people: Iterable[Person]) -> str:
    """The roster as CSV; :func:`read_roster` reads it."""
    return table(COLUMNS, ((p.login, p.name, p.role) for p in people))


def table(heads: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """A CSV table.  A cell that a spreadsheet would take for a formula begins with an apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heads)
    writer.writerows([escape_spreadsheet_formula(c) for c in row] for row in rows)
    return out.getvalue()
