"""What the store answers to a write: the receipt of a saved line, or a refusal."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import NamedTuple

from shoplib.record.errors import NoSuchJob, Refused
from shoplib.record.job import Line
from shoplib.record.ticks import shown


class AlreadyTicked(Refused):
    """This bolt was ticked at this stage before; ``line`` is that tick."""

    def __init__(self, line: Line) -> None:
        self.line = line
        said = f"{line.title} was already ticked by {line.who} at {line.at}: {shown(str(line.body.get('value', '')))}"
        super().__init__(f"{said}. To correct it, say which tick the new one replaces, and why.")


def new_id() -> str:
    """A new uid.  Make it before the call and keep it until the call has returned."""
    return uuid.uuid4().hex


@dataclass(frozen=True)
class Receipt:
    """The acknowledgement: this line is on the disk."""

    uid: str
    n: int
    at: str  # UTC, ISO
    again: bool = False  # it was already there, from an earlier attempt

    def __str__(self) -> str:
        return f"saved as line {self.n}, {self.at[:10]} {self.at[11:19]} UTC"


class Imported(NamedTuple):
    """What an import has done."""

    number: str  # of the job in this record
    added: int  # lines that the record did not have


def no_such_job(number: object) -> NoSuchJob:
    """The error that names a job number nobody has.

    :param number: as it was typed
    """
    return NoSuchJob(f"there is no job with the number {str(number)[:80]!r}; the list of jobs shows what there is")
