"""Page 1 of a job's sheet: as found, as left, the tightening with its deviations, what was decided and by whom."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from shoplib.core.tightening_program import read_stage
from shoplib.core.typed_text import with_signs
from shoplib.core.working import Result
from shoplib.record import tightening
from shoplib.record.instruments import calibrations
from shoplib.record.job import Entry, Job
from shoplib.record.open_points import ACCEPTED, OPEN, RESOLVED, OpenPoint, all_points, by_later_test, within_allowed
from shoplib.record.outcomes import AS_FOUND, AS_LEFT, UNPROVED, overdue_uses
from shoplib.record.ticks import PLANS, STATED, shown, shown_action, split_reading
from shoplib.sheet import facts
from shoplib.sheet.entry_sheet import WORDS
from shoplib.sheet.evidence import ROW
from shoplib.sheet.formatting import lines_in_words, short_moment, spans, with_point
from shoplib.sheet.repeated import answered
from shoplib.topics.torque.wrench_setting import CALIBRATION

# phases whose entries say how the joint was or is; the others are work done
PROVING = ("prove", "measure", "hand over")
HEADINGS = {AS_FOUND: "As found", AS_LEFT: "As left"}
ORDER = "work_order"
LONGEST_REMARK, LONGEST_REASON = 90, 60  # characters on page 1; the evidence has the longer ones
MOST_ALONE = 4  # single measurements that pass, one by one on page 1
NOT_STATED = "Not stated"
RETURNED = "Results from the machine shop"


def verdicts(job: Job, record: Mapping[str, Any], results: Mapping[str, Result | str]) -> list[dict[str, Any]]:
    """As found and as left: the outcome of each, and its entries."""
    answers = answered(job, results)
    overdue = overdue_uses(all_points(job))
    settled = decided(record)
    unknown = _calibration_unknown(job, record)
    ordered = [e.n for e in job.current_entries if e.form == ORDER]
    found = []
    for code, title in HEADINGS.items():
        outcome = record.get(f"outcome_{code}")
        entries = []
        for e in job.current_entries:
            work, result = e.phase not in PROVING, results.get(e.uid)
            if e.condition != code or (_is_plan(result) and any(e.n < n for n in ordered)):
                continue  # of a cut that was ordered, the order tells what was done
            told = _judged(e, result, e.uid in overdue) | {"work": work, "alone": e.form == ROW}
            told |= {"answer": answers.get(e.uid, "") if code == AS_FOUND else "", "corrected": _corrected(job, e)}
            told |= {"remark": _remark(e, told["outcome"]), "decided": _decisions(job, e, settled, told["answer"])}
            told |= {"open": unknown.get(e.uid, "") if code == AS_LEFT else ""}
            if steps := _ticked(job, e):
                told["fact"] = steps
            entries.append(told)
            if work and (seen := facts.finding(result)):
                entries.append(told | {"work": False, "outcome": None, "word": "", "fact": seen})
            if e.form == ORDER and code == AS_LEFT and told["outcome"] == "pass" and isinstance(result, Result):
                entries.append(told | {"work": False, "title": RETURNED, "fact": facts.returned(result), "remark": ""})
        found.append({"title": title, "outcome": outcome, "word": WORDS.get(outcome or "", NOT_STATED),
                      "proved": _proved(entries), "entries": _folded(entries)})  # fmt: skip
    return found


def _is_plan(result: Result | str | None) -> bool:
    """Whether the entry passes, and only as a plan."""
    return isinstance(result, Result) and result.is_forecast and str(result.outcome) == "pass"


def _ticked(job: Job, entry: Entry) -> str:
    """How much of a plan was done; "" for an entry without ticks."""
    if entry.form not in PLANS or not job.ticks_of(entry.uid):
        return ""
    try:
        now = tightening.progress_of(job, entry.uid)
    except tightening.NoPlan:
        return ""
    return f"{now.done} of {now.total} steps recorded; see Tightening"


def _decisions(job: Job, entry: Entry, points: Sequence[Mapping[str, Any]], answer: str) -> str:
    """What people decided on points of an entry; a reason, if it is short and no test as left answers the entry."""
    told = []
    for point in points:
        line = job.decisions.get(str(point["key"]))
        if point["uid"] != entry.uid or line is None:
            continue
        what, because = str(line.body.get("decision")), str(line.body.get("because") or "")
        name = re.match(r"calibration/([^/]+)/", str(point["key"]))
        said = f"Overdue calibration of {_instrument(job, name[1])}: {what}" if name else what.capitalize()
        why = f": {because}" if because and len(because) <= LONGEST_REASON and not answer else ""
        told.append(f"{said}, line {line.n}{why}")
    return ". ".join(told)


def _calibration_unknown(job: Job, record: Mapping[str, Any]) -> dict[str, str]:
    """uid of an entry, and its instrument of which nobody gave the date of calibration."""
    still_open = {str(p.get("key")) for p in record["open"]}
    return {
        use.uid: f"Open point: calibration of {_instrument(job, c.id)}"
        for c in calibrations(job)
        if not c.due and f"calibration/{c.id}" in still_open
        for use in c.uses
    }


def _instrument(job: Job, number: str) -> str:
    """What an instrument is, then its number, such as "compression gauge C-1"; its number alone if that is all."""
    listed = job.header.get("instruments", ())
    what = next((i.get("what") for i in listed if str(i.get("id", "")) == number), None)
    kind = re.split(r",| of ", str(what or number))[0]
    return number if kind == number else f"{kind} {number}"


def _remark(entry: Entry, outcome: str | None) -> str:
    """A short remark that explains a measurement that fails, or what was agreed about an order."""
    wanted = entry.form == ORDER or (entry.form == ROW and outcome == "fail")
    said = str(entry.remark or "")
    return said.removesuffix(".") if wanted and len(said) <= LONGEST_REMARK else ""


def _proved(entries: Sequence[Mapping[str, Any]]) -> str:
    """How many of the tests and measurements pass."""
    judged = [e["outcome"] for e in entries if not e["work"] and e["outcome"]]
    good = judged.count("pass")
    return f"{good} of {len(judged)} tests and measurements {'passes' if good == 1 else 'pass'}" if judged else ""


def _corrected(job: Job, entry: Entry) -> str:
    """Which line was corrected; with its reading, if it is a single one, and its outcome, if that was another."""
    *before, last = job.chain(entry.uid)
    if not before or last.uid != entry.uid:
        return ""
    old = before[-1]
    value = str((old.inputs or {}).get("value") or "") if old.form == ROW else ""
    was = f" ({with_point(value)})" if value else ""
    other = f", which was {WORDS.get(str(old.outcome), 'not judged')}" if old.outcome != entry.outcome else ""
    because = str(entry.line.body.get("because") or "")
    return f"line {old.n}{was}{other}" + (f": {because}" if because and len(because) <= LONGEST_REASON else "")


def _folded(entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Many single measurements that pass are one item, with their lines; each has its row in the evidence."""
    alike = [e for e in entries if e["alone"] and e["outcome"] == "pass"]
    if len(alike) <= MOST_ALONE:
        return entries
    one = alike[0] | {"title": f"{len(alike)} measurements", "fact": f"lines {spans([e['n'] for e in alike])}"}
    return [one if e is alike[0] else e for e in entries if e is alike[0] or e not in alike]


def _judged(entry: Entry, result: Result | str | None, overdue: bool = False) -> dict[str, Any]:
    outcome = str(result.outcome) if isinstance(result, Result) and result.outcome else None
    word = WORDS.get(outcome or "", "nothing judged")
    if overdue and outcome in UNPROVED:
        outcome, word = "undecided", "Undecided: an instrument was overdue"
    fact = facts.of(result) if isinstance(result, Result) else ""
    if entry.form == ROW and isinstance(result, Result) and (what := facts.what_was_measured(result, entry.title)):
        fact = f"{what}: {fact}"
    return {"n": entry.n, "title": entry.title, "outcome": outcome, "word": word, "fact": fact}


def without_calibration(blocks: dict[str, Any], why: str) -> None:
    """An overdue instrument allows no pass: neither for the entry nor for its own check of the calibration."""
    blocks["assumptions"] = [*blocks["assumptions"], f"{why}. Its readings are not relied on"]
    undecided = {"word": WORDS["undecided"]}
    if blocks["outcome"] in UNPROVED:
        blocks |= undecided | {"outcome": "undecided"}
    for check in blocks["checks"]:
        if check["label"] == CALIBRATION and check["status"] in UNPROVED:
            check |= undecided | {"status": "undecided", "remark": "overdue in the job's list of instruments"}


def unplaced(job: Job, results: Mapping[str, Result | str]) -> list[dict[str, Any]]:
    """Judged entries without a condition: printed if other entries have one."""
    if not any(e.condition for e in job.current_entries):
        return []
    found = [_judged(e, results.get(e.uid)) for e in job.current_entries if e.kind == "entry" and not e.condition]
    return [x for x in found if x["outcome"] in ("fail", "undecided")]


def tightenings(job: Job) -> list[dict[str, Any]]:
    """For each plan: how many bolts at how many stages were ticked, and every deviation with its state."""
    points = {p.uid: p for p in all_points(job) if p.key.startswith("tick/")}
    found = []
    for plan in tightening.plans(job):
        try:
            now = tightening.progress_of(job, plan.uid)
        except tightening.NoPlan:
            continue
        found.append({"n": plan.n, "title": plan.title, "bolts": _bolts(now), "counts": _counts(now),
                      "corrected": _ticks_corrected(job, now),
                      "deviations": _deviations(job, now, points)})  # fmt: skip
    return found


def closed(job: Job, count: int) -> str:
    """Who closed the job and when, and how many points are open now."""
    line = job.closing
    still = f"; open points now: {count}" if count else ""
    return f"Closed by {line.who}, {short_moment(line)}{still}" if line else "Not closed"


def signatures(job: Job) -> tuple[str, str]:
    """Who signed for the present entries, as what, and when; and what they did not sign, if the job is closed."""
    line = job.closing
    signed = [f"{x.who} ({x.body.get('role')}), {short_moment(x)}" for x, fresh in job.signatures if fresh]
    after = line is not None and all(x.n > line.n for x, fresh in job.signatures if fresh)
    return "; ".join(signed), "before the closing" if line is not None and not after else ""


def still(count: int, tightened: Sequence[Mapping[str, Any]]) -> str:
    """What stands beside the outcome: open points, and deviations that a person accepted or resolved."""
    states = [d["state"] for g in tightened for d in g["deviations"]]
    parts = [f"{count} open point{'s' * (count > 1)}"] if count else []
    for state in (ACCEPTED, RESOLVED):
        if n := states.count(state):
            parts.append(f"{n} {state} deviation{'s' * (n > 1)}")
    return f"{' and '.join(parts)}, listed below" if parts else ""


def root_cause(job: Job) -> str:
    """Who stated the root cause, and the lines of the record that the statement names."""
    line = job.closing
    if line is None:
        return ""
    named = lines_named(str(line.body.get("root_cause") or ""), len(job.lines))
    told = f"evidence named: {lines_in_words(named)}" if named else "it names no line as evidence"
    return f"Stated by {line.who} at the closing; {told}"


_LINES = re.compile(r"\blines? (\d+(?:(?:, | and | to |–)\d+)*)", re.IGNORECASE)


def lines_named(said: str, last: int) -> list[int]:
    """The numbers of lines that a text names, such as “lines 3 and 4”."""
    found = [int(n) for part in _LINES.findall(said) for n in re.findall(r"\d+", part)]
    return sorted({n for n in found if 0 < n <= last})


def _bolts(now: tightening.Tightening) -> str:
    """How many bolts are within the programme at every stage, by readings or by ticks; the others are named."""
    bolts = list(dict.fromkeys(bolt for _, bolt in now.sequence))
    fine = [b for b in bolts if all(_within(now, key) for key in now.sequence if key[1] == b)]
    outside = [b for b in bolts if any(_outside(now, key) for key in now.sequence if key[1] == b)]
    unshown = [b for b in bolts if b not in fine and b not in outside]
    ticked = any(now.judged[key].code == STATED for key in now.ticked if key[1] in fine)
    told = f"{len(fine)} of {len(bolts)} bolts {'ticked as ' * ticked}within the programme at every stage"
    for words, some in (("outside it", outside), ("not shown to be within it", unshown)):
        told += f"; {words}: bolt{'s' * (len(some) > 1)} {', '.join(some)}" if some else ""
    return told


def _outside(now: tightening.Tightening, key: tuple[int, str]) -> bool:
    tick = now.ticked.get(key)
    return tick is not None and (bool(tick.deviation) or now.judged[key].code == "fail")


def _within(now: tightening.Tightening, key: tuple[int, str]) -> bool:
    tick = now.ticked.get(key)
    return tick is not None and not tick.deviation and now.judged[key].code in ("pass", STATED)


def _counts(now: tightening.Tightening) -> str:
    """What was recorded: ticks and readings, and at which stages a peak torque was read."""
    codes = [now.judged[key].code for key, tick in now.ticked.items() if not tick.deviation]
    read, stated = sum(c == "pass" for c in codes), sum(c == STATED for c in codes)
    peaks = sorted({stage for (stage, _), tick in now.ticked.items() if split_reading(str(tick.value))[1]})
    parts = [f"{stated} ticked “to specification”, which is a statement, not a reading" if stated else "",
             f"{read} read, within the limits of the stage" if read else "",
             f"{sum(c == 'fail' for c in codes)} read, outside the limits of the stage" if "fail" in codes else "",
             f"{sum(c == 'undecided' for c in codes)} read, undecided" if "undecided" in codes else "",
             f"{n} with a deviation" if (n := sum(bool(t.deviation) for t in now.ticked.values())) else "",
             f"{now.total - now.done} not ticked" if now.done < now.total else ""]  # fmt: skip
    peak = f". Peak torque read at stage {spans(peaks)}" if peaks else ""
    return f"{now.done} of {now.total} steps recorded: " + "; ".join(p for p in parts if p) + peak


def _ticks_corrected(job: Job, now: tightening.Tightening) -> str:
    """Ticks that were corrected later: the value that was entered first, and the line of the correction."""
    told = []
    names = {str(p.get("initials") or ""): str(p.get("name")) for p in job.header.get("people", ())}
    for t in now.ticked.values():
        if t.line.about is not None and not t.line.body.get("because_code"):
            before, after = (with_signs(shown(str(x.value))) for x in (job.chain(t.uid)[0], t))
            because = str(t.line.body.get("because") or "")
            why = f": {because}" if because and len(because) <= LONGEST_REMARK else ""
            now_says = f"now “{after}” by {names.get(t.initials, t.initials)}, line {t.n}{why}"
            told.append(f"bolt {t.bolt}, stage {t.stage}, first entered as “{before}”, {now_says}")
    return "Corrected: " + "; ".join(told) if told else ""


def _deviations(job: Job, now: tightening.Tightening, points: Mapping[str, OpenPoint]) -> list[dict[str, Any]]:
    """Recorded deviations, then readings outside their stage without a recorded deviation.

    Readings of one stage that are alike in everything are one row, with all bolts.
    """
    silent = [t for key, t in now.ticked.items() if not t.deviation and now.judged[key].code in ("fail", "undecided")]
    rows = [_deviation(job, now, tick, points) for tick in now.deviations]
    alike: dict[str, list[dict[str, Any]]] = {}
    for tick in silent:
        row = _deviation(job, now, tick, points)
        alike.setdefault(str({k: row[k] for k in row if k not in ("n", "bolt")}), []).append(row)
    for same in alike.values():
        rows.append(same[0] | {"n": spans([r["n"] for r in same]), "bolt": ", ".join(r["bolt"] for r in same)})
    return rows


def _deviation(job: Job, now: tightening.Tightening, tick: Entry, points: Mapping[str, OpenPoint]) -> dict[str, Any]:
    """What the stage asked, what was read, what happened, and what was decided."""
    point = points.get(tick.uid)
    what = tick.deviation or (point.what if point else "")
    asked = next((s.what for s in now.stages if s.number == tick.stage), "")
    return {
        "n": tick.n,
        "bolt": str(tick.bolt),
        "stage": str(tick.stage),
        "asked": asked,
        "read": _reading(tick),
        "what": str(what),
        "reason": str(tick.reason or ""),
        "action": shown_action(str(tick.action or "")),
        **decision_on(job, tick, point.state if point else OPEN),
    }


def _reading(tick: Entry) -> str:
    """What was read at a bolt, without its peak torque."""
    return with_signs(shown(split_reading(str(tick.value))[0]))


def decision_on(job: Job, tick: Entry, state: str) -> dict[str, str]:
    """Open, accepted or resolved: by whom, when, and by which limit.  For a replaced tick, what replaced it."""
    if not tick.stands and tick.by is not None:
        how = "struck out" if tick.by.kind == "strike" else "ticked again"
        return {"state": how, "by": f"line {tick.by.n}, {tick.by.who}", "why": str(tick.by.body.get("because", "")),
                "limit": "", "later": ""}  # fmt: skip
    line = job.decisions.get(f"tick/{tick.uid}")
    if line is None:
        return {"state": OPEN, "by": "", "why": "nobody has decided yet", "limit": "", "later": ""}
    body = line.body
    entered = f", entered by {line.who}" if line.who != body.get("by") else ""
    limit = ""
    if body.get("allowed"):
        judged = within_allowed(job, tick.uid, body)
        said = {"pass": "within this limit", "fail": "NOT within this limit"}
        judged_as = said.get(judged.code if judged else "", "not decided by this limit")
        limit = f"{read_stage(body['allowed']).shown}, {body.get('allowed_source')}; {_reading(tick)} is {judged_as}"
    between = sum(tick.n < t.n < line.n for t in job.ticks if t.programme == tick.programme and t.stage == tick.stage)
    later = f"{between} later ticks of this stage were made before this decision" if between else ""
    signed = _signed_by(job, str(body.get("by")), line.n) if entered else ""
    by = f"{body.get('by')}, {short_moment(line)}, line {line.n}{entered}{signed}"
    return {"state": state, "by": by, "why": str(body.get("because", "")), "limit": limit, "later": later}


def _signed_by(job: Job, name: str, n: int) -> str:
    """The last signature of the person who decided, if it covers the line that another person wrote."""
    mine = [x.n for x, _ in job.signatures if x.who == name and int(x.body.get("covers", 0)) >= n]
    return f", signed by {name} in line {mine[-1]}" if mine else ""


def decided(record: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Points that a person accepted or resolved, one line per decision.

    Deviations of bolts are listed with their tightening.  A fault that the same test as left answers is told beside
    that test.
    """
    groups: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for point in record.get("decided", ()):
        if not str(point["key"]).startswith("tick/") and not by_later_test(str(point["decided"])):
            groups.setdefault((str(point["uid"]), str(point["decided"])), []).append(point)
    return [_first(points) for points in groups.values()]


def _first(points: Sequence[Mapping[str, Any]]) -> Mapping[str, Any]:
    """The worst of the points of one entry that have one decision, and the number of the others."""
    more = len(points) - 1
    first = dict(points[0])
    return (
        first | {"what": f"{first['what']} (and {more} more check{'s' * (more > 1)} of this entry)"} if more else first
    )


def without_source(what: str) -> str:
    """A point without the source in brackets: page 1 is read in a minute, and the notes have the sources."""
    return re.sub(r" \[[^\[\]]*\]", "", what)
