"""Worked sheets: a record becomes a PDF, is read back from it, and is verified."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any


def typeset(record: Mapping[str, Any], *, format: str = "pdf", ppi: float | None = None) -> Any:
    """The sheet of a record: PDF bytes, or PNG pages.  The same record gives the same bytes."""
    from shoplib.record.document import canonical
    from shoplib.sheet.build import build
    from shoplib.sheet.render import render

    day = datetime.datetime.fromisoformat(record["job"]["date"]).replace(tzinfo=datetime.UTC)
    return render(build(record), canonical(record), timestamp=int(day.timestamp()), format=format, ppi=ppi)


def print_alone(name: str, typed: Mapping[str, Any], *, paper: str = "a4") -> bytes:
    """A drawing or card that is a printed page by itself: "degree_disc" or "conversion_card", as PDF bytes."""
    from shoplib.sheet.card import card_pdf
    from shoplib.sheet.dial import disc_pdf

    pdf: bytes = disc_pdf(typed, paper=paper) if name == "degree_disc" else card_pdf(typed, paper=paper)
    return pdf
