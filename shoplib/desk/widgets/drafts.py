"""Drafts of a form: what one holds, and how one of an earlier version comes back.

The key under which a draft lies is made of the form's boxes.  A version with other inputs has another key, and looks
for the draft of the form as it was before.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from shoplib.desk.widgets.input_field import NOTHING
from shoplib.desk.widgets.session import desk
from shoplib.topics import present_name

if TYPE_CHECKING:
    from shoplib.desk.widgets.form import Form
    from shoplib.record.store import Draft, Store

COLUMNS_0_1_0 = {  # of tables whose columns are others since; a draft of 0.1.0 does not name them
    ("flatness_lines", "lines"): [
        "name", "from", "to", "length", "goes", "no_go", "other_goes", "other_no_go", "state", "span_limit",
        "span_limit_source", "span_limit_over",
    ],
}  # fmt: skip


def find(store: Store, key: str, form: Form, number: str | None) -> Draft | None:
    """What stood in the form; or, where this version has other inputs, what stood in it as it was before.

    That one is claimed under the new key, so that no other form takes it too.
    """
    found = store.drafts(number=number, desk=desk())
    if key in found:
        return found[key]
    other = [k for k, draft in found.items() if _of_another_version(form, k, draft)]
    if len(other) != 1:
        return None
    claimed = found[other[0]]
    store.save_draft(key, claimed.inputs, number=number, desk=desk())
    store.drop_draft(other[0], number=number, desk=desk())
    return claimed


def _of_another_version(form: Form, key: str, draft: Draft) -> bool:
    boxes = mapping(draft.inputs.get("boxes"))
    if present_name(key.rpartition("-")[0]) != form.working.name[:60] or not boxes:
        return False
    wide = {name: len(names_) for name, names_ in columns(form).items()}
    rows = {len(r) - wide[n] for n in wide.keys() & boxes.keys() if isinstance(boxes[n], list)
            for r in boxes[n] if isinstance(r, list)}  # fmt: skip
    return boxes.keys() != form.entries.keys() or bool(rows - {0})


def columns(form: Form) -> dict[str, list[str]]:
    """Names of the columns of each table, by which its rows come back when a later version has other columns."""
    tables = [entry.field for entry in form.entries.values() if entry.field.kind == "table"]
    return {f.name: [c.name for c in f.columns] for f in tables}


def as_now(form: Form, found: Mapping[str, Any]) -> dict[str, Any]:
    """The boxes of a draft under the names, and the rows of its tables under the columns, that there are now."""
    boxes, named, now = dict(mapping(found.get("boxes"))), mapping(found.get("columns")), columns(form)
    renamed = {name: boxes.pop(name) for name in form.working.renamed if name in boxes}
    boxes |= form.working.current({name: value for name, value in renamed.items() if value not in ("", NOTHING)})
    for name in boxes.keys() & now.keys():
        rows, was = boxes[name], COLUMNS_0_1_0.get((form.working.name, name), now[name])
        then = named[name] if isinstance(named.get(name), list) else was
        if then != now[name] and isinstance(rows, list) and all(isinstance(r, list) for r in rows):
            cells = [dict(zip(map(str, then), row, strict=False)) for row in rows]
            boxes[name] = [[row.get(c, "") for c in now[name]] for row in cells]
    return boxes


def names(value: Any, otherwise: Iterable[str]) -> set[str]:
    """The names in a draft; ``otherwise`` where it holds none."""
    held = mapping(value).get("names")
    return {str(n) for n in held} if isinstance(held, list) else set(otherwise)


def mapping(value: Any) -> dict[str, Any]:
    """Of a draft, which may hold anything: the mapping, or an empty one."""
    return value if isinstance(value, dict) else {}
