"""Where an input of an entry was taken from: another entry of the job, and the value in it.

A person accepts a suggestion, and that act records the origin: input → ``{"uid": …, "take": …}``.  ``take`` names the
value in that entry, such as ``inputs/coolant_capacity`` or ``results/net_drop``.  When that value is corrected later,
the entry is stale; a correction of any other value of that entry does not matter.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from typing import Any

from shoplib.core.units import L, Unreadable, read, unit_of
from shoplib.core.working import Result

Body = Mapping[str, Any]
MOST_ORIGINS = 200


def _drained(body: Body, liquid: str) -> str:
    """The total volume of a liquid drained in a strip-down log; "" unless every drain of it was measured."""
    rows = ((body.get("result") or {}).get("results") or {}).get("drained", {}).get("value") or []
    for row in rows if isinstance(rows, list) else []:
        found = {k: (v or {}).get("value") for k, v in row.items()} if isinstance(row, Mapping) else {}
        if str(found.get("liquid", "")).strip().casefold() == liquid and found.get("complete") == "all measured":
            return f"{found['amount']:.6g} L" if isinstance(found.get("amount"), int | float) else ""
    return ""


def _each_drained(body: Body, liquid: str) -> str:
    """The volumes of a liquid drained, one after the other, as typed."""
    rows = (body.get("inputs") or {}).get("steps")
    mine = [
        str(r.get("amount"))
        for r in (rows if isinstance(rows, list) else [])
        if isinstance(r, Mapping) and str(r.get("liquid") or "").strip().casefold() == liquid and r.get("amount")
    ]
    return "; ".join(mine) if mine and all(map(_a_volume, mine)) else ""


def _a_volume(typed: str) -> bool:
    try:
        return read(typed, unit_of(L)).value >= 0
    except Unreadable:
        return False


def _calculated(body: Body, name: str) -> str:
    """A calculated quantity with the four digits that are printed; "" where the entry has none."""
    found = ((body.get("result") or {}).get("results") or {}).get(name) or {}
    value, unit = found.get("value"), found.get("unit")
    return f"{value:.4g} {unit}" if isinstance(value, int | float) and unit else ""


SPECIAL: Mapping[str, Callable[[Body], Any]] = {
    "drained/coolant": functools.partial(_drained, liquid="coolant"),
    "each drained/coolant": functools.partial(_each_drained, liquid="coolant"),
    "each drained/oil": functools.partial(_each_drained, liquid="oil"),
}


def value_at(body: Body, take: str) -> Any:
    """The value in the body of an entry that ``take`` names: text, a list or rows as typed; "" where there is none.

    :param body: of the entry
    :param take: the place in it, such as ``inputs/torque`` or ``results/preload``
    """
    if take in SPECIAL:
        return SPECIAL[take](body)
    part, _, name = take.partition("/")
    if part == "results":
        return _calculated(body, name)
    inputs = body.get(part)
    return (inputs.get(name) if isinstance(inputs, Mapping) and part == "inputs" else "") or ""


def origins_after(
    old: Body, result: Result, origins: Mapping[str, Mapping[str, str]] | None
) -> dict[str, Mapping[str, str]]:
    """The origins of a correction: as stated, else those of the inputs that are typed as before.

    :param old: body of the entry before
    :param result: of the correction
    :param origins: input to the entry and the place in it from which it was taken
    """
    if origins is not None:
        return dict(origins)
    typed, before = result.inputs.as_entered, old.get("inputs", {})
    return {k: v for k, v in old.get("origins", {}).items() if typed.get(k) == before.get(k)}


def moved(origins: Mapping[str, Mapping[str, str]], new: Mapping[str, str]) -> dict[str, Mapping[str, str]]:
    """The origins, where the entries of these uids were corrected by others.

    :param origins: input to the entry and the place in it from which it was taken
    :param new: uid of an entry to that of its correction
    """
    return {name: {**one, "uid": new.get(one["uid"], one["uid"])} for name, one in origins.items()}


def in_form(value: Any) -> bool:
    """Whether this is a table of origins, as it may be in a line of the record.

    :param value: as it is stored
    """
    return isinstance(value, Mapping) and len(value) <= MOST_ORIGINS and all(
        isinstance(k, str) and isinstance(v, Mapping) and set(v) == {"uid", "take"}
        and all(isinstance(x, str) and 0 < len(x) <= 200 for x in v.values())
        for k, v in value.items()
    )  # fmt: skip
