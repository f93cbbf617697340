"""A centre of three thousand: the class desk over 600 000 answers, made in bulk by the path that every answer takes.

.venv/bin/python -m tests.bench.classroom                3000 learners in classes of 30
.venv/bin/python -m tests.bench.classroom 300            fewer learners
.venv/bin/python -m tests.bench.classroom 3000 3000      all of them in one class
SHOPLIB_BENCH_STORE=postgresql://…/empty_database …      on a server instead of a file
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
import time
from pathlib import Path

from shoplib.classroom import export, marking, results
from shoplib.classroom.classes import Answer, Class, Classroom
from shoplib.classroom.people import Person
from shoplib.desk.widgets.class_desk import ClassDesk
from shoplib.teaching.guided import Run
from shoplib.topics.guided import all_guided
from shoplib.topics.guided import get as lesson

EACH, TRIES = 200, 24


def work_of(room: Classroom, login: str, rng: random.Random) -> list[tuple[object, Answer]]:
    """200 answers of one learner: exercises with right, wrong and mistaken answers, a lesson, the concept test."""
    found = []
    for task in room.tasks(login):
        kind, item = task.assignment.kind, task.assignment.item
        names = marking.items(kind, item)
        if kind == "topic":
            for name in names:
                question = marking.asked(name, task.seed)
                pool = [question.answer.shown, *(question.shown(v) for _, v in question.wrong_answers())]
                found += [(task, Answer(name, rng.choice(pool), seconds=rng.randrange(600))) for _ in range(TRIES)]
        elif kind == "test":
            found += [(task, Answer(n, str(rng.randrange(2)), seconds=rng.randrange(60))) for n in names]
        else:
            guided = lesson(item)
            low = guided.guess.slider[0] if guided.ask() else 0
            run = Run(guided).place(low).commit().because(rng.randrange(len(guided.reasons.options)))
            found += [(task, Answer("why", str(run.why), run.record()))] * 1
    return found[:EACH] + [
        (task, Answer(answer.item, answer.typed, answer.body, 1)) for task, answer in found[: max(0, EACH - len(found))]
    ]


def now() -> tuple[float, float]:
    return time.perf_counter(), time.process_time()


def told(what: str, begun: tuple[float, float], budget: float) -> None:
    took, own = (b - a for a, b in zip(begun, now(), strict=True))
    print(
        f"{what:42} {took:7.2f} s ({own:.2f} s of processor time)   budget {budget:g} s   "
        f"{'holds' if took <= budget else 'DOES NOT HOLD'}   load {os.getloadavg()[0]:.0f}", flush=True,
    )  # fmt: skip


def desk(of: Class, name: str, learner: str) -> None:
    """Each part of the class desk as an instructor opens it."""
    os.environ["SHOPLIB_LEARNER"] = "t"
    page = ClassDesk()
    begun = now()
    page.read()
    page.which.value = next(k for _, k in page.which.options if k.name == of.name)
    assert "<table" in page.page.children[0].page.children[0].value
    told(f"class desk opens, {name}", begun, 1)
    begun = now()
    page.show("Ideas")
    assert "<table" in page.page.children[0].page.children[0].value
    told(f"heat map, {name}", begun, 2)
    begun = now()
    page.show("One learner")
    page.page.children[0].find.value = learner
    page.learner.value = page.learner.options[-1][1]
    assert "<table" in page.history.value
    told(f"one learner's history, {name}", begun, 1)


def main(learners: int, size: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        where = os.environ.get("SHOPLIB_BENCH_STORE") or str(Path(folder) / "jobs.db")
        with Classroom.open(where) as room:
            rng = random.Random(20)
            begun, count = time.perf_counter(), 0
            every = [Person(f"l{n}", f"Learner {n}") for n in range(learners)]
            classes = [(room.new_class(f"Class {k}", who="t"), every[k : k + size]) for k in range(0, learners, size)]
            for of, people in classes:
                room.enrol(of, people, who="t")
                for kind, item in (
                    ("topic", "preload"),
                    ("test", "A"),
                    ("test", "B"),
                    ("lesson", next(iter(all_guided()))),
                ):
                    room.assign(of, kind, item, who="t")
                answers = [x for p in people for x in work_of(room, p.login, rng)]
                room.keep_all(answers)
                count += len(answers)
            print(
                f"{count} answers of {learners} learners marked and saved in {time.perf_counter() - begun:.0f} s (load {os.getloadavg()[0]:.0f})"
            )
            os.environ["SHOPLIB_STORE"] = where
            desk(classes[0][0], f"a class of {size}", every[size // 2].login)
            begun, total = now(), 0
            with (Path(folder) / "all.csv").open("w", encoding="utf-8") as out:
                for of, _ in classes:
                    total += export.write_csv(room, of, out)
            told(f"export of all {total} answers as CSV", begun, 10)
            begun, total = now(), 0
            with (Path(folder) / "all.json").open("w", encoding="utf-8") as out:
                for of, _ in classes:
                    total += export.write_statements(room, of, out)
            told(f"export of all {total} answers as xAPI", begun, 10)
            begun = now()
            found = results.preview(room, classes[0][0], room.assignments(classes[0][0]))
            told(f"mark {found.checked} answers again ({len(found.changes)} changes)", begun, 60)


if __name__ == "__main__":
    wanted = [int(x) for x in sys.argv[1:]]
    main(*(wanted + [3000, 30][len(wanted) :]))
