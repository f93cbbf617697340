"""The summary of an audit as a page: whatever stands in the archive is text."""

from __future__ import annotations

from pathlib import Path

from shoplib.audit.examine import HOLDS, NOT_READ, OPEN, OTHER, WRONG
from shoplib.audit.run import Audited

MOST = 500  # items that are listed
STATES = (HOLDS, OPEN, WRONG, NOT_READ, OTHER)


def page(target: str, found: Audited) -> str:
    """The page as HTML."""
    from jinja2 import Environment, StrictUndefined

    source = Path(__file__).with_name("summary.html").read_text(encoding="utf-8")
    template = Environment(autoescape=True, undefined=StrictUndefined).from_string(source)
    results = found.results
    counts = results.groupby(["kind", "state"]).size()
    kinds = [(k, {s: int(counts.get((k, s), 0)) for s in STATES}) for k in sorted(set(results["kind"]))]
    wrong = results[results["state"].isin([WRONG, NOT_READ])]
    return template.render(
        target=target, results=results, examined=found.examined, seconds=found.seconds, states=STATES, kinds=kinds,
        wrong=list(wrong.head(MOST).itertuples()), more=max(len(wrong) - MOST, 0), unusual=found.unusual,
    )  # fmt: skip
