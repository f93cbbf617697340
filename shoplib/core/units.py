"""Units: how a value is shown, and reading what people type.

A :class:`Unit` is a label with an SI factor.  Formulas carry units only as annotations
(``d: mm``) and always see plain SI numbers.  Reading text goes through pint, which is imported
on first use, so that ``import shoplib`` stays light.
"""

from __future__ import annotations

import datetime
import functools
import math
import re
from dataclasses import dataclass
from typing import Annotated, Any, TypeAlias

from shoplib.core.errors import ShoplibError
from shoplib.core.rounding import round_half_up

LONGEST_ENTRY = 200  # characters; longer than any honest quantity


@dataclass(frozen=True)
class Unit:
    """A unit as shown: ``si`` times the shown number (plus ``offset``) is the SI value."""

    name: str  # pint-readable, and what --json reports
    si: float = 1.0
    text: str = ""  # what the screen and the sheet show
    offset: float = 0.0  # kelvin, for degrees Celsius only

    def to_si(self, shown: Any) -> Any:
        """SI value of a number shown in this unit."""
        return shown * self.si + self.offset

    def from_si(self, value: Any) -> Any:
        """Number to show in this unit for an SI value."""
        return (value - self.offset) / self.si


# In formulas these are annotations; the value itself is a float or an array, always SI.
one: TypeAlias = Annotated[Any, Unit("", 1.0, "")]
pct: TypeAlias = Annotated[Any, Unit("%", 0.01, "%")]
m: TypeAlias = Annotated[Any, Unit("m", 1.0, "m")]
mm: TypeAlias = Annotated[Any, Unit("mm", 1e-3, "mm")]
um: TypeAlias = Annotated[Any, Unit("um", 1e-6, "µm")]
uin: TypeAlias = Annotated[Any, Unit("uin", 25.4e-9, "µin")]
inch: TypeAlias = Annotated[Any, Unit("in", 25.4e-3, "in")]
mm_per_m: TypeAlias = Annotated[Any, Unit("mm/m", 1e-3, "mm/m")]
mm2: TypeAlias = Annotated[Any, Unit("mm**2", 1e-6, "mm²")]
mm3: TypeAlias = Annotated[Any, Unit("mm**3", 1e-9, "mm³")]
cm3: TypeAlias = Annotated[Any, Unit("cm**3", 1e-6, "cm³")]
L: TypeAlias = Annotated[Any, Unit("L", 1e-3, "L")]
N: TypeAlias = Annotated[Any, Unit("N", 1.0, "N")]
kN: TypeAlias = Annotated[Any, Unit("kN", 1e3, "kN")]
N_m: TypeAlias = Annotated[Any, Unit("N*m", 1.0, "N·m")]
lbf_ft: TypeAlias = Annotated[Any, Unit("lbf*ft", 1.3558179483314004, "lbf·ft")]
lbf_in: TypeAlias = Annotated[Any, Unit("lbf*in", 0.1129848290276167, "lbf·in")]
kgf_m: TypeAlias = Annotated[Any, Unit("kgf*m", 9.80665, "kgf·m")]
Pa: TypeAlias = Annotated[Any, Unit("Pa", 1.0, "Pa")]
kPa: TypeAlias = Annotated[Any, Unit("kPa", 1e3, "kPa")]
bar: TypeAlias = Annotated[Any, Unit("bar", 1e5, "bar")]
MPa: TypeAlias = Annotated[Any, Unit("MPa", 1e6, "MPa")]
GPa: TypeAlias = Annotated[Any, Unit("GPa", 1e9, "GPa")]
rad: TypeAlias = Annotated[Any, Unit("rad", 1.0, "rad")]
deg: TypeAlias = Annotated[Any, Unit("deg", math.pi / 180, "°")]
turn: TypeAlias = Annotated[Any, Unit("turn", 2 * math.pi, "turn")]
kN_per_mm: TypeAlias = Annotated[Any, Unit("kN/mm", 1e6, "kN/mm")]
mm_per_kN: TypeAlias = Annotated[Any, Unit("mm/kN", 1e-6, "mm/kN")]
N_per_mm2: TypeAlias = Annotated[Any, Unit("N/mm**2", 1e6, "N/mm²")]
kelvin: TypeAlias = Annotated[Any, Unit("K", 1.0, "K")]  # absolute, or a difference
degC: TypeAlias = Annotated[Any, Unit("degC", 1.0, "°C", 273.15)]  # fields and results only
per_K: TypeAlias = Annotated[Any, Unit("1/K", 1.0, "1/K")]
per_MK: TypeAlias = Annotated[Any, Unit("1e-6/K", 1e-6, "10⁻⁶/K")]
kg_per_m3: TypeAlias = Annotated[Any, Unit("kg/m**3", 1.0, "kg/m³")]
J_per_kgK: TypeAlias = Annotated[Any, Unit("J/(kg*K)", 1.0, "J/(kg·K)")]
# A percentage of glycol is printed with its basis everywhere; both are typed as "%".
pct_vol: TypeAlias = Annotated[Any, Unit("%", 0.01, "vol %")]
pct_mass: TypeAlias = Annotated[Any, Unit("%", 0.01, "mass %")]
g_per_mol: TypeAlias = Annotated[Any, Unit("g/mol", 1e-3, "g/mol")]
K_per_km: TypeAlias = Annotated[Any, Unit("K/km", 1e-3, "K/km")]
minute: TypeAlias = Annotated[Any, Unit("min", 60.0, "min")]
second: TypeAlias = Annotated[Any, Unit("s", 1.0, "s")]


def unit_of(annotation: Any) -> Unit:
    """The Unit inside one of the annotations above."""
    for item in getattr(annotation, "__metadata__", ()):
        if isinstance(item, Unit):
            return item
    raise TypeError(f"{annotation!r} has no Unit; annotate it with one from shoplib.core.units")


def difference(unit: Unit) -> Unit:
    """The unit of a difference of two such values: kelvin for degrees Celsius, else the same."""
    return unit_of(kelvin) if unit.offset else unit


# ------------------------------------------------------------------------------ showing numbers
_SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def show_number(x: float | None, digits: int = 4) -> str:
    """A number as people write it: true minus, grouped from five digits on, never "nan"."""
    if x is None or math.isnan(x):
        return "not known"
    if math.isinf(x):
        return "unbounded"
    if x == 0:
        return "0"
    rounded = round_half_up(x, digits)
    exponent = rounded.adjusted()
    if not -4 < exponent < 7:
        mantissa = f"{rounded.scaleb(-exponent):.{digits - 1}f}"
        text = mantissa + "×10" + str(exponent).translate(_SUPERSCRIPT)
        return text.replace("-", "−", 1) if text.startswith("-") else text
    whole, dot, rest = f"{rounded:.{max(digits - 1 - exponent, 0)}f}".partition(".")
    sign = "−" if whole.startswith("-") else ""
    whole = whole.lstrip("-")
    if len(whole) > 4:
        whole = f"{int(whole):,}".replace(",", "\u202f")
    return sign + whole + dot + rest


def show(value: float | None, unit: Unit, digits: int = 4) -> str:
    """An SI value in its unit, as text: ``show(48.0, N_m) == "48.00 N·m"``."""
    if value is None:
        return "not known"
    number = show_number(unit.from_si(value), digits)
    return f"{number} {unit.text}".strip() if unit.text != "°" else f"{number}°"


# ------------------------------------------------------------------------------ reading text
class Unreadable(ShoplibError, ValueError):
    """Text that cannot be read as the required quantity."""


@dataclass(frozen=True)
class Reading:
    """What somebody typed, and what it means in SI.

    ``low`` and ``high`` are the limits of a typed range or tolerance, else both equal ``value``.
    """

    as_entered: str
    value: float
    low: float
    high: float
    unit: str  # as understood, pint-readable

    @property
    def is_band(self) -> bool:
        """True for a range such as "37–43 N·m"."""
        return self.low != self.high


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
    "US_liquid_pint": "us pt|us pint|us pints",
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
_SPELLINGS: dict[str, list[str]] = {}
for _name, _spelled in _TRADE.items():
    for _key in _spelled.split("|"):
        _SPELLINGS.setdefault(_key, []).append(_name)

# A percentage may say what it is a percentage of; it is taken only where that is what is wanted.
_BASIS = {
    "vol %": "vol %|vol%|% vol|%vol|% v/v|%v/v|% by volume|percent by volume|vol percent",
    "mass %": "mass %|mass%|% mass|%mass|% m/m|%m/m|wt %|wt%|% wt|%wt|% w/w|% by mass|% by weight|percent by mass",
}
_BASES = {key: basis for basis, spelled in _BASIS.items() for key in spelled.split("|")}

_ASK = {
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


def _parsed(units: str) -> Any:
    """One of these units; unlike a pint unit it may hold a factor, as in 1e-6/K."""
    reg = registry()
    if units in ("degC", "degF"):
        return reg.Quantity(1.0, units)
    return reg.Quantity(reg.parse_expression(units))


@functools.cache
def _kind_of(units: str) -> str:
    """A word for the dimension; angle and percent are told apart though both are dimensionless."""
    quantity = _parsed(units)
    if quantity.dimensionless:
        names = str(quantity.units)
        if any(word in names for word in ("degree", "turn", "radian", "arc")):
            return "an angle"
        return "a percentage" if "percent" in names else "a pure number"
    dimension = quantity.dimensionality
    for word, example in _WHAT.items():
        if _parsed(example).dimensionality == dimension:
            return word
    return f"a value in {quantity.units:~P}"


def _kind_or_none(units: str) -> str | None:
    try:
        return _kind_of(units)
    except Exception:  # noqa: BLE001 -- pint raises many kinds; all mean "not a unit at all"
        return None


@functools.cache
def _factor(units: str, wanted: str, si: float) -> tuple[float, float] | None:
    """(factor, offset) that turn a number in `units` into SI, if it is what `wanted` is."""
    if units == pint_name(wanted) and wanted not in ("K", "degC"):
        return si, 0.0  # the wanted unit itself: pint, whose import takes a quarter of a second, is not asked
    reg = registry()
    difference = wanted == "K"
    if difference and units in ("degC", "degF"):  # a rise of 80 °C is a rise of 80 K
        units = "delta_" + units
    try:
        if units in ("degC", "degF", "kelvin") and wanted in ("degC",):
            zero = reg.Quantity(0.0, units).to("kelvin").magnitude
            return reg.Quantity(1.0, units).to("kelvin").magnitude - zero, zero
        if _kind_of(units) != _kind_of("kelvin" if wanted in ("degC", "K") else pint_name(wanted)):
            return None
        target = wanted if wanted != "K" else "kelvin" if units == "kelvin" else "delta_degC"
        return float((_parsed(units) / _parsed(pint_name(target))).to("dimensionless").magnitude) * si, 0.0
    except Exception:  # noqa: BLE001 -- pint raises many kinds; all mean "not a unit I know"
        return None


def pint_name(name: str) -> str:
    """Our unit names as pint spells them."""
    if name in ("%", ""):
        return "percent" if name else "dimensionless"
    return {"uin": "microinch", "1e-6/K": "1e-6/K"}.get(name, name)


_SAFE_UNIT = re.compile(r"[A-Za-zµΩ°%()0-9*/^._ ²³-]{1,40}")
_BIG_POWER = re.compile(r"(\*\*|\^)\s*-?\d{2,}|(\*\*|\^).*(\*\*|\^)")
# The numbers that a unit may hold: a power, and what is in front of a reciprocal.
_ITS_NUMBERS = re.compile(r"(\*\*|\^)\s*[+-]?\d+|(?<=[^\W\d_])\d+|^(1|(1\s*)?e[-−]6)\s*/")


def _refuse_second_number(typed: str) -> None:
    """Two values in one box, or a calculation, would be taken for a product."""
    if re.search(r"\d", _ITS_NUMBERS.sub("", typed)):
        raise Unreadable(f'"{_clip(typed)}" contains a second number; type one value and its unit')


def _as_pint(typed: str) -> str:
    """A unit as pint spells it: kg/m³ and kg/m3 have a power."""
    plain = typed.replace("μ", "µ").replace("·", "*").replace("²", "**2").replace("³", "**3")
    return re.sub(r"(?<=[A-Za-z])([23])(?![A-Za-z0-9])", r"**\1", plain)


def _resolve(typed: str, wanted: Unit) -> tuple[str, float, float]:
    """Find what a typed unit means; raise Unreadable with what to type instead."""
    _refuse_second_number(typed)
    key = re.sub(r"[\s·⋅∙•.*\-‐‑_]+", " ", typed.replace("μ", "µ")).strip().lower()
    plain = re.sub(r"\s*([/^()])\s*", r"\1", key)
    if key in _ASK and wanted.name in ("L", "cm**3", "mL", "N", "kN", "mm", "um", "uin", "in", "m"):
        a, b = _ASK[key]
        raise Unreadable(f'"{typed}" can mean two sizes; say which: {a} or {b}')
    if wanted.name == "%" and key in _BASES:
        if _BASES[key] != wanted.text:
            asked = wanted.text if wanted.text in _BASIS else "a bare percentage"
            raise Unreadable(f'"{_clip(typed)}" is {_BASES[key]}; enter {asked}')
        return "percent", wanted.si, 0.0
    names = [*_SPELLINGS.get(key, []), *_SPELLINGS.get(plain, [])]
    # "mpa" is never millipascal in a workshop, so the trade's spelling goes first, pint last.
    if _SAFE_UNIT.fullmatch(typed) and not _BIG_POWER.search(typed):
        names.append(_as_pint(typed))
    other = None
    for name in names:
        found = _factor(name, wanted.name, wanted.si)
        if found is not None:
            return name, *found
        other = other or _kind_or_none(name)
    want = "a temperature" if wanted.name in ("degC", "K") else _kind_of(pint_name(wanted.name))
    if other and other != want:
        raise Unreadable(f'"{_clip(typed)}" is {other}; enter {want}')
    raise Unreadable(f'"{_clip(typed)}" is not a recognised unit; enter {want}')


def _clip(text: str, most: int = 40) -> str:
    text = "".join(c if c.isprintable() else "·" for c in text)
    return text if len(text) <= most else text[:most] + "…"


_NUMBER = r"(?>[+\-]?(?:\d+ \d+/\d+|\d+/\d+|\d+(?:[.,]\d+)*(?:[eE][+\-]?\d+)?|[.,]\d+(?:[eE][+\-]?\d+)?))"
_RANGE = re.compile(
    rf"(?P<a>{_NUMBER})\s*(?P<ua>[^\d±–—+\-]*?)\s*(?:–|—|\bto\b|…|\.\.\.?|-)\s*(?P<b>{_NUMBER})\s*(?P<u>[^\d].*)?"
)
_TOLERANCE = re.compile(rf"(?P<a>{_NUMBER})\s*(?P<ua>[^\d±]*?)\s*(?:±|\+/?-)\s*(?P<b>{_NUMBER})\s*(?P<u>.*)")
_SINGLE = re.compile(rf"(?P<a>{_NUMBER})\s*(?P<u>.*)", re.DOTALL)
_PLAIN = re.compile(r"(-?\d{1,12}(?:\.\d{1,12})?) ?([A-Za-zµ]{1,5})")
_resolve_plain = functools.lru_cache(maxsize=1024)(_resolve)
_VULGAR = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "⅛": " 1/8", "⅙": " 1/6"}


def read_number(typed: str) -> float:
    """A number alone: decimal point or comma, fraction, exponent.  A grouped form is asked about."""
    text = typed.strip().replace("−", "-")
    if re.fullmatch(r"[+\-]?\d{1,3}(\u202f\d{3})+([.,]\d+)?", text):  # as this program prints it
        text = text.replace("\u202f", "")
    bare = text.lstrip("+-")
    sign = text[: len(text) - len(bare)]
    if re.fullmatch(r"[1-9]\d{0,2}(,\d{3})+", bare) or len(re.findall(r"[.,]", bare)) > 1:
        small, big = bare.replace(",", ".", 1), re.sub(r"[.,]", "", bare)
        if re.fullmatch(r"[1-9]\d{0,2}(,\d{3})+", bare) and bare.count(",") == 1:
            raise Unreadable(f'"{_clip(typed)}" can be read two ways; type {sign}{small} or {sign}{big}')
        raise Unreadable(f'"{_clip(typed)}" has grouped digits; type it without grouping, such as 1234.5')
    if re.fullmatch(r"(\d+ )?\d+/\d+", bare):
        whole, _, fraction = bare.rpartition(" ")
        top, bottom = fraction.split("/")
        if int(bottom) == 0:
            raise Unreadable(f'"{_clip(typed)}" divides by zero')
        value = (int(whole) if whole else 0) + int(top) / int(bottom)
        return -value if sign == "-" else value
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        raise Unreadable(f'"{_clip(typed)}" is not a number') from None
    if not math.isfinite(value):
        raise Unreadable(f'"{_clip(typed)}" is not a number that can be measured')
    return value


def as_text(typed: str | int | float) -> str:
    """A text, or a number as text; raises Unreadable for a whole number that no text box can hold."""
    if isinstance(typed, int) and typed.bit_length() > 4 * LONGEST_ENTRY:  # str() refuses thousands of digits
        raise Unreadable("the number has too many digits")
    return str(typed)


def tidy(typed: object) -> str:
    """The typed text with look-alike signs replaced; raises Unreadable for what is not short text."""
    if isinstance(typed, bool) or not isinstance(typed, str | int | float):
        raise Unreadable("enter text")
    text = as_text(typed)
    if len(text) > LONGEST_ENTRY:
        raise Unreadable(f"{len(text)} characters is too long for one value")
    for sign, spelled in _VULGAR.items():
        text = text.replace(sign, spelled)
    for space in "\u00a0\u2007\u2009\u200a\u2002\u2003\t":
        text = text.replace(space, " ")
    text = text.replace("−", "-").strip()
    if any(not c.isprintable() and c != "\u202f" for c in text):
        raise Unreadable("contains invisible characters; type it again")
    if not text:
        raise Unreadable("is empty")
    return re.sub(r"(?<=\d)\u202f(?=\d{3})", "", text).replace("\u202f", " ")


def read(typed: object, wanted: Unit, *, band: bool = False) -> Reading:
    """Read a quantity such as ``"48 N·m"``, ``"0,08 mm"``, ``"37–43 Nm"`` or ``"40 Nm ±4 %"``.

    ``wanted`` tells the dimension; the value comes back in SI.  ``band=False`` refuses ranges.
    Raises :class:`Unreadable` saying what is wrong; the caller adds the field and an example.
    """
    if wanted.name and isinstance(typed, str) and (plain := _PLAIN.fullmatch(typed)):  # long tables hold nothing else
        name, factor, offset = _resolve_plain(plain[2], wanted)
        value = float(plain[1]) * factor + offset
        return Reading(typed, value, value, value, name)
    text = tidy(typed)
    low = high = None
    if not wanted.name:  # a ratio as people write it: 9.2:1
        text = re.sub(r"\s*:\s*1$", "", text)
    if match := _TOLERANCE.fullmatch(text):
        low_high = _read_tolerance(match, wanted)
    elif match := _RANGE.fullmatch(text):
        low_high = _read_range(match, wanted)
    else:
        match = _SINGLE.fullmatch(text)
        if not match:
            raise Unreadable(f'"{_clip(text)}" does not start with a number')
        if not wanted.name and match["u"].strip() == "%":  # a strain or a share as people say it
            value, name = read_number(match["a"]) / 100, "percent"
        else:
            value, name = _read_single(match["a"], match["u"], wanted, text)
        return Reading(str(typed), value, value, value, name)
    low, high, name = low_high
    if not band:
        raise Unreadable(f'"{_clip(text)}" is a range; enter one value')
    return Reading(str(typed), (low + high) / 2, low, high, name)


def read_sum(typed: object, wanted: Unit) -> Reading:
    """A stack such as ``"0.05 + 0.03 mm"``: each term listed, the value their sum.  A lone term serves too.

    A term without a unit takes that of the last one.
    """
    text = tidy(typed)
    terms = re.split(r"(?<![eE\s])\s*\+\s*(?=[\d.,])", text)
    last = _SINGLE.fullmatch(terms[-1])
    unit = last["u"] if last else ""
    total = 0.0
    for term in terms:
        total += read(f"{term} {unit}" if re.fullmatch(_NUMBER, term) else term, wanted).value
    return Reading(str(typed), total, total, total, wanted.name)


def _read_single(number: str, typed_unit: str, wanted: Unit, text: str) -> tuple[float, str]:
    if re.match(r"\d", typed_unit) and not typed_unit.startswith(("1/", "1e-6/")):
        raise Unreadable(f'"{_clip(text)}" has a gap in the number; type it without the space')
    value = read_number(number)
    if not typed_unit.strip():
        if wanted.name:
            raise Unreadable(f'"{_clip(text)}" has no unit')
        return value, ""
    if not wanted.name:
        raise Unreadable(f'"{_clip(text)}" has a unit; enter the number without a unit')
    unit_text = typed_unit.strip()
    name, factor, offset = _resolve("1" + unit_text if unit_text.startswith("/") else unit_text, wanted)
    return value * factor + offset, name


def _read_range(match: re.Match[str], wanted: Unit) -> tuple[float, float, str]:
    units = (match["u"] or match["ua"] or "").strip()
    first, name = _read_single(match["a"], match["ua"] or units, wanted, match[0])
    last, name = _read_single(match["b"], units, wanted, match[0])
    if first > last:
        raise Unreadable(f'"{_clip(match[0])}" runs backwards; type the smaller value first')
    return first, last, name


def _read_tolerance(match: re.Match[str], wanted: Unit) -> tuple[float, float, str]:
    units = (match["ua"] or match["u"]).strip()
    middle, name = _read_single(match["a"], units, wanted, match[0])
    spread_unit = match["u"].strip()
    if spread_unit == "%" and wanted.name != "%":
        half = abs(middle) * abs(read_number(match["b"])) / 100
    else:
        # a tolerance is a difference, so a temperature's zero does not count
        origin = _read_single("0", spread_unit or units, wanted, match[0])[0]
        half = abs(_read_single(match["b"], spread_unit or units, wanted, match[0])[0] - origin)
    return middle - half, middle + half, name


def read_any(typed: object) -> tuple[float, str, float]:
    """A quantity of any dimension: (SI value, unit as pint spells it, SI size of one of that unit).

    For pairs and measurements whose kind is not known beforehand.  Spellings that mean two things are
    taken as the trade does (Nm a torque); a bare number and a bare "gal" are asked about.
    """
    text = tidy(typed)
    match = _SINGLE.fullmatch(text)
    if not match:
        raise Unreadable(f'"{_clip(text)}" does not start with a number')
    unit_text = match["u"].strip()
    if not unit_text:
        raise Unreadable(f'"{_clip(text)}" has no unit')
    factor, offset, kind = _any_unit(unit_text)
    return read_number(match["a"]) * factor + offset, kind, factor


@functools.lru_cache(maxsize=512)
def _any_unit(typed: str) -> tuple[float, float, str]:
    """(factor, offset, base units) that turn a number in a unit of any dimension into SI."""
    key = re.sub(r"[\s·⋅∙•.*\-‐‑_]+", " ", typed.replace("μ", "µ")).strip().lower()
    if key in _ASK:
        a, b = _ASK[key]
        raise Unreadable(f'"{_clip(typed)}" can mean two sizes; say which: {a} or {b}')
    _refuse_second_number(typed)
    for name in (*_SPELLINGS.get(key, []), _as_pint(typed)):
        if name in ("degC", "degF"):
            factor, offset = _factor(name, "degC", 1.0) or (1.0, 0.0)
            return factor, offset, "kelvin"
        if _SAFE_UNIT.fullmatch(name) and not _BIG_POWER.search(name) and _kind_or_none(name):
            one_of_it = _parsed(name).to_base_units()
            return float(one_of_it.magnitude), 0.0, str(one_of_it.units)
    raise Unreadable(f'"{_clip(typed)}" is not a recognised unit')


def read_date(typed: object) -> str:
    """A date as ISO text; day and month are never guessed.  TOML dates are taken as they are."""
    if isinstance(typed, datetime.datetime | datetime.date):
        return typed.isoformat()
    text = tidy(typed)
    try:
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError:
        possible = _possible_dates(text)
    if possible:
        words = " or ".join(f"{d.day} {d:%B %Y}" for d in possible)
        raise Unreadable(f"Which date is it: {words}? Type {' or '.join(d.isoformat() for d in possible)}")
    raise Unreadable(f'"{_clip(text)}" is not a date; type year-month-day, such as 2026-11-25')


def _possible_dates(text: str) -> list[datetime.date]:
    """The dates that day/month/year or month/day/year can mean: they are offered, never taken."""
    match = re.fullmatch(r"(\d{1,2})\s*[./-]\s*(\d{1,2})\s*[./-]\s*(\d{4}|\d{2})", text)
    if match is None:
        return []
    a, b, year = (int(n) for n in match.groups())
    year += 2000 if year < 100 else 0
    found = []
    for day, month in dict.fromkeys(((a, b), (b, a))):
        try:
            found.append(datetime.date(year, month, day))
        except ValueError:
            continue
    return found
