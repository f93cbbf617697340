"""Every exercise, by name.  ``exercises.py`` of a topic declares EXERCISES (and GUESSES, dragged by hand)."""

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
def _declared() -> tuple[tuple[Exercise, ...], tuple[Exercise, ...]]:
    """(exercises, guesses), in the order of the modules."""
    modules = [importlib.import_module(f"shoplib.topics.{topic}.exercises") for topic in TOPICS]
    exercises = tuple(e for module in modules for e in module.EXERCISES)
    guesses = tuple(e for module in modules for e in getattr(module, "GUESSES", ()))
    names = [e.name for e in (*exercises, *guesses)]
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        raise RuntimeError(f"two exercises are called {', '.join(twice)}")
    return exercises, guesses


def all_exercises() -> dict[str, Exercise]:
    """Name to exercise, answered by typing."""
    return {e.name: e for e in _declared()[0]}


def all_guesses() -> dict[str, Exercise]:
    """Name to guess, answered by dragging before the answer appears."""
    return {e.name: e for e in _declared()[1]}


def topics() -> tuple[str, ...]:
    """The topics there are."""
    return tuple(dict.fromkeys(e.topic for e in _declared()[0]))


def of_topic(topic: str) -> tuple[Exercise, ...]:
    """The exercises of a topic; KeyError names the topics there are."""
    found = tuple(e for e in _declared()[0] if e.topic == topic)
    if not found:
        raise KeyError(f"no topic is called {topic[:60]!r}; there are {', '.join(topics())}")
    return found
