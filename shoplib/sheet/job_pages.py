"""The sheet of a whole stored job: from its record to the data for the template.

Nothing here decides an outcome; it comes from the record.  A number in front of an entry is the number of its line in
the record, so that every reference on paper leads to one line.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from shoplib.core.working import GOVERNS, Result
from shoplib.record.header import PEOPLE
from shoplib.record.history import Chain, by_phase, in_words
from shoplib.record.instruments import calibrations
from shoplib.record.job import Entry, Job, Line, parts_changed
from shoplib.record.job_record import job_of, reworked
from shoplib.record.jobfile_record import digest
from shoplib.record.open_points import all_points
from shoplib.record.outcomes import overdue_uses
from shoplib.sheet import summary
from shoplib.sheet.entry_sheet import WORDS, entry_blocks, header_cells
from shoplib.sheet.formatting import moment, photo
from shoplib.sheet.table_layout import as_table, widths
from shoplib.sheet.tightening_grid import grids
from shoplib.topics import find

STATUS_WORDS = WORDS | {
    "changed outside": "Altered",
    "stale": "Stale",
    "not measured": "Not measured",
    "not ticked": "Not ticked",
    "overdue": "Overdue",
    "deviation": "Deviation",
    "calibration unknown": "Calibration",
    "not listed": "Not listed",
    "not signed": "Not signed",
    "own work": "Own work",
    "blank": "Blank",
}
NEVER = "do not sign; some numbers are out of date or altered, recalculate them first"
BEFORE, AFTER = "Prove the fault", "Prove and hand over"
MOST_BESIDE = 4  # entries of one working beside each other
_CLIP = 240


def build_whole(record: Mapping[str, Any]) -> dict[str, Any]:
    """The sheet's data, in the order in which it is printed."""
    job = job_of(record)
    results = {e.uid: r for e, r in reworked([e for e in job.standing if e.kind == "entry"])}
    issue, header = job.issue, job.header
    again = _kept_again(job, results)
    never = bool(job.stale or job.damaged)
    return {
        **head(record, job),
        "issue": str(issue.body.get("letter", "")) if issue and not never else "",
        "issued": _handed_out(issue) if issue and not never else "",
        "working_copy": NEVER if never else "" if issue else "not issued; an issued sheet has a letter",
        "never": never,
        "people": _people(header),
        "instruments": _instruments(job),
        "outcome": record["outcome"],
        "word": WORDS.get(record["outcome"] or "", ""),
        "verdicts": summary.verdicts(job, record, results),
        "closed": summary.closed(job),
        "unplaced": summary.unplaced(job, results),
        "tightenings": summary.tightenings(job),
        "decided": [_open_point(p, job, {}, results) | {"decided": p["decided"], "state": p["state"]}
                    for p in summary.decided(record)],
        "open": [_open_point(p, job, again, results) for p in record["open"]],
        "since": _since(job, issue),
        "phases": _phases(job, results),
        "closing": _closing(job),
        "signed": _signed(job),
        "cautions": cautions(results.values()),
        "by_hand": [] if never else ["Done by", "Checked by", "Handed over to", "Date"],
        "trail": _trail(job),
        "remarks": list(job.notes),
        "attached": attached(job),
    }  # fmt: skip


# ------------------------------------------------------------------------------ head
def cautions(results: Iterable[Result | str]) -> list[str]:
    """The cautions of all recalculated entries, each once; the one about the manufacturer's procedure comes first."""
    told = [c for r in results if isinstance(r, Result) for c in r.told_cautions]
    return list(dict.fromkeys([GOVERNS, *told]))


def head(record: Mapping[str, Any], job: Job) -> dict[str, Any]:
    """The data of every page of a job: its name, its paper, and the hash of the attached record."""
    return {
        "title": f"Job {job.number}",
        "running": str(job.header.get("engine", "")),
        "paper": "us-letter" if record["paper"] == "letter" else "a4",
        "version": str(record["program"]["shoplib"]),
        "hash": digest(record),
        "author": str(job.header.get("done_by", "")),
        "number": job.number,
        "job": header_cells(job.header),
    }


def _people(header: Mapping[str, Any]) -> dict[str, Any] | None:
    rows = [[str(p.get(c.name, "")) for c in PEOPLE.columns] for p in header.get(PEOPLE.name, ())]
    return as_table(PEOPLE.label, tuple(c.label for c in PEOPLE.columns), rows) if rows else None


def _instruments(job: Job) -> dict[str, Any] | None:
    known = {str(i.get("id", "")): i for i in job.header.get("instruments", ())}
    rows = []
    for c in calibrations(job):
        i = known.get(c.id, {})
        state = "; ".join(
            f"{'OVERDUE when used' if u.overdue else 'used'} on {u.day}, line {job.line(u.uid).n}" for u in c.uses
        )
        rows.append([c.id, str(i.get("what", "")), str(i.get("resolution", "")) or "not given",
                     str(i.get("deviation", "")) or "not given", c.due or "not given",
                     state or ("OVERDUE, not used here" if c.overdue else "not used here")])  # fmt: skip
    head = ("ID", "Instrument", "Resolution", "Permitted error", "Calibration due", "Use")
    return as_table("Instruments", head, rows) if rows else None


def _handed_out(issue: Line) -> str:
    seal = str(issue.body.get("record", ""))[:16]
    return f"issued by {issue.who}, {moment(issue)}" + (f", seal {seal}" if seal else "")


def _open_point(
    point: Mapping[str, Any], job: Job, again: Mapping[str, str], results: Mapping[str, Result | str]
) -> dict[str, str]:
    status, uid, what = (str(point[k]) for k in ("status", "uid", "what"))
    result = results.get(uid)
    if isinstance(result, Result):
        what = result.in_labels(what)
    line = next((str(x.n) for x in job.lines if x.uid == uid), "")
    name = str(point["where"])
    title = name.partition("(")[2].removesuffix(")") if line else name
    return {"status": status, "word": STATUS_WORDS.get(status, status), "line": line, "where": title,
            "text": what + again.get(uid, "")}  # fmt: skip


def _since(job: Job, issue: Line | None) -> dict[str, Any] | None:
    """What changed since the previous issue or, on a working copy, since the last issue."""
    if issue is None:
        last = job.issues[-1] if job.issues else None
        return None if last is None else {"letter": last.body["letter"], "changes": job.changes(last.n)}
    before = [x for x in job.issues if x.n < issue.n]
    if not before:
        return None
    return {"letter": before[-1].body["letter"], "changes": list(issue.body.get("changes", []))}


# ------------------------------------------------------------------------------ the entries
def _phases(job: Job, results: Mapping[str, Result | str]) -> list[dict[str, Any]]:
    found = []
    tightening, overdue = grids(job), overdue_uses(all_points(job))
    for heading, chains in _repair_proved_last(job):
        entries = [_place(job, chain, results, tightening.get(chain.last.uid)) for chain in chains]
        for entry, chain in zip(entries, chains, strict=True):
            if entry["kind"] == "entry" and chain.last.uid in overdue:
                summary.without_calibration(entry, overdue[chain.last.uid])
        beside = _beside([c.last for c in chains if c.last.stands], job, results)
        found.append({"title": heading, "entries": entries, "beside": beside})
    return found


def _repair_proved_last(job: Job) -> list[tuple[str, list[Chain]]]:
    """Tests saved after the tightening prove the repair, not the fault."""
    late = [e.first for e in job.standing if e.phase in ("tighten", "re-time", "fill")] + [t.n for t in job.ticks]
    turn = min(late, default=len(job.lines) + 1)
    phases = dict(by_phase(job))
    before = phases.get(BEFORE, [])
    after = [c for c in before if c.first > turn]
    if after:
        phases[BEFORE] = [c for c in before if c.first <= turn]
        phases[AFTER] = sorted([*phases.pop(AFTER, []), *after], key=lambda c: c.first)
    return [(heading, chains) for heading, chains in phases.items() if chains]


def _place(job: Job, chain: Chain, results: Mapping[str, Result | str], grid: dict[str, Any] | None) -> dict[str, Any]:
    """One place in the job: the current entry, and below it those that were corrected or struck out."""
    e = chain.last
    where = f"line {e.n}"
    kept: dict[str, Any] = {
        "kind": "entry",
        "n": e.n,
        "title": e.title,
        "question": "",
        "who": {"field": f"{where}, who", "value": e.who},
        "when": {"field": f"{where}, when", "value": e.when or moment(e.line)},
        "remark": {"field": f"{where}, remark", "value": e.remark or ""},
        "stale": list(e.stale),
        "stands": e.stands,
        "before": [_superseded(old, newer) for old, newer in zip(chain.before, (e, *chain.before), strict=False)],
        "photos": [photo(p) for p in e.photos],
        "lost_photos": _lost_photos(job, e),
        "grid": grid,
        "outcome": None,
        "word": "",
        "checks": [], "basis": "", "inputs": [], "defaults": [],
        "results": [], "tables": [], "steps": [], "assumptions": [], "svg": None,
    }  # fmt: skip
    if not e.stands:
        assert e.by is not None
        kept |= {"kind": "struck", "by": _by(e.by), "struck": _as_kept(e), "outcome": None}
    elif e.kind == "note":
        kept |= _note(e)
    else:
        result = results[e.uid]
        if isinstance(result, str):
            kept |= {"kind": "unworked", "why": result, "struck": _as_kept(e), "outcome": "undecided"}
            kept["word"] = WORDS["undecided"]
        else:
            said = {k: kept[k]["value"] for k in ("who", "when", "remark")} | {"title": e.title}
            kept |= entry_blocks(e.n, said, result, where)
            kept["question"] = result.working.title if e.title != result.working.title else result.working.question
    return kept


def _superseded(old: Entry, newer: Entry) -> dict[str, Any]:
    """The old and new values of a correction, as typed, and who made it, when and why."""
    labels = _labels(old)
    rows = [
        {"where": _in_words(where, labels), "old": _plain(a) or "nothing", "new": _plain(b) or "nothing"}
        for where, a, b in parts_changed(old.line, newer.line)
    ]
    return {"n": old.n, "who": old.who, "at": moment(old.line), "rows": rows, "by": _by(newer.line)}


def _by(line: Line) -> dict[str, Any]:
    return {"n": line.n, "who": line.who, "at": moment(line), "because": str(line.body.get("because", ""))}


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


def _plain(value: Any) -> str:
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
    return said if len(said) <= _CLIP else said[:_CLIP] + "… (in full in the record)"


def _as_kept(entry: Entry) -> list[dict[str, str]]:
    """Everything that was typed, and the saved outcome; for lines struck out or that cannot be recalculated."""
    labels = _labels(entry)
    typed = (entry.inputs or {}) | (entry.content or {})
    rows = [{"label": labels.get(k, str(k)), "value": _plain(v)} for k, v in typed.items()]
    if entry.remark:
        rows.append({"label": "Remark", "value": entry.remark})
    if entry.outcome:
        rows.append({"label": "Outcome when saved", "value": str(entry.outcome)})
    return rows


def _lost_photos(job: Job, entry: Entry) -> list[str]:
    chain = {e.uid for e in job.chain(entry.uid)}
    mine = {x.uid: x for x in job.lines if x.kind == "photo" and x.about in chain}
    return [
        f"Photograph of line {mine[x.about].n} ({mine[x.about].body.get('caption') or 'untitled'}) was struck out "
        f"by line {x.n}, {x.who}, {moment(x)}: {x.body.get('because')}"
        for x in job.lines
        if x.kind == "strike" and x.about in mine
    ]


# ------------------------------------------------------------------------------ notes
def _note(entry: Entry) -> dict[str, Any]:
    """An entry that is not a calculation, as saved: single values, lists, tables."""
    rows, tables = [], []
    for name, value in (entry.content or {}).items():
        label = str(name).replace("_", " ").capitalize()
        if isinstance(value, list) and value and all(isinstance(v, Mapping) for v in value):
            head = list(dict.fromkeys(k for v in value for k in v))
            cells = [[_plain(v.get(k)) for k in head] for v in value]
            tables.append(as_table(label, [h.replace("_", " ").capitalize() for h in head], cells))
        else:
            rows.append({"label": label, "value": _plain(value)})
    return {"kind": "note", "rows": rows, "tables": tables}


# ------------------------------------------------------------------------------ the same working, saved twice
def _beside(standing: Sequence[Entry], job: Job, results: Mapping[str, Result | str]) -> list[Any]:
    """Tests and measurements that were saved more than once, side by side where the last of them is printed."""
    mine = {e.uid for e in standing}
    return [_table_beside(g, results) for g in _groups(job, results) if len(g) <= MOST_BESIDE and g[-1].uid in mine]


def _groups(job: Job, results: Mapping[str, Result | str]) -> list[list[Entry]]:
    """Tests and measurements of one kind, and of one place if they name one, that were saved more than once."""
    groups: dict[tuple[Any, ...], list[Entry]] = {}
    for e in job.standing:
        if e.kind == "entry" and e.phase in ("prove", "measure") and isinstance(results[e.uid], Result):
            typed = e.inputs or {}
            groups.setdefault((e.form, *(str(typed.get(k)) for k in ("what", "where"))), []).append(e)
    return [g for g in groups.values() if len(g) > 1]


def _kept_again(job: Job, results: Mapping[str, Result | str]) -> dict[str, str]:
    """uid of a test that was repeated later, and the later outcome: a proven fault is not a failed repair."""
    found: dict[str, str] = {}
    for group in _groups(job, results):
        last = group[-1]
        result = results[last.uid]
        if isinstance(result, Result) and result.outcome is not None:
            words = f". Same test repeated, line {last.n} ({last.title}): {WORDS[str(result.outcome)]}"
            found |= {e.uid: words for e in group[:-1]}
    return found


def _table_beside(group: Sequence[Entry], results: Mapping[str, Result | str]) -> dict[str, Any]:
    columns: list[dict[str, str]] = []
    order: dict[str, None] = {}
    for e in group:
        r = results[e.uid]
        assert isinstance(r, Result)
        cells = {"Saved": e.when or moment(e.line), "Outcome": WORDS.get(str(r.outcome), "none")}
        for f in r.working.fields:
            typed = r.inputs.as_entered.get(f.name)
            if typed not in (None, "") and f.kind != "table" and not f.name.endswith("_source"):
                cells[f.label] = r.inputs.shown(f.name)
        cells |= {v.label: v.shown for v in r.values.values() if not v.is_table}
        columns.append(cells)
        order |= dict.fromkeys(cells)
    head = ["", *(f"Line {e.n}: {e.title}" for e in group)]
    rows = [[label, *(c.get(label, "–") for c in columns)] for label in order]
    rows = [r for r in rows if r[0] in ("Saved", "Outcome") or len(set(r[1:])) > 1]
    working = results[group[0].uid]
    assert isinstance(working, Result)
    return as_table(f"Side by side: {working.working.title.lower()}", head, rows)


# ------------------------------------------------------------------------------ closing, signing, the record itself
def _closing(job: Job) -> dict[str, Any]:
    line = job.closing
    if line is None:
        return {"closed": False}
    body = line.body
    return {"closed": True, "n": line.n, "who": line.who, "at": moment(line),
            **{k: str(body.get(k, "")) for k in ("root_cause", "retorque", "parts_returned", "remark")}}  # fmt: skip


def _signed(job: Job) -> dict[str, Any] | None:
    rows = []
    for line, fresh in job.signatures:
        since = [
            x for x in job.lines if x.n > line.n and x.kind in ("header", "entry", "note", "tick", "photo", "strike")
        ]
        state = (
            "no change since"
            if fresh
            else f"changed since: {len(since)} line{'s' * (len(since) > 1)}, from line {since[0].n} onward"
        )
        rows.append([line.who, str(line.body.get("role", "")), moment(line), f"1 to {line.body.get('covers')}", state])
    return (
        as_table("Signed in the record", ("Name", "Signed", "Date and time", "Lines", "Since then"), rows)
        if rows
        else None
    )


def _trail(job: Job) -> dict[str, Any]:
    """Every line of the record in order; ticks are grouped, because they are printed in their grid."""
    rows: list[list[str]] = []
    run: list[Line] = []

    def gather() -> None:
        if run:
            first, last = run[0], run[-1]
            who = ", ".join(dict.fromkeys(x.who for x in run))
            what = f"{len(run)} ticks" if len(run) > 1 else f"Tick: {first.title}"
            span = f"{first.n}–{last.n}" if len(run) > 1 else str(first.n)
            until = "" if last.at[:16] == first.at[:16] else f" to {last.at[11:16]}"
            rows.append([span, f"{first.at[:10]} {first.at[11:16]}{until}", who[:80], what])
            run.clear()

    for line in job.lines:
        if line.kind == "tick" and line.about is None:
            run.append(line)
            continue
        gather()
        rows.append([str(line.n), f"{line.at[:10]} {line.at[11:16]}", line.who, _what(line, job)])
    gather()
    head = ("Line", "Clock, UTC", "Who", "What")
    last = job.lines[-1].digest
    return {"head": list(head), "rows": rows, "widths": widths(head, rows), "last": last, "lines": len(job.lines)}


def _what(line: Line, job: Job) -> str:
    old = next((x for x in job.lines if x.uid == line.about), None)
    title = line.title if len(line.title) <= 120 else line.title[:119] + "…"
    match line.kind:
        case "entry" | "note" | "tick" if old is not None:
            return f"{title}: corrects line {old.n}"
        case "entry" | "note":
            return title
        case "strike":
            return f"Strikes out line {old.n if old else '?'}"
        case "photo":
            return f"Photograph for line {old.n if old else '?'}: {line.body.get('caption') or 'untitled'}"
    said = in_words(line, job)
    return said if len(said) <= _CLIP else said[:_CLIP] + "…"


def attached(job: Job) -> list[dict[str, str]]:
    """The photographs attached to the file, large and small, each under the hash of its bytes."""
    found: dict[str, str] = {}
    for line in job.lines:
        if line.kind == "photo" and line.body:  # nothing is known about a damaged line
            found.setdefault(f"{line.body['picture']}.jpg", f"Photograph of line {line.n}")
            found.setdefault(f"{line.body['thumb']}.jpg", f"Photograph of line {line.n}, small, as printed")
    return [{"file": name, "about": about} for name, about in sorted(found.items())]
