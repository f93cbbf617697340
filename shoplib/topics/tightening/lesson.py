"""Why the order matters: ten bolts on one head, each with its clamp load, while the wrench goes round."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shoplib.core.units import one, show_number
from shoplib.physics.elastic_interaction import coupling, tighten_in_turn
from shoplib.plotting.plot_style import ACCENT, INK, PALE, SOFT, WARM, set_changed, shape_to_place, text_to_place
from shoplib.teaching.lesson import Control, Lesson

PLACES = [(0.09 * column, 0.10 * row) for row in (0, 1) for column in range(5)]  # metres: an invented head
K_B, K_P = 95.4e6, 286.2e6  # N/m, the model bolt and the parts under it
REACH = 0.07  # m, chosen for teaching
TARGET = 24.3e3  # N, what a bolt has when its own click comes: 40 N·m on the model bolt
MIDDLE_OUT = (2, 7, 1, 8, 3, 6, 0, 9, 4, 5)
ALONG = (0, 1, 2, 3, 4, 5, 6, 7, 8, 9)
ORDERS = {"middle": MIDDLE_OUT, "along": ALONG}
STEPS = {"one": (1.0, 1.0), "three": (0.4, 0.7, 1.0)}  # shares of the target, round by round


@dataclass(frozen=True)
class Round:
    """The head after some clicks: the loads, the order, how many clicks, and what the round aims at."""

    loads: tuple[float, ...]
    order: tuple[int, ...]
    clicks: int
    aim: float

    @property
    def last(self) -> int | None:
        """The bolt of the last click."""
        return self.order[(self.clicks - 1) % len(self.order)] if self.clicks else None

    @property
    def tightened(self) -> list[float]:
        """The loads of the bolts that the wrench has been at."""
        return [self.loads[n] for n in self.order[: self.clicks]]


@functools.lru_cache(maxsize=8)
def course(order: str, rounds: str) -> Any:
    """Loads after each click of a whole course."""
    turns = [(bolt, share * TARGET) for share in STEPS[rounds] for bolt in ORDERS[order]]
    return tighten_in_turn(coupling(PLACES, K_P, REACH), K_B, turns)


def at(clicks: float, order: str, rounds: str) -> Round:
    """The head after so many clicks; a course that is finished stays as it is."""
    all_loads = course(order, rounds)
    done = min(round(clicks), len(all_loads))
    bolts = ORDERS[order]
    if not done:
        return Round((0.0,) * len(bolts), bolts, 0, STEPS[rounds][0] * TARGET)
    share = STEPS[rounds][(done - 1) // len(bolts)]
    return Round(tuple(map(float, all_loads[done - 1])), bolts, done, share * TARGET)


def _kN(F: float) -> str:
    return f"{show_number(F / 1e3, 3)} kN"


def says(state: Round) -> str:
    """The bolt just tightened, the first one, and the range."""
    if state.last is None:
        return "No bolt is tight yet. Drag: each step is one click of the wrench."
    first, loads = state.order[0], state.tightened
    number = state.order.index(state.last) + 1
    part = "" if state.aim == TARGET else f", round at {state.aim / TARGET:.0%} of the load".replace("%", " %")
    text = f"Click {state.clicks}{part}: bolt {number} has {_kN(state.loads[state.last])}."
    if state.clicks > 1:
        text += f" Bolt 1 now has {_kN(state.loads[first])}. Lowest {_kN(min(loads))}, highest {_kN(max(loads))}."
    if state.aim == TARGET and state.last == state.order[-1] and state.clicks > len(state.order):
        text += " All clicks are done."
    return text + " Illustration, not a prediction."


WIDE, TALL = 0.34, 1.25  # of a column, in units of the drawing


def draw(figure: Any) -> Callable[[Round], None]:
    """The head from above; at each bolt a column for its clamp load, with a mark at the load of its own click."""
    ax = figure.subplots()
    ax.set(xlim=(-0.75, 4.75), ylim=(-0.8, 3.75), xticks=[], yticks=[])
    ax.spines[:].set_color(SOFT)
    ax.text(-0.65, -0.73, "dashed line: load at the click", fontsize=10, color=WARM, va="bottom")
    columns, numbers, values, marks = [], [], [], []
    for n in range(len(PLACES)):
        x, y = n % 5, 2.05 * (1 - n // 5)
        ax.plot([x - WIDE, x + WIDE], [y, y], color=INK, lw=1.2)
        column = shape_to_place(ax, facecolor=PALE, edgecolor=INK, lw=0.8, gid=f"column{n}")
        (mark,) = ax.plot([], [], color=WARM, lw=1.6, ls=(0, (3, 2)), gid=f"mark{n}")
        columns.append(column)
        marks.append(mark)
        numbers.append(ax.text(x, y - 0.07, "", ha="center", va="top", fontsize=11, color=SOFT, gid=f"number{n}"))
        values.append(text_to_place(ax, ha="center", va="bottom", fontsize=12, color=INK, gid=f"value{n}"))

    def move(state: Round) -> None:
        for n, load in enumerate(state.loads):
            x, y = n % 5, 2.05 * (1 - n // 5)
            top = y + TALL * load / TARGET
            columns[n].set_xy([(x - WIDE, y), (x - WIDE, top), (x + WIDE, top), (x + WIDE, y)])
            columns[n].set_facecolor(ACCENT if n == state.last else PALE)
            aim = y + TALL * state.aim / TARGET
            marks[n].set_data([x - WIDE - 0.08, x + WIDE + 0.08], [aim, aim])
            set_changed(numbers[n], text=(f"bolt {state.order.index(n) + 1}",))
            set_changed(values[n], text=(f"{load / 1e3:.1f}" if load else "",), position=((x, max(top, aim) + 0.05),))

    return move


LESSONS = [
    Lesson(
        name="neighbours",
        title="Ten bolts on one head",
        controls=(
            Control("clicks", "Clicks of the wrench", one, 0.0, 30.0, 1.0, 0.0),
            Control(
                "order", "Order", choices=(("from the middle outwards", "middle"), ("bolt by bolt along", "along"))
            ),
            Control("rounds", "Rounds", choices=(("full torque, twice", "one"), ("40 %, 70 %, 100 %", "three"))),
        ),
        state=at,
        draw=draw,
        says=says,
        alt=lambda r: "A head from above with a column for the clamp load of each bolt, in kN. " + says(r),
        caution="Illustration, not a prediction: how far a bolt acts on its neighbours was chosen for teaching. The "
        "maker's procedure for this engine governs.",
        figure_size=(6.0, 3.3),
    ),
]
