"""The answers of a class as CSV, and as statements of the open standard for learning records (xAPI 1.0.3).

Why xAPI: the record holds single answers with their time and result, which is what a statement states.  Learning
record stores and platforms read statements as one JSON array.  OneRoster carries rosters and grades, not answers.
The tests validate the statements with the models of ``ralph-malph``, a maintained learning record store.
"""

from __future__ import annotations

import csv
import json
import uuid
from collections.abc import Mapping
from typing import Any, TextIO

from shoplib.classroom import marking
from shoplib.classroom.classes import Class, Classroom
from shoplib.classroom.results import Entry, entries
from shoplib.record.exchange import defused

HEADS = ("login", "name", "assignment", "item", "answer", "state", "idea", "seconds", "at", "rule", "first mark", "uid")
ANSWERED, EXPERIENCED = "http://adlnet.gov/expapi/verbs/answered", "http://adlnet.gov/expapi/verbs/experienced"
QUESTION = "http://adlnet.gov/expapi/activities/cmi.interaction"
HOME = "https://centre.example/"  # of the accounts; a centre names its own
_NAMES = uuid.UUID("5ad6bd4e-8a5f-4d7c-9f65-0b1c2f5b6f0a")  # of the ids of statements


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
            idea = ideas[x.idea] = defused(marking.idea_in_words(x.idea))
        writer.writerow(
            (x.login, defused(names.get(x.login, "")), numbers[x.assignment], x.item, defused(x.answer), x.state, idea,
             x.seconds, x.at, x.rule, x.first_state, x.uid)
        )  # fmt: skip
        count += 1
    return count


def write_statements(room: Classroom, of: Class, out: TextIO, home: str = HOME) -> int:
    """A JSON array of xAPI statements, one per answer; returns how many."""
    titles = {a.id: (a.uid, a.title) for a in room.assignments(of)}
    names = {p.login: p.name for p in room.people(of)}
    count = 0
    for entry in entries(room, of):
        out.write(("[\n" if count == 0 else ",\n") + json.dumps(_statement(entry, of, titles, names, home)))
        count += 1
    out.write("\n]\n" if count else "[]\n")
    return count


def _statement(
    x: Entry, of: Class, titles: Mapping[int, tuple[str, str]], names: Mapping[str, str], home: str
) -> dict[str, Any]:
    uid, title = titles[x.assignment]
    answered = x.state != marking.SEEN
    result: dict[str, Any] = {"response": x.answer} if answered else {}
    if x.state in (marking.RIGHT, marking.WRONG):
        result["success"] = x.state == marking.RIGHT
    if x.seconds is not None:
        result["duration"] = f"PT{x.seconds}S"
    if x.idea:
        result["extensions"] = {f"{home}idea": marking.idea_in_words(x.idea)}
    statement = {
        "id": str(uuid.uuid5(_NAMES, x.uid)),
        "actor": {"objectType": "Agent", "name": names.get(x.login, x.login),
                  "account": {"homePage": home, "name": x.login}},
        "verb": {"id": ANSWERED if answered else EXPERIENCED,
                 "display": {"en": "answered" if answered else "experienced"}},
        "object": {"objectType": "Activity", "id": f"{home}assignments/{uid}/{x.item}",
                   "definition": {"type": QUESTION, "interactionType": "other",
                                  "name": {"en": f"{title}: {x.item.replace('_', ' ')}"}}},
        "context": {"contextActivities": {"parent": [{"objectType": "Activity", "id": f"{home}assignments/{uid}"}],
                                          "grouping": [{"objectType": "Activity", "id": f"{home}classes/{of.uid}"}]},
                    "extensions": {f"{home}rule": x.rule}},
        "timestamp": x.at,
        "version": "1.0.3",
    }  # fmt: skip
    return statement | ({"result": result} if result else {})
