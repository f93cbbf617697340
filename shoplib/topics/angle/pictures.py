"""The pictures of the workings of the topic angle."""

from __future__ import annotations

import functools
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np

from shoplib.core.units import kN, show, unit_of
from shoplib.core.working import Picture, Result
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    PALE,
    PALER,
    SOFT,
    WARM,
    band_to_place,
    bar_to_place,
    ceil_to,
    floor_to,
    set_changed,
    set_steady_limits,
    shape_to_place,
    span_to_place,
    text_to_place,
)
from shoplib.topics.angle.heat_picture import alt_heat, draw_heat
from shoplib.topics.angle.preload_scatter import ENTRIES, SOURCES


def draw_angle_travel(figure: Any) -> Callable[[Result], None]:
    """The thread unrolled: a ramp one pitch high and one turn long, and how far up the ramp the angle goes."""
    return draw_ramp_on(figure.subplots())


def draw_ramp_on(ax: Any) -> Callable[[Result], None]:
    """The same, on axes of another picture."""
    ax.set(xlabel="turned, °", ylabel="travel, mm")
    ax.spines[["top", "right"]].set_visible(False)
    slope = shape_to_place(ax, facecolor=PALER, edgecolor=SOFT, lw=0.8, gid="ramp")
    climbed = shape_to_place(ax, facecolor=ACCENT, alpha=0.3, edgecolor=ACCENT, lw=0, hatch="///", gid="climbed")
    (path,) = ax.plot([], [], color=ACCENT, lw=3, solid_capstyle="round", gid="path")
    (up,) = ax.plot([], [], color=WARM, lw=1.6, gid="up")
    (nut,) = ax.plot([], [], "h", ms=13, color="white", mec=INK, mew=1.4, gid="nut")
    note = text_to_place(ax, color=INK, fontsize=9.5, ha="center", va="center", gid="note")
    pitch = text_to_place(ax, color=SOFT, fontsize=8.5, ha="left", va="center", gid="pitch")

    def move(result: Result) -> None:
        P, angle = 1e3 * result.plot_data["P"], float(np.degrees(result.plot_data["angle"]))
        turns = max(1, round(ceil_to(angle / 360, 1)))  # a ramp of whole turns
        end, rise = 360.0 * turns, P * angle / 360
        slope.set_xy([(0, 0), (end, 0), (end, P * turns)])
        climbed.set_xy([(0, 0), (angle, 0), (angle, rise)])
        path.set_data([0, angle], [0, rise])
        up.set_data([angle, angle], [0, rise])
        nut.set_data([angle], [rise])
        top = ceil_to(1.25 * P * turns, 0.5)
        note.set_text(f"{angle:g}° moves it {rise:.3f} mm")
        middle = min(max(angle, 0.17 * end), 0.83 * end)  # kept inside, and above the slope
        note.set_position((middle, P * min(middle + 0.16 * end, end) / 360 + 0.12 * top))
        pitch.set_text(f"one turn: {P:g} mm")
        pitch.set_position((0.015 * end, 0.92 * top))
        limits = (-4.0 * turns, end + 6 * turns), (-0.05 * top, top)
        set_changed(ax, xlim=limits[0], ylim=limits[1], xticks=(np.linspace(0, end, 7).tolist(),))

    return move


def alt_angle_travel(result: Result) -> str:
    """The picture in words."""
    return (
        f"The thread unrolled as a ramp, {1e3 * result.plot_data['P']:g} mm high for each turn. Turning by "
        f"{np.degrees(result.plot_data['angle']):g}° climbs {1e3 * result['travel']:.3f} mm."
    )


def draw_joint(figure: Any) -> Callable[[Result], None]:
    """The two springs, as bars of how much each deforms under the same load."""
    ax = figure.subplots()
    ax.set(ylim=(-0.6, 1.6), yticks=[0, 1], xlabel="deformation under 10 kN, µm")
    ax.set_yticklabels(["clamped parts", "bolt"])
    ax.spines[["top", "right", "left"]].set_visible(False)
    ax.tick_params(axis="y", length=0)
    bars = [
        bar_to_place(ax, y, 0.5, color=colour, edgecolor=INK, linewidth=0.6, hatch=hatch, gid=f"spring{y}")
        for y, (colour, hatch) in enumerate(((PALE, "///"), (ACCENT, "")))
    ]
    notes = [text_to_place(ax, va="center", fontsize=9, color=INK, gid=f"give{y}") for y in (0, 1)]

    def move(result: Result) -> None:
        give = [1e4 / result[name] * 1e6 for name in ("parts_stiffness", "bolt_stiffness")]
        _, top = set_steady_limits(ax, xlim=(0, ceil_to(1.35 * max(give), 20)))
        for bar, note, g, y in zip(bars, notes, give, (0, 1), strict=True):
            bar.set_width(g)
            note.set_position((g + 0.015 * top, y))
            note.set_text(f"{g:.1f} µm")

    return move


def alt_joint(result: Result) -> str:
    """The picture in words."""
    give = [1e4 / result[name] * 1e6 for name in ("bolt_stiffness", "parts_stiffness")]
    return f"Bars of the deformation under 10 kN: bolt {give[0]:.1f} µm, clamped parts {give[1]:.1f} µm."


# ------------------------------------------------------------------------------ the picture
MARKS = 10  # stages that get a label


def draw_staged_tightening(figure: Any) -> Callable[[Result], None]:
    """Preload against angle and against torque, with the range of friction; below, the spread that friction leaves."""
    return functools.partial(_move_staged_tightening, _staged_tightening_artists(figure))


def _staged_axes(figure: Any) -> tuple[Any, Any, Any, Any]:
    grid = figure.add_gridspec(2, 2, height_ratios=(3.3, 1), width_ratios=(2.3, 1))
    turned = figure.add_subplot(grid[0, 0])
    pulled = figure.add_subplot(grid[0, 1], sharey=turned)
    spread = figure.add_subplot(grid[1, 0], sharex=turned)
    words_ = figure.add_subplot(grid[1, 1])
    for ax in (turned, pulled, spread):
        ax.spines[["top", "right"]].set_visible(False)
    turned.set(ylabel="preload, kN")
    turned.tick_params(labelbottom=False)
    pulled.set(xlabel="torque, N·m")
    pulled.tick_params(labelleft=False)
    spread.set(xlabel="angle counted from the last torque stage, °", ylabel="highest\n÷ lowest")
    words_.axis("off")
    words_.set(xlim=(0, 1), ylim=(0, 1))
    return turned, pulled, spread, words_


def _staged_tightening_artists(figure: Any) -> SimpleNamespace:
    turned, pulled, spread, words_ = _staged_axes(figure)
    zones = [
        span_to_place(turned, facecolor="none", edgecolor=edge, hatch=hatch, lw=0, alpha=0.6, zorder=0, gid=gid)
        for edge, hatch, gid in ((PALE, "///", "zone_yield"), (WARM, "xxx", "zone_neck"))
    ]
    names = [
        text_to_place(
            turned,
            word,
            fontsize=8,
            color=colour,
            va="top",
            gid=gid,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0},
        )
        for word, colour, gid in (("yielding", SOFT, "name_yield"), ("necks and breaks", WARM, "name_neck"))
    ]
    band = band_to_place(turned, color=ACCENT, alpha=0.15, lw=0, gid="band")
    fan = band_to_place(pulled, upright=True, color=ACCENT, alpha=0.15, lw=0, gid="fan")
    dashes = {"low": (0, (4, 2)), "mid": "-", "high": (0, (1, 1.2))}
    lines = {
        (ax, lane): ax.plot(
            [], [], color=SOFT if lane != "mid" else ACCENT, lw=0.9, ls=dashes[lane], gid=f"{lane}_{tag}"
        )[0]
        for ax, tag in ((turned, "angle"), (pulled, "torque"))
        for lane in dashes
    }
    (path,) = turned.plot([], [], color=ACCENT, lw=2.4, solid_joinstyle="round", gid="path")
    (pull,) = pulled.plot([], [], color=ACCENT, lw=2.4, gid="pull")
    (off,) = turned.plot([], [], color=WARM, lw=1.2, ls=(0, (5, 2)), gid="off")
    off_note = text_to_place(turned, fontsize=8, color=WARM, va="bottom", ha="left", gid="off_note")
    (bars,) = turned.plot([], [], color=INK, lw=1.3, marker="_", ms=7, gid="bars")
    (pull_bars,) = pulled.plot([], [], color=INK, lw=0.9, marker=".", ms=5, gid="pull_bars")
    (dots,) = turned.plot([], [], "o", ls="", ms=6, mfc="white", mec=ACCENT, mew=1.6, gid="dots")
    (pull_dots,) = pulled.plot([], [], "o", ls="", ms=6, mfc="white", mec=ACCENT, mew=1.6, gid="pull_dots")
    friction = [
        text_to_place(pulled, fontsize=8, color=SOFT, ha=ha, va=va, gid=gid)
        for ha, va, gid in (("right", "bottom", "friction_low"), ("left", "top", "friction_high"))
    ]
    labels = [
        text_to_place(turned, fontsize=8, color=INK, va="bottom", ha="right", gid=f"mark{n}") for n in range(MARKS)
    ]
    (ratio,) = spread.plot([], [], color=ACCENT, lw=1.8, gid="ratio")
    (ratio_dots,) = spread.plot([], [], "o", ls="", ms=5.5, mfc="white", mec=ACCENT, mew=1.5, gid="ratio_dots")
    spread.axhline(1.0, color=SOFT, lw=0.6)
    big = words_.text(0.5, 0.62, "", ha="center", va="center", fontsize=15, color=ACCENT, gid="big")
    small = words_.text(0.5, 0.22, "", ha="center", va="center", fontsize=8, color=SOFT, gid="small")
    return SimpleNamespace(
        band=band,
        bars=bars,
        big=big,
        dots=dots,
        fan=fan,
        friction=friction,
        labels=labels,
        lines=lines,
        names=names,
        off=off,
        off_note=off_note,
        path=path,
        pull=pull,
        pull_bars=pull_bars,
        pull_dots=pull_dots,
        pulled=pulled,
        ratio=ratio,
        ratio_dots=ratio_dots,
        small=small,
        spread=spread,
        turned=turned,
        zones=zones,
    )


def _move_staged_tightening(art: SimpleNamespace, result: Result) -> None:
    plot_data, k = result.plot_data, 1e-3
    angle, F, T = plot_data["curve_angle"], plot_data["curve_preload"] * k, plot_data["curve_torque"]
    marks, load, torque = plot_data["mark_angle"], plot_data["F"] * k, plot_data["torque"]
    wanted = plot_data.get("limits") or _limits(plot_data)
    limits = (
        *set_steady_limits(art.turned, xlim=wanted[0], ylim=wanted[1]),
        set_steady_limits(art.pulled, xlim=wanted[2]),
        set_steady_limits(art.spread, ylim=wanted[3]),
    )
    (left, right), (_, top) = limits[:2]
    begin, neck = float(plot_data["yield_angle"][0]), float(plot_data["necking_angle"][0])
    for zone, name, start, end in zip(art.zones, art.names, (begin, neck), (neck, right), strict=True):
        start, end = min(max(start, left), right), min(end, right)
        zone.set_x(start)
        zone.set_width(max(end - start, 0.0))
        name.set_position((start + 0.01 * (right - left), 0.985 * top))
        name.set_visible(end - start > 0.1 * (right - left))
    set_changed(art.band, data=(plot_data["band_angle"], plot_data["band"][0] * k, plot_data["band"][1] * k))
    # the fan up to the lower of the two preloads, beyond that only the high lane goes on
    set_changed(art.fan, data=(plot_data["fan"] * k, plot_data["fan_torque"][1], plot_data["fan_torque"][0]))
    for n, lane in enumerate(("mid", "low", "high")):
        art.lines[art.turned, lane].set_data(angle[n], F[n])
        art.lines[art.pulled, lane].set_data(T[n], F[n])
        for ax in (art.turned, art.pulled):
            art.lines[ax, lane].set_visible(lane == "mid" or bool(plot_data["banded"]))
    for word, name, at, n, side in zip(art.friction, ("low", "high"), (0.62, 0.4), (2, 1), (-0.03, 0.04), strict=True):
        word.set_text(f"{name}\nfriction" if plot_data["banded"] else "")
        word.set_position((plot_data["curve_torque"][n, -1] * at + side * limits[2][1], F[n, -1] * at))
    art.path.set_data(plot_data["path_angle"], plot_data["path_preload"] * k)
    highest = float(np.nanmax(load[:, 0], initial=0.0))
    art.pull.set_data([0, float(np.nanmax(torque[:, 0], initial=0.0))], [0, highest])
    art.dots.set_data(marks[:, 0], load[:, 0])
    art.pull_dots.set_data(torque[:, 0], load[:, 0])
    art.bars.set_data(_as_broken_line(marks[:, 1:]), _as_broken_line(load[:, 1:]))
    art.pull_bars.set_data(_as_broken_line(torque[:, 1:]), _as_broken_line(load[:, 1:]))
    for item in (art.bars, art.pull_bars):
        item.set_visible(bool(plot_data["banded"]))
    stages = result["stage"]
    for n, label in enumerate(art.labels):
        seen = n < len(stages) and np.isfinite(load[n, 0]) and plot_data["stages"][n].kind not in ("wait", "check")
        label.set_text(stages[n] if seen else "")
        if seen:
            label.set_position((marks[n, 0] - 0.012 * (right - left), load[n, 0] + 0.012 * top))
    end_x, end_F = marks[-1, 0], load[-1, 0]
    for_good = result["plastic_elongation"][-1]
    shows = bool(for_good) and end_F > 0
    art.off.set_data(*(([end_x, plot_data["set_angle"][0]], [end_F, 0]) if shows else ([], [])))
    art.off_note.set_text(f"if loosened now: {1e3 * for_good:.2f} mm longer" if shows else "")
    art.off_note.set_position((float(plot_data["set_angle"][0]) + 0.05 * (right - left), 0.025 * top))
    art.ratio.set_data(plot_data["band_angle"], plot_data["ratio"])
    art.ratio_dots.set_data(plot_data["ratio_marks"][0], plot_data["ratio_marks"][1])
    art.big.set_text(plot_data["headline"][0])
    art.small.set_text(plot_data["headline"][1])


def _as_broken_line(pairs: Any) -> Any:
    """Pairs as one line, broken between them."""
    return np.column_stack([pairs, np.full(len(pairs), np.nan)]).ravel()


def _limits(c: Any) -> tuple[Any, ...]:
    """Axes in whole steps, so that a small move leaves them alone."""
    left = -ceil_to(float(-c["curve_angle"][:, 0].min()) * 1.02, 30)
    right = ceil_to(max(float(np.nanmax(c["mark_angle"])) * 1.25, float(c["yield_angle"][0]) * 1.3, 180.0), 60)
    top = ceil_to(1.12e-3 * float(c["F_m"].max()), 10)
    torque = ceil_to(1.05 * float(np.nanmax(np.append(c["torque"], 0.75 * c["curve_torque"].max()))), 20)
    highest = float(np.nanmax(np.append(c["ratio"], c["ratio_marks"][1]), initial=1.05))
    return (left, right), (0, top), (0, torque), (0.98, ceil_to(highest * 1.05, 0.2))


def alt_staged_tightening(result: Result) -> str:
    """The picture in words."""
    parts = []
    rows = zip(result["stage"], result["preload"], result["spread_ratio"], result["state"], strict=True)
    for stage, F, ratio, state in rows:
        clamp = f"{F / 1e3:.1f} kN" if F is not None else state
        parts.append(f"{stage}: {clamp}" + (f", spread {ratio:.2f}" if ratio else "") + f", {state}")
    ranged = any(s.is_band for s in result.plot_data["stages"])
    counted = " The curves show the range of friction; the bars and the spread also count the ranges of the stages."
    return "Preload against angle and against torque. " + "; ".join(parts) + "." + (counted if ranged else "")


# ------------------------------------------------------------------------------ the picture
PARTS = (
    ("friction", ACCENT, "", "white"), ("torque", PALE, "///", INK), ("angle", PALER, "|||", INK),
    ("yield", SOFT, "", "white"), ("together", "white", "", INK),
)  # fmt: skip


ROWS = (("torque_angle", "torque,\nthen angle"), ("torque_only", "torque\nalone"))


def words_that_fit(entry: str, width: float) -> str:
    """In a block of so many percent: the entry with its share, without it, or nothing."""
    if width > 3 + 1.9 * len(entry):
        return f"{entry} {width:.0f} %"
    return entry if width > 1.6 * len(entry) else ""


def draw_preload_scatter(figure: Any) -> Callable[[Result], None]:
    """Both methods as histograms of preload on one scale; below, what causes the scatter of each."""
    hist, bars = figure.subplots(2, 1, height_ratios=(2.4, 1))
    for ax in (hist, bars):
        ax.spines[["top", "right"]].set_visible(False)
    hist.set(xlabel="preload, kN", ylabel="bolts per step, %")
    alone = shape_to_place(hist, facecolor=PALER, edgecolor=INK, lw=1.0, hatch="///", gid="alone")
    both = shape_to_place(hist, facecolor=ACCENT, edgecolor=ACCENT, lw=1.0, alpha=0.75, gid="both")
    notes = {
        "torque_only": text_to_place(hist, fontsize=8.5, color=INK, va="top", ha="left", gid="note_alone"),
        "torque_angle": text_to_place(hist, fontsize=8.5, color=ACCENT, va="top", ha="left", gid="note_both"),
    }
    (middle,) = hist.plot([], [], color=WARM, lw=1.0, ls=(0, (4, 2)), gid="middle")
    bars.set(xlim=(0, 100), ylim=(-0.6, 1.6), yticks=[0, 1], xlabel="what causes the variance, %")
    bars.set_yticklabels([word for _, word in ROWS])
    bars.tick_params(axis="y", length=0)
    blocks, words = {}, {}
    for y, (method, _) in enumerate(ROWS):
        for name, face, hatch, ink in PARTS:
            gid = f"{method}_{name}"
            blocks[method, name] = bar_to_place(
                bars, y, 0.62, color=face, edgecolor=INK, linewidth=0.5, hatch=hatch, gid=gid
            )
            words[method, name] = text_to_place(
                bars, y=y, ha="center", va="center", fontsize=7.5, color=ink, gid=f"word_{gid}",
                bbox={"facecolor": face, "edgecolor": "none", "pad": 0.8} if hatch else None,
            )  # fmt: skip

    def move(result: Result) -> None:
        plot_data = result.plot_data
        edges = plot_data["edges"] * 1e-3
        for polygon, name in ((alone, "torque_only"), (both, "torque_angle")):
            height = 100 * plot_data[name]
            x_, y_ = np.repeat(edges, 2), np.concatenate([[0], np.repeat(height, 2), [0]])
            polygon.set_xy(np.column_stack([x_, y_]))
        top = 100 * max(float(plot_data[name].max()) for name in notes)
        # wide steps, so that a small move leaves the axes alone
        limits = plot_data.get("limits") or (
            (floor_to(float(edges[0]), 10), ceil_to(float(edges[-1]), 10)),
            (0.0, ceil_to(1.15 * top, 5)),
        )
        limits = set_steady_limits(hist, xlim=limits[0], ylim=limits[1])
        left, right = limits[0]
        middle.set_data([plot_data["mean"] * 1e-3] * 2, [0, limits[1][1]])
        for n, (name, note) in enumerate(notes.items()):
            row = result[name][0]
            title = "hatched: torque alone" if name == "torque_only" else "solid: torque, then angle"
            breaks = f"; {100 * row['breaks'].value:.0f} % break" if row["breaks"].value > 0 else ""
            between = f"90 % between {row['p05'].value / 1e3:.1f} and {row['p95'].value / 1e3:.1f} kN"
            note.set_text(f"{title}\n{between}{breaks}")
            note.set_position((left + 0.015 * (right - left), limits[1][1] * (0.97 - 0.22 * n)))
        for method, _ in ROWS:
            at, row = 0.0, result[method][0]
            for name, *_ in PARTS:
                width = 100 * row[f"share_{name}"].value
                blocks[method, name].set_x(at)
                blocks[method, name].set_width(width)
                word = words[method, name]
                entry = ENTRIES.get(name, name)
                word.set_text(words_that_fit(entry, width))
                word.set_visible(bool(word.get_text()))
                word.set_position((at + width / 2, word.get_position()[1]))
                at += width

    return move


def alt_preload_scatter(result: Result) -> str:
    """The picture in words."""
    told = []
    for name, title in (("torque_only", "Torque alone"), ("torque_angle", "torque, then angle")):
        row = result[name][0]
        shares = ", ".join(f"{ENTRIES[s]} {100 * row['share_' + s].value:.0f} %" for s in SOURCES)
        breaks = f"{100 * row['breaks'].value:.0f} % of them break; " if row["breaks"].value > 0 else ""
        told.append(
            f"{title}: 90 % of the bolts between {row['p05'].value / 1e3:.1f} and {row['p95'].value / 1e3:.1f} kN; "
            f"{breaks}the variance comes from {shares}"
        )
    return "Two histograms of preload with the same mean. " + ". ".join(told) + "."


def draw_readings(figure: Any) -> Callable[[Result], None]:
    """Each reading as a dot on one scale, with the mean and two standard deviations."""
    ax = figure.subplots()
    ax.spines[["top", "right", "left"]].set_visible(False)
    ax.set(ylim=(-0.5, 1.4), yticks=[], xlabel="preload, kN")
    bar = shape_to_place(ax, facecolor=PALER, edgecolor=SOFT, lw=0.6, hatch="///", gid="band")
    (middle,) = ax.plot([], [], color=ACCENT, lw=1.8, gid="middle")
    (dots,) = ax.plot([], [], "o", ls="", ms=6, mfc="white", mec=ACCENT, mew=1.3, gid="dots")
    note = text_to_place(ax, ha="center", va="bottom", fontsize=8.5, color=INK, gid="note")

    def move(result: Result) -> None:
        F, mean, sd = (result.plot_data[k] * 1e-3 for k in ("readings", "mean", "sd"))
        bar.set_xy([(mean - 2 * sd, -0.3), (mean + 2 * sd, -0.3), (mean + 2 * sd, 0.95), (mean - 2 * sd, 0.95)])
        middle.set_data([mean, mean], [-0.3, 0.95])
        dots.set_data(np.sort(F), 0.3 + 0.28 * (np.arange(F.size) % 3 - 1))  # in three rows, so that equals are seen
        note.set_text(f"mean {mean:.1f} kN, ± two standard deviations")
        note.set_position((mean, 1.02))
        span = max(float(F.max()), mean + 2 * sd), min(float(F.min()), mean - 2 * sd)
        limits = (floor_to(span[1], 5), floor_to(span[0], 5) + 5)
        set_steady_limits(ax, xlim=limits)

    return move


def alt_readings(result: Result) -> str:
    """The picture in words."""
    return (
        f"{result['count']} readings as dots, from {min(result.plot_data['readings']) / 1e3:.1f} to "
        f"{max(result.plot_data['readings']) / 1e3:.1f} kN; mean {show(result['mean'], unit_of(kN), 3)}, "
        f"standard deviation {show(result['sd'], unit_of(kN), 3)}."
    )


PICTURES = {
    "heat_transient": Picture(draw_heat, alt_heat, size=(6.2, 3.8)),
    "angle_travel": Picture(draw_angle_travel, alt_angle_travel, size=(6.2, 2.5)),
    "joint_stiffness": Picture(draw_joint, alt_joint, size=(6.2, 1.9)),
    "staged_tightening": Picture(draw_staged_tightening, alt_staged_tightening, size=(8.0, 5.0)),
    "preload_scatter": Picture(draw_preload_scatter, alt_preload_scatter, size=(7.0, 4.6)),
    "scatter_of_readings": Picture(draw_readings, alt_readings, size=(6.2, 1.7)),
}
