"""The outcome of a whole job: as found, as left, and the worst of everything.

A person states as found or as left when saving an entry; nothing is guessed from dates or titles.  A
decision about an open point never changes an outcome, except that a reading may be judged against the range that a
named source allows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from shoplib.core.checks import Outcome, worst
from shoplib.record.job import Job
from shoplib.record.open_points import OPEN, RESOLVED, OpenPoint, all_points

AS_FOUND, AS_LEFT = "as_found", "as_left"
UNPROVED = ("pass", "no limit given")  # what an overdue instrument makes undecided; a fail stays a fail
CONDITION_WORDS: Mapping[str, str] = {
    "": "not stated",
    AS_FOUND: "as found (before the work)",
    AS_LEFT: "as left (after the work)",
}


class Outcomes(NamedTuple):
    """Outcomes of a job; None: nothing was judged, or no entry has that condition."""

    together: str | None
    as_found: str | None
    as_left: str | None


def outcomes_of(job: Job, worked: Sequence[Mapping[str, Any]]) -> Outcomes:
    """The outcomes of a job whose entries were recalculated.

    “As left” counts the entries saved as left and every tick.  An entry with neither condition that does not pass
    leaves both undecided: its condition is not known.  A reading with an overdue instrument never passes.

    :param job: the job, read from its lines
    :param worked: the entries recalculated, in order
    """
    entries, points = {e.n: e for e in job.current_entries if e.kind == "entry"}, all_points(job)
    overdue = overdue_uses(points)
    judged: dict[str, list[Outcome]] = {"": [], AS_FOUND: [], AS_LEFT: []}
    for w in worked:
        outcome, entry = w.get("result", {}).get("outcome"), entries.get(w["line"])
        if outcome:
            proved = outcome not in UNPROVED or entry is None or entry.uid not in overdue
            judged[str(entry.condition or "") if entry else ""].append(
                Outcome(outcome) if proved else Outcome.UNDECIDED
            )
    ticks = list(_of_ticks(points))
    doubts = []
    if job.stale or job.damaged or any("why" in w for w in worked):
        doubts = [Outcome.UNDECIDED]  # an unreliable value is never a pass
    unplaced = [Outcome.UNDECIDED for o in judged[""] if o in (Outcome.FAIL, Outcome.UNDECIDED)]

    def of(stated: str, more: Sequence[Outcome]) -> str | None:
        return _worst([*judged[stated], *more, *unplaced, *doubts]) if judged[stated] else None

    together = _worst([*judged[""], *judged[AS_FOUND], *judged[AS_LEFT], *ticks, *doubts])
    return Outcomes(together, of(AS_FOUND, []), of(AS_LEFT, ticks))


def overdue_uses(points: Iterable[OpenPoint]) -> dict[str, str]:
    """uid of each entry read with an instrument whose calibration was overdue, unless somebody accepted it.

    :param points: everything open, accepted or resolved
    """
    return {p.uid: p.what for p in points if p.status == "overdue" and p.state == OPEN and p.uid}


def _worst(outcomes: Sequence[Outcome]) -> str | None:
    found = worst(outcomes)
    return None if found is None else str(found)


def _of_ticks(points: Iterable[OpenPoint]) -> Iterable[Outcome]:
    """The outcomes of ticks that are not as required; a tick that is as required gives no point."""
    for point in points:
        kind = point.key.partition("/")[0]
        if kind == "not ticked" or (kind == "look" and point.state == OPEN):
            yield Outcome.UNDECIDED
        elif kind == "tick" and not (point.state == RESOLVED and point.outcome == "pass"):
            if point.outcome == "fail":
                yield Outcome.FAIL
            elif point.state == OPEN or point.outcome == "undecided":
                yield Outcome.UNDECIDED
