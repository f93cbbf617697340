"""Verdicts: a value against its limit, judged at its worst and by the evidence that there is.

Every check of every working goes through :func:`decide`.  Three things widen a value before it is judged:

- a *range* that was typed (friction 0.10 to 0.16, a torque of 37 to 43 N·m): each value in it may occur, so the worst
  one counts.  :func:`corners` finds it.
- the *uncertainty* of a reading: the true value is somewhere around it, so the check passes or fails only when all of
  those values do, and is undecided otherwise (ISO 14253-1).
- *missing evidence*: too few readings can prove a fail, never a pass.
"""

from __future__ import annotations

import enum
import functools
import itertools
import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Protocol

from shoplib.core.outcome_labels import outcome_label
from shoplib.core.rounding import compare, round_half_up, round_to_place, without_zeros
from shoplib.core.units import Unit, show, show_to_place


class Outcome(enum.StrEnum):
    """What a check says.  Together: fail > undecided > no limit given > pass."""

    FAIL = "fail"
    UNDECIDED = "undecided"
    NO_LIMIT = "no limit given"
    PASS = "pass"  # noqa: S105 -- not a password


def worst(outcomes: Iterable[Outcome]) -> Outcome | None:
    """The outcome of several together, None when there is none.

    :param outcomes: any number of them; those that are None are passed over
    """
    order = list(Outcome)
    return min(outcomes, key=order.index, default=None)


class Rule(enum.StrEnum):
    """How the uncertainty of a reading is used (code; ``RULES`` has the words)."""

    GUARD_BANDS = "iso_14253_1"
    SIMPLE = "simple_acceptance"
    WORST_CASE = "worst_case"  # no reading: the worst value of the ranges that were typed
    NONE = ""


NO_LIMIT = "no limit was given"  # the remark of a check whose outcome says the same
UNSOURCED = "within the limit typed, but a limit without a source does not count as given: type the source"

RULES = {
    Rule.GUARD_BANDS: "ISO 14253-1: pass or fail only when the uncertainty leaves no doubt",
    Rule.SIMPLE: "simple acceptance: the reading is compared as it is, without its uncertainty",
    Rule.WORST_CASE: "worst case of the ranges typed",
    Rule.NONE: "",
}


class Origin(enum.StrEnum):
    """Where an uncertainty comes from (code; ``ORIGINS`` has the words)."""

    CERTIFICATE = "certificate"
    RESOLUTION = "resolution"
    DIGITS = "digits"
    LEAVES = "leaves"
    COMBINED = "combined"


GAP_ENDS = {" smallest possible gap": "gap {} or more", " gap below": "gap below {}"}  # of a label of a check

ORIGINS = {
    Origin.CERTIFICATE: "from the instrument's certificate",
    Origin.RESOLUTION: "half the instrument's resolution",
    Origin.DIGITS: "half a unit in the last digit of each value typed",
    Origin.LEAVES: "from the leaf tolerance",
    Origin.COMBINED: "calculated from the uncertainty of the readings",
}


@dataclass(frozen=True)
class Uncertainty:
    """The half-width, in SI, of the interval around a reading that holds the true value; and where it comes from."""

    half_width: float
    origin: Origin = Origin.COMBINED

    def times(self, factor: float) -> Uncertainty:
        """The uncertainty of the reading multiplied by a constant.

        :param factor: a pure number
        """
        return replace(self, half_width=abs(factor) * self.half_width)


def added(*parts: Uncertainty) -> Uncertainty:
    """The uncertainty of a sum or difference of readings, at its worst: the half-widths add up.

    :param parts: their uncertainties; in one unit
    """
    origins = {p.origin for p in parts}
    origin = origins.pop() if len(parts) == 1 else Origin.COMBINED
    return Uncertainty(math.fsum(p.half_width for p in parts), origin)


# ------------------------------------------------------------------------------ corners
@dataclass(frozen=True)
class Corner:
    """An extreme value of a function, and the arguments at which it occurs (SI)."""

    value: float
    at: Mapping[str, float]


def corners(function: Callable[..., Any], /, **ranges: tuple[float, float]) -> tuple[Corner, Corner]:
    """The lowest and the highest value of a function over ranges of its arguments.

    It is evaluated at every combination of their ends.  That finds the extremes when the function rises or falls
    along each argument while the others stay fixed; which way may depend on the others.  The property tests confirm
    it for each use by dense sampling.

    :param function: takes the arguments by keyword, in SI, and returns one number
    :param ranges: for each argument its least and its largest value; in SI
    :returns: the corner with the lowest value, and the one with the highest
    """
    names = list(ranges)
    found = []
    for ends in itertools.product(*(dict.fromkeys(ranges[n]) for n in names)):
        at = dict(zip(names, map(float, ends), strict=True))
        found.append(Corner(float(function(**at)), at))
    return min(found, key=lambda c: c.value), max(found, key=lambda c: c.value)


# ------------------------------------------------------------------------------ the judge
def decide(low: float, high: float, comparison: str, bound: float, *, at_limit: bool | None = None) -> Outcome:
    """Pass, fail or undecided for a true value between ``low`` and ``high``.

    :param low: the least that the value can be; in SI, may be infinite
    :param high: the most that it can be; in SI, may be infinite
    :param comparison: one of ``≤ < ≥ >``
    :param bound: the limit; in SI
    :param at_limit: whether the limit itself is allowed, where that was asked; None takes it from the comparison
    """
    upper = comparison in "≤<"
    allowed = comparison in "≤≥" if at_limit is None else at_limit
    near, far = (low, high) if upper else (-high, -low)  # near is the end that is safest
    limit = bound if upper else -bound
    most = 0 if allowed else -1
    first, second = abs(low), abs(high)  # the size of the terms of its ends
    size = max(first if first < math.inf else 0.0, second if second < math.inf else 0.0)
    if compare(far, limit, size) <= most:
        return Outcome.PASS
    if compare(near, limit, size) > most:
        return Outcome.FAIL
    return Outcome.UNDECIDED


# ------------------------------------------------------------------------------ a check in words
_MUST = {
    "≤": "must be at most",
    "<": "must be below",
    "≥": "must be at least",
    ">": "must be above",
    "must be": "must be",
    "calibration": "calibration",  # "used 2026-11-20, calibration due 2027-03-01"
    "agree": "must agree",
    "never": "must not be",
    "none": "none allowed",
    "never pass": "its cause must be found",
    "one grade fits": "exactly one grade must fit",
    "state": "",
    "": "",
}


def demand(comparison: str, limit: str) -> str:
    """What a check asks for: ``≥`` and ``80 %`` are "must be at least 80 %"; "" where it asks for nothing.

    :param comparison: a sign such as ≥, or a word of the list above
    :param limit: as it is shown, with its unit
    """
    must = _MUST.get(comparison, f"must be {comparison}")
    return f"{must} {limit}".strip() if must and (limit or comparison not in "≤<≥>") else ""


def in_words(label: str, found: str, asked: str, source: str | None) -> str:
    """A check as a sentence: "Lowest over highest: 65.7 %, must be at least 80 % [page 8]".

    The one wording of forms, sheets, open points and the job's story.  ``asked`` is what :func:`demand` says.
    Feeler leaves show a bound of a gap, not the gap: "Line 2: gap below 0.06 mm, must be at most 0.08 mm".

    :param label: of the check
    :param found: the value found, as it is shown
    :param asked: what is asked for, in words; empty where there is no limit
    :param source: of the limit; None where there is none
    """
    told = gap_label(label)
    if told:
        label, found = told[0], told[1].format(found)
    label = re.sub(r"^Line “", "Straightedge line “", label)  # not a line of the record
    return f"{label}: {', '.join(x for x in (found, asked) if x)}" + (f" [{source}]" if source else "")


def gap_label(label: str) -> tuple[str, str] | None:
    """The label of a check of a gap without its end, and the words around the reading; None for any other check.

    :param label: of the check
    """
    for end, words in GAP_ENDS.items():
        for separator in ",:":
            if label.endswith(separator + end):
                return label.removesuffix(separator + end), words
    return None


# ------------------------------------------------------------------------------ values and checks
class Digits(Protocol):
    """What knows how many digits a value may show (:class:`shoplib.core.shown_digits.Readings`)."""

    def place(self, value: float, unit: Unit, digits: int, half_width: float | None = None) -> tuple[int, int]:
        """The last digit that is shown, as a power of ten, and the last that is shown when it is a zero.

        :param value: in SI
        :param unit: in which values are shown
        :param digits: significant digits where nothing else decides
        :param half_width: the uncertainty, in SI; None where it is not known
        """


@dataclass(frozen=True)
class Value:
    """A result.  A number or list of numbers in SI with its unit; text and yes/no have none."""

    value: Any
    unit: Unit | None
    label: str
    digits: int = 4
    readings: Digits | None = field(default=None, compare=False, repr=False)  # None: all digits declared are shown
    half_width: float | None = None  # its uncertainty, SI

    def to_json(self) -> dict[str, Any]:
        """value and unit, as shown."""
        if self.unit is None:
            if self.is_table:
                return {"value": [{k: v.to_json() for k, v in row.items()} for row in self.value], "unit": None}
            return {"value": self.value, "unit": None}
        if isinstance(self.value, list | tuple):
            shown = [None if v is None else _float(self.unit.from_si(v)) for v in self.value]
            return {"value": shown, "unit": self.unit.name}
        return {"value": _float(None if self.value is None else self.unit.from_si(self.value)), "unit": self.unit.name}

    @property
    def shown(self) -> str:
        """As people read it."""
        if self.value is None:
            return "not known"
        if self.unit is None:
            return ("; ".join(map(_word, self.value)) or "none") if isinstance(self.value, list) else _word(self.value)
        if isinstance(self.value, list | tuple):
            return "; ".join(self._numbers(self.value, self.unit))
        return self._numbers([self.value], self.unit)[0]

    def _numbers(self, values: Sequence[float | None], unit: Unit) -> list[str]:
        """The numbers as people read them; those of a list keep their zeros alike: "40.0; 81.1"."""
        readings = self.readings
        if readings is None:
            return [show(v, unit, self.digits) for v in values]
        if len(values) == 1 and values[0] is not None:
            return [show_to_place(values[0], unit, *readings.place(values[0], unit, self.digits, self.half_width))]
        ends = {v: readings.place(v, unit, self.digits, self.half_width) for v in values if v is not None}
        zeros = min((place for _, place in ends.values()), default=0)
        return [show(v, unit) if v is None else show_to_place(v, unit, ends[v][0], zeros) for v in values]

    def ends(self, unit: Unit, half_width: float | None = None) -> tuple[int, int | None]:
        """The last digit that is shown, as a power of ten, and the last that is shown when it is a zero.

        :param unit: in which it is shown
        :param half_width: the uncertainty, in SI; None where it is not known
        """
        if self.readings is not None:
            return self.readings.place(self.value, unit, self.digits, half_width)
        shown = unit.from_si(self.value)
        return round_half_up(shown, self.digits).adjusted() + 1 - self.digits if shown else 0, None

    def supported(self, readings: Digits) -> Value:
        """This value, or this table of values, shown with no more digits than the readings support.

        :param readings: what was typed into the run
        """
        if not self.is_table:
            return Value(self.value, self.unit, self.label, self.digits, readings, self.half_width)
        rows = [{k: v.supported(readings) for k, v in row.items()} for row in self.value]
        return replace(self, value=rows, readings=readings)

    @property
    def is_table(self) -> bool:
        """True for a list of records, each a dict of Values."""
        return isinstance(self.value, list) and bool(self.value) and isinstance(self.value[0], dict)

    def as_lines(self) -> list[str]:
        """On one line, or one line a row for a table."""
        if not self.is_table:
            return [f"{self.label}: {self.shown}"]
        return [f"{self.label}:"] + ["    " + ", ".join(f"{v.label} {v.shown}" for v in r.values()) for r in self.value]


def _word(x: Any) -> str:
    return ("yes" if x else "no") if isinstance(x, bool) else str(x)


def _float(x: Any) -> Any:
    return x if x is None or isinstance(x, bool | int) else float(x)


MOST_FINER = 8  # further digits to show on which side of its limit a value lies


@dataclass(frozen=True)
class Check:
    """A value against a limit, with where the limit came from, the uncertainty used and the rule of the decision."""

    label: str
    found: Value
    limit: Value | None
    comparison: str  # ≤ < ≥ > within, agree, …
    limit_source: str | None
    outcome: Outcome
    remark: str = ""
    uncertainty: Value | None = None  # half-width around the found value
    uncertainty_origin: Origin | None = None
    rule: Rule = Rule.NONE
    corner: Mapping[str, Value] = field(default_factory=dict)  # input → its value at the worst corner

    @functools.cached_property
    def _texts(self) -> tuple[str, str, str]:
        """The value found, the limit and the uncertainty, with enough digits to see why the outcome is what it is."""
        found, limit, spread = self.found, self.limit, self.uncertainty
        numbers = [v.value for v in (found, limit) if v is not None]
        unit = found.unit
        judged = limit is not None and all(type(x) in (int, float) and math.isfinite(x) for x in numbers)
        if not judged or unit is None or limit is None or limit.unit is None:
            return found.shown, limit.shown if limit else "", spread.shown if spread else ""
        ends, its_ends = found.ends(unit, spread.value if spread else None), limit.ends(unit)
        finer = next((k for k in range(MOST_FINER) if self._tells(unit, ends[0] - k, its_ends[0] - k, k)), MOST_FINER)
        return (
            show_to_place(found.value, unit, ends[0] - finer, ends[1]),
            show_to_place(limit.value, unit, its_ends[0] - finer, its_ends[1]),
            replace(spread, digits=spread.digits + finer).shown if spread else "",
        )

    def _tells(self, unit: Unit, last: int, its_last: int, finer: int) -> bool:
        """Whether the rounded numbers are on the same sides of the rounded limit as the numbers themselves."""
        assert self.limit is not None
        half = rounded_half = 0.0
        if self.uncertainty is not None and self.uncertainty.unit is not None and self.rule is Rule.GUARD_BANDS:
            half = self.uncertainty.unit.from_si(self.uncertainty.value)
            rounded_half = float(round_half_up(half, self.uncertainty.digits + finer))
        exact, limit = unit.from_si(self.found.value), unit.from_si(self.limit.value)
        rounded, rounded_limit = round_to_place(exact, last), round_to_place(limit, its_last)
        return all(
            compare(exact + sign * half, limit) == compare(rounded + sign * rounded_half, rounded_limit)
            for sign in (-1, 0, 1)
        )

    @property
    def shown(self) -> tuple[str, str]:
        """The value found and the limit ("" without one), as people read them."""
        return self._texts[:2]

    @property
    def told(self) -> tuple[str, str]:
        """What was found, and what is asked for in words: "65.7 %", "must be at least 80 %"."""
        found, limit = self.shown
        if self.found.unit is not None and self.found.readings is None:
            found = without_zeros(found)
        if self.limit is not None and self.limit.unit is not None and self.limit.readings is None:
            limit = without_zeros(limit)
        return found, demand(self.comparison, limit)

    @property
    def sentence(self) -> str:
        """What was found, what is asked for, and from where."""
        return in_words(self.label, *self.told, self.limit_source)

    @property
    def spread(self) -> str:
        """The uncertainty as people read it, "±0.4 %"; "" where none is known."""
        return f"±{self._texts[2]}" if self.uncertainty is not None else ""

    @property
    def basis(self) -> str:
        """The uncertainty, the worst corner and the decision rule, in words; "" where none of them was used."""
        said = []
        if self.corner:
            at = ", ".join(f"{v.label} {v.shown}" for v in self.corner.values())
            said.append(f"{RULES[Rule.WORST_CASE]}: {at}")
        if self.uncertainty is not None and self.uncertainty_origin is not None:
            said.append(f"uncertainty {self.spread}, {ORIGINS[self.uncertainty_origin]}")
        if RULES[self.rule] and not (self.corner and self.rule is Rule.WORST_CASE):
            said.append(RULES[self.rule])
        return "; ".join(said)

    def as_line(self) -> str:
        """On one line: the sentence, the outcome, the remark and the basis."""
        more = "; ".join(x for x in (self.remark, self.basis) if x and x != NO_LIMIT)
        return f"{self.sentence} → {outcome_label(self.outcome)}" + (f" ({more})" if more else "")

    def to_json(self) -> dict[str, Any]:
        """As the command line prints it."""
        return {
            "label": self.label,
            "found": self.found.to_json(),
            "limit": self.limit.to_json() if self.limit else None,
            "comparison": self.comparison,
            "limit_source": self.limit_source,
            "outcome": str(self.outcome),
            "remark": self.remark,
            "uncertainty": self.uncertainty.to_json() if self.uncertainty else None,
            "uncertainty_origin": str(self.uncertainty_origin) if self.uncertainty_origin else None,
            "decision_rule": str(self.rule) or None,
            "worst_corner": {name: value.to_json() for name, value in self.corner.items()},
        }
