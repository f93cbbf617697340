"""What a picture shows: each artist with the numbers that place, size and colour it.  Nothing is rendered."""

from __future__ import annotations

import re
import sys
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from numbers import Real
from types import ModuleType
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axis import Axis
from matplotlib.collections import Collection
from matplotlib.colors import to_rgba
from matplotlib.image import AxesImage
from matplotlib.legend import Legend
from matplotlib.lines import Line2D
from matplotlib.patches import FancyArrowPatch, Patch
from matplotlib.spines import Spine
from matplotlib.text import Annotation, Text
from matplotlib.ticker import FuncFormatter

from shoplib.plotting import plot_style
from tests.recorded.said import Said, one

COUNT = re.compile(r"\d+")  # in a gid: which one of several it is
STEPS = ("ceil_to", "floor_to", "round_up", "padded_limits", "set_steady_limits")


def _colour(colour: Any) -> Any:
    return to_rgba(colour) if colour is not None else None


def _kind(*words: Any) -> list[int]:
    """Words of matplotlib that decide how something looks, as numbers: words may change, and these may not."""
    return [zlib.crc32(str(word).encode()) for word in words]


def _line(a: Line2D) -> tuple[str, tuple[Any, ...]]:
    numbers = (a.get_xydata(), a.get_linewidth(), a.get_markersize(), a.get_markeredgewidth(), a._unscaled_dash_pattern)
    colours = (a.get_color(), a.get_markerfacecolor(), a.get_markeredgecolor())
    return "line", (numbers, _kind(a.get_marker()), [_colour(c) for c in colours if c != "none"])


def _text(a: Text) -> tuple[str, tuple[Any, ...]]:
    moved = a.get_transform().transform((0.0, 0.0))  # what shifts it by points is no part of its position
    numbers = [a.get_position(), moved, a.get_fontsize(), a.get_rotation(), _colour(a.get_color()), a._linespacing]
    numbers += _kind(a.get_ha(), a.get_va(), a.get_weight(), a.get_style())
    if isinstance(a, Annotation):
        numbers += [a.xy, *([_arrow(a.arrow_patch)[1]] if a.arrow_patch else [])]
    if a.get_bbox_patch():
        numbers += [vars(a.get_bbox_patch().get_boxstyle()), a.get_bbox_patch().get_facecolor()]
    return f"text {a.get_text()}", tuple(numbers)


def _arrow(a: FancyArrowPatch) -> tuple[str, tuple[Any, ...]]:
    style = vars(a.get_arrowstyle())
    return "arrow", (
        _kind(type(a.get_arrowstyle()).__name__), a._posA_posB, a.get_mutation_scale(), a.shrinkA, a.shrinkB, a.get_linewidth(), a.get_edgecolor(), style,
    )  # fmt: skip


def _patch(a: Patch) -> tuple[str, tuple[Any, ...]]:
    if isinstance(a, FancyArrowPatch):
        return _arrow(a)
    path = a.get_patch_transform().transform_path(a.get_path())
    colours = (a.get_facecolor(), a.get_edgecolor())
    return "patch", (_kind(a.get_hatch()), path.vertices, a.get_linewidth(), colours, a._unscaled_dash_pattern)


def _collection(a: Collection) -> tuple[str, tuple[Any, ...]]:
    sizes = a.get_sizes() if hasattr(a, "get_sizes") else ()
    return "collection", (
        _kind(a.get_hatch()), [p.vertices for p in a.get_paths()], a.get_offsets(), a.get_linewidths(), a.get_facecolor(), a.get_edgecolor(), sizes, a.get_linestyles(),
        np.ma.filled(a.get_array(), 0.0) if a.get_array() is not None else None,
    )  # fmt: skip


def _image(a: AxesImage) -> tuple[str, tuple[Any, ...]]:
    return "image", (np.ma.filled(a.get_array(), 0.0), a.get_extent(), a.get_clim())


def _legend(a: Legend) -> tuple[str, tuple[Any, ...]]:
    return "legend", (a._loc, a._ncols, a.get_frame_on(), a.get_bbox_to_anchor().bounds, a.prop.get_size())


KINDS = ((Text, _text), (Line2D, _line), (Patch, _patch), (Collection, _collection), (AxesImage, _image),
         (Legend, _legend))  # fmt: skip


def _artist(a: Artist) -> tuple[str, float]:
    for kind, tell in KINDS:
        if isinstance(a, kind):
            words, numbers = tell(a)
            gid, counted = COUNT.sub("#", a.get_gid() or ""), [int(n) for n in COUNT.findall(a.get_gid() or "")]
            label = str(a.get_label() or "_")  # what begins with _ is matplotlib's own
            return one(f"{gid} {words} {'' if label[0] == '_' else label}", a.get_visible(), a.get_zorder(), a.get_alpha(),
                       a.get_in_layout(), a.get_clip_on(), numbers, counted)  # fmt: skip
    return one(type(a).__name__)


def _axis(axis: Axis) -> tuple[str, float]:
    ticks = axis.get_majorticklocs() if axis.get_visible() and axis.axes.axison else ()
    typed = isinstance(axis.get_major_formatter(), FuncFormatter)
    labels = axis.get_major_formatter().format_ticks(ticks) if typed else ()
    sizes = [tick.label1.get_fontsize() for tick in axis.majorTicks]
    kept = [
        v
        for of in (axis._major_tick_kw, vars(axis.get_major_locator()))  # the ticks, and how their places are chosen
        for _, v in sorted(of.items())
        if isinstance(v, int | float)
    ]
    label = axis.get_label()
    return one(f"axis {label.get_text()} {' '.join(labels)}", ticks, axis.get_view_interval(), kept, label.get_fontsize(),
               axis.labelpad, axis.get_visible(), axis.axes.axison, sizes)  # fmt: skip


def _rounding() -> list[tuple[ModuleType, str, Callable[..., Any]]]:
    """Each name in a module of the topics that rounds limits of axes to steps; pictures are imported when first needed."""
    modules = [
        module
        for name, module in sys.modules.items()
        if name.startswith(("shoplib.topics.", "shoplib.plotting.")) and module is not plot_style
    ]
    named = [(module, name, getattr(plot_style, name)) for module in modules for name in STEPS]
    return [(module, name, function) for module, name, function in named if vars(module).get(name) is function]


@contextmanager
def before_rounding() -> Iterator[list[Any]]:
    """What is asked of the functions that round to steps: the steps hide a small change of a limit."""
    asked: list[Any] = []

    def heard(function: Callable[..., Any]) -> Callable[..., Any]:
        def told(*args: Any, **named: Any) -> Any:
            asked.append([[a for a in args if isinstance(a, Real)], named])
            return function(*args, **named)

        return told

    places = _rounding()
    for module, name, function in places:
        setattr(module, name, heard(function))
    try:
        yield asked
    finally:
        for module, name, function in places:
            setattr(module, name, function)


def of_figure(figure: Any, *, moved_only: bool = False) -> Said:
    """Its axes and what is in them; ``moved_only``: artists that may move, and the limits."""
    said = [] if moved_only else [one("figure", figure.get_size_inches(), vars(figure.subplotpars))]
    artists = [a for a in figure.get_children() if not hasattr(a, "xaxis")]
    for axes in figure.axes:
        said += [one("axes", axes.get_position().bounds, axes.get_zorder()), _axis(axes.xaxis), _axis(axes.yaxis)]
        artists += [a for a in axes.get_children() if not isinstance(a, Axis)]
    for a in artists:
        if isinstance(a, Spine):
            said += (
                []
                if moved_only
                else [one(f"spine {a.spine_type}", a.get_visible(), a.get_linewidth(), a.get_edgecolor())]
            )
        elif not moved_only or a.get_gid() or a in plot_style._STOOD:
            said += [_artist(a), *([_artist(x) for x in a.findobj(Text)] if isinstance(a, Legend) else [])]
    return said
