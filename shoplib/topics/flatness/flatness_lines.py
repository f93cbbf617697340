"""The working ``flatness_lines``: are these lines flat enough, and which leaf decides what is still open."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core import rounding
from shoplib.core.checks import Origin, Outcome, Rule, Uncertainty, Value
from shoplib.core.fields import (
    ALLOWED,
    COMPARISON_BEFORE,
    NOT_ALLOWED,
    Field,
    choice,
    judging,
    listing,
    quantity,
    sourced_limit,
    table,
    words,
)
from shoplib.core.inputs import Inputs, half_digit_in_si
from shoplib.core.units import Reading, Unreadable, mm, mm_per_m, one, read, show, um, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import feeler as g
from shoplib.physics import flatness as f

MM, UM, SLOPE, ONE = unit_of(mm), unit_of(um), unit_of(mm_per_m), unit_of(one)


NOT_BENT = "Measure the cam bores as well: a skim makes the face flat, but it does not straighten a bent head."


CLEAN = "Measure the face clean and cold: no carbon, burr or gasket left. Use no power abrasives on a sealing face."


UNSEEN = (
    "Lines show only what is under them. A dip between the lines stays hidden; a twist shows on the diagonals only."
)


ALONG, ACROSS, DIAGONAL = "along", "across", "diagonal"


WANTED = {ALONG: 2, ACROSS: 2, DIAGONAL: 2}


USUAL = "common practice, no source"


JUDGING = judging(mm, group="Limit")


RULE_AND_LIMIT = tuple(f for f in JUDGING if f.name in ("decision_rule", "at_limit"))


# ------------------------------------------------------------------------------ straightedge lines
THINNEST, LOOSE = "thinnest will not go", "thickest still loose"


NOT_MEASURED, UNREADABLE, DOUBTFUL, ROCKS = "not measured", "unreadable", "doubtful", "rocks"


def _leaf(name: str, label: str, word: str, help: str) -> Field:
    return quantity(
        name,
        mm,
        label,
        required=False,
        terms=True,
        states=(word, NOT_MEASURED, UNREADABLE),
        at_least=0.0,
        at_most=0.1,
        example='"0.05 + 0.03 mm"',
        help=help,
    )


LEAF_TOLERANCE = quantity(
    "leaf_tolerance",
    mm,
    "Tolerance of a leaf",
    required=False,
    above=0.0,
    at_most=0.1e-3,
    help="plus or minus, from the standard or certificate of the set; if left empty, half the last digit of each leaf",
    example='"0.003 mm"',
    group="Tools",
)


LINE_COLUMNS = (
    words("name", "Line", example='"front left to rear right"'),
    choice(
        "direction",
        "Direction",
        (ALONG, ACROSS, DIAGONAL),
        required=False,
        example=ALONG,
        help="if no places are given",
    ),
    words("from", "From", required=False, example='"0; 0 mm"', help="a corner's name, or x; y"),
    words("to", "To", required=False, example='"400; 150 mm"', help="a corner's name, or x; y"),
    quantity("length", mm, "Length", required=False, above=0.0, example='"400 mm"', help="if no places are given"),
    _leaf("goes", "Leaf that fits", THINNEST, f"thickest leaf or stack that fits; or: {THINNEST}"),
    _leaf("no_go", "Leaf that does not fit", LOOSE, f"thinnest that does not fit; or: {LOOSE}"),
    _leaf(
        "other_goes", "Rocks: other end, leaf that fits", THINNEST, "gap at the other end, with this end pressed down"
    ),
    _leaf(
        "other_no_go",
        "Rocks: other end, leaf that does not fit",
        LOOSE,
        "gap at the other end, with this end pressed down",
    ),
    choice("state", "State", (DOUBTFUL, NOT_MEASURED, UNREADABLE, ROCKS), required=False, example=DOUBTFUL),
    quantity("span_limit", mm, "Limit of this line", required=False, at_least=0.0, example='"0.03 mm"'),
    words(
        "span_limit_source",
        "Source of that limit",
        required=False,
        needs=("span_limit",),
        example='"workshop manual, page 41"',
    ),
    quantity(
        "span_limit_over",
        mm,
        "Length the limit is for",
        required=False,
        needs=("span_limit",),
        above=0.0,
        example='"100 mm"',
    ),
)


OUTLINE = table(
    "outline",
    (
        words("name", "Corner", required=False, example="A"),
        quantity("x", mm, "x", example='"0 mm"'),
        quantity("y", mm, "y", example='"0 mm"'),
    ),
    "Outline of the face",
    required=False,
    csv=True,
    help="corners in order around the face; include the corners of notches",
    example='[{"name": "A", "x": "0 mm", "y": "0 mm"}, …]',
    group="Map",
)


HOLES = table(
    "holes",
    (
        words("name", "Hole", example='"bore 1"'),
        quantity("x", mm, "x", example='"60 mm"'),
        quantity("y", mm, "y", example='"75 mm"'),
        quantity("diameter", mm, "Diameter", required=False, above=0.0, example='"80 mm"'),
    ),
    "Holes",
    required=False,
    needs=("outline",),
    csv=True,
    help="round hole: centre and diameter; other hole: its corners in order, one row each, under one name",
    example='[{"name": "bore 1", "x": "60 mm", "y": "75 mm", "diameter": "80 mm"}]',
    group="Map",
)


@dataclass
class Line:
    """One line as typed, and what follows from it."""

    row: dict[str, Any]
    bracket: g.Bracket | None = None  # the leaves as marked; None: not measured
    wide: g.Bracket | None = None  # what is certain, the leaves being out by their tolerance
    rocking: bool = False
    ends_read: tuple[g.Bracket, g.Bracket] | None = None  # of an edge that rocks
    ends: tuple[tuple[float, float], tuple[float, float]] | None = None
    pieces: list[tuple[float, float]] | None = None
    outcome: Outcome | None = None
    origin: Origin = Origin.DIGITS

    @property
    def name(self) -> str:
        """Its name."""
        return str(self.row["name"])

    @property
    def uncertainty(self) -> tuple[Uncertainty, Uncertainty]:
        """That of the lower and of the upper end of the bracket."""
        assert self.bracket is not None
        assert self.wide is not None
        upper = self.wide.high - self.bracket.high if self.high is not None else 0.0
        return Uncertainty(self.bracket.low - self.wide.low, self.origin), Uncertainty(upper, self.origin)

    @property
    def doubtful(self) -> bool:
        """Whether the reading was marked as doubtful."""
        return bool(self.row["state"] == DOUBTFUL)

    @property
    def length(self) -> float | None:
        """Whole length, from the places or as typed."""
        if self.ends is not None:
            return math.dist(*self.ends)
        return None if self.row["length"] is None else float(self.row["length"])

    @property
    def low(self) -> float:
        """The gap is at least this; zero when nothing is proved."""
        return 0.0 if self.bracket is None else self.bracket.low

    @property
    def high(self) -> float | None:
        """The gap is below this; None when nothing bounds it."""
        return None if self.bracket is None or math.isinf(self.bracket.high) else self.bracket.high


def _thickness(x: Any) -> float | None:
    return x.value if isinstance(x, Reading) else None


def out_by(i: FlatnessLinesInputs, leaf: Any) -> float:
    """The tolerance of a leaf, or of a stack with all its leaves."""
    if not isinstance(leaf, Reading):
        return 0.0
    each = i.leaf_tolerance if i.given("leaf_tolerance") else half_digit_in_si(leaf.as_entered, MM)
    return float(each) * (leaf.as_entered.count("+") + 1)


def read_pair(
    i: FlatnessLinesInputs, w: Worksheet, where: str, row: dict[str, Any], names: tuple[str, str], e: float
) -> tuple[g.Bracket, g.Bracket] | None:
    """Bracket of a leaf that fits and one that does not: the leaves as marked, and what is certain.

    None when neither was tried.  Refuses what contradicts.
    """
    goes, no_go = (row[n] for n in names)
    low, high = _thickness(goes), _thickness(no_go)
    example = '"0.05 mm"'
    if goes == THINNEST and high is None:
        w.refuse(f"{where}.{names[1]}", f'is missing, and no leaf fits ("{THINNEST}"): type the thinnest leaf', example)
        return None
    if no_go == LOOSE and low is None:
        w.refuse(
            f"{where}.{names[0]}",
            f'is missing, and all are loose ("{LOOSE}"): type the thickest leaf or stack',
            example,
        )
        return None
    if low is not None and high is not None and low >= high:
        w.refuse(
            f"{where}.{names[0]}",
            f"{show(low, MM)} fits, but {show(high, MM)} does not: the leaf that fits must be the thinner one",
            example,
        )
        return None
    if low is None and high is None:
        return None
    return tuple(  # type: ignore[return-value] # two of them
        g.Bracket(
            0.0 if low is None else max(float(g.gap_at_least(low, e + part * out_by(i, goes))), 0.0),
            math.inf if high is None else float(g.gap_at_most(high, e + part * out_by(i, no_go))),
        )
        for part in (0.0, 1.0)
    )


def read_line(i: FlatnessLinesInputs, w: Worksheet, k: int, row: dict[str, Any], e: float) -> Line:
    """The bracket of one line; a rocking edge is balanced first."""
    where, line = f"lines[{k}]", Line(row)
    one_end = read_pair(i, w, where, row, ("goes", "no_go"), e)
    other = read_pair(i, w, where, row, ("other_goes", "other_no_go"), e)
    line.origin = Origin.LEAVES if i.given("leaf_tolerance") else Origin.DIGITS
    line.rocking = other is not None or row["state"] == ROCKS
    if row["state"] in (NOT_MEASURED, UNREADABLE):
        if one_end is not None or other is not None:
            w.refuse(f"{where}.state", f'is "{row["state"]}", but there is a reading', DOUBTFUL)
        return line
    if UNREADABLE in (row["goes"], row["no_go"]):
        return line
    if line.rocking and one_end is not None:
        ends = list(zip(one_end, other or (g.Bracket(), g.Bracket()), strict=True))
        line.ends_read = ends[0]
        line.bracket, line.wide = (g.balanced(*pair) for pair in ends)
    elif one_end is not None:
        line.bracket, line.wide = one_end
    return line


# -- the map
class FaceInputs(Inputs):
    """The face from above."""

    outline = OUTLINE
    holes = HOLES


def read_face(i: FaceInputs, w: Worksheet) -> tuple[g.Face | None, dict[str, tuple[float, float]]]:
    """The face from above, and its named corners.  Refuses an outline that crosses itself."""
    named: dict[str, tuple[float, float]] = {}
    if not i.given("outline"):
        return None, named
    corners = np.array([(r["x"], r["y"]) for r in i.outline])
    for k, row in enumerate(i.outline, 1):
        if row["name"] is not None:
            if row["name"].strip() in named:
                w.refuse(f"outline[{k}].name", f'"{row["name"][:40]}" is the name of two corners', "A")
            named[row["name"].strip()] = (row["x"], row["y"])
    sound = check_polygon(w, "outline", corners)
    rounds, polygons = [], dict[str, list[tuple[float, float]]]()
    for row in i.holes or ():
        if row["diameter"] is not None:
            rounds.append(g.Round(row["x"], row["y"], row["diameter"]))
        else:
            polygons.setdefault(row["name"], []).append((row["x"], row["y"]))
    for name, places in polygons.items():
        sound = check_polygon(w, "holes", np.array(places), f'hole "{name[:40]}" ') and sound
    if not sound:
        return None, named
    return g.Face(corners, tuple(rounds), tuple(np.array(p) for p in polygons.values())), named


def check_polygon(w: Worksheet, field: str, corners: Any, what: str = "") -> bool:
    """Three corners or more, and no side across another."""
    if len(corners) < 3:
        w.refuse(field, f"{what}has {len(corners)} corners; it needs at least three")
        return False
    crossing = g.self_crossing(corners)
    if crossing is not None:
        i, j = (f"{k + 1} to {(k + 1) % len(corners) + 1}" for k in crossing)
        why = f"side {i} has no length" if i == j else f"crosses itself: side {i} meets side {j}"
        w.refuse(field, f"{what}{why}; give the corners in order around it")
        return False
    return True


def read_place(typed: str, named: dict[str, tuple[float, float]]) -> tuple[float, float]:
    """A corner's name, or "x; y"; raises Unreadable."""
    if typed.strip() in named:
        return named[typed.strip()]
    parts = typed.split(";")
    if len(parts) != 2:
        raise Unreadable(f'"{typed[:40]}" is not a named corner and not x; y')
    unit = parts[1].strip().lstrip("+-−0123456789.,/ ")
    first = parts[0] if parts[0].strip()[-1:].isalpha() else f"{parts[0]} {unit}"
    return read(first, MM).value, read(parts[1], MM).value


def place_lines(w: Worksheet, lines: list[Line], face: g.Face | None, named: dict[str, tuple[float, float]]) -> None:
    """Where each line lies; with an outline, its pieces on the face."""
    for k, line in enumerate(lines, 1):
        start, end = line.row["from"], line.row["to"]
        if face is None and not all(t is not None and t.count(";") == 1 for t in (start, end)):
            continue  # a place in words says where; nothing is measured from it
        places = []
        for column, typed in (("from", start), ("to", end)):
            if typed is None:
                w.refuse(f"lines[{k}].{column}", "is missing: with an outline, a line has two ends", '"0; 0 mm"')
                continue
            try:
                places.append(read_place(typed, named))
            except Unreadable as error:
                w.refuse(f"lines[{k}].{column}", str(error), '"0; 0 mm"')
        if len(places) < 2:
            continue
        if places[0] == places[1]:
            w.refuse(f"lines[{k}].to", "is the place where the line starts", '"400; 150 mm"')
            continue
        line.ends = (places[0], places[1])
        if line.row["length"] is not None and abs(line.row["length"] - math.dist(*places)) > 0.02 * math.dist(*places):
            w.refuse(f"lines[{k}].length", f"is not the distance between its ends, {show(math.dist(*places), MM)}")
        if face is not None:
            line.pieces = g.spans(*line.ends, face)
            if not line.pieces:
                w.refuse(f"lines[{k}].from", "to its end is nowhere on the face", '"0; 0 mm"')


# -- judging
def is_simple(i: FlatnessLinesInputs) -> bool:
    """Whether the leaves are taken as they are marked, as the source of the limit says."""
    return bool(i.decision_rule == Rule.SIMPLE)


def certain(i: FlatnessLinesInputs, line: Line) -> g.Bracket:
    """The bracket that is judged."""
    found = line.bracket if is_simple(i) else line.wide
    assert found is not None
    return found


def judge_whole(i: FlatnessLinesInputs, w: Worksheet, line: Line) -> None:
    """One line against the limit of the whole face."""
    bound, source = i.limit, i.limit_source
    if bound is None:
        line.outcome = Outcome.NO_LIMIT
        return
    line.outcome, remark = verdict(i, line, bound, source)
    keep_check(i, w, line, line.outcome, bound, source, remark)


def keep_check(
    i: FlatnessLinesInputs,
    w: Worksheet,
    line: Line,
    outcome: Outcome,
    bound: float,
    source: str | None,
    remark: str,
    own: str = "",
) -> None:
    """The check, with the end of the bracket that the outcome rests on.

    The gap lies below the upper end, so that end may equal the limit, whatever the source says of the gap.
    """
    sign = "<" if i.at_limit == NOT_ALLOWED else "≤"
    label, found, uncertain = f"Line {line.name}{own}", None, None
    if line.bracket is not None:
        lower, upper = line.uncertainty
        if outcome is Outcome.FAIL or line.high is None:
            label, found, uncertain = f"{label}{':' if own else ','} gap at least", line.low, lower
        else:
            label, found, uncertain, sign = f"{label}{':' if own else ','} gap below", line.high, upper, "≤"
    rule = Rule.NONE if uncertain is None else Rule.SIMPLE if is_simple(i) else Rule.GUARD_BANDS
    w.judge(label, found, sign, bound, mm, source, outcome, remark, uncertainty=uncertain, rule=rule)


def in_words(line: Line) -> str:
    """The bracket in words."""
    if line.bracket is None:
        return "not measured" if line.row["state"] != UNREADABLE else "unreadable"
    kind = "balanced gap " if line.rocking else ""
    if line.high is None:
        return f"{kind}at least {leaf_text(line.low)}, thickest leaf still loose"
    if line.low == 0:
        return f"{kind}below {leaf_text(line.high)}"
    return f"{kind}from {leaf_text(line.low)} to below {leaf_text(line.high)}"


def bracket_outcome(found: g.Bracket, bound: float, at_limit: str | None) -> Outcome:
    """A gap of at least the lower end and below the upper end, against the largest gap allowed.

    Where nobody typed whether the limit itself is allowed, a gap that is proved to reach just the limit stays open.
    """
    if rounding.at_most(found.high, bound):
        return Outcome.PASS
    beyond = rounding.below(bound, found.low) or (at_limit == NOT_ALLOWED and rounding.same(bound, found.low))
    return Outcome.FAIL if beyond else Outcome.UNDECIDED


def verdict(
    i: FlatnessLinesInputs, line: Line, bound: float, source: str | None, missing: str = ""
) -> tuple[Outcome, str]:
    """A fail stays a fail; a missing or doubtful line cannot pass; without a source nothing passes."""
    if line.bracket is None:
        return Outcome.UNDECIDED, f"{in_words(line)}: the check cannot pass while a line is missing"
    outcome, said = bracket_outcome(certain(i, line), bound, i.at_limit), in_words(line)
    if outcome is Outcome.FAIL:
        return outcome, said + ("" if source else "; source missing")
    if outcome is Outcome.UNDECIDED:
        if i.at_limit is None and rounding.same(bound, certain(i, line).low):
            said += "; the gap may be equal to the limit: type whether the limit itself is allowed"
        elif bracket_outcome(line.bracket, bound, i.at_limit) is not outcome:
            said += "; the tolerance of the leaves reaches across the limit: type it, or each leaf with all its digits"
        return outcome, said
    if line.doubtful:
        return Outcome.UNDECIDED, f"{said}, but doubtful: measure again"
    if missing:
        return Outcome.UNDECIDED, f"{said}; {missing}"
    if not source:
        return Outcome.NO_LIMIT, f"{said}; within the limit, but its source is missing"
    return Outcome.PASS, said


def judge_span(i: FlatnessLinesInputs, w: Worksheet, line: Line) -> None:
    """The limit of this line alone, never scaled to another length.

    A gap that is small over a longer line is small over any part of it.  A shorter line proves nothing for the length
    that the limit is meant for.
    """
    bound, source, over = (line.row[n] for n in ("span_limit", "span_limit_source", "span_limit_over"))
    if bound is None:
        return
    held = line.pieces or ([(0.0, line.length)] if line.length is not None else [])
    reach = held[-1][1] - held[0][0] if held else 0.0
    missing = ""
    if over is not None and not held:
        missing = "type the line's length: a limit is never scaled"
    elif over is not None and rounding.below(reach, over):
        missing = f"the line is {show(reach, MM)} long, the limit is for {show(over, MM)}: measure over that length"
    outcome, remark = verdict(i, line, bound, source, missing)
    if outcome is Outcome.FAIL and len(held) > 1:
        outcome = Outcome.UNDECIDED
        remark += "; the edge bridges a void: lay it on each piece separately"
    elif over is not None and outcome is Outcome.FAIL and not held:
        outcome, remark = Outcome.UNDECIDED, f"{remark}; {missing}"
    elif over is not None and outcome is Outcome.FAIL and rounding.below(over, reach):
        outcome = Outcome.UNDECIDED
        remark += f"; the limit is for {show(over, MM)}: measure again over that length"
    span = f" over {show(over, MM)}" if over is not None else ""
    keep_check(i, w, line, outcome, bound, source, remark, f", its own limit{span}")


def judge_evidence(i: FlatnessLinesInputs, w: Worksheet, lines: list[Line], face: g.Face | None) -> None:
    """Whether these lines are enough to call the whole face flat: two along, two across, both diagonals."""
    if i.limit is None or not i.limit_source:
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
    w.judge("Lines of the whole face", f"{len(read)}: {said}", "at least", "2 along, 2 across, 2 diagonal", None,
            USUAL, outcome, remark)  # fmt: skip


def direction_of(line: Line, lines: list[Line], face: g.Face | None) -> str | None:
    """Along, across or diagonal: from its places, else as typed; None where neither is known."""
    if line.ends is None:
        return None if line.row["direction"] is None else str(line.row["direction"])
    corners = face.corners if face is not None else [p for other in lines for p in other.ends or ()]
    box = np.ptp(np.asarray(corners, float), axis=0)
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


def leaf_text(x: float) -> str:
    """A thickness as engraved on a leaf."""
    return f"{x * 1e3:.4g} mm"


def deciding(i: FlatnessLinesInputs, line: Line, bound: float, e: float) -> tuple[float, str]:
    """The leaf that decides a line, in words."""
    where = " at either end, with the edge balanced so that both gaps are equal" if line.rocking else ""
    leaf = next((line.row[n] for n in ("no_go", "goes") if isinstance(line.row[n], Reading)), None)
    slack = e + (0.0 if is_simple(i) else out_by(i, leaf))
    if slack > 0:
        text = (
            f"line {line.name}: a leaf of {leaf_text(max(bound - slack, 0.0))} or thinner that does not fit{where} "
            f"passes it, one of {leaf_text(bound + slack)} or thicker that fits fails it; in between, these tools "
            "cannot decide"
        )
        return max(bound - slack, 0.0), text
    stack = ""
    if i.given("leaves"):
        found = g.stack_of(bound, i.leaves)
        if found is None:
            stack = " (no leaf and no stack of three in your set makes this thickness)"
        elif len(found) > 1:
            stack = f" ({' + '.join(leaf_text(x).removesuffix(' mm') for x in found)} mm)"
    thicker = "; if it fits, try the next thicker one" if i.at_limit == ALLOWED else ""
    return bound, f"line {line.name}: try a leaf of {leaf_text(bound)}{stack}{where}{thicker}"


def own_error(i: FlatnessLinesInputs, w: Worksheet) -> float:
    """The largest error of the straightedge itself."""
    if i.given("edge_error"):
        return float(i.edge_error)
    if i.given("edge_grade"):
        t_0, q = f.STRAIGHTEDGE_GRADES[i.edge_grade]
        return float(w.step("Largest error of the straightedge", f.edge_tolerance, L=i.edge_length, t_0=t_0, q=q))
    w.assume("the straightedge itself is straight (neither edge_error nor edge_grade was typed)")
    return 0.0


def run(i: FlatnessLinesInputs, w: Worksheet) -> None:
    """Brackets, their outcomes, the worst line, and what to measure next."""
    e = own_error(i, w)
    lines = [read_line(i, w, k, row, e) for k, row in enumerate(i.lines, 1)]
    by_name: dict[str, list[Line]] = {}
    for x in lines:
        by_name.setdefault(x.name, []).append(x)
    for name, same in by_name.items():
        if len({(x.row["from"], x.row["to"]) for x in same}) < len(same):
            w.refuse("lines", f'"{name[:40]}" is listed twice; give each line its own name, or its own from and to')
    face, named = read_face(i, w)
    place_lines(w, lines, face, named)
    w.door()
    there = {x.name.strip() for x in lines}
    for name in (n.strip() for n in i.expected_lines or ()):
        if name not in there:
            lines.append(Line({**dict.fromkeys(c.name for c in LINE_COLUMNS), "name": name, "state": NOT_MEASURED}))
    show_steps(w, lines, e)
    for line in lines:
        judge_whole(i, w, line)
        judge_span(i, w, line)
    judge_evidence(i, w, lines, face)
    if not w.checks:
        w.check("Largest gap", max(x.low for x in lines), "<", None, mm, None)
    measured = [x for x in lines if x.bracket is not None]
    worst = max(measured, key=lambda x: (x.low, x.high if x.high is not None else math.inf), default=None)
    w.result("worst_low", worst.low if worst else None, mm, "Largest gap is at least", 3)
    known = len(measured) == len(lines) and all(x.high is not None for x in lines)
    w.result("worst_high", max(x.high or 0.0 for x in lines) if known else None, mm, "Largest gap is below", 3)
    w.result("worst_line", worst.name if worst else "none measured", None, "Line with the largest proved gap")
    tell(i, w, lines, face, e)
    w.curve.update(lines=lines, face=face, limit=i.limit)


def show_steps(w: Worksheet, lines: list[Line], e: float) -> None:
    """The printed working: the widest proved gap where the edge itself counts, and every line that rocks."""
    plain = [x for x in lines if x.bracket and not x.rocking]
    if plain and e > 0:
        worst = max(plain, key=lambda x: x.low)
        low, high = (_thickness(worst.row[n]) for n in ("goes", "no_go"))
        if low is not None:
            w.step(f"Line {worst.name}, at least", g.gap_at_least, t_goes=low, e=e)
        if high is not None:
            w.step(f"Line {worst.name}, below", g.gap_at_most, t_no=high, e=e)
    for line in lines:
        if line.rocking and line.ends_read is not None:
            one_end, other = line.ends_read
            for word, g_1, g_2 in (("at least", one_end.low, other.low), ("below", one_end.high, other.high)):
                if 0 < g_1 < math.inf and 0 < g_2 < math.inf:
                    w.step(f"Line {line.name} rocks: balanced, {word}", g.balanced_gap, g_1=g_1, g_2=g_2)


def as_read(line: Line) -> str:
    """The leaves as they were typed, a stack leaf by leaf; both ends of an edge that rocks."""
    said = []
    for goes, no_go in (("goes", "no_go"), ("other_goes", "other_no_go")):
        pair = [line.row[n].as_entered if isinstance(line.row[n], Reading) else line.row[n] for n in (goes, no_go)]
        if pair != [None, None]:
            said.append(f"{pair[0] or 'not tried'} / {pair[1] or 'not tried'}")
    return "; other end ".join(said) or str(line.row["state"] or NOT_MEASURED)


def tell(i: FlatnessLinesInputs, w: Worksheet, lines: list[Line], face: g.Face | None, e: float) -> None:
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
    w.result("brackets", rows, None, "Lines")
    pieces = [
        {
            "line": Value(line.name, None, "Line"),
            "from": Value(t0, MM, "from"),
            "to": Value(t1, MM, "to"),
            "length": Value(t1 - t0, MM, "length"),
        }
        for line in lines
        for t0, t1 in line.pieces or ()
    ]
    if pieces:
        w.result("spans", pieces, None, "Where the lines lie on the face")
    advice, leaf = [], None
    for line in lines:
        bounds = [b for b in (i.limit, line.row["span_limit"]) if b is not None]
        if line.bracket is None:
            advice.append(f"line {line.name}: measure it")
            continue
        if line.doubtful:
            advice.append(f"line {line.name}: doubtful, measure again")
        for bound in dict.fromkeys(bounds):
            if bracket_outcome(certain(i, line), bound, i.at_limit) is Outcome.UNDECIDED:
                found, text = deciding(i, line, bound, e)
                leaf = found if leaf is None else leaf
                advice.append(text)
    if leaf is not None:
        w.result("deciding_leaf", leaf, mm, "Leaf that decides", 3)
    w.result("advice", "; ".join(advice) or "no open readings on these lines", None, "What to do next")
    w.caution(UNSEEN)
    ways = {direction_of(line, lines, face) for line in lines if line.bracket is not None}
    unseen = [way for way in WANTED if way not in ways] if None not in ways else []
    if unseen:
        twist = ": a twist cannot show" if DIAGONAL in unseen else ""
        w.caution(f"No line {' and none '.join(unseen)}{twist}.")
    if len(lines) < sum(WANTED.values()):
        w.caution(
            f"Lines typed: {len(lines)}. At least six are usual: two along, two or more across, two diagonal ({USUAL})."
        )
    if any(x.rocking and x.bracket and x.row["other_no_go"] is None and x.row["other_goes"] is None for x in lines):
        w.caution("Where the edge rocks, read the gap at both ends, each time with the other end pressed down.")


class FlatnessLinesInputs(FaceInputs):
    """Inputs of ``flatness_lines``."""

    lines = table(
        "lines",
        LINE_COLUMNS,
        "Lines",
        csv=True,
        help="one row per line; an empty cell is not measured, never zero",
        example='[{"name": "left, along", "goes": "0.05 mm", "no_go": "0.06 mm"}]',
        group="Readings",
    )
    expected_lines = listing(
        "expected_lines",
        words("line", "Line"),
        "Required lines",
        required=False,
        help="the check cannot pass while one is missing",
        example='"left, along; right, along"',
        group="Readings",
    )
    limit, limit_source = sourced_limit(
        "limit", mm, "Limit of the whole face", at_least=0.0, example='"0.08 mm"', group="Limit"
    )
    decision_rule, at_limit = RULE_AND_LIMIT
    leaf_tolerance = LEAF_TOLERANCE
    leaves = listing(
        "leaves",
        quantity("leaf", mm, "Leaf", above=0.0, example='"0.05 mm"'),
        "Leaves in your set",
        required=False,
        help="used to suggest a stack that you can make",
        example='"0.03 mm; 0.04 mm; 0.05 mm"',
        group="Tools",
    )
    edge_error = quantity(
        "edge_error",
        mm,
        "Straightedge error, up to",
        required=False,
        excludes=("edge_grade",),
        at_least=0.0,
        help="from its certificate",
        example='"0.005 mm"',
        group="Tools",
    )
    edge_grade = choice(
        "edge_grade",
        "Straightedge grade",
        tuple(f.STRAIGHTEDGE_GRADES),
        required=False,
        needs=("edge_length",),
        help="DIN 874-1 (from memory); instead of the certificate",
        example="1",
        group="Tools",
    )
    edge_length = quantity(
        "edge_length", mm, "Straightedge length", required=False, above=0.0, example='"500 mm"', group="Tools"
    )
    outline = OUTLINE
    holes = HOLES


FLATNESS_LINES = Working(
    name="flatness_lines",
    title="Flatness by straightedge and feeler leaves",
    question="are these lines flat enough, and which leaf decides what is still open",
    phase="measure",
    inputs=FlatnessLinesInputs,
    run=run,
    renamed=COMPARISON_BEFORE,
    cautions=(GOVERNS, NOT_BENT, CLEAN),
)
