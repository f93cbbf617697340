"""The concept test on the screen: one question after another; the report comes only when every one was answered."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as W

from shoplib.desk.widgets import lesson_store
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.lesson_widget import CSS
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.teaching.concept_test import Answered, report
from shoplib.topics.concept_items import FORMS

WHEN = {"A": "before the lessons", "B": "after the lessons"}


class ConceptTest(StaticFallback, W.VBox):
    """``ConceptTest("A")`` before the lessons, ``ConceptTest("B")`` after them."""

    def __init__(self, form: str, answered: Callable[[int, int], None] | None = None) -> None:
        """``answered`` is told the number of each question and the place of the answer; else they stay at the desk."""
        self.form, self.items = form, FORMS[form]
        self._answered = answered
        self.answers: list[int] = []
        self.asked = W.HTML()
        self.choice: Any = None
        self.body = W.VBox()
        self.go = W.Button(description="Next", button_style="primary")
        self.go.add_class("shop-go")
        self.go.on_click(lambda _: self.next())
        super().__init__([RootWidget(CSS), self.asked, self.body, self.go])
        for name in ("shop", "shop-practice", "shop-guided"):
            self.add_class(name)
        self._show()

    def _show(self) -> None:
        n = len(self.answers)
        if n == len(self.items):
            self._report()
            return
        item = self.items[n]
        self.asked.value = (
            f'<div class="shop-count">Form {self.form}, {WHEN[self.form]} · question {n + 1} of {len(self.items)}</div>'
            f"<p>{e(item.text)} …</p>"
        )
        self.choice = W.RadioButtons(options=[o.words for o in item.order], index=None)
        self.choice.add_class("shop-options")
        self.choice.observe(self._picked, "index")
        self.go.disabled = True
        self.body.children = [self.choice]

    def _picked(self, _: Any) -> None:
        self.go.disabled = self.choice.index is None

    def next(self) -> None:
        """Store the answer; the next question, or the report."""
        if self.choice is not None and self.choice.index is not None:
            self.answers.append(int(self.choice.index))
            if self._answered is not None:
                self._answered(len(self.answers), self.answers[-1])
            elif len(self.answers) == len(self.items):
                lesson_store.save_answers(f"concept-{self.form}", {"form": self.form, "answers": list(self.answers)})
            self._show()

    def restore(self, answers: list[int]) -> None:
        """Go on after these answers."""
        self.answers = answers[: len(self.items)]
        self._show()

    def _report(self) -> None:
        found = report([Answered(self.items, tuple(self.answers))]).replace("Before: ", "")
        self.asked.value = f'<div class="shop-count">Form {self.form}: your answers</div>'
        self.body.children = [W.HTML(f'<pre class="shop-sheet" role="status">{e(found)}</pre>')]
        self.go.layout.display = "none"

    def text(self) -> str:
        """The questions without their answers."""
        return f"Concept test, form {self.form}, {WHEN[self.form]}: {len(self.items)} questions."

    def static_html(self) -> str:
        """What it is for; no answers."""
        return f'<style>{CSS}</style><div class="shop shop-practice"><p>{e(self.text())}</p></div>'
