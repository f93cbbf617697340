"""One style for form, figure and sheet: palette and picture styles.  No heavy imports, so that it loads quickly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any
from weakref import WeakKeyDictionary

INK, ACCENT, SOFT, WARM = "#1b1f24", "#16425b", "#5c6b76", "#b5651d"
PALE, PALER = "#9db4c2", "#dbe4ea"

_LINES: dict[str, Any] = {  # matplotlib's names
    "axes.linewidth": 0.6,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "text.parse_math": False,  # typed text is never a formula
    "axes.unicode_minus": True,
}
PRINT: Any = {
    **_LINES,
    "font.family": "STIXGeneral",
    "font.size": 9,
    "svg.fonttype": "path",
    "svg.hashsalt": "shoplib",
}
SCREEN: Any = {
    **_LINES,
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Verdana"],  # the first measures text; the SVG names both
    "font.size": 9.5,
    "svg.fonttype": "none",
}


def prompt(words: str) -> str:
    """Words that tell a person at the screen what to type; nothing on paper."""
    import matplotlib as mpl

    return "" if mpl.rcParams["svg.hashsalt"] == PRINT["svg.hashsalt"] else words


_STOOD: WeakKeyDictionary[Any, dict[str, Any]] = WeakKeyDictionary()  # axes or artist -> the values last set on it


def set_changed(ax: Any, **what: tuple[Any, ...]) -> None:
    """``set_changed(ax, xlim=(0, 10), yticks=([1, 2], ["a", "b"]))``: call each setter of the axes, or of an
    artist, with its arguments; arrays are compared by value.

    Only values that differ from the last call are set.  matplotlib treats every call as a change, and a changed axes,
    or an artist without a gid, forces a full redraw.
    """
    stood = _STOOD.setdefault(ax, {})
    for name, value in what.items():
        seen = tuple([v.tobytes() if type(v).__name__ == "ndarray" else v for v in value])  # NumPy is not needed here
        if stood.get(name) != seen:
            stood[name] = seen
            getattr(ax, f"set_{name}")(*value)


def clear(ax: Any) -> None:
    """Empty the axes and forget the values that were set."""
    ax.clear()
    _STOOD.pop(ax, None)


def set_steady_limits(ax: Any, **wanted: tuple[float, float]) -> Any:
    """``set_steady_limits(ax, xlim=(0, 10))``: like ``set_changed``, but keep limits that are still usable.

    Return the limits in use.

    Limits are usable while the wanted range lies inside them and fills at least half of them.  Then a value that moves
    to and fro across the edge of a step moves the mark and not the scale.  A picture that is drawn once, such as on a
    sheet, always has the wanted limits.
    """
    stood = _STOOD.get(ax, {})
    for name, (first, last) in wanted.items():
        old = stood.get(name)
        if old is not None and (old[0] < old[1]) == (first < last):
            inside = min(old) <= min(first, last) and max(first, last) <= max(old)
            if inside and abs(last - first) >= abs(old[1] - old[0]) / 2:
                wanted[name] = old
    set_changed(ax, **wanted)
    stands = tuple(wanted.values())
    return stands if len(stands) > 1 else stands[0]


def text_to_place(ax: Any, words: str = "", *, x: float = 0.0, y: float = 0.0, **style: Any) -> Any:
    """A text; the first move of the picture places it, or gives it the coordinate that is left out here."""
    return ax.text(x, y, words, **style)


def shape_to_place(ax: Any, **style: Any) -> Any:
    """A filled shape without a size; the first move of the picture gives it its corners."""
    return ax.fill([0], [0], **style)[0]


def box_to_place(ax: Any, **style: Any) -> Any:
    """A rectangle without a size; the first move of the picture sets its bounds."""
    from matplotlib.patches import Rectangle

    return ax.add_patch(Rectangle((0, 0), 0, 0, **style))


def band_to_place(ax: Any, *, upright: bool = False, **style: Any) -> Any:
    """A band between two curves, without a size; the first move of the picture sets its data.

    ``upright``: the curves are x over y.
    """
    return (ax.fill_betweenx if upright else ax.fill_between)([0], [0], **style)


def span_to_place(ax: Any, *, across: bool = False, **style: Any) -> Any:
    """A strip as high as the axes; the first move of the picture gives it its place and width.

    ``across``: it is as wide as the axes, and is given its place and height.
    """
    return (ax.axhspan if across else ax.axvspan)(0, 0, **style)


def bar_to_place(ax: Any, y: float, height: float, **style: Any) -> Any:
    """A lying bar without a length; the first move of the picture gives it one."""
    return ax.barh(y, 0, height, **style).patches[0]


def round_up(x: float, among: Sequence[float] = (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10)) -> float:
    """Round up to one of these values times a power of ten, so that an axis limit seldom changes during typing."""
    power = 10.0 ** math.floor(math.log10(x)) if x > 0 else 1.0
    return float(next(s for s in among if s * power >= x * (1 - 1e-9)) * power)


def padded_limits(low: float, high: float, parts: int) -> tuple[float, float]:
    """Limits slightly outside, in steps; about ``parts`` steps fit, and at least half a step stays free at each end."""
    step = round_up((high - low) / parts or 0.01)
    return step * math.floor(low / step - 0.5), step * math.ceil(high / step + 0.5)


def ceil_to(x: float, step: float) -> float:
    """The next whole step up, for the same purpose."""
    return math.ceil(x / step - 1e-9) * step


def floor_to(x: float, step: float) -> float:
    """The next whole step down."""
    return math.floor(x / step + 1e-9) * step
