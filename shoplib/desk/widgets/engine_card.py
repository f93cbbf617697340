"""The engine card on screen: its form, and the card as a file for the next engine of the same kind."""

from __future__ import annotations

from typing import Any

import ipywidgets as W

from shoplib.core.errors import BadInput
from shoplib.core.reading_limits import JOB_FILE
from shoplib.desk.widgets import download
from shoplib.desk.widgets.components import StatusMessage, button
from shoplib.desk.widgets.form import Form
from shoplib.desk.widgets.job_progress import CSS
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.record.card_file import FORM, from_file, to_file
from shoplib.record.errors import NotAJob


class EngineCard(StaticFallback, W.VBox):
    """``EngineCard(engine="…", …)``: the given values are the worked example, as in a form."""

    def __init__(self, **values: Any) -> None:
        self.form = Form(FORM, **values)
        self.file = W.FileUpload(accept=".json", description="Open a card from a file")
        self.file.observe(lambda _: self.open_file(), "value")
        self.save = button("Save the card as a file", self.save_file)
        self.said = StatusMessage("shop-said")
        files = W.Box([self.file, self.save, self.said])
        files.add_class("pr-file")
        super().__init__([RootWidget(CSS), files, self.form])
        self.add_class("shop")

    def open_file(self) -> None:
        """Fill the form from a file.  Nothing is saved to the job by this."""
        if not self.file.value:
            return
        name, raw = str(self.file.value[0]["name"])[:120], bytes(self.file.value[0]["content"])
        try:
            if len(raw) > JOB_FILE.size:
                raise NotAJob("is too large for an engine card")
            card = from_file(raw)
        except (NotAJob, BadInput) as error:
            self.said.bad(f"{name}: {error}")
            return
        self.form.fill({field: entry.as_box(card.get(field)) for field, entry in self.form.entries.items()})
        self.said.good(f"{name} is in the form. Check each value against your instructions, then save it to the job.")

    def save_file(self) -> None:
        """A link to the card as a file."""
        result = self.form.result
        if result is None or not self.form.own:
            self.said.bad("Nothing to save yet. Fill in the card first, or correct the marked fields.")
            return
        raw = to_file({k: v for k, v in result.inputs.as_entered.items() if v is not None})
        name = download.safe_name("engine-card", str(result.inputs.engine), ending="json")
        self.said.good("Ready.", f"<div>{download.link(raw, name, 'Save the file')}</div>")

    def text(self) -> str:
        """The card as plain text."""
        return self.form.text()

    def static_html(self) -> str:
        """The card as a page without widgets."""
        return self.form.static_html()
