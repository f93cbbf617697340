"""The rules of a working and its result, each by itself."""

import importlib
import math

import numpy as np
import pytest

from shoplib.core import working as module
from shoplib.core.checks import Outcome, Value
from shoplib.core.errors import BadInput
from shoplib.core.fields import quantity, table, words
from shoplib.core.inputs import Inputs
from shoplib.core.units import mm, unit_of
from shoplib.core.working import MOST_CAUTIONS, PICTURE_SIZE, Picture, Renamed, Working, in_labels, pictures_beside
from tests.asked import asked

MM = unit_of(mm)
NOTE = words("a_note", "Note", required=False)
LOW, HIGH = (quantity(f"gap_{end}", mm, f"Gap, {end}", required=False) for end in ("low", "high"))


def working(*fields, run=lambda inputs, worksheet: None, **more):
    return Working("w", "Title", "what it is", asked(*fields), run, **more)


# ------------------------------------------------------------------------------ labels in place of names
ROWS = table("rows", [quantity("at_x", mm, "Place")], "Rows", required=False)


@pytest.mark.parametrize(
    ("said", "typed", "told"),
    [
        ("gap_low and other_name", None, "“Gap, low” and other_name"), ("nothing here", None, "nothing here"), ("rows", None, "rows"),
        ("at_x or gap_high", None, "“Place” or “Gap, high”"), ("gap_low", {"a_note": "a GAP_LOW", "x": "1"}, "gap_low"), ("gap_low", {"a_note": "b", "x": "1"}, "“Gap, low”"),
        ("gap_low", ["x", "gap_low"], "gap_low"), ("gap_low", [{"x": ("y", "my gap_low")}, "z"], "gap_low"), ("gap_low", {"gap_low": "1 mm"}, "“Gap, low”"),
    ],
)  # fmt: skip
def test_an_input_is_called_by_its_label_where_nobody_typed_its_name(said, typed, told):
    assert in_labels(said, (LOW, HIGH, ROWS), typed) == told


# ------------------------------------------------------------------------------ results
def writes(inputs, worksheet):
    worksheet.result("single", 1e-3, mm)
    worksheet.result("many", [1e-3, None], mm)
    worksheet.result("said", ["a", "b"], None)
    worksheet.result("rows", [{"name": Value("n", None, "Name"), "x": Value(2e-3, MM, "x")}], None)
    for statement in ("own 1", "always 1", "own 2"):
        worksheet.caution(statement)
    worksheet.assume("so.")
    if inputs.gap_low is not None:
        worksheet.check("Gap", inputs.gap_low, "≤", 1e-3, mm, "p. 1")


def test_a_table_as_a_frame():
    result = working(LOW, run=writes)()
    frame = result.table("rows")
    assert (list(frame.columns), frame.values.tolist()) == (["name", "x, mm"], [["n", 2.0]])
    assert list(result.table("many").columns) == ["many, mm"]
    assert result.table("many")["many, mm"][0] == 1.0
    assert (list(result.table("said").columns), list(result.table("said")["said"])) == (["said"], ["a", "b"])
    with pytest.raises(TypeError, match="single is a single value"):
        result.table("single")


def test_cautions_of_these_inputs_come_first_and_five_are_shown():
    always = tuple(f"always {k}" for k in range(4))
    result = working(LOW, run=writes, cautions=always)()
    assert result.foremost == ["own 1", "own 2", "always 0", "always 1", "always 2"] == result.labelled_cautions
    assert len(result.foremost) == MOST_CAUTIONS
    text = result.as_text().splitlines()
    assert text[:2] == ["Title", "====="]
    assert text[-6:] == ["Assumed: so.", *(f"Caution: {c}" for c in result.foremost)]
    assert result.as_text(cautions=False).splitlines() == text[:-5]


def test_what_was_typed_stands_in_the_text():
    typed = working(LOW, HIGH, run=writes)(gap_low="1 mm")
    assert "Gap, low: 1 mm\n\nsingle: " in typed.as_text()
    assert "Gap, high" not in typed.as_text()
    assert "Outcome: pass" in typed.as_text()
    assert (typed.outcome, typed.to_json()["outcome"]) == (Outcome.PASS, "pass")
    assert working(LOW, run=writes)().to_json()["outcome"] is None


@pytest.mark.parametrize(("forecasts", "said"), [(None, False), (lambda inputs: True, True), (lambda inputs: False, False)])  # fmt: skip
def test_whether_a_result_is_a_forecast(forecasts, said):
    assert working(LOW, forecasts=forecasts)().is_forecast is said


@pytest.mark.parametrize(
    ("value", "finite"),
    [
        (1.0, True), (math.inf, False), (math.nan, False), (np.float64(math.inf), False), (np.float64(1), True), ("words", True), (None, True), (3, True), (True, True),
        ([1.0, math.inf], False), ([1.0, 2.0], True), ((math.nan,), False), ([{"x": Value(math.inf, MM, "x"), "y": Value("z", None, "y")}], False),
        ([{"x": Value(1.0, MM, "x")}], True), ({"a": 1.0, "b": math.inf}, False),
    ],
)  # fmt: skip
def test_a_value_without_end_is_refused(value, finite):
    def run(inputs, worksheet):
        worksheet.result("other", 1.0, mm)
        worksheet.result("it", value, None, all_digits=True)

    made = working(NOTE, HIGH, LOW, run=run)
    if finite:
        assert made(a_note="n").values["it"].value == value or value is None
        return
    for typed, field in (({"a_note": "n", "gap_low": "1 mm"}, "gap_low"), ({"gap_high": "2 mm"}, "gap_high"), ({}, "a_note"), ({"a_note": "n"}, "a_note")):  # fmt: skip
        with pytest.raises(BadInput, match="gives no finite result") as error:
            made(typed)
        assert [p.field for p in error.value.problems] == [field]


@pytest.mark.parametrize("fails", [lambda: 1 / 0, lambda: math.exp(1e4), lambda: np.float64(1) / np.float64(0), lambda: np.array([1e308]) * 10])  # fmt: skip
def test_a_run_that_divides_by_zero_or_overflows_is_refused_by_name(fails):
    def run(inputs, worksheet):
        if inputs.a_note:
            worksheet.refuse("a_note", "is wrong")
        fails()

    with pytest.raises(BadInput, match="gives no finite result"):
        working(NOTE, run=run)()
    with pytest.raises(BadInput, match="a_note: is wrong"):
        working(NOTE, run=run)(a_note="n")


def test_another_error_comes_out_where_nothing_was_refused():
    def run(inputs, worksheet):
        if inputs.a_note:
            worksheet.refuse("a_note", "is wrong")
        raise KeyError("oil")

    with pytest.raises(KeyError, match="oil"):
        working(NOTE, run=run)()
    with pytest.raises(BadInput, match="is wrong"):
        working(NOTE, run=run)(a_note="n")


# ------------------------------------------------------------------------------ inputs of earlier versions
RENAMED = {"old": Renamed("gap_low"), "sign": Renamed("a_note", {"<": "below"})}


@pytest.mark.parametrize(
    ("typed", "now"),
    [
        ({"gap_low": "1"}, {"gap_low": "1"}), ({}, {}), ({"old": "1"}, {"gap_low": "1"}), ({"old": " ", "gap_low": "2"}, {"gap_low": "2"}),
        ({"old": None}, {}), ({"old": "1", "gap_low": ""}, {"gap_low": "1"}), ({"old": "1", "gap_high": "3"}, {"gap_high": "3", "gap_low": "1"}),
        ({"sign": " < "}, {"a_note": "below"}), ({"sign": "other"}, {"a_note": "other"}), ({"old": "1", "sign": "<"}, {"gap_low": "1", "a_note": "below"}),
    ],
)  # fmt: skip
def test_inputs_under_their_earlier_names(typed, now):
    found = working(LOW, HIGH, NOTE, renamed=RENAMED).current(typed)
    assert found == now
    assert found is not typed


def test_an_input_under_both_names_is_refused():
    with pytest.raises(BadInput, match="old: is the old name of gap_low; give one of the two"):
        working(LOW, renamed=RENAMED).current({"old": "1", "gap_low": "2"})


# ------------------------------------------------------------------------------ pictures
def test_a_picture_of_a_working_outside_the_topics():
    bare = working(LOW)
    assert (bare.picture, bare.draw, bare.alt, bare.figure_size) == (None, None, None, PICTURE_SIZE)
    assert not bare.pictures(bare())
    for alt, is_there in ((None, True), (lambda result: "a gap", True), (lambda result: "", False)):
        drawn = working(LOW, drawn=Picture(draw=print, alt=alt, size=(1.0, 2.0)))
        assert (drawn.draw, drawn.alt, drawn.figure_size) == (print, alt, (1.0, 2.0))
        assert drawn.pictures(drawn()) is is_there
    assert working(LOW).asked == "What it is?"


def test_pictures_stand_beside_the_topics(monkeypatch):
    find = pictures_beside.__wrapped__
    assert find("shoplib.core.working") == {}

    def missing(name):
        raise ModuleNotFoundError(name=missing_name)

    monkeypatch.setattr(module.importlib, "import_module", missing)
    missing_name = "shoplib.topics.new.pictures"
    assert find("shoplib.topics.new.some") == {}
    missing_name = "a_library"
    with pytest.raises(ModuleNotFoundError):
        find("shoplib.topics.new.some")
    monkeypatch.undo()
    assert find("shoplib.topics.torque.x") is importlib.import_module("shoplib.topics.torque.pictures").PICTURES


def test_a_class_of_inputs_declares_each_under_its_own_name():
    for attribute, name in (("given", "given"), ("other", "gap_low"), ("folder", "folder"), ("folder_", "folder")):
        with pytest.raises(TypeError, match="declares an input called"):
            type("Wrong", (Inputs,), {attribute: quantity(name, mm, "x")})
    assert asked(LOW).declared == (LOW,)
    assert type("Right", (Inputs,), {"given_": quantity("given", mm, "x")}).declared[0].name == "given"
