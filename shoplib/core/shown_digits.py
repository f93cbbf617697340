"""How many digits a shown value has: as many as its readings and its uncertainty support, and no more.

One rule for forms, sheets and the command line:

1. A value that equals one that was typed is shown with the digits that were typed: 0.10 mm stays 0.10 mm.
2. A value with an uncertainty ends at the last digit of that uncertainty, which has one or two digits.
3. A length from lengths, a pressure from pressures, and so on, ends at the finest place of those that were typed and
   are not far smaller than the value.  It keeps at least two significant digits.  One further place is shown where the
   value ends there exactly: the mean of 89 and 90 is 89.5.
4. Any other value has three significant digits, or the fewer that were declared.  One that is exact without its last
   zeros is shown without them: 93° and not 93.0°.

JSON, records and comparisons have the full numbers.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from shoplib.core import rounding
from shoplib.core.checks import Value
from shoplib.core.fields import Field
from shoplib.core.inputs import Inputs, half_digit_in_si
from shoplib.core.units import Reading, Unit, Unreadable

MOST = 3  # significant digits of a value that no reading of its own kind limits
LEAST_OF_A_KIND = 2  # significant digits of a difference of readings
NEAR = 0.1  # a reading smaller than this part of the value says nothing about the value's last digit
MOST_READINGS = 200  # of a long list


class _Typed(NamedTuple):
    value: float  # SI; a temperature from its own zero
    step: float  # one unit of its last digit, SI


class Place(NamedTuple):
    """The last digit that is shown, as a power of ten, and the last that is shown when it is a zero."""

    last: int
    zeros: int


class Readings:
    """What was typed into a run, as far as it decides how many digits its values have."""

    def __init__(self, inputs: Inputs) -> None:
        self._inputs = inputs

    @functools.cached_property
    def _by_kind(self) -> Mapping[str, list[_Typed]]:
        found: dict[str, list[_Typed]] = {}
        for declared, typed, value in self._typed():
            if isinstance(value, Reading):
                typed, values = value.as_entered, {value.low, value.value, value.high}
            else:
                values = {float(value)}
            try:
                step = 2.0 * half_digit_in_si(str(typed), declared.unit)
            except Unreadable:
                continue
            if step > 0:
                kind = found.setdefault(_kind(declared.unit), [])
                kind += [_Typed(v - declared.unit.offset, step) for v in values]
        return found

    def _typed(self) -> Iterator[tuple[Field, Any, Any]]:
        """Each quantity and number that was typed: its declaration, the text, the value."""
        inputs = self._inputs
        for name, declared in ((f.name, f) for f in inputs.declared):
            value = inputs[name]
            if value is None or not inputs.typed(name):
                continue
            if declared.item is not None:
                pairs = zip(inputs.typed_items(name), value, strict=True)
                cells: Iterator[tuple[Field, Any, Any]] = (
                    (declared.item, t, v) for t, v in itertools.islice(pairs, MOST_READINGS)
                )
            elif declared.kind == "table":
                rows = itertools.islice(zip(inputs.typed_rows(name), value, strict=True), MOST_READINGS)
                cells = ((c, t.get(c.name), v.get(c.name)) for t, v in rows for c in declared.columns)
            else:
                cells = iter([(declared, inputs.as_entered[name], value)])
            yield from (
                (f, t, v)
                for f, t, v in cells
                if f.kind in ("quantity", "number") and t is not None and isinstance(v, int | float | Reading)
            )

    def place(self, value: float, unit: Unit, digits: int, half_width: float | None = None) -> Place:
        """Where a value ends, in its unit; ``half_width``: its uncertainty, SI.

        :param value: in SI
        :param unit: in which values are shown
        :param digits: significant digits where no reading decides
        :param half_width: its uncertainty, in SI; None where it is not known
        """
        size, shown = value - unit.offset, unit.from_si(value)
        same_kind = self._by_kind.get(_kind(unit), [])
        if alike := [t.step for t in same_kind if rounding.same(t.value, size)]:
            step = min(alike) / unit.si
            last = _exponent(step)
            if rounding.same(step, 10.0**last) and rounding.same(shown, rounding.round_to_place(shown, last)):
                return Place(last, last)
            last = min(last, _exponent(shown) + 2 - MOST) - 1
            return Place(last, last)  # typed in another unit, or the end of a band in per cent
        if not shown or not math.isfinite(shown):
            return Place(0, 0)
        first = _exponent(shown)
        if half_width:
            last = uncertain_place(half_width / unit.si)
            return Place(last, last)
        near = [t.step for t in same_kind if abs(t.value) >= NEAR * abs(size)] if _kind(unit) else []
        if not near:
            last = first + 1 - (min(digits, MOST) if self._by_kind else digits)
            exact = rounding.same(shown, rounding.round_to_place(shown, last))
            return Place(last, 0 if exact else last)
        finest = _exponent(min(near) / unit.si)
        finest = max(finest, first - rounding.MOST_DIGITS)
        ends = finest - 1 if rounding.same(shown, rounding.round_to_place(shown, finest - 1)) else finest
        return Place(min(ends, first + 1 - LEAST_OF_A_KIND), finest)


_FAMILIES = (
    ("", "%"), ("m", "mm", "um", "uin", "in"), ("mm**3", "cm**3", "L"), ("N", "kN"),
    ("N*m", "lbf*ft", "lbf*in", "kgf*m"), ("Pa", "kPa", "bar", "MPa", "GPa", "N/mm**2"), ("rad", "deg", "turn"),
    ("K", "degC"), ("1/K", "1e-6/K"), ("min", "s"),
)  # fmt: skip
_KIND = {name: family[0] for family in _FAMILIES for name in family}  # pint knows them too, but its import is slow


def _kind(unit: Unit) -> str:
    """What a unit measures; "" for a pure number and a percentage, which may come from anything."""
    return _KIND.get(unit.name, unit.name)


def _exponent(x: float) -> int:
    """The place of the first digit, as a power of ten; what is a power of ten but for noise counts as that."""
    exact = math.log10(abs(x))
    return round(exact) if abs(exact - round(exact)) < rounding.SAME else math.floor(exact)


def uncertain_place(half_width: float) -> int:
    """The place of the last digit of an uncertainty: of two digits up to 3.5, of one above; a zero is not shown.

    JCGM 100:2008, 7.2.6: at most two significant digits.  Where the second is dropped follows the rule of the
    Review of Particle Physics, Introduction, 5.3 (354 of 1000), from memory.

    :param half_width: in any unit, above zero
    """
    first = _exponent(half_width)
    last = first - 1 if half_width < 3.55 * 10.0**first else first
    ends_in_zero = rounding.round_to_place(half_width, last) == rounding.round_to_place(half_width, last + 1)
    return last + 1 if ends_in_zero else last


def spread_of(half_width: float, unit: Unit) -> Value:
    """An uncertainty, with the digits that it is shown with.

    :param half_width: in SI
    :param unit: in which it is shown
    """
    shown = unit.from_si(half_width)
    if not 0 < shown < math.inf:
        return Value(half_width, unit, "U", 1)
    return Value(half_width, unit, "U", max(_exponent(shown) - uncertain_place(shown) + 1, 1))
