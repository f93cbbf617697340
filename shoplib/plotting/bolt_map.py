"""A map of the bolts and their tightening order."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from shoplib.plotting.plot_style import ACCENT, INK, PALE, SOFT, WARM, frame, step_up

# ------------------------------------------------------------------------------ order
MOST_BOLTS = 60


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


def order_map(figure: Any) -> Callable[..., None]:
    """A map with a path through its bolts; returns ``show(points, order, says, marks)``.

    ``points`` are positions in m by name.  ``marks`` are signs under a bolt's name, such as ●○ for passes done.
    ``also`` holds the orders of further groups of bolts; each is counted from 1.
    """
    from matplotlib.transforms import offset_copy

    ax = map_axes(figure)
    (way,) = ax.plot([], [], color=PALE, lw=1.2, zorder=1, gid="way")
    (bolts,) = ax.plot([], [], "o", ms=21, color="white", mec=ACCENT, mew=1.8, zorder=2, gid="bolts")
    (start,) = ax.plot([], [], "o", ms=26, color="none", mec=WARM, mew=1.6, zorder=2, gid="start")
    numbers = [
        ax.text(0, 0, "", ha="center", va="center", fontsize=11, fontweight="bold", color=INK, zorder=3, gid=f"n{k}")
        for k in range(MOST_BOLTS)
    ]
    below = offset_copy(ax.transData, figure, y=-14, units="points")
    labels = [
        ax.text(0, 0, "", transform=below, ha="center", va="top", fontsize=8, color=SOFT, zorder=3, gid=f"l{k}",
                bbox={"fc": "white", "ec": "none", "pad": 0.8})
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
            frame_map(ax, xs, ys)
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
            label.set_text(f"bolt {order[k][:10]}" + (f"\n{signs}" if signs else "") if here else "")
            if here:
                number.set_position(at[k])
                label.set_position(at[k])

    return show_order
