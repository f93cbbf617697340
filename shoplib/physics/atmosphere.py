"""Air pressure against altitude, in the troposphere."""

from __future__ import annotations

from typing import Any

from shoplib.core.formula import formula
from shoplib.core.units import K_per_km, Pa, kelvin, kPa, m, one

# U.S. Standard Atmosphere 1976: sea level, effective radius of the earth, and g_0 M_0/(R* L).
SEA_LEVEL_PRESSURE = 101325.0  # Pa
SEA_LEVEL_TEMPERATURE = 288.15  # K
LAPSE_RATE = 6.5e-3  # K/m
EARTH_RADIUS = 6356766.0  # m
EXPONENT = 9.80665 * 28.9644e-3 / (8.31432 * LAPSE_RATE)
LOWEST, HIGHEST = -500.0, 11000.0  # m, the part used here


@formula(symbol="p_a", source="U.S. Standard Atmosphere 1976, geometric height, first layer (equations 18, 23, 33a)")
def standard_pressure(z: m, p_b: Pa, T_b: kelvin, L_b: K_per_km, r_0: m, n: one) -> kPa:
    """Air pressure at a height above sea level on a standard day.  Up to 11 km; weather adds about ±3 kPa."""
    H: m = r_0 * z / (r_0 + z)
    T: kelvin = T_b - L_b * H
    return p_b * (T / T_b) ** n


@formula(symbol="p", source="gauge pressure counts from the air pressure")
def absolute_pressure(p_a: kPa, p_g: kPa) -> kPa:
    """Pressure under a cap that lifts at a gauge pressure."""
    return p_a + p_g


CONSTANTS: dict[str, Any] = {
    "p_b": SEA_LEVEL_PRESSURE,
    "T_b": SEA_LEVEL_TEMPERATURE,
    "L_b": LAPSE_RATE,
    "r_0": EARTH_RADIUS,
    "n": EXPONENT,
}
