"""The bolts of a joint, read from what was typed: each with its place, its thread and its state."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from shoplib.core.worksheet import Worksheet
from shoplib.physics.threads import Thread, UnknownThread, read_thread, without_hand
from shoplib.plotting.bolt_map import MOST_BOLTS
from shoplib.topics.fasteners.bolt_map_inputs import (
    FACT_NAMES,
    LEFT,
    LONGEST_NAME,
    NEW,
    NO_BOLT,
    REUSED,
    RIGHT,
    FastenerLogInputs,
)
from shoplib.topics.fasteners.tightening_order import look_at_map


@dataclass(frozen=True)
class Bolt:
    """One place of the map with all that is known of it; None is not known, never zero."""

    name: str
    row: int | None  # of the table, from 1; None where the map alone made it
    x: float | None
    y: float | None
    facts: Mapping[str, Any]
    thread: Thread | None
    named_pitch: float | None  # the pitch in the thread's name; None for a bare M10
    hand: str

    @property
    def place(self) -> tuple[float, float] | None:
        """x and y in millimetres; None where the map does not know it."""
        return None if self.x is None or self.y is None else (self.x * 1e3, self.y * 1e3)

    @property
    def tightened(self) -> bool:
        """True when it was decided what goes in."""
        return self.facts["use"] in (NEW, REUSED)

    @property
    def expected(self) -> bool:
        """True unless the place is said to hold no bolt."""
        return bool(self.facts["use"] != NO_BOLT)

    @property
    def pitches(self) -> dict[str, float]:
        """Every pitch that was named or gauged, by where."""
        found = {"named": self.named_pitch, "bolt": self.facts["pitch_bolt"], "hole": self.facts["pitch_hole"]}
        return {k: v for k, v in found.items() if isinstance(v, float)}

    @property
    def pitch(self) -> float | None:
        """The bolt's own pitch: gauged before named."""
        return next((self.pitches[k] for k in ("bolt", "named") if k in self.pitches), None)

    @property
    def kind(self) -> tuple[str, float | None]:
        """Thread with its hand, and length: what must not be mixed up."""
        name = "thread not noted"
        if self.thread:
            name = self.thread.name if self.named_pitch else self.thread.name.partition("x")[0] + ", pitch not gauged"
        return name + (", LEFT HAND" if self.hand == LEFT else ""), self.facts["length"]


def read_map(inputs: FastenerLogInputs, worksheet: Worksheet) -> list[Bolt]:
    """Rows × columns first, then the rows of the table: they change a place of the map, or add one."""
    regular = _regular(inputs, worksheet)
    if regular is None:
        return []
    places: dict[str, tuple[float | None, float | None]] = dict(regular)
    rows: dict[str, tuple[int, Mapping[str, Any]]] = {}
    for k, row in enumerate(inputs.bolts or (), 1):
        name = row["name"].strip()
        if len(name) > LONGEST_NAME:
            worksheet.refuse(f"bolts[{k}].name", f"is longer than {LONGEST_NAME} characters", '"1"')
        if name in rows:
            worksheet.refuse(
                f"bolts[{k}].name", f"bolt {name[:40]} is listed twice; give each place its own name", '"1"'
            )
        rows.setdefault(name, (k, row))
        if row["x"] is not None or name not in places:
            places[name] = (row["x"], row["y"])
    without = [n.strip() for n in inputs.without or ()]
    for name in without:
        if name not in places:
            worksheet.refuse("without", f"bolt {name[:40]} is not on the map", '"5; 10"')
        elif name in rows:
            worksheet.refuse("without", f"bolt {name[:40]} has a row of its own", '"5; 10"')
        places.pop(name, None)
    if not places:
        worksheet.refuse(
            "bolts",
            "is empty: no place is left on the map",
            '[{"name": "1", "x": "0 mm", "y": "0 mm"}]',
        )
    look_at_map([{"x": x, "y": y} for x, y in places.values()], list(places), worksheet, "bolts")
    return [_bolt(inputs, worksheet, name, place, *rows.get(name, (None, {}))) for name, place in places.items()]


def _regular(inputs: FastenerLogInputs, worksheet: Worksheet) -> dict[str, tuple[float, float]] | None:
    """The places from rows and columns, by name; None when they are not valid."""
    asked = ("rows", "columns", "pitch_along", "pitch_across", "names")
    if not any(inputs.given(n) for n in asked):
        return {}
    count = inputs.rows * inputs.columns
    lacking = [
        n
        for n, many in (("pitch_along", inputs.columns > 1), ("pitch_across", inputs.rows > 1))
        if many and not inputs.given(n)
    ]
    for name in lacking:
        worksheet.refuse(name, "is needed: the distance from one bolt to the next")
    if count > MOST_BOLTS:
        worksheet.refuse("rows", f"times bolts in a row are {count} bolts; at most {MOST_BOLTS}")
        return None
    names = [n.strip() for n in inputs.names] if inputs.given("names") else [str(k) for k in range(1, count + 1)]
    twice = sorted({n for n in names if names.count(n) > 1})
    if len(names) != count:
        worksheet.refuse("names", f"has {len(names)} names for {count} places")
    for name in twice:
        worksheet.refuse("names", f"bolt {name[:40]} is listed twice; give each place its own name")
    if lacking or twice or len(names) != count:
        return None
    along, across = inputs.pitch_along or 0.0, inputs.pitch_across or 0.0
    return {n: (along * (k % inputs.columns), across * (k // inputs.columns)) for k, n in enumerate(names)}


def _bolt(
    inputs: FastenerLogInputs, worksheet: Worksheet, name: str, place: Any, k: int | None, row: Mapping[str, Any]
) -> Bolt:
    """One bolt: its own row overrides what all share."""

    def where(fact: str) -> str:
        return f"bolts[{k}].{fact}" if row.get(fact) is not None else fact

    facts = {f: row[f] if row.get(f) is not None else inputs[f] for f in FACT_NAMES}
    if row.get("thread") is not None:  # what was gauged on the others says nothing of another thread
        facts |= {pitch: row.get(pitch) for pitch in ("pitch_bolt", "pitch_hole")}
    if facts["use"] == NEW:
        facts["reason"] = row.get("reason")  # what all share is a reason for the re-used ones
    thread, named = None, None
    hand = facts["hand"]
    if facts["thread"] is not None:
        try:
            thread, named, left = _read_thread(facts["thread"], facts["pitch_bolt"])
            if left and hand == RIGHT:
                worksheet.refuse(where("hand"), f"bolt {name[:40]}: its thread is named as left hand", LEFT)
            hand = LEFT if left else hand
        except UnknownThread as error:
            worksheet.refuse(where("thread"), str(error), '"M10x1.25"')
    return Bolt(name, k, place[0], place[1], facts, thread, named, hand or RIGHT)


_BARE = re.compile(r"(?:M\s*)?(\d{1,3}(?:[.,]\d+)?)(?:\s*mm)?", re.IGNORECASE)


def _read_thread(typed: str, gauged: Any) -> tuple[Thread, float | None, bool]:
    """(thread, pitch in its name, left hand).  A bare M10 takes the gauged pitch; it is never read as coarse here."""
    text, left = without_hand(typed)
    if bare := _BARE.fullmatch(text):
        if not isinstance(gauged, float):
            return replace(read_thread(f"M{bare[1]}"), assumed=""), None, left
        thread = read_thread(f"M{bare[1]}x{gauged * 1e3:.6g}")
        return thread, thread.P, left
    thread = read_thread(text)
    return thread, thread.P, left


def is_dry(lubricant: str) -> bool:
    """Whether the words say that there is no lubricant."""
    return re.match(r"\W*(none|dry)\b", lubricant, re.IGNORECASE) is not None
