"""The replacement for a live widget without a kernel: in a notebook just opened, on paper, on the web."""

from __future__ import annotations

from typing import Any

from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.templates import render

HOW_TO_RUN = "<p><b>Nothing to click here?</b> Menu <i>Run → Run All Cells</i>, then scroll back up to here.</p>"


class StaticFallback:
    """Put before the widget's class: ``class Form(StaticFallback, W.VBox)``.  ``text`` is its plain text."""

    def text(self) -> str:
        """What it shows now, or what it is for."""
        raise NotImplementedError

    def static_html(self) -> str:
        """The same as a page without widgets."""
        return f"<p><i>{e(self.text())}</i></p>"

    def put_out(self) -> None:
        """The widget becomes the output of a cell."""

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """The live widget, and for viewers without a kernel its content and how to start it."""
        self.put_out()
        bundle = super()._repr_mimebundle_(**kwargs)  # type: ignore[misc] # of the widget's class
        data, *rest = bundle if isinstance(bundle, tuple) else (bundle,)
        data["text/html"] = HOW_TO_RUN + self.static_html()
        data["text/plain"] = self.text()
        return (data, *rest) if rest else data


class FoldedText:
    """Text as the output of a cell, behind a title where the viewer can fold: ``display(FoldedText(title, text))``."""

    def __init__(self, title: str, text: str) -> None:
        self._title, self._text = title, text

    def __repr__(self) -> str:
        return self._text

    def _repr_html_(self) -> str:
        return render("form", "folded_text", self._title, self._text)
