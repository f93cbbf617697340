"""Whole jobs into the record and out of it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from shoplib.record import job_transfer
from shoplib.record.line_writer import LineWriter
from shoplib.record.receipt import Imported, new_id
from shoplib.record.store_connection import StoreConnection


class StoreTransfer(StoreConnection):
    """Jobs from job files, from sheets and from other records, and jobs as files."""

    def start_from(
        self,
        job_file: Mapping[str, Any],
        *,
        who: str | None = None,
        folder: Path | None = None,
        uid: str | None = None,
    ) -> str:
        """Start a job from a job file, or from the record in a sheet; returns its number.

        Every entry is recalculated from what was typed; nothing is saved if one is bad (BadInput).

        :param job_file: the tables of a job file, or the record in a sheet
        :param who: initials of the person who starts it; None: those of ``done_by``
        :param folder: whose CSV files may be named; None: no file is opened
        :param uid: of the new job, so that a repeated call starts one; None makes one
        """
        record = job_transfer.record_of(job_file, folder)
        job_uid = uid or new_id()
        self._settled(lambda writer: job_transfer.start_from(writer, record, who, job_uid))
        return str(record["job"]["number"])

    def export(self, number: str) -> bytes:
        """A whole job with its photographs as JSON, in the form of ``job.schema.json``.

        :param number: of the job
        """
        from shoplib.record import exchange

        with self._reading() as c:
            reader = LineWriter(c, self._now, self._reader)
            cursor = reader.cursor(number, lock=False)
            job = reader.job(cursor.id, cursor.uid)
        digests = exchange.pictures_of(line for line in job.lines if line.body)  # a damaged line names none
        return exchange.dump(job, {digest: self.picture(digest) for digest in sorted(digests)})

    def import_job(self, raw: bytes, *, number: str | None = None, who: str = "") -> Imported:
        """Import an exported job.  Importing it again adds only its new lines.

        Raises NotAJob or Refused; then nothing is saved.

        :param raw: the exported job
        :param number: that it gets, where its own is taken; None: its own
        :param who: initials of the person who gives it another number
        """
        from shoplib.record import exchange

        job, pictures = exchange.load(raw)
        number = job_transfer.new_number(number)
        judged = job_transfer.judged_lines(job, number, who, self._now)
        there = number or job.number
        return self._settled(lambda writer: job_transfer.write_import(writer, job, judged, pictures, there))
