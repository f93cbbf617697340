"""Tests and measurements that were saved more than once: which one answers which."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shoplib.core.working import Result
from shoplib.record.job import Entry, Job
from shoplib.sheet.entry_sheet import WORDS


def _groups(job: Job, results: Mapping[str, Result | str]) -> list[list[Entry]]:
    """Tests and measurements of one kind, and of one place if they name one, that were saved more than once."""
    groups: dict[tuple[Any, ...], list[Entry]] = {}
    for e in job.current_entries:
        if e.kind == "entry" and e.phase in ("prove", "measure") and isinstance(results[e.uid], Result):
            typed = e.inputs or {}
            groups.setdefault((e.form, *(str(typed.get(k)) for k in ("what", "where"))), []).append(e)
    return [g for g in groups.values() if len(g) > 1]


def later(job: Job, results: Mapping[str, Result | str]) -> dict[str, str]:
    """uid of a test that was repeated later, and the later outcome: a proven fault is not a failed repair."""
    found: dict[str, str] = {}
    for group in _groups(job, results):
        last = group[-1]
        result = results[last.uid]
        if isinstance(result, Result) and result.outcome is not None:
            words = f". Same test repeated, line {last.n} ({last.title}): {WORDS[str(result.outcome)]}"
            found |= {e.uid: words for e in group[:-1]}
    return found


def answered(job: Job, results: Mapping[str, Result | str]) -> dict[str, str]:
    """uid of an entry as found, and the line and outcome of the same test as left."""
    found: dict[str, str] = {}
    for group in _groups(job, results):
        last = group[-1]
        result = results[last.uid]
        if last.condition == "as_left" and isinstance(result, Result) and result.outcome is not None:
            words = f"line {last.n}: {WORDS[str(result.outcome)].lower()}"
            found |= {e.uid: words for e in group[:-1] if e.condition == "as_found"}
    return found
