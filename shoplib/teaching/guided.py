"""A guided lesson: guess, say why, see, explain, check.  No step can be skipped, and nothing is shown before its step.

How to add one: declare a ``GuidedLesson`` in ``GUIDED`` of ``shoplib/topics/TOPIC/guided.py``.

* ``guess``: an Exercise with a slider, or an Item answered by choice.
* ``scene``: the picture beside the question: the known values, or a lesson's picture with the positions of its
  controls.  It must not show the answer.  ``explore``: the picture to drag after the guess.
* ``reasons``: an Item whose options are reasons; asked before the answer is shown.
* ``explain``: an Item asked after the picture.  Its wrong options agree with what was seen, for a wrong reason.
  ``explain_at``: the positions of the picture beside it, where they are not those that the learner left.
* ``terms``: words of the trade that the reasons use, explained beside them.
* ``visit``: the positions of the picture's controls that must be tried before the learner can go on.  ``find``: what
  must be found in the picture.  ``last``: the control that is locked until all of that was done, such as a cover.
* ``checks``: the kinds of case of the last step: ``Cases``, or an Exercise whose answer is typed.  One case of each
  kind must be right in a row.  An answer counts once: after a wrong one comes the picture, and then other cases.

A ``Run`` is one learner's way through a lesson.  It never changes; an action returns another Run or raises OutOfOrder.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from shoplib.core.units import show
from shoplib.teaching.choice import BELIEFS, Cases, Item
from shoplib.teaching.exercise import Exercise, Question
from shoplib.teaching.known import Known

STEPS = ("guess", "why", "see", "explain", "check", "done")
NAMES = {"guess": "Guess", "why": "Why", "see": "See", "explain": "Explain", "check": "Check", "done": "Done"}
APART = 41  # added to the seed for each further kind of case, so that a kind listed twice asks two different cases
ONLY_GUESSED = "I only guessed."


class OutOfOrder(ValueError):
    """An action that does not belong to the present step."""


class NotRead(ValueError):
    """A typed answer that cannot be read.  It does not count; the message says what to type."""


@dataclass(frozen=True)
class Asked:
    """A case of the step Check with its answer: the place of an option, or what was typed; None: not answered yet."""

    case: Item | Question
    answer: int | str | None = None
    right: bool = False


@dataclass(frozen=True)
class Scene:
    """The picture of a lesson to drag, with the positions at which its controls start."""

    lesson: str
    at: Mapping[str, Any] = field(default_factory=dict)
    without: tuple[str, ...] = ()  # controls that are of another lesson


@dataclass(frozen=True)
class Find:
    """Something to find in the picture, at no stated position; ``found`` judges the state of the picture.

    ``last``: it needs the control that waits for the others.
    """

    words: str
    found: Callable[[Any], bool]
    last: bool = False


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
    explain: Item
    meaning: str  # what it means in the workshop; shown after the explanation
    checks: tuple[Cases | Exercise, ...]
    visit: Mapping[str, tuple[Any, ...]]
    find: tuple[Find, ...] = ()
    last: str = ""
    explain_at: Mapping[str, Any] = field(default_factory=dict)
    terms: str = ""
    minutes: int = 8

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
    checked: tuple[int | str, ...] = ()  # the answer to each case: the place of an option, or what was typed
    seed: int = 1  # which versions and numbers the cases have

    def _at(self, step: str) -> None:
        if self.step != step:
            raise OutOfOrder(f"this belongs to the step {NAMES[step]}; the lesson is at {NAMES[self.step]}")

    # -- the actions
    def place(self, guess: float) -> Run:
        """Move the pointer, or choose an option; it may be moved until it is committed."""
        self._at("guess")
        if isinstance(self.lesson.guess, Item):
            if guess != int(guess):  # of a record made when this guess was a number
                raise ValueError("the guess is not an option")
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
        """The picture was used."""
        self._at("see")
        return replace(self, step="check" if self.understood else "explain")

    def explain(self, reason: int) -> Run:
        """Why the picture shows what it does: the right reason leads to the check, a wrong one back to the picture."""
        self._at("explain")
        right = self.lesson.explain.is_right(reason)
        return replace(self, explained=(*self.explained, reason), step="check" if right else "see")

    def check(self, answer: int | str) -> Run:
        """Answer the present case, once.  A wrong answer leads back to the picture, and to other cases.

        Raises NotRead if what was typed cannot be read.
        """
        self._at("check")
        case = self.present_check
        if isinstance(case, Question):
            verdict = case.check(str(answer))
            if verdict.state == "asked":
                raise NotRead(verdict.words)
        else:
            case.option(int(answer))
        now = replace(self, checked=(*self.checked, answer))
        if not now.cases[len(now.checked) - 1].right:
            return replace(now, step="see")
        return replace(now, step="done" if now.in_a_row == len(self.lesson.checks) else "check")

    # -- what is known
    @property
    def revealed(self) -> bool:
        """Whether the answer may be shown."""
        return self.step not in ("guess", "why")

    @functools.cached_property
    def cases(self) -> tuple[Asked, ...]:
        """The cases in their order, with their answers; the last is the present one, unless all are right."""
        kinds, found, row = self.lesson.checks, [], 0
        times = [0] * len(kinds)  # how often each kind was asked: each time it has other numbers
        for answer in (*self.checked, None):
            if row == len(kinds):
                break
            case = kinds[row].ask(self.seed + times[row] + APART * row)
            times[row] += 1
            right = answer is not None and is_right(case, answer)
            found.append(Asked(case, answer, right))
            row = row + 1 if right else 0
        return tuple(found)

    @property
    def in_a_row(self) -> int:
        """How many cases were right since the last wrong one."""
        wrong = [n for n, asked in enumerate(self.cases[: len(self.checked)]) if not asked.right]
        return len(self.checked) - (wrong[-1] + 1 if wrong else 0)

    @property
    def wrong_cases(self) -> int:
        """How many answers to the cases were wrong."""
        return sum(not asked.right for asked in self.cases[: len(self.checked)])

    @property
    def present_check(self) -> Item | Question:
        """The case asked now, or last."""
        return self.cases[-1].case

    @property
    def understood(self) -> bool:
        """Whether the right reason was given after the picture."""
        return any(map(self.lesson.explain.is_right, self.explained))

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
        return asked.matches(asked.unit.to_si(self.guess), asked.answer.value)

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
        found += [self.lesson.explain.option(n).belief for n in self.explained]
        answered = self.cases[: len(self.checked)]
        found += [a.case.option(int(a.answer or 0)).belief for a in answered if isinstance(a.case, Item)]
        return tuple(dict.fromkeys(b for b in found if b))

    def reply(self) -> str:
        """What is said when the answer is shown: the gap, and the belief that the guess or the reason names."""
        if not self.revealed:
            return ""
        said = None if self.why in (None, -1) or self.reason_right else self.lesson.reasons.option(self.why or 0)
        parts = [self._gap(name_it=self.why == -1)]
        if self.outcome == "lucky":
            parts.append("Right, but was it luck? Your reason does not lead there.")
        if self.outcome == "slip":
            parts.append("Your reason is right.")
        if self.why == -1:
            parts.append("You only guessed: find the reason in the picture.")
        elif said is not None:
            parts.append(f"You said “{said.words.rstrip('.')}”. {said.reply}")
        return " ".join(p for p in parts if p)

    def _gap(self, *, name_it: bool) -> str:
        """The guess and the answer.  ``name_it``: with the mistake behind the guess, where no reason was stated."""
        if isinstance(self.lesson.guess, Item):
            option = self.lesson.guess.option(int(self.guess or 0))
            right = self.lesson.guess.right
            head = f"You chose “{option.words.rstrip('.')}”. "
            return head + ("Correct." if option is right else f"{option.reply} The answer: {right.words.rstrip('.')}.")
        asked = self.lesson.guess.ask(1)
        given, right_value = float(asked.unit.to_si(self.guess or 0.0)), float(asked.answer.value)
        head = f"You guessed {show(given, asked.unit, 3)}; the answer is {show(right_value, asked.unit, 3)}."
        if self.guess_right:
            return f"{head} Correct."
        side = "too high" if given > right_value else "too low"
        thought = asked.thought_of(given) if name_it else None
        named = f" You probably {thought.name}. {thought.hint}" if thought else ""
        return f"{head} Your guess is {side}.{named}"

    # -- stored
    def record(self) -> dict[str, Any]:
        """Everything that was answered, as plain values."""
        return {
            "lesson": self.lesson.name, "step": self.step, "guess": self.guess, "why": self.why,
            "explained": list(self.explained), "seed": self.seed, "checked": list(self.checked),
            "wrong_cases": self.wrong_cases, "outcome": self.outcome,
            "beliefs": [BELIEFS[b] for b in self.beliefs],
        }  # fmt: skip


def is_right(case: Item | Question, answer: int | str) -> bool:
    """Whether this answer to a case is right."""
    return case.check(str(answer)).state == "right" if isinstance(case, Question) else case.is_right(int(answer))


def restored(lesson: GuidedLesson, record: Mapping[str, Any]) -> Run:
    """The run of a record.  Its answers are given again one by one, so a changed record cannot skip a step.

    A record without a seed is of a version whose cases are not asked any more: they are asked again.
    """
    run = Run(lesson)
    try:
        run = Run(lesson, seed=int(record.get("seed", 1)))
        if record.get("guess") is None:
            return run
        run = run.place(float(record["guess"]))
        if record.get("step") == "guess":
            return run
        run = run.commit()
        if record.get("why") is None:
            return run
        run = run.because(int(record["why"]))
        for n in record.get("explained", ()):
            run = _looked(run).explain(int(n))
        for answer in record.get("checked", ()) if "seed" in record else ():
            run = _looked(run).check(answer if isinstance(answer, str) else int(answer))
        run = run if record.get("step") == "see" else _looked(run)
    except (OutOfOrder, IndexError, ValueError, TypeError, KeyError):
        pass  # what was given up to here is kept
    return run


def _looked(run: Run) -> Run:
    return run.seen() if run.step == "see" else run


class Visits:
    """What is still to be tried in a picture.  A slider has been wherever it passed."""

    def __init__(self, lesson: GuidedLesson, start: Mapping[str, Any]) -> None:
        self._wanted = [(name, position) for name, all_ in lesson.visit.items() for position in all_]
        self._been: dict[str, list[Any]] = {name: [position] for name, position in start.items()}
        self._find, self._last = list(lesson.find), lesson.last

    def moved(self, name: str, position: Any, state: Any) -> None:
        """A control is at this position now, and the picture in this state."""
        self._been.setdefault(name, []).append(position)
        self._find = [f for f in self._find if not f.found(state)]

    @property
    def left(self) -> list[tuple[str, Any]]:
        """Control and position of what was not tried yet."""
        return [(name, wanted) for name, wanted in self._wanted if not self._was_at(name, wanted)]

    @property
    def to_find(self) -> list[str]:
        """What was not found yet, in words."""
        return [f.words for f in self._find]

    @property
    def locked(self) -> str:
        """The control that must wait for the others; "" where none must."""
        waits = any(not f.last for f in self._find) or any(name != self._last for name, _ in self.left)
        return self._last if waits else ""

    def _was_at(self, name: str, wanted: Any) -> bool:
        been = self._been.get(name, [])
        return wanted in been if isinstance(wanted, str) else min(been) <= wanted <= max(been)
