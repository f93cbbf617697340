"""The tightening guide: one bolt in one stage at a time, in large type.  Each tick is saved; work resumes at that bolt.

``Guide()`` in a notebook uses the tightening plan of today's job, ``Guide("loosening_plan")`` its loosening plan.  It
decides nothing: the state machine :mod:`shoplib.topics.tightening.guide_state` says what comes next and what holds it,
:mod:`shoplib.record.tightening` gives the ticks, and the working ``stage_reading`` judges a reading.  No clamp load is
shown here: people would use it to equalise the bolts.
"""

from __future__ import annotations

import math
import time
import uuid
from typing import Any

import ipywidgets as W

from shoplib.core.errors import BadInput
from shoplib.desk import STATIC
from shoplib.desk.widgets.form import CSS as FORM_CSS
from shoplib.desk.widgets.guide_screen import GuideScreen
from shoplib.desk.widgets.guide_words import (
    NO_JOB,
    NO_PLAN,
    asks_for,
    clock,
    felt_wrong,
    initials_of,
    name_of,
    shown_with_unit,
    told,
    with_unit,
)
from shoplib.desk.widgets.root_widget import RootWidget
from shoplib.desk.widgets.session import desk, session
from shoplib.desk.widgets.static_fallback import StaticFallback
from shoplib.record.errors import Refused, StoreError
from shoplib.record.guide_progress import guide_of
from shoplib.record.job import Job
from shoplib.record.open_points import points_of
from shoplib.record.ticks import (
    ACTIONS,
    LOOSENING_PLAN,
    OUT_OF_ORDER,
    REPLACED,
    TIGHTENING_PLAN,
    as_programme,
    code_of_action,
    join_reading,
)
from shoplib.record.tightening import Key, NoPlan, logged, plans, progress_of
from shoplib.topics import get
from shoplib.topics.tightening.guide_state import Decision
from shoplib.topics.tightening.tightening_plan import PlannedStage

CSS = FORM_CSS + (STATIC / "guide.css").read_text(encoding="utf-8")
MEMORY = {  # plan → the name of the draft that holds initials and plan
    TIGHTENING_PLAN: "tightening_guide", LOOSENING_PLAN: "loosening_guide",
}  # fmt: skip
SECONDS_BETWEEN_PRESSES = 0.8  # seconds between two presses that both count


class Guide(GuideScreen, StaticFallback, W.VBox):
    """One bolt in one stage at a time, by the plan of today's job."""

    def __init__(self, plan: str = TIGHTENING_PLAN, *, quiet: float = SECONDS_BETWEEN_PRESSES) -> None:
        self._form = plan
        self._quiet, self._pressed = quiet, -math.inf
        self._job = self._root = ""  # what the screen shows; a plan by its first line, so a corrected plan is the same
        self._soft = False
        self._uids: dict[Any, str] = {}  # of ticks and decisions that the record has not confirmed
        self._log, self._points = {}, []
        self._filling = False
        self.make(self.decide, self.read_again)
        super().__init__([RootWidget(CSS), self.head, self.progress, self.desk])
        self.add_class("shop")
        self.add_class("tg")
        self._connect()
        self.refresh()

    def _connect(self) -> None:
        self.done.on_click(lambda _: self.press())
        self.soft.on_click(lambda _: self.went_soft())
        self.record.on_click(lambda _: self.tick())
        self.back.on_click(lambda _: self.go_back())
        self.strike.on_click(lambda _: self.strike_it())
        self.look.on_click(lambda _: self.refresh())
        self.unit.on_click(lambda _: self.press())
        for text in (self.value, self.peak, self.reason, self.action, self.because):
            text.on_msg(lambda _, content, __: self.tick() if content.get("event") == "submit" else None)  # Enter
        for text in (self.value, self.paper):
            text.observe(lambda _: self.name_buttons(), "value")
        self.other.observe(self._chosen, "value")
        self.correct.observe(self._chosen, "value")
        self.plan.observe(self._plan_chosen, "value")
        self.initials.observe(self._initials_typed, "value")
        session.observe(lambda _: self.refresh(), ["number", "written"])

    # ------------------------------------------------------------------------------ reading the record
    def refresh(self) -> None:
        """Read the record again and show the progress of the tightening."""
        self._filling = True
        try:
            self._look()
        except (StoreError, NoPlan) as error:
            self.show_stopped(str(error))
        finally:
            self._filling = False

    def _look(self) -> None:
        number = session.number
        if not number:
            self.show_stopped(f"{session.trouble} {NO_JOB}".strip())
            return
        store = session.store()
        job = store.job(number)
        found = plans(job, self._form)
        if not found:
            self.show_stopped(NO_PLAN[self._form].format(number))
            return
        kept = store.draft(MEMORY[self._form], desk=desk())
        remembered = kept.inputs if kept else {}
        if not self.initials.value:
            self.initials.value = str(remembered.get("initials", "")) or initials_of(session.who, job.header)
        wanted = self.plan.value or remembered.get("plan")
        by_root = {u.uid: p.uid for p in found for u in job.chain(p.uid)}
        names = [(f"{p.title} ({p.n})" if len(found) > 1 else p.title, p.uid) for p in found]
        self.plan.options = names
        chosen = by_root.get(str(wanted))
        if chosen is None:  # the first plan that is not finished
            chosen = next((p.uid for p in found if progress_of(job, p.uid).next is not None), found[-1].uid)
        self.plan.value = chosen
        self.plan.layout.display = "" if len(found) > 1 else "none"
        self.now, self._log = progress_of(job, chosen), logged(job)
        self.states = guide_of(job, self.now)
        self._points = [p for p in points_of(job, self.now.plan) if p.status in ("deviation", "fail", "undecided")]
        self._still_the_same(job, job.chain(chosen)[0].uid)
        self.show_all()

    def _still_the_same(self, job: Job, root: str) -> None:
        """What was typed for one job, plan or bolt never counts for another."""
        assert self.now is not None
        assert self.states is not None
        if self._root not in ("", root):
            self._take_off("The screen now shows another plan.", *([self.paper] if job.uid != self._job else []))
        elif self._asked is not None and self._asked not in self.now.sequence:
            self._take_off(f"The plan no longer has bolt {self._asked[1]} in stage {self._asked[0]}.")
        elif self._correcting and self._asked not in self.now.correctable:
            self._take_off("The tick that you were correcting is no longer valid.", always=True)
        elif self._asked is not None and self.states.held and not self._correcting:
            self._take_off("First decide about the deviation.")
        self._job, self._root = job.uid, root
        before, self.at = self.at, self._asked or self.states.held or self.states.next
        if before is not None and before != self.at:
            asked, correcting = self._asked, self._correcting
            self._take_off(f"Bolt {before[1]} was ticked on another screen.")
            self._asked, self._correcting = asked, correcting

    def _take_off(self, why: str, *more: Any, always: bool = False) -> None:
        """Text typed for one bolt never counts for another: clear it, and say so."""
        typed = "; ".join(text.value.strip() for text in (*self.texts, *more) if text.value.strip())
        self._clear()
        for text in more:
            text.value = ""
        if typed:
            self.said.wait(f"{why} Your entry “{typed}” was cleared.")
        elif always:
            self.said.wait(why)

    # ------------------------------------------------------------------------------ what the buttons do
    def tick(self) -> None:
        """Record the bolt on the screen, as typed or to specification; the screen says when it is saved."""
        stage = self.stage
        if self.now is None or self.at is None or stage is None or self.holding or self._too_quick():
            return
        value, peak = self.value.value.strip(), self.peak.value.strip() if stage.peak else ""
        offered = with_unit(value, stage)
        if offered:
            self.said.bad(f"“{value}” has no unit. Press “{shown_with_unit(offered)}?” if that is what you read.")
            return
        try:
            deviation = self._deviation(stage, value, peak)
        except BadInput as error:
            self.said.bad(told(error))
            return
        if not self.initials.value.strip():
            self.said.bad("Type your initials first, for example AL. They are recorded with every tick.")
            return
        reason, action = self.reason.value.strip(), self.action.value.strip()
        if deviation and not (reason and action):
            if self.asks.value and self.reason.layout.display == "":
                self.said.bad("Type the reason and what you did about it. Both are recorded with this tick.")
            else:
                self.said.clear()  # the message of an earlier attempt
            self._asking = asks_for(deviation, stage.stage.kind)
            self.show_panel()
            return
        if self._correcting and not (value or self._soft):
            self.said.bad("Type the correct reading, or strike the tick out if it was not done.")
            return
        if self._correcting and not self.because.value.strip():
            self.said.bad("Type the reason under “Reason for the correction”. It stays in the record.")
            return
        old = self.now.correctable.get(self.at) if self._correcting else self.now.earlier(self.at)
        code = "" if old is None or self._correcting else self.now.why_again(self.at)
        because = self.because.value.strip() if self._correcting else f"{REPLACED[code]}: {stage.what}" if code else ""
        said = join_reading(value or (felt_wrong(stage.stage.kind) if self._soft else as_programme(stage)), peak)
        self._keep_tick(stage, self.at[1], {
            "value": said, "deviation": deviation, "reason": reason if deviation else "",
            "action": action if deviation else "", "replaces": old.uid if old else None, "because": because,
            "when": self._transcribed(), "because_code": code,
            "action_code": code_of_action(action) if deviation else "",
        })  # fmt: skip

    def _keep_tick(self, stage: PlannedStage, bolt: str, content: dict[str, Any]) -> None:
        assert self.now is not None
        key = (stage.number, bolt)
        mark = (self.now.plan.uid, key, content["replaces"] or "")
        uid = self._uids.setdefault(mark, uuid.uuid4().hex)
        self.said.wait("Saving …")
        try:
            kept = session.store().tick(
                session.number, programme=self.now.plan.uid, stage=stage.number, bolt=bolt,
                initials=self.initials.value.strip(), uid=uid, **content,
            )  # fmt: skip
        except BadInput as error:
            self.said.bad(f"Not saved: {told(error)}")
            return
        except Refused as error:
            self._refused(error, key, uid)
            return
        except StoreError as error:
            self._pressed = -math.inf
            self.said.bad(f"Not saved: {error} Your entry is still here. Press again to send the same tick.")
            return
        self._uids.pop(mark, None)
        before = set(self.now.looks)
        self._saved()
        self.show_stop_and_look(before)
        again = ", already in the record" if kept.again else ""
        self.said.good(f"saved as line {kept.n}, {clock(kept.at)}{again} · {name_of(stage, bolt)}: {content['value']}"
                  + (f" · recorded: {content['deviation']}" if content["deviation"] else ""))  # fmt: skip

    def _saved(self) -> None:
        """The record has confirmed it: the next step."""
        self._pressed = time.monotonic()  # ignore a second press made during saving
        self._clear()
        self._remember()
        session.written += 1  # update this screen and every form of this kernel

    def _refused(self, error: Refused, key: Key, uid: str) -> None:
        """Another person was quicker, or an earlier attempt was saved after all: say what is recorded now."""
        typed = self.value.value
        self.refresh()
        there = self.now.ticked.get(key) if self.now else None
        if there is None:
            self.said.bad(f"Not saved: {error}")
            return
        mine = there.uid == uid
        self._uids = {k: v for k, v in self._uids.items() if v != uid}
        self._clear()
        self.refresh()
        did = f"already {'saved' if mine else 'ticked'} by {there.initials} at {clock(there.at)}: {there.value}"
        say = self.said.good if mine and not typed else self.said.bad
        say(f"{there.title} was {did}. That tick is valid; correct it below if it is wrong.")

    def decide(self, decision: Decision) -> None:
        """Somebody decides about the deviation that holds the guide; the decision is recorded with name and reason."""
        if not (self.now and self.at and self.holding) or self._too_quick():
            return
        tick, by, because = self.now.correctable[self.at], self.held.by.value.strip(), self.held.because.value.strip()
        goes_on = decision is Decision.CONTINUE
        if not by:
            self.said.bad("Type under “Who decides” the name of the person who decides.")
            return
        if goes_on and not because:
            self.said.bad("Type under “Reason for the decision” why the bolt may stay as it is.")
            return
        mark = ("decision", tick.uid, decision, by, because)
        uid = self._uids.setdefault(mark, uuid.uuid4().hex)
        try:
            kept = session.store().decide(
                session.number, f"tick/{tick.uid}", decision="accepted" if goes_on else "resolved", by=by,
                because=because or ACTIONS[decision], who=self.initials.value.strip() or by,
                reopens="" if goes_on else str(decision), uid=uid,
            )  # fmt: skip
        except BadInput as error:
            self.said.bad(f"Not saved: {told(error)}")
            return
        except StoreError as error:
            self.said.bad(f"Not saved: {error}")
            return
        self._uids.pop(mark, None)
        self._saved()
        does = "continue" if goes_on else f"{ACTIONS[decision]}: its stages are open again"
        self.said.good(f"decided by {by}, line {kept.n}: bolt {tick.bolt}: {does}")

    def read_again(self) -> None:
        """The reading that holds the guide is typed again: the step was finished, or it was misread."""
        if self.holding:
            self._asked, self._correcting = self.at, True
            self.refresh()

    def press(self) -> None:
        """Record what the button names; a bare number is then in the unit that it names."""
        typed = self.value.value.strip()
        self.value.value = (with_unit(typed, self.stage) if self.stage else "") or self.value.value
        self.tick()

    def went_soft(self) -> None:
        """The bolt turned without getting tighter, or felt wrong: ask for reason and action."""
        if self.stage is not None:
            kind = self.stage.stage.kind
            self._soft, self._asking = True, asks_for(felt_wrong(kind), kind)
            self.said.clear()
            self.show_panel()

    def strike_it(self) -> None:
        """Strike out the tick on the screen, with the reason; the bolt must be done again."""
        if not (self.now and self.at and self._correcting):
            return
        if not self.because.value.strip():
            self.said.bad("Type the reason under “Reason for the correction”, then strike the tick out.")
            return
        old = self.now.correctable[self.at]
        try:
            session.store().strike(session.number, old.uid, who=self.initials.value.strip() or session.who,
                                   because=self.because.value.strip())  # fmt: skip
        except (StoreError, BadInput) as error:
            self.said.bad(f"Not saved: {told(error)}")
            return
        self._clear()
        session.written += 1
        self.said.good(f"struck out: {old.title} must be done again")

    def go_back(self) -> None:
        """Cancel, and show the next bolt of the plan."""
        self._clear()
        self.said.clear()
        self.refresh()

    # ------------------------------------------------------------------------------ smaller things
    def _deviation(self, stage: PlannedStage, value: str, peak: str) -> str:
        """The deviation from the programme, in words; raises BadInput for input that cannot be read."""
        assert self.now is not None
        if peak:
            get("peak_torque")(readings=[peak])
        found = [felt_wrong(stage.stage.kind)] if self._soft else []
        if value and stage.stage.value is not None:
            get("stage_reading")(stage=stage.stage.as_entered, reading=value)  # raises if it cannot be read
            judged = self.now.judge(stage, value)
            found += [judged.words] if judged.code == "fail" else []
        if self.skips():
            assert self.at is not None
            left = self.now.before(self.at)
            found.append(f"{OUT_OF_ORDER}: before " + "; ".join(name_of(self.now.stage(n), b) for n, b in left[:6])
                         + (" …" if len(left) > 6 else ""))  # fmt: skip
        return "; ".join(found)

    def _transcribed(self) -> str:
        """When the work was done, if a paper sheet is copied later; the record itself has the time of typing."""
        when = self.paper.value.strip()
        return f"{when}, transcribed by {session.who or self.initials.value.strip()}" if when else ""

    def _too_quick(self) -> bool:
        """Two quick presses count once, and so does a key held down."""
        now, before = time.monotonic(), self._pressed
        self._pressed = now
        if now - before >= self._quiet:
            return False
        self.said.wait("Pressed twice, counted once.")
        return True

    def _chosen(self, change: Any) -> None:
        if self._filling or not change["new"]:
            return
        self.said.clear()
        self._take_off(f"You left bolt {self.at[1]}." if self.at else "Another bolt was chosen.")
        self._asked, self._correcting = change["new"], change["owner"] is self.correct
        self.refresh()

    def _plan_chosen(self, _: Any) -> None:
        if self._filling:
            return
        self.said.clear()
        self._take_off("Another plan was chosen.")
        self._remember()
        self.refresh()

    def _clear(self) -> None:
        self._asked, self._correcting, self._soft, self._asking = None, False, False, ""
        for text in self.texts:
            text.value = ""

    def _initials_typed(self, change: Any) -> None:
        """On every keystroke: a kernel that ends before the box is left has not lost them."""
        if not self._filling and self.held.by.value in ("", str(change.old).strip()):  # nobody else is named there
            self.held.by.value = self.initials.value.strip()
        self._remember()

    def _remember(self) -> None:
        """Save initials and plan for the next kernel of this desk."""
        if self._filling or self.now is None:
            return
        kept = {"initials": self.initials.value.strip(), "plan": self.plan.value or ""}
        try:
            session.store().save_draft(MEMORY[self._form], kept, desk=desk())
        except (StoreError, BadInput) as error:
            self.said.bad(f"Your initials could not be saved: {told(error)}")
