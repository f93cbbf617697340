"""Worked sheets: a record becomes a PDF, is read back from it, and is verified."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from shoplib.record.job import Job
    from shoplib.record.store import Store


def typeset(
    record: Mapping[str, Any],
    *,
    pictures: Mapping[str, bytes] | None = None,
    format: str = "pdf",
    ppi: float | None = None,
    hash_expected: bytes = b"",
) -> Any:
    """The sheet of a record, as PDF bytes or PNG pages.  The same record gives the same bytes.

    ``pictures``: the photographs that the record of a stored job names, by their hash.
    ``hash_expected``: the hash of the pages that a sheet already has, see :func:`shoplib.sheet.render.render`.
    """
    from shoplib.record.jobfile_record import SCHEMA, canonical
    from shoplib.sheet.render import render

    if record["schema"] != SCHEMA:
        return _typeset_whole(record, pictures or {}, format, ppi, hash_expected)
    from shoplib.sheet.entry_sheet import build

    day = datetime.datetime.fromisoformat(record["job"]["date"]).replace(tzinfo=datetime.UTC)
    return render(
        build(record), canonical(record), timestamp=int(day.timestamp()), format=format, ppi=ppi,
        with_hash=True, hash_expected=hash_expected,
    )  # fmt: skip


def _typeset_whole(
    record: Mapping[str, Any],
    pictures: Mapping[str, bytes],
    format: str,
    ppi: float | None,
    hash_expected: bytes,
) -> Any:
    from shoplib.record.jobfile_record import canonical
    from shoplib.sheet.blank_job import build_blank
    from shoplib.sheet.job_pages import build_whole
    from shoplib.sheet.render import render

    data, template = (build_blank, "blank.typ") if record["blank"] else (build_whole, "job.typ")
    last = datetime.datetime.fromisoformat(record["lines"][-1]["at"])
    return render(
        data(record), canonical(record), timestamp=int(last.timestamp()), format=format, ppi=ppi, template=template,
        files={f"{digest}.jpg": content for digest, content in pictures.items()}, any_sign=True,
        with_hash=True, hash_expected=hash_expected,
    )  # fmt: skip


def job_sheet(
    store: Store,
    number: str,
    *,
    paper: str = "a4",
    blank: bool = False,
    who: str = "",
    recipient: str = "",
    extent: str = "whole",
) -> bytes:
    """The sheet of a whole stored job, as PDF bytes.

    ``who`` issues it: it gets the next issue letter, saved in the record, or keeps its letter if nothing has changed
    since.  ``recipient``: for whom.  Without ``who`` a job that was changed since its last issue prints as "working
    copy".  ``blank`` is the version to fill in by hand; it is never an issue.  ``extent``: "customer" prints page 1 and
    the closing page alone.

    The exact bytes of an issue are kept in the record when it is issued, for each paper: printed again, they are the
    same, also by a later version.

    A stale number is never signed: such a job is not issued (Stale), and its working copy says "do not sign".
    Raises StoreError or BadInput, or SheetError when a text cannot be typeset.
    """
    from shoplib.core.errors import BadInput, Problem
    from shoplib.record.job_record import as_issued, check_paper

    if blank and who:
        raise BadInput([Problem("who", "a blank sheet cannot be issued; leave this empty")])
    job = store.job(number)
    check_paper(paper)  # before it is issued
    if who:
        _issue(store, job, who, recipient)
        job = store.job(number)
    issue = None if blank or job.stale or job.damaged else job.issue
    kept = job.printed(issue.uid, paper, extent) if issue else None
    if kept is not None and (pdf := store.kept_sheet(kept)) is not None:
        return pdf
    pdf = _made(store, as_issued(job) if issue else job, paper, blank, extent)
    if issue is None or not who:
        return pdf
    return store.keep_print(number, issue=issue.uid, who=who, paper=paper, extent=extent, pdf=pdf)


def _issue(store: Store, job: Job, who: str, recipient: str) -> None:
    from shoplib.record.errors import Refused
    from shoplib.record.job_record import seal

    for again in (True, True, False):  # another desk may write at the same time
        try:
            store.issue(job.number, who=who, record=seal(job), seen=len(job.lines), recipient=recipient)
            return
        except Refused:
            now = store.job(job.number)
            if not again or len(now.lines) == len(job.lines):
                raise
            job = now


def _made(store: Store, job: Job, paper: str, blank: bool, extent: str) -> bytes:
    from shoplib.record import exchange
    from shoplib.record.job_record import whole_record

    record = whole_record(job, paper=paper, blank=blank, extent=extent)
    pictures = {digest: store.picture(digest) for digest in sorted(exchange.pictures_of(job.lines))}
    pdf: bytes = typeset(record, pictures=pictures)
    return pdf


def print_alone(name: str, typed: Mapping[str, Any], *, paper: str = "a4") -> bytes:
    """A drawing or card printed on its own page: "degree_disc" or "conversion_card", as PDF bytes."""
    from shoplib.sheet.conversion_card import card_pdf
    from shoplib.sheet.degree_disc import disc_pdf

    pdf: bytes = disc_pdf(typed, paper=paper) if name == "degree_disc" else card_pdf(typed, paper=paper)
    return pdf
