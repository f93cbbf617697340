"""A tightening in the record as the states of the guide: which lines are which events of the state machine.

guide = guide_of(job, progress_of(job, plan_uid))
guide.held, guide.next
"""

from __future__ import annotations

from collections.abc import Iterator

from shoplib.record.job import Entry, Job
from shoplib.record.open_points import OPEN, points_of
from shoplib.record.ticks import REOPENING, REPLACED, action_of
from shoplib.record.tightening import Tightening
from shoplib.topics.tightening.guide_state import Decided, Decision, Event, Guide, Ticked

HOLDS = ("deviation", "fail")  # open points of a tick that hold the guide


def guide_of(job: Job, now: Tightening) -> Guide:
    """The state of every bolt at every stage of that plan.

    :param job: the job, read from its lines
    :param now: the present state of that plan
    """
    events = sorted(_events(job, now), key=lambda each: each[0])
    return Guide.of(now.sequence, (event for _, event in events))


def _events(job: Job, now: Tightening) -> Iterator[tuple[float, Event]]:
    """The events of a tightening, each with the number of its line."""
    held = {p.uid for p in points_of(job, now.plan) if p.status in HOLDS and p.state == OPEN}
    for key, tick in {**now.old_bolt, **now.ticked}.items():
        counts = _line(job, tick)
        if counts > tick.first:  # done again: its first tick came before
            yield tick.first, Ticked(key)
        yield counts, Ticked(key, deviates=tick.uid in held and action_of(tick) not in REOPENING)
    for bolt, reopened in now.reopened.items():
        stages = [stage for stage, name in now.sequence if name == bolt]
        if stages:
            yield reopened.n + 0.5, Decided((stages[0], bolt), Decision(reopened.code))


def _line(job: Job, tick: Entry) -> float:
    """When a tick counts: at its first line, or at the line with which the step was done again."""
    again: list[int] = [t.n for t in job.chain(tick.uid) if t.line.body.get("because_code") in REPLACED]
    return float(max([tick.first, *again]))
