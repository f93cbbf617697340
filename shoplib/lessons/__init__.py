"""Every lesson, by name.  A module here holds one topic and declares LESSONS."""

from __future__ import annotations

import functools
import importlib
import pkgutil

from shoplib.lesson import Lesson


@functools.cache
def all_lessons() -> dict[str, Lesson]:
    """Name to lesson, in the order of the modules."""
    found: dict[str, Lesson] = {}
    for module in sorted(m.name for m in pkgutil.iter_modules(__path__)):
        for lesson in getattr(importlib.import_module(f"{__name__}.{module}"), "LESSONS", ()):
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
