"""The one fact about an entry that page 1 tells: what was found against its limit, or what was done."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping

from shoplib.core.checks import Check, gap_label, in_words
from shoplib.core.working import Result
from shoplib.sheet.formatting import with_point
from shoplib.topics.strip_down.strip_log import DONE, DRIVE, LIFTED, LOCK, PART, STEPS

LONGEST = 240  # characters
MAIN_STEPS = (LOCK, DRIVE, PART, LIFTED)  # of a strip-down, told on page 1
GOOD = "good"  # of a check of the first run
CURED = ("no leak, hot", "no white vapour when hot")  # what a complaint about a head joint is about
MOST_RETURNED = 3  # results of an order, one by one on page 1


def of(result: Result) -> str:
    """The fact of a working that has one of its own, else its worst check."""
    own = OF_WORKING.get(result.working.name)
    said = own(result) if own else _worst_check(result)
    return said if len(said) <= LONGEST else said[: LONGEST - 1] + "…"


def finding(result: Result | str | None) -> str:
    """What was found while the work was done; "" if nothing was noted."""
    finds = result.values.get("finds") if isinstance(result, Result) else None
    return "; ".join(row["what"].shown for row in finds.value) if finds is not None and finds.is_table else ""


def _worst_check(result: Result) -> str:
    order = ("fail", "undecided", "no limit given", "pass")
    checks = sorted(result.checks, key=lambda c: order.index(str(c.outcome)))
    if not checks:
        return ""
    worst = str(checks[0].outcome)
    same = [c for c in checks if str(c.outcome) == worst]
    if worst == "pass" and len({c.label for c in checks}) > 1:
        return "both checks pass" if len(checks) == 2 else f"all {len(checks)} checks pass"
    alone = len({c.label for c in checks}) == 1 and result.working.name in TOLD_BY_THE_TITLE
    told = _found_and_limit(checks[0]) if alone else f"{_labelled(checks[0])}"
    if len(checks) == 1 or worst == "pass":
        return told
    doubtful = sum(str(c.outcome) == "undecided" for c in checks) if worst == "fail" else 0
    also = f", {doubtful} {'is' if doubtful == 1 else 'are'} undecided" if doubtful else ""
    return f"{told}; {len(same)} of {len(checks)} checks {WORDS[worst][len(same) > 1]}{also}"


def _labelled(check: Check) -> str:
    return in_words(check.label, *check.told, None)


def of_a_gap(check: Check) -> tuple[str, str]:
    """The label of a check and the words around its reading: feeler leaves show a bound of a gap, not the gap."""
    label, words = gap_label(check.label) or (check.label, "{}")
    return label, words.removeprefix("gap ")


def largest_gaps(result: Result) -> str:
    """All lines of a face with the largest proven gap."""
    read = [(str(row["line"].shown), row["gap_low"].value, row["gap_high"].value)
            for row in result.values["brackets"].value if row["gap_low"].value is not None]  # fmt: skip
    largest = max(((low, math.inf if high is None else high) for _, low, high in read), default=None)
    same = [name for name, low, high in read if (low, math.inf if high is None else high) == largest]
    return "all are alike" if 1 < len(same) == len(read) else "; ".join(same)


TOLD_BY_THE_TITLE = ("measurement",)
BELOW = ", gap below"
WORDS = {  # of one check, of several
    "fail": ("fails", "fail"), "undecided": ("is undecided", "are undecided"),
    "no limit given": ("has no limit", "have no limit"),
}  # fmt: skip


def _found_and_limit(check: Check) -> str:
    found, limit = check.told
    return f"{found}, {limit}" if limit else found


def _steps(result: Result) -> str:
    """How many steps were done; the main ones by name."""
    drained = result.values.get("drained")
    done, _, _ = result.values["summary"].shown.rpartition(" ")
    told = [f"{done} steps done"]
    for row in result.inputs["steps"]:
        if row["state"] == DONE and row["step"] in MAIN_STEPS:
            told.append(
                f"{STEPS[row['step']]}" + (f" ({row['what']})" if row["what"] and row["step"] in (DRIVE, PART) else "")
            )
    if drained is not None and not drained.is_table:
        told.append(f"drained: {drained.shown}")
    return "; ".join(told)


def _compressed(result: Result) -> str:
    """The lowest cylinder and the highest reading, then the check."""
    readings = result.inputs.typed_items("readings")
    lowest = int(result.values["lowest_cylinder"].value)
    worst = _worst_check(result)
    return f"cylinder {lowest} lowest, {str(readings[lowest - 1]).strip()}; {worst[:1].lower()}{worst[1:]}"


def _with_reading(result: Result) -> str:
    """The worst check; where all pass, the largest reading against its limit."""
    told = _worst_check(result)
    read = [c for c in result.checks if isinstance(c.found.value, int | float) and c.limit is not None]
    if str(result.outcome) != "pass" or len(result.checks) < 2 or not read:
        return told
    return f"{_labelled(max(read, key=lambda c: float(c.found.value)))}; {told}"


def _line(result: Result) -> str:
    """A line of the straightedge is not a line of the record."""
    below = [c for c in result.checks if c.label.endswith(BELOW)]
    if str(result.outcome) == "pass" and below:
        return f"every gap below {_found_and_limit(max(below, key=lambda c: float(c.found.value)))}"
    return _worst_check(result).replace("Straightedge line “", "Straightedge “")  # page 1 is one page


def _typed(result: Result, name: str) -> str:
    """An input as typed, with the signs of print; "" if it was not typed."""
    said = result.inputs.as_entered.get(name)
    field = next(f for f in result.working.fields if f.name == name)
    return "" if said in (None, "") else field.spoken(said)


def _measured(result: Result) -> str:
    """The reading and both limits."""
    typed = _typed(result, "value")
    value = with_point(typed)
    limits = [
        f"{word} {with_point(said)}"
        for k, word in (("low", "at least"), ("high", "at most"))
        if (said := _typed(result, k))
    ]
    if value and len(limits) == 2:
        return f"{value}, must be {' and '.join(limits)}"
    told = _worst_check(result)
    return told.replace(typed, value) if value != typed else told


def what_was_measured(result: Result, title: str) -> str:
    """What a single measurement measured and where, as far as its title does not say it; "" if it says it all."""
    what, where = (str(result.inputs.as_entered.get(name) or "") for name in ("what", "where"))
    start, _, rest = what.partition(", ")
    if title.casefold().startswith(what.casefold()):
        return ""
    told = rest if rest and title.casefold().startswith(start.casefold()) else what
    return ", ".join(x for x in (told, where) if x)


def returned(result: Result) -> str:
    """The first results of an order, and how many more there are."""
    told = list(dict.fromkeys(f"{c.label.partition(', ')[0]}: {with_point(c.told[0])}" for c in result.checks))
    more = len(told) - MOST_RETURNED
    return "; ".join(told[:MOST_RETURNED]) + (f"; {more} more, all pass" if more > 0 else "")


def _balance(result: Result) -> str:
    """Litres out and in, and what is missing against its limit."""
    if "total_out" not in result.values or result.values["total_out"].value is None:
        return _worst_check(result)
    out, poured = (_plain(result.values[k].shown) for k in ("total_out", "total_in"))
    limit = _typed(result, "unaccounted_limit")
    return f"{out} out, {poured} in" + (f"; allowed difference {limit}" if limit else "")


def _run(result: Result) -> str:
    """How long, how hot and under which load the engine ran; where all is good, what was not seen."""
    told = [said for name in ("minutes", "load") if (said := _typed(result, name))]
    hottest = _typed(result, "highest")
    absent = [
        row["check"] + (f" ({row['reading']})" if row["reading"] else "")
        for row in result.inputs["checks"]
        if str(result.outcome) == "pass" and row["state"] == GOOD and row["check"] in CURED
    ]
    return "; ".join([*told, *([f"highest {hottest}"] if hottest else []), _worst_check(result), *absent])


def _bolts(result: Result) -> str:
    kinds = result.values.get("kinds")
    named = (
        [f"{_with_sign(r['thread'].shown)} × {_plain(r['length'].shown)}" for r in kinds.value]
        if kinds and kinds.is_table
        else []
    )
    total, _, kinds_told = result.values["summary"].shown.partition(": ")
    told = f"{total}, all new" if kinds_told == f"{total} new" else f"{total}: {kinds_told}"
    return "; ".join([told, *named])


def _graded(result: Result) -> str:
    """The grade, and the projection that decides it, which is calculated."""
    grade, governing = (_plain(result.values[name].shown) for name in ("grade", "governing"))
    return f"grade {grade}, for a calculated projection of {governing}"


def _with_sign(thread: str) -> str:
    """M10x1.25 as it is printed before a length."""
    return re.sub(r"(?<=\d)x(?=\d)", "×", thread)


def _plain(shown: str) -> str:
    """A value without the zeros that end it after the second decimal: 0.6550 mm is 0.655 mm."""
    return re.sub(r"(\.\d{2}\d*?)0+(?!\d)", r"\1", shown)


def _planned(result: Result) -> str:
    """A plan is not a tightening: how it was tightened is told separately."""
    stages, names = result.plot_data["stages"], result.plot_data["names"]
    return f"plan of {len(stages)} stages for {len(names)} bolts"


def _forecast(result: Result) -> str:
    """Heights of before the cut allow a forecast, not a reading: a pass is told by the height measured afterwards."""
    lowest = result.values.get("lowest_height")
    now = _plain(lowest.shown) if lowest else _typed(result, "measured_height")
    told = f"{now}; cut of {_typed(result, 'cut')} planned"
    return told if str(result.outcome) == "pass" else f"{told}; {_worst_check(result)}"


def _order(result: Result) -> str:
    back, asked = (result.values[name].shown for name in ("came_back", "asked"))
    if back == asked and str(result.outcome) == "pass":
        return f"all {asked} results returned, all pass"
    return f"results returned for all {asked} items" if back == asked else f"results for {back} of {asked} items"


OF_WORKING: Mapping[str, Callable[[Result], str]] = {
    "strip_log": _steps,
    "compression_test": _compressed,
    "flatness_lines": _line,
    "leak_down": _with_reading,
    "measurement": _measured,
    "fastener_log": _bolts,
    "gasket_grade": _graded,
    "fluid_ledger": _balance,
    "work_order": _order,
    "skim_allowance": _forecast,
    "tightening_plan": _planned,
    "run_up": _run,
}
