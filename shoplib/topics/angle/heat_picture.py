"""The picture of the preload while the head warms up."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from shoplib.core.working import Result
from shoplib.plotting.plot_style import ACCENT, SOFT, WARM, padded_limits, round_up, set_steady_limits, text_to_place


def draw_heat(figure: Any) -> Callable[[Result], None]:
    """Head and bolt warming up, and the preload below it."""
    warm, force = figure.subplots(2, 1, sharex=True)
    warm.set(ylabel="warmer by, K")
    force.set(ylabel="preload, kN", xlabel="minutes")
    for ax in (warm, force):
        ax.spines[["top", "right"]].set_visible(False)
    (head,) = warm.plot([], [], color=WARM, lw=1.8, gid="head")
    (bolt,) = warm.plot([], [], color=SOFT, lw=1.8, ls=(0, (4, 2)), gid="bolt")
    (line,) = force.plot([], [], color=ACCENT, lw=2, gid="line")
    settled = force.axhline(color=SOFT, lw=0.8, ls=(0, (1.5, 2)), gid="settled")
    (dot,) = force.plot([], [], "o", ms=7, mfc="white", mec=ACCENT, mew=1.6, gid="dot")
    names = [text_to_place(warm, word, color=color, fontsize=9, gid=f"name{n}")
             for n, (word, color) in enumerate((("head", WARM), ("bolt", SOFT)))]  # fmt: skip

    def move(result: Result) -> None:
        data = result.plot_data
        t = data["t"] / 60
        shown = round_up(float(t[-1]) / 2)
        set_steady_limits(warm, xlim=(0.0, shown), ylim=(0.0, round_up(1.1 * float(data["head"].max()))))
        head.set_data(t, data["head"])
        bolt.set_data(t, data["bolt"])
        k = int(t.searchsorted(float(t[-1]) / 12))
        names[0].set_position((float(t[k]) * 0.55, float(data["head"][k])))
        names[1].set_position((float(t[k]) * 1.35, float(data["bolt"][k]) * 0.9))
        F = data["preload"] / 1e3
        set_steady_limits(force, ylim=padded_limits(float(F.min()), float(F.max()), 8))
        line.set_data(t, F)
        settled.set_ydata([data["settled"] / 1e3] * 2)
        dot.set_data([result["peak_time"] / 60], [result["preload_peak"] / 1e3])

    return move


def alt_heat(result: Result) -> str:
    """The picture in words."""
    peak, settled = (result[name] / 1e3 for name in ("preload_peak", "preload_settled"))
    return (
        f"Curves of head and bolt warming up, and of the preload: it rises to {peak:.1f} kN after "
        f"{result['peak_time'] / 60:.1f} minutes and ends at {settled:.1f} kN."
    )
