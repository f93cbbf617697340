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
