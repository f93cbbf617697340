"""The concept test: two parallel forms of twenty questions, marked, with a report per belief."""

import pytest

from shoplib.desk import ConceptTest
from shoplib.teaching.choice import BELIEFS
from shoplib.teaching.concept_test import LETTERS, Answered, key, read_letters, report
from shoplib.topics.concept_items import FORMS, PAIRS
from tests.concept_solver import answer


def rights(items):
    return tuple(i.order.index(i.right) for i in items)


def test_two_forms_of_twenty_that_ask_different_words_about_the_same():
    assert len(PAIRS) == 20
    texts = [i.text for pair in PAIRS for i in pair]
    assert len(set(texts)) == 40
    for a, b in PAIRS:
        assert len(a.options) >= 3 and len(b.options) >= 3
        shared = {o.belief for o in a.options} & {o.belief for o in b.options} - {""}
        assert shared, f"the two forms confront no common belief: {a.text}"
        assert not a.right.belief and not b.right.belief


@pytest.mark.parametrize("form", FORMS)
def test_no_letter_and_no_length_gives_the_answer(form):
    places = rights(FORMS[form])
    assert max(places.count(p) for p in set(places)) <= 11
    longest = sum(max(i.options, key=lambda o: len(o.words)) is i.right for i in FORMS[form])
    assert longest <= 13


def test_nearly_every_belief_is_offered_by_both_forms():
    for form, items in FORMS.items():
        offered = {o.belief for i in items for o in i.options}
        missing = BELIEFS.keys() - offered
        assert len(missing) <= 2, (form, missing)


def test_marks_and_report_per_belief():
    items = FORMS["A"]
    all_right = Answered(items, rights(items))
    assert all_right.right == 20 and all_right.beliefs == {}
    wrong = list(rights(items))
    believed = [n for n, i in enumerate(items) if any(o.belief == "torque_is_tightness" for o in i.options)]
    for n in believed:
        wrong[n] = next(k for k, o in enumerate(items[n].order) if o.belief == "torque_is_tightness")
    one = Answered(items, tuple(wrong))
    assert one.right == 20 - len(believed)
    assert one.beliefs == {"torque_is_tightness": len(believed)}
    after = Answered(FORMS["B"], (*rights(FORMS["B"])[:-1], -1))
    said = report([one, all_right], [after])
    assert f"Before: {40 - len(believed)} of 40 right" in said
    assert "After: 19 of 20 right, 1 not answered" in said
    offered = Answered(FORMS["B"], rights(FORMS["B"])).offered("torque_is_tightness")
    assert f"Torque is tightness.  {len(believed)} of {2 * len(believed)} → 0 of {offered}" in said
    assert "No belief was chosen." in report([all_right])


def test_letters_from_paper():
    items = FORMS["A"]
    letters = key(FORMS).splitlines()[0].removeprefix("Form A: ")
    assert read_letters(items, letters.lower()) == rights(items)
    assert read_letters(items, "-" * 20) == (-1,) * 20
    with pytest.raises(ValueError, match="20 letters"):
        read_letters(items, "AB")
    with pytest.raises(ValueError, match="question 1: 'Z'"):
        read_letters(items, "Z" + letters[1:])
    with pytest.raises(ValueError, match="20 answers"):
        Answered(items, (0,))
    assert len(LETTERS) >= max(len(i.options) for i in items)


def test_on_the_screen_no_answer_before_the_end():
    box = ConceptTest("A")
    assert box.go.disabled
    for n, item in enumerate(FORMS["A"]):
        assert item.text in box.asked.value.replace("&#39;", "'")
        assert "right" not in box.asked.value.split("<p>")[0]
        box.choice.index = rights(FORMS["A"])[n]
        box.go.click()
    assert "20 of 20 right" in box.body.children[0].value
    data = ConceptTest("B")._repr_mimebundle_()
    data = data[0] if isinstance(data, tuple) else data
    assert "20 questions" in data["text/plain"] and "right" not in data["text/plain"]


def test_on_paper_it_has_every_question_and_no_key():
    from shoplib.sheet.class_set import concept_pdf
    from tests.sheet.sheet_parts import words_of

    text = " ".join(words_of(concept_pdf("A", FORMS["A"])).split())
    for item in FORMS["A"]:
        assert " ".join(item.text.split())[:40] in text
    assert key(FORMS).splitlines()[0].removeprefix("Form A: ") not in text


@pytest.mark.parametrize("item", [i for pair in PAIRS for i in pair], ids=lambda i: i.text[:40])
def test_an_independent_solver_finds_one_right_answer(item):
    """``tests/concept_solver.py`` reads the text and the options only, and knows other formulas than the package."""
    assert answer(item.text, [o.words for o in item.order]) == [item.right.words]
