"""The base of every form: its style, and its key handling, which the notebook would otherwise take over."""

from __future__ import annotations

import anywidget
import traitlets

from shoplib.desk import STATIC


class Ground(anywidget.AnyWidget):
    """The first child widget of a form."""

    _esm = STATIC / "ground.js"
    css = traitlets.Unicode().tag(sync=True)

    def __init__(self, css: str) -> None:
        super().__init__(css=css)
