"""The work order as a form on paper: the work ordered, and spaces to fill in by hand."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from shoplib import __version__
from shoplib.core.errors import BadInput, ShoplibError
from shoplib.record.header import texts
from shoplib.record.jobfile_record import canonical, digest
from shoplib.topics import get
from shoplib.topics.skim.work_order import allowed

NAME = "work_order"
CAME_BACK = ("value", "state", "instrument")  # columns for the shop to fill in


class NoOrder(ShoplibError, ValueError):
    """A job without a work order."""


def typeset_order(record: Mapping[str, Any], *, format: str = "pdf", ppi: float | None = None) -> Any:
    """The blank form of the record's work orders: PDF bytes, or PNG pages.  The same record gives the same bytes.

    It contains only what concerns the shop; returned results are on the worked sheet.
    Raises NoOrder when the job has none, SheetError when a text cannot be set.
    """
    from shoplib.sheet.render import render

    entries = [(n, e) for n, e in enumerate(record["entries"], 1) if e["working"] == NAME]
    if not entries:
        raise NoOrder('this job has no work order; add an entry with working = "work_order"')
    job = record["job"]
    orders = [_order(n, e) for n, e in entries]
    asked = {
        "schema": record["schema"],
        "program": record["program"],
        "job": {k: job[k] for k in ("number", "engine", "date", "done_by")},
        "orders": [_asked(e["inputs"]) for _, e in entries],
    }
    data = {
        "title": "Work order",
        "paper": "us-letter" if record["paper"] == "letter" else "a4",
        "version": __version__,
        "hash": digest(asked),
        "author": job["done_by"],
        "number": job["number"],
        "engine": {"field": "job.engine", "value": job["engine"]},
        "date": {"field": "job.date", "value": job["date"]},
        "from": {"field": "job.done_by", "value": job["done_by"]},
        "orders": orders,
    }
    day = datetime.datetime.fromisoformat(job["date"]).replace(tzinfo=datetime.UTC)
    return render(
        data, canonical(asked), timestamp=int(day.timestamp()), template="workorder.typ", format=format, ppi=ppi
    )


def save_both(header: Mapping[str, Any], inputs: Mapping[str, Any], folder: Path, *, remark: str = "") -> list[str]:
    """Write the order and the worked sheet of a job's work order, and report each file.

    ``header`` is that of the job: it gives the sender.  An existing file is not replaced.  The report is text, not
    markup.
    """
    from shoplib.record.jobfile_record import make_record
    from shoplib.record.sanitise import BadText
    from shoplib.sheet import files, typeset
    from shoplib.sheet.render import SheetError

    job = texts(header)
    entry = {"working": NAME, "inputs": inputs, **({"remark": remark} if remark else {})}
    try:
        record = make_record({"job": job, "entry": [entry]})
        sheets = {"order": typeset_order(record), "results": typeset(record)}
    except (BadInput, BadText, SheetError) as error:
        return ["nothing was written", *str(error).splitlines()]
    number = job["number"]
    said = []
    for name, pdf in sheets.items():
        path = folder / files.name_for(f"{number}-{name}")
        try:
            files.write(path, pdf)
            said.append(f"saved: {path.as_posix()}")
        except files.NotWritten as error:
            said.append(str(error).partition(". Add --force")[0])
    return said


def _asked(inputs: Mapping[str, Any]) -> dict[str, Any]:
    """The order without the returned results."""
    rows = get(NAME)(inputs).inputs.items
    items = [{c: v for c, v in row.items() if v is not None and c not in CAME_BACK} for row in rows]
    return {**inputs, "items": items}


def _order(n: int, entry: Mapping[str, Any]) -> dict[str, Any]:
    result = get(NAME)(entry["inputs"])
    inputs, where = result.inputs, f"entry {n}"
    return {
        "part": {"field": f"{where}, part", "value": inputs.part},
        "shop": {"field": f"{where}, shop", "value": inputs.shop or ""},
        "wanted_by": {"field": f"{where}, wanted_by", "value": inputs.wanted_by or ""},
        "remark": {"field": f"{where}, remark", "value": entry.get("remark", "")},
        "points": inputs.height_points or 0,
        "items": [
            {
                "n": k,
                "work": {"field": f"{where}, items[{k}].work", "value": row["work"]},
                "where": {"field": f"{where}, items[{k}].where", "value": row["where"]},
                "allowed": {"field": f"{where}, items[{k}]", "value": allowed(row)},
                "source": {"field": f"{where}, items[{k}].source", "value": row["source"] or ""},
            }
            for k, row in enumerate(inputs.items, 1)
        ],
        "cautions": result.labelled_cautions,
    }
