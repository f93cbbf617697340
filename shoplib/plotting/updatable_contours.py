"""Contours over triangles whose heights can change.  matplotlib's own contours cannot be updated."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

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
