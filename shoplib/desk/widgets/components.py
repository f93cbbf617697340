"""Small parts shared by the pages of the job desk: messages, boxes, buttons, times."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import ipywidgets as W

from shoplib.core.errors import Problem
from shoplib.core.fields import Field, words
from shoplib.core.working import in_labels
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.grid import Grid
from shoplib.desk.widgets.input_field import SIGNS, Entry
from shoplib.record.outcomes import CONDITION_WORDS

PAPERS = {"A4": "a4", "Letter": "letter"}  # label → code in the record


def local(at: str) -> str:
    """A time of the record in this machine's local time: ``2026-11-25 14:02:31``."""
    try:
        moment = datetime.datetime.fromisoformat(at)
    except ValueError:
        return at
    return moment.astimezone().strftime("%Y-%m-%d %H:%M:%S")


TOLD = {"good": ("✓", "status"), "bad": ("▲", "alert"), "wait": ("…", "status"), "": ("", "status")}


def said(state: str, words: str, more: str = "", *, named: str = "shop-said") -> str:
    """A sentence beside a control: "good", "bad" (no ✕: that is a check that fails), "wait", or "" for a plain one.

    ``more`` is trusted HTML, such as a link; ``named`` is its CSS class: shop-said, jd-said, tg-said.
    """
    sign, role = TOLD[state]
    text = e(words).replace("\n", "<br>")
    sign += " " * bool(sign)
    return f'<div class="{named}" role="{role}" data-state="{state}">{sign}{text}{more}</div>' if words else ""


class Say(W.HTML):
    """One message beside its control."""

    def __init__(self, named: str = "jd-said") -> None:
        self._named = named
        super().__init__()

    def good(self, words: str, more: str = "") -> None:
        """It was done.  ``more`` is trusted HTML, such as a link."""
        self.value = said("good", words, more, named=self._named)

    def bad(self, words: str) -> None:
        """It was not done; the words say why."""
        self.value = said("bad", words, named=self._named)

    def wait(self, words: str) -> None:
        """It is in progress."""
        self.value = said("wait", words, named=self._named)

    def plain(self, words: str) -> None:
        """Plain information."""
        self.value = said("", words, named=self._named)

    def clear(self) -> None:
        """Remove the message."""
        self.value = ""


class Long(Entry):
    """An input of several lines."""

    def _make_box(self, value: Any) -> Any:
        return W.Textarea(value=value or "", placeholder=self.field.example.strip('"'), rows=3)


def as_words(name: object) -> str:
    """A name of the record as a label: ``oil_filter`` becomes Oil filter."""
    said = str(name).replace("_", " ").strip()
    return said[:1].upper() + said[1:]


def set_typed(entry: Entry, value: Any) -> None:
    """Put a value into a box."""
    if isinstance(entry.box, Grid):
        names = [c.name for c in entry.box.columns]
        rows = [[str(r.get(n, "")) for n in names] for r in value or ()]
        entry.box.value = [*rows, [""] * len(names)]
    else:
        entry.box.value = str(value or "")


def complain(entries: Mapping[str, Entry], problems: Iterable[Problem]) -> list[Problem]:
    """Show each problem beside its box; return the problems without a box."""
    problems = tuple(problems)
    fields = [x.field for x in entries.values()]
    typed = [x.typed for x in entries.values()] if problems else []  # a large table is not read on every keystroke
    told: dict[str, list[str]] = {}
    cells: dict[str, list[str]] = {}
    others = []
    for problem in problems:
        base = _box_of(problem.field, entries)
        why = in_labels(problem.why, fields, typed)
        if base is None:
            others.append(replace(problem, why=why))
            continue
        where = _place(problem.field.removeprefix(base), entries[base].field)
        example = problem.example or (_example(problem.field, entries[base].field) if why == "is missing" else "")
        told.setdefault(base, []).append(f"{where} {replace(problem, why=why, example=example).told}".strip())
        cells.setdefault(base, []).append(problem.field)
    for name, entry in entries.items():
        entry.complain(told.get(name, []))
        if isinstance(entry.box, Grid):
            entry.box.mark(cells.get(name, []))
    return others


def _box_of(path: str, names: Iterable[str]) -> str | None:
    """The box for ``lines[3].goes``: ``lines``, or ``lines[3]`` if that has its own box."""
    over = [n for n in names if path.startswith(n) and path[len(n) : len(n) + 1] in ("", ".", "[")]
    return max(over, key=len, default=None)


def _example(path: str, field: Field) -> str:
    """An example for a box, or for the cell of a table."""
    name = path.rpartition(".")[2]
    return next((c.example for c in field.columns if c.name == name), field.example)


def _place(path: str, field: Field) -> str:
    """``[3].goes`` in a table as the screen shows it: row 3, “Leaf that fits”."""
    found = re.fullmatch(r"\[(\d+)\](?:\.(\w+)(.*))?", path) if field.kind == "table" else None
    if found is None:
        return path.strip(".")
    label = next((c.label for c in field.columns if c.name == found[2]), found[2])
    return f"row {found[1]}:" if label is None else f"row {found[1]}, “{label}”{found[3]}:"


def who_box(who: str, label: str = "Who does this") -> Entry:
    """Who does this."""
    return Entry(words("who", label, example='"A. Learner"'), who)


def reason_box(value: str = "", example: str = "misread: 0.60 for 0.06") -> Entry:
    """The reason for a change."""
    return Long(words("because", "Reason", help="stays in the record", example=example), value)


def text_box(name: str, label: str, value: str = "", *, long: bool = False, **more: Any) -> Entry:
    """A text box."""
    field: Field = words(name, label, **more)
    return (Long if long else Entry)(field, value)


def button(said: str, does: Any, *, main: bool = False, tip: str = "") -> Any:
    """A button large enough for a glove."""
    made = W.Button(description=said, tooltip=tip or said, button_style="primary" if main else "")
    made.on_click(lambda _: does())
    return made


def labelled(box: Any, label: str) -> Any:
    """A box with its label above it, as the fields of a form have."""
    box.description_allow_html, box.description = True, f'<span class="shop-label">{e(label)}</span>'
    return box


def row(*children: Any, named: str = "") -> Any:
    """Side by side if there is space."""
    box = W.Box(children)
    box.add_class("jd-row")
    for name in named.split():
        box.add_class(name)
    return box


def heading(said: str) -> Any:
    """The heading of a part."""
    return W.HTML(f'<h4 class="shop-group">{e(said)}</h4>')


def outcome_html(outcome: object) -> str:
    """Sign and word."""
    word = str(outcome)
    if outcome is None or word not in SIGNS:
        return ""
    return f'<span class="jd-mark" data-outcome="{word}">{SIGNS[word]} {word}</span>'


def cell(value: Any) -> str:
    """Any typed value as HTML: text as text, a list of records as a table."""
    if isinstance(value, list) and value and all(isinstance(r, Mapping) for r in value):
        heads = list(dict.fromkeys(str(k) for r in value for k in r))
        top = "".join(f"<th>{e(as_words(h))}</th>" for h in heads)
        rows = "".join("<tr>" + "".join(f"<td>{cell(r.get(h, ''))}</td>" for h in heads) + "</tr>" for r in value)
        return f'<table class="jd-table"><tr>{top}</tr>{rows}</table>'
    if isinstance(value, list | tuple):
        return "; ".join(cell(v) for v in value)
    if isinstance(value, Mapping):
        return ", ".join(f"{e(as_words(k))} {cell(v)}" for k, v in value.items())
    return e(plain(value))


def plain(value: Any) -> str:
    """A text, a number, a yes or no, or nothing, as text."""
    return "" if value is None else "yes" if value is True else "no" if value is False else str(value)


def condition_choice() -> Any:
    """As found or as left: chosen by the person who saves, never guessed."""
    options = [(words, code) for code, words in CONDITION_WORDS.items()]
    made = W.Dropdown(options=options, value="", description="Engine")
    made.add_class("shop-keep-condition")
    return made
