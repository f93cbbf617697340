"""A job of the record as a job file, as the command line reads it."""

from __future__ import annotations

import itertools
from typing import Any

from shoplib.record.header import texts
from shoplib.record.job import Job, differences, refuse_stale


def as_job_file(job: Job, *, allow_stale: bool = False) -> dict[str, Any]:
    """The current entries as input for :func:`shoplib.record.jobfile_record.make_record`.

    A correction takes the place of the first entry, and its remark says what changed.  Raises Stale for a job with
    stale numbers; with ``allow_stale`` these are included, and their remark says so first.
    """
    if not allow_stale:
        refuse_stale(job, "no sheet can be made yet")
    entries = []
    for entry in job.current_entries:
        if entry.kind != "entry":
            continue
        remarks = [f"STALE, do not sign: {entry.stale[0]}."] if entry.stale else []
        remarks += [entry.remark] if entry.remark else []
        chain = [e.line for e in job.chain(entry.uid) if e.line.n <= entry.n]
        remarks += [
            f"Corrects line {old.n} of {old.who}, {old.at}: {differences(old, new)}. Reason: {new.body.get('because')}"
            for old, new in itertools.pairwise(chain)
        ]
        kept = {
            "working": entry.form,
            "title": entry.title,
            "who": entry.who,
            "when": entry.when or entry.at[:16].replace("T", " ") + " UTC",
            "remark": "\n".join(remarks)[:4000],
            "condition": entry.condition or "",
            "inputs": dict(entry.inputs or {}),
        }
        entries.append({k: v for k, v in kept.items() if v != ""})
    return {"job": texts(job.header), "entry": entries}
