"""A guided lesson on the screen: one step at a time, and nothing of a later step exists before it is reached.

``Guided("oiled_clamp")``.  The order is kept by :class:`shoplib.teaching.guided.Run`; this module only shows it.
Guesses and answers are stored for this desk, so a lesson goes on where it was left.
"""

from __future__ import annotations

from collections.abc import Callable
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
from shoplib.teaching.exercise import bound
from shoplib.teaching.guided import NAMES, ONLY_GUESSED, STEPS, GuidedLesson, Run, Scene
from shoplib.teaching.known import Known
from shoplib.topics.guided import get
from shoplib.topics.lessons import get as picture

START = "The question comes first. The answer and the picture to drag come after your guess."


class Guided(StaticFallback, W.VBox):
    """``Guided("NAME")``: guess, say why, see, explain, check."""

    def __init__(self, lesson: str | GuidedLesson, answers: lesson_store.Answers = lesson_store) -> None:
        self._answers = answers
        self.lesson = get(lesson) if isinstance(lesson, str) else lesson
        self.run = Run(self.lesson)
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
             self.go], self._scene(self.lesson.scene)
        )  # fmt: skip

    def _because(self) -> None:
        n = self._chosen()
        self._moved_on(self.run.because(-1 if n == len(self.lesson.reasons.options) else n))

    def _see(self) -> None:
        self.go = self._button("I have seen it", lambda: self._moved_on(self.run.seen()))
        told = W.HTML(f'<div class="shop-said" role="status" data-state="{self._state()}">{e(self.run.reply())}</div>')
        explore = Explore(self.lesson.explore.lesson, **self.left_at)
        self.go.disabled = True  # until the picture was used

        def used(_: Any) -> None:
            self.go.disabled = False
            self.left_at = {name: dial.slider.value for name, dial in explore.dials.items()}

        for dial in explore.dials.values():
            dial.slider.observe(used, "value")
        self.explore = explore
        self._lay([self.said, told, self._words(f"Now: {self.lesson.task}"), self.go], explore)

    def _state(self) -> str:
        return "right" if self.run.outcome == "knew" else "wrong"

    def _explain(self) -> None:
        options = self._options(self.lesson.reasons)
        self.go = self._button("That is why", lambda: self._answered(self.run.explain, self.lesson.reasons))
        self.go.disabled = True
        self._lay([self._words(self.lesson.reasons.text), options, self.go, self.said], self._last())

    def _check(self) -> None:
        item = self.run.present_check
        options = self._options(item)
        self.go = self._button("Check", lambda: self._answered(self.run.check, item))
        self.go.disabled = True
        left = [self.said, self._words("Another case. " + item.text), options, self.go]
        self._lay(left, self._last())

    def _answered(self, action: Callable[[int], Run], item: Item) -> None:
        option = item.option(self._chosen())
        right = option is item.right
        reply = f"Right. {item.why}" if right else f"No. {option.reply}"
        self._moved_on(action(self._chosen()), reply, "right" if right else "wrong")

    def _done(self) -> None:
        self.go = self._button("Go through it again", self.again)
        self._lay([self.said, self._words(self.lesson.meaning), self._words(f"Now you can say: {self.lesson.goal}"),
                   self.go], self._last())  # fmt: skip

    def again(self) -> None:
        """Start again; the stored answers of the earlier run are replaced."""
        self.run = Run(self.lesson)
        self.left_at = dict(self.lesson.explore.at)
        self._show()

    def _moved_on(self, run: Run, reply: str = "", state: str = "") -> None:
        self.run = run
        self._answers.save(run)
        said = f'<div class="shop-said" role="status" data-state="{state}">{e(reply)}</div>' if reply else ""
        self._show(said)

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
        if self.run == Run(self.lesson) and run != self.run:
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
