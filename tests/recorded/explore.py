"""Look for inputs that are worth a recorded run: each makes the code of a working do what none before made it do.

Starts at inputs that work (the examples, the invented job, the recorded calculations), and changes them as the
declared fields allow: each choice, each optional input present and absent, each bound exactly and just beyond, rows
doubled, missing, exchanged.  Where a comparison never met equal numbers, one typed number is moved until they are equal.
The same changes are tried every time.  Of all inputs found, the fewest are kept that see the same together.
"""

from __future__ import annotations

import contextlib
import copy
import json
import math
import random
import re
import warnings
from collections.abc import Iterator
from typing import Any

from matplotlib.figure import Figure

from shoplib.core.errors import ShoplibError
from tests.recorded import said, watched
from tests.topics.typed_inputs import example_of

SPOT = re.compile(r"(?<![\w.^*/])-?\d+(?:\.\d+)?")
FACTORS = (0.0, 0.5, 0.8, 0.95, 0.99, 1.01, 1.05, 1.2, 1.5, 2.0, 4.0, 10.0, -1.0, 0.1)
NEAR = (1.002, 0.998, 1.03, 0.97)  # where two numbers were met equal, they are also tried so near to each other
Path = tuple[Any, ...]


def spots(value: Any, path: Path = ()) -> Iterator[tuple[Path, re.Match[str]]]:
    """Each number in the inputs: where it is."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from spots(inner, (*path, key))
    elif isinstance(value, list):
        for n, inner in enumerate(value):
            yield from spots(inner, (*path, n))
    elif isinstance(value, str) and len(value) < 400:
        for found in SPOT.finditer(value):
            yield path, found


def at(value: Any, path: Path) -> Any:
    for key in path:
        value = value[key]
    return value


def put(inputs: Any, path: Path, new: Any) -> Any:
    """The inputs with one thing typed anew."""
    made = copy.deepcopy(inputs)
    at(made, path[:-1])[path[-1]] = new
    return made


def retyped(inputs: Any, path: Path, spot: re.Match[str], number: float, digits: int = 12) -> Any:
    text = f"{number:.{digits}g}"
    if "e" in text:
        text = f"{number:.12f}".rstrip("0").rstrip(".") or "0"
    return put(inputs, path, spot.string[: spot.start()] + text + spot.string[spot.end() :])


def fewest(caused: list[set[tuple]]) -> list[int]:
    """Which of these sets of events have every event together: always the one that has most of what is left."""
    left: set[tuple] = set().union(*caused)
    found = []
    while left:
        best = max(range(len(caused)), key=lambda k: len(caused[k] & left))
        found.append(best)
        left -= caused[best]
    return found


class Explorer:
    """The inputs kept for one working."""

    def __init__(self, working: Any, seeds: list[dict[str, Any]], tries: int) -> None:
        self.working, self.left, self.for_words = working, tries + len(seeds), 25
        self.rng = random.Random(working.name)
        self.events: set[tuple] = set()
        self.kept: list[dict[str, Any]] = []
        self.pairs: list[dict[tuple, tuple[float, float]]] = []
        self.caused: list[set[tuple]] = []  # the events of each of the kept inputs
        self.tried: set[str] = set()
        self.move: Any = None  # the picture, which compares and decides too
        for seed in seeds:
            self.attempt(seed, keep=True)

    # -- trying
    def told(self, inputs: dict[str, Any]) -> said.Said:
        """Run, and draw the picture."""
        told, result = said.run(self.working, inputs)
        if result is not None and self.working.draw is not None and self.working.pictures(result):
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                self.move = self.move or self.working.draw(Figure(figsize=self.working.figure_size))
                self.move(result)
        return told

    def attempt(self, inputs: dict[str, Any], wanted: tuple | None = None, *, keep: bool = False) -> bool:
        """Run; keep the inputs where something new happened.  True when the wanted event did."""
        key = json.dumps(inputs, sort_keys=True, default=str)
        if key in self.tried or self.left <= 0:
            return False
        self.tried.add(key)
        self.left -= 1
        watched.forget()
        try:
            told = self.told(inputs)
        except (ShoplibError, ArithmeticError, LookupError, TypeError, ValueError):
            return False
        if len(told) > 400:
            return False
        events = watched.SEEN | self.refusals(told) | {("outcome", told[0][0])}
        if told[0][0] != "refused":  # what is seen in a refused run may have no consequence that can be seen
            events |= {("shown", event) for event in events} | self.choices(inputs)
        new = events - self.events
        words = {("said", text) for text, _ in told[1:]} if told[0][0] != "refused" else set()
        if not new and words - self.events and self.for_words:
            self.for_words -= 1
            new = words
        if new or keep:
            self.events |= words
            self.events |= events
            self.kept.append(inputs)
            self.caused.append(events | words)
            self.pairs.append(dict(watched.LAST))
        return wanted in events

    @staticmethod
    def refusals(told: said.Said) -> set[tuple]:
        if told[0][0] != "refused" or not watched.SEEN:  # what core refuses is declared, and recorded as such
            return set()
        return {("refused", re.sub(r"\[.*?\]", "[]", text).split(";")[0][:90]) for text, _ in told[1:]}

    def choices(self, inputs: dict[str, Any]) -> set[tuple]:
        return {("chosen", f.name, str(inputs.get(f.name))) for f in self.working.fields if f.kind == "choice"}

    # -- changing
    def together(self) -> None:
        """Every field by what is declared for it at the same time: one refusal names them all."""
        for base in [*list(self.kept)[:3], {}]:
            values = {f.name: list(self.values_of(f)) for f in self.working.fields if f.kind != "table"}
            for field in self.working.fields:
                rows = base.get(field.name)
                if field.kind == "table" and isinstance(rows, list) and rows and isinstance(rows[0], dict):
                    of_columns = {c.name: list(self.values_of(c)) for c in field.columns}
                    for k in range(max(map(len, of_columns.values()))):
                        cells = {name: v[k] for name, v in of_columns.items() if k < len(v)}
                        self.attempt(put(base, (field.name, 0), {**rows[0], **cells}))
            for k in range(max(map(len, values.values()), default=0)):
                self.attempt({**base, **{name: v[k] for name, v in values.items() if k < len(v)}})
        self.attempt({})
        self.attempt({f.name: "?" for f in self.working.fields})

    def declared(self) -> None:
        """Each field by what is declared for it, beside each of the first inputs."""
        for base in list(self.kept)[:3]:
            for field in self.working.fields:
                for value in self.values_of(field):
                    self.attempt({**base, field.name: value})
                self.attempt({k: v for k, v in base.items() if k != field.name})
                rows = base.get(field.name)
                if field.kind == "table" and isinstance(rows, list) and rows and isinstance(rows[0], dict):
                    for column in field.columns:
                        for value in self.values_of(column):
                            self.attempt(put(base, (field.name, 0, column.name), value))

    def values_of(self, field: Any) -> Iterator[Any]:
        if field.kind == "choice":
            yield from field.choices
        elif field.kind == "boolean":
            yield from ("yes", "no")
        if field.example:
            yield example_of(field)
        yield from field.states
        if field.kind in ("quantity", "number", "integer"):
            unit = field.unit.name if field.kind == "quantity" else ""
            for bound in (field.above, field.at_least, field.below, field.at_most, *(field.plausible or ())):
                if bound is not None and math.isfinite(bound):
                    shown = field.unit.from_si(bound) if field.kind == "quantity" else bound
                    for number in (shown, shown + 1e-6 * (abs(shown) or 1), shown - 1e-6 * (abs(shown) or 1)):
                        yield f"{number:.12g} {unit}".strip()

    def changed(self) -> Any:
        """One of the kept inputs with one or two things typed anew."""
        inputs = self.rng.choice(self.kept)
        for _ in range(self.rng.choice((1, 1, 2))):
            way = self.rng.random()
            places = list(spots(inputs))
            if way < 0.5 and places:
                path, spot = self.rng.choice(places)
                number = float(spot[0])
                others = [float(s[0]) for _, s in places]
                number = self.rng.choice(others) if self.rng.random() < 0.35 else number * self.rng.choice(FACTORS)
                inputs = retyped(inputs, path, spot, number, self.rng.choice((2, 3, 6)))
            elif way < 0.75 and self.working.fields:
                field = self.rng.choice(self.working.fields)
                values = list(self.values_of(field))
                if values and self.rng.random() < 0.8:
                    inputs = {**inputs, field.name: self.rng.choice(values)}
                else:
                    inputs = {k: v for k, v in inputs.items() if k != field.name}
            else:
                inputs = self.rows_changed(inputs)
        return inputs

    def rows_changed(self, inputs: Any) -> Any:
        """A row or an item of a list doubled, gone, exchanged, or with one cell of it typed anew."""
        for name, typed in inputs.items():
            if isinstance(typed, str) and typed.strip()[:1] == "[":
                with contextlib.suppress(ValueError):
                    inputs = {**inputs, name: json.loads(typed)}
            elif isinstance(typed, str) and ";" in typed and "\n" not in typed:
                inputs = {**inputs, name: [x.strip() for x in typed.split(";")]}
        lists = [name for name, typed in inputs.items() if isinstance(typed, list) and typed]
        if not lists:
            return inputs
        name = self.rng.choice(lists)
        rows, k = copy.deepcopy(inputs[name]), self.rng.randrange(len(inputs[name]))
        match self.rng.randrange(6):
            case 0:
                rows.insert(k, copy.deepcopy(rows[k]))
            case 1:
                del rows[k]
            case 2:
                j = self.rng.randrange(len(rows))
                rows[j], rows[k] = rows[k], rows[j]
            case _ if isinstance(rows[k], dict):
                columns = self.working.field(name).columns
                column = self.rng.choice(columns)
                values = [
                    *self.values_of(column),
                    *(r[column.name] for r in rows if isinstance(r, dict) and column.name in r),
                ]
                if values and self.rng.random() < 0.75:
                    rows[k][column.name] = self.rng.choice(values)
                else:
                    rows[k].pop(column.name, None)
            case _:
                rows[k] = self.rng.choice(["", *rows])
        return {**inputs, name: rows}

    # -- at the limit
    def at_limits(self) -> None:
        """Move one typed number until the two sides of a comparison are equal."""
        asked: dict[tuple, int] = {}
        for k in range(len(self.kept)):
            for place, (a, b) in self.pairs[k].items():
                equal = (*place, "equal")
                if equal in self.events or a == b or asked.get(place, 0) >= 3:
                    continue
                asked[place] = asked.get(place, 0) + 1
                for path, spot in list(spots(self.kept[k]))[:14]:
                    if self.left <= 0 or self.meet(self.kept[k], path, spot, place, equal):
                        break

    def meet(self, inputs: Any, path: Path, spot: re.Match[str], place: tuple, equal: tuple) -> bool:
        x, step = float(spot[0]), 1e-3 * (abs(float(spot[0])) or 1.0)
        gap = self.gap(inputs, place)
        if gap is None:
            return False
        for _ in range(6):
            moved = self.gap(retyped(inputs, path, spot, x + step), place)
            if moved is None or moved == gap or not math.isfinite(moved - gap):
                return False
            x = x - gap * step / (moved - gap)
            if not abs(x) < 1e9:
                return False
            for digits in (2, 3, 4, 6, 12):
                if self.attempt(retyped(inputs, path, spot, x, digits), equal):
                    for factor in NEAR:
                        self.attempt(retyped(inputs, path, spot, x * factor))
                    return True
            gap, step = self.gap(retyped(inputs, path, spot, x), place), 1e-3 * (abs(x) or 1.0)
            if gap is None:
                return False
            if gap == 0 or abs(gap) < 1e-15:
                return False
        return False

    def gap(self, inputs: Any, place: tuple) -> float | None:
        watched.forget()
        self.left -= 1
        with contextlib.suppress(ShoplibError, ArithmeticError, LookupError, TypeError, ValueError):
            self.told(inputs)
        pair = watched.LAST.get(place)
        return None if pair is None or not math.isfinite(pair[0] - pair[1]) else pair[0] - pair[1]

    def run(self) -> list[dict[str, Any]]:
        """The inputs, in the order in which they were found."""
        if self.kept:
            self.together()
            self.declared()
            third = self.left // 3
            for _ in range(third):
                self.attempt(self.changed())
            limit = self.left // 2
            self.left -= limit
            self.at_limits()
            self.left = limit
            while self.left > 0:
                before = self.left
                self.attempt(self.changed())
                self.left = min(self.left, before - 1)
        return self.needed()

    def needed(self) -> list[dict[str, Any]]:
        """Of the kept inputs the fewest that see every event."""
        return [self.kept[k] for k in sorted(fewest(self.caused))]
