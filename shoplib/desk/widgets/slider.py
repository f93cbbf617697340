"""A slider with a name and its position as text, for touch, mouse, keys and screen readers."""

from __future__ import annotations

import anywidget
import traitlets

from shoplib.desk import STATIC
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.message_batch import BatchedWidget


class Slider(BatchedWidget, anywidget.AnyWidget):
    """``Slider(name="Angle", words="90°", value=90, min=0, max=180, step=5)``: the browser's own slider."""

    _esm = STATIC / "slider.js"
    name = traitlets.Unicode().tag(sync=True)
    words = traitlets.Unicode().tag(sync=True)  # the position as text; shown beside the name
    value = traitlets.Float().tag(sync=True)
    min = traitlets.Float().tag(sync=True)
    max = traitlets.Float().tag(sync=True)
    step = traitlets.Float().tag(sync=True)
    disabled = traitlets.Bool(False).tag(sync=True)
    placed = traitlets.Bool(True).tag(sync=True)  # False: no position yet, and no handle, until it is pressed

    def as_html(self) -> str:
        """Name and position, for viewers without a kernel."""
        return f'<div class="shop-label">{e(self.name)} <b>{e(self.words)}</b></div>'
