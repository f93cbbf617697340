"""The record of a whole stored job: its lines as they were written, and what they give today.

A job's sheet is a pure function of this record.  The photographs are stored beside it, each under its hash.

Parameters that have one meaning in all functions:

- ``job``: the job, read from its lines
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from shoplib import __version__
from shoplib.core import progress
from shoplib.core.errors import BadInput, Problem
from shoplib.core.reading_limits import MOST_DRAWS
from shoplib.core.working import Result
from shoplib.record import exchange
from shoplib.record.errors import NotAJob
from shoplib.record.job import Entry, Job, Line, chained, result_of
from shoplib.record.jobfile_record import EXTENTS, PAPERS, digest, versions
from shoplib.record.open_points import OPEN, all_points
from shoplib.record.outcomes import outcomes_of
from shoplib.topics import find

SCHEMA = "shoplib-record/2"
BETWEEN_VERSIONS = 1e-9  # relative tolerance
ZERO = 1e-10  # in the unit that is shown: what one processor rounds to zero


def whole_record(job: Job, *, paper: str = "a4", blank: bool = False, extent: str = "whole") -> dict[str, Any]:
    """Everything that a job's sheet says.  ``blank``: the version to be filled in by hand.  ``extent``: all of the
    sheet, or the pages for the customer; the record in them is the same.

    ``lines`` are those of the exported job, hash by hash.  ``worked`` is what each current entry gives when it is
    recalculated from what was typed; ``open`` and ``outcome`` follow from these.

    :param paper: A4 or letter
    :param blank: True: the version to be filled in by hand
    :param extent: which pages: all of them, or the customer's
    :raises BadInput: an extent of another name
    """
    check_paper(paper)
    if extent not in EXTENTS:
        raise BadInput([Problem("extent", f"must be one of {', '.join(EXTENTS)}", "whole")])
    found = reworked([e for e in job.current_entries if e.kind == "entry"])
    worked = [{"line": e.n, **_kept(result)} for e, result in found]
    points = all_points(job)
    outcomes = outcomes_of(job, worked)
    return {
        "schema": SCHEMA,
        "program": versions(),
        "paper": paper,
        "blank": bool(blank),
        "job": {"uid": job.uid, "number": job.number},
        "lines": [exchange.plain_line(x) for x in job.lines],
        "worked": worked,
        "open": [*changed_since_kept(job, worked), *(p._asdict() for p in points if p.state == OPEN)],
        "decided": [p._asdict() for p in points if p.state != OPEN],
        "outcome": outcomes.together,
        "outcome_as_found": outcomes.as_found,
        "outcome_as_left": outcomes.as_left,
        **({} if extent == "whole" else {"extent": extent}),  # a record of 0.1.0 does not name it
    }


def check_paper(paper: str) -> None:
    """Raises BadInput for an unsupported paper size.

    :param paper: as it was typed
    """
    if paper not in PAPERS:
        raise BadInput([Problem("paper", f"must be one of {', '.join(PAPERS)}", "a4")])


def rework(entry: Entry) -> Result | str:
    """What an entry gives when it is recalculated from what was typed; or the reason why it cannot be.

    :param entry: an entry of the job
    """
    working = find(entry.form)
    if working is None:
        return f"this version of the program has no working {entry.form!r}"
    try:
        return working(dict(entry.inputs or {}))
    except BadInput as error:
        return f"it can no longer be recalculated: {str(error)[:300]}"
    except progress.TooMuch as error:
        return f"it was not recalculated: {error}"
    except (ArithmeticError, ValueError, LookupError, TypeError, AttributeError) as error:  # inputs from elsewhere
        return f"it can no longer be recalculated ({type(error).__name__})"


def reworked(entries: Sequence[Entry]) -> list[tuple[Entry, Result | str]]:
    """Entries with what they give now; reports its progress.

    :param entries: of one job
    """
    found = []
    with progress.allowance(MOST_DRAWS):
        for n, entry in enumerate(entries):
            with progress.part(n, len(entries), "of the entries recalculated"):
                found.append((entry, rework(entry)))
    return found


def _kept(result: Result | str) -> dict[str, Any]:
    from shoplib.record import validation

    if isinstance(result, str):
        return {"why": result}
    return {"result": validation.finite(result.to_json(steps=False))}


def changed_since_kept(job: Job, worked: list[dict[str, Any]]) -> list[dict[str, str]]:
    """Entries that no longer give what they gave when they were saved, as open points.

    The printed values are recalculated, so they are right; but the reader must know that they differ.  A later
    version may give more values, so only common values are compared, and between versions of a calculation only the
    outcomes.  A line of 0.1.0 does not state its calculation.

    :param worked: the entries recalculated, in order
    """
    found = []
    for w in worked:
        line = job.line(w["line"])
        kept, now = result_of(line), w.get("result")
        if now is None:
            found.append((line, f"its numbers are not printed; {w['why']}"))
        elif line.program != __version__ and kept.get("calculation") != now.get("calculation"):
            if kept.get("outcome") != now.get("outcome"):
                found.append((line, _other_calculation(line, kept, now)))
        elif not _agree(kept, now, same_version=line.program == __version__):
            found.append((line, "the saved result does not follow from the inputs; the numbers here were recalculated"))
    return [{"status": "changed outside", "what": what, "where": line.name, "uid": line.uid} for line, what in found]


def _other_calculation(line: Line, kept: Mapping[str, Any], now: Mapping[str, Any]) -> str:
    if "calculation" not in kept:
        return f"version {__version__} gives another result than version {line.program} gave when saved"
    return (
        f"calculation {now['calculation']} of version {__version__} gives another result than calculation "
        f"{kept['calculation']} of version {line.program} gave when saved"
    )


def _agree(kept: Mapping[str, Any], now: Mapping[str, Any], *, same_version: bool) -> bool:
    a, b = (_values(r) for r in (kept, now))
    numbers = {k: v for k, v in a.items() if isinstance(v, int | float) and isinstance(b.get(k), int | float)}
    if not same_version:  # its words may be better
        a = numbers
    b = b | {k: v for k, v in numbers.items() if same_number(v, b[k])}
    outcomes = [[c.get("outcome") for c in r.get("checks") or () if isinstance(c, Mapping)] for r in (kept, now)]
    same_checks = len(outcomes[0]) != len(outcomes[1]) or outcomes[0] == outcomes[1]
    return all(a[k] == b[k] for k in a if k in b) and same_checks and kept.get("outcome") == now.get("outcome")


def same_number(a: float, b: float) -> bool:
    """Whether two calculations gave one number: libraries and processors round the last digits in their own way.

    :param a: calculated when it was saved or printed; in the unit that is shown
    :param b: calculated now; in the same unit
    """
    return math.isclose(a, b, rel_tol=BETWEEN_VERSIONS, abs_tol=ZERO)


def _values(result: Mapping[str, Any]) -> dict[str, Any]:
    """Numbers and words of the results; tables are covered by their inputs."""
    found = result.get("results")
    plain = (
        {k: v.get("value") for k, v in found.items() if isinstance(v, Mapping)} if isinstance(found, Mapping) else {}
    )
    return {k: v for k, v in plain.items() if isinstance(v, int | float | str | bool)}


def job_of(record: Mapping[str, Any]) -> Job:
    """The job in a record, its hash chain checked (:attr:`Job.damaged`).  Raises NotAJob.

    :param record: the whole record, as plain data
    """
    whole = _as_export(record)
    lines = exchange.lines_in_form(whole)
    return chained(str(whole["job"]["uid"]), lines)


def exported(record: Mapping[str, Any], pictures: Mapping[str, bytes]) -> bytes:
    """The job in a record as an exported job, for :meth:`Store.import_job`.  Raises NotAJob.

    :param record: the whole record, as plain data
    :param pictures: hash of a photograph to its bytes
    """
    whole = _as_export(record)
    wanted = exchange.pictures_of(exchange.lines_in_form(whole))
    if missing := wanted - set(pictures):
        raise NotAJob(f"{len(missing)} of its photographs are missing")
    kept = {k: v for k, v in pictures.items() if k in wanted}
    return exchange.dump_lines(whole["job"], whole["lines"], kept, program=whole["program"])


def _as_export(record: Mapping[str, Any]) -> dict[str, Any]:
    program = record.get("program")
    version = program.get("shoplib") if isinstance(program, Mapping) else None
    parts = {k: record.get(k) for k in ("job", "lines")}
    return {"schema": exchange.SCHEMA, "program": version, **parts, "pictures": {}}


def seal(job: Job) -> str:
    """Hash of all lines that a sheet was made from, saved in the line of its issue.

    The line of the issue comes after the lines that it seals, so the issued sheet contains its own seal.  The seal
    depends neither on the paper nor on the version of the program.
    """
    return digest({"job": job.uid, "lines": [exchange.plain_line(x) for x in job.lines]})


def as_issued(job: Job) -> Job:
    """The job up to the line of its last issue: what comes after does not belong to that sheet."""
    last = job.issue
    return job if last is None else chained(job.uid, [x for x in job.lines if x.n <= last.n])


def sealed_part(job: Job, issue: Line) -> Job:
    """The job as it was when that sheet was issued.

    :param issue: uid of the line that issued the sheet
    """
    return chained(job.uid, [x for x in job.lines if x.n < issue.n])
