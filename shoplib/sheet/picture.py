"""A working's picture as SVG text, for print.  Object API only: no global state, safe in threads."""

from __future__ import annotations

import io
import warnings

import matplotlib as mpl
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from shoplib.look import PRINT
from shoplib.working import Result


def svg_of(result: Result) -> str | None:
    """SVG of the working's picture for this result; None when it has none."""
    draw = result.working.draw
    if draw is None or not result.working.pictures(result):
        return None
    out = io.BytesIO()
    with mpl.rc_context(PRINT):
        figure = Figure(figsize=result.working.figure_size, layout="constrained")
        canvas = FigureCanvasSVG(figure)
        draw(figure)(result)
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", "Glyph .* missing from font")  # a name in another script: a box is drawn
            # savefig would draw everything twice
            canvas.print_svg(out, metadata={"Date": None, "Creator": None})  # type: ignore[no-untyped-call] # matplotlib's
    return out.getvalue().decode("utf-8")
