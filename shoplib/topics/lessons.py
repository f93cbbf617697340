"""Every lesson, by name.  ``lesson.py`` of a topic, or a module ``…_lesson.py`` beside it, declares LESSONS."""

from __future__ import annotations

import functools
import importlib

from shoplib.teaching.lesson import Lesson

MODULES = {  # the lessons of each module, in the order of the job
    "flatness.lesson": ("six_lines",),
    "flatness.leaf_lesson": ("leaf",),
    "flatness.own_lines_lesson": ("own_lines",),
    "skim.lesson": ("valve_sweep", "skim_chain"),
    "angle.click_lesson": ("same_click",),
    "angle.lesson": ("where_the_torque_goes", "ramp", "how_far", "many_bolts"),
    "angle.two_frictions_lesson": ("two_frictions",),
    "angle.settling_lesson": ("settling",),
    "tightening.lesson": ("neighbours",),
    "tightening.trace_lesson": ("trace_and_clamp",),
    "coolant.lesson": ("tank",),
}
MODULE_OF = {name: module for module, names in MODULES.items() for name in names}


@functools.cache
def get(name: str) -> Lesson:
    """The lesson of that name; KeyError names what there is.  No other module of lessons is loaded."""
    if name not in MODULE_OF:
        raise KeyError(f"no lesson is called {name[:60]!r}; there are {', '.join(MODULE_OF)}")
    declared: tuple[Lesson, ...] = importlib.import_module(f"shoplib.topics.{MODULE_OF[name]}").LESSONS
    return next(lesson for lesson in declared if lesson.name == name)
