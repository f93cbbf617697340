"""Typed units as print writes them; whatever else was typed stays as it is."""

import pytest

from shoplib.core.typed_text import with_signs
from shoplib.core.units import read_any


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("88 degC", "88 °C"), ("88degC", "88 °C"), ("68 degF", "68 °F"), ("104deg", "104°"), ("85–95 deg", "85–95°"),
        ("40 N*m; +90 deg; wait 10 min", "40 N·m; +90°; wait 10 min"), ("30 lbf*ft", "30 lbf·ft"), ("5 ft*lb.", "5 ft·lb."),
        ("400 mm2", "400 mm²"), ("1060 kg/m**3", "1060 kg/m³"), ("600 N/mm2", "600 N/mm²"), ("oil 80 degC, idle", "oil 80 °C, idle"),
    ],
)  # fmt: skip
def test_a_unit_after_a_number_is_written_with_its_signs(typed, printed):
    assert with_signs(typed) == printed == with_signs(printed)


@pytest.mark.parametrize("typed", ["40 N*m", "88 degC", "104 deg", "400 mm2", "600 N/mm2", "1060 kg/m3", "30 lbf*ft"])
def test_what_is_printed_can_be_typed(typed):
    assert read_any(with_signs(typed))[::2] == read_any(typed)[::2]


@pytest.mark.parametrize(
    "text",
    ["AB*CD", "12*14 mm", "#read *bold* $x$", "20 degrees", "1 kN/mm", "bolt m2", "deg", "part 2 N*mX", "4 cm3x"],
)
def test_anything_else_stays_as_typed(text):
    assert with_signs(text) == text
