"""The progress of a job on screen: the next step first, then every step, what closing needs, and skipping a step.

``JobProgress()`` in a notebook shows today's job; the job desk has the same part as a page.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

import ipywidgets as W

from shoplib.core.errors import BadInput
from shoplib.desk import STATIC
from shoplib.desk.widgets.components import StatusMessage, button, labelled, reason_box, row, show_errors, who_box
from shoplib.desk.widgets.display_text import SIGNS, with_sign
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.form import CSS as FORM_CSS
from shoplib.desk.widgets.input_field import Entry
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.session import session
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.record.errors import StoreError
from shoplib.record.job import Job
from shoplib.record.job_progress import BEGUN, DONE, OPEN, SKIPPED, STALE, Progress, StepNow, progress, skip
from shoplib.topics.job_steps import CLOSING

CSS = FORM_CSS + (STATIC / "progress.css").read_text(encoding="utf-8")
MARKS = {DONE: "✓", SKIPPED: "–", BEGUN: "…", OPEN: "□", STALE: "▲"}
CHOOSE = "— choose a step —"
NO_JOB = "No job is selected. Select one or start one below, under “Today's job”."


class ProgressDesk(Protocol):
    """What this part needs from the page that contains it."""

    @property
    def who(self) -> str:
        """The person at this desk."""

    def act(self, say: StatusMessage, boxes: dict[str, Entry], work: Callable[[Any], Any]) -> Any:
        """Change the record, show any error, read the job again; return None if nothing was done."""


class ProgressPage(W.VBox):
    """The steps of a job; ``show`` it again when the job has changed."""

    def __init__(self, desk: ProgressDesk) -> None:
        self._desk = desk
        self._job: Job | None = None
        self._skipped: dict[str, StepNow] = {}
        self.steps = W.HTML()
        self.which = labelled(W.Dropdown(options=[(CHOOSE, "")], value=""), "Skip a step, or do it after all")
        self.boxes: dict[str, Entry] = {
            "because": reason_box(example="this engine has no cooling system"),
            "who": who_box(desk.who, "Who decides this"),
        }
        self.go = button("Skip this step", self.press)
        self.said = StatusMessage("shop-said")
        self.more = W.VBox([row(*self.boxes.values(), named="pr-boxes"), self.go])
        self.part = W.VBox([self.which, self.more, self.said])
        self.part.add_class("pr-skip")
        super().__init__([self.steps, self.part])
        self.which.observe(lambda _: self._dress(), "value")
        self._dress()

    def show(self, job: Job) -> None:
        """Show the present progress."""
        self._job = job
        now = progress(job)
        self.steps.value = progress_html(now)
        self._skipped = {s.step.code: s for s in now.steps if s.state == SKIPPED}
        open_ = [s for s in now.steps if s.state == OPEN and s.step.code != CLOSING]
        options = [(CHOOSE, "")] + [(s.step.title, s.step.code) for s in open_]
        options += [(f"{s.step.title} (skipped: do it after all)", s.step.code) for s in self._skipped.values()]
        kept = self.which.value
        self.which.options = options
        self.which.value = kept if kept in [code for _, code in options] else ""
        self.part.layout.display = "none" if job.closed or len(options) == 1 else ""
        if not self.boxes["who"].box.value:
            self.boxes["who"].box.value = self._desk.who

    def _dress(self) -> None:
        code = self.which.value
        self.more.layout.display = "" if code else "none"
        self.go.description = "Do it after all" if code in self._skipped else "Skip this step"

    def press(self) -> None:
        """Skip the chosen step, or undo that; both need a reason and stay in the record."""
        job, code = self._job, str(self.which.value or "")
        if job is None or not code:
            return
        because, who = (str(self.boxes[n].typed or "") for n in ("because", "who"))
        skipped = self._skipped.get(code)
        if skipped is not None and skipped.entry is not None:
            uid = skipped.entry.uid
            done = self._desk.act(
                self.said, self.boxes, lambda store: store.strike(job.number, uid, who=who, because=because)
            )
        else:
            done = self._desk.act(
                self.said, self.boxes, lambda store: skip(store, job.number, code, who=who, because=because)
            )
        if done is not None:
            self.boxes["because"].box.value = ""
            self.which.value = ""
            self.said.good(f"Saved as line {done.n}.")


class JobProgress(StaticFallback, W.VBox):
    """``JobProgress()``: the progress of today's job."""

    def __init__(self) -> None:
        self._known = ""
        self.page = ProgressPage(self)
        self.page.layout.display = "none"
        self.none = W.HTML()
        super().__init__([RootWidget(CSS), self.none, self.page])
        self.add_class("shop")
        self.add_class("shop-progress")
        session.observe(lambda _: self.look(), ["number", "written"])
        session.call_soon(self.look)

    @property
    def who(self) -> str:
        """The person at this desk."""
        return self._known

    def look(self) -> None:
        """Read today's job again in a worker thread."""

        def read() -> tuple[str, Job | None]:
            if not session.anything() or not session.number:
                return "", None
            return session.who, session.store().job(session.number)

        session.run_in_thread(read, self._came)

    def _came(self, found: tuple[str, Job | None] | BaseException) -> None:
        self._known, job = ("", None) if isinstance(found, BaseException) else found
        self.page.layout.display = "none" if job is None else ""
        self.none.value = f"<p>{e(NO_JOB)}</p>" if job is None else ""
        self.none.layout.display = "" if job is None else "none"
        if job is not None:
            self.page.show(job)

    def act(self, say: StatusMessage, boxes: dict[str, Entry], work: Callable[[Any], Any]) -> Any:
        """Change the record; an error is shown beside the boxes, and None is returned."""
        try:
            done = work(session.store())
        except BadInput as error:
            others = show_errors(boxes, error.problems)
            say.bad("\n".join(["Nothing was saved. Correct the marked boxes.", *map(str, others)]))
            return None
        except StoreError as error:
            say.bad(str(error))
            return None
        show_errors(boxes, ())
        session.written += 1
        return done

    def text(self) -> str:
        """A fixed sentence, never the content of the record."""
        return "The progress of today's job appears here when the notebook runs and a job is chosen."


# ------------------------------------------------------------------------------ as HTML
def progress_html(now: Progress) -> str:
    """The next step, every step, and what closing still needs."""
    rows = "".join(_step_html(s, s is now.next) for s in now.steps)
    return f'{_next_html(now)}<ol class="pr-list">{rows}</ol>{_close_html(now)}'


def _next_html(now: Progress) -> str:
    bar = f'<progress max="{len(now.steps)}" value="{now.done}" aria-label="steps done or skipped"></progress>'
    count = f"<span>{now.done} of {len(now.steps)} done or skipped</span>"
    if now.next is None:
        return f'<div class="pr-next"><b>✓ Every step is done or skipped.</b>{bar}{count}</div>'
    step = now.next.step
    return f'<div class="pr-next"><b>Next:</b> <a href="{e(step.notebook)}">{e(step.title)} →</a>{bar}{count}</div>'


def _step_html(now: StepNow, first: bool) -> str:
    sign = with_sign(now.outcome) if now.outcome in SIGNS else ""
    state = "next" if first else now.state
    told = " · ".join(filter(None, (state, sign, now.what)))
    bad = now.outcome == "fail" or now.state == STALE
    return (
        f'<li data-step="{now.step.code}" data-state="{now.state}" data-next="{str(first).lower()}" '
        f'data-bad="{str(bad).lower()}"><span class="pr-sign" aria-hidden="true">{MARKS[now.state]}</span>'
        f'<a href="{e(now.step.notebook)}"><span class="pr-step">{e(now.step.title)}</span>'
        f"<small>{e(told)}</small></a></li>"
    )


def _close_html(now: Progress) -> str:
    if now.closed:
        return '<div class="pr-close">The job is closed.</div>'
    if now.missing:  # the list above shows them one by one
        many, every = len(now.missing), sum(s.step.code != CLOSING for s in now.steps)
        steps = [f"{many} of the {every} steps before closing {'are' if many != 1 else 'is'} neither done nor skipped"]
    else:
        steps = []
    items = "".join(f"<li>{e(x)}</li>" for x in (*steps, *now.to_close[len(now.missing) :]))
    return f'<div class="pr-close"><b>To close the job, still needed:</b><ul>{items}</ul></div>'
