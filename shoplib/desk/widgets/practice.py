"""Practice: a question, a typed answer with its unit, a hint, the worked solution, new numbers, a score.

``Practice("preload")`` in a notebook shows the exercises of that topic.  All marking is done in
:mod:`shoplib.teaching.exercise`; this module only shows it.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable
from typing import Any

import ipywidgets as W

from shoplib.desk import STATIC
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.form import CSS as FORM_CSS
from shoplib.desk.widgets.form import WORKING_TITLE, steps_html
from shoplib.desk.widgets.live_figure import LiveFigure
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.teaching.exercise import INVENTED, Question, Score, bound
from shoplib.topics.exercises import of_topic

CSS = FORM_CSS + (STATIC / "practice.css").read_text(encoding="utf-8")
SCORE = Score()  # of this kernel session, for all exercise boxes
START = "The answer and the worked solution come after your own answer."
SIGNS = {"right": "✓", "wrong": "✕", "asked": "?"}  # the words are always shown beside the sign


class QuestionBox(StaticFallback, W.VBox):
    """``QuestionBox(questions)``: each with its answer, hint, worked solution and new numbers.

    ``paper`` makes a PDF of the score: a function of (score, learner's name) that returns bytes.
    ``answered`` is told each question and what was typed; nothing typed: the worked solution was shown.
    """

    def __init__(
        self,
        questions: list[Question],
        *,
        score: Score | None = None,
        paper: Callable[[Score, str], bytes] | None = None,
        answered: Callable[[Question, str], None] | None = None,
    ) -> None:
        self.score = SCORE if score is None else score
        self._paper, self._answered = paper, answered or (lambda question, typed: None)
        self._questions = list(questions)
        self._at = 0
        self.picks = [W.Button(description=str(n), tooltip=q.exercise.title) for n, q in enumerate(self._questions, 1)]
        self.asked = W.HTML()
        self.box = W.Text(description="Your answer", placeholder="", continuous_update=True)
        self.check = W.Button(description="Check", button_style="primary")
        self.work = W.Button(description="Worked solution", disabled=True)
        self.fresh = W.Button(description="New numbers")
        self.said = W.HTML()
        self.solution = W.HTMLMath()
        self.tally = W.HTML()
        self.learner = W.Text(description="Your name on the sheet", placeholder="your name", continuous_update=True)
        self.print = W.Button(description="Print my exercises")
        self.sheet = W.HTML()
        super().__init__(self._laid_out())
        self.add_class("shop")
        self.add_class("shop-practice")
        self._connect()
        self._show()

    def _laid_out(self) -> list[Any]:
        def row(*children: Any) -> Any:
            box = W.Box(children)
            box.add_class("shop-row")
            return box

        picks = [row(*self.picks)] if len(self.picks) > 1 else []
        buttons = row(self.check, self.work, self.fresh)
        foot = row(self.tally, self.learner, self.print)
        foot.add_class("shop-foot")
        return [RootWidget(CSS), *picks, self.asked, self.box, buttons, self.said, self.solution,
                foot, self.sheet]  # fmt: skip

    def _connect(self) -> None:
        for n, button in enumerate(self.picks):
            button.on_click(lambda _, n=n: self.go_to(n))
        self.check.on_click(lambda _: self.answer())
        self.work.on_click(lambda _: self.show_solution())
        self.fresh.on_click(lambda _: self.new_numbers())
        self.print.on_click(lambda _: self.show_sheet())
        self.box.on_msg(lambda _, content, __: self.answer() if content.get("event") == "submit" else None)  # Enter

    # -- the buttons
    @property
    def question(self) -> Question:
        """The present question."""
        return self._questions[self._at]

    def answer(self) -> None:
        """Check the answer in the box."""
        verdict = self.score.answered(self.question, self.box.value)
        if self.box.value.strip():
            self._answered(self.question, self.box.value)
        lesson = f" {self.question.exercise.lesson}" if verdict.state == "right" else ""
        self.said.value = (
            f'<div class="shop-said" role="status" data-state="{verdict.state}">'
            f"<b>{SIGNS[verdict.state]}</b> {e(verdict.words + lesson)}</div>"
        )
        self._mark()

    def show_solution(self) -> None:
        """Show the worked solution; allowed after the first attempt."""
        self.score.looked_up(self.question)
        self._answered(self.question, "")
        self.solution.value = solution_html(self.question)
        self._mark()

    def new_numbers(self) -> None:
        """The same exercise with the next seed."""
        q = self.question
        self._questions[self._at] = q.exercise.ask(q.seed + 1)
        self._show()

    def restore(self, answers: Iterable[tuple[str, str]]) -> None:
        """Replay stored answers: the name of the exercise and what was typed, oldest first."""
        questions = {q.exercise.name: q for q in self._questions}
        for name, typed in answers:
            if name in questions and typed:
                self.score.answered(questions[name], typed)
            elif name in questions:
                self.score.looked_up(questions[name])
        self._show()

    def go_to(self, n: int) -> None:
        """Another exercise of the topic."""
        self._at = n
        self._show()

    def show_sheet(self) -> None:
        """Show the learner's sheet as text, and as a PDF if the notebook can make one."""
        name = self.learner.value.strip()[:80]
        link = ""
        if self._paper is not None and self.score.marks:
            try:
                code = base64.b64encode(self._paper(self.score, name)).decode()
                link = (
                    f'<a class="shop-link" download="learner-sheet.pdf" href="data:application/pdf;base64,{code}">'
                    "Save this sheet as a PDF</a>"
                )
            except (
                ValueError,
                RuntimeError,
            ) as error:  # a name that cannot be printed; the message gives the character
                link = f'<div class="shop-said" role="alert" data-state="wrong">No PDF: {e(error)}</div>'
        self.sheet.value = f'{link}<pre class="shop-sheet">{e(self.score.as_text(name))}</pre>'

    # -- showing
    def _show(self) -> None:
        q = self.question
        self.asked.value = question_html(q, self._at + 1, len(self._questions))
        self.box.value, self.said.value, self.solution.value = "", "", ""
        self.box.placeholder = q.how
        self._mark()

    def _mark(self) -> None:
        """Enable the allowed buttons, and show the score."""
        mark = self.score.mark(self.question)
        self.work.disabled = not (mark.tries or mark.solution_seen)
        self.work.tooltip = "after your first attempt" if self.work.disabled else "step by step"
        for n, (button, q) in enumerate(zip(self.picks, self._questions, strict=True), 1):
            button.description = f"{n} ✓" if self.score.mark(q).right else str(n)
            (button.add_class if n - 1 == self._at else button.remove_class)("shop-picked")
        self.tally.value = f'<div class="shop-tally" role="status"><b>Score:</b> {e(self.score.summary)}</div>'

    def text(self) -> str:
        """The questions without their answers: this is what a saved notebook shows."""
        return "\n\n".join([*(f"{q.as_text()}\n    Type {q.how}." for q in self._questions), INVENTED])

    def static_html(self) -> str:
        """The questions as a page without widgets.  It contains no answer."""
        parts = [question_html(q, n, len(self._questions)) for n, q in enumerate(self._questions, 1)]
        return f'<style>{CSS}</style><div class="shop shop-practice">{"".join(parts)}<p><i>{e(START)}</i></p></div>'


class Practice(QuestionBox):
    """``Practice(topic, *names, seed=1)``: the exercises of a topic, or only the named ones."""

    def __init__(self, topic: str, *names: str, seed: int = 1, **options: Any) -> None:
        found = {e.name: e for e in of_topic(topic)}
        unknown = [n for n in names if n not in found]
        if unknown:
            raise KeyError(f"topic {topic} has no exercise {', '.join(unknown)}; choose from {', '.join(found)}")
        super().__init__([found[n].ask(seed) for n in names or found], **options)


def question_html(question: Question, n: int, of: int) -> str:
    """Title, text and tolerance."""
    count = f"Exercise {n} of {of} · " if of > 1 else "Exercise · "
    return (
        f'<div class="shop-question"><div class="shop-count">{count}{question.numbered}</div>'
        f"<h4>{e(question.exercise.title)}</h4><p>{e(bound(question.text))}</p>"
        f"<small>{e(question.stated_rule)} {e(INVENTED)}</small></div>"
    )


def solution_html(question: Question) -> str:
    """Answer, lesson, the working's picture and its steps."""
    working, result = question.result.working, question.result
    picture = ""
    if working.draw is not None:
        alt = working.alt(result) if working.alt else working.title
        picture = LiveFigure(
            working.draw, result, name=f"solution-{working.name}", alt=alt, figsize=working.figure_size
        ).as_image()
    own, steps = "", ""
    if question.exercise.solution is not None:
        own = f"<p>{e(bound(question.exercise.solution(result)))}</p>"
    if result.steps and question.exercise.steps_solve:
        steps = f"<details open><summary>{WORKING_TITLE}</summary>{steps_html(result)}</details>"
    return (
        f'<div class="shop-results"><b>{e(question.answer.label)}: {e(question.answer.shown)}</b>'
        f"<p>{e(question.exercise.lesson)}</p>{own}</div>{picture}{steps}"
    )
