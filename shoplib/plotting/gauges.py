"""A gauge: a bar with its forbidden zone, for a live picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from shoplib.plotting.plot_style import ACCENT, INK, PALE, PALER, SOFT, round_up, set_changed, set_steady_limits


class Gauge:
    """A scale with the earlier value, the present value and the forbidden zone.  Whatever moves has a gid."""

    def __init__(self, ax: Any, key: str, title: str) -> None:
        self.ax = ax
        ax.set(ylim=(0, 1), yticks=[])
        ax.spines[["left", "top", "right"]].set_visible(False)
        ax.tick_params(labelsize=8, length=3)
        ax.locator_params(axis="x", nbins=6)
        self.zone = ax.axvspan(0, 0, facecolor=PALER, edgecolor=SOFT, hatch="////", lw=0)
        (self.edge,) = ax.plot([], [], color=INK, lw=1.2)
        (self.track,) = ax.plot([], [], color=PALE, lw=1.2, gid=f"{key}-track")
        (self.bar,) = ax.plot([], [], color=ACCENT, lw=6, solid_capstyle="butt", gid=f"{key}-bar")
        (self.was,) = ax.plot([], [], "o", ms=6, mfc="white", mec=ACCENT, mew=1.3, clip_on=False, gid=f"{key}-was")
        (self.now,) = ax.plot([], [], "D", ms=7, mfc=ACCENT, mec="white", mew=1, clip_on=False, gid=f"{key}-now")
        ax.text(0, 1.12, title, transform=ax.transAxes, ha="left", va="bottom", fontsize=9, color=SOFT)
        self.least = ax.text(0, 0.98, "", ha="left", va="top", fontsize=7.5, color=INK)
        self.says = ax.text(
            1, 1.12, "", transform=ax.transAxes, ha="right", va="bottom", fontsize=10, gid=f"{key}-says"
        )

    def scale(self, *values: float) -> None:
        """Set limits in whole steps around these values; change them only when necessary."""
        low, high = min(values), max(values)
        step = round_up(max(high - low, 1e-6 * abs(high), 1e-9) / 5, (1, 2, 5, 10))
        limits = (step * np.floor(low / step + 1e-6), step * np.ceil(high / step - 1e-6))
        if limits[0] == limits[1]:
            limits = (limits[0], limits[1] + step)
        set_steady_limits(self.ax, xlim=limits)

    def forbid(self, below: float | None, digits: int = 2) -> None:
        """Hatch the zone below a limit."""
        first = float(self.ax.get_xlim()[0])
        end = first if below is None else below
        words_at = end + 0.012 * (float(self.ax.get_xlim()[1]) - first)
        set_changed(self.zone, visible=(end > first,), x=(first,), width=(max(end - first, 0.0),))
        least = "" if below is None else f"smallest allowed {below:.{digits}f}"
        set_changed(self.least, text=(least,), position=((words_at, 0.98),))
        set_changed(self.edge, data=((end, end), (0.0, 1.0)), visible=(below is not None,))

    def show(self, was: float, now: float, says: str, far: tuple[float, float] | None = None) -> None:
        """Show the earlier and the present value."""
        self.bar.set_data([was, now], [0.5, 0.5])
        set_changed(self.was, data=((was,), (0.5,)))
        self.now.set_data([now], [0.5])
        set_changed(self.track, data=(tuple(map(float, far or (was, now))), (0.5, 0.5)))
        self.says.set_text(says)
