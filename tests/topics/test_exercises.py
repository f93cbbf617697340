"""Free tests of every exercise over many seeds, and the mechanism's own rules."""

import functools
import itertools
import math
import re

import pytest

from shoplib.core import unit_names, units
from shoplib.teaching.choice import Item
from shoplib.teaching.exercise import (
    INVENTED,
    Exercise,
    Mistake,
    NotEnoughNumbers,
    Score,
    choose_one,
    class_set,
    draw_value,
    rerun,
)
from shoplib.teaching.salt import WeakSecret, salted_seed
from shoplib.topics import exercises, get
from shoplib.topics.guided import all_guided

SEEDS = range(60)
GUESSES = {g.guess.name: g.guess for g in all_guided().values() if not isinstance(g.guess, Item)}
IN_LESSONS = {c.name: c for g in all_guided().values() for c in g.checks if isinstance(c, Exercise)}
EVERY = {**exercises.all_exercises(), **GUESSES, **IN_LESSONS}
OTHER = {  # other ways to type the same kind of quantity
    "N*m": ("lbf*ft", "lbf*in", "kgf*m", "N*m"),
    "N": ("kN", "lbf", "N"),
    "mm": ("in", "um", "m"),
    "mm**2": ("cm**2", "in**2"),
    "kN/mm": ("N/mm", "lbf/in"),
    "deg": ("turn", "rad"),
    "bar": ("kPa", "psi"),
    "L": ("mL", "US gal", "imperial qt"),
    "degC": ("degF", "K"),
}


@pytest.fixture(params=EVERY)
def exercise(request):
    return EVERY[request.param]


@functools.cache
def asked(name, seed):
    """The question of a seed; several tests look at the same."""
    return EVERY[name].ask(seed)


def _group(unit):
    found = [group for name, group in OTHER.items() if name == unit.name]
    if not found:
        kind = unit_names.kind_of(unit_names.pint_name(unit.name))
        found = [g for name, g in OTHER.items() if unit_names.kind_of(unit_names.pint_name(name)) == kind]
    return found[0] if found else ()


def typed_in(value, unit_name):
    """An SI value as text in a unit, with all its digits."""
    if unit_name in ("degC", "degF", "K"):
        converted = {"degC": value - 273.15, "degF": (value - 273.15) * 1.8 + 32, "K": value}[unit_name]
        return f"{converted!r} {unit_name}"
    per_one = units.read_any(f"1 {unit_name}")[0]
    return f"{value / per_one!r} {unit_name}"


PAST = re.compile(r"(?:\w+ed|took|forgot|gave|put|read|left|thought|made|let|began|split|chose|went|kept)\b")


def test_a_mistake_completes_the_words_you_probably(exercise):
    assert not [m.name for m in exercise.mistakes if not PAST.match(m.name)]


def test_declared_fully(exercise):
    assert exercise.title
    assert exercise.lesson.endswith(".")
    assert exercise.first_step
    assert exercise.mistakes, "an exercise that knows no mistake teaches little"
    question = exercise.ask(1)
    working = question.result.working
    for name in question.numbers:
        assert working.field(name) or name in exercise.names_in_question, f"{name} is neither an input nor in the text"
    assert not (question.in_words and not exercise.choices)
    assert question.how
    assert question.in_words or question.answer.shown not in question.how


def test_answer_is_sound_and_the_same_for_the_same_seed(exercise):
    for seed in SEEDS:
        q, again = asked(exercise.name, seed), exercise.ask(seed)
        assert q == again or q.text == again.text
        assert q.answer.value == again.answer.value
        assert "{" not in q.text
        if q.in_words:
            assert q.answer.shown in exercise.choices
        else:
            assert math.isfinite(q.answer.value)
            assert q.tolerance_at(q.answer.value) > 0
            assert not (q.unit.name == "degC" and exercise.tolerance.endswith("%")), "a temperature has no natural zero"


def test_right_answer_is_right_as_printed_and_in_other_units(exercise):
    for seed in SEEDS:
        q = asked(exercise.name, seed)
        assert q.check(q.answer.shown).state == "right", (seed, q.answer.shown)
        if q.in_words or q.unit.name in ("", "%"):
            continue
        for other in _group(q.unit):
            state = q.check(typed_in(q.answer.value, other)).state
            expected = "asked" if exercise.in_its_unit and other != q.unit.name else "right"
            assert state == expected, (seed, other)


def test_numbers_are_asked_about_without_unit_or_with_the_wrong_one(exercise):
    q = exercise.ask(3)
    for typed in ("", "lots", "<b>1</b>", "1,234 mm", "nan", "9" * 500):
        assert q.check(typed).state == "asked", typed
    if not q.in_words and q.unit.name not in ("",):
        assert q.check("12.5").state == "asked"
        assert "Type" in q.check("12.5").words
        wrong_kind = "12.5 bar" if q.unit.name not in ("bar", "MPa", "kPa", "Pa") else "12.5 mm"
        assert q.check(wrong_kind).state == "asked"


def test_every_mistake_is_wrong_gives_its_hint_and_looks_like_no_other(exercise):
    seen = set()
    for seed in SEEDS:
        q = asked(exercise.name, seed)
        right = q.answer.shown if q.in_words else q.answer.value
        wrongs = q.wrong_answers()
        for mistake, value in wrongs:
            seen.add(mistake.name)
            assert not q.matches(value, right), (seed, mistake.name, value)
            if not q.in_words:
                assert not q.matches(right, value), (seed, mistake.name, value)
                assert math.isfinite(value)
            if exercise.slider is None:
                verdict = q.check(q.shown(value))
                assert (verdict.state, verdict.mistake) == ("wrong", mistake.name), (seed, q.shown(value))
                assert mistake.hint in verdict.words
        for (m, a), (n, b) in itertools.combinations(wrongs, 2):
            assert not q.matches(a, b), (seed, m.name, n.name, a, b)
            assert not q.matches(b, a), (seed, m.name, n.name, a, b)
    assert seen == {m.name for m in exercise.mistakes}, "a mistake that no seed can make"


def test_numbers_vary(exercise):
    if exercise.slider is None:
        assert len({asked(exercise.name, seed).text for seed in SEEDS}) >= 4


def test_solution_shows_answer_and_working(exercise):
    q = exercise.ask(5)
    text = q.solution()
    assert q.answer.shown in text
    assert exercise.lesson in text
    assert (exercise.solution(q.result) if exercise.solution else q.result.working.title) in text


def test_guess_can_reach_the_answer_and_each_misconception():
    for guess in GUESSES.values():
        low, high, step = guess.slider
        q = guess.ask(0)
        assert low <= q.unit.from_si(q.answer.value) <= high
        assert q.thought_of(q.answer.value) is None
        for mistake, value in q.wrong_answers():
            assert low <= q.unit.from_si(value) <= high, mistake.name
            assert q.thought_of(value) is mistake
            assert abs(q.unit.from_si(value - q.answer.value)) > step


# ------------------------------------------------------------------------------ the mechanism
def made(**changes):
    base = {
        "name": "made",
        "topic": "made",
        "title": "Made",
        "question": "How much is {torque}?",
        "working": get("torque_units"),
        "result": "newton_metre",
        "numbers": lambda rng: {"torque": "40 N·m"},
        "tolerance": "1 %",
        "mistakes": (Mistake("doubled", lambda r: 2 * r["newton_metre"], "Do not double."),),
        "first_step": "Look.",
        "lesson": "So it is.",
    }
    return Exercise(**{**base, **changes})


def test_tolerance_of_the_right_value():
    q = made().ask(0)
    assert q.check("40.39 N·m").state == "right"
    assert q.check("39.61 Nm").state == "right"
    assert q.check("40.41 N·m").state == "wrong"
    assert q.check("39.59 N·m").state == "wrong"
    assert q.stated_tolerance == "within 1 % of the right value, or rounded to two significant figures"


def test_tolerance_as_a_difference():
    q = made(tolerance="0.5 N·m").ask(0)
    assert q.check("40.5 N·m").state == "right"
    assert q.check("40.51 N·m").state == "wrong"
    assert q.check("79.5 N·m").mistake == "doubled"
    assert q.check("79.4 N·m").mistake == ""


def test_hints_name_the_mistake_then_the_decimal_point_then_the_first_step():
    q = made().ask(0)
    assert "doubled" in q.check("80 N·m").words
    assert "Do not double." in q.check("80 N·m").words
    assert "decimal point" in q.check("0.04 N·m").words
    assert "decimal point" in q.check("4000 N·m").words
    assert "sign" in q.check("-40 N·m").words
    assert "Look." in q.check("33 N·m").words
    assert q.check("33 N·m").mistake == ""


def test_a_part_may_be_given_in_percent_or_as_a_number():
    q = exercises.all_exercises()["share_that_stretches"].ask(0)
    assert q.check(f"{100 * q.answer.value:.2f} %").state == "right"
    assert q.check(f"{q.answer.value:.4f}").state == "right"
    assert q.check(f"{q.answer.value:.4f} mm").state == "asked"


def test_answers_in_words():
    e = made(
        working=get("measurement"),
        result="outcome",
        question="{value} against {high}?",
        numbers=lambda rng: {"what": "gap", "where": "A", "value": "0.04 mm", "high": "0.05 mm", "high_source": "test"},
        choices=("pass", "fail", "undecided"),
        mistakes=(Mistake("read it backwards", lambda r: "fail", "Below the limit passes."),),
    )
    q = e.ask(0)
    assert q.check(" Pass ").state == "right"
    assert q.check("fail").mistake == "read it backwards"
    assert q.check("undecided").state == "wrong"
    assert q.check("perhaps").state == "asked"


def test_lists_and_tables_are_reached_by_a_path():
    from shoplib.core.checks import Value
    from shoplib.core.units import kN, unit_of
    from shoplib.teaching.exercise import answer_of

    class Has:
        values = {  # noqa: RUF012 -- a stand-in for a Result
            "preload": Value([1.0, 2.0], unit_of(kN), "Preload"),
            "rows": Value([{"depth": Value(3.0, unit_of(kN), "Depth")}], None, "Rows"),
        }

    assert answer_of(Has, ("preload", -1)).value == 2.0
    assert answer_of(Has, ("preload", -1)).unit is unit_of(kN)
    assert answer_of(Has, ("rows", 0, "depth")).value == 3.0


def test_drawing_numbers():
    import numpy as np

    rng = np.random.default_rng(1)
    drawn = {draw_value(rng, 0.1, 0.16, 0.02) for _ in range(200)}
    assert drawn == {"0.10", "0.12", "0.14", "0.16"}
    assert {draw_value(rng, 20, 30, 5, "N·m") for _ in range(100)} == {"20 N·m", "25 N·m", "30 N·m"}
    assert {choose_one(rng, "a", "b") for _ in range(50)} == {"a", "b"}
    with pytest.raises(ValueError, match=r"no step of 0\.05 from 0\.2 ends at 0\.42"):
        draw_value(rng, 0.2, 0.42, 0.05)


def test_again_changes_or_leaves_out_an_input():
    r = made().ask(0).result
    assert rerun(r, torque="50 N·m")["newton_metre"] == 50
    with pytest.raises(ValueError, match="torque: is missing"):
        rerun(r, torque=None)


def test_score_counts_tries_but_not_questions_back():
    score, q = Score(), made().ask(0)
    assert score.summary == "nothing answered yet"
    assert score.answered(q, "40").state == "asked"
    assert score.marks == []
    score.answered(q, "80 N·m")
    assert score.marks[0].state == "not right yet, tries: 1"
    score.answered(q, "40 N·m")
    score.answered(q, "1 N·m")  # after it is right nothing counts
    assert score.marks[0].state == "right at try 2"
    other = made().ask(1)
    score.looked_up(other)
    score.answered(other, "40 N·m")
    assert score.marks[1].state == "solution seen"
    assert score.summary == "2 questions, 0 right at the first try, 1 after a hint"
    text = score.as_text("Ada <b>")
    assert "Learner: Ada <b>" in text
    assert "answered 80 N·m: wrong, doubled" in text
    assert INVENTED in text


# ------------------------------------------------------------------------------ a class
TOPICS = sorted(exercises.topics())


@pytest.mark.parametrize("topic", TOPICS)
def test_class_set_has_distinct_numbers_from_one_seed(topic):
    wanted = exercises.of_topic(topic)
    one = class_set(topic, wanted, 12, 7)
    assert len(one.sheets) == 12
    assert all(len(sheet) == len(wanted) for sheet in one.sheets)
    for column in zip(*one.sheets, strict=True):
        texts = [q.text for q in column]
        # an answer in words may have one set of numbers only ("yes": nothing is wrong); neighbours still differ
        assert all(a != b for a, b in itertools.pairwise(texts))
        assert column[0].in_words or len(set(texts)) == 12
    again_ = class_set(topic, wanted, 12, 7)
    assert [[q.text for q in s] for s in again_.sheets] == [[q.text for q in s] for s in one.sheets]
    other = class_set(topic, wanted, 12, 8)
    assert [[q.text for q in s] for s in other.sheets] != [[q.text for q in s] for s in one.sheets]


def test_too_large_a_class_is_said():
    with pytest.raises(NotEnoughNumbers, match="made: there is only one set"):
        class_set("made", (made(),), 3, 1)


def test_unknown_topic_names_those_there_are():
    with pytest.raises(KeyError, match="preload"):
        exercises.of_topic("knitting")


@pytest.mark.parametrize("topic", TOPICS)
def test_thirty_learners_and_neighbours_share_no_answer(topic):
    made = class_set(topic, exercises.of_topic(topic), 30, 3)
    assert len(made.sheets) == 30
    for column in zip(*made.sheets, strict=True):
        given = [q.answer.shown if q.in_words else q.answer.value for q in column]
        passes = [q.accepts(answer) for q, answer in zip(column[1:], given, strict=False)]
        assert sum(passes) <= 0.1 * len(passes), column[0].exercise.name
        texts = [q.text for q in column]
        assert all(a != b for a, b in itertools.pairwise(texts))


SECRET = "a secret of this class"


def test_a_secret_gives_other_numbers_and_the_same_again():
    wanted = exercises.of_topic("wrench")

    def texts(secret, seed=7):
        return [[q.text for q in sheet] for sheet in class_set("wrench", wanted, 4, seed, secret=secret).sheets]

    assert texts(SECRET) == texts(SECRET)
    assert len({str(x) for x in (texts(SECRET), texts(SECRET + "!"), texts(""), texts(SECRET, 8))}) == 4


def test_a_salted_seed_depends_on_the_secret_and_on_every_part():
    seeds = [
        salted_seed(secret, *parts)
        for secret in (SECRET, SECRET + "!")
        for parts in ((), ("ab", "c"), ("a", "bc"), ("abc",), ("c", "ab"), ("ab", 1), ("ab", 2))
    ]
    assert len(set(seeds)) == len(seeds)
    assert all(1_000_000 < seed < 2**63 for seed in seeds)
    assert salted_seed(SECRET, "ab", 1) == salted_seed(f" {SECRET}\n", "ab", "1")


@pytest.mark.parametrize("weak", ["", "short", " " * 40, "fifteen letters"])
def test_a_weak_secret_is_refused(weak):
    with pytest.raises(WeakSecret, match="16 characters"):
        salted_seed(weak, "wrench")


def test_the_cases_of_the_lessons_are_not_the_bolt_of_their_pictures():
    every = exercises.all_exercises()
    for seed in range(60):
        ratio, part, oiled = (every[name].ask(seed) for name in
                              ("spread_after_the_angle", "share_that_stretches", "clamp_at_half_the_friction"))  # fmt: skip
        assert all(ratio.check(shown).state == "wrong" for shown in ("1.50", "1.38", "1.26", "1.09"))
        assert all(part.check(shown).state == "wrong" for shown in ("0.146", "0.20", "0.17", "0.09"))
        assert part.result.inputs.as_entered["thread"] != "M10x1.5" != oiled.result.inputs.as_entered["thread"]
        for q in (ratio, part):
            example = float(q.how.split()[-1])
            assert q.check(str(example)).state == "wrong"
            assert not any(q.matches(example, wrong) for _, wrong in q.wrong_answers())
