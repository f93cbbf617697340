"""An entry of a job as HTML: its row in the history, and everything about it."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple

from shoplib.core.fields import Field
from shoplib.desk.widgets.display_text import as_words
from shoplib.desk.widgets.templates import are_records, keys_of, render
from shoplib.record.errors import StoreError
from shoplib.record.history import rework_plan
from shoplib.record.job import Entry, Job, Line
from shoplib.record.open_points import check_in_words, said
from shoplib.record.outcomes import CONDITION_WORDS
from shoplib.topics import get


class Row(NamedTuple):
    """A label and its value: a plain value of the record, a table (heads, rows) or a tick."""

    label: str
    content: Any
    kind: str = "plain"

    @property
    def wide(self) -> bool:
        """Whether the value is a table."""
        return self.kind == "table" or (self.kind == "plain" and are_records(self.content))


class Photograph(NamedTuple):
    """A photograph for the screen, or why it cannot be shown."""

    line: Line
    caption: str
    code: str = ""
    trouble: str = ""


def row_html(last: Entry, before: Iterable[Entry] = ()) -> str:
    """Title, outcome, who, when, remark; earlier versions are shown crossed out below."""
    return render("entry", "row", last, list(before))


def stale_html(entry: Entry, job: Job) -> str:
    """Why its numbers are out of date, and what to do."""
    if not entry.stale:
        return ""
    again = rework_plan(job, entry)
    return render("entry", "stale", again.said or entry.stale, again.first[0].name if again.first else "")


def detail_html(entry: Entry, job: Job, picture: Callable[[str], bytes]) -> str:
    """Inputs, results, ticks, photographs."""
    if entry.kind == "note":
        blocks = [("Saved", [Row(as_words(k), v) for k, v in (entry.content or {}).items()])]
    else:
        checks = [Row(str(c.get("outcome")), check_in_words(c)) for c in entry.result.get("checks") or ()]
        blocks = [("As typed", list(_inputs(entry))), ("Result", list(_results(entry))), ("Checks", checks)]
    ticks = [Row(f"stage {t.stage}, bolt {t.bolt}", t, "tick") for t in job.ticks_of(entry.uid)]
    notes = []
    sources = [job.line(uid).name for uid in entry.sources or () if any(x.uid == uid for x in job.lines)]
    if sources:
        assumed = " (assumed: version 0.1.0 proposed it from equal numbers)" if entry.sources_assumed else ""
        notes.append(f"Calculated from {'; '.join(sources)}{assumed}.")
    if entry.kind == "entry":
        notes.append(f"Engine: {CONDITION_WORDS[entry.condition or '']}.")
    photos = [_photograph(line, picture) for line in photos_of(entry, job)]
    return render("entry", "detail", [*blocks, ("Ticks", ticks)], photos, notes)


def photos_of(entry: Entry, job: Job) -> tuple[Line, ...]:
    """The photographs of an entry and of its ticks."""
    return (*entry.photos, *(p for t in job.ticks_of(entry.uid) for p in t.photos))


def _photograph(line: Line, picture: Callable[[str], bytes]) -> Photograph:
    caption = str(line.body.get("caption") or "no caption")
    try:
        return Photograph(line, caption, base64.b64encode(picture(str(line.body.get("thumb")))).decode("ascii"))
    except StoreError as error:
        return Photograph(line, caption, trouble=str(error))


def _inputs(entry: Entry) -> Iterable[Row]:
    """The inputs, in the order and with the labels of the form."""
    typed = dict(entry.inputs or {})
    try:
        fields = get(entry.form).fields
    except KeyError:  # this version no longer has the form
        fields = ()
    for field in fields:
        if field.name in typed:
            value = typed.pop(field.name)
            if field.columns and isinstance(value, list) and all(isinstance(r, Mapping) for r in value):
                yield Row(field.label, _table(value, field.columns), "table")
            else:
                yield Row(field.label, _picked(field, value))
    yield from (Row(as_words(name), value) for name, value in typed.items())


def _table(records: list[Mapping[str, Any]], columns: tuple[Field, ...]) -> tuple[list[str], list[list[Any]]]:
    """A typed table, with the columns of the form."""
    known = {c.name: c for c in columns}
    used = [name for name in known if any(name in r for r in records)]
    names = [*used, *(name for name in keys_of(records) if name not in known)]
    heads = [known[name].label if name in known else as_words(name) for name in names]
    return heads, [[_picked(known.get(name), r.get(name, "")) for name in names] for r in records]


def _picked(field: Field | None, value: Any) -> Any:
    """A choice as the form shows it; any other value as it is."""
    return field.spoken(value) if field is not None and value in field.choices else value


def _results(entry: Entry) -> Iterable[Row]:
    for name, value in (entry.result.get("results") or {}).items():
        found = value.get("value")
        label = name.replace("_", " ")
        if isinstance(found, list) and found and isinstance(found[0], dict):
            heads = keys_of(found)
            rows = [[said(r[h]) if h in r else "" for h in heads] for r in found]
            yield Row(label, ([h.replace("_", " ") for h in heads], rows), "table")
        else:
            yield Row(label, said(value))
