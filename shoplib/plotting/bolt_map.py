"""A map of the bolts and their tightening order."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from shoplib.plotting.plot_style import ACCENT, INK, PALE, SOFT, WARM, ceil_to, set_changed

# ------------------------------------------------------------------------------ order
MOST_BOLTS = 60
SMALLEST, LARGEST = 10.0, 21.0  # points across a bolt
SHARE_OF_GAP = 0.5  # a bolt and its name fit between two neighbours
FITS_IN_A_RING = 3  # characters of a name


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
    edge = ceil_to(max(part * max(wide, high), 12), 4)
    limits = (min(xs) - edge, max(xs) + edge), (min(ys) - edge * 1.15, max(ys) + edge)
    set_changed(ax, xlim=limits[0], ylim=limits[1])


def smallest_gap(
    figure: Any, ax: Any, at: Sequence[tuple[float, float]], share: tuple[float, float] = (1.0, 1.0)
) -> float:
    """Points on the page from a bolt (mm) to its nearest neighbour, if the map fills this share of the figure."""
    wide, high = figure.get_size_inches() * share * 72
    scale = min(wide / abs(ax.get_xlim()[1] - ax.get_xlim()[0]), high / abs(ax.get_ylim()[1] - ax.get_ylim()[0]))
    return float(min((math.dist(a, b) for k, a in enumerate(at) for b in at[:k]), default=math.inf) * scale)


def _texts(ax: Any, letter: str, **style: Any) -> list[Any]:
    """One empty text for each bolt that a map can show."""
    return [ax.text(0, 0, "", ha="center", gid=f"{letter}{k}", **style) for k in range(MOST_BOLTS)]


def order_map(figure: Any) -> Callable[..., None]:
    """A map with a path through its bolts; returns ``show(points, order, says, marks)``.

    A ring holds the name of its bolt (a long name stands under it); the badge at its corner is its place in the order.
    ``points`` are positions in m by name.  ``marks`` are signs under a bolt, such as ●○ for passes done.
    ``also`` holds the orders of further groups of bolts; each is counted from 1.
    """
    from matplotlib.transforms import ScaledTranslation

    ax = map_axes(figure)
    (way,) = ax.plot([], [], color=PALE, lw=1.2, zorder=1, gid="way")
    (bolts,) = ax.plot([], [], "o", ms=21, color="white", mec=ACCENT, mew=1.8, zorder=2, gid="bolts")
    (start,) = ax.plot([], [], "o", ms=26, color="none", mec=WARM, mew=1.6, zorder=2, gid="start")
    names = _texts(ax, "n", va="center", fontweight="bold", color=INK, zorder=3)
    square = {"fc": ACCENT, "ec": "none", "boxstyle": "round,pad=0.22,rounding_size=0.3"}
    badges = _texts(ax, "o", va="center", fontweight="bold", color="white", zorder=4, bbox=square)
    labels = _texts(ax, "l", va="top", color=SOFT, zorder=3, bbox={"fc": "white", "ec": "none", "pad": 0.8})
    told = ax.text(0.5, 1.0, "", transform=ax.transAxes, ha="center", va="bottom", fontsize=9.5, color=INK, gid="says")
    set_out = 0.0

    def set_size(size: float) -> None:
        """Everything follows the size of a ring, in points; most keystrokes leave it as it is."""
        nonlocal set_out
        if size == set_out:
            return
        set_out = size
        bolts.set_markersize(size)
        start.set_markersize(size * 1.24)
        for texts, (x, y), height in (
            (badges, (size * 0.56, size * 0.52), max(size * 0.36, 4.5)),
            (labels, (0, -size / 2 - 3.5), 8 if size == LARGEST else 7),
        ):
            beside = ax.transData + ScaledTranslation(x / 72, y / 72, figure.dpi_scale_trans)
            for text in texts:
                text.set_transform(beside)
                text.set_fontsize(height)

    def show_order(
        points: Mapping[str, tuple[float, float]],
        order: Sequence[str],
        says: str,
        marks: Mapping[str, str],
        also: Sequence[Sequence[str]] = (),
    ) -> None:
        told.set_text(f"{says}\nsmall number: place in the order" if order else says)
        runs = [list(order), *map(list, also)]
        order = [n for run in runs for n in run]
        counted = [k for run in runs for k in range(1, len(run) + 1)]
        at = [(points[n][0] * 1e3, points[n][1] * 1e3) for n in order]
        xs, ys = [x for x, _ in at], [y for _, y in at]
        if at:
            frame_map(ax, xs, ys, 0.08)
        set_size(max(SMALLEST, min(LARGEST, smallest_gap(figure, ax, at) * SHARE_OF_GAP)))
        first = [k for k, count in enumerate(counted) if count == 1]
        for k in reversed(first[1:]):  # the path is broken between two runs
            xs.insert(k, math.nan)
            ys.insert(k, math.nan)
        way.set_data(xs, ys)
        bolts.set_data(xs, ys)
        start.set_data([at[k][0] for k in first], [at[k][1] for k in first])
        for k, (name, badge, label) in enumerate(zip(names, badges, labels, strict=True)):
            if k >= len(at):
                for text in (name, badge, label):
                    text.set_text("")
                continue
            fits = len(order[k]) <= FITS_IN_A_RING
            name.set_text(order[k] if fits else "")
            name.set_fontsize(set_out * (0.4 if len(order[k]) == FITS_IN_A_RING else 0.53))
            badge.set_text(str(counted[k]))
            label.set_text("\n".join(filter(None, ("" if fits else order[k][:10], marks.get(order[k], "")))))
            for text in (name, badge, label):
                text.set_position(at[k])

    return show_order
