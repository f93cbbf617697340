"""The trace that a wrench shows, beside the clamp load that nobody sees."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core.units import deg, one, show_number
from shoplib.physics.angle import travel
from shoplib.physics.preload import tightening_torque
from shoplib.plotting.plot_style import ACCENT, INK, PALE, SOFT, WARM
from shoplib.teaching.lesson import Control, Lesson

P, D_2, D_KM = 1.5e-3, 9.026e-3, 13e-3  # m, the model bolt
COMPLIANCE = 1 / 95.4e6 + 1 / 286.2e6  # m/N, the model bolt and the parts under it
F_YIELD = 40e3  # N, chosen for teaching
LEFT = 0.06  # share of the elastic slope beyond yield, chosen for teaching
LAST = 200.0  # degrees of the picture


@dataclass(frozen=True)
class Tightened:
    """The bolt at one angle from the snug point, with one friction.  SI."""

    angle: float
    friction: float
    torque: float
    clamp: float
    yielded: bool


def clamp_at(angle: Any) -> Any:
    """Clamp load at an angle from the snug point: elastic up to yield, then with a small slope."""
    elastic = travel(theta=angle, P=P) / COMPLIANCE
    return np.minimum(elastic, F_YIELD + LEFT * (elastic - F_YIELD))


def torque_of(clamp: Any, friction: float) -> Any:
    """Torque that the wrench shows at this clamp load."""
    return tightening_torque(F_M=clamp, P=P, d_2=D_2, D_Km=D_KM, mu_G=friction, mu_K=friction)


def at(angle: float, friction: float) -> Tightened:
    """The bolt at this angle."""
    clamp = float(clamp_at(angle))
    return Tightened(angle, friction, float(torque_of(clamp, friction)), clamp, clamp > F_YIELD)


def says(state: Tightened) -> str:
    """Torque and clamp load in words."""
    text = (
        f"At {show_number(float(np.degrees(state.angle)), 3)}° the wrench shows {show_number(state.torque, 3)} N·m. "
        f"The clamp load, which nobody sees, is {show_number(state.clamp / 1e3, 3)} kN."
    )
    if state.yielded:
        return text + " The bolt has yielded: both curves are flat now."
    return text + " With other friction the torque changes. The clamp load at this angle stays the same."


def draw(figure: Any) -> Callable[[Tightened], None]:
    """Left what the wrench shows, right the clamp load; the whole curves, and the bolt as a point on both."""
    shown, hidden = figure.subplots(1, 2)
    x = np.linspace(0.0, LAST, 201)
    clamp = clamp_at(np.radians(x))
    shown.set(xlim=(0, LAST), ylim=(0, 150), xlabel="angle from snug, °", ylabel="torque, N·m")
    hidden.set(xlim=(0, LAST), ylim=(0, 50), xlabel="angle from snug, °", ylabel="clamp load, kN")
    shown.set_title("the wrench shows this", fontsize=11, color=INK)
    hidden.set_title("nobody sees this", fontsize=11, color=WARM)
    for ax in (shown, hidden):
        ax.spines[["top", "right"]].set_visible(False)
    shown.fill_between(x, torque_of(clamp, 0.08), torque_of(clamp, 0.20), color=PALE, lw=0)
    hidden.plot(x, clamp / 1e3, color=SOFT, lw=1.4)
    (curve,) = shown.plot([], [], color=SOFT, lw=1.4, gid="curve")
    (dot,) = shown.plot([], [], "o", color=ACCENT, ms=9, gid="dot")
    (other,) = hidden.plot([], [], "o", color=WARM, ms=9, gid="other")

    def move(state: Tightened) -> None:
        angle = float(np.degrees(state.angle))
        curve.set_data(x, torque_of(clamp, state.friction))
        dot.set_data([angle], [state.torque])
        other.set_data([angle], [state.clamp / 1e3])

    return move


LESSONS = [
    Lesson(
        name="trace_and_clamp",
        title="The trace and the clamp load",
        controls=(
            Control("angle", "Angle from snug", deg, 0.0, LAST, 5.0, 90.0),
            Control("friction", "Friction in thread and under head", one, 0.08, 0.20, 0.01, 0.12),
        ),
        state=at,
        draw=draw,
        says=says,
        alt=lambda state: "Two curves over the angle: the torque of the wrench and the clamp load. " + says(state),
        figure_size=(7.2, 3.2),
    ),
]
