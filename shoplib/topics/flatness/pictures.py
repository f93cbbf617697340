"""The pictures of the workings of the topic flatness."""

from __future__ import annotations

import math
import pickle
from collections.abc import Callable
from typing import Any

import numpy as np

from shoplib.core.checks import Outcome
from shoplib.core.units import show
from shoplib.core.working import Picture, Result
from shoplib.physics import feeler
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    PALE,
    PALER,
    SOFT,
    WARM,
    clear,
    padded_limits,
    prompt,
    round_up,
    set_steady_limits,
    text_to_place,
)
from shoplib.topics.flatness.line_verdicts import in_words
from shoplib.topics.flatness.liner_picture import alt_liners, draw_liners
from shoplib.topics.flatness.straightedge_line import Line, leaf_text
from shoplib.topics.flatness.surface_points import MM, SHOWN

# ------------------------------------------------------------------------------ the picture of the lines
HATCH = {Outcome.PASS: "", Outcome.FAIL: "xxx", Outcome.UNDECIDED: "///", Outcome.NO_LIMIT: "..."}


FILL = {Outcome.PASS: PALE, Outcome.FAIL: WARM, Outcome.UNDECIDED: "white", Outcome.NO_LIMIT: PALER}


DASH = {Outcome.PASS: "-", Outcome.FAIL: (0, (4, 1.5)), Outcome.UNDECIDED: (0, (1.5, 1.5)), Outcome.NO_LIMIT: "-."}


def draw_lines(figure: Any) -> Callable[[Result], None]:
    """Each reading as a bracket against the limit; the face from above where its places are known."""
    bars, plan = figure.subplots(1, 2, width_ratios=(1.25, 1))
    made: dict[str, Any] = {"of": None}

    def move(result: Result) -> None:
        plot_data = result.plot_data
        lines, face = plot_data["lines"], plot_data["face"]
        # what stands while readings and limit are typed; arrays within, so compared as bytes
        of = pickle.dumps((face, [(x.name, x.ends) for x in lines]))
        if made["of"] != of:
            made.update(of=of, brackets=build_brackets(bars, lines), plan=build_plan(plan, lines, face))
        made["brackets"](lines, plot_data["limit"])
        made["plan"](lines)

    return move


def build_brackets(ax: Any, lines: list[Line]) -> Callable[[list[Line], float | None], None]:
    """From the leaf that fits to the leaf that does not; open where nothing bounds it."""
    from matplotlib.patches import Rectangle

    clear(ax)
    names = [f"{k}: {line.name[:22]}{'…' if len(line.name) > 22 else ''}" for k, line in enumerate(lines, 1)]
    ax.set_yticks(range(len(lines)), names, fontsize=8)
    ax.set(ylim=(len(lines) - 0.4, -1.1), xlabel="gap, mm (bar: leaf that fits to leaf that does not)")
    ax.tick_params(axis="x", labelsize=8)
    ax.spines[["top", "right"]].set_visible(False)
    behind: Any = {"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none"}
    boxes, words = [], []
    for y in range(len(lines)):
        style: Any = {"edgecolor": INK, "linewidth": 0.8, "zorder": 2, "gid": f"bracket{y}"}
        boxes.append(ax.add_patch(Rectangle((0, y - 0.25), 0, 0.5, **style)))
        words.append(
            text_to_place(ax, y=y, va="center", fontsize=7.5, color=INK, zorder=4, bbox=behind, gid=f"word{y}")
        )
    (edge,) = ax.plot([], [], color=INK, lw=1.4, zorder=3, gid="limit")
    told = text_to_place(ax, y=-0.75, ha="center", va="bottom", fontsize=8, color=INK, gid="limit-text")

    def move(lines: list[Line], bound: float | None) -> None:
        ends = [x for line in lines for x in (line.low, line.high) if x is not None]
        wide = round_up(1.25 * max([*ends, bound or 0.0, 1e-5]) * 1e3)
        _, right = set_steady_limits(ax, xlim=(0.0, 1.3 * wide))
        top = right / 1.3
        for line, box, word in zip(lines, boxes, words, strict=True):
            state = line.outcome
            read = line.bracket is not None
            box.set_visible(read)
            word.set_style("normal" if read else "italic")
            word.set_color(INK if read else SOFT)
            if not read:
                word.set_text(in_words(line))
                word.set_x(0.02 * top)
                continue
            high = top if line.high is None else line.high * 1e3
            box.set_x(line.low * 1e3)
            box.set_width(high - line.low * 1e3)
            box.set_facecolor(FILL[state])
            box.set_hatch(HATCH[state])
            word.set_text(f"{state}" + (", rocks" if line.rocking else "") + (", doubtful" if line.doubtful else ""))
            word.set_x(min(high, top) + 0.015 * top)
        edge.set_data(([], []) if bound is None else ([bound * 1e3] * 2, [len(lines) - 0.4, -0.7]))
        told.set_text("" if bound is None else f"limit {leaf_text(bound)}")
        told.set_x((bound or 0.0) * 1e3)

    return move


def build_plan(ax: Any, lines: list[Line], face: feeler.Face | None) -> Callable[[list[Line]], None]:
    """The face with its holes and lines; empty where no place is known."""
    clear(ax)
    ax.set_axis_off()
    drawn: dict[int, Any] = {}
    if all(line.ends is None for line in lines):  # on a face each line has a place
        ax.text(
            0.5,
            0.5,
            prompt("Type an outline, and from and to\nas x; y, to see the lines on the face"),
            ha="center",
            va="center",
            fontsize=8,
            color=SOFT,
            transform=ax.transAxes,
        )
        return lambda lines: None
    ax.set_aspect("equal")
    if face is not None:
        draw_face(ax, face)
    for k, line in enumerate(lines):
        if line.ends is None:
            continue
        (x0, y0), (x1, y1) = line.ends
        length = math.dist(*line.ends)
        ax.plot([x0 * 1e3, x1 * 1e3], [y0 * 1e3, y1 * 1e3], color=SOFT, lw=0.6, ls=(0, (1, 2)))
        xs, ys = (  # the pieces on metal, one line with gaps
            [
                v
                for t in line.pieces or [(0.0, length)]
                for v in (*((a + (b - a) * x / length) * 1e3 for x in t), np.nan)
            ]
            for a, b in ((x0, x1), (y0, y1))
        )
        (drawn[k],) = ax.plot(xs, ys, lw=2, solid_capstyle="butt", gid=f"line{k}")
        away: Any = {"xytext": (-11 * (x1 - x0) / length, -11 * (y1 - y0) / length), "textcoords": "offset points"}
        ax.annotate(str(k + 1), (x0 * 1e3, y0 * 1e3), fontsize=8, color=INK, ha="center", va="center", **away)
    ax.margins(0.09)

    def move(lines: list[Line]) -> None:
        for k, run in drawn.items():
            state = lines[k].outcome
            run.set_color(WARM if state is Outcome.FAIL else ACCENT)
            run.set_linestyle(DASH[state])

    return move


def draw_face(ax: Any, face: feeler.Face, *, over: bool = False) -> None:
    """The outline and its holes; ``over`` a picture of the face, only the rims and the holes."""
    from matplotlib.patches import Circle, Polygon

    fill = "none" if over else "#f4f6f8"
    ax.add_patch(Polygon(np.asarray(face.corners) * 1e3, facecolor=fill, edgecolor=INK, lw=1.2))
    style: Any = {"facecolor": "white", "edgecolor": SOFT, "lw": 0.9, "hatch": "....", "zorder": 3 if over else 1}
    for h in face.round_holes:
        ax.add_patch(Circle((h.x * 1e3, h.y * 1e3), h.diameter * 500, **style))
    for p in face.holes:
        ax.add_patch(Polygon(np.asarray(p) * 1e3, **style))
    ax.autoscale_view()


def alt_lines(result: Result) -> str:
    """The brackets in words."""
    bound = result.plot_data["limit"]
    head = f"Gaps under the straightedge against a limit of {leaf_text(bound)}. " if bound is not None else "Gaps. "
    return head + ". ".join(f"{x.name}: {in_words(x)}, {x.outcome}" for x in result.plot_data["lines"]) + "."


# ------------------------------------------------------------------------------ the picture of a surface
MOST_DRAWN, MOST_DOTS = 2500, 400


def draw_surface(figure: Any) -> Callable[[Result], None]:
    """Contours of the levelled heights, the support points, the highest and the lowest."""
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import BoundaryNorm, LinearSegmentedColormap
    from matplotlib.ticker import MaxNLocator
    from matplotlib.tri import Triangulation

    from shoplib.plotting.updatable_contours import contours  # only where a picture is drawn: it brings matplotlib

    ax, key = figure.subplots(1, 2, width_ratios=(36, 1))
    colours = LinearSegmentedColormap.from_list("height", ["#f3e3d2", "#ffffff", PALER, PALE])

    letters: Any = {"fontsize": 7.5, "color": INK, "zorder": 4, "in_layout": False}
    made: dict[str, Any] = {"of": None, "over": None}

    def net(x: Any, y: Any) -> Any:
        """The triangles between the places: the same while only heights move."""
        over = x.tobytes(), y.tobytes()
        if made["over"] != over:
            made.update(over=over, net=Triangulation(x, y))
        return made["net"]

    def build(x: Any, y: Any, z: Any, bounds: Any, face: Any) -> None:
        """Everything that stays while only heights and places move."""
        clear(ax)
        key.clear()
        over, inner = net(x, y), bounds[1:-1]
        made["areas"] = contours(ax, over, z, levels=bounds, filled=True, cmap=colours, gid="areas")
        made["lines"] = contours(ax, over, z, levels=inner, colors=SOFT, linewidths=0.7, linestyles="-", gid="lines")
        made["numbered"] = [v for v in inner if round(v / (bounds[1] - bounds[0])) % 2 == 0]  # zero among them
        if made["dots"]:
            (made["places"],) = ax.plot([], [], ".", ms=2.2, color=SOFT, gid="places")
        style: Any = {"ms": 9, "mfc": "white", "mec": INK, "mew": 1.5, "ls": "none", "clip_on": False}
        made["marks"] = [
            ax.plot([], [], mark, label=word, gid=word, **style)[0]
            for mark, word in (("^", "upper plane"), ("v", "lower plane"))
        ]
        if face is not None:
            draw_face(ax, face, over=True)
        ax.set_aspect("equal")
        ax.set(xlabel="x, mm", ylabel="y, mm")
        ax.spines[["top", "right"]].set_visible(False)
        ax.legend(loc="lower left", bbox_to_anchor=(0, 1), ncols=2, frameon=False, fontsize=8)
        scale = ScalarMappable(BoundaryNorm(bounds, colours.N), colours)
        bar = ax.figure.colorbar(scale, cax=key)
        bar.set_label("height, µm", fontsize=8)
        bar.ax.tick_params(labelsize=7.5)
        ax.tick_params(labelsize=8)

    def move(result: Result) -> None:
        P, level, zone = (result.plot_data[n] for n in ("P", "level", "zone"))
        shown = np.arange(len(P))
        if len(P) > MOST_DRAWN:  # a picture needs no more; the support is kept, with the highest and the lowest
            thin = np.random.default_rng(1).choice(len(P), MOST_DRAWN, replace=False)
            shown = np.union1d(thin, zone.support)
        x, y, z = P[shown, 0] * 1e3, P[shown, 1] * 1e3, level[shown] * 1e6
        half = max(zone.width * 5e5, 1e-6)
        bounds = MaxNLocator(9).tick_values(-half, half)
        face = result.plot_data.get("face")
        dots = len(P) <= MOST_DOTS
        of = pickle.dumps((bounds, dots, face))  # arrays within, so compared as bytes
        if made["of"] != of:
            made.update(of=of, dots=dots)
            build(x, y, z, bounds, face)
        else:
            made["areas"].rise(net(x, y), z)
            made["lines"].rise(net(x, y), z)
        places = P[shown, :2] if face is None else np.vstack([P[shown, :2], face.corners])
        wide, high = (padded_limits(v.min(), v.max(), 25) for v in 1e3 * places.T)
        set_steady_limits(ax, xlim=wide, ylim=high)
        if dots:
            made["places"].set_data(x, y)
        made["lines"].number(made["numbered"], lambda v: f"{v:+.3g}".replace("-", "−") if v else "0", **letters)
        for side, mark in zip((1, -1), made["marks"], strict=True):
            at = zone.support[(zone.side == side) & (zone.weight > SHOWN)]
            mark.set_data(P[at, 0] * 1e3, P[at, 1] * 1e3)

    return move


def alt_surface(result: Result) -> str:
    """The contours in words."""
    zone = result.plot_data["zone"]
    up, down = int((zone.side == 1).sum()), int((zone.side == -1).sum())
    return (
        f"Contours of the face, with its tilt removed: {show(result.plot_data['width'], MM)} between two planes; "
        f"points "
        f"on them: "
        f"{up} above and {down} below. Highest at {result['highest']}; lowest at {result['lowest']}."
    )


PICTURES = {
    "liner_protrusion": Picture(draw_liners, alt_liners, size=(6.2, 3.0)),
    "flatness_lines": Picture(draw_lines, alt_lines, size=(7.6, 3.3)),
    "flatness_grid": Picture(draw_surface, alt_surface, size=(7.2, 3.4)),
    "flatness_steps": Picture(draw_surface, alt_surface, size=(7.2, 3.4)),
}
