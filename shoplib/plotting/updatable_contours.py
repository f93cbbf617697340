"""Contours over triangles whose heights can change: matplotlib's own, but it makes them anew only."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from matplotlib.tri import TriContourSet

# What it keeps of how its paths came about; it is drawn from the paths, and from its colours and lines.
NOT_DRAWN = {"_contour_generator", "zmin", "zmax", "_mins", "_maxs", "labelFmt", "labelManual", "labelMappable",
             "labelTexts", "labelXYs", "_numbers", "_widths", "_style", "_said"}  # fmt: skip


class Contours(TriContourSet):
    """``Contours(ax, triangles, heights, levels=…)``; then ``rise(triangles, heights)`` shows others.

    Levels and colours stay; lines, areas and where the numbers stand are worked out as matplotlib does for new ones.
    Heights: one a corner of the triangles, without a gap.
    """

    def __init__(self, ax: Any, over: Any, heights: Any, **options: Any) -> None:
        self._numbers: list[Any] = []
        self._said = 0  # so many of them are used
        self._widths: dict[int, float] = {}
        super().__init__(ax, over, heights, **options)

    def rise(self, over: Any, heights: Any) -> None:
        """Other triangles, or other heights of their corners."""
        self._process_args(over, heights)  # type: ignore[attr-defined]  # matplotlib's own steps
        self._paths = None  # as before the first time: it makes no others beside those that it has
        self._paths = self._make_paths_from_contour_generator()  # type: ignore[attr-defined]  # the same
        self.stale = True

    def number(self, levels: Any, fmt: Callable[[float], str], **style: Any) -> None:
        """Write its number into each line of these levels that is long enough, and break the line for it."""
        self._style = {"ha": "center", "va": "center", "rotation_mode": "anchor", **style}
        self._said = 0
        if hasattr(self, "labelXYs"):  # it was told before what to write
            self.labelXYs.clear()
            self.labels(True, 5)
        else:
            self.clabel(levels, fmt=fmt, fontsize=style["fontsize"], colors=style["color"])
        for spare in self._numbers[self._said :]:
            spare.set_visible(False)

    def _get_nth_label_width(self, nth: int) -> float:
        if nth not in self._widths:  # matplotlib would set the number in type each time
            self._widths[nth] = super()._get_nth_label_width(nth)  # type: ignore[misc]  # not in its types
        return self._widths[nth]

    def add_label(self, x: float, y: float, rotation: float, lev: float, cvalue: Any) -> None:
        """Where matplotlib would make a new text, the next of those that stand is put."""
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
