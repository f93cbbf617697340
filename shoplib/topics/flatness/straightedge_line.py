"""One line under the straightedge, as it was read: the gap, and what is uncertain about it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from shoplib.core import rounding
from shoplib.core.checks import Origin, Outcome, Uncertainty
from shoplib.core.inputs import half_digit_in_si
from shoplib.core.units import Reading, Unreadable, show, show_short
from shoplib.core.worksheet import Worksheet
from shoplib.physics import feeler, flatness
from shoplib.topics.flatness.face_inputs import MM, read_place
from shoplib.topics.flatness.line_inputs import (
    DOUBTFUL,
    LOOSE,
    NOT_MEASURED,
    ROCKS,
    THINNEST,
    UNREADABLE,
    FlatnessLinesInputs,
)


@dataclass
class Line:
    """One line as typed, and what follows from it."""

    row: dict[str, Any]
    bracket: feeler.Bracket | None = None  # the leaves as marked; None: not measured
    wide: feeler.Bracket | None = None  # what is certain, the leaves being out by their tolerance
    rocking: bool = False
    ends_read: tuple[feeler.Bracket, feeler.Bracket] | None = None  # of an edge that rocks
    ends: tuple[tuple[float, float], tuple[float, float]] | None = None
    pieces: list[tuple[float, float]] | None = None
    outcome: Outcome = Outcome.NO_LIMIT
    origin: Origin = Origin.DIGITS

    @property
    def name(self) -> str:
        """Its name."""
        return str(self.row["name"])

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

    def end(self, upper: bool) -> tuple[float, Uncertainty]:
        """The upper or the lower end of the bracket, with its uncertainty."""
        assert self.bracket is not None
        assert self.wide is not None
        found, outside = (x.high if upper else x.low for x in (self.bracket, self.wide))
        return found, Uncertainty(abs(outside - found), self.origin)


def thickness(x: Any) -> float | None:
    """The thickness of a leaf in metres; None for a word in its place."""
    return x.value if isinstance(x, Reading) else None


def each_out_by(inputs: FlatnessLinesInputs, leaf: Reading) -> float:
    """The tolerance of one leaf, alone or in a stack."""
    return float(inputs.leaf_tolerance if inputs.given("leaf_tolerance") else half_digit_in_si(leaf.as_entered, MM))


def out_by(inputs: FlatnessLinesInputs, leaf: Reading) -> float:
    """The tolerance of a leaf, or of a stack with all its leaves."""
    return each_out_by(inputs, leaf) * (leaf.as_entered.count("+") + 1)


def read_pair(
    inputs: FlatnessLinesInputs, worksheet: Worksheet, where: str, row: dict[str, Any], names: tuple[str, str], e: float
) -> tuple[feeler.Bracket, feeler.Bracket] | None:
    """Bracket of a leaf that fits and one that does not: the leaves as marked, and what is certain.

    None when neither was tried.  Refuses what contradicts.
    """
    goes, no_go = (row[n] for n in names)
    low, high = thickness(goes), thickness(no_go)
    example = '"0.05 mm"'
    if goes == THINNEST and high is None:
        worksheet.refuse(
            f"{where}.{names[1]}", f'is missing, and no leaf fits ("{THINNEST}"): type the thinnest leaf', example
        )
        return None
    if no_go == LOOSE and low is None:
        worksheet.refuse(
            f"{where}.{names[0]}",
            f'is missing, and all are loose ("{LOOSE}"): type the thickest leaf or stack',
            example,
        )
        return None
    if low is not None and high is not None and low >= high:
        worksheet.refuse(
            f"{where}.{names[0]}",
            f"{show_short(low, MM)} fits, but {show_short(high, MM)} does not: "
            "the leaf that fits must be the thinner one",
            example,
        )
        return None
    if low is None and high is None:
        return None
    return tuple(  # type: ignore[return-value] # two of them
        feeler.Bracket(
            0.0 if low is None else max(float(feeler.gap_at_least(low, e + part * out_by(inputs, goes))), 0.0),
            math.inf if high is None else float(feeler.gap_at_most(high, e + part * out_by(inputs, no_go))),
        )
        for part in (0.0, 1.0)
    )


def read_line(inputs: FlatnessLinesInputs, worksheet: Worksheet, k: int, row: dict[str, Any], e: float) -> Line:
    """The bracket of one line; a rocking edge is balanced first."""
    where, line = f"lines[{k}]", Line(row)
    one_end = read_pair(inputs, worksheet, where, row, ("goes", "no_go"), e)
    other = read_pair(inputs, worksheet, where, row, ("other_goes", "other_no_go"), e)
    line.origin = Origin.LEAVES if inputs.given("leaf_tolerance") else Origin.DIGITS
    line.rocking = other is not None or row["state"] == ROCKS
    if row["state"] in (NOT_MEASURED, UNREADABLE):
        if one_end is not None or other is not None:
            worksheet.refuse(f"{where}.state", f'is "{row["state"]}", but there is a reading', DOUBTFUL)
        return line
    if UNREADABLE in (row["goes"], row["no_go"]):
        return line
    if line.rocking and one_end is not None:
        ends = list(zip(one_end, other or (feeler.Bracket(), feeler.Bracket()), strict=True))
        line.ends_read = ends[0]
        line.bracket, line.wide = (feeler.balanced(*pair) for pair in ends)
    elif one_end is not None:
        line.bracket, line.wide = one_end
    return line


def place_lines(
    worksheet: Worksheet, lines: list[Line], face: feeler.Face | None, named: dict[str, tuple[float, float]]
) -> None:
    """Where each line lies; with an outline, its pieces on the face."""
    for k, line in enumerate(lines, 1):
        start, end = line.row["from"], line.row["to"]
        if face is None and not all(t is not None and t.count(";") == 1 for t in (start, end)):
            continue  # a place in words says where; nothing is measured from it
        places = []
        for column, typed in (("from", start), ("to", end)):
            if typed is None:
                worksheet.refuse(
                    f"lines[{k}].{column}", "is missing: with an outline, a line has two ends", '"0; 0 mm"'
                )
                continue
            try:
                places.append(read_place(typed, named))
            except Unreadable as error:
                worksheet.refuse(f"lines[{k}].{column}", str(error), '"0; 0 mm"')
        if len(places) < 2:
            continue
        if places[0] == places[1]:
            worksheet.refuse(f"lines[{k}].to", "is the place where the line starts", '"400; 150 mm"')
            continue
        line.ends = (places[0], places[1])
        length, apart = line.row["length"], math.dist(*places)
        if length is not None and rounding.below(0.02 * apart, abs(length - apart), apart):
            worksheet.refuse(f"lines[{k}].length", f"is not the distance between its ends, {show(apart, MM)}")
        if face is not None:
            line.pieces = feeler.spans(*line.ends, face)
            if not line.pieces:
                worksheet.refuse(f"lines[{k}].from", "to its end is nowhere on the face", '"0; 0 mm"')


def leaf_text(x: float) -> str:
    """A thickness as engraved on a leaf."""
    return f"{x * 1e3:.4g} mm"


def end_text(line: Line, x: float) -> str:
    """One end of the bracket; where it is a leaf that was tried, with the digits that were typed."""
    tried = [leaf for leaf in line.row.values() if isinstance(leaf, Reading) and rounding.same(leaf.value, x)]
    digits = max((rounding.decimals(leaf.as_entered) for leaf in tried if "mm" in leaf.as_entered), default=0)
    return max(leaf_text(x), f"{x * 1e3:.{digits}f} mm", key=len)


def own_error(inputs: FlatnessLinesInputs, worksheet: Worksheet) -> float:
    """The largest error of the straightedge itself."""
    if inputs.given("edge_error"):
        return float(inputs.edge_error)
    if inputs.given("edge_grade"):
        t_0, q = flatness.STRAIGHTEDGE_GRADES[inputs.edge_grade]
        return float(
            worksheet.step(
                "Largest error of the straightedge", flatness.edge_tolerance, L=inputs.edge_length, t_0=t_0, q=q
            )
        )
    worksheet.assume("the straightedge itself is straight (neither edge_error nor edge_grade was typed)")
    return 0.0


def as_read(line: Line) -> str:
    """The leaves as they were typed, a stack leaf by leaf; both ends of an edge that rocks."""
    said = []
    for goes, no_go in (("goes", "no_go"), ("other_goes", "other_no_go")):
        pair = [line.row[n].as_entered if isinstance(line.row[n], Reading) else line.row[n] for n in (goes, no_go)]
        if pair != [None, None]:
            said.append(f"{pair[0] or 'not tried'} / {pair[1] or 'not tried'}")
    return "; other end ".join(said) or str(line.row["state"] or NOT_MEASURED)
