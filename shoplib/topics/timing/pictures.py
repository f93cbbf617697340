"""The pictures of the workings of the topic timing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

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
    shape_to_place,
    text_to_place,
)
from shoplib.topics.timing.dead_centre import _degrees
from shoplib.topics.timing.degree_disc import BOTH_WAYS, CLOCKWISE


def draw_gap(figure: Any) -> Callable[[Result], None]:
    """The bar in the slot of the shaft, touching the head on one side; its tilt is exaggerated."""
    from matplotlib.patches import Rectangle

    ax = figure.subplots()
    ax.set_aspect("equal")
    ax.axis("off")
    ax.set(xlim=(-118, 130), ylim=(-42, 66))
    ax.add_patch(Rectangle((-106, -38), 212, 32, facecolor=PALER, edgecolor=SOFT, hatch="////", lw=0.8))
    boxed: Any = {"bbox": {"fc": "white", "ec": "none", "pad": 2}}
    ax.text(0, -29, "machined face of the head", ha="center", va="center", fontsize=8.5, color=INK, **boxed)
    (shaft,) = ax.plot([], [], "o", ms=44, mfc="white", mec=INK, mew=1.6, gid="shaft")
    bar = shape_to_place(ax, facecolor=ACCENT, edgecolor=ACCENT, gid="bar")
    (leaf,) = ax.plot([], [], color=WARM, lw=3, solid_capstyle="butt", gid="leaf")
    gap = text_to_place(ax, ha="left", va="center", fontsize=9.5, color=WARM, gid="gap")
    (arrow,) = ax.plot([], [], color=INK, lw=0.9, marker="|", ms=7, gid="arrow")
    lever = ax.text(0, -13, "", ha="center", va="center", fontsize=8.5, color=INK, gid="lever", **boxed)
    says = ax.text(6, 58, "", ha="center", va="center", fontsize=11, color=INK, gid="says")
    note = ax.text(-106, 42, "", ha="left", va="center", fontsize=8, color=SOFT, gid="note")

    def move(result: Result) -> None:
        inputs = result.inputs
        true = float(np.arcsin(inputs.gap / inputs.lever_length))
        times = max((k for k in (2, 5, 10, 20, 50, 100, 200) if true * k <= np.radians(9)), default=1)
        shown = min(true * times, np.radians(10))
        along, across = np.array([np.cos(shown), np.sin(shown)]), np.array([-np.sin(shown), np.cos(shown)])
        foot, thick = np.array([-100.0, -6.0]), 9.0
        end = foot + 200 * along
        bar.set_xy([foot, end, end + thick * across, foot + thick * across])
        middle = foot + 100 * along + thick / 2 * across
        shaft.set_data([middle[0]], [middle[1]])
        leaf.set_data([end[0] - 1.5] * 2, [-6, end[1]])
        gap.set_position((end[0] + 4, (end[1] - 6) / 2))
        gap.set_text(f"{inputs.gap * 1e3:.3g} mm")
        arrow.set_data([-100, end[0] - 1.5], [-13, -13])
        lever.set_text(f"{inputs.lever_length * 1e3:.4g} mm")
        cam, crank = _degrees(result["cam_angle"]), _degrees(result["crank_angle"])
        says.set_text(f"{inputs.gap * 1e3:.3g} mm under the bar: camshaft {cam:.3g}°, crankshaft {crank:.3g}°")
        note.set_text(f"tilt exaggerated {times} times" if times > 1 else "")

    return move


def alt_gap(result: Result) -> str:
    """The picture in words."""
    return (
        f"A locking bar across the end of the shaft touches the head on one side; the gap is "
        f"{result.inputs.gap * 1e3:.3g} mm at {result.inputs.lever_length * 1e3:.4g} mm from there: the camshaft is "
        f"off by {_degrees(result['cam_angle']):.3g}°, the crankshaft by {_degrees(result['crank_angle']):.3g}°."
    )


def draw_dead_centre(figure: Any) -> Callable[[Result], None]:
    """The disc: its own zero, the two stops, and the dead centre half way between them."""
    ax = figure.subplots()
    ax.set_aspect("equal")
    ax.axis("off")
    ax.set(xlim=(-190, 190), ylim=(-42, 128))
    a = np.radians(np.linspace(-100, 100, 201))
    ax.plot(100 * np.sin(a), 100 * np.cos(a), color=SOFT, lw=1)
    for d in range(-100, 101, 5):
        long = 8 if d % 10 == 0 else 4
        s, c = np.sin(np.radians(d)), np.cos(np.radians(d))
        ax.plot([100 * s, (100 - long) * s], [100 * c, (100 - long) * c], color=SOFT, lw=0.8)
        if d % 20 == 0:
            ax.text(84 * s, 84 * c, f"{abs(d)}", ha="center", va="center", fontsize=7.5, color=SOFT)
    ax.plot([0], [0], "o", ms=5, color=SOFT)
    ax.text(-130, -30, "before zero", ha="center", fontsize=8.5, color=SOFT)
    ax.text(130, -30, "after zero", ha="center", fontsize=8.5, color=SOFT)
    ax.plot([0, 0], [0, 108], color=SOFT, lw=1, ls=(0, (2, 2)))
    (span,) = ax.plot([], [], color=PALE, lw=6, solid_capstyle="butt", gid="span")
    (first,) = ax.plot([], [], color=WARM, lw=2, gid="first")
    (second,) = ax.plot([], [], color=WARM, lw=2, gid="second")
    (centre,) = ax.plot([], [], color=ACCENT, lw=2.6, gid="centre")
    names = [text_to_place(ax, ha="center", va="center", fontsize=8.5, color=WARM, gid=f"stop{k}") for k in (0, 1)]
    says = ax.text(
        0,
        -28,
        "",
        ha="center",
        va="center",
        fontsize=10.5,
        color=ACCENT,
        gid="says",
        bbox={"fc": "white", "ec": "none", "pad": 2},
    )

    def at(angle: float, radius: float) -> tuple[float, float]:
        return float(radius * np.sin(angle)), float(radius * np.cos(angle))

    def ray(line: Any, angle: float, inner: float, outer: float) -> None:
        (x0, y0), (x1, y1) = at(angle, inner), at(angle, outer)
        line.set_data([x0, x1], [y0, y1])

    def move(result: Result) -> None:
        inputs = result.inputs
        low, high, c = -inputs.stop_before, inputs.stop_after, result["correction"]
        t = np.linspace(low, high, 120)
        span.set_data(58 * np.sin(t), 58 * np.cos(t))
        ray(first, low, 50, 106)
        ray(second, high, 50, 106)
        ray(centre, c, 0, 112)
        for text, angle, value in ((names[0], low, inputs.stop_before), (names[1], high, inputs.stop_after)):
            text.set_position(at(angle, 118))
            text.set_text(f"stop {_degrees(value):.4g}°")
        way = "after" if c > 0 else "before"
        off = f"{abs(_degrees(c)):.3g}° {way} the disc's zero" if c else "at the disc's zero"
        says.set_text(f"dead centre {off}")

    return move


def alt_dead_centre(result: Result) -> str:
    """The picture in words."""
    inputs, c = result.inputs, _degrees(result["correction"])
    return (
        f"Degree disc with the stops read at {_degrees(inputs.stop_before):.4g}° before and "
        f"{_degrees(inputs.stop_after):.4g}° "
        f"after its zero; dead centre is half way between, {abs(c):.3g}° {'after' if c > 0 else 'before'} the zero."
    )


def draw_position(figure: Any) -> Callable[[Result], None]:
    """Piston depth against crank angle, and the two positions of one depth."""
    ax = figure.subplots()
    ax.set(
        xlabel="crank angle from dead centre, °",
        ylabel="piston below the top, mm",
        xlim=(-180, 180),
    )
    ax.set_xticks(range(-180, 225, 45))
    ax.spines[["top", "right"]].set_visible(False)
    (line,) = ax.plot([], [], color=ACCENT, lw=1.8, gid="curve")
    (guide,) = ax.plot([], [], color=SOFT, lw=0.8, ls=(0, (3, 2)), gid="guide")
    (dots,) = ax.plot([], [], "o", ms=6.5, mfc="white", mec=WARM, mew=1.8, ls="none", gid="dots")
    label = ax.text(
        0.5, 0.06, "", ha="center", va="bottom", color=INK, fontsize=9.5, gid="label", transform=ax.transAxes
    )

    def move(result: Result) -> None:
        depth = result["drop"] * 1e3
        before, after = _degrees(result["angle_before"]), _degrees(result["angle_after"])
        line.set_data(np.degrees(result.plot_data["theta"]), result.plot_data["drop"] * 1e3)
        guide.set_data([-before, after], [depth, depth])
        dots.set_data([-before, after], [depth, depth])
        most = ceil_to(1.02e3 * float(result.plot_data["drop"].max()), 20)
        label.set_text(f"{depth:.3g} mm down: {before:.4g}° before, {after:.4g}° after")
        set_steady_limits(ax, ylim=(most, -5.0))

    return move


def alt_position(result: Result) -> str:
    """The picture in words."""
    return (
        f"Curve of piston depth against crank angle: {result['drop'] * 1e3:.3g} mm below the top at "
        f"{_degrees(result['angle_before']):.4g}° before and {_degrees(result['angle_after']):.4g}° after dead centre."
    )


def disc_labels(result: Result) -> list[tuple[float, str]]:
    """(angle past the start mark, label) with the stages at one place named together: "2, 6: +90°"."""
    found: dict[float, dict[str, list[int]]] = {}
    for mark in result.plot_data["marks"]:
        here = found.setdefault(round(mark.at % (2 * np.pi), 9), {})
        here.setdefault(mark.says, []).append(mark.n)
    return [
        (at, " · ".join(f"{', '.join(map(str, numbers))}: {says}" for says, numbers in names.items()))
        for at, names in found.items()
    ]


def disc_angle(result: Result, reading: float) -> float:
    """The place of a reading on the paper: radians clockwise from the top."""
    turn = 1.0 if result.plot_data["grows"] == CLOCKWISE else -1.0
    return float(result.inputs.start_at + turn * reading)


def disc_number(result: Result, degrees: int) -> int:
    """The number printed at that many degrees past the start mark."""
    return min(degrees, 360 - degrees) if result.inputs.numbering == BOTH_WAYS else degrees


def draw_disc(figure: Any) -> Callable[[Result], None]:
    """What will be printed, small: the scale, the start mark and the stages."""
    ax = figure.subplots()
    ax.set_aspect("equal")
    ax.axis("off")
    ax.set(xlim=(-175, 175), ylim=(-126, 110))
    a = np.radians(np.arange(361))
    ax.plot(100 * np.sin(a), 100 * np.cos(a), color=INK, lw=1)
    (hole,) = ax.plot([], [], color=SOFT, lw=1, ls=(0, (3, 2)), gid="hole")
    (ticks,) = ax.plot([], [], color=SOFT, lw=0.7, gid="ticks")
    (start,) = ax.plot([], [], color=INK, lw=2.4, gid="start")
    (marks,) = ax.plot([], [], color=WARM, lw=2.2, gid="marks")
    (bands,) = ax.plot([], [], color=WARM, lw=5, alpha=0.45, solid_capstyle="butt", gid="bands")
    numbers = [text_to_place(ax, ha="center", va="center", fontsize=7, color=SOFT, gid=f"number{k}") for k in range(12)]
    named: Any = {"ha": "center", "va": "center", "bbox": {"fc": "white", "ec": "none", "pad": 1}}
    labels = [text_to_place(ax, fontsize=8, color=WARM, gid=f"label{k}", **named) for k in range(8)]
    says = text_to_place(ax, fontsize=8.5, color=INK, gid="says", **named)
    which = ax.text(0, -124, "", ha="center", va="bottom", fontsize=8.5, color=SOFT, gid="which")

    def at(result: Result, reading: float, radius: float) -> tuple[float, float]:
        angle = disc_angle(result, reading)
        return float(radius * np.sin(angle)), float(radius * np.cos(angle))

    def rays(result: Result, readings: list[float], inner: float, outer: float) -> tuple[list[float], list[float]]:
        xs, ys = [], []
        for reading in readings:
            (x0, y0), (x1, y1) = at(result, reading, inner), at(result, reading, outer)
            xs += [x0, x1, np.nan]
            ys += [y0, y1, np.nan]
        return xs, ys

    def move(result: Result) -> None:
        inputs = result.inputs
        core = 100 * inputs.hole / inputs.diameter
        hole.set_data(core * np.sin(a), core * np.cos(a))
        ticks.set_data(*rays(result, [np.radians(d) for d in range(0, 360, 10)], 92, 100))
        start.set_data(*rays(result, [0.0], core, 106))
        for k, text in enumerate(numbers):
            text.set_position(at(result, np.radians(30 * k), 84))
            text.set_text(str(disc_number(result, 30 * k)) if k else "")
        says.set_position(at(result, 0.0, 66))
        says.set_text(inputs.start_mark)
        shown = result.plot_data["marks"]
        marks.set_data(*rays(result, [m.at for m in shown], core, 76))
        xs: list[float] = []
        ys: list[float] = []
        for m in shown:
            if m.high > m.low:
                points = [at(result, r, 97) for r in np.linspace(m.low, m.high, 30)]
                xs += [p[0] for p in points] + [np.nan]
                ys += [p[1] for p in points] + [np.nan]
        bands.set_data(xs, ys)
        places = disc_labels(result)
        for k, text in enumerate(labels):
            text.set_position(at(result, places[k][0], 48) if k < len(places) else (0, 0))
            text.set_text(places[k][1] if k < len(places) else "")
        which.set_text(f"numbers grow {result.plot_data['grows']}; the disc {inputs.mounted}")

    return move


def alt_disc(result: Result) -> str:
    """The picture in words."""
    inputs = result.inputs
    marks = "; ".join(f"stage {m.n}, {m.stage.shown}, at {_degrees(m.at):.4g}°" for m in result.plot_data["marks"])
    return (
        f"Degree disc of {inputs.diameter * 1e3:.4g} mm with a hole of {inputs.hole * 1e3:.4g} mm; the label at zero "
        f"is {inputs.start_mark}, and the numbers grow {result.plot_data['grows']}."
        + (f" Marked: {marks}." if marks else "")
    )


PICTURES = {
    "timing_gap": Picture(draw_gap, alt_gap, size=(6.2, 2.9)),
    "dead_centre": Picture(draw_dead_centre, alt_dead_centre, size=(6.2, 2.9)),
    "piston_position": Picture(draw_position, alt_position),
    "degree_disc": Picture(draw_disc, alt_disc, size=(6.2, 4.0)),
}
