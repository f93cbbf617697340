"""The pictures of the workings of the topic torque."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from shoplib.core.units import deg, unit_of
from shoplib.core.working import Picture, Result
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    SOFT,
    WARM,
    bar_to_place,
    round_up,
    set_steady_limits,
    text_to_place,
)


def draw_wrench_setting(figure: Any) -> Callable[[Result], None]:
    """The wrench from above, to scale, with its effective arm; below it the torque of an uncorrected setting."""
    ax, bars = figure.subplots(2, 1, height_ratios=(2.4, 1))
    ax.set_aspect("equal")
    ax.axis("off")
    ax.set(xlim=(-130, 130), ylim=(-52, 52))
    (handle,) = ax.plot([], [], color=SOFT, lw=7, solid_capstyle="round", gid="handle")
    (adapter,) = ax.plot([], [], color=ACCENT, lw=7, solid_capstyle="round", gid="adapter")
    (grip,) = ax.plot([], [], "o", ms=10, color="white", mec=INK, mew=1.4, gid="grip")
    (square,) = ax.plot([], [], "s", ms=11, color="white", mec=INK, mew=1.4, gid="square")
    (bolt,) = ax.plot([], [], "h", ms=16, color="white", mec=ACCENT, mew=2, gid="bolt")
    (drop,) = ax.plot([], [], color=WARM, lw=0.9, ls=(0, (2, 2)), gid="drop")
    (arm,) = ax.plot([], [], color=WARM, lw=1.3, marker="|", ms=8, mew=1.3, gid="arm")
    length = text_to_place(ax, ha="center", va="bottom", fontsize=9, color=SOFT, gid="length")
    reach = text_to_place(ax, ha="center", va="center", fontsize=9, color=ACCENT, gid="reach")
    works = text_to_place(ax, ha="center", va="top", fontsize=9, color=WARM, gid="works")
    says = ax.text(0, 46, "", ha="center", va="center", fontsize=11, color=INK, gid="says")
    bars.set(ylim=(1.6, -0.6), xlabel="torque at the bolt, N·m")
    bars.set_yticks([0, 1], ["wanted", "not corrected"])
    bars.tick_params(axis="y", length=0)
    bars.spines[["top", "right", "left"]].set_visible(False)
    wanted = bar_to_place(bars, 0, 0.62, color=ACCENT, gid="wanted")
    wrong = bar_to_place(bars, 1, 0.62, color="white", edgecolor=WARM, hatch="////", lw=1.2, gid="wrong")
    boxed: Any = {"bbox": {"fc": "white", "ec": "none", "pad": 1.5}}
    error = text_to_place(bars, ha="right", va="center", fontsize=9, color=INK, gid="error", **boxed)

    def move(result: Result) -> None:
        inputs = result.inputs
        L, E, alpha = inputs.wrench_length, inputs.adapter_length, inputs.adapter_angle
        along, across = float(E * np.cos(alpha)), float(E * np.sin(alpha))
        scale = min(210 / (L + max(along, 0.0)), 30 / abs(across) if across else np.inf)
        total = (L + max(along, 0.0)) * scale
        x0 = -total / 2
        head = x0 + L * scale
        tip = (head + along * scale, across * scale)
        above = across >= 0  # the arm is drawn on the side where the adapter is not
        y = -22 if above else 22
        handle.set_data([x0, head], [0, 0])
        grip.set_data([x0], [0])
        adapter.set_data([head, tip[0]], [0, tip[1]])
        adapter.set_visible(E > 0)
        square.set_data([head], [0])
        bolt.set_data([tip[0]], [tip[1]])
        arm.set_data([x0, tip[0]], [y, y])
        drop.set_data([x0, x0, np.nan, tip[0], tip[0]], [0, y, np.nan, tip[1], y])
        length.set_position((0.6 * x0 + 0.4 * head, 5 if above else -13))
        length.set_text(f"wrench {L * 1e3:.4g} mm, centre to grip")
        reach.set_position((min(max(tip[0], -80), 92), tip[1] + (13 if above else -13)))
        turned = f"{unit_of(deg).from_si(alpha):.4g}°"
        reach.set_text(f"adapter {E * 1e3:.4g} mm, {turned}" if E > 0 else "no adapter")
        works.set_position(((x0 + tip[0]) / 2, y - 4 if above else y + 13))
        works.set_text(f"effective arm: {(L + along) * 1e3:.4g} mm")
        says.set_text(f"set {result['setting']:.3g} N·m for {inputs.torque:.4g} N·m at the bolt")
        uncorrected = result["uncorrected_torque"]
        wanted.set_width(inputs.torque)
        wrong.set_width(uncorrected)
        most = max(inputs.torque, uncorrected)
        set_steady_limits(bars, xlim=(0, round_up(1.02 * most)))
        percent = 100 * (uncorrected / inputs.torque - 1)
        word = "too much" if percent > 0 else "too little"
        error.set_position((0.97 * uncorrected, 1))
        off = f"{abs(percent):.3g} % {word}" if abs(percent) > 0.005 else "no difference"
        error.set_text(f"{uncorrected:.3g} N·m: {off}")

    return move


def alt_wrench_setting(result: Result) -> str:
    """The picture in words."""
    inputs = result.inputs
    angle = unit_of(deg).from_si(inputs.adapter_angle)
    return (
        f"Wrench of {inputs.wrench_length * 1e3:.4g} mm from centre to grip, with an adapter of "
        f"{inputs.adapter_length * 1e3:.4g} mm at {angle:.4g}°: set {result['setting']:.3g} N·m for "
        f"{inputs.torque:.4g} N·m at "
        f"the bolt. Without the correction the bolt would get {result['uncorrected_torque']:.3g} N·m."
    )


PICTURES = {
    "wrench_setting": Picture(draw_wrench_setting, alt_wrench_setting, size=(6.2, 3.6)),
}
