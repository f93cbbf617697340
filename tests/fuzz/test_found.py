"""What the fuzzer found, each as it was typed then."""

import json
from pathlib import Path

import pytest

from shoplib.core.errors import BadInput
from shoplib.record.errors import NotAJob
from shoplib.record.store import Store
from shoplib.topics import get
from tests.fuzz.properties import command, same_by_command, speakable

EXPORT = Path(__file__).parents[2] / "data" / "demo" / "whole_job.json"
STRIPPING = {
    "thread": "M10x1.25",
    "engagement": "20 mm",
    "bolt_tensile": "1040 MPa",
    "internal_shear_strength": "190 MPa",
}


def refused(name, **typed):
    with pytest.raises(BadInput) as caught:
        get(name)(typed)
    speakable(str(caught.value))
    return caught.value.problems


def test_a_whole_number_of_thousands_of_digits_is_refused():
    for name, field in (("thread", "thread"), ("compression_test", "minimum"), ("timing_mark", "teeth")):
        assert field in {p.field for p in refused(name, **{field: 10**5000})}


def test_a_message_repeats_no_control_character_and_no_half_of_a_pair():
    refused("thread", **{"\x1b[31m\ud800": "1"})
    refused("timing_gap", gap="0.5 mm", lever_length="100 mm", shaft="\x07\ud800\u202e")


def test_text_with_hidden_characters_is_refused_where_it_stands():
    for hidden in ("\ud800", "\x00", "\u202e", "\ufeff"):
        typed = {"what": f"cam{hidden}bore", "where": "bearing 2", "value": "0.04 mm"}
        assert [p.field for p in refused("measurement", **typed)] == ["what"]


def test_a_division_by_zero_among_numpy_numbers_is_refused():
    assert refused("thread_stripping", **STRIPPING, shear_ratio="1e-15")


def test_the_command_line_repeats_no_control_character():
    same_by_command(get("thread"), {"thread": "M10", "--x\x99": "1"})
    for arguments in (["work", "thread", "\x1b[31m"], ["work", "thread", "a\x1b=1", "a\x1b=1"], ["\x1b[31m"]):
        code, _, told = command(arguments)
        assert code == 2
        speakable(told)


@pytest.mark.parametrize(
    ("name", "field"), [("peak_torque", "resolution"), ("measurement", "instrument"), ("gasket_grade", "rule")]
)
def test_a_field_without_an_example_says_what_to_type(name, field):
    assert next(p for p in refused(name, **{field: True}) if p.field == field).example


def test_what_to_type_in_a_column_is_said_by_the_column():
    row = {"name": "1", "low": "0.55 mm", "high": "0.65 mm"}
    problems = refused("gasket_grade", grades=[row, row], projections=[["0.62 mm"]], rule="mean_then_max")
    assert all(p.example for p in problems if p.field.endswith(".name"))
    assert any(p.field.endswith(".name") for p in problems)


def test_a_name_inside_an_exported_job_is_repeated_without_control_characters(tmp_path):
    whole = json.loads(EXPORT.read_text("utf-8"))
    whole["lines"][1]["body"]["result"]["results"] = {"@\x85\x1b[31m\u202e": 1}
    with Store.open(tmp_path / "jobs.db") as store, pytest.raises(NotAJob) as caught:
        store.import_job(json.dumps(whole).encode())
    assert "results.@" in str(caught.value)
    speakable(str(caught.value))


@pytest.mark.parametrize("number", [float("inf"), float("-inf"), float("nan")])
def test_a_number_that_is_none_is_refused_also_where_text_is_asked_for(number):
    problems = refused("flatness_grid", limit_source=number, limit=number)
    assert {"limit_source", "limit"} <= {p.field for p in problems}
