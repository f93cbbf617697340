"""The tightening guide as a state machine, driven at random.  The rules are written here a second time, more slowly."""

import hypothesis.strategies as st
import pytest
from hypothesis import settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from shoplib.topics.tightening.guide_state import OPEN, Decided, Decision, Guide, State, Struck, Ticked

PROGRAMME = [(stage, bolt) for stage in (1, 2, 3) for bolt in ("1", "2", "3")]
DONE = (State.DONE, State.REDONE, State.DEVIATION)


class Machine(RuleBasedStateMachine):
    """A technician, a second screen, and somebody who decides; beside them a slow bookkeeping of every bolt."""

    @initialize(keys=st.permutations(PROGRAMME), stages=st.integers(1, 3))
    def begin(self, keys, stages):
        self.sequence = sorted((k for k in keys if k[0] <= stages), key=lambda k: k[0])
        self.guide, self.events = Guide.of(self.sequence), []
        self.done, self.open, self.reopened = set(), set(), {}

    def happen(self, event):
        self.guide, self.events = self.guide.after(event), [*self.events, event]

    @precondition(lambda self: self.guide.next is not None)
    @rule(deviates=st.booleans())
    def tick_the_next(self, deviates):
        key = self.guide.next
        assert self.guide.allows(Ticked(key))
        assert key == next(k for k in self.sequence if k not in self.done), "in the order of the programme"
        self.tick(key, deviates)

    @rule(data=st.data(), deviates=st.booleans())
    def tick_another(self, data, deviates):
        key = data.draw(st.sampled_from(self.sequence))
        if self.guide.allows(Ticked(key)):
            self.tick(key, deviates)
        else:
            assert self.open or key in self.done

    def tick(self, key, deviates):
        self.happen(Ticked(key, deviates))
        self.done.add(key)
        (self.open.add if deviates else self.open.discard)(key)

    @precondition(lambda self: self.open)
    @rule(data=st.data(), decision=st.sampled_from(Decision))
    def decide(self, data, decision):
        key = data.draw(st.sampled_from(sorted(self.open)))
        before = dict(self.guide.cells)
        self.happen(Decided(key, decision))
        self.open.discard(key)
        if decision is Decision.CONTINUE:
            assert self.guide.cells == before | {key: State.DONE}
            return
        mine = {k for k in self.sequence if k[1] == key[1]}
        assert {k: self.guide.cells[k] for k in self.sequence if k not in mine} == {
            k: v for k, v in before.items() if k not in mine
        }, "no other bolt is touched"
        self.done -= mine
        self.open -= mine

    @precondition(lambda self: self.done)
    @rule(data=st.data())
    def strike(self, data):
        key = data.draw(st.sampled_from(sorted(self.done)))
        assert self.guide.allows(Struck(key))
        self.happen(Struck(key))
        self.done.discard(key)
        self.open.discard(key)

    @invariant()
    def it_agrees_with_the_slow_bookkeeping(self):
        if not hasattr(self, "guide"):
            return
        guide = self.guide
        assert {k for k, s in guide.cells.items() if s in DONE} == self.done
        assert {k for k, s in guide.cells.items() if s is State.DEVIATION} == self.open
        assert guide.done == len(self.done)
        assert (guide.held is None) == (not self.open)
        assert not (guide.held and guide.next), "a deviation holds the guide"
        assert guide.finished == (len(self.done) == len(self.sequence) and not self.open)
        assert (guide.next is None) == (guide.finished or guide.held is not None)
        assert not guide.next or guide.cells[guide.next] in OPEN
        assert Guide.of(self.sequence, self.events) == guide, "the events alone give the state"


TestGuide = Machine.TestCase
TestGuide.settings = settings(max_examples=60, stateful_step_count=30, deadline=None)


# ------------------------------------------------------------------------------ by hand
def test_a_new_bolt_opens_all_its_stages_and_what_is_done_again_is_redone():
    first = [Ticked((1, b)) for b in "123"]
    guide = Guide.of(PROGRAMME, [*first, Ticked((2, "1")), Ticked((2, "2"), deviates=True)])
    assert (guide.held, guide.next, guide.first_open) == ((2, "2"), None, (2, "3"))
    guide = guide.after(Decided((2, "2"), Decision.NEW_BOLT))
    assert guide.cells[1, "2"] is guide.cells[2, "2"] is State.NEW_BOLT
    assert guide.cells[3, "2"] is State.TO_DO, "it was never done"
    assert guide.next == (1, "2")
    guide = guide.after(Ticked((1, "2")))
    assert guide.cells[1, "2"] is State.REDONE
    assert guide.next == (2, "2")


def test_loosened_is_told_apart_from_a_new_bolt():
    guide = Guide.of(PROGRAMME, [Ticked((1, "1"), deviates=True), Decided((1, "1"), Decision.LOOSEN)])
    assert guide.cells[1, "1"] is State.LOOSENED


@pytest.mark.parametrize("event", [Ticked((9, "1")), Struck((9, "1")), Decided((1, "x"), Decision.CONTINUE)])
def test_a_step_that_the_programme_does_not_have_changes_nothing(event):
    guide = Guide.of(PROGRAMME)
    assert not guide.allows(event)
    assert guide.after(event) is guide


def test_nothing_is_decided_about_a_bolt_without_a_deviation():
    guide = Guide.of(PROGRAMME, [Ticked((1, "1"))])
    assert not guide.allows(Decided((1, "1"), Decision.CONTINUE))
    assert guide.after(Decided((1, "1"), Decision.CONTINUE)).cells[1, "1"] is State.DONE
