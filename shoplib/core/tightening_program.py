"""The grammar of tightening stages, the same on the form, the command line, in a job file and on the sheet.

    30 N*m · 37–43 N*m · 30 N*m ±4 % · +90 deg · +85–95 deg · +1/4 turn
    loosen · loosen 360 deg · repeat 30 N*m · check >= 60 N*m · wait 10 min

Any stage may end with ``group NAME`` (which bolts) and ``order NAMES`` (in which order), as in
``30 N*m group long order 4 2 1 3``.  What is typed is kept; nothing here computes with it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from shoplib.core.units import N_m, Unit, Unreadable, deg, kgf_m, lbf_ft, lbf_in, minute, read, tidy, unit_of

TORQUE, ANGLE, TIME = unit_of(N_m), unit_of(deg), unit_of(minute)
EXAMPLE = '"40 N*m; +90 deg"'
FORMS = "40 N*m, +90 deg, loosen, loosen 360 deg, repeat 40 N*m, check >= 60 N*m or wait 10 min"
LONGEST_PROGRAMME = 40  # stages; no printed programme comes near

_UNITS = {"torque": TORQUE, "repeat": TORQUE, "check": TORQUE, "angle": ANGLE, "loosen": ANGLE, "wait": TIME}
_AS_TYPED = {u.name: u for u in map(unit_of, (lbf_ft, lbf_in, kgf_m))}
_NAMES = re.compile(
    r"(?P<body>.*?)(?:\s+group\s+(?P<group>(?:(?!\sorder\s).)+?))?(?:\s+order\s+(?P<order>.+))?", re.IGNORECASE
)


@dataclass(frozen=True)
class Stage:
    """One stage.  ``value``, ``low`` and ``high`` are SI (N·m, rad or s); None for a plain ``loosen``."""

    kind: str  # torque, angle, loosen, repeat, check or wait
    as_entered: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    group: str = ""
    order: tuple[str, ...] = ()
    typed_unit: str = ""  # as pint spells it

    @property
    def wrench_unit(self) -> Unit:
        """The unit of a torque as typed, where wrenches have it; otherwise N·m."""
        return _AS_TYPED.get(self.typed_unit, TORQUE)

    @property
    def unit(self) -> Unit:
        """The unit in which it is shown."""
        return _UNITS[self.kind]

    @property
    def is_band(self) -> bool:
        """True for a range or a tolerance."""
        return self.low != self.high

    @property
    def shown(self) -> str:
        """As people read it: ``+90°``, ``37–43 N·m``, ``check ≥ 60 N·m``."""
        return self.shown_in(self.unit)

    def shown_in(self, unit: Unit) -> str:
        """The same in another unit of that kind: ``30 lbf·ft``.

        :param unit: of torque for a stage in torque, of angle for one in angle
        """
        if self.value is None:
            return "loosen"
        word = {"torque": "", "angle": "+", "check": "check ≥ "}.get(self.kind, self.kind + " ")
        if not self.is_band:
            return word + _short(self.value, unit)
        assert self.low is not None
        assert self.high is not None
        return f"{word}{_number(self.low, unit)}–{_short(self.high, unit)}"


def _number(value: float, unit: Unit) -> str:
    return f"{float(unit.from_si(value)):.6g}".replace("-", "−")


def _short(value: float, unit: Unit) -> str:
    return _number(value, unit) + (unit.text if unit.text == "°" else " " + unit.text)


def read_stage(typed: object) -> Stage:
    """Read one stage.  Raises Unreadable, saying what to type instead.

    :param typed: as it was typed, such as ``30 N*m`` or ``+ 90 deg``
    """
    text = tidy(typed)
    match = _NAMES.fullmatch(text)
    assert match is not None  # the pattern takes any text
    body, group, order = (match[name] for name in ("body", "group", "order"))
    names: dict[str, Any] = {"group": (group or "").strip(), "order": tuple((order or "").replace(",", " ").split())}
    word = re.match(r"(loosen|repeat|check|verify|wait)\b\s*", body, re.IGNORECASE)
    kind = word[1].lower() if word else ""
    rest = body[word.end() :].strip() if word else body.strip()
    if kind == "verify":
        kind = "repeat"
    if kind == "loosen" and not rest:
        return Stage(kind, text, **names)
    if kind == "check":
        rest = re.sub(r"^(>=|≥|at least|min(imum)?)\s*", "", rest, flags=re.IGNORECASE)
        if re.match(r"[<>≤=]", rest):
            raise Unreadable(f'"{text}" is not a minimum; type check >= 60 N*m')
    if kind == "loosen":
        rest = re.sub(r"^by\s+", "", rest, flags=re.IGNORECASE)
    if not kind:
        kind, rest = _torque_or_angle(text, rest)
    if not rest:
        raise Unreadable(f'"{text}" does not give an amount')
    reading = _read(rest, kind, text)
    if reading.low < 0:
        if kind == "angle":
            raise Unreadable(f'"{text}" is a negative angle; to turn back type loosen {_short(-reading.low, ANGLE)}')
        raise Unreadable(f'"{text}" is negative')
    if reading.value == 0 and kind != "angle":
        raise Unreadable(f'"{text}" is zero')
    if kind in ("torque", "repeat", "check") and reading.low <= 0:
        raise Unreadable(f'"{text}" includes zero')
    return Stage(kind, text, reading.value, reading.low, reading.high, typed_unit=reading.unit, **names)


def _torque_or_angle(text: str, rest: str) -> tuple[str, str]:
    """A plus means an angle; without it the unit tells."""
    if rest.startswith("+"):
        rest = rest[1:].strip()
        if _reads_as(rest, TORQUE):
            raise Unreadable(f'"{text}" adds a torque; a torque stage is written without +, as in 40 N*m')
        return "angle", rest
    return ("angle" if _reads_as(rest, ANGLE) else "torque"), rest


def _reads_as(rest: str, unit: Unit) -> bool:
    try:
        read(rest, unit, band=True)
    except Unreadable:
        return False
    return True


def _read(rest: str, kind: str, text: str) -> Any:
    unit = _UNITS[kind]
    try:
        return read(rest, unit, band=kind not in ("check", "wait"))
    except Unreadable as error:
        if kind == "torque" and not re.match(r"[+\-±.,\d]", rest):
            raise Unreadable(f'"{text[:60]}" is not a stage; a stage is {FORMS}') from None
        if kind == "torque":
            raise Unreadable(str(error).replace("enter a torque", "enter a torque or an angle")) from None
        raise


def read_stages(typed: Iterable[object]) -> tuple[list[Stage], list[tuple[int, str]]]:
    """The stages that can be read, and (number, what is wrong) of each that cannot.

    :param typed: each stage as it was typed
    """
    stages, wrong = [], []
    for n, item in enumerate(typed, 1):
        try:
            stages.append(read_stage(item))
        except Unreadable as error:
            wrong.append((n, str(error)))
    if len(stages) > LONGEST_PROGRAMME:
        wrong.append((LONGEST_PROGRAMME + 1, f"is one too many; at most {LONGEST_PROGRAMME} stages"))
    return stages, wrong
