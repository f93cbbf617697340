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
from shoplib.teaching.exercise import INVENTED, Score, class_set
from shoplib.topics import exercises


def words_of(pdf):
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    return re.sub(r"[\s\u00a0\u202f]+", " ", text)


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


def test_us_letter(made):
    page = pypdf.PdfReader(io.BytesIO(learners_pdf(made, paper="letter"))).pages[0]
    assert (round(float(page.mediabox.width)), round(float(page.mediabox.height))) == (612, 792)
