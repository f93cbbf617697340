"""The pictures of the workings of the topic tightening."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from shoplib.core.units import show
from shoplib.core.working import Picture, Result
from shoplib.physics.outlier import LIMIT
from shoplib.plotting.bolt_map import order_map
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    PALE,
    SOFT,
    WARM,
    band_to_place,
    round_up,
    set_changed,
    set_steady_limits,
)
from shoplib.topics.tightening.peak_torque import STOP
from shoplib.topics.tightening.residual_picture import alt_residual, draw_residual
from shoplib.topics.tightening.stage_words import TORQUE


# ------------------------------------------------------------------------------ the picture
def draw_plan(figure: Any) -> Callable[[Result], None]:
    """The map of the bolts: name inside, place in the order at its corner, group under it."""
    show_order = order_map(figure)

    def move(result: Result) -> None:
        plot_data = result.plot_data
        several = len(plot_data["runs"]) > 1
        marks = (
            {b: g for g, run in zip(plot_data["groups"], plot_data["runs"], strict=True) for b in run}
            if several
            else {}
        )
        show_order(
            plot_data["points"],
            plot_data["runs"][0] if plot_data["runs"] else [],
            f"order of tightening: {plot_data['says']}",
            marks,
            plot_data["runs"][1:],
        )

    return move


def draw_loosening(figure: Any) -> Callable[[Result], None]:
    """The map of the bolts with the order of loosening."""
    show_order = order_map(figure)

    def move(result: Result) -> None:
        data = result.plot_data
        show_order(data["points"], data["runs"][0], f"loosening order: {data['says']}", {})

    return move


def alt_loosening(result: Result) -> str:
    """The picture in words."""
    return f"Map of the bolts with the order of loosening: {', '.join(result['loosening_order'])}."


def alt_plan(result: Result) -> str:
    """The picture in words."""
    plot_data = result.plot_data
    runs = "; ".join(f"{g}: {', '.join(run)}" for g, run in zip(plot_data["groups"], plot_data["runs"], strict=True))
    return f"Map of {len(plot_data['names'])} bolts with the order of tightening ({plot_data['says']}): {runs}."


def draw_peak(figure: Any) -> Callable[[Result], None]:
    """The readings side by side, the median as a line; those unlike the others as crosses."""
    ax = figure.subplots()
    ax.set(ylabel="peak torque, N·m", xlabel="bolt")
    ax.spines[["top", "right"]].set_visible(False)
    (line,) = ax.plot([], [], color=SOFT, lw=1.2, ls=(0, (4, 2)), gid="middle")
    (good,) = ax.plot([], [], "o", color=ACCENT, ms=7, gid="alike")
    (odd,) = ax.plot([], [], "X", color=WARM, ms=10, gid="unlike")
    told = ax.text(0.5, 1.02, "", transform=ax.transAxes, ha="center", va="bottom", fontsize=9.5, color=INK, gid="told",
                   family="DejaVu Sans")  # fmt: skip

    def move(result: Result) -> None:
        plot_data = result.plot_data
        rows = [
            (k, n, v)
            for k, (n, v) in enumerate(zip(plot_data["names"], plot_data["readings"], strict=True), 1)
            if v is not None
        ]
        set_steady_limits(ax, ylim=(0, round_up(1.12 * max([v for _, _, v in rows], default=100))))
        set_changed(
            ax,
            xlim=(0.4, len(plot_data["names"]) + 0.6),
            xticks=(list(range(1, len(plot_data["names"]) + 1)), [n[:8] for n in plot_data["names"]]),
        )
        seen = plot_data["middle"] is not None
        line.set_data([0.4, len(plot_data["names"]) + 0.6] if seen else [], [plot_data["middle"]] * 2 if seen else [])
        good.set_data(
            [k for k, n, _ in rows if n not in plot_data["looks"]],
            [v for _, n, v in rows if n not in plot_data["looks"]],
        )
        odd.set_data(
            [k for k, n, _ in rows if n in plot_data["looks"]], [v for _, n, v in rows if n in plot_data["looks"]]
        )
        told.set_text(f"✕ {STOP}: bolt {', '.join(plot_data['looks'])}" if plot_data["looks"] else "dashed: median")

    return move


def alt_peak(result: Result) -> str:
    """The picture in words."""
    plot_data = result.plot_data
    parts = [
        f"{n} "
        f"{'not read' if v is None else show(v, TORQUE, 3)}{' (unlike the others)' if n in plot_data['looks'] else ''}"
        for n, v in zip(plot_data["names"], plot_data["readings"], strict=True)
    ]
    return "Peak torque of each bolt: " + "; ".join(parts) + "."


# ------------------------------------------------------------------------------ a trace
def draw_trace(figure: Any) -> Callable[[Result], None]:
    """The samples, the elastic line, and the points that were found."""
    ax = figure.subplots()
    ax.set(xlabel="angle on the gauge, °", ylabel="torque, N·m")
    ax.spines[["top", "right"]].set_visible(False)
    (samples,) = ax.plot([], [], ".", color=SOFT, ms=3, gid="samples")
    (line,) = ax.plot([], [], color=ACCENT, lw=1.6, gid="line")
    points = {
        name: ax.plot([], [], mark, color=colour, ms=9, gid=name)[0]
        for name, mark, colour in (("snug", "o", ACCENT), ("start", "s", INK), ("drop", "X", WARM))
    }
    told = ax.text(0.0, 1.02, "", transform=ax.transAxes, ha="left", va="bottom", fontsize=9.5, color=INK, gid="told",
                   family="DejaVu Sans")  # fmt: skip

    def move(result: Result) -> None:
        plot_data = result.plot_data
        found = plot_data["found"]
        x, top = np.degrees(plot_data["angle"]), float(found.peak.torque)
        set_changed(
            ax,
            xlim=(float(x[0]) - 2, float(x[-1]) + 2),
            ylim=(min(-0.03 * top, float(plot_data["torque"].min())), 1.1 * top),
        )
        samples.set_data(x, plot_data["torque"])
        marks = {"snug": found.snug, "start": plot_data["start"], "drop": found.drop}
        for name, point in marks.items():
            there = point is not None
            points[name].set_data([np.degrees(point.angle)] if there else [], [point.torque] if there else [])
        line.set_data(*_elastic_line(found, top))
        said = {"snug": "● snug point", "start": "■ threshold", "drop": "✕ slope falls to half"}
        told.set_text("   ".join(said[n] for n, p in marks.items() if p is not None))

    return move


def _elastic_line(found: Any, top: float) -> tuple[list[float], list[float]]:
    """From the snug point up to a little above the trace."""
    if found.slope is None or found.snug is None:
        return [], []
    level = found.snug.torque
    last = found.snug.angle + (1.05 * top - level) / found.slope
    return [float(np.degrees(found.snug.angle)), float(np.degrees(last))], [level, 1.05 * top]


def alt_trace(result: Result) -> str:
    """The picture in words."""
    v = result.values
    said = f"Torque over angle, {v['samples'].shown} samples, peak torque {v['peak_torque'].shown}."
    if result["snug_angle"] is not None:
        said += f" Snug point at {v['snug_angle'].shown}, elastic slope {v['slope'].shown}."
    if result["drop_angle"] is not None:
        said += f" The slope falls to half at {v['drop_angle'].shown}."
    return said


# ------------------------------------------------------------------------------ a trace against the model
def draw_model(figure: Any) -> Callable[[Result], None]:
    """The samples, and the model's curve for the friction as typed and for its range, from before the snug point on."""
    ax = figure.subplots()
    ax.set(xlabel="angle on the gauge, °", ylabel="torque, N·m")
    ax.spines[["top", "right"]].set_visible(False)
    band = band_to_place(ax, color=PALE, lw=0, gid="band", label="model, range of friction")
    (samples,) = ax.plot([], [], ".", color=SOFT, ms=4, gid="samples", label="measured")
    (curve,) = ax.plot([], [], color=ACCENT, lw=1.8, ls=(0, (6, 2)), gid="curve", label="model, friction as typed")
    (snug,) = ax.plot([], [], "o", color=ACCENT, ms=8, gid="snug", label="snug point")
    ax.legend(handles=[samples, snug, curve, band], loc="upper left", frameon=False, fontsize=9)

    def move(result: Result) -> None:
        data = result.plot_data
        found, x = data["found"], np.degrees(data["angle"])
        start = float(np.degrees(found.snug.angle)) if found.snug else float(x[0])
        last = max(float(x[-1]), start + 1.0)
        angle, torque = np.degrees(data["model_angle"]) + start, data["model_torque"]
        shown = np.linspace(start, last, 200)
        lanes = np.array([np.interp(shown, a, t, right=np.nan) for a, t in zip(angle, torque, strict=True)])
        if found.snug is None:
            lanes = np.full_like(lanes, np.nan)
        top = float(np.nanmax(np.append(lanes, found.peak.torque)))
        set_changed(ax, xlim=(max(float(x[0]) - 2, start - 0.4 * (last - start)), last + 2),
              ylim=(min(-0.03 * top, float(data["torque"].min())), 1.1 * top))  # fmt: skip
        samples.set_data(x, data["torque"])
        curve.set_data(shown, lanes[0])
        set_changed(band, data=(shown, np.fmin.reduce(lanes), np.fmax.reduce(lanes)))
        snug.set_data([start] if found.snug else [], [found.snug.torque] if found.snug else [])

    return move


def alt_model(result: Result) -> str:
    """The picture in words."""
    v = result.values
    if result["slope"] is None:
        return "Torque over angle. The trace has no elastic line, so nothing is compared."
    said = f"Trace and model over angle. Elastic slope {v['slope'].shown}, of the model {v['model_slope'].shown}."
    return said + f" Largest difference of the torque {v['largest_difference'].shown}."


# ------------------------------------------------------------------------------ the bolts of one joint
def draw_compared(figure: Any) -> Callable[[Result], None]:
    """The score of each bolt for each measure, with the limits of the rule; those beyond it as crosses."""
    ax = figure.subplots()
    ax.set(ylabel="score (from the median)", xlabel="bolt")
    ax.spines[["top", "right"]].set_visible(False)
    ax.axhline(0.0, color=SOFT, lw=1.0)
    for limit in (-LIMIT, LIMIT):
        ax.axhline(limit, color=WARM, lw=1.0, ls=(0, (4, 2)))
    marks = {"slope": "o", "angle": "s", "torque": "^"}
    dots = {name: ax.plot([], [], mark, color=ACCENT, ms=6, mfc="none", gid=name)[0] for name, mark in marks.items()}
    (odd,) = ax.plot([], [], "X", color=WARM, ms=10, gid="odd")
    told = ax.text(0.5, 1.02, "", transform=ax.transAxes, ha="center", va="bottom", fontsize=9.5, color=INK, gid="told",
                   family="DejaVu Sans")  # fmt: skip

    def move(result: Result) -> None:
        plot_data = result.plot_data
        names, scores = plot_data["names"], plot_data["scores"]
        every = [(k, s) for row in scores.values() for k, s in enumerate(row, 1) if s is not None]
        most = max([abs(s) for _, s in every], default=LIMIT)
        top = 1.15 * max(most, LIMIT)
        set_changed(ax, xlim=(0.4, len(names) + 0.6), ylim=(-top, top),
              xticks=(list(range(1, len(names) + 1)), [n[:8] for n in names]))  # fmt: skip
        for name, line in dots.items():
            row = [(k, s) for k, s in enumerate(scores.get(name, ()), 1) if s is not None and abs(s) <= LIMIT]
            line.set_data([k for k, _ in row], [s for _, s in row])
        beyond = [(k, s) for k, s in every if abs(s) > LIMIT]
        odd.set_data([k for k, _ in beyond], [s for _, s in beyond])
        said = "○ slope   □ angle   △ torque   dashed: limit of the rule"
        told.set_text(f"✕ {STOP}: bolt {', '.join(plot_data['odd'])}" if plot_data["odd"] else said)

    return move


def alt_compared(result: Result) -> str:
    """The picture in words."""
    odd = result["odd"]
    return f"Score of {len(result.plot_data['names'])} bolts. Beyond the limit: {', '.join(odd) or 'none'}."


PICTURES = {
    "residual_torque": Picture(draw_residual, alt_residual, size=(6.2, 2.8)),
    "bolts_compared": Picture(draw_compared, alt_compared, size=(6.2, 2.9)),
    "trace_against_model": Picture(draw_model, alt_model, size=(6.2, 3.4)),
    "torque_angle_trace": Picture(draw_trace, alt_trace, size=(6.2, 3.4)),
    "loosening_plan": Picture(draw_loosening, alt_loosening, size=(6.2, 3.4)),
    "tightening_plan": Picture(draw_plan, alt_plan, size=(6.2, 3.4)),
    "peak_torque": Picture(draw_peak, alt_peak, size=(6.2, 2.9)),
}
