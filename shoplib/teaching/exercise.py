"""Exercises: seeded numbers, an answer typed with its unit, a hint that names the probable mistake.

How to add an exercise:

1. Append an ``Exercise`` to ``EXERCISES`` in ``shoplib/topics/TOPIC/exercises.py``; it is found by itself.
2. ``numbers(rng)`` gives the inputs of the working, as people write them:
   ``{"torque": draw_value(rng, 20, 60, 5, "N·m")}``.  Another name may serve the question's text only.
3. ``question`` is text with those names in braces.  It says everything that a learner with paper needs.
4. ``working`` and ``result`` say what computes the answer: ``"preload"``, ``("preload", -1)`` for the last of a list,
   ``("rows", 0, "depth")`` in a table, ``"outcome"`` for the checks together (words need ``choices``).
5. ``tolerance``: ``"1 %"`` of the right value, or a difference such as ``"0.01 mm"``.  From 1 % on an answer that is
   the right value rounded to two or more digits is right as well.  ``safe="above"`` (or ``"below"``) where the other
   side is unsafe: there only the digits of the printed answer are allowed.
6. A ``Mistake`` computes from the Result the wrong number (SI) that one misconception yields, or None where it cannot
   occur.  ``rerun(result, torque="…")`` works the same question with something else typed.
7. ``first_step`` is shown when no mistake matches; ``lesson``, one or two sentences, is shown with the solution.
8. ``in_its_unit=True`` where converting is the exercise itself.  ``solution``: the steps in the words of an apprentice,
   with the sum that was asked; it ends with the answer.  ``steps_solve=False`` where the working's own steps do not.
9. ``.venv/bin/pytest tests/topics/test_exercises.py`` tries it with many seeds: two mistakes never give one answer.
10. In a notebook: ``Practice("TOPIC")``; on paper: ``shoplib class TOPIC --learners 12 --seed 7``.

Numbers in exercises are invented.  Never use them as settings.
"""

from __future__ import annotations

import functools
import math
import re
import string
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

import numpy as np

from shoplib.core import progress
from shoplib.core.checks import Value
from shoplib.core.errors import ShoplibError
from shoplib.core.inputs import half_digit_in_si
from shoplib.core.rounding import at_most, round_half_up
from shoplib.core.units import Unit, Unreadable, one, pct, read, tidy, unit_of
from shoplib.core.working import Result, Working
from shoplib.teaching.salt import salted_seed
from shoplib.teaching.significant_digits import significant, trailing_zeros

# how people also say it; counts where the word on the right is among the choices
SAME_WORD = {
    "counterclockwise": "anticlockwise", "counter-clockwise": "anticlockwise", "anti-clockwise": "anticlockwise",
    "ccw": "anticlockwise", "cw": "clockwise", "hole": "internal thread", "thread in the hole": "internal thread",
    "tapped thread": "internal thread", "bolt thread": "external thread", "thread of the bolt": "external thread",
    "ok": "pass", "not decided": "undecided", "no limit": "no limit given", "y": "yes", "n": "no",
}  # fmt: skip
OTHER_SIDE = {"above": "below", "below": "above"}
PURE, PERCENT, KELVIN = unit_of(one), unit_of(pct), Unit("K", 1.0, "K")
INVENTED = "The numbers are invented for practice. Do not use them as settings: the maker's procedure governs."
UNSALTED = 1_000_000  # larger seeds come from the secret of a class
TRIES_FOR_DISTINCT = 400  # draws before a class set stops looking for yet another set of numbers


# ------------------------------------------------------------------------------ drawing numbers
def draw_value(rng: np.random.Generator, low: float, high: float, step: float, unit: str = "") -> str:
    """One of low, low + step, … high, as people write it: ``"45 N·m"``.  ValueError: no step ends at high."""
    first, last, by = (Decimal(str(x)) for x in (low, high, step))
    if (last - first) % by:
        raise ValueError(f"no step of {step} from {low} ends at {high}")
    return f"{first + by * int(rng.integers(int((last - first) / by) + 1))} {unit}".strip()


def choose_one(rng: np.random.Generator, *items: Any) -> Any:
    """One of these."""
    return items[int(rng.integers(len(items)))]


def rerun(result: Result, **typed: Any) -> Result:
    """The same working with something else typed; None leaves an input out."""
    merged = {**result.inputs.as_entered, **typed}
    return result.working({k: v for k, v in merged.items() if v is not None})


# ------------------------------------------------------------------------------ declaring
@dataclass(frozen=True)
class Mistake:
    """A misconception: its name, the wrong number it gives (SI, or one of the choices), and what to say.

    The name follows the words "You probably": it starts with a verb in the past, such as "forgot the pitch".
    """

    name: str
    wrong: Callable[[Result], Any]
    hint: str


@dataclass(frozen=True)
class Exercise:
    """A question with seeded numbers, declared once for notebook, class set and answer key."""

    name: str
    topic: str
    title: str
    question: str
    working: Working
    result: str | tuple[str | int, ...]
    numbers: Callable[[np.random.Generator], Mapping[str, Any]]
    tolerance: str
    mistakes: tuple[Mistake, ...]
    first_step: str
    lesson: str
    fixed: Mapping[str, Any] = field(default_factory=dict)  # inputs that are the same every time
    choices: tuple[str, ...] = ()  # of an answer in words
    in_its_unit: bool = False  # the answer counts only in the unit of the result
    safe: str = ""  # "above" or "below": the side of the right value on which an answer is safe; "": both are
    solution: Callable[[Result], str] | None = None  # the steps in the words of an apprentice; it ends with the answer
    steps_solve: bool = True  # whether the working's own steps solve the question too, and are shown below
    slider: tuple[float, float, float] | None = None  # low, high, step in the result's unit: a guess by hand

    def ask(self, seed: int) -> Question:
        """The question of this seed; the same seed always gives the same numbers."""
        rng = np.random.default_rng([seed, zlib.crc32(self.name.encode())])
        numbers = {**self.fixed, **self.numbers(rng)}
        result = self.working({k: v for k, v in numbers.items() if self.working.field(k) is not None})
        return Question(self, seed, numbers, self.question.format(**numbers), result)

    @property
    def rounding(self) -> bool:
        """Whether a rounded answer is as good: not where the last digits are the point, as 1.27 mm against 1.25 mm."""
        return self.tolerance.endswith("%") and read(self.tolerance, PERCENT).value >= 0.01

    @property
    def names_in_question(self) -> set[str]:
        """The names in braces."""
        return {name.split(".")[0].split("[")[0] for _, name, _, _ in string.Formatter().parse(self.question) if name}


def answer_of(result: Result, path: str | tuple[str | int, ...]) -> Value:
    """The result that a path names, as a single value."""
    first, *rest = (path,) if isinstance(path, str) else path
    if first == "outcome":
        return Value(str(result.outcome), None, "Outcome")
    value: Any = result.values[str(first)]
    for key in rest:
        inside = value.value if isinstance(value, Value) else value
        found = inside[key]
        value = found if isinstance(found, Value | dict) else replace(value, value=found)
    assert isinstance(value, Value), f"{path} is a row, not a value"
    return replace(value, readings=None, half_width=None)  # what is accepted depends on the digits declared


# ------------------------------------------------------------------------------ answering
@dataclass(frozen=True)
class Verdict:
    """The response to an answer: ``right``, ``wrong``, or ``asked`` when it cannot be read (not counted as a try)."""

    state: str
    words: str
    mistake: str = ""


@dataclass(frozen=True)
class Question:
    """An exercise with its numbers."""

    exercise: Exercise
    seed: int
    numbers: Mapping[str, Any]
    text: str
    result: Result

    @property
    def answer(self) -> Value:
        """The right answer."""
        return answer_of(self.result, self.exercise.result)

    @property
    def numbered(self) -> str:
        """Which numbers these are, in words; a salted seed is not shown."""
        return f"number set {self.seed}" if self.seed < UNSALTED else "numbers of the class"

    @property
    def in_words(self) -> bool:
        """True when the answer is a word, not a number."""
        return self.answer.unit is None

    @property
    def unit(self) -> Unit:
        """Unit in which the answer is shown."""
        return self.answer.unit or PURE

    @property
    def how(self) -> str:
        """What to type, without giving the answer away."""
        if self.in_words:
            return "one of: " + ", ".join(self.exercise.choices)
        if self.unit.name in ("", "%"):
            return "a number such as 0.7" if not self.unit.name else "a percentage such as 15 %"
        return f"a number with its unit, such as 15 {self.unit.text}"

    @property
    def stated_tolerance(self) -> str:
        """The tolerance in words."""
        if self.in_words:
            return "one word or number"
        tolerance, safe = self.exercise.tolerance, self.exercise.safe
        if safe:
            return f"at most {tolerance} {safe} the right value, never {OTHER_SIDE[safe]} it"
        if not tolerance.endswith("%"):
            return f"within {tolerance}"
        digits = {2: "two", 3: "three"}.get(self.fewest_digits)
        rounded = f", or rounded to {digits} significant figures" if digits else ""
        return f"within {tolerance} of the right value{rounded}"

    @property
    def stated_rule(self) -> str:
        """Which answers are right, as a sentence."""
        return "Answer with one word or number." if self.in_words else f"Correct if {self.stated_tolerance}."

    def tolerance_at(self, value: float) -> float:
        """Tolerance in SI about a value."""
        if self.exercise.tolerance.endswith("%"):
            return abs(value) * read(self.exercise.tolerance, PERCENT).value
        unit = KELVIN if self.unit.name == "degC" else self.unit
        return read(self.exercise.tolerance, unit).value

    def matches(self, given: Any, value: Any) -> bool:
        """Is the given answer this value, within the tolerance?"""
        if self.in_words:
            return bool(given == value)
        return at_most(abs(given - value), self.tolerance_at(value))

    def accepts(self, given: Any) -> bool:
        """Is the given answer right?  On the unsafe side of the right value only its printed digits are."""
        if self.in_words:
            return bool(given == self.answer.shown)
        right = float(self.answer.value)
        if not self.exercise.safe:
            return self.matches(given, right)
        off = given - right if self.exercise.safe == "above" else right - given
        printed = half_digit_in_si(self.answer.shown.replace("−", "-"), self.unit)
        return at_most(-printed, off, abs(right)) and at_most(off, self.tolerance_at(right))

    @functools.cached_property
    def fewest_digits(self) -> int:
        """To how many digits the right value may be rounded: 2, or 3 where a mistake rounds to the same two; 0: not."""
        if self.in_words or self.exercise.safe or not self.exercise.rounding:
            return 0
        right = self.unit.from_si(self.answer.value)
        for digits in (2, 3):
            rounded = round_half_up(right, digits)
            place = float(10 ** Decimal(rounded.adjusted() - digits + 1)) * self.unit.si
            if self._is_rounded(self.unit.to_si(float(rounded)), place / 2):
                return digits
        return 0

    def rounds_to(self, typed: str, given: Any) -> bool:
        """Is the given answer the right value rounded to at least the fewest digits?"""
        if not self.fewest_digits:
            return False
        unit = PERCENT if self.unit.name == "" and typed.strip().endswith("%") else self.unit
        lacking = max(self.fewest_digits - len(significant(typed)), 0)
        if lacking > trailing_zeros(typed):
            return False  # a zero at the end may be one of the digits: 101.7 is 100
        return self._is_rounded(given, half_digit_in_si(typed, unit) * 10.0 ** (trailing_zeros(typed) - lacking))

    def _is_rounded(self, given: float, half: float) -> bool:
        """Whether the given value is the right one within half a digit, and is none of the wrong ones.

        A value of three digits may have been rounded before: 0.1449 is 0.145 and that is 0.15.
        """
        right = self.answer.value
        three = 0.5 * 10.0 ** (math.floor(math.log10(abs(right))) - 2) if right and self.unit.offset == 0 else 0.0
        within = half + three
        return at_most(abs(given - right), within, abs(right)) and not any(
            at_most(abs(given - wrong), within, abs(wrong)) for _, wrong in self.wrong_answers()
        )

    def wrong_answers(self) -> list[tuple[Mistake, Any]]:
        """Each mistake that these numbers allow, with the wrong answer it yields."""
        found = [(m, m.wrong(self.result)) for m in self.exercise.mistakes]
        return [(m, value) for m, value in found if value is not None]

    def shown(self, value: Any) -> str:
        """An answer, right or wrong, as people read it."""
        return replace(self.answer, value=value).shown

    def read(self, typed: str) -> Any:
        """SI value, or word, of a typed answer; raises Unreadable with what to type."""
        if self.in_words:
            word = tidy(typed).lower()
            word = SAME_WORD[word] if SAME_WORD.get(word) in self.exercise.choices else word
            if word not in self.exercise.choices:
                raise Unreadable(f'"{word[:40]}" is not one of the answers')
            return word
        typed = re.sub(r"\s*(times|×)\s*$", "", str(typed)) if self.unit.name == "" else typed
        if self.unit.name == "" and str(typed).strip().endswith("%"):
            return read(typed, PERCENT).value  # 15 % of the torque is 0.15 of it
        reading = read(typed, self.unit)
        if self.exercise.in_its_unit and not math.isclose(read(f"1 {reading.unit}", self.unit).value, self.unit.si):
            raise Unreadable(f"Give the answer in {self.unit.text}")
        return reading.value

    def check(self, typed: str) -> Verdict:
        """Right, wrong with the probable mistake named, or asked about."""
        try:
            given = self.read(typed)
        except Unreadable as error:
            return Verdict("asked", f"{error}. Type {self.how}.")
        right = self.answer.shown if self.in_words else self.answer.value
        if self.accepts(given):
            return Verdict("right", f"Right: {self.answer.shown}.")
        for mistake, value in self.wrong_answers():
            if self.matches(given, value):
                return Verdict("wrong", f"No. You probably {mistake.name}. {mistake.hint}", mistake.name)
        if self.rounds_to(str(typed), given):
            return Verdict("right", f"Right, rounded: {self.answer.shown}.")
        return self._general(given, right)

    def _general(self, given: Any, right: Any) -> Verdict:
        """The response to a wrong answer that no named mistake explains."""
        if not self.in_words and self.exercise.safe and self.matches(given, right):
            name = "rounded to the unsafe side"
            side = OTHER_SIDE[self.exercise.safe]
            return Verdict("wrong", f"Close, but {name}: do not rely on a value {side} the right one.", name)
        if not self.in_words and right != 0:
            if self.matches(-given, right):
                name = "the sign is wrong"
                return Verdict("wrong", f"The number is right, but {name}.", name)
            for power in (1, 2, 3, 4, 6):
                if self.matches(given * 10.0**power, right) or self.matches(given / 10.0**power, right):
                    name = "the decimal point is in the wrong place"
                    return Verdict(
                        "wrong", f"The digits are right, but {name}: check the units, such as mm and m.", name
                    )
        return Verdict("wrong", f"Not correct, and it matches no common mistake. {self.exercise.first_step}")

    def thought_of(self, guess: float) -> Mistake | None:
        """The misconception that a guess by hand shows, within the tolerance of its own wrong value; else None."""
        if self.matches(guess, self.answer.value):
            return None
        found = [(m, value) for m, value in self.wrong_answers() if self.matches(guess, value)]
        return min(found, key=lambda x: abs(x[1] - guess), default=(None, 0.0))[0]

    def solution(self) -> str:
        """The worked solution as text."""
        lines = [f"Answer: {self.answer.label} {self.answer.shown} ({self.stated_tolerance})", self.exercise.lesson]
        if self.exercise.solution is not None:
            lines += ["", self.exercise.solution(self.result)]
        if not self.exercise.steps_solve:
            return "\n".join(lines)
        return "\n".join([*lines, "", self.result.as_text()])

    def as_text(self) -> str:
        """Title and question."""
        return f"{self.exercise.title}\n{self.text}"


# ------------------------------------------------------------------------------ keeping score
@dataclass
class Mark:
    """The tries at one question, and its result."""

    question: Question
    tries: list[tuple[str, Verdict]] = field(default_factory=list)
    solution_seen: bool = False
    right: bool = False

    @property
    def state(self) -> str:
        """In words, for the score and the learner's sheet."""
        if self.right:
            return "right at the first try" if len(self.tries) == 1 else f"right at try {len(self.tries)}"
        if self.solution_seen:
            return "solution seen"
        return f"not right yet, tries: {len(self.tries)}" if self.tries else "not tried"


class Score:
    """The questions of one session with their results.  An answer after the solution does not count."""

    def __init__(self) -> None:
        self._marks: dict[tuple[str, int], Mark] = {}

    def mark(self, question: Question) -> Mark:
        """The mark of a question, new if it was never touched."""
        return self._marks.setdefault((question.exercise.name, question.seed), Mark(question))

    def answered(self, question: Question, typed: str) -> Verdict:
        """Check an answer; record it unless it could not be read, or the question was already right or solved."""
        verdict, mark = question.check(typed), self.mark(question)
        if verdict.state != "asked" and not mark.right and not mark.solution_seen:
            mark.tries.append((typed, verdict))
            mark.right = verdict.state == "right"
        return verdict

    def looked_up(self, question: Question) -> None:
        """The worked solution was shown."""
        self.mark(question).solution_seen = True

    @property
    def marks(self) -> list[Mark]:
        """The questions that were tried or looked up, in order."""
        return [m for m in self._marks.values() if m.tries or m.solution_seen]

    @property
    def summary(self) -> str:
        """In one line."""
        marks = self.marks
        if not marks:
            return "nothing answered yet"
        at_once = sum(m.right and len(m.tries) == 1 for m in marks)
        later = sum(m.right and len(m.tries) > 1 for m in marks)
        questions = "1 question" if len(marks) == 1 else f"{len(marks)} questions"
        return f"{questions}, {at_once} right at the first try, {later} after a hint"

    def as_text(self, learner: str = "") -> str:
        """The learner's sheet as text."""
        lines = [f"Learner: {learner or '____________________'}", f"Score: {self.summary}", ""]
        for mark in self.marks:
            lines.append(f"{mark.question.exercise.title} ({mark.question.numbered}): {mark.state}")
            lines.append(f"    {mark.question.text}")
            lines += [
                f"    answered {typed}: {verdict.state}" + (f", {verdict.mistake}" if verdict.mistake else "")
                for typed, verdict in mark.tries
            ]
        return "\n".join([*lines, "", INVENTED])


# ------------------------------------------------------------------------------ a class
class NotEnoughNumbers(ShoplibError, ValueError):
    """An exercise has one set of numbers only, and the class has more than one learner."""


@dataclass(frozen=True)
class ClassSet:
    """Questions of a topic for each learner, from one seed.

    Neighbours do not share an answer where the exercise allows it.  Numbers repeat, far apart, only where an exercise
    has fewer sets of numbers than the class has learners.
    """

    topic: str
    seed: int
    sheets: tuple[tuple[Question, ...], ...]  # one tuple of questions per learner
    learners: tuple[tuple[str, int], ...] = ()  # name and seed of each sheet, where the class has a roster


def class_set(topic: str, exercises: tuple[Exercise, ...], learners: int, seed: int, *, secret: str = "") -> ClassSet:
    """Numbers for every learner; raises NotEnoughNumbers naming the exercise.

    With a secret nobody else can make the same set, although its number is printed on every sheet.
    """
    columns = []
    start = salted_seed(secret, "class set", topic, seed) if secret else seed
    for n, exercise in enumerate(exercises):
        rng = np.random.default_rng([start, zlib.crc32(exercise.name.encode())])
        pool: dict[str, Question] = {}
        for _ in range(TRIES_FOR_DISTINCT + 20 * learners):
            if len(pool) == (6 * learners if exercise.choices else learners + 10):
                break
            step = n * learners + min(len(pool), learners)
            with progress.part(step, len(exercises) * learners, "of the exercises made", size=0):
                question = exercise.ask(int(rng.integers(UNSALTED, 2**62) if secret else rng.integers(1, UNSALTED)))
            pool.setdefault(question.text, question)
        if len(pool) == 1 < learners:
            raise NotEnoughNumbers(f"{exercise.name}: there is only one set of numbers; ask for 1 learner")
        columns.append(_seated(list(pool.values()), learners))
    return ClassSet(topic, seed, tuple(zip(*columns, strict=True)))


def _seated(pool: list[Question], learners: int) -> list[Question]:
    """One question per seat; neighbours differ in the accepted answer if possible, and numbers repeat rarely."""
    groups: dict[str, list[Question]] = {}
    for question in pool:
        groups.setdefault(question.answer.shown, []).append(question)
    used = {question.text: 0 for question in pool}
    taken = dict.fromkeys(groups, 0)
    seats: list[Question] = []
    for _ in range(learners):
        best = [min(group, key=lambda q: used[q.text]) for group in groups.values()]
        best.sort(key=lambda q: (used[q.text], taken[q.answer.shown]))
        fits = (q for q in best if not seats or not _share(q, seats[-1]))
        other = (q for q in sorted(pool, key=lambda q: used[q.text]) if not seats or q.text != seats[-1].text)
        chosen = next(fits, None) or next(other, pool[0])
        used[chosen.text] += 1
        taken[chosen.answer.shown] += 1
        seats.append(chosen)
    return seats


def _share(one: Question, other: Question) -> bool:
    """Whether the answer of one passes at the other."""
    if one.in_words:
        return one.answer.shown == other.answer.shown
    return one.accepts(other.answer.value) or other.accepts(one.answer.value)


def bound(text: str) -> str:
    """The same text with each number tied to the word after it, so that no line breaks between 25 and N·m."""
    return re.sub(r"(?<=\d) (?=\S)", "\u00a0", text)
