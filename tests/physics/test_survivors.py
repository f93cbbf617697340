"""Limits that a sample of mutants showed to be untested: lines in a net, the rule for an odd reading, names of threads."""

import random
from statistics import median

import pytest

from shoplib.physics import line_survey, outlier, threads


def test_how_much_a_net_of_lines_can_magnify_an_error():
    """Worked by hand.  Eight steps each: own error 4.  The second line depends on the first: 4 + 4 + 4 = 12.

    The third is tied at its stations 2 (on the first line) and 6 (on the second).  Its last station lies half as far
    again beyond: 4 + 0.5 · (4 + 4) + 1.5 · (12 + 4) = 32.
    """
    places = {"A": (0, 0), "B": (0.8, 0), "C": (0.8, 0.8), "D": (0, 0.8), "M": (0.4, 0.4), "P": (0.2, 0.2), "Q": (0.6, 0.2),
              "E": (0, 0.2), "F": (0.8, 0.2)}  # fmt: skip
    lines = [line_survey.SteppedLine(a + b, a, b, (0.0,) * 8) for a, b in ("AC", "BD", "EF")]
    assert [line_survey.survey(lines[:n], places, 0.1).gain for n in (1, 2, 3)] == pytest.approx([4, 12, 32])


@pytest.mark.parametrize("readings", [4, 7])
def test_how_often_the_rule_names_a_good_reading(readings):
    """Against draws of another generator, one at a time; 6000 of them tell the share to about 0.02."""
    draw, named = random.Random(5), 0
    for _ in range(6000):
        x = [draw.gauss(0, 1) for _ in range(readings)]
        away = [abs(v - median(x)) for v in x]
        named += any(0.6745 * a > outlier.LIMIT * median(away) for a in away)
    assert outlier.false_alarm(readings) == pytest.approx(named / 6000, abs=0.02)


def test_a_name_of_a_thread_has_at_most_40_characters():
    with pytest.raises(threads.UnknownThread, match="too long"):
        threads.read_thread("M" + "1" * 40)
    with pytest.raises(threads.UnknownThread) as refused:
        threads.read_thread("x" * 40)
    assert "too long" not in str(refused.value)
