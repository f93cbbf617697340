"""A bolt does not stay at its load: the surfaces settle, and for the same settling a short bolt loses more."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shoplib.core.units import mm, show_number, unit_of
from shoplib.physics.joint import segment_resilience
from shoplib.plotting.plot_style import ACCENT, INK, SOFT, WARM, set_changed, shape_to_place, text_to_place
from shoplib.teaching.lesson import Control, Lesson
from shoplib.topics.angle.embedment_loss import EMBEDMENT_LOSS

MM = unit_of(mm)
TIGHT = 24.3e3  # N, the model bolt at 40 N·m
E_STEEL, SHANK, THREAD = 205e9, 55.4e-6, 58.0e-6  # Pa, m²: the model bolt, shank of 8.4 mm and stress area of M10
SHANKS = {"long": 0.100, "short": 0.020}  # m, and 20 mm of free thread
PARTS = 3.0  # the parts are three times as stiff as the bolt


def bolt_stiffness(shank: float) -> float:
    """Stiffness of the model bolt with another length of shank; as in lesson 1 the head and nut are left out."""
    return 1 / float(segment_resilience(shank, E_STEEL, SHANK) + segment_resilience(0.020, E_STEEL, THREAD))


@dataclass(frozen=True)
class Settled:
    """How far the surfaces settled, and what that takes from the clamp load."""

    by: float
    shank: float
    loss: float
    stiffness: float  # of the bolt

    @property
    def left(self) -> float:
        """What is left of the clamp load."""
        return TIGHT - self.loss

    @property
    def stretches(self) -> tuple[float, float]:
        """Stretch of the bolt just tightened, and settled."""
        return TIGHT / self.stiffness, self.left / self.stiffness


def settled(by: float, bolt: str) -> Settled:
    """The model bolt, or a short one, after the surfaces settled."""
    k = bolt_stiffness(SHANKS[bolt])
    r = EMBEDMENT_LOSS({"embedment": f"{MM.from_si(by):.6g} mm", "bolt_stiffness": f"{k / 1e6:.6g} kN/mm",
                        "parts_stiffness": f"{PARTS * k / 1e6:.6g} kN/mm"})  # fmt: skip
    return Settled(by, SHANKS[bolt], float(r["preload_loss"]), k)


def says(state: Settled) -> str:
    """Before, after, and the loss."""
    kind = f"{1e3 * (state.shank + 0.020):.0f} mm long bolt"
    before, after = show_number(TIGHT / 1e3, 3), show_number(state.left / 1e3, 3)
    stretches = [1e3 * s for s in state.stretches]
    back = 1e3 * state.by - (stretches[0] - stretches[1])
    rest = (
        f"; the parts, compressed by {stretches[0] / PARTS:.3f} mm, spring back by the other {back:.3f} mm"
        if state.by
        else ""
    )
    return (
        f"{kind}, surfaces settle by {1e3 * state.by:.3f} mm: the clamp load falls from {before} to {after} kN, "
        f"a loss of {100 * (TIGHT - state.left) / TIGHT:.0f} %. The stretch of the bolt falls from "
        f"{stretches[0]:.3f} to {stretches[1]:.3f} mm{rest}."
    )


def draw(figure: Any) -> Callable[[Settled], None]:
    """The bolt, drawn to scale with its length; below it its stretch and its clamp load, before and after."""
    bolt, *pairs = figure.subplots(3, 1, height_ratios=(0.9, 1.3, 1.3))
    bolt.set(xlim=(-12, 150), ylim=(-12, 12), aspect="equal")
    bolt.axis("off")
    body = shape_to_place(bolt, facecolor=ACCENT, edgecolor=INK, gid="body")
    length = text_to_place(bolt, fontsize=11, color=INK, va="center", gid="length")
    bolt.text(149, -11, "length to scale", ha="right", va="bottom", fontsize=10, color=SOFT)
    drawn = []
    for ax, name, top in zip(pairs, ("stretch of the bolt, mm", "clamp load, kN"), (0.38, 36), strict=True):
        ax.set(xlim=(0, top), ylim=(-0.5, 1.5), yticks=[], xlabel=name)
        ax.spines[["top", "right", "left"]].set_visible(False)
        key = name.split()[0]
        before, left = (shape_to_place(ax, facecolor=ACCENT, gid=f"{key}-{n}") for n in ("before", "left"))
        lost = shape_to_place(ax, facecolor="none", edgecolor=WARM, hatch="///", lw=1, gid=f"{key}-lost")
        notes = [text_to_place(ax, y=y, va="center", fontsize=11, color=INK, gid=f"{key}-note{y}") for y in (1, 0)]
        drawn.append((before, left, lost, notes, 0.012 * top))

    def move(state: Settled) -> None:
        end = 1e3 * (state.shank + 0.020)
        body.set_xy([(-10, 8), (0, 8), (0, 4.2), (end, 4.2), (end, -4.2), (0, -4.2), (0, -8), (-10, -8)])
        set_changed(length, text=(f"{end:.0f} mm",), position=((end + 3, 0),))
        stretched, settled = (1e3 * s for s in state.stretches)
        rows = ((stretched, settled, "{:.3f}"), (TIGHT / 1e3, state.left / 1e3, "{:.1f}"))
        for (before, left, lost, notes, gap), (full, x, digits) in zip(drawn, rows, strict=True):
            before.set_xy(_box(0, full, 1))
            left.set_xy(_box(0, x, 0))
            lost.set_xy(_box(x, full, 0))
            for note, at, word in zip(notes, (full, x), ("just tightened", "settled"), strict=True):
                set_changed(
                    note, text=(f"{digits.format(at)} {word}",), position=((full + gap, note.get_position()[1]),)
                )

    return move


def _box(left: float, right: float, y: float) -> list[tuple[float, float]]:
    return [(left, y - 0.32), (right, y - 0.32), (right, y + 0.32), (left, y + 0.32)]


LESSONS = [
    Lesson(
        name="settling",
        title="The surfaces settle",
        controls=(
            Control("by", "Settling of all surfaces", mm, 0.0, 0.04, 0.005, 0.0),
            Control("bolt", "Bolt", choices=(("long, 120 mm", "long"), ("short, 40 mm", "short"))),
        ),
        state=settled,
        draw=draw,
        says=says,
        alt=lambda s: "A bolt, and its clamp load before and after the surfaces settled. " + says(s),
        figure_size=(6.0, 3.7),
    ),
]
