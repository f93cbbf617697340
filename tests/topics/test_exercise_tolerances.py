"""What counts as right: the safe side, rounded answers, the unit that is asked for, and the words people use."""

import re

import pytest

from shoplib.teaching.exercise import choose_one
from shoplib.teaching.significant_digits import significant
from shoplib.topics import exercises
from shoplib.topics.diagnosis.exercises import OUTCOMES
from shoplib.topics.diagnosis.pressure_hold import PRESSURE_HOLD as HOLD

EVERY = exercises.all_exercises()
SEEDS = range(40)


def asked(name, *, seeds=SEEDS):
    return [EVERY[name].ask(seed) for seed in seeds]


# ------------------------------------------------------------------------------ one side is unsafe
@pytest.mark.parametrize("q", asked("the_safe_side_of_a_freezing_point"), ids=lambda q: q.seed)
def test_a_freezing_point_is_counted_on_to_the_warm_side_only(q):
    shown = q.unit.from_si(q.answer.value)
    assert q.check(f"{shown:.1f} °C").state == "right"
    for warmer in (0.3, 0.9):
        assert q.check(f"{shown + warmer:.1f} °C").state == "right"
    for colder in (0.1, 0.4, 0.9):
        verdict = q.check(f"{shown - colder:.1f} °C")
        assert verdict.state == "wrong"
        assert "unsafe side" in verdict.words


def test_minus_forty_is_taken_and_minus_forty_one_is_not():
    found = [q for q in asked("the_safe_side_of_a_freezing_point", seeds=range(300)) if "−40." in q.answer.shown]
    assert found
    for q in found:
        assert q.check("-40 °C").state == "right"
        assert q.check("-41 °C").state == "wrong"


@pytest.mark.parametrize("q", asked("guard_band"), ids=lambda q: q.seed)
def test_a_guard_band_is_rounded_down(q):
    value = q.answer.value * 1e3
    down, up = int(value * 1000) / 1000, int(value * 1000) / 1000 + 0.001
    assert q.check(f"{down:.3f} mm").state == "right"
    assert q.check(f"{up:.3f} mm").state == "wrong"
    assert q.check(q.answer.shown).state == "right"


def test_a_clearance_is_rounded_down():
    for q in asked("clearance_along_the_valve"):
        value = q.answer.value * 1e3
        assert q.check(f"{int(value * 100) / 100:.2f} mm").state == "right"
        if int(value * 100) / 100 + 0.01 - value > 0.0006:
            assert q.check(f"{int(value * 100) / 100 + 0.01:.2f} mm").state == "wrong"


# ------------------------------------------------------------------------------ rounded answers
def test_the_share_that_stretches_may_be_rounded_to_two_digits():
    found = [q for q in asked("share_that_stretches", seeds=range(400)) if 0.125 <= q.answer.value <= 0.1255]
    assert found
    for q in found:
        for typed in ("13 %", "0.13", f"{q.answer.value:.3f}", f"{100 * q.answer.value:.1f} %"):
            assert q.check(typed).state == "right", (q.answer.value, typed)
        for typed in ("0.11", "0.14", "0.1"):  # one digit is a guess
            assert q.check(typed).state == "wrong", typed


ROUNDED = [e for e in EVERY.values() if e.rounding and not e.choices and not e.safe]


@pytest.mark.parametrize("exercise", ROUNDED, ids=lambda e: e.name)
def test_a_correctly_rounded_answer_is_right_unless_a_mistake_rounds_to_it(exercise):
    for seed in range(30):
        q = exercise.ask(seed)
        number = q.unit.from_si(q.answer.value)
        typed = f"{float(f'{number:.2g}'):g}"
        if len(significant(typed)) < 2:
            continue
        unit = q.unit.text.removeprefix("vol ").removeprefix("mass ")
        verdict = q.check(f"{typed} {unit}".strip())
        half = float(f"{abs(number):.2g}") - abs(number)
        collides = any(abs(q.unit.from_si(x) - float(typed)) <= abs(half) * 12 for _, x in q.wrong_answers())
        assert verdict.state == "right" or collides, (seed, q.answer.shown, typed, verdict.words)


def test_where_the_last_digits_are_the_point_rounding_is_not_taken():
    q = next(q for q in asked("pitch_of_an_inch_thread", seeds=range(400)) if q.answer.shown == "1.270 mm")
    assert q.check("1.27 mm").state == "right"
    assert q.check("1.3 mm").state == "wrong"
    assert q.check("1.25 mm").state == "wrong"


def test_digits_that_count():
    assert [significant(x) for x in ("0.145", "15 %", "20 N·m", "2.0 mm", "0,30 mm", "none")] == [
        "145", "15", "2", "20", "30", ""]  # fmt: skip


# ------------------------------------------------------------------------------ the unit is the lesson
@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("number_without_a_unit", lambda q: q.numbers["torque"].replace("N·m", "lbf·ft")),
        ("pitch_of_an_inch_thread", lambda q: "1/" + re.search(r"-(\d+)", q.numbers["thread"])[1] + " in"),
    ],
)
def test_an_answer_that_converts_nothing_is_asked_about(name, typed):
    for q in asked(name):
        verdict = q.check(typed(q))
        assert verdict.state == "asked"
        assert q.unit.text in verdict.words


def test_an_inch_wrench_may_be_set_as_it_is_marked():
    q = next(q for q in asked("newton_metres_on_an_inch_wrench", seeds=range(2000)) if q.numbers["torque"] == "40 N·m")
    assert q.check("29.5 lbf·ft").state == "right"


# ------------------------------------------------------------------------------ words
@pytest.mark.parametrize(
    ("name", "typed", "word"),
    [
        ("which_way_is_loose", "counterclockwise", "anticlockwise"),
        ("which_way_is_loose", "CW", "clockwise"),
        ("what_gives_way", "hole", "internal thread"),
    ],
)
def test_what_people_also_say_is_understood(name, typed, word):
    for q in asked(name):
        assert q.check(typed) == q.check(word)
        assert q.check(typed).state in ("right", "wrong")


def test_times_is_a_way_to_say_a_ratio():
    q = EVERY["friction_and_clamp"].ask(1)
    assert q.check(f"{q.answer.value:.2f} times").state == "right"
    assert q.check(f"{q.answer.value:.2f}×").state == "right"


# ------------------------------------------------------------------------------ the pressure hold
def by_direction(start, end, first, last, limit):
    """The key again, by the direction alone."""
    over = start - end > limit
    if last == first:
        return "fail" if over else "pass"
    if last > first:
        return "fail" if over else "undecided"
    return "undecided" if over else "pass"


def test_the_direction_decides_what_a_drop_proves():
    seen = set()
    for q in asked("hold_that_proves_nothing", seeds=range(202)):
        start, end = (float(q.numbers[n].split()[0]) for n in ("start", "end"))
        first, last = (float(q.numbers[n].split()[0]) for n in ("start_temperature", "end_temperature"))
        assert q.answer.shown == by_direction(start, end, first, last, 5), q.text
        assert q.answer.shown in q.exercise.solution(q.result) or "passes" in q.exercise.solution(q.result) or (
            "fails" in q.exercise.solution(q.result)
        )  # fmt: skip
        seen.add((q.answer.shown, last > first, last < first))
    assert len(seen) == 6
    assert {s[0] for s in seen} == {"pass", "fail", "undecided"} <= set(OUTCOMES)
    assert HOLD.name == "pressure_hold"


# ------------------------------------------------------------------------------ worked solutions
@pytest.mark.parametrize("exercise", [e for e in EVERY.values() if e.solution], ids=lambda e: e.name)
def test_a_solution_in_words_ends_at_the_key(exercise):
    """The last number of the solution, or the last word, is accepted as the answer."""
    for seed in range(20):
        q = exercise.ask(seed)
        told = exercise.solution(q.result)
        if q.in_words:
            assert q.answer.shown in told or q.answer.shown + "es" in told or q.answer.shown + "s" in told
            continue
        numbers = re.findall(r"(?<![\d.])−?\d+(?:\.\d+)?", told.split("=")[-1] if "=" in told else told)
        unit = {"degC": "degC", "%": "%"}.get(q.unit.name, q.unit.text)
        assert any(q.check(f"{n} {unit}".strip()).state == "right" for n in numbers), (seed, told, q.answer.shown)


def test_among_draws_one():
    import numpy as np

    assert choose_one(np.random.default_rng(1), "a") == "a"
