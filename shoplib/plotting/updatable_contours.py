"""Contours over triangles whose heights can change.  matplotlib's own contours cannot be updated."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import numpy as np
from matplotlib.tri import TriContourSet

# Intermediate values of the contour calculation; only paths, colours and line styles are drawn.
NOT_DRAWN = {"_contour_generator", "zmin", "zmax", "_mins", "_maxs", "labelFmt", "labelManual", "labelMappable",
             "labelTexts", "labelXYs", "_numbers", "_widths", "_style", "_said"}  # fmt: skip


class Contours(TriContourSet):
    """``Contours(ax, triangles, heights, levels=…)``; then ``rise(triangles, heights)`` updates them.

    Levels and colours stay the same; lines, areas and label positions are calculated as matplotlib does for new ones.
    There is one height per corner of the triangles; none may be missing.
    """

    def __init__(self, ax: Any, over: Any, heights: Any, **options: Any) -> None:
        self._numbers: list[Any] = []
        self._said = 0  # how many of them are in use
        self._widths: dict[int, float] = {}
        super().__init__(ax, over, heights, **options)

    def rise(self, over: Any, heights: Any) -> None:
        """Show other triangles, or other heights of their corners."""
        self._process_args(over, heights)  # type: ignore[attr-defined]  # matplotlib's own method
        self._paths = None  # reset: matplotlib makes paths only when there are none
        self._paths = self._make_paths_from_contour_generator()  # type: ignore[attr-defined]  # the same
        self.stale = True

    def number(self, levels: Any, fmt: Callable[[float], str], **style: Any) -> None:
        """Label each line of these levels that is long enough; the line is interrupted at the label."""
        self._style = {"ha": "center", "va": "center", "rotation_mode": "anchor", **style}
        self._said = 0
        if hasattr(self, "labelXYs"):  # called before with the same labels
            self.labelXYs.clear()
            self.labels(True, 5)
        else:
            self.clabel(levels, fmt=fmt, fontsize=style["fontsize"], colors=style["color"])
        for spare in self._numbers[self._said :]:
            spare.set_visible(False)

    def _get_nth_label_width(self, nth: int) -> float:
        if nth not in self._widths:  # matplotlib would measure the number each time
            self._widths[nth] = super()._get_nth_label_width(nth)  # type: ignore[misc]  # not in its type stubs
        return self._widths[nth]

    def add_label(self, x: float, y: float, rotation: float, lev: float, cvalue: Any) -> None:
        """Reuse the next existing text where matplotlib would create a new one."""
        if self._said == len(self._numbers):
            self._numbers.append(self.axes.text(0, 0, "", gid=f"label{self._said}", **self._style))
        self._numbers[self._said].set(
            visible=True,
            position=self.axes.transData.inverted().transform((x, y)),
            rotation=rotation,
            text=self.get_text(lev, self.labelFmt),
        )
        self._said += 1
        self.labelXYs.append((x, y))


class RemadeContours:
    """The same, by matplotlib's public functions only: each change removes the contours and makes new ones."""

    def __init__(self, ax: Any, over: Any, heights: Any, *, filled: bool = False, **options: Any) -> None:
        self._make = ax.tricontourf if filled else ax.tricontour
        self._options = {k: v for k, v in options.items() if k != "gid"}  # what is remade is no slot of a live figure
        self._texts: list[Any] = []
        self._set = self._make(over, heights, **self._options)

    def rise(self, over: Any, heights: Any) -> None:
        """Show other triangles, or other heights of their corners."""
        self._clear_numbers()
        self._set.remove()
        self._set = self._make(over, heights, **self._options)

    def number(self, levels: Any, fmt: Callable[[float], str], **style: Any) -> None:
        """Label each line of these levels that is long enough."""
        self._clear_numbers()
        shown = [level for level in levels if level in self._set.levels]
        self._texts = self._set.clabel(shown, fmt=fmt, fontsize=style["fontsize"], colors=style["color"])

    def _clear_numbers(self) -> None:
        for text in self._texts:
            text.remove()
        self._texts = []


@functools.cache
def can_rise() -> bool:
    """Whether this matplotlib's contours can be updated: two small ones are, and compared with new ones."""
    from matplotlib.figure import Figure
    from matplotlib.tri import Triangulation

    over = Triangulation([0, 1, 0, 1], [0, 0, 1, 1])
    try:
        ax = Figure().subplots()
        risen = Contours(ax, over, [0.0, 1.0, 1.0, 2.0], levels=[0.5, 1.5])
        risen.rise(over, [0.0, 2.0, 1.0, 3.0])
        risen.number([0.5], lambda level: f"{level:g}", fontsize=7, color="black")
        new = ax.tricontour(over, [0.0, 2.0, 1.0, 3.0], levels=[0.5, 1.5])
        new.clabel([0.5], fmt=lambda level: f"{level:g}", fontsize=7, colors="black")
        pairs = zip(risen.get_paths(), new.get_paths(), strict=True)
        return all(np.array_equal(a.vertices, b.vertices) for a, b in pairs)
    except Exception:  # noqa: BLE001 -- another version may fail in any way; then they are remade
        return False


def contours(ax: Any, over: Any, heights: Any, **options: Any) -> Contours | RemadeContours:
    """Contours that can be updated: quickly where matplotlib allows it, else by new ones."""
    return (Contours if can_rise() else RemadeContours)(ax, over, heights, **options)
