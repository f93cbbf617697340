"""Signing a job and issuing its sheet, each within one transaction."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from shoplib.record.asking import asked_again
from shoplib.record.errors import Damaged, Refused
from shoplib.record.job import ISSUED, SUBSTANCE, Job
from shoplib.record.line_writer import NewLine, letter_after
from shoplib.record.receipt import Receipt
from shoplib.record.store_connection import StoreConnection


class StoreSigning(StoreConnection):
    """Signatures, sheets and the bytes of sheets.

    Parameters that have one meaning in all methods:

    - ``number``: of the job
    - ``who``: initials of the person who does this
    - ``seen``: number of the last line that the person saw; if lines were added since, it is refused; None: any
    - ``uid``: of the new line, so that a repeated call saves one; None makes one
    """

    @asked_again
    def sign(self, number: str, *, who: str, role: str, seen: int | None = None, uid: str | None = None) -> Receipt:
        """Sign for all present entries.  Raises Stale.

        :param role: as what: technician, checked_by, customer
        """
        with self._appending() as writer:
            cursor = writer.cursor(number)
            job = writer.job(cursor.id, cursor.uid)
            for line in job.lines:
                if line.uid == uid and line.kind == "sign":
                    return Receipt(line.uid, line.n, line.at, again=True)
            _require_seen(job, seen, SUBSTANCE)
            return writer.append(cursor, NewLine("sign", who, {"role": role, "covers": cursor.lines}, uid))

    @asked_again
    def issue(
        self,
        number: str,
        *,
        who: str,
        record: str = "",
        recipient: str = "",
        seen: int | None = None,
        uid: str | None = None,
    ) -> tuple[str, list[str]]:
        """Issue a sheet: save its letter and what changed since the previous one, and return both.

        Issued again without changes, it keeps its letter.  Raises Stale.

        :param record: seal of its contents (:func:`shoplib.record.job_record.seal`)
        :param recipient: to whom the sheet goes
        """
        with self._appending() as writer:
            cursor = writer.cursor(number)
            job = writer.job(cursor.id, cursor.uid)
            last = job.issues[-1] if job.issues else None
            covered = last.body.get("covers", 0) if last else 0
            changed = [line for line in job.lines if line.kind in ISSUED and line.n > covered]
            if last is not None and (not changed or last.uid == uid):
                return str(last.body.get("letter", "")), list(last.body.get("changes", []))
            _require_seen(job, seen, ISSUED)
            letter, changes = letter_after(len(job.issues)), job.changes(covered) if last else []
            said = {"covers": cursor.lines, "record": record, "changes": changes, "recipient": recipient}
            writer.append(cursor, NewLine("issue", who, {"letter": letter, **said}, uid))
            return letter, changes

    @asked_again
    def keep_print(
        self, number: str, *, issue: str, who: str, paper: str, extent: str, pdf: bytes, uid: str | None = None
    ) -> bytes:
        """Keep the exact bytes of an issued sheet, and their hash in a line of the job.

        The first bytes of an issue on that paper are kept; later ones are not, and the first are returned.

        :param issue: uid of the line that issued the sheet
        :param paper: A4 or letter
        :param extent: which pages: all of them, or the customer's
        :param pdf: the bytes of the sheet
        """
        with self._appending() as writer:
            cursor = writer.cursor(number)
            digest = writer.job(cursor.id, cursor.uid).printed(issue, paper, extent)
            if digest is None:
                digest = hashlib.sha256(pdf).hexdigest()
                writer.save_picture(digest, pdf)
                body = {"paper": paper, "extent": extent, "sheet": digest}
                writer.append(cursor, NewLine("print", who, body, uid, issue))
        return self.kept_sheet(digest) or pdf

    def kept_sheet(self, digest: str) -> bytes | None:
        """The issued sheet of that hash; None if it was kept in another record.  Raises Damaged.

        :param digest: SHA-256, in hexadecimal
        """
        content = self._content(digest)
        if content is not None and hashlib.sha256(content).hexdigest() != digest:
            raise Damaged(f"{self.place}: the sheet {digest[:12]}… was altered")
        return content


def _require_seen(job: Job, seen: int | None, kinds: Sequence[str]) -> None:
    """Refuse if the job has lines that the person who signs has not seen."""
    unseen = [] if seen is None else [line for line in job.lines if line.n > seen and line.kind in kinds]
    if unseen:
        raise Refused(f"the job changed after you opened it: {unseen[-1].name}. Read it again before you sign.")
