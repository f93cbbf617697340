"""What people type, read; and what must be asked about, asked."""

import csv
import math
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.core import rounding, unit_names, units
from shoplib.core.dates import read_date
from shoplib.core.units import Unreadable, read, read_any, read_number, read_sum, show, unit_of
from tests import ci_part, unit_tables

ALL = {n: unit_of(v) for n, v in vars(units).items() if getattr(v, "__metadata__", None)}
TORQUE, LENGTH, ANGLE, VOLUME = (ALL[n] for n in ("N_m", "mm", "deg", "L"))


@pytest.mark.parametrize(
    ("typed", "unit", "si"),
    [
        ("48 Nm", TORQUE, 48), ("48 N·m", TORQUE, 48), ("48Nm", TORQUE, 48), ("48 N*m", TORQUE, 48), ("48 nm", TORQUE, 48),
        ("30 ft-lb", TORQUE, 40.67453845), ("30 lbf·ft", TORQUE, 40.67453845), ("30 lb ft", TORQUE, 40.67453845),
        ("89 in lb", TORQUE, 10.05564978), ("4.9 kgf m", TORQUE, 48.052585), ("490 kgf cm", TORQUE, 48.052585),
        ("0,08 mm", LENGTH, 8e-5), ("0.08 mm", LENGTH, 8e-5), ("3 thou", LENGTH, 7.62e-5), ("½ in", LENGTH, 0.0127),
        ("1 1/2 in", LENGTH, 0.0381), ('3/8"', LENGTH, 0.009525), ("30 µin", LENGTH, 7.62e-7), ("30 μin", LENGTH, 7.62e-7),
        ("−0.02 mm", LENGTH, -2e-5), ("1/4 turn", ANGLE, math.pi / 2), ("¼ turn", ANGLE, math.pi / 2), ("90°", ANGLE, math.pi / 2),
        ("90 deg", ANGLE, math.pi / 2), ("3 flats", ANGLE, math.pi), ("12,1 bar", ALL["bar"], 1.21e6), ("15 psi", ALL["kPa"], 103421.3594),
        ("2 US qt", VOLUME, 1.892705892e-3), ("2 imperial qt", VOLUME, 2.273045e-3), ("1 US gal", VOLUME, 3.785411784e-3),
        ("1 imp gal", VOLUME, 4.54609e-3), ("80 °C", ALL["degC"], 353.15), ("176 °F", ALL["degC"], 353.15), ("80 °C", ALL["kelvin"], 80),
        ("144 °F", ALL["kelvin"], 80), ("50 %", ALL["pct"], 0.5), ("0.12", ALL["one"], 0.12), ("205 GPa", ALL["GPa"], 2.05e11),
        ("30 Mpsi", ALL["GPa"], 206842718795.05), ("23e-6 1/K", ALL["per_K"], 23e-6), ("11.5 ppm/K", ALL["per_K"], 11.5e-6),
        ("12\u202f345 N", ALL["N"], 12345), ("58,1 cm2", ALL["mm2"], 5.81e-3), ("9 sq in", ALL["mm2"], 5.80644e-3),
        ("1.08 g/cm3", ALL["kg_per_m3"], 1080), ("1,08 g/cm³", ALL["kg_per_m3"], 1080), ("1080 kg/m^3", ALL["kg_per_m3"], 1080),
        ("205 kN/mm2", ALL["GPa"], 2.05e11), ("11.5 1e-6/K", ALL["per_K"], 11.5e-6), ("0.02 mm/m", ALL["mm_per_m"], 2e-5),
        ("5810 mm2", ALL["mm2"], 5.81e-3), ("3 cu in", ALL["cm3"], 4.9161192e-5), ("3 in3", ALL["cm3"], 4.9161192e-5),
    ],
)  # fmt: skip
def test_reads(typed, unit, si):
    assert read(typed, unit).value == pytest.approx(si, rel=1e-9)


@pytest.mark.parametrize(
    ("typed", "unit", "low", "high"),
    [
        ("37–43 Nm", TORQUE, 37, 43), ("37-43 Nm", TORQUE, 37, 43), ("37 to 43 Nm", TORQUE, 37, 43), ("37 Nm – 43 Nm", TORQUE, 37, 43),
        ("40 Nm ±4 %", TORQUE, 38.4, 41.6), ("40 ± 2 Nm", TORQUE, 38, 42), ("40 Nm +/- 2 Nm", TORQUE, 38, 42),
        ("85–95°", ANGLE, math.radians(85), math.radians(95)), ("0.10–0.16", ALL["one"], 0.10, 0.16), ("20 ± 2 °C", ALL["degC"], 291.15, 295.15),
    ],
)  # fmt: skip
def test_reads_ranges_and_tolerances(typed, unit, low, high):
    found = read(typed, unit, band=True)
    assert (found.low, found.high) == (pytest.approx(low), pytest.approx(high))
    assert found.as_entered == typed
    with pytest.raises(Unreadable, match="is a range"):
        read(typed, unit)


@pytest.mark.parametrize(
    ("typed", "unit", "says"),
    [
        ("40.2 N*m 41", TORQUE, "second number"), ("0.08 mm 0.09", LENGTH, "second number"), ("2 L 500", VOLUME, "second number"),
        ("12 mm/3", LENGTH, "second number"), ("12 mm*3", LENGTH, "second number"), ("12 mm (2)", LENGTH, "second number"),
        ("80 mm 2", ALL["mm2"], "second number"), ("0.05 mm/100 mm", ALL["mm_per_m"], "second number"),
        ("48", TORQUE, "has no unit"), ("30 mm", TORQUE, "is a length; enter a torque"), ("1,234 Nm", TORQUE, "type 1.234 or 1234"),
        ("1,234,567 mm", LENGTH, "grouped"), ("1.234,5 mm", LENGTH, "grouped"), ("1 234 mm", LENGTH, "gap in the number"),
        ("2 gal", VOLUME, "US gal or imperial gal"), ("2 qt", VOLUME, "US qt or imperial qt"), ("nan Nm", TORQUE, "number"),
        ("inf mm", LENGTH, "number"), ("1e999 mm", LENGTH, "measured"), ("", LENGTH, "is empty"), ("   ", LENGTH, "is empty"), ("x" * 10_000, LENGTH, "10000 characters"),
        ("1" * 10_000 + " mm", LENGTH, "too long"), ("0.12 mm", ALL["one"], "without a unit"), ("50°", ALL["pct"], "is an angle"),
        ("3 furlongs per fortnight squared!", LENGTH, "not a recognised unit"), ("10**10**10 mm", LENGTH, "not a recognised unit"), ("1/0 in", LENGTH, "divides by zero"),
        ("5 m**99", LENGTH, "not a recognised unit"), ("1 __import__('os')", LENGTH, "not a recognised unit"), ("43–37 Nm", TORQUE, "backwards"), ("5\x00 mm", LENGTH, "invisible"),
        ("5\u202e mm", LENGTH, "invisible"), ("Nm", TORQUE, "start with a number"), ("5 N", TORQUE, "is a force"),
    ],
)  # fmt: skip
def test_asks_and_refuses(typed, unit, says):
    with pytest.raises(Unreadable) as caught:
        read(typed, unit, band=True)
    assert says in str(caught.value)
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize("typed", [True, None, [1], {"a": 1}, b"5 mm"])
def test_refuses_what_is_not_text(typed):
    with pytest.raises(Unreadable):
        read(typed, LENGTH)


@pytest.mark.parametrize(("name", "unit"), ALL.items())
def test_si_factor_agrees_with_pint(name, unit):
    reg = unit_names.registry()
    if unit.offset:
        assert reg.Quantity(1.0, "degC").to("kelvin").magnitude == pytest.approx(1 + unit.offset, rel=1e-15)
    else:
        found = reg.Quantity(reg.parse_expression(unit_names.pint_name(unit.name))).to_base_units().magnitude
        assert found == pytest.approx(unit.si, rel=1e-12)


@settings(derandomize=True, max_examples=200, deadline=None)
@given(
    x=st.floats(1e-3, 1e6),
    name=st.sampled_from(["N_m", "mm", "kN", "bar", "L", "pct", "degC", "um", "MPa", "kN_per_mm"]),
)
def test_what_is_printed_can_be_typed_again(x, name):
    unit = ALL[name]
    value = unit.to_si(x)
    assert unit.from_si(read(show(value, unit, 6), unit).value) == pytest.approx(x, rel=1e-5, abs=1e-9)


@settings(derandomize=True, max_examples=300, deadline=None)
@given(st.text(max_size=60))
def test_no_text_breaks_the_reader(typed):
    for unit in (TORQUE, ALL["one"]):
        try:
            assert math.isfinite(read(typed, unit, band=True).value)
        except Unreadable as error:
            assert str(error)


def test_any_kind_of_quantity():
    assert read_any("0,06 mm") == (pytest.approx(6e-5), "meter", pytest.approx(1e-3))
    assert read_any("40 Nm")[0] == 40
    for typed in ("40", "2 gal", "banana", "40 Nm 2", "0.08 mm 0.09"):
        with pytest.raises(Unreadable):
            read_any(typed)


def test_numbers_as_people_write_them():
    assert [read_number(t) for t in ("0,5", ".5", "5e-3", "+2", "1/4")] == [0.5, 0.5, 0.005, 2, 0.25]
    assert show(123456.0, ALL["N"]) == "123\u202f500 N"
    assert show(-2e-5, LENGTH) == "−0.02000 mm"
    assert show(None, LENGTH) == "not known"


def test_a_stack_of_leaves_is_summed_term_by_term():
    for typed in ("0.05 + 0.03 mm", "0,05 mm+0,03mm", "0.03 mm + 0.05 mm"):
        stack = read_sum(typed, LENGTH)
        assert stack.value == pytest.approx(8e-5, rel=1e-12)
        assert stack.as_entered == typed
    assert read_sum("0.002 + 0.0015 in", LENGTH).value == pytest.approx(0.0035 * 0.0254)
    assert read_sum("5e-2 mm", LENGTH).value == pytest.approx(5e-5)
    for typed in ("0.05 + 0.03", "0.05 + mm", "0.05 mm + x", "+", "0.05 + 0.03 kN"):
        with pytest.raises(Unreadable):
            read_sum(typed, LENGTH)


@pytest.mark.parametrize("typed", ["50 %", "50 vol %", "50 vol%", "50 % by volume", "50,0 %vol"])
def test_a_percentage_by_volume_is_taken_where_it_is_wanted(typed):
    assert units.read(typed, units.unit_of(units.pct_vol)).value == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("typed", "wanted"),
    [
        ("50 mass %", units.pct_vol),
        ("50 vol %", units.pct_mass),
        ("50 % by weight", units.pct),
        ("50 vol %", units.pct),
    ],
)
def test_the_wrong_basis_is_refused(typed, wanted):
    with pytest.raises(units.Unreadable, match="enter "):
        units.read(typed, units.unit_of(wanted))


def test_what_is_printed_with_its_basis_can_be_typed():
    for unit in (units.unit_of(units.pct_vol), units.unit_of(units.pct_mass)):
        assert units.read(units.show(0.444, unit, 3), unit).value == pytest.approx(0.444)


@pytest.mark.parametrize(
    ("typed", "asked"),
    [
        ("28/11/26", "Which date is it: 28 November 2026? Type 2026-11-28"),
        ("11/28/2026", "Which date is it: 28 November 2026? Type 2026-11-28"),
        ("5.11.26", "Which date is it: 5 November 2026 or 11 May 2026? Type 2026-11-05 or 2026-05-11"),
        ("7/7/26", "Which date is it: 7 July 2026? Type 2026-07-07"),
        ("31/31/26", "is not a date; type year-month-day"),
    ],
)
def test_a_date_with_slashes_is_asked_about_never_guessed(typed, asked):
    with pytest.raises(units.Unreadable) as error:
        read_date(typed)
    assert asked in str(error.value)


@pytest.mark.parametrize("typed", ["9.2:1", "9,2 : 1", "9.2"])
def test_a_ratio_may_be_typed_as_a_ratio(typed):
    assert units.read(typed, units.unit_of(units.one)).value == 9.2


def test_a_quantity_is_never_a_ratio():
    with pytest.raises(units.Unreadable):
        units.read("9.2 mm:1", units.unit_of(units.mm))


@settings(max_examples=600)
@given(
    st.one_of(
        st.floats(-1e9, 1e9, allow_nan=False),
        st.tuples(st.integers(-(10**6), 10**6), st.integers(0, 9)).map(lambda t: t[0] / 2 / 10 ** t[1]),  # many halves
        st.tuples(st.integers(1, 10**6), st.integers(0, 9)).map(lambda t: (t[0] * 10 - 1e-9) / 10 ** t[1]),
    ),
    st.integers(1, 14),
)
def test_the_quick_way_of_showing_a_number_rounds_as_the_exact_one(x, digits):
    quick = units._plainly(x, digits) if x else None
    if quick is not None:
        exact = f"{rounding.round_half_up(x, digits):f}".replace("-", "−")
        assert quick == exact
        assert units.show_number(x, digits).replace("\u202f", "") == exact


def test_the_tables_of_units_are_what_pint_says():
    """CI asks pint about every sixth unit, ``SHOPLIB_SLOW=1`` about all: that takes a minute."""
    names = unit_tables.names()
    some = ci_part.a_part(names, 6)
    for file, rows in (("unit_kinds.csv", unit_tables.kinds(some)), ("unit_factors.csv", unit_tables.factors(some))):
        head, *stored = csv.reader((unit_tables.FOLDER / file).read_text(encoding="utf-8").splitlines())
        asked = [head, *(row for row in stored if row[0] in some)]
        assert asked == [list(row) for row in rows], "python -m tests.unit_tables"
        assert list(dict.fromkeys(row[0] for row in stored)) == names


def test_a_common_unit_is_read_without_pint_and_any_other_with_it():
    program = (
        "import sys; from shoplib.core.units import N_m, read, read_any, unit_of; "
        "print(read('30 ft lb', unit_of(N_m)).value, *read_any('2 US pints'), 'pint' in sys.modules); "
        "print(read('1 kgf*foot', unit_of(N_m)).value, 'pint' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout
    common, other = (line.split() for line in done.splitlines())
    assert float(common[0]) == pytest.approx(
        30 * 4.4482216152605 * 0.3048, rel=1e-14
    )  # exact by definition of lb and ft
    assert float(common[1]) == pytest.approx(2 * 231 * 0.0254**3 / 8, rel=1e-14)  # a US gallon is 231 cubic inches
    assert common[-1] == "False"
    assert float(other[0]) == pytest.approx(9.80665 * 0.3048)
    assert other[1] == "True"
