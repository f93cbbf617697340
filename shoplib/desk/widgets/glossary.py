"""The glossary and the page of general cautions: text with its HTML, no buttons."""

from __future__ import annotations

from shoplib.core.terms import glossary
from shoplib.desk.widgets.templates import render
from shoplib.record.history import PHASES
from shoplib.topics import all_workings, cautions


class Glossary:
    """The words that need an explanation, in alphabetical order."""

    def __repr__(self) -> str:
        return "\n".join(f"{t.term}{f' ({t.unit})' if t.unit else ''}: {t.meaning}" for t in glossary())

    def _repr_html_(self) -> str:
        return render("glossary", "words", glossary())


def general_cautions() -> dict[str, list[str]]:
    """Every caution once, by the step of the job in which it first applies."""
    groups: dict[str, list[str]] = {}
    told: set[str] = set()
    for heading in dict.fromkeys(PHASES.values()):
        found = [c for w in all_workings().values() if PHASES.get(w.phase) == heading for c in w.cautions]
        if new := [c for c in dict.fromkeys(found) if c not in told]:
            groups[heading] = new
            told.update(new)
    if rest := [c for c in cautions.SHARED if c not in told]:
        groups["Also"] = rest
    return groups


class GeneralCautions:
    """All cautions on one page; a form shows at most five of them."""

    def __repr__(self) -> str:
        return "\n".join(
            line for heading, told in general_cautions().items() for line in (heading, *(f"- {c}" for c in told))
        )

    def _repr_html_(self) -> str:
        return render("glossary", "cautions", general_cautions())
