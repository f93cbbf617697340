"""The picture of the valve lash before and after a cut."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from shoplib.core.units import mm, show, unit_of
from shoplib.core.working import Result
from shoplib.plotting.plot_style import ACCENT, INK, PALER, SOFT, WARM, padded_limits, set_steady_limits

MM = unit_of(mm)
LIMITS = ("minimum_lash", "maximum_lash")


def draw_lash(figure: Any) -> Callable[[Result], None]:
    """The lash on a line: before, after, the lash to set and the limits; below zero the valve is held open."""
    ax = figure.subplots()
    ax.set(xlabel="lash at the valve, mm", yticks=[], ylim=(-1, 1.3))
    ax.spines[["top", "right", "left"]].set_visible(False)
    ax.axvspan(-100, 0, facecolor=PALER, edgecolor="none", zorder=0)
    ax.axvline(0, color=INK, lw=1.0)
    lines = [ax.plot([], [], color=WARM, lw=1.2, ls=(0, (4, 2)), gid=name)[0] for name in LIMITS]
    (way,) = ax.plot([], [], color=SOFT, lw=1.4, gid="way")
    (before,) = ax.plot([], [], "o", ms=10, mfc="white", mec=ACCENT, mew=1.8, gid="before")
    (after,) = ax.plot([], [], "o", ms=10, color=ACCENT, gid="after")
    (wanted,) = ax.plot([], [], "|", ms=26, mew=2.0, color=INK, gid="wanted")
    told = ax.text(0.0, 1.02, "", transform=ax.transAxes, ha="left", va="bottom", fontsize=9.5, color=INK, gid="told",
                   family="DejaVu Sans")  # fmt: skip

    def move(result: Result) -> None:
        inputs, now = result.inputs, 1e3 * result["lash_after"]
        then, to_set = 1e3 * inputs.lash, inputs.wanted_lash
        limits = [inputs[name] for name in LIMITS]
        every = [0.0, now, then, *(1e3 * x for x in (*limits, to_set) if x is not None)]
        set_steady_limits(ax, xlim=padded_limits(min(every), max(every), 10))
        for line, x in zip(lines, limits, strict=True):
            line.set_data(*(([1e3 * x] * 2, [-0.8, 0.9]) if x is not None else ([], [])))
        before.set_data([then], [0.3])
        after.set_data([now], [-0.3])
        way.set_data([then, now], [0.3, -0.3])
        wanted.set_data(*(([1e3 * to_set], [-0.3]) if to_set is not None else ([], [])))
        parts = ["○ before", "● after"] + ["| lash to set"] * (to_set is not None)
        parts += ["dashed: limits"] * any(x is not None for x in limits)
        told.set_text("   ".join([*parts, *(["the valve is held open"] if now <= 0 else [])]))

    return move


def alt_lash(result: Result) -> str:
    """The picture in words."""
    before, after = (show(x, MM, 3) for x in (result.inputs.lash, result["lash_after"]))
    held = " The valve is held open." if result["lash_after"] <= 0 else ""
    return f"Valve lash before the cut {before}, after it {after}.{held}"
