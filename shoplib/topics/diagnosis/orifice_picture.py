"""The picture of a leak as a hole."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from shoplib.core.units import mm, show, unit_of
from shoplib.core.working import Result
from shoplib.plotting.plot_style import ACCENT, INK, SOFT, WARM, round_up, set_changed, set_steady_limits, text_to_place

MM = unit_of(mm)


def draw_orifice(figure: Any) -> Callable[[Result], None]:
    """Left the gauge pressure before and after each hole; right both holes to one scale."""
    stair, holes = figure.subplots(1, 2, width_ratios=(1.6, 1))
    stair.set(ylabel="gauge pressure, bar", xlim=(0, 3), xticks=[0.5, 1.5, 2.5])
    stair.set_xticklabels(["supply", "cylinder", "outside"])
    stair.tick_params(axis="x", length=0)
    stair.spines[["top", "right"]].set_visible(False)
    (steps,) = stair.plot([], [], color=INK, lw=2.0, gid="steps")
    for x, colour in ((1.0, ACCENT), (2.0, WARM)):
        stair.axvline(x, color=colour, lw=1.2, ls=(0, (2, 2)))
    names = [
        text_to_place(
            stair,
            x=x,
            ha="center",
            va="bottom",
            fontsize=8.5,
            color=colour,
            gid=f"name{k}",
            bbox={"fc": "white", "ec": "none", "pad": 1.0},
        )
        for k, (x, colour) in enumerate(((1.0, ACCENT), (2.0, WARM)))
    ]
    holes.set_aspect("equal")
    holes.set(xlabel="mm", yticks=[])
    holes.spines[["top", "right", "left"]].set_visible(False)
    rings = [
        holes.plot([], [], color=colour, lw=2.0, gid=gid)[0] for gid, colour in (("tester", ACCENT), ("leak", WARM))
    ]
    (gap,) = holes.plot([], [], color=SOFT, lw=0.8, gid="gap")

    def move(result: Result) -> None:
        import numpy as np

        inputs = result.inputs
        bars = [inputs.supply / 1e5, inputs.cylinder / 1e5]
        _, top = set_steady_limits(stair, ylim=(0.0, round_up(1.2 * bars[0])))
        steps.set_data([0, 1, 1, 2, 2, 3], [bars[0], bars[0], bars[1], bars[1], 0, 0])
        widths = (1e3 * inputs.orifice_diameter, 1e3 * result["leak_diameter"])
        for text, name, width in zip(names, ("tester's orifice", "the leak"), widths, strict=True):
            text.set_text(f"{name}\n{width:.3g} mm")
            text.set_position((text.get_position()[0], 0.86 * top))
        turn = np.linspace(0, 2 * np.pi, 73)
        room = 0.15 * max(widths)
        middles = (widths[0] / 2 + room, widths[0] + 2 * room + widths[1] / 2)
        for ring, middle, width in zip(rings, middles, widths, strict=True):
            ring.set_data(middle + width / 2 * np.cos(turn), width / 2 * np.sin(turn))
        gap.set_data([0.0, sum(widths) + 3 * room], [0.0, 0.0])
        half = round_up((sum(widths) + 3 * room) / 2)
        set_changed(holes, xlim=(0.0, 2 * half), ylim=(-half, half))

    return move


def alt_orifice(result: Result) -> str:
    """The picture in words."""
    tester, leak = (show(x, MM, 3) for x in (result.inputs.orifice_diameter, result["leak_diameter"]))
    return f"Two round holes to one scale: the tester's orifice of {tester}, and the leak of {leak}."
