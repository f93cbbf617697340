"""Save the result of a form to a job, and the content of its boxes as a draft.

The bar is below the answer of every form; it is one line until a job is chosen.  After each change, once the answer is
shown, all boxes are saved in a worker thread, so that no keystroke waits for a disk.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import ipywidgets as W

from shoplib.core.errors import BadInput, Problem
from shoplib.desk.widgets import drafts
from shoplib.desk.widgets.components import button, said, show_errors
from shoplib.desk.widgets.display_text import local
from shoplib.desk.widgets.drafts import RecordSnapshot
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.job_list import IdempotencyKey, JobChooser, in_words
from shoplib.desk.widgets.last_saved import LastSaved
from shoplib.desk.widgets.save_panel import Panel
from shoplib.desk.widgets.session import desk, session
from shoplib.record.errors import NoSuchJob, StoreError
from shoplib.record.jobfile_record import canonical, inputs_body

if TYPE_CHECKING:
    from shoplib.core.working import Result
    from shoplib.desk.widgets.form import Form
    from shoplib.record.job import Entry, Job
    from shoplib.record.store import Draft, Receipt
    from shoplib.record.suggestions import Suggestion

FILL, UNFILL, EMPTY = "Fill with the example", "Restore my entries", "Empty the form"
READ = "shop-keep-read"  # the record was read: the boxes have their final content
SECONDS_TO_RETRY = 5.0  # seconds before another attempt to save a draft


class Keeping(W.VBox):
    """The bar below the answer of a form."""

    def __init__(self, form: Form) -> None:
        self.form = form
        self.given = form.boxes()
        text = json.dumps(self.given, sort_keys=True)
        self.key = f"{form.working.name[:60]}-{hashlib.sha256(text.encode()).hexdigest()[:8]}"
        self.job: Job | None = None
        self.kept: Receipt | None = None  # the last entry saved from this form to this job
        self.awake = False  # only a form on a screen has a draft
        self._last_uid = ""
        self._before: dict[str, Any] = {}  # the boxes before the example was filled in
        self._before_example: list[str] = []  # which of those boxes held the example
        self._waiting = self._writing = self._quiet = False
        self._pressed: dict[str, Any] | None = None  # the boxes when "Save" was pressed, before their result was there
        self._number = self._wanted = ""  # of the job shown here, and of the job being read
        self._once, self._photo_once = IdempotencyKey(), IdempotencyKey()
        self._panel: Panel | None = None
        self._chooser: JobChooser | None = None

        self.title = W.HTML()
        self.choose_button = button("Save this to a job", self.choose, tip="choose a job, or start a new one")
        self.saved = W.HTML()
        self.back = button(FILL, self.toggle_example)
        self.note = W.HTML()
        self.head = W.Box([self.title, self.choose_button, self.back, self.saved])
        self.head.add_class("shop-keep-head")
        self._offered: Any = None  # the state of the job from which the suggestions were made
        for entry in form.entries.values():
            entry.offer.accepted = self._accepted
        self.place = W.VBox([])
        super().__init__([self.head, self.note, self.place])
        self.add_class("shop-keep")
        self.choose_button.add_class("shop-quiet")
        self.back.add_class("shop-quiet")
        self._dress()
        session.call_soon(self.activate)

    # ------------------------------------------------------------------------------ reading the record
    def activate(self) -> None:
        """The form is on the screen: restore its draft and the current job."""
        if self.awake:
            return
        self.awake = True
        session.observe(self._other_job, "number")
        session.observe(self._look_again, "written")
        session.observe(self._other_who, "who")
        if session.anything():
            session.run_in_thread(self._look, self._woken)
        else:
            self.add_class(READ)

    def _look(self) -> RecordSnapshot:
        number = session.number
        if not number and session.trouble:
            return RecordSnapshot("", trouble=session.trouble)
        store = session.store()
        try:
            job = store.job(number) if number else None
        except NoSuchJob as error:
            return RecordSnapshot(number, trouble=str(error))
        return RecordSnapshot(number, job, drafts.find(store, self.key, self.form, number or None))

    def _woken(self, seen: RecordSnapshot | BaseException) -> None:
        seen = self._take(seen)
        if seen.draft is not None:
            self._bring_back(seen.draft, over=False)
        else:
            self._settle()
        self._dress()
        self.add_class(READ)

    def _settle(self) -> None:
        """If nothing was typed: empty with a job open, otherwise the example."""
        if not self.form.own:
            self._put(self._resting(), self.given)

    def _resting(self) -> dict[str, Any]:
        return {n: x.empty for n, x in self.form.entries.items()} if self._number else self.given

    def _put(self, boxes: Mapping[str, Any], example: Collection[str]) -> None:
        """Fill the boxes; this does not count as typing."""
        self._quiet = True
        try:
            self.form.fill(boxes, example)
        finally:
            self._quiet = False

    def _take(self, seen: RecordSnapshot | BaseException) -> RecordSnapshot:
        """What was read, and any error as a message."""
        if isinstance(seen, BaseException):
            seen = RecordSnapshot(self._number, self.job, trouble=in_words(seen))
        self._number, self.job = seen.number, seen.job
        self._tell(seen.trouble)
        return seen

    def _tell(self, trouble: str, words: str = "") -> None:
        self.note.value = said("bad", f"Not saved. {trouble}") if trouble else said("", words)

    def _other_job(self, change: Any) -> None:
        self._wanted = change["new"]
        session.run_in_thread(self._look, lambda seen: self._moved(seen, change["old"]))

    def _moved(self, seen: RecordSnapshot | BaseException, old: Any) -> None:
        """Another job was chosen: show its draft, or keep the present values."""
        seen = self._take(seen)
        self.kept, self._last_uid = None, ""
        if seen.draft is not None:
            self._bring_back(seen.draft, over=True)
        elif not self.form.own:
            self._settle()
        else:
            if seen.number and not old:
                self.remember()  # values typed before a job was chosen belong to that job
            elif seen.number:
                self._tell(
                    "", f"You typed these values for job {old}. Nothing has been typed for job {seen.number} yet."
                )
        if self._panel is not None:
            self._panel.clear()
        self._dress()

    def _look_again(self, _: Any) -> None:
        session.run_in_thread(self._look, self._looked)

    def _looked(self, seen: RecordSnapshot | BaseException) -> None:
        self._take(seen)
        self._dress()

    def _other_who(self, change: Any) -> None:
        if self._panel is not None and self._panel.who.box.value in ("", change["old"]):
            self._panel.who.box.value = session.who

    # ------------------------------------------------------------------------------ drafts
    def changed(self) -> None:
        """The answer is shown.  The saved entry no longer matches the form; save the draft."""
        if self._panel is not None:
            self._panel.ask_again()
            if not self._quiet:
                self._tell_saved()
        self.remember()
        if self._pressed is not None and not self.form.runner.working:
            self._save_what_was_pressed()

    def _tell_saved(self) -> None:
        """Say whether the form still shows the entry that was last saved from it."""
        mine = self._mine(self.job) if self.job is not None else None
        result = self.form.result
        if mine is None or self._panel is None or result is None or not mine.stands:
            return
        same = canonical(inputs_body(result)) == canonical(mine.inputs)
        (self._panel.saved if same else self._panel.outdated)(mine.n, mine.at)

    def remember(self) -> None:
        """Save the content of the form in a worker thread."""
        if not self.awake or self._quiet:
            return
        self._waiting = True
        if not self._writing:
            self._save()

    def _save(self) -> None:
        stands = self._stands()
        self._waiting, self._writing = False, True
        session.run_in_thread(lambda: self._write(stands), self._written)

    def _stands(self) -> dict[str, Any]:
        """Everything that would be lost with the screen; nothing if it is the example."""
        boxes = self.form.boxes()
        bar = self._panel.typed() if self._panel is not None else {}
        if bar.get("who") == session.who:
            bar.pop("who")
        parts = {"bar": bar, "kept": self._last_uid, "before": self._before, "origins": self.form.origins}
        if self._before:
            parts["before_example"] = {"names": self._before_example}
        if self.form.own or boxes not in (self.given, self._resting()):
            parts |= {"boxes": boxes, "example": {"names": self._example()}, "columns": drafts.columns(self.form)}
        return {k: v for k, v in parts.items() if v}

    def _example(self) -> list[str]:
        return [name for name, entry in self.form.entries.items() if entry.filled]

    def _write(self, stands: Mapping[str, Any]) -> RecordSnapshot:
        number, store = session.number, session.store()
        where: dict[str, Any] = {"number": number or None, "desk": desk()}
        if stands:
            saved_at = store.save_draft(self.key, stands, **where)
        else:
            store.drop_draft(self.key, **where)
            saved_at = ""
        glance = store.glance(number) if number else None
        job = self.job
        if glance and (job is None or job.uid != glance.uid or len(job.lines) != glance.lines):
            job = store.job(number)  # another person wrote to it
        last = session.recall()["number"]
        return RecordSnapshot(number, job, None, saved_at, last if last != number else "")

    def _written(self, seen: RecordSnapshot | BaseException) -> None:
        self._writing = False
        if isinstance(seen, BaseException):
            self.saved.value = ""
            self._tell(in_words(seen))
            session.call_soon(self.remember, SECONDS_TO_RETRY)
            return
        if session.trouble:  # the record can be read again: a job may have been remembered
            session.again()
        if seen.number == session.number:
            self._take(seen)
        self.saved.value = drafts.kept_html(seen.saved_at)
        if seen.elsewhere:
            here = f"this notebook uses job {seen.number}" if seen.number else "this notebook uses no job"
            self._tell("", f"Another notebook of this desk uses job {seen.elsewhere}; {here}.")
        self._dress()
        if self._waiting:
            self._save()

    def _bring_back(self, draft: Draft, *, over: bool) -> None:
        """Put a draft into the boxes.  ``over=False``: values typed in the meantime stay."""
        found = {k: v for k, v in draft.inputs.items() if isinstance(v, dict | str)}
        stood = drafts.as_now(self.form, found)
        boxes = {**self._resting(), **stood}
        # a draft of 0.1.0 does not mark the example: any equal value may be the example
        example = drafts.names(found.get("example"), self.given) | (boxes.keys() - stood.keys())
        if not over:
            own = {n for n, x in self.form.entries.items() if x.own}
            boxes |= {n: x.box.value for n, x in self.form.entries.items() if n in own}
            example -= {n for n in own if not self.form.entries[n].filled}
        self._quiet = True
        try:
            self.form.fill(boxes, example)
            self._before, self._last_uid = drafts.mapping(found.get("before")), str(found.get("kept", ""))
            self._before_example = sorted(drafts.names(found.get("before_example"), self.given))
            for name, origin in drafts.origins(found.get("origins")).items():
                if name in self.form.entries and name not in example:
                    self.form.entries[name].offer.restore(origin)
            if self.job is not None and found.get("bar"):
                self._open_panel().restore(drafts.mapping(found.get("bar")))
        finally:
            self._quiet = False
        if stood and boxes != self._resting():
            self._tell("", f"Your entries are restored from the draft of {local(draft.saved_at)}.")

    @property
    def _shows_example(self) -> bool:
        return bool(self.form.borrowed) and not self.form.own

    def toggle_example(self) -> None:
        """Show the example, or restore the typed values: looking at the example loses nothing."""
        if self._shows_example:
            boxes, example = self._before, self._before_example
            self._before, self._before_example = {}, []
            self._put(boxes or {n: x.empty for n, x in self.form.entries.items()}, example)
        else:
            if self.form.own:
                self._before, self._before_example = self.form.boxes(), self._example()
            self._put(self.given, self.given)
        self._tell("")
        self.changed()
        self._dress()

    # ------------------------------------------------------------------------------ what is shown
    def _suggest(self) -> None:
        """Offer what the card and the earlier entries of this job hold; again only when the job has changed."""
        if self.job is self._offered:
            return
        self._offered = self.job
        if self.job is None:
            self.form.suggest({})
            return
        from shoplib.record.suggestions import suggest  # with it come the workings that the card names

        self.form.suggest(suggest(self.job, self.form.working))

    def _accepted(self, found: Suggestion) -> None:
        """A value was accepted; one that completes an earlier entry makes this form its correction."""
        if found.completes and self.job is not None:
            self._open_panel().correct(found.uid, found.completes)
        self.remember()  # the draft also holds the origin

    def _dress(self) -> None:
        """Update the bar."""
        self._suggest()
        self.back.description = FILL if not self._shows_example else UNFILL if self._before else EMPTY
        nothing = all(value is None for value in self.form.given.values())
        self.back.layout.display = "none" if nothing else ""
        job = self.job
        (self.remove_class if job is None else self.add_class)("shop-keep-open")
        if job is None:
            self.title.value, self.choose_button.description = "", "Save this to a job"
            self.title.layout.display = "none"
            if self._panel is not None:
                self._panel.layout.display = "none"
            return
        name = f'Job <b dir="auto">{e(job.number)}</b> <span dir="auto">{e(job.header.get("engine", ""))}</span>'
        closed = " <span>closed</span>" if job.closed else ""
        self.title.value = f'<div class="shop-job">{name}{closed}</div>'
        self.title.layout.display = ""
        self.choose_button.description = "Another job"
        panel = self._open_panel()
        panel.layout.display = ""
        panel.show(job, self._mine(job))
        if not panel.said.value:  # after a restart: what the boxes hold may be saved already
            self._tell_saved()

    def _open_panel(self) -> Panel:
        if self._panel is None:
            self._panel = Panel(self)
            self._arrange()
        return self._panel

    def _arrange(self) -> None:
        self.place.children = [x for x in (self._chooser, self._panel) if x is not None]

    def _mine(self, job: Job) -> Entry | None:
        """The entry that was last saved from this form, in its present version."""
        if not self._last_uid:
            return None
        try:
            return job.chain(self._last_uid)[-1]
        except (KeyError, StopIteration):  # of another job
            return None

    def choose(self) -> None:
        """Open or close the choice of a job."""
        if self._chooser is None:
            self._chooser = JobChooser(self._chosen)
            self._chooser.layout.display = "none"
            self._arrange()
        opening = self._chooser.layout.display == "none"
        self._chooser.layout.display = "" if opening else "none"
        if opening:
            self._chooser.look()

    def _chosen(self, number: str) -> None:
        if self._chooser is not None:
            self._chooser.layout.display = "none"
        if number not in (self._number, self._wanted):  # already set by another notebook: there is no change to report
            self._other_job({"old": "", "new": number})

    # ------------------------------------------------------------------------------ saving to the job
    def keep(self) -> None:
        """Save what the form shows, or say why that is not possible."""
        if not session.number:
            self.choose()
            return
        panel, result = self._open_panel(), self.form.result
        panel.say("")
        marked = [x.field.label for x in self.form.entries.values() if x.error.value]
        borrowed = self.form.borrowed
        panel.ask(borrowed)
        if borrowed:
            said_ = "; ".join(x.borrowed for x in borrowed)
            panel.say(
                "bad",
                f"Nothing was saved. Still the example: {said_}. Type your own, or tick the correct values.",
            )
            return
        if not self.form.own:
            panel.say("bad", "Nothing was saved: nothing is typed yet.")
            return
        if self.form.runner.working:
            self._pressed = self.form.boxes()
            panel.say("", "The result is not calculated yet. It is saved as soon as it is there.")
            return
        if result is None:
            panel.say(
                "bad", f"Nothing was saved. First correct the marked fields: {', '.join(marked) or 'the inputs'}."
            )
            show_errors(panel.entries, ())
            return
        said_so = panel.typed()
        about, sources = panel.about, panel.sources
        problems = panel.problems()
        if problems:
            self._refused(problems)
            return
        common = {"who": said_so.get("who", ""), "title": said_so.get("title", ""), "remark": said_so.get("remark", ""),
                  "when": panel.when_words(), "sources": sources, "condition": panel.condition.value,
                  "origins": {n: {"uid": o["uid"], "take": o["take"]} for n, o in self.form.origins.items()
                              if o["uid"] != about}}  # fmt: skip
        content = (session.number, result.inputs.as_entered, common, about, said_so.get("because", ""))
        there = self._there(result, said_so)
        if there:
            panel.say("bad", f"Already in the job as line {there}. Change a value, or type in the remark what is new.")
            return
        show_errors(panel.entries, ())
        try:
            store, uid = session.store(), self._once.uid(content)
            if about:
                because = said_so.get("because", "")
                kept = store.correct(session.number, about, result, because=because, uid=uid, **common)
            else:
                kept = store.keep(session.number, result, uid=uid, **common)
        except BadInput as error:
            self._refused(error.problems)
            return
        except StoreError as error:
            panel.say("bad", str(error))
            return
        self._once.done()
        self.kept, self._last_uid = kept, kept.uid
        self._saved = LastSaved(session.number, kept.n, canonical(inputs_body(result)), common["condition"])
        panel.done(kept)
        session.who = common["who"].strip()
        session.written += 1
        self.remember()  # also the saved entry, so that a stale flag is shown after a restart

    def _save_what_was_pressed(self) -> None:
        """The result has come; the values must still be those for which "Save" was pressed."""
        pressed, self._pressed = self._pressed, None
        if pressed == self.form.boxes():
            self.keep()
        else:
            self._open_panel().say("bad", "Nothing was saved: the form changed before its result was calculated.")

    _saved: LastSaved | None = None  # by this kernel

    def _there(self, result: Result, said_so: Mapping[str, Any]) -> int:
        """The line that already holds what would be saved; 0 if there is none."""
        mine = self._mine(self.job) if self.job is not None else None
        last = LastSaved.of(session.number, mine) if mine is not None and mine.stands else self._saved
        return last.n if last and last.holds(session.number, inputs_body(result), said_so) else 0

    def _refused(self, problems: Sequence[Problem]) -> None:
        panel = self._open_panel()
        others = show_errors(panel.entries, problems)
        why = "\n" + "\n".join(map(str, others)) if others else " See the marked fields."
        panel.say("bad", f"Nothing was saved.{why}")
        if {p.field for p in problems} - {"who", "remark"}:
            panel.unfold()

    def attach(self, raw: bytes, caption: str) -> str:
        """Attach a photograph to the entry just saved; return the confirmation."""
        assert self.kept is not None
        who = self._panel.who.box.value if self._panel is not None else ""
        content = (session.number, self.kept.uid, hashlib.sha256(raw).digest(), who, caption)
        kept = session.store().attach(
            session.number,
            self.kept.uid,
            raw,
            who=who or session.who,
            caption=caption,
            uid=self._photo_once.uid(content),
        )
        self._photo_once.done()
        session.written += 1
        return f"Photograph saved as line {kept.n} at {local(kept.at)[11:]}, with line {self.kept.n}."

    def correct_last(self) -> None:
        """The present values correct the entry that was last saved from this form."""
        mine = self._mine(self.job) if self.job is not None else None
        if mine is not None:
            self._open_panel().say("")
            self.correct(mine.uid)

    def correct(self, uid: str) -> None:
        """The present values correct that entry."""
        self._open_panel().correct(uid)
