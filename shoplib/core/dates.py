"""Reading dates: day and month are never guessed."""

from __future__ import annotations

import datetime
import re

from shoplib.core.units import Unreadable, clip, tidy


def read_date(typed: object) -> str:
    """A date as ISO text; day and month are never guessed.  TOML dates are taken as they are."""
    if isinstance(typed, datetime.datetime | datetime.date):
        return typed.isoformat()
    text = tidy(typed)
    try:
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError:
        possible = _possible_dates(text)
    if possible:
        words = " or ".join(f"{d.day} {d:%B %Y}" for d in possible)
        raise Unreadable(f"Which date is it: {words}? Type {' or '.join(d.isoformat() for d in possible)}")
    raise Unreadable(f'"{clip(text)}" is not a date; type year-month-day, such as 2026-11-25')


def _possible_dates(text: str) -> list[datetime.date]:
    """The dates that day/month/year or month/day/year can mean: they are offered, never taken."""
    match = re.fullmatch(r"(\d{1,2})\s*[./-]\s*(\d{1,2})\s*[./-]\s*(\d{4}|\d{2})", text)
    if match is None:
        return []
    a, b, year = (int(n) for n in match.groups())
    year += 2000 if year < 100 else 0
    found = []
    for day, month in dict.fromkeys(((a, b), (b, a))):
        try:
            found.append(datetime.date(year, month, day))
        except ValueError:
            continue
    return found
