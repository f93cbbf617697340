"""The tightening guide: one bolt in one stage at a time, in large type.  Each tick is saved; work resumes at that bolt.

``Guide()`` in a notebook uses the plan of today's job.  It computes nothing: :mod:`shoplib.record.tightening` gives
the progress, and the working ``stage_reading`` judges a reading.  No clamp load is shown here: people would use it to
equalise the bolts.
"""

from __future__ import annotations

import datetime
import math
import time
import uuid
from collections.abc import Collection, Sequence
from typing import Any

import ipywidgets as W

from shoplib.core.errors import BadInput
from shoplib.desk import STATIC
from shoplib.desk.widgets.bolt_map import LEGEND, Spot, bolt_map
from shoplib.desk.widgets.components import Say
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.form import CSS as FORM_CSS
from shoplib.desk.widgets.root_widget import Ground
from shoplib.desk.widgets.session import desk, session
from shoplib.desk.widgets.static_fallback import AtRest
from shoplib.record.errors import Refused, StoreError
from shoplib.record.open_points import OPEN, OpenPoint, points_of
from shoplib.record.ticks import (
    ACTIONS,
    NEW_BOLT,
    OUT_OF_ORDER,
    PLAN_CORRECTED,
    REPLACED,
    SOFT,
    STOPPED,
    TO_FINISH,
    WENT_ON,
    as_programme,
    code_of_action,
    heard,
    spoken,
)
from shoplib.record.tightening import Key, NoPlan, Tightening, logged, plans, shouts, standing
from shoplib.teaching.exercise import bound
from shoplib.topics import get
from shoplib.topics.tightening.stage_reading import PAST_THE_MARK
from shoplib.topics.tightening.tightening_plan import ALL, NOTHING, PlannedStage

CSS = FORM_CSS + (STATIC / "guide.css").read_text(encoding="utf-8")
MEMORY = "tightening_guide"  # the name of the draft that holds initials and plan
NO_JOB = "First choose or start a job, in notebook 00 or in the form below."
NO_PLAN = "First save a tightening plan to job {}: fill in the form below and press “Save to the job”."
OVER, UNDER = "over", "under"
# reasons offered as buttons, for gloved hands; any other reason is typed
REASONS = {
    OVER: ("gauge or ratchet slipped", "turned past the mark"),
    UNDER: ("stopped too early", "no room for the wrench"),
    SOFT: ("turned without getting tighter", "felt rough"),
    OUT_OF_ORDER: ("had to be done first for access", "the bolt was skipped"),
}
OFFERED = {
    OVER: (STOPPED, NEW_BOLT),
    UNDER: (STOPPED, TO_FINISH),
    SOFT: (STOPPED, NEW_BOLT),
    OUT_OF_ORDER: (WENT_ON, STOPPED),
}
BOXES = {  # name of a field in the record → label of its box
    "initials": "Your initials", "value": "Your reading", "reason": "Reason", "action": "What you did about it",
    "because": "Reason for the correction", "who": "Your initials", "when": "When it was done",
}  # fmt: skip
LABEL = 40  # characters of the typed text shown on a button
QUIET = 0.8  # seconds between two presses that both count


def _together(text: str) -> str:
    """The text as HTML, without line breaks inside a range or between a number and its unit."""
    return bound(e(text)).replace("–", "\u2060–\u2060")


def clock(at: str) -> str:
    """A time of the record in this machine's local time: ``14:02:31``."""
    try:
        return datetime.datetime.fromisoformat(at).astimezone().strftime("%H:%M:%S")
    except ValueError:
        return at


def _name(stage: PlannedStage, bolt: str) -> str:
    return f"stage {stage.number}, {bolt}" if stage.stage.kind == "wait" else f"bolt {bolt}, stage {stage.number}"


def _told(error: Exception) -> str:
    """The errors, with the label of each box; only the first of a box, because later ones often follow from it."""
    if not isinstance(error, BadInput):
        return str(error)
    first = {problem.field: problem for problem in reversed(error.problems)}
    said = []
    for problem in reversed(first.values()):
        box = f"“{BOXES[problem.field]}”: " if problem.field in BOXES else ""
        said.append(f"{box}{problem.told}")
    return "; ".join(said)


class Guide(AtRest, W.VBox):
    """One bolt in one stage at a time, by the plan of today's job."""

    def __init__(self, *, quiet: float = QUIET) -> None:
        self.now: Tightening | None = None
        self.at: Key | None = None  # what the screen shows
        self._quiet, self._pressed = quiet, -math.inf
        self._asked: Key | None = None  # a bolt chosen out of order, or a tick to correct
        self._job = self._root = ""  # what the screen shows; a plan by its first line, so a corrected plan is the same
        self._correcting = False
        self._soft = False
        self._asking = ""  # the deviation that needs a reason
        self._uids: dict[tuple[str, Key, str], str] = {}  # until the record has confirmed the tick
        self._log: dict[str, dict[str, str]] = {}
        self._open: list[OpenPoint] = []  # deviations, and readings out of range, without a decision
        self._filling = False
        self._stopped = ""  # why there is nothing to tighten
        self._make()
        super().__init__(self._laid_out())
        self.add_class("shop")
        self.add_class("tg")
        self._connect()
        self.refresh()

    # ------------------------------------------------------------------------------ the parts
    def _make(self) -> None:
        self.plan = W.Dropdown(description="Plan")
        self.initials = W.Text(description="Your initials", continuous_update=False)
        self.look = W.Button(description="Refresh", tooltip="Show the ticks made on other screens")
        self.progress = W.HTML()
        self.card = W.HTML()
        self.done = W.Button(description="Done", button_style="primary")
        self.value = W.Text(description="Or type your reading, then press Enter", continuous_update=True)
        self.peak = W.Text(description="Peak torque, if the wrench shows it", continuous_update=True)
        self.soft = W.Button(
            description="It went soft", tooltip="The bolt turned without getting tighter, or felt wrong"
        )
        self.other = W.Dropdown(description="Another bolt first", options=[(NOTHING, "")])
        self.asks = W.HTML()
        self.reason = W.Text(description="Reason", continuous_update=True)
        self.action = W.Text(description="What you did about it", continuous_update=True)
        self.because = W.Text(description="Reason for the correction", continuous_update=True)
        self.record = W.Button(description="Record", button_style="primary")
        self.back = W.Button(description="Cancel")
        self.strike = W.Button(description="Strike out: not done")
        self.said = Say("tg-said")
        self.stop = W.HTML()
        self.looks = W.HTML()
        self.notes = W.HTML()
        self.map = W.HTML()
        self.correct = W.Dropdown(description="Correct a tick", options=[(NOTHING, "")])
        self.paper = W.Text(description="Copied from a paper sheet? Type when it was done", continuous_update=True)
        self.history = W.HTML()

    def _laid_out(self) -> list[Any]:
        def box(name: str, *children: Any) -> Any:
            made = W.Box(children)
            made.add_class(name)
            return made

        self.reason_chips, self.action_chips = box("tg-chips"), box("tg-chips")
        self.done.add_class("tg-done")
        self.record.add_class("tg-done")
        self.read = box("tg-read", self.value, self.peak)
        self.aside = box("tg-aside", self.soft, self.other)
        self.panel = box(
            "tg-panel", self.asks, self.because, self.reason, self.reason_chips, self.action, self.action_chips,
            self.record, box("tg-aside", self.back, self.strike),
        )  # fmt: skip
        head = box("tg-head", self.plan, self.initials, self.look)
        doing = box("tg-doing", self.card, self.said, self.stop, self.done, self.read, self.panel, self.aside)
        shown = box("tg-shown", self.map, self.notes, self.looks, self.correct, self.paper, self.history)
        self.desk = box("tg-desk", doing, shown)
        return [Ground(CSS), head, self.progress, self.desk]

    def _connect(self) -> None:
        self.done.on_click(lambda _: self.tick())
        self.soft.on_click(lambda _: self.went_soft())
        self.record.on_click(lambda _: self.tick())
        self.back.on_click(lambda _: self.go_back())
        self.strike.on_click(lambda _: self.strike_it())
        self.look.on_click(lambda _: self.refresh())
        for text in (self.value, self.peak, self.reason, self.action, self.because):
            text.on_msg(lambda _, content, __: self.tick() if content.get("event") == "submit" else None)  # Enter
        for text in (self.value, self.paper):
            text.observe(lambda _: self._name_buttons(), "value")
        self.other.observe(self._chosen, "value")
        self.correct.observe(self._chosen, "value")
        self.plan.observe(self._plan_chosen, "value")
        self.initials.observe(lambda _: self._remember(), "value")
        session.observe(lambda _: self.refresh(), ["number", "written"])

    # ------------------------------------------------------------------------------ reading the record
    def refresh(self) -> None:
        """Read the record again and show the progress of the tightening."""
        self._filling = True
        try:
            self._look()
        except (StoreError, NoPlan) as error:
            self._stop(str(error))
        finally:
            self._filling = False

    def _look(self) -> None:
        number = session.number
        if not number:
            self._stop(f"{session.trouble} {NO_JOB}".strip())
            return
        store = session.store()
        job = store.job(number)
        found = plans(job)
        if not found:
            self._stop(NO_PLAN.format(number))
            return
        kept = store.draft(MEMORY, desk=desk())
        remembered = kept.inputs if kept else {}
        if not self.initials.value:
            self.initials.value = str(remembered.get("initials", "")) or _initials(session.who, job.header)
        wanted = self.plan.value or remembered.get("plan")
        by_root = {u.uid: p.uid for p in found for u in job.chain(p.uid)}
        names = [(f"{p.title} ({p.n})" if len(found) > 1 else p.title, p.uid) for p in found]
        self.plan.options = names
        chosen = by_root.get(str(wanted))
        if chosen is None:  # the first plan that is not finished
            chosen = next((p.uid for p in found if standing(job, p.uid).next is not None), found[-1].uid)
        self.plan.value = chosen
        self.plan.layout.display = "" if len(found) > 1 else "none"
        self.now, self._log = standing(job, chosen), logged(job)
        points = points_of(job, self.now.plan)
        self._open = [p for p in points if p.state == OPEN and p.status in ("deviation", "fail", "undecided")]
        root = job.chain(chosen)[0].uid
        if self._root not in ("", root):
            self._take_off("The screen now shows another plan.", *([self.paper] if job.uid != self._job else []))
        elif self._asked is not None and self._asked not in self.now.sequence:
            self._take_off(f"The plan no longer has bolt {self._asked[1]} in stage {self._asked[0]}.")
        elif self._correcting and self._asked not in self.now.correctable:
            self._take_off("The tick that you were correcting is no longer valid.", always=True)
        self._job, self._root = job.uid, root
        before, self.at = self.at, self._asked or self.now.next
        if before is not None and before != self.at:
            asked, correcting = self._asked, self._correcting
            self._take_off(f"Bolt {before[1]} was ticked on another screen.")
            self._asked, self._correcting = asked, correcting
        self._show()

    def _take_off(self, why: str, *more: Any, always: bool = False) -> None:
        """Text typed for one bolt never counts for another: clear it, and say so."""
        boxes = (self.value, self.peak, self.reason, self.action, self.because, *more)
        typed = "; ".join(box.value.strip() for box in boxes if box.value.strip())
        self._clear()
        for box in more:
            box.value = ""
        if typed:
            self.said.wait(f"{why} Your entry “{typed}” was cleared.")
        elif always:
            self.said.wait(why)

    def _stop(self, said: str) -> None:
        """There is no plan to follow: say what to do first."""
        self.now = self.at = None
        for part in (self.desk, self.plan, self.initials):
            part.layout.display = "none"
        self._stopped = said
        self.progress.value = f'<div class="tg-first" role="status">{e(said)}</div>'

    # ------------------------------------------------------------------------------ showing
    def _show(self) -> None:
        assert self.now is not None
        self.desk.layout.display = self.initials.layout.display = ""
        self._show_progress()
        self._show_card()
        self._show_map()
        self._show_lists()
        self._show_panel()

    def _show_progress(self) -> None:
        assert self.now is not None
        done, total = self.now.done, self.now.total
        self.progress.value = (
            f'<div class="tg-progress"><progress max="{total}" value="{done}" aria-label="ticked"></progress>'
            f"<b>{done} of {total}</b> ticked · job {e(session.number)}</div>"
        )
        result = self.now.result
        stale = "".join(
            f'<div class="tg-shout" role="alert">⚠ STALE PLAN: {e(why)}</div>' for why in self.now.plan.stale
        )
        open_ = [f"{c.label}: {c.remark or c.outcome}" for c in result.checks if str(c.outcome) != "pass"]
        doubts = f'<div class="tg-doubts">◆ {e("; ".join(open_))}</div>' if open_ else ""
        self.progress.value += stale
        self.notes.value = f'{doubts}<div class="tg-note">Lubricant: {e(result["lubricant"])}</div>'

    def _show_card(self) -> None:
        now, at = self.now, self.at
        assert now is not None
        if at is None:
            self.card.value = self._all_ticked()
            return
        stage, bolt = now.stage(at[0]), at[1]
        wait = stage.stage.kind == "wait"
        place = "" if wait else f" · {stage.bolts.index(bolt) + 1} of {len(stage.bolts)}"
        said = self._log.get(bolt, {})
        warnings = [*shouts(said, stage.stage.kind), *self._open_for(bolt)]
        warned = "".join(f'<div class="tg-shout" role="alert">⚠ {e(s)}</div>' for s in warnings)
        facts = " · ".join(v for v in (said.get("thread"), said.get("length"), said.get("use")) if v and v != "open")
        set_ = ""
        if stage.setting != NOTHING:
            set_ = f'<div class="tg-set">Set the wrench to <b>{e(stage.setting)}</b></div>'
        elif stage.stage.kind == "angle":
            set_ = '<div class="tg-set">By angle: do not set a torque</div>'
        if wait and now.ticked:
            facts = f"last tick saved {clock(max(now.ticked.values(), key=lambda t: t.n).at)}"
        what, long = "Wait" if wait else "Bolt", " tg-long" if len(bolt) > 3 else ""
        group = "" if stage.group == ALL or wait else f" · {stage.group}"
        self.card.value = (
            f'{warned}<div class="tg-card" data-stage="{at[0]}" data-bolt="{e(bolt)}">'
            f'<div class="tg-who"><span>{what}</span><div class="tg-bolt{long}">{e(bolt)}</div></div>'
            f'<div class="tg-what"><div class="tg-stage">Stage {at[0]} of {len(now.stages)}{place}{e(group)}</div>'
            f'<div class="tg-do">{_together(stage.do)}</div>{set_}'
            f'<div class="tg-facts">{e(facts)}</div></div></div>'
        )

    def _open_for(self, bolt: str) -> list[str]:
        """Points of this bolt that nobody has decided yet."""
        assert self.now is not None
        mine = {t.uid: t for t in self.now.correctable.values() if t.bolt == bolt}
        return [f"OPEN, stage {mine[p.uid].stage}: {p.what}" for p in self._open if p.uid in mine]

    def _all_ticked(self) -> str:
        """The end, as HTML: done only when nothing is open; otherwise each point that somebody must decide."""
        assert self.now is not None
        if not self._open:
            noted = f" {len(self.now.deviations)} with a deviation: see below." if self.now.deviations else ""
            return f'<div class="tg-card tg-all"><div class="tg-bolt">✓</div><div>{e(self.text())}{noted}</div></div>'
        items = "".join(f"<li>{e(p.where)}: {e(p.what)}</li>" for p in self._open)
        return (
            f'<div class="tg-card tg-all"><div class="tg-bolt">!</div><div role="alert">{e(self.text())}'
            f"<ul>{items}</ul>Correct the tick below, or record a decision in the job (notebook 91).</div></div>"
        )

    def _show_map(self) -> None:
        now, at = self.now, self.at
        assert now is not None
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
            spots.append(Spot(b.name, b.x, b.y, state, sign or ("!" if key in otherwise else "")))
        later = [k for k in now.sequence if k not in now.ticked and k != at]
        then = (at[1], later[0][1]) if at and later and self._asked is None else None
        self.map.value = f'{bolt_map(spots, then)}<div class="tg-legend">Stage {number}. {e(LEGEND)}.</div>'

    def _show_lists(self) -> None:
        now = self.now
        assert now is not None
        left = [k for k in now.sequence if k not in now.ticked and k != now.next]
        self.other.options = [(NOTHING, ""), *((_name(now.stage(k[0]), k[1]), k) for k in left)]
        self.other.value = self._asked if self._asked in left and not self._correcting else ""
        ticked = [(k, now.correctable[k]) for k in reversed(now.sequence) if k in now.correctable]
        self.correct.options = [
            (NOTHING, ""),
            *((f"{_name(now.stage(k[0]), k[1])}: {t.value[:40]}", k) for k, t in ticked),
        ]
        self.correct.value = self._asked if self._correcting else ""
        looks = "".join(f"<li>{self._look_words(key)}</li>" for key in now.looks)
        self.looks.value = f"<h4>Stop and look</h4><ul>{looks}</ul>" if looks else ""
        rows = "".join(
            f"<tr><td>{e(_name(now.stage(k[0]), k[1]))}</td><td>{e(t.value)}</td><td>{e(t.initials)} "
            f"{e(t.when or clock(t.at))}</td></tr>"
            for k, t in ticked
        )
        told = "".join(
            f"<li>bolt {e(d.bolt)}, stage {d.stage}: {e(d.deviation)}. {e(d.value)}. Reason: {e(d.reason)}. "
            f"Action: {e(d.action)}. ({e(d.initials)} {e(clock(d.at))}{'' if d.stands else ', ' + d.state})</li>"
            for d in now.deviations
        )
        lost = "".join(f"<li>{e(t.title)}: {e(t.value)}; the plan no longer has this step</li>" for t in now.strangers)
        old = "".join(f"<li>{e(t.title)}: {e(t.value)}; the plan was corrected since: do it again</li>"
                      for t in now.outdated.values())  # fmt: skip
        old += "".join(f"<li>{e(t.title)}: {e(t.value)}; a new bolt was fitted since: do it again</li>"
                       for t in now.old_bolt.values())  # fmt: skip
        otherwise = f"<h4>Deviations, never erased</h4><ul>{told}{lost}{old}</ul>" if told + lost + old else ""
        self.history.value = (
            f"{otherwise}<details><summary>All ticks ({len(ticked)})</summary>"
            f'<table class="tg-ticks">{rows}</table></details>' if rows or otherwise else ""
        )  # fmt: skip

    def _look_words(self, key: Key) -> str:
        """One bolt that differs from the others, as HTML."""
        assert self.now is not None
        peak, peaks = heard(self.now.ticked[key].value)[1], self.now.peaks[key[0]]
        return (
            f"bolt {e(key[1])}, stage {key[0]}: peak {e(peak)} is {e(self.now.looks[key])}. Median: "
            f"{e(peaks.values['median'].shown)}. This is advice, not a verdict."
        )

    def _warn(self, before: Collection[Key]) -> None:
        """Warn of bolts that now differ from the others, above the button for the next tick."""
        fresh = [key for key in self.now.looks if key not in before] if self.now else []
        self.stop.value = "".join(
            f'<div class="tg-look" role="alert"><b>STOP AND LOOK</b> {self._look_words(key)}</div>' for key in fresh
        )

    def _show_panel(self) -> None:
        """Show the questions that must be answered before this tick is recorded."""
        assert self.now is not None
        asks, reasons = self._asking, bool(self._asking)
        at, now = self.at, self.now
        correcting = self._correcting
        if not asks and correcting and at is not None:
            was = now.correctable[at]
            asks = (
                f"Correcting {_name(now.stage(at[0]), at[1])}. Recorded: {was.value} ({was.initials} {clock(was.at)})."
            )
        elif not asks and at is not None and at in now.outdated:
            asks = f"Ticked before the plan was corrected: {now.outdated[at].value}. Do it again by the corrected plan."
        elif not asks and at is not None and at in now.old_bolt:
            asks = f"Ticked with the old bolt: {now.old_bolt[at].value}. Do this stage again with the new bolt."
        elif not asks and self._skips():
            first = now.next
            assert first is not None
            asks = f"Out of order: in the plan, {_name(now.stage(first[0]), first[1])} is next. The record will say so."
            reasons = True
        self.asks.value = f'<div class="tg-asks" role="alert">{e(asks)}</div>' if asks else ""
        open_ = bool(asks)
        self.panel.layout.display = "" if open_ else "none"
        for widget in (self.reason, self.reason_chips, self.action, self.action_chips):
            widget.layout.display = "" if reasons else "none"
        if reasons:
            kind = next((k for k in REASONS if f"{k}:" in asks.lower() or f"{k}." in asks.lower()), OVER)
            self._offer(REASONS[kind], self.reason, self.reason_chips)
            self._offer([ACTIONS[code] for code in OFFERED[kind]], self.action, self.action_chips)
        self.because.layout.display = "" if correcting else "none"
        self.strike.layout.display = "" if correcting else "none"
        self.record.description = "Record the correction" if correcting else "Record as entered"
        self.aside.layout.display = "none" if open_ or at is None else ""
        self.soft.layout.display = "none" if at and now.stage(at[0]).stage.kind == "wait" else ""
        self.read.layout.display = "none" if at is None else ""
        stage = now.stage(at[0]) if at else None
        self.peak.layout.display = "" if stage and stage.peak else "none"
        self._name_buttons()
        self.done.layout.display = "none" if open_ or at is None else ""

    @staticmethod
    def _offer(words: Sequence[str], into: Any, chips: Any) -> None:
        """Buttons that fill a box with one press."""
        if [b.description for b in chips.children] == list(words):
            return
        buttons = [W.Button(description=w) for w in words]
        for button in buttons:
            button.on_click(lambda b: setattr(into, "value", b.description))
        before, chips.children = chips.children, buttons
        for old in before:  # after they are replaced: the browser looks up every child, also one closed too early
            old.close()

    def _name_buttons(self) -> None:
        if self.now is None or self.at is None:
            return
        stage = self.now.stage(self.at[0])
        typed = self.value.value.strip()
        typed = typed if len(typed) <= LABEL else f"{typed[:LABEL]} …"
        done = "Transcribe" if self.paper.value.strip() else "Done"
        self.done.description = f"✓ {done}: {typed}" if typed else f"✓ {done}: {stage.what}, to specification"

    def _skips(self) -> bool:
        return bool(self.now and self.at and not self._correcting and self.now.before(self.at))

    # ------------------------------------------------------------------------------ what the buttons do
    def tick(self) -> None:
        """Record the bolt on the screen, as typed or to specification; the screen says when it is saved."""
        if self.now is None or self.at is None or self._too_quick():
            return
        stage, bolt = self.now.stage(self.at[0]), self.at[1]
        value, peak = self.value.value.strip(), self.peak.value.strip() if stage.peak else ""
        try:
            deviation = self._deviation(stage, value, peak)
        except BadInput as error:
            self.said.bad(_told(error))
            return
        if not self.initials.value.strip():
            self.said.bad("Type your initials first, for example AL. They are recorded with every tick.")
            return
        reason, action = self.reason.value.strip(), self.action.value.strip()
        if deviation and not (reason and action):
            if self.asks.value and self.reason.layout.display == "":
                self.said.bad("Type the reason and what you did about it. Both are recorded with this tick.")
            else:
                self.said.clear()  # the message of an earlier attempt
            self._asking = self._asks_for(deviation)
            self._show_panel()
            return
        if self._correcting and not (value or self._soft):
            self.said.bad("Type the correct reading, or strike the tick out if it was not done.")
            return
        if self._correcting and not self.because.value.strip():
            self.said.bad("Type the reason under “Reason for the correction”. It stays in the record.")
            return
        old = self.now.correctable.get(self.at) if self._correcting else self.now.earlier(self.at)
        code = "" if old is None or self._correcting else NEW_BOLT if self.at in self.now.old_bolt else PLAN_CORRECTED
        because = self.because.value.strip() if self._correcting else f"{REPLACED[code]}: {stage.what}" if code else ""
        said = spoken(value or (SOFT if self._soft else as_programme(stage)), peak)
        self._keep_tick(stage, bolt, {
            "value": said, "deviation": deviation, "reason": reason if deviation else "",
            "action": action if deviation else "", "replaces": old.uid if old else None, "because": because,
            "when": self._transcribed(), "because_code": code,
            "action_code": code_of_action(action) if deviation else "",
        })  # fmt: skip

    def _keep_tick(self, stage: PlannedStage, bolt: str, content: dict[str, Any]) -> None:
        assert self.now is not None
        key = (stage.number, bolt)
        mark = (self.now.plan.uid, key, content["replaces"] or "")
        uid = self._uids.setdefault(mark, uuid.uuid4().hex)
        self.said.wait("Saving …")
        try:
            kept = session.store().tick(
                session.number, programme=self.now.plan.uid, stage=stage.number, bolt=bolt,
                initials=self.initials.value.strip(), uid=uid, **content,
            )  # fmt: skip
        except BadInput as error:
            self.said.bad(f"Not saved: {_told(error)}")
            return
        except Refused as error:
            self._refused(error, key, uid)
            return
        except StoreError as error:
            self._pressed = -math.inf
            self.said.bad(f"Not saved: {error} Your entry is still here. Press again to send the same tick.")
            return
        self._pressed = time.monotonic()  # ignore a second press made during saving
        self._uids.pop(mark, None)
        before = set(self.now.looks)
        self._clear()
        self._remember()
        session.written += 1  # update this screen and every form of this kernel
        self._warn(before)
        again = ", already in the record" if kept.again else ""
        self.said.good(f"saved {clock(kept.at)}{again} · {_name(stage, bolt)}: {content['value']}"
                  + (f" · recorded: {content['deviation']}" if content["deviation"] else ""))  # fmt: skip

    def _refused(self, error: Refused, key: Key, uid: str) -> None:
        """Another person was quicker, or an earlier attempt was saved after all: say what is recorded now."""
        typed = self.value.value
        self.refresh()
        there = self.now.ticked.get(key) if self.now else None
        if there is None:
            self.said.bad(f"Not saved: {error}")
            return
        mine = there.uid == uid
        self._uids = {k: v for k, v in self._uids.items() if v != uid}
        self._clear()
        self.refresh()
        did = f"already {'saved' if mine else 'ticked'} by {there.initials} at {clock(there.at)}: {there.value}"
        say = self.said.good if mine and not typed else self.said.bad
        say(f"{there.title} was {did}. That tick is valid; correct it below if it is wrong.")

    def went_soft(self) -> None:
        """The bolt turned without getting tighter, or felt wrong: ask for reason and action."""
        self._soft, self._asking = True, self._asks_for(SOFT)
        self.said.clear()
        self._show_panel()

    def strike_it(self) -> None:
        """Strike out the tick on the screen, with the reason; the bolt must be done again."""
        if not (self.now and self.at and self._correcting):
            return
        if not self.because.value.strip():
            self.said.bad("Type the reason under “Reason for the correction”, then strike the tick out.")
            return
        old = self.now.correctable[self.at]
        try:
            session.store().strike(session.number, old.uid, who=self.initials.value.strip() or session.who,
                                   because=self.because.value.strip())  # fmt: skip
        except (StoreError, BadInput) as error:
            self.said.bad(f"Not saved: {_told(error)}")
            return
        self._clear()
        session.written += 1
        self.said.good(f"struck out: {old.title} must be done again")

    def go_back(self) -> None:
        """Cancel, and show the next bolt of the plan."""
        self._clear()
        self.said.clear()
        self.refresh()

    # ------------------------------------------------------------------------------ smaller things
    def _deviation(self, stage: PlannedStage, value: str, peak: str) -> str:
        """The deviation from the programme, in words; raises BadInput for input that cannot be read."""
        assert self.now is not None
        if peak:
            get("peak_torque")(readings=[peak])
        found = [SOFT] if self._soft else []
        if value and stage.stage.value is not None:
            get("stage_reading")(stage=stage.stage.as_entered, reading=value)  # raises if it cannot be read
            judged = self.now.judge(stage, value)
            found += [judged.words] if judged.code == "fail" else []
        if self._skips():
            assert self.at is not None
            left = self.now.before(self.at)
            found.append(f"{OUT_OF_ORDER}: before " + "; ".join(_name(self.now.stage(n), b) for n, b in left[:6])
                         + (" …" if len(left) > 6 else ""))  # fmt: skip
        return "; ".join(found)

    def _asks_for(self, deviation: str) -> str:
        advice = {
            OVER: PAST_THE_MARK,
            UNDER: "Not reached yet. If possible, finish it by the programme and type the new reading.",
            SOFT: "Stop here. Do not tighten it further. Find the cause; follow the manufacturer's instructions.",
        }
        kind = self.now.stage(self.at[0]).stage.kind if self.now and self.at else ""
        advice |= {
            "check": {
                UNDER: "Below the least torque. Stop. Do not tighten it up to that torque: the manufacturer decides."
            },
            "wait": {UNDER: "Not long enough yet. Wait longer, then type the time."},
        }.get(kind, {})
        told = next((a for word, a in advice.items() if word in deviation.split(":")[0]), "")
        return (
            f"Not to specification: {deviation}. {told} Type the reason and what you did; both are recorded.".replace(
                "  ", " "
            )
        )

    def _transcribed(self) -> str:
        """When the work was done, if a paper sheet is copied later; the record itself has the time of typing."""
        when = self.paper.value.strip()
        return f"{when}, transcribed by {session.who or self.initials.value.strip()}" if when else ""

    def _too_quick(self) -> bool:
        """Two quick presses count once, and so does a key held down."""
        now, before = time.monotonic(), self._pressed
        self._pressed = now
        if now - before >= self._quiet:
            return False
        self.said.wait("Pressed twice, counted once.")
        return True

    def _chosen(self, change: Any) -> None:
        if self._filling or not change["new"]:
            return
        self.said.clear()
        self._take_off(f"You left bolt {self.at[1]}." if self.at else "Another bolt was chosen.")
        self._asked, self._correcting = change["new"], change["owner"] is self.correct
        self.refresh()

    def _plan_chosen(self, _: Any) -> None:
        if self._filling:
            return
        self.said.clear()
        self._take_off("Another plan was chosen.")
        self._remember()
        self.refresh()

    def _clear(self) -> None:
        self._asked, self._correcting, self._soft, self._asking = None, False, False, ""
        for text in (self.value, self.peak, self.reason, self.action, self.because):
            text.value = ""

    def _remember(self) -> None:
        """Save initials and plan for the next kernel of this desk."""
        if self._filling or self.now is None:
            return
        kept = {"initials": self.initials.value.strip(), "plan": self.plan.value or ""}
        try:
            session.store().save_draft(MEMORY, kept, desk=desk())
        except (StoreError, BadInput) as error:
            self.said.bad(f"Your initials could not be saved: {_told(error)}")

    # ------------------------------------------------------------------------------ without widgets
    def text(self) -> str:
        """The content of the screen, as plain text."""
        if self.now is None:
            return self._stopped
        if self.at is None:
            count = len(self._open)
            points = "1 point is" if count == 1 else f"{count} points are"
            return f"All {self.now.total} ticked, {points} open." if count else f"All {self.now.total} done."
        stage = self.now.stage(self.at[0])
        set_ = f" Set the wrench to {stage.setting}." if stage.setting != NOTHING else ""
        return f"{_name(stage, self.at[1])}: {stage.do}.{set_} {self.now.done} of {self.now.total} ticked."

    def static_html(self) -> str:
        """The content of the screen, as HTML."""
        return f"<p><b>{e(self.text())}</b></p>"


def _initials(who: str, header: Any) -> str:
    """The initials from the job's header; otherwise the first letters of the name."""
    for person in header.get("people") or ():
        if person.get("name") == who and person.get("initials"):
            return str(person["initials"])
    return who if len(who) <= 4 else "".join(part[0] for part in who.split())[:4].upper()
