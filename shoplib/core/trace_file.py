"""A torque–angle trace: a table of samples as text, with any delimiter, decimal sign and unit.

The columns are recognised by the units in their headings, or named by the user: ``run3.csv; torque = M2``.
No file format of a product is read.  A long trace is condensed to means of equal blocks, so that a record can hold it.
"""

from __future__ import annotations

import functools
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from shoplib.core import csv_file, files
from shoplib.core.reading_limits import TRACE_FILE
from shoplib.core.units import N_m, Unit, Unreadable, clip, deg, kN, read, second, show, unit_of

ANGLE, TORQUE, FORCE, TIME = unit_of(deg), unit_of(N_m), unit_of(kN), unit_of(second)
QUANTITIES: Mapping[str, Unit] = {"angle": ANGLE, "torque": TORQUE, "force": FORCE, "time": TIME}
FEWEST, MOST = 8, 2000  # samples; a longer trace is condensed
WITHOUT_READING = 0.2  # share of rows without a reading; above it the trace is refused (chosen here, no source)
LONGEST_ANGLE, LARGEST_TORQUE = np.radians(36_000.0), 5_000.0  # a hundred turns; as the bounds of a typed torque

_SIGNS = ((";", ","), (";", "."), ("\t", ","), ("\t", "."), ("|", "."), ("|", ","), (",", "."), (" ", "."), (" ", ","))
MOST_HEADINGS, LOOKED_AT = 200, 60  # lines in which the first sample is looked for; lines that tell delimiter and sign
_TENS = np.array([float(f"1e{k}") for k in range(23)])  # all exact
_CHOICE = re.compile(r"\s*(angle|torque|force|time)\s*=\s*(.+?)\s*", re.IGNORECASE)


# ------------------------------------------------------------------------------ the trace
@dataclass(frozen=True, eq=False)
class Trace:
    """Samples in the order of the tightening, SI.  ``notes`` say what was done to the table."""

    angle: np.ndarray[Any, Any]
    torque: np.ndarray[Any, Any]
    force: np.ndarray[Any, Any] | None = None
    time: np.ndarray[Any, Any] | None = None
    notes: tuple[str, ...] = ()
    rows: int = 0  # of the file, before it was condensed

    def __len__(self) -> int:
        return len(self.angle)

    @functools.cached_property
    def text(self) -> str:
        """The samples as text that reads back to the same numbers."""
        columns = [("angle_deg", np.degrees(self.angle)), ("torque_Nm", self.torque)]
        columns += [("force_kN", self.force / 1e3)] if self.force is not None else []
        columns += [("time_s", self.time)] if self.time is not None else []
        heading = ";".join(name for name, _ in columns)
        lines = (";".join(f"{x:.6g}" for x in row) for row in zip(*(c for _, c in columns), strict=True))
        return "\n".join((heading, *lines))

    @property
    def shown(self) -> str:
        """In a few words, for forms and sheets."""
        ends = f"{show(self.angle.min(), ANGLE)} to {show(self.angle.max(), ANGLE)}"
        return f"{len(self)} samples, {ends}, at most {show(self.torque.max(), TORQUE)}"


class NotATrace(Unreadable):
    """The table has no columns of angle and torque: it is of something else."""


# ------------------------------------------------------------------------------ reading
def read_trace(typed: object, folder: Path | None = None) -> Trace:
    """The trace of what was typed: the name of a CSV file in the folder, or the table itself.  Raises Unreadable.

    :param typed: the name of a file, or the table itself
    :param folder: whose CSV files may be named; None: no file is opened
    """
    if isinstance(typed, Trace):
        return typed
    if not isinstance(typed, str):
        raise Unreadable("enter the table of the trace, or the name of a CSV file")
    if "\n" in typed.strip():
        return parse(typed.encode("utf-8", "replace"))
    name, *choices = typed.strip().split(";")
    if not csv_file.names_a_file(name):
        raise Unreadable(f'"{clip(typed.strip())}" is neither a table of samples nor the name of a CSV file')
    shown = f'"{clip(name.strip(), 60)}"'
    if folder is None:
        raise Unreadable(f"{shown} is the name of a file; enter the table itself here")
    try:
        raw = files.read_bounded(files.inside(folder, name.strip()), TRACE_FILE.size)
    except files.NotRead as error:
        raise Unreadable(f"{shown} {error}") from None
    return parse(raw, _named(choices))


def names_a_trace_file(typed: object) -> bool:
    """Whether what was typed is the name of a file, with or without its columns.

    :param typed: as it was typed
    """
    return isinstance(typed, str) and "\n" not in typed.strip() and csv_file.names_a_file(typed.partition(";")[0])


def _named(choices: Sequence[str]) -> dict[str, str]:
    named = {}
    for choice in filter(str.strip, choices):
        found = _CHOICE.fullmatch(choice)
        if found is None:
            raise Unreadable(
                f'"{clip(choice.strip())}" names no column; type for example run3.csv; angle = W2; torque = M2'
            )
        named[found[1].lower()] = found[2]
    return named


def parse(raw: bytes, named: Mapping[str, str] | None = None) -> Trace:
    """The trace of the bytes of a table.  ``named``: angle, torque, force or time → heading of its column.

    :param raw: the bytes of the table
    :param named: angle, torque, force or time to the heading of its column; None: found by their headings
    :raises Unreadable: too large, or not a trace
    """
    if len(raw) > TRACE_FILE.size:
        raise Unreadable(f"is too long: {len(raw)} bytes; at most {TRACE_FILE.size}")
    raw = _as_utf8(raw)
    if raw.count(b"\n") > (TRACE_FILE.pieces or 0):
        raise Unreadable(f"has too many rows; at most {TRACE_FILE.pieces}")
    head = _Head.of(raw)
    columns = head.columns(named or {})
    found = _numbers(raw, head, columns)
    rows = len(found["angle"])
    found, notes = _complete(found)
    found = {name: _in_si(values, columns[name].unit, name) for name, values in found.items()}
    found, more = _forwards(found)
    _not_clipped(found["angle"], found["torque"])
    found, condensed = _condensed(found)
    notes += more + condensed
    return Trace(found["angle"], found["torque"], found.get("force"), found.get("time"), tuple(notes), rows)


def _as_utf8(raw: bytes) -> bytes:
    for code in ("utf-8-sig", "utf-16", "cp1252"):
        if code == "utf-16" and not raw.startswith((b"\xff\xfe", b"\xfe\xff")):
            continue
        try:
            if code == "utf-8-sig" and raw.isascii():
                return raw.replace(b"\r\n", b"\n") if b"\r" in raw else raw
            return raw.decode(code).replace("\r\n", "\n").encode()
        except UnicodeError:
            continue
    raise Unreadable("is not text")


# ------------------------------------------------------------------------------ delimiter, decimal sign, headings
@dataclass(frozen=True)
class _Column:
    place: int
    unit: Unit  # as in the file
    heading: str


@dataclass(frozen=True)
class _Head:
    """How the table is written."""

    delimiter: str
    decimal: str
    headings: tuple[str, ...]
    units: tuple[str, ...]  # of a row of units below the headings
    first: int  # line of the first sample

    @classmethod
    def of(cls, raw: bytes) -> _Head:
        lines = raw[:100_000].decode("utf-8", "replace").split("\n")
        if len(raw) > 100_000:
            lines.pop()
        if any(len(line) > 10_000 for line in lines):
            raise Unreadable("is not a table: a line is longer than 10000 characters")
        best: tuple[tuple[float, int], _Head] | None = None
        lines = lines[:MOST_HEADINGS]
        split = {sign: [_cells(line, sign) for line in lines] for sign in dict.fromkeys(d for d, _ in _SIGNS)
                 if sign == " " or any(sign in line for line in lines)}  # fmt: skip
        for delimiter, decimal in _SIGNS:
            cells = split.get(delimiter, [])
            first = next((k for k, row in enumerate(cells) if _is_sample(row, decimal)), None)
            if first is None:
                continue
            width = len(cells[first])
            body = [row for row in cells[first : first + LOOKED_AT] if any(row)]
            score = sum(_numbers_in(row, decimal) / width for row in body if len(row) == width) / len(body)
            heads = [row for row in cells[:first] if len(row) == width]
            score += 0.5 * bool(heads)
            fit = (round(score, 9), -first)  # of equals, the one that reads more lines as samples
            if best is None or fit > best[0]:
                units = heads[-1] if len(heads) > 1 and all(_unit(c, None) or not c for c in heads[-1]) else []
                names = heads[-2] if units else heads[-1] if heads else []
                best = (fit, cls(delimiter, decimal, tuple(names), tuple(units), first))
        if best is None:
            raise NotATrace("is not a table of samples: no line has two numbers")
        return best[1]

    def columns(self, named: Mapping[str, str]) -> dict[str, _Column]:
        """Quantity → column."""
        if not self.headings:
            raise NotATrace("has no heading; write a first line such as angle_deg; torque_Nm")
        found: dict[str, list[_Column]] = {}
        for place, heading in enumerate(self.headings):
            below = self.units[place] if self.units else ""
            for quantity, unit in QUANTITIES.items():
                told = named.get(quantity)
                if told is not None and not _same(told, heading):
                    continue
                own = _unit(below, unit) if below else _unit_in(heading, unit)
                if own is None and told is not None:
                    raise Unreadable(f'column "{clip(heading)}" has no unit of {quantity}')
                if own is not None:
                    found.setdefault(quantity, []).append(_Column(place, own, heading))
        for quantity, told in named.items():
            if quantity not in found:
                raise Unreadable(f'has no column "{clip(told)}"; there are {self._listed()}')
        for quantity in ("angle", "torque"):
            if quantity not in found:
                raise NotATrace(
                    f"has no column of {quantity}: no heading contains its unit. There are {self._listed()}. "
                    "Write for example angle_deg; torque_Nm"
                )
        chosen = {}
        for quantity, several in found.items():
            if len(several) > 1 and quantity in ("angle", "torque"):
                heads = " and ".join(f'"{clip(c.heading)}"' for c in several[:3])
                raise Unreadable(f"has several columns of {quantity}: {heads}. Name one: {quantity} = HEADING")
            if len(several) == 1:
                chosen[quantity] = several[0]
        return chosen

    def _listed(self) -> str:
        return ", ".join(f'"{clip(h, 20)}"' for h in self.headings[:8])


def _cells(line: str, delimiter: str) -> list[str]:
    cells = line.split() if delimiter == " " else line.split(delimiter)
    return [c.strip().strip('"').strip() for c in cells[: csv_file.MOST_COLUMNS]]


_POINT = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?(\d+,?\d*|,\d+)([eE][+-]?\d+)?")


def _is_number(cell: str, decimal: str) -> bool:
    return bool((_COMMA if decimal == "," else _POINT).fullmatch(cell.replace("−", "-")))


def _numbers_in(row: Sequence[str], decimal: str) -> int:
    return sum(_is_number(c, decimal) for c in row)


def _is_sample(row: Sequence[str], decimal: str) -> bool:
    """Whether at least two cells, and half of them, are numbers."""
    return len(row) > 1 and (n := _numbers_in(row, decimal)) >= 2 and n * 2 >= len(row)


def _same(told: str, heading: str) -> bool:
    bare = re.split(r"\s*[\[(]", heading)[0]
    return told.strip().lower() in (heading.strip().lower(), bare.strip().lower())


def _unit_in(heading: str, wanted: Unit) -> Unit | None:
    """The unit in a heading: in brackets, behind a stroke, an underscore or a space."""
    pieces = re.findall(r"[\[(]([^\])]*)[\])]", heading)
    pieces += [heading.rpartition(sign)[2] for sign in ("/", "_", " in ", ",", " ") if sign in heading]
    return next((unit for piece in pieces if (unit := _unit(piece, wanted))), None)


@functools.lru_cache(maxsize=1024)
def _unit(typed: str, wanted: Unit | None) -> Unit | None:
    """The unit of that spelling and dimension; any of ours where none is wanted."""
    if not typed.strip() or len(typed) > 20 or re.search(r"\d", typed):
        return None
    for unit in (wanted,) if wanted else QUANTITIES.values():
        try:
            one = read(f"1 {typed.strip()}", unit)
        except Unreadable:
            continue
        return Unit(unit.name, one.value, unit.text)
    return None


# ------------------------------------------------------------------------------ numbers
def _numbers(raw: bytes, head: _Head, columns: Mapping[str, _Column]) -> dict[str, np.ndarray[Any, Any]]:
    import pandas

    places = sorted({c.place for c in columns.values()})
    body = io.BytesIO(raw)
    for _ in range(head.first):
        body.readline()
    how: dict[str, Any] = {
        "decimal": head.decimal,
        "usecols": places,
        "engine": "c",
        "na_values": ["-", "–", "—", "---"],
        "skipinitialspace": True,
        "low_memory": False,
        "sep": r"\s+" if head.delimiter == " " else head.delimiter,
    }
    try:
        frame = pandas.read_csv(body, header=None, **how)
    except (pandas.errors.ParserError, pandas.errors.EmptyDataError, ValueError, OverflowError) as error:
        said = re.sub(r"\s+", " ", str(error)).strip()
        raise Unreadable(f"is not a table: {clip(said, 120)}") from None
    frame.columns = pandas.Index(places)
    found = {}
    for name, column in columns.items():
        values = frame[column.place]
        if values.dtype.kind not in "fi":
            said = values.astype(str).str.strip().str.replace("−", "-").str.replace(head.decimal, ".")
            values = pandas.to_numeric(said, errors="coerce")
        found[name] = values.to_numpy(dtype=float)
    return found


def _complete(
    found: dict[str, np.ndarray[Any, Any]],
) -> tuple[dict[str, np.ndarray[Any, Any]], list[str]]:
    """The rows with a reading of angle and torque; a missing reading is never zero."""
    there = np.isfinite(found["angle"]) & np.isfinite(found["torque"])
    rows, left = len(there), int(there.sum())
    if left < FEWEST:
        raise Unreadable(f"has {left} rows with an angle and a torque; at least {FEWEST} are needed")
    if rows - left > WITHOUT_READING * rows:
        raise Unreadable(f"has no reading in {rows - left} of {rows} rows; too much is missing")
    notes = [f"{rows - left} of {rows} rows have no reading; they were left out"] if left < rows else []
    if left < rows:
        found = {name: values[there] for name, values in found.items()}
    for name in ("force", "time"):
        if name in found and not np.isfinite(found[name]).all():
            del found[name]
            notes.append(f"the column of {name} has gaps and was not used")
    return found, notes


def _in_si(values: np.ndarray[Any, Any], unit: Unit, name: str) -> np.ndarray[Any, Any]:
    limit = {"angle": LONGEST_ANGLE, "torque": LARGEST_TORQUE}.get(name, 1e9)
    with np.errstate(over="ignore"):
        found = values * unit.si
    if not np.abs(found).max() <= limit:
        raise Unreadable(f"has an impossible {name}: {show(float(np.abs(found).max()), QUANTITIES[name])}")
    return found


def _forwards(found: dict[str, np.ndarray[Any, Any]]) -> tuple[dict[str, np.ndarray[Any, Any]], list[str]]:
    """Rows in order of time, angle and torque counted upwards."""
    notes = []
    time = found.get("time")
    if time is not None and time[0] > time[-1] and (np.diff(time) <= 0).all():
        found = {name: values[::-1] for name, values in found.items()}
        notes.append("the rows were in reverse order of time; they were turned round")
    elif time is not None and (np.diff(time) < 0).any():
        raise Unreadable("has times that run backwards; a trace must be one tightening, in order of time")
    angle, torque = found["angle"], found["torque"]
    third = max(len(torque) // 20, 1)
    if abs(float(torque.min())) > 2 * abs(float(torque.max())):
        found = {**found, "torque": -torque}
        notes.append("the torque was counted downwards; its sign was changed")
        torque = found["torque"]
    if np.ptp(angle) == 0:
        raise Unreadable("shows no turning: the angle is the same in every row")
    if np.median(angle[-third:]) < np.median(angle[:third]):
        before, after = np.median(torque[:third]), float(np.max(torque[-(len(torque) // 4) :]))
        if before > 0.5 * torque.max() and after < before:
            raise Unreadable(
                "starts at its highest torque and falls: a loosening, or rows in reverse order. "
                "Add a column of time, or type the rows from the first sample to the last"
            )
        found = {**found, "angle": -angle}
        notes.append("the angle was counted downwards; its sign was changed")
    return found, notes


def _not_clipped(angle: np.ndarray[Any, Any], torque: np.ndarray[Any, Any]) -> None:
    """Refuse a torque that stays at exactly its highest value while the bolt turns and the noise is gone."""
    at_top = torque == torque.max()
    if at_top.sum() < 8:
        return
    flat = np.flatnonzero(at_top)
    before = torque[: flat[0]]
    if len(before) < 8 or np.ptp(angle[at_top]) < 0.02 * np.ptp(angle):
        return
    upper = before[before > 0.5 * torque.max()]
    repeated = float(np.mean(np.diff(upper) == 0)) if len(upper) > 4 else 0.0
    within = float(at_top[flat[0] : flat[-1] + 1].mean())
    jump = _abrupt(angle, torque, int(flat[0]))
    if repeated < 0.3 and within > 0.4 and jump:
        raise Unreadable(
            f"stays at exactly {show(float(torque.max()), TORQUE)} in {int(at_top.sum())} samples while the bolt "
            "turns: the range of the transducer was exceeded"
        )


def _abrupt(angle: np.ndarray[Any, Any], torque: np.ndarray[Any, Any], at: int) -> bool:
    """Whether the torque rises up to this sample as steeply as ever, so that nothing announces the flat part."""
    rise = np.ptp(angle[:at]) / 10
    near = (angle[:at] > angle[at] - rise) & (torque[:at] > 0.2 * torque.max())
    if near.sum() < 3 or np.ptp(angle[:at][near]) == 0:
        return True
    slope = float(np.polyfit(angle[:at][near], torque[:at][near], 1)[0])
    half = torque[:at] > 0.5 * torque.max()
    turns = half.any() and np.ptp(angle[:at][half]) > 0
    whole = float(np.polyfit(angle[:at][half], torque[:at][half], 1)[0]) if turns else slope
    return slope > 0.6 * whole


def _condensed(found: dict[str, np.ndarray[Any, Any]]) -> tuple[dict[str, np.ndarray[Any, Any]], list[str]]:
    """At most MOST samples, each the mean of a block, rounded to six digits so that the text gives the same numbers."""
    rows = len(found["angle"])
    starts = np.unique(np.linspace(0, rows, min(rows, MOST) + 1).astype(int))[:-1]
    sizes = np.diff([*starts, rows])
    for name, values in found.items():
        si = QUANTITIES[name].si
        means = np.add.reduceat(values, starts) / sizes / si if rows > MOST else values / si
        found = {**found, name: _six_digits(means) * si}
    notes = [f"{rows} samples were condensed to {len(starts)}, each the mean of a block"] if rows > MOST else []
    return found, notes


def _six_digits(x: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """The numbers rounded to six digits, as whole numbers times a power of ten: equal to their text read again."""
    there = np.abs(x) > 1e-17
    power = np.clip(5 - np.floor(np.log10(np.abs(x), out=np.zeros_like(x), where=there)), -22, 22)
    up, down = _TENS[np.maximum(power, 0).astype(int)], _TENS[np.maximum(-power, 0).astype(int)]
    rounded: np.ndarray[Any, Any] = np.where(power >= 0, np.rint(x * up) / up, np.rint(x / down) * down)
    return rounded
