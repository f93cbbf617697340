"""What a run writes on, each rule by itself: refusals, results, checks and the uncertainty of what was read."""

import inspect

import numpy as np
import pytest

from shoplib.core.carried import carried, only_value
from shoplib.core.checks import NO_LIMIT, UNSOURCED, Origin, Outcome, Rule, Uncertainty, Value
from shoplib.core.errors import BadInput
from shoplib.core.fields import ALLOWED, NOT_ALLOWED, PURE, judging, listing, quantity, table, words
from shoplib.core.formula import formula
from shoplib.core.inputs import Inputs
from shoplib.core.units import Reading, kN, mm, one, unit_of
from shoplib.core.working import Working
from shoplib.core.worksheet import Heading, Worksheet, denoised, terms_of
from tests.asked import asked

MM, KN = unit_of(mm), unit_of(kN)
PASS, FAIL, UNDECIDED, NONE = Outcome.PASS, Outcome.FAIL, Outcome.UNDECIDED, Outcome.NO_LIMIT


def sheet(*fields, **typed):
    """The empty worksheet of a run with these inputs."""
    kept = []
    Working("w", "W", "what", asked(*fields), lambda inputs, worksheet: kept.append(worksheet))(typed)
    return kept[0]


def plain(value, unit=mm, **more):
    return Value(value, unit_of(unit), "", **more)


# ------------------------------------------------------------------------------ refusing
GRADES = table(
    "grades",
    [words("name", "Name", example='"G1"'), listing("holes", words("hole", "Hole"), "Holes", example="1; 2")],
    "Grades",
    required=False,
    example="rows",
)
READINGS = listing("readings", quantity("reading", mm, "Reading", example="3 mm"), "Readings", required=False)
FORCE = quantity("force", kN, "Force", required=False, example="7 kN")


@pytest.mark.parametrize(
    ("field", "example"),
    [
        ("force", "7 kN"), ("grades", "rows"), ("grades[4].name", '"G1"'), ("grades[4].holes[2]", "1; 2"), ("grades[4].other", "rows"),
        ("readings", ""), ("readings[3]", "3 mm"), ("unknown", ""), ("unknown[2].x", ""), ("unknown[2]", ""),
    ],
)  # fmt: skip
def test_a_refusal_says_what_to_type_in_that_place(field, example):
    told = sheet(GRADES, READINGS, FORCE)
    told.refuse(field, "is wrong")
    told.refuse(field, "is wrong", "this")
    assert [(p.field, p.why, p.example) for p in told.refused] == [(field, "is wrong", x) for x in (example, "this")]
    with pytest.raises(BadInput):
        told.raise_refusals()


# ------------------------------------------------------------------------------ steps and results
def longer(a: mm, b: mm = 0.0, F: kN = 0.0) -> mm:
    """A length less another one."""
    return a - b + 0 * F


def in_forces(F: kN, a: mm) -> kN:
    """A force times a length, as a force."""
    return F * a


longer, in_forces = (formula(symbol="l", source="made for this test")(f) for f in (longer, in_forces))
for _made in (longer, in_forces):  # kept out of the registry: other tests walk only what ships
    __import__("shoplib.core.formula").core.formula.REGISTRY.remove(_made)


def test_a_step_keeps_its_heading():
    told = sheet()
    told.step("Plain", longer, a=3e-3, b=1e-3)
    assert told.step(Heading("Titled", "a note", 7), longer, a=3e-3, b=1e-3) == pytest.approx(2e-3)
    assert [(s.title, s.note, s.digits) for s in told.steps] == [("Plain", "", 4), ("Titled", "a note", 7)]
    assert told.steps[1].arguments == {"a": 3e-3, "b": 1e-3}
    with pytest.raises(TypeError, match="Plain"):
        told.step("Plain", longer, 3e-3)


def test_a_formula_that_is_shown_is_the_same_step_and_its_value_alone_keeps_nothing():
    told = sheet()
    assert told.show(Heading("Titled", "a note", 7), longer)(a=3e-3, b=1e-3) == told.step(
        "Plain", longer, a=3e-3, b=1e-3
    )
    assert only_value("Plain", longer)(a=3e-3, b=1e-3) == told.steps[1].fn(a=3e-3, b=1e-3)
    assert [(s.title, s.note, s.digits) for s in told.steps] == [("Titled", "a note", 7), ("Plain", "", 4)]


def test_only_arguments_of_its_own_dimension_make_a_value_noise():
    a = 1.0
    assert longer(a=a, b=a + 2e-16) != 0
    assert denoised(longer, longer(a=a, b=a + 2e-16), {"a": a, "b": a + 2e-16}) == 0
    assert denoised(longer, 1e-7, {"a": 1e-3, "F": 1e9}) == 1e-7
    assert denoised(longer, 1e-7, {"a": 1e-3}) == 1e-7  # b was left at its default
    assert (denoised(longer, np.array([1e-20, 1.0]), {"a": 1.0}) == [1e-20, 1.0]).all()
    assert terms_of(longer) == ("a", "b")
    assert terms_of(in_forces) == ("F",)


def test_results_as_they_are_kept():
    told = sheet()
    assert told.result("of_it", np.array([1e-3, 2e-3]), mm) == [1e-3, 2e-3]
    told.result("named", 5e-3, mm, "Called so", 7, all_digits=True)
    told.result("said", "yes")
    of_it, named, said = told.values.values()
    assert (of_it.label, of_it.unit, of_it.digits, of_it.readings) == ("of it", MM, 4, told.readings)
    assert (named.label, named.unit, named.digits, named.readings) == ("Called so", MM, 7, None)
    assert (said.value, said.unit, said.label) == ("yes", None, "said")


def test_a_judged_result_is_shown_with_the_digits_of_its_uncertainty():
    told = sheet()
    told.result("judged", 1.5e-3, mm)
    told.result("other", 2.5e-3, mm)
    told.result("in_kN", 1.5e-3, kN)
    told.result("many", [1.5e-3], mm)
    told.result("sure", 3.5e-3, mm)
    told.check("judged", 1.5e-3, "≤", 1.0, mm, "p. 1", uncertainty=Uncertainty(1e-4))
    told.check("sure", 3.5e-3, "≤", 1.0, mm, "p. 1")
    assert [v.half_width for v in told.results().values()] == [1e-4, None, None, None, None]


def test_what_is_told_twice_is_kept_once():
    told = sheet()
    before = list(told.cautions)
    for _ in range(2):
        told.assume("A.")
        told.caution("B.")
    assert (told.assumptions, told.cautions) == (["A."], [*before, "B."])


# ------------------------------------------------------------------------------ checks
LENGTH = quantity("length", mm, "Length", required=False)
LIES, REACHES = "it lies at the limit", "the uncertainty reaches past the limit: "
LESS, DEPENDS = (
    REACHES + "measure with less uncertainty",
    "the outcome depends on “Length”, which was not typed: type it",
)
U = Uncertainty(0.1)


@pytest.mark.parametrize(
    ("found", "bound", "how", "outcome", "remark"),
    [
        (1.0, None, {}, NONE, NO_LIMIT), (1.0, None, {"remark": "so"}, NONE, "so"),
        (None, 2.0, {}, UNDECIDED, "not measured"), (None, 2.0, {"remark": "so"}, UNDECIDED, "so"),
        (1.0, 2.0, {}, PASS, ""), (3.0, 2.0, {}, FAIL, ""), (1.0, 2.0, {"remark": "so"}, PASS, "so"), (2.0, 2.0, {}, PASS, ""),
        (1.95, 2.0, {"uncertainty": U}, UNDECIDED, LESS), (2.05, 2.0, {"uncertainty": U}, UNDECIDED, LESS),
        (1.85, 2.0, {"uncertainty": U}, PASS, ""), (2.15, 2.0, {"uncertainty": U}, FAIL, ""),
        (1.0, 2.0, {"between": (0.5, 2.5)}, UNDECIDED, LESS), (1.0, 2.0, {"between": (0.5, 1.5)}, PASS, ""),
        (2.0, 2.0, {"between": (1.0, 3.0)}, UNDECIDED, REACHES + LIES),
        # the limit and the value are one value up to 1e-12 of the half-width
        (1.5e-12, 0.0, {"between": (-1.0, 1.0)}, UNDECIDED, LESS), (0.8e-12, 0.0, {"between": (-1.0, 1.0)}, UNDECIDED, REACHES + LIES),
        (1e-12, 0.0, {"between": (-1.0, 1.0)}, UNDECIDED, REACHES + LIES), (1.5e-12, 0.0, {"between": (-2.0, 2.0)}, UNDECIDED, REACHES + LIES),
        # a default that decides
        (1.0, 2.0, {"otherwise": {"length": []}}, UNDECIDED, DEPENDS), (1.0, 2.0, {"otherwise": {"length": [1.5]}}, PASS, ""),
        (1.0, 2.0, {"otherwise": {"length": [1.5, 2.5]}}, UNDECIDED, DEPENDS), (3.0, 2.0, {"otherwise": {"length": [2.5]}}, FAIL, ""),
        (1.0, 2.0, {"otherwise": {"length": [1.95]}, "uncertainty": U}, UNDECIDED, DEPENDS),
        (3.0, 2.0, {"otherwise": {"length": [2.05]}, "uncertainty": U}, UNDECIDED, DEPENDS),
        (1.95, 2.0, {"otherwise": {"length": []}, "uncertainty": U}, UNDECIDED, LESS),
        # what else must be known
        (1.0, 2.0, {"missing": "more"}, UNDECIDED, "more"), (3.0, 2.0, {"missing": "more"}, FAIL, ""),
        (1.95, 2.0, {"missing": "more", "uncertainty": U}, UNDECIDED, f"{LESS}; more"),
    ],
)  # fmt: skip
def test_outcomes_and_remarks(found, bound, how, outcome, remark):
    told = sheet(LENGTH)
    assert told.check("It", found, "≤", bound, mm, "p. 1", **how) is outcome
    (check,) = told.checks
    assert (check.outcome, check.remark, check.limit_source) == (outcome, remark, "p. 1")
    assert (check.limit is None) == (bound is None)


@pytest.mark.parametrize(
    ("found", "how", "outcome", "remark"),
    [
        (1.0, {}, NONE, UNSOURCED),
        (3.0, {}, FAIL, "source missing"),
        (1.95, {"uncertainty": U}, UNDECIDED, LESS),
        (3.0, {"remark": "so"}, FAIL, "so; source missing"),
    ],
)
def test_a_limit_without_a_source(found, how, outcome, remark):
    told = sheet()
    assert told.check("It", found, "≤", 2.0, mm, None, **how) is outcome
    assert told.checks[0].remark == remark


@pytest.mark.parametrize("values", [[], [2.5], [1.5]])
def test_an_input_that_was_typed_is_no_default(values):
    told = sheet(LENGTH, length="3 mm")
    assert told.check("It", 1.0, "≤", 2.0, mm, "p. 1", otherwise={"length": values}) is PASS
    assert told.checks[0].remark == ""


def test_an_input_is_called_by_its_label():
    assert [sheet(LENGTH).label(name) for name in ("length", "other")] == ["“Length”", "other"]


SIMPLE = {"decision_rule": "simple acceptance"}


@pytest.mark.parametrize(
    ("typed", "how", "rule", "counts"),
    [
        ({}, {"uncertainty": U}, Rule.GUARD_BANDS, 0.1), (SIMPLE, {"uncertainty": U}, Rule.SIMPLE, 0.0),
        (SIMPLE, {"uncertainty": U, "geometry": True}, Rule.GUARD_BANDS, 0.1), ({"decision_rule": "ISO 14253-1"}, {"uncertainty": U}, Rule.GUARD_BANDS, 0.1),
        ({}, {"corner": {"x": 1.0}}, Rule.WORST_CASE, 0.0), ({}, {}, Rule.NONE, 0.0), ({}, {"corner": {}}, Rule.NONE, 0.0),
    ],
)  # fmt: skip
def test_by_which_rule_an_uncertainty_counts(typed, how, rule, counts):
    told = sheet(*judging(mm), **typed)
    told.check("It", 1.0, "≤", 2.0, mm, "p. 1", **how)
    assert told.checks[0].rule is rule
    assert told.counted(how.get("uncertainty"), how.get("geometry", False)) == counts
    assert told.check("It", 1.95, "≤", 2.0, mm, "p. 1", **how) is (UNDECIDED if counts else PASS)


def test_without_a_decision_rule_to_choose_the_uncertainty_counts():
    told = sheet()
    told.check("It", 1.0, "≤", None, mm, "p. 1", uncertainty=U, corner={"x": 1.0})
    assert (told.checks[0].rule, told.checks[0].uncertainty) == (Rule.NONE, None)
    assert (told.counted(U), told.counted(None)) == (0.1, 0.0)
    assert sheet(*judging(mm), **SIMPLE).counted(U) == 0.0


@pytest.mark.parametrize(
    ("typed", "sign", "outcome", "used"),
    [
        (None, "≤", UNDECIDED, "≤"), (None, ">", UNDECIDED, ">"), (ALLOWED, "≤", PASS, "≤"), (ALLOWED, "<", PASS, "≤"), (ALLOWED, ">", PASS, "≥"),
        (ALLOWED, "≥", PASS, "≥"), (NOT_ALLOWED, "≤", FAIL, "<"), (NOT_ALLOWED, "<", FAIL, "<"), (NOT_ALLOWED, ">", FAIL, ">"), (NOT_ALLOWED, "≥", FAIL, ">"),
    ],
)  # fmt: skip
def test_a_value_at_its_limit(typed, sign, outcome, used):
    told = sheet(*judging(mm), **({"at_limit": typed} if typed else {}))
    assert told.decided(1.0, 1.0, sign, 1.0) == (outcome, used)
    as_source = {"≤": PASS, "≥": PASS, "<": FAIL, ">": FAIL}[sign]
    assert told.decided(1.0, 1.0, sign, 1.0, True) == (as_source, sign)
    assert sheet().decided(1.0, 1.0, sign, 1.0) == (as_source, sign)
    for value, beyond in ((0.5, sign in "≥>"), (1.5, sign in "≤<")):
        assert told.decided(value, value, sign, 1.0)[0] is (FAIL if beyond else PASS)
    told.check("It", 1.0, sign, 1.0, mm, "p. 1")
    assert told.checks[0].comparison == used
    if typed is None:
        assert told.checks[0].remark == f"{LIES}: type whether the limit itself is allowed (“At the limit”)"
    assert told.check("It", 1.0, sign, 1.0, mm, "p. 1", geometry=True) is as_source


def test_a_check_shows_values_as_they_were_typed():
    told = sheet()
    told.check("It", 1.0, "≤", 2.0, mm, "p. 1", as_typed=("1/2 in", "2 in"))
    (check,) = told.checks
    assert (check.found.value, check.found.unit, check.limit.value, check.limit.unit) == ("1/2 in", None, "2 in", None)


def test_a_check_that_its_own_rule_decided():
    told = sheet(LENGTH)
    told.judge("Word", "wet", "must be", "dry", None, None, FAIL, uncertainty=U)
    told.judge("Value", 1.0, "≤", None, mm, "p. 1", PASS, uncertainty=Uncertainty(0.1, Origin.LEAVES))
    told.judge("Value", 1.0, "≤", 2.0, mm, "p. 1", PASS, corner={"length": 2.5, "two_words": 7.0, "said": plain(4.0)})
    word, value, at = told.checks
    assert (word.found.unit, word.limit.value, word.uncertainty, word.uncertainty_origin) == (None, "dry", None, None)
    assert (value.found.unit, value.limit, value.uncertainty.value, value.uncertainty_origin) == (
        MM,
        None,
        0.1,
        Origin.LEAVES,
    )
    assert (at.limit.label, at.uncertainty, at.uncertainty_origin) == ("limit", None, None)
    length, two_words, said = at.corner.values()
    assert (length.value, length.unit, length.label, length.digits) == (2.5, MM, "Length", 3)
    assert (two_words.unit, two_words.label, two_words.digits) == (PURE, "two words", 3)
    assert (length.readings, two_words.readings, said) == (told.readings, None, plain(4.0))


def test_a_value_that_a_tool_is_set_to_keeps_its_digits_where_it_is_judged():
    told = sheet()
    told.result("first", 5.0, mm, digits=6)  # with the digits of the readings
    told.result("force", 5.0, kN, digits=6, all_digits=True)  # of another unit
    told.result("many", [5.0], mm, digits=6, all_digits=True)
    told.result("other", 6.0, mm, digits=7, all_digits=True)
    told.set_with(2, mm, 4.0, 5.0)
    for value in (5.0, 6.0, 7.0):
        told.judge("Judged", value, "≤", 9.0, mm, "p. 1", PASS, digits=3)
    assert [(c.found.value, c.found.digits, c.found.readings, c.found.unit, c.found.label) for c in told.checks] == [
        (5.0, 2, None, MM, "Judged"), (6.0, 7, None, MM, "Judged"), (7.0, 3, told.readings, MM, "Judged"),
    ]  # fmt: skip


# ------------------------------------------------------------------------------ uncertainty of what was read
def of(fields, **values):
    """A worksheet of these values, without a run."""
    working = Working("w", "W", "what", asked(*fields), lambda inputs, worksheet: None)
    typed = {f.name: values.get(f.name) for f in fields}
    read = {name: None if text is None else working.field(name).read(text) for name, text in typed.items()}
    return Worksheet(working, working.inputs(read, typed))


@pytest.mark.parametrize(
    ("typed", "half", "origin"),
    [
        ({}, 0.05e-3, Origin.DIGITS), ({"resolution": "0.02 mm"}, 0.01e-3, Origin.RESOLUTION),
        ({"expanded_uncertainty": "0.02 mm", "coverage_factor": "4"}, 0.01e-3, Origin.CERTIFICATE),
        ({"expanded_uncertainty": "0.02 mm"}, 0.02e-3, Origin.CERTIFICATE),
        ({"expanded_uncertainty": "0.02 mm", "coverage_factor": "2", "resolution": "0.05 mm"}, 0.025e-3, Origin.RESOLUTION),
        ({"expanded_uncertainty": "0.03 mm", "coverage_factor": "2", "resolution": "0.05 mm"}, 0.03e-3, Origin.CERTIFICATE),
    ],
)  # fmt: skip
def test_where_an_uncertainty_comes_from(typed, half, origin):
    found = of((LENGTH, *judging(mm)), length="3.0 mm", **typed).uncertainty("length")
    assert (found.half_width, found.origin) == (pytest.approx(half, rel=1e-12), origin)


def test_without_an_instrument_half_the_last_digit_counts():
    cells = table("rows", [quantity("x", mm, "x")], "Rows")
    told = of(
        (LENGTH, READINGS, cells), length="3.0 mm", readings="1 mm; 2.00 mm", rows=[{"x": "1 mm"}, {"x": "2.0 mm"}]
    )
    found = (told.uncertainty("length"), told.uncertainty("readings", 1), told.uncertainty("rows", 1, "x"))
    assert [u.half_width for u in found] == [pytest.approx(x, rel=1e-12) for x in (0.05e-3, 0.005e-3, 0.05e-3)]


A, B = (quantity(name, one, name, required=False, band=name == "b") for name in "ab")


@pytest.mark.parametrize(
    ("function", "typed", "halves", "furthest"),
    [
        (lambda a: 3 * a, {"a": "2.0"}, None, 0.15), (lambda a: 3 * a, {"a": "2.0"}, {"a": 0.5}, 1.5), (lambda a: 3 * a, {"a": "0.0"}, None, 0.0),
        (lambda a: 3 * a, {"a": "0.0"}, {"a": 0.5}, 1.5), (lambda a: 3 * a, {"a": "2.0"}, {"a": 0.0}, 0.0), (lambda a: -3 * a, {"a": "2.0"}, None, 0.15),
        (lambda a: a * a, {"a": "2"}, None, 2.25), (lambda a: -a * a, {"a": "2"}, None, 2.25), (lambda a, b: a - b, {"a": "2.0", "b": "3"}, None, 0.55),
        (lambda a, b: b - a, {"a": "2.0", "b": "3"}, {"b": 0.2}, 0.25), (lambda a, b: a / b, {"a": "2", "b": "3"}, None, 2.5 / 2.5 - 2 / 3),
        (lambda a: a, {"a": "0.0020"}, None, 0.00005), (lambda a: -((a - 2.0) ** 2), {"a": "2"}, None, 0.25),
        (lambda a: -(a - 2.0) ** 2 * (1 + (a > 2.0)), {"a": "2"}, None, 0.5), (lambda a: (a - 2.0) ** 2 * (1 + (a < 2.0)), {"a": "2"}, None, 0.5),
        (lambda a: -(a - 2.0) ** 2 * (1 + (a < 2.0)), {"a": "2"}, None, 0.5), (lambda a: (a - 2.0) ** 2 * (1 + (a > 2.0)), {"a": "2"}, None, 0.5),
        (lambda a, b: (a - 2.0) * (b - 3.0), {"a": "2", "b": "3"}, None, 0.25), (lambda a, b: b, {"a": "2", "b": "1–4"}, {"b": 1.5}, 1.5),
    ],
)  # fmt: skip
def test_the_uncertainty_of_a_value_that_was_calculated(function, typed, halves, furthest):
    names = list(inspect.signature(function).parameters)
    told = of((A, B), **typed)
    found = carried(lambda at, show: function(**{n: at[n] for n in names}), told.inputs, *names, halves=halves)
    assert found.half_width == pytest.approx(furthest, rel=1e-9, abs=1e-15)
    assert found.origin is Origin.COMBINED


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("side", [1, -1])
def test_an_input_that_stands_still_at_one_side_is_moved_after_the_others(way, side):
    """With b at its other end a takes the value back: the furthest is where a stays at the end that changes nothing."""

    def function(at, show):
        moved = max(side * (at.a - 2.0), 0.0)
        return way * (5 * max(at.b - 3.0, 0.0) + min(at.b - 3.0, 0.0) + moved * (1 if at.b <= 3.0 else -10))

    told = of((A, B), a="2", b="3")
    assert carried(function, told.inputs, "a", "b").half_width == pytest.approx(2.5)


def test_inputs_with_another_value_keep_what_was_typed():
    inputs = of((A, B), a="2.0", b="1–4").inputs
    other = inputs.replaced(a=7.0)
    assert (other.a, other["a"], other.given("a"), other["b"]) == (7.0, 7.0, True, inputs["b"])
    assert (inputs.a, other.as_entered, other.half_digit("a")) == (2.0, inputs.as_entered, 0.05)
    assert not inputs.replaced(a=None).given("a", "b")
    with pytest.raises(TypeError, match="aa"):
        inputs.replaced(aa=7.0)


def test_a_reading_of_a_band_counts_with_its_middle():
    told = of((B,), b="2–4")
    assert isinstance(told.inputs["b"], Reading)
    found = carried(lambda at, show: at.b**2, told.inputs, "b", halves={"b": 1.0})
    assert found.half_width == pytest.approx(7.0)


def test_a_worksheet_begins_with_the_cautions_of_its_working():
    working = Working("w", "W", "what", asked(LENGTH), lambda inputs, worksheet: None, cautions=("Mind.",))
    assert Worksheet(working, Inputs({}, {})).cautions == ["Mind."]
