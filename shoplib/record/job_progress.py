"""The progress of a job: each step done, begun, open or skipped; the next one; what closing the job still needs.

    now = progress(store.job("26-014"))
    now.next            # the first step that is neither done nor skipped
    now.to_close        # in words

Computed from the lines of the job alone.  A step is skipped by a note with the reason; to undo it, strike the note out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from shoplib.core.checks import Outcome, worst
from shoplib.record.job import Entry, Job
from shoplib.record.open_points import open_points
from shoplib.record.ticks import LOOSENING_PLAN, TIGHTENING_PLAN
from shoplib.topics.job_steps import AS_FOUND, BY_CODE, CLOSING, LOOSENING, STEPS, TIGHTENING, Step

if TYPE_CHECKING:
    from shoplib.record.store import Receipt, Store

DONE, BEGUN, OPEN, SKIPPED, STALE = "done", "begun", "open", "skipped", "out of date"
SETTLED = (DONE, SKIPPED)
BOLTS = "head bolts loosened"  # a step of the strip-down log
TICKED = {LOOSENING: LOOSENING_PLAN, TIGHTENING: TIGHTENING_PLAN}  # steps that are done by ticks → the plan
_SKIP = "skipped_step:"  # form of the note that skips a step


@dataclass(frozen=True)
class StepNow:
    """A step, and how far it is."""

    step: Step
    state: str
    outcome: str = ""  # of its newest entry
    entry: Entry | None = None  # its newest entry, or the note that skips it
    what: str = ""  # more, in words

    @property
    def settled(self) -> bool:
        """True when nothing more is to be done for it."""
        return self.state in SETTLED


@dataclass(frozen=True)
class Progress:
    """All steps of a job."""

    steps: tuple[StepNow, ...]
    open_points: int
    stale: int
    closed: bool

    @property
    def next(self) -> StepNow | None:
        """The first step that is neither done nor skipped."""
        return next((s for s in self.steps if not s.settled), None)

    @property
    def done(self) -> int:
        """How many steps are done or skipped."""
        return sum(s.settled for s in self.steps)

    @property
    def missing(self) -> tuple[StepNow, ...]:
        """The steps before closing that are neither done nor skipped."""
        return tuple(s for s in self.steps if not s.settled and s.step.code != CLOSING)

    @property
    def to_close(self) -> tuple[str, ...]:
        """What closing the job still needs, in words."""
        if self.closed:
            return ()
        told = [f"{s.step.title}: {s.what or s.state}" for s in self.missing]
        if self.stale:
            told.append("1 entry is out of date" if self.stale == 1 else f"{self.stale} entries are out of date")
        if self.open_points:
            many = self.open_points != 1
            told.append(f"{self.open_points} open point{'s' * many} to decide")
        return (*told, "the root cause, and the signature")


def progress(job: Job) -> Progress:
    """The progress of a job, from its lines.

    :param job: the job, read from its lines
    """
    skipped = {
        str(e.line.form).removeprefix(_SKIP): e for e in job.current_entries if str(e.line.form).startswith(_SKIP)
    }
    points = [p for p in open_points(job) if p.status not in ("blank", "stale")]
    steps = tuple(_now(job, step, skipped.get(step.code)) for step in STEPS)
    return Progress(steps, len(points), len(job.stale), job.closed)


def _now(job: Job, step: Step, skip: Entry | None) -> StepNow:
    if step.code == CLOSING:
        return StepNow(step, DONE if job.closed else OPEN)
    found = _ticked(job, step) if step.code in TICKED else _of_entries(_mine(job, step), step)
    if found.state == OPEN and skip is not None:
        return StepNow(step, SKIPPED, entry=skip, what=f"{skip.remark} ({skip.who})")
    return found


def _mine(job: Job, step: Step) -> list[Entry]:
    """The current entries that do this step.  An entry that does not say so was made as found."""
    mine = [e for e in job.current_entries if e.kind == "entry" and e.form in step.workings]
    if not step.condition:
        return mine
    return [e for e in mine if (e.condition or AS_FOUND) == step.condition]


def _of_entries(entries: Sequence[Entry], step: Step) -> StepNow:
    if not entries:
        return StepNow(step, OPEN)
    last = entries[-1]
    outcomes = [Outcome(e.outcome) for e in entries if e.outcome in set(Outcome)]
    outcome = str(worst(outcomes) or "")
    many = f"{len(entries)} entries" if len(entries) > 1 else ""
    if any(e.stale for e in entries):
        return StepNow(step, STALE, outcome, last, "out of date: calculate it again")
    return StepNow(step, DONE, outcome, last, many)


def _ticked(job: Job, step: Step) -> StepNow:
    from shoplib.record.guide_progress import guide_of
    from shoplib.record.tightening import NoPlan, plans, progress_of
    from shoplib.topics.tightening.guide_state import State

    done = total = held = 0
    if step.code == LOOSENING and not plans(job, LOOSENING_PLAN):
        return _in_the_log(job, step)
    for plan in plans(job, TICKED[step.code]):
        try:
            now = progress_of(job, plan.uid)
        except NoPlan as error:
            return StepNow(step, BEGUN, entry=plan, what=str(error))
        done, total = done + now.done, total + now.total
        held += sum(state is State.DEVIATION for state in guide_of(job, now).cells.values())
    if not done:
        return StepNow(step, OPEN)
    what = f"{done} of {total} ticked"
    if held:
        return StepNow(step, BEGUN, what=f"{what}; {held} deviation{'s' * (held > 1)} to decide")
    return StepNow(step, DONE if done == total else BEGUN, what=what)


def _in_the_log(job: Job, step: Step) -> StepNow:
    """Loosening without a plan: a strip-down log can say that it was done."""
    for entry in job.current_entries:
        if entry.kind == "entry" and entry.form == "strip_log":
            rows = entry.inputs.get("steps") or ()
            if any(isinstance(r, Mapping) and (r.get("step"), r.get("state")) == (BOLTS, "done") for r in rows):
                return StepNow(step, DONE, entry=entry, what="in the strip-down log")
    return StepNow(step, OPEN)


def skip(store: Store, number: str, code: str, *, who: str, because: str, **more: Any) -> Receipt:
    """Skip a step, with the reason; the note is printed with the job.  Raises BadInput without a reason.

    :param store: the record
    :param number: of the job
    :param code: of the step
    :param who: initials of the person who does this
    :param because: the reason, in words
    :param more: further arguments of :meth:`Store.note`
    """
    from shoplib.core.errors import BadInput, Problem

    step = BY_CODE[code]
    if not because.strip():
        raise BadInput([Problem("because", "is missing", '"the engine has no cooling system"')])
    return store.note(
        number, _SKIP + code, {"step": step.title, "reason": because}, title=f"Skipped: {step.title}", who=who,
        remark=because, **more,
    )  # fmt: skip


def tell(job: Job) -> list[str]:
    """The progress as lines of text.

    :param job: the job, read from its lines
    """
    now = progress(job)
    signs = {DONE: "✓", SKIPPED: "–", BEGUN: "…", OPEN: "□", STALE: "▲"}
    rows = [
        f"{signs[s.state]} {s.step.title}: {s.state}" + "".join(f", {x}" for x in (s.outcome, s.what) if x)
        for s in now.steps
    ]
    head = f"Next: {now.next.step.title}" if now.next else "Every step is done or skipped."
    return [head, *rows]
