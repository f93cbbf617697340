"""Proving the fault and the repair: compression, leak-down, pressure hold.  They suggest; they never confirm."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.checks import Outcome, Value
from shoplib.look import ACCENT, INK, PALE, PALER, SOFT, WARM, frame, settle
from shoplib.physics import compression as c
from shoplib.physics import pressure as q
from shoplib.units import Unreadable, bar, degC, kPa, minute, pct, read, unit_of
from shoplib.working import (
    GOVERNS,
    Inputs,
    Result,
    Working,
    Worksheet,
    choice,
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
    twice = sorted({n for n in flat if flat.count(n) > 1})
    parts = [
        f"{word} {', '.join(map(str, numbers))}"
        for word, numbers in (
            ("names twice", twice),
            ("leaves out", [n for n in wanted if n not in flat]),
            (f"for {count} readings has no", sorted(set(flat) - set(wanted))),
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
class LowPair:
    """Neighbours on one bank that are low together."""

    pairs: tuple[tuple[int, int], ...] = ()  # the lowest first
    why: str = ""
    speaks: bool = False  # False: named, but alone it suggests nothing


def low_pairs(dry: dict[int, float], banks: list[list[int]], below: Callable[[float], bool] | None) -> LowPair:
    """Neighbours both below the limit, else the two lowest if they are neighbours.

    The two lowest speak only when they stand closer to each other than to the next one, and not when the user's
    limit holds for both.  There is no threshold of ours in it.
    """
    pairs = [(a, b) for a, b in neighbours(banks) if a in dry and b in dry]
    if below is not None:
        both = [(a, b) for a, b in pairs if below(dry[a]) and below(dry[b])]
        if both:
            return LowPair(
                tuple(sorted(both, key=lambda ab: dry[ab[0]] + dry[ab[1]])), "both are below the limit", True
            )
    order = sorted(dry, key=lambda n: dry[n])
    if len(order) < 3 or dry[order[1]] == dry[order[2]]:  # a tie would make the choice arbitrary
        return LowPair()
    first, second, third = (dry[n] for n in order[:3])
    found = tuple(ab for ab in pairs if set(ab) == set(order[:2]))
    if not found:
        return LowPair()
    if below is not None and not below(first):
        return LowPair(found, "both are within the limit")
    if second - first >= third - second:
        return LowPair(found, "they are not low alike")
    return LowPair(found, "they are the two lowest and stand apart from the others", True)


def run_compression(i: Inputs, w: Worksheet) -> None:
    """Each cylinder against the highest, the user's rule, neighbours along the bank, and what oil changes."""
    count = len(i.readings)
    if count > MOST_CYLINDERS:
        w.refuse("readings", f"holds {count} cylinders; at most {MOST_CYLINDERS}")
    banks = read_banks(i.layout, count, w)
    bound, unit = _limit_of(i, w)
    _same_length(i, w, "wet", count)
    _same_length(i, w, "before", count)
    dry, wet = _measured(i.readings), _measured(i.wet or [])
    if len(dry) < 2:
        w.refuse("readings", "holds fewer than two readings; nothing can be compared")
    elif max(dry.values()) == 0:
        w.refuse("readings", "are all zero; look at gauge, hose and valve before the engine")
    w.door()
    missing = [n for n in range(1, count + 1) if n not in dry]
    highest, lowest_at = max(dry.values()), min(dry, key=lambda n: dry[n])
    lowest = dry[lowest_at]
    k = w.step("Lowest over highest", c.part_of_highest, p=lowest, p_max=highest)
    w.result("lowest_to_highest", k, pct, "Lowest over highest")
    w.result("lowest_cylinder", lowest_at, None, "Lowest cylinder")
    w.result("spread", w.step("Spread", c.spread, p_max=highest, p_min=lowest), bar, "Spread")
    relative = w.step("Spread over the highest", c.relative_spread, p_max=highest, p_min=lowest)
    w.result("relative_spread", relative, pct, "Spread over the highest")
    below = _below(i.rule, bound, unit, highest)
    low = low_pairs(dry, banks, below)
    pair = list(low.pairs[0]) if low.pairs else []
    w.result("adjacent_low_pair", pair, None, "Low neighbours on one bank")
    w.result("cylinders", _rows(banks, i, highest), None, "Cylinder by cylinder")
    w.result("suggests", _suggests(dry, wet, low, below), None, "Suggests")
    _judge(i, w, bound, unit, k, missing)
    if i.given("minimum"):
        for_all = _missing_remark(missing)
        found = lowest if lowest < i.minimum or not missing else None
        w.check(f"Lowest pressure, cylinder {lowest_at}", found, "≥", i.minimum, bar, i.minimum_source, remark=for_all)
    if not i.given("conditions"):
        w.caution(
            "Write down oil temperature, battery and throttle: a closed throttle or a tired battery lowers them all."
        )
    w.curve.update(banks=banks, floor=_floor(i.rule, bound, unit, highest), pair=pair, speaks=low.speaks)


def _floor(rule: str, bound: float | None, unit: Any, highest: float) -> float | None:
    """The pressure at which the rule is just met."""
    if bound is None:
        return None
    if rule == "lowest/highest":
        return bound * highest
    return highest * (1 - bound) if unit is pct else highest - bound


def _below(rule: str, bound: float | None, unit: Any, highest: float) -> Callable[[float], bool] | None:
    floor = _floor(rule, bound, unit, highest)
    return None if floor is None else lambda p: p < floor * (1 - 1e-12)


def _missing_remark(missing: list[int]) -> str:
    return f"cylinder {_named(missing)} not measured" if missing else ""


def _judge(i: Inputs, w: Worksheet, bound: float | None, unit: Any, k: float, missing: list[int]) -> None:
    """The user's rule; a missing cylinder may let it fail, never pass."""
    remark = _missing_remark(missing)
    if i.rule == "lowest/highest":
        found, sign = k, "≥"
        fails = bound is not None and k < bound * (1 - 1e-12)
    else:
        in_bar = unit is bar
        found, sign = (w.values["spread" if in_bar else "relative_spread"].value), "≤"
        fails = bound is not None and found > bound * (1 + 1e-12)
    label = {"lowest/highest": "Lowest over highest", "spread": "Spread", "none": "Spread"}[i.rule]
    if missing and bound is not None and not fails:
        w.judge(label, found, sign, bound, unit, i.limit_source, Outcome.UNDECIDED, remark)
        return
    if i.rule == "none":
        w.judge(label, w.values["spread"].value, "≤", None, bar, None, Outcome.NO_LIMIT, "no rule was given")
        return
    w.check(label, found, sign, bound, unit, i.limit_source, remark=remark)


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


def _suggests(dry: dict[int, float], wet: dict[int, float], low: LowPair, below: Callable[[float], bool] | None) -> str:
    """In words, always with "suggests"."""
    said = []
    lows = {n for n in dry if below is not None and below(dry[n])}
    if below is None:
        lows.add(min(dry, key=lambda n: dry[n]))
    if low.pairs:
        a, b = low.pairs[0]
        also = f" (also {', '.join(f'{x} and {y}' for x, y in low.pairs[1:])})" if low.pairs[1:] else ""
        if low.speaks:
            lows |= {a, b}
            said.append(
                f"Cylinders {a} and {b} are neighbours on one bank and {low.why}{also}: "
                "that suggests the gasket between them."
            )
        else:
            said.append(f"Cylinders {a} and {b} are the two lowest, and neighbours, but {low.why}: no sign by itself.")
    said += [_wet_words(n, dry, wet) for n in sorted(lows) if n in wet and dry[n] > 0]
    if lows and not wet:
        said.append("A wet test of the low cylinders would suggest whether it is rings, or valves and gasket.")
    if below is not None and len(lows) > len(dry) / 2 and len(dry) > 2:
        said.append("Most are low together: that suggests the test itself (throttle, battery, gauge) or the timing.")
    return " ".join(said) or "Nothing stands out among these readings."


def _wet_words(n: int, dry: dict[int, float], wet: dict[int, float]) -> str:
    """What oil in a low cylinder says; no threshold of ours: the user's own limit, or the other cylinders."""
    gain = float(c.wet_gain(wet[n], dry[n]))
    others = [float(c.wet_gain(wet[m], dry[m])) for m in wet if m != n and m in dry and dry[m] > 0]
    amount = f"Cylinder {n} rises by {100 * gain:.0f} % when wet"
    if not others:
        return f"{amount}: a clear rise suggests rings or bore; little or none suggests valve, gasket or head."
    usual = sum(others) / len(others)
    compared = f"{amount}, the others by {100 * usual:.0f} % on average"
    if gain > usual:
        return f"{compared}: the more it rises beyond them, the more that suggests rings or bore."
    return f"{compared}: no more than the others, which suggests valve, gasket or head rather than rings."


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
        lowest = result["lowest_cylinder"]
        edge = result.curve["floor"]
        low_ones = {lowest} if edge is None else {n for n in at if 0 < p[n] * 1e5 < edge * (1 - 1e-12)}
        lows = low_ones | set(pair if result.curve["speaks"] else ())
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
            says.set_text("low neighbours" if result.curve["speaks"] else "the two lowest")
        else:
            bracket.set_data([], [])
            says.set_text("")
        parts = ["filled: dry", "dashed outline: wet" if w_bar else "", "dash: before" if old else ""]
        parts.append("long dashes: limit of the rule" if edge is not None else "")
        parts.append("" if not lows else "hatched: lowest" if edge is None and len(lows) == 1 else "hatched: low")
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
    missing = [n for n in range(1, count + 1) if n not in leak]
    worst_at = max(leak, key=lambda n: leak[n])
    worst, least = leak[worst_at], min(leak.values())
    w.result("worst", worst, pct, "Worst leakage", 3)
    w.result("worst_cylinder", worst_at, None, "Worst cylinder")
    w.result("spread", w.step("Spread", c.leak_spread, L_max=worst, L_min=least), pct, "Spread, in points", 3)
    said = []
    for n, places in enumerate(escapes, 1):
        if places:
            said.append(f"Cylinder {n}: air " + ", and ".join(ESCAPES[p] for p in places) + ".")
    silent = [n for n, places in enumerate(escapes, 1) if not places]
    if silent and leak.get(worst_at) and worst_at in silent and worst > least:
        said.append(f"Cylinder {worst_at} leaks most and nothing was heard: listen again, at its own top dead centre.")
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
    found = worst if not missing or (i.given("limit") and worst > i.limit) else None
    w.check(
        f"Worst leakage, cylinder {worst_at}", found, "≤", i.limit, pct, i.limit_source, remark=_missing_remark(missing)
    )
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
        count, bad = len(rows), result["worst_cylinder"]
        L = [None if r["leakage"].value is None else 100 * r["leakage"].value for r in rows]
        box = [[(n - 0.32, 0), (n - 0.32, v or 0), (n + 0.32, v or 0), (n + 0.32, 0)] for n, v in enumerate(L, 1)]
        bars.set_verts([b for n, b in enumerate(box, 1) if n != bad])
        worst.set_verts([box[bad - 1]])
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
STEADY = 1.0  # K; this project's own rule: more than that and the drop says nothing
REPEAT = "repeat at steady temperature"


def run_hold(i: Inputs, w: Worksheet) -> None:
    """The drop as read.  A sealed liquid system cannot honestly be corrected for temperature."""
    if i.given("cap_rating") and i.start > i.cap_rating:
        w.refuse("start", "is above the cap's rating; never pump above it")
    if i.given("cap_rating"):
        for n, row in enumerate(i.log or [], 1):
            if row["pressure"] > i.cap_rating:
                w.refuse(f"log[{n}].pressure", "is above the cap's rating; never pump above it")
    times = [row["time"] for row in i.log or []]
    if times != sorted(times) or (times and times[-1] > i.minutes * (1 + 1e-9)):
        w.refuse("log", "must run forward in time and end within minutes")
    w.door()
    drop = w.step("Pressure drop", q.pressure_drop, p_1=i.start, p_2=i.end)
    w.result("drop", drop, kPa, "Pressure drop, as read")
    w.result("uncorrected", True, None, "Not corrected for temperature")
    steady, why = False, ""
    if i.given("start_temperature", "end_temperature"):
        change = i.end_temperature - i.start_temperature
        effect = w.step(
            "What that change of temperature alone does to trapped air (illustration)",
            q.trapped_air_change,
            p_1=i.start,
            p_amb=q.ATMOSPHERE,
            T=i.start_temperature,
            Delta_T=change,
        )
        w.result("trapped_air_change", effect, kPa, "Temperature alone, on trapped air", 2)
        w.assume("air pressure 101.325 kPa, for the illustration only")
        steady = abs(change) <= STEADY * (1 + 1e-9)
        why = "" if steady else f"temperature changed by more than 1 K: {REPEAT}"
    else:
        why = f"temperatures missing: {REPEAT}, and write both down"
    if steady and drop < 0:
        steady, why = False, f"the pressure rose, so the system was not steady: {REPEAT}"
    if steady:
        w.check("Pressure drop", drop, "≤", i.limit, kPa, i.limit_source)
    else:
        w.judge("Pressure drop", drop, "≤", i.limit, kPa, i.limit_source, Outcome.UNDECIDED, why)
    if not i.given("cap_rating"):
        w.caution("Read the rating on the cap before pumping; it was not typed here.")
    w.curve.update(
        t=np.array([0.0, *times, i.minutes]) / 60,
        p=np.array([i.start, *[row["pressure"] for row in i.log or []], i.end]) / 1e3,
    )


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

    def move(result: Result) -> None:
        i, t, p = result.inputs, result.curve["t"], result.curve["p"]
        line.set_data(t, p)
        end = float(t[-1])
        steps = (1, 2, 3, 5, 10, 15, 20, 30, 45, 60, 90, 120)
        right = float(next((s for s in steps if s >= end * 1.02), 60 * np.ceil(end / 60 * 1.02)))
        highest = max([float(p.max()), (i.cap_rating or 0.0) / 1e3])
        lowest = min(float(p.min()), (i.start - (i.limit or 0.0)) / 1e3)
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
        says.set_position((end, float(p[-1]) - 0.05 * (limits[1][1] - limits[1][0])))
        says.set_text(f"drop {result['drop'] / 1e3:.3g} kPa in {end:.4g} min")
        note.set_text("undecided: " + REPEAT if result.outcome is Outcome.UNDECIDED else "")

    return move


def alt_hold(result: Result) -> str:
    """The picture in words."""
    i = result.inputs
    word = f", {result.outcome}" if result.outcome else ""
    return (
        f"Pressure against time, from {i.start / 1e3:.4g} to {i.end / 1e3:.4g} kPa in {i.minutes / 60:.4g} minutes"
        f"{'' if i.cap_rating is None else f', below the cap rating of {i.cap_rating / 1e3:.4g} kPa'}{word}."
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
        quantity("start_temperature", degC, "Coolant temperature at the start", example='"18 degC"', **_COLD),
        quantity(
            "end_temperature",
            degC,
            "Coolant temperature at the end",
            example='"18 degC"',
            help="more than 1 K apart: undecided",
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
    ),
    run=run_hold,
    cautions=(
        "Cold engine only; never open a hot system under pressure. Never pump above the cap's rating.",
        GOVERNS,
        SUGGESTS,
        "Coolant is poisonous and sweet: catch it, cover it, keep it from children and animals.",
        "The 1 K rule is this project's own: a sealed liquid system cannot honestly be corrected for temperature.",
    ),
    draw=draw_hold,
    alt=alt_hold,
)

WORKINGS = [COMPRESSION, LEAK, HOLD]
