"""How the tables of coolant are read at their rows, between them, at their ends and beyond.

The numbers are those of ``data/reference/coolant_density.csv`` for ethylene glycol; between two rows a straight line.
"""

import numpy as np
import pytest

from shoplib.physics import coolant_properties as coolant
from shoplib.physics.coolant_properties import OutOfTable, density

LOWEST, HIGHEST = 238.15, 373.15


@pytest.mark.parametrize(
    ("v", "T", "printed"),
    [
        (0.5, LOWEST, 1089.94),
        (0.5, LOWEST - 1e-7, 1089.94),  # the end, but for its last digits
        (0.5, LOWEST + 2.5, (1089.94 + 1089.04) / 2),
        (0.5, LOWEST + 4, 1089.94 + 0.8 * (1089.04 - 1089.94)),
        (0.5, LOWEST + 5, 1089.04),
        (0.5, HIGHEST, 1022.95),
        (0.5, HIGHEST + 1e-7, 1022.95),
        (0.5, HIGHEST - 1, 1022.95 + 0.2 * (1027.01 - 1022.95)),
        (0.4, 253.15, 1071.98),  # the row above it is blank there
        (0.6, 253.15, 1101.06),
        (0.6 + 1e-10, 253.15, 1101.06),
        (0.0, 273.15, 999.84),
        (-0.9e-12, 273.15, 999.84),
        (0.1, 275.65, (1018.73 + 1017.57) / 2),
    ],
)
def test_density_is_read_from_its_table(v, T, printed):
    assert density("ethylene", v, T) == pytest.approx(printed, abs=1e-6)


@pytest.mark.parametrize(
    ("v", "T"),
    [(0.5, LOWEST - 1e-6), (0.5, HIGHEST + 1e-6), (0.4, 253.1), (0.4 - 1e-8, 253.15), (0.6 + 1e-8, 300.0), (-1.2e-12, 300.0)],
)  # fmt: skip
def test_beyond_the_table_there_is_no_density(v, T):
    with pytest.raises(OutOfTable):
        density("ethylene", v, T)


def test_water():
    assert coolant.water_density(273.15) == pytest.approx(999.84)
    assert coolant.water_density(293.15) == pytest.approx(998.21)


def test_one_value_is_no_curve():
    with pytest.raises(OutOfTable, match="no value at this temperature"):
        density("propylene", 0.6, LOWEST)
    assert density("ethylene", 0.6, LOWEST) == pytest.approx(1104.6)  # two are


def test_a_curve_is_read_backwards_to_its_ends():
    curve = coolant._curve([0.0, 0.25, 1.0], [0.0, -1.0, -4.0])
    for y, x in ((0.0, 0.0), (0.9e-12, 0.0), (-1.0, 0.25), (-4.0, 1.0), (-4.0 - 3e-9, 1.0)):
        assert coolant._solve(curve, y) == pytest.approx(x, abs=1e-15)
    for y in (1.5e-12, -4.0 - 5e-9):
        with pytest.raises(OutOfTable):
            coolant._solve(curve, y)


@pytest.mark.parametrize("glycol", coolant.GLYCOLS)
@pytest.mark.parametrize("p", [0.7e5, 1.013e5, 3e5])
def test_at_its_boiling_point_a_mixture_has_the_pressure_that_is_on_it(glycol, p):
    w = np.array([0.0, 0.2, 0.5, 0.65])
    T = coolant.boiling_point(glycol, w, p)
    x_w = coolant.water_mole_fraction(w, coolant.M_WATER, coolant.molar_mass(glycol))
    there = coolant.mixture_vapour_pressure(x_w, *coolant.vapour_pressures(glycol, T))
    assert there == pytest.approx(p, rel=1e-11)
    assert [float(coolant.boiling_point(glycol, each, p)) for each in w] == pytest.approx(T, rel=1e-12)
    same = coolant.boiling_point(glycol, np.full(3, 0.5), p)
    assert same == pytest.approx(T[2], rel=1e-12)


def test_the_curves_are_those_of_the_points():
    v = np.arange(61) / 100
    assert pytest.approx(v) == coolant.CURVE_AT
    for glycol in coolant.GLYCOLS:
        assert coolant.freezing_curve(glycol) == pytest.approx([float(coolant.freezing_point(glycol, x)) for x in v])
        one = coolant.boiling_point(glycol, float(coolant.as_poured(glycol, 0.3)), 1.5e5)
        assert coolant.boiling_curve(glycol, 1.5e5)[30] == pytest.approx(float(one), rel=1e-12)


def test_what_mixing_loses():
    """Half a litre of each: masses by the density of each part, volume by the density of the mixture."""
    rho = lambda w: float(coolant._uninhibited_density("ethylene")(w))  # noqa: E731
    glycol, water = rho(1.0), rho(0.0)
    mass = 0.5e-3 * (glycol + water)
    lost = 1e-3 - mass / rho(0.5e-3 * glycol / mass)
    assert 0 < lost < 2e-5
    assert coolant.contraction("ethylene", [(0.5e-3, 1.0), (0.5e-3, 0.0)]) == pytest.approx(lost, rel=1e-6)
    assert coolant.contraction("ethylene", [(2e-3, 0.4)]) == pytest.approx(0, abs=1e-15)
    assert coolant.contraction("ethylene", []) == 0.0
    assert coolant.contraction("ethylene", [(0.0, 0.4)]) == 0.0
