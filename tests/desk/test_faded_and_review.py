"""Faded examples, and the mixed review that brings exercises back after days."""

import itertools
import re
from datetime import date, timedelta

import pytest

from shoplib.desk import Faded, Review
from shoplib.teaching.faded import ALONE, DONE, FULL, GAP, MISSING, FadedRun, restored_run, steps_of, without_last_step
from shoplib.teaching.review import DAYS, MOST_A_DAY, NEW_A_DAY, Schedule, restored_schedule
from shoplib.topics.exercises import all_exercises

EVERY = all_exercises()
DAY = date(2026, 3, 2)
ONE_OF_SEVERAL = {"projection_that_governs"}  # the last step chooses among averages that are shown


def plain(widget):
    return re.sub(r"<[^>]+>", " ", widget.value).replace("\u00a0", " ")


# ------------------------------------------------------------------------------ faded examples
@pytest.mark.parametrize("name", EVERY)
def test_the_last_step_is_missing_and_nothing_else(name):
    for seed in range(8):
        q = EVERY[name].ask(seed)
        shown = without_last_step(q)
        assert shown.endswith(GAP)
        assert steps_of(q).startswith(shown.removesuffix(GAP).strip())
        if not q.in_words and name not in ONE_OF_SEVERAL:
            number = re.escape(q.answer.shown.split()[0].rstrip("°"))
            assert not re.search(rf"(?<![\d.]){number}(?![\d.])", shown.replace(q.text, "")), (seed, shown)


def solved(run):
    return run.answer(run.question.answer.shown)


def missed(run):
    q = run.question
    wrong = q.wrong_answers()[0][1]
    return run.answer(wrong if q.in_words else q.shown(wrong))


def test_help_fades_and_comes_back():
    run = FadedRun(EVERY["clamp_of_a_torque"])
    assert run.shown == steps_of(run.question)
    assert run.answer("1 kN")[1] == run, "a full example is read, not answered"
    texts = [run.question.text]
    run = run.read()
    assert run.stage == MISSING and GAP in run.shown and run.read() == run
    texts.append(run.question.text)
    verdict, same = run.answer("33")
    assert (verdict.state, same) == ("asked", run), "what cannot be read changes nothing"
    verdict, once = missed(run)
    assert verdict.state == "wrong" and once.stage == MISSING
    assert missed(once)[1].stage == FULL, "after two wrong answers the full example comes again"
    assert missed(once)[1].question.text not in texts
    run = solved(once)[1]
    assert (run.stage, run.shown, run.missed) == (ALONE, "", 0)
    texts.append(run.question.text)
    assert missed(missed(run)[1])[1].stage == MISSING
    run = solved(run)[1]
    assert run.stage == DONE
    assert len(set(texts)) == 3, "each stage has other numbers"


def test_a_record_restores_a_faded_run():
    exercise = EVERY["clamp_of_a_torque"]
    run = missed(FadedRun(exercise).read())[1]
    assert restored_run(exercise, run.record()) == run
    for odd in ({}, {"stage": 9}, {"seed": "x", "stage": 1, "missed": 0}, {**run.record(), "missed": 7}):
        assert restored_run(exercise, odd) == FadedRun(exercise)


def test_the_faded_box_shows_no_more_than_its_stage():
    box = Faded("clamp_of_a_torque")
    assert steps_of(box.run.question) in plain(box.head)
    assert box.box.layout.display == "none"
    box.go.click()
    q = box.run.question
    assert steps_of(q) not in plain(box.head) and without_last_step(q) in plain(box.head)
    box.box.value = q.answer.shown
    box.go.click()
    assert "Right" in plain(box.said)
    assert box.box.value == ""
    assert GAP not in plain(box.head) and " = " not in plain(box.head).replace(box.run.question.text, "")
    box.box.value = box.run.question.answer.shown
    box.go.click()
    assert box.run.stage == DONE and box.run.exercise.lesson in plain(box.said)
    box.go.click()
    assert box.run.stage == FULL
    saved = Faded("clamp_of_a_torque").static_html()
    assert steps_of(EVERY["clamp_of_a_torque"].ask(1)) not in saved


def test_a_faded_box_goes_on_where_it_was_left(tmp_path, monkeypatch):
    from shoplib.desk.widgets.session import session

    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "jobs.db"))
    session.close()
    try:
        box = Faded("clamp_of_a_torque")
        box.go.click()
        monkeypatch.setattr(type(session), "call_soon", staticmethod(lambda work, seconds=0.0: work()))
        other = Faded("clamp_of_a_torque")
        other._repr_mimebundle_()
        assert other.run == box.run != FadedRun(box.run.exercise)
    finally:
        session.close()


# ------------------------------------------------------------------------------ mixed review
def test_a_right_answer_comes_back_later_each_time_and_a_wrong_one_tomorrow():
    schedule, day, waits = Schedule(), DAY, []
    for _ in range(len(DAYS) + 2):
        schedule = schedule.answered("clamp_of_a_torque", True, day)
        waits.append(schedule.next_day() - day)
        day = schedule.next_day()
    assert waits == [timedelta(days=n) for n in (*DAYS, DAYS[-1], DAYS[-1])]
    schedule = schedule.answered("clamp_of_a_torque", False, day)
    assert schedule.next_day() == day + timedelta(days=1)
    schedule = schedule.answered("clamp_of_a_torque", True, day)
    assert schedule.next_day() == day + timedelta(days=1), "it begins again with the shortest time"


def test_nothing_is_asked_before_its_day_and_the_longest_overdue_comes_first():
    schedule = Schedule().answered("clamp_of_a_torque", True, DAY).answered("travel_of_an_angle", True, DAY)
    schedule = schedule.answered("travel_of_an_angle", True, DAY + timedelta(days=1))  # due on the 4th day
    exercises = [EVERY["travel_of_an_angle"], EVERY["clamp_of_a_torque"]]
    assert schedule.today(exercises, DAY) == ()
    assert [e.name for e in schedule.today(exercises, DAY + timedelta(days=1))] == ["clamp_of_a_torque"]
    assert [e.name for e in schedule.today(exercises, DAY + timedelta(days=9))] == [
        "clamp_of_a_torque", "travel_of_an_angle",
    ]  # fmt: skip


def test_a_day_is_short_and_mixed_and_every_exercise_has_its_turn():
    schedule, seen = Schedule(), set()
    for n in range(120):
        day = DAY + timedelta(days=n)
        asked = schedule.today(EVERY.values(), day)
        assert len(asked) <= MOST_A_DAY
        assert len([e for e in asked if e.name not in seen]) <= NEW_A_DAY
        topics = [e.topic for e in asked]
        most = max(map(topics.count, topics), default=0)
        if most <= (len(topics) + 1) // 2:
            assert all(a != b for a, b in itertools.pairwise(topics)), topics
        for k, e in enumerate(asked):
            seen.add(e.name)
            schedule = schedule.answered(e.name, (n + k) % 5 > 0, day)
    assert seen == set(EVERY)


def test_a_record_restores_the_schedule_and_junk_is_left_out():
    schedule = Schedule().answered("clamp_of_a_torque", True, DAY).answered("what_falls", False, DAY)
    assert restored_schedule(schedule.record(), EVERY) == schedule
    junk = {"gone": [1, 9], "what_falls": [99, 5], "two_pitches": "x", "used_again": [True, 1], "guard_band": [1]}
    assert restored_schedule({"seen": {**schedule.record()["seen"], **junk}}, EVERY).seen.keys() == {
        "clamp_of_a_torque"
    }
    for odd in ({}, {"seen": None}, {"seen": [1]}):
        assert restored_schedule(odd, EVERY) == Schedule()


def test_the_review_box_stores_the_first_answer_only(monkeypatch):
    stored = []
    monkeypatch.setattr("shoplib.desk.widgets.lesson_store.save_answers", lambda name, answers: stored.append(answers))
    box = Review(today=lambda: DAY)
    assert f"Today: {NEW_A_DAY} questions." in plain(box.head)
    box.go.click()
    (inner,) = box.body.children
    q = inner.question
    inner.box.value = "nonsense"
    inner.answer()
    assert stored == [], "what cannot be read is no answer"
    inner.box.value = q.answer.shown
    inner.answer()
    assert stored[-1]["seen"] == {q.exercise.name: [1, DAY.toordinal() + 1]}
    inner.show_solution()
    assert len(stored) == 1
    inner.go_to(1)
    inner.show_solution()
    assert stored[-1]["seen"][inner.question.exercise.name] == [0, DAY.toordinal() + 1], "the solution is no answer"
    tomorrow = Review(today=lambda: DAY + timedelta(days=1))
    tomorrow._restored(stored[-1])
    assert f"Today: {2 + NEW_A_DAY} questions." in plain(tomorrow.head)
    later = Review("preload", today=lambda: DAY)
    later._restored({"seen": {name: [3, DAY.toordinal() + 7] for name in EVERY}})
    assert "Nothing is due before 09 March 2026." in plain(later.head) and later.go.disabled
    with pytest.raises(KeyError, match="knitting"):
        Review("knitting")


def test_a_saved_review_shows_no_question():
    saved = Review().static_html() + Review().text()
    assert not [e.name for e in EVERY.values() if e.title in saved]
