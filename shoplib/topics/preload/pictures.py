"""The pictures of the workings of the topic preload."""

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
    band_to_place,
    bar_to_place,
    round_up,
    set_steady_limits,
    text_to_place,
)
from shoplib.topics.preload import measured_pictures as measured


def draw_preload(figure: Any) -> Callable[[Result], None]:
    """Where the torque goes, as a bar in three parts; and preload against torque with its range."""
    bar, curve = figure.subplots(2, 1, height_ratios=(1, 3.2))
    bar.set(xlim=(0, 100), ylim=(-0.75, 0.5), yticks=[], xlabel="share of the torque, %")
    bar.spines[["left", "top", "right"]].set_visible(False)
    styles = ((ACCENT, "white"), (PALE, INK), (PALER, INK))
    blocks = [
        bar_to_place(bar, 0, 0.62, color=face, edgecolor="white", linewidth=1.2, gid=f"part{k}")
        for k, (face, _) in enumerate(styles)
    ]
    notes = [
        text_to_place(bar, ha="center", va="center", color=ink, fontsize=8, gid=f"note{k}")
        for k, (_, ink) in enumerate(styles)
    ]
    heads = [
        text_to_place(bar, word, ha="center", va="center", fontsize=7.5, color=SOFT, gid=f"head{k}")
        for k, word in enumerate(("stretch", "thread friction", "head friction"))
    ]
    curve.set(xlabel="torque, N·m", ylabel="preload, kN")
    curve.spines[["top", "right"]].set_visible(False)
    band = band_to_place(curve, color=ACCENT, alpha=0.14, lw=0, gid="band")
    (edge_low,) = curve.plot([], [], color=SOFT, lw=0.8, ls=(0, (4, 2)), gid="low")
    (edge_high,) = curve.plot([], [], color=SOFT, lw=0.8, ls=(0, (4, 2)), gid="high")
    (line,) = curve.plot([], [], color=ACCENT, lw=1.8, gid="mid")
    (guide,) = curve.plot([], [], color=SOFT, lw=0.7, ls=(0, (1.5, 2)), gid="guide")
    (dot,) = curve.plot([], [], "o", ms=6, mfc="white", mec=ACCENT, mew=1.6, gid="dot")
    label = text_to_place(curve, color=ACCENT, fontsize=9, va="top", gid="label")

    def move(result: Result) -> None:
        left = 0.0
        for block, note, head, name in zip(
            blocks, notes, heads, ("share_pitch", "share_thread", "share_head"), strict=True
        ):
            width = 100 * result[name]
            block.set_x(left)
            block.set_width(width)
            note.set_position((left + width / 2, 0))
            note.set_text(f"{width:.0f} %")
            head.set_position((left + width / 2, -0.55))
            left += width
        plot_data = result.plot_data
        M, scale = plot_data["torque"], 1e-3
        line.set_data(M, plot_data["mid"] * scale)
        edge_low.set_data(M, plot_data["low"] * scale)
        edge_high.set_data(M, plot_data["high"] * scale)
        for edge in (edge_low, edge_high):
            edge.set_visible(bool(plot_data["banded"]))
        band.set_data(M, plot_data["low"] * scale, plot_data["high"] * scale)
        torque, force = result.inputs.torque.value, result["preload"] * scale
        guide.set_data([torque, torque, 0], [0, force, force])
        dot.set_data([torque], [force])
        label.set_position((torque + 0.02 * M[-1], force - 0.02 * plot_data["high"].max() * scale))
        label.set_text(f"{force:.1f} kN")
        # whole steps, so that a small move leaves the axes alone
        limits = plot_data.get("limits") or (
            (0, round_up(M[-1])),
            (0, round_up(float(plot_data["high"].max()) * scale)),
        )
        set_steady_limits(curve, xlim=limits[0], ylim=limits[1])

    return move


def alt_preload(result: Result) -> str:
    """The picture in words."""
    shares = ", ".join(
        f"{100 * result[name]:.0f} % {word}"
        for name, word in (
            ("share_pitch", "stretch"),
            ("share_thread", "thread friction"),
            ("share_head", "head friction"),
        )
    )
    band = ""
    if result["preload_low"] is not None:
        low, high = (f"{result[name] / 1e3:.1f}" for name in ("preload_low", "preload_high"))
        reading = result.inputs.torque
        torque = " and the range of the torque" if reading.is_band else ""
        band = f", between {low} and {high} kN over the range of friction{torque}"
    return f"Where the torque goes: {shares}. Preload against torque: {result['preload'] / 1e3:.1f} kN{band}."


PICTURES = {
    "preload_from_torque": Picture(draw_preload, alt_preload, size=(6.2, 4.0)),
    "friction_evaluation": Picture(measured.draw_friction, measured.alt_friction, size=(6.2, 2.4)),
    "preload_from_elongation": Picture(measured.draw_elongation, measured.alt_elongation, size=(6.2, 2.0)),
    "preload_budget": Picture(measured.draw_budget, measured.alt_budget, size=(6.2, 4.2)),
}
