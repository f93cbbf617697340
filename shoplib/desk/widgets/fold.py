"""A part of a page behind its title: a second form, the exercises, a picture to drag."""

from __future__ import annotations

from typing import Any

import ipywidgets as W

from shoplib.desk.widgets.form import CSS, Form
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.desk.widgets.templates import render


class Fold(StaticFallback, W.VBox):
    """``Fold(widget)``: only the title, until it is opened.

    The browser builds the widget when it is first opened.  A form opens by itself when something was typed into it.
    """

    def __init__(self, inside: Any, title: str = "") -> None:
        self.inside = inside
        self.title = title or _title(inside)
        self.head = W.ToggleButton()
        self._closed = (RootWidget(CSS), self.head)
        super().__init__(self._closed)
        self.add_class("shop")
        self.add_class("shop-fold")
        self.head.observe(lambda _: self._show(), "value")
        self._show()
        if isinstance(inside, Form):
            inside.is_folded()
            inside.observe(self._typed, "typed")
            self._typed(None)

    def _typed(self, _: Any) -> None:
        if self.inside.typed:
            self.head.value = True

    def _show(self) -> None:
        self.head.description = f"{'▾' if self.head.value else '▸'} {self.title}"
        self.children = (*self._closed, self.inside) if self.head.value else self._closed

    def put_out(self) -> None:
        """So is the widget inside: a lesson reads its stored answers now."""
        self.inside.put_out()

    def text(self) -> str:
        """The text of the widget inside."""
        return str(self.inside.text())

    def static_html(self) -> str:
        """The same fold without a kernel."""
        return render("form", "fold", self.title, self.inside.static_html())


def _title(inside: Any) -> str:
    """The title of a form's working, of a lesson, or "Exercises"."""
    of = getattr(inside, "working", None) or getattr(inside, "lesson", None)
    return "Exercises" if of is None else str(of.title)
