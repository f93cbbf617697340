"""What one move of a guess or of a picture costs in the kernel, for each guided lesson: ``python -m tests.bench.lesson_drag``.

It sets the slider as a message from the browser does, and measures until everything has been sent.  Processor time is
printed, so that other work on the machine does not count; "whole" is the same picture drawn in full by matplotlib.
"""

from __future__ import annotations

import functools
import statistics
import sys
import time
from collections.abc import Callable
from typing import Any

from shoplib.desk import Explore, Guided
from shoplib.desk.widgets.live_figure import LiveFigure
from shoplib.teaching.choice import Item
from shoplib.topics.guided import all_guided

MOVES = 60
FRAME = 1000 / 60  # ms; a browser shows nothing between two


def timed(act: Callable[[], Any]) -> float:
    """Processor time of one act, in ms."""
    begun = time.process_time()
    act()
    return 1000 * (time.process_time() - begun)


def told(times: list[float]) -> str:
    ranked = sorted(times)
    return f"{statistics.median(ranked):6.1f} {ranked[int(0.95 * (len(ranked) - 1))]:6.1f}"


def guess(name: str) -> str:
    """Moves of the guess, from end to end of its scale; a guess by choice has none."""
    box = Guided(name)
    if isinstance(box.lesson.guess, Item):
        return "     –      –"
    low, high, _ = box.lesson.guess.slider or (0.0, 1.0, 0.1)
    places = [low + (high - low) * k / MOVES for k in range(MOVES)]
    return told([timed(functools.partial(setattr, box.slider, "value", at)) for at in places])


def drags(name: str) -> list[tuple[str, list[float], list[float]]]:
    """For each slider of the picture: moves from end to end, and the same picture drawn in full."""
    scene = all_guided()[name].explore
    found = []
    for control in Explore(scene.lesson, **scene.at).lesson.controls:
        if control.choices:
            continue
        picture = Explore(scene.lesson, **scene.at)
        slider = picture.dials[control.name].slider
        count = min(MOVES, round((control.high - control.low) / control.step))
        places = [control.low + (control.high - control.low) * k / count for k in range(count + 1)]
        slider.value = places[-1]
        moves = [timed(functools.partial(setattr, slider, "value", at)) for at in places]
        figure: LiveFigure = picture.figure
        found.append((control.label, moves, [timed(figure.to_svg) for _ in range(5)]))
    return found


def main() -> None:
    """One line for each slider of each lesson."""
    print(f"processor time in the kernel, ms: median and 95 % of {MOVES} moves; a frame has {FRAME:.1f} ms")
    print(f"{'lesson':24} {'guess':>13}  {'picture':>13}  {'whole':>6}  ratio  slider")
    for name in sys.argv[1:] or all_guided():
        first = guess(name)
        for label, moves, whole in drags(name):
            ratio = statistics.median(whole) / statistics.median(moves)
            print(
                f"{name:24} {first}  {told(moves)}  {statistics.median(whole):6.1f}  {ratio:5.1f}  {label}", flush=True
            )
            first = " " * 13


if __name__ == "__main__":
    main()
