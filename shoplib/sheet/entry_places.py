"""One place of a job on paper: its current entry or note, and below it what was corrected or struck out."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from shoplib.core.outcome_labels import outcome_label
from shoplib.core.working import Result
from shoplib.record.history import RevisionChain
from shoplib.record.job import Entry, Job, Line, parts_changed
from shoplib.sheet.entry_sheet import WORDS
from shoplib.sheet.evidence import Shown, evidence_of
from shoplib.sheet.formatting import photo, short_moment
from shoplib.sheet.table_layout import as_table
from shoplib.topics import find

CLIP = 240  # characters of a value that was corrected


def place_of(
    job: Job, chain: RevisionChain, results: Mapping[str, Result | str], grid: dict[str, Any] | None, shown: Shown
) -> dict[str, Any]:
    """One place in the job: the current entry, and below it those that were corrected or struck out."""
    e = chain.last
    where = f"line {e.n}"
    kept: dict[str, Any] = {
        "kind": "entry",
        "n": e.n,
        "title": e.title,
        "question": "",
        "condition": "",
        "who": {"field": f"{where}, who", "value": e.who},
        "when": {"field": f"{where}, when", "value": e.when or short_moment(e.line)},
        "remark": {"field": f"{where}, remark", "value": e.remark or ""},
        "stale": list(e.stale),
        "stands": e.stands,
        "before": [_superseded(old, newer) for old, newer in zip(chain.before, (e, *chain.before), strict=False)],
        "photos": [photo(p, to=e.n) for p in e.photos],
        "lost_photos": _lost_photos(job, e),
        "grid": grid,
        "outcome": None,
        "word": "",
        "row": None, "instruments": "", "checks": [], "inputs": [], "defaults": [],
        "results": [], "tables": [], "steps": [], "assumptions": [], "svg": None,
    }  # fmt: skip
    if not e.stands:
        assert e.by is not None
        kept |= {"kind": "struck", "by": by_whom(e.by), "struck": _as_kept(e), "outcome": None}
    elif e.kind == "note":
        kept |= _note(e)
    else:
        result = results[e.uid]
        if isinstance(result, str):
            kept |= {"kind": "unworked", "why": result, "struck": _as_kept(e), "outcome": "undecided"}
            kept["word"] = WORDS["undecided"]
        else:
            kept |= evidence_of(e, result, shown)
            kept["question"] = result.working.title if e.title != result.working.title else ""
            kept["condition"] = str(e.condition or "").replace("_", " ")
    return kept


def _superseded(old: Entry, newer: Entry) -> dict[str, Any]:
    """The old and new values of a correction, as typed, and who made it, when and why."""
    labels = _labels(old)
    rows = [
        {"where": _in_words(where, labels), "old": plain(a) or "nothing", "new": plain(b) or "nothing"}
        for where, a, b in parts_changed(old.line, newer.line)
    ]
    return {"n": old.n, "who": old.who, "at": short_moment(old.line), "rows": rows, "by": by_whom(newer.line)}


def by_whom(line: Line) -> dict[str, Any]:
    """Who corrected or struck out, when and why."""
    return {"n": line.n, "who": line.who, "at": short_moment(line), "because": str(line.body.get("because", ""))}


def _labels(entry: Entry) -> dict[str, str]:
    working = find(entry.form)
    fields = working.fields if working else ()
    return {f.name: f.label for f in fields} | {c.name: c.label for f in fields for c in f.columns}


def _in_words(where: str, labels: Mapping[str, str]) -> str:
    """``lines[3].goes`` in words."""
    parts = []
    for part in where.split("."):
        name, _, rest = part.partition("[")
        label = labels.get(name, name.replace("_", " ").capitalize())
        parts.append(label + (f" {rest.replace('][', ', ').removesuffix(']')}" if rest else ""))
    return ", ".join(parts)


def plain(value: Any) -> str:
    """A saved value on one line."""
    if value in (None, "", [], {}):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list) and not any(isinstance(v, list | dict) for v in value):
        said = "; ".join(map(str, value))
    elif isinstance(value, Mapping) and not any(isinstance(v, list | dict) for v in value.values()):
        said = ", ".join(f"{k} {v}" for k, v in value.items())
    else:
        said = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return said if len(said) <= CLIP else said[:CLIP] + "… (in full in the record)"


def _as_kept(entry: Entry) -> list[dict[str, str]]:
    """Everything that was typed, and the saved outcome; for lines struck out or that cannot be recalculated."""
    labels = _labels(entry)
    typed = (entry.inputs or {}) | (entry.content or {})
    rows = [{"label": labels.get(k, str(k)), "value": plain(v)} for k, v in typed.items()]
    if entry.remark:
        rows.append({"label": "Remark", "value": entry.remark})
    if entry.outcome:
        rows.append({"label": "Outcome when saved", "value": outcome_label(entry.outcome)})
    return rows


def _lost_photos(job: Job, entry: Entry) -> list[str]:
    chain = {e.uid for e in job.chain(entry.uid)}
    mine = {x.uid: x for x in job.lines if x.kind == "photo" and x.about in chain}
    return [
        f"Photograph of line {mine[x.about].n} ({mine[x.about].body.get('caption') or 'untitled'}) was struck out "
        f"by line {x.n}, {x.who}, {short_moment(x)}: {x.body.get('because')}"
        for x in job.lines
        if x.kind == "strike" and x.about in mine
    ]


def _note(entry: Entry) -> dict[str, Any]:
    """An entry that is not a calculation, as saved: single values, lists, tables."""
    rows, tables = [], []
    for name, value in (entry.content or {}).items():
        label = str(name).replace("_", " ").capitalize()
        if isinstance(value, list) and value and all(isinstance(v, Mapping) for v in value):
            head = list(dict.fromkeys(k for v in value for k in v))
            cells = [[plain(v.get(k)) for k in head] for v in value]
            tables.append(as_table(label, [h.replace("_", " ").capitalize() for h in head], cells))
        else:
            rows.append({"label": label, "value": plain(value)})
    return {"kind": "note", "rows": rows, "tables": tables}
