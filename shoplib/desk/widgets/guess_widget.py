"""Guess first: drag a prediction.  Only then the answer appears, and the difference names the misconception."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import ipywidgets as W

from shoplib.desk.widgets.components import labelled
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.lesson_widget import CSS
from shoplib.desk.widgets.live_figure import LiveFigure
from shoplib.desk.widgets.message_batch import Words
from shoplib.desk.widgets.root_widget import Ground
from shoplib.desk.widgets.slider import Slider
from shoplib.desk.widgets.static_fallback import AtRest
from shoplib.teaching.exercise import Exercise, bound
from shoplib.teaching.guess_gap import Guessed, draw_gap
from shoplib.topics.exercises import all_guesses

WHY = "choose a reason"


class Guess(AtRest, W.VBox):
    """``Guess("travel_of_a_quarter_turn", then=Explore("ramp"))``; ``then`` is hidden until the guess is made."""

    def __init__(self, guess: str | Exercise, then: Any = None, *, seed: int = 1) -> None:
        exercise = all_guesses()[guess] if isinstance(guess, str) else guess
        if exercise.slider is None:
            raise TypeError(f"{exercise.name} has no slider to guess with")
        low, high, step = exercise.slider
        self.question = exercise.ask(seed)
        self.state = Guessed(self.question, low, placed=False)
        self.slider = Slider(name="Your guess", value=low, min=low, max=high, step=step)
        self.done = W.Button(description="That is my guess", button_style="primary")
        self.again = W.Button(description="Guess again")
        self.said = Words()
        self.figure = LiveFigure(
            draw_gap, self.state, name=f"guess-{exercise.name}", alt=self.state.alt(), figsize=(5.2, 1.4)
        )
        self.reasons = {m.name: m for m, _ in self.question.wrong_answers()}
        options = [(WHY, "")] + [(f"{n[0].upper()}{n[1:]}", n) for n in self.reasons]
        self.why = labelled(W.Dropdown(options=options, value=""), "Why did you guess that?")
        self.then = then
        buttons = W.Box([self.done, self.again])
        buttons.add_class("shop-row")
        asked = (
            f'<div class="shop-count">Guess first</div><h4>{e(exercise.title)}</h4>'
            f"<p>{e(bound(self.question.text))}</p>"
        )
        super().__init__(
            [
                Ground(CSS),
                W.HTML(asked),
                self.slider,
                self.figure,
                buttons,
                self.said,
                self.why,
                *([then] if then else []),
            ]
        )
        for name in ("shop", "shop-practice", "shop-guess"):
            self.add_class(name)
        self.slider.observe(self._moved, "value")
        self.done.on_click(lambda _: self.tell())
        self.again.on_click(lambda _: self.hide())
        self.why.observe(self._reasoned, "value")
        self.hide()

    def _moved(self, _: Any) -> None:
        self._show(Guessed(self.question, self.slider.value, self.state.told))

    def _reasoned(self, _: Any) -> None:
        if self.state.told:
            self._show(replace(self.state, why=self.reasons.get(self.why.value)))

    def tell(self) -> None:
        """Show the answer, the difference and the likely misconception; nothing if the pointer was not moved."""
        if self.state.placed:
            self._show(Guessed(self.question, self.slider.value, True))

    def hide(self) -> None:
        """Start again: the pointer must be moved first."""
        self.why.value = ""
        self._show(Guessed(self.question, self.slider.value, placed=False))

    def _show(self, state: Guessed) -> None:
        self.state = state
        self.figure.move(state, state.alt(), self._say)

    def _say(self) -> None:
        state = self.state
        self.slider.words = state.shown(state.value) if state.placed else "not yet"
        self.slider.disabled = state.told
        self.done.disabled = state.told or not state.placed
        self.why.layout.display = "" if state.told and not state.right else "none"
        self.again.disabled = not state.told
        if self.then is not None:
            self.then.layout.display = "" if state.told else "none"
        kind = "" if not state.told else "right" if state.right else "wrong"
        self.said.value = f'<div class="shop-said" role="status" data-state="{kind}">{e(state.says())}</div>'

    def text(self) -> str:
        """Question, answer and misconceptions as plain text."""
        q = self.question
        lines = [f"Guess first: {q.as_text()}", f"Answer: {q.answer.shown}. {q.exercise.lesson}"]
        lines += [f"{q.shown(value)}: {m.name}. {m.hint}" for m, value in q.wrong_answers()]
        return "\n".join([*lines, *(["", self.then.text()] if self.then else [])])

    def static_html(self) -> str:
        """The guess as a page without widgets."""
        q = self.question
        items = "".join(
            f"<li><b>{e(q.shown(value))}</b>: {e(m.name)}. {e(m.hint)}</li>" for m, value in q.wrong_answers()
        )
        body = (
            f'<div class="shop-count">Guess first</div><h4>{e(q.exercise.title)}</h4><p>{e(bound(q.text))}</p>'
            f"<details><summary>Answer, and what a wrong guess means</summary><p><b>{e(q.answer.shown)}</b>. "
            f"{e(q.exercise.lesson)}</p><ul>{items}</ul></details>"
        )
        then = self.then.static_html() if self.then else ""
        return f'<style>{CSS}</style><div class="shop shop-practice shop-guess">{body}{then}</div>'
