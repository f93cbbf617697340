"""What six lines show of a face: bow, crown, twist, and a dip that can be dragged away from the lines."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from shoplib.core.units import mm
from shoplib.physics.feeler import StraightedgeRest, laid_on
from shoplib.physics.flatness import minimum_zone
from shoplib.plotting.plot_style import ACCENT, INK, PALE, PALER, SOFT, WARM, set_changed, shape_to_place, text_to_place
from shoplib.teaching.lesson import Control, Lesson

LENGTH, WIDTH, INSET, REACH = 0.400, 0.150, 0.012, 0.022  # metres: an invented face; REACH is the dip's radius
SIX = {
    "1 along": ((0.0, INSET), (LENGTH, INSET)),
    "2 along": ((0.0, WIDTH - INSET), (LENGTH, WIDTH - INSET)),
    "3 across": ((INSET, 0.0), (INSET, WIDTH)),
    "4 across": ((LENGTH - INSET, 0.0), (LENGTH - INSET, WIDTH)),
    "5 diagonal": ((0.0, 0.0), (LENGTH, WIDTH)),
    "6 diagonal": ((0.0, WIDTH), (LENGTH, 0.0)),
}
NOTICED = 0.2e-6  # below this a line sees nothing that a leaf could tell
GRID_X, GRID_Y = np.meshgrid(np.linspace(0, LENGTH, 81), np.linspace(0, WIDTH, 31))

NUMBER = ((-13, 20), (-13, 130), (20, 164), (380, 164), (-13, -6), (-13, 156))  # beside the start of each line, mm

Surface = Callable[[Any, Any], Any]


def shapes(height: float, x: float, y: float) -> dict[str, Surface]:
    """Four faces, each out by about the same height: bow, crown, twist, and a dip centred at x, y."""

    def u(px: Any) -> Any:
        return 2 * px / LENGTH - 1

    def v(py: Any) -> Any:
        return 2 * py / WIDTH - 1

    return {
        "bow": lambda px, py: height * u(px) ** 2 + 0 * py,
        "crown": lambda px, py: -height * (u(px) ** 2 + v(py) ** 2) / 2,
        "twist": lambda px, py: height * u(px) * v(py) / 2,
        "dip": lambda px, py: -height * np.maximum(1 - ((px - x) ** 2 + (py - y) ** 2) / REACH**2, 0) ** 2,
    }


@dataclass(frozen=True)
class FaceView:
    """One face: its name, its heights, its flatness, and what each line shows."""

    name: str
    tones: Any  # −1 lowest, 1 highest; all 0 when it is flat: the same for every height but 0
    flatness: float
    seen: tuple[StraightedgeRest, ...]

    @property
    def most(self) -> float:
        """Largest gap that any line shows."""
        return max(s.gap for s in self.seen)


@dataclass(frozen=True)
class FacesView:
    """The four faces, the height typed and the place of the dip."""

    height: float
    x: float
    y: float
    looks: tuple[FaceView, ...]


REFERENCE = 1e-4  # m; the height at which a face is measured: all that is seen grows with the height


@functools.lru_cache(maxsize=64)  # dragging the dip leaves the other three as they were
def measured(name: str, x: float, y: float) -> FaceView:
    """One face of the reference height measured all over, and by six lines."""
    surface = shapes(REFERENCE, x, y)[name]
    z = surface(GRID_X, GRID_Y)
    flatness = minimum_zone(np.stack([GRID_X.ravel(), GRID_Y.ravel(), z.ravel()], axis=1)).width
    seen = []
    for (x0, y0), (x1, y1) in SIX.values():
        t = np.linspace(0, 1, 201)
        profile = surface(x0 + (x1 - x0) * t, y0 + (y1 - y0) * t)
        seen.append(laid_on(t * math.dist((x0, y0), (x1, y1)), profile))
    tones = (2 * z - z.max() - z.min()) / REFERENCE
    return FaceView(name, tones, flatness, tuple(seen))


def look(name: str, height: float, x: float, y: float) -> FaceView:
    """One face as it looks at a height."""
    one, times = measured(name, x, y), height / REFERENCE
    if not times:
        return FaceView(name, 0 * one.tones, 0.0, tuple(replace(s, gap=0.0, rocks=False) for s in one.seen))
    seen = (replace(s, gap=times * s.gap) for s in one.seen)
    return FaceView(name, one.tones, times * one.flatness, tuple(seen))


def faces(height: float, x: float, y: float) -> FacesView:
    """The four faces."""
    at = {"dip": (x, y)}
    return FacesView(
        height, x, y, tuple(look(name, height, *at.get(name, (0.0, 0.0))) for name in shapes(height, x, y))
    )


def _mm(x: float) -> str:
    return f"{1e3 * x:.3f} mm"


def says(state: FacesView) -> str:
    """Each face in a sentence."""
    parts = []
    for look in state.looks:
        seeing = [k for k, s in enumerate(look.seen, 1) if s.gap > NOTICED]
        rocking = [k for k, s in enumerate(look.seen, 1) if s.gap > NOTICED and s.rocks]
        head = f"{look.name.capitalize()}, flat within {_mm(look.flatness)}: "
        if not seeing:
            parts.append(head + "no line shows it.")
            continue
        blind = [str(k) for k in range(1, 7) if k not in seeing]
        text = f"the lines show at most {_mm(look.most)}"
        if blind:
            text += (
                f"; line{'s' * (len(blind) > 1)} {', '.join(blind)} {'shows' if len(blind) == 1 else 'show'} nothing"
            )
        if rocking:
            text += f"; on line{'s' * (len(rocking) > 1)} {', '.join(map(str, rocking))} the straightedge rocks"
        parts.append(head + text + ".")
    return " ".join(parts)


def alt(state: FacesView) -> str:
    """The picture in words."""
    return "Four faces from above with six lines, and below them the gap that each line shows. " + says(state)


def draw(figure: Any) -> Callable[[FacesView], None]:
    """Above, the faces with their lines; below, a bar for the gap that each line shows."""
    from matplotlib.colors import LinearSegmentedColormap

    tones = LinearSegmentedColormap.from_list("height", ["#d9c2a8", "#ffffff", PALE])
    axes = figure.subplots(2, 4, height_ratios=(1, 1.55))
    images, titles, lines, bars, notes = [], [], [], [], []
    for n, (plan, chart) in enumerate(axes.T):
        plan.set(xlim=(-18, 418), ylim=(-18, 168), aspect="equal")
        plan.axis("off")
        extent = (0, 1e3 * LENGTH, 0, 1e3 * WIDTH)
        images.append(
            plan.imshow(
                np.zeros(GRID_X.shape), extent=extent, origin="lower", cmap=tones, vmin=-1, vmax=1,
                interpolation="bilinear", gid=f"face{n}",
            )
        )  # fmt: skip
        titles.append(plan.text(200, 180, "", ha="center", va="bottom", fontsize=10, color=INK, gid=f"title{n}"))
        drawn = []
        for k, ((x0, y0), (x1, y1)) in enumerate(SIX.values(), 1):
            (line,) = plan.plot([1e3 * x0, 1e3 * x1], [1e3 * y0, 1e3 * y1], gid=f"line{n}-{k}")
            drawn.append(line)
            plan.text(*NUMBER[k - 1], str(k), color=SOFT, ha="center", va="center")
        lines.append(drawn)
        chart.set(xlim=(0, 1.5), ylim=(6.6, 0.4), xticks=[])
        chart.set_yticks(range(1, 7), SIX if n == 0 else ["1", "2", "3", "4", "5", "6"])
        chart.tick_params(length=0)
        chart.spines[["top", "right", "bottom"]].set_visible(False)
        bars.append(
            [shape_to_place(chart, facecolor=PALER, edgecolor=INK, lw=0.7, gid=f"bar{n}-{k}") for k in range(6)]
        )
        notes.append([text_to_place(chart, va="center", color=INK, gid=f"note{n}-{k}") for k in range(6)])

    def move(state: FacesView) -> None:
        for n, look in enumerate(state.looks):
            images[n].set_data(look.tones)
            set_changed(titles[n], text=(f"{look.name}: flat within {_mm(look.flatness)}",))
            for k, seen in enumerate(look.seen):
                sees = seen.gap > NOTICED
                set_changed(
                    lines[n][k],
                    color=(ACCENT if sees else WARM,),
                    linewidth=(2.2 if sees else 1.2,),
                    linestyle=("-" if sees else (0, (2, 2)),),
                )
                length, y = seen.gap / 0.2e-3, k + 1
                set_changed(
                    bars[n][k],
                    facecolor=(PALER if seen.rocks else PALE,),
                    hatch=("////" if seen.rocks and sees else "",),
                    xy=([(0, y - 0.3), (length, y - 0.3), (length, y + 0.3), (0, y + 0.3)],),
                )
                set_changed(
                    notes[n][k],
                    color=(INK if sees else WARM,),
                    text=(f"{1e3 * seen.gap:.3f}{' rocks' if seen.rocks else ''}" if sees else "shows nothing",),
                    position=((length + 0.03, y),),
                )

    return move


LESSONS = [
    Lesson(
        name="six_lines",
        title="What six lines show, and what they do not",
        controls=(
            Control("height", "Error of each face", mm, 0.0, 0.2, 0.01, 0.1),
            Control("x", "Place of the dip, along", mm, 0.0, 400.0, 2.0, 100.0),
            Control("y", "Place of the dip, across", mm, 0.0, 150.0, 1.0, 76.0),
        ),
        state=faces,
        draw=draw,
        says=says,
        alt=alt,
        caution="The faces are invented; the colours are exaggerated. The maker's procedure for this engine governs.",
        figure_size=(9.2, 4.0),
        narrowest=800.0,
    )
]
