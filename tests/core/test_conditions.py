"""Conditions between inputs: declared, never written by hand; the working and the JSON Schema refuse the same."""

import itertools
import re
from pathlib import Path

import jsonschema
import pytest

from shoplib.core.conditions import as_schema, one_of, problems
from shoplib.core.errors import BadInput
from shoplib.core.fields import choice, quantity, table, words
from shoplib.core.units import mm
from shoplib.core.working import Working
from shoplib.topics import all_workings, get
from tests.asked import asked

TOPICS = Path(__file__).parents[2] / "shoplib" / "topics"
BY_HAND = re.compile(r"together with|combined with|give one of|goes with|is for .* only|; or give")


def test_no_condition_between_inputs_is_written_by_hand():
    """A refusal that stays by hand depends on a value: the head of this thread is in no table, for example."""
    found = []
    for path in sorted(TOPICS.rglob("*.py")):
        for call in re.findall(r"w\.refuse\((?:[^()]|\([^()]*\))*\)", path.read_text(encoding="utf-8")):
            if BY_HAND.search(call) and "is not in the table" not in call:
                found.append((path.name, call))
    assert not found


FIELDS = (
    words("a", "A", required=False),
    words("b", "B", required=False, needs=("a",)),
    words("c", "C", required=False, excludes=("b",)),
    choice("kind", "Kind", ("plain", "deep_hole"), default="plain"),
    quantity("depth", mm, "Depth", required=False, needed_when=("kind", "deep_hole"), only_when=("kind", "deep_hole")),
    words("p", "P", required=False),
    words("q", "Q", required=False),
    words("r", "R", required=False),
)
GROUPS = (one_of("p", ("q", "r")),)


def checked(**typed):
    values = {f.name: typed.get(f.name, f.default) for f in FIELDS}
    return {p.field: p.why for p in problems(FIELDS, GROUPS, {f.name: typed.get(f.name) for f in FIELDS}, values)}


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"p": "1"}, {}),
        ({"p": "1", "b": "1"}, {"a": "is needed together with b"}),
        ({"p": "1", "a": "1", "b": "1", "c": "1"}, {"c": "cannot be combined with b; give one of the two"}),
        ({"p": "1", "kind": "deep_hole"}, {"depth": "is needed where kind is “deep hole”"}),
        ({"p": "1", "depth": "3 mm"}, {"depth": "is only for kind “deep hole”; leave it empty"}),
        ({}, {"p": "is needed; or give q and r"}),
        ({"q": "1"}, {"r": "is needed together with q"}),
        ({"p": "1", "q": "1"}, {"q": "cannot be combined with p; give one or the other"}),
        ({"q": "1", "r": "1"}, {}),
    ],
)
def test_what_is_declared_is_refused_by_name(typed, wrong):
    assert checked(**typed) == wrong


def test_the_json_schema_refuses_exactly_what_the_working_refuses():
    schema = jsonschema.Draft202012Validator({"type": "object", **as_schema(FIELDS, GROUPS)})
    words_of = {f.name: f.choices or ("1",) for f in FIELDS}
    names = list(words_of)
    for chosen in itertools.product(*((None, *words_of[n]) for n in names)):
        typed = {n: x for n, x in zip(names, chosen, strict=True) if x is not None}
        assert schema.is_valid(typed) == (not checked(**typed)), typed


def test_columns_of_a_table_have_conditions_for_each_row():
    columns = (words("x", "x", required=False, needs=("y",)), words("y", "y", required=False))
    working = Working(
        name="r",
        title="r",
        question="r",
        inputs=asked(table("rows", columns, "Rows")),
        run=lambda inputs, worksheet: None,
    )
    with pytest.raises(BadInput) as caught:
        working(rows=[{"x": "1", "y": "2"}, {"x": "1"}])
    assert [p.field for p in caught.value.problems] == ["rows[2].y"]
    assert not jsonschema.Draft202012Validator(working.schema()).is_valid({"rows": [{"x": "1"}]})


@pytest.mark.parametrize("name", list(all_workings()))
def test_conditions_name_inputs_that_there_are(name):
    working = get(name)
    for fields in (working.fields, *(f.columns for f in working.fields if f.kind == "table")):
        there = {f.name: f for f in fields}
        for f in fields:
            assert {*f.needs, *f.excludes, *f.needed_when[:1], *f.only_when[:1]} <= set(there)
            for rule in (f.needed_when, f.only_when):
                assert not rule or set(rule[1:]) <= set(there[rule[0]].choices)
    for c in working.inputs.combinations:
        assert {n for g in c.groups for n in g} <= {f.name for f in working.fields}
    jsonschema.Draft202012Validator.check_schema(working.schema())
