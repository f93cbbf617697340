"""What can be assigned, and how an answer to it is marked.

An assignment is a topic of exercises, a guided lesson, or a form of the concept test.  Every answer is marked from
what was typed, so it can be marked again at any time (:mod:`shoplib.classroom.regrade`).
"""

from __future__ import annotations

import functools
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from shoplib import __version__
from shoplib.teaching.choice import BELIEFS, Cases, Item
from shoplib.teaching.exercise import Exercise, Question
from shoplib.teaching.guided import GuidedLesson, Run, restored
from shoplib.teaching.salt import salted_seed

KINDS = {"topic": "exercises", "lesson": "lesson", "test": "concept test"}
RIGHT, WRONG, SEEN, ASKED = "right", "wrong", "seen", "asked"
ONLY_GUESSED = "only guessed"


@dataclass(frozen=True)
class Marked:
    """The mark of an answer: ``right``, ``wrong``, ``seen`` (nothing to mark) or ``asked`` (it cannot be read)."""

    state: str
    idea: str = ""  # the belief or mistake that explains a wrong answer
    rule: str = ""  # the version of the rule that gave it
    words: str = ""  # the reply to the learner; a hint where the answer is wrong


class CannotMark(ValueError):
    """There is no such exercise, lesson, step or question in this version."""


def seed_of(secret: str, assignment: str, login: str) -> int:
    """The seed of one learner in one assignment (its uid).  Without the secret of the class nobody can compute it."""
    return salted_seed(secret, "assignment", assignment, login)


def names(kind: str) -> tuple[str, ...]:
    """What can be assigned of a kind."""
    if kind == "topic":
        from shoplib.topics.exercises import topics

        return topics()
    if kind == "lesson":
        from shoplib.topics.guided import all_guided

        return tuple(all_guided())
    from shoplib.topics.concept_items import FORMS

    return tuple(FORMS)


def title_of(kind: str, name: str) -> str:
    """The title of what is assigned."""
    if kind == "lesson" and name in names(kind):
        return f"Lesson: {_lesson(name).title}"
    if kind == "test":
        return f"Concept test, form {name}"
    return f"Exercises: {name.replace('_', ' ')}"


def items(kind: str, name: str) -> tuple[str, ...]:
    """The items of an assignment that a learner answers."""
    if kind == "topic":
        return tuple(e.name for e in _of_topic(name))
    if kind == "lesson":
        return ("check",)  # a wrong guess is part of the lesson
    return tuple(str(n) for n in range(1, len(_form(name)) + 1))


def mark(kind: str, name: str, item: str, seed: int, typed: str, body: Mapping[str, Any]) -> Marked:
    """The mark of one answer by the present rules.  Raises CannotMark."""
    try:
        if kind == "topic":
            return _of_exercise(item, seed, typed)
        if kind == "lesson":
            return _of_lesson(_lesson(name), item, body)
        return _of_test(_form(name)[int(item) - 1], typed)
    except (KeyError, IndexError, ValueError) as error:
        raise CannotMark(f"{name}, {item}: {error}") from None


# ------------------------------------------------------------------------------ exercises
@functools.lru_cache(maxsize=4096)
def asked(exercise: str, seed: int) -> Question:
    """The question of that exercise with that learner's numbers."""
    return _exercise(exercise).ask(seed)


def _of_exercise(item: str, seed: int, typed: str) -> Marked:
    rule = _rule(item)
    if not typed:
        return Marked(SEEN, rule=rule)
    verdict = asked(item, seed).check(typed)
    return Marked(verdict.state, verdict.mistake, rule, verdict.words)


@functools.cache
def _rule(name: str) -> str:
    """The program's version, and a check sum of what the exercise declares about marking."""
    return f"{__version__}/{zlib.crc32(_declared(_exercise(name)).encode()):08x}"


def _declared(exercise: Exercise) -> str:
    return repr((exercise.working.name, exercise.result, exercise.tolerance, exercise.safe, exercise.choices,
                 exercise.in_its_unit, [m.name for m in exercise.mistakes]))  # fmt: skip


def _exercise(name: str) -> Exercise:
    from shoplib.topics.exercises import all_exercises

    return all_exercises()[name]


def _of_topic(topic: str) -> tuple[Exercise, ...]:
    from shoplib.topics.exercises import of_topic

    return of_topic(topic)


# ------------------------------------------------------------------------------ lessons
def last_answer(run: Run) -> tuple[str, str]:
    """The step that was answered last, and the answer: a guess in the shown unit, the place of an option, or a text."""
    if run.step in ("guess", "why"):
        return "guess", "" if run.guess is None else str(run.guess)
    if run.step == "explain" or (run.step == "check" and run.checked and not run.in_a_row):
        return "see", ""
    if run.checked:
        return "check", str(run.checked[-1])
    if run.explained:
        return "explain", str(run.explained[-1])
    return ("why", str(run.why)) if run.step == "see" else ("see", "")


def _of_lesson(lesson: GuidedLesson, step: str, body: Mapping[str, Any]) -> Marked:
    run = restored(lesson, body)
    rule = _rule_of_lesson(lesson.name)
    if step == "see":
        return Marked(SEEN, rule=rule)
    if step == "guess":
        return Marked(RIGHT if run.guess_right else WRONG, _idea_of_guess(run), rule)
    if step == "check":
        answered = run.cases[len(run.checked) - 1]
        if isinstance(answered.case, Item):
            return _of_option(answered.case, int(run.checked[-1]), rule)
        verdict = answered.case.check(str(run.checked[-1]))
        return Marked(verdict.state, verdict.mistake, rule, verdict.words)
    if step == "why":
        if run.why is None:
            raise KeyError("the reason is missing")
        return Marked(WRONG, ONLY_GUESSED, rule) if run.why == -1 else _of_option(lesson.reasons, run.why, rule)
    if step == "explain":
        return _of_option(lesson.explain, run.explained[-1], rule)
    raise KeyError("there is no such step")


@functools.cache
def _rule_of_lesson(name: str) -> str:
    """The program's version, and a check sum of both questions for a reason and of every case."""
    lesson = _lesson(name)
    items = [i for kind in lesson.checks if isinstance(kind, Cases) for i in kind.items]
    typed = [_declared(kind) for kind in lesson.checks if isinstance(kind, Exercise)]
    declared = [_rule_of_items(lesson.reasons, lesson.explain, *items), *typed]
    return f"{__version__}/{zlib.crc32(repr(declared).encode()):08x}"


def _idea_of_guess(run: Run) -> str:
    if run.guess_right or run.guess is None:
        return ""
    if isinstance(run.lesson.guess, Item):
        return run.lesson.guess.option(int(run.guess)).belief
    question = run.lesson.guess.ask(1)
    thought = question.thought_of(float(question.unit.to_si(run.guess)))
    return thought.name if thought else ""


def _lesson(name: str) -> GuidedLesson:
    from shoplib.topics.guided import get

    return get(name)


# ------------------------------------------------------------------------------ the concept test
def _of_test(item: Item, typed: str) -> Marked:
    return _of_option(item, int(typed), _rule_of_items(item))


def _of_option(item: Item, place: int, rule: str) -> Marked:
    option = item.option(place)
    return Marked(RIGHT, rule=rule) if option is item.right else Marked(WRONG, option.belief, rule, option.reply)


@functools.cache
def _rule_of_items(*found: Item) -> str:
    declared = [[(o.words, o.belief) for o in item.options] for item in found]
    return f"{__version__}/{zlib.crc32(repr(declared).encode()):08x}"


def _form(name: str) -> tuple[Item, ...]:
    from shoplib.topics.concept_items import FORMS

    return FORMS[name]


def idea_in_words(idea: str) -> str:
    """The belief as a learner would say it; the mistake with a capital letter."""
    return BELIEFS.get(idea) or idea[:1].upper() + idea[1:]
