"""The picture of a reading in a coolant's own table."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from shoplib.core.units import degC, pct_vol, show, unit_of
from shoplib.core.working import Result
from shoplib.plotting.plot_style import ACCENT, INK, SOFT, WARM, padded_limits, set_steady_limits

CELSIUS, STRENGTH = unit_of(degC), unit_of(pct_vol)
MOST = 2  # temperatures: those next to that of the sample


def draw_table(figure: Any) -> Callable[[Result], None]:
    """The rows of the table next to the sample's temperature, and from the reading across to the strength."""
    ax = figure.subplots()
    ax.set(xlabel="reading on the scale", ylabel="strength, % by volume")
    ax.spines[["top", "right"]].set_visible(False)
    marks = ("o", "s")
    lines = [ax.plot([], [], marker=marks[k], color=SOFT, ms=5, lw=1.2, gid=f"column{k}")[0] for k in range(MOST)]
    (way,) = ax.plot([], [], color=WARM, lw=1.4, ls=(0, (4, 2)), gid="way")
    (dot,) = ax.plot([], [], "D", color=ACCENT, ms=8, gid="dot")
    (bar,) = ax.plot([], [], color=ACCENT, lw=1.6, marker="_", ms=10, gid="bar")
    told = ax.text(0.0, 1.02, "", transform=ax.transAxes, ha="left", va="bottom", fontsize=9.5, color=INK, gid="told",
                   family="DejaVu Sans")  # fmt: skip

    def move(result: Result) -> None:
        near, reading = result.plot_data["near"], float(result.inputs.reading)
        strength, half = 100 * result["strength"], 100 * result["strength_uncertainty"]
        for k, line in enumerate(lines):
            there = k < len(near)
            line.set_data(*((near[k].values, 100 * near[k].strengths) if there else ([], [])))
        values = [float(v) for c in near for v in (c.values[0], c.values[-1])]
        strengths = [100 * float(s) for c in near for s in (c.strengths[0], c.strengths[-1])]
        (left, _), (bottom, _) = set_steady_limits(
            ax, xlim=padded_limits(min(values), max(values), 8),
            ylim=padded_limits(min(*strengths, strength - half), max(*strengths, strength + half), 8),
        )  # fmt: skip
        way.set_data([reading, reading, left], [bottom, strength, strength])
        dot.set_data([reading], [strength])
        bar.set_data([reading] * 2, [strength - half, strength + half])
        named = [f"{sign} table at {show(c.temperature, CELSIUS, 3)}" for sign, c in zip("●■", near, strict=False)]
        told.set_text("   ".join([*named, "◆ this reading"]))

    return move


def alt_table(result: Result) -> str:
    """The picture in words."""
    strength, half = (show(result[name], STRENGTH, 3) for name in ("strength", "strength_uncertainty"))
    return f"The coolant's own table as a curve. The reading gives a strength of {strength}, uncertain by {half}."
