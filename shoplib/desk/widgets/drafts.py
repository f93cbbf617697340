"""Drafts of a form: their content, and how a draft of an earlier version is restored.

The key of a draft is derived from the boxes of the form.  A version with other inputs has another key, and looks for
the draft of the earlier version of the form.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from shoplib.desk.widgets.display_text import local
from shoplib.desk.widgets.input_field import NOTHING
from shoplib.desk.widgets.session import desk
from shoplib.topics import present_name

if TYPE_CHECKING:
    from shoplib.desk.widgets.form import Form
    from shoplib.record.job import Job
    from shoplib.record.store import Draft, Store

DRAFT_KEPT = "What you typed is kept on this computer. It is in the job only when you save it."
COLUMNS_0_1_0 = {  # columns of tables that changed since; a draft of 0.1.0 does not name them
    ("flatness_lines", "lines"): [
        "name", "from", "to", "length", "goes", "no_go", "other_goes", "other_no_go", "state", "span_limit",
        "span_limit_source", "span_limit_over",
    ],
}  # fmt: skip


class RecordSnapshot(NamedTuple):
    """What the record holds for a form, read in a worker thread."""

    number: str
    job: Job | None = None
    draft: Draft | None = None
    saved_at: str = ""
    elsewhere: str = ""  # the job that another notebook of this desk chose since
    trouble: str = ""


def kept_html(at: str) -> str:
    """When the draft was kept; nothing if there is none.  It never looks like an entry that is saved to the job."""
    when = f"draft kept {local(at)[11:]}" if at else ""
    return f'<span class="shop-draft" title="{DRAFT_KEPT}">{when}</span>'


def find(store: Store, key: str, form: Form, number: str | None) -> Draft | None:
    """The draft of the form; or, if this version has other inputs, the draft of its earlier version.

    An earlier draft is moved to the new key, so that no other form uses it too.
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
    """The column names of each table; a later version with other columns restores the rows by them."""
    tables = [entry.field for entry in form.entries.values() if entry.field.kind == "table"]
    return {f.name: [c.name for c in f.columns] for f in tables}


def as_now(form: Form, found: Mapping[str, Any]) -> dict[str, Any]:
    """The boxes of a draft under their present names, and its tables under their present columns."""
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
    """The names in a draft; ``otherwise`` if it has none."""
    held = mapping(value).get("names")
    return {str(n) for n in held} if isinstance(held, list) else set(otherwise)


def origins(value: Any) -> dict[str, dict[str, str]]:
    """The origins of the values in a draft; those that cannot be read are left out."""
    wanted = {"uid", "take", "told"}
    return {k: {x: str(v[x]) for x in wanted} for k, v in mapping(value).items() if wanted <= mapping(v).keys()}


def mapping(value: Any) -> dict[str, Any]:
    """A value of a draft, which may be anything, as a mapping; otherwise an empty one."""
    return value if isinstance(value, dict) else {}
