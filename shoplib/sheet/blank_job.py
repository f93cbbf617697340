"""The job on paper for the bench: known facts are printed, readings and ticks are written by hand.

The handwritten values are typed into the job later, and the remark then says "transcribed by".
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from typing import Any

from shoplib.core.working import Result
from shoplib.record.job import Entry, Job
from shoplib.record.job_record import job_of, rework
from shoplib.sheet.job_pages import attached, cautions, head
from shoplib.sheet.svg import svg_of
from shoplib.sheet.tightening_grid import layout_of, programmes

CYLINDERS = 8  # boxes, if neither the engine card nor the job gives the number; those that are not needed stay empty
BOLTS = 12  # rows, in the same case
POINTS = 8  # for height readings
LINES = 8  # of the straightedge on one face; at least six
FREE = 10  # rows for other readings
ON_THE_DAY = ("date_used", "temperature")  # of a plan: written down when the bolts are tightened
CARD = "engine_card"
OF_CARD = {  # what the engine card says, printed beside the boxes that it concerns
    "compression": ("compression_rule", "compression_limit", "compression_limit_source", "compression_minimum",
                    "leakage_limit", "leakage_limit_source"),
    "strip": ("lock_position", "lock_tools", "lock_position_source", "loosening_passes", "loosening"),
    "bolts": ("thread", "bolt_length", "property_class", "reuse_method", "reuse_limit", "reuse_limit_source"),
    "faces": ("flatness_limit", "flatness_limit_source", "new_height", "minimum_height", "combined_limit"),
    "tighten": ("stages", "stages_source", "order_source", "lubricant", "lubricant_where"),
    "timing": ("marks_source",),
    "fluids": ("coolant_capacity", "coolant_strength", "oil_capacity", "oil_grade"),
    "hold": ("cap_rating", "pressure_drop", "pressure_drop_source", "hold_minutes", "hold_minutes_source"),
}  # fmt: skip


def build_blank(record: Mapping[str, Any]) -> dict[str, Any]:
    """The data for the template."""
    job = job_of(record)
    results = {e.uid: rework(e) for e in job.current_entries if e.kind == "entry" and e.form in _WANTED}
    plans = [_plan(job, e, results.get(e.uid)) for e in programmes(job)]
    card = _card(job)
    bolts = [b for p in plans[:1] for b in p["bolts"]] or _bolts(card)
    return {
        **head(record, job),
        "map": _map(job, results, plans),
        "plans": plans,
        "bolts": bolts or [""] * BOLTS,
        "holes": sorted(bolts, key=_number) or [""] * BOLTS,
        "stages": _stages(card),
        "facts": {place: _facts(card, names) for place, names in OF_CARD.items()},
        "cylinders": _cylinders(job, card),
        "points": POINTS,
        "lines": _lines(card),
        "free": FREE,
        "attached": attached(job),
        "cautions": cautions(results.values()),
    }


def _card(job: Job) -> Result | None:
    """The engine card of the job, recalculated."""
    found = [r for e in job.current_entries if e.form == CARD and isinstance(r := rework(e), Result)]
    return found[-1] if found else None


def _facts(card: Result | None, names: Sequence[str]) -> list[dict[str, str]]:
    if card is None:
        return []
    typed = card.inputs.as_entered
    fields = {f.name: f for f in card.working.fields}
    return [{"label": fields[n].label, "value": fields[n].spoken(typed[n])} for n in names if typed.get(n)]


def _number(name: str) -> tuple[int, str]:
    """Bolts with a number are in the order of their numbers, and come before the others."""
    return (int(name), "") if name.isdecimal() else (sys.maxsize, name)


def _bolts(card: Result | None) -> list[str]:
    """The bolts of the card in its order of tightening, otherwise as they are listed."""
    if card is None:
        return []
    return list(card.inputs.order or ()) or [str(p["name"]) for p in card.inputs.positions or ()]


def _stages(card: Result | None) -> list[str]:
    """The stages of the card; five empty ones without it."""
    typed = card.inputs.as_entered.get("stages") if card else None
    stages = typed.split(";") if isinstance(typed, str) else list(typed or ())
    return [str(s).strip() for s in stages] or [""] * 5


def _lines(card: Result | None) -> list[str]:
    """The lines of the straightedge that the source requires, and empty ones."""
    names = [str(n).strip() for n in card.inputs.required_lines or ()] if card else []
    return names + [""] * max(LINES - len(names), 0)


_WANTED = ("tightening_plan", "fastener_log", "tightening_order")


def _plan(job: Job, programme: Entry, result: Result | str | None) -> dict[str, Any]:
    """One programme: its stages with their settings, its bolts in order, and the lubricant and other facts."""
    layout = layout_of(job, programme)
    facts = []
    if isinstance(result, Result):
        typed = result.inputs.as_entered
        plain = [f for f in result.working.fields if f.kind in ("text", "date", "quantity")]
        facts = [
            {"label": f.label, "value": "" if f.name in ON_THE_DAY else str(typed[f.name])}
            for f in plain
            if typed.get(f.name) not in (None, "")
        ]
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
    forms = {e.uid: e.form for e in job.current_entries}
    for form in _WANTED:
        for uid, result in results.items():
            if forms[uid] == form and isinstance(result, Result) and result.working.draw:
                alt = result.working.alt(result) if result.working.alt else result.working.title
                return {"svg": svg_of(result) or "", "alt": alt}
    return None


def _cylinders(job: Job, card: Result | None) -> int:
    """The number of cylinders: of the engine card, else of the job's own compression test."""
    if card is not None and card.inputs.cylinders:
        return int(card.inputs.cylinders)
    for e in job.current_entries:
        result = rework(e) if e.form in ("compression_test", "leak_down") else None
        if isinstance(result, Result):
            return min(16, len(result.inputs.readings))
    return CYLINDERS
