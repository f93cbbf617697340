"""Equality, floating-point noise and printed digits: decided here and nowhere else.

Parameters that have one meaning in all functions:

- ``a``: a value; in any unit
- ``b``: the value it is compared with; in the same unit
- ``scale``: size of the terms from which one of them was taken as a difference; 0: none
"""

from __future__ import annotations

import math
import re
from decimal import ROUND_HALF_UP, Decimal

SAME = 1e-9  # relative: two values closer than this are one value
NOISE = 1e-12  # relative to the terms of a sum: less than this is no difference at all
MOST_DIGITS = 12


def compare(a: float, b: float, scale: float = 0.0) -> int:
    """−1, 0 or 1 as ``a`` is below, equal to or above ``b``.

    :param a: a value; in any unit
    :param b: the value it is compared with; in the same unit
    :param scale: size of the terms from which one of them was taken as a difference; 0: none

    Values are equal when they differ by less than one part in 10⁹ of the larger one, or of ``scale``: the size of
    the terms from which a difference was taken.
    """
    if a == b:
        return 0
    near = max(SAME * max(abs(a), abs(b)), NOISE * scale)
    if math.isfinite(near) and abs(a - b) <= near:  # unbounded is near to nothing
        return 0
    return -1 if a < b else 1


def same(a: float, b: float, scale: float = 0.0) -> bool:
    """Whether two values are one value."""
    return compare(a, b, scale) == 0


def at_most(a: float, b: float, scale: float = 0.0) -> bool:
    """Whether ``a`` is ``b`` or less; noise does not decide."""
    return compare(a, b, scale) <= 0


def below(a: float, b: float, scale: float = 0.0) -> bool:
    """Whether ``a`` is less than ``b`` by more than noise."""
    return compare(a, b, scale) < 0


def without_noise(value: float, *terms: float) -> float:
    """The value; zero when it is only the floating-point noise of these terms: 0.1 + 0.2 − 0.3 is 0.

    :param value: a sum or a difference; in any unit
    :param terms: of which it was made; in the same unit
    """
    size = max(map(abs, terms), default=0.0)
    return 0.0 if abs(value) <= NOISE * size else value


def total(*terms: float) -> float:
    """The sum of the terms, free of noise.

    :param terms: in one unit
    """
    return without_noise(math.fsum(terms), *terms)


def round_half_up(x: float, digits: int) -> Decimal:
    """``x`` to so many significant digits, as people round: 12.815 to four digits is 12.82.

    :param x: a finite number
    :param digits: significant digits, one or more
    :returns: the rounded number; a Decimal that keeps its zeros
    """
    exact = Decimal(f"{x:.14e}")  # the value that was meant: 12.815, not 12.81499999999999950
    if exact == 0:
        return Decimal(0)
    rounded = exact.quantize(Decimal(1).scaleb(exact.adjusted() - digits + 1), rounding=ROUND_HALF_UP)
    if rounded.adjusted() > exact.adjusted():  # 9.9996 to four digits is 10.00, not 10.000
        rounded = rounded.quantize(Decimal(1).scaleb(rounded.adjusted() - digits + 1))
    return rounded


def round_to_place(x: float, last: int) -> float:
    """``x`` to the place 10^``last``, as people round: 12.85 to tenths (−1) is 12.9.

    :param x: a finite number
    :param last: a power of ten: −1 for tenths
    """
    unit, quick = 10.0**last, round(x, -last)
    if abs(x) < 1e11 * unit and abs(x - quick) < 0.499 * unit:  # away from a half Python rounds alike
        return quick
    exact = Decimal(f"{x:.14e}")  # it ends there itself: further digits would be those of the binary number
    return float(exact.quantize(Decimal(1).scaleb(max(last, exact.adjusted() - 14)), rounding=ROUND_HALF_UP))


_NUMBER = re.compile(
    r"(?P<whole>\d+ )?(?P<top>\d+)/(?P<bottom>\d+)|\d+(?:[.,](?P<decimals>\d+))?(?:[eE](?P<power>[+\-]?\d+))?"
)


def half_digit(typed: str) -> float:
    """Half of the last digit of the first number in a text, in the number's own unit.

    A fraction is rounded to its own denominator: half of 1/16 is the half-width of ``3 5/16``.
    Zero when there is no number.

    :param typed: as it was typed
    """
    match = _NUMBER.search(typed)
    if match is None:
        return 0.0
    if match["bottom"]:
        return 0.5 / int(match["bottom"]) if int(match["bottom"]) else 0.0
    return float(0.5 * 10.0 ** (int(match["power"] or 0) - len(match["decimals"] or "")))


def without_zeros(shown: str) -> str:
    """A printed value without the zeros at its end, which nobody measured: 0.08000 mm is 0.08 mm.

    :param shown: as it is printed, with its unit
    """
    return re.sub(r"\.(\d*?)0+(?!\d)", lambda m: f".{m[1]}" if m[1] else "", shown)


_DECIMALS = re.compile(r"(?<=\d)[.,](\d+)")


def decimals(shown: str) -> int:
    """The most decimals of the numbers in a text.

    :param shown: as it is printed
    """
    return max(map(len, _DECIMALS.findall(shown)), default=0)


def without_further_zeros(shown: str, least: int) -> str:
    """A printed value without the zeros at its end beyond so many decimals: 0.220000 mm with two is 0.22 mm.

    A zero that no reading has tells of a precision that nobody had.

    :param shown: as it is printed, with its unit
    :param least: decimals that stay, zeros or not
    """

    def cut(found: re.Match[str]) -> str:
        kept = found[1][: max(least, len(found[1].rstrip("0")))]
        return found[0][0] + kept if kept else ""

    return shown if "×" in shown else _DECIMALS.sub(cut, shown)


def digits_to_tell(a: float, b: float, digits: int) -> int:
    """Significant digits with which two different values also look different; ``digits`` when they are one value.

    :param b: the value it must look different from; in the same unit
    :param digits: significant digits to begin with
    """
    further = abs(a - b) > 10.0 ** (1 - digits) * max(abs(a), abs(b))  # apart by more than the last digit
    if further or same(a, b):
        return digits
    while digits < MOST_DIGITS and round_half_up(a, digits) == round_half_up(b, digits):
        digits += 1
    return digits
