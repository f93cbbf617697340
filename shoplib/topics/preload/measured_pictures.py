"""The pictures of the workings on measured bolts, and of the preload budget."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from shoplib.core.working import Result
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    PALE,
    PALER,
    SOFT,
    WARM,
    padded_limits,
    round_up,
    set_changed,
    set_steady_limits,
    shape_to_place,
    text_to_place,
)

KINDS = {"head": "under the head", "thread": "in the thread", "total": "total"}
MOST_BARS = 10


def _limit_lines(ax: Any) -> Callable[[float | None, float | None], None]:
    """Two dashed lines at the limits, hidden where there is none."""
    lines = [ax.axvline(color=WARM, lw=1.2, ls=(0, (4, 2)), gid=f"limit{k}") for k in (0, 1)]

    def move(low: float | None, high: float | None) -> None:
        for line, x in zip(lines, (low, high), strict=True):
            line.set_visible(x is not None)
            line.set_xdata([x or 0.0, x or 0.0])

    return move


def _value(result: Result, name: str, scale: float) -> float | None:
    typed = result.inputs[name]
    return None if typed is None else float(typed) * scale


# ------------------------------------------------------------------------------ friction
def draw_friction(figure: Any) -> Callable[[Result], None]:
    """Friction in thread, under the head and in total, each with its uncertainty; the window as dashed lines."""
    ax = figure.subplots()
    ax.set(ylim=(-0.6, 2.6), yticks=range(3), xlabel="coefficient of friction (dashed: limits)")
    ax.set_yticklabels(list(KINDS.values()))
    ax.spines[["top", "right", "left"]].set_visible(False)
    ax.tick_params(axis="y", length=0)
    limits = _limit_lines(ax)
    spans = [ax.plot([], [], color=PALE, lw=9, solid_capstyle="butt", gid=f"span{n}")[0] for n in range(3)]
    dots = [ax.plot([], [], "o", ms=8, color=ACCENT, mec="white", gid=f"dot{n}")[0] for n in range(3)]
    notes = [text_to_place(ax, ha="center", fontsize=9, color=INK, gid=f"note{n}") for n in range(3)]

    def move(result: Result) -> None:
        rows = {name: (mu, half) for name, mu, half in result.plot_data["rows"]}
        window = _value(result, "minimum_friction", 1.0), _value(result, "maximum_friction", 1.0)
        limits(*window)
        ends = [mu + half for mu, half in rows.values()] + [x for x in window if x is not None]
        set_steady_limits(ax, xlim=(0.0, round_up(1.1 * max(ends))))
        for name, span, dot, note in zip(KINDS, spans, dots, notes, strict=True):
            mu, half = rows.get(name, (0.0, 0.0))
            y = list(KINDS).index(name)
            for artist in (span, dot):
                artist.set_visible(name in rows)
            span.set_data([mu - half, mu + half], [y, y])
            dot.set_data([mu], [y])
            note.set_position((mu, y + 0.3))
            note.set_text(f"{mu:.3f} ± {half:.3f}" if name in rows else "")

    return move


def alt_friction(result: Result) -> str:
    """The picture in words."""
    said = [f"{KINDS[name]} {mu:.3f} ± {half:.3f}" for name, mu, half in result.plot_data["rows"]]
    return f"Coefficients of friction as dots with their uncertainty: {', '.join(said)}."


# ------------------------------------------------------------------------------ elongation
def draw_elongation(figure: Any) -> Callable[[Result], None]:
    """The stretch as a bar: what springs back and what stays; the limits as dashed lines."""
    ax = figure.subplots()
    ax.set(ylim=(-0.9, 0.9), yticks=[], xlabel="stretch, mm (dashed: limits)")
    ax.spines[["top", "right", "left"]].set_visible(False)
    stays = shape_to_place(ax, facecolor=WARM, alpha=0.5, hatch="///", gid="stays")
    springs = shape_to_place(ax, facecolor=ACCENT, gid="springs")
    (span,) = ax.plot([], [], color=INK, lw=1.4, marker="|", ms=9, gid="span")
    limits = _limit_lines(ax)
    notes = [text_to_place(ax, ha="center", va="center", fontsize=9, color=INK, gid=f"note{n}") for n in range(2)]

    def move(result: Result) -> None:
        total, set_ = 1e3 * result.plot_data["total"], 1e3 * result.plot_data["set"]
        half = 1e3 * result["stretch_uncertainty"]
        low, high = _value(result, "minimum_stretch", 1e3), _value(result, "maximum_stretch", 1e3)
        limits(low, high)
        ends = [0.0, set_, total - half, total + half, *(x for x in (low, high) if x is not None)]
        set_steady_limits(ax, xlim=padded_limits(min(ends), max(ends), 8))
        stays.set_xy([(0, -0.3), (set_, -0.3), (set_, 0.3), (0, 0.3)])
        springs.set_xy([(set_, -0.3), (total, -0.3), (total, 0.3), (set_, 0.3)])
        span.set_data([total - half, total + half], [0.42, 0.42])
        known = result.plot_data["known"]
        notes[0].set_text(f"stays {set_:.3f} mm" if known else "what stays was not measured")
        notes[1].set_text(f"stretch {total:.3f} ± {half:.3f} mm")
        notes[0].set_position((0.3 * total, -0.55))
        notes[1].set_position((0.5 * total, 0.55))

    return move


def alt_elongation(result: Result) -> str:
    """The picture in words."""
    stays = f"; {1e3 * result.plot_data['set']:.3f} mm of it stays" if result.plot_data["known"] else ""
    half = 1e3 * result["stretch_uncertainty"]
    return f"Bar of the stretch, {1e3 * result.plot_data['total']:.3f} ± {half:.3f} mm{stays}."


# ------------------------------------------------------------------------------ budget
def draw_budget(figure: Any) -> Callable[[Result], None]:
    """The worst case and 95 % of the bolts as bars; below, how far each input alone moves the preload."""
    top, ax = figure.subplots(2, 1, height_ratios=(1, 3.4), sharex=True)
    top.set(ylim=(-0.6, 1.6), yticks=[0, 1])
    top.set_yticklabels(["95 % of bolts", "worst case"])
    ax.set(xlabel="preload left, kN (mark: upper end of that range; dashed: limits)")
    for each in (top, ax):
        each.spines[["top", "right", "left"]].set_visible(False)
        each.tick_params(axis="y", length=0)
    top.tick_params(axis="x", length=0, labelbottom=False)
    limits = _limit_lines(top)
    wide = [
        top.plot([], [], color=color, lw=11, solid_capstyle="butt", gid=f"wide{n}")[0]
        for n, color in enumerate((ACCENT, PALE))
    ]
    centre = ax.axvline(color=SOFT, lw=0.8, gid="centre")
    bars = [ax.plot([], [], color=PALER, lw=9, solid_capstyle="butt", gid=f"bar{n}")[0] for n in range(MOST_BARS)]
    ends = [ax.plot([], [], "|", color=ACCENT, ms=10, mew=2, gid=f"end{n}")[0] for n in range(MOST_BARS)]

    def move(result: Result) -> None:
        low, high = 1e-3 * result["preload_lowest"], 1e-3 * result["preload_highest"]
        inner = [1e-3 * result[name] for name in ("preload_p025", "preload_p975")]
        window = _value(result, "minimum_preload", 1e-3), _value(result, "maximum_preload", 1e-3)
        limits(*window)
        every = [low, high, *(x for x in window if x is not None)]
        set_steady_limits(top, xlim=padded_limits(min(every), max(every), 10))
        wide[0].set_data(inner, [0, 0])
        wide[1].set_data([low, high], [1, 1])
        middle = 1e-3 * result.plot_data["middle"]
        centre.set_xdata([middle, middle])
        spans = result.plot_data["spans"]
        labels = [_short(result, name) for name, *_ in spans]
        set_changed(ax, ylim=(max(len(spans), 1) - 0.4, -0.6), yticks=(range(len(spans)), labels))
        for n, (bar, end) in enumerate(zip(bars, ends, strict=True)):
            shown = n < len(spans)
            bar.set_visible(shown)
            end.set_visible(shown)
            if shown:
                _, at_low, at_high = spans[n]
                bar.set_data([1e-3 * at_low, 1e-3 * at_high], [n, n])
                end.set_data([1e-3 * at_high], [n])

    return move


def _short(result: Result, name: str) -> str:
    field = result.working.field(name)
    return field.label if field else name


def alt_budget(result: Result) -> str:
    """The picture in words."""
    kilo = {name: f"{1e-3 * result[name]:.1f}" for name in ("preload_lowest", "preload_highest", "preload_p025",
                                                            "preload_p975")}  # fmt: skip
    causes = [_short(result, name).lower() for name, *_ in result.plot_data["spans"][:3]]
    most = f" Most of the range comes from: {', '.join(causes)}." if causes else ""
    return (
        f"Bars of the preload left: worst case {kilo['preload_lowest']} to {kilo['preload_highest']} kN, 95 % of the "
        f"bolts {kilo['preload_p025']} to {kilo['preload_p975']} kN.{most}"
    )
