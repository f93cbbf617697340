"""Faded examples on the screen: read a full one, give the last step of the next, then answer a question alone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import ipywidgets as W

from shoplib.desk.widgets import lesson_store
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.lesson_widget import CSS
from shoplib.desk.widgets.practice import SIGNS
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.teaching.exercise import INVENTED, bound
from shoplib.teaching.faded import ALONE, DONE, FULL, FadedRun, restored_run
from shoplib.topics.exercises import all_exercises

TASKS = ("Read this example to its end.", "Now the last step is yours.", "Now do it alone.", "You can do it alone.")
MARKS = ("Read", "Last step", "Alone")


class Faded(StaticFallback, W.VBox):
    """``Faded("clamp_of_a_torque")``: one exercise, with less help each time."""

    def __init__(self, name: str) -> None:
        self.run = FadedRun(all_exercises()[name])
        self.head = W.HTML()
        self.box = W.Text(description="Your answer", placeholder="", continuous_update=True)
        self.go = W.Button(button_style="primary")
        self.go.add_class("shop-go")
        self.go.layout.align_self = "flex-start"
        self.said = W.HTML()
        super().__init__([RootWidget(CSS), self.head, self.box, self.go, self.said])
        for css in ("shop", "shop-practice", "shop-guided"):
            self.add_class(css)
        self.go.on_click(lambda _: self.next())
        self.box.on_msg(lambda _, content, __: self.next() if content.get("event") == "submit" else None)
        self._show()

    def next(self) -> None:
        """Go on from the full example, answer, or start again."""
        if self.run.stage in (FULL, DONE):
            self._moved_on(
                self.run.read() if self.run.stage == FULL else FadedRun(self.run.exercise, self.run.seed + 1)
            )
            self.said.value = ""
            return
        verdict, run = self.run.answer(self.box.value)
        again = " Here is more of an example again." if run.stage < self.run.stage else ""
        lesson = f" {run.exercise.lesson}" if run.stage == DONE else ""
        self.said.value = (
            f'<div class="shop-said" role="status" data-state="{verdict.state}">'
            f"<b>{SIGNS[verdict.state]}</b> {e(verdict.words + again + lesson)}</div>"
        )
        if run != self.run:
            self._moved_on(run)

    def _moved_on(self, run: FadedRun) -> None:
        if (run.stage, run.seed) != (self.run.stage, self.run.seed):
            self.box.value = ""
        self.run = run
        lesson_store.save_answers(f"faded-{run.exercise.name}", run.record())
        self._show()

    def _show(self) -> None:
        run = self.run
        marks = "".join(
            f'<li {"aria-current=step" if n == run.stage else ""} data-done="{n < run.stage}">{n + 1} {word}</li>'
            for n, word in enumerate(MARKS)
        )
        parts = [f'<ol class="shop-steps">{marks}</ol><h4>{e(run.exercise.title)}</h4>']
        if run.stage != DONE:
            parts.append(f"<p>{e(bound(run.question.text))}</p>")
        parts.append(f"<p><b>{TASKS[run.stage]}</b></p>")
        if run.shown:
            parts.append(f'<div class="shop-results"><p>{e(bound(run.shown))}</p></div>')
        self.head.value = "".join(parts)
        self.box.placeholder = run.question.how
        self.box.layout.display = "none" if run.stage in (FULL, DONE) else ""
        self.go.description = {FULL: "I have read it", ALONE: "Check", DONE: "Again with other numbers"}.get(
            run.stage, "Check"
        )

    # -- shown, stored
    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        lesson_store.load_answers(f"faded-{self.run.exercise.name}", self._restored)
        return super()._repr_mimebundle_(**kwargs)

    def _restored(self, record: Mapping[str, Any]) -> None:
        if self.run == FadedRun(self.run.exercise):
            self.run = restored_run(self.run.exercise, record)
            self._show()

    def text(self) -> str:
        """The title and what it is for; a saved notebook shows no answer."""
        return (
            f"{self.run.exercise.title}\nFirst a full example, then one whose last step is missing, then the question."
        )

    def static_html(self) -> str:
        """The same as a page without widgets."""
        title, what = self.text().split("\n")
        return (
            f'<style>{CSS}</style><div class="shop shop-practice"><h4>{e(title)}</h4><p><i>{e(what)}</i></p>'
            f"<small>{e(INVENTED)}</small></div>"
        )
