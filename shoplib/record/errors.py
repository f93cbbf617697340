"""What can go wrong with the job record, each in words for the user.  A bad field is a ``BadInput``, as everywhere."""

from __future__ import annotations

from shoplib.core.errors import ShoplibError


class StoreError(ShoplibError, RuntimeError):
    """Why the job record could not do as asked, in words for the user."""


class Busy(StoreError):
    """Another program holds the record and did not let go in time."""


class Full(StoreError):
    """No room is left on the disk."""


class Failing(Full):
    """The disk does not take or give the data."""


class ReadOnly(StoreError):
    """The file, folder or server takes no writing."""


class Damaged(StoreError):
    """The file is damaged, or is something else's."""


class Newer(StoreError):
    """The record was made by a newer version of this program."""


class Unreachable(StoreError):
    """The folder or the server cannot be reached."""


class Uncertain(StoreError):
    """It is not known whether it was saved; the same call with the same uid is saved once."""


class Refused(StoreError):
    """What the rules of the record do not allow, and why."""


class NoSuchJob(Refused):
    """No job of that number."""


class Stale(Refused):
    """Numbers that can no longer be relied on were to be signed or printed; the message names them."""


class NotAJob(StoreError):
    """A file that cannot be taken as an exported job; the message says why."""


class BadPhoto(StoreError):
    """A file that cannot be taken as a photograph; the message says why."""
