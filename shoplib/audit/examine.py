"""One item of an archive examined: whether it holds, and the readings of its tightening."""

from __future__ import annotations

import functools
import json
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from shoplib import __version__
from shoplib.core import files
from shoplib.core.errors import BadInput
from shoplib.core.reading_limits import EXPORTED_JOB, JOB_FILE, SHEET, TRACE_FILE
from shoplib.core.trace_file import NotATrace, parse
from shoplib.core.units import N_m, Unreadable, deg, read, unit_of
from shoplib.record import ticks
from shoplib.record.errors import NotAJob, StoreError
from shoplib.record.job import Job

HOLDS, OPEN, WRONG, NOT_READ, OTHER = "holds", "not covered", "does not hold", "not read", "other table"
LIMITS = {".pdf": SHEET.size, ".json": EXPORTED_JOB.size, ".toml": JOB_FILE.size, ".csv": TRACE_FILE.size}
KINDS = {".pdf": "sheet", ".json": "exported job", ".toml": "job file", ".csv": "trace", "": "stored job"}
MOST_TOLD = 2000  # characters of the findings of one item
OF_A_TRACE = ("slope", "angle_from_snug", "angle_from_threshold", "drop_torque", "peak_torque")


@dataclass(frozen=True)
class Item:
    """A file of the folder, or a job of the store.  ``key`` changes when its content does."""

    root: str  # the folder, or the place of the store
    place: str  # path inside the folder, or number of the job
    kind: str
    key: str


# ------------------------------------------------------------------------------ what there is
def items_of(target: str) -> list[Item]:
    """Everything to examine, in the order of names.  Raises NotRead for what is neither a folder nor a store."""
    folder = Path(target)
    if folder.is_dir():
        return list(_in_folder(folder))
    if "://" not in target and not folder.is_file():
        raise files.NotRead(f"{target} is neither a folder nor a job record")
    with _store(target) as store:
        return [
            Item(target, row.number, KINDS[""], f"{row.number}|{row.lines}|{row.changed_at}|{__version__}")
            for row in store.jobs(limit=10_000_000).rows
        ]


def _in_folder(folder: Path) -> Iterator[Item]:
    for path in sorted(folder.rglob("*")):
        kind = KINDS.get(path.suffix.lower(), "")
        if kind and path.suffix and path.is_file() and not path.is_symlink():
            state, place = path.stat(), path.relative_to(folder).as_posix()
            yield Item(str(folder), place, kind, f"{place}|{state.st_size}|{state.st_mtime_ns}|{__version__}")


def _store(place: str) -> Any:
    from shoplib.record.store import Store

    return Store.open(place)


# ------------------------------------------------------------------------------ one item
def examine_all(items: Sequence[Item]) -> list[dict[str, Any]]:
    """A batch, in a process of its own: one row for each item."""
    return [examine(item) for item in items]


def examine(item: Item) -> dict[str, Any]:
    """Whether an item holds, with its findings and readings.  A broken item is a finding, never an error."""
    begun = time.perf_counter()
    readings: list[dict[str, Any]] = []
    try:
        state, found, outcome, readings = _EXAMINERS[item.kind](item)
    except NotATrace as error:
        state, found, outcome = OTHER, [str(error)], ""
    except (files.NotRead, NotAJob, StoreError, BadInput, Unreadable) as error:
        state, found, outcome = NOT_READ, [str(error)], ""
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, ArithmeticError, LookupError) as error:
        state, found, outcome = NOT_READ, [f"{type(error).__name__}: {error}"], ""
    return row_of(item, state, found, outcome, readings, time.perf_counter() - begun)


def row_of(
    item: Item,
    state: str,
    found: Sequence[str],
    outcome: str = "",
    readings: Sequence[Mapping[str, Any]] = (),
    seconds: float = 0.0,
) -> dict[str, Any]:
    """The row of the results for an item."""
    return {
        "key": item.key, "place": item.place, "kind": item.kind, "state": state, "outcome": outcome,
        "findings": "; ".join(found)[:MOST_TOLD], "readings": json.dumps(list(readings), ensure_ascii=False),
        "program": __version__, "seconds": seconds,
    }  # fmt: skip


Examined = tuple[str, list[str], str, list[dict[str, Any]]]


def _raw(item: Item) -> bytes:
    path = files.inside(Path(item.root), item.place)
    return files.read_bounded(path, LIMITS[path.suffix.lower()])


def _sheet(item: Item) -> Examined:
    from shoplib.record.job_record import job_of
    from shoplib.sheet.attachments import JOB_RECORD_SCHEMA
    from shoplib.sheet.verify import NotASheet, read_record, verify

    raw = _raw(item)
    try:
        verdict = verify(raw)
        record = read_record(raw)
    except NotASheet as error:
        return NOT_READ, [str(error)], "", []
    state = WRONG if verdict.problems else HOLDS if verdict.verified else OPEN
    entries: list[Mapping[str, Any]] = []
    readings = []
    if record["schema"] == JOB_RECORD_SCHEMA:
        readings = _readings(job_of(record), item.place)
    else:
        entries = [e["result"] for e in record["entries"] if isinstance(e.get("result"), Mapping)]
        readings = _of_results(entries, str(record["job"].get("number", item.place)))
    outcome = str(record.get("outcome") or "")
    return state, [*verdict.problems], outcome, readings


def _job(job: Job) -> Examined:
    """Hashes, and whether the results follow from what was typed."""
    from shoplib.record.job import chained
    from shoplib.record.job_record import changed_since_kept, whole_record

    job = chained(job.uid, job.lines)
    found = [f"{line} does not match its hash" for line in job.damaged]
    record = whole_record(job)
    found += [f"{c['where']}: {c['what']}" for c in changed_since_kept(job, record["worked"])]
    return WRONG if found else HOLDS, found, str(record.get("outcome") or ""), _readings(job, job.number)


def _exported(item: Item) -> Examined:
    from shoplib.record.exchange import load

    return _job(load(_raw(item))[0])


def _stored(item: Item) -> Examined:
    return _job(_opened(item.root).job(item.place))


@functools.lru_cache(maxsize=1)
def _opened(place: str) -> Any:
    return _store(place).__enter__()  # one connection for each process, until it ends


def _job_file(item: Item) -> Examined:
    from shoplib.record.jobfile import read_job_file
    from shoplib.record.jobfile_record import make_record

    path = files.inside(Path(item.root), item.place)
    record = make_record(read_job_file(path), folder=path.parent)
    results = [e["result"] for e in record["entries"] if isinstance(e.get("result"), Mapping)]
    return HOLDS, [], str(record.get("outcome") or ""), _of_results(results, item.place)


def _trace(item: Item) -> Examined:
    from shoplib.topics import get

    trace = parse(_raw(item))
    result = get("torque_angle_trace")(trace=trace.text)
    found = [*trace.notes, *result.assumptions]
    return HOLDS, list(dict.fromkeys(found)), "", _of_results([result.to_json(steps=False)], item.place)


_EXAMINERS = {
    "sheet": _sheet,
    "exported job": _exported,
    "job file": _job_file,
    "trace": _trace,
    "stored job": _stored,
}


# ------------------------------------------------------------------------------ readings of a tightening
def _readings(job: Job, place: str) -> list[dict[str, Any]]:
    found = _of_results([e.result for e in job.current_entries if isinstance(e.result, Mapping)], job.number or place)
    about = _about([e.result for e in job.current_entries if isinstance(e.result, Mapping)])
    stages = {}
    for entry in job.current_entries:
        if entry.result.get("working") == "tightening_plan":
            typed = entry.result.get("inputs", {}).get("stages", {}).get("as_entered") or ""
            listed = typed if isinstance(typed, list) else str(typed).split(";")
            stages = {k: str(s).strip() for k, s in enumerate(listed, 1)}
    for tick in (t for t in job.ticks if t.stands):
        stage = stages.get(int(tick.stage or 0), "")
        value, peak = ticks.split_reading(str(tick.value))
        for name, said, unit in (("torque", value, N_m), ("angle", value, deg), ("peak torque", peak, N_m)):
            try:
                number = float(unit_of(unit).from_si(read(said, unit_of(unit)).value))
            except Unreadable:
                continue
            found.append({**about, "job": job.number or place, "measure": f"{name} at {stage}", "value": number})
    return found


def _of_results(results: Sequence[Mapping[str, Any]], job: str) -> list[dict[str, Any]]:
    about, found = _about(results), []
    for result in results:
        values = result.get("results", {})
        if result.get("working") == "torque_angle_trace":
            found += [(name, values[name].get("value")) for name in OF_A_TRACE if name in values]
        elif result.get("working") == "peak_torque":
            typed = result.get("inputs", {}).get("readings", {}).get("value") or ()
            found += [("peak_torque", v) for v in typed]
    return [
        {**about, "job": job, "measure": name, "value": float(v)}
        for name, v in found
        if isinstance(v, int | float) and np.isfinite(v)
    ]


def _about(results: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """Lubricant, wrench and batch of the bolts of a job, as they were typed; "" where nobody typed them."""
    about = {"lubricant": "", "wrench": "", "bolts": ""}
    for result in results:
        typed: dict[str, Any] = {
            k: v.get("as_entered") for k, v in result.get("inputs", {}).items() if isinstance(v, Mapping)
        }
        if result.get("working") == "tightening_plan":
            about["lubricant"] = str(typed.get("lubricant") or about["lubricant"])
            about["wrench"] = str(typed.get("tools") or about["wrench"])
        parts = typed.get("parts")
        if result.get("working") == "parts_list" and isinstance(parts, list):
            rows = [r for r in parts if isinstance(r, Mapping) and "bolt" in str(r.get("part", "")).lower()]
            about["bolts"] = "; ".join(filter(None, (str(r.get("batch") or "") for r in rows))) or about["bolts"]
    return about
