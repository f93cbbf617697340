"""The one fact about an entry that page 1 tells: what was found against its limit, or what was done."""

from __future__ import annotations

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
    told = _told(checks[0]) if len({c.label for c in checks}) == 1 else f"{checks[0].label}: {_told(checks[0])}"
    return told + (
        f"; {len(same)} of {len(checks)} checks {WORDS[worst]}" if len(checks) > 1 and worst != "pass" else ""
    )


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
    return "; ".join([result.values["summary"].shown, *named])


def _shown(*names: str) -> Callable[[Result], str]:
    def told(result: Result) -> str:
        values = [result.values[n] for n in names if n in result.values]
        return "; ".join(f"{v.label.lower()} {v.shown}" for v in values)

    return told


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
    "work_order": _shown("came_back", "asked"),
    "skim_allowance": _typed("cut", "cut"),
    "tightening_plan": _shown("lubricant"),
}
