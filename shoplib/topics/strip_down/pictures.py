"""The pictures of the workings of the topic strip down."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from shoplib.core.working import Picture, Result
from shoplib.plotting.bolt_map import order_map
from shoplib.topics.strip_down.strip_log import DONE


# ------------------------------------------------------------------------------ the map
def draw_strip_log(figure: Any) -> Callable[[Result], None]:
    """The loosening map: name inside, place in the order at its corner, and a dot for each pass."""
    show_order = order_map(figure)

    def move(result: Result) -> None:
        plot_data = result.plot_data
        if not plot_data.get("points"):
            show_order({}, [], "type the places of the bolts to see the loosening map", {})
            return
        count = result.inputs.pass_count or max(
            (n for t in plot_data["passes"].values() for n, x in enumerate(t, 1) if x is not None), default=0
        )
        marks = {b: _dots(plot_data["passes"].get(b, ()), count) for b in plot_data["order"]}
        told = " · ● loosened, ○ open, pass by pass" if count else ""
        show_order(plot_data["points"], plot_data["order"], f"loosening order: {plot_data['whose']}{told}", marks)

    return move


def _dots(ticks: Sequence[str | None], count: int) -> str:
    return "".join("●" if n < len(ticks) and ticks[n] == DONE else "○" for n in range(count))


def alt_strip_log(result: Result) -> str:
    """The map in words; nothing where no map was typed."""
    if not result.plot_data.get("points"):
        return ""
    following = result["next_bolt"]
    tail = f" Loosen next: {following}." if following else ""
    return f"Loosening map, {result.plot_data['whose']}: {', '.join(result['loosening_order'])}.{tail}"


PICTURES = {
    "strip_log": Picture(draw_strip_log, alt_strip_log, size=(6.2, 3.4)),
}
