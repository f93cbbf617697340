"""Explore: the picture of a lesson with its sliders.  It is redrawn during dragging."""

from __future__ import annotations

from typing import Any

import ipywidgets as W

from shoplib.desk import STATIC
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.form import CSS as FORM_CSS
from shoplib.desk.widgets.live_figure import LiveFigure
from shoplib.desk.widgets.message_batch import BatchedHTML
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.slider import Slider
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.teaching.lesson import Control, Lesson
from shoplib.topics.lessons import get

CSS = FORM_CSS + (STATIC / "practice.css").read_text(encoding="utf-8")


class Dial(W.VBox):
    """A control with its name and its position as text."""

    def __init__(self, control: Control, start: Any = None) -> None:
        self.control = control
        begin = control.starts if start is None else start
        if control.choices:
            name = f'<span class="shop-label">{e(control.label)}</span>'
            self.slider = W.ToggleButtons(
                options=[word for word, _ in control.choices],
                value=begin,
                description=name,
                description_allow_html=True,
            )
        else:
            self.slider = Slider(name=control.label, value=begin, min=control.low, max=control.high, step=control.step)
        super().__init__([self.slider])
        self.add_class("shop-dial")
        self.say()

    def say(self) -> None:
        """Update the text of a slider's position; a choice needs none."""
        if not self.control.choices:
            self.slider.words = self.control.shown(self.slider.value)

    def as_html(self) -> str:
        """Name and position, for viewers without a kernel."""
        if self.control.choices:
            return f'<div class="shop-label">{e(self.control.label)} <b>{e(self.slider.value)}</b></div>'
        return str(self.slider.as_html())


class Explore(StaticFallback, W.VBox):
    """``Explore("ramp", angle=90)``: drag, and see the effect."""

    def __init__(self, lesson: str | Lesson, **start: Any) -> None:
        self.lesson = get(lesson) if isinstance(lesson, str) else lesson
        self.dials = {c.name: Dial(c, start.get(c.name)) for c in self.lesson.controls}
        self.state = self.lesson.at(**{**{n: d.slider.value for n, d in self.dials.items()}, **start})
        self.said = BatchedHTML()
        self.figure = LiveFigure(
            self.lesson.drawn, self.state, name=self.lesson.name, alt=self.lesson.alt(self.state),
            figsize=self.lesson.figure_size,
        )  # fmt: skip
        dials = W.Box(list(self.dials.values()))
        dials.add_class("shop-dials")
        caution = W.HTML(f'<div class="shop-note">⚠ {e(self.lesson.caution)}</div>')
        super().__init__([RootWidget(CSS), W.HTML(f"<h4>{e(self.lesson.title)}</h4>"), dials, self.said,
                          self.figure, caution])  # fmt: skip
        self.add_class("shop")
        self.add_class("shop-explore")
        for dial in self.dials.values():
            dial.slider.observe(self._moved, "value")
        self._show_text()

    def _moved(self, _: Any) -> None:
        self.state = self.lesson.at(**{n: d.slider.value for n, d in self.dials.items()})
        self.figure.move(self.state, self.lesson.alt(self.state), self._show_text)

    def _show_text(self) -> None:
        for dial in self.dials.values():
            dial.say()
        self.said.value = f'<div class="shop-says" role="status">{e(self.lesson.says(self.state))}</div>'

    def text(self) -> str:
        """The present message, as plain text."""
        positions = [
            f"{d.control.label} {d.slider.value if d.control.choices else d.control.shown(d.slider.value)}"
            for d in self.dials.values()
        ]
        return f"{self.lesson.title}\n{'; '.join(positions)}: {self.lesson.says(self.state)}"

    def static_html(self) -> str:
        """The lesson as a page without widgets."""
        body = f"<h4>{e(self.lesson.title)}</h4>{''.join(d.as_html() for d in self.dials.values())}"
        return (
            f'<style>{CSS}</style><div class="shop shop-explore">{body}{self.said.value}{self.figure.as_image()}'
            f'<div class="shop-note">⚠ {e(self.lesson.caution)}</div></div>'
        )
