"""A value is shown with the digits that its readings and its uncertainty support, and never contradicts its verdict."""

import math
import random

import pytest

from shoplib.core import rounding
from shoplib.core.checks import Uncertainty
from shoplib.core.fields import listing, quantity
from shoplib.core.inputs import Inputs
from shoplib.core.shown_digits import spread_of, uncertain_place
from shoplib.core.units import bar, mm, pct, read, show_to_place, unit_of
from shoplib.core.working import Working
from shoplib.topics import find


class Typed(Inputs):
    height = quantity("height", mm, "Height", required=False)
    pressures = listing("pressures", quantity("pressure", bar, "Pressure"), "Pressures", required=False)


def shown(value, unit, digits=4, **typed):
    def run(inputs, worksheet):
        worksheet.result("it", value, unit, "It", digits)

    return Working("shown", "Shown", "how many digits", Typed, run)(typed).values["it"].shown


@pytest.mark.parametrize(
    ("value", "unit", "typed", "expected"),
    [
        (0.0001, mm, {"height": "0.10 mm"}, "0.10 mm"),  # as typed
        (0.1, mm, {"height": "100 mm"}, "100 mm"),
        (0.0508, mm, {"height": "2 in"}, "50.8 mm"),  # typed in another unit
        (3.3e5, bar, {"pressures": "12.4 bar; 9.1 bar"}, "3.3 bar"),  # a difference of readings
        (3e5, bar, {"pressures": "12 bar; 9 bar"}, "3 bar"),
        (0.13557, mm, {"height": "135.72 mm"}, "135.57 mm"),  # more digits than declared, where the reading has them
        (0.000655, mm, {"height": "0.66 mm"}, "0.655 mm"),  # a mean that ends one place further
        (0.0000624, mm, {"height": "0.05 mm"}, "0.062 mm"),  # two digits at least
        (0.73387, pct, {"pressures": "12.4 bar; 9.1 bar"}, "73.4 %"),
        (0.9796, pct, {"pressures": "12.4 bar"}, "98.0 %"),
        (0.98, pct, {"pressures": "12.4 bar"}, "98 %"),
        (0.215, mm, {"height": "0.02 mm"}, "215 mm"),  # a reading far smaller than the value says nothing
        ([40e5, 81.06e5], bar, {"height": "12 mm"}, "40.0 bar; 81.1 bar"),
        (None, mm, {"height": "12 mm"}, "not known"),
        (0.0, mm, {"height": "12.00 mm"}, "0 mm"),
        (0.0123456, mm, {}, "12.35 mm"),  # nothing typed: as declared
    ],
)  # fmt: skip
def test_digits_follow_what_was_typed(value, unit, typed, expected):
    assert shown(value, unit, **typed) == expected


@pytest.mark.parametrize(
    ("half_width", "expected"),
    [(0.36, "0.4"), (0.354, "0.35"), (0.41, "0.4"), (1.0, "1"), (0.0050, "0.005"), (0.14, "0.14"), (0.97, "1"),
     (2.2, "2.2"), (35.6, "40"), (0.0124, "0.012")],
)  # fmt: skip
def test_an_uncertainty_has_one_or_two_digits(half_width, expected):
    """JCGM 100:2008, 7.2.6; the change at 354 of the Review of Particle Physics, from memory."""
    assert spread_of(half_width * 1e5, unit_of(bar)).shown == f"{expected} bar"
    rounded = rounding.round_to_place(half_width, uncertain_place(half_width))
    assert abs(float(rounded) - half_width) <= 0.13 * half_width


def test_a_result_and_its_check_show_the_same_digits():
    result = find("compression_test")(
        readings="24.1 bar; 17.2 bar; 24.0 bar",
        layout="1 2 3",
        rule="lowest/highest",
        limit="75 %",
        limit_source="page 8",
    )
    (check, *_) = result.checks
    assert check.spread == "±0.4 %"
    assert check.told == ("71.4 %", "must be at least 75 %")
    (ratio,) = [v for v in result.values.values() if v.label == check.label]
    assert ratio.shown == "71.4 %"
    assert ratio.to_json()["value"] == pytest.approx(100 * 17.2 / 24.1, rel=1e-12)


def test_a_typed_limit_keeps_its_digits():
    result = find("skim_allowance")(
        heights="135.72 mm; 135.74 mm; 135.73 mm; 135.72 mm", cut="0.15 mm", minimum_height="135.50 mm",
        minimum_height_source="page 8",
    )  # fmt: skip
    assert any("must be at least 135.50 mm" in c.sentence for c in result.checks)


def number(text):
    text = text.replace("×10⁻", "e-").translate(str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹", "0123456789"))
    return read(text, unit_of(mm)).value


def test_rounding_never_contradicts_the_verdict():
    """Of random values close to random limits, the shown ones lie on the same side, also with their uncertainty."""
    random.seed(7)
    contradictions = 0
    for _ in range(600):
        limit = random.choice(("0.1", "0.10", "80", "0.08", "12.5"))
        bound = number(f"{limit} mm")
        found = bound * (1 + random.choice((-1, 1)) * 10 ** random.uniform(-6, -1))
        half = random.choice((None, bound * 10 ** random.uniform(-5, -1)))
        sign = random.choice("≤≥")

        def run(inputs, worksheet, found=found, half=half, sign=sign):
            spread = None if half is None else Uncertainty(half)
            worksheet.check("it", found, sign, inputs.height, mm, "page 8", uncertainty=spread)

        (check,) = Working("near", "Near", "on which side", Typed, run)({"height": f"{limit} mm"}).checks
        told = [number(t) for t in check.shown]
        assert told[1] == bound
        contradictions += rounding.compare(told[0], told[1]) != rounding.compare(found, bound)
        if half is not None:
            shown_half = number(check.spread.lstrip("±"))
            for way in (-1, 1):
                as_told, as_is = told[0] + way * shown_half, found + way * half
                contradictions += rounding.compare(as_told, told[1]) != rounding.compare(as_is, bound)
    assert contradictions == 0


def test_a_number_without_bounds_or_beyond_the_digits_of_a_computer_is_shown():
    assert show_to_place(math.inf, unit_of(mm), -2) == "unbounded mm"
    assert show_to_place(1e20, unit_of(mm), -30, -2).startswith("1")


def test_a_check_shows_a_setting_as_the_result_does():
    result = find("wrench_setting")(
        torque="40 N*m", wrench_length="375 mm", adapter_length="60 mm", wrench_min="10 N*m", wrench_max="100 N*m",
        wrench_range_source="plate",
    )  # fmt: skip
    assert result.values["setting"].shown == "34.5 N·m"
    assert any(c.told == ("34.5 N·m", "must be at most 100 N·m") for c in result.checks)
