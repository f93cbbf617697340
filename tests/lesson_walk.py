"""A guided lesson as a learner sees it, screen by screen: a PNG and a text of each.  For a cold pass by a fresh reader.

    python -m tests.lesson_walk                           # the names of the lessons
    python -m tests.lesson_walk same_click OUT            # the first screen
    python -m tests.lesson_walk same_click OUT 32 B       # the screens after these answers
    python -m tests.lesson_walk --stay same_click OUT &   # the lesson stays open, ...
    python -m tests.lesson_walk --say OUT 32 B            # ... and gets answers, a few at a time
    python -m tests.lesson_walk --say OUT close

One word for each answer: a number or a letter for the guess, a letter for a choice, the typed answer for a case with a text
box (``"12.5 kN"``, in quotes).  At the step See, ``snug=60`` drags the control whose name begins so (or presses the
choice that begins so), and ``next`` goes on when everything is tried that the screen asks for.  A wrong case leads back to See.
A learner gets other cases each time; here they are always those of the seed ``SEED``, so that earlier answers stay valid.  The text of the last screen is printed, so a
reader who holds a stated belief can answer it, and ask again with one more answer.  It needs a Chromium.
"""

from __future__ import annotations

import contextlib
import json
import re
import sys
import tempfile
import time
from collections.abc import Iterator
from multiprocessing.connection import Client, Listener
from pathlib import Path

from playwright.sync_api import Error as PlaywrightError
from playwright.sync_api import Locator, Page, sync_playwright

from shoplib.topics.guided import all_guided
from tests.browser import server
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from tests.browser.server import TOKEN

NOTEBOOK = "99-walk.ipynb"
WIDTH, HEIGHT = 1280, 800
LETTERS = "ABCDEFGH"
SEED = 1  # of the cases


class CannotGoOn(RuntimeError):
    """The answer is not complete: the page does not let the learner go on."""


def notebook(names: list[str]) -> str:
    """A notebook that holds these lessons and nothing else, as a file."""
    cells = [
        {
            "cell_type": "code",
            "id": f"cell-{n}",
            "metadata": {},
            "outputs": [],
            "execution_count": None,
            "source": source,
        }
        for n, source in enumerate(
            ["from shoplib.desk import Guided", *(f'Guided("{name}", seed={SEED})' for name in names)]
        )
    ]
    spec = {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"}
    return json.dumps({"cells": cells, "metadata": {"kernelspec": spec}, "nbformat": 4, "nbformat_minor": 5})


def open_lessons(page: Page, base: str, folder: Path, names: list[str]) -> list[Locator]:
    """The page of these lessons, each at its first step."""
    (folder / NOTEBOOK).write_text(notebook(names), encoding="utf-8")
    page.goto(f"{base}/voila/render/{NOTEBOOK}?token={TOKEN}", wait_until="commit", timeout=180_000)
    lessons = page.locator(".jupyter-widgets.shop-guided")
    lessons.nth(len(names) - 1).locator("button.shop-go").wait_for(timeout=120_000)
    return [lessons.nth(n) for n in range(len(names))]


def step_of(lesson: Locator) -> str:
    """The name of the present step; "Done" after the last."""
    here = lesson.evaluate("e => e.querySelector('.shop-steps li[aria-current]')?.textContent ?? ''")  # at one moment
    return here.split()[1] if here else "Done"


def settled(lesson: Locator) -> None:
    """Wait until the step is laid out and its picture has been drawn."""
    parts = (".shop-guided-text p", "button.shop-go", ".shop-guided-body [data-painted], .shop-guided-body [role=img]")
    before: list[object] = []
    for _ in range(100):
        boxes: list[object] = [
            lesson.locator(part).first.bounding_box() for part in parts if lesson.locator(part).count()
        ]
        if all(boxes) and boxes == before:
            break
        before = boxes
        lesson.page.wait_for_timeout(100)
    lesson.page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")


def answer(lesson: Locator, word: str) -> None:
    """Give one answer, as a learner would, and wait for the next screen."""
    step = step_of(lesson)
    name, equals, position = word.partition("=")
    if equals:
        drag(lesson, name, position)
        settled(lesson)
        return
    if step == "See" and word == "next":
        pass
    elif step == "Guess" and lesson.locator("input[type=range]").count():
        handle = lesson.locator("input[type=range]").first
        handle.press("ArrowRight")  # there is no position before it is pressed
        handle.fill(word)
    elif lesson.locator(".widget-text input").count():
        lesson.locator(".widget-text input").fill(word)
    else:
        lesson.locator(".shop-options input").nth(LETTERS.index(word.upper())).check()
    if not lesson.locator("button.shop-go:enabled").count():
        lesson.page.wait_for_timeout(2_000)
    if not lesson.locator("button.shop-go:enabled").count():
        raise CannotGoOn(f"the button cannot be pressed after {word!r}:\n{words_on(lesson)}")
    pressed = lesson.locator("button.shop-go").element_handle()
    pressed.click()
    for _ in range(300):  # until the step is built anew, or the answer could not be read
        if not pressed.evaluate("e => e.isConnected") or lesson.locator(".shop-said[data-state=asked]").count():
            break
        lesson.page.wait_for_timeout(100)
    lesson.locator("button.shop-go").wait_for(timeout=20_000)
    settled(lesson)


def drag(lesson: Locator, name: str, position: str) -> None:
    """Move a control of the picture: a number for a slider, the beginning of a word for a choice."""
    dial = lesson.locator(".shop-dial").filter(has_text=re.compile(rf"^\s*{re.escape(name)}")).first
    dial.locator("input, button").first.wait_for(timeout=20_000)
    handle = dial.locator("input[type=range]")
    if handle.count():
        handle.fill(position)
    else:
        dial.locator("button").filter(has_text=re.compile(rf"^\s*{re.escape(position)}")).first.click()


def words_on(lesson: Locator) -> str:
    """The text of the screen, with a letter before each choice, and the names of the controls to drag."""
    steps = " > ".join(lesson.locator(".shop-steps li").all_inner_texts())
    parts = [f"[step {step_of(lesson)} of: {steps}]", lesson.locator("h4").first.inner_text()]
    parts += lesson.locator(
        ".shop-guided-text p, .shop-guided-text .shop-said, .shop-guided-text small, .shop-ends"
    ).all_inner_texts()
    box = lesson.locator(".widget-text input")
    parts += [f"  [type the answer here: {box.get_attribute('placeholder')}]"] if box.count() else []
    options = lesson.locator(".shop-options label:has(input)").all_inner_texts()
    parts += [f"  {letter}  {words.strip()}" for letter, words in zip(LETTERS, options, strict=False)]
    parts += [f"  {control_on(dial)}" for dial in lesson.locator(".shop-dial").all()]
    parts += lesson.locator(".shop-says").all_inner_texts()
    parts += [f"[button: {b.strip()}]" for b in lesson.locator("button.shop-go").all_inner_texts()]
    alt = lesson.locator("[role=img]").first
    parts += [f"[picture: {alt.get_attribute('aria-label')}]"] if alt.count() else []
    return "\n".join(parts)


def control_on(dial: Locator) -> str:
    """A control of the picture: what can be chosen, or from where to where it can be dragged."""
    handle, buttons = dial.locator("input[type=range]"), dial.locator("button")
    if handle.count():
        low, high, step = (handle.get_attribute(k) for k in ("min", "max", "step"))
        return f"drag: {' '.join(dial.inner_text().split())}  (from {low} to {high} in steps of {step})"
    words = [f"[{b.inner_text().strip()}]" if "mod-active" in (b.get_attribute("class") or "") else b.inner_text().strip()
             for b in buttons.all()]  # fmt: skip
    locked = "  (locked for now)" if buttons.count() and buttons.first.is_disabled() else ""
    return f"choose: {dial.locator('.shop-label').first.inner_text().strip()}: {' / '.join(words)}{locked}"


@contextlib.contextmanager
def browser_page() -> Iterator[tuple[Page, str, Path]]:
    """A page, the address of a server of pages, and its folder."""
    with (
        tempfile.TemporaryDirectory() as own,
        server.pages(Path(own) / "notebooks") as base,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGUMENTS)
        yield browser.new_page(viewport={"width": WIDTH, "height": HEIGHT}), base, Path(own) / "notebooks"
        browser.close()


def screen(lesson: Locator, out: Path, n: int) -> str:
    """Write the present screen as a picture and as a text; gives the text."""
    settled(lesson)
    lesson.evaluate("e => e.scrollIntoView()")
    text = words_on(lesson)
    (out / f"{n:02d}.txt").write_text(text + "\n", encoding="utf-8")
    lesson.page.screenshot(path=out / f"{n:02d}.png")
    return f"{text}\n\npicture: {out / f'{n:02d}.png'}"


def walk(name: str, out: Path, answers: list[str]) -> str:
    """Write every screen up to these answers; gives the text of the last."""
    out.mkdir(parents=True, exist_ok=True)
    with browser_page() as (page, base, folder):
        (lesson,) = open_lessons(page, base, folder, [name])
        text = screen(lesson, out, 0)
        for n, word in enumerate(answers, 1):
            answer(lesson, word)
            text = screen(lesson, out, n)
        return text


SOCKET = "socket"


def stay(name: str, out: Path) -> None:
    """Keep a lesson open and take answers from ``say``, until it says "close"."""
    out.mkdir(parents=True, exist_ok=True)
    with browser_page() as (page, base, folder), Listener(str(out / SOCKET)) as listener:
        (lesson,) = open_lessons(page, base, folder, [name])
        n, text = 0, screen(lesson, out, 0)
        while True:
            with listener.accept() as asks:
                words = asks.recv()
                if words == ["close"]:
                    asks.send("closed")
                    return
                try:
                    for word in words:
                        answer(lesson, word)
                        n += 1
                        text = screen(lesson, out, n)
                except (CannotGoOn, ValueError, IndexError, PlaywrightError) as error:
                    text = f"{type(error).__name__}: {error}"
                asks.send(text)


def say(out: Path, answers: list[str]) -> str:
    """Give answers to a lesson that is open; gives the text of the screen then."""
    for _ in range(120):  # it may still be opening
        with contextlib.suppress(FileNotFoundError, ConnectionRefusedError), Client(str(out / SOCKET)) as lesson:
            lesson.send(answers)
            return str(lesson.recv())
        time.sleep(1)
    return "no lesson is open in this folder"


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["--stay", name, folder]:
            stay(name, Path(folder))
        case ["--say", folder, *words]:
            print(say(Path(folder), words))
        case [name, folder, *words]:
            print(walk(name, Path(folder), words))
        case _:
            print(*all_guided(), sep="\n")
