"""A card of unit pairs as a printable sheet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shoplib import __version__
from shoplib.core.checks import Value
from shoplib.core.units import show_number
from shoplib.core.working import Result
from shoplib.sheet.standalone_page import known_paper, typeset_alone
from shoplib.topics.torque.conversion_card import CONVERSION_CARD as CARD
from shoplib.topics.torque.conversion_card import ONE_RULE

ROWS_IN_ONE = 30  # more rows continue in a second table beside the first


def card_pdf(card: Result | Mapping[str, Any], *, paper: str = "a4", **options: Any) -> Any:
    """The card as PDF bytes (``format="png"`` for pages to look at).  Takes a result, or the inputs as typed.

    Raises BadInput naming every bad field.
    """
    result = card if isinstance(card, Result) else CARD(dict(card))
    known_paper(paper)
    record = {"conversion_card": {"inputs": result.to_json()["inputs"]}}
    return typeset_alone(page_of(result, paper), record, template="card.typ", **options)


def page_of(result: Result, paper: str) -> dict[str, Any]:
    """The data for the template."""
    rows = result["rows"]
    inputs = result.inputs
    half = len(rows) if len(rows) <= ROWS_IN_ONE else (len(rows) + 1) // 2
    cells = [[_number(v) for v in row.values()] for row in rows]
    return {
        "paper": paper,
        "version": __version__,
        "title": {"torque": "Torque in four units"}.get(inputs.kind, f"{inputs.kind.capitalize()} in both systems"),
        "range": result.plot_data["range"],
        "head": [v.label for v in rows[0].values()],
        "tables": [part for part in (cells[:half], cells[half:]) if part],
        "misread": inputs.kind == "torque",
        "rule": ONE_RULE,
        "cautions": result.labelled_cautions,
    }


def _number(value: Value) -> str:
    """The number alone; its unit is in the heading of the column."""
    return str(value.value) if value.unit is None else show_number(value.unit.from_si(value.value), value.digits)
