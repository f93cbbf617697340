"""What must hold of every working that judges, whatever is typed: less evidence and worse readings never help.

One mechanism for all of them, driven by the declared fields.  Inputs start from the examples, from the invented job and
from what released versions kept, and are changed at random.
"""

from __future__ import annotations

import functools
import itertools
import random
import re

import numpy as np
import pytest

from shoplib.core.checks import Outcome
from shoplib.core.errors import BadInput
from shoplib.topics import all_workings
from tests.fuzz.strategies import bases
from tests.slow_judge import CASES
from tests.topics.judging import working_names_that_judge
from tests.topics.typed_inputs import example_of

NAMES = working_names_that_judge()
DRAWS = CASES // 5
BANDS = [(name, f.name) for name in NAMES for f in all_workings()[name].fields if f.band]  # may hold a range
ORDER = list(Outcome)  # fail, undecided, no limit given, pass
# What says how sure a reading is.  More of it never gives a verdict; without it the digits typed count, which may be less.
UNSURE = {
    "resolution",
    "expanded_uncertainty",
    "u",
    "uncertainty",
    "leaf_tolerance",
    "edge_error",
    "instrument_deviation",
    "angle_deviation",
    "torque_deviation",
    "coverage_factor",
}
FACTORS = (0.5, 0.7, 0.9, 0.98, 1.02, 1.1, 1.4, 2.2)
FEW_BOLTS = {"draws": "1000"}  # the least: what must hold, holds for any number of simulated bolts
NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.]*\w*/)")


# What asks for something, as a limit does; without it nothing is asked.  An adapter is typed only
# where there is one.  The rating of a cap is a limit that the cap itself states.
ASKS = {"stage", "intention", "pass_count", "date_used", "adapter_length", "cap_rating"}
MEDIAN = "peak_torque"  # its checks are on the distance from the median, which moves when a reading is taken away


# ------------------------------------------------------------------------------ what is typed
@functools.cache
def starts(name):
    """Inputs that the working takes, each with its tables read into rows; and the same with all that may be added."""
    working, found = all_workings()[name], []
    for base in bases(name):
        typed = {key: as_rows(working.field(key), value) for key, value in base.items() if value not in (None, "")}
        if result_of(name, typed):
            found += [typed, filled(name, typed)]
    return [typed | FEW_BOLTS if "draws" in typed else typed for typed in found]


def as_rows(field, value):
    """A table as rows, a list as items."""
    return field.rows(value) if field.kind == "table" else field._items(value, None) if field.kind == "list" else value


def filled(name, typed):
    """With the example of every further input that is taken together with the rest."""
    fields = [f for f in all_workings()[name].fields if f.name not in typed and (f.example or f.choices)]
    examples = {f.name: as_rows(f, example_of(f)) for f in fields if f.kind != "table"}
    limits = {n: {n: x, f"{n}_source": "page 41"} for n, x in examples.items()}
    pairs = [{"expanded_uncertainty": examples.get("expanded_uncertainty"), "coverage_factor": "2"}]
    for more in (*limits.values(), *({n: x} for n, x in examples.items()), *pairs):
        more = {n: x for n, x in more.items() if all_workings()[name].field(n) and n not in typed}
        typed = typed | more if result_of(name, typed | more) else typed
    return typed


def result_of(name, typed):
    """The result, None where it is refused."""
    try:
        return all_workings()[name](typed)
    except BadInput:
        return None


def cells(working, typed):
    """(place, field) of everything typed; the place is a field, an item of a list, or a cell of a table."""
    for name, value in typed.items():
        field = working.field(name)
        if field.kind == "table":
            for k, row in enumerate(value):
                for column in field.columns:
                    if row.get(column.name) not in (None, ""):
                        if column.kind == "list" and isinstance(row[column.name], list):
                            yield from (((name, k, column.name, n), column.item) for n in range(len(row[column.name])))
                        else:
                            yield (name, k, column.name), column
        elif field.kind == "list":
            yield from (((name, k), field.item) for k in range(len(value)))
        else:
            yield (name,), field


def at(typed, place):
    for step in place:
        typed = typed[step]
    return typed


def changed(typed, place, value):
    """A copy with one thing typed anew; None takes it away."""
    if len(place) == 1 and isinstance(typed, dict) and value is None:
        return {k: v for k, v in typed.items() if k != place[0]}
    copy = dict(typed) if isinstance(typed, dict) else list(typed)
    copy[place[0]] = value if len(place) == 1 else changed(copy[place[0]], place[1:], value)
    return copy


def scaled(text, factor):
    """The first number of a text times a factor, in as many decimals, at least one digit away; None without a number."""
    found = NUMBER.search(str(text))
    if found is None:
        return None
    decimals = len(found[0].partition(".")[2])
    x, step = float(found[0]), 10.0**-decimals
    new = x + max(abs(x * (factor - 1)), step) * (1 if factor > 1 else -1)
    return str(text)[: found.start()] + f"{max(new, 0):.{decimals}f}" + str(text)[found.end() :]


def less_digits(text):
    """The same number with one digit less, where that is a zero: 0.050 is 0.05."""
    found = NUMBER.search(str(text))
    if found is None or "." not in found[0] or not found[0].endswith("0"):
        return None
    return str(text)[: found.start()] + found[0][:-1].removesuffix(".") + str(text)[found.end() :]


def drawn(rng, name):
    """A random change of a start, and its result; None where it is refused or judges nothing."""
    working, typed = all_workings()[name], rng.choice(starts(name))
    for _ in range(rng.randint(0, 3)):
        place, field = rng.choice([*cells(working, typed)] or [((), None)])
        if not place:
            continue
        new = rng.choice(field.choices) if field.kind == "choice" else scaled(at(typed, place), rng.choice(FACTORS))
        if new is None or rng.random() < 0.15:
            new = None if len(place) in (1, 3) else at(typed, place)
        typed = changed(typed, place, new)
    result = result_of(name, typed)
    if result and rng.random() < 0.6:
        typed = near_its_limit(rng, typed, result)
        result = result_of(name, typed)
    return (typed, result) if result and result.checks else None


def near_its_limit(rng, typed, result):
    """One limit close to what was found."""
    fields = [f for f in result.working.fields if f.name in typed and f.name in limits(result.working) - ASKS]
    for check in rng.sample(result.checks, len(result.checks)):
        found = amount(check.found.value)
        for field in rng.sample(fields, len(fields)):
            if found is not None and check.limit is not None and (check.found.unit or field.unit) == field.unit:
                half = check.uncertainty.value if check.uncertainty else 0.03 * abs(found)
                close = field.unit.from_si(found + half * rng.choice((-3, -1.5, -0.7, 0, 0.7, 1.5, 3)))
                return typed | {field.name: f"{close:.6g} {field.unit.name}".strip()}
    return typed


def named(name, names):
    """Those of the names that are inputs of the working."""
    return {f.name for f in all_workings()[name].fields} & names


def pairs(name, kind):
    """(check before, check after, both results, what was changed) of random inputs, each with one thing changed by ``kind``."""
    rng = random.Random(f"{name} {kind.__name__}")
    working = all_workings()[name]
    found = (drawn(rng, name) for _ in range(8 * DRAWS))
    for typed, before in itertools.islice(filter(None, found), DRAWS):
        ways = [(place, new) for place, field in cells(working, typed) for new in kind(working, typed, place, field)]
        tried = ((way, result_of(name, changed(typed, *way))) for way in rng.sample(ways, min(len(ways), 40)))
        for (place, new), after in itertools.islice((t for t in tried if t[1]), 8):
            yield before, after, (place, at(typed, place), new)


def same_checks(before, after):
    """The checks that both results have."""
    was = {(c.label, c.comparison): c for c in before.checks}
    return [(was[c.label, c.comparison], c) for c in after.checks if (c.label, c.comparison) in was]


def is_reading(working, typed, place, field):
    """Whether a number is typed here that is no limit, no place on a map, and does not say how sure a reading is."""
    names = {x for x in place if isinstance(x, str)}
    number = field.kind in ("quantity", "number") or re.fullmatch(
        r"\d+(\.\d+)? [a-zµ°%]+", str(at(typed, place)).strip()
    )
    return bool(number) and not names & (UNSURE | {"x", "y"} | limits(working))


def limits(working):
    """The fields that ask for something: those with a source of their own, and a few by name."""
    return {f.name for f in working.fields if working.field(f"{f.name}_source")} | ASKS


# ------------------------------------------------------------------------------ less sure
def less_sure(working, typed, place, field):
    """More uncertainty, a digit less, or guard bands in place of simple acceptance."""
    last = [x for x in place if isinstance(x, str)][-1]
    if last == "coverage_factor":  # the same expanded uncertainty with a smaller factor is a larger one
        yield "1"
    elif last in UNSURE:
        yield from filter(None, (scaled(at(typed, place), k) for k in (1.3, 2, 5)))
    elif last == "decision_rule":
        yield None
    elif is_reading(working, typed, place, field) and (shorter := less_digits(at(typed, place))):
        yield shorter


UNSURE_OF_NOTHING = {
    "strip_log",
    "fastener_log",
    "two_turn_check",
    "unit_pair",
    "hot_preload",
    "tightening_plan",
    "wrench_setting",
}


@pytest.mark.parametrize("name", NAMES)
def test_less_sure_never_gives_a_verdict(name):
    compared = 0
    for before, after, what in pairs(name, less_sure):
        if name == "pressure_hold" and (np.diff(before.plot_data["p"]) > 0).any():
            continue  # a pressure that rises contradicts itself only as long as the readings are sure enough
        for was, now in same_checks(before, after):
            assert now.outcome in (was.outcome, Outcome.UNDECIDED), (what, was, now, before.inputs.as_entered)
            compared += 1
    assert compared > 0 or not named(name, UNSURE)


# ------------------------------------------------------------------------------ less evidence
def less_evidence(working, typed, place, field):
    """What was typed, or one reading of it, taken away."""
    names = {x for x in place if isinstance(x, str)}
    shared = len(place) == 3 and working.field(place[2]) is not None  # a row that is empty there takes what all share
    if names & (limits(working) | UNSURE) or shared:
        return
    yield from field.states
    if field.may_be_missing:
        yield "not measured"
    if len(place) in (1, 3) and not field.required and field.default is None:
        yield None


@pytest.mark.parametrize("name", NAMES)
def test_less_evidence_never_passes(name):
    compared = 0
    for before, after, what in pairs(name, less_evidence):
        assert after.outcome is not Outcome.PASS or before.outcome not in ORDER[:2], (what, before.inputs.as_entered)
        for was, now in same_checks(before, after) if name != MEDIAN else ():
            assert now.outcome is not Outcome.PASS or was.outcome is Outcome.PASS, (
                what,
                was,
                now,
                before.inputs.as_entered,
            )
        compared += 1
    more = {f.name for f in all_workings()[name].fields if not f.required and (f.example or f.choices)}
    assert compared > 0 or not more - limits(all_workings()[name]) - UNSURE


# ------------------------------------------------------------------------------ worse readings
def another_reading(working, typed, place, field):
    """A reading somewhat more or less."""
    if is_reading(working, typed, place, field):
        yield from filter(None, (scaled(at(typed, place), k) for k in FACTORS))


NO_NUMBER_JUDGED = {
    "strip_log",
    "fastener_log",
    "two_turn_check",
    "unit_pair",
    "hot_preload",
    "stage_reading",
    "gasket_grade",
}


@pytest.mark.parametrize("name", NAMES)
def test_a_worse_reading_never_improves(name):
    compared = 0
    for before, after, what in pairs(name, another_reading):
        for was, now in same_checks(before, after):
            if worse_than(now, was):
                assert ORDER.index(now.outcome) <= ORDER.index(was.outcome), (what, was, now, before.inputs.as_entered)
                compared += 1
    working = all_workings()[name]
    numbers = [f for f in working.fields if f.name in limits(working) and f.kind in ("quantity", "number")]
    assert compared > 0 or not numbers


def worse_than(now, was):
    """Whether all values that a check may have found are worse than before, against the same limit."""
    if now.limit is None or was.limit is None or now.limit.value != was.limit.value or now.comparison not in "≤<≥>":
        return False
    values = [amount(c.found.value) for c in (now, was)]
    if None in values:
        return False
    sign = 1 if now.comparison in "≤<" else -1
    half, before = (c.uncertainty.value if c.uncertainty else 0.0 for c in (now, was))
    further = sign * (values[0] - values[1])
    return further > 0 and further >= abs(half - before)


def amount(found):
    """What was found as a number, where it is one, or the text of one."""
    if isinstance(found, str):
        found = re.fullmatch(r"(-?\d+(?:\.\d+)?) mm", found)
        return float(found[1]) / 1e3 if found else None
    return found if isinstance(found, float) else None


# ------------------------------------------------------------------------------ ranges
def share(name):
    """How many inputs each range of a working is tried with: its ranges are judged by the same corners and share them."""
    return max(4 * DRAWS // sum(of == name for of, _ in BANDS), DRAWS)


def with_band(rng, name, field):
    """Random inputs with a range typed in this field, and its ends; None where they are refused."""
    found = drawn(rng, name)
    if found is None or found[1].inputs[field] is None or (field.startswith("mu_") and "mu_low" in found[0]):
        return None
    typed = found[0]
    middle = getattr(found[1].inputs, field).value
    low, high = middle * rng.uniform(0.6, 1.0), middle * rng.uniform(1.0, 1.7)
    return typed, low, high


def typed_range(name, field, low, high):
    unit = all_workings()[name].field(field).unit
    ends = [f"{unit.from_si(x):.9g}" for x in ((low,) if low == high else (low, high))]
    return f"{'–'.join(ends)} {unit.name}".strip()


@pytest.mark.parametrize(("name", "field"), BANDS)
def test_a_range_is_judged_as_the_worst_of_a_dense_sampling(name, field):
    rng, compared = random.Random(f"{name} {field}"), 0
    for _ in range(share(name)):
        found = with_band(rng, name, field)
        if found is None:
            continue
        typed, low, high = found
        band = result_of(name, typed | {field: typed_range(name, field, low, high)})
        if band is None:
            continue
        points = [low + (high - low) * k / 12 for k in range(13)]
        single = [result_of(name, typed | {field: typed_range(name, field, x, x)}) for x in points]
        if None in single:
            continue
        worst = {}
        for was, now in itertools.chain.from_iterable(same_checks(band, one) for one in single):
            rank = ORDER.index(now.outcome)
            worst[was.label] = (was, min(rank, worst.get(was.label, (was, rank))[1]))
        for check, rank in worst.values():
            assert ORDER.index(check.outcome) == rank, (field, low, high, check, typed)
            compared += 1
    assert compared > 0


@pytest.mark.parametrize(("name", "field"), BANDS)
def test_a_wider_range_never_helps(name, field):
    rng, compared = random.Random(f"wider {name} {field}"), 0
    for _ in range(share(name)):
        found = with_band(rng, name, field)
        if found is None:
            continue
        typed, low, high = found
        ends = (low, high), (low * rng.uniform(0.7, 1), high * rng.uniform(1, 1.4))
        before, after = (result_of(name, typed | {field: typed_range(name, field, *e)}) for e in ends)
        for was, now in same_checks(before, after) if before and after else ():
            assert ORDER.index(now.outcome) <= ORDER.index(was.outcome), (field, ends, was, now, typed)
            compared += 1
    assert compared > 0


def test_every_kind_of_range_is_there():
    assert len(BANDS) >= 7
