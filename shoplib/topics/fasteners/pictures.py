"""The pictures of the workings of the topic fasteners."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from shoplib.core.units import mm, show, unit_of
from shoplib.core.working import Picture, Result
from shoplib.plotting.bolt_map import MOST_BOLTS, frame_map, map_axes, order_map, smallest_gap
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    PALE,
    PALER,
    SOFT,
    WARM,
    box_to_place,
    ceil_to,
    round_up,
    set_changed,
    set_steady_limits,
    text_to_place,
)
from shoplib.topics.fasteners.bolt_map import Bolt
from shoplib.topics.fasteners.bolt_map_inputs import LEFT, NEW, NO, NO_BOLT, NOT_CHECKED, REUSED, YES
from shoplib.topics.fasteners.bolt_map_tables import _kind_groups, length_text, listed
from shoplib.topics.fasteners.bolt_reuse import NEVER
from shoplib.topics.fasteners.tightening_order import NOT_MAKERS

# ------------------------------------------------------------------------------ the map
SHAPES = ("o", "s", "D", "h", "^", "p", "v", "8")


WIDTH = {"s": 0.88, "D": 0.8, "p": 1.1, "^": 1.35, "v": 1.35, "h": 1.05}  # so that all shapes look equally large


SIGNS = {"blind": "⊔", "through": "‖", "wet": "≈", None: "?"}


ROOM = 64.0  # points from bolt to bolt in which "NOT DRY" can be written out


SHARE = 0.7  # of the picture's height that the map takes


MAP = (0.98, SHARE - 0.02)  # of the picture's width and height, that the map's axes take


RIM: Any = {NEW: "-", REUSED: (0, (2.2, 1.3)), None: (0, (0.5, 1.2)), NO_BOLT: "-"}


def draw_fastener_log(figure: Any) -> Callable[[Result], None]:
    """The bolt map: shape for the kind, black for left hand, dashed for re-used, a sign for the hole."""
    ax = map_axes(figure, (0.01, 1 - SHARE, *MAP))
    key = figure.add_axes((0.01, 0.0, 0.98, 1 - SHARE))
    key.axis("off")
    key.set(xlim=(0, 1), ylim=(0, 1))
    places, slots = range(MOST_BOLTS), range(len(SHAPES))
    rings = [ax.plot([], [], "o", color="none", mec=WARM, mew=2.4, zorder=2, gid=f"ring{k}")[0] for k in places]
    marks = [ax.scatter([], [], lw=1.8, zorder=3, gid=f"m{k}") for k in places]
    told: Any = {"ha": "center", "va": "center"}
    names = [text_to_place(ax, fontweight="bold", zorder=4, gid=f"n{k}", **told) for k in places]
    by: Any = {"textcoords": "offset points", "zorder": 5, **told}
    below = [
        ax.annotate("", (0, 0), (0, 0), color=INK, fontsize=9, family="DejaVu Sans", gid=f"h{k}", **by) for k in places
    ]
    above = [
        ax.annotate("", (0, 0), (0, 0), color=WARM, fontsize=8.5, fontweight="bold", gid=f"a{k}", **by) for k in places
    ]
    kinds = [key.scatter([], [], lw=1.6, gid=f"k{k}") for k in slots]
    said = [
        key.text(0.045 + 0.5 * (k % 2), _line(k), "", fontsize=9, color=INK, va="center", gid=f"w{k}") for k in slots
    ]
    signs = text_to_place(key, x=0.01, fontsize=8.5, color=INK, ha="left", va="top", family="DejaVu Sans",
                          linespacing=1.5, gid="signs")  # fmt: skip

    shown: dict[int, Any] = {}

    def put(k: int, b: Bolt | None, shape: str, size: float, roomy: bool) -> None:
        if shown.get(k) == (b, shape, size, roomy):
            return  # most bolts stand as they stood: a key changes one
        shown[k] = (b, shape, size, roomy)
        at = [b.place] if b and b.place else []
        left = b is not None and b.hand == LEFT and b.expected
        _mark(marks[k], at, shape, size, left, RIM[b.facts["use"]] if b else "-")
        rings[k].set_data(*zip(*at, strict=True) if left else ([], []))
        rings[k].set_markersize(size * 1.5)
        name = b.name[:6] if b and b.expected else ""
        names[k].set(text=name, fontsize=_name_size(name, size), color="white" if left else INK)
        sign = _below(b) if b else ""
        danger = "✕" in sign
        below[k].set_text(sign + (" NOT DRY" if danger and roomy else ""))
        below[k].set(color=WARM if danger else INK, fontweight="bold" if danger else "normal")
        above[k].set_text("LEFT" if left else "")
        if at:
            names[k].set_position(at[0])
            below[k].xy = above[k].xy = at[0]
            below[k].set_position((0, -(0.75 if left else 0.5) * size - 8))
            above[k].set_position((0, 0.75 * size + 7))

    def move(result: Result) -> None:
        bolts: list[Bolt] = result.plot_data["bolts"]
        placed = [b for b in bolts if b.place]
        groups = _kind_groups(bolts)
        shapes = {kind: SHAPES[min(k, len(SHAPES) - 1)] for k, kind in enumerate(groups)}
        size, gap = 15.0, 0.0
        at = [b.place for b in placed if b.place]
        if at:
            frame_map(ax, [x for x, _ in at], [y for _, y in at], 0.075)
            size, gap = _mark_size(figure, ax, at)
        for k in places:
            b = placed[k] if k < len(placed) else None
            put(k, b, (shapes[b.kind] if b.expected else "x") if b else "o", size, gap > ROOM)
        first = list(groups.items())[: len(SHAPES)]
        for k in slots:
            group = first[k] if k < len(first) else None
            said[k].set_text(_kind_words(group, len(groups) > len(SHAPES) and k == slots[-1]) if group else "")
            at = [(0.02 + 0.5 * (k % 2), _line(k))] if group else []
            _mark(kinds[k], at, SHAPES[k], 11, group is not None and group[1][0].hand == LEFT, "-")
        signs.set_text(_signs(bolts))
        signs.set_y(_line(len(first) - 1) - 0.1)

    return move


def _mark(scatter: Any, at: Sequence[tuple[float, float]], shape: str, size: float, left: bool, rim: Any) -> None:
    """Put one mark of a scatter at a place, or nowhere; black for a left-hand thread."""
    from matplotlib.markers import MarkerStyle

    style = MarkerStyle(shape)
    scatter.set_paths([style.get_path().transformed(style.get_transform())])
    scatter.set_offsets(at or [(math.nan, math.nan)])
    scatter.set_sizes([(size * WIDTH.get(shape, 1.0)) ** 2])
    scatter.set(facecolor=INK if left else "white", edgecolor=INK if left else ACCENT, linestyle=[rim])


def _line(k: int) -> float:
    return 0.92 - 0.155 * (k // 2)


def _kind_words(group: tuple[tuple[str, float | None], list[Bolt]], last: bool) -> str:
    (thread, length), bolts = group
    return f"{len(bolts)} × {thread[:40]}, {length_text(length)}" + (" (and other kinds)" if last else "")


def _below(b: Bolt) -> str:
    """The hole in a sign or two."""
    if not b.expected:
        return b.name[:6]
    sign = SIGNS[b.facts["hole"]]
    if b.facts["hole"] in ("blind", None):
        sign += {YES: "", NO: "✕", NOT_CHECKED: "?", None: "?"}[b.facts["dry"]] if b.facts["hole"] else ""
        sign += "✕" if b.facts["hole"] is None and b.facts["dry"] == NO else ""
    return sign


def _signs(bolts: Sequence[Bolt]) -> str:
    """The legend of the signs used; two lines at most."""
    there = [b for b in bolts if b.expected]
    uses = {b.facts["use"] for b in bolts}
    told = [
        (NEW in uses, "solid rim: new"),
        (REUSED in uses, "dashed: re-used"),
        (None in uses, "dotted: not decided"),
        (NO_BOLT in uses, "×: no bolt"),
        (any(b.hand == LEFT for b in there), "black in a ring: LEFT HAND"),
    ]
    holes = [
        (any(_below(b) == "⊔" for b in there), "⊔ blind, dry"),
        (any(_below(b) == "⊔?" for b in there), "⊔? blind, dry not checked"),
        (any("✕" in _below(b) for b in there), "✕ NOT DRY"),
        (any(b.facts["hole"] == "through" for b in there), "‖ through"),
        (any(b.facts["hole"] == "wet" for b in there), "≈ wet"),
        (any(b.facts["hole"] is None for b in there), "? hole not noted"),
    ]
    return "\n".join(" · ".join(t for on, t in row if on) for row in (told, holes) if any(on for on, _ in row))


def _mark_size(figure: Any, ax: Any, at: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Points across a mark, so that neighbours leave room for a sign; and points from one to the next."""
    gap = smallest_gap(figure, ax, at, MAP)
    return max(9.0, min(24.0, 0.58 * gap)), gap


def _name_size(name: str, size: float) -> float:
    return max(5.0, min(11.0, size / max(1.82, 0.74 * len(name))))


def alt_fastener_log(result: Result) -> str:
    """The map in words."""
    bolts: list[Bolt] = result.plot_data["bolts"]
    parts = [
        f"{len(group)} of {thread}, {length_text(length)} ({listed(b.name for b in group)})"
        for (thread, length), group in _kind_groups(bolts).items()
    ]
    left = [b.name for b in bolts if b.hand == LEFT and b.expected]
    wet = [b.name for b in bolts if b.expected and b.facts["dry"] == NO]
    tail = f" LEFT HAND: {listed(left)}." if left else " No left-hand thread."
    tail += f" NOT DRY: {listed(wet)}." if wet else ""
    return f"Map of {len(bolts)} places: " + "; ".join(parts) + "." + tail


_MM = unit_of(mm)


def draw_reuse(figure: Any) -> Callable[[Result], None]:
    """The margin of each bolt: to the right of the line it is within, to the left beyond the limit."""
    ax = figure.subplots()
    ax.axvline(0, color=INK, lw=1.2)
    ax.set(xlabel="margin to the limit, mm", ylabel="bolt")
    ax.spines[["top", "right"]].set_visible(False)
    (good,) = ax.plot([], [], "o", color=ACCENT, ms=7, gid="within")
    (bad,) = ax.plot([], [], "X", color=WARM, ms=9, gid="beyond")
    told = {"transform": ax.transAxes, "va": "bottom", "fontsize": 9}
    ax.text(0.49, 1.02, "✕ beyond the limit", ha="right", color=WARM, family="DejaVu Sans", **told)
    ax.text(0.51, 1.02, "● within", ha="left", color=ACCENT, family="DejaVu Sans", **told)
    says = ax.text(0.5, 0.5, "", ha="center", gid="says", backgroundcolor="white", **told)

    def move(result: Result) -> None:
        names, margins = result.plot_data.get("names", []), result.plot_data.get("margins", [])
        known = [abs(m) * 1e3 for m in margins if m is not None]
        span = round_up(max([*known, 0.05]) * 1.15)
        marks = [n[:12] + (" (not known)" if m is None else "") for n, m in zip(names, margins, strict=True)]
        places = list(range(1, len(names) + 1))
        set_steady_limits(ax, xlim=(-span, span))
        set_changed(ax, ylim=(len(names) + 0.6, 0.4), yticks=(places, marks))
        rows = [(k, m * 1e3) for k, m in enumerate(margins, 1) if m is not None]
        good.set_data([m for _, m in rows if m >= 0], [k for k, m in rows if m >= 0])
        bad.set_data([m for _, m in rows if m < 0], [k for k, m in rows if m < 0])
        says.set_text("single use: replace" if result.inputs.method == NEVER else "")

    return move


def alt_reuse(result: Result) -> str:
    """The picture in words."""
    if result.inputs.method == NEVER:
        return "Single-use bolts: no margin is drawn; replace them."
    parts = [
        f"{n} {'not known' if m is None else show(m, _MM, 3)}"
        for n, m in zip(result.plot_data["names"], result.plot_data["margins"], strict=True)
    ]
    return "Margin of each bolt to the limit: " + "; ".join(parts) + "."


def draw_reach(figure: Any) -> Callable[[Result], None]:
    """Section along the bolt, head on the left: the stack it clamps, the deck face, the hole and its thread."""
    ax = figure.subplots()
    ax.set(ylim=(-1.8, 1.75), yticks=[], xlabel="depth below the deck face, mm")
    ax.spines[["left", "top", "right"]].set_visible(False)

    parts = [
        (half, box_to_place(ax, gid=gid, zorder=z, **style))
        for gid, half, z, style in (
            ("block", 1.2, 1, {"fc": PALE, "ec": INK, "lw": 0.8}),
            ("hole", 0.46, 2, {"fc": "white", "ec": INK, "lw": 0.8}),
            ("tapped", 0.46, 3, {"fc": "white", "ec": SOFT, "lw": 0.6, "hatch": "||||"}),
            ("stack", 1.2, 1, {"fc": PALER, "ec": INK, "lw": 0.8}),
            ("head", 0.75, 6, {"fc": SOFT, "ec": INK, "lw": 0.8}),
            ("shank", 0.3, 5, {"fc": SOFT, "ec": INK, "lw": 0.8}),
            ("screw", 0.36, 6, {"fc": SOFT, "ec": "white", "lw": 0.4, "hatch": "////"}),
            ("held", 0.46, 7, {"fc": "none", "ec": ACCENT, "lw": 2.0}),
        )
    ]
    (layers,) = ax.plot([], [], color=INK, lw=0.6, zorder=2, gid="layers")
    ax.plot([0, 0], [-1.2, 1.35], color=INK, lw=1.4, zorder=8)
    ax.text(0, 1.4, "deck face", ha="center", va="bottom", fontsize=9, color=INK)
    engaged = text_to_place(ax, ha="left", va="top", fontsize=9, color=INK, zorder=8, gid="engaged")
    clamped = ax.text(0.0, 0.13, "", ha="left", va="top", fontsize=9, transform=ax.transAxes, gid="clamped")
    below = ax.text(1.0, 0.13, "", ha="right", va="top", fontsize=9, transform=ax.transAxes, gid="below")

    def move(result: Result) -> None:
        inputs = result.inputs
        l_P, T = result["reach"] * 1e3, result["stack_height"] * 1e3
        b, t_1, t_2 = inputs.thread_length * 1e3, inputs.thread_start * 1e3, inputs.thread_depth * 1e3
        h = inputs.hole_depth * 1e3 if inputs.hole_depth is not None else t_2
        thick = ceil_to(0.16 * (T + max(h, l_P)), 5)
        deep = ceil_to(max(h, l_P) * 1.12 + 4, 20)
        _, right = set_steady_limits(ax, xlim=(-ceil_to(T + thick + 2, 20), deep))
        first, last = max(t_1, l_P - b), min(t_2, l_P)
        ends = ((0, right), (0, h), (t_1, t_2), (-T, 0), (-T - thick, -T), (-T, l_P - b), (max(l_P - b, -T), l_P),
                (first, last))  # fmt: skip
        for (half, part), (a, z) in zip(parts, ends, strict=True):
            part.set_bounds(a, -half, max(z - a, 0), 2 * half)
        edges = np.cumsum([t * 1e3 for t in inputs.stack])[:-1] - T
        layers.set_data(np.repeat(edges, 3), np.tile([-1.2, 1.2, np.nan], len(edges)))
        engaged.set_text(f"engaged {show(result['engagement'], _MM, 3)}")
        engaged.set_position((max(first, 1), -0.6))
        c_B = result["bottom_clearance"]
        room = "through hole" if c_B is None else _room(c_B, "to the bottom", "BOTTOMS OUT, too long by")
        below.set_text(f"{room}; {_room(result['shank_clearance'], 'shank to thread', 'SHANK JAMS by')}")
        clamped.set_text(f"clamps {show(result['stack_height'], _MM, 4)}")

    return move


def _room(clearance: float, clear: str, hits: str) -> str:
    return f"{clear if clearance > 0 else hits} {show(abs(clearance), _MM, 3)}"


def alt_reach(result: Result) -> str:
    """The picture in words."""
    c_B = result["bottom_clearance"]
    bottom = "a through hole" if c_B is None else f"{show(c_B, _MM, 3)} to the bottom"
    return (
        f"Section along the bolt: it clamps {show(result['stack_height'], _MM)}, reaches "
        f"{show(result['reach'], _MM)} below the deck face, engages {show(result['engagement'], _MM, 3)}, "
        f"with {bottom} and {show(result['shank_clearance'], _MM, 3)} between shank and first thread."
    )


def draw_order(figure: Any) -> Callable[[Result], None]:
    """The map of the bolts: name inside, place in the order at its corner, and the way from one to the next."""
    show_order = order_map(figure)

    def move(result: Result) -> None:
        plot_data = result.plot_data
        says = (
            "maker's order, as typed" if plot_data["makers"] else f"{NOT_MAKERS}: from the middle outwards, crosswise"
        )
        show_order(dict(zip(plot_data["names"], plot_data["points"], strict=True)), plot_data["order"], says, {})

    return move


def alt_order(result: Result) -> str:
    """The picture in words."""
    plot_data = result.plot_data
    whose = "the maker's order, as typed" if plot_data["makers"] else f"an order {NOT_MAKERS}"
    return f"Map of {len(plot_data['names'])} bolts with {whose}: {', '.join(plot_data['order'])}."


PICTURES = {
    "fastener_log": Picture(draw_fastener_log, alt_fastener_log, size=(7.0, 4.0)),
    "bolt_reuse": Picture(draw_reuse, alt_reuse, size=(6.2, 3.2)),
    "bolt_reach": Picture(draw_reach, alt_reach, size=(6.2, 2.9)),
    "tightening_order": Picture(draw_order, alt_order, size=(6.2, 3.4)),
}
