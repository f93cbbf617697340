"""Values of the record as text on a screen: times, names, blanks, and the sign of an outcome."""

from __future__ import annotations

import datetime
from typing import Any

from shoplib.core.outcome_labels import outcome_label

SIGNS = {"pass": "✓", "fail": "✕", "undecided": "◆", "no limit given": "○"}  # the word is always shown beside the sign


def with_sign(outcome: str) -> str:
    """The words for an outcome, behind its sign."""
    return f"{SIGNS[outcome]} {outcome_label(outcome)}"


def local(at: str) -> str:
    """A time of the record in this machine's local time: ``2026-11-25 14:02:31``."""
    try:
        moment = datetime.datetime.fromisoformat(at)
    except ValueError:
        return at
    return moment.astimezone().strftime("%Y-%m-%d %H:%M:%S")


def as_words(name: object) -> str:
    """A name of the record as a label: ``oil_filter`` becomes Oil filter."""
    said = str(name).replace("_", " ").strip()
    return said[:1].upper() + said[1:]


def plain(value: Any) -> str:
    """A text, a number, a yes or no, or nothing, as text."""
    return "" if value is None else "yes" if value is True else "no" if value is False else str(value)
