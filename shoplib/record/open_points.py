"""The open points of a job, worst first, and the decisions about them: one list for screen, sheet and command line.

A point is open until somebody decides about it: *accepted* as it is, or *resolved*.  A decision changes the state of
the point, never a reading or an outcome.  Numbers that are stale or damaged cannot be accepted.

Parameters that have one meaning in all functions:

- ``job``: the job, read from its lines
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import floor, log10
from typing import Any, NamedTuple

from shoplib.core.checks import demand, in_words
from shoplib.core.rounding import digits_to_tell, round_half_up, same, without_zeros
from shoplib.core.shown_digits import uncertain_place
from shoplib.core.tightening_program import read_stage
from shoplib.core.units import show_number
from shoplib.record.errors import Refused
from shoplib.record.instruments import Calibration, calibrations, unlisted
from shoplib.record.job import Entry, Job, kept_with_job
from shoplib.record.ticks import NEW_BOLT, PLANS, Judged, action_of, judge, shown, shown_action, stage_of

# in the order in which they are shown
STATUSES = (
    "changed outside", "stale", "fail", "deviation", "undecided", "not measured", "not ticked", "no limit given",
    "overdue", "calibration unknown", "not listed", "not signed", "own work", "blank",
)  # fmt: skip
OPEN, ACCEPTED, RESOLVED = "open", "accepted", "resolved"
BY_ITSELF = "measured again after the work"  # how a decision begins that no person made
DID = "did the work"
CHECKED = "checked"


class OpenPoint(NamedTuple):
    """One point that prevents the job from being complete, or that somebody accepted or resolved."""

    status: str  # one of STATUSES
    what: str  # in words
    where: str  # which line, or which part of the job
    uid: str  # of that line; empty where there is none
    key: str = ""  # a decision names it; empty: the point cannot be accepted
    state: str = OPEN
    decided: str = ""  # by whom, why and on which line
    outcome: str = ""  # of a tick's reading against its stage, or against what a source allows instead


def open_points(job: Job) -> list[OpenPoint]:
    """Everything open, worst first."""
    return [p for p in all_points(job) if p.state == OPEN]


@kept_with_job
def all_points(job: Job) -> tuple[OpenPoint, ...]:
    """Everything open, accepted or resolved, worst first: lines, checks, bolts and ticks, instruments, signatures."""
    points = [
        OpenPoint("changed outside", "was altered outside this program; compare with the last sheet", d, "")
        for d in job.damaged
    ]
    for entry in job.current_entries:
        points += [OpenPoint("stale", reason, entry.name, entry.uid) for reason in entry.stale]
        points += _of_checks(entry, _passes_as_left(job, entry))
        points += _of_bolts(job, entry)
    points += _of_instruments(job)
    points += _of_signatures(job)
    if not job.closed:
        points.append(OpenPoint("blank", "the root cause is not recorded", "closing the job", ""))
    decided = [_decided(job, p) for p in points]
    return tuple(sorted(decided, key=lambda p: STATUSES.index(p.status)))


def settled_points(points: Sequence[OpenPoint]) -> list[tuple[str, list[OpenPoint]]]:
    """Under their headings: what a person accepted or resolved, and what a later test answered.

    :param points: of a job
    """
    settled = [p for p in points if p.state != OPEN]
    groups = {
        "Accepted or resolved": [p for p in settled if not by_later_test(p.decided)],
        "Measured again after the work, now a pass": [p for p in settled if by_later_test(p.decided)],
    }
    return [(heading, group) for heading, group in groups.items() if group]


def by_later_test(decided: str) -> bool:
    """Whether a later test decided a point; what a person decided begins with their decision.

    :param decided: of the point
    """
    return decided.startswith(BY_ITSELF)


def points_of(job: Job, programme: Entry) -> list[OpenPoint]:
    """The points of one tightening: bolts not ticked, deviations, readings that do not pass; decided ones too.

    :param programme: the plan for tightening or loosening
    """
    return [_decided(job, p) for p in _of_bolts(job, programme)]


def about_of(job: Job, key: str) -> str | None:
    """uid of the line that a decision of this open point is about.  Raises Refused if there is no such point.

    :param key: of the open point
    """
    point = next((p for p in all_points(job) if p.key and p.key == key), None)
    if point is None:
        raise Refused(f"{str(key)[:80]!r} is not a point of this job that can be accepted or resolved")
    return point.uid or None


def _decided(job: Job, point: OpenPoint) -> OpenPoint:
    """The point with its last decision."""
    line = job.decisions.get(point.key) if point.key else None
    if line is None or point.state != OPEN:
        return point
    body = line.body
    entered = f", entered by {line.who}" if _folded(line.who) != _folded(body.get("by")) else ""
    words = f"{body.get('decision')} by {body.get('by')}, line {line.n}{entered}: {body.get('because')}"
    if body.get("allowed"):
        words += f" (allowed: {read_stage(body['allowed']).shown} [{body.get('allowed_source')}])"
        now = within_allowed(job, point.uid, body)
        if now is not None and now.code != "pass":
            return point._replace(what=f"{point.what}. {words}; but {now.words}")
        point = point._replace(outcome=now.code if now else point.outcome)
    return point._replace(state=str(body.get("decision")), decided=words)


def within_allowed(job: Job, uid: str, decision: Mapping[str, Any]) -> Judged | None:
    """A tick's reading judged against the range that a decision allows; None without such a range.

    :param uid: of the tick
    :param decision: the body of the decision's line
    """
    tick = next((t for t in job.ticks if t.uid == uid), None)
    if tick is None or not decision.get("allowed"):
        return None
    stage = read_stage(decision["allowed"])
    return judge(stage, stage.shown, str(tick.value), str(decision.get("allowed_source") or ""))


def _passes_as_left(job: Job, entry: Entry) -> Entry | None:
    """The entry as left that answers one as found: the last of the same working and place, if it passes."""
    if entry.condition != "as_found" or entry.kind != "entry":
        return None

    def place(of: Entry) -> tuple[Any, ...]:
        return (of.form, *((of.inputs or {}).get(k) for k in ("what", "where")))

    later = [e for e in job.current_entries if e.condition == "as_left" and place(e) == place(entry)]
    return later[-1] if later and later[-1].outcome == "pass" and not later[-1].stale else None


def _of_checks(entry: Entry, answer: Entry | None) -> Iterator[OpenPoint]:
    """Checks that do not pass; one as found is answered by the same working as left, once that passes."""
    answered = {"state": RESOLVED, "decided": f"{BY_ITSELF}, {answer.name}: pass"} if answer else {}
    for k, check in enumerate(entry.result.get("checks") or (), 1):
        status = str(check.get("outcome"))
        if status == "pass" or status not in STATUSES:
            continue
        if status == "undecided" and (check.get("found") or {}).get("value") is None:
            status = "not measured"
        point = OpenPoint(status, check_in_words(check), entry.name, entry.uid, f"check/{entry.uid}/{k}")
        yield point._replace(**answered)


def _of_bolts(job: Job, programme: Entry) -> Iterator[OpenPoint]:
    """Bolts of the plan that are not ticked, ticks that do not meet their stage, bolts to examine."""
    from shoplib.record import tightening  # with it come the workings, which a list of jobs does not need

    if programme.kind == "note":
        for tick in job.ticks_of(programme.uid):
            stage = stage_of(programme, tick.stage)
            if tick.stands and stage is not None:
                yield from _of_tick(tick, judge(stage, stage.shown, str(tick.value)))
        return
    if programme.form not in PLANS:
        return
    try:
        now = tightening.progress_of(job, programme.uid)
    except tightening.NoPlan as error:
        yield OpenPoint("undecided", str(error), programme.name, programme.uid)
        return
    for key, tick in now.correctable.items():
        yield from _of_tick(tick, now.judged[key], replaced=key in now.old_bolt)
    for (number, bolt), why in now.looks.items():
        said_ = f"Stage {number}, bolt {bolt}: stop and examine it: {why}"
        yield OpenPoint("undecided", said_, programme.name, programme.uid, f"look/{now.ticked[number, bolt].uid}")
    for stage_ in now.stages:
        missing = [b for n, b in now.sequence if n == stage_.number and (n, b) not in now.ticked]
        if missing:
            which = "no bolt" if len(missing) == len(stage_.bolts) else f"not {', '.join(missing)}"
            again = [b for b in missing if (stage_.number, b) in now.old_bolt]
            which += f" ticked; tighten again: {', '.join(again)}" if again else " ticked"
            yield OpenPoint("not ticked", f"Stage {stage_.number}, {stage_.what}: {which}", programme.name,
                            programme.uid, f"not ticked/{programme.uid}/{stage_.number}")  # fmt: skip
    for tick in now.strangers:
        said_ = f"{tick.title} was ticked (line {tick.n}), but is no longer in the plan"
        yield OpenPoint("undecided", said_, programme.name, programme.uid, f"tick/{tick.uid}")


def _of_tick(tick: Entry, judged: Judged, *, replaced: bool = False) -> Iterator[OpenPoint]:
    """A tick that deviates, by its text or by its reading.  Of a replaced bolt: the deviation that led to the
    replacement, until its stage is repeated.
    """
    key, name = f"tick/{tick.uid}", f"line {tick.n} ({tick.title})"
    if tick.deviation:
        if replaced and action_of(tick) != NEW_BOLT:
            return
        said_ = (
            f"{tick.deviation}. Read: {shown(tick.value)}. Reason: {tick.reason}. Action: {shown_action(tick.action)}"
        )
        said_ += "; repeat its stages with the new bolt" if replaced else ""
        yield OpenPoint("deviation", said_, name, tick.uid, key, outcome=judged.code)
    elif judged.code in ("fail", "undecided") and not replaced:
        yield OpenPoint(judged.code, judged.words, name, tick.uid, key, outcome=judged.code)


def _of_instruments(job: Job) -> Iterator[OpenPoint]:
    """Instruments overdue when used, of unknown calibration, or used but not listed."""
    found = calibrations(job)
    for c in found:
        where = f"instrument {c.what}"
        if not c.due:
            used = "; ".join(u.name for u in c.uses)
            what = "calibration date not given" + (f"; used in {used}" if used else "")
            yield OpenPoint("calibration unknown", what, where, "", f"calibration/{c.id}")
        elif c.overdue and not c.uses:
            what = f"calibration was due on {c.due}; the date of the job is {job.header.get('date', '')}"
            yield OpenPoint("overdue", what, where, "", f"calibration/{c.id}")
        for use in c.uses:
            if use.overdue:
                what = f"calibration was due on {c.due}; used on {use.day}, {use.name}"
                yield OpenPoint("overdue", what, where, use.uid, f"calibration/{c.id}/{use.uid}")
    for u in unlisted(job):
        what = f"“{u.typed[:80]}” is not in the job's list of instruments; its calibration is not known"
        yield OpenPoint("not listed", what, u.entry.name, u.entry.uid, f"instrument/{u.entry.uid}/{u.typed[:80]}")
    for entry in job.current_entries:
        yield from _two_dates(entry, found)


def _two_dates(plan: Entry, calibrated: Sequence[Calibration]) -> Iterator[OpenPoint]:
    """A plan with another calibration date than the job's list of instruments."""
    due = str((plan.inputs or {}).get("calibration_due") or "")
    named = [c for c in calibrated if c.due and any(u.uid == plan.uid for u in c.uses)] if due else []
    if named and all(c.due != due[:10] for c in named):
        said_ = "; ".join(f"{c.id} {c.due}" for c in named)
        what = f"the entry gives {due} as the date when calibration is due; the list of instruments gives {said_}"
        yield OpenPoint("undecided", what, plan.name, plan.uid, f"calibration due/{plan.uid}")


def _of_signatures(job: Job) -> Iterator[OpenPoint]:
    """Signers who are not listed under People, a closed job that nobody signed as done, checkers of their own work."""
    people = {_folded(p.get("name")): p for p in job.header.get("people", ())}
    ticks = [t for t in job.ticks if t.stands]
    for line, _ in job.signatures:
        person, role = people.get(_folded(line.who)), str(line.body.get("role", ""))
        where = f"signature, line {line.n}"
        if person is None:
            what = f"{line.who}, who signed “{role}”, is not in the job's list of people"
            yield OpenPoint("not listed", what, where, line.uid, f"signer/{line.uid}")
        names = {_folded(line.who), _folded((person or {}).get("initials"))} - {""}
        own = [t for t in ticks if _folded(t.initials) in names]
        if _folded(role).startswith(CHECKED) and own:
            bolts = "; ".join(f"bolt {t.bolt} at stage {t.stage}" for t in own[:6]) + (" …" if len(own) > 6 else "")
            what = f"{line.who}, who signed “{role}”, also made {len(own)} of the ticks: {bolts}"
            yield OpenPoint("own work", what, where, line.uid, f"own work/{line.uid}")
    if job.closed and not any(_folded(x.body.get("role")) == DID for x, fresh in job.signatures if fresh):
        what = f"the job is closed, but nobody signed “{DID}” for the present entries"
        yield OpenPoint("not signed", what, "signatures", "", f"signature/{DID}")


def _folded(text: Any) -> str:
    return " ".join(str(text or "").split()).casefold()


def check_in_words(check: Mapping[str, Any]) -> str:
    """A saved check on one line: the value found, the limit and the source of the limit.

    :param check: as it is stored
    """
    found, limit = check.get("found") or {}, check.get("limit") or {}
    numbers = [v for v in (found.get("value"), limit.get("value")) if isinstance(v, int | float)]
    digits = _digits(numbers[0] if numbers else 0, (check.get("uncertainty") or {}).get("value"))
    digits = digits_to_tell(numbers[0], numbers[1], digits) if len(numbers) == 2 else digits
    bound = _said(limit, digits) if limit.get("value") is not None else ""
    asked = demand(str(check.get("comparison") or ""), bound) if bound or not check.get("limit") else ""
    shown_ = _said(found, digits)
    told = in_words(str(check.get("label")), shown_, asked, check.get("limit_source"))
    return told + (f"; {check['remark']}" if check.get("remark") and check["remark"] != shown_ else "")


def _digits(found: float, uncertainty: float | None) -> int:
    """Significant digits that the uncertainty supports: 71.4 % with ±0.4 %; of a value that ends, all of them."""
    if same(found, float(round_half_up(found, DIGITS))):
        return DIGITS
    return max(1, floor(log10(abs(found))) - uncertain_place(uncertainty) + 1) if uncertainty else PRINTED_DIGITS


PRINTED_DIGITS = 4
DIGITS = 6  # significant, of a saved value: a height to the hundredth of a millimetre
_POWERS = {"**2": "²", "**3": "³", "*": "·", "deg": "°", "um": "µm"}


def said(value: Mapping[str, Any]) -> str:
    """A saved value as people read it: ``{"value": 40.0, "unit": "N*m"}`` is 40 N·m.

    :param value: as it is stored
    """
    return _said(value, DIGITS, missing="not known")


def _said(value: Mapping[str, Any], digits: int, missing: str = "not measured") -> str:
    found, unit = value.get("value"), str(value.get("unit") or "")
    if found is None:
        return missing if "value" in value else "nothing"
    if isinstance(found, bool):
        return "yes" if found else "no"
    if isinstance(found, list):
        return "; ".join(_said({"value": v, "unit": unit}, digits, missing) for v in found) or "none"
    if isinstance(found, Mapping):
        return ", ".join(f"{k} {_said(v, digits, missing) if isinstance(v, Mapping) else v}" for k, v in found.items())
    if not isinstance(found, int | float):
        return str(found)
    for ascii_, sign in _POWERS.items():
        unit = unit.replace(ascii_, sign)
    number = str(found) if isinstance(found, int) else without_zeros(show_number(found, digits))
    return f"{number}{'' if unit == '°' else ' '}{unit}".strip()
