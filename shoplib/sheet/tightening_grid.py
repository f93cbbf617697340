"""The grid of a tightening: one row per bolt, one column per stage, each tick with its value, initials and time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from shoplib.core.typed_text import with_signs
from shoplib.core.working import Result
from shoplib.physics import outlier
from shoplib.record import ticks as said_by_ticks
from shoplib.record import tightening
from shoplib.record.job import Entry, Job
from shoplib.record.open_points import OPEN, points_of
from shoplib.sheet.formatting import local, offset_of, photo, short_moment
from shoplib.sheet.summary import decision_on

CALCULATED = ("median", "median_deviation")  # numbers of the peak torques
MOST_STAGES = 40  # columns made for ticks that no programme names
DONE = "✓"
Key = tuple[int, str]


@dataclass(frozen=True)
class Layout:
    """Rows and columns of a grid, and which of its cells need a tick."""

    stages: tuple[tuple[int, str, str], ...]  # number, the stage, the setting
    bolts: tuple[str, ...]  # in the order of the tightening
    wanted: frozenset[Key]
    outdated: frozenset[Key] = frozenset()  # ticked before the stage was corrected
    old_bolt: frozenset[Key] = frozenset()  # ticked with a bolt that has been replaced
    said: dict[int, str] = field(default_factory=dict)  # what one press records at a stage
    what: dict[int, str] = field(default_factory=dict)
    peaks: tuple[dict[str, Any], ...] = ()

    @property
    def bolt_width(self) -> float:
        """Millimetres for the names of the bolts; a long name wraps."""
        return min(24.0, max(11.0, 4 + 2.0 * max(map(len, self.bolts), default=0)))


def programmes(job: Job) -> list[Entry]:
    """Current plans, and notes used as a tightening programme."""
    ticked = {t.programme for t in job.ticks}
    notes = [e for e in job.current_entries if e.kind == "note" and any(x.uid in ticked for x in job.chain(e.uid))]
    return sorted(
        [*(p for form in said_by_ticks.PLANS for p in tightening.plans(job, form)), *notes], key=lambda e: e.first
    )


def grids(job: Job) -> dict[str, dict[str, Any]]:
    """uid of each current programme to the data for the template."""
    return {e.uid: _grid(job, e, layout_of(job, e)) for e in programmes(job)}


def layout_of(job: Job, programme: Entry) -> Layout:
    """From the current plan, or from a note with ``stages`` and ``bolts``; else from the ticks."""
    ticks = job.ticks_of(programme.uid)
    try:
        return _of_plan(tightening.progress_of(job, programme.uid), ticks)
    except tightening.NoPlan:
        content = programme.content or {}
        said = [str(s) for s in content.get("stages", ()) if isinstance(s, str | int | float)]
        bolts = [str(b) for b in content.get("bolts", ()) if isinstance(b, str | int)]
        stages = [(k, s, "") for k, s in enumerate(said[:MOST_STAGES], 1)]
        return Layout(*_with_ticks(stages, bolts, ticks), frozenset((k, b) for k, _, _ in stages for b in bolts))


def _rule(peaks: Result) -> str:
    """The rule by which a bolt is called unlike the others."""
    typed = peaks.inputs.as_entered.get("peak_tolerance")
    told = f"unlike the others: 0.6745 × distance from the median ÷ MAD above {outlier.LIMIT:g}"
    return f"{told}, or distance above {typed} of the median" if typed else told


def _of_plan(now: tightening.Tightening, ticks: Sequence[Entry]) -> Layout:
    stages = []
    for s in now.stages:
        group = f", {s.group}" if s.stage.group else ""
        differs = re.sub(r"\.0+(?= )", "", s.setting) != s.what  # 20.00 N·m is 20 N·m
        setting = f"set {s.setting}" if s.setting not in ("", "—") and differs else ""
        stages.append((s.number, f"{s.what}{group}", setting))
    peaks = [
        {"stage": n, "rows": [{"label": "Rule", "value": _rule(result), "calculated": False}] +
                             [{"label": v.label, "value": v.shown, "calculated": k in CALCULATED}
                              for k, v in result.values.items() if k in (*CALCULATED, "unlike", "text")]}
        for n, result in now.peaks.items()
    ]  # fmt: skip
    return Layout(
        *_with_ticks(stages, [bolt for _, bolt in now.sequence], ticks),
        frozenset(now.sequence),
        frozenset(now.outdated),
        frozenset(now.old_bolt),
        {s.number: said_by_ticks.as_programme(s) for s in now.stages},
        {s.number: s.what for s in now.stages},
        tuple(peaks),
    )


def _with_ticks(
    stages: Sequence[tuple[int, str, str]], bolts: Sequence[str], ticks: Sequence[Entry]
) -> tuple[tuple[tuple[int, str, str], ...], tuple[str, ...]]:
    """Stages and bolts, and others that were ticked."""
    more = sorted({t.stage for t in ticks} - {n for n, _, _ in stages})[:MOST_STAGES]
    both = sorted([*stages, *((n, "", "") for n in more)])
    return tuple(both), tuple(dict.fromkeys([*bolts, *(str(t.bolt) for t in ticks)]))


def _grid(job: Job, programme: Entry, layout: Layout) -> dict[str, Any]:
    ticks = job.ticks_of(programme.uid)
    days = sorted({local(t)[0] for t in ticks})
    zones = sorted({offset_of(t) or "UTC" for t in ticks})
    cells: dict[Key, dict[str, Any]] = {}
    deviations: list[dict[str, Any]] = []
    corrected: list[dict[str, Any]] = []
    pressed = False
    states = {p.uid: p.state for p in points_of(job, programme)}
    for t in ticks:
        key = (t.stage, str(t.bolt))
        cell = cells.setdefault(key, _empty())
        value, peak = said_by_ticks.split_reading(str(t.value))
        if value == layout.said.get(t.stage):
            value, pressed = f"{DONE} {layout.what[t.stage]}", True
        by = f"{t.initials} {_time(t, len(days) > 1)}"
        said = {"value": said_by_ticks.shown(value), "peak": with_signs(peak), "by": by}
        if t.stands:
            cell |= said | {"by": _first_time(job, t, len(days) > 1)}
            cell["marks"] += ["earlier plan"] if key in layout.outdated else []
            cell["marks"] += ["old bolt"] if key in layout.old_bolt else []
        else:
            assert t.by is not None
            cell["old"].append(said)
            after = str(t.by.body.get("value", "")) if t.by.kind == "tick" else ""
            after = f"{DONE} {layout.what[t.stage]}" if after and after == layout.said.get(t.stage) else after
            after = said_by_ticks.shown(after)
            corrected.append({
                "n": t.n, "bolt": str(t.bolt), "stage": str(t.stage), **said, "new": after, "by_n": t.by.n,
                "by_who": t.by.who, "at": short_moment(t.by), "because": str(t.by.body.get("because", "")),
            })  # fmt: skip
        if t.deviation:
            mark = f"Dev. {len(deviations) + 1}"
            cell["marks"].append(mark)
            deviations.append({
                "mark": mark, "n": t.n, "bolt": str(t.bolt), "stage": str(t.stage), **said, "stands": t.stands,
                "deviation": str(t.deviation), "reason": str(t.reason or ""), "asked": layout.what.get(t.stage, ""),
                "action": said_by_ticks.shown_action(str(t.action or "")),
                "decision": decision_on(job, t, states.get(t.uid, OPEN)),
            })  # fmt: skip
    rows = [
        {"bolt": bolt, "cells": [cells.get((n, bolt), _empty()) | {"wanted": (n, bolt) in layout.wanted}
                                 for n, _, _ in layout.stages]}
        for bolt in layout.bolts
    ]  # fmt: skip
    return {
        "stages": [{"n": n, "what": what, "setting": setting} for n, what, setting in layout.stages],
        "rows": rows,
        "days": ", ".join(days),
        "zones": ", ".join(zones),
        "pressed": pressed,
        "deviations": deviations,
        "corrected": corrected,
        "remarks": [{"n": t.n, "bolt": str(t.bolt), "stage": str(t.stage), "remark": str(t.remark)}
                    for t in ticks if t.remark and t.stands],
        "peaks": list(layout.peaks),
        "missing": sum(
            1 for key in layout.wanted if key in layout.old_bolt or not cells.get(key, _empty())["value"]
        ),
        "photos": [photo(p, f"Bolt {t.bolt}, stage {t.stage}") for t in ticks if t.stands for p in t.photos],
        "bolt_width": layout.bolt_width,
        "size": _size(len(layout.stages)),
    }  # fmt: skip


def _first_time(job: Job, tick: Entry, with_day: bool) -> str:
    """Initials and time of a tick; of a corrected one those of the first tick, and when it was corrected.

    A tick that was made again, with a new bolt for example, has its own time.
    """
    by = f"{tick.initials} {_time(tick, with_day)}"
    if tick.line.about is None or tick.line.body.get("because_code"):
        return by
    first = job.chain(tick.uid)[0]
    corrected = _time(tick, with_day) if tick.initials == first.initials else by
    return f"{first.initials} {_time(first, with_day)}, corrected {corrected}"


def _empty() -> dict[str, Any]:
    return {"value": "", "peak": "", "by": "", "marks": [], "old": []}


def _time(tick: Entry, with_day: bool) -> str:
    """As typed, else the clock's, to the minute."""
    if tick.when:
        return str(tick.when)
    day, clock = local(tick)
    return f"{day[5:]} {clock}" if with_day else clock


def _size(stages: int) -> float:
    """Size of the text in points: readable at the bench; smaller only for many stages."""
    return 8.4 if stages <= 5 else 7.4 if stages <= 8 else 7.0
