"""The fastener log as tables: kinds of bolts, what fits where, one row for each bolt."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from shoplib.core.checks import Value
from shoplib.topics.fasteners.bolt_map import Bolt, is_dry
from shoplib.topics.fasteners.bolt_map_inputs import LEFT, MM, NEW, NO_BOLT, NOT_CHECKED, REUSED


def listed(names: Iterable[str]) -> str:
    """Names in a row."""
    return ", ".join(names)


def length_text(length: float | None) -> str:
    """A length in words, also when it was not measured."""
    return "length not measured" if length is None else f"{length * 1e3:.5g} mm"


def table_row(*cells: tuple[str, str, Any]) -> dict[str, Value]:
    """A row from (name, label, value)."""
    return {name: Value(value, None, label) for name, label, value in cells}


def summary_of(bolts: Sequence[Bolt]) -> str:
    """How many bolts of each kind, in one line."""

    def count(use: Any) -> int:
        return sum(b.facts["use"] == use for b in bolts)

    parts = [f"{count(NEW)} new", f"{count(REUSED)} re-used", f"{count(None)} open", f"{count(NO_BOLT)} without a bolt"]
    return f"{sum(b.expected for b in bolts)}: " + ", ".join(p for p in parts if not p.startswith("0 "))


def _kind_groups(bolts: Sequence[Bolt]) -> dict[tuple[str, float | None], list[Bolt]]:
    groups: dict[tuple[str, float | None], list[Bolt]] = {}
    for b in bolts:
        if b.expected:
            groups.setdefault(b.kind, []).append(b)
    return dict(sorted(groups.items(), key=lambda g: -len(g[1])))


def kinds_table(bolts: Sequence[Bolt]) -> list[dict[str, Value]]:
    """One row for each kind of bolt: thread, length, how many, where."""
    rows = []
    for (thread, length), group in _kind_groups(bolts).items():
        turn = "clockwise" if group[0].hand == LEFT else "anticlockwise"
        rows.append(
            {
                "thread": Value(thread, None, "Thread"),
                "length": Value(length, MM, "Length"),
                "count": Value(str(len(group)), None, "Count"),
                "loosens": Value(turn, None, "Loosens"),
                "bolts": Value(listed(b.name for b in group), None, "Bolts"),
            }
        )
    return rows


def fitting_table(bolts: Sequence[Bolt]) -> list[dict[str, Value]]:
    """Bolts that are fitted alike, in one row."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for b in bolts:
        if b.tightened:
            f = b.facts
            at = "" if is_dry(f["lubricant"]) else f["lubricated"]
            key = (
                f["use"],
                f["reason"] or "",
                f["washer"] or "not noted",
                f["lubricant"] + (f"; at: {at}" if at else ""),
            )
            groups.setdefault(key, []).append(b.name)
    return [
        table_row(
            ("bolts", "Bolts", listed(names)),
            ("use", "Fitted", use),
            ("reason", "Reason for re-use", reason or "–"),
            ("washer", "Washer", washer),
            ("lubricant", "Lubricant, and where", lubricant),
        )
        for (use, reason, washer, lubricant), names in groups.items()
    ]  # fmt: skip


def log_row(b: Bolt) -> dict[str, Value]:
    """One bolt of the log."""
    f = b.facts
    thread = "not noted"
    if b.thread:
        thread = b.thread.name if b.named_pitch else b.thread.name.partition("x")[0]
    gauged = [f"{p * 1e3:.4g}" if isinstance(p, float) else "?" for p in (f["pitch_bolt"], f["pitch_hole"])]
    dry, chased = ("–" if f["hole"] == "through" else NOT_CHECKED), NOT_CHECKED
    return {
        "bolt": Value(b.name, None, "Bolt"),
        "x": Value(b.x, MM, "x"),
        "y": Value(b.y, MM, "y"),
        "thread": Value(thread + (" LEFT" if b.hand == LEFT else ""), None, "Thread"),
        "gauged": Value(" / ".join(gauged) if gauged != ["?", "?"] else "not gauged", None, "Bolt / hole gauged, mm"),
        "length": Value(f["length"], MM, "Length"),
        "hole": Value(f["hole"] or "not noted", None, "Hole"),
        "dry": Value(f["dry"] or dry, None, "Dry"),
        "chased": Value(f["chased"] or chased, None, "Chased"),
        "use": Value(f["use"] or "open", None, "Fitted"),
    }
