"""A guided lesson: guess, say why, see, explain, check.  No step can be skipped, and nothing is shown before its step.

How to add one: declare a ``GuidedLesson`` in ``GUIDED`` of ``shoplib/topics/TOPIC/guided.py``.

* ``guess``: an Exercise with a slider, or an Item answered by choice.
* ``scene``: the picture beside the question: the known values, or a lesson's picture with the positions of its
  controls.  It must not show the answer.  ``explore``: the picture to drag after the guess.
* ``reasons``: an Item whose options are reasons; asked before the answer is shown, and again after it if wrong.
* ``checks``: at least two Items about a new case; after a wrong answer the next one is asked.

A ``Run`` is one learner's way through a lesson.  It never changes; an action returns another Run or raises OutOfOrder.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from shoplib.core.units import show
from shoplib.teaching.choice import BELIEFS, Item
from shoplib.teaching.exercise import Exercise, Question
from shoplib.teaching.known import Known

STEPS = ("guess", "why", "see", "explain", "check", "done")
NAMES = {"guess": "Guess", "why": "Why", "see": "See", "explain": "Explain", "check": "Check", "done": "Done"}
ONLY_GUESSED = "I only guessed."


class OutOfOrder(ValueError):
    """An action that does not belong to the present step."""


@dataclass(frozen=True)
class Scene:
    """The picture of a lesson to drag, with the positions at which its controls start."""

    lesson: str
    at: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class GuidedLesson:
    """A lesson declared once; ``objective`` is its number in the learning route, ``minutes`` how long it takes."""

    name: str
    objective: int
    title: str
    goal: str  # what the learner can say afterwards
    guess: Exercise | Item
    scene: Scene | Callable[[], Known]
    explore: Scene
    task: str  # what to do with the picture
    reasons: Item
    meaning: str  # what it means in the workshop; shown after the explanation
    checks: tuple[Item, ...]
    minutes: int = 6

    def ask(self) -> Question | None:
        """The question of a guess by slider; None for a guess by choice."""
        return self.guess.ask(1) if isinstance(self.guess, Exercise) else None

    @property
    def question(self) -> str:
        """The text of the question."""
        asked = self.ask()
        return asked.text if asked else self.guess.text if isinstance(self.guess, Item) else ""


@dataclass(frozen=True)
class Run:
    """Where a learner is in a lesson, and everything that was answered."""

    lesson: GuidedLesson
    step: str = "guess"
    guess: float | None = None  # in the shown unit of the slider, or the place of the option
    why: int | None = None  # place of the reason; −1 is "I only guessed"
    explained: tuple[int, ...] = ()  # reasons chosen after the picture
    checked: tuple[int, ...] = ()  # answers to the checks, one for each check asked

    def _at(self, step: str) -> None:
        if self.step != step:
            raise OutOfOrder(f"this belongs to the step {NAMES[step]}; the lesson is at {NAMES[self.step]}")

    # -- the actions
    def place(self, guess: float) -> Run:
        """Move the pointer, or choose an option; it may be moved until it is committed."""
        self._at("guess")
        if isinstance(self.lesson.guess, Item):
            self.lesson.guess.option(int(guess))
        elif not self.lesson.guess.slider or not self.lesson.guess.slider[0] <= guess <= self.lesson.guess.slider[1]:
            raise ValueError("the guess is off the scale")
        return replace(self, guess=guess)

    def commit(self) -> Run:
        """The guess is made and cannot be changed."""
        self._at("guess")
        if self.guess is None:
            raise OutOfOrder("there is no guess yet")
        return replace(self, step="why")

    def because(self, reason: int) -> Run:
        """The reason for the guess, chosen before the answer is shown."""
        self._at("why")
        if reason != -1:
            self.lesson.reasons.option(reason)
        return replace(self, why=reason, step="see")

    def seen(self) -> Run:
        """The picture was used.  Who gave the right reason before goes on to the check."""
        self._at("see")
        return replace(self, step="check" if self.reason_right else "explain")

    def explain(self, reason: int) -> Run:
        """Why the answer is so: the right reason leads to the check, a wrong one stays."""
        self._at("explain")
        right = self.lesson.reasons.is_right(reason)
        return replace(self, explained=(*self.explained, reason), step="check" if right else "explain")

    def check(self, answer: int) -> Run:
        """Answer the present check.  After a wrong answer another one is asked; after the last, look again."""
        self._at("check")
        right = self.present_check.is_right(answer)
        now = replace(self, checked=(*self.checked, answer))
        if right:
            return replace(now, step="done")
        return replace(now, step="see" if len(now.checked) % len(self.lesson.checks) == 0 else "check")

    # -- what is known
    @property
    def revealed(self) -> bool:
        """Whether the answer may be shown."""
        return self.step not in ("guess", "why")

    @property
    def present_check(self) -> Item:
        """The check asked now, or last."""
        asked = len(self.checked) - (self.step == "done")
        return self.lesson.checks[asked % len(self.lesson.checks)]

    @property
    def reason_right(self) -> bool:
        """Whether the reason given before the answer was the right one."""
        return self.why is not None and self.why >= 0 and self.lesson.reasons.is_right(self.why)

    @property
    def guess_right(self) -> bool:
        """Whether the guess was the answer, within its tolerance."""
        if self.guess is None:
            return False
        if isinstance(self.lesson.guess, Item):
            return self.lesson.guess.is_right(int(self.guess))
        asked = self.lesson.guess.ask(1)
        return asked.near(asked.unit.to_si(self.guess), asked.answer.value)

    @property
    def outcome(self) -> str:
        """``knew``, ``lucky``, ``slip`` (right reason, wrong number) or ``learned``; "" before the answer is shown."""
        if not self.revealed:
            return ""
        if self.guess_right:
            return "knew" if self.reason_right else "lucky"
        return "slip" if self.reason_right else "learned"

    @property
    def beliefs(self) -> tuple[str, ...]:
        """The codes of the beliefs behind the chosen answers, in their order, each once."""
        reasons, found = self.lesson.reasons, []
        if isinstance(self.lesson.guess, Item) and self.guess is not None and self.step != "guess":
            found.append(self.lesson.guess.option(int(self.guess)).belief)
        if self.why is not None and self.why >= 0:
            found.append(reasons.option(self.why).belief)
        found += [reasons.option(n).belief for n in self.explained]
        checks = self.lesson.checks
        found += [checks[k % len(checks)].option(n).belief for k, n in enumerate(self.checked)]
        return tuple(dict.fromkeys(b for b in found if b))

    def reply(self) -> str:
        """What is said when the answer is shown: the gap, and the belief that the guess or the reason names."""
        if not self.revealed:
            return ""
        parts = [self._gap()]
        if self.outcome == "lucky":
            parts.append("Right, but was it luck? Your reason does not lead there.")
        if self.why == -1:
            parts.append("You only guessed: find the reason in the picture.")
        elif self.why is not None and not self.reason_right:
            option = self.lesson.reasons.option(self.why)
            parts.append(f"You said: “{option.words}” {option.reply}")
        return " ".join(p for p in parts if p)

    def _gap(self) -> str:
        if isinstance(self.lesson.guess, Item):
            option = self.lesson.guess.option(int(self.guess or 0))
            right = self.lesson.guess.right
            head = f"You chose: “{option.words}” "
            return head + ("Correct." if option is right else f"{option.reply} The answer: “{right.words}”")
        asked = self.lesson.guess.ask(1)
        given, right_value = float(asked.unit.to_si(self.guess or 0.0)), float(asked.answer.value)
        head = f"You guessed {show(given, asked.unit, 3)}; the answer is {show(right_value, asked.unit, 3)}."
        if self.guess_right:
            return f"{head} Correct."
        side = "too high" if given > right_value else "too low"
        thought = asked.thought_of(given)
        named = f" You probably {thought.name}. {thought.hint}" if thought else ""
        return f"{head} Your guess is {show(abs(given - right_value), asked.unit, 2)} {side}.{named}"

    # -- stored
    def record(self) -> dict[str, Any]:
        """Everything that was answered, as plain values."""
        return {
            "lesson": self.lesson.name, "step": self.step, "guess": self.guess, "why": self.why,
            "explained": list(self.explained), "checked": list(self.checked), "outcome": self.outcome,
            "beliefs": [BELIEFS[b] for b in self.beliefs],
        }  # fmt: skip


def restored(lesson: GuidedLesson, record: Mapping[str, Any]) -> Run:
    """The run of a record.  Its answers are given again one by one, so a changed record cannot skip a step."""
    run = Run(lesson)
    try:
        if record.get("guess") is None:
            return run
        run = run.place(float(record["guess"]))
        if record.get("step") == "guess":
            return run
        run = run.commit()
        if record.get("why") is None:
            return run
        run = run.because(int(record["why"]))
        if record.get("step") == "see" and not record.get("checked"):
            return run
        run = run.seen()
        for n in record.get("explained", ()):
            run = run.explain(int(n))
        for n in record.get("checked", ()):
            run = (run.seen() if run.step == "see" else run).check(int(n))
    except (OutOfOrder, IndexError, ValueError, TypeError, KeyError):
        pass  # what was given up to here is kept
    return run
