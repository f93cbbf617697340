"""The instructor's guide on paper: the route of the term, what to ask and answer, and one sheet for each bench lab."""

from __future__ import annotations

from typing import Any

from shoplib import __version__
from shoplib.sheet.standalone_page import known_paper, typeset_alone
from shoplib.topics.instructor import CAUTIONS, LABS, PARTS_OF_A_LESSON, TERM, Lab, minutes_of, talks


def guide_pdf(*, paper: str = "a4", **options: Any) -> Any:
    """The whole guide as PDF bytes (``format="png"`` for pages to look at)."""
    known_paper(paper)
    page = {
        "paper": paper,
        "version": __version__,
        "title": "Instructor's guide",
        "parts": f"Twelve lessons of {PARTS_OF_A_LESSON}.",
        "before": "Ask for the guess and the reason before you show anything. Let two learners with different guesses "
        "argue. Only then show the picture. Print the concept test before the first lesson, and form B after the last.",
        "term": [
            {"n": n, "title": m.title, "minutes": _minutes(minutes_of(m)), "show": m.show, "ask": m.ask,
             "say": m.they_say, "answer": m.answer}
            for n, m in enumerate(TERM, 1)
        ],
        "talks": [
            {"title": f"Lesson {t.number} · {t.title}", "question": t.question, "said": [list(x) for x in t.said],
             "goal": t.goal}
            for t in talks()
        ],
        "labs": [_lab(lab) for lab in LABS],
        "cautions": list(CAUTIONS),
    }  # fmt: skip
    return typeset_alone(page, {"instructors_guide": {"labs": [lab.letter for lab in LABS]}}, template="guide.typ",
                         **options)  # fmt: skip


def _minutes(minutes: int) -> str:
    return f"{minutes} min" if minutes else "–"


def _lab(lab: Lab) -> dict[str, Any]:
    return {
        "title": f"Lab {lab.letter} · {lab.title}", "question": lab.question, "at_hand": lab.needed,
        "steps": list(lab.steps), "head": list(lab.head), "rows": [list(row) for row in lab.rows],
        "work_out": list(lab.work_out), "expect": list(lab.expect), "cautions": list(lab.cautions),
    }  # fmt: skip
