"""A page to print, made from the present form: choose the paper, press the button, save the PDF."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as W

from shoplib.core.errors import BadInput
from shoplib.desk.widgets.components import PAPERS
from shoplib.desk.widgets.download import link
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.form import Form
from shoplib.desk.widgets.static_fallback import StaticFallback

WAITING = "Run the notebook, fill in the form, then make the page here."


class PrintPage(StaticFallback, W.VBox):
    """``PrintPage(form, disc_pdf, "degree-disc.pdf")``: ``make(result, paper="a4")`` returns the PDF."""

    def __init__(self, form: Form, make: Callable[..., bytes], name: str) -> None:
        self._form, self._make, self._name = form, make, name
        self.paper = W.Dropdown(options=list(PAPERS), value="A4", description="Paper")
        self.button = W.Button(description="Make the page", icon="print")
        self.said = W.HTML()
        self.said.add_class("shop-said")
        super().__init__([W.HBox([self.paper, self.button]), self.said])
        self.button.on_click(self._pressed)
        # an old page beside new values would mislead
        for entry in form.entries.values():
            entry.box.observe(self._forget, "value")
        self.paper.observe(self._forget, "value")

    def _forget(self, _: Any = None) -> None:
        if self.said.value:
            self.said.value = ""

    def _pressed(self, _: Any = None) -> None:
        if self._form.result is None:
            self.said.value = "No page was made. Correct the marked fields of the form."
            return
        try:
            page = self._make(self._form.result, paper=PAPERS[self.paper.value])
        except (BadInput, RuntimeError) as error:  # RuntimeError: the typesetter cannot print it
            self.said.value = "No page: " + e(error)
            return
        self.said.value = link(page, self._name, "Save the page") + " Print at 100 %. Do not fit to the page."

    def text(self) -> str:
        """What this widget is for."""
        return WAITING
