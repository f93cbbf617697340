"""Units: how a value is shown, and reading what people type.

A :class:`Unit` is a label with an SI factor.  Formulas carry units only as annotations
(``d: mm``) and always see plain SI numbers.  What a typed unit
means stands in :mod:`shoplib.core.unit_names`.

Parameters that have one meaning in all functions:

- ``typed``: as it was typed
"""

from __future__ import annotations

import functools
import math
import re
from dataclasses import dataclass
from typing import Annotated, Any, TypeAlias

from shoplib.core.errors import ShoplibError
from shoplib.core.rounding import round_half_up, round_to_place, without_further_zeros, without_zeros
from shoplib.core.unit_names import (
    BASES,
    BASIS,
    SPELLINGS,
    TWO_SIZES,
    as_pint,
    base_of,
    factor_to_si,
    kind_of,
    kind_or_none,
    may_be_parsed,
    pint_name,
)  # fmt: skip

LONGEST_ENTRY = 200  # characters; longer than any honest quantity


@dataclass(frozen=True)
class Unit:
    """A unit as shown: ``si`` times the shown number (plus ``offset``) is the SI value."""

    name: str  # pint-readable, and what --json reports
    si: float = 1.0
    text: str = ""  # what the screen and the sheet show
    offset: float = 0.0  # kelvin, for degrees Celsius only

    def __hash__(self) -> int:
        return hash(self.name)  # asked for at every reading

    def to_si(self, shown: Any) -> Any:
        """SI value of a number shown in this unit.

        :param shown: in this unit; a number or an array
        """
        return shown * self.si + self.offset

    def from_si(self, value: Any) -> Any:
        """Number to show in this unit for an SI value.

        :param value: in SI; a number or an array
        """
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
joule: TypeAlias = Annotated[Any, Unit("J", 1.0, "J")]
N_m_per_deg: TypeAlias = Annotated[Any, Unit("N*m/degree", 57.29577951308232, "N·m/°")]


def unit_of(annotation: Any) -> Unit:
    """The Unit inside one of the annotations above.

    :param annotation: such as ``mm`` or ``N_m``
    :raises TypeError: the annotation holds no unit
    """
    for item in getattr(annotation, "__metadata__", ()):
        if isinstance(item, Unit):
            return item
    raise TypeError(f"{annotation!r} has no Unit; annotate it with one from shoplib.core.units")


def difference(unit: Unit) -> Unit:
    """The unit of a difference of two such values: kelvin for degrees Celsius, else the same.

    :param unit: of the two values
    """
    return unit_of(kelvin) if unit.offset else unit


# ------------------------------------------------------------------------------ showing numbers
_SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


@functools.lru_cache(maxsize=4096)  # most of the numbers of a form stay the same at a keystroke
def show_number(x: float | None, digits: int = 4) -> str:
    """A number as people write it: true minus, grouped from five digits on, never "nan".

    :param x: in the unit that is shown; None is told as "not known"
    :param digits: significant digits
    """
    if x is None or math.isnan(x):
        return "not known"
    if math.isinf(x):
        return "unbounded"
    if x == 0:
        return "0"
    if (plain := _plainly(x, digits)) is not None:
        return plain
    rounded = round_half_up(x, digits)
    exponent = rounded.adjusted()
    if not -4 < exponent < 7:
        mantissa = f"{rounded.scaleb(-exponent):.{digits - 1}f}"
        return f"{mantissa}×10{str(exponent).translate(_SUPERSCRIPT)}".replace("-", "−")
    whole, dot, rest = f"{rounded:.{max(digits - 1 - exponent, 0)}f}".partition(".")
    if abs(rounded) >= 10_000:
        whole = f"{int(whole):,}".replace(",", "\u202f")
    return f"{whole}{dot}{rest}".replace("-", "−")


def _plainly(x: float, digits: int) -> str | None:
    """The same by the quick way of Python, where that rounds alike; None at a half and where digits become zeros."""
    exact, rounded = f"{x:.14e}", f"{x:.{digits - 1}e}"
    mantissa, exponent = exact.lstrip("-")[:16].replace(".", ""), int(rounded.partition("e")[2])
    if not (-4 < exponent < 4 and exponent < digits < 15) or mantissa[digits:].rstrip("0") == "5":
        return None
    text = f"{x:.{digits - 1 - exponent}f}"
    return f"−{text[1:]}" if x < 0 else text


def show(value: float | None, unit: Unit, digits: int = 4) -> str:
    """An SI value in its unit, as text: ``show(48.0, unit_of(N_m)) == "48.00 N·m"``.

    :param value: in SI; None is told as "not known"
    :param unit: in which it is shown
    :param digits: significant digits
    """
    if value is None:
        return "not known"
    return _with_unit(show_number(unit.from_si(value), digits), unit)


def show_short(value: float, unit: Unit) -> str:
    """An SI value in its unit, without the zeros at its end: a limit as it is declared, ``"1 mm"``.

    :param value: in SI
    :param unit: in which it is shown
    """
    return without_zeros(show(value, unit, 9))


def show_to_place(value: float, unit: Unit, last: int, zeros: int | None = None) -> str:
    """An SI value in its unit, to the place 10^``last``; without the zeros at its end beyond the place ``zeros``.

    :param value: in SI
    :param unit: in which values are shown
    :param last: a power of ten: −1 for tenths
    :param zeros: the last place where a zero is shown; None: ``last``
    """
    shown = unit.from_si(value)
    if not math.isfinite(shown):
        return show(value, unit)
    rounded, decimals = round_to_place(shown, last), max(-last, 0)
    if 1e-3 <= abs(rounded) < 1e4 and decimals < 12:  # neither grouped nor with a power of ten
        number = f"{rounded:.{decimals}f}".replace("-", "−")
    else:
        exponent = int(f"{rounded:.14e}".partition("e")[2])
        number = show_number(rounded, min(exponent - last + 1, 15))
    if zeros is not None and number[-1] == "0":
        number = without_further_zeros(number, max(-zeros, 0))
    return _with_unit(number, unit)


def _with_unit(number: str, unit: Unit) -> str:
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


# The numbers that a unit may hold: a power, and what is in front of a reciprocal.
_ITS_NUMBERS = re.compile(r"(\*\*|\^)\s*[+-]?\d+|(?<=[^\W\d_])\d+|^(1|(1\s*)?e[-−]6)\s*/")


def _refuse_second_number(typed: str) -> None:
    """Two values in one box, or a calculation, would be taken for a product."""
    if re.search(r"\d", _ITS_NUMBERS.sub("", typed)):
        raise Unreadable(f'"{clip(typed)}" contains a second number; type one value and its unit')


def _resolve(typed: str, wanted: Unit) -> tuple[str, float, float]:
    """Find what a typed unit means; raise Unreadable with what to type instead."""
    _refuse_second_number(typed)
    key = re.sub(r"[\s·⋅∙•.*\-‐‑_]+", " ", typed.replace("μ", "µ")).strip().lower()
    plain = re.sub(r"\s*([/^()])\s*", r"\1", key)
    if key in TWO_SIZES and wanted.name in ("L", "cm**3", "mL", "N", "kN", "mm", "um", "uin", "in", "m"):
        a, b = TWO_SIZES[key]
        raise Unreadable(f'"{typed}" can mean two sizes; say which: {a} or {b}')
    if wanted.name == "%" and key in BASES:
        if BASES[key] != wanted.text:
            asked = wanted.text if wanted.text in BASIS else "a bare percentage"
            raise Unreadable(f'"{clip(typed)}" is {BASES[key]}; enter {asked}')
        return "percent", wanted.si, 0.0
    names = [*SPELLINGS.get(key, []), *SPELLINGS.get(plain, [])]
    # "mpa" is never millipascal in a workshop, so the trade's spelling goes first, pint last.
    if may_be_parsed(typed):
        names.append(as_pint(typed))
    other = None
    for name in names:
        found = factor_to_si(name, wanted.name, wanted.si)
        if found is not None:
            return name, *found
        other = other or kind_or_none(name)
    want = "a temperature" if wanted.name in ("degC", "K") else kind_of(pint_name(wanted.name))
    if other and other != want:
        raise Unreadable(f'"{clip(typed)}" is {other}; enter {want}')
    raise Unreadable(f'"{clip(typed)}" is not a recognised unit; enter {want}')


def clip(text: str, most: int = 40) -> str:
    """What was typed, short enough and safe for a message.

    :param text: as it was typed
    :param most: characters at most
    """
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
    """A number alone: decimal point or comma, fraction, exponent.  A grouped form is asked about.

    :raises Unreadable: not a number, or a grouped form that has two meanings
    """
    text = typed.strip().replace("−", "-")
    if re.fullmatch(r"[+\-]?\d{1,3}(\u202f\d{3})+([.,]\d+)?", text):  # as this program prints it
        text = text.replace("\u202f", "")
    bare = text.lstrip("+-")
    sign = text[: len(text) - len(bare)]
    if re.fullmatch(r"[1-9]\d{0,2}(,\d{3})+", bare) or len(re.findall(r"[.,]", bare)) > 1:
        small, big = bare.replace(",", "."), re.sub(r"[.,]", "", bare)
        if re.fullmatch(r"[1-9]\d{0,2}(,\d{3})+", bare) and bare.count(",") == 1:
            raise Unreadable(f'"{clip(typed)}" can be read two ways; type {sign}{small} or {sign}{big}')
        raise Unreadable(f'"{clip(typed)}" has grouped digits; type it without grouping, such as 1234.5')
    if re.fullmatch(r"(\d+ )?\d+/\d+", bare):
        whole, _, fraction = bare.rpartition(" ")
        top, bottom = fraction.split("/")
        if int(bottom) == 0:
            raise Unreadable(f'"{clip(typed)}" divides by zero')
        value = (int(whole) if whole else 0) + int(top) / int(bottom)
        return -value if sign == "-" else value
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        raise Unreadable(f'"{clip(typed)}" is not a number') from None
    if not math.isfinite(value):
        raise Unreadable(f'"{clip(typed)}" is not a number that can be measured')
    return value


def as_text(typed: str | int | float) -> str:
    """A text, or a number as text; raises Unreadable for a number that is none, or that no text box can hold.

    :param typed: a text or a number
    """
    if isinstance(typed, int) and typed.bit_length() > 4 * LONGEST_ENTRY:  # str() refuses thousands of digits
        raise Unreadable("the number has too many digits")
    if isinstance(typed, float) and not math.isfinite(typed):
        raise Unreadable(f"{typed} is no number")
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

    :param typed: what a person typed; text, or a number where a bare number is meant
    :param wanted: a unit of the dimension that is asked for
    :param band: whether a range or a tolerance may be typed
    :returns: the value and its limits; in SI
    :raises Unreadable: what is wrong; the caller adds the field and an example
    """
    if wanted.name and isinstance(typed, str) and (plain := _PLAIN.fullmatch(typed)):  # long tables hold nothing else
        name, factor, offset = _resolve_plain(plain[2], wanted)
        value = float(plain[1]) * factor + offset
        return Reading(typed, value, value, value, name)
    return _read_again(typed, wanted, band) if isinstance(typed, str) else _read(typed, wanted, band)


def _read(typed: object, wanted: Unit, band: bool) -> Reading:
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
            raise Unreadable(f'"{clip(text)}" does not start with a number')
        if not wanted.name and match["u"].strip() == "%":  # a strain or a share as people say it
            value, name = read_number(match["a"]) / 100, "percent"
        else:
            value, name = _read_single(match["a"], match["u"], wanted, text)
        return Reading(str(typed), value, value, value, name)
    low, high, name = low_high
    if not band:
        raise Unreadable(f'"{clip(text)}" is a range; enter one value')
    return Reading(str(typed), (low + high) / 2, low, high, name)


_read_again = functools.lru_cache(maxsize=4096)(_read)  # a keystroke changes one input; the others are read again


def read_sum(typed: object, wanted: Unit) -> Reading:
    """A stack such as ``"0.05 + 0.03 mm"``: each term listed, the value their sum.  A lone term serves too.

    A term without a unit takes that of the last one.

    :param wanted: the unit of a term without one, and the dimension of all
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
        raise Unreadable(f'"{clip(text)}" has a gap in the number; type it without the space')
    value = read_number(number)
    if not typed_unit.strip():
        if wanted.name:
            raise Unreadable(f'"{clip(text)}" has no unit')
        return value, ""
    if not wanted.name:
        raise Unreadable(f'"{clip(text)}" has a unit; enter the number without a unit')
    unit_text = typed_unit.strip()
    name, factor, offset = _resolve("1" + unit_text if unit_text.startswith("/") else unit_text, wanted)
    return value * factor + offset, name


def _read_range(match: re.Match[str], wanted: Unit) -> tuple[float, float, str]:
    units = (match["u"] or match["ua"] or "").strip()
    first, name = _read_single(match["a"], match["ua"] or units, wanted, match[0])
    last, name = _read_single(match["b"], units, wanted, match[0])
    if first > last:
        raise Unreadable(f'"{clip(match[0])}" runs backwards; type the smaller value first')
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

    :raises Unreadable: no number, or a unit that is missing, unknown or ambiguous
    """
    text = tidy(typed)
    match = _SINGLE.fullmatch(text)
    if not match:
        raise Unreadable(f'"{clip(text)}" does not start with a number')
    unit_text = match["u"].strip()
    if not unit_text:
        raise Unreadable(f'"{clip(text)}" has no unit')
    factor, offset, kind = _any_unit(unit_text)
    return read_number(match["a"]) * factor + offset, kind, factor


@functools.lru_cache(maxsize=512)
def _any_unit(typed: str) -> tuple[float, float, str]:
    """(factor, offset, base units) that turn a number in a unit of any dimension into SI."""
    key = re.sub(r"[\s·⋅∙•.*\-‐‑_]+", " ", typed.replace("μ", "µ")).strip().lower()
    if key in TWO_SIZES:
        a, b = TWO_SIZES[key]
        raise Unreadable(f'"{clip(typed)}" can mean two sizes; say which: {a} or {b}')
    _refuse_second_number(typed)
    for name in (*SPELLINGS.get(key, []), as_pint(typed)):
        if name in ("degC", "degF"):
            found = factor_to_si(name, "degC", 1.0)
            assert found is not None  # both are temperatures
            return (*found, "kelvin")
        if may_be_parsed(name) and kind_or_none(name):
            size, base = base_of(name)
            return size, 0.0, base
    raise Unreadable(f'"{clip(typed)}" is not a recognised unit')
