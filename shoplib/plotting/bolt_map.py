"""A map of the bolts and their tightening order."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from shoplib.plotting.plot_style import ACCENT, INK, PALE, SOFT, WARM, frame, step_up

# ------------------------------------------------------------------------------ order
MOST_BOLTS = 60
SMALLEST, LARGEST = 10.0, 21.0  # points across a bolt
SHARE_OF_GAP = 0.5  # a bolt and its name fit between two neighbours
ROOM_FOR_WORD = 42.0  # points from bolt to bolt in which "bolt 12" can be written out


def map_axes(figure: Any, place: tuple[float, float, float, float] | None = None) -> Any:
    """Axes for a map of bolts: one scale both ways, nothing else; ``place`` in fractions of the figure."""
    ax = figure.subplots()
    if place:
        ax.set_position(place)  # outside the layout engine: nothing moves while the user types
    ax.set_aspect("equal")
    ax.axis("off")
    return ax


def frame_map(ax: Any, xs: Sequence[float], ys: Sequence[float], part: float = 0.16) -> None:
    """Set limits around these points (mm), in steps, so that they do not change on every keystroke.

    ``part`` is the margin as a fraction of the size."""
    wide, high = max(xs) - min(xs), max(ys) - min(ys)
    edge = step_up(max(part * max(wide, high), 12), 4)
    limits = (min(xs) - edge, max(xs) + edge), (min(ys) - edge * 1.15, max(ys) + edge)
    frame(ax, xlim=limits[0], ylim=limits[1])


def smallest_gap(figure: Any, ax: Any, at: Sequence[tuple[float, float]]) -> float:
    """Points on the page from a bolt (mm) to its nearest neighbour, if the map fills the figure."""
    wide, high = figure.get_size_inches() * 72
    scale = min(wide / abs(ax.get_xlim()[1] - ax.get_xlim()[0]), high / abs(ax.get_ylim()[1] - ax.get_ylim()[0]))
    return float(min((math.dist(a, b) for k, a in enumerate(at) for b in at[:k]), default=math.inf) * scale)


def order_map(figure: Any) -> Callable[..., None]:
    """A map with a path through its bolts; returns ``show(points, order, says, marks)``.

    ``points`` are positions in m by name.  ``marks`` are signs under a bolt's name, such as ●○ for passes done.
    ``also`` holds the orders of further groups of bolts; each is counted from 1.
    """
    ax = map_axes(figure)
    (way,) = ax.plot([], [], color=PALE, lw=1.2, zorder=1, gid="way")
    (bolts,) = ax.plot([], [], "o", ms=21, color="white", mec=ACCENT, mew=1.8, zorder=2, gid="bolts")
    (start,) = ax.plot([], [], "o", ms=26, color="none", mec=WARM, mew=1.6, zorder=2, gid="start")
    numbers = [
        ax.text(0, 0, "", ha="center", va="center", fontsize=11, fontweight="bold", color=INK, zorder=3, gid=f"n{k}")
        for k in range(MOST_BOLTS)
    ]
    labels = [
        ax.annotate("", (0, 0), (0, -14), textcoords="offset points", ha="center", va="top", fontsize=8, color=SOFT,
                    zorder=3, gid=f"l{k}", bbox={"fc": "white", "ec": "none", "pad": 0.8})
        for k in range(MOST_BOLTS)
    ]  # fmt: skip
    told = ax.text(0.5, 1.0, "", transform=ax.transAxes, ha="center", va="bottom", fontsize=9.5, color=INK, gid="says")

    def show_order(
        points: Mapping[str, tuple[float, float]],
        order: Sequence[str],
        says: str,
        marks: Mapping[str, str],
        also: Sequence[Sequence[str]] = (),
    ) -> None:
        told.set_text(says)
        runs = [list(order), *map(list, also)]
        order = [n for run in runs for n in run]
        counted = [k for run in runs for k in range(1, len(run) + 1)]
        at = [(points[n][0] * 1e3, points[n][1] * 1e3) for n in order]
        xs, ys = [x for x, _ in at], [y for _, y in at]
        if at:
            frame_map(ax, xs, ys, 0.08)
        gap = smallest_gap(figure, ax, at)
        size = max(SMALLEST, min(LARGEST, gap * SHARE_OF_GAP))
        bolts.set_markersize(size)
        start.set_markersize(size * 1.24)
        kind = "bolt " if gap > ROOM_FOR_WORD else ""
        first = [k for k, count in enumerate(counted) if count == 1]
        for k in reversed(first[1:]):  # the path is broken between two runs
            xs.insert(k, math.nan)
            ys.insert(k, math.nan)
        way.set_data(xs, ys)
        bolts.set_data(xs, ys)
        start.set_data([at[k][0] for k in first], [at[k][1] for k in first])
        for k, (number, label) in enumerate(zip(numbers, labels, strict=True)):
            here = k < len(at)
            number.set_text(str(counted[k]) if here else "")
            signs = marks.get(order[k], "") if here else ""
            label.set_text(f"{kind}{order[k][:10]}" + (f"\n{signs}" if signs else "") if here else "")
            if here:
                number.set_position(at[k])
                number.set_fontsize(size * 0.53)
                label.xy = at[k]
                label.set_position((0, -size / 2 - 3.5))
                label.set_fontsize(8 if gap > ROOM_FOR_WORD else 7)

    return show_order
