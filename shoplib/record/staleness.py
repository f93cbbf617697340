"""Stale marking: a correction flags everything that was computed from what it corrects."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from shoplib.record.origins import value_at

if TYPE_CHECKING:
    from shoplib.record.job import Line

KINDS = ("entry", "note")  # what can be computed from other entries; a tick or a photograph is a fact


def guessed(line: Line) -> bool:
    """Whether the line was written by a version that guessed the sources of an entry from equal numbers.

    :param line: an entry
    """
    return line.program.startswith("0.1.")


def successors(lines: Iterable[Line]) -> dict[str, Line]:
    """uid of each line that was corrected or struck out, and the line that did it.

    :param lines: of the record, in order
    """
    return {x.about: x for x in lines if x.about is not None and x.kind in ("entry", "note", "tick", "strike")}


def _origins_changed(line: Line, by_uid: Mapping[str, Line], after: Mapping[str, Line]) -> Iterable[str]:
    """The values that a person took from other entries and that were corrected or struck out there since."""
    for name, origin in (line.body.get("origins") or {}).items():
        source = now = by_uid.get(origin["uid"])
        while now is not None and now.uid in after and now.kind != "strike":
            now = after[now.uid]
        if source is None or now is None:
            yield f"the entry from which {name} was taken is missing"
        elif now.kind == "strike":
            yield f"{source.name}, from which {name} was taken, was struck out by line {now.n}"
        elif value_at(now.body, origin["take"]) != value_at(source.body, origin["take"]):
            yield f"{source.name}, from which {name} was taken, was corrected by line {now.n}"


def why_stale(lines: Iterable[Line]) -> Mapping[str, tuple[str, ...]]:
    """uid of each current entry with a source that was corrected or struck out, and the reasons in words.

    Sources always come earlier in the record, so one pass in order finds the whole chain.

    :param lines: of the record, in order
    """
    lines = tuple(lines)
    after = successors(lines)
    by_uid = {x.uid: x for x in lines}
    found: dict[str, tuple[str, ...]] = {}
    for line in lines:
        if line.kind not in KINDS or line.uid in after:
            continue
        reasons = []
        came = "on which it is assumed to depend" if guessed(line) else "on which it depends"
        for uid in line.body.get("sources", ()):
            source = by_uid.get(uid)
            if source is None:
                reasons.append("an entry on which it depends is missing")
            elif uid in after:
                did = after[uid]
                how = f"was struck out by line {did.n}" if did.kind == "strike" else f"was corrected by line {did.n}"
                reasons.append(f"{source.name}, {came}, {how}")
            elif uid in found:
                reasons.append(f"{source.name}, {came}, is itself stale")
        reasons += _origins_changed(line, by_uid, after)
        if reasons:
            found[line.uid] = tuple(reasons)
    return found
