"""What a run writes on: steps, results, checks, assumptions, cautions and refusals."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple, ParamSpec, cast, get_type_hints

from shoplib.core import rounding
from shoplib.core.checks import NO_LIMIT, UNSOURCED, Check, Origin, Outcome, Rule, Uncertainty, Value, decide
from shoplib.core.errors import BadInput, Problem
from shoplib.core.fields import ALLOWED, PURE
from shoplib.core.formula import Line, latex, text, worked
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import NOISE
from shoplib.core.shown_digits import Readings, spread_of
from shoplib.core.units import Unit, difference, unit_of

if TYPE_CHECKING:
    from shoplib.core.working import Working


P = ParamSpec("P")


# ------------------------------------------------------------------------------ steps
class Heading(NamedTuple):
    """The heading of a step, where it needs a note or other digits than four."""

    title: str
    note: str = ""
    digits: int = 4


@dataclass(frozen=True)
class Step:
    """A formula with its numbers; the printed lines are made only when somebody looks."""

    title: str
    fn: Callable[..., Any]
    arguments: Mapping[str, float]
    note: str = ""
    digits: int = 4

    def lines(self) -> list[Line]:
        """symbol = formula = numbers = result."""
        return worked(self.fn, digits=self.digits, **self.arguments)

    def to_json(self) -> dict[str, Any]:
        """Title, source and each line as text and LaTeX with its value."""
        return {
            "title": self.title,
            "note": self.note,
            "source": self.fn.source,  # type: ignore[attr-defined] # set by @formula
            "lines": [
                {
                    "text": " = ".join(map(text, [line.symbol, *line.chain])),
                    "latex": " = ".join(map(latex, [line.symbol, *line.chain])),
                    "value": line.unit.from_si(line.value),
                    "unit": line.unit.name,
                }
                for line in self.lines()
            ],
        }


# ------------------------------------------------------------------------------ the worksheet and the result
class Worksheet:
    """What a run writes on: steps, results, checks, assumptions, cautions; and refusals."""

    def __init__(self, working: Working, inputs: Inputs) -> None:
        self.working, self.inputs = working, inputs
        self.steps: list[Step] = []
        self.values: dict[str, Value] = {}
        self.checks: list[Check] = []
        self.assumptions: list[str] = []
        self.cautions: list[str] = list(working.cautions)
        self.plot_data: dict[str, Any] = {}  # arrays for the figure; never in the record
        self.refused: list[Problem] = []
        self.readings = Readings(inputs)
        self._settings: list[Value] = []

    # -- refusing
    def refuse(self, field: str, why: str, example: str = "") -> None:
        """Note a bad field; :meth:`raise_refusals` raises when all have been looked at.

        :param field: name of the input; a cell of a table is ``traces[2].bolt``, an item of a list ``readings[3]``
        :param why: what is wrong, as the rest of a sentence that begins with the field
        :param example: what to type; without it the example of the field
        """
        table, _, column = field.partition("].")
        known = self.working.field(table.partition("[")[0])
        if known and column:  # "grades[4].name": what to type is said by the column
            known = next((c for c in known.columns if c.name == column.partition("[")[0]), known)
        elif known and known.item and "[" in field:
            known = known.item
        self.refused.append(Problem(field, why, example or (known.to_type if known else "")))

    def raise_refusals(self) -> None:
        """Raise BadInput if anything was refused."""
        if self.refused:
            raise BadInput(self.refused)

    # -- showing
    def show(self, title: str | Heading, fn: Callable[P, Any], /) -> Callable[P, Any]:
        """A formula that is kept to be printed when it is called, by keyword in SI: see :meth:`step`.

        A part of a run whose value is wanted at other inputs too takes this as a parameter, ``show``: there
        :func:`shoplib.core.carried.only_value` takes its place.

        :param title: what the step works out; a :class:`Heading` has a note and a number of digits as well
        :param fn: a function marked with ``@formula``
        :raises TypeError: called by position
        """

        def shown(*args: P.args, **si: P.kwargs) -> Any:
            if args:
                raise TypeError(f"{title}: a formula is called by keyword")
            values = cast(dict[str, float], si)
            if isinstance(title, Heading):
                self.steps.append(Step(title.title, fn, values, title.note, title.digits))
            else:
                self.steps.append(Step(title, fn, values))
            return denoised(fn, fn(*args, **si), values)

        return shown

    def step(self, title: str | Heading, fn: Callable[P, Any], /, *args: P.args, **si: P.kwargs) -> Any:
        """Evaluate a formula, called by keyword in SI, and keep it to be printed.

        :param title: what the step works out; a :class:`Heading` has a note and a number of digits as well
        :param fn: a function marked with ``@formula``
        :param args: not allowed
        :param si: its parameters, each by keyword; in SI, single values or arrays
        :returns: the value of the formula; in SI, zero where it is noise only
        :raises TypeError: called by position
        """
        return self.show(title, fn)(*args, **si)

    def result(
        self, name: str, value: Any, unit: Any = None, label: str = "", digits: int = 4, *, all_digits: bool = False
    ) -> Any:
        """Keep a result under its public name.

        :param name: as ``--json``, the record and exercises call it; it never changes without an entry in CHANGELOG.md
        :param value: in SI; a list, a table of Values, text or None as well
        :param unit: in which it is shown: an annotation such as kN; None for text and for yes or no
        :param label: in words, as forms and sheets print it; without it the name
        :param digits: significant digits that are shown at most
        :param all_digits: show all of them
        :returns: the value

        It is shown with no more digits than the readings support; with ``all_digits`` with those declared: a number to
        set, to print at true scale or to rely on, which was rounded where it was made.
        """
        if hasattr(value, "tolist"):
            value = value.tolist()
        shown_by = None if all_digits else self.readings
        kept = Value(value, None if unit is None else unit_of(unit), label or name.replace("_", " "), digits, shown_by)
        self.values[name] = kept.supported(self.readings) if shown_by and kept.is_table else kept
        return value

    def shown(self, value: float, unit: Unit, digits: int = 4) -> str:
        """A value inside a sentence, with the digits that the readings support.

        :param value: in SI
        :param unit: in which values are shown
        :param digits: significant digits at most
        """
        return Value(value, unit, "", digits, self.readings).shown

    def set_with(self, digits: int, unit: Any, *values: float) -> None:
        """Show these values, which a tool is set to, with as many digits wherever they are judged.

        :param digits: significant digits
        :param unit: an annotation such as N_m
        :param values: in SI
        """
        self._settings += [Value(v, unit_of(unit), "", digits) for v in values]

    def results(self) -> dict[str, Value]:
        """The results; one that was judged is shown with the digits that its uncertainty supports."""
        half = {(c.found.value, c.found.unit): c.uncertainty.value for c in self.checks if c.uncertainty is not None}
        return {
            name: replace(v, half_width=half[v.value, v.unit])
            if isinstance(v.value, float) and (v.value, v.unit) in half
            else v
            for name, v in self.values.items()
        }

    def assume(self, statement: str) -> None:
        """Something taken as true that nobody typed.

        :param statement: a sentence
        """
        if statement not in self.assumptions:
            self.assumptions.append(statement)

    def caution(self, statement: str) -> None:
        """A caution that depends on the inputs.

        :param statement: a sentence that begins with the condition or the command
        """
        if statement not in self.cautions:
            self.cautions.append(statement)

    # -- judging
    def check(
        self,
        label: str,
        found: float | None,
        comparison: str,
        bound: float | None,
        unit: Any,
        source: str | None,
        *,
        remark: str = "",
        digits: int = 4,
        uncertainty: Uncertainty | None = None,
        between: tuple[float, float] | None = None,
        corner: Mapping[str, float | Value] | None = None,
        missing: str = "",
        otherwise: Mapping[str, Sequence[float]] | None = None,
        as_typed: tuple[str, str] | None = None,
        geometry: bool = False,
    ) -> Outcome:
        """Compare in SI with ``≤ < ≥ >``, and keep the check.

        :param label: of the check, as forms and sheets print it
        :param found: the value, already at the worst corner of what was typed as a range; None: not measured
        :param comparison: one of ``≤ < ≥ >``
        :param bound: the limit; in SI, None where nobody gave one
        :param unit: an annotation such as kN
        :param source: of the limit; None where nobody gave it
        :param remark: beside the outcome; empty for none
        :param digits: significant digits, one or more
        :param uncertainty: of a reading.  With it the decision follows ISO 14253-1, or simple acceptance where
            ``decision_rule`` was typed so
        :param between: the least and the most that the value can be, where that is no band of equal width to both
            sides; it takes the place of the uncertainty (see :meth:`counted`)
        :param corner: input → SI value (or a Value in words) at which ``found`` occurs, when ranges were typed
        :param missing: what else must be known before this can pass; a fail stays a fail
        :param otherwise: for each input that was left at its default: the values that ``found`` has when that input is
            something else.  No values: it could be anything.  A default that decides leaves the check undecided
        :param as_typed: the value and the limit as they were typed, to be shown in place of the converted ones
        :param geometry: no source sets this bound; what was typed of the source's own rules does not touch it

        A limit without a source can fail, never pass.
        """
        rule, undecided = self._rule(uncertainty, corner, geometry), []
        if bound is None:
            outcome, remark = Outcome.NO_LIMIT, remark or NO_LIMIT
            uncertainty, rule = None, Rule.NONE
        elif found is None:
            outcome, remark = Outcome.UNDECIDED, remark or "not measured"
        else:
            half = self.counted(uncertainty, geometry)
            low, high = between or (found - half, found + half)
            outcome, comparison = self.decided(low, high, comparison, bound, geometry)
            if outcome is Outcome.UNDECIDED:
                undecided.append(self._why_undecided(found, (high - low) / 2, comparison, bound))
            for name in self._deciding(outcome, half, comparison, bound, otherwise or {}, geometry):
                outcome = Outcome.UNDECIDED
                undecided.append(f"the outcome depends on {self.label(name)}, which was not typed: type it")
            if missing and outcome is Outcome.PASS:
                outcome = Outcome.UNDECIDED
            if missing and outcome is Outcome.UNDECIDED:
                undecided.append(missing)
            if outcome is Outcome.PASS and not source:
                outcome = Outcome.NO_LIMIT
                undecided.append(UNSOURCED)
            if outcome is Outcome.FAIL and not source:
                undecided.append("source missing")
            remark = "; ".join(x for x in (remark, *undecided) if x)
        shown, its_limit = as_typed or (found, bound)
        self.judge(
            label, shown, comparison, its_limit, unit, source, outcome, remark, digits,
            uncertainty=uncertainty, rule=rule, corner=corner,
        )  # fmt: skip
        return outcome

    def _rule(
        self, uncertainty: Uncertainty | None, corner: Mapping[str, float | Value] | None, geometry: bool
    ) -> Rule:
        if uncertainty is not None:
            simple = (
                not geometry and self.working.field("decision_rule") and self.inputs["decision_rule"] == Rule.SIMPLE
            )
            return Rule.SIMPLE if simple else Rule.GUARD_BANDS
        return Rule.WORST_CASE if corner else Rule.NONE

    def counted(self, uncertainty: Uncertainty | None, geometry: bool = False) -> float:
        """The half-width that counts: none under simple acceptance.

        :param uncertainty: of the value; None where it is not known
        :param geometry: whether it is a range of possible positions, which counts under every rule
        """
        rule = self._rule(uncertainty, None, geometry)
        return uncertainty.half_width if uncertainty and rule is Rule.GUARD_BANDS else 0.0

    def decided(
        self, low: float, high: float, comparison: str, bound: float, geometry: bool = False
    ) -> tuple[Outcome, str]:
        """The outcome, and the comparison as it was used.  One that nobody typed decides nothing at the limit.

        :param low: the least that the value can be; in SI
        :param high: the most that it can be; in SI
        :param comparison: one of ``≤ < ≥ >``
        :param bound: the limit; in SI
        :param geometry: whether it is a range of possible positions, which counts under every rule
        """
        if geometry or self.working.field("at_limit") is None:
            return decide(low, high, comparison, bound), comparison
        typed = self.inputs["at_limit"]
        either = [
            decide(low, high, comparison, bound, at_limit=allowed)
            for allowed in (True, False)
            if typed is None or allowed == (typed == ALLOWED)
        ]
        if typed is not None:
            plain = {"≤": "<", "≥": ">"}.get(comparison, comparison)
            comparison = {"<": "≤", ">": "≥"}[plain] if typed == ALLOWED else plain
        return (either[0] if len(set(either)) == 1 else Outcome.UNDECIDED), comparison

    def _deciding(
        self,
        outcome: Outcome,
        half: float,
        comparison: str,
        bound: float,
        otherwise: Mapping[str, Sequence[float]],
        geometry: bool,
    ) -> list[str]:
        """The inputs at their defaults with which this outcome stands or falls."""
        if outcome is Outcome.UNDECIDED:
            return []
        return [
            name
            for name, values in otherwise.items()
            if not self.inputs.typed(name)
            and (
                not values
                or any(self.decided(v - half, v + half, comparison, bound, geometry)[0] is not outcome for v in values)
            )
        ]

    def _why_undecided(self, found: float, half: float, comparison: str, bound: float) -> str:
        if half:
            less = "measure with less uncertainty" if abs(found - bound) > NOISE * half else "it lies at the limit"
            return f"the uncertainty reaches past the limit: {less}"
        return f"it lies at the limit: type whether the limit itself is allowed ({self.label('at_limit')})"

    def label(self, name: str) -> str:
        """An input as a message names it.

        :param name: of the input
        """
        declared = self.working.field(name)
        return f"“{declared.label}”" if declared else name

    def judge(
        self,
        label: str,
        found: Any,
        comparison: str,
        bound: Any,
        unit: Any,
        source: str | None,
        outcome: Outcome,
        remark: str = "",
        digits: int = 4,
        *,
        uncertainty: Uncertainty | None = None,
        rule: Rule = Rule.NONE,
        corner: Mapping[str, float | Value] | None = None,
    ) -> None:
        """Keep a check whose outcome was decided by its own rule (a bracket, a word).

        :param label: what was checked, in words
        :param found: the value in SI, or text as it was typed
        :param comparison: ``≤ < ≥ >``, or the word with which the two are compared
        :param bound: the limit, in SI or text; None: none was given
        :param unit: in which both are shown; None for text
        :param source: of the limit: document, edition, page; None: not known
        :param outcome: as the rule decided it
        :param remark: beside the outcome; empty for none
        :param digits: significant digits, one or more
        :param uncertainty: of the value found; None where it is not known or has no meaning
        :param rule: by which the uncertainty was used
        :param corner: input to its value at the worst corner; in SI
        """
        u = None if unit is None else unit_of(unit)
        its_unit = None if isinstance(found, str) else u  # text as it was typed holds its own unit
        kept = Value(bound, its_unit, "limit", digits, self.readings) if bound is not None else None
        spread = None if uncertainty is None or u is None else spread_of(uncertainty.half_width, difference(u))
        at = {name: self._at(name, value) for name, value in (corner or {}).items()}
        value = self._as_its_result(Value(found, its_unit, label, digits, self.readings))
        origin = uncertainty.origin if uncertainty and spread else None
        self.checks.append(Check(label, value, kept, comparison, source, outcome, remark, spread, origin, rule, at))

    def _as_its_result(self, found: Value) -> Value:
        """With all its digits, where the result that is judged is shown so."""
        shown = (*self.values.values(), *self._settings)
        same = (v for v in shown if v.readings is None and v.unit == found.unit is not None)
        result = next((v for v in same if type(v.value) is float and v.value == found.value), None)
        return found if result is None else replace(result, label=found.label)

    def _at(self, name: str, value: float | Value) -> Value:
        if isinstance(value, Value):
            return value
        declared = self.working.field(name)
        return (
            Value(value, declared.unit, declared.label, 3, self.readings)
            if declared
            else Value(value, PURE, name.replace("_", " "), 3)
        )

    # -- the uncertainty of what was read
    def uncertainty(self, name: str, item: int | None = None, column: str = "") -> Uncertainty:
        """Of the reading typed in an input (or its ``item``, counted from 0, and ``column``).

        From the instrument's certificate or its resolution, whichever is more, where they were typed; else half the
        last digit typed.  An expanded uncertainty is taken to coverage factor 2, as ISO 14253-1 does by default.

        :param name: of the input
        :param item: of a list or table, counted from 0
        :param column: of a table
        """
        parts = []
        if self.working.field("expanded_uncertainty") and self.inputs.given("expanded_uncertainty"):
            k = self.inputs["coverage_factor"] or 2.0
            parts.append(Uncertainty(self.inputs["expanded_uncertainty"] * 2.0 / k, Origin.CERTIFICATE))
        if self.working.field("resolution") and self.inputs.given("resolution"):
            parts.append(Uncertainty(self.inputs["resolution"] / 2, Origin.RESOLUTION))
        parts = parts or [Uncertainty(self.inputs.half_digit(name, item, column), Origin.DIGITS)]
        return max(parts, key=lambda u: u.half_width)


def denoised(fn: Callable[..., Any], value: Any, arguments: Mapping[str, float]) -> Any:
    """The value of a formula; zero when it is only the floating-point noise of arguments of its own dimension.

    :param fn: a function marked with ``@formula``
    :param value: of the formula; in SI, a number or an array
    :param arguments: those that it was called with; in SI
    """
    if not isinstance(value, float):
        return value
    return rounding.without_noise(value, *[arguments[n] for n in terms_of(fn) if n in arguments])


@functools.cache
def terms_of(fn: Callable[..., Any]) -> tuple[str, ...]:
    """The arguments of a formula that have the unit of its result.

    :param fn: a function marked with ``@formula``
    """
    hints = get_type_hints(fn, include_extras=True)
    wanted = unit_of(hints.pop("return")).name
    return tuple(n for n, hint in hints.items() if unit_of(hint).name == wanted)
