"""A job for readers: its history by phase, what must be recalculated and from what, and the whole job as text.

Parameters that have one meaning in all functions:

- ``job``: the job, read from its lines
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from shoplib.core.checks import Outcome
from shoplib.record.header import LABELS, texts
from shoplib.record.instruments import calibrations
from shoplib.record.job import Entry, Job, Line, differences
from shoplib.record.open_points import OPEN, all_points, check_in_words, said, settled_points

PROVE, HAND_OVER = "Prove the fault", "Prove and hand over"
PHASES = {  # of a working → heading, in the order of the job
    "card": "Engine card",
    "prove": PROVE,
    "strip": "Lock and strip",
    "measure": "Measurements",
    "skim": "Skim and gasket",
    "bolts": "Bolts, holes and wrench",
    "fasteners": "Bolts, holes and wrench",
    "wrench": "Bolts, holes and wrench",
    "assemble": "Parts and reassembly",
    "tighten": "Tighten",
    "re-time": "Re-time",
    "fill": "Fill and bleed",
    "hand over": HAND_OVER,
}
OTHER = "Other entries"
TRAIL = ("header", "decision", "sign", "issue", "print", "close", "reopen")


class RevisionChain(NamedTuple):
    """One place in the job: its current entry, and the entries that it replaced."""

    last: Entry  # the newest; itself struck out when nothing is left there
    before: tuple[Entry, ...]  # the newest first

    @property
    def first(self) -> int:
        """Number of the line with which it began; this identifies the place."""
        return self.last.first


class ReworkPlan(NamedTuple):
    """What a stale entry must be recalculated from."""

    sources: list[str]  # uids of the current entries
    said: list[str]  # what changed, each in one sentence
    first: list[Entry]  # stale themselves: recalculate these first
    reason: str  # proposed for the correction


def by_phase(job: Job) -> list[tuple[str, list[RevisionChain]]]:
    """Entries and notes, with those that were corrected or struck out, under the headings of the job."""
    places: dict[int, list[Entry]] = {}
    for entry in job.entries:
        places.setdefault(entry.first, []).append(entry)
    order = [*dict.fromkeys(PHASES.values()), OTHER]
    found: dict[str, list[RevisionChain]] = {heading: [] for heading in order}
    for _, chain in sorted(places.items()):
        *before, last = chain
        found[PHASES.get(str(last.phase or ""), OTHER)].append(RevisionChain(last, tuple(reversed(before))))
    turn = _work_done_from(job)
    tests = found[PROVE]
    found[PROVE] = [c for c in tests if c.first <= turn]
    found[HAND_OVER] = sorted([*found[HAND_OVER], *(c for c in tests if c.first > turn)], key=lambda c: c.first)
    return [(heading, chains) for heading, chains in found.items() if chains]


def _work_done_from(job: Job) -> int:
    """The first line of tightening, re-timing or filling: a test saved after it proves the repair, not the fault."""
    work = [e.first for e in job.current_entries if e.phase in ("tighten", "re-time", "fill")] + [
        t.n for t in job.ticks
    ]
    return min(work, default=len(job.lines) + 1)


def paper_trail(job: Job) -> tuple[Line, ...]:
    """Lines that are not entries: the header and its changes, decisions, signatures, sheets, closing, reopening."""
    return tuple(x for x in job.lines if x.kind in TRAIL)


def rework_plan(job: Job, entry: Entry) -> ReworkPlan:
    """What a stale entry must now be recalculated from.  A line that was struck out is no longer a source.

    :param entry: the stale entry
    """
    again = ReworkPlan([], [], [], _because(job, entry))
    for uid in entry.sources or ():
        *_, last = job.chain(uid)
        if last.state == "struck" and last.by is not None:
            again.said.append(
                f"{last.name} was struck out by line {last.by.n} ({last.by.body.get('because')}): "
                "find these values again"
            )
            continue
        again.sources.append(last.uid)
        if last.uid != uid:
            told = differences(job.line(uid), last.line)
            again.said.append(f"{job.line(uid).name} became line {last.n}: {told}. Reason: {last.because}")
        if last.stale:
            again.first.append(last)
            again.said.append(f"{last.name} is itself stale: recalculate that one first")
    return again


def _because(job: Job, entry: Entry) -> str:
    changed = []
    for uid in entry.sources or ():
        *_, last = job.chain(uid)
        if last.by is not None:
            changed.append(f"line {job.line(uid).n} was struck out")
        elif last.uid != uid:
            changed.append(f"line {job.line(uid).n} became line {last.n}")
    return f"recalculated: {', '.join(changed)}" if changed else ""


def findings(entry: Entry, most: int = 2) -> str:
    """The result of an entry on one line: its worst check or, without checks, its first results.

    :param entry: an entry of the job
    :param most: results at most, where there is no check
    """
    checks = list(entry.result.get("checks") or ())
    if checks:
        order = [str(o) for o in Outcome]
        worst = min(checks, key=lambda c: order.index(str(c.get("outcome"))) if c.get("outcome") in order else 99)
        rest = len(checks) - 1
        return check_in_words(worst) + (f" (and {rest} more check{'s' * (rest > 1)})" if rest else "")
    results = entry.result.get("results") or {}
    plain = {
        name: value
        for name, value in results.items()
        if not any(isinstance(m, dict) for m in _members(value.get("value"))) and value.get("value") not in (None, "")
    }
    told = [f"{name.replace('_', ' ')} {said(v)}" for name, v in sorted(plain.items(), key=lambda x: not x[1]["unit"])]
    return "; ".join(told[:most])


def _members(value: Any) -> Iterable[Any]:
    return value if isinstance(value, list) else (value,)


def in_words(line: Line, job: Job) -> str:
    """A line of the job log in one sentence.

    :param line: a line of the record
    """
    body = line.body
    match line.kind:
        case "header" if line.n == 1:
            return "The job was started"
        case "header":
            changed = Job(job.uid, job.lines[: line.n]).changes(line.n - 1)
            return "Header: " + " ".join(changed or ["nothing changed."])
        case "decision":
            about = next((x.name for x in job.lines if x.uid == line.about), "")
            told = f"{body.get('decision', '').capitalize()} by {body.get('by')}: {about or body.get('point')}"
            told += f"; allowed {body['allowed']} [{body.get('allowed_source')}]" if body.get("allowed") else ""
            return f"{told}. Reason: {body.get('because')}"
        case "sign":
            return f"Signed “{body.get('role')}”, lines 1 to {body.get('covers')}"
        case "issue":
            changes = body.get("changes", [])
            what = f"; {len(changes)} change{'s' * (len(changes) != 1)} since the previous issue" if changes else ""
            return f"Issued as sheet {body.get('letter')}, lines 1 to {body.get('covers')}{what}"
        case "print":
            letter = next((x.body.get("letter") for x in job.lines if x.uid == line.about), "?")
            what = "pages for the customer" if body.get("extent") == "customer" else "whole sheet"
            return f"Issue {letter} stored as printed, {what}, {body.get('paper')}, SHA-256 {body.get('sheet')}"
        case "close":
            parts = [f"Closed. Root cause: {body.get('root_cause')}"]
            parts += [f"Re-torque, as instructed: “{body['retorque']}”"] if body.get("retorque") else []
            parts += [f"Parts returned: {body['parts_returned']}"] if body.get("parts_returned") else []
            parts += [str(body["remark"])] if body.get("remark") else []
            return ". ".join(part.rstrip(".") for part in parts)
        case "reopen":
            return f"Reopened. Reason: {body.get('because')}"
    return line.name


def named(line: Line, job: Job) -> str:
    """Number of a line and what it is; a line of the job log as a sentence.

    :param line: a line of the record
    """
    trail = line.kind in TRAIL
    first = in_words(line, job).split(". ")[0].split(";")[0].rstrip(".")  # its first clause
    return f"line {line.n} ({first[:80]})" if trail else line.name


def tell(job: Job) -> str:
    """The whole job as plain text."""
    lines = [f"Job {job.number}{' (closed)' if job.closed else ''}"]
    lines += [f"{LABELS[name]}: {text}" for name, text in texts(job.header).items() if name != "number"]
    lines += [f"Instrument {c.words}" for c in calibrations(job)]
    return "\n".join([*lines, "", *open_points_as_text(job), "", history_as_text(job)])


def history_as_text(job: Job) -> str:
    """The current entries by phase, with those that they replaced, and the job log."""
    lines: list[str] = []
    for heading, chains in by_phase(job):
        lines += [heading]
        for chain in chains:
            found = findings(chain.last)
            lines.append("  " + chain.last.as_line() + (f" – {found}" if found else ""))
            lines += [f"      reason: {chain.last.by.body.get('because')}"] if chain.last.by else []
            lines += [f"      was {e.as_line()}: {e.by.body.get('because')}" for e in chain.before if e.by]
        lines += [""]
    lines += [
        "Job log",
        *(f"  {x.n}. {in_words(x, job)} ({x.who}, {x.at[:10]} {x.at[11:16]} UTC)" for x in paper_trail(job)),
    ]
    return "\n".join(lines)


def open_points_as_text(job: Job) -> list[str]:
    """The open points as lines of text."""
    points = all_points(job)
    open_ = [p for p in points if p.state == OPEN]
    lines = [f"Open points: {len(open_)}", *(f"  {p.status}: {p.where}: {p.what}" for p in open_)]
    lines = lines if open_ else ["Nothing is open."]
    for heading, settled in settled_points(points):
        lines.append(f"{heading}: {len(settled)}")
        for p in settled:
            lines += [f"  {p.status}: {p.where}: {p.what}", f"      → {p.decided}"]
    return lines
