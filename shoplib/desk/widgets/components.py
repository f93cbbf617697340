"""Small parts shared by the pages of the job desk: messages, boxes, buttons, times."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import ipywidgets as W
from markupsafe import Markup

from shoplib.core.errors import Problem
from shoplib.core.fields import Field, words
from shoplib.core.working import in_labels
from shoplib.desk.widgets.grid import Grid
from shoplib.desk.widgets.input_field import Entry
from shoplib.desk.widgets.templates import render
from shoplib.record.outcomes import CONDITION_WORDS

PAPERS = {"A4": "a4", "Letter": "letter"}  # label → code in the record


STATUS_SIGNS = {"good": ("✓", "status"), "bad": ("▲", "alert"), "wait": ("…", "status"), "": ("", "status")}


def said(state: str, words: str, more: str = "", *, named: str = "shop-said") -> str:
    """A sentence beside a control: "good", "bad" (no ✕: that is a check that fails), "wait", or "" for a plain one.

    ``more`` is trusted HTML, such as a link; ``named`` is its CSS class: shop-said, jd-said, tg-said.
    """
    sign, role = STATUS_SIGNS[state]
    trusted = Markup(more)  # noqa: S704 -- HTML of ours, such as a link
    return render("parts", "said", state, sign, role, words, trusted, named) if words else ""


class StatusMessage(W.HTML):
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


class TextAreaField(Entry):
    """An input of several lines."""

    def _make_box(self, value: Any) -> Any:
        return W.Textarea(value=value or "", placeholder=self.field.example.strip('"'), rows=3)


def set_typed(entry: Entry, value: Any) -> None:
    """Put a value into a box."""
    if isinstance(entry.box, Grid):
        names = [c.name for c in entry.box.columns]
        rows = [[str(r.get(n, "")) for n in names] for r in value or ()]
        entry.box.value = [*rows, [""] * len(names)]
    else:
        entry.box.value = str(value or "")


def show_errors(entries: Mapping[str, Entry], problems: Iterable[Problem]) -> list[Problem]:
    """Show each problem beside its box; return the problems without a box."""
    problems = tuple(problems)
    fields = [x.field for x in entries.values()] if problems else []
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
        where = _place_on_screen(problem.field.removeprefix(base), entries[base].field)
        example = problem.example or (_example(problem.field, entries[base].field) if why == "is missing" else "")
        told.setdefault(base, []).append(f"{where} {replace(problem, why=why, example=example).told}".strip())
        cells.setdefault(base, []).append(problem.field)
    for name, entry in entries.items():
        entry.show_errors(told.get(name, []))
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


def _place_on_screen(path: str, field: Field) -> str:
    """``[3].goes`` in a table as the screen shows it: row 3, “Leaf that fits”; ``[2]`` in a list: entry 2."""
    if field.item is not None and (entry := re.fullmatch(r"\[(\d+)\]", path)):
        return f"entry {entry[1]}:"
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
    return TextAreaField(words("because", "Reason", help="stays in the record", example=example), value)


def text_box(name: str, label: str, value: str = "", *, long: bool = False, **more: Any) -> Entry:
    """A text box."""
    field: Field = words(name, label, **more)
    return (TextAreaField if long else Entry)(field, value)


def button(said: str, does: Any, *, main: bool = False, tip: str = "") -> Any:
    """A button large enough for a glove."""
    made = W.Button(description=said, tooltip=tip or said, button_style="primary" if main else "")
    made.on_click(lambda _: does())
    return made


def labelled(box: Any, label: str) -> Any:
    """A box with its label above it, as the fields of a form have."""
    box.description_allow_html, box.description = True, render("parts", "label", label)
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
    return W.HTML(render("parts", "heading", said))


def condition_choice() -> Any:
    """As found or as left: chosen by the person who saves, never guessed."""
    options = [(words, code) for code, words in CONDITION_WORDS.items()]
    made = W.Dropdown(options=options, value="", description="Engine")
    made.add_class("shop-keep-condition")
    return made
