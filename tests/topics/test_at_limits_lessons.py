"""What lessons show at places that the recorded lessons do not have, or where a word changes."""

import pytest
from matplotlib.figure import Figure

from shoplib.topics import lessons
from shoplib.topics.guided import all_guided
from tests.topics.picture_parts import by_gid


def at(name, **places):
    """The picture of a lesson at these places of its controls, and what it says."""
    lesson = lessons.get(name)
    figure = Figure(figsize=lesson.figure_size)
    state = lesson.at(**places)
    lesson.drawn(figure)(state)
    return figure, lesson.says(state)


@pytest.mark.parametrize(("bolt", "times"), [("long, 120 mm", "120 times"), ("short, 40 mm", "40 times")])
def test_the_stretch_of_a_third_of_the_bolt_is_drawn_a_third_as_much_larger(bolt, times):
    figure, _ = at("same_click", bolt=bolt)
    assert times in by_gid(figure, "scale").get_text()


@pytest.mark.parametrize("number", range(4))
def test_the_head_of_an_arrow_stands_between_the_two_parts(number):
    """They press on each other at a height of 1.2."""
    figure, _ = at("same_click")
    arrow = by_gid(figure, f"arrow{number}")
    (head,) = (arrow.get_ydata()[n] for n in arrow.get_markevery())
    assert abs(head - 1.2) < min(abs(y - 1.2) for y in arrow.get_ydata() if y != head)


@pytest.mark.parametrize(
    ("clicks", "rounds", "said", "done"),
    [
        (1.0, "full torque, twice", "Illustration", False),
        (2.0, "full torque, twice", "Bolt 1 now has", False),
        (10.0, "full torque, twice", "Lowest", False),
        (20.0, "full torque, twice", "Click 20", True),
        (30.0, "full torque, twice", "Click 20", True),
        (10.0, "40 %, 70 %, 100 %", "round at 40 %", False),
        (30.0, "40 %, 70 %, 100 %", "Click 30", True),
    ],
)
def test_all_clicks_are_done_when_the_last_bolt_has_its_last(clicks, rounds, said, done):
    _, words = at("neighbours", clicks=clicks, rounds=rounds)
    assert said in words
    assert ("All clicks are done" in words) is done
    assert ("Bolt 1 now has" in words) is (clicks > 1)


@pytest.mark.parametrize(("rounds", "share"), [("full torque, twice", 1.0), ("40 %, 70 %, 100 %", 0.4)])
def test_before_the_first_click_the_marks_stand_at_the_aim_of_the_first_round(rounds, share):
    figure, words = at("neighbours", rounds=rounds)
    assert words.startswith("No bolt is tight yet.")
    foot, mark = by_gid(figure, "column9").get_xy()[0][1], by_gid(figure, "mark9").get_ydata()[0]
    assert mark - foot == pytest.approx(1.25 * share)


@pytest.mark.parametrize(
    ("angle", "bolt", "found"),
    [
        (0, "short, 40 mm", False),
        (20, "short, 40 mm", False),
        (25, "short, 40 mm", True),
        (50, "short, 40 mm", True),
        (55, "short, 40 mm", False),
        (600, "short, 40 mm", False),
        (25, "long, 120 mm", False),
    ],
)
def test_a_bolt_less_than_a_tenth_of_a_millimetre_longer_for_good_is_just_past_yield(angle, bolt, found):
    guided = all_guided()["another_quarter_turn"]
    place = next(f for f in guided.find if "just past yield" in f.words)
    assert place.found(lessons.get("how_far").at(angle=angle, bolt=bolt)) is found
