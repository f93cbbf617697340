"""A working: a calculation of the trade, declared once, and the result of a run."""

from __future__ import annotations

import functools
import importlib
import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from shoplib import __version__
from shoplib.core import conditions
from shoplib.core.checks import Check, Outcome, Value, worst
from shoplib.core.errors import BadInput, Problem
from shoplib.core.fields import ALLOWED, NOT_ALLOWED, Field, _read_fields
from shoplib.core.former import Former
from shoplib.core.formula import text
from shoplib.core.input_schema import object_schema
from shoplib.core.inputs import Inputs, _blank, _entered
from shoplib.core.outcome_labels import outcome_label
from shoplib.core.worksheet import Step, Worksheet

if TYPE_CHECKING:
    import pandas


def in_labels(said: str, fields: Iterable[Field], typed: object) -> str:
    """A message in the words of forms and sheets: an input is called by the label above its box, “Height when new”.

    Only a name with an underscore is surely a name; "cut" may be a word.  A name that also stands somewhere in what
    was typed is left alone: the message may be quoting it, and what a person typed is never altered.

    :param said: the message, with inputs by their names
    :param fields: the declared inputs
    :param typed: what was typed, which stays as it is; None where it does not matter
    """
    if "_" not in said:
        return said
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
    inputs: Any  # of the class that the working declares
    values: Mapping[str, Value]
    steps: tuple[Step, ...]
    checks: tuple[Check, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    plot_data: Mapping[str, Any] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Any:
        """SI value of a result."""
        return self.values[name].value

    @property
    def outcome(self) -> Outcome | None:
        """All checks together; None when the working judges nothing."""
        return worst(c.outcome for c in self.checks)

    @property
    def is_forecast(self) -> bool:
        """Whether the checks judge what is still to be done, such as a cut."""
        forecasts = self.working.forecasts
        return forecasts is not None and forecasts(self.inputs)

    def in_labels(self, said: str) -> str:
        """A remark, an assumption or a caution for somebody who sees labels, not names.

        :param said: the text, with inputs by their names
        """
        return in_labels(said, self.working.fields, self.inputs.as_entered)

    @property
    def foremost(self) -> list[str]:
        """The cautions to show, at most five: those of these inputs first, then those that always apply."""
        own = [c for c in self.cautions if c not in self.working.cautions]
        return [*own, *(c for c in self.cautions if c in self.working.cautions)][:MOST_CAUTIONS]

    @property
    def labelled_cautions(self) -> list[str]:
        """The cautions to show, in labels."""
        return [self.in_labels(c) for c in self.foremost]

    def as_text(self, *, cautions: bool = True) -> str:
        """The whole result for a terminal or a notebook's text output; without its cautions under a form.

        :param cautions: whether they are told
        """
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
            lines += [f"    {step.note}"] if step.note else []
            lines += ["    " + " = ".join(map(text, [x.symbol, *x.chain])) for x in step.lines()]
        if self.checks:
            lines += ["", "Checks"]
            lines += [c.as_line() for c in self.checks]
            lines.append(f"Outcome: {outcome_label(self.outcome)}")
        warned = self.foremost if cautions else ()
        for heading, statements in (("Assumed", self.assumptions), ("Caution", warned)):
            lines += [f"{heading}: {statement}" for statement in statements]
        return "\n".join(lines)

    def table(self, name: str) -> pandas.DataFrame:
        """A table of the results as a DataFrame: one row for each record, in the units shown.

        A column is called by its name, with its unit behind it: ``height, mm``.  A list gives one column.
        Raises KeyError where there is no result of that name, TypeError where it is a single value.

        :param name: of the result
        """
        import pandas

        value = self.values[name]
        if value.is_table:
            units = {key: cell.unit for row in value.value for key, cell in row.items()}
            rows = [{key: cell["value"] for key, cell in row.items()} for row in value.to_json()["value"]]
            columns = {key: f"{key}, {unit.name}" if unit else key for key, unit in units.items()}
            return pandas.DataFrame(rows, columns=list(columns)).rename(columns=columns)
        if isinstance(value.value, list | tuple):
            column = f"{name}, {value.unit.name}" if value.unit else name
            return pandas.DataFrame({column: value.to_json()["value"]})
        raise TypeError(f"{name} is a single value, not a table")

    def to_json(self, *, steps: bool = True) -> dict[str, Any]:
        """One plain object, as printed by ``shoplib work … --json``.

        :param steps: whether the steps are in it
        """
        return {
            "working": self.working.name,
            "version": __version__,
            "calculation": self.working.calculation,
            "inputs": self.inputs.to_json(),
            "results": {k: v.to_json() for k, v in self.values.items()},
            "checks": [c.to_json() for c in self.checks],
            "outcome": None if self.outcome is None else str(self.outcome),
            "steps": [s.to_json() for s in self.steps] if steps else [],
            "assumptions": list(self.assumptions),
            "cautions": list(self.cautions),
        }


def _finite(value: Any) -> bool:
    if type(value) is float:
        return math.isfinite(value)
    if isinstance(value, list | tuple):
        return all(map(_finite, value))
    if isinstance(value, Mapping):
        return all(map(_finite, value.values()))
    return _finite(value.value) if isinstance(value, Value) else not isinstance(value, float) or math.isfinite(value)


MOST_CAUTIONS = 5  # on a form; the page of general cautions shows all
GOVERNS = "Follow the maker's procedure for this engine. Nothing here replaces it."


PICTURE_SIZE = (6.2, 3.2)


@dataclass(frozen=True)
class Picture:
    """The picture of a working.

    ``draw(figure)`` sets it up and returns ``move(result)``; what moves has a ``gid``.
    """

    draw: Callable[[Any], Callable[[Result], None]]
    alt: Callable[[Result], str] | None = None  # in words
    size: tuple[float, float] = PICTURE_SIZE


@functools.cache
def pictures_beside(module: str) -> Mapping[str, Picture]:
    """The pictures of the topic in which a module lies, by the name of the working.

    :param module: its full name
    """
    package, _, _ = module.rpartition(".")
    if not package.startswith("shoplib.topics."):
        return {}
    try:
        beside = importlib.import_module(f"{package}.pictures")
    except ModuleNotFoundError as error:
        if error.name != f"{package}.pictures":
            raise
        return {}
    found: Mapping[str, Picture] = beside.PICTURES
    return found


@dataclass(frozen=True)
class Renamed:
    """The present name of an input of an earlier version, and its old words in present words."""

    name: str
    words: Mapping[str, str] = field(default_factory=dict)


COMPARISON_BEFORE = {"comparison": Renamed("at_limit", {"<": NOT_ALLOWED, "<=": ALLOWED, "≤": ALLOWED})}


@dataclass(frozen=True)
class Working:
    """A calculation of the trade, declared once."""

    name: str
    title: str
    question: str  # what it answers, in the user's words
    inputs: type[Inputs]
    run: Callable[[Any, Worksheet], None]  # reads an object of its ``inputs``
    phase: str = ""  # of the job: "measure", "tighten", …
    calculation: int = 1  # its version: raised when the same inputs give other numbers or another outcome
    cautions: tuple[str, ...] = (GOVERNS,)
    drawn: Picture | None = None  # of a working outside the topics; theirs stand in ``pictures.py`` beside them
    renamed: Mapping[str, Renamed] = field(default_factory=dict)  # inputs of earlier versions, which stay readable
    forecasts: Callable[[Any], bool] | None = None  # of its inputs: whether its checks judge what is still to be done
    former: Former = field(default_factory=Former)  # names and texts of its results in earlier versions

    def current(self, typed: Mapping[str, Any]) -> dict[str, Any]:
        """What was typed, with the inputs of earlier versions under the names that they have now.

        :param typed: each input as it was typed, by its name of any version
        :raises BadInput: an input typed both under its earlier name and under its name now
        """
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

    @property
    def fields(self) -> tuple[Field, ...]:
        """The declarations of the inputs, in the order of the form."""
        return self.inputs.declared

    @property
    def picture(self) -> Picture | None:
        """The picture of this working, looked up in the ``pictures`` module of its topic when it is first needed."""
        return self.drawn or pictures_beside(self.run.__module__).get(self.name)

    @property
    def draw(self) -> Callable[[Any], Callable[[Result], None]] | None:
        """``draw(figure)`` sets the picture up and returns ``move(result)``."""
        return self.picture.draw if self.picture else None

    @property
    def alt(self) -> Callable[[Result], str] | None:
        """The picture in words."""
        return self.picture.alt if self.picture else None

    @property
    def figure_size(self) -> tuple[float, float]:
        """Width and height of the picture, inch."""
        return self.picture.size if self.picture else PICTURE_SIZE

    def pictures(self, result: Result) -> bool:
        """True when there is something to draw; where ``alt`` has no words, this result has no picture.

        :param result: of this working
        """
        return self.draw is not None and (self.alt is None or bool(self.alt(result)))

    @property
    def asked(self) -> str:
        """The question as a sentence."""
        return f"{self.question[:1].upper()}{self.question[1:]}?"

    def field(self, name: str) -> Field | None:
        """The declaration of an input, by name.

        :param name: of the input
        """
        return self._by_name.get(name)

    @functools.cached_property
    def _by_name(self) -> Mapping[str, Field]:
        return {f.name: f for f in self.fields}

    def __call__(self, raw: Mapping[str, Any] | None = None, /, *, folder: Path | None = None, **more: Any) -> Result:
        """Read what was typed and run.  Raises BadInput naming every bad field."""
        typed = self.current({**(raw or {}), **more})
        values, entered = _read_fields(self.fields, typed, folder), _entered(self.fields, typed)
        inputs = self.inputs(values, entered, folder)
        sheet = Worksheet(self, inputs)
        sheet.refused += conditions.problems(self.fields, self.inputs.combinations, entered, values)
        try:
            with np.errstate(divide="raise", over="raise", invalid="raise"):  # else NumPy warns and goes on
                self.run(inputs, sheet)
        except (ZeroDivisionError, OverflowError, FloatingPointError):
            raise BadInput(sheet.refused or [self._not_finite(inputs)]) from None
        except BadInput:
            raise
        except Exception:
            if sheet.refused:  # a run may end in any way where an input that it needs is missing
                sheet.raise_refusals()
            raise
        sheet.raise_refusals()
        if not all(_finite(v.value) for v in sheet.values.values()):
            raise BadInput([self._not_finite(inputs)])
        return Result(
            self, inputs, sheet.results(), tuple(sheet.steps), tuple(sheet.checks), tuple(sheet.assumptions),
            tuple(sheet.cautions), sheet.plot_data,
        )  # fmt: skip

    def _not_finite(self, inputs: Inputs) -> Problem:
        """The values that were typed, each possible, give no finite result together."""
        first = next(
            (f for f in self.fields if f.kind in ("quantity", "number") and inputs.typed(f.name)), self.fields[0]
        )
        return Problem(
            first.name,
            "gives no finite result together with the other values; check each number and its unit",
            first.to_type,
        )

    def schema(self) -> dict[str, Any]:
        """JSON Schema of the inputs."""
        described = object_schema(self.fields)
        for f in self.fields:
            if f.kind == "table":
                described["properties"][f.name]["items"] |= conditions.as_schema(f.columns)
        return {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "title": self.name,
            "description": self.question,
            **described,
            **conditions.as_schema(self.fields, self.inputs.combinations),
        }
