"""The base of every form: its style, its keys, and whether its kernel still answers."""

from __future__ import annotations

from typing import Any

import anywidget
import traitlets

from shoplib.desk import STATIC


class RootWidget(anywidget.AnyWidget):
    """The first child widget of a form."""

    _esm = STATIC / "ground.js"
    css = traitlets.Unicode().tag(sync=True)

    def __init__(self, css: str) -> None:
        super().__init__(css=css)
        self.on_msg(self._answer)

    def _answer(self, _: Any, content: Any, __: Any) -> None:
        """Answer in turn: everything that the page sent before has been dealt with."""
        if isinstance(content, dict) and isinstance(content.get("ping"), int):
            self.send({"pong": content["ping"]})
