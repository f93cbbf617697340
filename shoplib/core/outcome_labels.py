"""The words for each outcome, in one place: a translation changes this file only.  The codes are never shown."""

from __future__ import annotations

OUTCOME_LABELS = {
    "pass": "pass",
    "fail": "fail",
    "undecided": "undecided",
    "no limit given": "no limit given",
}


def outcome_label(code: object) -> str:
    """The words for an outcome inside a sentence; "" for none, any other text as it is.

    :param code: the code of the outcome
    """
    return "" if code is None else OUTCOME_LABELS.get(str(code), str(code))


def outcome_heading(code: object) -> str:
    """The same with a capital, alone in a cell.

    :param code: the code of the outcome
    """
    words = outcome_label(code)
    return words[:1].upper() + words[1:]
