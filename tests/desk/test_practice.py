"""The practice box and the guess, driven without a browser."""

import html
import json
import re

import pytest

from shoplib.desk import Practice
from shoplib.teaching.exercise import Score
from shoplib.teaching.salt import salted_seed
from shoplib.topics import exercises
from tests.notebooks import FOLDER


@pytest.fixture
def box():
    return Practice("preload", score=Score())


def plain(widget):
    return re.sub(r"<[^>]+>", " ", widget.value)


def say(box, typed):
    box.box.value = typed
    box.answer()
    return plain(box.said)


def test_asks_hints_solves_and_scores(box):
    q = box.question
    assert "How large is the clamp load?" in plain(box.asked)
    assert q.answer.shown not in plain(box.asked) + box.box.placeholder
    assert box.work.disabled, "no solution before the first try"
    assert "unit" in say(box, "33")
    assert box.work.disabled, "what cannot be read is no try"
    mistake, wrong = q.wrong_answers()[1]
    assert mistake.hint in say(box, q.shown(wrong))
    assert not box.work.disabled
    assert "Right" in say(box, q.answer.shown)
    assert q.exercise.lesson in plain(box.said)
    assert "1 question, 0 right at the first try, 1 after a hint" in plain(box.tally)
    assert box.picks[0].description == "1 ✓"


def test_worked_solution_shows_steps_and_takes_the_point_away(box):
    say(box, "1 kN")
    box.work.click()
    assert box.question.answer.shown in plain(box.solution)
    assert "$$" in box.solution.value
    assert "data:image/svg+xml" in box.solution.value
    say(box, box.question.answer.shown)
    assert "0 right at the first try, 0 after a hint" in plain(box.tally)


def test_new_numbers_and_next_question_clear_the_box(box):
    say(box, "1 kN")
    first = box.question
    box.fresh.click()
    assert box.question.seed == first.seed + 1
    assert box.question.text != first.text
    assert (box.box.value, box.said.value, box.solution.value) == ("", "", "")
    assert box.work.disabled
    box.picks[1].click()
    assert box.question.exercise.name != first.exercise.name
    box.picks[0].click()
    assert box.question.seed == first.seed + 1, "each exercise keeps its own numbers"


def test_enter_checks(box):
    box.box.value = box.question.answer.shown
    box.box._handle_custom_msg({"event": "submit"}, [])
    assert "Right" in plain(box.said)


def test_typed_text_is_never_markup(box):
    hostile = "<img src=x onerror=alert(1)> $x^2$"
    say(box, hostile)
    assert "<img src=x" not in box.said.value
    say(box, "1 kN")
    box.learner.value = hostile
    box.print.click()
    assert "<img src=x" not in box.sheet.value
    assert "&lt;img src=x" in box.sheet.value


@pytest.mark.parametrize("typed", ["", "   ", "nan", "9" * 10_000, "=1+1", "40 \u202eN*m", "1,234 kN", "40 N*m"])
def test_nothing_typed_breaks_the_box(box, typed):
    say(box, typed)
    assert 'data-state="asked"' in box.said.value
    assert box.score.marks == []


def test_sheet_as_text_and_as_paper():
    made = []

    def paper(score, name):
        made.append((score, name))
        return b"%PDF-"

    box = Practice("preload", score=Score(), paper=paper)
    box.print.click()
    assert not made, "an empty sheet is not worth paper"
    say(box, "1 kN")
    box.learner.value = "  Ada "
    box.print.click()
    assert made == [(box.score, "Ada")]
    assert "application/pdf;base64,JVBERi0=" in box.sheet.value
    assert "Learner: Ada" in box.sheet.value


def test_boxes_of_one_session_share_the_score():
    one, two = Practice("thread"), Practice("wrench")
    assert one.score is two.score


def test_only_those_named_and_a_wrong_name_is_said():
    box = Practice("preload", "torque_for_a_clamp", score=Score())
    assert [q.exercise.name for q in box._questions] == ["torque_for_a_clamp"]
    with pytest.raises(KeyError, match="no exercise torke; choose from clamp_of_a_torque"):
        Practice("preload", "torke")
    with pytest.raises(KeyError, match="no topic is called 'knitting'"):
        Practice("knitting")


@pytest.mark.parametrize("topic", exercises.topics())
def test_readers_without_a_kernel_see_questions_and_no_answer(topic):
    box = Practice(topic, score=Score())
    data = box._repr_mimebundle_()
    data = data[0] if isinstance(data, tuple) else data
    for q in box._questions:
        assert q.exercise.title in data["text/html"]
        assert q.text in data["text/plain"]
        for saved in (data["text/html"], data["text/plain"]):
            assert answers_in(q, saved) == []
            assert q.exercise.lesson not in saved
    assert "<details>" not in data["text/html"]
    again = Practice(topic, score=Score())
    assert again.static_html() == box.static_html()
    assert again.text() == box.text()


def answers_in(q, saved):
    """What of the answer or of the solution stands in a saved output.  A word among the choices is no answer."""
    told = "" if q.exercise.solution is None else q.exercise.solution(q.result)
    given = [] if q.in_words else [q.answer.shown]
    found = [x for x in (*given, told) if x and plain_text(x) in plain_text(saved)]
    return [x for x in found if plain_text(x) not in plain_text(q.text)]


def plain_text(text):
    return re.sub(r"[\s\u00a0\u202f]+", " ", re.sub(r"<[^>]+>", " ", html.unescape(text)))


def test_an_answer_in_a_saved_output_is_found():
    q = Practice("preload", score=Score()).question
    assert answers_in(q, f"<p>{q.text}</p><b>{q.answer.shown}</b>") == [q.answer.shown]


def test_a_salted_seed_is_not_shown():
    seed = salted_seed("a secret for this test", "preload", 1)
    box = Practice("preload", seed=seed, score=Score())
    say(box, "1 kN")
    assert str(seed) not in box.asked.value + box.static_html() + box.score.as_text()
    assert "numbers of the class" in box.asked.value


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.ipynb")), ids=lambda p: p.name)
def test_no_committed_notebook_shows_an_answer_of_its_exercises(path):
    cells = [c for c in json.loads(path.read_text(encoding="utf-8"))["cells"] if "Practice(" in "".join(c["source"])]
    for cell in cells:
        topic = re.search(r"Practice\(\"(\w+)", "".join(cell["source"]))[1]
        saved = " ".join("".join(text) for o in cell["outputs"] for text in o.get("data", {}).values())
        asked = [q for q in Practice(topic, score=Score())._questions if plain_text(q.text) in plain_text(saved)]
        assert asked, f"{path.name}: no question of {topic} is saved"
        for q in asked:
            told = "" if q.exercise.solution is None else plain_text(q.exercise.solution(q.result))
            assert q.exercise.lesson not in saved and not (told and told in plain_text(saved)), q.exercise.name
            if not q.in_words and plain_text(q.answer.shown) not in plain_text(q.text):
                others = plain_text(saved).replace(plain_text(q.text), "")
                number = rf"(?<![\d.,−]){re.escape(plain_text(q.answer.shown))}(?!\w)"
                other_questions = " ".join(plain_text(x.text) for x in asked if x is not q)
                assert not re.search(number, others) or re.search(number, other_questions), q.exercise.name
