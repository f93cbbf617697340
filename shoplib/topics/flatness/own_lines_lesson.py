"""Your own six lines on a face that you cannot see: where a line lies decides what it shows."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core.units import mm
from shoplib.physics.feeler import laid_on
from shoplib.physics.flatness import minimum_zone
from shoplib.plotting.plot_style import ACCENT, INK, PALE, SOFT, WARM, set_changed, shape_to_place, text_to_place
from shoplib.teaching.lesson import Control, Lesson
from shoplib.topics.flatness.lesson import GRID_X, GRID_Y, LENGTH, NOTICED, WIDTH

HEIGHT = 0.10e-3  # m
LIMIT = 0.08e-3


def _u(x: Any) -> Any:
    return 2 * x / LENGTH - 1


def _v(y: Any) -> Any:
    return 2 * y / WIDTH - 1


FACES: dict[str, Callable[[Any, Any], Any]] = {
    "A": lambda x, y: HEIGHT * _v(y) ** 2 + 0 * x,  # hollow across: flat along every line lengthwise
    "B": lambda x, y: HEIGHT * _u(x) * _v(y) / 2,  # twisted
    "C": lambda x, y: -HEIGHT * np.maximum(1 - ((x - 0.30) ** 2 + (y - 0.075) ** 2) / 0.025**2, 0) ** 2,  # a dip
}


TWISTED = "B"
NEAR = 24.0  # mm: two lines so close have one label


@dataclass(frozen=True)
class Six:
    """Six lines on a face: their ends, the gap each shows, and the flatness of the whole face."""

    ends: tuple[tuple[float, float, float, float], ...]
    gaps: tuple[float, ...]
    tones: Any
    flatness: float
    shown: bool
    face: str

    @property
    def worst(self) -> float:
        """The largest gap that a line shows."""
        return max(self.gaps)


@functools.cache
def _whole(face: str) -> tuple[Any, float]:
    z = FACES[face](GRID_X, GRID_Y)
    points = np.stack([GRID_X.ravel(), GRID_Y.ravel(), z.ravel()], axis=1)
    return (2 * z - z.max() - z.min()) / np.ptp(z), minimum_zone(points).width


def six(along: float, across: float, face: str, cover: str) -> Six:
    """Two lines along at this distance from the long edges, two across likewise, and both diagonals."""
    lines = ((0.0, along, LENGTH, along), (0.0, WIDTH - along, LENGTH, WIDTH - along),
             (across, 0.0, across, WIDTH), (LENGTH - across, 0.0, LENGTH - across, WIDTH),
             (0.0, 0.0, LENGTH, WIDTH), (0.0, WIDTH, LENGTH, 0.0))  # fmt: skip
    t = np.linspace(0, 1, 161)
    gaps = []
    for x0, y0, x1, y1 in lines:
        profile = FACES[face](x0 + (x1 - x0) * t, y0 + (y1 - y0) * t)
        gaps.append(float(laid_on(t * math.hypot(x1 - x0, y1 - y0), profile).gap))
    tones, flatness = _whole(face)
    return Six(lines, tuple(gaps), tones, flatness, cover == "open", face)


def says(state: Six) -> str:
    """What the lines show; the face itself only when it is uncovered."""
    shown = [f"line {n}: {1e3 * g:.3f} mm" for n, g in enumerate(state.gaps, 1) if g > NOTICED]
    text = f"Limit {1e3 * LIMIT:.2f} mm. " + ("; ".join(shown) if shown else "No line shows a gap") + "."
    if state.shown:
        text += f" The whole face is out by {1e3 * state.flatness:.3f} mm"
        text += ", above the limit." if state.flatness > LIMIT else "."
        if state.face == TWISTED:
            text += f" Diagonal 5 is hollow by {1e3 * state.gaps[4]:.3f} mm, diagonal 6 is high in its middle by "
            text += f"{1e3 * state.gaps[5]:.3f} mm. Together that is the twist."
    return text


def draw(figure: Any) -> Callable[[Six], None]:
    """The covered face with its six lines; beside it a bar for the gap on each line."""
    from matplotlib.colors import LinearSegmentedColormap

    plan, chart = figure.subplots(1, 2, width_ratios=(1.5, 1))
    plan.set(xlim=(-45, 425), ylim=(-28, 178), aspect="equal")
    plan.axis("off")
    tones = LinearSegmentedColormap.from_list("height", ["#d9c2a8", "#ffffff", PALE])
    extent = (0, 1e3 * LENGTH, 0, 1e3 * WIDTH)
    image = plan.imshow(np.zeros(GRID_X.shape), extent=extent, origin="lower", cmap=tones, vmin=-1, vmax=1, gid="face")
    (outline,) = plan.plot([0, 400, 400, 0, 0], [0, 0, 150, 150, 0], color=INK, lw=1.2, gid="outline")
    cover = plan.text(200, 75, "covered", ha="center", va="center", fontsize=11, color=SOFT, gid="cover")
    key = plan.text(200, -8, "", ha="center", va="top", color=SOFT, gid="key")
    lines = [plan.plot([], [], lw=1.6, gid=f"line{n}")[0] for n in range(6)]
    names = [
        text_to_place(
            plan, str(n + 1), fontsize=11, color=INK, ha="right" if n < 2 else "center", va="center", gid=f"name{n}"
        )
        for n in range(4)
    ]
    chart.set(xlim=(0, 0.17), ylim=(6.6, 0.2), xticks=[])
    chart.set_yticks(range(1, 7), [*"1234", "5 diagonal", "6 diagonal"])
    chart.tick_params(length=0)
    chart.spines[["top", "right", "bottom"]].set_visible(False)
    chart.axvline(1e3 * LIMIT, color=WARM, lw=1.4, ls=(0, (4, 3)))
    chart.text(1e3 * LIMIT + 0.003, 0.4, f"limit {1e3 * LIMIT:.2f}", ha="left", va="center", color=WARM)
    bars = [shape_to_place(chart, facecolor=PALE, edgecolor=INK, lw=0.7, gid=f"bar{n}") for n in range(6)]
    notes = [text_to_place(chart, va="center", color=INK, gid=f"note{n}") for n in range(6)]

    def move(state: Six) -> None:
        image.set_data(state.tones if state.shown else 0 * state.tones)
        cover.set_visible(not state.shown)
        set_changed(key, text=("blue high, white between, brown low" if state.shown else "",))
        outline.set_visible(True)
        for n, ((x0, y0, x1, y1), gap) in enumerate(zip(state.ends, state.gaps, strict=True)):
            lines[n].set_data([1e3 * x0, 1e3 * x1], [1e3 * y0, 1e3 * y1])
            set_changed(lines[n], color=(ACCENT if gap > NOTICED else SOFT,))
            y, length = n + 1, 1e3 * gap
            set_changed(bars[n], xy=([(0, y - 0.3), (length, y - 0.3), (length, y + 0.3), (0, y + 0.3)],))
            beyond = max(length, 1e3 * LIMIT) if gap > NOTICED else 0.0  # not over the line of the limit
            set_changed(
                notes[n], text=(f"{length:.3f}" if gap > NOTICED else "no gap",), position=((beyond + 0.004, y),)
            )
        for n, (x0, y0, _, _) in enumerate(state.ends[:4]):
            names[n].set_position((-6, 1e3 * y0) if n < 2 else (1e3 * x0, 163))
        for n, axis in ((0, 1), (2, 0)):
            close = 1e3 * abs(state.ends[n + 1][axis] - state.ends[n][axis]) < NEAR
            set_changed(names[n], text=(f"{n + 1}, {n + 2}" if close else str(n + 1),))
            names[n + 1].set_visible(not close)

    return move


LESSONS = [
    Lesson(
        name="own_lines",
        title="Your six lines on a covered face",
        controls=(
            Control("along", "Lines 1 and 2, from the long edges", mm, 0.0, 75.0, 1.0, 12.0),
            Control("across", "Lines 3 and 4, from the short edges", mm, 0.0, 200.0, 2.0, 12.0),
            Control("face", "Face", choices=(("A", "A"), ("B", "B"), ("C", "C"))),
            Control("cover", "Cover", choices=(("on", "on"), ("off", "open"))),
        ),
        state=six,
        draw=draw,
        says=says,
        alt=lambda s: "A face from above with six lines, and the gap that a straightedge shows on each. " + says(s),
        caution="The faces are invented. The maker's procedure for this engine governs.",
        figure_size=(6.4, 2.7),
    ),
]
