"""The pictures of the workings of the topic coolant."""

from __future__ import annotations

import functools
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np

from shoplib.core.working import Picture, Result
from shoplib.physics import coolant_properties
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    PALER,
    SOFT,
    WARM,
    band_to_place,
    box_to_place,
    ceil_to,
    floor_to,
    set_steady_limits,
    text_to_place,
)
from shoplib.topics.coolant.coolant_inputs import _percent, _shown, _tenths
from shoplib.topics.coolant.table_picture import alt_table, draw_table

# ------------------------------------------------------------------------------ the tank
FULL_TINT = 0.5  # how far the colour of a liquid goes from that of water to the accent, at 100 vol %


ROW = 0.062  # of the tank's height that a row of words takes


LEAST_LABEL = 0.075  # of the tank's height, below which a label would not fit


def draw_tank(figure: Any) -> Callable[[Result], None]:
    """What stayed in, what is poured in and the mixture; and the scale of strength, its unreachable part hatched."""
    return functools.partial(_move_tank, _tank_artists(figure))


def _tank_artists(figure: Any) -> SimpleNamespace:
    from matplotlib.transforms import offset_copy

    tank, scale = figure.subplots(1, 2, width_ratios=(2.9, 1))
    tank.set(xlim=(-0.03, 2.62), ylim=(-0.16, 1.14))
    tank.axis("off")
    scale.set(xlim=(0, 1.9), ylim=(0, 100), xticks=[], ylabel="strength of the filled system, vol %")
    scale.spines[["top", "right", "bottom"]].set_visible(False)
    left, between, right, wide = 0.0, 0.86, 1.8, 0.8
    parts: dict[str, Any] = {}

    def layer(name: str, x: float, hatch: str = "", ink: str = INK) -> None:
        box = box_to_place(tank, edgecolor="white", hatch=hatch, lw=1.0, gid=name)
        # words must read on the hatching (of lines: dots would make the picture forty times larger)
        plates = [box_to_place(tank, edgecolor="none", gid=name + "-plate")] if hatch else []
        rows = [text_to_place(tank, ha="center", color=ink, fontsize=8.5, gid=f"{name}-row{k}") for k in range(2)]
        parts[name] = x, box, plates, rows

    layer("before-stayed", left, "--")
    layer("before-room", left, ink=SOFT)
    layer("poured-product", between)
    layer("poured-water", between)
    layer("mixed", right)
    for x in (left, right):
        tank.plot([x, x, x + wide, x + wide], [1.03, 0, 0, 1.03], color=INK, lw=1.6, solid_joinstyle="round")
    tank.annotate("", (right - 0.02, 0.5), (right - 0.14, 0.5), arrowprops={"arrowstyle": "->", "color": SOFT})
    for x, head in ((left, "after draining"), (between, "poured in"), (right, "mixed")):
        tank.text(x + wide / 2, 1.08, head, ha="center", va="bottom", fontsize=9, color=INK, weight="bold")
    below = tank.text(0, -0.07, "", ha="left", va="center", fontsize=9, color=INK, gid="below", in_layout=False)
    zones = [
        box_to_place(scale, facecolor="white", edgecolor=SOFT, hatch="////", lw=0.6, gid=f"zone{k}") for k in range(2)
    ]
    within = box_to_place(scale, facecolor=ACCENT, alpha=0.30, edgecolor="none", gid="within")
    (wanted,) = scale.plot([], [], color=WARM, lw=1.8, ls=(0, (5, 2)), gid="wanted")
    (reached,) = scale.plot([], [], marker="<", ms=9, color=ACCENT, mec="white", gid="reached")
    notes = {
        "high": text_to_place(scale, fontsize=8, color=SOFT, va="center", gid="note-high"),
        "wanted": text_to_place(scale, fontsize=9, color=WARM, va="center", weight="bold", gid="note-wanted"),
        "reached": text_to_place(scale, fontsize=9, color=ACCENT, va="center", weight="bold", gid="note-reached"),
    }

    # where the letters of the first and the second of two rows stand below the middle, and those of a lone row
    feet = [offset_copy(tank.transData, figure, y=up, units="points") for up in (2.6, -8.4, -2.9)]

    def place(name: str, bottom: float, height: float, text: str, strength: float | None = None) -> None:
        x, box, plates, rows = parts[name]
        for patch in (box, *plates):
            patch.set_facecolor("white" if strength is None else tint(strength))
        box.set_bounds(x, bottom, wide, height)
        said = text.split("\n") if height >= LEAST_LABEL else []
        for plate in plates:
            plate.set_bounds(x + wide * 0.1, bottom + height / 2 - len(said) * ROW / 2, wide * 0.8, len(said) * ROW)
        for k, row in enumerate(rows):  # one row or two, round the middle
            row.set_text(said[k] if k < len(said) else "")
            row.set_transform(feet[k if len(said) > 1 else 2])
            row.set_position((x + wide / 2, bottom + height / 2))

    return SimpleNamespace(
        below=below, notes=notes, place=place, reached=reached, wanted=wanted, within=within, zones=zones
    )


def tint(strength: float) -> tuple[float, ...]:
    """The colour of a liquid: light for water, the darker the stronger."""
    from matplotlib.colors import to_rgb

    weak, strong = np.array(to_rgb(PALER)), np.array(to_rgb(ACCENT))
    return tuple(weak + FULL_TINT * strength * (strong - weak))


def _move_tank(art: SimpleNamespace, result: Result) -> None:
    plot_data = result.plot_data
    V = plot_data["capacity"]
    _, kept, c_kept = plot_data["before"][0]
    art.place("before-stayed", 0, kept, f"{_shown(kept * V)} stayed\nat {_percent(c_kept)}", c_kept)
    art.place("before-room", kept, plot_data["room"], f"room for\n{_shown(plot_data['room'] * V)}")
    bottom = kept
    for name, height, strength in plot_data["after"][1:]:
        text = f"{_shown(height * V)} {name}"
        if name != "water" and height >= 2 * LEAST_LABEL:
            text += f"\nat {_percent(strength)}"
        art.place("poured-" + name, bottom, height, text, strength)
        bottom += height
    reached = plot_data["reached"]
    art.place("mixed", 0, bottom, f"{_shown(bottom * V)}\nat {_percent(reached)}", reached)
    more = plot_data["more"]
    art.below.set_text(
        f"one fill gives {_percent(reached)}"
        + (f", then {more} more drain{'s' if more > 1 else ''}" if more > 0 else "")
        + (", and no number of drains is enough" if more < 0 else "")
    )
    low, high = (100 * x for x in plot_data["reach"])
    art.zones[0].set_bounds(0, 0, 0.55, low)
    art.zones[1].set_bounds(0, high, 0.55, 100 - high)
    art.within.set_bounds(0, low, 0.55, high - low)
    target, now = 100 * plot_data["target"], 100 * plot_data["reached"]
    art.wanted.set_data([0, 0.7], [target, target])
    art.reached.set_data([0.62], [now])
    apart = abs(target - now) > 6
    art.notes["wanted"].set_position((0.75, min(max(target + (0 if apart else 2.6), 3), 97)))
    art.notes["wanted"].set_text(f"wanted {target:.3g} %")
    art.notes["reached"].set_position((0.75, min(max(now - (0 if apart else 2.6), 3), 97)))
    art.notes["reached"].set_text(f"reached {now:.3g} %")
    middle = (high + 100) / 2
    art.notes["high"].set_position((0.62, middle))
    room = 100 - high >= 12 and abs(middle - target) > 6
    art.notes["high"].set_text("not reachable\nin one fill" if room else "")


def alt_tank(result: Result) -> str:
    """The picture in words."""
    plot_data = result.plot_data
    V = plot_data["capacity"]
    _, kept, c_kept = plot_data["before"][0]
    low, high = plot_data["reach"]
    poured = (
        ", ".join(f"{_shown(h * V)} {name}" for name, h, _ in plot_data["after"][1:] if h > 0) or "nothing poured in"
    )
    return (
        f"Tank of {_shown(V)}: {_shown(kept * V)} stayed in at {_percent(c_kept)}, room for "
        f"{_shown(plot_data['room'] * V)}; then "
        f"{poured}: {_percent(plot_data['reached'])}. One fill reaches {_percent(low)} to {_percent(high)}; the "
        f"zones outside "
        f"are hatched. Required: {_percent(plot_data['target'])}."
    )


def _hatch_unknown(ax: Any) -> None:
    """Above 60 vol % the values are not well known."""
    ax.axvspan(60, 72, facecolor="white", edgecolor=SOFT, hatch="////", lw=0)


def _freezing_axes(ax: Any) -> None:
    """Fixed axes, and the part above 60 vol % hatched."""
    ax.set(xlim=(0, 72), ylim=(-60, 6), xlabel="glycol, vol %", ylabel="freezes, °C")
    ax.spines[["top", "right"]].set_visible(False)
    ax.axhline(0, color=SOFT, lw=0.6)
    _hatch_unknown(ax)
    ax.text(66, -27, "tables\ndisagree", ha="center", va="center", fontsize=8, color=INK, backgroundcolor="white")


def draw_protection(figure: Any) -> Callable[[Result], None]:
    """Boiling above, freezing below, against strength; the band of uncertainty and the reading on both."""
    top, low = figure.subplots(2, 1, sharex=True, height_ratios=(1, 1.5))
    _freezing_axes(low)
    _hatch_unknown(top)
    top.set(ylabel="boils, °C")
    top.spines[["top", "right"]].set_visible(False)
    bands = [band_to_place(ax, color=ACCENT, alpha=0.16, lw=0, gid=f"band{k}") for k, ax in enumerate((top, low))]
    lines = [ax.plot([], [], color=ACCENT, lw=1.8, gid=f"line{k}")[0] for k, ax in enumerate((top, low))]
    (other,) = low.plot([], [], color=SOFT, lw=1.0, ls=(0, (4, 2)), gid="other")
    other_name = text_to_place(low, fontsize=8, color=SOFT, ha="left", va="bottom", gid="other-name")
    guides = [
        ax.plot([], [], color=SOFT, lw=0.8, ls=(0, (1.5, 2)), gid=f"guide{k}")[0] for k, ax in enumerate((top, low))
    ]
    dots = [
        ax.plot([], [], "o", ms=7, mfc="white", mec=WARM, mew=1.8, gid=f"dot{k}")[0] for k, ax in enumerate((top, low))
    ]
    labels = [text_to_place(ax, fontsize=9, color=INK, va="bottom", gid=f"label{k}") for k, ax in enumerate((top, low))]
    title = top.set_title("", fontsize=9, color=INK, loc="left")
    title.set_gid("title")

    def move(result: Result) -> None:
        plot_data = result.plot_data
        x, at = 100 * plot_data["at"], 100 * plot_data["v"]
        curves = (plot_data["boiling"], plot_data["freezing"])
        for band, line, y in zip(bands, lines, curves, strict=True):
            band.set_data(x, y - coolant_properties.ACCURACY, y + coolant_properties.ACCURACY)
            line.set_data(x, y)
        other.set_data(x, plot_data["other_freezing"])
        other_name.set_position((2, -22))
        other_name.set_text(f"dashed: {plot_data['other']} glycol")
        spans = ((-1000, 1000), (-60, 6))
        for guide, span in zip(guides, spans, strict=True):
            guide.set_data([at, at], span)
        for dot, y in zip(dots, (plot_data["boils"], plot_data["frozen"]), strict=True):
            dot.set_data([at], [y])
        left = at > 34  # the curve falls: there is room under it on the left, above it on the right
        shift = -1.5 if left else 1.5
        for label, y, word, safe in (
            (labels[0], plot_data["boils"], "boils", plot_data["boils_from"]),
            (labels[1], plot_data["frozen"], "freezes", plot_data["protects"]),
        ):
            label.set_ha("right" if left else "left")
            label.set_text(f"{word} {_tenths(y)}, safe side {_tenths(safe)}")
        labels[0].set_position((at + shift, plot_data["boils"] + 3.4))
        labels[1].set_position((at + shift, plot_data["frozen"] + (-3.5 if left else 3.5)))
        labels[1].set_va("top" if left else "bottom")
        pressure = result["absolute_pressure"] / 1e3
        title.set_text(f"{plot_data['glycol']} glycol, {pressure:.4g} kPa; shaded: ±{coolant_properties.ACCURACY:g} K")
        boiling = plot_data["boiling"]
        set_steady_limits(top, ylim=(floor_to(boiling[0] - 4, 10), ceil_to(boiling[-1] + 6, 10)))

    return move


def alt_protection(result: Result) -> str:
    """The picture in words."""
    plot_data = result.plot_data
    return (
        f"Curves of freezing and boiling point against strength for {plot_data['glycol']} glycol, each with a band of "
        f"±{coolant_properties.ACCURACY:g} K. At {_percent(plot_data['v'])} it freezes at "
        f"{_tenths(plot_data['frozen'])} and boils at "
        f"{_tenths(plot_data['boils'])}; on the safe side {_tenths(plot_data['protects'])} and "
        f"{_tenths(plot_data['boils_from'])}. "
        "Above 60 vol % the picture is hatched: tables disagree."
    )


def draw_strength(figure: Any) -> Callable[[Result], None]:
    """The freezing curve with the reading on it, and the error that the wrong glycol's scale makes."""
    ax = figure.subplots()
    _freezing_axes(ax)
    band = band_to_place(ax, color=ACCENT, alpha=0.16, lw=0, gid="band")
    (line,) = ax.plot([], [], color=ACCENT, lw=1.8, gid="line")
    (other,) = ax.plot([], [], color=SOFT, lw=1.0, ls=(0, (4, 2)), gid="other")
    (guide,) = ax.plot([], [], color=SOFT, lw=0.8, ls=(0, (1.5, 2)), gid="guide")
    (wrong,) = ax.plot([], [], "X", ms=9, color=WARM, mec="white", gid="wrong")
    (dot,) = ax.plot([], [], "o", ms=7, mfc="white", mec=ACCENT, mew=1.8, gid="dot")
    label = text_to_place(ax, fontsize=9, color=ACCENT, va="top", gid="label")
    (weak,) = ax.plot([], [], "v", ms=8, color=WARM, mec="white", gid="weak")
    counted = text_to_place(ax, fontsize=8, color=INK, va="bottom", gid="counted")
    wrong_label = text_to_place(ax, fontsize=8.5, color=WARM, va="top", ha="right", gid="wrong-label")
    wrong_label.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 1.0})
    title = ax.set_title("", fontsize=9, color=INK, loc="left")
    title.set_gid("title")

    def move(result: Result) -> None:
        plot_data = result.plot_data
        x, at = 100 * plot_data["at"], 100 * plot_data["v"]
        band.set_data(
            x, plot_data["freezing"] - coolant_properties.ACCURACY, plot_data["freezing"] + coolant_properties.ACCURACY
        )
        line.set_data(x, plot_data["freezing"])
        other.set_data(x, plot_data["other_freezing"])
        guide.set_data([0, at, at], [plot_data["frozen"], plot_data["frozen"], -60])
        dot.set_data([at], [plot_data["frozen"]])
        left = at > 32  # the curve falls: there is room under it on the left, above it on the right
        label.set_position((at - 1.5 if left else at + 1.5, plot_data["frozen"] + (-2.5 if left else 1.0)))
        label.set_ha("right" if left else "left")
        label.set_va("top" if left else "bottom")
        label.set_text(f"{at:.1f} vol % as read")
        weak.set_data([100 * plot_data["weak"]], [plot_data["protects"]])
        counted.set_position((min(100 * plot_data["weak"] + 0.8, 45.0), plot_data["protects"] + 3.0))
        counted.set_text(f"safe side {_tenths(plot_data['protects'])}")
        w = plot_data["wrong"]
        wrong.set_data([] if w is None else [100 * w], [] if w is None else [_interpolated(plot_data, w)])
        # under the curve, and clear of the right reading's own words when the two are near
        near = 9.0 if w is not None and left and abs(_interpolated(plot_data, w) - plot_data["frozen"]) < 6 else 3.0
        wrong_label.set_position((100 * (w or 0) - 1.5, _interpolated(plot_data, w) - near if w is not None else 0))
        wrong_label.set_text("" if w is None else f"{plot_data['other']} scale shows {100 * w:.1f} %")
        title.set_text(
            f"{plot_data['glycol']} glycol (line, ±{coolant_properties.ACCURACY:g} K); dashed: "
            f"{plot_data['other']} glycol"
        )

    return move


def _interpolated(curve: Any, v: float) -> float:
    """Height of the drawn line at a strength."""
    return float(np.interp(v, curve["at"], curve["freezing"]))


def alt_strength(result: Result) -> str:
    """The picture in words."""
    plot_data = result.plot_data
    wrong = (
        ""
        if plot_data["wrong"] is None
        else f" On the {plot_data['other']} scale it would show {_percent(plot_data['wrong'])}."
    )
    return (
        f"Freezing curve of {plot_data['glycol']} glycol with the reading at {_percent(plot_data['v'])}, freezing at "
        f"{_tenths(plot_data['frozen'])}; on the safe side {_tenths(plot_data['protects'])}.{wrong}"
    )


PICTURES = {
    "coolant_table": Picture(draw_table, alt_table, size=(6.2, 3.0)),
    "coolant_fill": Picture(draw_tank, alt_tank, size=(6.6, 3.5)),
    "coolant_correct": Picture(draw_tank, alt_tank, size=(6.6, 3.5)),
    "coolant_protection": Picture(draw_protection, alt_protection, size=(6.2, 4.4)),
    "coolant_strength": Picture(draw_strength, alt_strength, size=(6.2, 3.4)),
    "coolant_reading": Picture(draw_strength, alt_strength, size=(6.2, 3.4)),
}
