"""Mixed review on the screen: a few questions of earlier topics each day; the record knows when each comes back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

import ipywidgets as W

from shoplib.desk.widgets import lesson_store
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.lesson_widget import CSS
from shoplib.desk.widgets.practice import QuestionBox
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.teaching.exercise import Question, Score
from shoplib.teaching.review import Schedule, restored_schedule
from shoplib.topics.exercises import all_exercises

NAME = "review"
WHAT = (
    "A few questions each day, of all topics mixed. What you answer right at the first try comes back later each "
    "time; what you do not comes back tomorrow."
)


class Review(StaticFallback, W.VBox):
    """``Review()``: the questions of today.  ``topics`` keeps to some topics; ``today`` gives the date."""

    def __init__(self, *topics: str, today: Callable[[], date] = date.today) -> None:
        self._today = today
        self.exercises = [x for x in all_exercises().values() if not topics or x.topic in topics]
        if not self.exercises:
            raise KeyError(f"there are no exercises in {', '.join(topics)}")
        self.schedule = Schedule()
        self._tried: set[str] = set()  # only the first answer of today counts
        self.head = W.HTML()
        self.go = W.Button(description="Start today's review", button_style="primary")
        self.go.add_class("shop-go")
        self.go.layout.align_self = "flex-start"
        self.go.on_click(lambda _: self.start())
        self.body = W.VBox()
        super().__init__([RootWidget(CSS), self.head, self.go, self.body])
        for css in ("shop", "shop-practice", "shop-guided"):
            self.add_class(css)
        self._show_due()

    def start(self) -> None:
        """Show the questions of today, with numbers of today."""
        now = self._today()
        questions = [x.ask(now.toordinal()) for x in self.schedule.today(self.exercises, now)]
        self._tried.clear()
        if questions:
            self.body.children = [QuestionBox(questions, score=Score(), answered=self._answered)]
            self.go.layout.display = "none"
        self._show_due()

    def _answered(self, question: Question, typed: str) -> None:
        """The first answer to a question decides; nothing typed means that the solution was shown."""
        name = question.exercise.name
        state = question.check(typed).state if typed else "wrong"
        if name in self._tried or state == "asked":
            return
        self._tried.add(name)
        self.schedule = self.schedule.answered(name, state == "right", self._today())
        lesson_store.save_answers(NAME, self.schedule.record())
        self._show_due()

    def _show_due(self) -> None:
        count = len(self.schedule.today(self.exercises, self._today()))
        day = self.schedule.next_day()
        seen = sum(x.name in self.schedule.seen for x in self.exercises)
        waits = f"{seen} of {len(self.exercises)} exercises are in your review. " if day else ""
        nothing = f"Nothing is due before {day:%d %B %Y}." if day else ""
        if not self.body.children:
            nothing = f"Today: {count} question{'' if count == 1 else 's'}." if count else nothing
        self.go.disabled = count == 0
        self.head.value = f'<h4>Mixed review</h4><p>{e(WHAT)}</p><p role="status">{e(waits + nothing)}</p>'

    # -- shown, stored
    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        lesson_store.load_answers(NAME, self._restored)
        return super()._repr_mimebundle_(**kwargs)

    def _restored(self, record: Mapping[str, Any]) -> None:
        if not self._tried and not self.body.children:
            self.schedule = restored_schedule(record, all_exercises())
            self._show_due()

    def text(self) -> str:
        """What it is for; a saved notebook shows no question of a day."""
        return f"Mixed review\n{WHAT}"

    def static_html(self) -> str:
        """The same as a page without widgets."""
        return f'<style>{CSS}</style><div class="shop shop-practice"><h4>Mixed review</h4><p><i>{e(WHAT)}</i></p></div>'
