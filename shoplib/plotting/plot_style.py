"""One look for form, figure and sheet: palette and picture styles.  No heavy import, so that it stays light."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any
from weakref import WeakKeyDictionary

INK, ACCENT, SOFT, WARM = "#1b1f24", "#16425b", "#5c6b76", "#b5651d"
PALE, PALER = "#9db4c2", "#dbe4ea"

_LINES: dict[str, Any] = {  # matplotlib's own names
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
    "font.sans-serif": ["DejaVu Sans", "Verdana"],  # it measures with the first; every text of a picture names them all
    "font.size": 9.5,
    "svg.fonttype": "none",
}


_STOOD: WeakKeyDictionary[Any, dict[str, Any]] = WeakKeyDictionary()  # axes or artist -> what was last set of it


def frame(ax: Any, **what: tuple[Any, ...]) -> None:
    """``frame(ax, xlim=(0, 10), yticks=([1, 2], ["a", "b"]))``: to each setter of the axes, or of an artist, what it
    takes; arrays are compared by what they hold.

    Only what differs from last time is set: matplotlib takes every setting for a change, and a changed axes, or artist
    without a gid, makes a whole new picture.
    """
    stood = _STOOD.setdefault(ax, {})
    for name, value in what.items():
        seen = tuple([v.tobytes() if type(v).__name__ == "ndarray" else v for v in value])  # NumPy is not needed here
        if stood.get(name) != seen:
            stood[name] = seen
            getattr(ax, f"set_{name}")(*value)


def clear(ax: Any) -> None:
    """An empty axes, of which nothing was set."""
    ax.clear()
    _STOOD.pop(ax, None)


def settle(ax: Any, **wanted: tuple[float, float]) -> Any:
    """``settle(ax, xlim=(0, 10))``: like ``frame``, but limits that still serve stay.  Returns those that stand.

    They serve while all that is wanted is inside and fills half of them: a value that goes to and fro over the edge of
    a step moves the mark and not the scale.  A picture drawn once, such as a sheet's, always has the wanted limits.
    """
    stood = _STOOD.get(ax, {})
    for name, (first, last) in wanted.items():
        old = stood.get(name)
        if old is not None and (old[0] < old[1]) == (first < last):
            inside = min(old) <= min(first, last) and max(first, last) <= max(old)
            if inside and abs(last - first) >= abs(old[1] - old[0]) / 2:
                wanted[name] = old
    frame(ax, **wanted)
    stands = tuple(wanted.values())
    return stands if len(stands) > 1 else stands[0]


def round_up(x: float, among: Sequence[float] = (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10)) -> float:
    """The next of these times a power of ten: an end of an axis that stays while a value is typed."""
    power = 10.0 ** math.floor(math.log10(x)) if x > 0 else 1.0
    return float(next(s for s in among if s * power >= x * (1 - 1e-9)) * power)


def around(low: float, high: float, parts: int) -> tuple[float, float]:
    """Limits a little outside, in steps: the size is some ``parts`` of them, and at least half a step stays free."""
    step = round_up((high - low) / parts or 0.01)
    return step * math.floor(low / step - 0.5), step * math.ceil(high / step + 0.5)


def step_up(x: float, step: float) -> float:
    """The next whole step, for the same."""
    return math.ceil(x / step - 1e-9) * step
