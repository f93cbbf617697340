"""Tables of a result as DataFrames, for people who program."""

import math

import pandas
import pytest

from shoplib.topics import get


def test_a_table_of_records_is_a_frame_with_units_in_its_headings():
    result = get("coolant_fill")(
        capacity="9 L", drained="6.0 L", residual_concentration="20 %", target="50 %", product_concentration="100 %"
    )
    frame = result.table("plan")
    rows = result.to_json()["results"]["plan"]["value"]
    assert len(frame) == len(rows) and len(rows) > 0
    for name in ("product", "water"):
        assert [r[name]["unit"] for r in rows] == ["L"] * len(rows)
        for shown, row in zip(frame[f"{name}, L"], rows, strict=True):
            assert math.isclose(shown, row[name]["value"], rel_tol=1e-12)
    assert pandas.api.types.is_numeric_dtype(frame["water, L"])


def test_a_single_value_is_no_table_and_an_unknown_name_is_an_error():
    result = get("angle_travel")(angle="90 deg", pitch="1.5 mm")
    with pytest.raises(TypeError, match="travel is a single value"):
        result.table("travel")
    with pytest.raises(KeyError):
        result.table("no such result")
