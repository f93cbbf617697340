"""The working ``fastener_log``: which bolt belongs where, and is every hole and thread known before tightening."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from shoplib.core import rounding
from shoplib.core.checks import Outcome, Value
from shoplib.core.conditions import one_of
from shoplib.core.fields import Field, choice, integer, listing, quantity, table, words
from shoplib.core.inputs import Inputs
from shoplib.core.units import mm, show, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics.threads import Thread, UnknownThread, read_thread, without_hand
from shoplib.plotting.bolt_map import MOST_BOLTS
from shoplib.topics.fasteners.bolt_reach import BLIND
from shoplib.topics.fasteners.bolt_reuse import SINGLE_USE
from shoplib.topics.fasteners.tightening_order import look_at_map

_MM = unit_of(mm)


COMMON = "common practice, no source"


RIGHT, LEFT = "right", "left"


NEW, REUSED, NO_BOLT = "new", "re-used", "no bolt"


HOLES = ("blind", "through", "wet")


YES, NO, NOT_CHECKED = "yes", "no", "not checked"


GAUGE = "gauge the pitch of the bolt, the old bolt and the hole; never force a bolt"


# Half of the last digit on a pitch gauge. 1.25 mm and 20 to the inch (1.27 mm) differ by more, and must.
SAME_PITCH = 0.005e-3


SAME_LENGTH = 0.05e-3


LONGEST_NAME = 40


# ------------------------------------------------------------------------------ what a bolt is described by
PLACE = (
    words("name", "Bolt", example='"1"', help="as on the map"),
    quantity("x", mm, "x", required=False, needs=("y",), example='"90 mm"'),
    quantity("y", mm, "y", required=False, needs=("x",), example='"80 mm"'),
)


FACTS = (
    words("thread", "Thread", required=False, example='"M10x1.25"', help="or 3/8-16 UNC; for a left-hand thread add "
                                                                         "LH"),
    quantity("pitch_bolt", mm, "Pitch gauged, bolt", required=False, above=0.0, states=("not gauged",),
             example='"1.25 mm"', help="the bolt to be fitted; 16 threads per inch is 1/16 in"),
    quantity("pitch_hole", mm, "Pitch gauged, hole", required=False, above=0.0, states=("not gauged",),
             example='"1.25 mm"', help="in the hole itself, or on the bolt that came out of it"),
    quantity("length", mm, "Length under the head", required=False, above=0.0, example='"110 mm"'),
    choice("washer", "Washer", ("none", "flat", "captive", "hardened", "conical", "sealing", "other"), required=False,
           example="flat"),
    choice("hole", "Hole", HOLES, required=False, example="blind", help="wet: the hole opens into coolant or oil"),
    choice("hand", "Hand of the thread", (RIGHT, LEFT), required=False, example=RIGHT),
    choice("use", "New or re-used", (NEW, REUSED, NO_BOLT), required=False, example=NEW, help="leave it empty if "
                                                                                              "not decided"),
    words("reason", "Reason for re-use", required=False, example='"length 109.4 mm within the limit, manual page 41"',
          help="what allows it; see “Re-use of bolts”"),
    words("lubricant", "Lubricant", required=False, example='"engine oil 15W-40, manual page 41"',
          help="as the instructions say; if none: none (dry), says …"),
    words("lubricated", "Lubricated at", required=False, example='"thread and under the head"'),
    choice("dry", "Hole dry", (YES, NO, NOT_CHECKED), required=False, example=YES),
    choice("chased", "Hole chased", (YES, NO, NOT_CHECKED), required=False, example=YES),
)  # fmt: skip


FACT_NAMES = tuple(f.name for f in FACTS)


SHARED = "The same for all, unless a row differs"


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


# ------------------------------------------------------------------------------ from what was typed to bolts
def read_map(i: FastenerLogInputs, w: Worksheet) -> list[Bolt]:
    """Rows × columns first, then the rows of the table: they change a place of the map, or add one."""
    regular = _regular(i, w)
    if regular is None:
        return []
    places: dict[str, tuple[float | None, float | None]] = dict(regular)
    rows: dict[str, tuple[int, Mapping[str, Any]]] = {}
    for k, row in enumerate(i.bolts or (), 1):
        name = row["name"].strip()
        if len(name) > LONGEST_NAME:
            w.refuse(f"bolts[{k}].name", f"is longer than {LONGEST_NAME} characters", '"1"')
        if name in rows:
            w.refuse(f"bolts[{k}].name", f"bolt {name[:40]} is listed twice; give each place its own name", '"1"')
        rows.setdefault(name, (k, row))
        if row["x"] is not None or name not in places:
            places[name] = (row["x"], row["y"])
    without = [n.strip() for n in i.without or ()]
    for name in without:
        if name not in places:
            w.refuse("without", f"bolt {name[:40]} is not on the map", '"5; 10"')
        elif name in rows:
            w.refuse("without", f"bolt {name[:40]} has a row of its own", '"5; 10"')
        places.pop(name, None)
    if not places:
        w.refuse(
            "bolts",
            "is empty: no place is left on the map",
            '[{"name": "1", "x": "0 mm", "y": "0 mm"}]',
        )
    look_at_map([{"x": x, "y": y} for x, y in places.values()], list(places), w, "bolts")
    return [_bolt(i, w, name, place, *rows.get(name, (None, {}))) for name, place in places.items()]


def _regular(i: FastenerLogInputs, w: Worksheet) -> dict[str, tuple[float, float]] | None:
    """The places from rows and columns, by name; None when they are not valid."""
    asked = ("rows", "columns", "pitch_along", "pitch_across", "names")
    if not any(i.given(n) for n in asked):
        return {}
    count = i.rows * i.columns
    lacking = [
        n for n, many in (("pitch_along", i.columns > 1), ("pitch_across", i.rows > 1)) if many and not i.given(n)
    ]
    for name in lacking:
        w.refuse(name, "is needed: the distance from one bolt to the next")
    if count > MOST_BOLTS:
        w.refuse("rows", f"times bolts in a row are {count} bolts; at most {MOST_BOLTS}")
        return None
    names = [n.strip() for n in i.names] if i.given("names") else [str(k) for k in range(1, count + 1)]
    twice = sorted({n for n in names if names.count(n) > 1})
    if len(names) != count:
        w.refuse("names", f"has {len(names)} names for {count} places")
    for name in twice:
        w.refuse("names", f"bolt {name[:40]} is listed twice; give each place its own name")
    if lacking or twice or len(names) != count:
        return None
    along, across = i.pitch_along or 0.0, i.pitch_across or 0.0
    return {n: (along * (k % i.columns), across * (k // i.columns)) for k, n in enumerate(names)}


def _bolt(i: FastenerLogInputs, w: Worksheet, name: str, place: Any, k: int | None, row: Mapping[str, Any]) -> Bolt:
    """One bolt: its own row overrides what all share."""

    def where(fact: str) -> str:
        return f"bolts[{k}].{fact}" if row.get(fact) is not None else fact

    facts = {f: row[f] if row.get(f) is not None else i[f] for f in FACT_NAMES}
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
                w.refuse(where("hand"), f"bolt {name[:40]}: its thread is named as left hand", LEFT)
            hand = LEFT if left else hand
        except UnknownThread as error:
            w.refuse(where("thread"), str(error), '"M10x1.25"')
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


# ------------------------------------------------------------------------------ judging
def run(i: FastenerLogInputs, w: Worksheet) -> None:
    """Log every bolt; name what is mixed up, missing or dangerous."""
    bolts = read_map(i, w)
    _at_the_door(i, bolts, w)
    w.door()
    left = [b.name for b in bolts if b.hand == LEFT and b.expected]
    if left:
        w.result("left_hand", left, None, "LEFT-HAND THREAD, turns the other way")
        w.cautions.insert(0, f"LEFT-HAND THREAD: bolt {listed(left)}. It loosens clockwise and tightens anticlockwise.")
    w.result("summary", _summary(bolts), None, "Bolts in the log")
    if not left:
        w.result("left_hand", left, None, "Left-hand threads")
    _judge_pitch(bolts, w)
    _judge_holes(bolts, w)
    _judge_open(bolts, w)
    warnings = _warnings(bolts)
    w.result("warnings", [_row(("what", "Stop and look", what), ("bolts", "Bolts", who)) for what, who in warnings],
             None, "Warnings")  # fmt: skip
    w.result("kinds", _kinds(bolts), None, "Kinds of bolt")
    w.result("reused", [b.name for b in bolts if b.facts["use"] == REUSED], None, "Re-used")
    w.result("fitting", _fitting(bolts), None, "What goes in, and what is on it")
    w.result("no_bolt", [b.name for b in bolts if not b.expected], None, "Places without a bolt")
    w.result("log", [_log_row(b) for b in bolts], None, "The log, place by place")
    unsaid = [b.name for b in bolts if b.expected and b.hand == RIGHT and b.facts["hand"] is None and b.thread]
    if unsaid:
        w.assume("right-hand thread where no hand was typed")
    if any(b.facts["use"] == REUSED for b in bolts):
        w.caution(
            "Judge a re-used bolt by the method that the source gives, on the form “Re-use of bolts”. Without "
            "a source, replace it."
        )
    w.curve.update(bolts=bolts)


def _at_the_door(i: FastenerLogInputs, bolts: Sequence[Bolt], w: Worksheet) -> None:
    """Reasons and lubricants that must be typed: they have no default."""
    for b in bolts:
        if b.facts["use"] == REUSED and b.facts["reason"] is None:
            field = f"bolts[{b.row}].reason" if b.row else "reason"
            w.refuse(field, f"bolt {b.name[:40]} is re-used: type what allows it (the form “Re-use of bolts” judges "
                            f"it)",
                     '"length 109.4 mm within the limit, manual page 41"')  # fmt: skip
    without = [b.name for b in bolts if b.tightened and b.facts["lubricant"] is None]
    if without:
        w.refuse("lubricant", f"is missing for bolt {listed(without)}: type what the instructions say; there is no "
                              f"default",
                 '"engine oil 15W-40, manual page 41" or "none (dry), says manual page 41"')  # fmt: skip
    said = [("lubricant", i.lubricant)]
    said += [(f"bolts[{b.row}].lubricant", b.facts["lubricant"]) for b in bolts if b.row]
    for field, text in said:
        if text is not None and re.fullmatch(r"\W*(none|no|dry|nothing|nil|n/a)?\W*(\(?dry\)?)?\W*", text, re.I):
            w.refuse(field, f'"{text.strip()[:40]}" names no source', '"none (dry), says manual page 41"')
    nowhere = [
        b.name
        for b in bolts
        if b.tightened and b.facts["lubricant"] and b.facts["lubricated"] is None and not _is_dry(b.facts["lubricant"])
    ]
    if nowhere:
        w.refuse("lubricated", f"is missing for bolt {listed(nowhere)}: type where the lubricant goes",
                 '"thread and under the head"')  # fmt: skip


def _is_dry(lubricant: str) -> bool:
    return re.match(r"\W*(none|dry)\b", lubricant, re.IGNORECASE) is not None


def listed(names: Iterable[str]) -> str:
    """Names in a row."""
    return ", ".join(names)


def _judge(
    w: Worksheet, label: str, bolts: Iterable[Bolt], found: str, wanted: str, outcome: Outcome, why: str
) -> None:
    names = [b.name for b in bolts]
    if names:
        w.judge(f"{label}: {listed(names)}", found, "must be", wanted, None, COMMON, outcome, why)


def _judge_pitch(bolts: Sequence[Bolt], w: Worksheet) -> None:
    """Bolt, hole and name must have the same pitch; a new bolt is proved by the gauge."""
    there = [b for b in bolts if b.expected]
    agree, unknown = [], []
    for b in there:
        if len(b.pitches) > 1 and rounding.below(SAME_PITCH, max(b.pitches.values()) - min(b.pitches.values())):
            said = "; ".join(f"{k} {show(v, _MM, 4)}" for k, v in b.pitches.items())
            w.judge(f"Pitch of bolt and hole: {b.name}", said, "agree", None, None, COMMON, Outcome.FAIL,
                    f"stop: {GAUGE}")  # fmt: skip
        elif {"bolt", "hole"} <= b.pitches.keys():
            agree.append(b)
        elif b.facts["use"] == NEW:
            unknown.append(b)
    _judge(w, "Pitch gauged on new bolt and hole", unknown, "not gauged", "gauged", Outcome.UNDECIDED, GAUGE)
    if agree:
        label = f"Pitch of bolt and hole: {listed(b.name for b in agree)}"
        w.judge(label, "as gauged", "agree", None, None, COMMON, Outcome.PASS)


def _judge_holes(bolts: Sequence[Bolt], w: Worksheet) -> None:
    """Blind holes, and holes that nobody checked, must be known to be dry."""
    there = [b for b in bolts if b.expected]
    crack = "trapped fluid can crack a casting"
    for label, kind, tail in (("Blind hole dry", "blind", ""), ("Hole dry, kind of hole not noted", None, "")):
        holes = [b for b in there if b.facts["hole"] == kind]
        wet = f"stop: {crack}. If already tightened: loosen in the loosening order, dry the hole, start again"
        _judge(w, label, [b for b in holes if b.facts["dry"] == NO], NO, YES, Outcome.FAIL, wet + tail)
        open_ = [b for b in holes if b.facts["dry"] in (None, NOT_CHECKED)]
        _judge(w, label, open_, NOT_CHECKED, YES, Outcome.UNDECIDED, crack)
        if kind:
            _judge(w, label, [b for b in holes if b.facts["dry"] == YES], YES, YES, Outcome.PASS, "")
    unchased = [b for b in there if b.tightened and b.facts["chased"] in (None, NOT_CHECKED)]
    _judge(w, "Hole chased: yes or no", unchased, NOT_CHECKED, "yes or no", Outcome.UNDECIDED,
           "dirt in a thread uses up torque")  # fmt: skip
    _judge(w, "Kind of hole", [b for b in there if b.facts["hole"] is None], "not noted", "blind, through or wet",
           Outcome.UNDECIDED, "")  # fmt: skip


def _judge_open(bolts: Sequence[Bolt], w: Worksheet) -> None:
    there = [b for b in bolts if b.expected]
    _judge(w, "Thread", [b for b in there if b.thread is None], "not noted", "noted", Outcome.UNDECIDED, GAUGE)
    _judge(w, "Pitch", [b for b in there if b.thread and b.pitch is None], "not gauged", "gauged", Outcome.UNDECIDED,
           "a bare diameter is not read as coarse")  # fmt: skip
    _judge(w, "Length", [b for b in there if b.facts["length"] is None], "not measured", "measured",
           Outcome.UNDECIDED, "")  # fmt: skip
    _judge(w, "New or re-used", [b for b in there if not b.tightened], "open", "new or re-used", Outcome.UNDECIDED,
           SINGLE_USE)  # fmt: skip


def _warnings(bolts: Sequence[Bolt]) -> list[tuple[str, str]]:
    there = [b for b in bolts if b.expected]
    found: list[tuple[str, str]] = []
    if left := [b.name for b in there if b.hand == LEFT]:
        found.append(("LEFT-HAND THREAD: loosens clockwise", listed(left)))
    found += _two_pitches(there)
    found += _lengths_side_by_side(there)
    if wet := [b.name for b in there if b.facts["hole"] == "wet"]:
        found.append(
            ("wet hole, opens into coolant or oil: thread dry, and sealed as the instructions say", listed(wet))
        )
    if empty := [b.name for b in bolts if not b.expected]:
        found.append(("place without a bolt: intended, or forgotten?", listed(empty)))
    if unplaced := [b.name for b in bolts if b.x is None]:
        found.append(("no place given: the bolt is not on the map", listed(unplaced)))
    return found


def _two_pitches(bolts: Sequence[Bolt]) -> list[tuple[str, str]]:
    """Diameters with more than one pitch, with the bolts of each."""
    known = [(b.thread.d, b.pitch, b.name) for b in bolts if b.thread is not None and b.pitch is not None]
    found = []
    for d in sorted({round(d, 7) for d, _, _ in known}):
        groups: dict[float, list[str]] = {}
        for size, pitch, name in known:
            if round(size, 7) == d:
                same = next((p for p in groups if rounding.at_most(abs(p - pitch), SAME_PITCH)), pitch)
                groups.setdefault(same, []).append(name)
        if len(groups) > 1:
            who = "; ".join(f"{show(p, _MM, 3)}: {listed(names)}" for p, names in sorted(groups.items()))
            found.append((f"TWO PITCHES at {d * 1e3:.4g} mm diameter: they start in each other's holes", who))
    return found


def _lengths_side_by_side(bolts: Sequence[Bolt]) -> list[tuple[str, str]]:
    """Neighbours on the map that differ in length; a neighbour is not much farther than the nearest one."""
    known = [(b, b.x, b.y) for b in bolts if b.x is not None and b.y is not None and b.facts["length"] is not None]
    pairs: dict[tuple[int, int], str] = {}
    for a, (_, x, y) in enumerate(known):
        away = [(math.hypot(x - x_k, y - y_k), k) for k, (_, x_k, y_k) in enumerate(known) if k != a]
        reach = 1.3 * min(away)[0] if away else 0.0
        for distance, k in away:
            first, second = known[min(a, k)][0], known[max(a, k)][0]
            lengths = first.facts["length"], second.facts["length"]
            if (
                distance <= reach
                and rounding.below(SAME_LENGTH, abs(lengths[0] - lengths[1]))
                and _could_swap(first, second)
            ):
                pairs[min(a, k), max(a, k)] = (
                    f"{first.name} ({_length(lengths[0])}) beside {second.name} ({_length(lengths[1])})"
                )
    return [("different lengths side by side: do not swap them", "; ".join(pairs.values()))] if pairs else []


def _could_swap(a: Bolt, b: Bolt) -> bool:
    return a.thread is None or b.thread is None or abs(a.thread.d - b.thread.d) < SAME_PITCH


def _length(length: float | None) -> str:
    return "length not measured" if length is None else f"{length * 1e3:.5g} mm"


# ------------------------------------------------------------------------------ tables for screen and sheet
def _row(*cells: tuple[str, str, Any]) -> dict[str, Value]:
    return {name: Value(value, None, label) for name, label, value in cells}


def _summary(bolts: Sequence[Bolt]) -> str:
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


def _kinds(bolts: Sequence[Bolt]) -> list[dict[str, Value]]:
    rows = []
    for (thread, length), group in _kind_groups(bolts).items():
        turn = "clockwise" if group[0].hand == LEFT else "anticlockwise"
        rows.append(
            {
                "thread": Value(thread, None, "Thread"),
                "length": Value(length, _MM, "Length"),
                "count": Value(str(len(group)), None, "Count"),
                "loosens": Value(turn, None, "Loosens"),
                "bolts": Value(listed(b.name for b in group), None, "Bolts"),
            }
        )
    return rows


def _fitting(bolts: Sequence[Bolt]) -> list[dict[str, Value]]:
    """Bolts that are fitted alike, in one row."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for b in bolts:
        if b.tightened:
            f = b.facts
            at = "" if _is_dry(f["lubricant"]) else f["lubricated"]
            key = (
                f["use"],
                f["reason"] or "",
                f["washer"] or "not noted",
                f["lubricant"] + (f"; at: {at}" if at else ""),
            )
            groups.setdefault(key, []).append(b.name)
    return [
        _row(("bolts", "Bolts", listed(names)), ("use", "Fitted", use), ("reason", "Reason for re-use", reason or "–"),
             ("washer", "Washer", washer), ("lubricant", "Lubricant, and where", lubricant))
        for (use, reason, washer, lubricant), names in groups.items()
    ]  # fmt: skip


def _log_row(b: Bolt) -> dict[str, Value]:
    f = b.facts
    thread = "not noted"
    if b.thread:
        thread = b.thread.name if b.named_pitch else b.thread.name.partition("x")[0]
    gauged = [f"{p * 1e3:.4g}" if isinstance(p, float) else "?" for p in (f["pitch_bolt"], f["pitch_hole"])]
    dry, chased = ("–" if f["hole"] == "through" else NOT_CHECKED), NOT_CHECKED
    return {
        "bolt": Value(b.name, None, "Bolt"),
        "x": Value(b.x, _MM, "x"),
        "y": Value(b.y, _MM, "y"),
        "thread": Value(thread + (" LEFT" if b.hand == LEFT else ""), None, "Thread"),
        "gauged": Value(" / ".join(gauged) if gauged != ["?", "?"] else "not gauged", None, "Bolt / hole gauged, mm"),
        "length": Value(f["length"], _MM, "Length"),
        "hole": Value(f["hole"] or "not noted", None, "Hole"),
        "dry": Value(f["dry"] or dry, None, "Dry"),
        "chased": Value(f["chased"] or chased, None, "Chased"),
        "use": Value(f["use"] or "open", None, "Fitted"),
    }


def _shared(f: Field) -> Field:
    return replace(f, required=False, group=SHARED)


_REGULAR = ("rows", "columns")


class FastenerLogInputs(Inputs):
    """Inputs of ``fastener_log``."""

    combinations = (one_of("bolts", ("rows", "columns"), shared=("bolts", "rows", "columns")),)
    rows = integer("rows", "Rows of bolts", required=False, needs=("columns",), at_least=1, at_most=30,
                   example="2", group="Map",
                   help="for a regular map; otherwise give x and y in the table")  # fmt: skip
    columns = integer(
        "columns", "Bolts in a row", required=False, needs=("rows",), at_least=1, at_most=60, example="5", group="Map"
    )
    pitch_along = quantity(
        "pitch_along", mm, "From bolt to bolt in a row", required=False, needs=_REGULAR, above=0.0, example='"90 mm"',
        group="Map",
    )  # fmt: skip
    pitch_across = quantity(
        "pitch_across", mm, "From row to row", required=False, needs=_REGULAR, above=0.0, example='"80 mm"', group="Map"
    )
    names = listing(
        "names", words("names", "Bolt"), "Names, row by row", required=False, needs=_REGULAR, example='"1; 2; 3; 4"',
        help="if left empty: 1, 2, 3, …; letters or a mirrored count are fine too", group="Map",
    )  # fmt: skip
    without = listing("without", words("without", "Bolt"), "Places to leave out", required=False, example='"5; 10"',
                      help="places in rows × bolts in a row that have no bolt hole", group="Map")  # fmt: skip
    thread, pitch_bolt, pitch_hole, length, washer, hole, hand, use, reason, lubricant, lubricated, dry, chased = (
        _shared(f) for f in FACTS
    )
    bolts = table("bolts", (*PLACE, *FACTS), "Bolt by bolt", required=False, csv=True, group="Bolt by bolt",
                  help="a row changes a bolt of the map, or adds one; an empty cell means “as above”",
                  example='[{"name": "1", "x": "0 mm", "y": "0 mm", "thread": "M10x1.25"}]')  # fmt: skip


FASTENER_LOG = Working(
    name="fastener_log",
    title="Fastener log",
    question="which bolt belongs where, and is every hole and thread known before tightening",
    phase="fasteners",
    inputs=FastenerLogInputs,
    run=run,
    cautions=(GOVERNS, BLIND, f"{GAUGE[0].upper()}{GAUGE[1:]}. {SINGLE_USE}"),


)  # fmt: skip
