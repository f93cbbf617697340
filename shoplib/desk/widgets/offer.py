"""A suggestion beside a box: what the engine card or an earlier entry holds.  One key or one press accepts it.

In an empty box Enter accepts it; so does a press on the button, which names the value and where it comes from.
Nothing is filled in by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import ipywidgets as W

from shoplib.desk.widgets.escape_html import e

if TYPE_CHECKING:
    from shoplib.core.fields import Field
    from shoplib.desk.widgets.input_field import Entry
    from shoplib.record.suggestions import Suggestion

LONGEST = 48  # characters of a value on its button


def shown(field: Field, value: Any) -> str:
    """The value as the button names it."""
    if isinstance(value, list) and value and isinstance(value[0], Mapping):
        return f"{len(value)} row{'s' * (len(value) != 1)}"
    text = "; ".join(map(str, value)) if isinstance(value, list) else field.spoken(value)
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}…"


class Offer:
    """The button below a box while it is empty; after it was accepted, the origin of the value.

    Its widgets are made when something is offered for the first time: a form without suggestions stays small.
    """

    def __init__(self, entry: Entry) -> None:
        self._entry = entry
        self.found: Suggestion | None = None
        self.accepted: Callable[[Suggestion], None] = lambda _: None
        self.use: Any = None  # the button, and the words for the origin
        self.said: Any = None
        self._origin: dict[str, str] = {}
        self._taken: Any = None  # the content of the box as it was accepted

    @property
    def origin(self) -> dict[str, str]:
        """Where the value in the box was taken from; empty once it was changed."""
        return self._origin if self._origin and self._entry.box.value == self._taken else {}

    @property
    def waits(self) -> bool:
        """Whether something is offered and the box is empty."""
        return self.found is not None and self._entry.typed is None

    def show(self, found: Suggestion | None) -> None:
        """Offer this, or nothing."""
        self.found = found
        self._dress()

    def accept(self) -> None:
        """A person takes what is offered; that act records where it came from."""
        found = self.found
        if found is None or not self.waits:
            return
        self._entry.restore(self._entry.as_box(found.value))
        self.restore(found.origin | {"told": found.told})
        self.accepted(found)

    def restore(self, origin: Mapping[str, str]) -> None:
        """The value that is in the box now came from there."""
        self._taken, self._origin = self._entry.box.value, dict(origin)
        self._dress()

    def _make(self) -> None:
        text = isinstance(self._entry.box, W.Text)
        self.use, self.said = W.Button(tabbable=not text), W.HTML()
        self.use.add_class("shop-offer")
        self.said.add_class("shop-offer")
        self.use.on_click(lambda _: self.accept())
        if text:  # one key: Enter in the empty box
            self._entry.box.on_msg(lambda _, content, __: self.accept() if content.get("event") == "submit" else None)
        self._entry.box.observe(lambda _: self._dress(), "value")
        *before, error = self._entry.children
        self._entry.children = [*before, self.use, self.said, error]

    def _dress(self) -> None:
        """Show the button, or the origin."""
        if self.use is None and self.found is None and not self._origin:
            return
        if self.use is None:
            self._make()
        self.use.layout.display = "" if self.waits else "none"
        if self.found is not None and self.waits:
            key = "↵ " if isinstance(self._entry.box, W.Text) else ""
            self.use.description = f"{key}{shown(self._entry.field, self.found.value)} · {self.found.told}"
            self.use.tooltip = f"Use this value for “{self._entry.field.label}”"
        told = self.origin.get("told", "")
        self.said.value = f"<small>✓ from {e(told)}</small>" if told else ""
        self.said.layout.display = "" if told else "none"


class OfferAll(W.Box):
    """One line above the boxes: how many values are offered, and a button that takes all of them."""

    def __init__(self, take_all: Callable[[], None]) -> None:
        self.use = W.Button()
        self.use.on_click(lambda _: take_all())
        self.said = W.HTML("<small>They are shown below their boxes. Check each value before you save.</small>")
        super().__init__([self.use, self.said])
        self.add_class("shop-offers")
        self.add_class("shop-wide")
        self.count: int | None = None
        self.show(0)

    def show(self, count: int) -> None:
        """How many boxes can be filled."""
        if count == self.count:
            return
        self.count = count
        self.layout.display = "" if count > 1 else "none"
        self.use.description = f"Use all {count} suggestions"
