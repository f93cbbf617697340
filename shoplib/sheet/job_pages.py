"""The sheet of a whole stored job: from its record to the data for the template.

Nothing here decides an outcome; it comes from the record.  A number in front of an entry is the number of its line in
the record, so that every reference on paper leads to one line.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from shoplib.core.working import GOVERNS, Result
from shoplib.record.header import PARTS, PEOPLE
from shoplib.record.history import by_phase
from shoplib.record.instruments import calibrations, named_in, without, written_in
from shoplib.record.job import Job, Line
from shoplib.record.job_record import job_of, reworked
from shoplib.record.jobfile_record import printed_hash
from shoplib.record.open_points import all_points
from shoplib.record.outcomes import overdue_uses
from shoplib.record.ticks import ASKED
from shoplib.sheet import calculations, record_trail, repeated, summary
from shoplib.sheet.entry_places import place_of
from shoplib.sheet.entry_sheet import WORDS, header_cells, in_order
from shoplib.sheet.evidence import Notes, Shown, pictured
from shoplib.sheet.formatting import lines_in_words, moment, on_paper, spans
from shoplib.sheet.small_multiples import multiples_of
from shoplib.sheet.table_layout import as_table
from shoplib.sheet.tightening_grid import grids

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
    "own work": "Checked own work",
    "blank": "Blank",
}
NEVER = "do not sign; some numbers are out of date or altered, recalculate them first"
RUNNING = 76  # characters of the head of a page


def build_whole(record: Mapping[str, Any]) -> dict[str, Any]:
    """The sheet's data, in the order in which it is printed."""
    job = job_of(record)
    results = {e.uid: r for e, r in reworked([e for e in job.current_entries if e.kind == "entry"])}
    issue = job.issue
    again = repeated.later(job, results)
    never = bool(job.stale or job.damaged)
    tightened = summary.tightenings(job)
    notes, (signed, signed_for) = Notes(), summary.signatures(job)
    phases = _phases(job, results, notes)
    _number_allowed(job, phases, notes)
    return {
        **head(record, job),
        "issue": str(issue.body.get("letter", "")) if issue and not never else "",
        "issued": _handed_out(issue) if issue and not never else "",
        "replaces": _replaced(job, issue),
        "recipient": str(issue.body.get("recipient", "")) if issue else "",
        "working_copy": NEVER if never else "" if issue else "not issued; an issued sheet has a letter",
        "never": never,
        "customer": record.get("extent") == "customer",
        "people": _people(job),
        "parts": _parts(job),
        "instruments": _instruments(job),
        "outcome": record["outcome"],
        "word": WORDS.get(record["outcome"] or "", ""),
        "verdicts": summary.verdicts(job, record, results),
        "closed": summary.closed(job, len(record["open"])),
        "signatures": signed,
        "signed_for": signed_for,
        "cause_stated": summary.root_cause(job),
        "unplaced": summary.unplaced(job, results),
        "tightenings": tightened,
        "still": summary.still(len(record["open"]), tightened),
        "decided": [_open_point(p, job, {}, results) | {"decided": p["decided"], "state": p["state"]}
                    for p in summary.decided(record)],
        "count": len(record["open"]),
        "unnamed": spans([e.n for e in without(job)]),
        "open": _alike([_open_point(p, job, again, results) for p in record["open"]]),
        "since": _since(job, issue),
        "phases": phases,
        "notes": notes.printed(),
        "calculations": calculations.versions_of(job, results),
        "closing": record_trail.closing(job),
        "signed": record_trail.signed(job),
        "governs": GOVERNS if any(isinstance(r, Result) for r in results.values()) else "",
        "by_hand": [] if never else ["Done by, date", "Checked by, date", "Handed over to, date"],
        "trail": record_trail.trail(job),
        "remarks": list(job.notes),
        "attached": attached(job),
    }  # fmt: skip


# ------------------------------------------------------------------------------ head
def cautions(results: Iterable[Result | str]) -> list[str]:
    """The cautions of all recalculated entries, each once."""
    return in_order(r for r in results if isinstance(r, Result))


def head(record: Mapping[str, Any], job: Job) -> dict[str, Any]:
    """The data of every page of a job: its name, its paper, and the hash of the attached record."""
    return {
        "title": f"Job {job.number}",
        "running": _running(job),
        "paper": "us-letter" if record["paper"] == "letter" else "a4",
        "version": str(record["program"]["shoplib"]),
        "hash": printed_hash(record),
        "author": str(job.header.get("done_by", "")),
        "number": job.number,
        "job": header_cells(job.header),
    }


def _running(job: Job) -> str:
    """The head of each page: the serial number whole, and as much of the name of the engine as fits, by words."""
    serial, engine = (str(job.header.get(k) or "") for k in ("serial", "engine"))
    room = max(RUNNING - len(serial), 0)
    short = re.sub(r"[;,.:]+ …$", " …", textwrap.shorten(engine, room, placeholder=" …")) if room > 1 else ""
    return " · ".join(x for x in (serial, short) if x)


def _people(job: Job) -> dict[str, Any] | None:
    """The people of the job, as typed, and what each did by the lines of the record."""
    rows = []
    for p in job.header.get(PEOPLE.name, ()):
        names = {str(p.get(k) or "") for k in ("name", "initials")} - {""}
        wrote = [x.n for x in job.lines if x.who in names]
        mine = [t for t in job.ticks if t.stands and t.initials in names]
        aside = sum(bool(t.deviation) for t in mine)
        ticks = len(mine) - aside
        decided = [x.n for x in job.decisions.values() if x.body.get("by") in names]
        did = [f"{what} {lines_in_words(n)}" for what, n in (("wrote", wrote), ("decided", decided)) if n]
        did += [f"{ticks} tick{'s' * (ticks > 1)}"] if ticks else []
        did += [f"{aside} deviation{'s' * (aside > 1)} at the bolts"] if aside else []
        rows.append([*(str(p.get(c.name, "")) for c in PEOPLE.columns), "; ".join(did) or "nothing"])
    head = (*(c.label for c in PEOPLE.columns), "In this record")
    return as_table(PEOPLE.label, head, rows) if rows else None


def _parts(job: Job) -> list[dict[str, Any]]:
    """Each part that was fitted, with its part and batch number, and the lines that name one of these numbers."""
    labels = {c.name: c.label.lower().removesuffix(" number").removeprefix("part") for c in PARTS.columns[1:]}  # batch
    written = [(e.n, written_in(e)) for e in job.current_entries]
    found = []
    for p in job.header.get(PARTS.name, ()):
        numbers = [str(p[k]) for k in labels if p.get(k)]
        lines = [n for n, text in written if any(named_in(text, number) for number in numbers)]
        told = ", ".join(f"{labels[k]} {p[k]}".strip() for k in labels if p.get(k))
        found.append({"text": ": ".join(x for x in (str(p.get("what", "")), told) if x), "lines": lines})
    return found


def _instruments(job: Job) -> dict[str, Any] | None:
    known = {str(i.get("id", "")): i for i in job.header.get("instruments", ())}
    rows = []
    for c in calibrations(job):
        i = known.get(c.id, {})
        late = [f"OVERDUE when used on {u.day}, line {job.line(u.uid).n}" for u in c.uses if u.overdue]
        # a line that was corrected since was a use, too
        fine = [old.n for u in c.uses if not u.overdue for old in job.chain(u.uid)]
        used = "; ".join([*late, *([lines_in_words(fine)] if fine else [])])
        given = [str(i.get(k, "")) or "not given" for k in ("resolution", "deviation", "certificate")]
        unused = "OVERDUE, not used here" if c.overdue else "not used here"
        rows.append([c.id, str(i.get("what", "")), *given, c.due or "not given", used or unused])
    head = ("ID", "Instrument", "Resolution", "Permitted error", "Certificate", "Calibration due", "Use")
    return as_table("Instruments", *_without_empty(head, rows)) if rows else None


def _without_empty(head: Sequence[str], rows: Sequence[Sequence[str]]) -> tuple[list[str], list[list[str]]]:
    """The table without the columns in which nothing was given."""
    kept = [k for k in range(len(head)) if {row[k] for row in rows} != {"not given"}]
    return [head[k] for k in kept], [[row[k] for k in kept] for row in rows]


def _replaced(job: Job, issue: Line | None) -> str:
    """The letter of the issue before this one."""
    before = [x for x in job.issues if issue is not None and x.n < issue.n]
    return str(before[-1].body.get("letter", "")) if before else ""


def _handed_out(issue: Line) -> str:
    return f"Issued by {issue.who}, {moment(issue)}"


def _alike(points: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Points of more than one line with one text are one row; the place of the first, and how many others."""
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for p in points:
        groups.setdefault((p["status"], p["text"]), []).append(p)
    rows = []
    for same in groups.values():
        lines = spans([n for p in same for n in p["lines"]])
        others = f", and {len(same) - 1} other{'s' * (len(same) > 2)} alike" if len(same) > 1 else ""
        rows.append(same[0] | {"line": lines, "where": same[0]["where"] + others})
    return rows


def _open_point(
    point: Mapping[str, Any], job: Job, again: Mapping[str, str], results: Mapping[str, Result | str]
) -> dict[str, Any]:
    status, uid, what = (str(point[k]) for k in ("status", "uid", "what"))
    result, what = results.get(uid), what.replace(ASKED, "")
    if isinstance(result, Result):
        for check in result.checks:
            what = what.replace(check.remark, on_paper(check.remark)) if check.remark else what
        what = result.in_labels(what)
    lines = [x.n for x in job.lines if x.uid == uid] or [
        job.line(use.uid).n for c in calibrations(job) if point.get("key") == f"calibration/{c.id}" for use in c.uses
    ]
    if not uid:
        what = what.partition("; used in ")[0]  # the lines are named beside it
    name = str(point["where"])
    title = name.partition("(")[2].removesuffix(")") if uid and not name.startswith("instrument ") else name
    return {
        "status": status,
        "word": STATUS_WORDS.get(status, status),
        "lines": lines,
        "line": spans(lines),
        "where": title,
        "text": summary.without_source(what) + again.get(uid, ""),
    }


def _since(job: Job, issue: Line | None) -> dict[str, Any] | None:
    """What changed since the previous issue or, on a working copy, since the last issue."""
    if issue is None:
        last = job.issues[-1] if job.issues else None
        return None if last is None else {"letter": last.body["letter"], "changes": job.changes(last.n)}
    before = [x for x in job.issues if x.n < issue.n]
    if not before:
        return None
    closed = f"The job was closed. Root cause: {job.closing.body.get('root_cause')}" if job.closing else ""
    told = [
        "The job was closed; page 1 gives the root cause." if x == closed else x for x in issue.body.get("changes", [])
    ]
    return {"letter": before[-1].body["letter"], "changes": told}


# ------------------------------------------------------------------------------ the entries
def _phases(job: Job, results: Mapping[str, Result | str], notes: Notes) -> list[dict[str, Any]]:
    found = []
    tightening, overdue = grids(job), overdue_uses(all_points(job))
    pictures, multiples = pictured(job.current_entries, results), multiples_of(job.current_entries, results)
    for heading, chains in by_phase(job):
        entries = [
            place_of(job, c, results, tightening.get(c.last.uid), Shown(job, notes, c.last.uid in pictures, multiples))
            for c in chains
        ]
        for entry, chain in zip(entries, chains, strict=True):
            if entry["kind"] == "entry" and chain.last.uid in overdue:
                summary.without_calibration(entry, overdue[chain.last.uid])
        found.append({"title": heading, "entries": entries})
    return found


def _number_allowed(job: Job, phases: Sequence[Mapping[str, Any]], notes: Notes) -> None:
    """The source of what a decision allowed is one of the notes."""
    for decision in job.decisions.values():
        source = str(decision.body.get("allowed_source") or "")
        number = notes.source(source)
        for grid in (e["grid"] for p in phases for e in p["entries"] if number and e["grid"]):
            for x in grid["deviations"]:
                if source in x["decision"]["limit"]:
                    x["decision"]["limit"] += f" [{number}]"


def attached(job: Job) -> list[dict[str, str]]:
    """The photographs attached to the file, large and small, each under the hash of its bytes."""
    found: dict[str, str] = {}
    for line in job.lines:
        if line.kind == "photo" and line.body:  # nothing is known about a damaged line
            found.setdefault(f"{line.body['picture']}.jpg", f"Photograph of line {line.n}")
            found.setdefault(f"{line.body['thumb']}.jpg", f"Photograph of line {line.n}, small, as printed")
    return [{"file": name, "about": about} for name, about in sorted(found.items())]
