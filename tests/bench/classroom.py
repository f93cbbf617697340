"""A centre of three thousand: the class desk over 600 000 answers, made in bulk by the path that every answer takes.

.venv/bin/python -m tests.bench.classroom                3000 learners in classes of 30, and one class of all
.venv/bin/python -m tests.bench.classroom 300            fewer learners
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
from shoplib.desk.widgets.templates import render
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


def told(what: str, begun: float, budget: float) -> None:
    took = time.perf_counter() - begun
    print(
        f"{what:42} {took:7.2f} s   budget {budget:g} s   {'holds' if took <= budget else 'DOES NOT HOLD'}", flush=True
    )


def desk(room: Classroom, of: Class, name: str) -> None:
    """What the class desk does when it opens, and its heat map, with the HTML."""
    begun = time.perf_counter()
    found = results.overview(room, of)
    sizes = {a.id: len(marking.items(a.kind, a.item)) for a in found.assignments}
    rows = [
        (p.login, p.name, [(found.place(p.login, a).right, sizes[a.id], "some", False) for a in found.assignments], "")
        for p in found.learners
    ]
    page = len(render("class", "overview", [(a.n, a.title) for a in found.assignments], rows))
    told(f"class desk, {name} ({page // 1000} kB)", begun, 1)
    begun = time.perf_counter()
    heat = results.heat_map(room, of)
    told(f"heat map, {name} ({len(heat.ideas)} ideas)", begun, 2)


def main(learners: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        where = os.environ.get("SHOPLIB_BENCH_STORE") or str(Path(folder) / "jobs.db")
        with Classroom.open(where) as room:
            rng = random.Random(20)
            begun, count = time.perf_counter(), 0
            every = [Person(f"l{n}", f"Learner {n}") for n in range(learners)]
            classes = [(room.new_class(f"Class {k}", who="t"), every[k : k + 30]) for k in range(0, learners, 30)]
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
            desk(room, classes[0][0], "a class of 30")
            begun, total = time.perf_counter(), 0
            with (Path(folder) / "all.csv").open("w", encoding="utf-8") as out:
                for of, _ in classes:
                    total += export.write_csv(room, of, out)
            told(f"export of all {total} answers as CSV", begun, 10)
            begun = time.perf_counter()
            with (Path(folder) / "one.json").open("w", encoding="utf-8") as out:
                n = export.write_statements(room, classes[0][0], out)
            told(f"export of {n} answers as xAPI", begun, 10)
            begun = time.perf_counter()
            found = results.preview(room, classes[0][0], room.assignments(classes[0][0]))
            told(f"mark {found.checked} answers again ({len(found.changes)} changes)", begun, 60)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3000)
