"""What a field reads by itself: numbers, orders, dates, and texts with a grammar of their own."""

import pytest

from shoplib.core.dates import read_date
from shoplib.core.errors import BadInput
from shoplib.core.units import Unreadable
from shoplib.desk.widgets.form import Form
from shoplib.topics import get

ORDERS = ["2 5 1 4 3 6", "2-5-1-4-3-6", "2, 5, 1, 4, 3, 6", "2,5,1,4,3,6", "2; 5; 1; 4; 3; 6"]
PLACES = [{"name": str(n), "x": f"{90 * (n % 3)} mm", "y": f"{80 * (n // 3)} mm"} for n in range(1, 7)]


def problems(name, **typed):
    """Field → what the message says, of the fields that were typed."""
    try:
        get(name)(typed)
    except BadInput as error:
        return {p.field: p.told for p in error.problems if p.field.partition("[")[0] in typed}
    return {}


@pytest.mark.parametrize(
    ("working", "typed", "bad"),
    [
        ("tightening_plan", {"stages": "40 N*m; rubbish"}, "stages[2]"),
        ("tightening_plan", {"stages": "40; +90 deg"}, "stages[1]"),
        ("staged_tightening", {"thread": "M10y"}, "thread"),
        ("staged_tightening", {"stages": "-90 deg"}, "stages[1]"),
        ("thread_stripping", {"insert_thread": "M14x9"}, "insert_thread"),
        ("stage_reading", {"stage": "90"}, "stage"),
        ("unit_pair", {"first": "40"}, "first"),
        ("engine_card", {"stages": "40"}, "stages[1]"),
        ("measurement", {"low": "0.02"}, "low"),
        ("preload_from_torque", {"torque": "40"}, "torque"),
    ],
)
def test_a_typed_value_is_judged_while_other_boxes_are_empty(working, typed, bad):
    assert list(problems(working, **typed)) == [bad]


def test_the_message_is_beside_the_box_of_a_form_that_is_not_complete():
    form = Form("tightening_plan")
    form.fill({"stages": "40; +90 deg"})
    assert "entry 1: &#34;40&#34; has no unit" in form.entries["stages"].error.value
    form.fill({"stages": "40 N*m; +90 deg"})
    assert form.entries["stages"].error.value == ""


@pytest.mark.parametrize("typed", ORDERS)
def test_an_order_as_people_type_it(typed):
    result = get("tightening_order")({"positions": PLACES, "order": typed, "order_source": "sheet 4"})
    assert result.to_json()["results"]["order"]["value"] == [*"251436"]


@pytest.mark.parametrize("typed", ["9.2:1", "9,2:1", "9.2 : 1", "9.2"])
def test_a_ratio_as_people_type_it(typed):
    assert get("compression_ratio").field("ratio").read(typed) == 9.2


@pytest.mark.parametrize("typed", ["2026-11-28", "28 November 2026", "28 Nov 2026", "28. nov 2026", "28 NOV. 2026"])
def test_a_date_that_means_one_day(typed):
    assert read_date(typed) == "2026-11-28"


@pytest.mark.parametrize(
    ("typed", "asked"),
    [
        ("28/11/26", "Which date is it: 28 November 2026? Type 2026-11-28"),
        ("11/12/26", "11 December 2026 or 12 November 2026? Type 2026-12-11 or 2026-11-12"),
        ("31 Nov 2026", "is not a date"),
        ("28 Mai 2026", "is not a date"),
        ("28 Nov 26", "is not a date"),
    ],
)
def test_a_date_that_is_asked_back(typed, asked):
    with pytest.raises(Unreadable) as error:
        read_date(typed)
    assert asked in str(error.value)


def test_a_message_proposes_once_what_to_type():
    """Where the message says itself what to type, the general example is left out."""
    with pytest.raises(BadInput) as error:
        get("wrench_setting")(torque="40", date_used="28/11/26")
    told = {x.field: x.told for x in error.value.problems}
    assert told["torque"].startswith('"40" has no unit; type for example ')
    assert told["date_used"] == "Which date is it: 28 November 2026? Type 2026-11-28"


def test_the_unit_of_a_column_is_asked_once():
    """Its heading names the unit; a bare number below it is read in that unit, and another unit is converted."""
    form = Form("tightening_order")
    grid = form.entries["positions"].box
    assert "x, mm" in grid.heads
    cells = {"name": "1", "x": "90", "y": "2 in"}
    grid.value = [[cells.get(c.name, "") for c in grid.columns]]
    assert grid.records() == [{"name": "1", "x": "90 mm", "y": "2 in"}]


@pytest.mark.parametrize(
    ("working", "typed", "said"),
    [
        ("skim_allowance", {"measured_height": "-3 mm", "cut": "0 mm"}, "-3 mm is out of range; it must be above 0 mm"),
        ("cam_retard", {"head_skim": "0.2 mm", "sprocket_diameter": "120 mm", "run_angle": "85.0 deg"}, "85.0° is "
         "out of range; it must be at most 80°"),
    ],
)  # fmt: skip
def test_a_refusal_repeats_the_value_as_typed_and_the_limit_as_declared(working, typed, said):
    assert any(told.startswith(said) for told in problems(working, **typed).values())
