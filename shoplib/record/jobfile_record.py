"""The record: plain JSON, canonical bytes and their hash.  A worked sheet is a pure function of it.

Parameters that have one meaning in all functions:

- ``result``: of the working
"""

from __future__ import annotations

import functools
import hashlib
import importlib.metadata
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from shoplib import __version__
from shoplib.core import csv_file, progress, trace_file
from shoplib.core.checks import Outcome, worst
from shoplib.core.errors import BadInput, Problem
from shoplib.core.reading_limits import MOST_DRAWS
from shoplib.core.working import Result
from shoplib.record import header
from shoplib.record.extra_fonts import fonts_hash
from shoplib.record.sanitise import BadText, clean, clean_tree
from shoplib.topics import all_workings, find, renames

SCHEMA = "shoplib-record/1"
ENTRY_FIELDS = ("working", "title", "who", "when", "remark", "condition", "inputs")
CONDITIONS = ("as_found", "as_left")  # of the engine, when the readings of an entry were taken; stated, never guessed
LONGEST_JOB = 200  # entries
PAPERS = ("a4", "letter")
EXTENTS = ("whole", "customer")  # a sheet of a job: all of it, or the pages for the customer


COMPUTED_BY = ("shoplib", "numpy")  # of the versions: those that decide a number
DRAWN_BY = ("shoplib", "pages", "typst", "matplotlib", "fonts")  # those that decide how a page looks


def versions() -> dict[str, str]:
    """The versions that computed and drew the sheet; equal versions give equal bytes."""
    fonts = fonts_hash()
    return {"shoplib": __version__, "pages": _pages(), **_libraries(), **({"fonts": fonts} if fonts else {})}


@functools.cache
def _libraries() -> dict[str, str]:
    return {name: importlib.metadata.version(name) for name in ("typst", "numpy", "matplotlib")}


@functools.cache
def _pages() -> str:
    """Hash of the templates: it tells a sheet made with other templates from one that was altered."""
    folder = Path(__file__).resolve().parents[1] / "sheet"
    files = sorted(p for p in folder.rglob("*") if p.suffix in (".py", ".typ"))
    return hashlib.sha256(b"\0".join(p.read_bytes() for p in files)).hexdigest()[:12]


def canonical(record: Mapping[str, Any]) -> bytes:
    """One byte string for one record: sorted keys, UTF-8, no spaces, no NaN.

    :param record: plain data
    """
    text = json.dumps(record, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.encode("utf-8")


def digest(record: Mapping[str, Any]) -> str:
    """SHA-256 of the canonical bytes, in hexadecimal.

    :param record: plain data
    """
    return hashlib.sha256(canonical(record)).hexdigest()


def printed_hash(record: Mapping[str, Any]) -> str:
    """The hash that every page of a job's sheet shows: the same on A4 and Letter, and on the customer's pages.

    :param record: the whole record, as plain data
    """
    return digest({k: v for k, v in record.items() if k not in ("paper", "extent")})


def make_record(job: Mapping[str, Any], *, paper: str = "a4", folder: Path | None = None) -> dict[str, Any]:
    """Calculate every entry of a job and put inputs, results and outcome into one record.

    ``job`` has the shape of the job file.  ``folder``: where the CSV files are that a person's job file names; without
    it no file is opened, as for a record.  Raises BadInput naming every bad field of every entry.

    :param job: the tables of the job file
    :param paper: A4 or letter
    :param folder: whose CSV files may be named; None: no file is opened
    """
    problems: list[Problem] = []
    head = _header(job.get("job"), problems)
    entries = job.get("entry")
    if not isinstance(entries, list) or not entries:
        problems.append(Problem("entry", "a job needs at least one [[entry]]"))
        entries = []
    if len(entries) > LONGEST_JOB:
        problems.append(Problem("entry", f"{len(entries)} entries is too many; at most {LONGEST_JOB}"))
        entries = []
    problems += [Problem(str(k)[:60], "unknown key; allowed: job, entry") for k in job if k not in ("job", "entry")]
    worked: list[dict[str, Any]] = []
    outcomes: list[Outcome] = []
    with progress.allowance(MOST_DRAWS):
        for n, entry in enumerate(entries, 1):
            try:
                with progress.part(n - 1, len(entries), "of the entries calculated"):
                    kept, outcome = _work_entry(entry, f"entry {n}", folder)
            except BadInput as error:
                problems += error.problems
                continue
            except progress.TooMuch as error:
                problems.append(Problem(f"entry {n}", str(error)))
                continue
            worked.append(kept)
            outcomes += [outcome] if outcome else []
    if paper not in PAPERS:
        problems.append(Problem("paper", f"must be one of {', '.join(PAPERS)}"))
    if problems:
        raise BadInput(problems)
    together = worst(outcomes)
    return {
        "schema": SCHEMA,
        "program": versions(),
        "paper": paper,
        "job": head,
        "entries": worked,
        "outcome": None if together is None else str(together),
    }


def former_names(job: Mapping[str, Any]) -> list[str]:
    """Which names in a job file are those of an earlier version, and what they are now; each once.

    :param job: the tables of the job file
    """
    entries = job.get("entry")
    told: list[str] = []
    for entry in entries if isinstance(entries, list) else []:
        if isinstance(entry, Mapping):
            inputs = entry.get("inputs")
            told += renames(str(entry.get("working")), inputs if isinstance(inputs, Mapping) else {})
    return list(dict.fromkeys(told))


def _header(raw: Any, problems: list[Problem]) -> dict[str, str]:
    if not isinstance(raw, Mapping):
        problems.append(Problem("job", "the table [job] is missing"))
        return {}
    known = [f.name for f in header.FIELDS]
    problems += [
        Problem(f"job.{str(k)[:60]}", f"unknown key; allowed: {', '.join(known)}") for k in raw if k not in known
    ]
    found: dict[str, str] = {}
    for field in header.FIELDS:
        where, value = f"job.{field.name}", raw.get(field.name)
        if value is None or (isinstance(value, str) and not value.strip()):
            if field.required_always:
                problems.append(Problem(where, "is missing", field.example))
            continue
        text = _text(value, where, problems, longest=400)
        if field.date:
            text = _date(value, where, problems)
        if text is not None:
            found[field.name] = text
    return found


def _text(value: Any, where: str, problems: list[Problem], longest: int = 4000) -> str | None:
    if isinstance(value, bool) or (not isinstance(value, str | int | float) and not hasattr(value, "isoformat")):
        problems.append(Problem(where, "must be text"))
        return None
    text = value.isoformat() if hasattr(value, "isoformat") else str(value)
    try:
        return clean(text, where, longest)
    except BadText as error:
        problems.append(Problem(where, str(error).removeprefix(f"{where}: ")))
        return None


def _date(value: Any, where: str, problems: list[Problem]) -> str | None:
    from shoplib.core.dates import read_date
    from shoplib.core.units import Unreadable

    try:
        return read_date(value)[:10]
    except Unreadable as error:
        problems.append(Problem(where, str(error)))
        return None


def _work_entry(entry: Any, where: str, folder: Path | None) -> tuple[dict[str, Any], Outcome | None]:
    problems: list[Problem] = []
    if not isinstance(entry, Mapping):
        raise BadInput([Problem(where, "is not a table")])
    problems += [
        Problem(f"{where}, {str(k)[:60]}", f"unknown key; allowed: {', '.join(ENTRY_FIELDS)}")
        for k in entry
        if k not in ENTRY_FIELDS
    ]
    name = entry.get("working")
    working = find(name)
    if working is None:
        known = ", ".join(all_workings())
        problems.append(Problem(f"{where}, working", f"{str(name)[:60]!r} is not a working; allowed: {known}"))
    kept: dict[str, Any] = {"working": working.name if working else name}
    for part in ("title", "who", "when", "remark"):
        if entry.get(part) is not None:
            kept[part] = _text(entry[part], f"{where}, {part}", problems)
    if entry.get("condition") in CONDITIONS:
        kept["condition"] = entry["condition"]
    elif entry.get("condition"):
        problems.append(
            Problem(f"{where}, condition", f"must be one of {', '.join(CONDITIONS)}, or left out", "as_left")
        )
    inputs = entry.get("inputs", {})
    if not isinstance(inputs, Mapping):
        problems.append(Problem(f"{where}, inputs", "[entry.inputs] must be a table of name = value"))
        inputs = {}
    plain = _as_json(inputs)
    try:
        clean_tree(plain, where)
    except BadText as error:
        problems.append(Problem(where, str(error).removeprefix(f"{where}.").removeprefix(f"{where}: ")))
    if problems:
        raise BadInput(problems)
    assert working is not None
    try:
        result = working(plain, folder=folder)
    except BadInput as error:
        raise BadInput(
            Problem(f"{where} ({working.name}), {p.field}", p.why, p.example) for p in error.problems
        ) from None
    kept["inputs"] = as_typed(result, plain)
    kept["result"] = result.to_json(steps=False)
    return kept, result.outcome


def as_typed(result: Result, plain: Mapping[str, Any]) -> dict[str, Any]:
    """The inputs as typed; a CSV file that was named is replaced by its rows, so that the record is complete.

    :param plain: the inputs as they were typed
    """
    kept = dict(plain)
    for name, typed in plain.items():
        field = result.working.field(name)
        if field and field.kind == "trace" and trace_file.names_a_trace_file(typed):
            kept[name] = result.inputs[name].text
        elif field and field.csv and csv_file.names_a_file(typed):
            shown = result.inputs.to_json()[name]["value"]
            unit = result.inputs.to_json()[name]["unit"]
            kept[name] = [
                _respell(row) if isinstance(row, Mapping) else f"{row!r} {unit or ''}".strip() for row in shown
            ]
    return kept


def _respell(row: Mapping[str, Any]) -> dict[str, str]:
    return {
        k: f"{v['value']!r} {v['unit'] or ''}".strip() if not isinstance(v["value"], str) else v["value"]
        for k, v in row.items()
    }


def _as_json(value: Any) -> Any:
    """Dates as text; everything else is JSON already."""
    if value is None or isinstance(value, str | int | float):  # most values; to ask for a Mapping takes longer
        return value
    if isinstance(value, Mapping):
        return {str(k): _as_json(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_as_json(v) for v in value]
    return value.isoformat() if hasattr(value, "isoformat") else value


def inputs_body(result: Result) -> Any:
    """The inputs as typed, as a line of the record holds them; empty boxes are left out."""
    typed = {k: v for k, v in result.inputs.as_entered.items() if v is not None and v != ""}
    return _as_json(as_typed(result, typed))


def entry_body(result: Result, title: str, remark: str, when: str) -> dict[str, Any]:
    """The body of an entry's line: its working, the inputs as typed, the results.

    :param title: the heading of the entry
    :param remark: a note; empty for none
    :param when: of the work, date and time; empty for now
    """
    return {
        "title": title or result.working.title,
        "phase": result.working.phase,
        "remark": remark,
        "when": when,
        "inputs": inputs_body(result),
        "result": _as_json(result.to_json(steps=False)),
    }
