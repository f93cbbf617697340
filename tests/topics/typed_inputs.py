"""Inputs of every working as text: its examples, and what a person may type into a field."""

import functools

from shoplib.core.errors import BadInput
from shoplib.topics import all_workings

WORKINGS = all_workings()

# Tables are typed in a grid or named as a file; no single example stands for them.
TABLES = {
    "flatness_grid": {
        "points": [{"x": f"{x} mm", "y": f"{y} mm", "z": f"{x * y} um"} for x in (0, 1, 2) for y in (0, 1, 2)]
    },
    "flatness_steps": {
        "places": [
            {"name": n, "x": f"{x} mm", "y": f"{y} mm"}
            for n, x, y in (("A", 0, 0), ("B", 100, 0), ("C", 0, 100), ("D", 100, 100), ("M", 50, 50))
        ],
        "lines": [
            {"name": a + b, "from": a, "to": b, "readings": "1; -1"} for a, b in ("AD", "BC", "AB", "BD", "DC", "CA")
        ],
    },
}


def example_of(field):
    text = field.example.strip()
    if text.startswith(("[", "{")):
        return text
    return text.strip("\"'") or (field.choices[0] if field.choices else "")


@functools.cache
def _typed(name):
    working = WORKINGS[name]
    shown = {f.name: example_of(f) for f in working.fields if f.required and f.default is None}
    shown |= TABLES.get(name, {})
    for _ in working.fields:
        try:
            working(shown)
        except BadInput as caught:
            asked = next(p.field for p in caught.problems if p.field not in shown)
            shown[asked] = example_of(working.field(asked))
        else:
            break
    return shown


def typed(working):
    """The required inputs by their own examples, then whatever the messages still ask for."""
    return dict(_typed(working.name))


def run(name, **more):
    """What the working of that name says to its examples, with these over them."""
    working = WORKINGS[name]
    return working({**typed(working), **more})


def refused(name, **more):
    """Why each field of these inputs is refused; nothing: they are taken."""
    try:
        run(name, **more)
    except BadInput as caught:
        return {problem.field: problem.why for problem in caught.problems}
    return {}


def outcomes(result):
    """The outcome of each check by its label."""
    return {check.label: str(check.outcome) for check in result.checks}
