"""Guided lessons in a real browser: each step on one screen, nothing shown before its step, no answer in what is saved."""

import re

import pytest

from shoplib.teaching.choice import Cases, Item
from shoplib.teaching.guided import APART
from shoplib.topics import exercises
from shoplib.topics.concept_items import FORMS
from shoplib.topics.guided import all_guided
from tests import lesson_walk
from tests.browser.conftest import CLOSE
from tests.browser.test_lab import IDLE, show
from tests.guided_way import to_try
from tests.notebooks import FOLDER

SCREENS = {"desk": (1280, 800), "tablet": (820, 1180)}
GUIDED = all_guided()
NAMES = list(GUIDED)


@pytest.fixture(scope="module")
def opened(browser, pages, pages_folder):
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    yield dict(zip(NAMES, lesson_walk.open_lessons(page, pages, pages_folder, NAMES), strict=True))
    page.close()


def below_the_screen(lesson, size):
    """What of the question and the picture is below the screen when the lesson is scrolled to its top."""
    page = lesson.page
    page.set_viewport_size(dict(zip(("width", "height"), SCREENS[size], strict=True)))
    lesson_walk.settled(lesson)
    lesson.evaluate("e => e.scrollIntoView()")
    parts = {"question": lesson.locator(".shop-guided-text p").first, "button": lesson.locator("button.shop-go")}
    if lesson_walk.step_of(lesson) != "Check":  # a case stands in words only
        parts["picture"] = lesson.locator("[data-painted], [role=img]").first
    for part in parts.values():
        part.wait_for(timeout=30_000)
    boxes = {what: part.bounding_box() for what, part in parts.items()}
    assert all(box and box["height"] > 20 for box in boxes.values()), boxes
    return [f"{size}: {what}" for what, box in boxes.items() if box["y"] + box["height"] > SCREENS[size][1] + 0.5]


def letter(item, *, right):
    n = next(k for k in range(len(item.options)) if item.is_right(k) == right)
    return lesson_walk.LETTERS[n]


def told_later(lesson):
    """What belongs to the steps after the guess."""
    asked = lesson.ask()
    answer = [] if asked is None or shown_in(asked.answer.shown, asked.text) else [asked.answer.shown]
    cases = [i for kind in lesson.checks if isinstance(kind, Cases) for i in kind.items]
    options = [o for item in (lesson.reasons, lesson.explain, *cases) for o in item.options]
    if isinstance(lesson.guess, Item):
        options += [o for o in lesson.guess.options if o.reply]
        return [lesson.task, lesson.meaning, *(o.reply for o in options if o.reply)]
    words = [o.words for o in options if o.words.count(" ") > 2]  # "neither" is no answer by itself
    return [*answer, lesson.task, lesson.meaning, *words, *(o.reply for o in options if o.reply)]


def plain(text):
    return re.sub(r"[\s\u00a0\u202f]+", " ", text)


def shown_in(part, text):
    """Whether a text contains another; 2 mm is not in 1.2 mm."""
    return re.search(rf"(?<![\d.,−]){re.escape(plain(part))}(?!\w)", plain(text)) is not None


@pytest.mark.parametrize("name", NAMES)
def test_each_step_is_one_screen_and_nothing_comes_early(opened, name):
    lesson, seen = GUIDED[name], opened[name]
    page_text = seen.evaluate("e => e.textContent")
    assert [t for t in told_later(lesson) if shown_in(t, page_text)] == []
    guess = letter(lesson.guess, right=False) if isinstance(lesson.guess, Item) else f"{lesson.guess.slider[0]:g}"
    drags = [f"{controls_of(lesson)[n].label}={at}" for n, at in to_try(lesson)]
    answers = [guess, letter(lesson.reasons, right=False), *drags, "next", letter(lesson.explain, right=True)]
    wrong = [f"Guess {x}" for size in SCREENS for x in below_the_screen(seen, size)]
    for word in [*answers, *right_answers(lesson)]:
        lesson_walk.answer(seen, word)
        step = lesson_walk.step_of(seen)
        wrong += [f"{step} {x}" for size in SCREENS for x in below_the_screen(seen, size)]
    assert lesson_walk.step_of(seen) == "Done"
    assert wrong == []


def right_answers(lesson):
    """The letters and numbers that pass the cases of the walk."""
    found = []
    for n, kind in enumerate(lesson.checks):
        case = kind.ask(lesson_walk.SEED + APART * n)
        found.append(letter(case, right=True) if isinstance(case, Item) else case.answer.shown)
    return found


def controls_of(lesson):
    from shoplib.topics import lessons

    return {c.name: c for c in lessons.get(lesson.explore.lesson).controls}


# ------------------------------------------------------------------------------ saved, opened without a kernel
NO_KERNEL = """async path => {
  const open = [...jupyterapp.shell.widgets("main")].find(w => w.context && w.context.path === path);
  // it answers first: ended in the middle of its start, the debugger complains
  for (let i = 0; i < 2; i++) await open.context.sessionContext.session.kernel.requestKernelInfo();
  await open.context.sessionContext.shutdown(); }"""


def practice_in(name):
    text = (FOLDER / name).read_text(encoding="utf-8")
    asked = [e for t in re.findall(r"Practice\(\\\"(\w+)", text) for e in exercises.of_topic(t)]
    return [e.ask(1) for e in asked], [g for g in GUIDED.values() if f'Guided(\\"{g.name}' in text]


@pytest.mark.parametrize("name", ["02-lessons.ipynb", "63-why-torque-then-angle.ipynb"])
def test_a_saved_notebook_without_a_kernel_shows_no_answer(desk, name):
    desk.evaluate(CLOSE, [name])
    desk.evaluate("sessionStorage.setItem('shoplib-run', 'off')")  # else it runs by itself
    show(desk, name)
    desk.locator("#jp-main-statusbar .jp-StatusBar-TextItem", has_text=IDLE).wait_for(timeout=60_000)
    desk.evaluate(NO_KERNEL, name)
    desk.evaluate("sessionStorage.removeItem('shoplib-run')")
    panel = desk.locator(".jp-NotebookPanel:not(.lm-mod-hidden)")
    outputs = panel.locator(".jp-OutputArea-output")
    panel.locator(".shop-practice").first.wait_for(state="attached", timeout=60_000)
    questions, lessons = practice_in(name)
    assert questions or lessons
    saved = plain(" ".join(outputs.evaluate_all("all => all.map(e => e.textContent)")))  # what is folded, too
    shown = [x for x in lessons if plain(x.question) in saved], [q for q in questions if plain(q.text) in saved]
    assert any(shown), "there is a question"
    for lesson in lessons:
        assert [t for t in told_later(lesson) if len(t) > 20 and shown_in(t, saved)] == []
    for q in questions:
        told = [] if q.exercise.solution is None else [q.exercise.solution(q.result)]
        assert [t for t in (*told, q.exercise.lesson) if shown_in(t, saved)] == [], q.exercise.name
    practice = plain(" ".join(panel.locator(".shop-practice").evaluate_all("all => all.map(e => e.textContent)")))
    for q in questions:
        answer = [] if q.in_words or shown_in(q.answer.shown, q.text) else [q.answer.shown]
        assert [t for t in answer if shown_in(t, practice.replace(plain(q.text), ""))] == [], q.exercise.name
    if "02" in name:
        assert [i.why for items in FORMS.values() for i in items if i.why and plain(i.why) in saved] == []
