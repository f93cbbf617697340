"""What a working is: inputs declared once, a run that shows its steps, checks with their limits.

The notebook form, the command line, the job file, the JSON Schema and the printed sheet are all read
from the :class:`Working`.  See ``shoplib/workings/`` for the declarations.
"""

from __future__ import annotations

import functools
import json
import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, get_type_hints

from shoplib import __version__, csv_file
from shoplib.checks import Check, Origin, Outcome, Rule, Uncertainty, Value, decide, worst
from shoplib.core import rounding
from shoplib.core.rounding import NOISE
from shoplib.formula import Line, latex, text, worked
from shoplib.plausible import plausible_bounds
from shoplib.units import Reading, Unit, Unreadable, difference, read, read_date, read_sum, show, tidy, unit_of
from shoplib.units import one as _one

PURE = unit_of(_one)
LONGEST_TEXT = 4000
LONGEST_LIST = 200_000
MISSING = ("", "-", "–", "—", "not measured", "unreadable", "missing")


# ------------------------------------------------------------------------------ trouble at the door
@dataclass(frozen=True)
class Problem:
    """One bad field: what is wrong, and what to type."""

    field: str
    why: str
    example: str = ""

    def __str__(self) -> str:
        return f"{self.field}: {self.told}"

    @property
    def told(self) -> str:
        """What is wrong and what to type, without the field."""
        return self.why + (f"; type for example {self.example}" if self.example else "")


class BadInput(ValueError):
    """Every bad field at once."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(map(str, self.problems)))


# ------------------------------------------------------------------------------ fields
@dataclass(frozen=True)
class Field:
    """One input.  ``kind`` is quantity, number, integer, text, choice, date, boolean, list or table."""

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
    item: Field | None = None  # of a list
    columns: tuple[Field, ...] = ()  # of a table
    csv: bool = False  # a table or list may be named as a CSV file
    group: str = ""  # heading on the form
    needs: tuple[str, ...] = ()  # inputs that must be typed with this one
    excludes: tuple[str, ...] = ()  # inputs that cannot be combined with this one
    plausible: tuple[float, float] | None = None  # in SI, for the trade; None: the bounds of its dimension

    def read(self, raw: Any, folder: Path | None = None) -> Any:
        """The value of what was typed; raises BadInput (tables, lists) or Unreadable."""
        match self.kind:
            case "quantity" | "number":
                if self.states and isinstance(raw, str) and raw.strip().lower() in self.states:
                    return raw.strip().lower()
                typed = _text_or_number(raw, self.kind == "number")
                reading = read_sum(typed, self.unit) if self.terms else read(typed, self.unit, band=self.band)
                for value in (reading.low, reading.high):
                    self._in_range(value)
                return reading if self.band or self.terms else reading.value
            case "integer":
                value = read(_text_or_number(raw, True), PURE).value
                if value != int(value):
                    raise Unreadable(f'"{raw}" is not a whole number')
                self._in_range(value)
                return int(value)
            case "text":
                return _plain_text(raw)
            case "choice":
                raw = _plain_text(raw).strip()
                if raw in self.choices:
                    return raw
                if (joined := raw.replace(" ", "_")) in self.choices:  # as sheets and forms say it
                    return joined
                raise Unreadable(
                    f"{json.dumps(str(raw)[:40], ensure_ascii=False)} is not one of {', '.join(self.choices)}"
                )
            case "boolean":
                if isinstance(raw, bool):
                    return raw
                word = tidy(raw).lower()
                if word not in ("yes", "no", "true", "false"):
                    raise Unreadable(f'"{word[:40]}" is neither yes nor no')
                return word in ("yes", "true")
            case "date":
                return read_date(raw)
            case "list":
                assert self.item is not None
                return self._read_many(self._items(raw, folder), lambda x: self._cell(self.item, x))  # type: ignore[arg-type] # asserted above
            case "table":
                return self._read_many(self._records(raw, folder), self._record)
        raise TypeError(f"field {self.name}: no kind {self.kind!r}")

    def _in_range(self, value: float) -> None:
        def bound(x: float) -> str:
            return show(x, self.unit)

        if self.above is not None and not value > self.above:
            raise Unreadable(f"{show(value, self.unit)} is out of range; it must be above {bound(self.above)}")
        if self.at_least is not None and not value >= self.at_least:
            raise Unreadable(f"{show(value, self.unit)} is out of range; it must be at least {bound(self.at_least)}")
        if self.below is not None and not value < self.below:
            raise Unreadable(f"{show(value, self.unit)} is out of range; it must be below {bound(self.below)}")
        if self.at_most is not None and not value <= self.at_most:
            raise Unreadable(f"{show(value, self.unit)} is out of range; it must be at most {bound(self.at_most)}")
        low, high = self.plausible or plausible_bounds(self.unit)
        if not low <= value <= high:
            raise Unreadable(
                f"{show(value, self.unit)} is not plausible here: from {bound(low)} to {bound(high)} is possible. "
                "Check the number and its unit"
            )

    def _read_many(self, rows: Sequence[Any], read_one: Callable[[Any], Any]) -> list[Any]:
        if len(rows) > LONGEST_LIST:
            raise Unreadable(f"{len(rows)} rows is too many; at most {LONGEST_LIST}")
        values, problems = [], []
        for i, item in enumerate(rows, 1):
            try:
                values.append(read_one(item))
            except Unreadable as error:
                problems.append(Problem(f"{self.name}[{i}]", str(error), self.item.example if self.item else ""))
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
        """What was typed, as people read it: a word that was picked, "mean_then_max", has spaces."""
        return str(typed).replace("_", " ") if self.kind == "choice" else str(typed)

    def as_typed(self, typed: Any, value: Any) -> str:
        """As typed, and converted beside it where that says more: "24 thou (0.6096 mm)", but "0.08 mm"."""
        if self.kind == "list" and self.item is not None and isinstance(value, list):
            items = self._items(typed, None)
            return "; ".join(self.item.as_typed(t, v) for t, v in zip(items, value, strict=True))
        if value is None:
            return "not measured"
        if isinstance(typed, bool):
            return "yes" if typed else "no"
        said, more = self.spoken(typed).strip(), self.converted(typed, value)
        return f"{said} ({more})" if more else said

    def converted(self, typed: Any, value: Any) -> str:
        """A typed quantity in the unit of this field; "" where that says no more than what was typed."""
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
        """The records of a table, each cell as typed; raises Unreadable.  For a form, which shows bad cells too."""
        return [self._row(record) for record in self._records(raw, folder)]

    def _record(self, raw: Any) -> dict[str, Any]:
        return _read_fields(self.columns, self._row(raw))

    def _row(self, raw: Any) -> Mapping[str, Any]:
        many = [c for c in self.columns if c.kind == "list"]
        if isinstance(raw, list | tuple) and len(many) == 1:  # readings alone: [["0.61 mm", "0.64 mm"], …]
            raw = {many[0].name: raw}
        if not isinstance(raw, Mapping):
            raise Unreadable(f"a record with {', '.join(c.name for c in self.columns)} is wanted")
        return raw

    def _items(self, raw: Any, folder: Path | None) -> list[Any]:
        if isinstance(raw, str):
            if self.csv and csv_file.names_a_file(raw):
                return [row[0] for row in csv_file.rows_of(raw, folder)]
            if raw.strip().startswith("["):
                raw = _json(raw)
            else:
                raw = raw.split(";")  # a gap between two semicolons is a missing reading, never closed up
                if not raw[-1].strip():
                    raw.pop()
        if not isinstance(raw, list | tuple):
            raise Unreadable("a list is wanted, its items parted by semicolons")
        if not raw:
            raise Unreadable("is empty")
        return list(raw)

    def _records(self, raw: Any, folder: Path | None) -> list[Any]:
        if isinstance(raw, str):
            if self.csv and csv_file.names_a_file(raw):
                return list(csv_file.with_units(csv_file.rows_of(raw, folder), [c.name for c in self.columns]))
            raw = _json(raw)
        if isinstance(raw, Mapping):
            raw = [raw]
        if not isinstance(raw, list | tuple):
            raise Unreadable("a list of records is wanted")
        if not raw:
            raise Unreadable("is empty")
        return list(raw)

    def schema(self) -> dict[str, Any]:
        """JSON Schema of what may be typed."""
        about = {"title": self.label, "description": self.help or self.label}
        if self.example:
            about["examples"] = [self.example]  # type: ignore[assignment] # a list among strings
        match self.kind:
            case "number" | "integer":
                return {**about, "type": ["string", "number"]}
            case "choice":
                return {**about, "enum": list(self.choices)}
            case "boolean":
                return {**about, "type": ["boolean", "string"]}
            case "list":
                assert self.item is not None
                return {**about, "type": ["string", "array"], "items": self.item.schema()}
            case "table":
                return {**about, "type": ["string", "array"], "items": _object(self.columns)}
        return {**about, "type": "string", "maxLength": LONGEST_TEXT}


def _object(fields: Iterable[Field]) -> dict[str, Any]:
    fields = tuple(fields)
    return {
        "type": "object",
        "properties": {f.name: f.schema() for f in fields},
        "required": [f.name for f in fields if f.required and f.default is None],
        "additionalProperties": False,
    }


def _text_or_number(raw: Any, pure: bool) -> Any:
    if isinstance(raw, bool) or not isinstance(raw, str | int | float):
        raise Unreadable("one value is wanted")
    return raw if pure or isinstance(raw, str) else str(raw)


def _plain_text(raw: Any) -> str:
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        raw = str(raw)  # property_class = 8.8 in a job file is a name, not a measure
    if not isinstance(raw, str):
        raise Unreadable("text is wanted")
    if len(raw) > LONGEST_TEXT:
        raise Unreadable(f"{len(raw)} characters is too long; at most {LONGEST_TEXT}")
    if not raw.strip():
        raise Unreadable("is empty")
    return raw


def _json(raw: str) -> Any:
    if len(raw) > 5_000_000:
        raise Unreadable("is too long")
    try:
        return json.loads(raw)
    except (ValueError, RecursionError):
        raise Unreadable("is neither a list with semicolons nor JSON") from None


def _read_fields(fields: Iterable[Field], raw: Mapping[str, Any], folder: Path | None = None) -> dict[str, Any]:
    fields = tuple(fields)
    names = {f.name for f in fields}
    problems = [
        Problem(str(k)[:60], "is not an input here; the inputs are " + ", ".join(f.name for f in fields))
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
                problems.append(Problem(f.name, "is missing", f.example))
            values[f.name] = None
            continue
        try:
            values[f.name] = f.read(typed, folder)
        except Unreadable as error:
            problems.append(Problem(f.name, str(error), f.example))
        except BadInput as error:
            problems += error.problems
    if problems:
        raise BadInput(problems)
    return values


# Constructors: the only way fields are written down.
def quantity(name: str, unit: Any, label: str, **more: Any) -> Field:
    """A value with a unit; reads to an SI float, or to a Reading when ``band=True``."""
    return Field(name, "quantity", label, unit=unit_of(unit), **more)


def number(name: str, label: str, **more: Any) -> Field:
    """A pure number, such as a coefficient of friction."""
    return Field(name, "number", label, **more)


def integer(name: str, label: str, **more: Any) -> Field:
    """A whole number, such as a tooth count."""
    return Field(name, "integer", label, **more)


def words(name: str, label: str, **more: Any) -> Field:
    """Free text.  Never markup, code, path or formula."""
    return Field(name, "text", label, **more)


def choice(name: str, label: str, choices: Sequence[str], **more: Any) -> Field:
    """One of a few words."""
    return Field(name, "choice", label, choices=tuple(choices), **more)


def yes_no(name: str, label: str, **more: Any) -> Field:
    """Yes or no."""
    return Field(name, "boolean", label, **more)


def date(name: str, label: str, **more: Any) -> Field:
    """A date, read to ISO text."""
    return Field(name, "date", label, example="2026-11-25", **more)


def listing(name: str, item: Field, label: str, **more: Any) -> Field:
    """Several of one kind, parted by semicolons, or JSON."""
    return Field(name, "list", label, item=item, **more)


def table(name: str, columns: Sequence[Field], label: str, **more: Any) -> Field:
    """Records; JSON on the command line, tables in a job file, a CSV file where ``csv=True``."""
    return Field(name, "table", label, columns=tuple(columns), **more)


def limit(name: str, unit: Any, label: str, **more: Any) -> tuple[Field, Field]:
    """A limit and where it came from.  Never a default: limits differ from engine to engine."""
    return (
        quantity(name, unit, label, required=False, **more),
        words(
            f"{name}_source",
            f"Source: {label[0].lower() + label[1:]}",
            required=False,
            help="document, edition, page; without it nothing can pass",
            example='"workshop manual, 3rd edition, page 41"',
            group=more.get("group", ""),
        ),
    )


# ------------------------------------------------------------------------------ inputs
class Inputs:
    """What was typed, and what it means.  ``i.torque`` is an SI float, or None when left out."""

    def __init__(
        self,
        fields: Sequence[Field],
        values: Mapping[str, Any],
        as_entered: Mapping[str, Any],
        folder: Path | None = None,
    ) -> None:
        self._fields, self._values, self.as_entered = {f.name: f for f in fields}, dict(values), dict(as_entered)
        self.folder = folder  # whose CSV files may be named; None: no file is opened
        self._items: dict[str, list[Any]] = {}

    def __getattr__(self, name: str) -> Any:
        try:
            return self._values[name]
        except KeyError:
            raise AttributeError(f"no input {name!r}; there are {', '.join(self._values)}") from None

    def given(self, *names: str) -> bool:
        """True when all of these were typed (or have a default)."""
        return all(self._values[n] is not None for n in names)

    def typed(self, name: str) -> bool:
        """True when this was typed; a default is not."""
        return self.as_entered.get(name) is not None

    def half_digit(self, name: str, item: int | None = None, column: str = "") -> float:
        """Half of the last digit typed, in SI: of an input, or of the ``item`` (from 0) and ``column`` of a list or
        table.  Zero when nothing was typed there.
        """
        f, typed, value = self._fields[name], self.as_entered.get(name), self._values[name]
        if f.kind == "list" and item is not None:
            assert f.item is not None
            f, value = f.item, (value or [])[item]
            typed = self.typed_items(name)[item] if typed is not None else None
        elif f.kind == "table" and item is not None:
            row = self.typed_rows(name)[item]
            f, typed, value = next(c for c in f.columns if c.name == column), row.get(column), value[item].get(column)
        if typed is None or value is None:
            return 0.0
        typed = value.as_entered if isinstance(value, Reading) else str(typed)
        return half_digit_in_si(typed, f.unit)

    def typed_rows(self, name: str) -> list[Mapping[str, Any]]:
        """The rows of a table, each cell as typed."""
        return self.typed_items(name)

    def typed_items(self, name: str) -> list[Any]:
        """The items of a list or the rows of a table, each as typed; a long text or a file is read once."""
        if name not in self._items:
            f, typed = self._fields[name], self.as_entered[name]
            self._items[name] = f.rows(typed, self.folder) if f.kind == "table" else f._items(typed, self.folder)
        return self._items[name]

    def defaults(self) -> list[Field]:
        """The inputs that nobody typed and for which a default was taken."""
        return [f for n, f in self._fields.items() if not self.typed(n) and self._values.get(n) is not None]

    def field(self, name: str) -> Field:
        """The declaration of an input."""
        return self._fields[name]

    def shown(self, name: str) -> str:
        """As typed, and converted where that says more: "30 ft-lb (40.67 N·m)"."""
        f, typed, value = self._fields[name], self.as_entered.get(name), self._values[name]
        if value is None:
            return "not given"
        if typed is None:
            return f"{f.spoken(f.default)} (default, not typed)"
        if f.kind == "list" and f.item is not None:
            return "; ".join(f.item.as_typed(t, v) for t, v in zip(self.typed_items(name), value, strict=True))
        if f.kind == "table":
            return f"{len(value)} rows" if len(value) != 1 else "1 row"
        return f.as_typed(typed, value)

    def to_json(self) -> dict[str, Any]:
        """as_entered, value and unit of every input that has a value; as_entered is null where a default was taken."""
        return {
            name: {
                "as_entered": self.as_entered.get(name),
                **({} if self.typed(name) else {"default": self._fields[name].default}),
                **_plain(value, self._fields[name]),
            }
            for name, value in self._values.items()
            if value is not None
        }


_NUMBERS = re.compile(r"(?<![\w^*/.,])\d+(?:[.,]\d+)?(?:[eE][+\-]?\d+)?")  # not the 2 of mm2 or of 1/2


def _digits_typed(typed: str) -> int:
    """Significant digits of the longest number in what was typed."""
    numbers = re.findall(r"\d+(?:[.,]\d+)?", typed)
    return max((len(re.sub(r"[.,]", "", n).lstrip("0")) for n in numbers), default=0)


def _plain(value: Any, f: Field) -> dict[str, Any]:
    if isinstance(value, str):  # a word in place of a value
        return {"value": value, "unit": None}
    if value is None:  # a missing reading in a list
        return {"value": None, "unit": _unit_or_none(f)}
    match f.kind:
        case "quantity" | "number":
            if isinstance(value, Reading):
                plain: dict[str, Any] = {"value": f.unit.from_si(value.value), "unit": f.unit.name}
                if value.is_band:
                    plain |= {"low": f.unit.from_si(value.low), "high": f.unit.from_si(value.high)}
                return plain
            return {"value": f.unit.from_si(value), "unit": f.unit.name}
        case "integer":
            return {"value": value, "unit": ""}
        case "list":
            assert f.item is not None
            return {"value": [_plain(v, f.item)["value"] for v in value], "unit": _unit_or_none(f.item)}
        case "table":
            rows = [{c.name: _plain(r[c.name], c) for c in f.columns if r[c.name] is not None} for r in value]
            return {"value": rows, "unit": None}
    return {"value": value, "unit": None}


def _unit_or_none(f: Field) -> str | None:
    return f.unit.name if f.kind in ("quantity", "number", "integer") else None


# ------------------------------------------------------------------------------ steps
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
        self.curve: dict[str, Any] = {}  # arrays for the figure; never in the record
        self._refused: list[Problem] = []

    # -- refusing
    def refuse(self, field: str, why: str, example: str = "") -> None:
        """Note a bad field; :meth:`door` raises when all have been looked at."""
        known = self.working.field(field)
        self._refused.append(Problem(field, why, example or (known.example if known else "")))

    def door(self) -> None:
        """Raise BadInput if anything was refused."""
        if self._refused:
            raise BadInput(self._refused)

    # -- showing
    def step(self, title: str, fn: Callable[..., Any], /, *, note: str = "", digits: int = 4, **si: float) -> Any:
        """Evaluate a formula, and keep it to be printed."""
        self.steps.append(Step(title, fn, si, note, digits))
        return denoised(fn, fn(**si), si)

    def result(self, name: str, value: Any, unit: Any = None, label: str = "", digits: int = 4) -> Any:
        """Keep a result under its public name.  ``unit`` is an annotation such as kN, or None for text."""
        if hasattr(value, "tolist"):
            value = value.tolist()
        self.values[name] = Value(
            value, None if unit is None else unit_of(unit), label or name.replace("_", " "), digits
        )
        return value

    def assume(self, statement: str) -> None:
        """Something taken as true that nobody typed."""
        if statement not in self.assumptions:
            self.assumptions.append(statement)

    def caution(self, statement: str) -> None:
        """A caution that depends on the inputs."""
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

        :param found: the value, already at the worst corner of what was typed as a range; None: not measured
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
            outcome, remark = Outcome.NO_LIMIT, remark or "no limit was given"
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
                undecided.append(f"depends on {self.label(name)}, which was not typed")
            if missing and outcome is Outcome.PASS:
                outcome = Outcome.UNDECIDED
            if missing and outcome is Outcome.UNDECIDED:
                undecided.append(missing)
            if outcome is Outcome.PASS and not source:
                outcome = Outcome.NO_LIMIT
                undecided.append("within the limit, but its source is missing")
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
            simple = not geometry and self.working.field("decision_rule") and self.inputs.decision_rule == Rule.SIMPLE
            return Rule.SIMPLE if simple else Rule.GUARD_BANDS
        return Rule.WORST_CASE if corner else Rule.NONE

    def counted(self, uncertainty: Uncertainty | None, geometry: bool = False) -> float:
        """The half-width that counts: none under simple acceptance."""
        rule = self._rule(uncertainty, None, geometry)
        return uncertainty.half_width if uncertainty and rule is Rule.GUARD_BANDS else 0.0

    def decided(
        self, low: float, high: float, comparison: str, bound: float, geometry: bool = False
    ) -> tuple[Outcome, str]:
        """The outcome, and the comparison as it was used.  One that nobody typed decides nothing at the limit."""
        if geometry or self.working.field("at_limit") is None:
            return decide(low, high, comparison, bound), comparison
        typed = self.inputs.at_limit
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
        """An input as a message names it."""
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
        """Keep a check whose outcome was decided by its own rule (a bracket, a word)."""
        u = None if unit is None else unit_of(unit)
        its_unit = None if isinstance(found, str) else u  # text as it was typed holds its own unit
        kept = Value(bound, its_unit, "limit", digits) if bound is not None else None
        spread = None if uncertainty is None or u is None else Value(uncertainty.half_width, difference(u), "U", 2)
        at = {name: self._at(name, value) for name, value in (corner or {}).items()}
        value, origin = Value(found, its_unit, label, digits), uncertainty.origin if uncertainty and spread else None
        self.checks.append(Check(label, value, kept, comparison, source, outcome, remark, spread, origin, rule, at))

    def _at(self, name: str, value: float | Value) -> Value:
        if isinstance(value, Value):
            return value
        declared = self.working.field(name)
        return (
            Value(value, declared.unit, declared.label, 3)
            if declared
            else Value(value, PURE, name.replace("_", " "), 3)
        )

    # -- the uncertainty of what was read
    def uncertainty(self, name: str, item: int | None = None, column: str = "") -> Uncertainty:
        """Of the reading typed in an input (or its ``item``, counted from 0, and ``column``).

        From the instrument's certificate or its resolution, whichever is more, where they were typed; else half the
        last digit typed.  An expanded uncertainty is taken to coverage factor 2, as ISO 14253-1 does by default.
        """
        parts = []
        if self.working.field("expanded_uncertainty") and self.inputs.given("expanded_uncertainty"):
            k = self.inputs.coverage_factor or 2.0
            parts.append(Uncertainty(self.inputs.expanded_uncertainty * 2.0 / k, Origin.CERTIFICATE))
        if self.working.field("resolution") and self.inputs.given("resolution"):
            parts.append(Uncertainty(self.inputs.resolution / 2, Origin.RESOLUTION))
        parts = parts or [Uncertainty(self.inputs.half_digit(name, item, column), Origin.DIGITS)]
        return max(parts, key=lambda u: u.half_width)

    def carried(self, function: Callable[..., Any], /, *names: str) -> Uncertainty:
        """That of a value calculated from inputs, from the digits in which each was typed.

        ``function`` takes these inputs by name, in SI.  It rises or falls along each of them over so small a range:
        where it does from the middle, each is moved to the end that takes the value furthest.  Where it stands still,
        the others may decide its way, so such inputs are moved last, one after the other, twice over.
        One that was typed as zero says that there is none of it, and is exact.
        """
        middle = {n: float(_number(getattr(self.inputs, n))) for n in names}
        ends = {n: (x - half, x + half) for n, x in middle.items() if x and (half := self.inputs.half_digit(n))}

        def value(**other: float) -> float:
            return float(function(**{**middle, **other}))

        here, furthest = value(), 0.0
        tried = {n: (value(**{n: low}), value(**{n: high})) for n, (low, high) in ends.items()}
        still = [n for n, t in tried.items() if min(t) >= here or max(t) <= here]
        for sign in (-1.0, 1.0):
            at = {n: ends[n][sign * high > sign * low] for n, (low, high) in tried.items()}
            for n in (*still, *still):
                at[n] = max(ends[n], key=lambda x: sign * value(**{**at, n: x}))
            furthest = max(furthest, sign * (value(**at) - here))
        return Uncertainty(furthest)


def _number(x: Any) -> Any:
    return x.value if isinstance(x, Reading) else x


ALLOWED, NOT_ALLOWED = "allowed", "not allowed"
DECISION_RULES = (str(Rule.GUARD_BANDS), str(Rule.SIMPLE))


def judging(unit: Any, *, at_limit: bool = True, group: str = "How it is judged") -> tuple[Field, ...]:
    """The inputs that every check on a reading needs: uncertainty, decision rule, and what counts at the limit.

    ``unit`` is that of the reading.  :meth:`Worksheet.check` and :meth:`Worksheet.uncertainty` read them.
    """
    fields = (
        quantity("resolution", unit, "Resolution of the instrument", required=False, above=0.0, group=group,
                 help="smallest step that it shows"),
        quantity("expanded_uncertainty", unit, "Expanded uncertainty U", required=False, above=0.0, group=group,
                 needs=("coverage_factor",), example='"0.005 mm"' if unit_of(unit).name == "mm" else "",
                 help="from the certificate of the instrument, with its coverage factor"),
        number("coverage_factor", "Coverage factor k", required=False, at_least=1.0, at_most=4.0, group=group,
               needs=("expanded_uncertainty",),
               help="as the certificate states it", example="2"),
        choice("decision_rule", "Decision rule", DECISION_RULES, required=False, example=DECISION_RULES[0], group=group,
               help="without a choice: ISO 14253-1. Simple acceptance only where the source of the limit says so"),
    )  # fmt: skip
    if not at_limit:
        return fields
    return (
        *fields,
        choice("at_limit", "At the limit", (ALLOWED, NOT_ALLOWED), required=False, example=ALLOWED, group=group,
               help="whether the limit itself is allowed, as its source says"),
    )  # fmt: skip


def in_labels(said: str, fields: Iterable[Field], typed: object) -> str:
    """A message in the words of forms and sheets: an input is called by the label above its box, “Height when new”.

    Only a name with an underscore is surely a name; "cut" may be a word.  A name that also stands somewhere in what
    was typed is left alone: the message may be quoting it, and what a person typed is never altered.
    """
    fields = tuple(fields)
    labels = {f.name: f.label for f in (*(c for f in fields for c in f.columns), *fields)}

    def spoken(word: re.Match[str]) -> str:
        name = word[0]
        return f"“{labels[name]}”" if name in labels and not _typed(name, typed) else name

    return re.sub(r"\w+_\w+", spoken, said)


def _typed(name: str, typed: object) -> bool:
    """Whether the name stands in a value; in any case, since messages quote in lower case too."""
    if isinstance(typed, Mapping):  # its keys are names of columns, which nobody typed
        return any(_typed(name, value) for value in typed.values())
    if isinstance(typed, list | tuple):
        return any(_typed(name, value) for value in typed)
    return name in str(typed).lower()


@dataclass(frozen=True)
class Result:
    """What a run gave."""

    working: Working
    inputs: Inputs
    values: Mapping[str, Value]
    steps: tuple[Step, ...]
    checks: tuple[Check, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    curve: Mapping[str, Any] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Any:
        """SI value of a result."""
        return self.values[name].value

    @property
    def outcome(self) -> Outcome | None:
        """All checks together; None when the working judges nothing."""
        return worst(c.outcome for c in self.checks)

    def in_labels(self, said: str) -> str:
        """A remark, an assumption or a caution for somebody who sees labels, not names."""
        return in_labels(said, self.working.fields, self.inputs.as_entered)

    @property
    def told_cautions(self) -> list[str]:
        """The cautions, in labels."""
        return [self.in_labels(c) for c in self.cautions]

    def as_text(self) -> str:
        """The whole result for a terminal or a notebook's text output."""
        lines = [self.working.title, "=" * len(self.working.title)]
        for f in self.working.fields:
            entered = self.inputs.as_entered.get(f.name)
            if entered is not None:
                lines.append(f"{f.label}: {self.inputs.shown(f.name)}")
        lines.append("")
        for value in self.values.values():
            lines += value.as_lines()
        if self.steps:
            lines += ["", "Working (shown rounded, computed in full precision)"]
        for step in self.steps:
            lines.append(f"{step.title} [{step.fn.source}]")  # type: ignore[attr-defined] # set by @formula
            lines += ["    " + " = ".join(map(text, [x.symbol, *x.chain])) for x in step.lines()]
        if self.checks:
            lines += ["", "Checks"]
            lines += [c.as_line() for c in self.checks]
            lines.append(f"Outcome: {self.outcome}")
        for heading, statements in (("Assumed", self.assumptions), ("Caution", self.cautions)):
            lines += [f"{heading}: {statement}" for statement in statements]
        return "\n".join(lines)

    def to_json(self, *, steps: bool = True) -> dict[str, Any]:
        """One plain object, as printed by ``shoplib work … --json``."""
        return {
            "working": self.working.name,
            "version": __version__,
            "inputs": self.inputs.to_json(),
            "results": {k: v.to_json() for k, v in self.values.items()},
            "checks": [c.to_json() for c in self.checks],
            "outcome": None if self.outcome is None else str(self.outcome),
            "steps": [s.to_json() for s in self.steps] if steps else [],
            "assumptions": list(self.assumptions),
            "cautions": list(self.cautions),
        }


def denoised(fn: Callable[..., Any], value: Any, arguments: Mapping[str, float]) -> Any:
    """The value of a formula; zero when it is only the floating-point noise of arguments of its own dimension."""
    if not isinstance(value, float):
        return value
    units = dimensions_of(fn)
    return rounding.without_noise(value, *(arguments[n] for n, same in units if same and n in arguments))


@functools.cache
def dimensions_of(fn: Callable[..., Any]) -> tuple[tuple[str, bool], ...]:
    """Each argument of a formula, and whether it has the unit of the result."""
    hints = get_type_hints(fn, include_extras=True)
    wanted = unit_of(hints["return"]).name
    return tuple((n, unit_of(h).name == wanted) for n, h in hints.items() if n != "return")


def _finite(value: Any) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, list | tuple):
        return all(map(_finite, value))
    if isinstance(value, Mapping):
        return all(map(_finite, value.values()))
    return _finite(value.value) if isinstance(value, Value) else True


@dataclass(frozen=True)
class Renamed:
    """The present name of an input of an earlier version, and its old words in present words."""

    name: str
    words: Mapping[str, str] = field(default_factory=dict)


COMPARISON_BEFORE = {"comparison": Renamed("at_limit", {"<": NOT_ALLOWED, "<=": ALLOWED, "≤": ALLOWED})}
GOVERNS = "The maker's procedure for this engine governs; this sheet does not replace it."


@dataclass(frozen=True)
class Working:
    """A calculation of the trade, declared once."""

    name: str
    title: str
    question: str  # what it answers, in the user's words
    fields: tuple[Field, ...]
    run: Callable[[Inputs, Worksheet], None]
    phase: str = ""  # of the job: "measure", "tighten", …
    cautions: tuple[str, ...] = (GOVERNS,)
    # draw(figure) sets the picture up and returns move(result); moving artists carry a gid.
    draw: Callable[[Any], Callable[[Result], None]] | None = None
    alt: Callable[[Result], str] | None = None  # the picture in words
    figure_size: tuple[float, float] = (6.2, 3.2)
    renamed: Mapping[str, Renamed] = field(default_factory=dict)  # inputs of earlier versions, which stay readable

    def current(self, typed: Mapping[str, Any]) -> dict[str, Any]:
        """What was typed, with the inputs of earlier versions under the names that they have now."""
        if not any(name in typed for name in self.renamed):
            return dict(typed)
        found = {k: v for k, v in typed.items() if k not in self.renamed}
        for old, now in self.renamed.items():
            if _blank(typed.get(old)):
                continue
            if not _blank(found.get(now.name)):
                raise BadInput([Problem(old, f"is the old name of {now.name}; give one of the two")])
            found[now.name] = now.words.get(str(typed[old]).strip(), typed[old])
        return found

    def pictures(self, result: Result) -> bool:
        """True when there is something to draw; where ``alt`` has no words, this result has no picture."""
        return self.draw is not None and (self.alt is None or bool(self.alt(result)))

    def field(self, name: str) -> Field | None:
        """The declaration of an input, by name."""
        return next((f for f in self.fields if f.name == name), None)

    def __call__(self, raw: Mapping[str, Any] | None = None, /, *, folder: Path | None = None, **more: Any) -> Result:
        """Read what was typed and run.  Raises BadInput naming every bad field."""
        typed = self.current({**(raw or {}), **more})
        values, entered = _read_fields(self.fields, typed, folder), _entered(self.fields, typed)
        if problems := _combinations(self.fields, entered):
            raise BadInput(problems)
        inputs = Inputs(self.fields, values, entered, folder)
        sheet = Worksheet(self, inputs)
        try:
            self.run(inputs, sheet)
        except (ZeroDivisionError, OverflowError, FloatingPointError):
            raise BadInput([self._not_finite(inputs)]) from None
        sheet.door()
        if not all(_finite(v.value) for v in sheet.values.values()):
            raise BadInput([self._not_finite(inputs)])
        return Result(
            self, inputs, sheet.values, tuple(sheet.steps), tuple(sheet.checks), tuple(sheet.assumptions),
            tuple(sheet.cautions), sheet.curve,
        )  # fmt: skip

    def _not_finite(self, inputs: Inputs) -> Problem:
        """The values that were typed, each possible, give no finite result together."""
        first = next(
            (f for f in self.fields if f.kind in ("quantity", "number") and inputs.typed(f.name)), self.fields[0]
        )
        return Problem(
            first.name,
            "gives no finite result together with the other values; check each number and its unit",
            first.example,
        )

    def schema(self) -> dict[str, Any]:
        """JSON Schema of the inputs."""
        return {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "title": self.name,
            "description": self.question,
            **_object(self.fields),
        }


def _entered(fields: Iterable[Field], typed: Mapping[str, Any]) -> dict[str, Any]:
    """As typed; None where nothing was, also when there is a default."""
    return {f.name: None if _blank(typed.get(f.name)) else typed[f.name] for f in fields}


def _blank(typed: Any) -> bool:
    return typed is None or (isinstance(typed, str) and not typed.strip())


def _combinations(fields: Iterable[Field], entered: Mapping[str, Any]) -> list[Problem]:
    """What is wrong with the inputs taken together, as their declarations say."""
    labels = {f.name: f.label for f in fields}
    problems = []
    for f in fields:
        if entered.get(f.name) is None:
            continue
        problems += [Problem(other, f"is needed with {f.name}") for other in f.needs if entered.get(other) is None]
        problems += [
            Problem(f.name, f"cannot be combined with {other}; give one of the two")
            for other in f.excludes
            if entered.get(other) is not None and labels
        ]
    return problems


@functools.lru_cache(maxsize=4096)  # a keystroke changes one reading; the others are asked for again
def half_digit_in_si(typed: str, unit: Unit) -> float:
    """Half of the last digit of what was typed as a quantity of this unit, in SI.  A sum takes its coarsest term."""
    terms = [t for t in re.split(r"(?<![eE\s])\s*\+\s*(?=[\d.,])", tidy(typed)) if re.search(r"\d", t)]
    trailing = re.search(r"[^\d\s.,/+\-][^+]*$", terms[-1]) if terms else None
    halves = []
    for term in terms:
        number = re.search(r"[\d./,\s]*\d(?:[eE][+\-]?\d+)?", term)
        words = term[number.end() :].strip() if number else ""
        spelled = words or (trailing[0].strip() if trailing else "")
        try:
            one = read(f"1 {spelled}", difference(unit)).value if unit.name else (0.01 if spelled == "%" else 1.0)
        except Unreadable:
            one = unit.si
        halves.append(rounding.half_digit(term) * one)
    return max(halves, default=0.0)
