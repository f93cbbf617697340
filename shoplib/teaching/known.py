"""The picture beside a question: what is known as bars with numbers, and a bar without an end for what is asked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shoplib.plotting.plot_style import ACCENT, INK, SOFT

ASKED = "?"


@dataclass(frozen=True)
class Known:
    """``rows`` are (what, length from 0 to 1, its number as text); a length of None is what is asked."""

    rows: tuple[tuple[str, float | None, str], ...]
    note: str = ""

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in inches."""
        return 6.4, 0.5 + 0.75 * len(self.rows)

    def alt(self) -> str:
        """The picture in words."""
        rows = [f"{what}: {'not known yet' if length is None else text}" for what, length, text in self.rows]
        return "; ".join(rows) + f". {self.note}"

    def draw(self, figure: Any) -> Callable[[Any], None]:
        """Bars, one under another; what is asked is an outline without an end, so that it shows no length."""
        ax = figure.subplots()
        ax.set(xlim=(0, 1.3), ylim=(-0.8 if self.note else -0.5, len(self.rows)), xticks=[], yticks=[])
        ax.spines[:].set_visible(False)
        ax.axvline(0, color=SOFT, lw=0.8)
        for n, (what, length, text) in enumerate(self.rows):
            y = len(self.rows) - 1 - n
            ax.text(0.012, y + 0.32, what, fontsize=12, color=INK, va="bottom")
            if length is None:
                for edge in (y - 0.23, y + 0.23):
                    ax.plot((0, 1.3), (edge, edge), color=SOFT, lw=1.4, ls=(0, (4, 3)))
                ax.text(0.06, y, ASKED, fontsize=15, fontweight="bold", color=INK, va="center", ha="center")
            else:
                ax.barh(y, length, 0.46, color=ACCENT)
                ax.text(length + 0.02, y, text, fontsize=13, fontweight="bold", color=INK, va="center")
        ax.text(0.012, -0.75, self.note, fontsize=11, color=SOFT, va="bottom")
        return lambda _: None
