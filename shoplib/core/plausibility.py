"""Bounds that every typed value must lie in: wide enough for the trade, narrow enough to catch a wrong unit.

They are bounds of what can exist in a workshop, not limits of what is allowed.  A field may name narrower ones
(``Field.plausible``).  Common practice, no source.
"""

from __future__ import annotations

import math

from shoplib.core.units import Unit

_BOUNDS: dict[str, tuple[float, float]] = {  # unit of the field → lowest and highest, in SI
    "mm": (-5.0, 5.0),
    "inch": (-5.0, 5.0),
    "um": (-5e-3, 5e-3),
    "uin": (-5e-3, 5e-3),
    "mm**2": (0.0, 1.0),
    "mm**3": (-0.1, 0.1),
    "cm**3": (-0.1, 0.1),
    "L": (-1.0, 1.0),
    "N*m": (-5e3, 5e3),
    "lbf*ft": (-5e3, 5e3),
    "lbf*in": (-5e3, 5e3),
    "kgf*m": (-5e3, 5e3),
    "N": (-2e6, 2e6),
    "kN": (-2e6, 2e6),
    "kPa": (-1.1e5, 4e7),
    "bar": (-1.1e5, 4e7),
    "MPa": (0.0, 5e9),
    "N/mm**2": (0.0, 5e9),
    "GPa": (1e8, 1.2e12),
    "deg": (-math.radians(36_000), math.radians(36_000)),
    "turn": (-math.radians(36_000), math.radians(36_000)),
    "kN/mm": (1e3, 1e11),
    "mm/kN": (1e-11, 1e-3),
    "N*m/degree": (0.0, 1e6),
    "J": (-1e6, 1e6),
    "K": (-500.0, 500.0),
    "degC": (173.15, 1273.15),
    "1/K": (0.0, 1e-4),
    "1e-6/K": (0.0, 1e-4),
    "kg/m**3": (100.0, 25_000.0),
    "%": (-10.0, 10.0),
    "min": (0.0, 60.0 * 60 * 24 * 366),
    "s": (0.0, 60.0 * 60 * 24 * 366),
    "": (-1e9, 1e9),
}


def plausible_bounds(unit: Unit) -> tuple[float, float]:
    """The lowest and the highest SI value that may be typed for a quantity of this unit.

    :param unit: of the quantity
    """
    return _BOUNDS.get(unit.name, (-1e12, 1e12))
