"""The replacement for a live widget without a kernel: in a notebook just opened, on paper, on the web."""

from __future__ import annotations

from typing import Any

from shoplib.desk.widgets.escape_html import e

HOW = "<p><b>Nothing to click here?</b> Menu <i>Run → Run All Cells</i>, then scroll back up to here.</p>"


class AtRest:
    """Put before the widget's class: ``class Form(AtRest, W.VBox)``.  ``text`` is its plain text."""

    def text(self) -> str:
        """What it shows now, or what it is for."""
        raise NotImplementedError

    def static_html(self) -> str:
        """The same as a page without widgets."""
        return f"<p><i>{e(self.text())}</i></p>"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """The live widget, and for viewers without a kernel its content and how to start it."""
        bundle = super()._repr_mimebundle_(**kwargs)  # type: ignore[misc] # of the widget's class
        data, *rest = bundle if isinstance(bundle, tuple) else (bundle,)
        data["text/html"] = HOW + self.static_html()
        data["text/plain"] = self.text()
        return (data, *rest) if rest else data
