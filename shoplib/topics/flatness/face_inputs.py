"""The face that is measured: its outline, its holes, and the limit it is judged by."""

from __future__ import annotations

from typing import Any

import numpy as np

from shoplib.core.fields import (
    judging,
    quantity,
    table,
    words,
)
from shoplib.core.inputs import Inputs
from shoplib.core.units import Unreadable, mm, read, unit_of
from shoplib.core.worksheet import Worksheet
from shoplib.physics import feeler

MM = unit_of(mm)

CLEAN = (
    "Before you measure, let the part cool, then clean the face: no carbon, burrs or gasket left. "
    "Use no power abrasives."
)

UNSEEN = (
    "Lines show only what is under them. A dip between the lines stays hidden; a twist shows on the diagonals only."
)

USUAL = "common practice, no source"

JUDGING = judging(mm, group="Limit")

RULE_AND_LIMIT = tuple(f for f in JUDGING if f.name in ("decision_rule", "at_limit"))

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


# -- the map
class FaceInputs(Inputs):
    """The face from above."""

    outline = OUTLINE
    holes = HOLES


def read_face(inputs: FaceInputs, worksheet: Worksheet) -> tuple[feeler.Face | None, dict[str, tuple[float, float]]]:
    """The face from above, and its named corners.  Refuses an outline that crosses itself."""
    named: dict[str, tuple[float, float]] = {}
    if not inputs.given("outline"):
        return None, named
    corners = np.array([(r["x"], r["y"]) for r in inputs.outline])
    for k, row in enumerate(inputs.outline, 1):
        if row["name"] is not None:
            if row["name"].strip() in named:
                worksheet.refuse(f"outline[{k}].name", f'"{row["name"][:40]}" is the name of two corners', "A")
            named[row["name"].strip()] = (row["x"], row["y"])
    sound = check_polygon(worksheet, "outline", corners)
    rounds, polygons = [], dict[str, list[tuple[float, float]]]()
    for row in inputs.holes or ():
        if row["diameter"] is not None:
            rounds.append(feeler.Round(row["x"], row["y"], row["diameter"]))
        else:
            polygons.setdefault(row["name"], []).append((row["x"], row["y"]))
    for name, places in polygons.items():
        sound = check_polygon(worksheet, "holes", np.array(places), f'hole "{name[:40]}" ') and sound
    if not sound:
        return None, named
    return feeler.Face(corners, tuple(rounds), tuple(np.array(p) for p in polygons.values())), named


def check_polygon(worksheet: Worksheet, field: str, corners: Any, what: str = "") -> bool:
    """Three corners or more, and no side across another."""
    if len(corners) < 3:
        worksheet.refuse(field, f"{what}has {len(corners)} corners; it needs at least three")
        return False
    crossing = feeler.self_crossing(corners)
    if crossing is not None:
        i, j = (f"{k + 1} to {(k + 1) % len(corners) + 1}" for k in crossing)
        why = f"side {i} has no length" if i == j else f"crosses itself: side {i} meets side {j}"
        worksheet.refuse(field, f"{what}{why}; give the corners in order around it")
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
