"""What is recorded beside the workings: pictures, lessons, exercises and guided lessons, each with the cases to look at."""

from __future__ import annotations

import functools
import importlib
import itertools
import json
import pkgutil
import random
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from types import ModuleType
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from shoplib import topics
from shoplib.core.errors import BadInput
from shoplib.core.fields import Field
from shoplib.core.working import Working
from shoplib.teaching.exercise import Exercise
from shoplib.teaching.guided import Find, GuidedLesson
from shoplib.teaching.lesson import Lesson
from shoplib.topics import all_workings, exercises, lessons
from shoplib.topics.guided import all_guided
from tests.recorded import drawn, runs
from tests.recorded.said import Said, numbers_in_text, one


@dataclass(frozen=True)
class Kind:
    """Subjects by name, what may be asked of each, and what each says to that."""

    subjects: Callable[[], dict[str, Any]]
    cases: Callable[[str], Iterator[Any]]  # worth trying; those that do something new are stored
    says: Callable[[str], Callable[[Any], Said]]
    most: int  # cases stored of one subject
    least: int = 2


# -- pictures of workings
def _pictured() -> dict[str, Working]:
    return {name: w for name, w in all_workings().items() if w.draw is not None}


def _runs_of(name: str) -> Iterator[int]:
    yield from range(len(runs.inputs_of(name)))


def _picture(name: str) -> Callable[[Any], Said]:
    working, inputs = all_workings()[name], runs.inputs_of(name)
    moves: list[Any] = []
    artists: list[int] = []

    def says(case: int) -> Said:
        try:
            result = working(inputs[case])
        except BadInput:
            return [one("refused")]
        if not working.pictures(result):
            return [one("no picture")]
        first = not moves
        if first:
            figure = Figure(figsize=working.figure_size)
            moves.extend((figure, working.draw(figure)))
        with drawn.before_rounding() as asked:
            moves[1](result)
        artists.append(len(moves[0].findobj()))
        anew = first or artists[-1] != artists[-2]  # some pictures are built again when their inputs ask for it
        return [one("before rounding", asked), *drawn.of_figure(moves[0], moved_only=not anew)]

    return says


# -- lessons
def _lessons() -> dict[str, Lesson]:
    return {name: lessons.get(name) for name in lessons.MODULE_OF}


def positions(control: Any) -> list[Any]:
    if control.choices:
        return [word for word, _ in control.choices]
    steps = round((control.high - control.low) / control.step)
    some = {0, 1, steps // 4, steps // 2, 3 * steps // 4, steps - 1, steps}
    return [control.start, *(round(control.low + k * control.step, 9) for k in sorted(some))]


def _places(name: str) -> Iterator[dict[str, Any]]:
    controls = lessons.get(name).controls
    yield {}
    for c in controls:
        yield from ({c.name: p} for p in positions(c))
    rng = random.Random(name)
    for _ in range(80):
        yield {c.name: rng.choice(positions(c)) for c in controls}


def _lesson(name: str) -> Callable[[Any], Said]:
    lesson = lessons.get(name)
    figure = Figure(figsize=lesson.figure_size)
    move = lesson.drawn(figure)
    told: list[bool] = []

    def says(case: dict[str, Any]) -> Said:
        state = lesson.at(**case)
        with drawn.before_rounding() as asked:
            move(state)
        first = not told
        told.append(True)
        about = [one(lesson.says(state)), one(lesson.alt(state)), one("before rounding", asked)]
        if first:
            about += [one(f"{c.label}", c.low, c.high, c.step, c.start) for c in lesson.controls]
            about += [one(lesson.title, lesson.narrowest)]
        return about + drawn.of_figure(figure, moved_only=not first)

    return says


# -- exercises
@functools.cache
def _exercises() -> dict[str, Exercise]:
    guided = all_guided().values()
    more = [x for g in guided for x in (g.guess, *g.checks) if isinstance(x, Exercise)]
    return {**exercises.all_exercises(), **{e.name: e for e in more}}


def _seeds(name: str) -> Iterator[int]:
    yield from range(1, 60)


def _exercise(name: str) -> Callable[[Any], Said]:
    exercise = _exercises()[name]

    def told(answer: Any) -> Any:
        return exercise.choices.index(answer) if answer in exercise.choices else answer

    def says(seed: int) -> Said:
        q = exercise.ask(seed)
        said = [
            one(q.text),
            one(q.answer.shown, told(q.answer.value)),
            one(q.solution()),
            one(q.stated_rule),
            one(q.how, exercise.steps_solve),
        ]
        said += [one(f"{m.name}. {m.hint}", told(value)) for m, value in q.wrong_answers()]
        working = exercise.working
        if working.draw is not None and working.name not in all_workings():  # the picture of a solution
            figure = Figure(figsize=working.figure_size)
            working.draw(figure)(q.result)
            said += [*drawn.of_figure(figure), one(working.alt(q.result) if working.alt else "")]
        if not q.in_words:
            said += [one("tolerance", q.tolerance_at(q.answer.value), exercise.in_its_unit, exercise.slider)]
        return said

    return says


def _draws(name: str) -> Iterator[int]:
    yield from range(400)


def _draw(name: str) -> Callable[[Any], Said]:
    """The numbers that an exercise draws, without its question: near the limits of what it accepts."""
    exercise, key = _exercises()[name], zlib.crc32(name.encode())

    def says(seed: int) -> Said:
        numbers = exercise.numbers(np.random.default_rng([seed, key]))
        return [one("numbers", numbers_in_text(json.dumps(numbers, default=str)))]

    return says


# -- what the inputs of a working declare
def _asking() -> dict[str, Working]:
    return all_workings() | {e.working.name: e.working for e in _exercises().values()}


def _declared(field: Field) -> Iterator[tuple[str, float]]:
    bounds = (field.above, field.at_least, field.below, field.at_most, *(field.plausible or ()))
    flags = (field.required, field.band, field.terms, field.may_be_missing, field.csv)
    many = [
        len(x) for x in (field.states, field.choices, field.needs, field.excludes, field.needed_when, field.only_when)
    ]
    yield one(
        f"{field.name} {field.kind} {field.example}",
        bounds,
        flags,
        many,
        field.unit.si,
        numbers_in_text(f"{field.default} {field.example}"),
    )
    for inner in (*field.columns, *([field.item] if field.item else [])):
        yield from _declared(inner)


def _declaration(name: str) -> Callable[[Any], Said]:
    working = _asking()[name]
    size = working.figure_size if working.draw is not None else ()
    return lambda _: [one(name, working.calculation, size), *(x for f in working.fields for x in _declared(f))]


# -- constants of the modules
@functools.cache
def _modules() -> dict[str, list[ModuleType]]:
    """The modules of each topic."""
    found: dict[str, list[ModuleType]] = {}
    for at in pkgutil.walk_packages(topics.__path__, "shoplib.topics."):
        found.setdefault(at.name.split(".")[2], []).append(importlib.import_module(at.name))
    return found


def _plain(value: Any) -> list[float]:
    """The numbers of a number, a text, or of tuples, lists and mappings of them; nothing of anything else."""
    if isinstance(value, bool | int | float):
        return [float(value)]
    if isinstance(value, str):
        return numbers_in_text(value)
    inner = value.items() if isinstance(value, Mapping) else value if isinstance(value, tuple | list) else ()
    return [n for x in inner for n in _plain(x)]


def _constant(name: str) -> Callable[[Any], Said]:
    found = [(f"{m.__name__} {n}", _plain(v)) for m in _modules()[name] for n, v in vars(m).items() if n.isupper()]
    return lambda _: [one(words, numbers) for words, numbers in found if numbers] or [one("none")]


# -- tables that only declare
TABLES = ("instructor", "job_steps", "concept_items", "try_it")


def _tables() -> dict[str, Any]:
    return {name: importlib.import_module(f"shoplib.topics.{name}") for name in TABLES}


def _table(name: str) -> Callable[[Any], Said]:
    module = _tables()[name]
    words = {n: v for n, v in vars(module).items() if n.isupper()}
    if name == "instructor":
        words |= {"talks": module.talks(), "minutes": [module.minutes_of(m) for m in module.TERM]}
        words["needed"] = [lab.needed for lab in module.LABS]
    return lambda _: list(_spoken(words, []))


# -- guided lessons
def _once(name: str) -> Iterator[int]:
    yield 0


def _guided(name: str) -> Callable[[Any], Said]:
    lesson = all_guided()[name]
    places = list(itertools.islice(_places(lesson.explore.lesson), 60))

    def says(_: int) -> Said:
        return list(_spoken(lesson, places))

    return says


def _spoken(value: Any, places: list[Any], lesson: GuidedLesson | None = None) -> Iterator[tuple[str, float]]:
    """Every text and number that is declared; what is to be found at each of these places of the picture."""
    if isinstance(value, str | int | float | bool):
        yield one(str(value), value)
    elif isinstance(value, Exercise):
        yield one(value.name)
    elif isinstance(value, Find) and lesson is not None:
        picture = lessons.get(lesson.explore.lesson)
        without = lesson.explore.without
        at = [{**lesson.explore.at, **{k: v for k, v in p.items() if k not in without}} for p in places]
        yield one(value.words, value.last, [value.found(picture.at(**p)) for p in at])
    elif is_dataclass(value):
        for f in fields(value):
            yield from _spoken(getattr(value, f.name), places, value if isinstance(value, GuidedLesson) else lesson)
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield one(str(key))
            yield from _spoken(inner, places, lesson)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _spoken(inner, places, lesson)
    elif callable(value):
        yield from _spoken(value(), places, lesson)


KINDS = {
    "pictures": Kind(_pictured, _runs_of, _picture, 20),
    "lessons": Kind(_lessons, _places, _lesson, 12),
    "exercises": Kind(_exercises, _seeds, _exercise, 6, 4),
    "draws": Kind(_exercises, _draws, _draw, 32, 20),
    "declared": Kind(_asking, _once, _declaration, 1),
    "constants": Kind(_modules, _once, _constant, 1),
    "tables": Kind(_tables, _once, _table, 1),
    "guided": Kind(all_guided, _once, _guided, 1),
}
