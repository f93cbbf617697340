"""Pressure hold of a closed cooling system."""

from __future__ import annotations

from shoplib.core.formula import formula
from shoplib.core.units import kelvin, kPa, one

ATMOSPHERE = 101325.0  # Pa, standard atmosphere
# Times the gas law: the most that a change of temperature does to the pressure of a sealed system.  Eight litres of
# coolant grow by about 4 mL per kelvin into half a litre of air or more, twice what the gas law gives; the gas law
# itself comes on top.  This project's own estimate: the volumes are common practice, no source.
EXPANSION = 3.0


@formula(symbol="Delta_p", source="difference of the readings")
def pressure_drop(p_1: kPa, p_2: kPa) -> kPa:
    """Start less end, gauge; not corrected for temperature."""
    return p_1 - p_2


@formula(symbol="Delta_p_T", source="ideal gas at constant volume")
def trapped_air_change(p_1: kPa, p_amb: kPa, T: kelvin, Delta_T: kelvin) -> kPa:
    """What a change of temperature alone does to air shut in at a constant volume.  An illustration: the volume of
    a coolant system is not constant, and coolant expands more than the metal round it."""
    return (p_1 + p_amb) * Delta_T / T


@formula(symbol="Delta_p_min", source="f times the gas law")
def smallest_drop(Delta_p: kPa, U_p: kPa, f: one, p_1: kPa, p_amb: kPa, T: kelvin, Delta_T: kelvin) -> kPa:
    """The smallest drop that the readings allow at steady temperature; a value below zero means none."""
    return Delta_p - U_p + f * (p_1 + p_amb) * Delta_T / T


@formula(symbol="Delta_p_max", source="f times the gas law")
def largest_drop(Delta_p: kPa, U_p: kPa, f: one, p_1: kPa, p_amb: kPa, T: kelvin, Delta_T: kelvin) -> kPa:
    """The largest drop that the readings allow at steady temperature: the uncertainty and warming hid a part of it."""
    return Delta_p + U_p + f * (p_1 + p_amb) * Delta_T / T
