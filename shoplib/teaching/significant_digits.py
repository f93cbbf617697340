"""Which digits of a typed number count."""

from __future__ import annotations

import re


def significant(typed: str) -> str:
    """The significant digits of the first number in a text; zeros at the end of a whole number do not count."""
    number = re.search(r"\d+(?:[.,]\d+)?", typed)
    if number is None:
        return ""
    digits = re.sub(r"[.,]", "", number[0]).lstrip("0")
    return digits if re.search(r"[.,]", number[0]) else digits.rstrip("0")


def trailing_zeros(typed: str) -> int:
    """Zeros at the end of a whole number: 130 may be 127 rounded to two digits."""
    number = re.search(r"\d+(?:[.,]\d+)?", typed)
    return 0 if number is None or re.search(r"[.,]", number[0]) else len(number[0]) - len(number[0].rstrip("0"))
