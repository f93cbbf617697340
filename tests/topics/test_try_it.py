"""Try it: an answer comes after the learner's own, and a saved notebook holds none."""

import json
import re

import pytest

from shoplib.desk import TryIt
from shoplib.topics.try_it import ANSWERS
from tests.notebooks import FOLDER

NOTEBOOKS = {p.name[:2]: p for p in sorted(FOLDER.glob("*.ipynb"))}


def plain(text):
    return re.sub(r"[\s\u00a0]+", " ", text)


def shown(box):
    return plain(" ".join(w.value for w in box.said))


@pytest.mark.parametrize("number", ANSWERS)
def test_each_answer_comes_after_the_learners_own(number):
    box = TryIt(number)
    assert shown(box).strip() == ""
    for n, answer in enumerate(ANSWERS[number]):
        assert box.buttons[n].disabled
        box.boxes[n].value = "  "
        box.commit(n)
        assert plain(answer) not in shown(box).replace("&#34;", '"'), "a blank is no answer"
        box.boxes[n].value = "I see <b>nothing</b>"
        assert not box.buttons[n].disabled
        box.buttons[n].click()
        assert box.boxes[n].disabled, "what is committed stays"
        assert answer.split("“")[0].split("'")[0] in shown(box)
        assert "<b>nothing" not in shown(box)


@pytest.mark.parametrize("number", ANSWERS)
def test_a_saved_notebook_holds_no_answer(number):
    text = NOTEBOOKS[number].read_text(encoding="utf-8")
    cells = json.loads(text)["cells"]
    assert f'TryIt("{number}")' in "\n".join("".join(c["source"]) for c in cells)
    asked = next(c for c in cells if "## Try it" in "".join(c["source"]))
    questions = len(re.findall(r"^\d\. ", "".join(asked["source"]), flags=re.M)) or 1
    assert len(ANSWERS[number]) in (questions, 1)
    near = cells[cells.index(asked) : cells.index(asked) + 2]
    saved = plain(json.dumps(near, ensure_ascii=False))
    assert [a for a in ANSWERS[number] if plain(a) in saved] == []


def test_no_notebook_folds_an_answer():
    told = [n for n, p in NOTEBOOKS.items() if re.search(r"<summary>\s*Answer", p.read_text(encoding="utf-8"))]
    assert told == []


def test_stored_answers_come_back():
    box = TryIt("12")
    box._restored({"answers": {"1": "it passes"}})
    assert box.boxes[1].value == "it passes" and box.boxes[1].disabled
    assert ANSWERS["12"][1] in shown(box) and ANSWERS["12"][0] not in shown(box)
    box._restored({"answers": {"1": "something else"}})
    assert box.boxes[1].value == "it passes"
