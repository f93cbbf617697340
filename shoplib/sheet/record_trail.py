"""The end of a job's sheet: how it was closed, who signed, and every line of the record."""

from __future__ import annotations

from collections.abc import Set
from typing import Any

from shoplib.record.history import in_words
from shoplib.record.job import Job, Line
from shoplib.record.open_points import OPEN, all_points
from shoplib.sheet.formatting import local, moment, offset_of, spans
from shoplib.sheet.table_layout import as_table


def closing(job: Job) -> dict[str, Any]:
    """How the job was closed."""
    line = job.closing
    if line is None:
        return {"closed": False}
    body = line.body
    return {"closed": True, "n": line.n, "who": line.who, "at": moment(line),
            **{k: str(body.get(k, "")) for k in ("root_cause", "retorque", "parts_returned", "remark")}}  # fmt: skip


def signed(job: Job) -> dict[str, Any] | None:
    """The signatures in the record, and what changed since."""
    rows = []
    for line, fresh in job.signatures:
        since = [
            x for x in job.lines if x.n > line.n and x.kind in ("header", "entry", "note", "tick", "photo", "strike")
        ]
        state = (
            "no change since"
            if fresh
            else f"1 line changed since: {_changed(since[0], job)}"
            if len(since) == 1
            else f"{len(since)} lines changed since, from line {since[0].n} onward"
        )
        rows.append([line.who, str(line.body.get("role", "")), moment(line), f"1 to {line.body.get('covers')}", state])
    return (
        as_table("Signed in the record", ("Name", "Signed", "Date and time", "Lines", "Since then"), rows)
        if rows
        else None
    )


def _changed(line: Line, job: Job) -> str:
    old = next((x for x in job.lines if x.uid == line.about), None)
    return f"line {old.n}, by line {line.n}" if old is not None else f"line {line.n}"


def trail(job: Job) -> dict[str, Any]:
    """Every line of the record in order; ticks are grouped, because they are printed in their grid."""
    rows: list[list[str]] = []
    run: list[Line] = []
    names = {str(p.get("initials") or ""): str(p.get("name")) for p in job.header.get("people", ())}
    points = {p.key for p in all_points(job) if p.state != OPEN}
    decided = {x.uid for key, x in job.decisions.items() if key in points}  # page 1 has these whole
    zones = {offset_of(x) for x in job.lines}
    zone = zones.pop() if len(zones) == 1 else ""

    def at(line: Line) -> str:
        """Local time if all lines have the same offset, else UTC."""
        return " ".join(local(line)) if zone else f"{line.at[:10]} {line.at[11:16]}"

    def gather() -> None:
        if run:
            first, last = run[0], run[-1]
            who = ", ".join(dict.fromkeys(names.get(x.who, x.who) for x in run))
            aside = [x.n for x in run if x.body.get("deviation")]
            told = [f"{n} tick{'s' * (n > 1)}"] if (n := len(run) - len(aside)) else []
            told += [f"{len(aside)} deviation{'s' * (len(aside) > 1)} (line {spans(aside)})"] if aside else []
            what = ", ".join(told) if len(run) > 1 else f"Tick: {first.title}"
            span = f"{first.n}–{last.n}" if len(run) > 1 else str(first.n)
            until = "" if at(last) == at(first) else f" to {at(last)[11:]}"
            rows.append([span, f"{at(first)}{until}", who[:80], what])
            run.clear()

    for line in job.lines:
        if line.kind == "tick" and line.about is None:
            run.append(line)
            continue
        gather()
        rows.append([str(line.n), at(line), names.get(line.who, line.who), _what(line, job, decided)])
    gather()
    head = ("Line", "Clock", "Who", "What")
    last = job.lines[-1].digest
    return {"head": list(head), "rows": rows, "last": last, "lines": len(job.lines), "zone": zone or "UTC"}


def _what(line: Line, job: Job, on_page_one: Set[str]) -> str:
    old = next((x for x in job.lines if x.uid == line.about), None)
    match line.kind:
        case "entry" | "note" | "tick" if old is not None:
            return f"{line.title}: corrects line {old.n}"
        case "entry" | "note":
            return line.title
        case "strike":
            return f"Line {old.n if old else '?'} struck out"
        case "photo":
            return f"Photograph for line {old.n if old else '?'}"
        case "close" if line is job.closing:
            return "Closed; see page 1 and “Closing”"
        case "decision" if line.uid in on_page_one:
            told = f"{str(line.body.get('decision')).capitalize()} by {line.body.get('by')}"
            return f"{told}{f': line {old.n}' if old else ''}; see page 1"
    return in_words(line, job)
