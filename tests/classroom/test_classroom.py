"""The classroom: rosters, salted seeds, answers and marks, regrade, result files, export; on SQLite and PostgreSQL."""

import csv
import dataclasses
import io
import json
import re

import pypdf
import pytest
import sqlalchemy as sa

from shoplib import cli
from shoplib.classroom import export, marking, result_file, results
from shoplib.classroom.classes import Answer, Classroom
from shoplib.classroom.people import Person, read_roster, write_roster
from shoplib.core.errors import BadInput
from shoplib.record import class_tables, schema
from shoplib.record.errors import Refused
from shoplib.record.store import Store
from shoplib.teaching.choice import Item
from shoplib.teaching.guided import Run
from shoplib.topics import exercises
from shoplib.topics.guided import all_guided
from shoplib.topics.guided import get as lesson
from tests.record_fixtures import KINDS, clock, fresh

PEOPLE = [Person("a.learner", "A. Learner"), Person("b.learner", "B. Learner"), Person("c.learner", "C. Learner")]
LESSON = next(iter(all_guided()))


@pytest.fixture(params=KINDS)
def place(request, tmp_path):
    with fresh(request.param, tmp_path) as where:
        yield where


@pytest.fixture
def room(place):
    with Classroom.open(place, clock=clock("2026-11-28T10:00:00")) as found:
        found.new_class("Spring", who="teacher")
        found.enrol(found.class_of("Spring"), PEOPLE, who="teacher")
        yield found


def of(room):
    return room.class_of("Spring")


def assigned(room, kind="topic", item="preload", **more):
    room.assign(of(room), kind, item, who="teacher", **more)
    return {
        p.login: next(t for t in room.tasks(p.login, also_closed=True) if t.assignment.item == item) for p in PEOPLE
    }


def right(task, item):
    return marking.asked(item, task.seed).answer.shown


# ------------------------------------------------------------------------------ people
def test_a_roster_goes_out_and_comes_back():
    people = [Person("a.b", "=SUM(A1)"), Person("z", "Ö. Çelik", "instructor")]
    out = write_roster(people)
    assert "'=SUM" in out
    assert [p.login for p in read_roster(out)] == ["a.b", "z"]
    assert read_roster("name;login\nÖ. Çelik;Z\n") == [Person("z", "Ö. Çelik")]


@pytest.mark.parametrize(
    ("text", "fields"),
    [("", ["roster"]), ("name\nA\n", ["roster"]), ("login,name\nA B,x\n,y\n", ["row 1", "row 2"]),
     ("login,name\na,x\na,y\n", ["row 2"]), ("login,name,role\na,x,king\n", ["row 1"]), ("login,name\n", ["roster"])],
)  # fmt: skip
def test_a_bad_roster_names_every_bad_row(text, fields):
    with pytest.raises(BadInput) as caught:
        read_roster(text)
    assert [p.field for p in caught.value.problems] == fields


def test_people_come_and_go_and_the_roster_remembers(room):
    changed = room.enrol(of(room), [Person("a.learner", "Anna"), Person("d", "D.")], who="teacher", remove=True)
    assert changed == (1, 2)
    assert {p.login: p.name for p in room.people(of(room))} == {"a.learner": "Anna", "d": "D.", "teacher": "teacher"}
    with room._reading() as c:
        assert c.scalar(sa.select(sa.func.count()).select_from(class_tables.roster)) == 8
    assert [x.name for x in room.classes("d")] == ["Spring"]
    assert room.classes("b.learner") == []


# ------------------------------------------------------------------------------ assignments and seeds
def test_every_learner_has_numbers_of_their_own_that_need_the_secret(room):
    tasks = assigned(room)
    seeds = {t.seed for t in tasks.values()}
    assert len(seeds) == 3
    uid = tasks["a.learner"].assignment.uid
    assert marking.seed_of(room.secret(of(room), "salt"), uid, "a.learner") == tasks["a.learner"].seed
    assert marking.seed_of("00" * 32, uid, "a.learner") not in seeds


def test_who_comes_later_gets_a_seat(room):
    assigned(room)
    room.enrol(of(room), [Person("late", "L.")], who="teacher")
    assert [t.assignment.item for t in room.tasks("late")] == ["preload"]


def test_opening_and_due_times(room):
    room.assign(
        of(room), "test", "A", who="teacher", opens="2026-11-29 08:00"
    )  # the clock of the room stands at the 28th
    assert room.tasks("a.learner") == []
    tasks = assigned(room, item="preload", due="2026-11-27 08:00")
    assert room.tasks("a.learner") == []
    room.keep(tasks["a.learner"], [Answer("clamp_of_a_torque", "1 kN")])
    found = results.overview(room, of(room))
    assert found.place("a.learner", found.assignments[1]).late
    assert "late" in results.as_text(found)


def test_what_cannot_be_assigned_is_refused(room):
    with pytest.raises(BadInput) as caught:
        room.assign(of(room), "topic", "cooking", who="teacher", opens="soon", due="x")
    assert [p.field for p in caught.value.problems] == ["topic", "opens", "due"]
    with pytest.raises(Refused, match="Spring"):
        room.class_of("Winter")


# ------------------------------------------------------------------------------ answers
def test_answers_are_marked_kept_once_and_survive(room, place):
    task = assigned(room)["a.learner"]
    first, *_ = marking.items("topic", "preload")
    answer = Answer(first, right(task, first), seconds=41)
    assert room.keep(task, [answer])[0].state == "right"
    room.keep(task, [answer])  # the answer of the record was lost
    question = marking.asked(first, task.seed)
    mistake, wrong = question.wrong_answers()[0]
    marked = room.keep(task, [Answer(first, question.shown(wrong)), Answer(first, "")])
    assert [(m.state, m.idea) for m in marked] == [("wrong", mistake.name), ("seen", "")]
    with Classroom.open(place) as again:
        rows = again.answers(task)
    assert (rows[0].typed, rows[0].state, rows[0].seconds) == (right(task, first), "right", 41)
    assert len(rows) == 3
    assert all(r.rule.startswith("0.") and "/" in r.rule for r in rows)


def test_a_lesson_is_marked_step_by_step(room):
    task = assigned(room, "lesson", LESSON)["a.learner"]
    found = lesson(LESSON)
    wrong = next(n for n in range(len(found.reasons.options)) if not found.reasons.is_right(n))
    good = next(n for n in range(len(found.explain.options)) if found.explain.is_right(n))
    low = found.guess.slider[0] if not hasattr(found.guess, "options") else 0
    run = Run(found).place(low).commit()
    said = []
    for step in (lambda r: r, lambda r: r.because(wrong), lambda r: r.seen(), lambda r: r.explain(good)):
        run = step(run)
        item, typed = marking.last_answer(run)
        said.append((item, room.keep(task, [Answer(item, typed, run.record())])[0]))
    assert [(item, m.state) for item, m in said] == [
        ("guess", "wrong"), ("why", "wrong"), ("see", "seen"), ("explain", "right")
    ]  # fmt: skip
    assert said[1][1].idea == found.reasons.option(wrong).belief
    assert results.heat_map(room, of(room)).total(found.reasons.option(wrong).belief) == 1


def test_every_action_of_a_lesson_is_named():
    found = lesson(LESSON)
    low = found.guess.slider[0] if not hasattr(found.guess, "options") else 0
    good = next(n for n in range(len(found.explain.options)) if found.explain.is_right(n))
    run = Run(found).place(low).commit().because(0).seen()
    assert marking.last_answer(run)[0] == "see"
    run = run.explain(good)
    for k in range(3):
        item = run.present_check
        run = run.check(next(n for n in range(len(item.options)) if not item.is_right(n)))
        assert (run.step, marking.last_answer(run)[0]) == ("see", "check"), k
        run = run.seen()
        assert marking.last_answer(run)[0] == "see"


def test_a_typed_case_of_a_lesson_is_marked_as_an_exercise_is(room):
    task = assigned(room, "lesson", LESSON)["a.learner"]
    found = lesson(LESSON)
    low = found.guess.slider[0] if not hasattr(found.guess, "options") else 0
    good = next(n for n in range(len(found.explain.options)) if found.explain.is_right(n))
    run = Run(found, seed=77).place(low).commit().because(0).seen().explain(good)
    while isinstance(item := run.present_check, Item):
        run = run.check(next(n for n in range(len(item.options)) if item.is_right(n)))
        assert room.keep(task, [Answer(*marking.last_answer(run), run.record())])[0].state == "right"
    mistake, value = item.wrong_answers()[0]
    missed = run.check(item.shown(value))
    assert marking.last_answer(missed) == ("check", item.shown(value))
    (marked,) = room.keep(task, [Answer(*marking.last_answer(missed), missed.record())])
    assert (marked.state, marked.idea) == ("wrong", mistake.name)
    passed = run.check(item.answer.shown)
    assert passed.step == "done"
    assert room.keep(task, [Answer(*marking.last_answer(passed), passed.record())])[0].state == "right"


def test_bad_answers_are_named_and_nothing_is_kept(room):
    task = assigned(room)["a.learner"]
    with pytest.raises(marking.CannotMark, match="nothing"):
        room.keep(task, [Answer("clamp_of_a_torque", "1 kN"), Answer("nothing", "1")])
    with pytest.raises(BadInput):
        room.keep(task, [Answer("clamp_of_a_torque", "1" * 3000)])
    assert room.answers(task) == []


def test_the_classroom_is_append_only(room, place):
    task = assigned(room)["a.learner"]
    room.keep(task, [Answer("clamp_of_a_torque", "1 kN")])
    room.comment(of(room), "a.learner", "Look again.", who="teacher")
    with room._engine.begin() as c:
        tables = [name for name in class_tables.FIXED if name != "mark"]
        sizes = {name: c.scalar(sa.text(f"SELECT count(*) FROM {name}")) for name in tables}
    assert all(sizes.values()), sizes
    for name in tables:
        column = list(class_tables.metadata.tables[name].c)[-1].name
        for verb in (f"DELETE FROM {name}", f"UPDATE {name} SET {column} = {column}"):
            with pytest.raises(sa.exc.DBAPIError, match="append-only"), room._engine.begin() as c:
                c.execute(sa.text(verb))
    with Store.open(place) as store:
        assert store.check() == []


# ------------------------------------------------------------------------------ results
def test_who_is_where_and_which_ideas_dominate(room):
    tasks = assigned(room)
    first, second, *_ = marking.items("topic", "preload")
    mistake, _ = marking.asked(first, tasks["a.learner"].seed).wrong_answers()[0]
    for login in ("a.learner", "b.learner"):
        question = marking.asked(first, tasks[login].seed)
        bad = next(v for m, v in question.wrong_answers() if m.name == mistake.name)
        room.keep(tasks[login], [Answer(first, question.shown(bad)), Answer(second, right(tasks[login], second))])
    room.keep(tasks["a.learner"], [Answer(first, right(tasks["a.learner"], first))])
    found = results.overview(room, of(room))
    (a,) = found.assignments
    assert [(found.place(p.login, a).right, found.place(p.login, a).answered) for p in PEOPLE] == [
        (2, 2),
        (1, 2),
        (0, 0),
    ]
    heat = results.heat_map(room, of(room))
    assert heat.ideas == (mistake.name,)
    assert (heat.total(mistake.name), heat.learners_with(mistake.name)) == (2, 2)


def test_a_corrected_rule_shows_what_it_changes_before_it_is_kept(room, monkeypatch):
    tasks = assigned(room)
    item = "clamp_of_a_torque"
    question = marking.asked(item, tasks["a.learner"].seed)
    off = (
        f"{question.unit.from_si(question.answer.value) * 1.06:.2f} {question.unit.text}"
        if hasattr(question.unit, "from_si")
        else None
    )
    off = off or f"{question.answer.value * 1.06 / question.unit.si:.2f} {question.unit.text}"
    assert room.keep(tasks["a.learner"], [Answer(item, off)])[0].state == "wrong"
    room.keep(tasks["b.learner"], [Answer(item, right(tasks["b.learner"], item))])
    before = results.preview(room, of(room), room.assignments(of(room)))
    assert (before.checked, before.changes) == (2, ())

    now = {
        name: dataclasses.replace(e, tolerance="8 %") if name == item else e
        for name, e in exercises.all_exercises().items()
    }
    monkeypatch.setattr(exercises, "all_exercises", lambda: now)
    marking.asked.cache_clear()
    marking._rule.cache_clear()
    found = results.preview(room, of(room), room.assignments(of(room)))
    assert [(c.entry.login, c.entry.state, c.new.state) for c in found.changes] == [("a.learner", "wrong", "right")]
    assert found.changes[0].new.rule != found.changes[0].entry.rule
    assert results.overview(room, of(room)).places[("a.learner", 1)].right == 0  # a preview keeps nothing
    with pytest.raises(BadInput):
        results.keep(room, found, who="teacher", because=" ")
    results.keep(room, found, who="teacher", because="the tolerance was too narrow")
    assert results.overview(room, of(room)).places[("a.learner", 1)].right == 1
    (entry,) = results.entries(room, of(room), login="a.learner")
    assert (entry.state, entry.first_state) == ("right", "wrong")
    assert results.preview(room, of(room), room.assignments(of(room))).changes == ()
    marking.asked.cache_clear()
    marking._rule.cache_clear()


def test_a_mark_that_a_learner_claims_falsely_is_found(room):
    task = assigned(room)["a.learner"]
    row = {"uid": "x" * 32, "class": task.of.id, "assignment": task.assignment.id, "login": "a.learner",
           "item": "clamp_of_a_torque", "seed": task.seed, "typed": "1 kN", "body": "", "seconds": None, "state": "right",
           "idea": "", "rule": "0", "at": "2026-11-28T10:00:00.000Z", "program": "0"}  # fmt: skip
    with room._writing() as c:
        c.execute(class_tables.attempt.insert(), [row])
    found = results.preview(room, of(room), room.assignments(of(room)))
    assert [(c.entry.state, c.new.state) for c in found.changes] == [("right", "wrong")]


# ------------------------------------------------------------------------------ export
def test_the_export_has_every_answer(room):
    tasks = assigned(room)
    room.keep(tasks["a.learner"], [Answer("clamp_of_a_torque", "=1+1"), Answer("clamp_of_a_torque", "1 kN", seconds=7)])
    out = io.StringIO()
    assert export.write_csv(room, of(room), out) == 2
    rows = list(csv.DictReader(io.StringIO(out.getvalue())))
    assert [r["answer"] for r in rows] == ["'=1+1", "1 kN"]
    out = io.StringIO()
    assert export.write_statements(room, of(room), out) == 2
    first, second = json.loads(out.getvalue())
    assert first["actor"]["account"]["name"] == "a.learner"
    assert second["result"] == {"response": "1 kN", "success": False, "duration": "PT7S"} | (
        {"extensions": second["result"]["extensions"]} if "extensions" in second["result"] else {}
    )
    assert first["id"] != second["id"]


def test_the_statements_are_read_by_a_learning_record_store(room):
    """ralph-malph 5: the models of a maintained learning record store validate xAPI statements."""
    models = pytest.importorskip("ralph.models.xapi.base.statements", reason="ralph-malph is not installed")
    tasks = assigned(room)
    room.keep(tasks["a.learner"], [Answer("clamp_of_a_torque", "1 kN", seconds=7), Answer("clamp_of_a_torque", "")])
    out = io.StringIO()
    export.write_statements(room, of(room), out)
    for statement in json.loads(out.getvalue()):
        models.BaseXapiStatement.model_validate(statement)


# ------------------------------------------------------------------------------ offline
@pytest.fixture
def offline(room, tmp_path):
    """A learner's machine without a network, after some work."""
    assigned(room)
    raw = result_file.work_file(room, of(room), "a.learner", room.assignments(of(room)))
    with Classroom.open(tmp_path / "learner.db") as home:
        joined, login = result_file.join(home, raw)
        result_file.join(home, raw)  # once more adds nothing
        assert (login, home.login()) == ("a.learner", "a.learner")
        (task,) = home.tasks(login)
        home.keep(
            task, [Answer("clamp_of_a_torque", right(task, "clamp_of_a_torque")), Answer("clamp_of_a_torque", "1 kN")]
        )
        yield result_file.result_file(home, joined, login)


def test_a_result_file_is_collected_once(room, offline):
    found, login, answers = result_file.read_result(room, offline)
    assert (found, login, len(answers)) == (of(room), "a.learner", 2)
    for _ in range(2):
        room.keep_all(answers)
    assert [e.state for e in results.entries(room, of(room))] == ["right", "wrong"]


def changed(raw, *path, to):
    found = json.loads(raw)
    inside = found
    for key in path[:-1]:
        inside = inside[key]
    inside[path[-1]] = to
    return json.dumps(found).encode()


@pytest.mark.parametrize(
    ("path", "to", "kind"),
    [
        (("attempts", 0, "typed"), "99 kN", "forged"),
        (("attempts", 1, "at"), "2026-11-01T00:00:00.000Z", "forged"),
        (("attempts",), [], "forged"),
        (("signature",), "AAAA", "forged"),
        (("certificate", "login"), "b.learner", "foreign"),
        pytest.param(("certificate", "key"), result_file.public_of(result_file.new_key()), "foreign", id="another key"),
        (("certificate", "signature"), "AAAA", "foreign"),
        (("certificate", "class"), "0" * 32, "foreign"),
        (("certificate",), None, "unreadable"),
        (("format",), "shoplib class work 1", "unreadable"),
    ],
)
def test_a_forged_or_foreign_file_is_named(room, offline, path, to, kind):
    with pytest.raises(result_file.NotAccepted) as caught:
        result_file.read_result(room, changed(offline, *path, to=to))
    assert caught.value.kind == kind


def test_a_file_of_another_centre_is_foreign(offline, tmp_path):
    with Classroom.open(tmp_path / "other.db") as other:
        other.new_class("Spring", who="somebody")
        with pytest.raises(result_file.NotAccepted, match="foreign"):
            result_file.read_result(other, offline)


# ------------------------------------------------------------------------------ the tables of an earlier version
def test_a_record_of_version_2_gets_the_classroom(tmp_path):
    where = tmp_path / "jobs.db"
    Store.open(where).close()
    import sqlite3

    with sqlite3.connect(where) as db:
        for name in reversed(class_tables.FIXED):
            db.execute(f"DROP TABLE {name}")
        db.execute("UPDATE store SET value = '2' WHERE key = 'version'")
    db.close()
    with Classroom.open(where) as found:
        found.new_class("Spring", who="t")
    with Store.open(where) as store:
        assert store.check() == []
    assert schema.VERSION == 3


# ------------------------------------------------------------------------------ the command line
def run(capsys, *arguments):
    code = cli.main(["class", *arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


def text_of(path):
    """The text of a PDF with single spaces."""
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(path).pages).split())


def test_a_term_on_the_command_line(tmp_path, monkeypatch, capsys):
    centre, learner = tmp_path / "centre.db", tmp_path / "learner.db"
    monkeypatch.setenv("SHOPLIB_STORE", str(centre))
    monkeypatch.delenv("SHOPLIB_LEARNER", raising=False)
    monkeypatch.delenv("JUPYTERHUB_USER", raising=False)
    monkeypatch.chdir(tmp_path)
    assert run(capsys, "new", "Spring", "--who", "teacher")[0] == 0
    (tmp_path / "r.csv").write_text("login,name\na.learner,A. Learner\nb.learner,B. Learner\n", encoding="utf-8")
    assert "2 added" in run(capsys, "roster", "Spring", "r.csv", "--who", "teacher")[1]
    assert "a.learner,A. Learner,learner" in run(capsys, "roster", "Spring")[1]
    assert "assignment 1" in run(capsys, "assign", "Spring", "topic", "preload", "--who", "teacher")[1]
    assert run(capsys, "assign", "Spring", "topic", "cooking")[0] == 2
    assert run(capsys, "pack", "Spring", "-o", "work")[0] == 0

    monkeypatch.setenv("SHOPLIB_STORE", str(learner))
    assert run(capsys, "join", "work/a.learner.work.json")[0] == 0
    with Classroom.open() as home:
        (task,) = home.tasks("a.learner")
        home.keep(task, [Answer("clamp_of_a_torque", right(task, "clamp_of_a_torque"))])
    (tmp_path / "back").mkdir()
    assert run(capsys, "result", "Spring", "-o", "back/a.result.json")[0] == 0
    good = (tmp_path / "back/a.result.json").read_bytes()
    (tmp_path / "back/b.result.json").write_bytes(changed(good, "attempts", 0, "typed", to="1 kN"))

    monkeypatch.setenv("SHOPLIB_STORE", str(centre))
    code, out, err = run(capsys, "collect", "back")
    assert code == 1
    assert "a.result.json: a.learner" in out
    assert "b.result.json: not accepted: forged" in err
    assert "1/" in run(capsys, "results", "Spring")[1]
    assert "right" in run(capsys, "results", "Spring", "--learner", "a.learner")[1]
    assert run(capsys, "comment", "Spring", "a.learner", "Good.", "--who", "teacher")[0] == 0
    assert "1 answers" in run(capsys, "export", "Spring", "-o", "out.csv")[1]
    assert run(capsys, "export", "Spring", "--statements", "-o", "out.json")[0] == 0
    assert len(json.loads((tmp_path / "out.json").read_text())) == 1
    assert "0 marks change" in run(capsys, "regrade", "Spring")[1]
    assert run(capsys, "papers", "Spring", "1")[0] == 0
    sheets, key = (text_of(tmp_path / f"sheets/assignment-1-{name}.pdf") for name in ("learners", "answer-key"))
    with Classroom.open(centre) as room:
        found = room.class_of("Spring")
        seats, people = room.seats(room.assignment(found, 1)), room.people(found)
    for n, person in enumerate((p for p in people if p.login in seats), 1):
        assert re.search(rf"Sheet {n} of \d+ NAME {re.escape(person.name)} ", sheets)
        assert f"{n} {person.name} {seats[person.login]}" in key
        assert str(seats[person.login]) not in sheets  # whoever knows it can compute the answers
    assert "set 1" in sheets
    assert "Spring" in run(capsys, "list")[1]
