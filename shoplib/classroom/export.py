"""The answers of a class as CSV, and as statements of the open standard for learning records (xAPI 1.0.3).

Why xAPI: the record holds single answers with their time and result, which is what a statement states.  Learning
record stores and platforms read statements as one JSON array.  OneRoster carries rosters and grades, not answers.
The tests validate the statements with the models of ``ralph-malph``, a maintained learning record store.
"""

from __future__ import annotations

import csv
import functools
import json
import uuid
from typing import TextIO

from shoplib.classroom import marking
from shoplib.classroom.classes import Class, Classroom
from shoplib.classroom.results import Entry, entries
from shoplib.record.exchange import escape_spreadsheet_formula

HEADS = ("login", "name", "assignment", "item", "answer", "state", "idea", "seconds", "at", "rule", "first mark", "uid")
ANSWERED, EXPERIENCED = "http://adlnet.gov/expapi/verbs/answered", "http://adlnet.gov/expapi/verbs/experienced"
QUESTION = "http://adlnet.gov/expapi/activities/cmi.interaction"
HOME = "https://centre.example/"  # of the accounts; a centre names its own
_NAMES = uuid.UUID("5ad6bd4e-8a5f-4d7c-9f65-0b1c2f5b6f0a")  # of the ids of statements
_VERBS = {True: json.dumps({"id": ANSWERED, "display": {"en": "answered"}}),
          False: json.dumps({"id": EXPERIENCED, "display": {"en": "experienced"}})}  # fmt: skip


def write_csv(room: Classroom, of: Class, out: TextIO) -> int:
    """One row per answer; returns how many."""
    names = {p.login: p.name for p in room.people(of)}
    numbers = {a.id: a.n for a in room.assignments(of)}
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADS)
    count = 0
    ideas: dict[str, str] = {}
    for x in entries(room, of):  # only text that people typed can look like a formula
        idea = ideas.get(x.idea)
        if idea is None:
            idea = ideas[x.idea] = escape_spreadsheet_formula(marking.idea_in_words(x.idea))
        writer.writerow(
            (x.login, escape_spreadsheet_formula(names.get(x.login, "")), numbers[x.assignment], x.item,
             escape_spreadsheet_formula(x.answer), x.state, idea, x.seconds, x.at, x.rule, x.first_state, x.uid)
        )  # fmt: skip
        count += 1
    return count


def write_statements(room: Classroom, of: Class, out: TextIO, home: str = HOME) -> int:
    """A JSON array of xAPI statements, one per answer; returns how many."""
    parts = _Parts(room, of, home)
    count = 0
    for entry in entries(room, of):
        out.write("[\n" if count == 0 else ",\n")
        out.write(parts.statement(entry))
        count += 1
    out.write("\n]\n" if count else "[]\n")
    return count


class _Parts:
    """The parts that many statements share, as JSON that is made once: of a learner, an item, a mark."""

    def __init__(self, room: Classroom, of: Class, home: str) -> None:
        self._of, self._home = of, home
        self._assignments = {a.id: (a.uid, a.title) for a in room.assignments(of)}
        self._names = {p.login: p.name for p in room.people(of)}
        self.actor, self.activity = functools.cache(self._actor), functools.cache(self._activity)
        self.mark = functools.cache(self._mark)

    def statement(self, x: Entry) -> str:
        """One statement."""
        answered = x.state != marking.SEEN
        result = [f'"response": {json.dumps(x.answer)}'] if answered else []
        result += self.mark(x.state, x.idea)
        if x.seconds is not None:
            result.append(f'"duration": "PT{int(x.seconds)}S"')
        return (
            f'{{"id": "{uuid.uuid5(_NAMES, x.uid)}", "actor": {self.actor(x.login)}, '
            f'"verb": {_VERBS[answered]}, {self.activity(x.assignment, x.item, x.rule)}, '
            f'"timestamp": {json.dumps(x.at)}, "version": "1.0.3"'
            + (f', "result": {{{", ".join(result)}}}}}' if result else "}")
        )

    def _actor(self, login: str) -> str:
        account = {"homePage": self._home, "name": login}
        return json.dumps({"objectType": "Agent", "name": self._names.get(login, login), "account": account})

    def _activity(self, assignment: int, item: str, rule: str) -> str:
        """The members ``object`` and ``context``."""
        (uid, title), home = self._assignments[assignment], self._home
        whole, own = f"{home}assignments/{uid}", f"{home}classes/{self._of.uid}"
        words = {"en": f"{title}: {item.replace('_', ' ')}"}
        around = {
            "parent": [{"objectType": "Activity", "id": whole}],
            "grouping": [{"objectType": "Activity", "id": own}],
        }
        members = {
            "object": {"objectType": "Activity", "id": f"{whole}/{item}",
                       "definition": {"type": QUESTION, "interactionType": "other", "name": words}},
            "context": {"contextActivities": around, "extensions": {f"{home}rule": rule}},
        }  # fmt: skip
        return json.dumps(members)[1:-1]

    def _mark(self, state: str, idea: str) -> list[str]:
        """The members of ``result`` that the mark gives."""
        found = [f'"success": {json.dumps(state == marking.RIGHT)}'] if state in (marking.RIGHT, marking.WRONG) else []
        if idea:
            found.append(f'"extensions": {json.dumps({f"{self._home}idea": marking.idea_in_words(idea)})}')
        return found
