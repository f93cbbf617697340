"""The tightening guide as a state machine: every bolt at every stage, and what may be done next.

    guide = Guide.of(sequence)
    guide = guide.after(Ticked((1, "3")))
    guide = guide.after(Ticked((1, "4"), deviates=True))
    guide.held                      # (1, "4"): nothing goes on until somebody decides
    guide = guide.after(Decided((1, "4"), NEW_BOLT))
    guide.next                      # (1, "4"): the stages of bolt 4 are open again

It knows nothing of screens, records or readings.  Events that come in an unlikely order (two screens, an imported job)
are never refused here; :meth:`Guide.allows` says what a screen may offer.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

Key = tuple[int, str]  # (stage number, bolt)


class State(enum.StrEnum):
    """Where a bolt is at a stage."""

    TO_DO = "to do"
    DONE = "done"
    DEVIATION = "deviation open"  # done otherwise than the programme says, and nobody has decided about it
    LOOSENED = "to do again, loosened"
    NEW_BOLT = "to do again, new bolt"
    REDONE = "redone"


class Decision(enum.StrEnum):
    """What somebody decides about a deviation."""

    CONTINUE = "continue"
    LOOSEN = "loosened"
    NEW_BOLT = "new_bolt"


OPEN = (State.TO_DO, State.LOOSENED, State.NEW_BOLT)
STATE_AFTER = {Decision.LOOSEN: State.LOOSENED, Decision.NEW_BOLT: State.NEW_BOLT}


@dataclass(frozen=True)
class Ticked:
    """A bolt was done at a stage; ``deviates``: otherwise than the programme says."""

    key: Key
    deviates: bool = False


@dataclass(frozen=True)
class Struck:
    """A tick was struck out: not done."""

    key: Key


@dataclass(frozen=True)
class Decided:
    """Somebody decided about a deviation."""

    key: Key
    decision: Decision


Event = Ticked | Struck | Decided


@dataclass(frozen=True)
class Guide:
    """The state of every bolt at every stage of a programme."""

    sequence: tuple[Key, ...]  # in the order of the programme
    cells: Mapping[Key, State]

    @classmethod
    def of(cls, sequence: Iterable[Key], events: Iterable[Event] = ()) -> Guide:
        """The programme after these events, oldest first."""
        keys = tuple(sequence)
        guide = cls(keys, MappingProxyType(dict.fromkeys(keys, State.TO_DO)))
        for event in events:
            guide = guide.after(event)
        return guide

    @property
    def held(self) -> Key | None:
        """The first deviation, in the order of the programme, that nobody has decided about."""
        return next((k for k in self.sequence if self.cells[k] is State.DEVIATION), None)

    @property
    def next(self) -> Key | None:
        """The bolt to do now; None while a deviation holds the guide, and when all is done."""
        return None if self.held else self.first_open

    @property
    def first_open(self) -> Key | None:
        """The first that is not done, in the order of the programme."""
        return next((k for k in self.sequence if self.cells[k] in OPEN), None)

    @property
    def done(self) -> int:
        """How many are done, with or without a deviation."""
        return sum(state not in OPEN for state in self.cells.values())

    @property
    def finished(self) -> bool:
        """All done, and every deviation decided."""
        return self.held is None and self.first_open is None

    def allows(self, event: Event) -> bool:
        """Whether a screen may offer this now."""
        if event.key not in self.cells:
            return False
        state = self.cells[event.key]
        match event:
            case Ticked():
                return state in OPEN and self.held is None
            case Struck():
                return state not in OPEN
            case Decided():
                return state is State.DEVIATION

    def after(self, event: Event) -> Guide:
        """The guide after an event; one for a step that the programme does not have changes nothing."""
        if event.key not in self.cells:
            return self
        cells = dict(self.cells)
        match event:
            case Ticked(key, deviates):
                again = cells[key] in (*STATE_AFTER.values(), State.REDONE)
                cells[key] = State.DEVIATION if deviates else State.REDONE if again else State.DONE
            case Struck(key):
                cells[key] = State.TO_DO
            case Decided(key, Decision.CONTINUE):
                if cells[key] is State.DEVIATION:
                    cells[key] = State.DONE
            case Decided((_, bolt), decision):  # nothing that was done with this bolt counts any more
                for stage, name in self.sequence:
                    if name == bolt and cells[stage, name] is not State.TO_DO:
                        cells[stage, name] = STATE_AFTER[decision]
        return replace(self, cells=MappingProxyType(cells))
