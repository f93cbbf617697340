"""Lessons: a teaching picture with a few controls to drag.

How to add one: in ``shoplib/topics/TOPIC/lesson.py`` append to ``LESSONS``

    Lesson(name="ramp", title="…", controls=(Control("angle", "Angle", deg, 0, 180, 5, 90), …),
           state=ramp_state, draw=draw_ramp, says=…, alt=…)

``state(angle=…)`` gets SI values (or the chosen one of ``choices``) and returns whatever ``draw`` and ``says`` need;
the arithmetic in it is done by formulas and workings, never by a second copy.  ``draw(figure)`` returns
``move(state)``; what moves carries a ``gid``.  ``says(state)`` states every number in words.
In a notebook: ``Explore("ramp")``, or as a step of a guided lesson (``shoplib/teaching/guided.py``).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shoplib.core.units import Unit, unit_of


@dataclass(frozen=True)
class Control:
    """A slider in the shown unit, or a few choices of (word, value)."""

    name: str
    label: str
    annotation: Any = None  # such as deg
    low: float = 0.0
    high: float = 1.0
    step: float = 1.0
    start: float = 0.0
    choices: tuple[tuple[str, Any], ...] = ()

    @property
    def unit(self) -> Unit:
        """Unit of the slider."""
        return unit_of(self.annotation)

    def si(self, shown: Any) -> Any:
        """The value that the state receives for a slider's position, or for a chosen word."""
        return dict(self.choices)[shown] if self.choices else self.unit.to_si(shown)

    def shown(self, shown: float) -> str:
        """A slider's position with its unit, to the digits of its step."""
        decimals = max(0, -int(Decimal(str(self.step)).as_tuple().exponent)) if self.step % 1 else 0
        text = f"{shown:.{decimals}f}"
        return f"{text}°" if self.unit.text == "°" else f"{text} {self.unit.text}".strip()

    @property
    def starts(self) -> Any:
        """The initial position, or word."""
        return self.choices[0][0] if self.choices else self.start


@dataclass(frozen=True)
class Lesson:
    """A teaching picture, declared once."""

    name: str
    title: str
    controls: tuple[Control, ...]
    state: Callable[..., Any]
    draw: Callable[[Any], Callable[[Any], None]]
    says: Callable[[Any], str]
    alt: Callable[[Any], str]
    caution: str = (
        "Do not use these curves as settings: they are for teaching. The maker's procedure for this engine governs."
    )
    figure_size: tuple[float, float] = (7.2, 3.6)
    narrowest: float = 520.0  # px: the least width at which its texts are still readable, 12 px

    def drawn(self, figure: Any) -> Callable[[Any], None]:
        """Draw the picture with every text large enough to read beside the question."""
        move = self.draw(figure)
        readable(figure, self.narrowest)
        return move

    def at(self, **positions: Any) -> Any:
        """The state at these positions of the controls (shown units or words); the others at their initial values."""
        unknown = [n for n in positions if n not in {c.name for c in self.controls}]
        if unknown:
            raise TypeError(f"lesson {self.name} has no control {', '.join(unknown)}")
        return self.state(**{c.name: c.si(positions.get(c.name, c.starts)) for c in self.controls})


LEAST_TEXT = 12.0  # px


def readable(figure: Any, narrowest: float) -> None:
    """Enlarge every text that would be smaller than LEAST_TEXT when the picture is ``narrowest`` px wide."""
    from matplotlib.text import Text

    least = LEAST_TEXT * 72 * figure.get_size_inches()[0] / narrowest
    for ax in figure.axes:
        ax.tick_params(labelsize=max([least, *(t.get_size() for t in (*ax.get_xticklabels(), *ax.get_yticklabels()))]))
    for text in figure.findobj(Text):
        if text.get_size() < least:
            text.set_size(least)
            if text.get_gid():  # what moves may not change the layout
                text.set_in_layout(False)
