"""What a user can change in a form, little by little, at the size of a whole engine."""

from __future__ import annotations

import re

from shoplib.record.sample_job import invented_job
from shoplib.topics import all_workings
from tests.topics.typed_inputs import typed


def steps(text):
    """A number in a text goes up and comes back by steps of a hand: a 400th, but no coarser than its last digit."""
    number = re.search(r"\d+(?:\.(\d+))?", text) if isinstance(text, str) else None
    if number is None:
        return []
    base = float(number[0])
    step = min(base / 400 or 1.0, 10.0 ** -len(number[1] or ""))
    forms = [f"{base + k * step:.7g}" for k in range(16)]
    return [text[: number.start()] + n + text[number.end() :] for n in forms + forms[::-1][1:-1]]


def variations(working, inputs):
    """Everything in a form that a hand can change little by little: (field, row and column or None, its values)."""
    for name, text in inputs.items():
        field = working.field(name)
        if field.kind in ("quantity", "number", "list", "stages", "text"):
            yield name, None, steps(text)
    for name, table in inputs.items():
        columns = working.field(name).columns if isinstance(table, list) else ()
        for kinds in (("quantity", "number"), ("choice",)):
            for c, column in enumerate(columns):
                for r in range(min(len(table), 3)):
                    cell = table[r].get(column.name)
                    if column.kind in kinds and cell:
                        others = [x for x in column.choices if x != cell]
                        yield name, (r, c), [cell, others[0]] * 15 if others else steps(cell)


def changed(working, inputs, name, cell, value):
    """The inputs with one thing typed anew."""
    if cell is None:
        return {**inputs, name: value}
    r, column = cell[0], working.field(name).columns[cell[1]].name
    return {**inputs, name: [{**row, column: value} if k == r else row for k, row in enumerate(inputs[name])]}


def inputs_of_forms():
    """Inputs of a whole engine where the invented job has them, by the fields' own examples elsewhere."""
    with invented_job() as (store, number):
        kept = {e.result["working"]: e.result["inputs"] for e in store.job(number).entries}
    places = {"positions": kept["tightening_plan"]["positions"]}  # the same bolts
    kept["tightening_order"] = places
    kept["strip_log"] = {**kept["strip_log"], **places}
    given = {name: {k: v["as_entered"] for k, v in inputs.items()} for name, inputs in kept.items()}
    places = [(x, y) for x in range(10, 390, 60) for y in range(10, 180, 40)]  # a deck of our own, high in the middle
    heights = [round(20 - (x - 190) ** 2 / 1800 - (y - 90) ** 2 / 400) for x, y in places]
    given["flatness_grid"] = {
        "points": [{"x": f"{x} mm", "y": f"{y} mm", "z": f"{z} um"} for (x, y), z in zip(places, heights, strict=True)]
    }
    for name, working in all_workings().items():
        if working.draw:
            yield (
                name,
                working,
                {
                    n: working.field(n).rows(t) if working.field(n).kind == "table" else t
                    for n, t in (given.get(name) or typed(working)).items()
                    if t not in (None, "")
                },
            )
