"""The common parts of pages without a job: their paper, a fixed date, and the attached record."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shoplib import __version__
from shoplib.core.errors import BadInput, Problem
from shoplib.record.jobfile_record import canonical

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # mm
FIXED_TIME = 1_767_225_600  # 2026-01-01: the same page gives the same bytes


def known_paper(paper: str) -> tuple[float, float]:
    """Width and height in mm; BadInput lists the sizes."""
    if paper not in PAPERS:
        raise BadInput([Problem("paper", f'"{str(paper)[:20]}" is not one of {", ".join(PAPERS)}', "a4")])
    return PAPERS[paper]


def typeset_alone(page: Mapping[str, Any], record: Mapping[str, Any], *, template: str, **options: Any) -> Any:
    """PDF bytes of a page (``format="png"`` for pages to look at), with its record attached."""
    from shoplib.sheet.render import render

    whole = canonical({"program": {"shoplib": __version__}, **record})
    return render(dict(page), whole, timestamp=FIXED_TIME, template=template, **options)
