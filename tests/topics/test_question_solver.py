"""Every exercise is solved from its text alone, by a solver that is written apart (``tests/question_solver.py``).

``SHOPLIB_SLOW=1`` takes 200 seeds of each, CI a few.
"""

import ast
import math
import operator
import re
from decimal import ROUND_DOWN, ROUND_HALF_UP, ROUND_UP, Decimal

import pytest

from shoplib.teaching.exercise import Exercise
from shoplib.topics.exercises import all_exercises
from shoplib.topics.guided import all_guided
from tests import ci_part
from tests.question_solver import SOLVERS, solve

IN_LESSONS = {c.name: c for g in all_guided().values() for c in g.checks if isinstance(c, Exercise)}
EVERY = {**all_exercises(), **IN_LESSONS}
SEEDS = range(200 if ci_part.ALL else 4)
UNITS = {"degC": "°C", "": ""}


@pytest.fixture(params=EVERY)
def questions(request):
    return [EVERY[request.param].ask(seed) for seed in SEEDS]


def typed(q, number):
    """A number as a learner types it, with the unit that the question asks for."""
    if q.unit.name == "" and q.exercise.name == "lowest_over_highest":
        return f"{number} %"
    return (
        f"{number} {'%' if '%' in q.unit.text else 'N' if q.exercise.name == 'proof_load_of_a_bolt' else q.unit.text}"
    )


def rounded(value, digits, how=ROUND_HALF_UP):
    exact = Decimal(repr(float(f"{value:.12g}")))
    return f"{exact.quantize(Decimal(1).scaleb(exact.adjusted() - digits + 1), how):f}" if exact else "0"


def to_the_step(value, step, how=ROUND_HALF_UP):
    return f"{(Decimal(repr(float(f'{value:.12g}'))) / step).quantize(Decimal(1), how) * step:f}"


def test_there_is_a_solver_for_each_exercise():
    assert SOLVERS.keys() == EVERY.keys()


def test_the_key_is_what_the_text_gives(questions):
    for q in questions:
        answer = solve(q.exercise.name, q.text)
        if q.in_words:
            assert answer == q.answer.shown, q.text
        else:
            verdict = q.check(typed(q, f"{answer:.9g}"))
            assert verdict.state == "right", (q.seed, q.text, answer, q.answer.shown, verdict.words)


def test_a_rounding_by_the_stated_rule_is_right(questions):
    for q in questions:
        if q.in_words:
            continue
        answer = solve(q.exercise.name, q.text)
        if q.exercise.safe:  # to the safe side, by the allowed step
            step = Decimal(q.exercise.tolerance.split()[0])
            how = {"above": ROUND_UP, "below": ROUND_DOWN}[q.exercise.safe]
            how = {ROUND_UP: ROUND_DOWN, ROUND_DOWN: ROUND_UP}[how] if answer < 0 else how
            assert q.check(typed(q, to_the_step(answer, step, how))).state == "right", (q.text, answer)
        elif q.exercise.rounding:  # the rule is read from the sheet
            fewest = 3 if "three digits" in q.stated_tolerance else 2 if "two digits" in q.stated_tolerance else 4
            for digits in range(fewest, 5):
                said = typed(q, rounded(answer, digits))
                assert q.check(said).state == "right", (q.seed, q.text, said, q.answer.shown, q.check(said).words)
        elif not q.exercise.tolerance.endswith("%"):
            step = Decimal(10) ** math.floor(math.log10(float(re.match(r"[\d.]+", q.exercise.tolerance)[0])))
            assert q.check(typed(q, to_the_step(answer, step))).state == "right", (q.text, answer)


def test_each_wrong_path_is_diagnosed_and_none_passes(questions):
    for q in questions:
        for mistake, value in q.wrong_answers():
            verdict = q.check(q.shown(value))
            assert (verdict.state, verdict.mistake) == ("wrong", mistake.name), (q.text, q.shown(value))
            for digits in (2, 3):
                if q.exercise.rounding and not q.in_words and value:
                    said = typed(q, rounded(q.unit.from_si(value), digits))
                    assert q.check(said).state == "wrong", (q.seed, q.text, mistake.name, said, q.answer.shown)


@pytest.mark.parametrize("name", EVERY)
def test_most_seeds_have_a_mistake(name):
    seeds = range(max(24, len(SEEDS)))
    assert sum(bool(EVERY[name].ask(seed).wrong_answers()) for seed in seeds) > 0.6 * len(seeds)


# ------------------------------------------------------------------------------ the solution
OPERATORS = {ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv,
             ast.Pow: operator.pow}  # fmt: skip
TERM = r"(?:\(|\)|π|cos \d+°|−?\d+(?:\.\d+)?²?(?: ?(?:mm[²³]?|kN|N·m|L|°|%|K|°C|MPa|kN/mm|kPa)(?![\w/]))?)"
EQUATION = re.compile(rf"({TERM}(?: ?(?:[+−×÷]) ?{TERM}|{TERM})*) = (−?\d+(?:\.\d+)?) ?(%?)")


def value_of(expression):
    """The value of a sum as it is printed in a solution."""
    text = re.sub(r"cos (\d+)°", lambda m: repr(math.cos(math.radians(float(m[1])))), expression)
    text = re.sub(r"(?<=[\d²]) ?(mm[²³]?|kN/mm|kN|N·m|L|°C|°|K|MPa|kPa)(?!\w)", "", text)
    text = re.sub(r"(\d+(?:\.\d+)?) ?%", r"(\1/100)", text)
    for sign, code in (("×", "*"), ("÷", "/"), ("−", "-"), ("π", repr(math.pi)), ("²", "**2")):
        text = text.replace(sign, code)

    def go(node):
        if isinstance(node, ast.BinOp):
            return OPERATORS[type(node.op)](go(node.left), go(node.right))
        return -go(node.operand) if isinstance(node, ast.UnaryOp) else node.value

    return go(ast.parse(text.strip(), mode="eval").body)


def test_a_printed_sum_is_evaluated():
    assert value_of("π ÷ 4 × 2²") == pytest.approx(math.pi)
    assert value_of("(6 + 2) ÷ 4 L × 50 %") == 1.0
    assert value_of("0.5 × cos 60°") == pytest.approx(0.25)


def test_every_sum_of_a_solution_is_true(questions):
    sums = 0
    for q in questions:
        for left, right, percent in EQUATION.findall(q.exercise.solution(q.result).replace("\u202f", "")):
            sums += 1
            value, result = value_of(left), float(right.replace("−", "-"))
            slack = 0.6 * 10.0 ** -len(right.partition(".")[2]) + 2e-3 * abs(result)  # printed parts are rounded too
            found = [value, 100 * value] if percent else [value]  # 0.25 = 25 %, and 40 + 0.7 × 10 = 47 %
            assert min(abs(v - result) for v in found) <= slack, (q.seed, left, value, right)
    assert sums or questions[0].in_words, "a solution of a number shows the sum that was asked"


def test_the_last_line_of_a_solution_is_the_key(questions):
    for q in questions:
        told = q.exercise.solution(q.result).strip()
        last = re.split(r"(?<=[.:;]) ", told.rstrip("."))[-1]
        if q.in_words:
            sentence = re.split(r"(?<=[.]) ", told)[-1]
            found = {c for c in q.exercise.choices if re.search(rf"(?<![\w]){re.escape(c)}(?:s|es)?(?!\w)", sentence)}
            longest = {c for c in found if not any(c != d and c in d for d in found)}
            assert q.answer.shown in longest and len(longest) == 1, (q.seed, told, q.answer.shown, longest)
            continue
        number = re.findall(r"(?<![\d.\w])−?\d[\d\u202f]*(?:\.\d+)?", last)[-1].replace("\u202f", "")
        unit = re.search(rf"{re.escape(number)} ?(\D*?)$", last.replace("\u202f", ""))[1].strip()
        said = f"{number} {unit}".strip()
        assert q.check(said).state == "right", (q.seed, told, said, q.answer.shown)
