"""The grid of a tightening: one row a bolt, one column a stage, each tick with its value, initials and time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from shoplib.record.job import Entry, Job
from shoplib.record.story import ticks_of
from shoplib.sheet.lines import moment, photo
from shoplib.working import Result

PLAN = "tightening_plan"
MOST_STAGES = 40  # columns made for ticks that no programme names


@dataclass(frozen=True)
class Layout:
    """Rows and columns of a grid, and which of its cells are wanted."""

    stages: tuple[tuple[int, str, str], ...]  # number, what is done, what to set
    bolts: tuple[str, ...]  # in the order of the tightening
    wanted: frozenset[tuple[int, str]]


def layout_of(job: Job, programme: Entry, result: Result | str | None) -> Layout:
    """From the plan worked again, or from a note with ``stages`` and ``bolts``; else from what was ticked."""
    if isinstance(result, Result):
        planned, sequence = result.curve["stages"], result.curve["sequence"]
        named = tuple((p.number, f"{p.what}{f', {p.group}' if p.stage.group else ''}", p.setting) for p in planned)
        bolts: list[str] = [b for _, b in sequence]
        wanted = frozenset(sequence)
    else:
        content = programme.content or {}
        said = [str(s) for s in content.get("stages", ()) if isinstance(s, str | int | float)]
        named = tuple((k, s, "") for k, s in enumerate(said, 1))
        bolts = [str(b) for b in content.get("bolts", ()) if isinstance(b, str | int)]
        wanted = frozenset((k, b) for k, _, _ in named for b in bolts)
    ticks = ticks_of(job, programme)
    more = sorted({t.stage for t in ticks} - {n for n, _, _ in named})[:MOST_STAGES]
    return Layout(
        tuple(sorted([*named, *((n, "", "") for n in more)])),
        tuple(dict.fromkeys([*bolts, *(str(t.bolt) for t in ticks)])),
        wanted,
    )


def programmes(job: Job) -> list[Entry]:
    """Entries and notes that stand and are tightened by."""
    ticked = {t.programme for t in job.ticks}
    return [
        e for e in job.standing
        if e.form == PLAN or (e.kind == "note" and any(x.uid in ticked for x in job.chain(e.uid)))
    ]  # fmt: skip


def grids(job: Job, results: Mapping[str, Result | str]) -> dict[str, dict[str, Any]]:
    """uid of each programme that stands to what the template sets.  ``results``: the entries worked again, by uid."""
    return {e.uid: _grid(job, e, layout_of(job, e, results.get(e.uid))) for e in programmes(job)}


def _grid(job: Job, programme: Entry, layout: Layout) -> dict[str, Any]:
    ticks = ticks_of(job, programme)
    days = sorted({t.at[:10] for t in ticks})
    several = len(days) > 1
    cells: dict[tuple[int, str], dict[str, Any]] = {}
    deviations: list[dict[str, Any]] = []
    corrected: list[dict[str, Any]] = []
    for t in ticks:
        cell = cells.setdefault((t.stage, str(t.bolt)), {"value": "", "by": "", "marks": [], "old": []})
        said = {"value": str(t.value), "by": f"{t.initials} {_time(t, several)}"}
        if t.stands:
            cell |= said
        else:
            assert t.by is not None
            cell["old"].append(said)
            after = t.by.body if t.by.kind == "tick" else {}
            corrected.append({
                "n": t.n, "bolt": str(t.bolt), "stage": str(t.stage), **said, "new": str(after.get("value", "")),
                "by_n": t.by.n, "by_who": t.by.who, "at": moment(t.by),
                "because": str(t.by.body.get("because", "")),
            })  # fmt: skip
        if t.deviation:
            mark = f"D{len(deviations) + 1}"
            cell["marks"].append(mark)
            deviations.append({
                "mark": mark, "n": t.n, "bolt": str(t.bolt), "stage": str(t.stage), **said, "stands": t.stands,
                "deviation": str(t.deviation), "reason": str(t.reason or ""), "action": str(t.action or ""),
            })  # fmt: skip
    rows = []
    for bolt in layout.bolts:
        row = []
        for number, _, _ in layout.stages:
            cell = cells.get((number, bolt), {"value": "", "by": "", "marks": [], "old": []})
            row.append(cell | {"wanted": (number, bolt) in layout.wanted})
        rows.append({"bolt": bolt, "cells": row})
    remarks = [{"n": t.n, "bolt": str(t.bolt), "stage": str(t.stage), "remark": str(t.remark)}
               for t in ticks if t.remark and t.stands]  # fmt: skip
    return {
        "stages": [{"n": n, "what": what, "setting": setting} for n, what, setting in layout.stages],
        "rows": rows,
        "days": ", ".join(days),
        "deviations": deviations,
        "corrected": corrected,
        "remarks": remarks,
        "missing": len([1 for k in layout.wanted if not cells.get(k, {}).get("value")]),
        "photos": _photos(ticks),
        "size": _size(layout),
    }


def _time(tick: Entry, with_day: bool) -> str:
    """As typed, else the clock's, to the minute."""
    if tick.when:
        return str(tick.when)
    return f"{tick.at[5:10]} {tick.at[11:16]}" if with_day else tick.at[11:16]


def _photos(ticks: Sequence[Entry]) -> list[dict[str, Any]]:
    return [photo(p, f"bolt {t.bolt}, stage {t.stage}") for t in ticks if t.stands for p in t.photos]


def _size(layout: Layout) -> float:
    """Size of the text in points: what a bench reads; smaller only where many stages ask for it."""
    stages = len(layout.stages)
    return 8.4 if stages <= 5 else 7.6 if stages <= 8 else 6.6
