"""The evidence on the page: a search box over formulas and sources, and every comparison by its source."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import ipywidgets as W

from shoplib.core import evidence
from shoplib.core.typed_text import with_signs
from shoplib.desk import STATIC
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.form import CSS as FORM_CSS
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.desk.widgets.templates import render

CSS = FORM_CSS + (STATIC / "evidence.css").read_text(encoding="utf-8")
HEADS = ("Quantity", "Printed", "Computed", "Difference")
SHOWN = 12  # up to this many formulas are shown with their comparisons; more are only listed
HINT = "a topic, a formula, a standard: coolant, preload, VDI 2230, from memory"


class Evidence(StaticFallback, W.VBox):
    """``Evidence()``: type a word to see the formulas and sources that contain it, with their evidence."""

    def __init__(self, words: str = "") -> None:
        self.box = W.Text(
            description="Find a formula or a source", placeholder=HINT, value=words, continuous_update=True
        )
        self.shown = W.HTML(tabbable=True)  # it scrolls in its box, also by keys
        super().__init__([RootWidget(CSS), self.box, self.shown])
        self.add_class("shop")
        self.add_class("shop-evidence")
        self.box.observe(self._show, "value")
        self._show()

    def _show(self, _: Any = None) -> None:
        self.shown.value = found_html(self.box.value)

    def text(self) -> str:
        """The summary of the evidence."""
        return evidence.summary()

    def static_html(self) -> str:
        """The same text, with its line breaks."""
        return f"<pre>{e(self.text())}</pre>"


class Checks:
    """All comparisons by source: one line per source as text, every value in HTML."""

    def __repr__(self) -> str:
        return evidence.by_source()

    def _repr_html_(self) -> str:
        return render("evidence", "page", CSS, [_source(name, checks) for name, checks in evidence.sources().items()])


class _Source(NamedTuple):
    name: str
    mark: str
    heads: list[str]
    rows: list[list[str]]


class _Formula(NamedTuple):
    standing: str
    title: str
    equation: str
    about: str
    source: str
    sign: str
    says: str
    summary: str
    heads: list[str]
    rows: list[list[str]]


def _source(name: str, checks: Sequence[dict[str, str]]) -> _Source:
    return _Source(name, evidence.MARKS[checks[0]["mark"]], [*HEADS, "Notes"], [_row(c) for c in checks])


def _row(check: dict[str, str], notices: float | None = None) -> list[str]:
    """A comparison as the cells of a table; ``notices``: the error that it would notice, in percent."""
    unit = f" {check['unit']}" if check["unit"] else ""
    notes = [check["note"]] if check["note"] else []
    if check["tolerance"] != "printed digits":
        notes.insert(0, check["tolerance"])
    if check["agrees"] == "stated":
        notes.insert(0, "✕ does not agree, as stated")
    cells = [check["what"], check["printed"] + unit, evidence.computed(check) + unit, evidence.deviation(check)]
    cells += [] if notices is None else [evidence.percent(notices)]
    return [with_signs(cell) for cell in (*cells, "; ".join(notes))]


def found_html(words: str) -> str:
    """The search results as HTML."""
    formulas, named = evidence.found(words)
    few = len(formulas) <= SHOWN
    sources = [_source(name, evidence.sources()[name]) for name in named]
    return render("evidence", "found", words.strip(), [_formula(f, checks=few) for f in formulas], sources, few, SHOWN)


def _formula(f: dict[str, str], *, checks: bool) -> _Formula:
    """A formula, its status, and the comparisons that support it."""
    status = evidence.STANDINGS[f["standing"]]
    says = status.words
    if f["standing"] != "none":
        error = evidence.percent(f["notices_percent"])
        says += f"; {evidence.count(int(f['checks']), 'value')}, the most sensitive would notice an error of {error}"
    links = evidence.checks_of(f["formula"]) if checks else []
    return _Formula(
        standing=f["standing"],
        title=evidence.titled(f["formula"]),
        equation=f["equation"],
        about=f["about"],
        source=f["source"],
        sign=status.sign,
        says=says,
        summary=f"{evidence.count(len(links), 'comparison')} that would notice an error",
        heads=[*HEADS, "Would notice", "Notes"],
        rows=[_row(check, notices) for notices, check in links],
    )
