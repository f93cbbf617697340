"""Two bolts, two frictions, one angle: what each gains, and what is left of their ratio."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from shoplib.core.units import deg, show_number
from shoplib.core.working import Result
from shoplib.plotting.plot_style import ACCENT, INK, SOFT, WARM, set_changed, text_to_place
from shoplib.teaching.lesson import Control, Lesson
from shoplib.topics.angle.model_bolt import MODEL
from shoplib.topics.angle.staged_tightening import STAGED_TIGHTENING as STAGED

TWO_FRICTIONS = {"mu_thread": "0.12", "mu_head": "0.12", "mu_low": "0.10", "mu_high": "0.16"}
DRY, SLIPPERY = 1, 2  # lanes of the working: the lowest clamp load has the highest friction


def two_frictions(angle: float) -> Result:
    """40 N·m, then an angle, at two frictions."""
    stages = f"40 N*m; +{np.degrees(angle):.6g} deg" if angle > 0 else "40 N*m"
    return STAGED({**MODEL, **TWO_FRICTIONS, "stages": stages})


def _kN(F: float) -> str:
    return f"{show_number(F / 1e3, 3)} kN"


def says(r: Result) -> str:
    """The clamp loads of the two bolts, their difference and their ratio, before and after the angle."""
    parts = []
    for stage, low, high, ratio, state in zip(
        r["stage"], r["preload_low"], r["preload_high"], r["spread_ratio"], r["state"], strict=True
    ):
        kind = "" if state == "elastic" else f" ({state})"
        parts.append(
            f"{stage}: dry bolt {_kN(low)}, slippery bolt {_kN(high)}, difference {_kN(high - low)}, "
            f"ratio {ratio:.2f}{kind}"
        )
    if r["state"][-1] != "elastic":
        parts.append("The dry bolt is twisted harder, so it yields at a lower pull")
    return ". ".join(parts) + "."


def _turned(r: Result) -> float:
    """The angle after the snug torque, in degrees."""
    return float(r.plot_data["mark_angle"][-1, DRY])


def draw(figure: Any) -> Callable[[Result], None]:
    """Clamp load of both bolts against the angle, no further than they were turned; below, their ratio."""
    loads, ratio = figure.subplots(2, 1, sharex=True, height_ratios=(2.4, 1))
    for ax in (loads, ratio):
        ax.spines[["top", "right"]].set_visible(False)
    loads.set(xlim=(-32, 278), ylim=(0, 60), ylabel="clamp load, kN", xticks=(0, 30, 60, 90, 120, 150, 180))
    ratio.set(ylim=(0.9, 1.65), ylabel="ratio", xlabel="turned further after 40 N·m, °", yticks=(1.0, 1.25, 1.5))
    ratio.axhline(1.0, color=SOFT, lw=0.8)
    ratio.text(274, 1.02, "1: both equal", color=SOFT, ha="right", va="bottom")
    look = {DRY: (INK, (0, (4, 2)), "dry bolt", "top"), SLIPPERY: (ACCENT, "-", "slippery bolt", "bottom")}
    lines, ends, words, begins, yields = {}, {}, {}, {}, {}
    for lane, (colour, dash, _, side) in look.items():
        (lines[lane],) = loads.plot([], [], color=colour, lw=2.4, ls=dash, gid=f"line{lane}")
        (ends[lane],) = loads.plot([], [], "o", ms=8, mfc="white", mec=colour, mew=2, gid=f"end{lane}")
        words[lane] = text_to_place(loads, fontsize=11, color=colour, va=side, gid=f"word{lane}")
        begins[lane] = text_to_place(loads, color=colour, ha="right", va="center", gid=f"begin{lane}")
        yields[lane] = text_to_place(loads, "yields", color=WARM, va=side, gid=f"yields{lane}")
    (gap,) = loads.plot([], [], color=WARM, lw=1.6, gid="gap")
    (first_gap,) = loads.plot([], [], color=WARM, lw=1.6, gid="first-gap")
    (course,) = ratio.plot([], [], color=ACCENT, lw=2.0, gid="ratio")
    (dots,) = ratio.plot([], [], "o", ms=6, mfc="white", mec=ACCENT, mew=1.6, gid="ratio-dots")
    numbers = [text_to_place(ratio, fontsize=11, color=INK, va="center", ha=ha, gid=f"ratio{n}")
               for n, ha in enumerate(("right", "left"))]  # fmt: skip
    for text in figure.findobj(lambda artist: artist.get_gid() in ("word1", "word2", "ratio1")):
        text.set_in_layout(False)

    def move(r: Result) -> None:
        plot_data, angle = r.plot_data, _turned(r)
        load = 1e-3 * plot_data["F"]
        x = np.linspace(0.0, angle, 181)
        for lane, (_, _, name, side) in look.items():
            y = 1e-3 * np.interp(x, plot_data["curve_angle"][lane], plot_data["curve_preload"][lane])
            lines[lane].set_data(x, y)
            ends[lane].set_data([0.0, angle], [load[0, lane], load[-1, lane]])
            up = 1.2 if side == "bottom" else -1.2
            set_changed(words[lane], text=(f"{name} {load[-1, lane]:.1f} kN",), position=((angle + 6, y[-1] + up),))
            set_changed(begins[lane], text=(f"{load[0, lane]:.1f}",), position=((-6, load[0, lane]),))
            at = float(plot_data["yield_angle"][lane])
            yields[lane].set_visible(at < angle)
            yields[lane].set_position((at, float(np.interp(at, x, y)) + 1.2 * up))
        gap.set_data([angle, angle], load[-1, [DRY, SLIPPERY]])
        first_gap.set_data([0.0, 0.0], load[0, [DRY, SLIPPERY]])
        past = plot_data["band_angle"] > angle
        course.set_data(plot_data["band_angle"], np.where(past, np.nan, plot_data["ratio"]))
        both = r["spread_ratio"][0], r["spread_ratio"][-1]
        dots.set_data([0.0, angle], both)
        set_changed(numbers[0], text=(f"{both[0]:.2f}",), position=((-6, both[0]),))
        set_changed(numbers[1], text=(f"{both[1]:.2f}" if angle else "",), position=((angle + 6, both[1] + 0.1),))

    return move


LESSONS = [
    Lesson(
        name="two_frictions",
        title="Two bolts, two frictions, one programme",
        controls=(Control("angle", "Then turned further by", deg, 0, 180, 5, 0),),
        state=two_frictions,
        draw=draw,
        says=says,
        alt=lambda r: "Clamp load of a dry and of a slippery bolt against the angle, and their ratio. " + says(r),
        figure_size=(6.4, 4.0),
    ),
]
