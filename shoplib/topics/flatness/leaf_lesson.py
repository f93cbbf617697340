"""A leaf against a gap that is covered: each leaf says "at least" or "less than", never how large the gap is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shoplib.core.units import mm
from shoplib.physics.feeler import gap_at_least, gap_at_most
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    PALE,
    PALER,
    SOFT,
    WARM,
    set_changed,
    shape_to_place,
    span_to_place,
    text_to_place,
)
from shoplib.teaching.lesson import Control, Lesson

GAPS = {"A": 0.096e-3, "B": 0.064e-3}  # metres, covered; invented
LIMIT = 0.08e-3
TIMES = 6.0  # units of the drawing for each millimetre


@dataclass(frozen=True)
class Tried:
    """A leaf in front of a gap."""

    place: str
    leaf: float
    gap: float
    open: bool

    @property
    def fits(self) -> bool:
        """Whether the leaf goes under the straightedge."""
        return self.leaf <= self.gap

    @property
    def decided(self) -> str:
        """Whether this leaf proves "pass" or "fail"; "" where it proves neither."""
        if self.fits:
            return "fail" if self.leaf > LIMIT else ""
        return "pass" if self.leaf <= LIMIT else ""


def tried(leaf: float, place: str, cover: str) -> Tried:
    """The leaf at one of the places."""
    return Tried(place, leaf, GAPS[place], cover == "open")


def says(state: Tried) -> str:
    """What this leaf proves, and what it proves about the limit."""
    name = f"{1e3 * state.leaf:.2f} mm"
    if state.fits:
        least = 1e3 * gap_at_least(state.leaf, 0.0)
        text = f"The leaf of {name} fits: the gap is at least {least:.2f} mm."
    else:
        most = 1e3 * gap_at_most(state.leaf, 0.0)
        text = f"The leaf of {name} does not fit: the gap is less than {most:.2f} mm."
    proves = {"fail": "That is above the limit: fail.", "pass": "That is within the limit: pass."}
    text += " " + proves.get(state.decided, "That says nothing about the limit yet.")
    return text + (f" The gap is {1e3 * state.gap:.3f} mm." if state.open else "")


def draw(figure: Any) -> Callable[[Tried], None]:
    """Straightedge, face and leaf, with the gap under a cover; below, what the leaf proves on a scale."""
    from matplotlib.patches import Rectangle

    view, scale = figure.subplots(2, 1, height_ratios=(1.5, 1))
    view.set(xlim=(0, 10), ylim=(-0.45, 1.5))
    view.axis("off")
    view.add_patch(Rectangle((3.4, 1.0), 6.2, 0.42, facecolor=PALE, edgecolor=INK))
    view.text(6.5, 1.21, "straightedge", ha="center", va="center", fontsize=11, color=INK)
    face = shape_to_place(view, facecolor=PALER, edgecolor=INK, hatch="//", lw=1, gid="face")
    leaf = shape_to_place(view, facecolor=WARM, edgecolor=INK, lw=0.6, gid="leaf")
    leaf_word = view.text(0.1, 1.3, "", fontsize=12, color=INK, va="top", gid="leaf-word")
    (cover,) = view.fill(
        [3.4, 3.4, 9.6, 9.6], [0.25, 1.0, 1.0, 0.25], facecolor="white", edgecolor=SOFT, lw=1.2, gid="cover"
    )
    cover_word = view.text(6.5, 0.62, "covered", ha="center", va="center", fontsize=11, color=SOFT, gid="cover-word")
    view.text(9.6, -0.42, "gap and leaf not to scale with the edge", ha="right", va="bottom", fontsize=10, color=SOFT)
    scale.set(xlim=(0, 0.16), ylim=(0, 1), yticks=[], xlabel="gap, mm")
    scale.spines[["top", "right", "left"]].set_visible(False)
    possible = span_to_place(scale, facecolor=PALE, edgecolor=ACCENT, hatch="..", lw=0, ymax=0.55, gid="possible")
    word = text_to_place(scale, ha="center", va="center", fontsize=11, color=INK, backgroundcolor="white")
    word.set_gid("possible-word")
    scale.axvline(1e3 * LIMIT, color=WARM, lw=2)
    scale.text(1e3 * LIMIT + 0.001, 0.95, f"limit {1e3 * LIMIT:.2f} mm", fontsize=11, color=WARM, va="top")

    def move(state: Tried) -> None:
        gap, thick = 1e3 * state.gap * TIMES, 1e3 * state.leaf * TIMES
        low = 1.0 - gap
        face.set_xy([(3.4, -0.2), (3.4, low), (9.4, low), (9.6, 1.0), (10, 1.0), (10, -0.2)])
        inside = 5.6 if state.fits else 3.3
        leaf.set_xy([(0.3, 1.0 - thick), (inside, 1.0 - thick), (inside, 1.0), (0.3, 1.0)])
        set_changed(leaf_word, text=(f"leaf {1e3 * state.leaf:.2f} mm: {'fits' if state.fits else 'does not fit'}",))
        for artist in (cover, cover_word):
            artist.set_visible(not state.open)
        face.set_visible(True)
        low_end, high_end = (1e3 * state.leaf, 0.16) if state.fits else (0.0, 1e3 * state.leaf)
        possible.set_x(low_end)
        possible.set_width(high_end - low_end)
        set_changed(word, text=("the gap is here",), position=(((low_end + high_end) / 2, 0.28),))

    return move


LESSONS = [
    Lesson(
        name="leaf",
        title="A leaf against a covered gap",
        controls=(
            Control("leaf", "Leaf", mm, 0.02, 0.14, 0.01, 0.05),
            Control("place", "Place", choices=(("A", "A"), ("B", "B"))),
            Control("cover", "Cover", choices=(("on", "on"), ("off", "open"))),
        ),
        state=tried,
        draw=draw,
        says=says,
        alt=lambda s: (
            "A straightedge over a covered gap with a feeler leaf, and a scale with what the leaf proves. " + says(s)
        ),
        caution="The gaps are invented. The maker's procedure for this engine governs.",
        figure_size=(6.0, 3.2),
    ),
]
