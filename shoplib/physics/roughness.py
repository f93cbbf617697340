"""Surface roughness: the same parameter in other units, and why one parameter is not another."""

from __future__ import annotations

from typing import Any

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import one, um

# ISO 4287:1997 and ISO 21920-2:2021, in short and from memory.
PARAMETERS = {
    "Ra": "the mean height of the profile away from its mean line",
    "Rq": "the root mean square of the profile about its mean line",
    "Rz": "the mean, over the sampling lengths, of the height from deepest valley to highest peak",
    "Rt": "the height from the deepest valley to the highest peak of the whole profile",
    "Rmax": "the largest of the single peak-to-valley heights",
}
FINE = 100_000  # points over one wave of a model profile


@formula(symbol="N", source="1 in = 25.4 mm exactly (NIST SP 811)")
def number_of(R: um, R_0: um) -> one:
    """How many of a unit of size R_0 a roughness R is; for the same parameter only."""
    return R / R_0


def parameters_of(z: Any) -> dict[str, float]:
    """Ra, Rq and Rz of a periodic profile of heights (m), one wave per sampling length.

    :param z: heights of the profile, evenly spaced; m, array of shape (N,)
    :returns: Ra, Rq and Rz by name; m
    """
    away = np.asarray(z, float) - np.mean(z)
    return {"Ra": float(np.mean(np.abs(away))), "Rq": float(np.sqrt(np.mean(away**2))), "Rz": float(np.ptp(away))}


def model_profiles(parameter: str, value: float, waves: int = 1, points: int = FINE) -> dict[str, tuple[Any, Any]]:
    """Name → (place along one unit of length, height in m) of three profiles that share one parameter's value.

    Each has one wave to a sampling length, so that Rz, Rt and Rmax are the same in them.

    :param parameter: Ra, Rq, Rz, Rt or Rmax; a name
    :param value: value of the parameter; m
    :param waves: waves along the unit of length; a whole number
    :param points: points of each profile; a whole number
    :returns: place as a pure number and height in m by name; arrays of shape (points,)
    """
    x = (np.arange(points) + 0.5) / points
    t = (x * waves) % 1.0
    shapes = {
        "plateaus and grooves": np.where(t < 0.5, 1.0, -1.0),
        "round waves": np.sin(2 * np.pi * t),
        "few deep scratches": -np.exp(-(((t - 0.5) / 0.045) ** 2)),
    }
    kind = parameter if parameter in ("Ra", "Rq") else "Rz"
    return {name: (x, (z - z.mean()) * value / parameters_of(z)[kind]) for name, z in shapes.items()}


def why_not(parameter: str, other: str) -> str:
    """Why a value of one parameter cannot be turned into another.

    :param parameter: the parameter that was measured; a name
    :param other: the parameter that is asked for; a name
    :returns: the reason, in sentences
    """
    return (
        f"{parameter} cannot be turned into {other}: {parameter} is {PARAMETERS[parameter]}, {other} is "
        f"{PARAMETERS[other]}. How they compare depends on the shape of the surface: with the same Ra, Rz is 2 times "
        "as large on square grooves and 3.1 times on round waves. Where a few scratches are deep, it is 7.5 times. "
        f"Ask for the {parameter} limit, or have {other} measured"
    )
