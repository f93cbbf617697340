"""What a working is: inputs declared once, a run that shows its steps, checks with their limits.

The notebook form, the command line, the job file, the JSON Schema and the printed sheet are all read
from the :class:`Working`.  See ``shoplib/workings/`` for the declarations.
"""

from __future__ import annotations

import csv
import enum
import io
import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from shoplib import __version__
from shoplib.formula import Line, latex, text, worked
from shoplib.units import Reading, Unit, Unreadable, read, read_date, read_sum, show, tidy, unit_of
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
            if self.csv and raw.strip().lower().endswith(".csv"):
                return [row[0] for row in _csv_rows(raw, folder)]
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
            if self.csv and raw.strip().lower().endswith(".csv"):
                rows = _csv_rows(raw, folder)
                return _with_units(rows, self.columns)
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


def _csv_rows(name: str, folder: Path | None) -> list[list[str]]:
    """Rows of a CSV file named in a field made for it; semicolon, comma or tab between cells."""
    path = (folder or Path()) / name.strip()
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise Unreadable(f'"{name[:60]}" cannot be read: {error.strerror}') from None
    if len(raw) > 100_000_000:
        raise Unreadable(f'"{name[:60]}" is larger than 100 MB')
    try:
        content = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Unreadable(f'"{name[:60]}" is not UTF-8 text') from None
    first = content.partition("\n")[0]
    separator = next((s for s in (";", "\t", ",") if s in first), ",")
    try:
        rows = [r for r in csv.reader(io.StringIO(content), delimiter=separator) if any(c.strip() for c in r)]
    except csv.Error as error:
        raise Unreadable(f'"{name[:60]}" is not a table: {error}') from None
    if len(rows) < 2:
        raise Unreadable(f'"{name[:60]}" holds no rows under its heading')
    return rows


def _with_units(rows: list[list[str]], columns: tuple[Field, ...]) -> list[dict[str, str]]:
    """Records of a CSV whose heading carries the units: ``x_mm,y_mm,z_um``."""
    names = [c.name for c in columns]
    heads = []
    for head in rows[0]:
        name = head.strip()
        if name in names:
            heads.append((name, ""))
        else:
            name, _, unit = name.rpartition("_")
            heads.append((name, " " + unit))
    unknown = [rows[0][i] for i, (name, _) in enumerate(heads) if name not in names]
    if unknown:
        raise Unreadable(
            f"column {unknown[0][:40]!r} is not known; the heading holds {', '.join(names)}, with units such as x_mm"
        )
    for i, row in enumerate(rows[1:], 2):
        if len(row) != len(heads):
            raise Unreadable(f"line {i} has {len(row)} cells, the heading {len(heads)}")
    numeric = re.compile(r"[\d.,+\-−]")  # a word such as "not measured" takes no unit
    return [
        {
            n: c.strip() + (u if numeric.match(c.strip()) else "")
            for (n, u), c in zip(heads, row, strict=True)
            if c.strip()
        }
        for row in rows[1:]
    ]


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

    def __init__(self, fields: Sequence[Field], values: Mapping[str, Any], as_entered: Mapping[str, Any]) -> None:
        self._fields, self._values, self.as_entered = {f.name: f for f in fields}, dict(values), dict(as_entered)

    def __getattr__(self, name: str) -> Any:
        try:
            return self._values[name]
        except KeyError:
            raise AttributeError(f"no input {name!r}; there are {', '.join(self._values)}") from None

    def given(self, *names: str) -> bool:
        """True when all of these were typed (or have a default)."""
        return all(self._values[n] is not None for n in names)

    def field(self, name: str) -> Field:
        """The declaration of an input."""
        return self._fields[name]

    def shown(self, name: str) -> str:
        """As typed, and converted where that says more: "30 ft-lb (40.67 N·m)"."""
        f, typed, value = self._fields[name], self.as_entered.get(name), self._values[name]
        if value is None:
            return "not given"
        if f.kind == "list" and f.item is not None and f.item.kind in ("quantity", "number"):
            return "; ".join("not measured" if v is None else show(v, f.item.unit) for v in value)
        if f.kind == "table":
            return f"{len(value)} rows" if len(value) != 1 else "1 row"
        if f.kind != "quantity" or isinstance(value, str):
            return f.spoken(typed)
        digits = max(4, min(_digits_typed(str(typed)), 9))  # 135.725 mm never comes back as 135.7 mm
        if isinstance(value, Reading):
            converted = show(value.value, f.unit, digits)
            if value.is_band:
                converted = f"{show(value.low, f.unit, digits)} to {show(value.high, f.unit, digits)}"
        else:
            converted = show(value, f.unit, digits)
        return f"{typed} ({converted})"

    def to_json(self) -> dict[str, Any]:
        """as_entered, value and unit of every input that has a value."""
        return {
            name: {"as_entered": self.as_entered.get(name), **_plain(value, self._fields[name])}
            for name, value in self._values.items()
            if value is not None
        }


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


# ------------------------------------------------------------------------------ outcomes and checks
class Outcome(enum.StrEnum):
    """What a check says.  Together: fail > undecided > no limit given > pass."""

    FAIL = "fail"
    UNDECIDED = "undecided"
    NO_LIMIT = "no limit given"
    PASS = "pass"  # noqa: S105 -- not a password


def worst(outcomes: Iterable[Outcome]) -> Outcome | None:
    """The outcome of several together, None when there is none."""
    order = list(Outcome)
    return min(outcomes, key=order.index, default=None)


@dataclass(frozen=True)
class Value:
    """A result.  A number or list of numbers in SI with its unit; text and yes/no have none."""

    value: Any
    unit: Unit | None
    label: str
    digits: int = 4

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
            return "; ".join(show(v, self.unit, self.digits) for v in self.value)
        return show(self.value, self.unit, self.digits)

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


@dataclass(frozen=True)
class Check:
    """A value against a limit, with where the limit came from."""

    label: str
    found: Value
    limit: Value | None
    comparison: str  # ≤ < ≥ > within, agree, …
    limit_source: str | None
    outcome: Outcome
    remark: str = ""

    def as_line(self) -> str:
        """On one line: label, found, comparison, limit, source, outcome."""
        bound = f" {self.comparison} {self.limit.shown}" if self.limit else ""
        source = f" [{self.limit_source}]" if self.limit_source else ""
        remark = f" ({self.remark})" if self.remark else ""
        return f"{self.label}: {self.found.shown}{bound}{source} → {self.outcome}{remark}"

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
        }


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
        return fn(**si)

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
    ) -> Outcome:
        """Compare in SI with ``≤ < ≥ >``.  A limit without a source can fail, never pass; missing is not zero.

        ``digits`` as for a result: enough that two values which differ also look different.
        """
        holds = {"≤": float.__le__, "<": float.__lt__, "≥": float.__ge__, ">": float.__gt__}[comparison]
        if bound is None:
            outcome, remark = Outcome.NO_LIMIT, remark or "no limit was given"
        elif found is None:
            outcome, remark = Outcome.UNDECIDED, remark or "not measured"
        elif not holds(_rounded(found), _rounded(bound)):
            outcome = Outcome.FAIL
            remark = remark if source else (remark + "; " if remark else "") + "source missing"
        elif not source:
            outcome, remark = (
                Outcome.NO_LIMIT,
                (remark + "; " if remark else "") + "within the limit, but its source is missing",
            )
        else:
            outcome = Outcome.PASS
        self.judge(label, found, comparison, bound, unit, source, outcome, remark, digits)
        return outcome

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
    ) -> None:
        """Keep a check whose outcome was decided by its own rule (a bracket, a guard band, a word)."""
        u = None if unit is None else unit_of(unit)
        kept = Value(bound, u, "limit", digits) if bound is not None else None
        self.checks.append(Check(label, Value(found, u, label, digits), kept, comparison, source, outcome, remark))


def _rounded(x: float) -> float:
    """Away with the last binary digits, so that 0.08 mm typed twice is the same 0.08 mm."""
    return float(f"{float(x):.12e}")


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

    def pictures(self, result: Result) -> bool:
        """True when there is something to draw; where ``alt`` has no words, this result has no picture."""
        return self.draw is not None and (self.alt is None or bool(self.alt(result)))

    def field(self, name: str) -> Field | None:
        """The declaration of an input, by name."""
        return next((f for f in self.fields if f.name == name), None)

    def __call__(self, raw: Mapping[str, Any] | None = None, /, *, folder: Path | None = None, **more: Any) -> Result:
        """Read what was typed and run.  Raises BadInput naming every bad field."""
        typed = {**(raw or {}), **more}
        inputs = Inputs(self.fields, _read_fields(self.fields, typed, folder), _entered(self.fields, typed))
        sheet = Worksheet(self, inputs)
        self.run(inputs, sheet)
        sheet.door()
        return Result(
            self, inputs, sheet.values, tuple(sheet.steps), tuple(sheet.checks), tuple(sheet.assumptions),
            tuple(sheet.cautions), sheet.curve,
        )  # fmt: skip

    def schema(self) -> dict[str, Any]:
        """JSON Schema of the inputs."""
        return {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "title": self.name,
            "description": self.question,
            **_object(self.fields),
        }


def _entered(fields: Iterable[Field], typed: Mapping[str, Any]) -> dict[str, Any]:
    """As typed; a default is shown as such."""
    return {f.name: typed[f.name] if typed.get(f.name) not in (None, "") else f.default for f in fields}
