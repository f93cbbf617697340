"""Torque, stretch and clamp load are three things: friction, the bolt's length and a short hole tell them apart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core.units import one, show_number
from shoplib.plotting.plot_style import ACCENT, INK, PALE, PALER, SOFT, WARM, shape_to_place, text_to_place
from shoplib.teaching.lesson import Control, Lesson
from shoplib.topics.angle.model_bolt import BOLT
from shoplib.topics.angle.settling_lesson import SHANKS, bolt_stiffness
from shoplib.topics.preload.preload_from_torque import PRELOAD_FROM_TORQUE as PRELOAD

TORQUE = 40.0  # N·m


@dataclass(frozen=True)
class Click:
    """The model bolt when the wrench clicks: stretch, clamp load, and the shares that friction takes."""

    friction: float
    length: float  # m of shank and free thread
    bottomed: bool
    clamp: float
    stretch: float
    shares: tuple[float, float]  # thread, head


def click(friction: float, bolt: str, hole: str) -> Click:
    """A bolt at 40 N·m.  On the bottom of the hole it pulls on nothing: no clamp load, no stretch between the parts."""
    mu = f"{friction:.2f}"
    r = PRELOAD({**BOLT, "torque": f"{TORQUE:g} N*m", "mu_thread": mu, "mu_head": mu})
    shares = (float(r["share_thread"]), float(r["share_head"]))
    length = SHANKS[bolt] + 0.020
    if hole == "bottomed":
        return Click(friction, length, True, 0.0, 0.0, (shares[0], 0.0))
    clamp = float(r["preload"])
    return Click(friction, length, False, clamp, clamp / bolt_stiffness(SHANKS[bolt]), shares)


def says(state: Click) -> str:
    """Torque, stretch and clamp load."""
    head = f"Friction {state.friction:.2f}: the wrench clicks at {TORQUE:g} N·m. "
    if state.bottomed:
        return head + "The bolt touches the bottom of its hole. Stretch: none. Clamp load: none."
    return (
        f"{head}The bolt of {1e3 * state.length:.0f} mm is {1e3 * state.stretch:.2f} mm longer. "
        f"Clamp load: {show_number(state.clamp / 1e3, 3)} kN."
    )


FOOT, TOP = 0.35, 2.05  # of the clamped parts in the drawing
TOPS = (40.0, 0.4e-3, 40e3)  # full length of each bar
LONGEST = 0.120  # m
TIMES = 120  # 1.7 units of the drawing are a bolt of 120 mm; the stretch is enlarged so many times


def draw(figure: Any) -> Callable[[Click], None]:
    """The bolt as a spring in its joint, and beside it the three things: torque, stretch, clamp load."""
    joint, bars = figure.subplots(1, 2, width_ratios=(1.35, 1.6))
    joint.axis("off")
    joint.set(xlim=(-1.2, 2.6), ylim=(-1.0, 2.75))
    for bottom, hatch in ((0.35, "///"), (1.2, "\\\\\\")):
        for left in (-1.1, 0.32):
            joint.add_patch(_block(left, bottom, 0.78, 0.85, PALER, hatch))
    joint.add_patch(_block(-0.62, 0.0, 1.24, 0.33, PALE, ""))
    head = shape_to_place(joint, facecolor=PALE, edgecolor=SOFT, lw=0.8, gid="head")
    (spring,) = joint.plot([], [], color=ACCENT, lw=2.6, solid_joinstyle="round", gid="spring")
    (free,) = joint.plot([], [], color=SOFT, lw=1.6, solid_joinstyle="round", gid="free")
    (gap,) = joint.plot([], [], color=WARM, lw=2.4, marker="_", ms=12, mew=2.4, gid="gap")
    gap_note = text_to_place(joint, color=INK, va="center", gid="gap-note")
    rubs = [joint.plot([], [], color=WARM, lw=3.5, solid_capstyle="butt", gid=f"rub{n}")[0] for n in (0, 1)]
    floor = shape_to_place(joint, facecolor=PALER, edgecolor=SOFT, hatch="xxx", lw=0.8, gid="bottom")
    floor_note = joint.text(0.8, -0.17, "bottom\nof the hole", color=INK, va="center", gid="bottom-note")
    arrows = [
        joint.plot([], [], color=WARM, lw=2.2, marker=marker, markevery=[1], gid=f"arrow{n}")[0]
        for n, marker in enumerate(("v", "v", "^", "^"))
    ]
    alone = joint.text(1.6, 2.2, "spring\nwithout load", ha="center", color=SOFT, gid="alone")
    scale = joint.text(-1.15, -0.97, "", ha="left", va="bottom", color=SOFT, gid="scale")
    bars.set(xlim=(0, 1.4), ylim=(-0.6, 2.7), yticks=[], xticks=[])
    bars.spines[:].set_visible(False)
    bars.axvline(0, color=SOFT, lw=0.8)
    drawn, notes = [], []
    names = ("torque on the wrench", "stretch of the bolt", "clamp load of the joint")
    for n, (name, colour, hatch) in enumerate(zip(names, (PALE, ACCENT, WARM), ("", "", "///"), strict=True)):
        bars.text(0.012, 2 - n + 0.27, name, fontsize=11, color=INK, va="bottom")
        bar = shape_to_place(bars, facecolor=colour, edgecolor="white", hatch=hatch, lw=0, gid=f"bar{n}")
        drawn.append(bar)
        notes.append(text_to_place(bars, fontsize=12, fontweight="bold", color=INK, va="center", gid=f"note{n}"))

    def coils(line: Any, x: float, foot: float, top: float) -> None:
        y = np.linspace(foot, top, 17)
        line.set_data(x + 0.2 * np.r_[0, np.where(np.arange(15) % 2, 1, -1), 0], y)

    def move(state: Click) -> None:
        values = (TORQUE, state.stretch, state.clamp)
        texts = (f"{TORQUE:g} N·m", f"{1e3 * state.stretch:.2f} mm", f"{show_number(state.clamp / 1e3, 3)} kN")
        for n, (bar, note) in enumerate(zip(drawn, notes, strict=True)):
            length, y = values[n] / TOPS[n], 2.0 - n
            bar.set_xy([(0, y - 0.22), (length, y - 0.22), (length, y + 0.22), (0, y + 0.22)])
            note.set_text(texts[n] if values[n] else "none")
            note.set_position((length + 0.02, y))
        up = 0.14 if state.bottomed else 0.0  # the head does not touch
        head.set_xy([(-0.62, 2.07 + up), (-0.62, 2.45 + up), (0.62, 2.45 + up), (0.62, 2.07 + up)])
        lift = 0.7 * state.stretch / TOPS[1]
        coils(spring, 0.0, FOOT, TOP + up)
        coils(free, 1.5, FOOT + lift, TOP + up)
        gap.set_data([1.5, 1.5], [FOOT, FOOT + lift])
        for artist in (gap, free, alone):
            artist.set_visible(not state.bottomed)
        floor.set_xy([(-0.62, -0.22), (-0.62, -0.02), (0.62, -0.02), (0.62, -0.22)])
        for artist in (floor, floor_note):
            artist.set_visible(state.bottomed)
        drawn_larger = LONGEST / state.length  # every bolt is drawn equally long
        times = TIMES / drawn_larger
        scale.set_text(
            f"bolt of {1e3 * state.length:.0f} mm;\nstretch exaggerated {times:.0f} times;\n"
            "orange bars: where friction acts"
        )
        gap_note.set_position((0.8, 2.47) if state.bottomed else (1.72, FOOT + max(lift / 2, 0.18)))
        gap_note.set_text("the head\ndoes not\ntouch" if state.bottomed else f"stretch\n{texts[1]}")
        for rub, share, y in zip(rubs, state.shares, (0.16, 2.06), strict=True):
            rub.set_data([-0.62 * share / 0.5, 0.62 * share / 0.5], [y, y])
            rub.set_visible(share > 0)
        reach = 0.12 + 0.5 * state.clamp / TOPS[2]
        for arrow, x, way in zip(arrows, (-0.72, 0.72, -0.72, 0.72), (1, 1, -1, -1), strict=True):
            tip = 1.22 + 0.06 * way
            arrow.set_data([x, x], [tip + way * reach, tip])
            arrow.set_markersize(5 + 8 * state.clamp / TOPS[2])
            arrow.set_visible(not state.bottomed)

    return move


def _block(x: float, y: float, width: float, height: float, colour: str, hatch: str) -> Any:
    from matplotlib.patches import Rectangle

    return Rectangle((x, y), width, height, facecolor=colour, edgecolor=SOFT, hatch=hatch, lw=0.8)


LESSONS = [
    Lesson(
        name="same_click",
        title="Torque, stretch and clamp load are three things",
        controls=(
            Control("friction", "Friction in the thread and under the head", one, 0.08, 0.2, 0.01, 0.12),
            Control("bolt", "Bolt", choices=(("long, 120 mm", "long"), ("short, 40 mm", "short"))),
            Control("hole", "Hole", choices=(("deep enough", "deep"), ("too shallow", "bottomed"))),
        ),
        state=click,
        draw=draw,
        says=says,
        alt=lambda s: "A bolt drawn as a stretched spring in its joint, and three bars. " + says(s),
        figure_size=(6.2, 3.3),
    ),
]
