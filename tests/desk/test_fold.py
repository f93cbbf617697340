"""A part of a page behind its title."""

import pytest

from shoplib.desk.widgets.fold import Fold
from shoplib.desk.widgets.form import Form
from shoplib.desk.widgets.guided_widget import Guided
from shoplib.desk.widgets.practice import Practice
from shoplib.topics import guided

TORQUE = {"preload": "25 kN", "thread": "M10x1.5", "mu_thread": "0.12", "mu_head": "0.12", "bearing_mean": "13 mm"}


@pytest.fixture
def fold():
    return Fold(Form("torque_from_preload", **TORQUE))


def test_only_the_title_until_it_is_opened(fold):
    assert fold.inside not in fold.children
    assert fold.head.description == f"▸ {fold.inside.working.title}"
    fold.head.value = True
    assert fold.children[-1] is fold.inside
    assert fold.head.description.startswith("▾ ")
    fold.head.value = False
    assert fold.inside not in fold.children


def test_it_opens_when_something_was_typed_into_it(fold):
    fold.inside.fill({"preload": "26 kN"})  # a draft
    assert fold.children[-1] is fold.inside


def test_the_example_does_not_open_it(fold):
    fold.inside.fill(fold.inside.given, fold.inside.given)
    assert fold.inside not in fold.children


def test_a_viewer_without_a_kernel_can_open_it_too(fold):
    data = fold._repr_mimebundle_()
    data = data[0] if isinstance(data, tuple) else data
    assert f"<details><summary>{fold.inside.working.title}</summary>" in data["text/html"]
    assert "25 kN" in data["text/html"]


def test_titles():
    lesson = next(iter(guided.all_guided()))
    assert Fold(Practice("preload")).title == "Exercises"
    assert Fold(Practice("preload"), "Two exercises").title == "Two exercises"
    assert Fold(Guided(lesson)).title == guided.get(lesson).title


def test_a_lesson_behind_its_title_reads_its_stored_answers(monkeypatch):
    read = []
    monkeypatch.setattr("shoplib.desk.widgets.lesson_store.load", lambda lesson, then: read.append(lesson.name))
    Fold(Guided("same_click"))._repr_mimebundle_()
    assert read == ["same_click"]
