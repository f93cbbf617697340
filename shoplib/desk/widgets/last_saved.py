"""What was last saved from a form, so that it is not saved twice."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from shoplib.record.jobfile_record import canonical

if TYPE_CHECKING:
    from shoplib.record.job import Entry

NEW = ("about", "remark", "title", "when", "picked")  # what makes an entry of the same values another one


class LastSaved(NamedTuple):
    """The entry that was last saved from a form."""

    number: str  # of the job
    n: int  # of the line
    inputs: bytes
    condition: str

    @classmethod
    def of(cls, number: str, entry: Entry) -> LastSaved:
        """As the record holds it: also after a restart, or when it was corrected elsewhere."""
        return cls(number, entry.n, canonical(entry.inputs), str(entry.condition or ""))

    def holds(self, number: str, inputs: Any, said_so: Mapping[str, Any]) -> bool:
        """Whether that line already holds this.

        A remark, a title, a time, other sources or another condition of the engine is something new.
        """
        if any(said_so.get(name) for name in NEW) or said_so.get("condition", "") not in ("", self.condition):
            return False
        return number == self.number and self.inputs == canonical(inputs)
