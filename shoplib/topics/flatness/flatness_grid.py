"""The working ``flatness_grid``: how flat is this face, from heights at known places, and how much must be removed."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from shoplib.core import rounding
from shoplib.core.fields import Field, quantity, table
from shoplib.core.inputs import half_digit_in_si
from shoplib.core.units import mm, show_short
from shoplib.core.working import COMPARISON_BEFORE, GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import flatness
from shoplib.topics.cautions import CAM_BORE
from shoplib.topics.flatness.face_inputs import CLEAN, HOLES, OUTLINE, FaceInputs, read_face
from shoplib.topics.flatness.line_inputs import NOT_MEASURED, UNREADABLE
from shoplib.topics.flatness.surface_points import (
    HEIGHT_LIMIT,
    MM,
    HeightLimit,
    lacking,
    show_surface,
    uncertainty,
    zone_of,
)

VOID = "void"


def read_points(inputs: FlatnessGridInputs, worksheet: Worksheet, field: str) -> tuple[Any, int]:
    """Points of a table in metres, and how many places were not measured.  Refuses two heights at the same place."""
    rows = inputs[field]
    measured = [(k, r["x"], r["y"], r["z"]) for k, r in enumerate(rows, 1) if not isinstance(r["z"], str)]
    missing = sum(1 for r in rows if isinstance(r["z"], str) and r["z"] != VOID)
    seen: dict[tuple[float, float], tuple[int, float]] = {}
    twice = 0
    for k, x, y, z in measured:
        place = (round(x, 9), round(y, 9))  # a nanometre: nobody measures two places that close together
        if place in seen and not rounding.same(seen[place][1], z) and twice < 20:
            worksheet.refuse(
                f"{field}[{k}]",
                f"gives another height than {field}[{seen[place][0]}] at the same place: {show_short(z, MM)} and "
                f"{show_short(seen[place][1], MM)}",
                "one height per place",
            )
            twice += 1
        seen.setdefault(place, (k, z))
    P = np.array([m[1:] for m in measured], float).reshape(-1, 3)
    return P, missing


def coarsest(inputs: FlatnessGridInputs, field: str) -> float:
    """The largest error of one height from the digits in which it was typed."""
    typed = {str(row["z"]) for row in inputs.typed_rows(field) if re.search(r"\d", str(row.get("z", "")))}
    forms = {re.sub(r"\d", "0", z): z for z in typed}  # heights of one form are rounded alike
    return max(half_digit_in_si(z, MM) for z in forms.values())


def run(inputs: FlatnessGridInputs, worksheet: Worksheet) -> None:
    """Flatness of measured heights."""
    P, missing = read_points(inputs, worksheet, "points")
    u = uncertainty(inputs, worksheet)
    zone = zone_of(worksheet, "points", P)
    face, _ = read_face(inputs, worksheet)
    if face is not None:
        rows = [k for k, r in enumerate(inputs.points, 1) if not isinstance(r["z"], str)]
        off = [k for k, (x, y, _) in zip(rows, P, strict=True) if not face.holds(x, y)]
        for k in off[:20]:
            worksheet.refuse(f"points[{k}]", "is not on the face, by its outline and holes")
    normal = None
    if inputs.given("datum"):
        D, _ = read_points(inputs, worksheet, "datum")
        if len(D) != 3:
            worksheet.refuse("datum", f"has {len(D)} measured points; a datum plane needs three")
        else:
            normal = np.cross(D[1] - D[0], D[2] - D[0])
            if abs(normal[2]) <= 1e-6 * max(np.ptp(D[:, 0]), np.ptp(D[:, 1])) ** 2:
                worksheet.refuse("datum", "has its points on one line, seen from above")
    worksheet.raise_refusals()
    assert zone is not None
    gaps = lacking(P, face)
    if missing:
        gaps.insert(0, f"{missing} places not measured")
    show_surface(inputs, worksheet, P, zone, u, 0.0 if u is not None else 2 * coarsest(inputs, "points"), gaps)
    if normal is not None:
        worksheet.result("clean_up_cut_datum", flatness.cut_along(P, normal), mm, "Clean-up cut, parallel to the datum")
    worksheet.result("points_used", len(P), None, "Points")
    worksheet.result("not_measured", missing, None, "Places not measured")
    worksheet.plot_data.update(face=face)
    worksheet.caution("Between the points the surface was not measured; it may lie lower or higher there.")


def _points(name: str, label: str, **more: Any) -> Field:
    return table(
        name,
        (
            quantity("x", mm, "x", example='"0 mm"'),
            quantity("y", mm, "y", example='"0 mm"'),
            quantity("z", mm, "Height", states=(NOT_MEASURED, UNREADABLE, VOID), example='"12 um"'),
        ),
        label,
        csv=True,
        **more,
    )


class FlatnessGridInputs(HeightLimit, FaceInputs):
    """Inputs of ``flatness_grid``."""

    points = _points(
        "points",
        "Heights",
        help=f'rows, or the name of a CSV file; a height may be "{NOT_MEASURED}" or "{VOID}"',
        example='"heights.csv"',
        group="Readings",
    )
    limit, limit_source, u, expanded_uncertainty, coverage_factor, decision_rule, at_limit = HEIGHT_LIMIT
    datum = _points(
        "datum",
        "Datum",
        required=False,
        help="three points of the plane that the machine is set to, in the same coordinates",
        example='[{"x": "0 mm", "y": "0 mm", "z": "0 mm"}, …]',
        group="Datum",
    )
    outline = OUTLINE
    holes = HOLES


FLATNESS_GRID = Working(
    name="flatness_grid",
    title="Flatness from measured heights",
    question="how flat is this face, from heights at known places, and how much must be removed",
    phase="measure",
    calculation=2,
    inputs=FlatnessGridInputs,
    run=run,
    renamed=COMPARISON_BEFORE,
    cautions=(GOVERNS, CAM_BORE, CLEAN),
)
