"""The evidence on the page: a search box over formulas and sources, and every comparison by its source."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import ipywidgets as W

from shoplib.core import evidence as ev
from shoplib.desk import STATIC
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.form import CSS as FORM_CSS
from shoplib.desk.widgets.root_widget import Ground
from shoplib.desk.widgets.static_fallback import AtRest

CSS = FORM_CSS + (STATIC / "evidence.css").read_text(encoding="utf-8")
SHOWN = 12  # up to this many formulas are shown with their comparisons; more are only listed
HINT = "a topic, a formula, a standard: coolant, preload, VDI 2230, from memory"


class Evidence(AtRest, W.VBox):
    """``Evidence()``: type a word to see the formulas and sources that contain it, with their evidence."""

    def __init__(self, words: str = "") -> None:
        self.box = W.Text(
            description="Find a formula or a source", placeholder=HINT, value=words, continuous_update=True
        )
        self.shown = W.HTML()
        super().__init__([Ground(CSS), self.box, self.shown])
        self.add_class("shop")
        self.add_class("shop-evidence")
        self.box.observe(self._show, "value")
        self._show()

    def _show(self, _: Any = None) -> None:
        self.shown.value = found_html(self.box.value)

    def text(self) -> str:
        """The summary of the evidence."""
        return ev.summary()

    def static_html(self) -> str:
        """The same text, with its line breaks."""
        return f"<pre>{e(self.text())}</pre>"


class Checks:
    """All comparisons by source: one line per source as text, every value in HTML."""

    def __repr__(self) -> str:
        return ev.by_source()

    def _repr_html_(self) -> str:
        parts = []
        for source, found in ev.sources().items():
            head = f"{e(source)} <small>{e(ev.MARKS[found[0]['mark']])} · {len(found)}</small>"
            parts.append(f"<details><summary>{head}</summary>{checks_html(found)}</details>")
        return f'<style>{CSS}</style><div class="shop shop-evidence">{"".join(parts)}</div>'


def checks_html(checks: Iterable[dict[str, str]], notices: Iterable[float] | None = None) -> str:
    """A table of comparisons; on a narrow screen each becomes a block of lines."""
    heads = ["Quantity", "Printed", "Computed", "Difference"]
    heads += ["Notes"] if notices is None else ["Would notice", "Notes"]
    rows = []
    errors = list(notices) if notices is not None else None
    for n, c in enumerate(checks):
        unit = f" {c['unit']}" if c["unit"] else ""
        notes = [c["note"]] if c["note"] else []
        if c["tolerance"] != "printed digits":
            notes.insert(0, c["tolerance"])
        if c["agrees"] == "stated":
            notes.insert(0, "✕ does not agree, as stated")
        cells = [c["what"], c["printed"] + unit, ev.computed(c) + unit, ev.deviation(c)]
        if errors is not None:
            cells.append(ev.percent(errors[n]))
        cells.append("; ".join(notes))
        rows.append("<tr>" + "".join(f"<td>{e(x)}</td>" for x in cells) + "</tr>")
    head = "".join(f"<th>{e(h)}</th>" for h in heads)
    kind = "" if notices is None else ' class="shop-notices"'
    return f"<table{kind}><thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table>"


def found_html(words: str) -> str:
    """The search results as HTML."""
    formulas, named = ev.found(words)
    if not formulas and not named:
        return f"<p>Nothing here contains “{e(words.strip())}”. Try a topic (coolant), a symbol or a standard.</p>"
    parts = [f"<p><b>{ev.count(len(formulas), 'formula')}</b>"]
    parts.append(f", <b>{ev.count(len(named), 'source')}</b>" if named else "")
    few = len(formulas) <= SHOWN
    parts.append("</p>" if few else f". Comparisons are shown when {SHOWN} or fewer formulas are found.</p>")
    parts += [formula_html(f, checks=few) for f in formulas]
    for source in named:
        mine = ev.sources()[source]
        head = f"{e(source)} <small>{e(ev.MARKS[mine[0]['mark']])} · {len(mine)}</small>"
        parts.append(f"<details><summary>{head}</summary>{checks_html(mine)}</details>")
    return "".join(parts)


def formula_html(f: dict[str, str], *, checks: bool) -> str:
    """A formula, its status, and the comparisons that support it."""
    s = ev.STANDINGS[f["standing"]]
    says = s.words
    if f["standing"] != "none":
        error = ev.percent(f["notices_percent"])
        says += f"; {ev.count(int(f['checks']), 'value')}, the most sensitive would notice an error of {error}"
    inner = ""
    if checks and (links := ev.checks_of(f["formula"])):
        table_ = checks_html([c for _, c in links], [p for p, _ in links])
        head = f"{ev.count(len(links), 'comparison')} that would notice an error"
        inner = f"<details><summary>{head}</summary>{table_}</details>"
    return (
        f'<div class="shop-stands shop-stands-{f["standing"]}"><h4>{e(ev.titled(f["formula"]))}</h4>'
        f'<p class="shop-equation">{e(f["equation"])}</p><p>{e(f["about"])}</p>'
        f"<p><small>{e(f['source'])}</small></p><p>{s.sign} {e(says)}</p>{inner}</div>"
    )
