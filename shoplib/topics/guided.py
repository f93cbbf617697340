"""Every guided lesson, by name, in the order of the learning route.  ``guided.py`` of a topic declares GUIDED."""

from __future__ import annotations

import functools
import importlib

from shoplib.teaching.guided import GuidedLesson

TOPICS = ("angle", "tightening", "flatness", "skim", "coolant")


@functools.cache
def all_guided() -> dict[str, GuidedLesson]:
    """Name to lesson, by objective."""
    found = [g for topic in TOPICS for g in importlib.import_module(f"shoplib.topics.{topic}.guided").GUIDED]
    names = [g.name for g in found]
    if len(set(names)) < len(names):
        raise RuntimeError("two guided lessons have one name")
    return {g.name: g for g in sorted(found, key=lambda g: g.objective)}


def get(name: str) -> GuidedLesson:
    """The lesson of that name; KeyError names what there is."""
    try:
        return all_guided()[name]
    except KeyError:
        raise KeyError(f"no guided lesson is called {name[:60]!r}; there are {', '.join(all_guided())}") from None


def route() -> str:
    """The lessons in their order, with their times, as text."""
    rows = [f"{g.objective:>2}  {g.title}  ({g.minutes} min)" for g in all_guided().values()]
    return "\n".join([*rows, f"In all: {sum(g.minutes for g in all_guided().values())} minutes."])
