"""The pictures of the workings of the topic threads."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from shoplib.core.working import Picture, Result
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    PALE,
    PALER,
    SOFT,
    WARM,
    ceil_to,
    set_steady_limits,
    span_to_place,
    text_to_place,
)
from shoplib.topics.threads.thread_stripping import WHAT


def draw_thread_stripping(figure: Any) -> Callable[[Result], None]:
    """Load against engaged length: rising lines for the threads, a level line for the bolt, and where they cross."""
    ax = figure.subplots()
    ax.set(xlabel="engaged length of full thread, mm", ylabel="load, kN")
    ax.spines[["top", "right"]].set_visible(False)
    weak = span_to_place(ax, color=PALER, lw=0, gid="weak")
    weak_says = text_to_place(ax, "strips first", ha="center", va="bottom", fontsize=9, color=SOFT, gid="weaksays")
    (bolt,) = ax.plot([], [], color=INK, lw=1.6, gid="bolt")
    (internal,) = ax.plot([], [], color=ACCENT, lw=2, gid="internal")
    (external,) = ax.plot([], [], color=PALE, lw=2, ls=(0, (6, 2)), gid="external")
    (dots,) = ax.plot([], [], "o", ms=7, mfc="white", mec=WARM, mew=2, ls="none", gid="dots")
    (cross,) = ax.plot([], [], "D", ms=6, color=INK, ls="none", gid="cross")
    names = {
        key: text_to_place(
            ax,
            word,
            ha="right",
            va="bottom" if key == "b" else "center",
            fontsize=8.5,
            color=colour,
            gid=f"name{key}",
            bbox={"fc": "white", "ec": "none", "pad": 0.6, "alpha": 0.8},
        )
        for key, word, colour in (
            ("b", "bolt breaks", INK),
            ("i", "tapped thread", ACCENT),
            ("e", "bolt's thread", SOFT),
        )
    }
    says = text_to_place(
        ax,
        ha="left",
        va="top",
        fontsize=9,
        color=WARM,
        gid="says",
        bbox={"fc": "white", "ec": "none", "pad": 0.6, "alpha": 0.8},
    )

    def move(result: Result) -> None:
        plot_data, F_B = result.plot_data, result["break_load"] / 1e3
        m = plot_data["m"] * 1e3
        wide, high = ceil_to(float(m[-1]), 5), ceil_to(1.7 * F_B, 20)
        (_, right), (_, top) = set_steady_limits(ax, xlim=(0, wide), ylim=(0, high))
        internal.set_data(m, plot_data["internal"] / 1e3)
        external.set_data(m, plot_data["external"] / 1e3)
        bolt.set_data([0, right], [F_B, F_B])
        needed = result["needed_engagement"] * 1e3
        weak.set_width(min(needed, right))
        weak_says.set_position((min(needed, right) / 2, 0.02 * top))
        cross.set_data([needed], [F_B])
        points = [
            (plot_data["engaged_in"] * 1e3, result["strip_load_internal"] / 1e3),
            (plot_data["engaged_ex"] * 1e3, result["strip_load_external"] / 1e3),
        ]
        inside = [p for p in points if p[1] <= top]
        dots.set_data([p[0] for p in inside], [p[1] for p in inside])
        names["b"].set_position((0.995 * right, F_B))
        slopes = {"i": points[0][1] / points[0][0], "e": points[1][1] / points[1][0]}
        steeper = max(slopes, key=lambda k: slopes[k])
        for key, slope in slopes.items():  # the steeper line is named on its left, the other on its right
            x = min((0.93 if key == steeper else 0.28) * top / slope, 0.8 * right)
            names[key].set_position((x, x * slope))
            names[key].set_ha("right" if key == steeper else "left")
        least = result["least_load"] / 1e3
        says.set_position((points[0][0] + 0.02 * right, min(least, top) - 0.02 * top))
        says.set_text(f"{result['breaks_first']} fails first, {least:.3g} kN")

    return move


def alt_thread_stripping(result: Result) -> str:
    """The picture in words."""
    return (
        f"Load against engaged length. The bolt breaks at {result['break_load'] / 1e3:.3g} kN at any length; the "
        f"tapped thread strips at {result['strip_load_internal'] / 1e3:.3g} kN, the bolt's thread at "
        f"{result['strip_load_external'] / 1e3:.3g} kN: {WHAT[result['breaks_first']]}. They are equal at "
        f"{result['needed_engagement'] * 1e3:.3g} mm."
    )


PICTURES = {
    "thread_stripping": Picture(draw_thread_stripping, alt_thread_stripping, size=(6.2, 3.4)),
}
