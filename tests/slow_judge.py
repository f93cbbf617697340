"""A slow judge, written apart from the package: every true value that the readings allow is looked at by itself.

Numbers are fractions, so a value at the limit is at the limit.  ``CASES`` random inputs per test; SHOPLIB_CASES=1000
in the environment asks for more.
"""

import itertools
import os
from fractions import Fraction

from tests import ci_part

CASES = int(os.environ.get("SHOPLIB_CASES", "200" if ci_part.ALL else "100"))
ORDER = ("fail", "undecided", "no limit given", "pass")
TINY = Fraction(1, 10**9)


def differential(*workings):
    """Marks a test that compares the outcomes of these workings with those of a slow judge."""

    def mark(test):
        test.differential = workings
        return test

    return mark


def exact(typed):
    """The number of "0.08 mm" or "1/16 in" in millimetres (or in its own unit), and half of its last digit."""
    number, _, unit = typed.strip().rpartition(" ")
    size = {"mm": Fraction(1), "in": Fraction("25.4"), "um": Fraction(1, 1000)}.get(unit, Fraction(1))
    whole, slash, bottom = number.partition("/")
    if slash:
        return Fraction(int(whole), int(bottom)) * size, Fraction(1, 2 * int(bottom)) * size
    decimals = len(number.partition(".")[2])
    return Fraction(number) * size, Fraction(1, 2 * 10**decimals) * size


def allowed(value, sign, bound):
    """Whether one true value keeps the limit."""
    return {"≤": value <= bound, "<": value < bound, "≥": value >= bound, ">": value > bound}[sign]


def judged(values, sign, bound, at_limit=None, source=True, missing=False):
    """The outcome for all the true values that there may be.

    ``at_limit``: "allowed", "not allowed", or None where nobody typed it: then both are tried.
    """
    signs = {"allowed": [sign], "not allowed": [sign.translate(str.maketrans("≤≥", "<>"))]}.get(
        at_limit, [sign, sign.translate(str.maketrans("≤≥", "<>"))]
    )
    found = {allowed(v, s, bound) for v in values for s in signs}
    if found == {False}:
        return "fail"
    if found == {True, False} or missing:
        return "undecided"
    return "pass" if source else "no limit given"


def around(x, half, *also):
    """True values of a reading: its ends, the middle, and what of ``also`` lies between."""
    low, high = x - half, x + half
    return [low, x, high, *(v for v in also if low <= v <= high)]


def together(outcomes):
    """The worst of several."""
    return min(outcomes, key=ORDER.index, default=None)


def furthest(function, boxes):
    """The most by which the value moves while each argument stays in its box: the ends, the middle, and every mix."""
    middle = function(**{name: x for name, (x, _) in boxes.items()})
    mixes = itertools.product(*[(x - half, x, x + half) if half else (x,) for x, half in boxes.values()])
    return middle, max(abs(function(**dict(zip(boxes, mix, strict=True))) - middle) for mix in mixes)
