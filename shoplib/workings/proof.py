"""Proving the fault and the repair: compression, leak-down, pressure hold.  They suggest; they never confirm."""

from __future__ import annotations

import itertools
import math
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.checks import Outcome, Uncertainty, Value, added
from shoplib.core.rounding import at_most, below
from shoplib.look import ACCENT, INK, PALE, PALER, SOFT, WARM, frame, settle
from shoplib.physics import compression as c
from shoplib.physics import pressure as q
from shoplib.units import Unreadable, bar, degC, kPa, minute, pct, read, show, unit_of
from shoplib.working import (
    GOVERNS,
    Inputs,
    Result,
    Working,
    Worksheet,
    choice,
    half_digit_in_si,
    judging,
    limit,
    listing,
    quantity,
    table,
    words,
)

SUGGESTS = "A reading suggests; it proves nothing alone. Let two tests agree before taking the engine apart."
BAR, PCT, KPA, MINUTE = unit_of(bar), unit_of(pct), unit_of(kPa), unit_of(minute)
MOST_CYLINDERS = 16

# ------------------------------------------------------------------------------ cylinders along their banks
LAYOUT_HELP = "cylinder numbers along the bank, in order; a second bank after a semicolon"


def read_banks(typed: list[str], count: int, w: Worksheet) -> list[list[int]]:
    """Cylinders of each bank in order.  Refuses what does not hold every cylinder once."""
    banks = [[int(n) for n in re.findall(r"\d+", item)] for bank in typed for item in re.split(r"[/|]", bank)]
    if any(re.sub(r"[\d\s,/|–\-]", "", item) for item in typed) or not all(banks):
        w.refuse("layout", "holds more than cylinder numbers")
        return []
    flat = [n for bank in banks for n in bank]
    wanted = list(range(1, count + 1))
    if sorted(flat) == wanted:
        if len(banks) > 1 and all(len(bank) == 1 for bank in banks):
            w.assume(f"layout {'; '.join(map(str, flat))} is read as one bank in this order")
            return [flat]
        return banks
    if all(len(bank) == 1 for bank in banks) and sum(flat) == count:  # sizes of the banks
        ends = np.cumsum([0, *flat]).tolist()
        banks = [wanted[a:b] for a, b in itertools.pairwise(ends)]
        w.assume("cylinders are counted along the banks: " + "; ".join(" ".join(map(str, b)) for b in banks))
        return banks
    times = Counter(flat)
    twice = sorted(n for n, k in times.items() if k > 1)
    parts = [
        f"{word} {', '.join(map(str, numbers[:MOST_CYLINDERS]))}"
        for word, numbers in (
            ("names twice", twice),
            ("leaves out", [n for n in wanted if n not in times]),
            (f"for {count} readings has no", sorted(set(times) - set(wanted))),
        )
        if numbers
    ]
    w.refuse("layout", " and ".join(parts))
    return []


def neighbours(banks: list[list[int]]) -> list[tuple[int, int]]:
    """Pairs that stand side by side on one bank."""
    return [(a, b) for bank in banks for a, b in itertools.pairwise(bank)]


def _measured(values: list[float | None]) -> dict[int, float]:
    return {n: v for n, v in enumerate(values, 1) if v is not None}


def _named(numbers: list[int]) -> str:
    """ "3", "3 and 4", "2, 3 and 4"."""
    *first, last = map(str, numbers)
    return f"{', '.join(first)} and {last}" if first else last


def _same_length(i: Inputs, w: Worksheet, name: str, count: int) -> None:
    if i.given(name) and len(getattr(i, name)) != count:
        w.refuse(name, f"has {len(getattr(i, name))} readings, the other list {count}; type — for one not taken")


# ------------------------------------------------------------------------------ compression
RULES = ("lowest/highest", "spread", "none")


def _limit_of(i: Inputs, w: Worksheet) -> tuple[float | None, Any]:
    """(limit in SI, its unit's annotation) as the rule wants it."""
    if i.rule == "none":
        if i.given("limit"):
            w.refuse("limit", "does not go with rule none; name the rule that it belongs to", '"75 %"')
        return None, pct
    if not i.given("limit"):
        return None, pct if i.rule == "lowest/highest" else bar
    wanted = ((PCT, pct),) if i.rule == "lowest/highest" else ((BAR, bar), (PCT, pct))
    said = ""
    for unit, annotation in wanted:
        try:
            value = read(i.limit, unit).value
        except Unreadable as error:
            said = said or str(error)
            continue
        if value <= 0 or (unit is PCT and value > 1):
            w.refuse("limit", "is out of range", '"75 %"' if unit is PCT else '"3 bar"')
        return value, annotation
    w.refuse("limit", said, '"75 %"' if i.rule == "lowest/highest" else '"3 bar" or "25 %"')
    return None, pct


@dataclass(frozen=True)
class Gauged:
    """The measured cylinders: what was read, and the half-width of what each reading leaves possible."""

    read: dict[int, float]
    half: dict[int, float]

    @classmethod
    def of(cls, i: Inputs, w: Worksheet, name: str) -> Gauged:
        """The readings of an input; not those that are missing."""
        found = _measured(getattr(i, name) or [])
        return cls(found, {n: w.counted(w.uncertainty(name, n - 1)) for n in found})

    def __contains__(self, n: int) -> bool:
        return n in self.read

    def least(self, n: int) -> float:
        """The least that it can be; a pressure or a leakage is never below zero."""
        return max(self.read[n] - self.half[n], 0.0)

    def most(self, n: int) -> float:
        """The most that it can be."""
        return self.read[n] + self.half[n]

    @property
    def lowest(self) -> tuple[float, float]:
        """The least and the most that the lowest of them can be."""
        return min(map(self.least, self.read)), min(map(self.most, self.read))

    @property
    def highest(self) -> tuple[float, float]:
        """The least and the most that the highest of them can be."""
        return max(map(self.least, self.read)), max(map(self.most, self.read))


Judged = dict[int, Outcome]  # cylinder → its own outcome by all limits given


def _of_highest(least: float, most: float, highest: tuple[float, float]) -> tuple[float, float]:
    """The least and the most that a cylinder can be as a part of the highest."""
    return least / highest[1], min(most / highest[0], 1.0) if highest[0] > 0 else 1.0


def each_cylinder(i: Inputs, w: Worksheet, dry: Gauged, bound: float | None, unit: Any) -> Judged:
    """Every cylinder by the rule and by the lowest pressure allowed; nothing where neither was given."""
    judged = {}
    for n in dry.read:
        outcomes = []
        if bound is not None:
            outcomes.append(_by_rule(i, w, (dry.least(n), dry.most(n)), dry, bound, unit))
        if i.given("minimum"):
            outcomes.append(w.decided(dry.least(n), dry.most(n), "≥", i.minimum)[0])
        if outcomes:
            judged[n] = min(outcomes, key=list(Outcome).index)
    return judged


def _by_rule(i: Inputs, w: Worksheet, found: tuple[float, float], dry: Gauged, bound: float, unit: Any) -> Outcome:
    """A pressure somewhere between two values, by the rule of the source."""
    least, most = _of_highest(*found, dry.highest)
    if i.rule == "lowest/highest":
        return w.decided(least, most, "≥", bound)[0]
    if unit is pct:
        return w.decided(1 - most, 1 - least, "≤", bound)[0]
    return w.decided(max(dry.highest[0] - found[1], 0.0), dry.highest[1] - found[0], "≤", bound)[0]


@dataclass(frozen=True)
class LowPair:
    """Neighbours on one bank that are low together."""

    pairs: tuple[tuple[int, int], ...] = ()  # the lowest first
    why: str = ""


def low_pairs(dry: Gauged, banks: list[list[int]], judged: Judged) -> LowPair:
    """Neighbours both below a limit; else the two lowest, if the lowest is below a limit.

    The two lowest count only when they are neighbours and stand apart: closer to each other than to the next one, by
    more than the readings are uncertain.  Without a limit nobody knows that they are low.
    """
    pairs = [(a, b) for a, b in neighbours(banks) if a in dry and b in dry]
    both = [(a, b) for a, b in pairs if judged.get(a) is judged.get(b) is Outcome.FAIL]
    if both:
        return LowPair(
            tuple(sorted(both, key=lambda ab: dry.read[ab[0]] + dry.read[ab[1]])), "both are below the limit"
        )
    apart = two_apart(dry, pairs)
    if apart and judged.get(min(apart, key=lambda n: dry.read[n])) is Outcome.FAIL:
        return LowPair((apart,), "they are the two lowest and stand apart from the others")
    return LowPair()


def two_apart(dry: Gauged, pairs: list[tuple[int, int]]) -> tuple[int, int] | None:
    """The two lowest, if they are one of the pairs and stand apart from the others by more than the uncertainty."""
    order = sorted(dry.read, key=lambda n: dry.read[n])
    if len(order) < 3:
        return None
    first, second, third = order[:3]
    gap, doubt = dry.read[third] - dry.read[second], dry.half[third] + dry.half[second]
    if below(dry.read[second] - dry.read[first], gap) and below(doubt, gap):
        return next((ab for ab in pairs if set(ab) == {first, second}), None)
    return None


def run_compression(i: Inputs, w: Worksheet) -> None:
    """Each cylinder against the highest, the user's rule, neighbours along the bank, and what oil changes."""
    count = len(i.readings)
    if count > MOST_CYLINDERS:
        w.refuse("readings", f"holds {count} cylinders; at most {MOST_CYLINDERS}")
        w.door()
    banks = read_banks(i.layout, count, w)
    bound, unit = _limit_of(i, w)
    _same_length(i, w, "wet", count)
    _same_length(i, w, "before", count)
    measured = _measured(i.readings)
    if len(measured) < 2:
        w.refuse("readings", "holds fewer than two readings; nothing can be compared")
    elif max(measured.values()) == 0:
        w.refuse("readings", "are all zero; look at gauge, hose and valve before the engine")
    w.door()
    dry, wet = Gauged.of(i, w, "readings"), Gauged.of(i, w, "wet")
    missing = [n for n in range(1, count + 1) if n not in dry]
    highest, lowest_at = max(measured.values()), min(measured, key=lambda n: measured[n])
    lowest = measured[lowest_at]
    k = w.step("Lowest over highest", c.part_of_highest, p=lowest, p_max=highest)
    w.result("lowest_to_highest", k, pct, "Lowest over highest")
    w.result("lowest_cylinder", lowest_at, None, "Lowest cylinder")
    w.result("spread", w.step("Spread", c.spread, p_max=highest, p_min=lowest), bar, "Spread")
    relative = w.step("Spread over the highest", c.relative_spread, p_max=highest, p_min=lowest)
    w.result("relative_spread", relative, pct, "Spread over the highest")
    judged = each_cylinder(i, w, dry, bound, unit)
    low = low_pairs(dry, banks, judged)
    pair = list(low.pairs[0]) if low.pairs else []
    w.result("adjacent_low_pair", pair, None, "Low neighbours on one bank")
    w.result("cylinders", _rows(banks, i, highest), None, "Cylinder by cylinder")
    w.result("suggests", _suggests(i, dry, wet, banks, judged, low), None, "Suggests")
    _judge(i, w, dry, bound, unit, missing)
    if i.given("minimum"):
        w.check(
            f"Lowest pressure, cylinder {lowest_at}", lowest, "≥", i.minimum, bar, i.minimum_source,
            uncertainty=w.uncertainty("readings", lowest_at - 1), between=dry.lowest,
            missing=_missing_remark(missing),
        )  # fmt: skip
    if not i.given("conditions"):
        w.caution(
            "Write down oil temperature, battery and throttle: a closed throttle or a tired battery lowers them all."
        )
    w.curve.update(banks=banks, floor=_line(i, bound, unit, highest), pair=pair, judged=judged)


def _line(i: Inputs, bound: float | None, unit: Any, highest: float) -> float | None:
    """The pressure at which all limits are just met, for the picture."""
    floors = [i.minimum] if i.given("minimum") else []
    if bound is not None:
        by_part = bound if i.rule == "lowest/highest" else 1 - bound
        floors.append(highest - bound if unit is bar else by_part * highest)
    return max(floors, default=None)


def _missing_remark(missing: list[int]) -> str:
    return f"cylinder {_named(missing)} not measured" if missing else ""


def _judge(i: Inputs, w: Worksheet, dry: Gauged, bound: float | None, unit: Any, missing: list[int]) -> None:
    """The user's rule; a missing cylinder may let it fail, never pass."""
    if i.rule == "none":
        w.judge("Spread", w.values["spread"].value, "≤", None, bar, None, Outcome.NO_LIMIT, "no rule was given")
        return
    least, most = _of_highest(*dry.lowest, dry.highest)
    label, sign, name, between = "Spread", "≤", "relative_spread", (1 - most, 1 - least)
    if i.rule == "lowest/highest":
        label, sign, name, between = "Lowest over highest", "≥", "lowest_to_highest", (least, most)
    elif unit is bar:
        name, between = "spread", (max(dry.highest[0] - dry.lowest[1], 0.0), dry.highest[1] - dry.lowest[0])
    w.check(
        label, w.values[name].value, sign, bound, unit, i.limit_source,
        uncertainty=Uncertainty((between[1] - between[0]) / 2), between=between, missing=_missing_remark(missing),
    )  # fmt: skip


def _rows(banks: list[list[int]], i: Inputs, highest: float) -> list[dict[str, Value]]:
    """One row a cylinder, along the banks."""
    rows = []
    for b, bank in enumerate(banks, 1):
        for n in bank:
            p = i.readings[n - 1]
            row = {"cylinder": Value(n, None, "cylinder")}
            if len(banks) > 1:
                row["bank"] = Value(b, None, "bank")
            row["dry"] = Value(p, BAR, "dry", 3)
            part = None if p is None else float(c.part_of_highest(p, highest))
            row["of_highest"] = Value(part, PCT, "of highest", 3)
            if i.given("wet"):
                p_w = i.wet[n - 1]
                row["wet"] = Value(p_w, BAR, "wet", 3)
                gain = None if p_w is None or not p else float(c.wet_gain(p_w, p))
                row["gain"] = Value(gain, PCT, "gain", 2)
            if i.given("before"):
                row["before"] = Value(i.before[n - 1], BAR, "before", 3)
            rows.append(row)
    return rows


# ------------------------------------------------------------------------------ what the readings suggest, in words
def _suggests(i: Inputs, dry: Gauged, wet: Gauged, banks: list[list[int]], judged: Judged, low: LowPair) -> str:
    """Every cylinder and every limit in words; a part of the engine is named only with "suggests"."""
    highest = max(dry.read.values())
    told = {n: f"Cylinder {n}, {_bar(p)} ({100 * p / highest:.1f} % of the highest)" for n, p in dry.read.items()}
    lows = [n for n in sorted(dry.read) if judged.get(n) is Outcome.FAIL]
    near = [n for n in sorted(dry.read) if judged.get(n) is Outcome.UNDECIDED]
    said = [f"{told[n]}, is below the limit." for n in lows]
    said += [f"{told[n]}, is too near the limit to tell." for n in near]
    if not judged:
        said.append(f"{told[min(dry.read, key=lambda n: dry.read[n])]}, is the lowest; no limit was given.")
    elif not said:
        said.append("Every cylinder that was measured is within the limit.")
    said += _pair_words(dry, banks, judged, low)
    asked = sorted({*lows, *(low.pairs[0] if low.pairs else ())})
    if not judged:
        asked = [min(dry.read, key=lambda n: dry.read[n])]
    sound = [n for n in dry.read if judged.get(n) is Outcome.PASS]
    said += [_wet_words(n, dry, wet, sound) for n in asked if n in wet and dry.read[n] > 0]
    if asked and not wet.read:
        said.append("A wet test of the low cylinders would suggest whether it is rings, or valves and gasket.")
    if len(lows) > len(dry.read) / 2 and len(dry.read) > 2:
        said.append("Most are low together: that suggests the test itself (throttle, battery, gauge) or the timing.")
    return " ".join(said)


def _pair_words(dry: Gauged, banks: list[list[int]], judged: Judged, low: LowPair) -> list[str]:
    """Low neighbours; without a limit only what would follow if they are low."""
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
        f"Cylinders {_named(list(apart))} are neighbours on one bank, and the two lowest by far. Only a limit can tell "
        "whether they are low; if they are, that suggests the gasket between them."
    ]


def _bar(p: float) -> str:
    return show(p, BAR, 3)


def _wet_words(n: int, dry: Gauged, wet: Gauged, sound: list[int]) -> str:
    """What oil in a low cylinder says, beside what it does in the sound ones; no threshold but the uncertainty."""

    def rise(m: int) -> tuple[float, float]:
        return wet.read[m] - dry.read[m], wet.half[m] + dry.half[m]

    gain, doubt = rise(n)
    others = [m for m in sound if m != n and m in wet] or [m for m in wet.read if m != n and m in dry]
    amount = f"Cylinder {n} {'rises' if gain >= 0 else 'falls'} by {show(abs(gain), BAR, 2)} when wet"
    if not others:
        return (
            f"{amount}: take a wet reading of a sound cylinder too; only a rise beyond its own suggests rings or bore."
        )
    rises = [rise(m) for m in others]
    usual, doubt = sum(r for r, _ in rises) / len(rises), doubt + sum(u for _, u in rises) / len(rises)
    compared = f"{amount}, the others by {show(usual, BAR, 2)} on average"
    if below(doubt, gain - usual):
        return f"{compared}: that it rises more than they do suggests rings or bore."
    lacks = sum(dry.read[m] for m in others) / len(others) - dry.read[n]
    if below(doubt, lacks):
        return f"{compared}: no more than the others, which suggests valve, gasket or head rather than rings."
    return f"{compared}: a difference too small for this gauge; it suggests nothing."


def draw_compression(figure: Any) -> Callable[[Result], None]:
    """Bars by cylinder along the bank, wet outlined, before as a mark, the low pair bracketed, the rule as a line."""
    from matplotlib.collections import PolyCollection

    ax = figure.subplots()
    ax.spines[["top", "right"]].set_visible(False)
    ax.set(ylabel="pressure, bar", ylim=(0, 16), xlim=(-0.6, 3.6))
    ax.tick_params(axis="x", length=0)
    ax.yaxis.get_major_locator().set_params(integer=True, steps=[1, 2, 5, 10])
    still: Any = {"closed": True}
    high = PolyCollection([], facecolor=PALE, edgecolor="white", lw=0.6, gid="high", **still)
    low = PolyCollection([], facecolor=WARM, edgecolor="white", lw=0.6, hatch="////", gid="low", **still)
    wet = PolyCollection([], facecolor="none", edgecolor=INK, lw=1.4, ls=(0, (3, 1.5)), gid="wet", **still)
    for part in (high, low, wet):
        ax.add_collection(part, autolim=False)
    (before,) = ax.plot([], [], ls="none", marker="_", ms=26, mew=2.2, color=SOFT, gid="before")
    (floor,) = ax.plot([], [], color=ACCENT, lw=1.2, ls=(0, (6, 3)), gid="floor")
    (bracket,) = ax.plot([], [], color=INK, lw=1.4, gid="bracket")
    (wall,) = ax.plot([], [], color=SOFT, lw=0.8, ls=(0, (1, 2)), gid="wall")
    says = ax.text(0, 0, "", ha="center", va="bottom", fontsize=9, color=INK, gid="says")
    values = [
        ax.text(
            0,
            0,
            "",
            ha="center",
            va="bottom",
            fontsize=8.5,
            color=INK,
            gid=f"value{k}",
            bbox={"fc": "white", "ec": "none", "pad": 0.8, "alpha": 0.85},
        )
        for k in range(MOST_CYLINDERS)
    ]
    key = ax.text(0, 0, "", ha="left", va="top", fontsize=8, color=SOFT, gid="key", transform=ax.transAxes)
    key.set_position((0.0, 1.06))

    def bar_at(x: float, top: float, half: float) -> list[tuple[float, float]]:
        return [(x - half, 0), (x - half, top), (x + half, top), (x + half, 0)]

    def move(result: Result) -> None:
        i, banks, pair = result.inputs, result.curve["banks"], result.curve["pair"]
        at: dict[int, float] = {}
        walls = []
        x = 0.0
        for k, bank in enumerate(banks):
            if k:
                walls.append(x - 0.1)
                x += 0.8
            for n in bank:
                at[n] = x
                x += 1
        p = {n: (i.readings[n - 1] or 0.0) / 1e5 for n in at}
        edge, judged = result.curve["floor"], result.curve["judged"]
        lows = {n for n in judged if judged[n] in (Outcome.FAIL, Outcome.UNDECIDED)} | set(pair)
        if not judged:
            lows = {result["lowest_cylinder"]}
        high.set_verts([bar_at(at[n], p[n], 0.34) for n in at if n not in lows])
        low.set_verts([bar_at(at[n], p[n], 0.34) for n in at if n in lows])
        w_bar = {n: v / 1e5 for n, v in _measured(i.wet or []).items()}
        wet.set_verts([bar_at(at[n], v, 0.42) for n, v in w_bar.items()])
        old = {n: v / 1e5 for n, v in _measured(i.before or []).items()}
        before.set_data([at[n] for n in old], list(old.values()))
        tops = {n: max(p[n], w_bar.get(n, 0.0), old.get(n, 0.0)) for n in at}
        most = max(tops.values())
        _, top = settle(ax, ylim=(0.0, float(4.0 * np.ceil(most * 1.28 / 4))))
        frame(
            ax,
            xlim=(-0.6, x - 0.4),
            xticks=(list(at.values()), [f"{n}" for n in at]),
            xlabel=("cylinder, along the bank" if len(banks) == 1 else "cylinder, bank by bank",),
        )
        rows = {r["cylinder"].value: r for r in result["cylinders"]}
        for text, n in zip(values, at, strict=False):
            missing = i.readings[n - 1] is None
            text.set_position((at[n], 0.15 if missing else 0.02 * top))
            text.set_text("not\nmeasured" if missing else f"{p[n]:.3g}\n{rows[n]['of_highest'].value * 100:.1f} %")
        for text in values[len(at) :]:
            text.set_text("")
        floor.set_data([-0.6, x - 0.4], [edge / 1e5] * 2) if edge is not None else floor.set_data([], [])
        wall.set_data([v for pos in walls for v in (pos, pos, np.nan)], [v for _ in walls for v in (0, top, np.nan)])
        if pair:
            a, b = sorted(at[n] for n in pair)
            y = max(tops[n] for n in pair) + 0.05 * top
            bracket.set_data([a - 0.3, a - 0.3, b + 0.3, b + 0.3], [y - 0.02 * top, y, y, y - 0.02 * top])
            says.set_position(((a + b) / 2, y + 0.01 * top))
            says.set_text("low neighbours")
        else:
            bracket.set_data([], [])
            says.set_text("")
        parts = ["filled: dry", "dashed outline: wet" if w_bar else "", "dash: before" if old else ""]
        parts.append("long dashes: limit" if edge is not None else "")
        parts.append("" if not lows else "hatched: low, or too near to tell" if judged else "hatched: lowest")
        key.set_text("; ".join(filter(None, parts)))

    return move


def alt_compression(result: Result) -> str:
    """The picture in words."""
    rows = result["cylinders"]
    bars = ", ".join(
        f"{r['cylinder'].value}: " + ("not measured" if r["dry"].value is None else f"{r['dry'].value / 1e5:.3g} bar")
        for r in rows
    )
    pair = result["adjacent_low_pair"]
    said = f" Cylinders {pair[0]} and {pair[1]} are bracketed as low neighbours." if pair else ""
    wet = " Wet readings stand as outlines." if result.inputs.given("wet") else ""
    return f"Bars of compression by cylinder along the bank: {bars}.{wet}{said}"


def _pressures(name: str, label: str, **more: Any) -> Any:
    item = quantity("reading", bar, "Reading", at_least=0.0, may_be_missing=True, example='"12.4 bar"')
    return listing(name, item, label, example='"12.4 bar; 12.1 bar; 9.1 bar; 9.3 bar"', **more)


COMPRESSION = Working(
    name="compression_test",
    title="Compression test",
    question="which cylinder is low, and are two low ones neighbours",
    phase="prove",
    fields=(
        _pressures("readings", "Compression, cylinder 1, 2, 3 …", help="type — for one not measured", group="Readings"),
        _pressures("wet", "Wet, in the same order", required=False, help="after a spoon of oil", group="Readings"),
        _pressures("before", "Before the repair, same order", required=False, group="Readings"),
        listing(
            "layout",
            words("bank", "Bank"),
            "Cylinders along each bank",
            example='"1 2 3 4"',
            help=LAYOUT_HELP,
            group="Engine",
        ),
        words(
            "conditions",
            "Conditions",
            required=False,
            example='"oil 80 °C, throttle open, battery on charger"',
            group="Engine",
        ),
        choice(
            "rule",
            "Rule of your source",
            RULES,
            example="lowest/highest",
            help="lowest over highest; or highest less lowest",
            group="Rule",
        ),
        words(
            "limit",
            "Limit of that rule",
            required=False,
            example='"75 %"',
            help="a per cent for lowest/highest; a pressure or per cent for spread",
            group="Rule",
        ),
        words(
            "limit_source",
            "Source: limit of that rule",
            required=False,
            group="Rule",
            help="document, edition, page; without it nothing can pass",
            example='"workshop manual, 3rd edition, page 41"',
        ),
        *limit("minimum", bar, "Lowest pressure allowed", above=0.0, example='"9 bar"', group="Rule"),
        *judging(bar),
    ),
    run=run_compression,
    cautions=(
        "First disable fuel and ignition. Battery charged and connected, throttle open.",
        GOVERNS,
        SUGGESTS,
        "Liquid in a cylinder: open every cylinder, stand clear of the holes, turn by hand; only then crank.",
        "Keep clear of belts, fan and the open holes while cranking; eye protection.",
    ),
    draw=draw_compression,
    alt=alt_compression,
    figure_size=(6.2, 3.4),
)


# ------------------------------------------------------------------------------ leak-down
ESCAPES = {
    "intake": "at the intake, which suggests an intake valve",
    "exhaust": "at the exhaust, which suggests an exhaust valve",
    "crankcase": "in the crankcase, which suggests rings, piston or bore",
    "coolant": "in the coolant, which suggests the head gasket, or a crack in head or block",
    "neighbour": "at the neighbour's hole, which suggests the gasket between them",
}
NONE_HEARD = "none heard"
JOINT = ("coolant", "neighbour")


def _escapes_of(typed: list[str], w: Worksheet) -> list[list[str]]:
    """For each cylinder the places where air was heard."""
    found = []
    for n, item in enumerate(typed, 1):
        places = [p for p in re.split(r"\s*(?:\+|,|\band\b)\s*", item.strip().lower()) if p]
        wrong = [p for p in places if p not in ESCAPES and p != NONE_HEARD]
        if wrong or not places:
            known = ", ".join((*ESCAPES, NONE_HEARD))
            w.refuse(f"escapes[{n}]", f'"{item.strip()[:40]}" is not one of {known}; join two with +', "exhaust")
        elif NONE_HEARD in places and len(places) > 1:
            w.refuse(f"escapes[{n}]", "says none heard and a place", NONE_HEARD)
        found.append([] if NONE_HEARD in places else places)
    return found


def run_leak(i: Inputs, w: Worksheet) -> None:
    """The worst cylinder, the spread, and where the air goes: that is the diagnosis."""
    count = len(i.readings)
    if count > MOST_CYLINDERS:
        w.refuse("readings", f"holds {count} cylinders; at most {MOST_CYLINDERS}")
        w.door()
    if len(i.escapes) != count:
        w.refuse(
            "escapes",
            f"names {len(i.escapes)} cylinders, readings {count}; type none heard where nothing was heard",
            '"none heard; exhaust; none heard"',
        )
    escapes = _escapes_of(i.escapes, w)
    leak = _measured(i.readings)
    if not leak:
        w.refuse("readings", "holds no reading")
    w.door()
    gauged = Gauged.of(i, w, "readings")
    missing = [n for n in range(1, count + 1) if n not in leak]
    worst_at = max(leak, key=lambda n: leak[n])
    worst, least = leak[worst_at], min(leak.values())
    w.result("worst", worst, pct, "Worst leakage", 3)
    w.result("worst_cylinder", worst_at, None, "Worst cylinder")
    w.result("spread", w.step("Spread", c.leak_spread, L_max=worst, L_min=least), pct, "Spread, in points", 3)
    over = {n: w.decided(gauged.least(n), gauged.most(n), "≤", i.limit)[0] for n in leak} if i.given("limit") else {}
    bad = {n for n in over if over[n] is not Outcome.PASS} if over else {worst_at} if worst > least else set()
    said = []
    for n, places in enumerate(escapes, 1):
        if n in over and n in bad:
            how = "leaks more than the limit" if over[n] is Outcome.FAIL else "leaks too near the limit to tell"
            said.append(f"Cylinder {n} {how}: {show(leak[n], PCT, 3)}.")
        if places:
            said.append(f"Cylinder {n}: air " + ", and ".join(ESCAPES[p] for p in places) + ".")
        elif n in bad:
            most = "" if over else "leaks most and "
            said.append(f"Cylinder {n}: {most}nothing was heard; listen again, at its own top dead centre.")
    w.result("suggests", " ".join(said) or "No air was heard anywhere.", None, "Suggests")
    rows = [
        {
            "cylinder": Value(n, None, "cylinder"),
            "leakage": Value(i.readings[n - 1], PCT, "leakage", 3),
            "escapes": Value(" + ".join(places) or NONE_HEARD, None, "air heard at"),
        }
        for n, places in enumerate(escapes, 1)
    ]
    w.result("cylinders", rows, None, "Cylinder by cylinder")
    w.check(
        f"Worst leakage, cylinder {worst_at}", worst, "≤", i.limit, pct, i.limit_source,
        uncertainty=w.uncertainty("readings", worst_at - 1), between=gauged.highest, missing=_missing_remark(missing),
    )  # fmt: skip
    w.curve["bad"] = bad or ({worst_at} if not over else set())
    at_joint = [n for n, places in enumerate(escapes, 1) if any(p in JOINT for p in places)]
    if at_joint:
        where = sorted({p for places in escapes for p in places if p in JOINT})
        w.judge(
            "Air in coolant or neighbour",
            f"cylinder {_named(at_joint)}, {' and '.join(where)}",
            "none heard",
            None,
            None,
            "where the air escapes is the diagnosis",
            Outcome.UNDECIDED,
            "whatever the per cent, find out before closing the job",
        )


def draw_leak(figure: Any) -> Callable[[Result], None]:
    """Where the air goes: cylinders across, the five ways out downwards; a filled square where it was heard."""
    from matplotlib.collections import PolyCollection

    top, grid = figure.subplots(2, 1, sharex=True, height_ratios=(1.2, 1))
    top.set(ylabel="leakage, %", ylim=(0, 40), xlim=(0.4, 4.6))
    top.spines[["top", "right"]].set_visible(False)
    bars = PolyCollection([], facecolor=PALE, edgecolor="white", gid="bars")
    worst = PolyCollection([], facecolor=WARM, edgecolor="white", hatch="////", gid="worst")
    for part in (bars, worst):
        top.add_collection(part, autolim=False)
    (line,) = top.plot([], [], color=ACCENT, lw=1.2, ls=(0, (6, 3)), gid="limit")
    names = list(ESCAPES)
    grid.set(ylim=(len(names) - 0.4, -0.6), xlabel="cylinder")
    grid.set_yticks(range(len(names)), names)
    grid.spines[["top", "right", "left"]].set_visible(False)
    grid.tick_params(length=0)
    for y in range(len(names)):
        grid.axhline(y, color=PALER, lw=0.8, zorder=0)
    grid.axhspan(2.5, 4.5, color=PALER, zorder=-1, lw=0)
    (heard,) = grid.plot([], [], "s", ms=11, color=ACCENT, ls="none", gid="heard")
    (joint,) = grid.plot([], [], "D", ms=11, color=WARM, mec=INK, mew=1.2, ls="none", gid="joint")
    (silent,) = grid.plot([], [], "o", ms=4, mfc="white", mec=SOFT, ls="none", gid="silent")
    values = [
        top.text(0, 0, "", ha="center", va="bottom", fontsize=8.5, color=INK, gid=f"value{k}")
        for k in range(MOST_CYLINDERS)
    ]

    def move(result: Result) -> None:
        rows = result["cylinders"]
        count, bad = len(rows), result.curve["bad"]
        L = [None if r["leakage"].value is None else 100 * r["leakage"].value for r in rows]
        box = [[(n - 0.32, 0), (n - 0.32, v or 0), (n + 0.32, v or 0), (n + 0.32, 0)] for n, v in enumerate(L, 1)]
        bars.set_verts([b for n, b in enumerate(box, 1) if n not in bad])
        worst.set_verts([b for n, b in enumerate(box, 1) if n in bad])
        edge = result.inputs.limit
        limit_at = None if edge is None else 100 * edge
        most = max([v for v in L if v is not None] + [limit_at or 0.0, 8.0])
        limits = (0.4, count + 0.6), settle(top, ylim=(0.0, float(10 * np.ceil(most * 1.2 / 10))))
        frame(top, xlim=limits[0])
        frame(grid, xticks=(range(1, count + 1),))
        line.set_data([], []) if limit_at is None else line.set_data([0.4, count + 0.6], [limit_at] * 2)
        for k, text in enumerate(values):
            shown = k < count
            text.set_position((k + 1, (L[k] or 0.0) + 0.01 * limits[1][1]) if shown else (0, 0))
            text.set_text("" if not shown else "not measured" if L[k] is None else f"{L[k]:.3g} %")
        marks: dict[bool, list[tuple[int, int]]] = {True: [], False: []}
        open_at: list[tuple[int, int]] = []
        for n, r in enumerate(rows, 1):
            places = r["escapes"].value.split(" + ")
            for y, name in enumerate(names):
                (marks[name in JOINT] if name in places else open_at).append((n, y))
        for artist, points in ((heard, marks[False]), (joint, marks[True]), (silent, open_at)):
            artist.set_data([p[0] for p in points], [p[1] for p in points])

    return move


def alt_leak(result: Result) -> str:
    """The picture in words."""
    rows = ", ".join(
        f"{r['cylinder'].value}: "
        + ("not measured" if r["leakage"].value is None else f"{100 * r['leakage'].value:.3g} %")
        + f", {r['escapes'].value}"
        for r in result["cylinders"]
    )
    return f"Bars of leakage by cylinder, and below them where the air was heard: {rows}."


LEAK = Working(
    name="leak_down",
    title="Leak-down test",
    question="how much air does each cylinder lose, and where does it go",
    phase="prove",
    fields=(
        listing(
            "readings",
            quantity("reading", pct, "Reading", at_least=0.0, at_most=1.0, may_be_missing=True, example='"12 %"'),
            "Leakage, cylinder 1, 2, 3 …",
            example='"8 %; 9 %; 34 %; 31 %"',
            help="type — for one not measured",
            group="Readings",
        ),
        listing(
            "escapes",
            words("escape", "Air heard at", example="exhaust"),
            "Air heard at, same order",
            example='"none heard; none heard; neighbour; neighbour + coolant"',
            help="intake, exhaust, crankcase, coolant, neighbour, none heard",
            group="Readings",
        ),
        *limit("limit", pct, "Largest leakage allowed", above=0.0, at_most=1.0, example='"20 %"', group="Limit"),
        *judging(pct),
    ),
    run=run_leak,
    cautions=(
        "First disable fuel and ignition. Air can spin the crankshaft: lock it, keep hands and tools clear.",
        GOVERNS,
        SUGGESTS,
        "Open the coolant only when cold. A little air in the crankcase is normal: compare cylinders.",
    ),
    draw=draw_leak,
    alt=alt_leak,
    figure_size=(6.2, 3.8),
)


# ------------------------------------------------------------------------------ pressure hold
REPEAT = "repeat at steady temperature"
Span = tuple[float, float]


def _effect(i: Inputs, change: Span) -> Span:
    """The least and the most that a change of temperature somewhere between two values adds to the pressure.

    Warming never lowers the pressure and cooling never raises it: one end is nothing, since hoses give way.
    """

    def most(Delta_T: float) -> float:
        alone = q.trapped_air_change(p_1=i.start, p_amb=q.ATMOSPHERE, T=i.start_temperature, Delta_T=Delta_T)
        return float(q.EXPANSION * alone)

    return min(most(change[0]), 0.0), max(most(change[1]), 0.0)


def _changes(i: Inputs) -> tuple[Span, Span]:
    """The change of temperature from start to end, and between any two readings: each from least to most."""
    doubt = i.half_digit("start_temperature") + i.half_digit("end_temperature")
    change = i.end_temperature - i.start_temperature
    return (change - doubt, change + doubt), (min(change, 0.0) - doubt, max(change, 0.0) + doubt)


@dataclass(frozen=True)
class Logged:
    """Pressures in the order of time, each with the half-width of what it leaves possible."""

    times: list[float]
    pressures: list[float]
    halves: list[float]
    to_the_end: bool = True

    @classmethod
    def of(cls, i: Inputs, w: Worksheet) -> Logged:
        """Start, log and end."""
        rows = i.log or []
        ends = [w.counted(w.uncertainty(n)) for n in ("start", "end")]
        halves = [ends[0]] * len(rows)
        if rows and not (i.given("resolution") or i.given("expanded_uncertainty")):
            typed = i.typed_rows("log")
            halves = [w.counted(Uncertainty(half_digit_in_si(str(r["pressure"]), KPA))) for r in typed]
        return cls(
            [0.0, *(r["time"] for r in rows), i.minutes],
            [i.start, *(r["pressure"] for r in rows), i.end],
            [ends[0], *halves, ends[1]],
        )

    def until(self, time: float) -> Logged:
        """The readings up to a time."""
        n = sum(at_most(t, time) for t in self.times)
        return Logged(self.times[:n], self.pressures[:n], self.halves[:n], n == len(self.times))

    def most_drop(self, sign: float) -> tuple[float, int]:
        """The largest drop between two readings, one of them in between, and the number of the later one.

        Each reading counts as read (sign 0), or with the uncertainty for (1) or against (−1) a drop.
        """
        found, end = (-math.inf, 0), len(self.times) - 1 if self.to_the_end else None
        highest = [-math.inf, -math.inf]  # of all before; of all before but the first
        for k, (p, u) in enumerate(zip(self.pressures, self.halves, strict=True)):
            before = highest[1] if k == end else highest[0]
            found = max(found, (before - (p - sign * u), k))
            highest[0] = max(highest[0], p + sign * u)
            highest[1] = max(highest[1], p + sign * u) if k else highest[1]
        return found

    @property
    def most_rise(self) -> float:
        """The largest rise between two readings that is there whatever the uncertainty."""
        most, lowest = -math.inf, math.inf
        for p, u in zip(self.pressures, self.halves, strict=True):
            most, lowest = max(most, p - u - lowest), min(lowest, p + u)
        return most


def _not_enough(i: Inputs) -> str:
    """Why a hold cannot pass for its length; "" where it can."""
    if not i.given("hold_minutes"):
        return "type how long the source wants it held, and the source"
    if not i.given("hold_minutes_source"):
        return "the source of the time to hold is missing"
    if below(i.minutes, i.hold_minutes):
        return f"held {show(i.minutes, MINUTE, 3)}, the source wants {show(i.hold_minutes, MINUTE, 3)}"
    return ""


def run_hold(i: Inputs, w: Worksheet) -> None:
    """The drop as read, and what it can have been at steady temperature: the direction of the change decides."""
    if i.given("cap_rating") and i.start > i.cap_rating:
        w.refuse("start", "is above the cap's rating; never pump above it")
    if i.given("cap_rating"):
        for n, row in enumerate(i.log or [], 1):
            if row["pressure"] > i.cap_rating:
                w.refuse(f"log[{n}].pressure", "is above the cap's rating; never pump above it")
    times = [row["time"] for row in i.log or []]
    if times != sorted(times) or (times and not at_most(times[-1], i.minutes)):
        w.refuse("log", "must run forward in time and end within minutes")
    w.door()
    drop = w.step("Pressure drop", q.pressure_drop, p_1=i.start, p_2=i.end)
    w.result("drop", drop, kPa, "Pressure drop, as read")
    w.result("uncorrected", True, None, "The drop as read is not corrected for temperature")
    logged = Logged.of(i, w)
    w.curve.update(t=np.array(logged.times) / 60, p=np.array(logged.pressures) / 1e3, between=None)
    if i.given("start_temperature", "end_temperature"):
        _hold_checks(i, w, drop, logged)
    else:
        why = f"temperatures missing: {REPEAT}, and write both down"
        w.judge("Pressure drop", drop, "≤", i.limit, kPa, i.limit_source, Outcome.UNDECIDED, why)
    if not i.given("cap_rating"):
        w.caution("Read the rating on the cap before pumping; it was not typed here.")


def _hold_checks(i: Inputs, w: Worksheet, drop: float, logged: Logged) -> None:
    """From start to end, and between all readings where a log was kept."""
    effect = w.step(
        "What that change of temperature alone does to trapped air (illustration)",
        q.trapped_air_change,
        p_1=i.start,
        p_amb=q.ATMOSPHERE,
        T=i.start_temperature,
        Delta_T=i.end_temperature - i.start_temperature,
    )
    w.result("trapped_air_change", effect, kPa, "Temperature alone, on trapped air", 2)
    w.assume("air pressure 101.325 kPa")
    w.assume(
        f"temperature alone changes the pressure by nothing at the least and by {q.EXPANSION:g} times the gas law at "
        "the most: hoses give way, and coolant expands into the air (this project's own estimate, no source)"
    )
    whole, part = (_effect(i, change) for change in _changes(i))
    both = added(w.uncertainty("start"), w.uncertainty("end"))
    spread = w.counted(both)
    between = drop + whole[0] - spread, drop + whole[1] + spread
    w.result("drop_least", max(between[0], 0.0), kPa, "Drop at steady temperature, at the least", 3)
    w.result("drop_most", between[1], kPa, "Drop at steady temperature, at the most", 3)
    w.curve["between"] = tuple(max(p, 0.0) / 1e3 for p in between)
    missing = [_not_enough(i)]
    if between[1] < 0:
        missing.append(f"the pressure rose more than the temperature explains, so a reading is wrong: {REPEAT}")
    elif below(part[1], logged.most_rise):
        missing.append("between two readings the pressure rose more than the temperature explains")
    why = "; ".join(filter(None, missing))
    said = "at steady temperature from {} to {}".format(*(show(max(p, 0.0), KPA, 3) for p in between))
    longer = i.given("hold_minutes") and below(i.hold_minutes, i.minutes)
    if longer:  # the source allows the drop for a shorter time: only a reading taken by then can prove a fail
        between = min(between[0], 0.0), between[1]
        said += f"; held longer than the source wants: read it at {show(i.hold_minutes, MINUTE, 3)}"
    w.check(
        "Pressure drop", drop, "≤", i.limit, kPa, i.limit_source,
        uncertainty=both, between=between, missing=why, remark=said,
    )  # fmt: skip
    if i.given("log"):
        timely = logged.until(i.hold_minutes) if longer else logged
        found, at = logged.most_drop(0)
        least = max(timely.most_drop(-1)[0] + part[0], -i.start)
        most = logged.most_drop(1)[0] + part[1]
        w.assume("between start and end the temperature moved one way only")
        w.check(
            f"Largest drop among the readings, at {show(logged.times[at], MINUTE, 3)}",
            found, "≤", i.limit, kPa, i.limit_source,
            uncertainty=both, between=(least, most), missing=why,
        )  # fmt: skip


def draw_hold(figure: Any) -> Callable[[Result], None]:
    """Pressure against time: what was read, the allowed drop, the cap's rating."""
    ax = figure.subplots()
    ax.set(xlabel="time, min", ylabel="pressure, kPa", xlim=(0, 15), ylim=(0, 150))
    ax.spines[["top", "right"]].set_visible(False)
    ax.xaxis.get_major_locator().set_params(integer=True)
    allowed = ax.fill_between([0, 1], [0, 0], [0, 0], color=PALER, lw=0, gid="allowed")
    (cap,) = ax.plot([], [], color=WARM, lw=1.4, ls=(0, (6, 2, 1, 2)), gid="cap")
    (line,) = ax.plot([], [], "-o", color=ACCENT, lw=1.8, ms=5.5, mfc="white", mec=ACCENT, mew=1.5, gid="line")
    cap_says = ax.text(0, 0, "", ha="right", va="bottom", fontsize=8.5, color=WARM, gid="capsays")
    says = ax.text(0, 0, "", ha="right", va="top", fontsize=9.5, color=INK, gid="says")
    band = ax.text(0, 0, "", ha="left", va="bottom", fontsize=8.5, color=SOFT, gid="band")
    note = ax.text(0.02, 0.05, "", ha="left", va="bottom", fontsize=9, color=WARM, gid="note", transform=ax.transAxes)
    (steady,) = ax.plot([], [], color=INK, lw=1.6, marker="_", ms=9, mew=1.6, gid="steady")

    def move(result: Result) -> None:
        i, t, p = result.inputs, result.curve["t"], result.curve["p"]
        line.set_data(t, p)
        end = float(t[-1])
        steps = (1, 2, 3, 5, 10, 15, 20, 30, 45, 60, 90, 120)
        right = float(next((s for s in steps if s >= end * 1.02), 60 * np.ceil(end / 60 * 1.02)))
        highest = max([float(p.max()), (i.cap_rating or 0.0) / 1e3])
        between = result.curve["between"]
        steady_at = [] if between is None else [i.start / 1e3 - d for d in between]
        steady.set_data([end] * len(steady_at), steady_at)
        lowest = min(float(p.min()), (i.start - (i.limit or 0.0)) / 1e3, *steady_at)
        highest = max(highest, *steady_at) if steady_at else highest
        floor = 10 * np.floor((lowest - 0.25 * (highest - lowest)) / 10)
        ylim = float(max(floor, 0.0)), float(10 * np.ceil((highest + 1) / 10))
        limits = settle(ax, xlim=(0.0, right), ylim=ylim)
        if i.limit is not None:
            edge = (i.start - i.limit) / 1e3
            allowed.set_data([0, end], [edge, edge], [i.start / 1e3] * 2)
            band.set_position((0.012 * right, edge))
            band.set_text("drop allowed")
        else:
            allowed.set_data([0, 1], [0, 0], [0, 0])
            band.set_text("")
        rating = (i.cap_rating or 0.0) / 1e3
        cap.set_data([0, right], [rating, rating]) if rating else cap.set_data([], [])
        cap_says.set_position((right, rating))
        cap_says.set_text("rating of the cap: never above" if rating else "")
        says.set_position((0.97 * end, float(p[-1]) - 0.05 * (limits[1][1] - limits[1][0])))
        says.set_text(f"drop {result['drop'] / 1e3:.3g} kPa in {end:.4g} min")
        word = "" if result.outcome is None else f"{result.outcome}; "
        note.set_text(
            "undecided: temperatures missing" if between is None
            else f"{word}bar at the end: drop at steady temperature, {between[0]:.3g} to {between[1]:.3g} kPa"
        )  # fmt: skip

    return move


def alt_hold(result: Result) -> str:
    """The picture in words."""
    i = result.inputs
    word = f", {result.outcome}" if result.outcome else ""
    between = result.curve["between"]
    steady = ""
    if between is not None:
        steady = f" At steady temperature the drop is from {between[0]:.3g} to {between[1]:.3g} kPa."
    return (
        f"Pressure against time, from {i.start / 1e3:.4g} to {i.end / 1e3:.4g} kPa in {i.minutes / 60:.4g} minutes"
        f"{'' if i.cap_rating is None else f', below the cap rating of {i.cap_rating / 1e3:.4g} kPa'}{word}.{steady}"
    )


_COLD = {"required": False, "at_least": 233.15, "at_most": 423.15, "group": "Temperature"}
HOLD = Working(
    name="pressure_hold",
    title="Pressure hold of the cooling system",
    question="does the cold system hold its pressure",
    phase="prove",
    fields=(
        quantity(
            "start",
            kPa,
            "Pressure at the start",
            symbol="p_1",
            above=0.0,
            example='"100 kPa"',
            help="gauge",
            group="Readings",
        ),
        quantity(
            "end",
            kPa,
            "Pressure at the end",
            symbol="p_2",
            at_least=0.0,
            example='"97 kPa"',
            help="gauge",
            group="Readings",
        ),
        quantity("minutes", minute, "Time between", above=0.0, example='"15 min"', group="Readings"),
        table(
            "log",
            (
                quantity("time", minute, "Time", at_least=0.0, example='"5 min"'),
                quantity("pressure", kPa, "Pressure", at_least=0.0, example='"99 kPa"'),
            ),
            "Readings in between",
            required=False,
            group="Readings",
            example='[{"time":"5 min","pressure":"99 kPa"}]',
        ),
        quantity("start_temperature", degC, "Coolant temperature at the start", example='"18.0 degC"', **_COLD),
        quantity(
            "end_temperature",
            degC,
            "Coolant temperature at the end",
            example='"18.0 degC"',
            help="in tenths: warming hides a leak, cooling looks like one",
            **_COLD,
        ),
        quantity(
            "cap_rating",
            kPa,
            "Rating on the pressure cap",
            required=False,
            above=0.0,
            example='"110 kPa"',
            help="never pump above it",
            group="Limit",
        ),
        *limit("limit", kPa, "Largest drop allowed", at_least=0.0, example='"5 kPa"', group="Limit"),
        *limit("hold_minutes", minute, "Time to hold", above=0.0, example='"15 min"', group="Limit"),
        *judging(kPa),
    ),
    run=run_hold,
    cautions=(
        "Cold engine only; never open a hot system under pressure. Never pump above the cap's rating.",
        GOVERNS,
        SUGGESTS,
        "Coolant is poisonous and sweet: catch it, cover it, keep it from children and animals.",
        "Hold it at steady temperature: warming hides a leak, and cooling looks like one.",
    ),
    draw=draw_hold,
    alt=alt_hold,
)

WORKINGS = [COMPRESSION, LEAK, HOLD]
