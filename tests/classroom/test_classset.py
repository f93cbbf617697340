"""Exercises on paper: sheets to hand out, the answer key, the learner's sheet."""

import io
import json
import re

import pypdf
import pytest

from shoplib.cli import main
from shoplib.record.sanitise import BadText
from shoplib.sheet.class_set import key_pdf, learner_sheet, learners_pdf
from shoplib.sheet.render import SheetError
from shoplib.teaching.concept_test import LETTERS
from shoplib.teaching.exercise import INVENTED, Score, class_set
from shoplib.topics import exercises
from shoplib.topics.concept_items import FORMS
from shoplib.topics.guided import all_guided
from shoplib.topics.instructor import LABS, TERM, talks
from tests.notebooks import labs_as_markdown, route_as_markdown


def words_of(pdf):
    return " ".join(words_of_page(page) for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def words_of_page(page):
    return re.sub(r"[\s\u00a0\u202f]+", " ", page.extract_text())


@pytest.fixture(scope="module")
def made():
    return class_set("wrench", exercises.of_topic("wrench"), 3, 7)


@pytest.fixture(scope="module")
def handed_out(made):
    return learners_pdf(made)


def squeezed(text):
    return re.sub(r"[\s\u00a0\u202f]+", " ", text)


def test_every_learner_finds_his_questions_and_no_answer(made, handed_out):
    text = words_of(handed_out)
    for k, sheet in enumerate(made.sheets, 1):
        assert f"Sheet {k} of 3" in text
        for q in sheet:
            assert squeezed(q.text) in text
            if q.answer.shown not in q.text:
                assert squeezed(q.answer.shown) not in text
    attached = pypdf.PdfReader(io.BytesIO(handed_out)).attachments
    assert list(attached) == ["class-set.json"]
    record = json.loads(attached["class-set.json"][0])
    assert record["class_set"] == {"topic": "wrench", "seed": 7, "learners": 3}
    assert INVENTED.split(";")[0] in text


def test_the_key_holds_every_answer_and_every_wrong_number_with_its_reason(made):
    text = words_of(key_pdf(made))
    for sheet in made.sheets:
        for q in sheet:
            assert squeezed(q.answer.shown) in text
            for mistake, value in q.wrong_answers():
                assert squeezed(q.shown(value)) in text
                assert squeezed(mistake.hint) in text


def test_the_same_seed_gives_the_same_bytes(made, handed_out):
    assert learners_pdf(class_set("wrench", exercises.of_topic("wrench"), 3, 7)) == handed_out
    assert learners_pdf(class_set("wrench", exercises.of_topic("wrench"), 3, 8)) != handed_out


@pytest.fixture
def score(made):
    score, q, other = Score(), made.sheets[0][0], made.sheets[0][1]
    score.answered(q, q.shown(q.wrong_answers()[0][1]))
    score.answered(q, q.answer.shown)
    score.looked_up(other)
    return score


def test_learners_sheet(score):
    text = words_of(learner_sheet(score, "Ada"))
    assert "Ada" in text
    assert "2 questions, 0 right at the first try, 1 after a hint" in text
    assert "wrong: multiplied by 1.356 instead of dividing" in text
    assert "solution seen" in text


@pytest.mark.parametrize("name", ["#panic()", "<b>Ada</b>", '"}] $x^2$ \\u{41}', "*Ada* _x_ @ref", "x" * 80])
def test_a_name_is_plain_text(score, name):
    assert name.replace(" ", "") in words_of(learner_sheet(score, name)).replace(" ", "").replace("\u200b", "")


def test_a_name_that_cannot_be_printed_is_said(score):
    with pytest.raises(SheetError, match="learner's name"):
        learner_sheet(score, "李")
    with pytest.raises(BadText, match="U\\+202E"):
        learner_sheet(score, "a\u202eb")


# ------------------------------------------------------------------------------ the command
def test_class_command(tmp_path, capsys):
    words = ["class", "wrench", "--learners", "2", "--seed", "7", "-o", str(tmp_path)]
    assert main(words) == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["wrench-7-answer-key.pdf", "wrench-7-learners.pdf"]
    assert "answer key:" in capsys.readouterr().out
    assert main(words) == 2
    assert "already exists" in capsys.readouterr().err
    before = (tmp_path / "wrench-7-learners.pdf").read_bytes()
    assert main([*words, "--force"]) == 0
    assert (tmp_path / "wrench-7-learners.pdf").read_bytes() == before


def test_class_command_with_the_secret_of_a_class(tmp_path, capsys):
    secret = tmp_path / "secret.txt"
    secret.write_text("a secret of this class\n")
    words = ["class", "wrench", "--learners", "2", "--seed", "7", "--secret", str(secret)]
    assert main([*words, "-o", str(tmp_path / "one")]) == 0
    assert main([*words[:-2], "-o", str(tmp_path / "two")]) == 0
    one, two = (words_of((tmp_path / n / "wrench-7-learners.pdf").read_bytes()) for n in ("one", "two"))
    assert "set 7" in one
    assert one != two
    capsys.readouterr()
    secret.write_text("short")
    assert main([*words, "-o", str(tmp_path / "three")]) == 2
    assert "16 characters" in capsys.readouterr().err
    assert main([*words[:-1], str(tmp_path), "-o", str(tmp_path / "three")]) == 2
    assert "not a regular file" in capsys.readouterr().err
    assert not (tmp_path / "three").exists()


def test_class_command_lists_topics(capsys):
    assert main(["class"]) == 0
    assert "wrench" in capsys.readouterr().out


def test_class_command_names_everything_that_is_wrong(tmp_path, capsys):
    assert main(["class", "../etc", "--learners", "0", "--seed", "-1", "-o", str(tmp_path / "new")]) == 2
    err = capsys.readouterr().err
    assert "../etc: unknown topic; choose one of" in err
    assert "--learners" in err
    assert "--seed" in err
    assert not (tmp_path / "new").exists()


def test_too_large_a_class_is_said_and_nothing_is_written(tmp_path, capsys):
    assert main(["class", "thread", "--learners", "201", "-o", str(tmp_path / "new")]) == 2
    assert "from 1 to 200" in capsys.readouterr().err
    assert not (tmp_path / "new").exists()


def test_sixty_learners_in_a_topic_with_few_numbers(tmp_path):
    assert main(["class", "thread", "--learners", "60", "-o", str(tmp_path)]) == 0
    assert len(pypdf.PdfReader(tmp_path / "thread-1-learners.pdf").pages) >= 60


def test_the_concept_test_on_paper_with_its_key(tmp_path, capsys):
    assert main(["class", "concept_test", "-o", str(tmp_path)]) == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["concept-test-A.pdf", "concept-test-B.pdf"]
    assert "Form A: " in capsys.readouterr().out
    assert main(["class", "concept_test", "-o", str(tmp_path)]) == 2
    assert "already exists" in capsys.readouterr().err


def test_a_report_of_the_concept_test_from_paper(tmp_path, capsys):
    keys = {name: "".join(LETTERS[i.order.index(i.right)] for i in items) for name, items in FORMS.items()}
    first = FORMS["A"][0]
    wrong = LETTERS[next(k for k, o in enumerate(first.order) if o.belief == "oil_slips")]
    file = tmp_path / "answers.csv"
    file.write_text(f"A, {wrong}{keys['A'][1:]}\nA,{keys['A'][:-1]}-\n\nb, {keys['B']}\n")
    assert main(["class", "concept_test", "--answers", str(file)]) == 0
    said = capsys.readouterr().out
    assert "Before: 38 of 40 right, 1 not answered" in said
    assert "After: 20 of 20 right" in said
    assert "An oiled bolt slips, so it holds less.  1 of " in said and "→ 0 of " in said
    file.write_text("C, AB\nA, AB\nA " + keys["A"])
    assert main(["class", "concept_test", "--answers", str(file)]) == 2
    error = capsys.readouterr().err
    assert all(f"line {n}: " in error for n in (1, 2, 3))
    assert "type 20 letters" in error


def test_the_instructors_guide_with_a_sheet_for_each_lab(tmp_path, capsys):
    assert main(["class", "guide", "-o", str(tmp_path)]) == 0
    pdf = (tmp_path / "instructors-guide.pdf").read_bytes()
    pages = [words_of_page(page) for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]
    route, *sayings = pages[: -len(LABS)]
    for meeting in TERM:
        assert squeezed(meeting.answer) in route, "the route is on one page"
    said = "".join(sayings)
    for talk in talks():
        assert all(squeezed(words) in said for words in (talk.question, talk.goal, *sum(talk.said, ())))
    for lab, page in zip(LABS, pages[-len(LABS) :], strict=True):
        assert all(len(row) == len(lab.head) for row in lab.rows)
        for text in (lab.title, *lab.steps, *lab.cautions, *lab.work_out):
            assert squeezed(text) in page
        assert not [text for text in lab.expect if squeezed(text) in page], "what to expect is for the instructor"
    assert main(["class", "guide", "-o", str(tmp_path)]) == 2
    assert "already exists" in capsys.readouterr().err


def test_every_guided_lesson_has_its_place_in_the_term():
    assert sorted(name for m in TERM for name in m.lessons) == sorted(all_guided())
    assert len(TERM) == 12
    assert all(m.answer in route_as_markdown() for m in TERM)
    assert all(lab.title in labs_as_markdown() for lab in LABS)


def test_the_numbers_that_a_lab_expects():
    rows = next(lab for lab in LABS if lab.letter == "C").rows[:3]
    given = [100 * float(p) * 0.5 / (float(w) + float(p)) for _, w, p, *_ in rows]
    assert [round(x, 1) for x in given] == [33.3, 41.7, 25.0]
    assert 9 * (50 - given[2]) / (100 - given[2]) == pytest.approx(3.0)
    assert sum(float(premix) for _, _, premix, *_ in rows) == 18.0
    assert pytest.approx(32) == 40 * 400 / (400 + 100)  # N·m at the wrench, for 40 N·m at the bolt
    assert pytest.approx(45) == 100 * 0.450  # N·m: the same pull on an arm of 450 mm
    assert pytest.approx(0.7, abs=0.05) == 95.4 * (2 * 0.005**2) ** 0.5
    per_litre = [0.5 * 3 / 9**2, 0.5 * 6 / 9**2]  # by the premix, by the water
    assert 100 * sum(0.05 * x for x in per_litre) == pytest.approx(0.3, abs=0.05)


def test_us_letter(made):
    page = pypdf.PdfReader(io.BytesIO(learners_pdf(made, paper="letter"))).pages[0]
    assert (round(float(page.mediabox.width)), round(float(page.mediabox.height))) == (612, 792)
