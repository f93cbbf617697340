"""What can go wrong with the job record, each with a message.  A bad field is a ``BadInput``, as everywhere."""

from __future__ import annotations

from shoplib.core.errors import ShoplibError


class StoreError(ShoplibError, RuntimeError):
    """Why the job record could not do what was asked; the message is for the user."""


class Busy(StoreError):
    """Another program is using the record."""


class Full(StoreError):
    """The disk is full."""


class Failing(Full):
    """The disk cannot read or write the data."""


class ReadOnly(StoreError):
    """The file, folder or server is read-only."""


class Damaged(StoreError):
    """The file is damaged, or is not a job record."""


class Newer(StoreError):
    """The record was made by a newer version of this program."""


class Unreachable(StoreError):
    """The folder or the server cannot be reached."""


class Uncertain(StoreError):
    """It is not known whether it was saved; the same call with the same uid is saved once."""


class Refused(StoreError):
    """The rules of the record do not allow this; the message says why."""


class NoSuchJob(Refused):
    """No job of that number."""


class Stale(Refused):
    """Somebody tried to sign or print numbers that are out of date; the message names them."""


class NotAJob(StoreError):
    """A file that is not an exported job; the message says why."""


class BadPhoto(StoreError):
    """A file that is not a photograph; the message says why."""
