"""What something says, in a form that is short to store: texts without their numbers, each with a sum of its numbers.

A sum weighs each number by its place and by its size (asinh), so that a change of 1 % of any one of them is seen.
"""

from __future__ import annotations

import ast
import difflib
import functools
import math
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

import shoplib
from shoplib.core import progress
from shoplib.core.checks import Value
from shoplib.core.errors import BadInput

NUMBER = re.compile(r"(?<![\w.])[-−]?\d+(?:\.\d+)?(?:e[-+]?\d+|×10[⁻⁰¹²³⁴-⁹]+)?")
ROUNDING = re.compile(r"×10⁻(?:[¹²³⁴-⁹][⁰¹²³⁴-⁹]|⁹)$")  # an exponent of −9 or less
TOLERANCE = 1e-6  # of a sum; 0.0001 % of one number
Said = list[tuple[str, float]]


def numbers_in(value: Any) -> Iterable[float]:
    """Every number in it, in order; of None and NaN a number that is never met elsewhere.  Words have none."""
    if value is None:
        yield 7.77e77
    elif isinstance(value, str):
        return
    elif isinstance(value, bool | int | float | np.number | np.bool_):
        yield float(value)
    elif isinstance(value, Value):
        yield from numbers_in((value.value, value.digits))
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from numbers_in(inner)
    elif isinstance(value, np.ndarray):
        yield from value.astype(float).ravel()
    elif isinstance(value, Iterable):
        for inner in value:
            yield from numbers_in(inner)
    elif hasattr(value, "__dict__"):
        yield from numbers_in(vars(value))


def sum_of(*values: Any) -> float:
    """One number that changes when one of these does."""
    x = np.fromiter((n for v in values for n in numbers_in(v)), float)
    x = np.where(np.isnan(x), 7.77e77, np.clip(x, -1e99, 1e99))
    weights = 1.0 + np.arange(len(x)) * 0.6180339887 % 1.0
    return round(math.fsum(weights * np.arcsinh(1e9 * x)), 7) + 0.0


def numbers_in_text(text: str) -> list[float]:
    return [float(x.partition("×")[0].replace("−", "-")) for x in _shown(text)]


def _shown(text: str) -> list[str]:
    """The numbers as they are written; what is below 10⁻⁹ of its unit is rounding, which each processor does otherwise."""
    return ["0" if ROUNDING.search(x) else x for x in NUMBER.findall(text)]


def one(text: str, *numbers: Any) -> tuple[str, float]:
    """A text and the numbers that stand in it or beside it; "1.40" is not "1.4"."""
    return NUMBER.sub("#", text), sum_of(numbers_in_text(text), map(len, _shown(text)), *numbers)


def of_result(result: Any) -> Said:
    """Everything that a result of a working tells, its picture in words too."""
    said = [one(f"{result.outcome}; a forecast: {result.is_forecast}")]
    for name, value in result.values.items():
        said += [one(name, value)] + [one(line) for line in value.as_lines()]
    for check in result.checks:
        limit = check.limit.value if check.limit else None
        said.append(
            one(check.as_line(), check.found, limit, [v.value for v in check.corner.values()], check.uncertainty)
        )
    said += [one(f"{s.title}. {s.note}", s.digits, s.arguments) for s in result.steps]
    said += [one(x) for x in (*result.assumptions, *result.cautions)]
    said += [one(name, drawn) for name, drawn in result.plot_data.items()]
    if result.working.alt is not None:
        said.append(one(result.working.alt(result)))
    return said


def of_run(working: Any, inputs: Mapping[str, Any]) -> Said:
    """What a working says to these inputs: its result, or what it refuses."""
    return run(working, inputs)[0]


def run(working: Any, inputs: Mapping[str, Any]) -> tuple[Said, Any]:
    """The same, and the result; None when it was refused."""
    steps: list[progress.Progress] = []
    try:
        with progress.listening(steps.append):
            result = working(inputs)
    except BadInput as refused:
        return [("refused", 0.0), *(one(f"{p.field}: {p.told}") for p in refused.problems)], None
    return of_result(result) + ([one("progress", [p.share for p in steps])] if steps else []), result


@functools.cache
def phrases() -> frozenset[str]:
    """Every text between quotes in the source, in pieces between its numbers and what is put into it."""
    found: set[str] = set()
    for path in Path(shoplib.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and len(node.value) < 400:
                found.update(map(_words, re.split(r"\{[^{}]*\}|#", NUMBER.sub("#", node.value))))
    return frozenset(text for text in found if len(text) > 5)


def _words(text: str) -> str:
    return " ".join(["", *re.findall(r"[^\W_]+", text), ""])


def _within(short: str, long: str) -> bool:
    """Whether a text becomes the other one when something is left out of it."""
    letters = iter(long)
    return all(letter in letters for letter in short)


def exchanged(was: str, now: str) -> bool:
    """Whether something that was said still stands in the source, and is not said now: another branch speaks.

    One word counts only where another one from the source took its place.
    """
    before, after = _words(was), _words(now)
    if _within(before, after) or _within(after, before):
        return True
    if any(text in before and text not in after for text in phrases() if text.count(" ") > 2):
        return True
    old, new = before.split(), after.split()
    parts = difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes()
    return any(
        {_words(" ".join(old[i:j])), _words(" ".join(new[k:m]))} <= phrases()
        for tag, i, j, k, m in parts
        if tag == "replace"
    )


class Texts:
    """Stored texts by number.  Words may be changed: a new text may stand for a stored one, but always the same for it.

    A stored text that appears where another one was stored is a difference, and so is a new text that stands for two,
    or one that leaves out what still stands in the source.
    """

    def __init__(self, stored: Iterable[str] = ()) -> None:
        self.stored = list(stored)
        self._number = {text: n for n, text in enumerate(self.stored)}
        self._now: dict[int, str] = {}
        self._was: dict[str, int] = {}

    def number(self, text: str) -> int:
        """Its number, new where it was not stored yet."""
        if text not in self._number:
            self._number[text] = len(self.stored)
            self.stored.append(text)
        return self._number[text]

    def differs(self, number: int, text: str) -> bool:
        """Whether this text may not stand for the stored one."""
        if text == self.stored[number]:
            return self._now.setdefault(number, text) != text
        return (
            text in self._number
            or self._now.setdefault(number, text) != text
            or self._was.setdefault(text, number) != number
            or exchanged(self.stored[number], text)
        )


def differences(texts: Texts, stored: list[list[float]], now: Said) -> list[str]:
    """What is said otherwise than stored, in words."""
    found = []
    for (number, total), (text, is_now) in zip(stored, now, strict=False):
        was = texts.stored[int(number)]
        if texts.differs(int(number), text):
            found.append(f"{was!r} became {text!r}")
        elif text == was and abs(total - is_now) > TOLERANCE:  # new words may have other numbers in them
            found.append(f"{was!r}: a number became another one")
    if len(stored) != len(now):
        found.append(f"{len(stored)} things were said, now {len(now)}")
    return found
