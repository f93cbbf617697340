"""What the tests of the cylinders share: units, words and the numbering."""

from __future__ import annotations

from dataclasses import dataclass

from shoplib.core.inputs import Inputs
from shoplib.core.units import bar, kPa, minute, pct, unit_of
from shoplib.core.worksheet import Worksheet

USUAL = "common practice, no source"
SUGGESTS = "Before you take the engine apart, make sure that two tests agree: one reading is a hint, not proof."


BAR, PCT, KPA, MINUTE = unit_of(bar), unit_of(pct), unit_of(kPa), unit_of(minute)


MOST_CYLINDERS = 16


def _measured(values: list[float | None]) -> dict[int, float]:
    return {n: v for n, v in enumerate(values, 1) if v is not None}


def _named(numbers: list[int]) -> str:
    """ "3", "3 and 4", "2, 3 and 4"."""
    *first, last = map(str, numbers)
    return f"{', '.join(first)} and {last}" if first else last


@dataclass(frozen=True)
class Gauged:
    """The measured cylinders: what was read, and the half-width of what each reading leaves possible."""

    read: dict[int, float]
    half: dict[int, float]

    @classmethod
    def of(cls, inputs: Inputs, worksheet: Worksheet, name: str) -> Gauged:
        """The readings of an input; not those that are missing."""
        found = _measured(inputs[name] or [])
        return cls(found, {n: worksheet.counted(worksheet.uncertainty(name, n - 1)) for n in found})

    def __contains__(self, n: int) -> bool:
        return n in self.read

    def least(self, n: int) -> float:
        """The lowest possible value; a pressure or a leakage is never below zero."""
        return max(self.read[n] - self.half[n], 0.0)

    def most(self, n: int) -> float:
        """The highest possible value."""
        return self.read[n] + self.half[n]

    @property
    def lowest(self) -> tuple[float, float]:
        """The lowest and the highest possible value of the lowest reading."""
        return min(map(self.least, self.read)), min(map(self.most, self.read))

    @property
    def highest(self) -> tuple[float, float]:
        """The lowest and the highest possible value of the highest reading."""
        return max(map(self.least, self.read)), max(map(self.most, self.read))


def _missing_remark(missing: list[int]) -> str:
    return f"cylinder {_named(missing)} not measured" if missing else ""
