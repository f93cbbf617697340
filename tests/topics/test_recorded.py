"""Each working still says what it said: recorded runs notice a change of any number, outcome, remark or refusal.

They do not say what is right.  Was the change wanted, run ``python -m tests.recorded``.
"""

import pytest

from shoplib.topics import all_workings
from tests.recorded import runs, said
from tests.recorded.subjects import KINDS

SUBJECTS = [(kind, name) for kind in KINDS for name in KINDS[kind].subjects()]


@pytest.mark.parametrize("name", all_workings())
def test_each_working_says_what_it_said(name):
    changed = runs.changed(name)
    assert not changed, "\n".join([*changed[:5], "If that is wanted: python -m tests.recorded"])


@pytest.mark.parametrize(("kind", "name"), SUBJECTS)
def test_each_picture_lesson_and_exercise_is_as_it_was(kind, name):
    changed = runs.changed_of_kind(kind, name)
    assert not changed, "\n".join([*changed[:5], "If that is wanted: python -m tests.recorded"])


def test_everything_has_recorded_runs():
    for kind in KINDS:
        assert [name for name in KINDS[kind].subjects() if not runs.stored_cases(kind).get(name)] == []
    for topic in runs.topics():
        found = runs.stored_inputs(topic)
        assert [name for name in runs.of_topic(topic) if len(found.get(name, [])) < 2] == []


def test_words_may_change_and_a_number_another_text_or_two_texts_for_one_are_noticed():
    def told(*now):
        return said.differences(said.Texts(["a # mm", "b"]), [[0, 1.0], [1, 2.0], [0, 1.0]], list(now))

    same = ("a # mm", 1.0), ("b", 2.0), ("a # mm", 1.0)
    assert told(*same) == told(("A # or # mm", 1.5), ("b", 2.0), ("A # or # mm", 1.5)) == []
    assert told(same[0], ("b", 2.1), same[2])
    assert told(("b", 1.0), ("b", 2.0), ("b", 1.0))
    assert told(("A # mm", 1.0), *same[1:])
    assert told(("c", 1.0), ("c", 2.0), ("c", 1.0))
    assert told(*same[:2])
    assert said.exchanged("spread: no rule", "spread: the rule of the maker")  # "no rule" still stands in the source
    assert not said.exchanged("spread: a rule with new words", "spread: the rule of the maker")
    assert said.one("0.1 mm", [1.0, None])[1] != said.one("0.1 mm", [1.01, None])[1]
