"""What the tightening guide shows, as HTML.  It only draws: the state comes from the record and the state machine."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from markupsafe import Markup

from shoplib.core.outcome_labels import outcome_label
from shoplib.desk.widgets.bolt_map import LEGEND, Spot, bolt_map
from shoplib.desk.widgets.guide_words import clock, name_of, together
from shoplib.desk.widgets.templates import render
from shoplib.record.job import Entry
from shoplib.record.open_points import OPEN, OpenPoint
from shoplib.record.ticks import shown, shown_action, split_reading
from shoplib.record.tightening import Key, Tightening, bench_warnings
from shoplib.topics.tightening.guide_state import Guide
from shoplib.topics.tightening.tightening_plan import ALL_BOLTS, DASH


def progress(now: Tightening, number: str) -> str:
    """How many are ticked; a stale plan."""
    return render("guide", "progress", now.done, now.total, number, now.plan.stale)


def notes(now: Tightening) -> str:
    """What the plan leaves open, and the lubricant."""
    open_ = [
        f"{c.label}: {c.remark or outcome_label(c.outcome)}" for c in now.result.checks if str(c.outcome) != "pass"
    ]
    lubricant = now.result.values.get("lubricant")  # a loosening plan has none
    return render("guide", "notes", "; ".join(open_), lubricant.value if lubricant else "")


def card(now: Tightening, at: Key, log: dict[str, str], open_points: Sequence[OpenPoint]) -> str:
    """One bolt at one stage: what to do, what to set, and what must be known before."""
    stage, bolt = now.stage(at[0]), at[1]
    wait = stage.stage.kind == "wait"
    facts = " · ".join(v for v in (log.get("thread"), log.get("length"), log.get("use")) if v and v != "open")
    if wait and now.ticked:
        facts = f"last tick saved {clock(max(now.ticked.values(), key=lambda t: t.n).at)}"
    return render(
        "guide", "card", stage=at[0], stages=len(now.stages), bolt=bolt, what="Wait" if wait else "Bolt",
        place="" if wait else f" · {stage.bolts.index(bolt) + 1} of {len(stage.bolts)}",
        group="" if stage.group == ALL_BOLTS or wait else f" · {stage.group}", facts=facts,
        do=Markup(together(stage.do)),  # noqa: S704 -- escaped there
        setting="" if stage.setting == DASH else stage.setting, angle=stage.stage.kind == "angle",
        warnings=[*bench_warnings(log, stage.stage.kind), *open_for(now, bolt, open_points)],
    )  # fmt: skip


def held(now: Tightening, at: Key, point: OpenPoint | None) -> str:
    """A deviation that nobody has decided about: nothing goes on before."""
    tick = now.correctable[at]
    return render(
        "guide", "held", stage=at[0], stages=len(now.stages), bolt=at[1], value=shown(tick.value),
        deviation=tick.deviation or now.judged[at].words or (point.what if point else ""),
        reason=tick.reason or "", action=shown_action(tick.action) if tick.action else "", who=tick.initials,
        when=tick.when or clock(tick.at),
    )  # fmt: skip


def open_for(now: Tightening, bolt: str, open_points: Iterable[OpenPoint]) -> list[str]:
    """Points of this bolt that nobody has decided yet."""
    mine = {t.uid: t for t in now.correctable.values() if t.bolt == bolt}
    return [f"OPEN, stage {mine[p.uid].stage}: {p.what}" for p in open_points if p.uid in mine]


def all_ticked(now: Tightening, points: Sequence[OpenPoint], said: str) -> str:
    """The end: every deviation with its decision; done only when nothing is open."""
    open_ = [f"{p.where}: {p.what}" for p in points if p.state == OPEN]
    decided = {p.uid: p.decided for p in points if p.state != OPEN}
    told = [(f"bolt {d.bolt}, stage {d.stage}", d.deviation, shown(d.value), _settled(d, decided))
            for d in now.deviations]  # fmt: skip
    return render("guide", "all_ticked", said, open_, told)


def _settled(tick: Entry, decided: dict[str, str]) -> str:
    """What became of a deviation."""
    if tick.uid in decided:
        return decided[tick.uid]
    if not tick.stands:
        return f"{tick.state} by line {tick.by.n}: {tick.by.body.get('because')}" if tick.by else tick.state
    return "not decided"


def bolts(now: Tightening, guide: Guide, at: Key | None, asked: bool) -> str:
    """The map, and its legend."""
    number = at[0] if at else len(now.stages)
    stage = now.stage(number)
    mine = set(stage.bolts) if stage.stage.kind != "wait" else {b.name for b in now.bolts}
    otherwise = {(t.stage, t.bolt) for t in now.ticked.values() if t.deviation}
    spots = []
    for b in now.bolts:
        key = (number, b.name)
        done = key in now.ticked or stage.stage.kind == "wait"
        state = "now" if at == key else "other" if b.name not in mine else "done" if done else "todo"
        sign = "STOP" if (at is None or key == at or key in now.ticked) and key in now.looks else ""
        sign = "HELD" if guide.held == key else sign
        spots.append(Spot(b.name, b.x, b.y, state, sign or ("!" if key in otherwise else "")))
    later = [k for k in now.sequence if k not in now.ticked and k != at]
    then = (at[1], later[0][1]) if at and later and not asked and not guide.held else None
    return f'{bolt_map(spots, then)}<div class="tg-legend">Stage {number}. {LEGEND}.</div>'


def looks(now: Tightening) -> str:
    """Bolts whose peak torque differs from the others."""
    return render("guide", "looks", [look_words(now, key) for key in now.looks]) if now.looks else ""


def stop(now: Tightening, fresh: Iterable[Key]) -> str:
    """The same, above the button for the next tick."""
    return "".join(render("guide", "stop", look_words(now, key)) for key in fresh)


def look_words(now: Tightening, key: Key) -> str:
    """One bolt that differs from the others."""
    peak, peaks = split_reading(now.ticked[key].value)[1], now.peaks[key[0]]
    return (
        f"bolt {key[1]}, stage {key[0]}: peak {peak} is {now.looks[key]}. Median: "
        f"{peaks.values['median'].shown}. This is advice, not a verdict."
    )


def history(now: Tightening) -> str:
    """Deviations, never erased; and all ticks, folded."""
    ticked = [(k, now.correctable[k]) for k in reversed(now.sequence) if k in now.correctable]
    rows = [(name_of(now.stage(k[0]), k[1]), t.value, f"{t.initials} {t.when or clock(t.at)}") for k, t in ticked]
    told: list[Any] = [
        f"bolt {d.bolt}, stage {d.stage}: {d.deviation}. {d.value}. Reason: {d.reason}. "
        f"Action: {d.action}. ({d.initials} {clock(d.at)}{'' if d.stands else ', ' + d.state})"
        for d in now.deviations
    ]
    told += [f"{t.title}: {t.value}; the plan no longer has this step" for t in now.strangers]
    told += [f"{t.title}: {t.value}; the plan was corrected since: do it again" for t in now.outdated.values()]
    told += [f"{t.title}: {t.value}; {_why(now, t)} since: do it again" for t in now.old_bolt.values()]
    return render("guide", "history", told, rows) if rows or told else ""


def _why(now: Tightening, tick: Entry) -> str:
    code = now.reopened[str(tick.bolt)].code
    return "a new bolt was fitted" if code == "new_bolt" else "the bolt was loosened"
