"""The button that reads a CSV file of a trace into its box, so that the entry holds the samples themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import ipywidgets as W

from shoplib.core.trace_file import parse
from shoplib.core.units import Unreadable

if TYPE_CHECKING:
    from shoplib.desk.widgets.input_field import Entry


def upload_of(entry: Entry) -> W.FileUpload:
    """A button beside the box: the chosen file is read, condensed, and put into the box as text."""
    button = W.FileUpload(accept=".csv,.txt", multiple=False, description="Read a CSV file")

    def chosen(change: dict[str, Any]) -> None:
        for file in change["new"] or ():
            try:
                entry.box.value = parse(bytes(file["content"])).text
            except Unreadable as error:
                entry.show_errors([f"{entry.field.label}: the file {error}"])

    button.observe(chosen, "value")
    return button
