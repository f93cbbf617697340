"""The input, the limits and the outcomes of a working, on a working made for the purpose."""

import json

import pytest

from shoplib.core.checks import UNSOURCED, Outcome, worst
from shoplib.core.errors import BadInput
from shoplib.core.fields import choice, date, integer, listing, number, quantity, sourced_limit, table, words, yes_no
from shoplib.core.formula import formula
from shoplib.core.input_schema import field_schema
from shoplib.core.inputs import Inputs
from shoplib.core.units import N_m, Unreadable, bar, kN, mm, pct, unit_of
from shoplib.core.working import Working
from shoplib.core.worksheet import Worksheet
from tests.asked import asked


def lever(F: kN, l: mm) -> N_m:
    """A force on a lever."""
    return F * l


def run(inputs: Inputs, worksheet: Worksheet) -> None:
    if inputs.force > 1e6:
        worksheet.refuse("force", "is more than this bench can hold")
    worksheet.raise_refusals()
    torque = worksheet.step("Torque", lever, F=inputs.force, l=inputs.length)
    worksheet.result("torque", torque, N_m, "Torque")
    worksheet.check("Torque", torque, "≤", inputs.most, N_m, inputs.most_source)


# kept out of the registry: the free tests walk only what ships
lever = formula(symbol="T", source="definition of a moment")(lever)
__import__("shoplib.core.formula").core.formula.REGISTRY.remove(lever)

BENCH = Working(
    name="bench",
    title="Force on a lever",
    question="what torque does a force on a lever give",
    inputs=asked(
        quantity("force", kN, "Force", example='"1 kN"', above=0.0),
        quantity("length", mm, "Length", default="100 mm", at_least=0.0),
        *sourced_limit("most", N_m, "Highest torque", example='"90 N*m"'),
        number("friction", "Friction", required=False, band=True),
        integer("teeth", "Teeth", required=False, at_least=1),
        choice("side", "Side", ("left", "right"), default="left"),
        yes_no("wet", "Wet", required=False),
        date("on", "Date", required=False),
        words("remark", "Remark", required=False),
        quantity("share", pct, "Share", required=False),
        listing(
            "readings", quantity("reading", mm, "Reading", example='"0.05 mm"'), "Readings", required=False, csv=True
        ),
        table(
            "points",
            [quantity("x", mm, "x"), quantity("z", mm, "z"), words("note", "note", required=False)],
            "Points",
            required=False,
            csv=True,
        ),
    ),
    run=run,
)


def problems(**typed):
    with pytest.raises(BadInput) as caught:
        BENCH(typed)
    return {p.field: str(p) for p in caught.value.problems}


def test_every_bad_field_is_named_at_once_with_what_to_type():
    found = problems(
        length="3", most="30 mm", teeth="1.5", side="up", readings="1 mm; two; -", colour="red", share="nan %"
    )
    assert set(found) == {"force", "length", "most", "teeth", "side", "readings[2]", "readings[3]", "colour", "share"}
    assert found["force"] == 'force: is missing; type for example "1 kN"'
    assert "no unit" in found["length"] and "is a length; enter a torque" in found["most"]
    assert "force, length" in found["colour"] and '"0.05 mm"' in found["readings[2]"]


def test_a_choice_takes_blanks_around_it_as_a_list_between_semicolons_has_them():
    assert BENCH(force="1 kN", side=" right ").inputs.side == "right"


@pytest.mark.parametrize("typed", ["0 kN", "-1 kN", "2000 kN"])
def test_physical_range_and_refusal_name_the_field(typed):
    assert set(problems(force=typed)) == {"force"}


@pytest.mark.parametrize(
    ("most", "source", "outcome", "remark"),
    [
        ("100 N*m", "bench notes, page 3", "pass", ""),
        ("99 N*m", "bench notes, page 3", "fail", ""),
        ("99 N*m", None, "fail", "source missing"),
        ("100 N*m", None, "no limit given", UNSOURCED),
        (None, "bench notes, page 3", "no limit given", "no limit was given"),
    ],
)
def test_a_limit_without_a_source_can_fail_but_never_pass(most, source, outcome, remark):
    check = BENCH(force="1 kN", most=most, most_source=source).checks[0]
    assert (check.outcome, check.remark) == (outcome, remark)


def test_missing_is_not_zero():
    sheet = Worksheet(BENCH, Inputs({}, {}))
    assert sheet.check("gap", None, "≤", 1e-4, mm, "notes") is Outcome.UNDECIDED


def test_outcomes_together():
    assert worst([Outcome.PASS, Outcome.NO_LIMIT, Outcome.UNDECIDED, Outcome.FAIL]) is Outcome.FAIL
    assert worst([Outcome.PASS, Outcome.NO_LIMIT, Outcome.UNDECIDED]) is Outcome.UNDECIDED
    assert worst([Outcome.PASS, Outcome.NO_LIMIT]) is Outcome.NO_LIMIT
    assert worst([]) is None


def test_json_has_the_public_shape():
    shown = json.loads(
        json.dumps(BENCH(force="1 kN", friction="0.10–0.16", readings='["1 mm", "0,5 mm"]').to_json(), allow_nan=False)
    )
    assert list(shown) == [
        "working", "version", "calculation", "inputs", "results", "checks", "outcome", "steps", "assumptions", "cautions",
    ]  # fmt: skip
    assert shown["inputs"]["force"] == {"as_entered": "1 kN", "value": 1.0, "unit": "kN"}
    assert shown["inputs"]["readings"]["value"] == [1.0, 0.5]
    assert shown["inputs"]["friction"]["low"] == 0.1
    assert shown["results"]["torque"] == {"value": 100.0, "unit": "N*m"}
    assert shown["outcome"] == "no limit given"
    assert shown["steps"][0]["lines"][0]["text"] == "T = F·l = 1 kN·100 mm = 100 N·m"


def test_a_table_from_json_records_and_csv_is_the_same(tmp_path):
    rows = [{"x": "0 mm", "z": "10 um"}, {"x": "5 mm", "z": "0,02 mm"}]
    (tmp_path / "points.csv").write_text("x_mm;z_um\n0;10\n5;20\n", encoding="utf-8")
    by_json = BENCH(force="1 kN", points=json.dumps(rows))
    by_rows = BENCH(force="1 kN", points=rows)
    by_csv = BENCH({"force": "1 kN", "points": "points.csv"}, folder=tmp_path)
    assert by_json.inputs.points == by_rows.inputs.points
    for a, b in zip(by_json.inputs.points, by_csv.inputs.points, strict=True):
        assert a["z"] == pytest.approx(b["z"], rel=1e-15) and a["note"] is None


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("x_mm;q\n1;2\n", "column"),
        ("x_mm;z_mm\n1\n", "line 2"),
        ("x_mm;z_mm\n", "no rows"),
        ("x_mm;z_mm\n1;nan\n", "points[1].z"),
    ],
)
def test_a_bad_csv_is_named(tmp_path, content, says):
    (tmp_path / "p.csv").write_text(content, encoding="utf-8")
    with pytest.raises(BadInput, match=r"points") as caught:
        BENCH({"force": "1 kN", "points": "p.csv"}, folder=tmp_path)
    assert says in str(caught.value)


@pytest.mark.parametrize("typed", ['[{"x": "0 mm"', "[" * 100_000, "7", "[]", [1, 2], [{"x": "1 mm", "y": "2"}]])
def test_bad_tables_are_named_not_crashed(typed):
    assert all(field.startswith("points") for field in problems(force="1 kN", points=typed))


def test_schema_names_inputs_and_what_is_required():
    schema = BENCH.schema()
    assert schema["required"] == ["force"]
    assert schema["properties"]["points"]["items"]["required"] == ["x", "z"]


def test_text_is_only_text():
    assert BENCH(force="1 kN", remark='=1+1 #read("x") <b>').inputs.remark == '=1+1 #read("x") <b>'
    assert "too long" in problems(force="1 kN", remark="x" * 10_000)["remark"]
    assert "too long" in problems(force="1" * 10_000)["force"]


def test_as_text_shows_every_number_with_its_unit():
    text = BENCH(force="0,5 kN", most="45 N·m", most_source="bench notes").as_text()
    assert "Force: 0,5 kN\n" in text
    assert "Torque: 50 N·m, must be at most 45 N·m [bench notes] → fail" in text
    assert unit_of(N_m).text in text


# ------------------------------------------------------------------------------ a reading that is missing
def readings(item):
    def run(inputs, worksheet):
        worksheet.result("pressures", inputs.readings, bar, "Pressures")
        worksheet.result("left", [], None, "Left")

    return Working(name="r", title="r", question="r", inputs=asked(listing("readings", item, "Readings")), run=run)


@pytest.mark.parametrize(
    "typed", ["12.4 bar; not measured; 9.1 bar", "12.4 bar;;9.1 bar", ["12.4 bar", None, "9.1 bar"]]
)
def test_a_missing_reading_is_neither_zero_nor_closed_up(typed):
    result = readings(quantity("reading", bar, "Reading", may_be_missing=True))(readings=typed)
    assert result["pressures"] == [pytest.approx(12.4e5), None, pytest.approx(9.1e5)]
    assert result.to_json()["results"]["pressures"]["value"][1] is None
    assert result.to_json()["inputs"]["readings"]["value"][1] is None
    assert "not measured" in result.inputs.shown("readings")
    assert result.values["left"].shown == "none"


def test_a_gap_is_refused_where_nothing_may_be_missing():
    with pytest.raises(BadInput, match=r"readings\[2\]"):
        readings(quantity("reading", bar, "Reading"))(readings="12.4 bar;;9.1 bar")


def test_a_row_of_readings_alone_is_taken_for_the_one_list_column():
    columns = [words("piston", "Piston", required=False), listing("readings", quantity("r", bar, "r"), "Readings")]

    def run(inputs, worksheet):
        worksheet.result("n", [len(row["readings"]) for row in inputs.rows], None, "How many")

    working = Working(name="r", title="r", question="r", inputs=asked(table("rows", columns, "Rows")), run=run)
    assert working(rows='[["1 bar", "2 bar"], {"piston": "2", "readings": "3 bar"}]')["n"] == [2, 1]
    with pytest.raises(BadInput, match=r"rows\[1\]\.readings\[2\]"):
        working(rows=[["1 bar", "x"]])


@pytest.mark.parametrize(
    ("typed", "shown"),
    [("135.725 mm", "135.725 mm"), ("5.343505 in", "5.343505 in (135.7250 mm)"), ("0,08 mm", "0,08 mm"),
     ("136 mm", "136 mm")],
)  # fmt: skip
def test_the_echo_is_what_was_typed_and_converted_only_where_that_says_more(typed, shown):
    assert BENCH(force="1 kN", length=typed).inputs.shown("length") == shown


def test_a_check_shows_the_digits_that_tell_its_values_apart():
    sheet = Worksheet(BENCH, Inputs({}, {}))
    sheet.check("height", 0.13557, "≥", 0.13550, mm, "notes", digits=6)
    assert sheet.checks[0].as_line() == "height: 135.57 mm, must be at least 135.5 mm [notes] → pass"


def test_words_may_stand_in_place_of_a_value_and_stacks_are_kept_as_typed(tmp_path):
    leaf = quantity("leaf", mm, "Leaf", terms=True, states=("still loose",), required=False)

    def run(inputs, worksheet):
        worksheet.result("words", [r["leaf"] for r in inputs.rows if isinstance(r["leaf"], str)], None, "Words")
        worksheet.result(
            "leaves", [r["leaf"].value for r in inputs.rows if not isinstance(r["leaf"], str)], mm, "Leaves"
        )

    working = Working(name="r", title="r", question="r", inputs=asked(table("rows", [leaf], "Rows", csv=True)), run=run)
    result = working(rows=[{"leaf": "0.05 + 0.03 mm"}, {"leaf": "Still loose"}])
    assert (result["words"], result["leaves"]) == (["still loose"], [pytest.approx(8e-5)])
    rows = result.to_json()["inputs"]["rows"]["value"]
    assert [r["leaf"]["value"] for r in rows] == [pytest.approx(0.08), "still loose"]
    with pytest.raises(BadInput, match=r"rows\[1\]\.leaf"):
        working(rows=[{"leaf": "loose"}])
    (tmp_path / "leaves.csv").write_text("leaf_mm\n0.05+0.03\nstill loose\n", encoding="utf-8")
    assert working({"rows": "leaves.csv"}, folder=tmp_path)["leaves"] == [pytest.approx(8e-5)]


def test_a_choice_is_shown_by_its_label_and_read_from_it():
    rule = choice("rule", "Rule", ("mean_then_max", "max"))
    assert rule.spoken("mean_then_max") == "mean then max"
    assert rule.read("mean then max") == rule.read("mean_then_max") == "mean_then_max"
    with pytest.raises(Unreadable, match="mean then max; max"):
        rule.read("mean")
    called = choice("rule", "Rule", {"mean_then_max": "highest average of a piston", "max": "highest reading"})
    assert called.spoken("mean_then_max") == "highest average of a piston"
    for typed in ("mean_then_max", "mean then max", "highest average of a piston"):
        assert called.read(typed) == "mean_then_max"
    with pytest.raises(Unreadable, match="highest average of a piston; highest reading"):
        called.read("highest")
    assert field_schema(called)["enum"] == ["mean_then_max", "max"], "a program uses the stored words"
    assert words("note", "Note").spoken("a_b") == "a_b", "what a person wrote stays"
