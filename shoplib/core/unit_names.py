"""The names of units: the trade's spellings, and what pint makes of them.

What pint says about the common units stands in two tables beside this module; pint itself, which takes a third of a
second to start, is asked about other units only.

Parameters that have one meaning in all functions:

- ``units``: a unit as pint spells it, such as N*m
"""

from __future__ import annotations

import functools
import re
from pathlib import Path
from typing import Any


@functools.cache
def registry() -> Any:
    """The one pint registry; its parsed definitions are kept in the user's cache folder."""
    import pint

    try:
        return pint.UnitRegistry(cache_folder=":auto:")
    except OSError:  # a read-only home: slower, never wrong
        return pint.UnitRegistry()


# The trade's spellings.  Key: lower case, separators as one space.  Where a spelling means two
# things (nm, c, f), the one with the wanted dimension is taken; the pint reading comes last.
_TRADE = {
    "N*m": "nm|n m|newton metre|newton metres|newton meter|newton meters|newtonmetre",
    "N*m/degree": "nm/deg|nm/°|n m/deg|n m/°|n m/degree|nm/degree|n·m/°|n·m/deg",
    "N*cm": "ncm|n cm",
    "daN*m": "danm|dan m",
    "lbf*ft": "ft lb|ft lbs|lb ft|lbs ft|lbf ft|ft lbf|ftlb|ftlbs|lbft|foot pound|foot pounds"
    "|pound foot|pound feet|foot lb|foot lbs",
    "lbf*in": "in lb|in lbs|lb in|lbs in|lbf in|in lbf|inlb|inlbs|inch pound|inch pounds|pound inch"
    "|pound inches|inch lb|inch lbs",
    "kgf*m": "kgf m|kgfm|kg m|kgm|m kg|mkg|kpm|kp m|m kp|kilogram metre|kilogram metres",
    "kgf*cm": "kgf cm|kgfcm|kg cm|kgcm|cm kg",
    "mm": "mm|millimetre|millimetres|millimeter|millimeters",
    "cm": "cm",
    "m": "m|metre|metres|meter|meters",
    "inch": "in|inch|inches|\"|''|″|”",
    "thou": "thou|thousandth|thousandths",
    "micrometer": "µm|um|micron|microns|micrometre|micrometres",
    "microinch": "µin|uin|microinch|microinches|micro inch|micro inches",
    "foot": "ft|foot|feet|'|′",
    "degree": "deg|°|degs|degree|degrees",
    "turn": "turn|turns|rev|revs|revolution|revolutions",
    "turn/6": "flat|flats",
    "arcsecond": "arcsec|arc second|arc seconds|arcsecond|arcseconds|″",
    "arcminute": "arcmin|arc minute|arc minutes|arcminute|arcminutes|′",
    "radian": "rad|radian|radians",
    "percent": "%|percent|per cent|pc",
    "bar": "bar|bars",
    "mbar": "mbar",
    "kPa": "kpa",
    "MPa": "mpa|n/mm²|n/mm2|n/mm^2|n/mm**2",
    "GPa": "gpa|kn/mm²|kn/mm2|kn/mm**2",
    "psi": "psi|lbf/in²|lbf/in2|lb/in2",
    "ksi": "ksi",
    "ksi*1000": "mpsi",
    "inch_Hg": "inhg|in hg",
    "mmHg": "mmhg|mm hg",
    "kgf/cm**2": "kgf/cm²|kgf/cm2|kg/cm²|kg/cm2",
    "liter": "l|litre|litres|liter|liters|ltr",
    "milliliter": "ml|cc|millilitre|millilitres|milliliter|milliliters",
    "cm**3": "cm3|cm³|ccm",
    "in**3": "in3|in³|cu in|cubic inch|cubic inches",
    "mm**2": "mm2|mm²|sq mm|square millimetre|square millimetres|square millimeter|square millimeters",
    "cm**2": "cm2|cm²|sq cm|square centimetre|square centimetres|square centimeter|square centimeters",
    "in**2": "in2|in²|sq in|square inch|square inches",
    "US_liquid_quart": "us qt|us quart|us quarts|qt us|quart us|us liquid quart|us liq qt",
    "imperial_quart": "imp qt|imperial qt|imperial quart|imperial quarts|uk qt|uk quart|imp quart",
    "US_liquid_gallon": "us gal|us gallon|us gallons|gal us|gallon us",
    "imperial_gallon": "imp gal|imperial gal|imperial gallon|imperial gallons|uk gal|uk gallon|imp gallon",
    "US_pint": "us pt|us pint|us pints",
    "imperial_pint": "imp pt|imperial pt|imperial pint|imperial pints|uk pint|uk pints",
    "degC": "°c|c|degc|deg c|℃|celsius|degrees c|degrees celsius",
    "degF": "°f|f|degf|deg f|℉|fahrenheit|degrees f|degrees fahrenheit",
    "kelvin": "k|kelvin|kelvins",
    "newton": "n|newton|newtons",
    "kilonewton": "kn",
    "lbf": "lbf|lb|lbs|pound force|pounds force",
    "kip": "kip|kips|klbf",
    "kgf": "kgf|kp",
    "minute": "min|mins|minute|minutes",
    "second": "s|sec|secs|second|seconds",
    "hour": "h|hr|hrs|hour|hours",
    "1e-6/kelvin": "ppm/k|µm/m/k|um/m/k|µm/(m k)|µm/mk|e 6/k|10⁻⁶/k|1e 6/k|1e 6 /k",
    "1e6*lbf/inch": "mlbf/in",
    "dimensionless": "",
}
SPELLINGS: dict[str, list[str]] = {}
for _name, _spelled in _TRADE.items():
    for _key in _spelled.split("|"):
        SPELLINGS.setdefault(_key, []).append(_name)
SPELLED = tuple(_TRADE)  # every unit that has a spelling here

# A percentage may say what it is a percentage of; it is taken only where that is what is wanted.
BASIS = {
    "vol %": "vol %|vol%|% vol|%vol|% v/v|%v/v|% by volume|percent by volume|vol percent",
    "mass %": "mass %|mass%|% mass|%mass|% m/m|%m/m|wt %|wt%|% wt|%wt|% w/w|% by mass|% by weight|percent by mass",
}
BASES = {key: basis for basis, spelled in BASIS.items() for key in spelled.split("|")}

TWO_SIZES = {
    "gal": ("US gal", "imperial gal"),
    "gals": ("US gal", "imperial gal"),
    "gallon": ("US gal", "imperial gal"),
    "gallons": ("US gal", "imperial gal"),
    "qt": ("US qt", "imperial qt"),
    "qts": ("US qt", "imperial qt"),
    "quart": ("US qt", "imperial qt"),
    "quarts": ("US qt", "imperial qt"),
    "pt": ("US pt", "imperial pt"),
    "pint": ("US pt", "imperial pt"),
    "pints": ("US pt", "imperial pt"),
    "mil": ("thou", "mm"),  # a thousandth of an inch in American workshops, a millimetre in British ones
    "mils": ("thou", "mm"),
    "fl oz": ("mL", "L"),
    "ton": ("kN", "lbf"),
}

_WHAT = {
    "a length": "m",
    "an area": "m**2",
    "a volume": "m**3",
    "a torque": "N*m",
    "a force": "N",
    "a pressure or stress": "Pa",
    "a stiffness": "N/m",
    "a temperature": "kelvin",
    "a time": "s",
    "a mass": "kg",
    "an expansion coefficient": "1/kelvin",
    "a density": "kg/m**3",
}


def parsed(units: str) -> Any:
    """One of these units; unlike a pint unit it may hold a factor, as in 1e-6/K."""
    reg = registry()
    if units in ("degC", "degF"):
        return reg.Quantity(1.0, units)
    return reg.Quantity(reg.parse_expression(units))


def kind_by_pint(units: str) -> str:
    """A word for the dimension, from pint."""
    quantity = parsed(units)
    if quantity.dimensionless:
        names = str(quantity.units)
        if any(word in names for word in ("degree", "turn", "radian", "arc")):
            return "an angle"
        return "a percentage" if "percent" in names else "a pure number"
    dimension = quantity.dimensionality
    for word, example in _WHAT.items():
        if parsed(example).dimensionality == dimension:
            return word
    return f"a value in {quantity.units:~P}"


def base_by_pint(units: str) -> tuple[float, str]:
    """The SI size of one of this unit, and its SI units, from pint."""
    found = parsed(units).to_base_units()
    return float(found.magnitude), str(found.units)


def _table(name: str) -> list[dict[str, str]]:
    import csv

    with Path(__file__).with_name(name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@functools.cache
def _kinds() -> dict[str, tuple[str, str, str]]:
    """Unit to kind, SI size and SI units, for the common units."""
    return {row["unit"]: (row["kind"], row["size"], row["base"]) for row in _table("unit_kinds.csv")}


@functools.cache
def _factors() -> dict[str, dict[str, tuple[float, float]]]:
    """Wanted unit to unit to factor and offset, for the common units."""
    found: dict[str, dict[str, tuple[float, float]]] = {}
    for row in _table("unit_factors.csv"):
        found.setdefault(row["wanted"], {})[row["unit"]] = float(row["factor"]), float(row["offset"])
    return found


@functools.cache
def kind_of(units: str) -> str:
    """A word for the dimension; angle and percent are told apart though both are dimensionless."""
    return _kinds()[units][0] if units in _kinds() else kind_by_pint(units)


@functools.cache
def base_of(units: str) -> tuple[float, str]:
    """The SI size of one of this unit, and its SI units; not for an absolute temperature."""
    _, size, base = _kinds().get(units, ("", "", ""))
    return (float(size), base) if size else base_by_pint(units)


def same_dimension(a: str, b: str) -> bool:
    """Whether two units have one dimension; an angle and a percentage are both without.

    :param a: a unit as pint spells it
    :param b: a unit as pint spells it
    """
    return a == b or parsed(a).dimensionality == parsed(b).dimensionality


def kind_or_none(units: str) -> str | None:
    """The word for the dimension; None if pint does not know the unit."""
    try:
        return kind_of(units)
    except Exception:  # noqa: BLE001 -- pint raises many kinds; all mean "not a unit at all"
        return None


@functools.cache
def factor_to_si(units: str, wanted: str, si: float) -> tuple[float, float] | None:
    """(factor, offset) that turn a number in `units` into SI, if it is what `wanted` is.

    :param wanted: the unit that is wanted, by our name
    :param si: the SI size of one of the wanted unit
    """
    if units == pint_name(wanted) and wanted not in ("K", "degC"):
        return si, 0.0  # the wanted unit itself
    known = _factors().get(wanted)
    found = factor_by_pint(units, wanted) if known is None or units not in _kinds() else known.get(units)
    return (found[0] * si, found[1]) if found else None


def factor_by_pint(units: str, wanted: str) -> tuple[float, float] | None:
    """(factor, offset) that turn a number in `units` into `wanted`, temperatures into kelvin, from pint.

    :param wanted: the unit that is wanted, by our name
    """
    reg = registry()
    if wanted == "K" and units in ("degC", "degF"):  # a rise of 80 °C is a rise of 80 K
        units = "delta_" + units
    try:
        if units in ("degC", "degF", "kelvin") and wanted == "degC":
            zero = reg.Quantity(0.0, units).to("kelvin").magnitude
            return reg.Quantity(1.0, units).to("kelvin").magnitude - zero, zero
        if kind_by_pint(units) != kind_by_pint(pint_name(wanted)):
            return None
        return float((parsed(units) / parsed(pint_name(wanted))).to("dimensionless").magnitude), 0.0
    except Exception:  # noqa: BLE001 -- pint raises many kinds; all mean "not a unit I know"
        return None


def pint_name(name: str) -> str:
    """Our unit names as pint spells them.

    :param name: our name of the unit
    """
    return {"%": "percent", "": "dimensionless", "uin": "microinch"}.get(name, name)


_SAFE_UNIT = re.compile(r"[A-Za-zµΩ°%()0-9*/^._ ²³-]{1,40}")
_BIG_POWER = re.compile(r"(\*\*|\^)\s*-?\d{2,}|(\*\*|\^).*(\*\*|\^)")


def may_be_parsed(typed: str) -> bool:
    """Whether pint may be asked: a short unit without large powers.

    :param typed: a unit as it was typed
    """
    return bool(_SAFE_UNIT.fullmatch(typed)) and not _BIG_POWER.search(typed)


def as_pint(typed: str) -> str:
    """A unit as pint spells it: kg/m³ and kg/m3 have a power.

    :param typed: a unit as it was typed
    """
    plain = typed.replace("μ", "µ").replace("·", "*").replace("²", "**2").replace("³", "**3")
    return re.sub(r"(?<=[A-Za-z])([23])(?![A-Za-z0-9])", r"**\1", plain)
