"""The parts of the tightening guide: boxes and buttons, and how they are laid out.  Nothing here decides anything."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import ipywidgets as W

from shoplib.desk.widgets.components import StatusMessage
from shoplib.topics.tightening.guide_state import Decision
from shoplib.topics.tightening.tightening_plan import DASH

ALLOWED = ("the instructions allow it", "checked, no fault found")  # reasons to continue, for gloved hands

ORDERED = (
    "card",
    "said",
    "stop",
    "held",
    "done",
    "read",
    "panel",
    "aside",
    "map",
    "notes",
    "looks",
    "correct",
    "paper",
    "history",
)  # fmt: skip -- a phone shows them in an order of its own, by their CSS classes


def box(name: str, *children: Any) -> Any:
    """Parts under one CSS class."""
    made = W.Box(children)
    made.add_class(name)
    return made


def offer(words: Sequence[str], into: Any, chips: Any) -> None:
    """Buttons that fill a box with one press."""
    if [b.description for b in chips.children] == list(words):
        return
    buttons = [W.Button(description=w) for w in words]
    for button in buttons:
        button.on_click(lambda b: setattr(into, "value", b.description))
    for old in chips.children:
        old.close()
    chips.children = buttons


class Hold(W.Box):
    """What to do about a deviation.  Until somebody has decided, the guide goes no further."""

    def __init__(self, decide: Callable[[Decision], None], read_again: Callable[[], None]) -> None:
        self.because = W.Text(description="Reason for the decision", continuous_update=True)
        self.chips = box("tg-chips")
        offer(ALLOWED, self.because, self.chips)
        self.by = W.Text(description="Who decides", continuous_update=True)
        self.loosen = self._button("Loosen it, tighten it again", lambda: decide(Decision.LOOSEN))
        self.new_bolt = self._button("Fit a new bolt", lambda: decide(Decision.NEW_BOLT))
        self.again = self._button("Correct the reading", read_again)
        self.go_on = self._button("Continue: accept it as it is", lambda: decide(Decision.CONTINUE))
        choices = box("tg-choices", self.new_bolt, self.loosen, self.again)
        super().__init__([choices, self.because, self.chips, self.by, self.go_on])
        self.add_class("tg-panel")
        self.add_class("tg-hold")

    @staticmethod
    def _button(words: str, does: Callable[[], None]) -> Any:
        made = W.Button(description=words)
        made.on_click(lambda _: does())
        return made


class Parts:
    """Every widget of the guide, by the name that the guide uses: the base of :class:`GuideScreen`."""

    def make(self, decide: Callable[[Decision], None], read_again: Callable[[], None]) -> None:
        """Make all of them."""
        self.plan = W.Dropdown(description="Plan")
        self.initials = W.Text(description="Your initials", continuous_update=True)
        self.look = W.Button(description="Refresh", tooltip="Show the ticks made on other screens")
        self.progress = W.HTML()
        self.card = W.HTML()
        self.done = W.Button(description="Done", button_style="primary")
        self.value = W.Text(description="Or type your reading, then press Enter", continuous_update=True)
        self.unit = W.Button(description="")  # offers the unit of the stage for a bare number
        self.peak = W.Text(description="Peak torque, if the wrench shows it", continuous_update=True)
        self.soft = W.Button(
            description="It went soft", tooltip="The bolt turned without getting tighter, or felt wrong"
        )
        self.other = W.Dropdown(description="Another bolt first", options=[(DASH, "")])
        self.asks = W.HTML()
        self.reason = W.Text(description="Reason", continuous_update=True)
        self.action = W.Text(description="What you did about it", continuous_update=True)
        self.because = W.Text(description="Reason for the correction", continuous_update=True)
        self.record = W.Button(description="Record", button_style="primary")
        self.back = W.Button(description="Cancel")
        self.strike = W.Button(description="Strike out: not done")
        self.held = Hold(decide, read_again)
        self.said = StatusMessage("tg-said")
        self.stop = W.HTML()
        self.looks = W.HTML()
        self.notes = W.HTML()
        self.map = W.HTML()
        self.correct = W.Dropdown(description="Correct a tick", options=[(DASH, "")])
        self.paper = W.Text(description="Copied from a paper sheet? Type when it was done", continuous_update=True)
        self.history = W.HTML()
        self._lay_out()

    def _lay_out(self) -> None:
        self.reason_chips, self.action_chips = box("tg-chips"), box("tg-chips")
        self.done.add_class("tg-done")
        self.record.add_class("tg-done")
        self.unit.add_class("tg-unit")
        self.read = box("tg-read", self.value, self.unit, self.peak)
        self.aside = box("tg-aside", self.soft, self.other)
        self.panel = box(
            "tg-panel", self.asks, self.because, self.reason, self.reason_chips, self.action, self.action_chips,
            self.record, box("tg-aside", self.back, self.strike),
        )  # fmt: skip
        self.head = box("tg-head", self.plan, self.initials, self.look)
        for name in ORDERED:
            getattr(self, name).add_class(f"tg-at-{name}")
        doing = box("tg-doing", self.card, self.said, self.stop, self.held, self.done, self.read, self.panel,
                    self.aside)  # fmt: skip
        shown = box("tg-shown", self.map, self.notes, self.looks, self.correct, self.paper, self.history)
        self.desk = box("tg-desk", doing, shown)

    @property
    def texts(self) -> tuple[Any, ...]:
        """The boxes whose text belongs to one bolt."""
        return (self.value, self.peak, self.reason, self.action, self.because, self.held.because)
