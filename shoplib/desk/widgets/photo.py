"""A photograph for an entry of the job: choose or take it, describe it, attach it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import anywidget
import ipywidgets as W
import traitlets

from shoplib.core.errors import BadInput
from shoplib.desk import STATIC
from shoplib.desk.widgets.components import button, said, show_errors, text_box
from shoplib.record.errors import StoreError
from shoplib.record.photos import LARGEST

_PIECES = 64  # the largest number of messages per photograph


class PhotoPick(anywidget.AnyWidget):
    """The browser's own dialogue for a file or the camera.  ``raw`` holds the bytes when ``chosen`` is true."""

    _esm = STATIC / "photo.js"
    words = traitlets.Unicode("Choose or take a photograph").tag(sync=True)
    largest = traitlets.Int(LARGEST).tag(sync=True)
    chosen = traitlets.Bool(False).tag(sync=True)
    refused = traitlets.Unicode("")  # why a file was rejected

    def __init__(self) -> None:
        super().__init__()
        self.raw = b""
        self._pieces: list[bytes] = []
        self.on_msg(self._told)

    def _told(self, _: Any, content: Any, buffers: Any) -> None:
        if not isinstance(content, dict):
            return
        if "size" in content:
            self.clear()
            self.refused = f"{content['size'] / 1e6:.1f} MB is too large; the limit is {LARGEST // 10**6} MB"
            return
        part, of = content.get("part"), content.get("of")
        if not isinstance(part, int) or not isinstance(of, int) or not 0 <= part < of <= _PIECES or not buffers:
            return
        if part == 0:
            self.clear()
        if part != len(self._pieces):  # a message was lost
            self.refused = "The photograph did not arrive complete. Choose it again."
            return
        self._pieces.append(bytes(buffers[0]))
        if len(self._pieces) == of:
            self.raw, self.refused, self.chosen = b"".join(self._pieces), "", True

    def clear(self) -> None:
        """Nothing is chosen."""
        self.raw, self._pieces, self.chosen, self.refused = b"", [], False, ""


class PhotoBox(W.VBox):
    """``PhotoBox(attach)``: ``attach(raw, caption)`` saves it and returns a confirmation."""

    def __init__(self, attach: Callable[[bytes, str], str]) -> None:
        self._attach = attach
        self.pick = PhotoPick()
        self.caption = text_box("caption", "What it shows", required=False, example='"liner 2, ring of corrosion"')
        self.go = button("Attach the photograph", self.attach, main=True)
        self.said = W.HTML()
        self._more = W.VBox([self.caption, self.go])
        super().__init__([self.pick, self._more, self.said])
        self.add_class("shop-photo")
        self.pick.observe(self._chosen, ["chosen", "refused"])
        self._chosen(None)

    def _chosen(self, _: Any) -> None:
        self._more.layout.display = "" if self.pick.chosen else "none"
        if self.pick.refused:
            self.said.value = said("bad", self.pick.refused)
        elif self.pick.chosen:
            self.said.value = ""

    def attach(self) -> None:
        """Attach it, or say why that is not possible; then the file and the caption stay."""
        show_errors({"caption": self.caption}, ())
        try:
            words = self._attach(self.pick.raw, self.caption.box.value)
        except BadInput as error:
            others = show_errors({"caption": self.caption}, error.problems)
            self.said.value = said(
                "bad", "\n".join(map(str, others)) or "The photograph was not attached. Correct the marked field."
            )
            return
        except StoreError as error:  # includes a bad photograph
            self.said.value = said("bad", str(error))
            return
        self.caption.box.value = ""
        self.pick.clear()
        self.said.value = said("good", words)
