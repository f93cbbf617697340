"""From which kept results a result was computed: found by the value that was typed again."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator, Mapping
from typing import Any

from shoplib.record.job import Entry, Job
from shoplib.units import Unreadable, read_any
from shoplib.working import Result

_ENOUGH = 3  # significant digits from which on a rounded number is taken as the same
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?|[.,]\d+")


def origins(job: Job, result: Result) -> list[str]:
    """uids of the standing entries of which a kept result was typed here as an input: same dimension, same value.

    Typed with three digits or more, a value is the same when the kept one rounds to it; with fewer it must be equal.
    Zero says nothing, nor does a number without a unit that has fewer than three digits.  A working is not computed
    from itself: two equal readings are two readings.  A proposal, never a proof: the user decides.
    """
    typed = list(_typed(result))
    others = [e for e in job.standing if e.form != result.working.name] if typed else []
    return [e.uid for e in others if any(_same(kept, t) for kept in _kept(e) for t in typed)]


def _typed(result: Result) -> Iterator[tuple[float, str, str]]:
    """Value in SI, dimension and the number as written, of everything that was typed."""
    for read in result.inputs.to_json().values():
        values, entered = read["value"], read.get("as_entered")
        if not isinstance(values, list):
            values, entered = [values], [entered]
        elif isinstance(entered, str):
            entered = entered.split(";")
        if not isinstance(entered, list | tuple) or len(entered) != len(values):
            continue
        for value, text in zip(values, entered, strict=True):
            found, number = _si(value, read.get("unit")), _NUMBER.search(str(text))
            if found is not None and number is not None:
                yield (*found, number[0])


def _kept(entry: Entry) -> Iterator[tuple[float, str]]:
    """Value in SI and dimension of every number among the results of an entry."""
    waiting: list[Any] = list((entry.result.get("results") or {}).values())
    while waiting:
        value = waiting.pop()
        if isinstance(value, list):
            waiting += value
        elif isinstance(value, Mapping) and "value" in value:
            inner, unit = value["value"], value.get("unit")
            if isinstance(inner, list):
                waiting += [x if isinstance(x, Mapping) else {"value": x, "unit": unit} for x in inner]
            else:
                found = _si(inner, unit)
                if found is not None:
                    yield found
        elif isinstance(value, Mapping):
            waiting += value.values()


def _si(value: Any, unit: Any) -> tuple[float, str] | None:
    """SI value and dimension of a number with its unit, or of a text such as "0.06 mm"."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return None
    if not isinstance(value, str) and unit in ("", "%"):
        return (float(value) * (0.01 if unit else 1.0), "") if value else None
    return _read(value if isinstance(value, str) else f"{value!r} {unit}")


@functools.lru_cache(maxsize=4096)
def _read(text: str) -> tuple[float, str] | None:
    try:
        si, dimension, _ = read_any(text)
    except Unreadable:
        return None
    return (si, dimension) if si else None


def _same(kept: tuple[float, str], typed: tuple[float, str, str]) -> bool:
    value, dimension, written = typed
    if kept[1] != dimension:
        return False
    digits = len(re.sub(r"[.,]", "", written).lstrip("0"))
    if digits < _ENOUGH:
        return bool(dimension) and f"{kept[0]:.9e}" == f"{value:.9e}"
    number = float(written.replace(",", "."))
    return f"{number * kept[0] / value:.{digits - 1}e}" == f"{number:.{digits - 1}e}"
