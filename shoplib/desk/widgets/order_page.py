"""The work order on paper, for the open job: the content of its form, without the example."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ipywidgets as W

from shoplib.desk.widgets.components import StatusMessage, button, text_box
from shoplib.desk.widgets.form import Form
from shoplib.desk.widgets.session import session
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.record.errors import StoreError


class OrderPage(StaticFallback, W.VBox):
    """``OrderPage(form, workorder.save_both)``: the sender is read from the open job; everything else is typed."""

    def __init__(self, form: Form, save: Callable[..., list[str]], folder: Path = Path("sheets")) -> None:
        self._form, self._write, self._folder = form, save, folder
        self.remark = text_box("remark", "Remark for the shop", required=False)
        self.button = button("Save both as PDF", self.save)
        self.said = StatusMessage("shop-said")
        super().__init__([self.remark, self.button, self.said])
        self.add_class("shop")

    def save(self) -> None:
        """Write the order and the worked sheet, or say why that is not possible."""
        borrowed = "; ".join(entry.borrowed for entry in self._form.borrowed)
        if not session.number:
            self.said.bad("Nothing was written. Open a job first: the order needs its engine and its sender.")
        elif not self._form.own:
            self.said.bad("Nothing was written. Fill in the work order above first.")
        elif borrowed:
            self.said.bad(f"Nothing was written. Still the example: {borrowed}. Type your own values.")
        elif self._form.result is None:
            self.said.bad("Nothing was written. First correct the marked fields in the form above.")
        else:
            self._save(self._form.result.inputs.as_entered)

    def _save(self, entered: dict[str, Any]) -> None:
        try:
            header = session.store().job(session.number).header
        except StoreError as error:
            self.said.bad(f"Nothing was written. {error}")
            return
        inputs = {name: value for name, value in entered.items() if value is not None}
        told = self._write(header, inputs, self._folder, remark=self.remark.typed or "")
        (self.said.good if all(x.startswith("saved") for x in told) else self.said.bad)("\n".join(told))

    def text(self) -> str:
        """What this widget is for."""
        return "Open a job, fill in the work order above, and save both sheets here."
