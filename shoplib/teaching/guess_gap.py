"""The picture of a guess: a scale with the guess, then the answer, the gap and the value of each misconception."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shoplib.core.units import show
from shoplib.plotting.plot_style import ACCENT, INK, PALER, SOFT, WARM
from shoplib.teaching.exercise import Mistake, Question


@dataclass(frozen=True)
class Guessed:
    """A guess (in the shown unit) at a question; the answer is shown only when ``told``.

    A pointer that was not moved is not a guess: ``placed`` is false.  ``why`` is the reason that the learner chose.
    """

    question: Question
    at: float
    told: bool = False
    placed: bool = True
    why: Mistake | None = None

    @property
    def value(self) -> float:
        """The guess in SI."""
        return float(self.question.unit.to_si(self.at))

    @property
    def gap(self) -> float:
        """Guess less answer, in SI."""
        return self.value - float(self.question.answer.value)

    @property
    def right(self) -> bool:
        """Whether the guess is the answer, within the tolerance."""
        return self.question.near(self.value, self.question.answer.value)

    @property
    def thought(self) -> Mistake | None:
        """The misconception: the one that the learner chose, else the one whose wrong value the guess is."""
        return self.why or self.question.thought_of(self.value)

    def shown(self, value: float) -> str:
        """A value in the question's unit."""
        return show(value, self.question.unit, 3)

    def says(self) -> str:
        """The gap in words, and what a guess like this usually means."""
        q = self.question
        if not self.placed:
            return "Drag the pointer to your guess."
        if not self.told:
            return f"Your guess: {self.shown(self.value)}."
        right = q.answer.value
        head = f"You guessed {self.shown(self.value)}; the answer is {self.shown(right)}. "
        if self.right:
            return f"{head}Correct. {q.exercise.lesson}"
        side = "too high" if self.gap > 0 else "too low"
        head += f"Your guess is {show(abs(self.gap), self.question.unit, 2)} {side}. "
        if self.why is not None:
            return f"{head}You {self.why.name}. {self.why.hint} {q.exercise.lesson}"
        if thought := self.thought:
            return f"{head}You probably {thought.name}. {thought.hint} {q.exercise.lesson}"
        return f"{head}Below, choose the reason for your guess. {q.exercise.lesson}"

    def alt(self) -> str:
        """The picture in words."""
        return "A scale on which to place a guess. " + self.says()


SIDE = 0.05  # of the width, left and right of the rule


def draw_gap(figure: Any) -> Callable[[Guessed], None]:
    """A scale; guess above it, answer below it, the gap between."""
    figure.set_layout_engine("none")  # the scale lines up with the slider above it (SIDE, practice.css)
    ax = figure.add_axes((SIDE, 0.02, 1 - 2 * SIDE, 0.96))
    ax.set(ylim=(-1.25, 1.15), yticks=[])
    for side in ("left", "right", "top"):
        ax.spines[side].set_visible(False)
    ax.spines["bottom"].set_position(("data", 0))
    (band,) = ax.plot([], [], color=WARM, lw=9, alpha=0.45, solid_capstyle="butt", gid="gap")
    (guess,) = ax.plot([], [], "v", ms=13, color=ACCENT, clip_on=False, gid="guess")
    (answer,) = ax.plot([], [], "^", ms=13, color="white", mec=INK, mew=1.8, clip_on=False, gid="answer")
    guess_text = ax.text(0, 0.72, "", ha="center", color=ACCENT, fontsize=10.5, fontweight="bold", gid="guess-text")
    answer_text = ax.text(0, -1.05, "", ha="center", color=INK, fontsize=10.5, fontweight="bold", gid="answer-text")
    ticks = [ax.plot([], [], "|", ms=16, mew=1.6, color=SOFT, gid=f"thought{n}")[0] for n in range(6)]
    names = [ax.text(0, 0.3, "", ha="center", color=SOFT, fontsize=8.5, gid=f"thought-text{n}") for n in range(6)]
    ax.axhspan(-0.09, 0.09, color=PALER, zorder=0)

    def move(state: Guessed) -> None:
        q = state.question
        low, high, _ = q.exercise.slider or (0.0, 1.0, 1.0)
        span = high - low
        if ax.get_xlim() != (low, high):
            ax.set_xlim(low, high)
            ax.set_xlabel(q.unit.text or q.answer.label, loc="right")
        right = q.unit.from_si(q.answer.value)
        guess.set_data([state.at], [0.36])
        guess.set_visible(state.placed)
        guess_text.set_text(f"your guess {state.shown(state.value)}" if state.placed else "")
        guess_text.set_position((min(max(state.at, low + 0.15 * span), high - 0.15 * span), 0.72))
        answer.set_data([right], [-0.42])
        answer_text.set_text(f"answer {state.shown(q.answer.value)}")
        answer_text.set_position((min(max(right, low + 0.15 * span), high - 0.15 * span), -1.05))
        band.set_data([state.at, right], [0, 0])
        for artist in (answer, answer_text, band):
            artist.set_visible(state.told)
        wrong = q.wrong_answers()
        for n, (tick, name) in enumerate(zip(ticks, names, strict=True)):
            shown = state.told and n < len(wrong)
            tick.set_visible(shown)
            name.set_visible(False)
            if shown:
                tick.set_data([q.unit.from_si(wrong[n][1])], [0])

    return move
