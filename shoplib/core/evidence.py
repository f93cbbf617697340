"""Why these numbers may be believed: every formula, every published check, and how small an error would be noticed.

The tables in ``data/evidence`` are written by the tests (``tests/evidence.py``).  Here they are read, searched and
shown as text; :mod:`shoplib.desk.widgets.evidence` shows them on the page.

Parameters that have one meaning in all functions:

- ``check``: a row of ``checks``
"""

from __future__ import annotations

import csv
import functools
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from shoplib.core.paths import DATA
from shoplib.core.typed_text import with_signs

FOLDER = DATA / "evidence"
NOTICED = 5.0  # per cent: a comparison answers for a formula when it would notice an error of this size


@dataclass(frozen=True)
class EvidenceLevel:
    """The best kind of check that answers for a formula; the sign and the words always stand together."""

    name: str
    sign: str
    words: str
    marks: tuple[str, ...]  # of the comparisons that give it


STANDINGS = {
    s.name: s
    for s in (  # from the best kind to none
        EvidenceLevel("published", "✓", "checked against a value read in a publication", ("read", "quoted")),
        EvidenceLevel("library", "✓", "checked against a reference library", ("library",)),
        EvidenceLevel("memory", "◆", "checked only against values from memory", ("from memory",)),
        EvidenceLevel("own", "○", "checked only by shoplib's own arithmetic", ("derived", "common practice")),
        EvidenceLevel("none", "✕", "no check would notice an error of five per cent", ()),
    )
}
INDEPENDENT = ("published", "library", "memory")
MARKS = {
    "read": "P · read in a copy of the source",
    "quoted": "P · read where another document quotes the source",
    "library": "L · a reference library's own calculation",
    "from memory": "M · from memory, no copy at hand",
    "common practice": "C · common practice of the trade, no source",
    "derived": "D · derived here, by another way",
}


def standing(marks: Iterable[str]) -> str:
    """The best kind of check among these marks.

    :param marks: one letter for each kind of check, such as P or D
    """
    found = set(marks)
    return next((s.name for s in STANDINGS.values() if found & set(s.marks)), "none")


# ------------------------------------------------------------------------------ the tables
@functools.cache
def table(name: str) -> list[dict[str, str]]:
    """The rows of ``checks`` or ``formulas``.

    :param name: ``checks`` or ``formulas``
    """
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def answers_for(check: dict[str, str]) -> dict[str, float]:
    """The formulas whose error a comparison would notice, each with that error in per cent."""
    pairs = (part.rpartition(" ") for part in check["answers_for"].split("; ") if part)
    return {formula: float(error) for formula, _, error in pairs}


@functools.cache
def checks_of(formula: str) -> list[tuple[float, dict[str, str]]]:
    """The comparisons that answer for a formula, best marks first, each with the error in per cent it would notice.

    :param formula: its name, such as ``angle.elastic_gain``
    """
    links = [(found[formula], c) for c in table("checks") if formula in (found := answers_for(c))]
    return sorted(links, key=lambda link: (list(MARKS).index(link[1]["mark"]), link[0], link[1]["check"]))


def by_standing(*names: str) -> list[dict[str, str]]:
    """The formulas that stand so.

    :param names: of the levels, best first
    """
    return [f for f in table("formulas") if f["standing"] in names]


def sources() -> dict[str, list[dict[str, str]]]:
    """Comparisons by their source, those of the best marks first."""
    found: dict[str, list[dict[str, str]]] = {}
    for c in sorted(table("checks"), key=lambda c: (list(MARKS).index(c["mark"]), c["source"])):
        found.setdefault(c["source"], []).append(c)
    return found


# ------------------------------------------------------------------------------ one comparison
def decimals(printed: str) -> int | None:
    """Digits after the point of a printed number; None when it is none, such as ``≥ 28``.

    :param printed: as the source prints it
    """
    try:
        float(printed)
    except ValueError:
        return None
    return None if "e" in printed else len(printed.partition(".")[2])


def computed(check: dict[str, str]) -> str:
    """The computed value to two digits beyond the printed one."""
    digits = decimals(check["printed"])
    return check["computed"] if digits is None else _fixed(float(check["computed"]), min(digits + 2, 12))


def deviation(check: dict[str, str]) -> str:
    """Computed less printed: in units of the last printed digit, and in per cent."""
    digits = decimals(check["printed"])
    if digits is None:
        return "–"
    difference = float(check["computed"]) - float(check["printed"])
    units = f"{_signed(difference * 10**digits, 1)} of the last digit"
    if check["mark"] == "library" or digits > 8:  # a library prints as many digits as one likes
        units = ""
    printed = float(check["printed"])
    percent = f"{_signed(100 * difference / printed, 3)} %" if printed else ""
    return ", ".join(part for part in (units, percent) if part) or "–"


def _fixed(x: float, digits: int) -> str:
    return f"{x:.{digits}f}".replace("-", "−")


def _signed(x: float, digits: int) -> str:
    shown = f"{x:+.{digits}f}".replace("-", "−")
    return "0" if not shown.strip("+−0.") else shown


def percent(x: float | str) -> str:
    """``0.0013 %`` and not ``1.3e-03 %``; below a millionth it is nothing anybody measures.

    :param x: in per cent
    """
    value = float(x)
    if value < 1e-6:
        return "less than 0.000001 %"
    return f"{value:.8f}".rstrip("0").rstrip(".") + " %"


def titled(formula: str) -> str:
    """``angle.elastic_gain`` as people say it.

    :param formula: its name, such as ``angle.elastic_gain``
    """
    topic, _, name = formula.partition(".")
    return f"{name.replace('_', ' ').capitalize()} ({topic.replace('_', ' ')})"


# ------------------------------------------------------------------------------ as text
def summary() -> str:
    """How many formulas and comparisons there are, and how they stand."""
    formulas, checks = table("formulas"), table("checks")
    lines = [f"{len(formulas)} formulas, {len(checks)} comparisons with {len(sources())} sources", ""]
    for s in STANDINGS.values():
        lines.append(f"{len(by_standing(s.name)):4} {s.sign} {s.words}")
    lines += ["", "Comparisons by the mark of their source"]
    for mark, words in MARKS.items():
        lines.append(f"{sum(c['mark'] == mark for c in checks):4} {words}")
    stated = sum(c["agrees"] == "stated" for c in checks)
    lines.append(f"{stated:4} of them do not agree with what is printed; each says why")
    return "\n".join(lines)


def unchecked() -> str:
    """Formulas without an independent check, first those that are more than one operation."""
    found = sorted(by_standing("none", "own"), key=lambda f: f["formula"])
    groups: list[tuple[str, Callable[[dict[str, str]], bool]]] = [
        ("More than one operation", lambda f: int(f["operations"]) > 1),
        ("One operation: a sum, difference, product or quotient of two numbers", lambda f: int(f["operations"]) <= 1),
    ]
    lines = [f"{len(found)} of {len(table('formulas'))} formulas have no independent check.", ""]
    for title, belongs in groups:
        mine = [f for f in found if belongs(f)]
        lines += [f"{title} ({len(mine)})", ""]
        for f in mine:
            lines += _entry(f)
    return "\n".join(lines).rstrip()


def from_memory() -> str:
    """Formulas that were checked, but only against values nobody had a copy of."""
    found = by_standing("memory")
    lines = [f"{len(found)} formulas are checked only against values from memory.", ""]
    for f in found:
        lines += _entry(f)
    return "\n".join(lines).rstrip()


def checked() -> str:
    """Formulas with a check from outside, by topic."""
    found = by_standing("published", "library")
    lines = [f"{len(found)} formulas are checked against publications or reference libraries.", ""]
    for f in found:
        lines += _entry(f)
    return "\n".join(lines).rstrip()


def _entry(f: dict[str, str]) -> list[str]:
    s = STANDINGS[f["standing"]]
    lines = [f"{s.sign} {titled(f['formula'])}", f"    {f['equation']}", f"    Source: {f['source']}"]
    if f["standing"] == "none":
        lines.append("    No check.")
    else:
        sharpest = percent(f["notices_percent"])
        lines.append(f"    {count(int(f['checks']), 'value')}; the sharpest would notice an error of {sharpest}")
    lines.append("")
    return lines


def disagreements() -> str:
    """Where a source and the formula do not agree, and what is right."""
    found = [c for c in table("checks") if c["agrees"] == "stated"]
    lines = [f"{len(found)} printed values could not be reproduced. No tolerance was widened for them.", ""]
    for c in found:
        unit = f" {c['unit']}".rstrip()
        lines += [
            f"{c['what']}: printed {c['printed']}{unit}, computed {computed(c)}{unit}",
            f"    {c['tolerance']}",
            f"    {c['source']}",
            *([f"    {c['note']}"] if c["note"] else []),
        ]
    return with_signs("\n".join(lines))


def by_source() -> str:
    """A line a source: its mark, how many values, how many do not agree."""
    lines = []
    for source, found in sources().items():
        letter = MARKS[found[0]["mark"]][0]
        stated = sum(c["agrees"] == "stated" for c in found)
        disagree = f", {count(stated, 'stated disagreement')}" if stated else ""
        lines.append(f"{letter} {source}: {count(len(found), 'value')}{disagree}")
    return "\n".join(lines)


def count(n: int, word: str) -> str:
    """``1 value``, ``3 values``.

    :param n: how many
    :param word: for one of them
    """
    return f"{n} {word}{'s' * (n != 1)}"


# ------------------------------------------------------------------------------ looking for something
def found(words: str) -> tuple[list[dict[str, str]], list[str]]:
    """Formulas and sources that hold every one of the words; all formulas, the unchecked ones first, for no word.

    :param words: as they were typed, separated by spaces
    """
    wanted = words.casefold().split()

    def holds(*texts: str) -> bool:
        whole = " ".join(texts).casefold()
        return all(w in whole for w in wanted)

    order = list(STANDINGS)[::-1]
    formulas = [
        f
        for f in table("formulas")
        if holds(titled(f["formula"]), f["source"], f["about"], STANDINGS[f["standing"]].words)
    ]
    formulas.sort(key=lambda f: (order.index(f["standing"]), f["formula"]))
    return formulas, [s for s in sources() if wanted and holds(s)]
