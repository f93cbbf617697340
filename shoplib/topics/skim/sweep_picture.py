"""The picture of the open valve over the piston."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from shoplib.core.working import Result
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    PALER,
    SOFT,
    WARM,
    band_to_place,
    floor_to,
    round_up,
    set_steady_limits,
    text_to_place,
)

LEFT = 62.0  # crank degrees to either side of top dead centre


def draw_sweep(figure: Any) -> Callable[[Result], None]:
    """Room above the piston and lift of the valve over the crank angle, before and after the cut."""
    ax = figure.subplots()
    ax.set(
        xlim=(-LEFT, LEFT),
        xlabel="crank angle from top dead centre, ° (dashed: before the cut)",
        ylabel="along the valve, mm",
    )
    ax.spines[["top", "right"]].set_visible(False)
    piston = band_to_place(ax, facecolor=PALER, edgecolor="none", gid="piston")
    styles = {"room_before": (SOFT, (0, (3, 2)), 1.0), "lift_before": (SOFT, (0, (3, 2)), 1.0),
              "room": (INK, "-", 1.6), "lift": (ACCENT, "-", 2.0)}  # fmt: skip
    lines = {name: ax.plot([], [], color=color, ls=ls, lw=lw, gid=name)[0] for name, (color, ls, lw) in styles.items()}
    (gap,) = ax.plot([], [], color=WARM, lw=2.2, marker="_", ms=9, mew=2, gid="gap")
    note = text_to_place(ax, color=WARM, fontsize=10, va="center", gid="note")
    ax.text(0.5, 0.93, "piston", transform=ax.transAxes, ha="center", va="top", fontsize=8.5, color=INK)
    valve = text_to_place(ax, "valve", fontsize=8.5, color=ACCENT, ha="center", va="bottom", gid="valve")

    def move(result: Result) -> None:
        plot_data = result.plot_data
        theta = np.round(np.degrees(plot_data["theta"] - plot_data["centre"]))  # whole degrees
        for name, line in lines.items():
            line.set_data(theta, 1e3 * plot_data[name])
        shown = np.abs(theta) <= LEFT
        top = round_up(1e3 * float(max(plot_data["room"][np.abs(theta) < 30].max(), plot_data["lift"][shown].max())))
        bottom = floor_to(1e3 * min(float(plot_data["room"].min()), 0.0), 1)
        set_steady_limits(ax, ylim=(bottom, top))
        piston.set_data(theta, 1e3 * plot_data["room"], np.full(len(theta), 1e3))
        at = plot_data["at"]
        x, low, high = float(np.degrees(at.angle - plot_data["centre"])), 1e3 * at.lift, 1e3 * at.room
        gap.set_data([x, x], [low, high])
        left = x < 0
        note.set_position((x + (2.0 if left else -2.0), (low + high) / 2))
        note.set_ha("left" if left else "right")
        note.set_text(f"{1e3 * result['smallest_clearance']:.2f} mm at {round(x)}°".replace("-", "−"))
        side = -LEFT + 14 if plot_data["lift"][shown][0] > plot_data["lift"][shown][-1] else LEFT - 14
        valve.set_position((side, float(np.interp(side, theta, 1e3 * plot_data["lift"])) + 0.03 * top))

    return move


def alt_sweep(result: Result) -> str:
    """The picture in words."""
    gap, before = (1e3 * result[name] for name in ("smallest_clearance", "clearance_before"))
    angle = float(np.degrees(result["at_angle"]))
    return (
        f"Curves of the room above the piston and of the valve lift over the crank angle. They are closest at "
        f"{angle:.0f}°: {gap:.2f} mm after the cut, {before:.2f} mm before it."
    )
