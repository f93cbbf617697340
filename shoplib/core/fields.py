"""One input of a working: how it is declared, read and checked.

Parameters that have one meaning in all functions:

- ``typed``: as it was typed
- ``name``: of the input
- ``label``: above the box in forms, and in sheets
- ``more``: further fields of the declaration, such as ``help`` or ``example``: see :class:`Field`
"""

from __future__ import annotations

import json
import operator
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, Literal, overload

from shoplib.core import rounding
from shoplib.core.checks import Rule
from shoplib.core.dates import read_date
from shoplib.core.errors import BadInput, Problem
from shoplib.core.plausibility import plausible_bounds
from shoplib.core.typed_text import json_list, plain_text, text_or_number, with_signs
from shoplib.core.units import Reading, Unit, Unreadable, read, read_sum, show, show_short, tidy, unit_of
from shoplib.core.units import one as _one

if TYPE_CHECKING:
    from typing import Self

    from typing_extensions import TypeVar

    from shoplib.core.trace_file import Trace

    T = TypeVar("T", default=Any)
else:
    from typing import TypeVar

    T = TypeVar("T")

PURE = unit_of(_one)
LONGEST_LIST = 200_000
MISSING = ("", "-", "–", "—", "not measured", "unreadable", "missing")


# ------------------------------------------------------------------------------ fields
@dataclass(frozen=True)
class Field(Generic[T]):
    """One input.  ``kind`` is quantity, number, integer, text, choice, date, boolean, list, table or trace.

    It is an attribute of a class of :class:`Inputs`: the class gives the declaration, the inputs of a run its value.
    """

    name: str
    kind: str
    label: str
    help: str = ""
    example: str = ""
    unit: Unit = PURE
    symbol: str = ""
    default: Any = None
    required: bool = True
    above: float | None = None  # physical range, in SI: value > above, and so on
    at_least: float | None = None
    below: float | None = None
    at_most: float | None = None
    band: bool = False  # a range or tolerance may be typed
    terms: bool = False  # a sum may be typed, term by term: "0.05 + 0.03 mm"; reads to a Reading
    states: tuple[str, ...] = ()  # words that may stand in place of the value; they read as themselves
    may_be_missing: bool = False  # in a list of readings: blank or "not measured" reads as None, never as zero
    choices: tuple[str, ...] = ()
    choice_labels: tuple[str, ...] = ()  # what people read, choice by choice; empty: the choice itself with spaces
    item: Field | None = None  # of a list
    columns: tuple[Field, ...] = ()  # of a table
    grammar: Callable[[str], object] | None = None  # reads a text alone, or raises Unreadable; the value stays text
    csv: bool = False  # a table or list may be named as a CSV file
    group: str = ""  # heading on the form
    needs: tuple[str, ...] = ()  # inputs that must be typed with this one
    excludes: tuple[str, ...] = ()  # inputs that cannot be combined with this one
    needed_when: tuple[str, ...] = ()  # an input and its words with which this one must be typed
    only_when: tuple[str, ...] = ()  # an input and its words, without which this one cannot be typed
    plausible: tuple[float, float] | None = None  # in SI, for the trade; None: the bounds of its dimension

    @overload
    def __get__(self, run: None, owner: object) -> Self: ...
    @overload
    def __get__(self, run: object, owner: object) -> T: ...
    def __get__(self, run: Any, owner: object) -> Any:
        return self if run is None else run[self.name]

    @property
    def to_type(self) -> str:
        """What a message tells people to type: the example, or else what the declaration gives away."""
        if "\n" in self.example:  # a table as text
            heading, *samples = self.example.strip('"').splitlines()
            return f'"{heading}", then a line such as "{samples[-1]}" for each sample'
        if self.example or self.kind in ("list", "table"):
            return self.example
        if self.default is not None:
            return str(self.default)
        match self.kind:
            case "quantity" | "number":
                lowest = max((b for b in (self.above, self.at_least) if b is not None), default=0.0)
                return f"{self.unit.from_si(lowest) + 1:g} {self.unit.text}".strip()
            case "integer":
                return "3"
            case "choice":
                return self.choices[0]
            case "boolean":
                return "yes"
        return '"bench notes, page 3"' if self.name.endswith("source") else '"A3"'

    def read(self, raw: Any, folder: Path | None = None) -> Any:
        """The value of what was typed.

        :param raw: as it was typed: text, a number, a list or a table
        :param folder: whose CSV files may be named; None: no file is opened
        :raises BadInput: rows or items that cannot be read, each named
        :raises Unreadable: a value that cannot be read or is not allowed
        :raises TypeError: a declaration of no known kind
        """
        match self.kind:
            case "quantity" | "number":
                if self.states and isinstance(raw, str) and raw.strip().lower() in self.states:
                    return raw.strip().lower()
                typed = text_or_number(raw)
                reading = read_sum(typed, self.unit) if self.terms else read(typed, self.unit, band=self.band)
                for value in (reading.low, reading.high):
                    self._in_range(value, raw, reading if self.band else value)
                return reading if self.band or self.terms else reading.value
            case "integer":
                value = read(text_or_number(raw), PURE).value
                if value != int(value):
                    raise Unreadable(f'"{raw}" is not a whole number')
                self._in_range(value, raw, value)
                return int(value)
            case "text":
                text = plain_text(raw)
                if self.grammar is not None:
                    self.grammar(text)
                return text
            case "choice":
                return self._read_choice(plain_text(raw).strip())
            case "boolean":
                if isinstance(raw, bool):
                    return raw
                word = tidy(raw).lower()
                if word not in ("yes", "no", "true", "false"):
                    raise Unreadable(f'"{word[:40]}" is neither yes nor no')
                return word in ("yes", "true")
            case "date":
                return read_date(raw)
            case "trace":
                from shoplib.core.trace_file import read_trace  # one working in twenty has a trace

                return read_trace(raw, folder)
            case "list":
                assert self.item is not None
                return self._read_many(self._items(raw, folder), lambda x: self._cell(self.item, x))  # type: ignore[arg-type] # asserted above
            case "table":
                return self._read_many(self._records(raw, folder), self._record)
        raise TypeError(f"field {self.name}: no kind {self.kind!r}")

    def _read_choice(self, raw: str) -> str:
        """The choice, from its code or from what sheets and forms show."""
        if raw in self.choices:
            return raw
        shown = {self.spoken(c): c for c in self.choices} | {c.replace("_", " "): c for c in self.choices}
        if raw in shown:
            return shown[raw]
        allowed = "; ".join(map(self.spoken, self.choices))
        raise Unreadable(f"{json.dumps(raw[:40], ensure_ascii=False)} is not one of: {allowed}")

    def _in_range(self, value: float, typed: Any, meant: Any) -> None:
        if why := self._out_of_range(value):
            said = self.as_typed(typed, meant)
            raise Unreadable(f"{said if len(said) <= 40 else f'{said[:40]}…'} {why}")

    def _out_of_range(self, value: float) -> str:
        """Why a value cannot be, as the rest of a sentence; "" where it can."""
        unit = self.unit
        for limit, holds, words in (
            (self.above, operator.gt, "above"), (self.at_least, operator.ge, "at least"),
            (self.below, operator.lt, "below"), (self.at_most, operator.le, "at most"),
        ):  # fmt: skip
            if limit is not None and not holds(value, limit):
                return f"is out of range; it must be {words} {show_short(limit, unit)}"
        low, high = self.plausible or plausible_bounds(unit)
        if not low <= value <= high:
            possible = f"from {show_short(low, unit)} to {show_short(high, unit)} is possible"
            return f"is not plausible here: {possible}. Check the number and its unit"
        return ""

    def _read_many(self, rows: Sequence[Any], read_one: Callable[[Any], Any]) -> list[Any]:
        if len(rows) > LONGEST_LIST:
            raise Unreadable(f"{len(rows)} rows is too many; at most {LONGEST_LIST}")
        values, problems = [], []
        for i, item in enumerate(rows, 1):
            try:
                values.append(read_one(item))
            except Unreadable as error:
                problems.append(Problem(f"{self.name}[{i}]", str(error), self.item.to_type if self.item else ""))
            except BadInput as error:
                problems += [replace(p, field=f"{self.name}[{i}].{p.field}") for p in error.problems]
            if len(problems) >= 20:
                break
        if problems:
            raise BadInput(problems)
        return values

    def _cell(self, column: Field, raw: Any) -> Any:
        if column.may_be_missing and (raw is None or (isinstance(raw, str) and raw.strip().lower() in MISSING)):
            return None
        return column.read(raw)

    def spoken(self, typed: Any) -> str:
        """What was typed, as people read it: a choice by its label or with spaces, 20 degC as 20 °C."""
        if self.kind != "choice":
            return with_signs(str(typed))
        labels = dict(zip(self.choices, self.choice_labels, strict=False))  # most choices need none
        return labels.get(str(typed), str(typed).replace("_", " "))

    def as_typed(self, typed: Any, value: Any) -> str:
        """As typed, and converted beside it where that says more: "24 thou (0.6096 mm)", but "0.08 mm".

        :param value: its value; in SI, of a list one for each item
        """
        if self.kind == "list" and self.item is not None and isinstance(value, list):
            items = self._items(typed, None)
            return "; ".join(self.item.as_typed(t, v) for t, v in zip(items, value, strict=True))
        if value is None:
            return "not measured"
        if self.kind == "trace":
            return str(value.shown)
        if isinstance(typed, bool):
            return "yes" if typed else "no"
        said, more = self.spoken(typed).strip(), self.converted(typed, value)
        return f"{said} ({more})" if more else said

    def converted(self, typed: Any, value: Any) -> str:
        """A typed quantity in the unit of this field; "" where that says no more than what was typed.

        :param value: its value; in SI
        """
        if self.kind != "quantity" or value is None or isinstance(value, str):
            return ""
        digits = max(4, min(_digits_typed(str(typed)), 9))  # 135.725 mm never comes back as 135.7 mm
        low, high = (value.low, value.high) if isinstance(value, Reading) else (value, value)
        ends = [low] if low == high else [low, high]
        numbers = [float(n.replace(",", ".")) for n in _NUMBERS.findall(str(typed))]
        if len(numbers) == len(ends) and all(
            rounding.same(abs(self.unit.from_si(v)), n) for v, n in zip(ends, numbers, strict=True)
        ):
            return ""  # typed in this unit already
        return " to ".join(show(v, self.unit, digits) for v in ends)

    def rows(self, raw: Any, folder: Path | None = None) -> list[Mapping[str, Any]]:
        """The records of a table, each cell as typed; raises Unreadable.  For a form, which shows bad cells too.

        :param raw: as it was typed: JSON, a list of records, or the name of a CSV file
        :param folder: whose CSV files may be named; None: no file is opened
        """
        return [self._row(record) for record in self._records(raw, folder)]

    def _record(self, raw: Any) -> dict[str, Any]:
        return _read_fields(self.columns, self._row(raw))

    def _row(self, raw: Any) -> Mapping[str, Any]:
        many = [c for c in self.columns if c.kind == "list"]
        if isinstance(raw, list | tuple) and len(many) == 1:  # readings alone: [["0.61 mm", "0.64 mm"], …]
            raw = {many[0].name: raw}
        if not isinstance(raw, Mapping):
            raise Unreadable(f"enter a row with {', '.join(c.name for c in self.columns)}")
        return raw

    def _items(self, raw: Any, folder: Path | None) -> list[Any]:
        if isinstance(raw, str):
            if self.csv:
                from shoplib.core import csv_file

                if csv_file.names_a_file(raw):
                    return [row[0] for row in csv_file.rows_of(raw, folder)]
            if raw.strip().startswith("["):
                raw = json_list(raw)
            else:
                raw = raw.split(";")  # a gap between two semicolons is a missing reading, never closed up
                if not raw[-1].strip():
                    raw.pop()
        if not isinstance(raw, list | tuple):
            raise Unreadable("enter a list; separate the items with semicolons")
        if not raw:
            raise Unreadable("is empty")
        return list(raw)

    def _records(self, raw: Any, folder: Path | None) -> list[Any]:
        if isinstance(raw, str):
            if self.csv:
                from shoplib.core import csv_file

                if csv_file.names_a_file(raw):
                    return list(csv_file.with_units(csv_file.rows_of(raw, folder), [c.name for c in self.columns]))
            raw = json_list(raw)
        if isinstance(raw, Mapping):
            raw = [raw]
        if not isinstance(raw, list | tuple):
            raise Unreadable("enter a list of rows")
        if not raw:
            raise Unreadable("is empty")
        return list(raw)


def _read_fields(fields: Iterable[Field], raw: Mapping[str, Any], folder: Path | None = None) -> dict[str, Any]:
    fields = tuple(fields)
    names = {f.name for f in fields}
    problems = [
        Problem(str(k)[:60], "unknown input; allowed: " + ", ".join(f.name for f in fields))
        for k in raw
        if k not in names
    ]
    values: dict[str, Any] = {}
    for f in fields:
        typed = raw.get(f.name)
        if typed is None or (isinstance(typed, str) and not typed.strip()):
            typed = f.default
        if typed is None:
            if f.required:
                problems.append(Problem(f.name, "is missing", f.to_type))
            values[f.name] = None
            continue
        try:
            values[f.name] = f.read(typed, folder)
        except Unreadable as error:
            problems.append(Problem(f.name, str(error), f.to_type))
        except BadInput as error:
            problems += error.problems
    if problems:
        raise BadInput(problems)
    return values


# Constructors: the only way fields are written down.  An input that may be left out reads as None then, and is typed
# Any: ``given`` tells whether it has a value.
@overload
def quantity(name: str, unit: Any, label: str, *, required: Literal[False], **more: Any) -> Field[Any]: ...
@overload
def quantity(name: str, unit: Any, label: str, *, band: Literal[True], **more: Any) -> Field[Reading]: ...
@overload
def quantity(name: str, unit: Any, label: str, **more: Any) -> Field[float]: ...
def quantity(name: str, unit: Any, label: str, **more: Any) -> Field[Any]:
    """A value with a unit; reads to an SI float, or to a Reading when ``band=True``.

    :param name: as the record calls it; an attribute of the class of inputs has the same name
    :param unit: an annotation such as ``mm``; any unit of its dimension may be typed
    :param label: above the box
    :param more: further attributes of :class:`Field`
    """
    return Field(name, "quantity", label, unit=unit_of(unit), **more)


@overload
def number(name: str, label: str, *, required: Literal[False], **more: Any) -> Field[Any]: ...
@overload
def number(name: str, label: str, *, band: Literal[True], **more: Any) -> Field[Reading]: ...
@overload
def number(name: str, label: str, **more: Any) -> Field[float]: ...
def number(name: str, label: str, **more: Any) -> Field[Any]:
    """A pure number, such as a coefficient of friction."""
    return Field(name, "number", label, **more)


@overload
def integer(name: str, label: str, *, required: Literal[False], **more: Any) -> Field[Any]: ...
@overload
def integer(name: str, label: str, **more: Any) -> Field[int]: ...
def integer(name: str, label: str, **more: Any) -> Field[Any]:
    """A whole number, such as a tooth count."""
    return Field(name, "integer", label, **more)


@overload
def words(name: str, label: str, *, required: Literal[False], **more: Any) -> Field[Any]: ...
@overload
def words(name: str, label: str, **more: Any) -> Field[str]: ...
def words(name: str, label: str, **more: Any) -> Field[Any]:
    """Free text.  Never markup, code, path or formula."""
    return Field(name, "text", label, **more)


@overload
def choice(
    name: str, label: str, choices: Sequence[str] | Mapping[str, str], *, required: Literal[False], **more: Any
) -> Field[Any]: ...
@overload
def choice(name: str, label: str, choices: Sequence[str] | Mapping[str, str], **more: Any) -> Field[str]: ...
def choice(name: str, label: str, choices: Sequence[str] | Mapping[str, str], **more: Any) -> Field[Any]:
    """One of a few words; a mapping gives each stored word the label that people read.

    :param choices: the stored words; a mapping gives the label of each
    """
    labels = tuple(choices.values()) if isinstance(choices, Mapping) else ()
    return Field(name, "choice", label, choices=tuple(choices), choice_labels=labels, **more)


def yes_no(name: str, label: str, **more: Any) -> Field[Any]:
    """Yes or no."""
    return Field(name, "boolean", label, **more)


def date(name: str, label: str, **more: Any) -> Field[Any]:
    """A date, read to ISO text."""
    return Field(name, "date", label, example="2026-11-25", **more)


def listing(name: str, item: Field, label: str, **more: Any) -> Field:
    """Several of one kind, separated by semicolons, or JSON.

    :param item: the declaration of one of them
    """
    return Field(name, "list", label, item=item, **more)


def table(name: str, columns: Sequence[Field], label: str, **more: Any) -> Field:
    """Records; JSON on the command line, tables in a job file, a CSV file where ``csv=True``.

    :param columns: the declaration of each column
    """
    return Field(name, "table", label, columns=tuple(columns), **more)


def trace(name: str, label: str, **more: Any) -> Field[Trace]:
    """A torque–angle trace: the table itself, or the name of a CSV file."""
    return Field(name, "trace", label, csv=True, **more)


def sourced_limit(name: str, unit: Any, label: str, **more: Any) -> tuple[Field, Field]:
    """A limit and where it came from.  Never a default: limits differ from engine to engine.

    :param unit: an annotation such as kN: its dimension, and how the limit is shown
    """
    return (
        quantity(name, unit, label, required=False, **more),
        words(
            f"{name}_source",
            f"Source of the {label[0].lower() + label[1:]}",
            required=False,
            help="document, edition, page; without a source the result cannot be a pass",
            example='"workshop manual, 3rd edition, page 41"',
            group=more.get("group", ""),
        ),
    )


_NUMBERS = re.compile(r"(?<![\w^*/.,])\d+(?:[.,]\d+)?(?:[eE][+\-]?\d+)?")  # not the 2 of mm2 or of 1/2


def _digits_typed(typed: str) -> int:
    """Significant digits of the longest number in what was typed."""
    numbers = re.findall(r"\d+(?:[.,]\d+)?", typed)
    return max((len(re.sub(r"[.,]", "", n).lstrip("0")) for n in numbers), default=0)


ALLOWED, NOT_ALLOWED = "allowed", "not allowed"
DECISION_RULES = {str(Rule.GUARD_BANDS): "ISO 14253-1", str(Rule.SIMPLE): "simple acceptance"}


def judging(unit: Any, *, at_limit: bool = True, group: str = "How it is judged") -> tuple[Field, ...]:
    """The inputs that every check on a reading needs: uncertainty, decision rule, and what counts at the limit.

    :meth:`Worksheet.check` and :meth:`Worksheet.uncertainty` read them.

    :param unit: an annotation such as kN, of the reading
    :param at_limit: whether to ask what counts at the limit
    :param group: heading of these inputs in the form
    """
    fields = (
        quantity("resolution", unit, "Resolution of the instrument", required=False, above=0.0, group=group,
                 help="smallest step that it shows"),
        quantity("expanded_uncertainty", unit, "Expanded uncertainty U", required=False, above=0.0, group=group,
                 needs=("coverage_factor",), example='"0.005 mm"' if unit_of(unit).name == "mm" else "",
                 help="how far off the instrument may be, plus or minus, by its certificate; type k in the next box"),
        number("coverage_factor", "Coverage factor k", required=False, at_least=1.0, at_most=4.0, group=group,
               needs=("expanded_uncertainty",),
               help="printed beside U on the certificate", example="2"),
        choice("decision_rule", "Decision rule", DECISION_RULES, required=False, example=str(Rule.GUARD_BANDS),
               group=group,
               help="if left empty: pass or fail only when the uncertainty leaves no doubt (ISO 14253-1). Simple "
                    "acceptance leaves the uncertainty out: choose it only if "
                    "the source says so"),
    )  # fmt: skip
    if not at_limit:
        return fields
    return (
        *fields,
        choice("at_limit", "At the limit", (ALLOWED, NOT_ALLOWED), required=False, example=ALLOWED, group=group,
               help="does the source allow a reading exactly at the limit? If left empty, such a reading is "
                    "undecided"),
    )  # fmt: skip
