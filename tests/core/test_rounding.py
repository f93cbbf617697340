"""Equality, noise and printed digits at their limits, one number at a time."""

import math
from decimal import Decimal

import pytest

from shoplib.core.rounding import (
    MOST_DIGITS,
    NOISE,
    SAME,
    at_most,
    below,
    compare,
    decimals,
    digits_to_tell,
    half_digit,
    round_half_up,
    same,
    total,
    without_further_zeros,
    without_noise,
    without_zeros,
)


def test_the_limits_are_those_that_the_docstrings_state():
    assert (SAME, NOISE, MOST_DIGITS) == (1e-9, 1e-12, 12)


@pytest.mark.parametrize("size", [1e-6, 1.0, -1.0, 3e5])
def test_one_part_in_a_thousand_million_of_the_larger_one_is_the_same(size):
    near, far = size * (1 + 0.99e-9), size * (1 + 1.01e-9)
    assert compare(size, near) == compare(near, size) == 0
    assert compare(size, far) == (-1 if size > 0 else 1) == -compare(far, size)
    assert same(size, near) and not same(size, far)
    low, high = sorted((size, far))
    assert at_most(low, high) and not at_most(high, low) and at_most(size, near) and at_most(near, size)
    assert below(low, high) and not below(high, low) and not below(size, near) and not below(near, size)


def test_the_larger_one_counts_and_not_the_smaller_one():
    assert compare(0.0, 1e-30) == -1  # nothing is near to zero without a scale
    assert compare(-1e-30, 0.0) == -1


def test_terms_of_a_difference_give_its_scale():
    assert compare(0.0, 0.99e-10, scale=100.0) == 0
    assert compare(0.0, 1.01e-10, scale=100.0) == -1
    assert compare(1.01e-10, 0.0, scale=100.0) == 1
    assert compare(1.0, 1.0 + 0.99e-9, scale=1e-3) == 0  # the wider of the two counts
    assert at_most(0.99e-10, 0.0, scale=100.0) and not at_most(1.01e-10, 0.0, scale=100.0)
    assert below(0.0, 1.01e-10, scale=100.0) and not below(0.0, 0.99e-10, scale=100.0)
    assert same(0.0, 0.99e-10, scale=100.0) and not same(0.0, 1.01e-10, scale=100.0)


def test_without_a_scale_none_is_assumed():
    assert compare(0.0, 0.9e-12) == -1 and below(0.0, 0.9e-12)
    assert not same(0.0, 0.9e-12) and not at_most(0.9e-12, 0.0)


def test_exactly_at_the_edge_is_the_same():
    assert compare(0.0, 1e-12, scale=1.0) == 0


def test_infinity_is_near_to_nothing_but_itself():
    assert compare(math.inf, math.inf) == 0
    assert compare(1e300, math.inf) == -1 and compare(math.inf, 1e300) == 1
    assert compare(-math.inf, math.inf) == -1


def test_noise_of_a_sum_is_zero():
    assert without_noise(0.99e-12, 1.0, -0.5) == 0.0
    assert without_noise(1.01e-12, 1.0, -0.5) == 1.01e-12
    assert without_noise(-0.99e-10, -100.0, 2.0) == 0.0 and without_noise(-1.01e-10, -100.0, 2.0) == -1.01e-10
    assert without_noise(1e-12, 1.0) == 0.0  # at the edge
    assert without_noise(0.0) == 0.0 and without_noise(1e-13) == 1e-13  # no terms: nothing is noise
    assert total(0.1, 0.2, -0.3) == 0.0
    assert total(0.1, 0.2, -0.29) == pytest.approx(0.01, rel=1e-12)


@pytest.mark.parametrize(
    ("x", "digits", "shown"),
    [(12.815, 4, "12.82"), (12.825, 4, "12.83"), (-12.815, 4, "-12.82"), (12.8149999, 4, "12.81"), (9.9996, 4, "10.00"),
     (9.9994, 4, "9.999"), (999.5, 3, "1.00E+3"), (0.00012345, 4, "0.0001235"), (1.0, 1, "1"), (9.6, 1, "1E+1"),
     (1.5, 1, "2"), (10.0, 4, "10.00"), (0.0, 4, "0"), (123456, 2, "1.2E+5")],
)  # fmt: skip
def test_rounded_as_people_round(x, digits, shown):
    rounded = round_half_up(x, digits)
    assert rounded == Decimal(shown) and str(rounded) == shown


@pytest.mark.parametrize(
    ("typed", "half"),
    [("12.4", 0.05), ("12,40 mm", 0.005), ("12", 0.5), ("5e-3", 0.0005), ("1.5e2", 5.0), ("1.25E+1", 0.05),
     ("1/16 in", 0.5 / 16), ("3 5/16", 0.5 / 16), ("1/0", 0.0), ("none", 0.0), ("", 0.0), ("-0.3", 0.05)],
)  # fmt: skip
def test_half_of_the_last_digit_typed(typed, half):
    assert half_digit(typed) == pytest.approx(half, rel=1e-12, abs=0)


def test_zeros_that_nobody_measured_are_left_out():
    shown = {"0.08000 mm": "0.08 mm", "1.000": "1", "100": "100", "1.050": "1.05", "2.10 to 3.00": "2.1 to 3"}
    assert {a: without_zeros(a) for a in shown} == shown


def test_enough_digits_to_tell_two_values_apart():
    assert digits_to_tell(1.23456, 1.23457, 4) == 6
    assert digits_to_tell(1.2345, 1.2346, 4) == 5  # no more than it takes
    assert digits_to_tell(1.5, 2.5, 4) == 4
    assert digits_to_tell(1.0, 1.0 + 1e-10, 4) == 4  # one value
    assert digits_to_tell(1.0, 1.0 + 2e-9, 4) == 10
    assert digits_to_tell(1000.1, 1000.2, 4) == 5  # whatever their size
    assert digits_to_tell(1.23456745, 1.234567549, 8) == 9  # nearly a digit apart, and rounded to one value
    assert digits_to_tell(1.0, math.nextafter(1.0, 2) + 1.1e-9, 13) == 13  # never fewer than asked for


@pytest.mark.parametrize(
    ("shown", "least", "expected"),
    [
        ("0.220000 mm", 2, "0.22 mm"),
        ("33.00 %", 0, "33 %"),
        ("12.30 N·m", 2, "12.30 N·m"),
        ("0.655 mm", 2, "0.655 mm"),
        ("0.640 mm; 0.655 mm", 2, "0.64 mm; 0.655 mm"),
        ("100 N", 0, "100 N"),
        ("1.00×10⁻⁵ m", 0, "1.00×10⁻⁵ m"),
    ],
)
def test_no_zeros_that_no_reading_has(shown, least, expected):
    """Only zeros at the end go, and only those beyond the digits of the readings."""
    assert without_further_zeros(shown, least) == expected


def test_the_most_decimals_of_the_numbers_in_a_text():
    assert [decimals(x) for x in ("0.5 to 0.125 mm", "0,25 mm", "100 N")] == [3, 2, 0]
