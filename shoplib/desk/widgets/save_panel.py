"""Details of an entry when it is saved: who, remark, new or correction, sources, and when the work was done."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import ipywidgets as W

from shoplib.core.errors import Problem
from shoplib.desk.widgets.components import button, condition_choice, said, text_box
from shoplib.desk.widgets.display_text import local
from shoplib.desk.widgets.photo import PhotoBox
from shoplib.desk.widgets.session import session
from shoplib.record.extra_fonts import warnings_of
from shoplib.record.outcomes import CONDITION_WORDS

if TYPE_CHECKING:
    from shoplib.desk.widgets.input_field import Entry as FormEntry
    from shoplib.desk.widgets.save_bar import Keeping
    from shoplib.record.job import Entry, Job
    from shoplib.record.store import Receipt

LONGEST = 80  # characters of an entry in a list to choose from
NEW = "a new entry"


class Panel(W.VBox):
    """The part of the bar that is shown once a job is chosen."""

    def __init__(self, bar: Keeping) -> None:
        self._bar = bar
        self._picked: dict[
            str, bool
        ] = {}  # sources that the user ticked or unticked; a correction keeps the other sources
        self._proposed: list[str] = []
        self._boxes: dict[str, Any] = {}  # uid → its checkbox, once the list was opened
        self._job: Job | None = None
        self.who = text_box("who", "Who", session.who, example='"A. Learner"')
        self.remark = text_box("remark", "Remark", required=False)
        self.because = text_box("because", "Reason for the correction", help="stays in the record", example='"misread"')
        self.name = text_box("title", "Title", required=False, example=f'"{bar.form.working.title}"')
        self.when = text_box("when", "Actually done at", required=False, help="if it was first written on paper",
                             example="2026-11-24 16:30")  # fmt: skip
        self.by = text_box("by", "Transcribed by", required=False, help="if a different person did the work",
                           example='"B. Teacher"')  # fmt: skip
        self.entries = {x.field.name: x for x in (self.who, self.remark, self.because, self.name, self.when, self.by)}
        self.kind = W.Dropdown(options=[(NEW, "")])
        self.kind.description_allow_html = True
        self.kind.description = '<span class="shop-label">Save as</span>'
        self.kind.add_class("shop-keep-kind")
        self.condition = condition_choice()
        self.stale = W.HTML()
        self.fields = W.Box([self.who, self.remark, self.condition])
        self.go = button("Save to the job", bar.keep, main=True)
        self.fix = button("", lambda: bar.correct_last(), tip="the changed values replace those that were saved")
        self.said = W.HTML()
        self.bottom = W.Box([self.go, self.fix, self.said])
        self.asked = W.VBox([])  # which values of the example are correct for this job
        self.asked.add_class("shop-keep-sources")
        self.asked.add_class("shop-keep-asked")
        self.asked.layout.display = "none"
        self.how_words = W.HTML()
        self.how_button = button("Change", self._unfold, tip="correction, sources, time, title")
        self.how_line = W.Box([self.how_words, self.how_button])
        self.from_head = W.HTML('<span class="shop-label">Calculated from</span>')
        self.from_list = W.VBox([])
        self.how = W.Box([self.kind, self.because, self.from_head, self.from_list, self.name, self.when, self.by])
        self.how.layout.display = "none"
        self.photo: PhotoBox | None = None
        self.photo_place = W.VBox([])
        for box, name in ((self.fields, "shop-keep-who"), (self.how, "shop-fields"), (self.bottom, "shop-keep-row"),
                          (self.how_line, "shop-keep-row"), (self.how_line, "shop-keep-how"),
                          (self.from_list, "shop-keep-sources"), (self.from_list, "shop-wide"),
                          (self.from_head, "shop-wide"), (self.kind, "shop-wide")):  # fmt: skip
            box.add_class(name)
        super().__init__([self.stale, self.fields, self.bottom, self.asked, self.how_line, self.how, self.photo_place])
        self.add_class("shop-keep-panel")
        self.because.layout.display = self.fix.layout.display = "none"
        self.kind.observe(self._kind_changed, "value")
        for box in (self.condition, *(entry.box for entry in self.entries.values())):
            box.observe(lambda _: bar.remember(), "value")

    # ------------------------------------------------------------------------------ its content
    @property
    def about(self) -> str:
        """The uid of the entry to correct, or "" for a new entry."""
        return str(self.kind.value or "")

    @property
    def sources(self) -> list[str]:
        """The uids of the entries from which this one is computed, as the user ticked them."""
        uids = [e.uid for e in self._job.current_entries if e.uid != self.about] if self._job else []
        return [uid for uid in uids if self._picked.get(uid, uid in self._proposed)]

    def typed(self) -> dict[str, Any]:
        """The content of the boxes, without empty ones."""
        found = {name: entry.box.value for name, entry in self.entries.items()}
        return {k: v for k, v in {**found, "about": self.about, "picked": dict(self._picked),
                                   "condition": self.condition.value}.items() if v}  # fmt: skip

    def restore(self, bar: Mapping[str, Any]) -> None:
        """Restore the typed values."""
        for name, entry in self.entries.items():
            if isinstance(bar.get(name), str):
                entry.box.value = bar[name]
        if bar.get("condition") in CONDITION_WORDS:
            self.condition.value = bar["condition"]
        picked = bar.get("picked")
        self._picked = {str(k): bool(v) for k, v in picked.items()} if isinstance(picked, dict) else {}
        self._wanted = str(bar.get("about", ""))
        if self.when.box.value or self.by.box.value or self.name.box.value:
            self.unfold()

    _wanted = ""  # the entry to correct, as soon as the list contains it

    def problems(self) -> list[Problem]:
        """Checks that the record itself cannot make: a valid time, and who wrote it down."""
        when, by = self.when.box.value.strip(), self.by.box.value.strip()
        if by and not when:
            return [Problem("when", "type when the work was actually done", "2026-11-24 16:30")]
        if when and not _is_time(when):
            return [Problem("when", "is not a date and time. Type year-month-day first", "2026-11-24 16:30")]
        return []

    def when_words(self) -> str:
        """As saved in the record: when the work was done, and who copied it later."""
        when, by = self.when.box.value.strip(), self.by.box.value.strip()
        return f"{when}, transcribed by {by}" if by else when

    # ------------------------------------------------------------------------------ what is shown
    def show(self, job: Job, mine: Entry | None) -> None:
        """Show the job as it is now; ``mine`` is the entry last saved from this form."""
        name = self._bar.form.working.name
        same = [x for x in reversed(job.current_entries) if x.kind == "entry" and x.form == name]
        wanted = self._wanted or self.about
        if job is not self._job:  # not on every keystroke
            self._job = job
            self.kind.options = options = [(NEW, ""), *((f"a correction of {_in_a_line(x)}", x.uid) for x in same)]
        else:
            options = list(self.kind.options)
        if wanted in [uid for _, uid in options] and self.kind.value != wanted:
            self.kind.value = wanted
        self._wanted = ""
        self.kind.layout.display = "" if same else "none"
        self._propose(job)
        self._tell()
        self.stale.value = said("bad", _stale_words(job, mine)) if mine is not None and mine.stale else ""

    def _propose(self, job: Job) -> None:
        """A correction has the same sources, in their present versions; for a new entry nothing is guessed."""
        from shoplib.record.history import rework_plan

        old = next((x for x in job.current_entries if x.uid == self.about and not x.sources_assumed), None)
        self._proposed = rework_plan(job, old).sources if old is not None else []

    def _tell(self) -> None:
        """Show in one line how the entry will be saved."""
        job = self._job
        others = [x for x in job.current_entries if x.uid != self.about] if job else []
        chosen = set(self.sources)
        names = "; ".join(f"line {x.n}, {x.title}"[:LONGEST] for x in others if x.uid in chosen)
        old = next((x for x in job.current_entries if x.uid == self.about), None) if job else None
        what = f"A correction of line {old.n}" if old else "A new entry"
        source = f", calculated from {names}" if names else ""
        self.how_words.value = said("", f"{what}{source}.")
        self.from_head.layout.display = self.from_list.layout.display = "" if others else "none"
        if self.how.layout.display != "none":
            self._list_sources(others)

    def _list_sources(self, others: list[Entry]) -> None:
        for entry in others:
            if entry.uid not in self._boxes:
                box = W.Checkbox(indent=False)
                box.observe(lambda change, uid=entry.uid: self._tick(uid, change["new"]), "value")
                self._boxes[entry.uid] = box
        chosen = set(self.sources)
        self._quiet = True
        for entry in others:
            self._boxes[entry.uid].description = _in_a_line(entry)
            self._boxes[entry.uid].value = entry.uid in chosen
        self._quiet = False
        self.from_list.children = [self._boxes[x.uid] for x in reversed(others)]

    _quiet = False

    def _tick(self, uid: str, value: bool) -> None:
        if not self._quiet:
            self._picked[uid] = value
            self._tell()
            self._bar.remember()

    def unfold(self, shown: bool = True) -> None:
        """Show or hide the seldom used boxes."""
        self.how.layout.display = "" if shown else "none"
        self.how_button.description = "Done" if shown else "Change"
        self._tell()

    def _unfold(self) -> None:
        self.unfold(self.how.layout.display == "none")

    def _kind_changed(self, _: Any) -> None:
        self.because.layout.display = "" if self.about else "none"
        if self.about:
            self.fix.layout.display = "none"
        self.go.description = "Save the correction" if self.about else "Save to the job"
        old = next((x for x in self._job.current_entries if x.uid == self.about), None) if self._job else None
        if old is not None and not self.condition.value:
            self.condition.value = str(old.condition or "")
        if self._job is not None:
            self._propose(self._job)
        self._tell()
        self._bar.remember()

    def correct(self, uid: str, because: str = "") -> None:
        """The values in the form correct that entry; ``because`` is proposed where no reason is typed."""
        self._wanted = uid
        self.because.box.value = self.because.box.value or because
        self.unfold()
        if uid in [value for _, value in self.kind.options]:
            self.kind.value, self._wanted = uid, ""

    def ask(self, borrowed: Sequence[FormEntry]) -> None:
        """A checkbox for each input that still contains the example."""
        boxes = []
        for entry in borrowed:
            value = "" if entry.field.kind == "table" else f": {entry.field.spoken(entry.typed)}"
            box = W.Checkbox(
                indent=False, description=f"{entry.borrowed}{value}"[:LONGEST] + " is correct for this job"
            )
            box.observe(lambda _, entry=entry: self._bar.form.confirm(entry), "value")
            boxes.append(box)
        self.asked.children = boxes
        self.asked.layout.display = "" if boxes else "none"

    def ask_again(self) -> None:
        """Do not ask for values that were typed or confirmed in the meantime."""
        if self.asked.children:
            self.ask(self._bar.form.borrowed)
            if not self.asked.children:
                self.say("")

    def say(self, state: str, words: str = "") -> None:
        """Show the answer to the button."""
        self.said.value = said(state, words)

    def done(self, kept: Receipt) -> None:
        """The entry is saved."""
        self.fix.layout.display = "none"
        again = " It was already there." if kept.again else ""
        told = [f"Saved as line {kept.n} at {local(kept.at)[11:]}.{again}"]
        typed = {x.field.label: x.box.value for x in (self.remark, self.because, self.name, self.when)}
        typed |= {x.field.label: x.typed for x in self._bar.form.entries.values()}
        self.say("good", " ".join(told + warnings_of(typed)))
        for entry in (self.remark, self.because, self.name, self.when):
            entry.box.value = ""
        self._picked = {}
        self.kind.value = self.condition.value = ""
        self.unfold(False)
        if self.photo is None:
            self.photo = PhotoBox(self._bar.attach)
            self.photo_place.children = [self.photo]
        self.photo.layout.display = ""
        self.photo.pick.words = f"Photograph for line {kept.n}"

    def saved(self, n: int, at: str) -> None:
        """The form shows what that line holds."""
        self.fix.layout.display = "none"
        self.say("good", f"Saved as line {n} at {local(at)[11:]}.")

    def outdated(self, n: int, at: str) -> None:
        """The form no longer matches the saved entry: what is typed may be new, or a correction."""
        if self.about:
            return
        self.fix.description = f"Correct line {n}"
        self.fix.layout.display = ""
        held = f"Saved as line {n} at {local(at)[11:]}"
        self.say("", f"{held}. The form has changed since. Save a new entry, or correct line {n}.")

    def clear(self) -> None:
        """Another job: remove the messages of the last one."""
        self.say("")
        self.fix.layout.display = "none"
        self._picked, self._wanted = {}, ""
        self.kind.value = self.condition.value = ""
        if self.photo is not None:
            self.photo.layout.display = "none"


def _is_time(text: str) -> bool:
    try:
        datetime.datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


def _in_a_line(entry: Entry) -> str:
    """Its number, title and finding, so that two entries of one working can be told apart."""
    from shoplib.record.history import findings

    found = findings(entry, 1)
    name = entry.title if entry.title in found else f"{entry.title}: {found}" if found else entry.title
    short = name if len(name) <= LONGEST else f"{name[:LONGEST]}…"
    return f"line {entry.n}, {short} ({entry.who[:20]}, {local(entry.at)[5:16]})"


def _stale_words(job: Job, entry: Entry) -> str:
    from shoplib.record.history import rework_plan

    told = [x if x.endswith(".") else f"{x}." for x in rework_plan(job, entry).said]
    return "\n".join(
        [f"Line {entry.n}, saved from this form, is stale: {entry.stale[0]}.", *told,
         f"Recalculate it here, and save it as a correction of line {entry.n}."]
    )  # fmt: skip
