"""Each rule of a field at both of its sides: its limits, its words, and what it tells people to type."""

import itertools

import pytest

from shoplib.core import fields
from shoplib.core.conditions import as_schema, one_of, problems
from shoplib.core.dates import read_date
from shoplib.core.errors import BadInput, Problem
from shoplib.core.fields import (
    LONGEST_LIST,
    MISSING,
    Field,
    _read_fields,
    choice,
    date,
    integer,
    judging,
    listing,
    number,
    quantity,
    sourced_limit,
    table,
    trace,
    words,
    yes_no,
)
from shoplib.core.input_schema import field_schema, object_schema
from shoplib.core.inputs import half_digit_in_si
from shoplib.core.typed_text import LONGEST_TEXT, json_list, plain_text, text_or_number, unit_typed
from shoplib.core.units import Reading, Unreadable, degC, kN, mm, one, pct, unit_of
from tests.asked import asked

MM = unit_of(mm)


def refusal(field, raw):
    """What a field says about this; "" where it takes it."""
    try:
        field.read(raw)
    except Unreadable as error:
        return str(error)
    except BadInput as error:
        return "; ".join(map(str, error.problems))
    return ""


# ------------------------------------------------------------------------------ what to type
@pytest.mark.parametrize(
    ("field", "to_type"),
    [
        (quantity("x", mm, "x"), "1 mm"), (quantity("x", mm, "x", above=4e-3), "5 mm"), (quantity("x", mm, "x", at_least=4e-3, above=1e-3), "5 mm"),
        (quantity("x", mm, "x", example="7 mm"), "7 mm"), (quantity("x", mm, "x", default="9 mm"), "9 mm"), (number("x", "x"), "1"), (number("x", "x", default=0), "0"),
        (integer("x", "x"), "3"), (choice("x", "x", ("left", "right")), "left"), (yes_no("x", "x"), "yes"), (words("x", "x"), '"A3"'),
        (words("x_source", "x"), '"bench notes, page 3"'), (date("x", "x"), "2026-11-25"), (listing("x", words("y", "y"), "x"), ""), (table("x", [words("y", "y")], "x", default=1), ""),
    ],
)  # fmt: skip
def test_what_to_type(field, to_type):
    assert field.to_type == to_type


# ------------------------------------------------------------------------------ limits
@pytest.mark.parametrize(
    ("limits", "inside", "outside", "says"),
    [
        ({"above": 2e-3}, "2.001 mm", "2 mm", "2 mm is out of range; it must be above 2 mm"), ({"at_least": 2e-3}, "2 mm", "1.999 mm", "1.999 mm is out of range; it must be at least 2 mm"),
        ({"below": 2e-3}, "1.999 mm", "2 mm", "2 mm is out of range; it must be below 2 mm"), ({"at_most": 2e-3}, "2 mm", "2.001 mm", "2.001 mm is out of range; it must be at most 2 mm"),
        ({}, "5000 mm", "5001 mm", "5001 mm is not plausible here: from −5000 mm to 5000 mm is possible. Check the number and its unit"),
        ({"plausible": (0.0, 1e-3)}, "1 mm", "1.001 mm", "1.001 mm is not plausible here: from 0 mm to 1 mm is possible. Check the number and its unit"),
        ({"plausible": (0.0, 1e-3)}, "0 mm", "-0.001 mm", "-0.001 mm is not plausible here: from 0 mm to 1 mm is possible. Check the number and its unit"),
        ({"band": True, "at_most": 2e-3}, "1–2 mm", "1–2.5 mm", "1–2.5 mm is out of range; it must be at most 2 mm"),
        ({"band": True, "above": 1e-3}, "1.5–2 mm", "1–2 mm", "1–2 mm is out of range; it must be above 1 mm"),
        ({"band": True, "at_most": 0.1e-3}, "3 thou", "1–30 thou", "1–30 thou (0.02540 mm to 0.7620 mm) is out of range; it must be at most 0.1 mm"),
        ({"at_most": 0.1e-3}, "3 thou", "30 thou", "30 thou (0.7620 mm) is out of range; it must be at most 0.1 mm"),
    ],
)  # fmt: skip
def test_limits_at_both_sides(limits, inside, outside, says):
    field = quantity("x", mm, "x", **limits)
    assert refusal(field, inside) == ""
    assert refusal(field, outside) == says


def test_a_long_text_is_cut_in_the_message():
    typed = "1" + "0" * 50 + " mm"
    assert refusal(quantity("x", mm, "x"), typed).startswith("1" + "0" * 39 + "… is not plausible")
    typed = "1" + "0" * 36 + " mm"
    assert refusal(quantity("x", mm, "x"), typed).startswith(typed + " is not plausible")


def test_whole_numbers_words_and_yes_or_no():
    whole = integer("x", "x", at_least=1)
    assert [whole.read(x) for x in ("3", 3, "3.0", 3.0)] == [3, 3, 3, 3]
    assert refusal(whole, "3.5") == '"3.5" is not a whole number'
    assert refusal(whole, 0) == "0 is out of range; it must be at least 1"
    flag = yes_no("x", "x")
    assert [flag.read(x) for x in ("yes", "No", "TRUE", "false", True, False)] == [
        True,
        False,
        True,
        False,
        True,
        False,
    ]
    assert refusal(flag, "may be") == '"may be" is neither yes nor no'
    loose = quantity("x", mm, "x", states=("still loose",))
    assert [loose.read(x) for x in (" Still Loose", "1 mm")] == ["still loose", 1e-3]
    assert refusal(loose, "loose") == '"loose" does not start with a number'
    assert refusal(loose, 5) == '"5" has no unit'
    assert [number("x", "x").read(x) for x in (5, 0.5, "0.5", "5 %")] == [5, 0.5, 0.5, 0.05]
    assert isinstance(quantity("x", mm, "x", terms=True).read("1 mm + 2 mm"), Reading)
    with pytest.raises(TypeError, match="no kind 'odd'"):
        Field("x", "odd", "x").read("1")


def test_a_text_with_a_grammar_of_its_own():
    def short(text):
        if len(text) > 3:
            raise Unreadable("is long")

    assert words("x", "x", grammar=short).read("abc") == "abc"
    assert refusal(words("x", "x", grammar=short), "abcd") == "is long"


@pytest.mark.parametrize("typed", [True, None, [1], {"a": 1}])
def test_one_value_is_a_text_or_a_number(typed):
    with pytest.raises(Unreadable, match="enter one value"):
        text_or_number(typed)
    assert [text_or_number(x) for x in ("a", 1, 0.5)] == ["a", 1, 0.5]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (True, "enter text"), (None, "enter text"), ([1], "enter text"), ("", "is empty"), ("  ", "is empty"), ("x" * (LONGEST_TEXT + 1), "4001 characters is too long; at most 4000"),
        ("a\u200bb", "contains an invisible or control character, U+200B; type it again"),
    ],
)  # fmt: skip
def test_what_is_no_text(typed, says):
    assert refusal(words("x", "x"), typed) == says


def test_texts_and_lists_that_are_just_short_enough():
    assert [plain_text(x) for x in ("x" * LONGEST_TEXT, 8.8, 10, " a ")] == ["x" * LONGEST_TEXT, "8.8", "10", " a "]
    assert json_list("[" + " " * 4_999_998 + "]") == []
    with pytest.raises(Unreadable, match="is too long"):
        json_list("[" + " " * 4_999_999 + "]")
    with pytest.raises(Unreadable, match="is not a list"):
        json_list("[1,")
    assert [unit_typed(x) for x in ("5e-2 mm", "1/2 in", "-3", "0,5 N·m")] == ["mm", "in", "", "N·m"]


# ------------------------------------------------------------------------------ lists and tables
LIST = listing("x", quantity("one", mm, "one", example="3 mm"), "x")
HOLES = listing("holes", words("hole", "Hole"), "Holes")


def test_items_of_a_list():
    assert LIST.read("1 mm; 2 mm;") == LIST.read(["1 mm", "2 mm"]) == LIST.read('["1 mm", "2 mm"]') == [1e-3, 2e-3]
    assert LIST.read("1 mm") == [1e-3]
    assert refusal(LIST, []) == "is empty"
    assert refusal(LIST, 5) == "enter a list; separate the items with semicolons"
    assert refusal(LIST, "1 mm; 2") == 'x[2]: "2" has no unit; type for example 3 mm'
    assert refusal(LIST, "1 mm; ; 2 mm").startswith("x[2]: is empty")


def test_items_from_a_file_are_those_of_its_first_column(tmp_path):
    (tmp_path / "x.csv").write_text("1 mm;9\n2 mm;9\n", encoding="utf-8")
    named = listing("x", quantity("one", mm, "one"), "x", csv=True)
    assert named.read("x.csv", tmp_path) == [1e-3, 2e-3]
    assert asked(named)({"x": [1e-3, 2e-3]}, {"x": "x.csv"}, tmp_path).shown("x") == "1 mm; 2 mm"
    assert refusal(LIST, "x.csv") != ""


def test_twenty_bad_items_are_enough():
    with pytest.raises(BadInput) as error:
        LIST.read(["x"] * 25)
    assert [p.field for p in error.value.problems] == [f"x[{k}]" for k in range(1, 21)]


def test_the_longest_list(monkeypatch):
    assert LONGEST_LIST == 200_000
    monkeypatch.setattr(fields, "LONGEST_LIST", 3)
    assert refusal(LIST, ["1 mm"] * 3) == ""
    assert refusal(LIST, ["1 mm"] * 4) == "4 rows is too many; at most 3"


def test_a_reading_that_is_missing():
    missing = listing("x", number("one", "one", may_be_missing=True), "x")
    assert missing.read([None, 5, "0.5", " Unreadable "]) == [None, 5, 0.5, None]
    assert missing.read([*MISSING]) == [None] * len(MISSING)
    assert refusal(missing, ["5 x"]) != ""
    assert (
        refusal(listing("x", number("one", "one"), "x"), ["5", "-"])
        == 'x[2]: "-" does not start with a number; type for example 1'
    )


@pytest.mark.parametrize(
    ("columns", "raw", "read"),
    [
        ([words("a", "a")], [{"a": "1"}], [{"a": "1"}]), ([words("a", "a")], {"a": "1"}, [{"a": "1"}]), ([HOLES], [["1", "2"]], [{"holes": ["1", "2"]}]),
        ([words("a", "a", required=False), HOLES], '[["1"]]', [{"a": None, "holes": ["1"]}]), ([HOLES], [{"holes": "1"}], [{"holes": ["1"]}]),
    ],
)  # fmt: skip
def test_rows_of_a_table(columns, raw, read):
    assert table("x", columns, "x").read(raw) == read


def test_rows_that_are_none():
    assert refusal(table("x", [words("a", "a"), words("b", "b")], "x"), [["1"]]) == "x[1]: enter a row with a, b"
    two = [HOLES, listing("more", words("y", "y"), "more")]
    assert refusal(table("x", two, "x"), [["1"]]) == "x[1]: enter a row with holes, more"
    one_column = table("x", [words("a", "a")], "x")
    assert refusal(one_column, 5) == "enter a list of rows"
    assert refusal(one_column, []) == "is empty"
    assert (
        refusal(one_column, [{"b": "1"}])
        == 'x[1].b: unknown input; allowed: a; x[1].a: is missing; type for example "A3"'
    )


def test_what_is_missing_or_unknown():
    declared = [
        words("a", "a"),
        words("b", "b", required=False),
        words("c", "c", default="z"),
        number("d", "d", default=2),
    ]
    assert _read_fields(declared, {"a": "1", "c": " ", "d": 3}) == {"a": "1", "b": None, "c": "z", "d": 3}
    with pytest.raises(BadInput) as error:
        _read_fields(declared, {"q" * 70: "1", 7: "x", "a": ""})
    assert error.value.problems == (
        Problem("q" * 60, "unknown input; allowed: a, b, c, d"), Problem("7", "unknown input; allowed: a, b, c, d"), Problem("a", "is missing", '"A3"'),
    )  # fmt: skip


# ------------------------------------------------------------------------------ the echo
LABELLED = choice("x", "x", {"a_b": "a then b", "c": "see"})


@pytest.mark.parametrize(
    ("field", "typed", "shown"),
    [
        (quantity("x", mm, "x"), "2 in", "2 in (50.80 mm)"), (quantity("x", mm, "x"), "1.234567891 in", "1.234567891 in (31.3580244 mm)"), (quantity("x", mm, "x"), " 3 mm ", "3 mm"),
        (quantity("x", mm, "x"), "-3 mm", "-3 mm"), (quantity("x", mm, "x", band=True), "0.1–0.2 mm", "0.1–0.2 mm"), (quantity("x", mm, "x", band=True), "24–30 thou", "24–30 thou (0.6096 mm to 0.7620 mm)"),
        (quantity("x", mm, "x", band=True), "0.1 mm – 30 thou", "0.1 mm – 30 thou (0.1000 mm to 0.7620 mm)"), (quantity("x", mm, "x", band=True), "1 ± 0.5 mm", "1 ± 0.5 mm (0.5000 mm to 1.500 mm)"), (quantity("x", mm, "x", band=True), "1–1.234567 in", "1–1.234567 in (25.40000 mm to 31.35800 mm)"),
        (quantity("x", mm, "x", states=("loose",)), "loose", "loose"), (number("x", "x"), "0.5", "0.5"), (LABELLED, "a_b", "a then b"), (choice("x", "x", ("a_b",)), "a_b", "a b"),
        (LIST, "1 mm; 2 in", "1 mm; 2 in (50.80 mm)"), (yes_no("x", "x"), True, "yes"), (yes_no("x", "x"), False, "no"), (quantity("x", mm, "x"), "5.343505 in", "5.343505 in (135.7250 mm)"),
    ],
)  # fmt: skip
def test_what_was_typed_and_what_it_means(field, typed, shown):
    assert field.as_typed(typed, field.read(typed)) == shown
    assert field.as_typed(typed, None) == "not measured"


def test_words_are_read_and_shown():
    assert [LABELLED.read(x) for x in ("a_b", " a b ", "a then b", "see")] == ["a_b", "a_b", "a_b", "c"]
    assert refusal(LABELLED, "b") == '"b" is not one of: a then b; see'
    assert refusal(LABELLED, "x" * 50).startswith('"' + "x" * 40 + '" is not one of')
    assert words("x", "x").spoken("a_b") == "a_b"


# ------------------------------------------------------------------------------ declarations
def test_the_inputs_by_which_a_reading_is_judged():
    declared = {f.name: f for f in judging(mm)}
    assert [*declared] == ["resolution", "expanded_uncertainty", "coverage_factor", "decision_rule", "at_limit"]
    assert [f.name for f in judging(mm, at_limit=False)] == [*declared][:-1]
    assert not any(f.required for f in declared.values())
    assert {f.group for f in declared.values()} == {"How it is judged"}
    assert {f.group for f in judging(mm, group="Other")} == {"Other"}
    for name in ("resolution", "expanded_uncertainty"):
        assert [refusal(declared[name], x) == "" for x in ("0 mm", "1e-6 mm")] == [False, True]
    assert [refusal(declared["coverage_factor"], x) == "" for x in ("0.99", "1", "4", "4.01")] == [
        False,
        True,
        True,
        False,
    ]
    assert [{f.name: f for f in judging(u)}["expanded_uncertainty"].example for u in (mm, kN)] == ['"0.005 mm"', ""]
    assert (declared["expanded_uncertainty"].needs, declared["coverage_factor"].needs) == (
        ("coverage_factor",),
        ("expanded_uncertainty",),
    )


def test_a_limit_and_its_source():
    limit, source = sourced_limit("most", mm, "Highest lift", at_least=0.0, group="Limits")
    assert (limit.name, source.name, limit.required, source.required) == ("most", "most_source", False, False)
    assert (limit.group, source.group, limit.default, limit.at_least, source.label) == (
        "Limits",
        "Limits",
        None,
        0.0,
        "Source of the highest lift",
    )
    assert trace("x", "x").csv
    assert not table("x", [], "x").csv


def test_the_schema_of_inputs():
    declared = [
        words("a", "A", help="what it is"), words("b", "B", required=False), words("c", "C", default="z", example="y"), trace("t", "T"), number("n", "N"), HOLES,
    ]  # fmt: skip
    schema = object_schema(declared)
    assert (schema["required"], schema["additionalProperties"]) == (["a", "t", "n", "holes"], False)
    a, b, c, t, n, holes = schema["properties"].values()
    assert a == {"title": "A", "description": "what it is", "type": "string", "maxLength": LONGEST_TEXT}
    assert (b["description"], c["examples"], t["type"], "maxLength" in t, "examples" in b) == (
        "B",
        ["y"],
        "string",
        False,
        False,
    )
    assert (n["type"], holes["items"]["title"]) == (["string", "number"], "Hole")
    assert field_schema(yes_no("x", "x"))["type"] == ["boolean", "string"]
    assert field_schema(table("x", [words("a", "a")], "x"))["items"]["required"] == ["a"]


# ------------------------------------------------------------------------------ inputs of a run
@pytest.mark.parametrize(
    ("typed", "unit", "half"),
    [
        ("1.0 mm", mm, 0.05e-3), ("1.0", mm, 0.05e-3), ("0.05 + 0.1 mm", mm, 0.05e-3), ("1 in + 0.10 mm", mm, 0.0127), ("0.1 + 1 in", mm, 0.0127), ("20.0 °C", degC, 0.05), ("5 %", one, 0.005),
        ("5", one, 0.5), ("5.0 %", pct, 0.0005), ("1/16 in", mm, 0.0254 / 32), ("x", mm, 0.0), ("1.0 xyzzy", mm, 0.05e-3), ("5e-2 mm", mm, 0.5e-5), ("1.0 kN", kN, 50.0),
    ],
)  # fmt: skip
def test_half_of_the_last_digit_typed(typed, unit, half):
    assert half_digit_in_si(typed, unit_of(unit)) == pytest.approx(half, rel=1e-12)


def test_inputs_as_they_were_typed():
    rows = table(
        "rows", [quantity("x", mm, "x", may_be_missing=True), words("w", "w", required=False)], "Rows", required=False
    )
    band = quantity("band", mm, "Band", band=True, required=False)
    made = asked(
        quantity("a", mm, "A", default="3 mm"),
        band,
        words("b", "B", required=False),
        listing("l", quantity("one", mm, "one", may_be_missing=True), "L", required=False),
        rows,
    )
    typed = {"a": None, "band": "1–3 mm", "b": None, "l": "1.0 mm; - ; 2 mm", "rows": [{"x": "1.00 mm"}]}
    inputs = made(
        {f.name: f.read(typed[f.name] or f.default) if typed[f.name] or f.default else None for f in made.declared},
        typed,
    )
    assert [inputs.shown(f.name) for f in made.declared] == [
        "3 mm (default, not typed)",
        "1–3 mm",
        "not given",
        "1.0 mm; not measured; 2 mm",
        "1 row",
    ]
    assert [f.name for f in inputs.defaults()] == ["a"]
    assert (inputs.given("a", "l"), inputs.given("a", "b"), inputs.typed("a"), inputs.typed("l")) == (
        True,
        False,
        False,
        True,
    )
    assert inputs.field("b").name == "b"
    halves = [
        inputs.half_digit("a"),
        inputs.half_digit("band"),
        inputs.half_digit("b"),
        *(inputs.half_digit("l", k) for k in range(3)),
        inputs.half_digit("rows", 0, "x"),
        inputs.half_digit("rows", 0, "w"),
    ]
    assert halves == [
        0.0,
        pytest.approx(0.5e-3),
        0.0,
        pytest.approx(0.05e-3),
        0.0,
        pytest.approx(0.5e-3),
        pytest.approx(0.005e-3),
        0.0,
    ]
    shown = inputs.to_json()
    assert [*shown] == ["a", "band", "l", "rows"]
    assert shown["a"] == {"as_entered": None, "default": "3 mm", "value": 3.0, "unit": "mm"}
    assert shown["band"] == {"as_entered": "1–3 mm", "value": 2.0, "unit": "mm", "low": 1.0, "high": 3.0}
    assert (shown["l"]["value"], shown["l"]["unit"]) == ([1.0, None, 2.0], "mm")
    assert shown["rows"]["value"] == [{"x": {"value": 1.0, "unit": "mm"}}]
    assert made({"rows": [{}, {}]}, {"rows": [1, 2]}).shown("rows") == "2 rows"


# ------------------------------------------------------------------------------ conditions
PQRS = tuple(words(n, n.upper(), required=False, example=n * 2) for n in "pqrs")


@pytest.mark.parametrize(
    ("group", "typed", "wrong"),
    [
        (one_of(("p", "q"), ("q", "r"), shared=("q",)), "", {"p": "is needed with q; or give q and r"}),
        (one_of(("p", "q"), ("q", "r"), shared=("q",)), "pq", {}), (one_of(("p", "q"), ("q", "r"), shared=("q",)), "qr", {}), (one_of(("p", "q"), ("q", "r"), shared=("q",)), "r", {"q": "is needed together with r"}),
        (one_of(("p", "q"), ("q", "r"), shared=("q",)), "pqr", {"r": "cannot be combined with p and q; give one or the other"}),
        (one_of("p", "q", "r", required=False), "", {}), (one_of("p", "q", "r", required=False), "r", {}), (one_of("p", "q", "r"), "", {"p": "is needed; or give q, or r"}),
        (one_of("p", "q", "r"), "pqr", {"q": "cannot be combined with p; give one or the other", "r": "cannot be combined with p; give one or the other"}),
        (one_of(("p", "q", "r"), required=False), "", {}), (one_of(("p", "q", "r"), required=False), "q", {"p": "is needed together with q", "r": "is needed together with q"}),
        (one_of(("p", "q", "r"), required=False), "qr", {"p": "is needed together with q and r"}), (one_of(("p", "q", "r", "s")), "pqr", {"s": "is needed together with p, q and r"}),
        (one_of(("p", "q"), ("q", "r"), shared=("q",), required=False), "q", {}), (one_of("p"), "", {"p": "is needed"}), (one_of(("p", "q")), "", {"p": "is needed with q"}),
    ],
)  # fmt: skip
def test_groups_of_which_one_is_typed(group, typed, wrong):
    of = {f.name: "1" if f.name in typed else None for f in PQRS}
    found = problems(PQRS, (group,), of, of)
    assert {p.field: p.why for p in found} == wrong
    for p in found:
        assert p.example == ("" if "combined" in p.why else p.field * 2)


@pytest.mark.parametrize(("group", "allowed"), [
    (one_of(("p", "q"), ("q", "r"), shared=("q",)), {"pq", "qr"}), (one_of("p", "q", "r", required=False), {"", "p", "q", "r"}), (one_of(("p", "q", "r"), required=False), {"", "pqr"}), (one_of(("p", "q"), required=False), {"", "r", "pq", "pqr"}),
    (one_of("p", "q", "r"), {"p", "q", "r"}),
])  # fmt: skip
def test_the_schema_says_the_same_of_groups(group, allowed):
    import jsonschema

    schema = jsonschema.Draft202012Validator({"type": "object", **as_schema(PQRS, (group,))})
    subsets = ("".join(s) for n in range(4) for s in itertools.combinations("pqr", n))
    assert {s for s in subsets if schema.is_valid(dict.fromkeys(s, "1"))} == allowed


TOLD = (
    choice("kind", "Kind", {"a_a": "A", "b_b": "B", "c_c": "C"}, required=False),
    words("only", "Only", required=False, only_when=("kind", "a_a", "b_b")),
    words("needed", "Needed", required=False, needed_when=("kind", "b_b", "c_c"), example="so"),
    words("beside", "Beside", required=False, needs=("x", "y")),
    words("x", "X", required=False, example="xx"),
    words("y", "Y", required=False, excludes=("z", "only")),
    words("z", "Z", required=False),
)


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({}, []), ({"kind": "a_a", "only": "1"}, []), ({"kind": "b_b", "only": "1"}, [("needed", "is needed where kind is “B”", "so")]),
        ({"kind": "c_c", "only": "1", "needed": "1"}, [("only", "is only for kind “A” or “B”; leave it empty", "")]), ({"only": "1"}, [("only", "is only for kind “A” or “B”; leave it empty", "")]),
        ({"kind": "c_c"}, [("needed", "is needed where kind is “C”", "so")]), ({"kind": "a_a"}, []), ({"beside": "1"}, [("x", "is needed together with beside", "xx"), ("y", "is needed together with beside", '"A3"')]),
        ({"beside": "1", "x": "1", "y": "1"}, []), ({"y": "1", "z": "1"}, [("y", "cannot be combined with z; give one of the two", "")]), ({"z": "1"}, []),
        ({"y": "1", "z": "1", "kind": "a_a", "only": "1"}, [("y", "cannot be combined with z; give one of the two", "")]),
    ],
)  # fmt: skip
def test_conditions_of_a_field(typed, wrong):
    of = {f.name: typed.get(f.name) for f in TOLD}
    assert [(p.field, p.why, p.example) for p in problems(TOLD, (), of, of)] == wrong


def test_conditions_of_a_table_are_told_of_each_row():
    rows = table(
        "rows", [words("a", "a", required=False, needs=("b",)), words("b", "b", required=False)], "Rows", required=False
    )
    typed = {"rows": [{"a": "1", "b": "1"}, {"a": "1", "b": None}]}
    assert [p.field for p in problems((rows,), (), typed, typed)] == ["rows[2].b"]
    assert problems((rows,), (), {"rows": None}, {"rows": None}) == []
    assert as_schema((words("a", "a"),)) == {}
    assert [*as_schema(PQRS, (one_of("p", "q", required=False),))] == ["allOf"]


# ------------------------------------------------------------------------------ dates
@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("3.4.0100", "Type 0100-04-03 or 0100-03-04"),
        ("3.4.00", "Type 2000-04-03 or 2000-03-04"),
        ("28 Nove 2026", '"28 Nove 2026" is not a date; type year-month-day, such as 2026-11-25'),
    ],
)
def test_dates_that_are_asked_about(typed, says):
    with pytest.raises(Unreadable) as error:
        read_date(typed)
    assert str(error.value).endswith(says)
