"""What an entry took from earlier entries of its job, and the correction of those entries together with it.

for one in taken_by(job, entry):
    one.input, one.source.name       # "cap_rating", "line 2 (Engine card)"
corrected(taken, {"cap_rating": "100 kPa"})   # uid of the earlier entry → its new result
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from shoplib.core.fields import Field
from shoplib.core.working import Result
from shoplib.record.job import Entry, Job
from shoplib.record.origins import value_at
from shoplib.topics import get


@dataclass(frozen=True)
class Taken:
    """An input whose value was taken from an earlier entry, which still holds it."""

    input: str  # of the later entry
    source: Entry  # the earlier one, in its present version
    field: Field  # of the earlier one

    @property
    def label(self) -> str:
        """The name of the earlier entry and of its field, as people read them."""
        return f"line {self.source.n}, {self.source.title}: {self.field.label}"


def taken_by(job: Job, entry: Entry) -> tuple[Taken, ...]:
    """The inputs that a person took from an earlier entry, and that it still holds as they were taken.

    :param job: the job, read from its lines
    :param entry: an entry of the job
    """
    found = []
    for name, origin in (entry.origins or {}).items():
        part, _, there = str(origin["take"]).partition("/")
        try:
            *_, source = job.chain(origin["uid"])
            field = get(source.form).field(there)
        except (KeyError, StopIteration):
            continue
        if part != "inputs" or field is None or field.kind == "table" or not source.stands:
            continue
        if value_at(source.line.body, origin["take"]) == (entry.inputs or {}).get(name):
            found.append(Taken(name, source, field))
    return tuple(found)


def corrected(taken: Iterable[Taken], typed: Mapping[str, Any]) -> dict[str, Result]:
    """uid of each of these earlier entries to its result with the values that are typed now.  Raises BadInput.

    :param taken: the inputs that were taken from earlier entries
    :param typed: input to what is typed now
    """
    changed: dict[str, tuple[Entry, dict[str, Any]]] = {}
    for one in taken:
        _, inputs = changed.setdefault(one.source.uid, (one.source, dict(one.source.inputs or {})))
        inputs[one.field.name] = typed[one.input]
    return {uid: get(source.form)(inputs) for uid, (source, inputs) in changed.items()}
