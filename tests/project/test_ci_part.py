"""The list of what CI takes a part of names tests and parameters that are there."""

from pathlib import Path

import pytest

from tests import ci_part

ROOT = Path(__file__).parents[2]


def test_parameters_are_taken_by_their_place_or_by_a_word(monkeypatch):
    found = ["t::test[a-1]", "t::test[b-1]", "t::test[a-2]"]
    rules = {"place": ci_part.every(2, 1), "word": ("a-",), "none": ci_part.BY_NAME}
    monkeypatch.setattr(ci_part, "TAKES", rules)
    assert ci_part.taken("place", found) == ["t::test[b-1]"]
    assert ci_part.taken("word", found) == ["t::test[a-1]", "t::test[a-2]"]
    assert ci_part.taken("none", found) == []
    assert ci_part.taken("another", found) == found


@pytest.mark.parametrize("test", ci_part.TAKES)
def test_it_is_there(test, request):
    file, _, name = test.partition("::")
    assert f"def {name}(" in (ROOT / file).read_text(encoding="utf-8")
    rule = ci_part.TAKES[test]
    taken = [item.nodeid for item in request.session.items if item.nodeid.partition("[")[0] == test]
    if taken and isinstance(rule, tuple):
        assert [word for word in rule if not any(word in one.partition("[")[2] for one in taken)] == []


def test_checks_against_sources_are_taken_whole():
    """The evidence tables list every comparison of tests/published."""
    assert not [test for test in ci_part.TAKES if test.startswith("tests/published/")]
