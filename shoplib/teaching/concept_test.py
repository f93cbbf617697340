"""A concept test: answers marked, and a report per belief, before and after.

The record of an answered test is plain: the form and the place of each answer as shown, −1 where none was given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shoplib.teaching.choice import BELIEFS, Item

LETTERS = "ABCDEF"


@dataclass(frozen=True)
class Answered:
    """One learner's answers to one form."""

    items: tuple[Item, ...]
    answers: tuple[int, ...]  # the place of the chosen option, −1 for none

    def __post_init__(self) -> None:
        if len(self.answers) != len(self.items):
            raise ValueError(f"{len(self.items)} answers are needed, and {len(self.answers)} were given")
        for item, n in zip(self.items, self.answers, strict=True):
            if n != -1:
                item.option(n)

    @property
    def right(self) -> int:
        """How many answers are right."""
        return sum(n != -1 and i.is_right(n) for i, n in zip(self.items, self.answers, strict=True))

    @property
    def missing(self) -> int:
        """How many questions were not answered."""
        return self.answers.count(-1)

    @property
    def beliefs(self) -> dict[str, int]:
        """Belief code to how often it was chosen, most frequent first."""
        chosen = [i.option(n).belief for i, n in zip(self.items, self.answers, strict=True) if n != -1]
        counts = {b: chosen.count(b) for b in BELIEFS if b in chosen}
        return dict(sorted(counts.items(), key=lambda x: -x[1]))

    def offered(self, belief: str) -> int:
        """In how many questions this belief could be chosen."""
        return sum(any(o.belief == belief for o in i.options) for i in self.items)


def read_letters(items: Sequence[Item], typed: str) -> tuple[int, ...]:
    """Answers from a paper sheet, a letter per question, ``-`` for none: ``"ABCA-B"``.  ValueError with advice."""
    letters = "".join(typed.upper().split())
    if len(letters) != len(items):
        raise ValueError(f"type {len(items)} letters, one per question, - for none; there are {len(letters)}")
    found = []
    for n, (item, letter) in enumerate(zip(items, letters, strict=True), 1):
        place = LETTERS.find(letter)
        if letter != "-" and not 0 <= place < len(item.options):
            raise ValueError(f"question {n}: {letter!r} is not one of {', '.join(LETTERS[: len(item.options)])}")
        found.append(-1 if letter == "-" else place)
    return tuple(found)


def answers_in(text: str, forms: Mapping[str, Sequence[Item]]) -> dict[str, list[Answered]]:
    """The answered tests of a file, by form: a line is ``form, letters``.  ValueError names every bad line."""
    found: dict[str, list[Answered]] = {form: [] for form in forms}
    wrong = []
    for n, line in enumerate(text.splitlines(), 1):
        form, comma, letters = line.partition(",")
        form = form.strip().upper()
        if not line.strip():
            continue
        if not comma or form not in forms:
            wrong.append(f"line {n}: begin with the form, {' or '.join(forms)}, and a comma; type for example A, BACB…")
            continue
        try:
            found[form].append(Answered(tuple(forms[form]), read_letters(forms[form], letters)))
        except ValueError as error:
            wrong.append(f"line {n}: {error}")
    if wrong or not any(found.values()):
        raise ValueError("\n  ".join(["please correct", *(wrong or ["there are no answers"])]))
    return found


def report(before: Sequence[Answered], after: Sequence[Answered] = ()) -> str:
    """Right answers and beliefs of a learner, or of a class, before and after, as text."""
    lines = [_score("Before", before)] + ([_score("After", after)] if after else []) + [""]
    for code, sentence in BELIEFS.items():
        parts = [_chosen(code, group) for group in (before, after) if group]
        if any(chosen for chosen, _ in parts):
            lines.append(f"{sentence}  " + " → ".join(f"{chosen} of {offered}" for chosen, offered in parts))
    return "\n".join(lines if len(lines) > 3 or not before else [*lines, "No belief was chosen."])


def _score(name: str, group: Sequence[Answered]) -> str:
    total = sum(len(a.items) for a in group)
    text = f"{name}: {sum(a.right for a in group)} of {total} right"
    missing = sum(a.missing for a in group)
    return text + (f", {missing} not answered" if missing else "")


def _chosen(code: str, group: Sequence[Answered]) -> tuple[int, int]:
    return sum(a.beliefs.get(code, 0) for a in group), sum(a.offered(code) for a in group)


def key(forms: Mapping[str, tuple[Item, ...]]) -> str:
    """The letters of the right answers of each form."""
    return "\n".join(
        f"Form {name}: " + "".join(LETTERS[i.order.index(i.right)] for i in items) for name, items in forms.items()
    )
