"""Every lesson, by name.  ``lesson.py`` of a topic, or a module ``…_lesson.py`` beside it, declares LESSONS."""

from __future__ import annotations

import functools
import importlib

from shoplib.teaching.lesson import Lesson

MODULES = ("flatness.lesson", "flatness.leaf_lesson", "flatness.own_lines_lesson", "skim.lesson", "angle.click_lesson",
    "angle.lesson",
           "angle.settling_lesson", "tightening.lesson", "tightening.trace_lesson", "coolant.lesson")  # fmt: skip


@functools.cache
def all_lessons() -> dict[str, Lesson]:
    """Name to lesson, in the order of the modules."""
    found: dict[str, Lesson] = {}
    for module in MODULES:
        for lesson in importlib.import_module(f"shoplib.topics.{module}").LESSONS:
            if lesson.name in found:
                raise RuntimeError(f"two lessons are called {lesson.name}")
            found[lesson.name] = lesson
    return found


def get(name: str) -> Lesson:
    """The lesson of that name; KeyError names what there is."""
    try:
        return all_lessons()[name]
    except KeyError:
        raise KeyError(f"no lesson is called {name[:60]!r}; there are {', '.join(all_lessons())}") from None
