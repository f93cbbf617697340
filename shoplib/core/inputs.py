"""The inputs of one run: as they were typed, and their values in SI."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, ClassVar, Self

from shoplib.core import rounding
from shoplib.core.conditions import OneOf
from shoplib.core.fields import Field
from shoplib.core.units import Reading, Unit, Unreadable, difference, read, tidy


# ------------------------------------------------------------------------------ inputs
class Inputs:
    """What was typed, and what it means.  A working declares its inputs as a class of these, one attribute for each::

        class Inputs_of_a_lever(Inputs):
            force = quantity("force", kN, "Force")
            length = quantity("length", mm, "Length", required=False)

    In a run ``inputs.force`` is an SI float; what may be left out reads as None then.  The class lists its declarations
    in ``declared``, in the order of the form: its own in the order of its body, then those of its bases.

    Parameters that have one meaning in all methods:

    - ``name``: of the input
    """

    declared: ClassVar[tuple[Field, ...]] = ()
    combinations: ClassVar[tuple[OneOf, ...]] = ()  # of which groups one is typed; those of the bases count too
    as_entered: dict[str, Any]
    folder: Path | None  # whose CSV files may be named; None: no file is opened

    def __init_subclass__(cls) -> None:
        own = {name: f for name, f in vars(cls).items() if isinstance(f, Field)}
        for name, f in own.items():
            if name.rstrip("_") != f.name or hasattr(Inputs, name) or f.name in Inputs.__annotations__:
                raise TypeError(f"{cls.__name__}.{name} declares an input called {f.name!r}")
        found = {f.name: f for f in own.values()}
        for base in cls.__bases__:
            for f in getattr(base, "declared", ()):
                found.setdefault(f.name, f)
        cls.declared = tuple(found.values())
        every = (c for base in reversed(cls.__mro__) for c in vars(base).get("combinations", ()))
        cls.combinations = tuple(dict.fromkeys(every))

    def __init__(self, values: Mapping[str, Any], as_entered: Mapping[str, Any], folder: Path | None = None) -> None:
        self._fields, self.as_entered, self.folder = {f.name: f for f in self.declared}, dict(as_entered), folder
        self._items: dict[str, list[Any]] = {}
        self.__dict__ |= values  # each value is an attribute: nothing is read faster

    def __getitem__(self, name: str) -> Any:
        """The value of an input by its name, where the name is only known in a run."""
        return self.__dict__[name]

    def replaced(self, **other: Any) -> Self:
        """These inputs with other values, to calculate with; what was typed stays.

        :param other: inputs by name, each with its value; in SI
        :raises TypeError: a name that is not declared
        """
        found = object.__new__(type(self))
        found.__dict__ = self.__dict__ | other
        if len(found.__dict__) > len(self.__dict__):
            raise TypeError(f"no inputs of {type(self).__name__}: {sorted(other.keys() - self._fields.keys())}")
        return found

    def given(self, *names: str) -> bool:
        """True when all of these were typed (or have a default).

        :param names: of the inputs
        """
        for name in names:  # noqa: SIM110 -- asked at every evaluation: a third of the time of all(…)
            if self.__dict__[name] is None:
                return False
        return True

    def typed(self, name: str) -> bool:
        """True when this was typed; a default is not."""
        return self.as_entered.get(name) is not None

    def half_digit(self, name: str, item: int | None = None, column: str = "") -> float:
        """Half of the last digit typed, in SI: of an input, or of the ``item`` (from 0) and ``column`` of a list or
        table.  Zero when nothing was typed there.

        :param item: of a list or table, counted from 0
        :param column: of a table
        """
        f, typed, value = self._fields[name], self.as_entered.get(name), self[name]
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
        return [f for n, f in self._fields.items() if not self.typed(n) and self[n] is not None]

    def field(self, name: str) -> Field:
        """The declaration of an input."""
        return self._fields[name]

    def shown(self, name: str) -> str:
        """As typed, and converted where that says more: "30 ft-lb (40.67 N·m)"."""
        f, typed, value = self._fields[name], self.as_entered.get(name), self[name]
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
                **_as_json(value, self._fields[name]),
            }
            for name in self._fields
            if (value := self[name]) is not None
        }


def _as_json(value: Any, f: Field) -> dict[str, Any]:
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
        case "trace":
            return {"value": value.shown, "unit": None}
        case "list":
            assert f.item is not None
            return {"value": [_as_json(v, f.item)["value"] for v in value], "unit": _unit_or_none(f.item)}
        case "table":
            rows = [{c.name: _as_json(r[c.name], c) for c in f.columns if r[c.name] is not None} for r in value]
            return {"value": rows, "unit": None}
    return {"value": value, "unit": None}


def _unit_or_none(f: Field) -> str | None:
    return f.unit.name if f.kind in ("quantity", "number", "integer") else None


def _entered(fields: Iterable[Field], typed: Mapping[str, Any]) -> dict[str, Any]:
    """As typed; None where nothing was, also when there is a default."""
    return {f.name: None if _blank(typed.get(f.name)) else typed[f.name] for f in fields}


def _blank(typed: Any) -> bool:
    return typed is None or (isinstance(typed, str) and not typed.strip())


@functools.lru_cache(maxsize=4096)  # a keystroke changes one reading; the others are asked for again
def half_digit_in_si(typed: str, unit: Unit) -> float:
    """Half of the last digit of what was typed as a quantity of this unit, in SI.  A sum takes its coarsest term.

    :param typed: as it was typed
    :param unit: of the input; a text without a unit is in it
    """
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
