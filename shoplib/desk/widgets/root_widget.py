"""What every form stands on: its style, and its keys, which the notebook around it would take."""

from __future__ import annotations

import anywidget
import traitlets

from shoplib.desk import STATIC


class Ground(anywidget.AnyWidget):
    """The first child of a form."""

    _esm = STATIC / "ground.js"
    css = traitlets.Unicode().tag(sync=True)

    def __init__(self, css: str) -> None:
        super().__init__(css=css)
