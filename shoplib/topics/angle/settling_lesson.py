"""A bolt does not stay at its load: the surfaces settle, and a short bolt loses most."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shoplib.core.units import mm, show_number, unit_of
from shoplib.physics.joint import segment_resilience
from shoplib.plotting.plot_style import ACCENT, INK, SOFT, WARM, set_changed
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

    @property
    def left(self) -> float:
        """What is left of the clamp load."""
        return max(TIGHT - self.loss, 0.0)


def settled(by: float, bolt: str) -> Settled:
    """The model bolt, or a short one, after the surfaces settled."""
    k = bolt_stiffness(SHANKS[bolt])
    r = EMBEDMENT_LOSS({"embedment": f"{MM.from_si(by):.6g} mm", "bolt_stiffness": f"{k / 1e6:.6g} kN/mm",
                        "parts_stiffness": f"{PARTS * k / 1e6:.6g} kN/mm"})  # fmt: skip
    return Settled(by, SHANKS[bolt], float(r["preload_loss"]))


def says(state: Settled) -> str:
    """Before, after, and the loss."""
    kind = f"{1e3 * (state.shank + 0.020):.0f} mm long bolt"
    before, after = show_number(TIGHT / 1e3, 3), show_number(state.left / 1e3, 3)
    return (
        f"{kind}, surfaces settle by {1e3 * state.by:.3f} mm: the clamp load falls from {before} to {after} kN, "
        f"a loss of {100 * (TIGHT - state.left) / TIGHT:.0f} %."
    )


def draw(figure: Any) -> Callable[[Settled], None]:
    """Two bars, before and after; above them the bolt, drawn to scale with its length."""
    bolt, bars = figure.subplots(2, 1, height_ratios=(1, 1.5))
    bolt.set(xlim=(-12, 150), ylim=(-14, 14), aspect="equal")
    bolt.axis("off")
    (body,) = bolt.fill([0], [0], facecolor=ACCENT, edgecolor=INK, gid="body")
    length = bolt.text(0, 0, "", fontsize=11, color=INK, va="center", gid="length")
    bars.set(xlim=(0, 33), ylim=(-0.6, 1.9), yticks=[], xlabel="clamp load, kN")
    bars.spines[["top", "right", "left"]].set_visible(False)
    bars.barh(1, TIGHT / 1e3, 0.5, color=ACCENT)
    bars.text(TIGHT / 1e3 + 0.4, 1, f"{TIGHT / 1e3:.1f} just tightened", va="center", fontsize=11, color=INK)
    (left,) = bars.fill([0], [0], facecolor=ACCENT, gid="left")
    (lost,) = bars.fill([0], [0], facecolor="none", edgecolor=WARM, hatch="///", lw=1, gid="lost")
    note = bars.text(TIGHT / 1e3 + 0.4, 0, "", va="center", fontsize=11, color=INK, gid="note")
    bolt.text(149, -13, "length to scale", ha="right", va="bottom", fontsize=10, color=SOFT)

    def move(state: Settled) -> None:
        end = 1e3 * (state.shank + 0.020)
        body.set_xy([(-10, 8), (0, 8), (0, 4.2), (end, 4.2), (end, -4.2), (0, -4.2), (0, -8), (-10, -8)])
        set_changed(length, text=(f"{end:.0f} mm",), position=((end + 3, 0),))
        x, full = state.left / 1e3, TIGHT / 1e3
        left.set_xy([(0, -0.25), (x, -0.25), (x, 0.25), (0, 0.25)])
        lost.set_xy([(x, -0.25), (full, -0.25), (full, 0.25), (x, 0.25)])
        set_changed(note, text=(f"{x:.1f} settled",))

    return move


LESSONS = [
    Lesson(
        name="settling",
        title="The surfaces settle",
        controls=(
            Control("by", "Settling of all faces together", mm, 0.0, 0.04, 0.005, 0.0),
            Control("bolt", "Bolt", choices=(("long, 120 mm", "long"), ("short, 40 mm", "short"))),
        ),
        state=settled,
        draw=draw,
        says=says,
        alt=lambda s: "A bolt, and its clamp load before and after the surfaces settled. " + says(s),
        figure_size=(6.0, 3.0),
    ),
]
