"""The words of the project: ``terms.csv`` is the glossary that people read and that the test of the language uses."""

from __future__ import annotations

import csv
import functools
from pathlib import Path
from typing import NamedTuple

TERMS = Path(__file__).parent / "terms.csv"


class Term(NamedTuple):
    """A word, and what it means."""

    term: str
    meaning: str  # empty for a word that needs no explanation, only a preference
    unit: str
    used: tuple[str, ...]  # numbers of the notebooks
    instead_of: tuple[str, ...]  # phrases that nobody should write


@functools.cache
def terms() -> tuple[Term, ...]:
    """All of them, in the order of the file."""
    with TERMS.open(encoding="utf-8", newline="") as file:
        return tuple(
            Term(
                row["term"],
                row["meaning"],
                row["unit"],
                tuple(row["used"].split()),
                tuple(w.strip() for w in row["instead_of"].split(";") if w.strip()),
            )
            for row in csv.DictReader(file)
        )


def glossary() -> list[Term]:
    """The words that need an explanation, in alphabetical order."""
    return sorted((t for t in terms() if t.meaning), key=lambda t: t.term.casefold())
