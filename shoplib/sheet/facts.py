"""The one fact about an entry that page 1 tells: what was found against its limit, or what was done."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from shoplib.core.checks import Check
from shoplib.core.working import Result

LONGEST = 150  # characters


def of(result: Result) -> str:
    """The fact of a working that has one of its own, else its worst check."""
    own = OF_WORKING.get(result.working.name)
    said = own(result) if own else _worst_check(result)
    return said if len(said) <= LONGEST else said[: LONGEST - 1] + "…"


def _worst_check(result: Result) -> str:
    order = ("fail", "undecided", "no limit given", "pass")
    checks = sorted(result.checks, key=lambda c: order.index(str(c.outcome)))
    if not checks:
        return ""
    worst = str(checks[0].outcome)
    same = [c for c in checks if str(c.outcome) == worst]
    if worst == "pass" and len({c.label for c in checks}) > 1:
        return f"all {len(checks)} checks pass"
    alone = len({c.label for c in checks}) == 1 and result.working.name in TOLD_BY_THE_TITLE
    told = _told(checks[0]) if alone else f"{_labelled(checks[0])}"
    if len(checks) == 1 or worst == "pass":
        return told
    doubtful = sum(str(c.outcome) == "undecided" for c in checks) if worst == "fail" else 0
    also = f", {doubtful} {'is' if doubtful == 1 else 'are'} undecided" if doubtful else ""
    return f"{told}; {len(same)} of {len(checks)} checks {WORDS[worst]}{also}"


def _labelled(check: Check) -> str:
    """The check in words; a gap that was only proved to be at least so large is told as such."""
    found, limit = check.told
    label = check.label.removesuffix(AT_LEAST)
    return (
        f"{label}: gap {found} or more, {limit}" if label != check.label and limit else f"{check.label}: {_told(check)}"
    )


TOLD_BY_THE_TITLE = ("measurement", "skim_allowance")
AT_LEAST = ", gap at least"
WORDS = {"fail": "fail", "undecided": "are undecided", "no limit given": "have no limit"}


def _told(check: Check) -> str:
    found, limit = check.told
    return f"{found}, {limit}" if limit else found


def _finds(result: Result) -> str:
    finds = result.values.get("finds")
    if finds is None or not finds.is_table:
        return result.values["summary"].shown
    return "; ".join(row["what"].shown for row in finds.value)


def _bolts(result: Result) -> str:
    kinds = result.values.get("kinds")
    named = [f"{r['thread'].shown} × {r['length'].shown}" for r in kinds.value] if kinds and kinds.is_table else []
    total, _, kinds_told = result.values["summary"].shown.partition(": ")
    told = f"{total} bolts, all new" if kinds_told == f"{total} new" else f"{total} bolts: {kinds_told}"
    return "; ".join([told, *named])


def _shown(*names: str) -> Callable[[Result], str]:
    def told(result: Result) -> str:
        values = [result.values[n] for n in names if n in result.values]
        return "; ".join(f"{v.label.lower()} {_plain(v.shown)}" for v in values)

    return told


def _plain(shown: str) -> str:
    """A value without the zeros that end it after the second decimal: 0.6550 mm is 0.655 mm."""
    return re.sub(r"(\.\d{2}\d*?)0+(?!\d)", r"\1", shown)


def _lubricant(result: Result) -> str:
    value = result.values.get("lubricant")
    return f"lubricant: {value.shown}" if value else ""


def _order(result: Result) -> str:
    back, asked = (result.values[name].shown for name in ("came_back", "asked"))
    return f"results returned for all {asked} items" if back == asked else f"results for {back} of {asked} items"


def _typed(name: str, words: str) -> Callable[[Result], str]:
    def told(result: Result) -> str:
        typed = result.inputs.as_entered.get(name)
        return f"{words} {typed}; {_worst_check(result)}" if typed else _worst_check(result)

    return told


OF_WORKING: Mapping[str, Callable[[Result], str]] = {
    "strip_log": _finds,
    "fastener_log": _bolts,
    "gasket_grade": _shown("grade", "governing"),
    "fluid_ledger": _shown("total_out", "total_in", "unaccounted"),
    "work_order": _order,
    "skim_allowance": _typed("cut", "cut"),
    "tightening_plan": _lubricant,
}
