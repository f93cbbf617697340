"""The end of a job's sheet: how it was closed, who signed, and every line of the record."""

from __future__ import annotations

from typing import Any

from shoplib.record.history import in_words
from shoplib.record.job import Job, Line
from shoplib.sheet.formatting import moment
from shoplib.sheet.table_layout import as_table

_CLIP = 110  # characters of a line in the list of all lines


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
            else f"1 line changed since: line {since[0].n}"
            if len(since) == 1
            else f"{len(since)} lines changed since, from line {since[0].n} onward"
        )
        rows.append([line.who, str(line.body.get("role", "")), moment(line), f"1 to {line.body.get('covers')}", state])
    return (
        as_table("Signed in the record", ("Name", "Signed", "Date and time", "Lines", "Since then"), rows)
        if rows
        else None
    )


def trail(job: Job) -> dict[str, Any]:
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
    return {"head": list(head), "rows": rows, "last": last, "lines": len(job.lines)}


def _what(line: Line, job: Job) -> str:
    old = next((x for x in job.lines if x.uid == line.about), None)
    title = line.title if len(line.title) <= 120 else line.title[:119] + "…"
    match line.kind:
        case "entry" | "note" | "tick" if old is not None:
            return f"{title}: corrects line {old.n}"
        case "entry" | "note":
            return title
        case "strike":
            return f"Line {old.n if old else '?'} struck out"
        case "photo":
            return f"Photograph for line {old.n if old else '?'}: {line.body.get('caption') or 'untitled'}"
    said = in_words(line, job)
    return said if len(said) <= _CLIP else said[:_CLIP] + "…"
