"""The picture of residual torques."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from shoplib.core.units import N_m, show, unit_of
from shoplib.core.working import Result
from shoplib.plotting.plot_style import ACCENT, INK, SOFT, WARM, round_up, set_changed, set_steady_limits

TORQUE = unit_of(N_m)


def draw_residual(figure: Any) -> Callable[[Result], None]:
    """The residual torque of each bolt, their median, and the torque at assembly where it was typed."""
    ax = figure.subplots()
    ax.set(xlabel="bolt", ylabel="residual torque, N·m")
    ax.spines[["top", "right"]].set_visible(False)
    (stems,) = ax.plot([], [], color=SOFT, lw=1.0, gid="stems")
    (dots,) = ax.plot([], [], "o", color=ACCENT, ms=7, gid="dots")
    (median,) = ax.plot([], [], color=INK, lw=1.2, gid="median")
    (assembly,) = ax.plot([], [], color=WARM, lw=1.4, ls=(0, (5, 2)), gid="assembly")
    told = ax.text(0.0, 1.02, "", transform=ax.transAxes, ha="left", va="bottom", fontsize=9.5, color=INK, gid="told")

    def move(result: Result) -> None:
        rows = result.inputs.readings
        torques, at = [row["torque"] for row in rows], range(1, len(rows) + 1)
        typed = result.inputs.assembly_torque
        set_steady_limits(ax, ylim=(0.0, round_up(1.1 * max(x for x in (*torques, typed) if x is not None))))
        set_changed(ax, xlim=(0.4, len(rows) + 0.6), xticks=(list(at), [str(row["bolt"])[:8] for row in rows]))
        dots.set_data(list(at), torques)
        nan = float("nan")
        stems.set_data([x for k in at for x in (k, k, nan)], [y for t in torques for y in (0.0, t, nan)])
        whole = [0.4, len(rows) + 0.6]
        median.set_data(whole, [result["median"]] * 2)
        assembly.set_data(*([whole, [typed] * 2] if typed else [[], []]))
        told.set_text("line: median" + ("   dashed: torque at assembly" if typed else ""))

    return move


def alt_residual(result: Result) -> str:
    """The picture in words."""
    parts = [f"{row['bolt']} {show(row['torque'], TORQUE, 3)}" for row in result.inputs.readings]
    return f"Residual torque of each bolt: {'; '.join(parts)}. Median {show(result['median'], TORQUE, 3)}."
