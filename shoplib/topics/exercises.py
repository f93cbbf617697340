"""Every exercise, by name.  ``exercises.py`` of a topic declares EXERCISES."""

from __future__ import annotations

import functools
import importlib

from shoplib.teaching.exercise import Exercise

TOPICS = (
    "diagnosis",
    "strip_down",
    "fasteners",
    "flatness",
    "skim",
    "threads",
    "torque",
    "preload",
    "angle",
    "tightening",
    "timing",
    "coolant",
    "handover",
)


@functools.cache
def _declared() -> tuple[Exercise, ...]:
    """Every exercise, in the order of the modules."""
    modules = [importlib.import_module(f"shoplib.topics.{topic}.exercises") for topic in TOPICS]
    exercises = tuple(e for module in modules for e in module.EXERCISES)
    names = [e.name for e in exercises]
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        raise RuntimeError(f"two exercises are called {', '.join(twice)}")
    return exercises


def all_exercises() -> dict[str, Exercise]:
    """Name to exercise, answered by typing."""
    return {e.name: e for e in _declared()}


def topics() -> tuple[str, ...]:
    """The topics there are."""
    return tuple(dict.fromkeys(e.topic for e in _declared()))


def of_topic(topic: str) -> tuple[Exercise, ...]:
    """The exercises of a topic; KeyError names the topics there are."""
    found = tuple(e for e in _declared() if e.topic == topic)
    if not found:
        raise KeyError(f"no topic is called {topic[:60]!r}; there are {', '.join(topics())}")
    return found
