"""Mixed review: exercises of earlier topics return after days, in mixed order.

Who answers right at the first try sees the exercise again after a longer time; who does not, on the next day.  Growing
intervals and mixed topics: common practice in teaching, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from shoplib.teaching.exercise import Exercise

DAYS = (1, 3, 7, 14, 30, 60)  # until an exercise comes back, by how often it was right in a row
MOST_A_DAY = 6  # questions
NEW_A_DAY = 3  # exercises that were never asked before


@dataclass(frozen=True)
class Seen:
    """How often in a row an exercise was right at the first try, and the day on which it is due, as a number."""

    level: int
    due: int


@dataclass(frozen=True)
class Schedule:
    """What comes back when.  It never changes; ``answered`` returns another one."""

    seen: Mapping[str, Seen] = field(default_factory=dict)

    def answered(self, name: str, right: bool, today: date) -> Schedule:
        """After the first answer to an exercise of today."""
        before = self.seen.get(name)
        level = min((before.level if before else 0) + 1, len(DAYS)) if right else 0
        days = DAYS[max(level - 1, 0)]
        return replace(self, seen={**self.seen, name: Seen(level, today.toordinal() + days)})

    def today(self, exercises: Iterable[Exercise], today: date) -> tuple[Exercise, ...]:
        """The exercises of this day: those due, longest overdue first, then new ones; neighbours differ in topic."""
        every = list(exercises)
        due = [e for e in every if e.name in self.seen and self.seen[e.name].due <= today.toordinal()]
        due.sort(key=lambda e: self.seen[e.name].due)
        due = due[: MOST_A_DAY - any(e.name not in self.seen for e in every)]  # one place is for a new exercise
        topics = list(dict.fromkeys(e.topic for e in every))
        rank = {topic: sum(e.topic == topic and e.name in self.seen for e in every) for topic in topics}
        fresh: list[Exercise] = []
        for _ in range(min(NEW_A_DAY, MOST_A_DAY - len(due))):
            left = [e for e in every if e.name not in self.seen and e not in fresh]
            if not left:
                break
            fresh.append(min(left, key=lambda e: rank[e.topic] + sum(f.topic == e.topic for f in fresh)))
        return _mixed([*due, *fresh])

    def next_day(self) -> date | None:
        """The first day on which something is due; None if nothing was asked yet."""
        return date.fromordinal(min(s.due for s in self.seen.values())) if self.seen else None

    def record(self) -> dict[str, Any]:
        """As plain values."""
        return {"seen": {name: [s.level, s.due] for name, s in self.seen.items()}}


def _mixed(exercises: list[Exercise]) -> tuple[Exercise, ...]:
    """The same exercises; two of one topic follow each other only if no other topic is left."""
    left = list(exercises)
    found: list[Exercise] = []
    while left:
        other = [e for e in left if not found or e.topic != found[-1].topic]
        count = {e.topic: sum(x.topic == e.topic for x in left) for e in left}
        chosen = max(other or left, key=lambda e: count[e.topic])
        left.remove(chosen)
        found.append(chosen)
    return tuple(found)


def restored_schedule(record: Mapping[str, Any], known: Iterable[str]) -> Schedule:
    """The schedule of a record.  What cannot be read, and exercises that no longer exist, are left out."""
    stored, names = record.get("seen"), set(known)
    found = {}
    for name, value in stored.items() if isinstance(stored, Mapping) else ():
        whole = isinstance(value, list | tuple) and len(value) == 2 and all(type(v) is int for v in value)
        if name in names and whole and 0 <= value[0] <= len(DAYS) and 1 <= value[1] <= date.max.toordinal():
            found[name] = Seen(*value)
    return Schedule(found)
