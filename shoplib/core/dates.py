"""Reading dates: day and month are never guessed."""

from __future__ import annotations

import datetime
import re

from shoplib.core.units import Unreadable, clip, tidy

MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip


def read_date(typed: object) -> str:
    """A date as ISO text; day and month are never guessed.  TOML dates are taken as they are.

    ``28 November 2026`` and ``28 Nov 2026`` are read too: they mean one day only.

    :param typed: a text, or a date as TOML reads it
    :raises Unreadable: not a date, or day and month could be exchanged
    """
    if isinstance(typed, datetime.datetime | datetime.date):
        return typed.isoformat()
    text = tidy(typed)
    try:
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError:
        possible = _possible_dates(text)
    if (named := _with_month_name(text)) is not None:
        return named.isoformat()
    if possible:
        words = " or ".join(f"{d.day} {d:%B %Y}" for d in possible)
        raise Unreadable(f"Which date is it: {words}? Type {' or '.join(d.isoformat() for d in possible)}")
    raise Unreadable(f'"{clip(text)}" is not a date; type year-month-day, such as 2026-11-25')


def _with_month_name(text: str) -> datetime.date | None:
    """The date of ``28 Nov 2026``: day, month in English or its first three letters, and full year."""
    match = re.fullmatch(r"(\d{1,2})\.?\s+([a-z]{3,9})\.?,?\s+(\d{4})", text.lower())
    if match is None:
        return None
    day, month, year = match.groups()
    number = next((n for n, name in enumerate(MONTHS, 1) if month in (name, name[:3])), 0)
    try:
        return datetime.date(int(year), number, int(day))
    except ValueError:  # no such month or day
        return None


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
