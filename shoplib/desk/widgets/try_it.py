"""The answers of "Try it": each is shown after the learner has written one, and is in no saved notebook."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import ipywidgets as W

from shoplib.desk.widgets import lesson_store
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.lesson_widget import CSS
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.teaching.exercise import bound
from shoplib.topics.try_it import ANSWERS

START = "Write what you see. Our answer appears after you have written yours."


class TryIt(StaticFallback, W.VBox):
    """``TryIt("12")``: the answers to the questions of notebook 12."""

    def __init__(self, notebook: str) -> None:
        self.notebook = notebook
        self._answers = ANSWERS[notebook]
        many = len(self._answers) > 1
        self.boxes = [W.Text(description=f"Your answer to {n}" if many else "Your answer", placeholder="your words")
                      for n in range(1, len(self._answers) + 1)]  # fmt: skip
        self.buttons = [W.Button(description="Show the answer", disabled=True) for _ in self._answers]
        self.said = [W.HTML() for _ in self._answers]
        rows = [x for n in range(len(self._answers)) for x in (self._row(n), self.said[n])]
        super().__init__([RootWidget(CSS), W.HTML(f"<small>{START}</small>"), *rows])
        self.add_class("shop")
        self.add_class("shop-practice")

    def _row(self, n: int) -> Any:
        box, button = self.boxes[n], self.buttons[n]
        box.observe(lambda _: setattr(button, "disabled", not box.value.strip() or box.disabled), "value")
        button.on_click(lambda _: self.commit(n))
        box.on_msg(lambda _, content, __: self.commit(n) if content.get("event") == "submit" else None)
        row = W.Box([box, button])
        row.add_class("shop-row")
        return row

    def commit(self, n: int) -> None:
        """The learner's answer is given and cannot be changed; the answer is shown."""
        if self.boxes[n].disabled or not self.boxes[n].value.strip():
            return
        self._show(n)
        typed = {str(k): box.value for k, box in enumerate(self.boxes) if box.disabled}
        lesson_store.save_answers(f"try-it-{self.notebook}", {"lesson": f"try it {self.notebook}", "answers": typed})

    def _show(self, n: int) -> None:
        self.boxes[n].disabled = self.buttons[n].disabled = True
        self.said[n].value = f'<div class="shop-said" role="status">{e(bound(self._answers[n]))}</div>'

    # -- shown, stored
    def put_out(self) -> None:
        """Read the stored answers."""
        lesson_store.load_answers(f"try-it-{self.notebook}", self._restored)

    def _restored(self, record: Mapping[str, Any]) -> None:
        for n, box in enumerate(self.boxes):
            typed = record.get("answers", {}).get(str(n), "")
            if typed and not box.value:
                box.value = str(typed)
                self._show(n)

    def text(self) -> str:
        """What to do; a saved notebook shows no answer."""
        return START
