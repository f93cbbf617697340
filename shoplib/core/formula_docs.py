"""The docstring of a formula, completed from its annotations; and a call of it that checks pint quantities.

What an annotation says is the unit in which a value is *shown*; what is passed is SI.  The docstring names the SI unit
of each parameter, so that nobody passes degrees.  The meaning of a symbol stands in ``symbols.csv``: a row without a
subject holds for every subject that has none of its own.
"""

from __future__ import annotations

import csv
import functools
import inspect
from collections.abc import Callable
from pathlib import Path
from typing import Any

from shoplib.core.errors import BadInput, Problem
from shoplib.core.unit_names import factor_to_si, pint_name, registry
from shoplib.core.units import Unit, unit_of

SI_NAMES = {
    **dict.fromkeys(("", "%"), "a pure number"),
    **dict.fromkeys(("m", "mm", "um", "uin", "in"), "m"),
    "mm/m": "m/m", "mm**2": "m²", **dict.fromkeys(("mm**3", "cm**3", "L"), "m³"),
    **dict.fromkeys(("N", "kN"), "N"), **dict.fromkeys(("N*m", "lbf*ft", "lbf*in", "kgf*m"), "N·m"),
    **dict.fromkeys(("Pa", "kPa", "bar", "MPa", "GPa", "N/mm**2"), "Pa"),
    **dict.fromkeys(("rad", "deg", "turn"), "rad"),
    "kN/mm": "N/m", "mm/kN": "m/N", **dict.fromkeys(("K", "degC"), "K"), **dict.fromkeys(("1/K", "1e-6/K"), "1/K"),
    "kg/m**3": "kg/m³", "J/(kg*K)": "J/(kg·K)", "g/mol": "kg/mol", "K/km": "K/m", **dict.fromkeys(("min", "s"), "s"),
}  # fmt: skip


@functools.cache
def _meanings() -> dict[tuple[str, str], str]:
    text = Path(__file__).with_name("symbols.csv").read_text(encoding="utf-8")
    return {(row["subject"], row["symbol"]): row["meaning"] for row in csv.DictReader(text.splitlines())}


def meaning(subject: str, symbol: str) -> str:
    """What a symbol means in a subject of the handbook; "" where that is not written down.

    :param subject: name of the module in the handbook
    :param symbol: as the source prints it, such as F_M
    """
    return _meanings().get((subject, symbol)) or _meanings().get(("", symbol), "")


def in_si(unit: Unit) -> str:
    """The SI unit that belongs to a unit, and the unit in which values are shown where that is another one.

    :param unit: any unit
    """
    name = SI_NAMES.get(unit.name, "SI")
    return name if unit.si == 1.0 and not unit.offset else f"{name} (shown in {unit.text})"


def documented(fn: Callable[..., Any], symbol: str, source: str) -> str:
    """The docstring of a formula with its parameters, its value and its source.

    :param fn: the function, before it is marked
    :param symbol: as the source prints it, such as F_M
    :param source: document, edition and clause
    """
    subject = fn.__module__.rpartition(".")[2]
    lines = [inspect.cleandoc(fn.__doc__ or ""), "", "Called in SI by floats or NumPy arrays; arrays broadcast.", ""]
    for name, annotation in fn.__annotations__.items():
        unit = unit_of(fn.__globals__[annotation] if isinstance(annotation, str) else annotation)
        if name == "return":
            lines.append(f":returns: {symbol}; {in_si(unit)}")
        else:
            lines.append(f":param {name}: {meaning(subject, name) or name}; {in_si(unit)}")
    return "\n".join([*lines, f":source: {source}"])


def with_units(fn: Callable[..., Any]) -> Callable[..., Any]:
    """A formula for people who hold pint quantities: each dimension is checked at the call.

    A bare number is taken for a pure number only.  The value is a quantity in the unit in which it is shown.

    :param fn: a formula of the handbook
    :returns: a function with the same parameters
    :raises BadInput: names every parameter that is no quantity of its dimension

    >>> from pint import UnitRegistry
    >>> from shoplib.physics.angle import travel
    >>> pint = UnitRegistry()
    >>> print(with_units(travel)(theta=90 * pint.degree, P=1.5 * pint.mm))
    0.375 millimeter
    """
    units = {n: unit_of(h) for n, h in inspect.get_annotations(fn, eval_str=True).items()}

    @functools.wraps(fn)
    def call(*args: Any, **quantities: Any) -> Any:
        si: dict[str, Any] = {}
        problems = []
        for name, given in inspect.signature(fn).bind(*args, **quantities).arguments.items():
            try:
                si[name] = _to_si(given, units[name])
            except ValueError as error:
                problems.append(Problem(name, str(error), f"1 {units[name].text}"))
        if problems:
            raise BadInput(problems)
        shown = units["return"].from_si(fn(**si))
        return registry().Quantity(shown, pint_name(units["return"].name))

    return call


def _to_si(given: Any, unit: Unit) -> Any:
    if not hasattr(given, "units"):
        if unit.name not in ("", "%"):
            raise ValueError(f"{given!r} is a bare number; give a quantity in {unit.text}")
        return given
    found = factor_to_si(str(given.units), unit.name, unit.si)
    if found is None:
        raise ValueError(f"is in {given.units}; give a quantity in {unit.text or 'no unit'}")
    return given.magnitude * found[0]  # no formula takes an absolute temperature in degrees
