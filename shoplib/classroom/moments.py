"""Times as an instructor types them, and as the record stores them (UTC)."""

from __future__ import annotations

import datetime

from shoplib.core.errors import Problem

EXAMPLE = "2026-12-04 16:00"


def read(typed: str, where: str, problems: list[Problem]) -> str:
    """``2026-12-04 16:00`` in local time as UTC text; a date alone is its beginning.  Empty stays empty."""
    typed = typed.strip()
    if not typed:
        return ""
    try:
        moment = datetime.datetime.fromisoformat(typed)
    except ValueError:
        problems.append(Problem(where, "must be a date and a time", EXAMPLE))
        return ""
    return moment.astimezone(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")


def shown(stored: str) -> str:
    """A stored time in local time, to the minute."""
    if not stored:
        return ""
    return datetime.datetime.fromisoformat(stored).astimezone().strftime("%Y-%m-%d %H:%M")


def now() -> str:
    """The present moment, as the record stores it."""
    return datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%S.%f")[:-3] + "Z"
