"""The inputs of ``flatness_lines``: straightedge lines, each with the leaves that fit and do not fit."""

from __future__ import annotations

from shoplib.core.fields import (
    Field,
    choice,
    listing,
    quantity,
    sourced_limit,
    table,
    words,
)
from shoplib.core.units import mm
from shoplib.physics import flatness
from shoplib.topics.flatness.face_inputs import HOLES, OUTLINE, RULE_AND_LIMIT, FaceInputs

ALONG, ACROSS, DIAGONAL = "along", "across", "diagonal"

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
    help="plus or minus, from the standard or certificate of the set; if left empty, half a unit in the last digit "
    "of each leaf",
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
    words("from", "From", required=False, example='"0; 0 mm"', help="a corner's name, or x; y in mm"),
    words("to", "To", required=False, example='"400; 150 mm"', help="a corner's name, or x; y in mm"),
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
        "Length to which the limit applies",
        required=False,
        needs=("span_limit",),
        above=0.0,
        example='"100 mm"',
    ),
)


class FlatnessLinesInputs(FaceInputs):
    """Inputs of ``flatness_lines``."""

    lines = table(
        "lines",
        LINE_COLUMNS,
        "Lines",
        csv=True,
        help="one row for each line of the straightedge. From and To: where the line starts and ends. Type the name of "
        "a corner (A) or x; y in mm (0; 12), or, without an outline, leave both empty and choose the Direction. An "
        "empty cell counts as not measured, not as zero",
        example='[{"name": "left, along", "goes": "0.05 mm", "no_go": "0.06 mm"}]',
        group="Readings",
    )
    expected_lines = listing(
        "expected_lines",
        words("line", "Line"),
        "Lines that your source requires",
        required=False,
        help="their names, separated by semicolons; the check cannot pass while one is missing",
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
        help="with them, the form names the stack to try next",
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
        tuple(flatness.STRAIGHTEDGE_GRADES),
        required=False,
        needs=("edge_length",),
        help="instead of the certificate; the form then uses a value for DIN 874-1 that was not compared with the "
        "standard: check it",
        example="1",
        group="Tools",
    )
    edge_length = quantity(
        "edge_length", mm, "Straightedge length", required=False, above=0.0, example='"500 mm"', group="Tools"
    )
    outline = OUTLINE
    holes = HOLES
