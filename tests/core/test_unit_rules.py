"""Each rule of reading and showing quantities at both of its sides."""

import math

import pytest

from shoplib.core import unit_names, units
from shoplib.core.units import (
    LONGEST_ENTRY,
    Unreadable,
    as_text,
    clip,
    difference,
    read,
    read_any,
    read_number,
    read_sum,
    show,
    show_number,
    show_short,
    show_to_place,
    tidy,
    unit_of,
)

MM, TORQUE, ONE, PCT, DEGC, KELVIN, DEG = (unit_of(getattr(units, n)) for n in ("mm", "N_m", "one", "pct", "degC", "kelvin", "deg"))  # fmt: skip


# ------------------------------------------------------------------------------ showing
@pytest.mark.parametrize(
    ("x", "digits", "shown"),
    [
        (0.125, 2, "0.13"), (0.0, 4, "0"), (None, 4, "not known"), (math.nan, 4, "not known"), (math.inf, 4, "unbounded"), (1.000000000000005, 15, "1.00000000000001"),
        (12345.6, 6, "12\u202f345.6"), (1234, 2, "1200"), (9999, 4, "9999"), (10000, 5, "10\u202f000"), (10200, 3, "10\u202f200"), (-12345, 4, "−12\u202f350"),
        (-10000, 5, "−10\u202f000"), (9999.6, 4, "10\u202f000"), (1234567, 4, "1\u202f235\u202f000"), (1e7, 4, "1.000×10⁷"), (9999999, 4, "1.000×10⁷"), (-1e-7, 4, "−1.000×10⁻⁷"),
        (0.00012, 4, "1.200×10⁻⁴"), (0.001, 4, "0.001000"), (-0.5, 2, "−0.50"), (0.5, 2, "0.50"), (99999, 6, "99\u202f999.0"), (12.0, 2, "12"),
    ],
)  # fmt: skip
def test_a_number_as_it_is_shown(x, digits, shown):
    assert show_number(x, digits) == shown


@pytest.mark.parametrize(
    ("millimetres", "last", "zeros", "shown"),
    [
        (12.345, -2, None, "12.35 mm"), (123, 1, None, "120 mm"), (10200, 0, None, "10\u202f200 mm"), (1234.5, -12, None, "1234.50000000000 mm"), (9999, 0, None, "9999 mm"),
        (12345.678, -1, None, "12\u202f345.7 mm"), (12.3, -2, -1, "12.3 mm"), (12.3, -3, -2, "12.30 mm"), (12.0, -1, 0, "12 mm"), (12.0, -1, 1, "12 mm"), (120, -2, 1, "120 mm"),
        (4, 2, None, "0 mm"), (0.0005, -4, None, "5×10⁻⁴ mm"), (0, -3, None, "0 mm"), (7, 0, 0, "7 mm"), (10, 0, 0, "10 mm"), (-3.2, -1, None, "−3.2 mm"), (1.0, -2, None, "1.00 mm"),
    ],
)  # fmt: skip
def test_a_value_to_a_place(millimetres, last, zeros, shown):
    assert show_to_place(millimetres * 1e-3, MM, last, zeros) == shown


def test_a_value_with_its_unit():
    assert show(None, MM) == "not known"
    assert (show(math.pi / 2, DEG, 3), show(0.5, ONE, 2), show(80 + 273.15, DEGC, 3)) == ("90.0°", "0.50", "80.0 °C")
    assert show_short(1e-3, MM) == "1 mm"
    assert show_short(0.123456789e-3, MM) == "0.123456789 mm"
    assert show_short(0.1234567891e-3, MM) == "0.123456789 mm"
    assert show_to_place(math.inf, MM, -2) == "unbounded mm"
    assert (difference(DEGC), difference(MM)) == (KELVIN, MM)
    assert (DEGC.to_si(20.0), DEGC.from_si(293.15), MM.to_si(5.0), MM.from_si(0.005)) == (293.15, 20.0, 0.005, 5.0)
    with pytest.raises(TypeError):
        unit_of(float)


def test_what_was_typed_is_repeated_up_to_forty_characters():
    assert clip("x" * 40) == "x" * 40
    assert clip("x" * 41) == "x" * 40 + "…"
    assert clip("abc", 2) == "ab…"
    assert clip("a\x00b") == "a·b"


# ------------------------------------------------------------------------------ reading
@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("1/1", 1.0), ("3/1", 3.0), ("-1 1/2", -1.5), ("+1 1/2", 1.5), ("-1/4", -0.25), ("0,123", 0.123), ("1,23", 1.23), ("1.234", 1.234), ("−2", -2.0),
        ("-12\u202f345.5", -12345.5), ("1e3", 1000.0),
    ],
)  # fmt: skip
def test_a_number_alone(typed, number):
    assert read_number(typed) == number


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("1,234", '"1,234" can be read two ways; type 1.234 or 1234'), ("-1,234", '"-1,234" can be read two ways; type -1.234 or -1234'),
        ("1,234,567", '"1,234,567" has grouped digits; type it without grouping, such as 1234.5'), ("1.234,5", '"1.234,5" has grouped digits; type it without grouping, such as 1234.5'),
        ("1,234.5", '"1,234.5" has grouped digits; type it without grouping, such as 1234.5'), ("1/0", '"1/0" divides by zero'), ("x", '"x" is not a number'),
        ("1e999", '"1e999" is not a number that can be measured'), ("nan", '"nan" is not a number that can be measured'),
    ],
)  # fmt: skip
def test_a_number_that_is_asked_about(typed, says):
    with pytest.raises(Unreadable) as error:
        read_number(typed)
    assert str(error.value) == says


@pytest.mark.parametrize(
    ("typed", "unit", "low", "high", "name"),
    [
        ("80 degC", DEGC, 353.15, 353.15, "degC"), ("5 %", ONE, 0.05, 0.05, "percent"), ("37–43 Nm", TORQUE, 37, 43, "N*m"), ("37 Nm - 43", TORQUE, 37, 43, "N*m"),
        ("40–40 Nm", TORQUE, 40, 40, "N*m"), ("40 Nm ± 2", TORQUE, 38, 42, "N*m"), ("40 Nm ± 5 %", TORQUE, 38, 42, "N*m"), ("50 ± 2 %", PCT, 0.48, 0.52, "percent"),
        ("40 ± 2 °C", DEGC, 311.15, 315.15, "degC"), ("23 /K", unit_of(units.per_K), 23, 23, "1/K"), ("9.2 : 1", ONE, 9.2, 9.2, ""), (5, ONE, 5, 5, ""), (0.5, ONE, 0.5, 0.5, ""),
        ("1 in – 30 mm", MM, 0.0254, 0.03, "mm"), ("4 mm ± 1 in", MM, -0.0214, 0.0294, "mm"), ("-40 Nm ± 5 %", TORQUE, -42, -38, "N*m"), ("5\u00a0mm", MM, 0.005, 0.005, "mm"),
        ("50 vol %", unit_of(units.pct_vol), 0.5, 0.5, "percent"), ("½\u202fmm", MM, 0.0005, 0.0005, "mm"),
    ],
)  # fmt: skip
def test_what_was_typed_and_its_limits(typed, unit, low, high, name):
    found = read(typed, unit, band=True)
    assert (found.low, found.high) == (pytest.approx(low, rel=1e-12), pytest.approx(high, rel=1e-12))
    assert found.value == pytest.approx((low + high) / 2, rel=1e-12)
    assert (found.as_entered, found.unit, found.is_band) == (str(typed), name, low != high)
    if low != high:
        with pytest.raises(Unreadable, match="is a range; enter one value"):
            read(typed, unit)


@pytest.mark.parametrize(
    ("typed", "unit", "says"),
    [
        ("37–43", TORQUE, '"37–43" has no unit'), ("40 ± 2", TORQUE, '"40 ± 2" has no unit'), ("40", TORQUE, '"40" has no unit'),
        ("40 Nm ± 2 3", TORQUE, '"40 Nm ± 2 3" has a gap in the number; type it without the space'), ("43–37 Nm", TORQUE, '"43–37 Nm" runs backwards; type the smaller value first'),
        ("50 %", TORQUE, '"%" is a percentage; enter a torque'), ("5 mm", DEGC, '"mm" is a length; enter a temperature'), ("5 mm", KELVIN, '"mm" is a length; enter a temperature'),
        ("50 mass %", unit_of(units.pct_vol), '"mass %" is mass %; enter vol %'), ("50 vol %", PCT, '"vol %" is vol %; enter a bare percentage'), ("1 mil", MM, '"mil" can mean two sizes; say which: thou or mm'),
        ("2 gal", TORQUE, '"gal" is a volume; enter a torque'), ("5 mm", ONE, '"5 mm" has a unit; enter the number without a unit'), ("5 xyzzy", TORQUE, '"xyzzy" is not a recognised unit; enter a torque'),
        ("x", MM, '"x" does not start with a number'), ("1 ton", unit_of(units.kN), '"ton" can mean two sizes; say which: kN or lbf'),
    ],
)  # fmt: skip
def test_what_is_asked_for_instead(typed, unit, says):
    with pytest.raises(Unreadable) as error:
        read(typed, unit, band=True)
    assert str(error.value) == says


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (True, "enter text"), (None, "enter text"), ([1], "enter text"), ("", "is empty"), (" \t", "is empty"), ("5\u200b mm", "contains invisible characters; type it again"),
        ("x" * (LONGEST_ENTRY + 1), "201 characters is too long for one value"), (2**800, "the number has too many digits"),
    ],
)  # fmt: skip
def test_what_is_no_short_text(typed, says):
    with pytest.raises(Unreadable) as error:
        tidy(typed)
    assert str(error.value) == says


def test_text_that_is_just_short_enough():
    assert tidy("x" * LONGEST_ENTRY) == "x" * LONGEST_ENTRY
    assert as_text(2**799 + 1) == str(2**799 + 1)
    assert (tidy(5), tidy(0.5), tidy("−1\u202f234\u202fmm")) == ("5", "0.5", "-1234 mm")


def test_a_sum():
    found = read_sum("0.05 + 0.03 mm", MM)
    assert (found.value, found.low, found.high, found.unit) == (*[pytest.approx(8e-5)] * 3, "mm")
    assert read_sum("1 in + 1 mm", MM).value == pytest.approx(0.0264)


def test_a_quantity_of_any_dimension():
    assert read_any("80 degC") == (pytest.approx(353.15), "kelvin", 1.0)
    assert read_any("176 °F") == (pytest.approx(353.15), "kelvin", pytest.approx(5 / 9))
    assert read_any("3 in") == (pytest.approx(0.0762), "meter", pytest.approx(0.0254))
    for typed, says in (
        ("40", '"40" has no unit'),
        ("40 banana", '"banana" is not a recognised unit'),
        ("x", '"x" does not start with a number'),
        ("2 qt", '"qt" can mean two sizes; say which: US qt or imperial qt'),
        ("40 Nm 2", '"Nm 2" contains a second number; type one value and its unit'),
        ("40 m**99", '"m**99" is not a recognised unit'),
    ):
        with pytest.raises(Unreadable) as error:
            read_any(typed)
        assert str(error.value) == says


# ------------------------------------------------------------------------------ names of units
@pytest.mark.parametrize(
    ("unit", "kind"),
    [
        ("degree", "an angle"), ("turn", "an angle"), ("radian", "an angle"), ("arcminute", "an angle"), ("percent", "a percentage"), ("dimensionless", "a pure number"), ("mm", "a length"),
        ("mm**2", "an area"), ("L", "a volume"), ("N*m", "a torque"), ("kgf*foot", "a torque"), ("kN", "a force"), ("bar", "a pressure or stress"), ("kN/mm", "a stiffness"),
        ("degC", "a temperature"), ("degF", "a temperature"), ("kelvin", "a temperature"), ("hour", "a time"), ("pound", "a mass"), ("1e-6/K", "an expansion coefficient"),
        ("kg/m**3", "a density"), ("g/mol", "a value in g/mol"),
    ],
)  # fmt: skip
def test_the_kind_of_a_unit(unit, kind):
    assert unit_names.kind_by_pint(unit) == unit_names.kind_of(unit) == kind


def test_a_unit_that_nobody_knows():
    assert unit_names.kind_or_none("xyzzy") is None
    assert unit_names.kind_or_none("mm") == "a length"
    assert unit_names.parsed("degC").magnitude == 1.0
    assert unit_names.parsed("1e-6/K").magnitude == 1e-6
    assert unit_names.base_of("kgf*foot") == (pytest.approx(2.98906692), "kilogram * meter ** 2 / second ** 2")
    assert unit_names.base_of("mm") == (pytest.approx(1e-3), "meter")
    assert unit_names.same_dimension("mm", "inch")
    assert unit_names.same_dimension("no unit", "no unit")
    assert not unit_names.same_dimension("mm", "kN")


@pytest.mark.parametrize(
    ("unit", "wanted", "si", "found"),
    [
        ("mm", "mm", 1e-3, (1e-3, 0.0)), ("inch", "mm", 1e-3, (0.0254, 0.0)), ("mm", "N*m", 1.0, None), ("degC", "degC", 1.0, (1.0, 273.15)), ("degF", "degC", 1.0, (5 / 9, 459.67 * 5 / 9)),
        ("kelvin", "degC", 1.0, (1.0, 0.0)), ("kelvin", "K", 1.0, (1.0, 0.0)), ("degC", "K", 1.0, (1.0, 0.0)), ("degF", "K", 1.0, (5 / 9, 0.0)), ("mm", "K", 1.0, None), ("mm", "degC", 1.0, None),
        ("degC", "mm", 1e-3, None), ("kelvin", "mm", 1e-3, None), ("kgf*foot", "N*m", 1.0, (2.98906692, 0.0)), ("liter", "mL", 1e-6, (1e-3, 0.0)), ("xyzzy", "mm", 1e-3, None),
        ("percent", "%", 0.01, (0.01, 0.0)), ("microinch", "uin", 25.4e-9, (25.4e-9, 0.0)), ("xyzzy", "mL", 1e-6, None),
    ],
)  # fmt: skip
def test_the_factor_of_a_unit(unit, wanted, si, found):
    def near(pair):
        return pair and tuple(pytest.approx(x, rel=1e-12) for x in pair)

    assert unit_names.factor_to_si(unit, wanted, si) == near(found)
    assert unit_names.factor_by_pint(unit, wanted) == near(found and (found[0] / si, found[1]))


def test_only_short_units_without_large_powers_are_parsed():
    assert [unit_names.may_be_parsed(x) for x in ("mm", "x" * 40, "m**9", "x" * 41, "m**99", "m^2^2", "a;b", "")] == [
        True
    ] * 3 + [False] * 5
    assert [unit_names.pint_name(x) for x in ("%", "", "uin", "1e-6/K", "mm")] == [
        "percent",
        "dimensionless",
        "microinch",
        "1e-6/K",
        "mm",
    ]
