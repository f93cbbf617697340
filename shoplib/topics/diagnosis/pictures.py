"""The pictures of the workings of the topic diagnosis."""

from __future__ import annotations

import functools
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np

from shoplib.core.checks import Outcome
from shoplib.core.working import Picture, Result
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    PALE,
    PALER,
    SOFT,
    WARM,
    band_to_place,
    ceil_to,
    floor_to,
    set_changed,
    set_steady_limits,
    text_to_place,
)
from shoplib.topics.diagnosis.cylinders import MOST_CYLINDERS, _measured
from shoplib.topics.diagnosis.leak_down import ESCAPES, JOINT
from shoplib.topics.diagnosis.orifice_picture import alt_orifice, draw_orifice

TIMES = (1, 2, 3, 5, 10, 15, 20, 30, 45, 60, 90, 120)  # ends of the axis of a hold, minutes


def draw_compression(figure: Any) -> Callable[[Result], None]:
    """Bars by cylinder along the bank, wet outlined, before as a mark, the low pair bracketed, the rule as a line."""
    return functools.partial(_move_compression, _compression_artists(figure))


def _compression_artists(figure: Any) -> SimpleNamespace:
    from matplotlib.collections import PolyCollection

    ax = figure.subplots()
    ax.spines[["top", "right"]].set_visible(False)
    ax.set(ylabel="pressure, bar")
    ax.tick_params(axis="x", length=0)
    ax.yaxis.get_major_locator().set_params(integer=True, steps=[1, 2, 5, 10])
    high = PolyCollection([], facecolor=PALE, edgecolor="white", lw=0.6, gid="high")
    low = PolyCollection([], facecolor=WARM, edgecolor="white", lw=0.6, hatch="////", gid="low")
    wet = PolyCollection([], facecolor="none", edgecolor=INK, lw=1.4, ls=(0, (3, 1.5)), gid="wet")
    for part in (high, low, wet):
        ax.add_collection(part)
    (before,) = ax.plot([], [], ls="none", marker="_", ms=26, mew=2.2, color=SOFT, gid="before")
    (floor,) = ax.plot([], [], color=ACCENT, lw=1.2, ls=(0, (6, 3)), gid="floor")
    (bracket,) = ax.plot([], [], color=INK, lw=1.4, gid="bracket")
    (wall,) = ax.plot([], [], color=SOFT, lw=0.8, ls=(0, (1, 2)), gid="wall")
    says = text_to_place(ax, ha="center", va="bottom", fontsize=9, color=INK, gid="says")
    values = [
        text_to_place(
            ax,
            ha="center",
            va="bottom",
            fontsize=8.5,
            color=INK,
            gid=f"value{k}",
            bbox={"fc": "white", "ec": "none", "pad": 0.8, "alpha": 0.85},
        )
        for k in range(MOST_CYLINDERS)
    ]
    key = text_to_place(ax, y=1.06, ha="left", va="top", fontsize=8, color=SOFT, gid="key", transform=ax.transAxes)

    def bar_at(x: float, top: float, half: float) -> list[tuple[float, float]]:
        return [(x - half, 0), (x - half, top), (x + half, top), (x + half, 0)]

    return SimpleNamespace(
        ax=ax,
        bar_at=bar_at,
        before=before,
        bracket=bracket,
        floor=floor,
        high=high,
        key=key,
        low=low,
        says=says,
        values=values,
        wall=wall,
        wet=wet,
    )


def _move_compression(art: SimpleNamespace, result: Result) -> None:
    inputs, banks, pair = result.inputs, result.plot_data["banks"], result.plot_data["pair"]
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
    p = {n: (inputs.readings[n - 1] or 0.0) / 1e5 for n in at}
    edge, judged = result.plot_data["floor"], result.plot_data["judged"]
    lows = {n for n in judged if judged[n] in (Outcome.FAIL, Outcome.UNDECIDED)} | set(pair)
    if not judged:
        lows = {result["lowest_cylinder"]}
    art.high.set_verts([art.bar_at(at[n], p[n], 0.34) for n in at if n not in lows])
    art.low.set_verts([art.bar_at(at[n], p[n], 0.34) for n in at if n in lows])
    w_bar = {n: v / 1e5 for n, v in _measured(inputs.wet or []).items()}
    art.wet.set_verts([art.bar_at(at[n], v, 0.42) for n, v in w_bar.items()])
    old = {n: v / 1e5 for n, v in _measured(inputs.before or []).items()}
    art.before.set_data([at[n] for n in old], list(old.values()))
    tops = {n: max(each[n] for each in (p, w_bar, old) if n in each) for n in at}
    most = max(tops.values())
    _, top = set_steady_limits(art.ax, ylim=(0.0, ceil_to(1.28 * most, 4)))
    set_changed(
        art.ax,
        xlim=(-0.6, x - 0.4),
        xticks=(list(at.values()), [f"{n}" for n in at]),
        xlabel=("cylinder, along the bank" if len(banks) == 1 else "cylinder, bank by bank",),
    )
    rows = {r["cylinder"].value: r for r in result["cylinders"]}
    for text, n in zip(art.values, at, strict=False):
        missing = inputs.readings[n - 1] is None
        text.set_position((at[n], 0.15 if missing else 0.02 * top))
        text.set_text("not\nmeasured" if missing else f"{p[n]:.3g}\n{rows[n]['of_highest'].value * 100:.1f} %")
    for text in art.values[len(at) :]:
        text.set_text("")
    art.floor.set_data([-0.6, x - 0.4], [edge / 1e5] * 2) if edge is not None else art.floor.set_data([], [])
    art.wall.set_data([v for pos in walls for v in (pos, pos, np.nan)], [v for _ in walls for v in (0, top, np.nan)])
    if pair:
        a, b = sorted(at[n] for n in pair)
        y = max(tops[n] for n in pair) + 0.05 * top
        art.bracket.set_data([a - 0.3, a - 0.3, b + 0.3, b + 0.3], [y - 0.02 * top, y, y, y - 0.02 * top])
        art.says.set_position(((a + b) / 2, y + 0.01 * top))
        art.says.set_text("low neighbours")
    else:
        art.bracket.set_data([], [])
        art.says.set_text("")
    parts = ["filled: dry", "dashed outline: wet" if w_bar else "", "short grey line: before" if old else ""]
    parts.append("long dashes: limit" if edge is not None else "")
    parts.append("" if not lows else "hatched: low, or too close to decide" if judged else "hatched: lowest")
    art.key.set_text("; ".join(filter(None, parts)))


def alt_compression(result: Result) -> str:
    """The picture in words."""
    rows = result["cylinders"]
    bars = ", ".join(
        f"{r['cylinder'].value}: " + ("not measured" if r["dry"].value is None else f"{r['dry'].value / 1e5:.3g} bar")
        for r in rows
    )
    pair = result["adjacent_low_pair"]
    said = f" Cylinders {pair[0]} and {pair[1]} are bracketed as low neighbours." if pair else ""
    wet = " Wet readings are drawn as outlines." if result.inputs.given("wet") else ""
    return f"Bars of compression by cylinder along the bank: {bars}.{wet}{said}"


def draw_leak(figure: Any) -> Callable[[Result], None]:
    """Where the air goes: cylinders across, the five ways out downwards; a filled square where it was heard."""
    from matplotlib.collections import PolyCollection

    top, grid = figure.subplots(2, 1, sharex=True, height_ratios=(1.2, 1))
    top.set(ylabel="leakage, %")
    top.spines[["top", "right"]].set_visible(False)
    bars = PolyCollection([], facecolor=PALE, edgecolor="white", gid="bars")
    worst = PolyCollection([], facecolor=WARM, edgecolor="white", hatch="////", gid="worst")
    for part in (bars, worst):
        top.add_collection(part)
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
        text_to_place(top, ha="center", va="bottom", fontsize=8.5, color=INK, gid=f"value{k}")
        for k in range(MOST_CYLINDERS)
    ]

    def move(result: Result) -> None:
        rows = result["cylinders"]
        count, bad = len(rows), result.plot_data["bad"]
        L = [None if r["leakage"].value is None else 100 * r["leakage"].value for r in rows]
        box = [[(n - 0.32, 0), (n - 0.32, v or 0), (n + 0.32, v or 0), (n + 0.32, 0)] for n, v in enumerate(L, 1)]
        bars.set_verts([b for n, b in enumerate(box, 1) if n not in bad])
        worst.set_verts([b for n, b in enumerate(box, 1) if n in bad])
        edge = result.inputs.limit
        limit_at = None if edge is None else 100 * edge
        most = max(8.0, *(v for v in (*L, limit_at) if v is not None))
        limits = (0.4, count + 0.6), set_steady_limits(top, ylim=(0.0, ceil_to(1.2 * most, 10)))
        set_changed(top, xlim=limits[0])
        set_changed(grid, xticks=(range(1, count + 1),))
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


def draw_hold(figure: Any) -> Callable[[Result], None]:
    """Pressure against time: what was read, the allowed drop, the cap's rating."""
    ax = figure.subplots()
    ax.set(xlabel="time, min", ylabel="pressure, kPa")
    ax.spines[["top", "right"]].set_visible(False)
    ax.xaxis.get_major_locator().set_params(integer=True)
    allowed = band_to_place(ax, color=PALER, lw=0, gid="allowed")
    (cap,) = ax.plot([], [], color=WARM, lw=1.4, ls=(0, (6, 2, 1, 2)), gid="cap")
    (line,) = ax.plot([], [], "-o", color=ACCENT, lw=1.8, ms=5.5, mfc="white", mec=ACCENT, mew=1.5, gid="line")
    cap_says = text_to_place(ax, ha="right", va="bottom", fontsize=8.5, color=WARM, gid="capsays")
    says = text_to_place(ax, ha="right", va="top", fontsize=9.5, color=INK, gid="says")
    band = text_to_place(ax, ha="left", va="bottom", fontsize=8.5, color=SOFT, gid="band")
    note = ax.text(0.02, 0.05, "", ha="left", va="bottom", fontsize=9, color=WARM, gid="note", transform=ax.transAxes)
    (steady,) = ax.plot([], [], color=INK, lw=1.6, marker="_", ms=9, mew=1.6, gid="steady")

    def move(result: Result) -> None:
        inputs, t, p = result.inputs, result.plot_data["t"], result.plot_data["p"]
        line.set_data(t, p)
        end = float(t[-1])
        far = 1.02 * end
        right = next((s for s in TIMES if s >= far), ceil_to(far, 60))
        rating = (inputs.cap_rating or 0.0) / 1e3
        edge = None if inputs.limit is None else (inputs.start - inputs.limit) / 1e3
        between = result.plot_data["between"]
        steady_at = [] if between is None else [inputs.start / 1e3 - d for d in between]
        steady.set_data([end] * len(steady_at), steady_at)
        lowest = min(x for x in (float(p.min()), edge, *steady_at) if x is not None)
        highest = max(float(p.max()), rating, *steady_at)
        ylim = max(floor_to(lowest - 0.25 * (highest - lowest), 10), 0.0), ceil_to(highest + 1, 10)
        limits = set_steady_limits(ax, xlim=(0.0, right), ylim=ylim)
        height = limits[1][1] - limits[1][0]
        above = 0.015 * height  # words do not touch the line they stand on
        if edge is not None:
            allowed.set_data([0, end], [edge, edge], [inputs.start / 1e3] * 2)
            band.set_position((0.012 * right, edge + above))
            band.set_text("drop allowed")
        else:
            allowed.set_data([0, 1], [0, 0], [0, 0])
            band.set_text("")
        cap.set_data([0, right], [rating, rating]) if rating else cap.set_data([], [])
        cap_says.set_position((right, rating + above))
        cap_says.set_text("cap rating: never exceed" if rating else "")
        says.set_position((0.97 * end, float(p[-1]) - 0.05 * height))
        says.set_text(f"drop {result['drop'] / 1e3:.3g} kPa in {end:.4g} min")
        word = "" if result.outcome is None else f"{result.outcome}; "
        note.set_text(
            "undecided: temperatures missing" if between is None
            else f"{word}bar at the end: drop at steady temperature, {between[0]:.3g} to {between[1]:.3g} kPa"
        )  # fmt: skip

    return move


def alt_hold(result: Result) -> str:
    """The picture in words."""
    inputs = result.inputs
    word = f", {result.outcome}" if result.outcome else ""
    rating = inputs.cap_rating
    cap = "" if rating is None else f", below the cap rating of {rating / 1e3:.4g} kPa"
    between = result.plot_data["between"]
    steady = ""
    if between is not None:
        steady = f" At steady temperature the drop is from {between[0]:.3g} to {between[1]:.3g} kPa."
    return (
        f"Pressure against time, from {inputs.start / 1e3:.4g} to {inputs.end / 1e3:.4g} kPa in "
        f"{inputs.minutes / 60:.4g} minutes"
        f"{cap}{word}.{steady}"
    )


PICTURES = {
    "leak_orifice": Picture(draw_orifice, alt_orifice, size=(6.2, 2.6)),
    "compression_test": Picture(draw_compression, alt_compression, size=(6.2, 3.4)),
    "leak_down": Picture(draw_leak, alt_leak, size=(6.2, 3.8)),
    "pressure_hold": Picture(draw_hold, alt_hold),
}
