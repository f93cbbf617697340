"""The working ``fastener_log``: which bolt belongs where, and is every hole and thread checked before tightening."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence

from shoplib.core import rounding
from shoplib.core.checks import Outcome
from shoplib.core.units import show
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.cautions import BLIND, PITCH, SINGLE_USE
from shoplib.topics.fasteners.bolt_map import Bolt, is_dry, read_map
from shoplib.topics.fasteners.bolt_map_inputs import (
    COMMON,
    GAUGE,
    LEFT,
    MM,
    NEW,
    NO,
    NOT_CHECKED,
    REUSED,
    RIGHT,
    YES,
    FastenerLogInputs,
)
from shoplib.topics.fasteners.bolt_map_tables import (
    fitting_table,
    kinds_table,
    length_text,
    listed,
    log_row,
    summary_of,
    table_row,
)

# Half of the last digit on a pitch gauge. 1.25 mm and 20 to the inch (1.27 mm) differ by more, and must.
SAME_PITCH = 0.005e-3


SAME_LENGTH = 0.05e-3


def run(inputs: FastenerLogInputs, worksheet: Worksheet) -> None:
    """Log every bolt; name what is mixed up, missing or dangerous."""
    bolts = read_map(inputs, worksheet)
    _reject_contradictions(inputs, bolts, worksheet)
    worksheet.raise_refusals()
    left = [b.name for b in bolts if b.hand == LEFT and b.expected]
    if left:
        worksheet.result("left_hand", left, None, "LEFT-HAND THREAD, turns the other way")
        worksheet.cautions.insert(
            0, f"LEFT-HAND THREAD: bolt {listed(left)}. It loosens clockwise and tightens anticlockwise."
        )
    worksheet.result("summary", summary_of(bolts), None, "Bolts in the log")
    if not left:
        worksheet.result("left_hand", left, None, "Left-hand threads")
    _judge_pitch(bolts, worksheet)
    _judge_holes(bolts, worksheet)
    _judge_open(bolts, worksheet)
    warnings = _warnings(bolts)
    rows = [table_row(("what", "Stop and look", what), ("bolts", "Bolts", who)) for what, who in warnings]
    worksheet.result("warnings", rows, None, "Warnings")
    worksheet.result("kinds", kinds_table(bolts), None, "Kinds of bolt")
    worksheet.result("reused", [b.name for b in bolts if b.facts["use"] == REUSED], None, "Re-used")
    worksheet.result("fitting", fitting_table(bolts), None, "Bolts fitted, and their lubricant")
    worksheet.result("no_bolt", [b.name for b in bolts if not b.expected], None, "Places without a bolt")
    worksheet.result("log", [log_row(b) for b in bolts], None, "The log, place by place")
    unsaid = [b.name for b in bolts if b.expected and b.hand == RIGHT and b.facts["hand"] is None and b.thread]
    if unsaid:
        worksheet.assume("right-hand thread where no hand was typed")
    if any(b.facts["use"] == REUSED for b in bolts):
        worksheet.caution(
            "Judge a re-used bolt by the method that the source gives, on the form “Re-use of bolts”. Without "
            "a source, replace it."
        )
    worksheet.plot_data.update(bolts=bolts)


def _reject_contradictions(inputs: FastenerLogInputs, bolts: Sequence[Bolt], worksheet: Worksheet) -> None:
    """Reasons and lubricants that must be typed: they have no default."""
    for b in bolts:
        if b.facts["use"] == REUSED and b.facts["reason"] is None:
            field = f"bolts[{b.row}].reason" if b.row else "reason"
            worksheet.refuse(field,
                             f"bolt {b.name[:40]} is re-used: type what allows it (the form “Re-use of bolts” judges "
                             f"it)", '"length 109.4 mm within the limit, manual page 41"')  # fmt: skip
    without = [b.name for b in bolts if b.tightened and b.facts["lubricant"] is None]
    if without:
        worksheet.refuse(
            "lubricant",
            f"is missing for bolt {listed(without)}: type what the instructions say; there is no default",
            '"engine oil 15W-40, manual page 41" or "none (dry), says manual page 41"',
        )
    said = [("lubricant", inputs.lubricant)]
    said += [(f"bolts[{b.row}].lubricant", b.facts["lubricant"]) for b in bolts if b.row]
    for field, text in said:
        if text is not None and re.fullmatch(r"\W*(none|no|dry|nothing|nil|n/a)?\W*(\(?dry\)?)?\W*", text, re.I):
            worksheet.refuse(field, f'"{text.strip()[:40]}" names no source', '"none (dry), says manual page 41"')
    nowhere = [
        b.name
        for b in bolts
        if b.tightened and b.facts["lubricant"] and b.facts["lubricated"] is None and not is_dry(b.facts["lubricant"])
    ]
    if nowhere:
        worksheet.refuse("lubricated", f"is missing for bolt {listed(nowhere)}: type where the lubricant goes",
                         '"thread and under the head"')  # fmt: skip


def _judge(
    worksheet: Worksheet, label: str, bolts: Iterable[Bolt], found: str, wanted: str, outcome: Outcome, why: str
) -> None:
    names = [b.name for b in bolts]
    if names:
        worksheet.judge(f"{label}: {listed(names)}", found, "must be", wanted, None, COMMON, outcome, why)


def _judge_pitch(bolts: Sequence[Bolt], worksheet: Worksheet) -> None:
    """Bolt, hole and name must have the same pitch; a new bolt is proved by the gauge."""
    there = [b for b in bolts if b.expected]
    agree, unknown = [], []
    for b in there:
        if b.pitches and rounding.below(SAME_PITCH, max(b.pitches.values()) - min(b.pitches.values())):
            said = "; ".join(f"{k} {show(v, MM, 4)}" for k, v in b.pitches.items())
            worksheet.judge(f"Pitch of bolt and hole: {b.name}", said, "agree", None, None, COMMON, Outcome.FAIL,
                            f"stop: {GAUGE}")  # fmt: skip
        elif {"bolt", "hole"} <= b.pitches.keys():
            agree.append(b)
        elif b.facts["use"] == NEW:
            unknown.append(b)
    _judge(worksheet, "Pitch gauged on new bolt and hole", unknown, "not gauged", "gauged", Outcome.UNDECIDED, GAUGE)
    if agree:
        label = f"Pitch of bolt and hole: {listed(b.name for b in agree)}"
        worksheet.judge(label, "as gauged", "agree", None, None, COMMON, Outcome.PASS)


def _judge_holes(bolts: Sequence[Bolt], worksheet: Worksheet) -> None:
    """Blind holes, and holes that nobody checked, must be known to be dry."""
    there = [b for b in bolts if b.expected]
    crack = "trapped fluid can crack a casting"
    for label, kind, tail in (("Blind hole dry", "blind", ""), ("Hole dry, kind of hole not noted", None, "")):
        holes = [b for b in there if b.facts["hole"] == kind]
        wet = f"stop: {crack}. If already tightened: loosen in the loosening order, dry the hole, start again"
        _judge(worksheet, label, [b for b in holes if b.facts["dry"] == NO], NO, YES, Outcome.FAIL, wet + tail)
        open_ = [b for b in holes if b.facts["dry"] in (None, NOT_CHECKED)]
        _judge(worksheet, label, open_, NOT_CHECKED, YES, Outcome.UNDECIDED, crack)
        if kind:
            _judge(worksheet, label, [b for b in holes if b.facts["dry"] == YES], YES, YES, Outcome.PASS, "")
    unchased = [b for b in there if b.tightened and b.facts["chased"] in (None, NOT_CHECKED)]
    _judge(worksheet, "Hole chased: yes or no", unchased, NOT_CHECKED, "yes or no", Outcome.UNDECIDED,
           "dirt in a thread uses up torque")  # fmt: skip
    _judge(worksheet, "Kind of hole", [b for b in there if b.facts["hole"] is None], "not noted",
           "blind, through or wet", Outcome.UNDECIDED, "")  # fmt: skip


def _judge_open(bolts: Sequence[Bolt], worksheet: Worksheet) -> None:
    there = [b for b in bolts if b.expected]
    _judge(worksheet, "Thread", [b for b in there if b.thread is None], "not noted", "noted", Outcome.UNDECIDED, GAUGE)
    _judge(worksheet, "Pitch", [b for b in there if b.thread and b.pitch is None], "not gauged", "gauged",
           Outcome.UNDECIDED, "a bare diameter is not read as coarse")  # fmt: skip
    _judge(worksheet, "Length", [b for b in there if b.facts["length"] is None], "not measured", "measured",
           Outcome.UNDECIDED, "")  # fmt: skip
    _judge(worksheet, "New or re-used", [b for b in there if not b.tightened], "open", "new or re-used",
           Outcome.UNDECIDED, SINGLE_USE)  # fmt: skip


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
    known = [(round(b.thread.d, 7), b.pitch, b.name) for b in bolts if b.thread is not None and b.pitch is not None]
    found = []
    for d in sorted({d for d, _, _ in known}):
        groups: dict[float, list[str]] = {}
        for size, pitch, name in known:
            if size == d:
                same = next((p for p in groups if rounding.at_most(abs(p - pitch), SAME_PITCH)), pitch)
                groups.setdefault(same, []).append(name)
        if len(groups) > 1:
            who = "; ".join(f"{show(p, MM, 3)}: {listed(names)}" for p, names in sorted(groups.items()))
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
                    f"{first.name} ({length_text(lengths[0])}) beside {second.name} ({length_text(lengths[1])})"
                )
    return [("different lengths side by side: do not swap them", "; ".join(pairs.values()))] if pairs else []


def _could_swap(a: Bolt, b: Bolt) -> bool:
    return a.thread is None or b.thread is None or rounding.same(a.thread.d, b.thread.d)


FASTENER_LOG = Working(
    name="fastener_log",
    title="Fastener log",
    question="which bolt belongs where, and is every hole and thread checked before tightening",
    phase="fasteners",
    inputs=FastenerLogInputs,
    run=run,
    cautions=(GOVERNS, BLIND, PITCH, SINGLE_USE),


)  # fmt: skip
