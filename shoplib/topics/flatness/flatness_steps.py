"""The working ``flatness_steps``: heights from angles read step by step.

It also answers: do they agree where lines meet?
"""

from __future__ import annotations

import math
from typing import Any

from shoplib.core import rounding
from shoplib.core.checks import Value
from shoplib.core.fields import choice, listing, number, quantity, table, words
from shoplib.core.units import mm, um
from shoplib.core.working import COMPARISON_BEFORE, GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import flatness, line_survey
from shoplib.topics.flatness.surface_points import (
    UM,
    HeightLimit,
    lacking,
    show_surface,
    uncertainty,
    zone_of,
)

# ------------------------------------------------------------------------------ heights from steps along lines
READING_UNITS = {"arcsec": math.pi / 648000, "mm/m": 1e-3, "um/m": 1e-6, "mrad": 1e-3}
UNIT_LABELS = {"arcsec": "seconds of arc", "mm/m": "mm/m", "um/m": "µm/m", "mrad": "mrad"}


def run(inputs: FlatnessStepsInputs, worksheet: Worksheet) -> None:
    """Step readings along lines that meet, to heights, with the errors by which they do not close."""
    places = {}
    for k, row in enumerate(inputs.places, 1):
        if row["name"].strip() in places:
            worksheet.refuse(f"places[{k}].name", f'"{row["name"][:40]}" is listed twice', "NW")
        places[row["name"].strip()] = (row["x"], row["y"])
    per = READING_UNITS[inputs.reading_unit]
    lines = []
    for k, row in enumerate(inputs.lines, 1):
        ends = [row["from"].strip(), row["to"].strip()]
        for column, name in zip(("from", "to"), ends, strict=True):
            if name not in places:
                worksheet.refuse(f"lines[{k}].{column}", f'"{name[:40]}" is not among the places', "NW")
        if ends[0] == ends[1]:
            worksheet.refuse(f"lines[{k}].to", "is the place where the line starts", "SE")
        slopes = [x * per for x in row["readings"]]
        angles = slopes if inputs.reading_unit in ("arcsec", "mrad") else [math.atan(x) for x in slopes]
        lines.append(line_survey.SteppedLine(row["name"], ends[0], ends[1], tuple(angles)))
    u = uncertainty(inputs, worksheet)
    worksheet.raise_refusals()
    try:
        found = line_survey.survey(lines, places, inputs.foot)
    except line_survey.NoNet as error:
        worksheet.refuse("lines", str(error))
        worksheet.raise_refusals()
        raise AssertionError from error
    zone = zone_of(worksheet, "lines", found.points)
    worksheet.raise_refusals()
    assert zone is not None
    steepest = max((a for line in lines for a in line.angles), key=abs)
    worksheet.step("Climb of the steepest step", flatness.step_height, s=inputs.foot, alpha=steepest)
    gaps = lacking(found.points)
    show_surface(inputs, worksheet, found.points, zone, u, 2 * found.gain * step_rounding(inputs), gaps)
    heights = [{"place": Value(p, None, "place"), "height": Value(z, UM, "height")} for p, z in found.places.items()]
    worksheet.result("heights", heights, None, "Heights of the places, from the lowest station")
    closures = [
        {
            "line": Value(c.line, None, "line"),
            "place": Value(c.place, None, "at"),
            "error": Value(c.error, UM, "closes by", 3),
        }
        for c in found.closures
    ]
    worksheet.result("closures", closures or "no line meets a place that was already known", None, "Closure errors")
    largest = max((abs(c.error) for c in found.closures), default=None)
    worksheet.result("largest_closure", largest, um, "Largest closure error", 3)
    if largest is None:
        worksheet.caution("No line closes on another, so a slip in the readings stays hidden.")
    worksheet.caution(
        "Measure the lines again where the closure error is larger than the repeatability of the readings: it "
        "means a slip."
    )


def step_rounding(inputs: FlatnessStepsInputs) -> float:
    """The largest error of the climb of one step from the digits of its reading."""
    halves = [
        rounding.half_digit(str(x)) for row in inputs.typed_rows("lines") for x in _single_readings(row["readings"])
    ]
    return max(halves) * READING_UNITS[inputs.reading_unit] * float(inputs.foot)


def _single_readings(typed: Any) -> list[Any]:
    return typed.split(";") if isinstance(typed, str) else list(typed)


class FlatnessStepsInputs(HeightLimit):
    """Inputs of ``flatness_steps``."""

    lines = table(
        "lines",
        (
            words("name", "Line", example='"NW to SE"'),
            words("from", "From", example="NW"),
            words("to", "To", example="SE"),
            listing(
                "readings",
                number("reading", "Reading", example="6.5"),
                "Readings, one per step",
                example='"6.5; 6.0; 5.0"',
            ),
        ),
        "Lines",
        csv=True,
        help="first the two diagonals, then the rim, then the middle lines; numbers are in the unit below",
        example='[{"name": "NW to SE", "from": "NW", "to": "SE", "readings": "6.5; 6.0; 5.0"}]',
        group="Readings",
    )
    reading_unit = choice("reading_unit", "Unit of the readings", UNIT_LABELS, example="arcsec", group="Readings")
    foot = quantity(
        "foot",
        mm,
        "Length of a step",
        symbol="s",
        above=0.0,
        help="distance between the feet of the mirror or level",
        example='"4 in"',
        group="Readings",
    )
    places = table(
        "places",
        (
            words("name", "Place", example="NW"),
            quantity("x", mm, "x", example='"0 mm"'),
            quantity("y", mm, "y", example='"0 mm"'),
        ),
        "Places where lines start, end and meet",
        example='[{"name": "NW", "x": "0 mm", "y": "400 mm"}]',
        csv=True,
        group="Map",
    )


FLATNESS_STEPS = Working(
    name="flatness_steps",
    title="Flatness from steps along lines",
    question="what heights result when a level or a mirror is moved along in steps, and do the lines agree where they "
    "cross",
    phase="measure",
    calculation=2,
    inputs=FlatnessStepsInputs,
    run=run,
    renamed=COMPARISON_BEFORE,
    cautions=(GOVERNS, "Wait until the readings settle: warm air in the beam moves them."),
)
