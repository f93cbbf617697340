"""Faded examples: a full one to read, one whose last step is missing, then the question only, each with new numbers.

A ``FadedRun`` never changes; an action returns another one.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from shoplib.teaching.exercise import Exercise, Question, Verdict

STAGES = ("full", "last step missing", "question only", "done")
FULL, MISSING, ALONE, DONE = range(4)
MISSED = 2  # wrong answers after which more of the example is shown again
GAP = "…"


def steps_of(question: Question) -> str:
    """The worked solution of a question, in words."""
    exercise = question.exercise
    assert exercise.solution is not None, f"{exercise.name} has no solution in words"
    return exercise.solution(question.result)


def without_last_step(question: Question) -> str:
    """The solution up to its last step: a sum without its result, or the sentences before the last one."""
    told = steps_of(question).strip()
    sentences = re.split(r"(?<=[.;]) ", told)
    if " = " in sentences[-1]:
        return told[: told.rindex(" = ")] + f" = {GAP}"
    if len(sentences) > 1:
        return " ".join([*sentences[:-1], GAP])
    return GAP


@dataclass(frozen=True)
class FadedRun:
    """Where a learner is in the fading of one exercise."""

    exercise: Exercise
    seed: int = 1
    stage: int = FULL
    missed: int = 0

    @property
    def question(self) -> Question:
        """The present question; every stage has other numbers."""
        return self.exercise.ask(self.seed)

    @property
    def shown(self) -> str:
        """As much of the solution as this stage shows."""
        if self.stage == FULL:
            return steps_of(self.question)
        return without_last_step(self.question) if self.stage == MISSING else ""

    def read(self) -> FadedRun:
        """The full example was read."""
        return replace(self, stage=MISSING, seed=self.seed + 1, missed=0) if self.stage == FULL else self

    def answer(self, typed: str) -> tuple[Verdict, FadedRun]:
        """The response, and the next stage.  After two wrong answers more of the example is shown again."""
        verdict = self.question.check(typed)
        if verdict.state == "asked" or self.stage not in (MISSING, ALONE):
            return verdict, self
        if verdict.state == "right":
            return verdict, replace(self, stage=self.stage + 1, seed=self.seed + 1, missed=0)
        if self.missed + 1 < MISSED:
            return verdict, replace(self, missed=self.missed + 1)
        return verdict, replace(self, stage=self.stage - 1, seed=self.seed + 1, missed=0)

    def record(self) -> dict[str, Any]:
        """As plain values."""
        return {"exercise": self.exercise.name, "seed": self.seed, "stage": self.stage, "missed": self.missed}


def restored_run(exercise: Exercise, record: Mapping[str, Any]) -> FadedRun:
    """The run of a record; a record that cannot be read starts again."""
    seed, stage, missed = (record.get(name) for name in ("seed", "stage", "missed"))
    if not (isinstance(seed, int) and isinstance(stage, int) and isinstance(missed, int)):
        return FadedRun(exercise)
    whole = seed >= 0 and FULL <= stage <= DONE and 0 <= missed < MISSED
    return FadedRun(exercise, seed, stage, missed) if whole else FadedRun(exercise)
