"""Which version of its calculation each line of a job has: the one printed, and the one with which it was saved."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shoplib.core.working import Result
from shoplib.record.job import Job, result_of
from shoplib.sheet.formatting import lines_in_words


def versions_of(job: Job, results: Mapping[str, Result | str]) -> str:
    """The versions in words; "" for a job in which nothing was calculated."""
    printed: dict[str, list[int]] = {}
    saved: dict[str, list[int]] = {}
    for entry in job.current_entries:
        result = results.get(entry.uid)
        if not isinstance(result, Result):
            continue
        now, then = result.working.calculation, _stated(result_of(entry.line))
        printed.setdefault(f"version {now}", []).append(entry.n)
        if then != now:
            told = f"version {then}" if then else f"shoplib {entry.line.program}, which stated no version"
            saved.setdefault(told, []).append(entry.n)
    parts = [f"{what}, {lines_in_words(n)}" for what, n in sorted(printed.items())]
    return "; ".join(parts + [f"{lines_in_words(n)} saved with {what}" for what, n in saved.items()])


def _stated(result: Mapping[str, Any]) -> int | None:
    stated = result.get("calculation")
    return stated if isinstance(stated, int) else None
