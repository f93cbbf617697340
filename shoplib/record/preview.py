"""A preview of an exported job before it is imported: its contents, and whether its hashes match."""

from __future__ import annotations

from typing import NamedTuple

from shoplib.record.exchange import load
from shoplib.record.job import chained


class ImportPreview(NamedTuple):
    """An empty ``problems`` means that every line matches its hash."""

    number: str
    problems: tuple[str, ...]
    notes: tuple[str, ...]


def preview_of(raw: bytes) -> ImportPreview:
    """The contents of an exported job.  Raises NotAJob for any other file.

    :param raw: the bytes of the file
    """
    job, pictures = load(raw)
    job = chained(job.uid, job.lines)
    problems = tuple(f"{line} does not match its hash: the file was changed" for line in job.damaged)
    last = job.lines[-1].digest if job.lines else "none"
    notes = (
        f"{len(job.lines)} lines, {len(pictures) // 2} photographs",
        f"chain verified: last hash {last}; compare it and the number of lines with a printed sheet or a trusted copy",
        "not covered: whether the results follow from what was typed; an exported job has no pages and no signature",
    )
    return ImportPreview(job.number, problems, notes if not problems else notes[:1])
