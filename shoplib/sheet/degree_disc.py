"""A degree disc or angle dial at true scale, with check lines to measure after printing.

Everything is placed in millimetres from the centre of the disc, y downwards, as the page has it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from shoplib import __version__
from shoplib.core.errors import BadInput, Problem
from shoplib.core.units import deg, show, show_number, unit_of
from shoplib.core.working import Result
from shoplib.physics.timing import off_centre_error
from shoplib.sheet.standalone_page import known_paper, typeset_alone
from shoplib.topics.timing.degree_disc import DEGREE_DISC as DISC
from shoplib.topics.timing.degree_disc import PRINT_AT_FULL_SIZE, STANDING
from shoplib.topics.timing.pictures import disc_angle, disc_labels, disc_number

BESIDE = 15.0  # mm of free space on each side of the disc, for the check line
BELOW = 105.0  # mm of height for title, check line, accuracy and cautions
CHECK = 100.0  # mm
DEG = unit_of(deg)


def disc_pdf(disc: Result | Mapping[str, Any], *, paper: str = "a4", **options: Any) -> Any:
    """The disc as PDF bytes (``format="png"`` for pages to look at).  Takes a result, or the inputs as typed.

    Raises BadInput naming every bad field, also a diameter that does not fit the paper.
    """
    result = disc if isinstance(disc, Result) else DISC(dict(disc))
    width, height = known_paper(paper)
    most = min(width - 2 * BESIDE, height - BELOW)
    if result.inputs.diameter * 1e3 > most + 1e-9:
        raise BadInput([Problem("diameter", f"does not fit {paper}; at most {int(most)} mm", f'"{int(most)} mm"')])
    record = {"degree_disc": {"inputs": result.to_json()["inputs"]}}
    return typeset_alone(page_of(result, paper), record, template="dial.typ", **options)


def page_of(result: Result, paper: str) -> dict[str, Any]:
    """The data for the template."""
    inputs = result.inputs
    R, hole = 500 * inputs.diameter, 500 * inputs.hole
    return {
        "paper": paper,
        "version": __version__,
        "title": f"Degree disc, {show_number(2 * R, 4).rstrip('0').rstrip('.')} mm",
        "alt": DISC.alt(result) if DISC.alt else DISC.title,
        "radius": R,
        "hole": hole,
        "check": CHECK,
        "lines": _ticks(result, R) + _start(result, R, hole) + _stage_lines(result, R, hole),
        "arcs": _bands(result, R),
        "texts": _numbers(result, R) + _names(result, R, hole),
        "arrow": _arrow(result, R, hole),
        "turns": f"{'Turn' if inputs.mounted == STANDING else 'The disc turns'} {inputs.direction}. "
        + ("The disc stands still; the pointer turns with the wrench or shaft." if inputs.mounted == STANDING
           else "The pointer stands still."),
        "facts": _facts(result),
        "stages": [[f"{m.n}", m.stage.as_entered, show(m.at, DEG), _band(m)] for m in result.plot_data["marks"]],
        "cautions": [c for c in result.labelled_cautions if c != PRINT_AT_FULL_SIZE],  # that one is in the footer
    }  # fmt: skip


def _at(result: Result, reading: float, radius: float) -> tuple[float, float]:
    """Millimetres from the centre, y downwards, of a reading at a radius."""
    angle = disc_angle(result, reading)
    return radius * float(np.sin(angle)), -radius * float(np.cos(angle))


def _line(result: Result, reading: float, inner: float, outer: float, width: float, kind: str) -> dict[str, Any]:
    (x1, y1), (x2, y2) = _at(result, reading, inner), _at(result, reading, outer)
    return {"x1": x1, "y1": y1, "x2": x2, "y2": y2, "w": width, "kind": kind}


def _ticks(result: Result, R: float) -> list[dict[str, Any]]:
    lines = []
    for d in range(360):
        length, width = (0.10, 0.5) if d % 10 == 0 else (0.072, 0.35) if d % 5 == 0 else (0.045, 0.2)
        lines.append(_line(result, np.radians(d), R * (1 - length), R, width, "tick"))
    return lines


def _start(result: Result, R: float, hole: float) -> list[dict[str, Any]]:
    return [_line(result, 0.0, max(hole, 0.12 * R), R, 1.1, "start")]


def _stage_lines(result: Result, R: float, hole: float) -> list[dict[str, Any]]:
    return [
        _line(result, at, max(hole, 0.12 * R), R * 0.76, 1.0, "stage") for at, _ in disc_labels(result)
    ] + [_line(result, at, R * 0.9, R + 2.5, 1.0, "stage") for at, _ in disc_labels(result)]  # fmt: skip


def _bands(result: Result, R: float) -> list[list[list[float]]]:
    """Allowed ranges as points along an arc inside the scale."""
    return [
        [list(_at(result, r, R * 0.885)) for r in np.linspace(m.low, m.high, 2 + int(np.degrees(m.high - m.low)))]
        for m in result.plot_data["marks"]
        if m.high > m.low
    ]


def _text(result: Result, reading: float, radius: float, text: str, size: float, kind: str) -> dict[str, Any]:
    x, y = _at(result, reading, radius)
    turn = float(np.degrees(disc_angle(result, reading))) % 360
    if kind == "name":  # along the radius, never upside down
        turn = turn - 90 if turn <= 180 else turn + 90
    return {"x": x, "y": y, "turn": turn, "text": text, "size": size, "kind": kind}


def _numbers(result: Result, R: float) -> list[dict[str, Any]]:
    size = float(np.clip(R * 0.105, 4.5, 9.5))
    return [
        _text(result, np.radians(d), R * 0.845, str(disc_number(result, d)), size, "number") for d in range(10, 360, 10)
    ]


def _names(result: Result, R: float, hole: float) -> list[dict[str, Any]]:
    inner, outer = max(hole, 0.12 * R), 0.76 * R
    names = [(0.0, result.inputs.start_mark), *disc_labels(result)]
    return [_text(result, at, (inner + outer) / 2, *_fitted(text, outer - inner, R), "name") for at, text in names]


def _fitted(text: str, room: float, R: float) -> tuple[str, float]:
    """Text and its size in points, so that it fits the space (mm); the table has the full text."""
    per_point = 0.5 * 25.4 / 72  # mm of an average letter for each point of its size
    size = float(np.clip(R * 0.11, 5, 10))
    size = max(5.0, min(size, 0.9 * room / (per_point * max(len(text), 1))))
    most = int(0.95 * room / (per_point * size))
    return (text if len(text) <= most else text[: max(most - 1, 1)] + "…"), size


def _arrow(result: Result, R: float, hole: float) -> dict[str, Any]:
    """The direction of rising numbers: an arc of 40° with an arrowhead, half way out, clear of start and stages."""
    radius = max(hole, 0.12 * R) + 0.12 * (R - hole)
    busy = [0.0, *(at for at, _ in disc_labels(result))]
    gaps = sorted(np.radians(range(15, 360, 5)), key=lambda c: -min(_angle_between(c, b) for b in busy))
    middle = float(gaps[0])
    points = [list(_at(result, r, radius)) for r in np.linspace(middle - 0.45, middle + 0.45, 30)]
    end = middle + 0.45
    head = [list(_at(result, end + 0.16, radius)), list(_at(result, end, radius + 0.03 * R)),
            list(_at(result, end, radius - 0.03 * R))]  # fmt: skip
    return {"points": points, "head": head}


def _angle_between(a: float, b: float) -> float:
    return abs((a - b + np.pi) % (2 * np.pi) - np.pi)


def _band(mark: Any) -> str:
    return "" if mark.high == mark.low else f"{show(mark.low, DEG)} to {show(mark.high, DEG)}"


def _facts(result: Result) -> list[str]:
    """The accuracy of the disc."""
    R = result.inputs.diameter / 2
    errors = ", ".join(f"{s:g} mm: {_degrees(off_centre_error(s * 1e-3, R))}" for s in (0.5, 1, 2))
    facts = [
        f"One degree along the rim is {show_number(result['rim_per_degree'] * 1e3, 4)} mm.",
        f"Largest error of a reading if the disc is off centre: {errors}. Between two readings: up to twice that. "
        "Read at both ends of a diameter and take the mean: this cancels the error.",
        "Measure both check lines. If they are equal, the angles are correct at any print size. If one differs from "
        f"the other by 1 mm in 100, an angle is up to {_degrees(np.arcsin(1 / 199))} wrong: print again at 100 %.",
    ]
    if "scale_error" in result.values:
        facts.append(
            f"Check lines measured: {show_number(result.inputs.line_across * 1e3, 4)} mm across, "
            f"{show_number(result.inputs.line_along * 1e3, 4)} mm along; error up to {_degrees(result['scale_error'])}."
        )
    return facts


def _degrees(value: Any) -> str:
    return f"{float(DEG.from_si(value)):.2f}°"
