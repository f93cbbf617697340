"""The drafts of the forms in the record: what was typed and not saved to a job yet."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from shoplib.core.errors import BadInput, Problem
from shoplib.record import drafts, validation
from shoplib.record.drafts import Draft
from shoplib.record.store_connection import StoreConnection


class StoreDrafts(StoreConnection):
    """Drafts, of each desk apart.

    Parameters that have one meaning in all methods:

    - ``form``: name of the form
    - ``number``: of the job; None: none was chosen
    - ``desk``: name of the desk, which has its own drafts
    """

    def save_draft(self, form: str, inputs: Mapping[str, Any], *, number: str | None = None, desk: str = "") -> str:
        """Save all inputs of a form at every change; the last write wins.  Returns the time.

        Anything that can be typed can be saved, good or bad; it is validated only when it is saved to the job.
        ``desk``: the name of the desk.  Desks that share a record have separate drafts, with a job and without.

        :param inputs: of the form, as they were typed
        :raises BadInput: too long for a draft
        """
        text = json.dumps(inputs, allow_nan=True)  # ASCII, so that every character can be stored
        if len(text) > validation.LARGEST_BODY or len(form) > 80:
            raise BadInput([Problem(form[:60], f"too long for a draft; at most {validation.LARGEST_BODY} characters")])
        saved_at = self._now()
        self._settled(
            lambda w: drafts.save(w.connection, desk, drafts.job_key(w.connection, number), form, text, saved_at)
        )
        return saved_at

    def draft(self, form: str, *, number: str | None = None, desk: str = "") -> Draft | None:
        """The draft of that form at that desk, or None."""
        with self._reading() as c:
            job = drafts.job_key(c, number)
            return drafts.find(c, desk, job, form).get(form) if self._version > 1 else None

    def drafts(self, *, number: str | None = None, desk: str = "") -> dict[str, Draft]:
        """All drafts of a desk, by form: for a job, or from before a job was chosen."""
        with self._reading() as c:
            job = drafts.job_key(c, number)
            return drafts.find(c, desk, job) if self._version > 1 else {}

    def drop_draft(self, form: str, *, number: str | None = None, desk: str = "") -> None:
        """Delete a draft when the user clears the form."""
        with self._writing() as c:
            drafts.drop(c, desk, drafts.job_key(c, number), form)

    def rename_desk(self, old: str, new: str) -> None:
        """Move the drafts of the desk ``old`` to ``new``, except where ``new`` has its own.

        :param old: its name up to now
        :param new: its new name
        """
        if self.read_only:
            return
        with self._reading() as c:
            needed = old != new and drafts.left(c, old)
        if needed:
            with self._writing() as c:
                drafts.rename(c, old, new)
