"""The working ``compression_test``: which cylinder is low, and are two low cylinders neighbours."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core.checks import Outcome, Uncertainty, Value
from shoplib.core.fields import choice, judging, listing, quantity, sourced_limit, words
from shoplib.core.former import Former
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import below
from shoplib.core.units import Unreadable, bar, pct, read
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import compression
from shoplib.topics.diagnosis.cylinders import (
    BAR,
    MOST_CYLINDERS,
    PCT,
    SUGGESTS,
    Gauged,
    _measured,
    _missing_remark,
    _named,
)

# ------------------------------------------------------------------------------ cylinders along their banks
LAYOUT_HELP = "cylinder numbers along the bank, in order; a second bank after a semicolon"


def read_banks(typed: list[str], count: int, worksheet: Worksheet) -> list[list[int]]:
    """Cylinders of each bank in order.  Refuses what does not hold every cylinder once."""
    banks = [[int(n) for n in re.findall(r"\d+", item)] for bank in typed for item in re.split(r"[/|]", bank)]
    if any(re.sub(r"[\d\s,/|–\-]", "", item) for item in typed) or not all(banks):
        worksheet.refuse("layout", "must contain cylinder numbers only")
        return []
    flat = [n for bank in banks for n in bank]
    wanted = list(range(1, count + 1))
    if sorted(flat) == wanted:
        if all(len(bank) == 1 for bank in banks):
            worksheet.assume(f"layout {'; '.join(map(str, flat))} is read as one bank in this order")
            return [flat]
        return banks
    if all(len(bank) == 1 for bank in banks) and sum(flat) == count:  # sizes of the banks
        ends = np.cumsum([0, *flat]).tolist()
        banks = [wanted[a:b] for a, b in itertools.pairwise(ends)]
        worksheet.assume("cylinders are counted along the banks: " + "; ".join(" ".join(map(str, b)) for b in banks))
        return banks
    times = Counter(flat)
    twice = sorted(n for n, k in times.items() if k > 1)
    parts = [
        f"{word} {', '.join(map(str, numbers[:MOST_CYLINDERS]))}"
        for word, numbers in (
            ("lists twice", twice),
            ("does not list", [n for n in wanted if n not in times]),
            (f"for {count} readings has no", sorted(set(times) - set(wanted))),
        )
        if numbers
    ]
    worksheet.refuse("layout", "; ".join(parts))
    return []


def neighbours(banks: list[list[int]]) -> list[tuple[int, int]]:
    """Pairs of neighbours on one bank."""
    return [(a, b) for bank in banks for a, b in itertools.pairwise(bank)]


def _same_length(inputs: CompressionTestInputs, worksheet: Worksheet, name: str, count: int) -> None:
    if inputs.given(name) and len(inputs[name]) != count:
        worksheet.refuse(
            name, f"has {len(inputs[name])} readings, the other list has {count}; type — for a reading not taken"
        )


# ------------------------------------------------------------------------------ compression
RULES = {"lowest/highest": "lowest ÷ highest", "spread": "spread: highest minus lowest", "none": "no rule"}


def _limit_of(inputs: CompressionTestInputs, worksheet: Worksheet) -> tuple[float | None, Any]:
    """(limit in SI, the annotation of its unit) as the rule needs it."""
    if inputs.rule == "none":
        return None, pct
    if not inputs.given("limit"):
        return None, pct if inputs.rule == "lowest/highest" else bar
    wanted = ((PCT, pct),) if inputs.rule == "lowest/highest" else ((BAR, bar), (PCT, pct))
    said = ""
    for unit, annotation in wanted:
        try:
            value = read(inputs.limit, unit).value
        except Unreadable as error:
            said = said or str(error)
            continue
        if value <= 0 or (unit is PCT and value > 1):
            worksheet.refuse("limit", "is out of range", '"75 %"' if unit is PCT else '"3 bar"')
        return value, annotation
    worksheet.refuse("limit", said, '"75 %"' if inputs.rule == "lowest/highest" else '"3 bar" or "25 %"')
    return None, pct


Judged = dict[int, Outcome]  # cylinder → its own outcome by all limits given


def _of_highest(least: float, most: float, highest: tuple[float, float]) -> tuple[float, float]:
    """The least and the most that a cylinder can be as a part of the highest."""
    return least / highest[1], min(most / highest[0], 1.0) if highest[0] else 1.0


def each_cylinder(
    inputs: CompressionTestInputs, worksheet: Worksheet, dry: Gauged, bound: float | None, unit: Any
) -> Judged:
    """Every cylinder by the rule and by the lowest pressure allowed; nothing where neither was given."""
    judged = {}
    for n in dry.read:
        outcomes = []
        if bound is not None:
            outcomes.append(_by_rule(inputs, worksheet, (dry.least(n), dry.most(n)), dry, bound, unit))
        if inputs.given("minimum"):
            outcomes.append(worksheet.decided(dry.least(n), dry.most(n), "≥", inputs.minimum)[0])
        if outcomes:
            judged[n] = min(outcomes, key=list(Outcome).index)
    return judged


def _by_rule(
    inputs: CompressionTestInputs,
    worksheet: Worksheet,
    found: tuple[float, float],
    dry: Gauged,
    bound: float,
    unit: Any,
) -> Outcome:
    """A pressure somewhere between two values, by the rule of the source."""
    least, most = _of_highest(*found, dry.highest)
    if inputs.rule == "lowest/highest":
        return worksheet.decided(least, most, "≥", bound)[0]
    if unit is pct:
        return worksheet.decided(1 - most, 1 - least, "≤", bound)[0]
    return worksheet.decided(dry.highest[0] - found[1], dry.highest[1] - found[0], "≤", bound)[0]


@dataclass(frozen=True)
class LowPair:
    """Neighbours on one bank that are low together."""

    pairs: tuple[tuple[int, int], ...] = ()  # the lowest first
    why: str = ""


def low_pairs(dry: Gauged, banks: list[list[int]], judged: Judged) -> LowPair:
    """Neighbours both below a limit; else the two lowest, if the lowest is below a limit.

    The two lowest count only when they are neighbours and clearly below the others: closer to each other than to the
    next one, by more than the uncertainty of the readings.  Without a limit, low is not defined.
    """
    pairs = neighbours(banks)
    both = [(a, b) for a, b in pairs if judged.get(a) is judged.get(b) is Outcome.FAIL]
    if both:
        return LowPair(
            tuple(sorted(both, key=lambda ab: dry.read[ab[0]] + dry.read[ab[1]])), "both are below the limit"
        )
    apart = two_apart(dry, pairs)
    if apart and judged.get(min(apart, key=lambda n: dry.read[n])) is Outcome.FAIL:
        return LowPair((apart,), "they are the two lowest, clearly below the others")
    return LowPair()


def two_apart(dry: Gauged, pairs: list[tuple[int, int]]) -> tuple[int, int] | None:
    """The two lowest, if they are one of the pairs and below the others by more than the uncertainty."""
    order = sorted(dry.read, key=lambda n: dry.read[n])
    if len(order) < 3:
        return None
    first, second, third = order[:3]
    gap, doubt = dry.read[third] - dry.read[second], dry.half[third] + dry.half[second]
    if below(dry.read[second] - dry.read[first], gap) and below(doubt, gap):
        return next((ab for ab in pairs if set(ab) == {first, second}), None)
    return None


def run(inputs: CompressionTestInputs, worksheet: Worksheet) -> None:
    """Each cylinder against the highest, the user's rule, neighbours along the bank, and what oil changes."""
    count = len(inputs.readings)
    if count > MOST_CYLINDERS:
        worksheet.refuse("readings", f"has {count} cylinders; at most {MOST_CYLINDERS}")
        worksheet.raise_refusals()
    banks = read_banks(inputs.layout, count, worksheet)
    bound, unit = _limit_of(inputs, worksheet)
    _same_length(inputs, worksheet, "wet", count)
    _same_length(inputs, worksheet, "before", count)
    measured = _measured(inputs.readings)
    if len(measured) < 2:
        worksheet.refuse("readings", "has fewer than two readings; there is nothing to compare")
    elif max(measured.values()) == 0:
        worksheet.refuse("readings", "are all zero; check the gauge, the hose and the valve before the engine")
    worksheet.raise_refusals()
    dry, wet = Gauged.of(inputs, worksheet, "readings"), Gauged.of(inputs, worksheet, "wet")
    missing = [n for n in range(1, count + 1) if n not in dry]
    highest, lowest_at = max(measured.values()), min(measured, key=lambda n: measured[n])
    lowest = measured[lowest_at]
    k = worksheet.step("Lowest ÷ highest", compression.part_of_highest, p=lowest, p_max=highest)
    worksheet.result("lowest_to_highest", k, pct, "Lowest ÷ highest")
    worksheet.result("lowest_cylinder", lowest_at, None, "Lowest cylinder")
    worksheet.result("spread", worksheet.step("Spread", compression.spread, p_max=highest, p_min=lowest), bar, "Spread")
    relative = worksheet.step("Spread ÷ highest", compression.relative_spread, p_max=highest, p_min=lowest)
    worksheet.result("relative_spread", relative, pct, "Spread ÷ highest")
    judged = each_cylinder(inputs, worksheet, dry, bound, unit)
    low = low_pairs(dry, banks, judged)
    pair = list(low.pairs[0]) if low.pairs else []
    worksheet.result("adjacent_low_pair", pair, None, "Adjacent low cylinders, same bank")
    worksheet.result("cylinders", _rows(banks, inputs, highest), None, "Cylinder by cylinder")
    suggests = _suggests(worksheet, dry, wet, banks, judged, low)
    worksheet.result("suggests", suggests, None, "What the readings suggest")
    _judge(inputs, worksheet, dry, bound, unit, missing)
    if inputs.given("minimum"):
        worksheet.check(
            f"Lowest pressure, cylinder {lowest_at}", lowest, "≥", inputs.minimum, bar, inputs.minimum_source,
            uncertainty=worksheet.uncertainty("readings", lowest_at - 1), between=dry.lowest,
            missing=_missing_remark(missing),
        )  # fmt: skip
    if not inputs.given("conditions"):
        worksheet.caution(
            "Write down the oil temperature, the battery voltage and the throttle position: a closed throttle or a "
            "weak battery lowers all readings."
        )
    worksheet.plot_data.update(banks=banks, floor=_line(inputs, bound, unit, highest), pair=pair, judged=judged)


def _line(inputs: CompressionTestInputs, bound: float | None, unit: Any, highest: float) -> float | None:
    """The pressure at which all limits are just met, for the picture."""
    floors = [inputs.minimum] if inputs.given("minimum") else []
    if bound is not None:
        by_part = bound if inputs.rule == "lowest/highest" else 1 - bound
        floors.append(highest - bound if unit is bar else by_part * highest)
    return max(floors, default=None)


def _judge(
    inputs: CompressionTestInputs, worksheet: Worksheet, dry: Gauged, bound: float | None, unit: Any, missing: list[int]
) -> None:
    """The user's rule; a missing cylinder may let it fail, never pass."""
    if inputs.rule == "none":
        worksheet.judge(
            "Spread", worksheet.values["spread"].value, "≤", None, bar, None, Outcome.NO_LIMIT, "no rule was given"
        )
        return
    least, most = _of_highest(*dry.lowest, dry.highest)
    label, sign, name, between = "Spread", "≤", "relative_spread", (1 - most, 1 - least)
    if inputs.rule == "lowest/highest":
        label, sign, name, between = "Lowest ÷ highest", "≥", "lowest_to_highest", (least, most)
    elif unit is bar:
        name, between = "spread", (max(dry.highest[0] - dry.lowest[1], 0.0), dry.highest[1] - dry.lowest[0])
    worksheet.check(
        label, worksheet.values[name].value, sign, bound, unit, inputs.limit_source,
        uncertainty=Uncertainty((between[1] - between[0]) / 2), between=between, missing=_missing_remark(missing),
    )  # fmt: skip


def _rows(banks: list[list[int]], inputs: CompressionTestInputs, highest: float) -> list[dict[str, Value]]:
    """One row per cylinder, along the banks."""
    rows = []
    for b, bank in enumerate(banks, 1):
        for n in bank:
            p = inputs.readings[n - 1]
            row = {"cylinder": Value(n, None, "cylinder")}
            if len(banks) > 1:
                row["bank"] = Value(b, None, "bank")
            row["dry"] = Value(p, BAR, "dry", 3)
            part = None if p is None else float(compression.part_of_highest(p, highest))
            row["of_highest"] = Value(part, PCT, "of highest", 3)
            if inputs.given("wet"):
                p_w = inputs.wet[n - 1]
                row["wet"] = Value(p_w, BAR, "wet", 3)
                gain = None if p_w is None or not p else float(compression.wet_gain(p_w, p))
                row["gain"] = Value(gain, PCT, "gain", 2)
            if inputs.given("before"):
                row["before"] = Value(inputs.before[n - 1], BAR, "before", 3)
            rows.append(row)
    return rows


# ------------------------------------------------------------------------------ what the readings suggest, in words
def _suggests(
    worksheet: Worksheet, dry: Gauged, wet: Gauged, banks: list[list[int]], judged: Judged, low: LowPair
) -> str:
    """Every cylinder and every limit in words; a part of the engine is named only with "suggests"."""
    highest = max(dry.read.values())
    told = {
        n: f"Cylinder {n}, {worksheet.shown(p, BAR, 3)} ({worksheet.shown(p / highest, PCT, 3)} of the highest)"
        for n, p in dry.read.items()
    }
    lows = [n for n in sorted(dry.read) if judged.get(n) is Outcome.FAIL]
    near = [n for n in sorted(dry.read) if judged.get(n) is Outcome.UNDECIDED]
    said = [f"{told[n]}, is below the limit." for n in lows]
    said += [f"{told[n]}, is too close to the limit to decide." for n in near]
    if not judged:
        said.append(f"{told[min(dry.read, key=lambda n: dry.read[n])]}, is the lowest; no limit was given.")
    elif not said:
        said.append("Every cylinder that was measured is within the limit.")
    said += _pair_words(dry, banks, judged, low)
    asked = sorted({*lows, *(low.pairs[0] if low.pairs else ())})
    if not judged:
        asked = [min(dry.read, key=lambda n: dry.read[n])]
    sound = [n for n in dry.read if judged.get(n) is Outcome.PASS]
    said += [_wet_words(worksheet, n, dry, wet, sound) for n in asked if n in wet and dry.read[n]]
    if asked and not wet.read:
        said.append("A wet test would tell worn rings from a valve or gasket fault.")
    if len(lows) > len(dry.read) / 2 and len(dry.read) > 2:
        said.append("Most cylinders are low: that suggests the test itself (throttle, battery, gauge) or the timing.")
    return " ".join(said)


def _pair_words(dry: Gauged, banks: list[list[int]], judged: Judged, low: LowPair) -> list[str]:
    """Low neighbours; without a limit only what it would mean if they are low."""
    if low.pairs:
        a, b = low.pairs[0]
        also = f" (also {', '.join(f'{x} and {y}' for x, y in low.pairs[1:])})" if low.pairs[1:] else ""
        return [
            f"Cylinders {a} and {b} are neighbours on one bank and {low.why}{also}: "
            "that suggests the gasket between them."
        ]
    apart = two_apart(dry, neighbours(banks)) if not judged else None
    if apart is None:
        return []
    return [
        f"Cylinders {_named(list(apart))} are neighbours on one bank: they are by far the two lowest. "
        "Only a limit can tell whether they are low; if they are, that suggests the gasket between them."
    ]


def _wet_words(worksheet: Worksheet, n: int, dry: Gauged, wet: Gauged, sound: list[int]) -> str:
    """What oil changes in a low cylinder, compared with the sound ones; the only threshold is the uncertainty."""

    def rise(m: int) -> tuple[float, float]:
        return wet.read[m] - dry.read[m], wet.half[m] + dry.half[m]

    gain, doubt = rise(n)
    others = [m for m in sound if m != n and m in wet] or [m for m in wet.read if m != n and m in dry]
    amount = f"Cylinder {n} {'rises' if gain >= 0 else 'falls'} by {worksheet.shown(abs(gain), BAR, 2)} when wet"
    if not others:
        return (
            f"{amount}: take a wet reading of a sound cylinder too; only a rise beyond its own suggests rings or bore."
        )
    rises = [rise(m) for m in others]
    usual, doubt = sum(r for r, _ in rises) / len(rises), doubt + sum(u for _, u in rises) / len(rises)
    these = f"cylinder{'s' * (len(others) > 1)} {_named(others)}"
    average = " on average" * (len(others) > 1)
    compared = f"{amount}, {these} by {worksheet.shown(usual, BAR, 2)}{average}"
    if below(doubt, gain - usual):
        return f"{compared}: a larger rise than theirs suggests rings or bore."
    lacks = sum(dry.read[m] for m in others) / len(others) - dry.read[n]
    if below(doubt, lacks):
        return (
            f"{compared}. Cylinder {n} gains no more than the others. That suggests a valve, the gasket or the head "
            "rather than rings."
        )
    return f"{compared}: a difference too small for this gauge; it suggests nothing."


def _pressures(name: str, label: str, **more: Any) -> Any:
    item = quantity("reading", bar, "Reading", at_least=0.0, may_be_missing=True, example='"12.4 bar"')
    return listing(name, item, label, example='"12.4 bar; 12.1 bar; 9.1 bar; 9.3 bar"', **more)


class CompressionTestInputs(Inputs):
    """Inputs of ``compression_test``."""

    readings = _pressures(
        "readings",
        "Compression, cylinder 1, 2, 3 …",
        help="separated by semicolons; type “not measured” for one that is missing",
        group="Readings",
    )
    wet = _pressures(
        "wet", "Wet, in the same order", required=False, help="after adding a little oil", group="Readings"
    )
    before = _pressures("before", "Before the repair, same order", required=False, group="Readings")
    layout = listing(
        "layout",
        words("bank", "Bank"),
        "Cylinders along each bank",
        example='"1 2 3 4"',
        help=LAYOUT_HELP,
        group="Engine",
    )
    conditions = words(
        "conditions",
        "Conditions",
        required=False,
        example='"oil 80 °C, throttle open, battery on charger"',
        group="Engine",
    )
    rule = choice(
        "rule",
        "Rule in the source",
        RULES,
        example="lowest/highest",
        group="Rule",
    )
    limit = words(
        "limit",
        "Limit in that rule",
        required=False,
        only_when=("rule", "lowest/highest", "spread"),
        example='"75 %"',
        help="a percentage for lowest ÷ highest; a pressure or a percentage for spread",
        group="Rule",
    )
    limit_source = words(
        "limit_source",
        "Source of the limit in that rule",
        required=False,
        group="Rule",
        help="document, edition, page; without a source the result cannot be a pass",
        example='"workshop manual, 3rd edition, page 41"',
    )
    minimum, minimum_source = sourced_limit(
        "minimum", bar, "Lowest pressure allowed", above=0.0, example='"9 bar"', group="Rule"
    )
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(bar)


COMPRESSION_TEST = Working(
    name="compression_test",
    title="Compression test",
    question="which cylinder is low, and are two low cylinders neighbours",
    phase="prove",
    inputs=CompressionTestInputs,
    run=run,
    cautions=(
        "First disable fuel and ignition. Charge and connect the battery. Open the throttle.",
        GOVERNS,
        SUGGESTS,
        "If liquid may be in a cylinder, take out every spark plug, glow plug or injector. Stand clear of the holes "
        "and turn the engine by hand. Only then crank.",
        "While you crank, wear eye protection. Keep clear of belts, fan and open holes.",
    ),
    former=Former(labels={"Lowest over highest": ("Lowest ÷ highest",)}),
)
