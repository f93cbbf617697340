"""A working's picture as SVG text, for print.  Object API only: no global state, safe in threads."""

from __future__ import annotations

import io
import json
import re
import warnings
from collections.abc import Callable, Mapping
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.ticker import FuncFormatter

from shoplib.core.working import Result
from shoplib.plotting.plot_style import PRINT

MOST_KEPT = 200  # pictures of about 40 kB each: a job's sheet is printed after every change, and then verified
TITLE = 0.4  # inches for the words above a map
_UNSIGNED = {"Date": None, "Creator": None}
_NO_GLYPH = re.compile(r"Glyph (\d+) ")
_WIDTH = re.compile(r'<svg[^>]* width="([\d.]+)pt"')
_drawn: dict[tuple[str, str], str] = {}


def svg_of(result: Result) -> str | None:
    """SVG of the working's picture for this result; None if there is none."""
    draw = result.working.draw
    if draw is None or not result.working.pictures(result):
        return None
    key = (result.working.name, json.dumps(result.to_json(steps=False), sort_keys=True, default=str))
    found = _drawn.get(key)
    if found is None:
        found = _draw(draw, result)
        while len(_drawn) >= MOST_KEPT:
            _drawn.pop(next(iter(_drawn)), None)
        _drawn[key] = found
    return found


def inches_wide(svg: str) -> float:
    """The width of a picture, which may have been cropped."""
    found = _WIDTH.search(svg)
    assert found is not None, "matplotlib writes the width in points"
    return float(found[1]) / 72


def _drop_empty(figure: Figure) -> None:
    """Cut off a panel that shows nothing on paper (no places were typed) beside another, with its part of the width."""
    shown = [ax for ax in figure.axes if ax.axison or ax.has_data() or any(t.get_text() for t in ax.texts)]
    if len(figure.axes) != 2 or len(shown) != 1:
        return
    grid = shown[0].get_gridspec()
    if grid is None or (grid.nrows, grid.ncols) != (1, 2):
        return
    ratios = [float(r) for r in grid.get_width_ratios()]  # type: ignore[union-attr,arg-type] # two numbers
    wide, high = figure.get_size_inches()
    figure.set_size_inches(wide * ratios[figure.axes.index(shown[0])] / sum(ratios), high)
    for ax in [ax for ax in figure.axes if ax is not shown[0]]:
        ax.remove()
    shown[0].set_subplotspec(figure.add_gridspec(1, 1)[0])


def _crop_map(figure: Figure) -> None:
    """A map (one scale both ways, no axis) leaves the rest of its figure empty: on paper that is cut off."""
    if len(figure.axes) != 1 or figure.axes[0].axison or figure.axes[0].get_aspect() != 1.0:
        return
    (x0, x1), (y0, y1) = figure.axes[0].get_xlim(), figure.axes[0].get_ylim()
    wide, high = figure.get_size_inches()
    figure.set_size_inches(wide, min(high, wide * abs((y1 - y0) / (x1 - x0)) + TITLE))


def _draw(draw: Callable[[Any], Callable[[Result], None]], result: Result) -> str:
    def paint(figure: Figure) -> None:
        draw(figure)(result)
        _drop_empty(figure)
        _crop_map(figure)

    return printed(result.working.figure_size, paint)


def printed(size: tuple[float, float], paint: Callable[[Figure], None]) -> str:
    """SVG of a figure that ``paint`` draws, in the style of print."""
    out = io.BytesIO()
    with mpl.rc_context(PRINT):
        figure = Figure(figsize=size, layout="constrained")
        canvas = FigureCanvasSVG(figure)
        paint(figure)
        with warnings.catch_warnings(record=True) as told:
            warnings.simplefilter("always")
            # savefig would draw everything twice
            canvas.print_svg(out, metadata=_UNSIGNED)  # type: ignore[no-untyped-call] # matplotlib's
        lacking = {int(found[1]) for w in told if (found := _NO_GLYPH.match(str(w.message)))}
        for w in told:
            if not _NO_GLYPH.match(str(w.message)):
                warnings.warn_explicit(w.message, w.category, w.filename, w.lineno)
        if lacking:
            _spell(figure, {code: f"‹U+{code:04X}›" for code in lacking})
            out = io.BytesIO()
            canvas.print_svg(out, metadata=_UNSIGNED)  # type: ignore[no-untyped-call] # matplotlib's
    return out.getvalue().decode("utf-8")


def _spell(figure: Figure, codes: Mapping[int, str]) -> None:
    """Print characters that the font lacks as codes, like the rest of the sheet; a box would tell nothing."""
    for ax in figure.axes:
        for axis in (ax.xaxis, ax.yaxis):
            names = axis.get_major_formatter()
            if isinstance(names, FuncFormatter):  # ticks that were given labels
                axis.set_major_formatter(FuncFormatter(lambda x, at, names=names: names(x, at).translate(codes)))
    for words in figure.findobj(Text):
        words.set_text(words.get_text().translate(codes))
