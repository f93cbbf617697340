"""The job on paper for the bench: known facts are printed, readings and ticks are written by hand.

The handwritten values are typed into the job later, and the remark then says "transcribed by".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from shoplib.core.working import Result
from shoplib.record.job import Entry, Job
from shoplib.record.job_record import job_of, rework
from shoplib.sheet.job_pages import attached, cautions, head
from shoplib.sheet.svg import svg_of
from shoplib.sheet.tightening_grid import layout_of, programmes

CYLINDERS = 6  # boxes, if the job does not give the number
POINTS = 8  # for height readings
LINES = 8  # of the straightedge on one face; at least six
FREE = 10  # rows for other readings


def build_blank(record: Mapping[str, Any]) -> dict[str, Any]:
    """The data for the template."""
    job = job_of(record)
    results = {e.uid: rework(e) for e in job.standing if e.kind == "entry" and e.form in _WANTED}
    plans = [_plan(job, e, results.get(e.uid)) for e in programmes(job)]
    return {
        **head(record, job),
        "map": _map(job, results, plans),
        "plans": plans,
        "cylinders": _cylinders(job),
        "points": POINTS,
        "lines": LINES,
        "free": FREE,
        "attached": attached(job),
        "cautions": cautions(results.values()),
    }


_WANTED = ("tightening_plan", "fastener_log", "tightening_order")


def _plan(job: Job, programme: Entry, result: Result | str | None) -> dict[str, Any]:
    """One programme: its stages with their settings, its bolts in order, and the lubricant and other facts."""
    layout = layout_of(job, programme)
    facts = []
    if isinstance(result, Result):
        typed = result.inputs.as_entered
        plain = [f for f in result.working.fields if f.kind in ("text", "date", "quantity")]
        facts = [{"label": f.label, "value": str(typed[f.name])} for f in plain if typed.get(f.name) not in (None, "")]
    return {
        "n": programme.n,
        "title": programme.title,
        "stages": [{"n": n, "what": what, "setting": setting} for n, what, setting in layout.stages],
        "bolts": list(layout.bolts),
        "wanted": [[(n, bolt) in layout.wanted for n, _, _ in layout.stages] for bolt in layout.bolts],
        "bolt_width": layout.bolt_width,
        "facts": facts,
    }


def _map(job: Job, results: Mapping[str, Result | str], plans: Sequence[Any]) -> dict[str, str] | None:
    """The map of the bolts: from the plan, else from the log; None if there is neither."""
    forms = {e.uid: e.form for e in job.standing}
    for form in _WANTED:
        for uid, result in results.items():
            if forms[uid] == form and isinstance(result, Result) and result.working.draw:
                alt = result.working.alt(result) if result.working.alt else result.working.title
                return {"svg": svg_of(result) or "", "alt": alt}
    return None


def _cylinders(job: Job) -> int:
    """The number of cylinders in the job's own compression test."""
    for e in job.standing:
        result = rework(e) if e.form in ("compression_test", "leak_down") else None
        if isinstance(result, Result):
            return min(16, len(result.inputs.readings))
    return CYLINDERS
