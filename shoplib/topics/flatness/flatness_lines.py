"""The working ``flatness_lines``: are these lines flat enough, and which leaf decides the lines that are still open."""

from __future__ import annotations

import math

from shoplib.core.checks import Outcome, Value
from shoplib.core.former import Former
from shoplib.core.units import mm
from shoplib.core.working import COMPARISON_BEFORE, GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import feeler
from shoplib.topics.cautions import CAM_BORE
from shoplib.topics.flatness.face_inputs import CLEAN, MM, UNSEEN, USUAL, read_face
from shoplib.topics.flatness.line_inputs import DIAGONAL, LINE_COLUMNS, NOT_MEASURED, FlatnessLinesInputs
from shoplib.topics.flatness.line_verdicts import (
    NO_LEAF,
    WANTED,
    bracket_outcome,
    certain,
    deciding,
    direction_of,
    judge_evidence,
    judge_span,
    judge_whole,
)
from shoplib.topics.flatness.next_leaves import stacks_of, stacks_that_decide
from shoplib.topics.flatness.straightedge_line import Line, as_read, own_error, place_lines, read_line, thickness


def run(inputs: FlatnessLinesInputs, worksheet: Worksheet) -> None:
    """Brackets, their outcomes, the worst line, and what to measure next."""
    e = own_error(inputs, worksheet)
    lines = [read_line(inputs, worksheet, k, row, e) for k, row in enumerate(inputs.lines, 1)]
    by_name: dict[str, list[Line]] = {}
    for x in lines:
        by_name.setdefault(x.name, []).append(x)
    for name, same in by_name.items():
        if len({(x.row["from"], x.row["to"]) for x in same}) < len(same):
            worksheet.refuse(
                "lines", f'"{name[:40]}" is listed twice; give each line its own name, or its own from and to'
            )
    face, named = read_face(inputs, worksheet)
    place_lines(worksheet, lines, face, named)
    worksheet.raise_refusals()
    there = {x.name.strip() for x in lines}
    for name in (n.strip() for n in inputs.expected_lines or ()):
        if name not in there:
            lines.append(Line({**dict.fromkeys(c.name for c in LINE_COLUMNS), "name": name, "state": NOT_MEASURED}))
    show_steps(worksheet, lines, e)
    for line in lines:
        judge_whole(inputs, worksheet, line)
        judge_span(inputs, worksheet, line)
    judge_evidence(inputs, worksheet, lines, face)
    if not worksheet.checks:
        worksheet.check("Largest gap", max(x.low for x in lines), "<", None, mm, None)
    measured = [x for x in lines if x.bracket is not None]
    worst = max(measured, key=lambda x: (x.low, x.high if x.high is not None else math.inf), default=None)
    worksheet.result("worst_low", worst.low if worst else None, mm, "Largest gap is at least", 3)
    known = len(measured) == len(lines) and all(x.high is not None for x in lines)
    worksheet.result("worst_high", max(x.high or 0.0 for x in lines) if known else None, mm, "Largest gap is below", 3)
    worksheet.result("worst_line", worst.name if worst else "none measured", None, "Line with the largest proven gap")
    tell(inputs, worksheet, lines, face, e)
    worksheet.plot_data.update(lines=lines, face=face, limit=inputs.limit)


def show_steps(worksheet: Worksheet, lines: list[Line], e: float) -> None:
    """The printed working: the widest proved gap where the edge itself counts, and every line that rocks."""
    plain = [x for x in lines if x.bracket and not x.rocking]
    if plain and e > 0:
        worst = max(plain, key=lambda x: x.low)
        low, high = (thickness(worst.row[n]) for n in ("goes", "no_go"))
        if low is not None:
            worksheet.step(f"Line {worst.name}, at least", feeler.gap_at_least, t_goes=low, e=e)
        if high is not None:
            worksheet.step(f"Line {worst.name}, below", feeler.gap_at_most, t_no=high, e=e)
    for line in lines:
        if line.rocking and line.ends_read is not None:
            one_end, other = line.ends_read
            for word, g_1, g_2 in (("at least", one_end.low, other.low), ("below", one_end.high, other.high)):
                if 0 < g_1 < math.inf and 0 < g_2 < math.inf:
                    worksheet.step(f"Line {line.name} rocks: balanced, {word}", feeler.balanced_gap, g_1=g_1, g_2=g_2)


def tell(
    inputs: FlatnessLinesInputs, worksheet: Worksheet, lines: list[Line], face: feeler.Face | None, e: float
) -> None:
    """Tables, the leaf that decides, and what these lines cannot show."""
    rows = []
    for line in lines:
        row = {
            "line": Value(line.name, None, "Line"),
            "read": Value(as_read(line), None, "as read"),
            "gap_low": Value(None if line.bracket is None else line.low, MM, "gap at least", 3),
            "gap_high": Value(line.high, MM, "below", 3),
            "length": Value(line.length, MM, "length"),
            "outcome": Value(str(line.outcome), None, "outcome"),
        }
        rows.append(row)
    worksheet.result("brackets", rows, None, "Lines")
    pieces = [
        {
            "line": Value(line.name, None, "Line"),
            "from": Value(t0, MM, "from"),
            "to": Value(t1, MM, "to"),
        }
        for line in lines
        for t0, t1 in line.pieces or ()
    ]
    if pieces:
        worksheet.result("spans", pieces, None, "Parts of each line that lie on metal")
    tell_next(inputs, worksheet, lines, e)
    worksheet.caution(UNSEEN)
    ways = {direction_of(line, lines, face) for line in lines if line.bracket is not None}
    unseen = [way for way in WANTED if way not in ways] if None not in ways else []
    if unseen:
        twist = ": a twist cannot show" if DIAGONAL in unseen else ""
        worksheet.caution(f"No line {' and none '.join(unseen)}{twist}.")
    if len(lines) < sum(WANTED.values()):
        worksheet.caution(
            f"Lines typed: {len(lines)}. At least six are usual: two along, two or more across, two diagonal ({USUAL})."
        )
    if any(x.rocking and x.bracket and x.row["other_no_go"] is None and x.row["other_goes"] is None for x in lines):
        worksheet.caution(
            "Where the straightedge rocks, read the gap at both ends, each time with the other end pressed down."
        )


def tell_next(inputs: FlatnessLinesInputs, worksheet: Worksheet, lines: list[Line], e: float) -> None:
    """Line by line what to measure next; where the set of leaves was typed, with a stack of that set."""
    advice, leaf, first = [], None, ""
    stacks = list(stacks_of(inputs)) if inputs.given("leaves") else []
    for line in lines:
        bounds = [b for b in (inputs.limit, line.row["span_limit"]) if b is not None]
        if line.bracket is None:
            advice.append(f"Line “{line.name}”: measure it.")
            continue
        if line.doubtful:
            advice.append(f"Line “{line.name}”: doubtful, measure again.")
        for bound in dict.fromkeys(bounds):
            if bracket_outcome(certain(inputs, line), bound, inputs.at_limit) is Outcome.UNDECIDED:
                found, text = deciding(inputs, line, bound, e)
                leaf, first = (found, line.name) if leaf is None else (leaf, first)
                if inputs.given("leaves"):
                    single = text if text.startswith(NO_LEAF) else f"no leaf or stack of your set decides; {text}"
                    text = stacks_that_decide(stacks, inputs, line, bound, e) or single
                advice.append(f"Line “{line.name}”: {text}.")
    if leaf is not None and not inputs.given("leaves"):
        worksheet.result("deciding_leaf", leaf, mm, f"Thickness to try on line “{first}”", 3)
    worksheet.result("advice", " ".join(advice) or "No line is undecided.", None, "What to do next")


FLATNESS_LINES = Working(
    name="flatness_lines",
    title="Flatness by straightedge and feeler leaves",
    question="are these lines flat enough, and which leaf decides the lines that are still open",
    phase="measure",
    calculation=2,
    inputs=FlatnessLinesInputs,
    run=run,
    renamed=COMPARISON_BEFORE,
    cautions=(GOVERNS, CAM_BORE, CLEAN),
    former=Former(
        labels={
            "Line {}, gap at least": ("Line “{}”, smallest possible gap", "Line “{}”, gap below"),
            "Line {}, gap below": ("Line “{}”, gap below", "Line “{}”, smallest possible gap"),
        },
    ),
)
