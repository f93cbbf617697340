"""The verdict on each line, on the limit of a span, and on what the lines show of the face."""

from __future__ import annotations

import numpy as np

from shoplib.core import rounding
from shoplib.core.checks import UNSOURCED, Outcome, Rule
from shoplib.core.fields import (
    ALLOWED,
    NOT_ALLOWED,
)
from shoplib.core.units import Reading, mm, show
from shoplib.core.worksheet import Worksheet
from shoplib.physics import feeler
from shoplib.topics.flatness.face_inputs import MM, USUAL
from shoplib.topics.flatness.line_inputs import ACROSS, ALONG, DIAGONAL, UNREADABLE, FlatnessLinesInputs
from shoplib.topics.flatness.straightedge_line import Line, each_out_by, end_text, leaf_text

NO_LEAF = "no leaf of this tolerance decides"
CERTIFICATE = "type the tolerance from the certificate of your leaves"
SMALLER = "use leaves with a smaller tolerance, or measure heights"
WANTED = {ALONG: 2, ACROSS: 2, DIAGONAL: 2}


def is_simple(inputs: FlatnessLinesInputs) -> bool:
    """Whether the leaves are taken as they are marked, as the source of the limit says."""
    return bool(inputs.decision_rule == Rule.SIMPLE)


def certain(inputs: FlatnessLinesInputs, line: Line) -> feeler.Bracket:
    """The bracket that is judged."""
    found = line.bracket if is_simple(inputs) else line.wide
    assert found is not None
    return found


def judge_whole(inputs: FlatnessLinesInputs, worksheet: Worksheet, line: Line) -> None:
    """One line against the limit of the whole face."""
    bound, source = inputs.limit, inputs.limit_source
    if bound is None:
        line.outcome = Outcome.NO_LIMIT
        return
    line.outcome, remark = verdict(inputs, line, bound, source)
    keep_check(inputs, worksheet, line, line.outcome, bound, source, remark)


def keep_check(
    inputs: FlatnessLinesInputs,
    worksheet: Worksheet,
    line: Line,
    outcome: Outcome,
    bound: float,
    source: str | None,
    remark: str,
    own: str = "",
) -> None:
    """The check, with the end of the bracket that the outcome rests on.

    The gap lies below the upper end.  So "gap below 0.08 mm" is inside "must be below 0.08 mm".
    """
    sign = "<" if inputs.at_limit == NOT_ALLOWED else "≤"
    label, found, uncertain = f"Line “{line.name}”{own}", None, None
    if line.bracket is not None:
        upper = outcome is not Outcome.FAIL and line.high is not None
        label += f"{':' if own else ','} {'gap below' if upper else 'smallest possible gap'}"
        found, uncertain = line.end(upper)
    rule = Rule.NONE if uncertain is None else Rule.SIMPLE if is_simple(inputs) else Rule.GUARD_BANDS
    worksheet.judge(label, found, sign, bound, mm, source, outcome, remark, uncertainty=uncertain, rule=rule)


def in_words(line: Line) -> str:
    """The bracket in words."""
    if line.bracket is None:
        return "not measured" if line.row["state"] != UNREADABLE else "unreadable"
    kind = "balanced gap " if line.rocking else ""
    if line.high is None:
        return f"{kind}at least {end_text(line, line.low)}, thickest leaf still loose"
    if line.low == 0:
        return f"{kind}below {end_text(line, line.high)}"
    return f"{kind}from {end_text(line, line.low)} to below {end_text(line, line.high)}"


def bracket_outcome(found: feeler.Bracket, bound: float, at_limit: str | None) -> Outcome:
    """A gap of at least the lower end and below the upper end, against the largest gap allowed.

    Where nobody typed whether the limit itself is allowed, a gap that is proved to reach just the limit stays open.
    """
    if rounding.at_most(found.high, bound):
        return Outcome.PASS
    beyond = rounding.below(bound, found.low) or (at_limit == NOT_ALLOWED and rounding.same(bound, found.low))
    return Outcome.FAIL if beyond else Outcome.UNDECIDED


def verdict(
    inputs: FlatnessLinesInputs, line: Line, bound: float, source: str | None, missing: str = ""
) -> tuple[Outcome, str]:
    """A fail stays a fail; a missing or doubtful line cannot pass; without a source nothing passes."""
    if line.bracket is None:
        return Outcome.UNDECIDED, f"{in_words(line)}: the check cannot pass while a line is missing"
    outcome, said = bracket_outcome(certain(inputs, line), bound, inputs.at_limit), in_words(line)
    if outcome is Outcome.FAIL:
        return outcome, said + ("" if source else "; source missing")
    if outcome is Outcome.UNDECIDED:
        if inputs.at_limit is None and rounding.same(bound, certain(inputs, line).low):
            said += "; the gap may be equal to the limit: type whether the limit itself is allowed"
        elif bracket_outcome(line.bracket, bound, inputs.at_limit) is not outcome:
            said += "; the leaf that did not fit may be thicker than marked, and the gap above the limit: "
            said += (
                "try a thinner leaf or stack"  # any tolerance of this one goes beyond the limit
                if rounding.same(line.bracket.high, bound)
                else "type the tolerance of the leaf, or its thickness with all digits, such as 0.080"
            )
        return outcome, said
    if line.doubtful:
        return Outcome.UNDECIDED, f"{said}, but doubtful: measure again"
    if missing:
        return Outcome.UNDECIDED, f"{said}; {missing}"
    if not source:
        return Outcome.NO_LIMIT, f"{said}; {UNSOURCED}"
    return Outcome.PASS, said


def judge_span(inputs: FlatnessLinesInputs, worksheet: Worksheet, line: Line) -> None:
    """The limit of this line alone, never scaled to another length.

    A gap that is small over a longer line is small over any part of it.  A shorter line proves nothing for the length
    that the limit is meant for.
    """
    bound, source, over = (line.row[n] for n in ("span_limit", "span_limit_source", "span_limit_over"))
    if bound is None:
        return
    pieces = line.pieces or ()
    reach = pieces[-1][1] - pieces[0][0] if pieces else line.length
    missing = ""
    if over is not None:
        if reach is None:
            missing = "type the line's length: a limit is never scaled"
        elif rounding.below(reach, over):
            missing = f"the line is {show(reach, MM)} long, the limit is for {show(over, MM)}: measure over that length"
    outcome, remark = verdict(inputs, line, bound, source, missing)
    if outcome is Outcome.FAIL and len(pieces) > 1:
        outcome = Outcome.UNDECIDED
        remark += "; the edge bridges a void: lay it on each piece separately"
    elif outcome is Outcome.FAIL and over is not None:
        if reach is None:
            outcome, remark = Outcome.UNDECIDED, f"{remark}; {missing}"
        elif rounding.below(over, reach):
            outcome = Outcome.UNDECIDED
            remark += f"; the limit is for {show(over, MM)}: measure again over that length"
    span = f" over {show(over, MM)}" if over is not None else ""
    keep_check(inputs, worksheet, line, outcome, bound, source, remark, f", its own limit{span}")


def judge_evidence(
    inputs: FlatnessLinesInputs, worksheet: Worksheet, lines: list[Line], face: feeler.Face | None
) -> None:
    """Whether these lines are enough to call the whole face flat: two along, two across, both diagonals."""
    if inputs.limit is None or not inputs.limit_source:
        return
    read = [line for line in lines if line.bracket is not None]
    ways = [direction_of(line, lines, face) for line in read]
    said = ", ".join(f"{ways.count(way)} {way}" for way in WANTED)
    lacking = [f"{n - ways.count(way)} more {way}" for way, n in WANTED.items() if ways.count(way) < n]
    remark = f"a line is missing: {', '.join(lacking)}" if lacking else ""
    if lacking and None in ways:
        remark += "; for each line, choose whether it runs along, across or diagonal"
    if not lacking and one_diagonal_only(read, ways):
        remark = "both diagonals are needed; these run the same way"
    outcome = Outcome.UNDECIDED if remark else Outcome.PASS
    worksheet.judge("Lines of the whole face", f"{len(read)} ({said})", "at least", "2 along, 2 across, 2 diagonal",
                    None, USUAL, outcome, remark)  # fmt: skip


def direction_of(line: Line, lines: list[Line], face: feeler.Face | None) -> str | None:
    """Along, across or diagonal: from its places, else as typed; None where neither is known."""
    typed = None if line.row["direction"] is None else str(line.row["direction"])
    if line.ends is None:
        return typed
    corners = face.corners if face is not None else [p for other in lines for p in other.ends or ()]
    box = np.ptp(np.asarray(corners, float), axis=0)
    if not box.all():  # all lines lie on one: that does not tell which way the face is long
        return typed
    long, short = (0, 1) if box[0] >= box[1] else (1, 0)
    d = np.abs(np.subtract(line.ends[1], line.ends[0]))
    if d[short] * box[long] < d[long] * box[short] / 3:
        return ALONG
    return ACROSS if d[short] * box[long] > 3 * d[long] * box[short] else DIAGONAL


def one_diagonal_only(read: list[Line], ways: list[str | None]) -> bool:
    """Whether all diagonals, their places being known, climb to the same side."""
    ends = [line.ends for line, way in zip(read, ways, strict=True) if way == DIAGONAL]
    if any(e is None for e in ends):
        return False
    return len({(a[0] < b[0]) == (a[1] < b[1]) for a, b in filter(None, ends)}) == 1


def deciding(inputs: FlatnessLinesInputs, line: Line, bound: float, e: float) -> tuple[float, str]:
    """The single leaf that decides a line, and what it decides, in words."""
    leaf = next(line.row[n] for n in ("no_go", "goes") if isinstance(line.row[n], Reading))
    slack = e + (0.0 if is_simple(inputs) else each_out_by(inputs, leaf))
    if slack > 0:
        thin, thick = max(bound - slack, 0.0), bound + slack
        open_ways = []
        if rounding.below(line.low, thin):  # else a leaf as thick as that fits already
            span = (
                f"above {leaf_text(line.low)}, up to {leaf_text(thin)},"
                if line.low
                else f"of {leaf_text(thin)} or thinner"
            )
            open_ways.append(f"it passes if a single leaf {span} does not fit")
        if line.high is None or rounding.below(thick, line.high):  # else a leaf as thin as that does not fit
            open_ways.append(f"it fails if a single leaf of {leaf_text(thick)} or thicker fits")
        if open_ways:
            return thin, f"{'; '.join(open_ways)}{balanced(line)}"
        return thin, f"{NO_LEAF}; {SMALLER if inputs.given('leaf_tolerance') else CERTIFICATE}"
    thicker = "; if it fits, try the next thicker one" if inputs.at_limit == ALLOWED else ""
    return bound, f"try a leaf of {leaf_text(bound)}{balanced(line)}{thicker}"


def balanced(line: Line) -> str:
    """How to hold a straightedge that rocks."""
    return " (at either end, with the edge balanced so that both gaps are equal)" if line.rocking else ""
