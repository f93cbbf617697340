"""The state of a tightening: what is ticked, the next bolt, the deviations, the bolts to stop at and examine.

    now = progress_of(store.job("26-014"), plan_uid)
    now.next          # (stage, bolt) or None when all is done
    now.ticked        # {(stage, bolt): tick}

Computed from the lines of a job alone; nothing here touches the database.  A corrected plan is the same plan: a tick
counts as long as its stage is the same as when it was ticked.

Parameters that have one meaning in all functions:

- ``key``: number of the stage and name of the bolt
- ``job``: the job, read from its lines
"""

from __future__ import annotations

import functools
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from shoplib.core.errors import BadInput, ShoplibError
from shoplib.core.units import N_m, Unreadable, read, unit_of
from shoplib.core.working import Result
from shoplib.record.instruments import named_in
from shoplib.record.job import Entry, Job, Line, kept_with_job
from shoplib.record.jobfile_record import canonical
from shoplib.record.ticks import (
    PLAN_CORRECTED,
    PLANS,
    REOPENING,
    TIGHTENING_PLAN,
    Judged,
    action_of,
    judge,
    split_reading,
    stage_of,
)
from shoplib.topics import get
from shoplib.topics.tightening.tightening_plan import PlannedStage

Key = tuple[int, str]  # (stage number, bolt)


class NoPlan(ShoplibError, ValueError):
    """There is no tightening plan to follow; the message says what to do."""


class Reopened(NamedTuple):
    """All stages of a bolt were opened again: by which line, and with a new bolt or after loosening it."""

    n: int
    code: str  # one of REOPENING


class Bolt(NamedTuple):
    """A bolt and its place, m."""

    name: str
    x: float
    y: float


# ------------------------------------------------------------------------------ the state
@dataclass(frozen=True)
class Tightening:
    """One plan of a job, and its progress."""

    plan: Entry
    result: Result  # of the current plan
    ticked: Mapping[Key, Entry]  # valid ticks for the current plan
    outdated: Mapping[Key, Entry]  # valid ticks made before the stage was corrected
    old_bolt: Mapping[Key, Entry]  # valid ticks of a bolt that was replaced or loosened since: tighten again
    reopened: Mapping[str, Reopened]  # bolt → why all its stages were opened again, last
    strangers: tuple[Entry, ...]  # valid ticks for a stage or bolt that the plan no longer has
    deviations: tuple[Entry, ...]  # every tick with a deviation, including those corrected or struck out
    peaks: Mapping[int, Result]  # stage number → working peak_torque, of the readings so far
    looks: Mapping[Key, str]  # where to stop and examine, and why
    judged: Mapping[Key, Judged]  # every valid tick for a stage of the plan, judged against that stage
    instruments: tuple[Mapping[str, Any], ...]  # those in the header that the plan names

    @property
    def stages(self) -> tuple[PlannedStage, ...]:
        """The stages as planned."""
        found: tuple[PlannedStage, ...] = self.result.plot_data["stages"]
        return found

    @property
    def bolts(self) -> tuple[Bolt, ...]:
        """All bolts of the map, in the order typed."""
        points = self.result.plot_data["points"]
        return tuple(Bolt(n, *points[n]) for n in self.result.plot_data["names"])

    @property
    def sequence(self) -> tuple[Key, ...]:
        """(stage, bolt) in order.  A wait occurs once per group: its bolt is the group's name."""
        found: tuple[Key, ...] = self.result.plot_data["sequence"]
        return found

    @property
    def next(self) -> Key | None:
        """The first that is not ticked, in order; None when all is done."""
        return next((key for key in self.sequence if key not in self.ticked), None)

    @property
    def done(self) -> int:
        """How many are ticked."""
        return len(self.ticked)

    @property
    def total(self) -> int:
        """How many there are."""
        return len(self.sequence)

    def earlier(self, key: Key) -> Entry | None:
        """The valid tick there that no longer counts: of an earlier plan, or of a bolt that was replaced."""
        return self.old_bolt.get(key) or self.outdated.get(key)

    def why_again(self, key: Key) -> str:
        """The code of why a step that was ticked is done again: a new bolt, a loosened one, a corrected plan."""
        return self.reopened[key[1]].code if key in self.old_bolt else PLAN_CORRECTED

    @property
    def correctable(self) -> dict[Key, Entry]:
        """Every valid tick for a stage of this plan."""
        return {**self.ticked, **self.old_bolt}

    def judge(self, stage: PlannedStage, value: str) -> Judged:
        """The verdict on a value before it is ticked, against its stage.

        :param stage: a stage of the plan
        :param value: what was reached, as it was typed
        """
        return judge(stage.stage, stage.what, value, str(self.plan.inputs.get("stages_source") or ""), self.instruments)

    def stage(self, number: int) -> PlannedStage:
        """The stage of that number.

        :param number: of the stage, from 1
        """
        return self.stages[number - 1]

    def before(self, key: Key) -> tuple[Key, ...]:
        """The earlier ticks in the order that are still missing."""
        earlier = self.sequence[: self.sequence.index(key)]
        return tuple(k for k in earlier if k not in self.ticked)


def plans(job: Job, form: str = TIGHTENING_PLAN) -> tuple[Entry, ...]:
    """The current plans of a job for tightening, or for loosening, in the order of the job.

    :param form: of the plan, for tightening or for loosening
    """
    return tuple(e for e in job.current_entries if e.kind == "entry" and e.form == form)


@kept_with_job
def progress_of(job: Job, plan_uid: str) -> Tightening:
    """The present state of the tightening or loosening by that plan or by its correction.  Raises NoPlan.

    :param plan_uid: uid of the plan
    """
    try:
        chain = job.chain(plan_uid)
    except (KeyError, StopIteration):
        raise NoPlan("this plan is not in the job") from None
    plan = chain[-1]
    if plan.form not in PLANS:
        raise NoPlan(f"{plan.name} is not a plan of tightening or loosening")
    if not plan.stands:
        assert plan.by is not None
        raise NoPlan(f"{plan.name} was struck out by {plan.by.who}: {plan.by.body.get('because', '')}")
    result = worked(plan)
    sequence = result.plot_data["sequence"]
    versions = {e.uid: e for e in chain}
    mine = job.ticks_of(plan_uid)
    ticked: dict[Key, Entry] = {}
    outdated: dict[Key, Entry] = {}
    old_bolt: dict[Key, Entry] = {}
    strangers = []
    reopened = _reopened(job, mine)
    for tick in mine:
        key = (tick.stage, tick.bolt)
        if not tick.stands:
            continue
        if key not in sequence:
            strangers.append(tick)
        elif tick.bolt in reopened and not _done_again(job, tick, reopened[tick.bolt]):
            old_bolt[key] = tick
        elif _same_stage(versions[tick.programme], plan, tick.stage):
            ticked[key] = tick
        else:
            outdated[key] = tick
    peaks = {s.number: p for s in result.plot_data["stages"] if s.peak and (p := _peaks(result, s, ticked)) is not None}
    looks = {(n, bolt): why for n, p in peaks.items() for bolt, why in p.plot_data["looks"].items()}
    stages, source = result.plot_data["stages"], str(plan.inputs.get("stages_source") or "")
    used = _instruments(job.header, plan)
    judged = {
        key: judge(stages[key[0] - 1].stage, stages[key[0] - 1].what, str(t.value), source, used)
        for key, t in {**ticked, **old_bolt}.items()
    }
    return Tightening(
        plan, result, ticked, outdated, old_bolt, reopened, tuple(strangers), tuple(t for t in mine if t.deviation),
        peaks, looks, judged, used,
    )  # fmt: skip


def judged_by(header: Mapping[str, Any], programme: Line, stage: Any, value: Any) -> str:
    """The code of a tick's value against a stage of that line of the record; "" if there is no such stage.

    :param header: of the job
    :param programme: the line of the plan
    :param stage: its number in the plan, as it is stored
    :param value: of the tick, as it is stored
    """
    entry = Entry(programme, "stands")
    if not isinstance(stage, int) or not isinstance(value, str):
        return ""  # the rules of a line refuse it
    if programme.form not in PLANS:
        found = stage_of(entry, stage)
        return judge(found, found.shown, value).code if found else ""
    try:
        stages = worked(entry).plot_data["stages"]
    except NoPlan:
        return ""
    if not 0 < stage <= len(stages):
        return ""
    source, planned = str(entry.inputs.get("stages_source") or ""), stages[stage - 1]
    return judge(planned.stage, planned.what, value, source, _instruments(header, entry)).code


def _instruments(header: Mapping[str, Any], plan: Entry) -> tuple[Mapping[str, Any], ...]:
    """The instruments of the header that the plan names as its tools."""
    tools = (plan.inputs or {}).get("tools")
    return tuple(i for i in header.get("instruments", ()) if named_in(tools, str(i.get("id", ""))))


def _reopened(job: Job, ticks: Sequence[Entry]) -> dict[str, Reopened]:
    """Bolt to the last line that opened its stages again: a tick, unless it was struck out or corrected, or a decision
    about a tick.
    """
    found = [
        (str(t.bolt), Reopened(t.n, action_of(t)))
        for t in ticks
        if action_of(t) in REOPENING and (t.by is None or t.by.body.get("because_code") in REOPENING)
    ]
    bolts = {t.uid: str(t.bolt) for t in ticks}
    found += [
        (bolts[x.about], Reopened(x.n, str(x.body["reopens"])))
        for x in job.lines
        if x.kind == "decision"
        and x.body.get("reopens")
        and x.about in bolts
        and job.decisions.get(str(x.body.get("point"))) is x
    ]
    return dict(sorted(found, key=lambda each: each[1].n))


def _done_again(job: Job, tick: Entry, reopened: Reopened) -> bool:
    """Whether this tick was made after the bolt was replaced or loosened, and not as a correction of an earlier one."""
    if tick.first > reopened.n:
        return True
    return any(t.n > reopened.n and t.line.body.get("because_code") in REOPENING for t in job.chain(tick.uid))


def logged(job: Job) -> dict[str, dict[str, str]]:
    """What the fastener logs of the job say about each bolt: its thread, length, use, as saved."""
    found: dict[str, dict[str, str]] = {}
    for entry in job.current_entries:
        if entry.form == "fastener_log":
            rows = entry.result.get("results", {}).get("log", {}).get("value") or []
            for row in rows:
                said = {k: _cell(v) for k, v in row.items()}
                found[said.pop("bolt", "")] = said
    return found


def _cell(cell: Mapping[str, Any]) -> str:
    value, unit = cell.get("value"), cell.get("unit")
    if isinstance(value, float | int) and not isinstance(value, bool):
        return f"{value:.6g} {unit or ''}".strip()
    return "" if value is None else str(value)


def bench_warnings(said: Mapping[str, str], kind: str) -> list[str]:
    """What must be seen before this bolt is touched; ``kind`` of the stage.

    :param said: what the fastener logs say about the bolt
    :param kind: of the stage: in torque, in angle, or loosening
    """
    found = []
    if said.get("thread", "").endswith("LEFT"):
        turn = "LOOSENS CLOCKWISE" if kind == "loosen" else "TIGHTENS ANTICLOCKWISE"
        found.append(f"LEFT-HAND THREAD: {turn}")
    if said.get("dry") == "no":
        found.append("HOLE NOT DRY in the log: stop; trapped fluid can crack the casting")
    if said.get("use") == "no bolt":
        found.append("The log says that no bolt belongs in this hole")
    return found


def worked(plan: Entry) -> Result:
    """A saved plan recalculated from what was typed.  Raises NoPlan if this version can no longer read it.

    :param plan: the entry that holds it
    """
    try:
        return _work(str(plan.form), canonical(plan.inputs))
    except BadInput as error:
        raise NoPlan(f"{plan.name} cannot be read by this version: {error}") from None


@functools.lru_cache(maxsize=64)
def _work(form: str, inputs: bytes) -> Result:
    return get(form)(json.loads(inputs))


def _same_stage(version: Entry, plan: Entry, number: int) -> bool:
    """Whether that version of the plan had the same stage."""
    if version.uid == plan.uid:
        return True
    try:
        then, now = worked(version).plot_data["stages"], worked(plan).plot_data["stages"]
    except NoPlan:
        return False
    if not 0 < number <= min(len(then), len(now)):
        return False
    a, b = then[number - 1].stage, now[number - 1].stage
    return (a.kind, a.low, a.high) == (b.kind, b.low, b.high)


def _peaks(plan: Result, stage: PlannedStage, ticked: Mapping[Key, Entry]) -> Result | None:
    """The working peak_torque of the readings so far at that stage; None before the first reading."""
    found = {b: split_reading(t.value)[1] for b in stage.bolts if (t := ticked.get((stage.number, b))) is not None}
    found = {b: peak for b, peak in found.items() if _a_torque(peak)}
    if not found:
        return None
    typed: dict[str, Any] = {"bolts": list(found), "readings": list(found.values())}
    for name in ("peak_tolerance", "peak_tolerance_source"):
        typed[name] = plan.inputs.as_entered.get(name)
    return get("peak_torque")({k: v for k, v in typed.items() if v})


def _a_torque(typed: str) -> bool:
    """Only readable values are compared; the record keeps the rest as typed."""
    try:
        return bool(read(typed, unit_of(N_m)).value > 0)
    except Unreadable:
        return False
