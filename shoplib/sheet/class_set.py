"""Exercises on paper: a set of sheets for a class, its answer key, and the sheet of one learner."""

from __future__ import annotations

import string
from collections.abc import Mapping
from typing import Any

from shoplib import __version__
from shoplib.record.sanitise import clean
from shoplib.sheet.standalone_page import typeset_alone
from shoplib.teaching.choice import Item
from shoplib.teaching.concept_test import LETTERS
from shoplib.teaching.exercise import INVENTED, ClassSet, Question, Score, bound


def topic_shown(topic: str) -> str:
    """A topic as a heading."""
    return topic.replace("_", " ").capitalize()


def _set(data: Mapping[str, Any], record: Mapping[str, Any], **options: Any) -> Any:
    whole = {"version": __version__, "paper": "a4", "caution": INVENTED, **data}
    return typeset_alone(whole, record, template="classset.typ", **options)


def _question(n: int, q: Question) -> dict[str, Any]:
    wanted = "Answer, " + q.how if q.in_words else "Answer, with its unit" if q.unit.name else "Answer"
    right = q.stated_rule
    return {"n": n, "title": q.exercise.title, "text": bound(q.text), "right": right, "answer": wanted}


def learners_pdf(made: ClassSet, *, paper: str = "a4", **options: Any) -> Any:
    """The sheets for the learners, one after the other.  They contain no answers, nor do their attachments."""
    names = [name for name, _ in made.learners] or [""] * len(made.sheets)
    sheets = [
        {"who": f"Sheet {k} of {len(made.sheets)}", "name": {"field": "learner's name", "value": name},
         "questions": [_question(n, q) for n, q in enumerate(sheet, 1)]}
        for k, (name, sheet) in enumerate(zip(names, made.sheets, strict=True), 1)
    ]  # fmt: skip
    data = {"kind": "set", "title": f"Exercises: {topic_shown(made.topic)}", "paper": paper, "sheets": sheets}
    record = {"class_set": {"topic": made.topic, "seed": made.seed, "learners": len(made.sheets)}}
    return _set({**data, "of": f"set {made.seed}"}, record, **options)


def key_pdf(made: ClassSet, *, paper: str = "a4", **options: Any) -> Any:
    """The answer key: every answer, and the mistake behind each usual wrong number."""
    exercises = [_key(n, column) for n, column in enumerate(zip(*made.sheets, strict=True), 1)]
    who = [[str(k), name, str(seed)] for k, (name, seed) in enumerate(made.learners, 1)]
    data = {"kind": "key", "title": f"Answer key: {topic_shown(made.topic)}", "paper": paper, "exercises": exercises}
    data["learners"] = who  # the seeds are here only: whoever knows one can compute the answers of its sheet
    record = {"class_set": {"topic": made.topic, "seed": made.seed, "learners": len(made.sheets)}}
    return _set({**data, "of": f"set {made.seed}"}, record, **options)


def _key(n: int, questions: tuple[Question, ...]) -> dict[str, Any]:
    exercise = questions[0].exercise
    letters = dict(zip((m.name for m in exercise.mistakes), string.ascii_uppercase, strict=False))
    rows = []
    for k, q in enumerate(questions, 1):
        wrong = {m.name: q.shown(value) for m, value in q.wrong_answers()}
        rows.append([str(k), q.answer.shown, *(wrong.get(name, "") for name in letters)])
    return {
        "n": n,
        "title": exercise.title,
        "lesson": exercise.lesson,
        "right": questions[0].stated_rule,
        "head": ["Sheet", "Right", *letters.values()],
        "rows": rows,
        "legend": [
            {"letter": letters[m.name], "name": f"{m.name[0].upper()}{m.name[1:]}", "hint": m.hint}
            for m in exercise.mistakes
        ],
    }


def learner_sheet(score: Score, learner: str = "", *, paper: str = "a4", **options: Any) -> Any:
    """The work of one learner in one session.  The name is plain text; if empty, it is written by hand."""
    clean(learner, "the learner's name", 200)
    rows = [
        {
            "title": m.question.exercise.title,
            "text": bound(m.question.text),
            "state": m.state,
            "answer": m.question.answer.shown if m.right or m.solution_seen else "",
            "tries": [
                {"typed": typed, "said": verdict.state + (f": {verdict.mistake}" if verdict.mistake else "")}
                for typed, verdict in m.tries
            ],
        }
        for m in score.marks
    ]
    data = {
        "kind": "score",
        "title": "Learner's sheet",
        "paper": paper,
        "of": "",
        "summary": score.summary,
        "rows": rows,
    }
    return _set(
        {**data, "learner": {"field": "learner's name", "value": learner}},
        {"learner": learner, "score": score.summary},
        **options,
    )


def concept_pdf(form: str, items: tuple[Item, ...], *, paper: str = "a4", **options: Any) -> Any:
    """A form of the concept test on paper, a letter to write beside each question.  It contains no answers."""
    questions = [
        {
            "n": n,
            "text": bound(item.text if item.text.endswith("?") else f"{item.text} …"),
            "options": [[letter, bound(o.words)] for letter, o in zip(LETTERS, item.order, strict=False)],
        }
        for n, item in enumerate(items, 1)
    ]
    sheets = [{"who": f"Form {form}", "name": {"field": "learner's name", "value": ""}, "questions": questions}]
    data = {"kind": "set", "title": f"Concept test, form {form}", "of": f"form {form}", "paper": paper}
    return _set({**data, "sheets": sheets}, {"concept_test": {"form": form}}, **options)
