"""Whether only what moved can be drawn: a probe of the matplotlib that is installed.

:mod:`shoplib.plotting.svg_renderer` rests on names that matplotlib does not promise to keep. Before its first use a
small figure is moved and compared with what matplotlib draws anew. If anything differs or fails, now or later, every
picture is drawn in full: slower, and still correct.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from importlib.metadata import version
from typing import Any, Protocol

# Versions with which the tests compare every picture with its full drawing: the probe (some 30 ms) is not needed.
COMPARED = ("3.11.2",)
NO_METADATA = dict.fromkeys(("Creator", "Date", "Format", "Type"))


class Renderer(Protocol):
    """Draws one artist at a time."""

    def draw(self, live: Mapping[str, Any]) -> dict[str, str]:
        """The SVG of the artists that changed since they were last drawn, by slot."""


class _State:
    """What the probe found; None before it has run."""

    why_not: str | None = None


def renderer(size: Iterable[float], salt: str) -> Renderer | None:
    """The renderer for a figure of this size in points; None where each picture is drawn in full."""
    if _State.why_not is None:
        _State.why_not = "" if version("matplotlib") in COMPARED else _probe()
    if _State.why_not:
        return None
    from shoplib.plotting.svg_renderer import IncrementalSvgRenderer

    return IncrementalSvgRenderer(size, salt)


def why_not() -> str:
    """Why pictures are drawn in full; "" while they are not."""
    return _State.why_not or ""


def give_up(error: Exception) -> None:
    """From now on every picture of this program is drawn in full."""
    _State.why_not = f"{type(error).__name__}: {error}"


def forget() -> None:
    """Run the probe again before the next picture."""
    _State.why_not = None


def _probe() -> str:
    """Why the renderer cannot be used with this matplotlib; "" if it can."""
    try:
        from shoplib.plotting.svg_renderer import IncrementalSvgRenderer

        live, move = _sample()
        moved = IncrementalSvgRenderer((144, 144), "probe")
        moved.draw(live)
        move()
        again = moved.draw(live)
        fresh = IncrementalSvgRenderer((144, 144), "probe").draw(live)
    except Exception as error:  # noqa: BLE001 -- another version may fail in any way
        return f"{type(error).__name__}: {error}"
    wrong = [slot for slot in live if again.get(slot) != fresh[slot]]
    return f"differs from a full drawing: {', '.join(wrong)}" if wrong else ""


def _sample() -> tuple[dict[str, Any], Callable[[], None]]:
    """A small figure with an artist of each kind, and what moves them all."""
    from matplotlib.figure import Figure

    ax = Figure(figsize=(2, 2), dpi=72).add_axes((0, 0, 1, 1))
    ax.set(xlim=(0, 10), ylim=(0, 10))
    (line,) = ax.plot([1, 5], [2, 3], "o-")
    patch = ax.axvspan(1, 2)
    area = ax.fill_between([1, 2], [3, 4])
    text, rows, turned = ax.text(1, 1, "a"), ax.text(1, 5, "a\nb"), ax.text(2, 2, "c", rotation=90)
    turned.set_rotation_mode("anchor")

    def move() -> None:
        line.set_data([2, 6], [4, 1])
        patch.set(x=3)
        area.set_data([2, 4], 0, [1, 3])
        for moved in (text, rows, turned):
            moved.set_position((6, 4))

    return {"line": line, "patch": patch, "area": area, "text": text, "rows": rows, "turned": turned}, move
