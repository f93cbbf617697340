"""Numbers inside a worked solution in words."""

from __future__ import annotations

from shoplib.core.working import Result


def short(x: float, digits: int = 4) -> str:
    """A number with at most so many digits, without zeros at its end and without an exponent."""
    text = f"{x:.{digits}g}" if abs(x) < 10**digits else f"{x:.0f}"
    return text.replace("-", "−")


def entered(result: Result, name: str) -> float:
    """The number that was typed for an input, in the unit in which it was typed: ``"64 N·m"`` is 64."""
    return float(str(result.inputs.as_entered[name]).split()[0].strip("°+"))


def entered_list(result: Result, name: str) -> list[float]:
    """The same for a list: ``"8.6 bar; 12.6 bar"``."""
    return [float(part.split()[0]) for part in str(result.inputs.as_entered[name]).split(";")]
