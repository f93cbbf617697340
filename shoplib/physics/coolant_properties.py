"""Glycol in water: freezing, boiling, density, specific heat, and strength from a reading.

Strength is a fraction by volume of the liquids as poured, unless its name says mass.  Tables go to
60 vol %: above that laboratories disagree (one to three eutectics are reported between 58 and 80 mass %).
Interpolation is PCHIP, which never overshoots, so a falling column stays falling.
"""

from __future__ import annotations

import functools
from typing import Any

import numpy as np

from shoplib.core.errors import ShoplibError
from shoplib.core.formula import formula
from shoplib.core.rounding import at_most, same
from shoplib.core.units import MPa, Pa, g_per_mol, kelvin, kg_per_m3, kPa, one, pct_mass, pct_vol
from shoplib.physics.tables import number, table

GLYCOLS = ("ethylene", "propylene")
STRONGEST = 0.6  # fraction by volume up to which the tables agree
ZERO = 273.15  # K
ACCURACY = 3.0  # K; the published tables differ among each other by up to 2.9 to 3.0 K (tests/published)
KELVIN, PASCAL, MEGAPASCAL = 1.0, 1.0, 1e6  # the units of empirical equations, written T/K and p/Pa
M_WATER = 18.015268e-3  # kg/mol, IAPWS
WATER_20 = 998.2  # kg/m³, water at 20 °C
FREEZING_SOURCE = "ASHRAE Handbook Fundamentals 2001, freezing points of aqueous glycol solutions"
DENSITY_SOURCE = "ASHRAE Handbook Fundamentals 2001, inhibited glycol, by volume percent and temperature"
INDEX_SOURCE = "CRC Handbook of Chemistry and Physics, 102nd edition, concentrative properties, 20 °C"
PERCENTS = (0, 10, 20, 30, 40, 50, 60)


class OutOfTable(ShoplibError, ValueError):
    """No published value there."""


# ------------------------------------------------------------------------------ formulas
@formula(symbol="w", source="percent by volume counts the liquids as poured")
def mass_as_poured(v: pct_vol, rho_g: kg_per_m3, rho_w: kg_per_m3) -> pct_mass:
    """Mass fraction of glycol for a fraction by volume of the pure liquids before they are mixed."""
    return v * rho_g / (v * rho_g + (1 - v) * rho_w)


@formula(symbol="x_w", source="definition of the mole fraction")
def water_mole_fraction(w: pct_mass, M_w: g_per_mol, M_g: g_per_mol) -> one:
    """Fraction of the molecules that are water, for a mass fraction w of glycol."""
    return (1 - w) / M_w / ((1 - w) / M_w + w / M_g)


@formula(symbol="p_w", source="IAPWS-IF97, equation 30 (saturation pressure)")
def water_vapour_pressure(T: kelvin, K: kelvin, MPa_1: MPa) -> kPa:
    """Vapour pressure of water, 273.15 K to 647.096 K.  K and MPa₁ are the units of the equation."""
    theta: one = T / K - 0.23855557567849 / (T / K - 650.17534844798)
    A: one = theta**2 + 1167.0521452767 * theta - 724213.16703206
    B: one = -17.073846940092 * theta**2 + 12020.82470247 * theta - 3232555.0322333
    C: one = 14.91510861353 * theta**2 - 4823.2657361591 * theta + 405113.40542057
    return MPa_1 * (2 * C / (-B + np.sqrt(B**2 - 4 * A * C))) ** 4


@formula(symbol="p_gl", source="Perry's Chemical Engineers' Handbook, 8th edition, Table 2-8")
def glycol_vapour_pressure(T: kelvin, K: kelvin, Pa_1: Pa, C_1: one, C_2: one, C_3: one, C_4: one, C_5: one) -> kPa:
    """Vapour pressure of the pure glycol, 260 K to above 600 K.  K and Pa₁ are the units of the equation."""
    return Pa_1 * np.exp(C_1 + C_2 / (T / K) + C_3 * np.log(T / K) + C_4 * (T / K) ** C_5)


@formula(symbol="p", source="Raoult's law for both parts; holds to about 1 K up to 60 vol %")
def mixture_vapour_pressure(x_w: one, p_w: kPa, p_gl: kPa) -> kPa:
    """Vapour pressure over a mixture of water and glycol; it boils where this is the pressure on it."""
    return x_w * p_w + (1 - x_w) * p_gl


@formula(symbol="d", source="definition of the relative density")
def relative_density(rho: kg_per_m3, rho_ref: kg_per_m3) -> one:
    """Density over that of water at the reference temperature."""
    return rho / rho_ref


@formula(symbol="rho", source="definition of the relative density")
def density_from_relative(d: one, rho_ref: kg_per_m3) -> kg_per_m3:
    """Density of the sample that a hydrometer floats in."""
    return d * rho_ref


# ------------------------------------------------------------------------------ tables
def _curve(x: Any, y: Any) -> Any:
    """PCHIP through the points, refusing to go beyond them."""
    from scipy.interpolate import PchipInterpolator

    return PchipInterpolator(x, y, extrapolate=False)


def _columns(name: str, glycol: str, *wanted: tuple[str, float]) -> tuple[np.ndarray, ...]:
    """Columns of a table in SI, rows where one of them is blank left out."""
    rows = [[number(row, column, si) for column, si in wanted] for row in table(name) if row["glycol"] == glycol]
    return tuple(np.array([r for r in rows if None not in r], dtype=float).T)


@functools.cache
def _mass_of_volume(glycol: str) -> Any:
    v, w = _columns("coolant_freezing", glycol, ("volume_percent", 0.01), ("mass_percent", 0.01))
    return _curve(v, w)


@functools.cache
def _freezing(glycol: str) -> Any:
    v, t = _columns("coolant_freezing", glycol, ("volume_percent", 0.01), ("freezing_degC", 1.0))
    return _curve(v, t)


@functools.cache
def _uninhibited_density(glycol: str) -> Any:
    w, rho = _columns("coolant_uninhibited", glycol, ("mass_percent", 0.01), ("density_kg_m3", 1.0))
    return _curve(w, rho)


@functools.cache
def _refractive_index(glycol: str) -> Any:
    columns = _columns("coolant_refractive_index", glycol, ("mass_percent", 0.01), ("refractive_index", 1.0))
    return _curve(*columns) if columns else None


@functools.cache
def _by_temperature(name: str, glycol: str, unit: str) -> tuple[np.ndarray, np.ndarray]:
    """(temperatures in °C, values by temperature and percent, NaN where the table is blank)."""
    rows = [row for row in table(name) if row["glycol"] == glycol]
    values = [[number(row, f"at_{p}_{unit}") for p in PERCENTS] for row in rows]
    return np.array([float(r["temperature_degC"]) for r in rows]), np.array(values, dtype=float)


def _at_temperature(name: str, glycol: str, unit: str, T: float) -> tuple[np.ndarray, np.ndarray]:
    """(fractions by volume, values) of one table at a temperature, straight lines between its rows."""
    t, values = _by_temperature(name, glycol, unit)
    if not (at_most(t[0] + ZERO, T) and at_most(T, t[-1] + ZERO)):
        raise OutOfTable(f"the table covers {t[0]:g} to {t[-1]:g} °C")
    at = min(max(float(T - ZERO), t[0]), t[-1])
    k = int(np.searchsorted(t, at, side="right")) - 1
    row = values[k]
    if at > t[k]:  # a row right on a grid line must not be spoiled by a blank in its neighbour
        row = row + (at - t[k]) / (t[k + 1] - t[k]) * (values[k + 1] - row)
    there = ~np.isnan(row)
    return np.array(PERCENTS)[there] / 100, row[there]


# ------------------------------------------------------------------------------ strength
def mass_fraction(glycol: str, v: Any) -> Any:
    """Mass fraction for a fraction by volume, 0 to about 0.63.

    :param glycol: "ethylene" or "propylene"; a name
    :param v: fraction by volume as poured; a pure number, array of any shape
    :returns: fraction by mass; a pure number, of the shape of v
    """
    return _mass_of_volume(glycol)(v)


def volume_fraction(glycol: str, w: float) -> float:
    """Fraction by volume for a mass fraction.

    :param glycol: "ethylene" or "propylene"; a name
    :param w: fraction by mass; a pure number
    :returns: fraction by volume; a pure number
    """
    return _solve(_mass_of_volume(glycol), w)


def _solve(curve: Any, y: float) -> float:
    """The one x of a monotone curve where it has the value y; the ends count with their last binary digits."""
    for end in (curve.x[0], curve.x[-1]):
        if same(float(curve(end)), y, 1.0):
            return float(end)
    found = curve.solve(y, extrapolate=False)
    found = found[np.isfinite(found)]
    if len(found) == 0:
        raise OutOfTable("outside the table")
    return float(found[0])


def freezing_point(glycol: str, v: Any) -> Any:
    """Freezing point in K for a fraction by volume up to 0.6, within ±3 K of what a real coolant does.

    :param glycol: "ethylene" or "propylene"; a name
    :param v: fraction by volume as poured; a pure number, array of any shape
    :returns: freezing point; K, of the shape of v
    """
    return _freezing(glycol)(v) + ZERO


def coldest_freezing(glycol: str) -> float:
    """Freezing point of the strongest mixture in the table, K.

    :param glycol: "ethylene" or "propylene"; a name
    :returns: freezing point; K
    """
    return float(freezing_point(glycol, STRONGEST))


def strength_from_freezing(glycol: str, T: float) -> float:
    """Fraction by volume, on the weak side of 60 vol %.

    :param glycol: "ethylene" or "propylene"; a name
    :param T: freezing point; K
    :returns: fraction by volume; a pure number
    :raises OutOfTable: no sourced value here
    """
    return _solve(_freezing(glycol), T - ZERO)


# ------------------------------------------------------------------------------ boiling
@functools.cache
def constants(glycol: str) -> dict[str, Any]:
    """Constants of the vapour pressure of the pure glycol.

    :param glycol: "ethylene" or "propylene"; a name
    :returns: C_1 to C_5 of the vapour pressure, by name; pure numbers of the source's equation in K and Pa
    """
    row = next(r for r in table("glycol_vapour_pressure") if r["glycol"] == glycol)
    return {f"C_{k}": float(row[f"C_{k}"]) for k in range(1, 6)}


@functools.cache
def molar_mass(glycol: str) -> float:
    """Molar mass of the glycol, kg/mol.

    :param glycol: "ethylene" or "propylene"; a name
    :returns: molar mass; kg/mol
    """
    row = next(r for r in table("glycol_vapour_pressure") if r["glycol"] == glycol)
    return float(row["molar_mass_g_mol"]) * 1e-3


def vapour_pressures(glycol: str, T: Any) -> tuple[Any, Any]:
    """Vapour pressures of water and of the glycol, Pa.

    :param glycol: "ethylene" or "propylene"; a name
    :param T: temperature; K, array of any shape
    :returns: of water and of the glycol; Pa, of the shape of T
    """
    return (
        water_vapour_pressure(T, KELVIN, MEGAPASCAL),
        glycol_vapour_pressure(T, KELVIN, PASCAL, **constants(glycol)),
    )


def boiling_point(glycol: str, w: Any, p: float) -> Any:
    """Temperature in K where mixtures of these mass fractions boil at a pressure in Pa.

    The logarithm of the pressure is nearly straight in 1/T, so the secant in these converges in a few
    steps; the caller prints the residual.

    :param glycol: "ethylene" or "propylene"; a name
    :param w: fraction by mass; a pure number, array of any shape
    :param p: absolute pressure; Pa
    :returns: boiling point; K, of the shape of w
    """
    x_w = water_mole_fraction(np.asarray(w, dtype=float), M_WATER, molar_mass(glycol))

    def excess(u: Any) -> Any:
        return np.log(mixture_vapour_pressure(x_w, *vapour_pressures(glycol, 1 / u)) / p)

    u_0, u_1 = np.full_like(x_w, 1 / 370.0), np.full_like(x_w, 1 / 400.0)
    f_0, f_1 = excess(u_0), excess(u_1)
    for _ in range(12):
        slope = f_1 - f_0
        step = np.where(slope == 0, 0.0, f_1 * (u_1 - u_0) / np.where(slope == 0, 1.0, slope))
        u_0, f_0 = u_1, f_1
        u_1 = u_1 - step
        f_1 = excess(u_1)
        if np.all(np.abs(f_1) < 1e-13):
            break
    return 1 / u_1


CURVE_AT = np.linspace(0.0, STRONGEST, 61)  # fractions by volume at which the curves are drawn


@functools.lru_cache(maxsize=64)
def boiling_curve(glycol: str, p: float) -> Any:
    """Boiling points in K at CURVE_AT; kept, since the pressure seldom changes while the strength is dragged.

    :param glycol: "ethylene" or "propylene"; a name
    :param p: absolute pressure; Pa
    :returns: boiling points; K, of the shape of CURVE_AT
    """
    return boiling_point(glycol, as_poured(glycol, CURVE_AT), p)


@functools.cache
def freezing_curve(glycol: str) -> Any:
    """Freezing points in K at CURVE_AT.

    :param glycol: "ethylene" or "propylene"; a name
    :returns: freezing points; K, of the shape of CURVE_AT
    """
    return freezing_point(glycol, CURVE_AT)


# ------------------------------------------------------------------------------ density, specific heat
def density(glycol: str, v: float, T: float) -> float:
    """Density in kg/m³ of inhibited coolant at a temperature, −35 to 100 °C.

    :param glycol: "ethylene" or "propylene"; a name
    :param v: fraction by volume as poured; a pure number
    :param T: temperature; K
    :returns: density; kg/m³
    :raises OutOfTable: no sourced value here
    """
    return _property("coolant_density", "kg_m3", glycol, v, T)


def specific_heat(glycol: str, v: float, T: float) -> float:
    """Specific heat in J/(kg K) of inhibited coolant at a temperature.

    :param glycol: "ethylene" or "propylene"; a name
    :param v: fraction by volume as poured; a pure number
    :param T: temperature; K
    :returns: specific heat; J/(kg·K)
    :raises OutOfTable: no sourced value here
    """
    return _property("coolant_specific_heat", "J_kgK", glycol, v, T)


@functools.lru_cache(maxsize=64)
def _isotherm(name: str, unit: str, glycol: str, T: float) -> Any:
    """PCHIP over the strength at one temperature; kept, since a hand on the form moves one thing at a time."""
    x, y = _at_temperature(name, glycol, unit, T)
    if len(x) < 2:
        raise OutOfTable("no value at this temperature")
    return _curve(x, y)


def _property(name: str, unit: str, glycol: str, v: float, T: float) -> float:
    curve = _isotherm(name, unit, glycol, float(T))
    first, last = curve.x[0], curve.x[-1]
    if not (at_most(first, v, 1.0) and at_most(v, last)):
        raise OutOfTable("no value at this strength and temperature: it is near or below its freezing point")
    return float(curve(min(max(v, first), last)))


def strength_from_density(glycol: str, rho: float, T: float) -> float:
    """Fraction by volume of inhibited coolant of a density in kg/m³ at a temperature.

    :param glycol: "ethylene" or "propylene"; a name
    :param rho: density; kg/m³
    :param T: temperature; K
    :returns: fraction by volume; a pure number
    :raises OutOfTable: no sourced value here
    """
    return _solve(_isotherm("coolant_density", "kg_m3", glycol, float(T)), rho)


def uninhibited_density(glycol: str, v: float) -> float:
    """Density in kg/m³ at 20 °C of the pure glycol in water, by fraction by volume.

    :param glycol: "ethylene" or "propylene"; a name
    :param v: fraction by volume as poured; a pure number
    :returns: density at 20 °C; kg/m³
    """
    return float(_uninhibited_density(glycol)(as_poured(glycol, v)))


def pure_density(glycol: str) -> float:
    """Density in kg/m³ of the glycol alone at 20 °C.

    :param glycol: "ethylene" or "propylene"; a name
    :returns: density at 20 °C; kg/m³
    """
    return float(_uninhibited_density(glycol)(1.0))


def as_poured(glycol: str, v: Any) -> Any:
    """Mass fraction of the volumes as poured at 20 °C.

    :param glycol: "ethylene" or "propylene"; a name
    :param v: fraction by volume as poured; a pure number, array of any shape
    :returns: fraction by mass; a pure number, of the shape of v
    """
    return mass_as_poured(v, pure_density(glycol), WATER_20)


def water_density(T: float) -> float:
    """Density in kg/m³ of water, 0 to 100 °C.

    :param T: temperature; K
    :returns: density; kg/m³
    :raises OutOfTable: no sourced value here
    """
    return density("ethylene", 0.0, T)


def strength_from_index(glycol: str, n: float) -> float:
    """Fraction by volume from the refractive index at 20 °C.

    :param glycol: "ethylene" or "propylene"; a name
    :param n: refractive index at 20 °C; a pure number
    :returns: fraction by volume; a pure number
    :raises OutOfTable: no sourced value here
    """
    curve = _refractive_index(glycol)
    if curve is None:
        raise OutOfTable(f"there is no sourced table of the refractive index of {glycol} glycol in water")
    return volume_fraction(glycol, _solve(curve, n))


# ------------------------------------------------------------------------------ contraction on mixing
def contraction(glycol: str, parts: list[tuple[float, float]]) -> float:
    """Volume in m³ that is lost when (volume, fraction by volume) parts are mixed, at 20 °C.

    Pure glycol in water; inhibitors change it little.  Each part counts as already mixed in itself.

    :param glycol: "ethylene" or "propylene"; a name
    :param parts: volume in m³ and fraction by volume of each part; pairs
    :returns: volume lost; m³
    """
    mass = pure = volume = 0.0
    for V, c in parts:
        w = float(as_poured(glycol, c))
        m = V * float(_uninhibited_density(glycol)(w))
        mass, pure, volume = mass + m, pure + m * w, volume + V
    if mass == 0:
        return 0.0
    return volume - mass / float(_uninhibited_density(glycol)(pure / mass))
