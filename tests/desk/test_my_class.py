"""The learner's page and the instructor's desk: answers are saved as they are given, and work goes on where it was left."""

import pytest

from shoplib.classroom import marking, results
from shoplib.classroom.classes import Answer, Classroom
from shoplib.classroom.people import Person
from shoplib.desk.widgets import class_answers
from shoplib.desk.widgets.class_desk import ClassDesk
from shoplib.desk.widgets.my_class import MyAssignments, MyClass
from shoplib.desk.widgets.session import session
from shoplib.record.errors import Busy
from shoplib.topics.concept_items import FORMS
from shoplib.topics.guided import all_guided

LESSON = next(iter(all_guided()))


@pytest.fixture
def room(tmp_path, monkeypatch):
    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "jobs.db"))
    monkeypatch.setenv("SHOPLIB_LEARNER", "a.learner")
    session.close()
    with Classroom.open() as found:
        of = found.new_class("Spring <b>", who="teacher")
        found.enrol(of, [Person("a.learner", "A. <i>Learner")], who="teacher")
        for kind, item in (("topic", "preload"), ("test", "A"), ("lesson", LESSON)):
            found.assign(of, kind, item, who="teacher")
        yield found
    session.close()


def page():
    """A page as a new kernel shows it."""
    session.close()
    made = MyClass()
    made.read()
    return made


def task(made, kind):
    return next(t for t in made.tasks if t.assignment.kind == kind)


def test_exercises_are_saved_and_go_on_in_another_kernel(room):
    made = page()
    made.work_on(task(made, "topic"))
    question = made.opened.question
    made.opened.box.value = "1"
    made.opened.answer()
    made.opened.box.value = question.answer.shown
    made.opened.answer()
    made.opened.box.value = ""
    made.opened.answer()  # an empty box is no answer
    assert "Saved: 2 answers" in made.place.children[1].children[0].value
    again = page()
    again.work_on(task(again, "topic"))
    assert again.opened.question.text == question.text
    assert again.opened.score.mark(again.opened.question).right
    assert "1 of" in page().list.children[0].children[0].value


def test_the_test_and_the_lesson_go_on_where_they_were_left(room):
    made = page()
    made.work_on(task(made, "test"))
    for _ in range(3):
        made.opened.choice.index = 0
        made.opened.next()
    again = page()
    again.work_on(task(again, "test"))
    assert again.opened.answers == [0, 0, 0]
    assert f"question 4 of {len(FORMS['A'])}" in again.opened.asked.value
    made.close_task()
    made.work_on(task(made, "lesson"))
    guided = made.opened
    if guided.lesson.ask() is None:
        guided._choice.index = 0
    else:
        guided.slider.value, guided.slider.placed = guided.slider.min, True
    guided.commit()
    again.close_task()
    again.work_on(task(again, "lesson"))
    assert again.opened.run == guided.run
    assert guided.run.step == "why"


def test_an_answer_that_is_not_saved_says_so_and_is_saved_later(room, monkeypatch):
    made = page()
    made.work_on(task(made, "test"))
    keep, status = Classroom.keep, made.place.children[1]

    def busy(*_):
        raise Busy("the record is busy")

    monkeypatch.setattr(Classroom, "keep", busy)
    made.opened.choice.index = 0
    made.opened.next()
    assert "not saved yet: the record is busy" in status.children[0].value
    monkeypatch.setattr(Classroom, "keep", keep)
    status.children[1].click()
    assert "Saved: 1 answer" in status.children[0].value
    assert [e.typed for e in results.entries(room, room.class_of("Spring <b>"))] == ["0"]


def test_the_contents_page_lists_what_is_open(room, monkeypatch):
    made = MyAssignments()
    made.read()
    assert "Spring &lt;b&gt;" in made.list.value
    assert made.list.value.count("<tr>") == 4
    assert "Spring" not in made.text() + made.static_html()
    monkeypatch.setenv("SHOPLIB_LEARNER", "stranger")
    session.close()
    none = MyAssignments()
    none.read()
    assert "not in a class" in none.list.value


def test_the_class_desk_shows_and_marks_again(room, monkeypatch):
    of = room.class_of("Spring <b>")
    todo = next(t for t in room.tasks("a.learner") if t.assignment.kind == "topic")
    mistake, wrong = marking.asked("clamp_of_a_torque", todo.seed).wrong_answers()[0]
    room.keep(todo, [Answer("clamp_of_a_torque", marking.asked("clamp_of_a_torque", todo.seed).shown(wrong))])
    monkeypatch.setenv("SHOPLIB_LEARNER", "teacher")
    session.close()
    desk = ClassDesk()
    desk.read()
    assert len(desk.page.children[0].children) == 1  # a small class needs no pages
    assert "A. &lt;i&gt;Learner" in desk.page.children[0].page.children[0].value
    assert "0/" in desk.page.children[0].page.children[0].value
    desk.show("Ideas")
    assert marking.idea_in_words(mistake.name) in desk.page.children[0].page.children[0].value
    assert 'data-heat="1">1<' in desk.page.children[0].page.children[0].value  # one answer is not dark
    desk.show("One learner")
    desk.learner.value = "a.learner"
    assert "✕ wrong" in desk.history.value
    desk.comment.box.value = "Look at <b>friction</b>."
    desk.send.click()
    assert "Look at &lt;b&gt;friction" in desk.history.value
    real = marking.mark
    monkeypatch.setattr(
        marking, "mark", lambda *x: marking.Marked("right", rule="new") if x[0] == "topic" else real(*x)
    )
    desk.show("Marks")
    desk.preview.click()
    assert "1 marks change" in desk.page.children[0].value
    assert results.overview(room, of).places[("a.learner", todo.assignment.id)].right == 0
    desk.because.box.value = "the rule was wrong"
    desk.keep.click()
    assert results.overview(room, of).places[("a.learner", todo.assignment.id)].right == 1
    desk.show("Files")
    desk.page.children[0].children[0].click()
    assert "answers.csv" in desk.downloads.value
    assert class_answers.ClassAnswers(todo).status.children


def test_a_large_class_is_shown_a_page_at_a_time(room, monkeypatch):
    of = room.new_class("All", who="teacher")
    room.enrol(of, [Person(f"l{n:03d}", f"Learner {n:03d}") for n in range(120)], who="teacher")
    monkeypatch.setenv("SHOPLIB_LEARNER", "teacher")
    session.close()
    desk = ClassDesk()
    desk.read()
    desk.which.value = next(k for _, k in desk.which.options if k.name == "All")
    (pages,) = desk.page.children
    assert pages.place.value == "1 to 50 of 120"
    assert pages.back.disabled
    pages.on.click()
    pages.on.click()
    assert pages.place.value == "101 to 120 of 120"
    assert pages.on.disabled
    assert pages.page.children[0].value.count("<small>l1") == 20
    pages.find.value = "LEARNER 007"
    assert pages.place.value == "1 to 1 of 1"
    assert "l007" in pages.page.children[0].value
    pages.find.value = "nobody"
    assert pages.place.value == "Nobody has this name or login."
    desk.show("One learner")
    desk.page.children[0].find.value = "l119"
    assert desk.learner.options == (("—", ""), ("Learner 119 (l119)", "l119"))
    desk.learner.value = "l119"
    assert "No answers yet" in desk.history.value
    desk.show("Ideas")
    assert "No wrong answer" in desk.page.children[0].page.children[0].value
