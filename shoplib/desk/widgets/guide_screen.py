"""What the tightening guide shows for a state: which parts are visible, and what they say."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from shoplib.desk.widgets import guide_html
from shoplib.desk.widgets.guide_parts import Parts, offer
from shoplib.desk.widgets.guide_words import (
    OFFERED,
    REASONS,
    UNDER,
    clock,
    felt_wrong,
    kind_of,
    name_of,
    shown_with_unit,
    with_unit,
)
from shoplib.desk.widgets.session import session
from shoplib.desk.widgets.templates import render
from shoplib.record.open_points import OPEN, OpenPoint
from shoplib.record.ticks import ACTIONS, LOOSENING_PLAN, REOPENING, SOFT, STUCK
from shoplib.record.tightening import Key, Tightening
from shoplib.topics.tightening.guide_state import Guide as States
from shoplib.topics.tightening.tightening_plan import DASH, PlannedStage

FELT_WRONG = {SOFT: "It went soft", STUCK: "It did not loosen, or it broke"}  # deviation → its button
LABEL = 40  # characters of the typed text shown on a button


def show(part: Any, visible: bool) -> None:
    """Show or hide a part."""
    part.layout.display = "" if visible else "none"


class GuideScreen(Parts):
    """Draws the state; what a press does is in :class:`shoplib.desk.widgets.tightening_guide.Guide`."""

    now: Tightening | None = None
    states: States | None = None  # every bolt at every stage
    at: Key | None = None  # what the screen shows
    _asked: Key | None = None  # a bolt chosen out of order, or a tick to correct
    _correcting = False
    _asking = ""  # the deviation that needs a reason
    _log: dict[str, dict[str, str]]
    _points: list[OpenPoint]
    _stopped = ""  # why there is nothing to tighten

    @property
    def holding(self) -> bool:
        """Whether the screen shows a deviation that somebody must decide about."""
        return bool(self.states and self.at and self.at == self.states.held and not self._correcting)

    @property
    def loosening(self) -> bool:
        """Whether the plan loosens the bolts: none is tightened again, and none is new."""
        return self.now is not None and self.now.plan.form == LOOSENING_PLAN

    @property
    def open_points(self) -> list[OpenPoint]:
        """Deviations, and readings out of range, without a decision."""
        return [p for p in self._points if p.state == OPEN]

    def show_all(self) -> None:
        """Everything, for the present state."""
        now, at = self.now, self.at
        assert now is not None
        assert self.states is not None
        self.progress.value = guide_html.progress(now, session.number)
        self.notes.value = guide_html.notes(now)
        if at is None:
            self.card.value = guide_html.all_ticked(now, self._points, self.text())
        elif self.holding:
            uid = now.correctable[at].uid
            self.card.value = guide_html.held(now, at, next((p for p in self._points if p.uid == uid), None))
        else:
            self.card.value = guide_html.card(now, at, self._log.get(at[1], {}), self.open_points)
        self.map.value = guide_html.bolts(now, self.states, at, self._asked is not None)
        self._show_lists(now)
        self.looks.value, self.history.value = guide_html.looks(now), guide_html.history(now)
        self.show_panel()
        show(self.initials, True)
        show(self.desk, True)  # last: nobody sees half of it

    def show_stopped(self, said: str) -> None:
        """There is no plan to follow: say what to do first."""
        self.now = self.at = self.states = None
        for part in (self.desk, self.plan, self.initials):
            show(part, False)
        self._stopped = said
        self.progress.value = render("guide", "first", said)

    def show_stop_and_look(self, before: Collection[Key]) -> None:
        """Warn of bolts that now differ from the others, above the button for the next tick."""
        fresh = [key for key in self.now.looks if key not in before] if self.now else []
        self.stop.value = guide_html.stop(self.now, fresh) if self.now else ""

    def _show_lists(self, now: Tightening) -> None:
        first = now.next
        left = [k for k in now.sequence if k not in now.ticked and k != first]
        self.other.options = [(DASH, ""), *((name_of(now.stage(k[0]), k[1]), k) for k in left)]
        self.other.value = self._asked if self._asked in left and not self._correcting else ""
        ticked = [(k, now.correctable[k]) for k in reversed(now.sequence) if k in now.correctable]
        self.correct.options = [
            (DASH, ""),
            *((f"{name_of(now.stage(k[0]), k[1])}: {t.value[:40]}", k) for k, t in ticked),
        ]
        self.correct.value = self._asked if self._correcting else ""

    def show_panel(self) -> None:
        """The questions that must be answered first: a decision about a deviation, or what is asked before a tick."""
        now, at = self.now, self.at
        assert now is not None
        asks, reasons = self._what_is_asked(now, at)
        self.asks.value = render("guide", "asks", asks) if asks else ""
        open_, holding, correcting = bool(asks), self.holding, self._correcting
        stage = now.stage(at[0]) if at else None
        show(self.held, holding)
        if holding and at is not None:
            under = now.correctable[at].deviation or now.judged[at].words
            self.held.again.description = "Finished now: type the new reading" if under.startswith(UNDER) else (
                "Correct the reading")  # fmt: skip
            for again in (self.held.new_bolt, self.held.loosen):
                show(again, not self.loosening)
            self.held.by.value = self.held.by.value or session.who or self.initials.value.strip()
        show(self.panel, open_ and not holding)
        for widget in (self.reason, self.reason_chips, self.action, self.action_chips):
            show(widget, reasons)
        if reasons:
            kind = kind_of(asks)
            offer(REASONS[kind], self.reason, self.reason_chips)
            codes = [code for code in OFFERED[kind] if not (self.loosening and code in REOPENING)]
            offer([ACTIONS[code] for code in codes], self.action, self.action_chips)
        show(self.because, correcting)
        show(self.strike, correcting)
        self.record.description = "Record the correction" if correcting else "Record as entered"
        show(self.aside, not (open_ or holding or at is None))
        show(self.soft, not (stage and stage.stage.kind == "wait"))
        self.soft.description = FELT_WRONG[felt_wrong(stage.stage.kind if stage else "")]
        show(self.read, at is not None and not holding)
        show(self.peak, bool(stage and stage.peak))
        show(self.done, not (open_ or holding or at is None))
        self.name_buttons()

    def _what_is_asked(self, now: Tightening, at: Key | None) -> tuple[str, bool]:
        """The question in words, and whether it asks for a reason and an action."""
        if self._asking or at is None or self.holding:
            return self._asking, bool(self._asking)
        if self._correcting:
            was, name = now.correctable[at], name_of(now.stage(at[0]), at[1])
            return f"Correcting {name}. Recorded: {was.value} ({was.initials} {clock(was.at)}).", False
        if at in now.outdated:
            return (
                f"Ticked before the plan was corrected: {now.outdated[at].value}. Do it again by the corrected plan."
            ), False
        if at in now.old_bolt:
            new = now.reopened[at[1]].code == "new_bolt"
            before = "with the old bolt" if new else "before the bolt was loosened"
            more = " with the new bolt" if new else ""
            return f"Ticked {before}: {now.old_bolt[at].value}. Do this stage again{more}.", False
        if self.skips():
            first = now.next
            assert first is not None
            name = name_of(now.stage(first[0]), first[1])
            return f"Out of order: in the plan, {name} is next. The record will say so.", True
        return "", False

    def skips(self) -> bool:
        """Whether the bolt on the screen is out of order."""
        return bool(self.now and self.at and not self._correcting and self.now.before(self.at))

    @property
    def stage(self) -> PlannedStage | None:
        """The stage on the screen."""
        return self.now.stage(self.at[0]) if self.now and self.at else None

    def name_buttons(self) -> None:
        """What the buttons will record."""
        stage = self.stage
        if stage is None:
            return
        typed = self.value.value.strip()
        offered = with_unit(typed, stage)
        show(self.unit, bool(offered) and not self.holding)
        self.unit.description = f"{shown_with_unit(offered)}?" if offered else ""
        typed = f"{shown_with_unit(offered)}?" if offered else typed if len(typed) <= LABEL else f"{typed[:LABEL]} …"
        done = "Transcribe" if self.paper.value.strip() else "Done"
        by_plan = f"{stage.what}, to specification" if stage.stage.value is not None else "loosened"
        self.done.description = f"✓ {done}: {typed or by_plan}"

    def text(self) -> str:
        """The content of the screen, as plain text."""
        if self.now is None:
            return self._stopped
        if self.at is None:
            count = len(self.open_points)
            points = "1 point is" if count == 1 else f"{count} points are"
            return f"All {self.now.total} ticked, {points} open." if count else f"All {self.now.total} done."
        stage = self.now.stage(self.at[0])
        if self.holding:
            return f"Held at {name_of(stage, self.at[1])}: decide about the deviation first."
        set_ = f" Set the wrench to {stage.setting}." if stage.setting != DASH else ""
        return f"{name_of(stage, self.at[1])}: {stage.do}.{set_} {self.now.done} of {self.now.total} ticked."

    def static_html(self) -> str:
        """The content of the screen, as HTML."""
        return render("guide", "still", self.text())
