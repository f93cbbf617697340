"""A working's picture as SVG text, for print.  Object API only: no global state, safe in threads."""

from __future__ import annotations

import io
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from shoplib.working import Result

STYLE: Any = {  # matplotlib types every key; the names below are its own
    "font.family": "STIXGeneral",
    "mathtext.fontset": "stix",
    "font.size": 9,
    "svg.fonttype": "path",
    "svg.hashsalt": "shoplib",
    "axes.linewidth": 0.6,
    "axes.edgecolor": "#5c6b76",
    "axes.labelcolor": "#1b1f24",
    "xtick.color": "#5c6b76",
    "ytick.color": "#5c6b76",
    "xtick.labelcolor": "#1b1f24",
    "ytick.labelcolor": "#1b1f24",
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "text.parse_math": False,  # typed text is never a formula
}


def svg_of(result: Result) -> str | None:
    """SVG of the working's picture for this result; None when it has none."""
    draw = result.working.draw
    if draw is None:
        return None
    out = io.BytesIO()
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=result.working.figure_size, layout="constrained")
        FigureCanvasSVG(figure)
        draw(figure)(result)
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    return out.getvalue().decode("utf-8")
