"""A guided lesson on the screen: one step at a time, and nothing of a later step exists before it is reached.

``Guided("oiled_clamp")``.  The order is kept by :class:`shoplib.teaching.guided.Run`; this module only shows it.
Guesses and answers are stored for this desk, so a lesson goes on where it was left.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import ipywidgets as W

from shoplib.core.units import show
from shoplib.desk.widgets import lesson_store
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.lesson_widget import CSS, Explore
from shoplib.desk.widgets.live_figure import LiveFigure
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.slider import Slider
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.teaching.choice import Item
from shoplib.teaching.exercise import Question, bound
from shoplib.teaching.guided import NAMES, ONLY_GUESSED, STEPS, GuidedLesson, NotRead, Run, Scene, Visits
from shoplib.teaching.known import Known
from shoplib.teaching.lesson import Lesson
from shoplib.topics.guided import get
from shoplib.topics.lessons import get as picture

SEEDS = 100_000  # ways in which the versions and numbers of the cases can begin
LOOK_AGAIN = "Look at the picture again. Other cases follow."
START = "The question comes first. The answer and the picture to drag come after your guess."


class Guided(StaticFallback, W.VBox):
    """``Guided("NAME")``: guess, say why, see, explain, check.  ``seed=7`` fixes the cases of the first run."""

    def __init__(
        self, lesson: str | GuidedLesson, answers: lesson_store.Answers = lesson_store, seed: int | None = None
    ) -> None:
        self._answers = answers
        self.lesson = get(lesson) if isinstance(lesson, str) else lesson
        self.run = self._new_run() if seed is None else Run(self.lesson, seed=seed)
        self.left_at = dict(self.lesson.explore.at)  # the positions of the picture's controls
        self.head = W.HTML()
        self.body = W.Box()
        self.body.add_class("shop-guided-body")
        self._choice: W.RadioButtons | None = None
        self.go = self._button("")
        self.said = W.HTML()  # the reply to the last answer
        super().__init__([RootWidget(CSS), self.head, self.body])
        for name in ("shop", "shop-practice", "shop-guided"):
            self.add_class(name)
        self._show()

    # -- the steps
    def _show(self, said: str = "") -> None:
        """Build the present step; the widgets of the step before are removed."""
        here = STEPS.index(self.run.step)
        marks = "".join(
            f'<li {"aria-current=step" if n == here else ""} data-done="{n < here}">{n + 1} {NAMES[s]}</li>'
            for n, s in enumerate(STEPS[:-1])
        )
        self.head.value = f'<ol class="shop-steps">{marks}</ol><h4>{e(self.lesson.title)}</h4>'
        self.said = W.HTML(said)
        build: dict[str, Callable[[], None]] = {
            "guess": self._guess, "why": self._why, "see": self._see, "explain": self._explain, "check": self._check,
            "done": self._done,
        }  # fmt: skip
        build[self.run.step]()

    def _lay(self, left: list[Any], right: Any = None) -> None:
        column = W.VBox(left)
        column.add_class("shop-guided-text")
        before = self.body.children
        self.body.children = [column, *([right] if right is not None else [])]
        for old in before:
            old.close()

    def _guess(self) -> None:
        lesson = self.lesson
        if isinstance(lesson.guess, Item):
            answer = self._options(lesson.guess)
            shown = [answer]
        else:
            low, high, step = lesson.guess.slider or (0.0, 1.0, 0.1)
            asked = lesson.guess.ask(1)
            start = low + step * round((high - low) / step / 2)
            self.slider = Slider(name="Your guess", value=start, min=low, max=high, step=step, words="not yet",
                                 placed=False)  # fmt: skip
            self.slider.observe(self._placed, ["value", "placed"])
            ends = [show(asked.unit.to_si(x), asked.unit, 3) for x in (low, high)]
            shown = [self.slider, W.HTML(f'<div class="shop-ends"><span>{e(ends[0])}</span><span>{e(ends[1])}</span>'
                                         "</div>")]  # fmt: skip
        self.go = self._button("That is my guess", self.commit)
        self.go.disabled = True
        self._lay([self._words(lesson.question), *shown, self.go], self._scene(lesson.scene))

    def _placed(self, _: Any) -> None:
        self.slider.placed = True
        asked = self.lesson.ask()
        assert asked is not None, "only a guess by slider has one"
        self.run = self.run.place(self.slider.value)
        self.slider.words = show(asked.unit.to_si(self.slider.value), asked.unit, 3)
        self.go.disabled = False

    def commit(self) -> None:
        """The guess is made."""
        if isinstance(self.lesson.guess, Item) and self._choice is not None and self._choice.index is not None:
            self.run = self.run.place(self._choice.index)
        self._moved_on(self.run.commit())

    def _why(self) -> None:
        options = self._options(self.lesson.reasons, also=ONLY_GUESSED)
        self.go = self._button("Show the answer", self._because)
        self.go.disabled = True
        self._lay(
            [self._words(self.lesson.question), self._words(f"Your guess: {self._guess_in_words()}. Why?"), options,
             *([self._words(self.lesson.terms)] if self.lesson.terms else []), self.go], self._scene(self.lesson.scene)
        )  # fmt: skip

    def _because(self) -> None:
        n = self._chosen()
        self._moved_on(self.run.because(-1 if n == len(self.lesson.reasons.options) else n))

    def _see(self) -> None:
        self.go = self._button("I have seen it", lambda: self._moved_on(self.run.seen()))
        self.go.disabled = True
        told = W.HTML()
        if not (self.run.explained or self.run.checked):  # the answer, the first time
            told.value = _said(self.run.reply(), self._state())
        self.left_at = dict(self.lesson.explore.at)  # each time the whole picture again
        explore = Explore(self._to_drag(), **self.left_at)
        visits = Visits(self.lesson, {name: dial.slider.value for name, dial in explore.dials.items()})
        to_do = W.HTML()

        def show() -> None:
            controls = {name: dial.control for name, dial in explore.dials.items()}
            at = [f"{controls[n].label} {at if controls[n].choices else controls[n].shown(at)}"
                  for n, at in visits.left if n != visits.locked]  # fmt: skip
            parts = [f"{words}: {'; '.join(all_)}." for words, all_ in
                     (("Still to find", visits.to_find), ("Still to try", at)) if all_]  # fmt: skip
            to_do.value = f"<small>{e(' '.join(parts))}</small>" if parts else ""
            for name, dial in explore.dials.items():
                dial.slider.disabled = name == visits.locked
            self.go.disabled = bool(parts)

        def used(name: str, position: Any) -> None:
            self.left_at[name] = position
            visits.moved(name, position, explore.state)
            show()

        for name, dial in explore.dials.items():
            dial.slider.observe(lambda change, name=name: used(name, change.new), "value")
        show()
        self.explore = explore
        self._lay([self.said, told, self._words(f"Now: {self.lesson.task}"), to_do, self.go], explore)

    def _to_drag(self) -> Lesson:
        """The picture with the controls that belong to this lesson."""
        scene = self.lesson.explore
        shown = picture(scene.lesson)
        return replace(shown, controls=tuple(c for c in shown.controls if c.name not in scene.without))

    def _state(self) -> str:
        return "right" if self.run.outcome == "knew" else "wrong"

    def _explain(self) -> None:
        asked = self.lesson.explain
        self.left_at.update(self.lesson.explain_at)
        options = self._options(asked)
        self.go = self._button("That is why", lambda: self._chose(self.run.explain, asked, "Look again."))
        self.go.disabled = True
        self._lay([self._words(asked.text), options, self.go, self.said], self._last())

    def _check(self) -> None:
        case, lesson = self.run.present_check, self.lesson
        count = f"Case {self.run.in_a_row + 1} of {len(lesson.checks)}; a wrong answer starts the count again. "
        if isinstance(case, Question):
            answer = W.Text(description="Your answer", placeholder=case.how)
            answer.observe(lambda _: setattr(self.go, "disabled", not answer.value.strip()), "value")
            answer.on_msg(
                lambda _, content, __: self._typed(answer.value) if content.get("event") == "submit" else None
            )
            self.go = self._button("Check", lambda: self._typed(answer.value))
        else:
            answer = self._options(case)
            self.go = self._button("Check", lambda: self._chose(self.run.check, case, LOOK_AGAIN))
        self.go.disabled = True
        # without a picture: each shows another bolt or place than the case
        self._lay([self.said, self._words(count + case.text), answer, self.go])

    def _chose(self, action: Callable[[int], Run], item: Item, again: str) -> None:
        option = item.option(self._chosen())
        right = option is item.right
        reply = f"Right. {item.why}" if right else f"No. {option.reply} {again}"
        self._moved_on(action(self._chosen()), reply, "right" if right else "wrong")

    def _typed(self, typed: str) -> None:
        """A typed answer.  One that cannot be read is asked about and does not count."""
        case = self.run.present_check
        assert isinstance(case, Question), "only such a case has a text box"
        try:
            run = self.run.check(typed)
        except NotRead as error:
            self.said.value = _said(str(error), "asked")
            return
        verdict = case.check(typed)
        right = verdict.state == "right"
        self._moved_on(run, f"{verdict.words} {case.exercise.lesson if right else LOOK_AGAIN}", verdict.state)

    def _done(self) -> None:
        self.go = self._button("Go through it again", self.again)
        wrong = self.run.wrong_cases
        counted = f"Cases answered: {len(self.run.checked)}, of which wrong: {wrong}." if wrong else ""
        self._lay([self.said, self._words(self.lesson.meaning), self._words(f"Now you can say: {self.lesson.goal}"),
                   W.HTML(f"<small>{counted}</small>"), self.go], self._last())  # fmt: skip

    def again(self) -> None:
        """Start again; the stored answers of the earlier run are replaced."""
        self.run = self._new_run()
        self.left_at = dict(self.lesson.explore.at)
        self._show()

    def _new_run(self) -> Run:
        return Run(self.lesson, seed=secrets.randbelow(SEEDS))

    def _moved_on(self, run: Run, reply: str = "", state: str = "") -> None:
        self.run = run
        self._answers.save(run)
        self._show(_said(reply, state) if reply else "")

    # -- parts
    def _button(self, words: str, action: Callable[[], None] | None = None) -> Any:
        button = W.Button(description=words, button_style="primary")
        if action is not None:
            button.on_click(lambda _: action())
        button.add_class("shop-go")
        return button

    @staticmethod
    def _words(text: str) -> Any:
        return W.HTML(f"<p>{e(bound(text))}</p>")

    def _options(self, item: Item, also: str = "") -> Any:
        words = [o.words for o in item.order] + ([also] if also else [])
        self._choice = W.RadioButtons(options=words, index=None)
        self._choice.add_class("shop-options")
        self._choice.observe(self._picked, "index")
        return self._choice

    def _picked(self, _: Any) -> None:
        self.go.disabled = self._chosen() < 0

    def _chosen(self) -> int:
        found = None if self._choice is None else self._choice.index
        return -1 if found is None else int(found)

    def _scene(self, scene: Scene | Callable[[], Known]) -> Any:
        if isinstance(scene, Scene):
            shown = picture(scene.lesson)
            state, draw, size = shown.at(**scene.at), shown.drawn, shown.figure_size
            alt = shown.alt(state)
        else:
            known = scene()
            state, draw, size, alt = known, known.draw, known.size, known.alt()
        box = W.Box([LiveFigure(draw, state, name=f"scene-{self.lesson.name}", alt=alt, figsize=size)])
        box.add_class("shop-guided-picture")
        return box

    def _last(self) -> Any:
        """The picture of the step See, as the learner left it."""
        return self._scene(Scene(self.lesson.explore.lesson, self.left_at))

    def _guess_in_words(self) -> str:
        asked = self.lesson.ask()
        if asked is None:
            assert isinstance(self.lesson.guess, Item)
            return self.lesson.guess.option(int(self.run.guess or 0)).words.rstrip(".")
        return show(asked.unit.to_si(self.run.guess or 0.0), asked.unit, 3)

    # -- shown, stored
    def put_out(self) -> None:
        """Read the stored answers."""
        self._answers.load(self.lesson, self.restored)

    def restored(self, run: Run) -> None:
        """A stored run is shown, unless this one was begun in the meantime."""
        if self.run.step == "guess" and self.run.guess is None and run.guess is not None:
            self.run = run
            self._show()

    def text(self) -> str:
        """The question only: a saved notebook shows no answer."""
        return f"{self.lesson.title}\n{self.lesson.question}\n{START}"

    def static_html(self) -> str:
        """The question only."""
        return (
            f'<style>{CSS}</style><div class="shop shop-practice"><h4>{e(self.lesson.title)}</h4>'
            f"<p>{e(bound(self.lesson.question))}</p><p><i>{e(START)}</i></p></div>"
        )


def _said(reply: str, state: str) -> str:
    return f'<div class="shop-said" role="status" data-state="{state}">{e(bound(reply))}</div>'
