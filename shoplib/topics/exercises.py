"""Every exercise, by name.  ``exercises.py`` of a topic declares EXERCISES."""

from __future__ import annotations

import functools
import importlib

from shoplib.teaching.exercise import Exercise

TOPICS = {  # the topics of exercises in each package, in the order of the job
    "diagnosis": ("proof",),
    "strip_down": ("strip_down",),
    "fasteners": ("fasteners",),
    "flatness": ("faces",),
    "skim": ("skim",),
    "threads": ("stripping", "thread"),
    "torque": ("wrench",),
    "preload": ("preload",),
    "angle": ("angle",),
    "tightening": ("traces", "guide"),
    "timing": ("timing",),
    "coolant": ("coolant", "protection"),
    "handover": ("record",),
}
PACKAGE_OF = {topic: package for package, topics in TOPICS.items() for topic in topics}


@functools.cache
def _declared(package: str) -> tuple[Exercise, ...]:
    """The exercises of one package, in the order of its module."""
    found: tuple[Exercise, ...] = importlib.import_module(f"shoplib.topics.{package}.exercises").EXERCISES
    return found


def all_exercises() -> dict[str, Exercise]:
    """Name to exercise, answered by typing."""
    return {e.name: e for package in TOPICS for e in _declared(package)}


def topics() -> tuple[str, ...]:
    """The topics there are."""
    return tuple(PACKAGE_OF)


def of_topic(topic: str) -> tuple[Exercise, ...]:
    """The exercises of a topic, without loading those of another package; KeyError names the topics there are."""
    if topic not in PACKAGE_OF:
        raise KeyError(f"no topic is called {topic[:60]!r}; there are {', '.join(topics())}")
    return tuple(e for e in _declared(PACKAGE_OF[topic]) if e.topic == topic)
