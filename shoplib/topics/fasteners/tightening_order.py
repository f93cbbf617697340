"""The working ``tightening_order``: in which order are the bolts tightened and loosened, and is any forgotten."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from shoplib.core import rounding
from shoplib.core.errors import BadInput
from shoplib.core.fields import listing, quantity, table, words
from shoplib.core.inputs import Inputs
from shoplib.core.units import mm
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.plotting.bolt_map import MOST_BOLTS
from shoplib.topics.cautions import LOOSEN, WHOLE_PATTERN

NOT_MAKERS = "suggested, not the maker's"


def suggest_order(points: Sequence[tuple[float, float]]) -> list[int]:
    """Indices from the middle outwards, crosswise: each bolt is followed by the one opposite, far from the last.

    Common practice for clamped faces, no source.  The same pattern turned, shifted, mirrored or scaled gives the
    same order; ties go to the bolt typed first.
    """
    xy = np.asarray(points, dtype=float)
    from_middle = xy - xy.mean(axis=0)
    radius = np.hypot(*from_middle.T)
    size = radius.max() or 1.0
    from_middle, radius = from_middle / size, np.round(radius / size, 6)
    left = sorted(range(len(xy)), key=lambda k: (radius[k], k))
    order: list[int] = []
    while left:
        ring = [k for k in left if radius[k] <= radius[left[0]] + 0.08]
        done_here: list[int] = []
        while ring:
            against = done_here or order[-1:]
            bolt = max(ring, key=lambda k: (_nearest(from_middle, k, against), -k)) if against else min(ring)
            pair = [bolt]
            across = [k for k in ring if rounding.below(float(from_middle[k] @ from_middle[bolt]), 0.0, 1.0)]
            if across:
                pair.append(min(across, key=lambda k: (_distance(from_middle[k], -from_middle[bolt]), k)))
            for k in pair:
                ring.remove(k)
                left.remove(k)
            done_here += pair
            order += pair
    return order


def _distance(a: Any, b: Any) -> float:
    return round(float(np.hypot(*(a - b))), 6)


def _nearest(xy: Any, k: int, others: Sequence[int]) -> float:
    return min(_distance(xy[k], xy[o]) for o in others)


def run_order(inputs: TighteningOrderInputs, worksheet: Worksheet) -> None:
    """A crosswise order from the middle, or the maker's order checked against the map; and the loosening order."""
    names = [str(r["name"]).strip() for r in inputs.positions]
    look_at_map(inputs.positions, names, worksheet, "positions")
    maker = typed_order("order", inputs.order, names, worksheet) if inputs.given("order") else None
    loosen = typed_order("loosening", inputs.loosening, names, worksheet) if inputs.given("loosening") else None
    worksheet.raise_refusals()
    points = [(r["x"], r["y"]) for r in inputs.positions]
    suggested = [names[k] for k in suggest_order(points)]
    worksheet.result("suggested_order", suggested, None, f"Order from the middle outwards, crosswise ({NOT_MAKERS})")
    used = maker or suggested
    if maker:
        worksheet.result("order", maker, None, "Maker's order, as typed")
    else:
        worksheet.assume(f"tightening order from the middle outwards, crosswise: {NOT_MAKERS}")
    worksheet.result("order_is", "the maker's, as typed" if maker else NOT_MAKERS, None, "Order shown")
    if loosen:
        worksheet.result("loosening_order", loosen, None, "Loosening order, as typed")
    else:
        worksheet.result("loosening_order", used[::-1], None, "Loosening order: the reverse")
        worksheet.assume("loosening order: the reverse of the tightening order; an order from the maker takes priority")
    worksheet.plot_data.update(points=points, names=names, order=used, makers=maker is not None)


def look_at_map(rows: Sequence[Mapping[str, Any]], names: Sequence[str], worksheet: Worksheet, field: str) -> None:
    """Refuse two bolts of one name or at one place; a bolt without a place is skipped."""
    if len(rows) > MOST_BOLTS:
        worksheet.refuse(field, f"has {len(rows)} bolts; at most {MOST_BOLTS}")
        return
    for name, times in Counter(names).items():
        if times > 1:
            worksheet.refuse(field, f"bolt {name[:40]} is listed {times} times; give each place its own name")
    placed = [(n, r["x"], r["y"]) for n, r in zip(names, rows, strict=True) if None not in (r["x"], r["y"])]
    for a, (name, x_a, y_a) in enumerate(placed):
        for other, x_b, y_b in placed[:a]:
            if math.hypot(x_a - x_b, y_a - y_b) < 1e-4:
                worksheet.refuse(field, f"bolt {name[:40]} is at the same place as bolt {other[:40]}")


def one_by_one(typed: Sequence[str], names: Sequence[str] = ()) -> list[str]:
    """The names of an order.  "2 5 1 4", "2-5-1-4" and "2, 5, 1, 4" are taken apart, unless that is one bolt's name.

    Where the names of the bolts are not known, only numbers are taken apart.
    """
    order = [n.strip() for n in typed]
    if len(order) == 1 and order[0] not in names:
        parts = [p for p in re.split(r"[\s,–-]+", order[0]) if p]
        if any(p in names for p in parts) if names else all(p.isdecimal() for p in parts):
            return parts
    return order


def typed_order(
    field: str, typed: Sequence[str], names: Sequence[str], worksheet: Worksheet, where: str = "on the map"
) -> list[str]:
    """An order as typed; duplicate, missing and unknown bolts are named."""
    order = one_by_one(typed, names)
    times = Counter(order)
    told = [
        ("is listed more than once", [n for n, k in times.items() if k > 1]),
        (f"is not {where}", [n for n in times if n not in names]),
        ("is missing", [n for n in names if n not in times]),
    ]
    for what, found in told:
        if found:
            worksheet.refuse(
                field, f"bolt {', '.join(n[:40] for n in found[:20])} {what}", "; ".join(names[:3]) + "; …"
            )
    return order


POSITIONS = table(
    "positions",
    (
        words("name", "Bolt", example="1"),
        quantity("x", mm, "x", example='"0 mm"'),
        quantity("y", mm, "y", example='"0 mm"'),
    ),
    "Places of the bolts",
    help="seen from above, measured from any corner",
    example='[{"name": "1", "x": "0 mm", "y": "0 mm"}]',
    csv=True,
    group="Map",
)


class TighteningOrderInputs(Inputs):
    """Inputs of ``tightening_order``."""

    positions = POSITIONS
    order = listing(
        "order",
        words("order", "Bolt"),
        "Maker's tightening order",
        required=False,
        example='"3; 4; 2; 5; 1; 6"',
        help="names of the bolts, such as 3 4 2 5 1 6; if left empty, an order is suggested",
        group="Maker's order",
    )
    order_source = words(
        "order_source",
        "Source of the maker's tightening order",
        required=False,
        needs=("order",),
        help="document, edition, page",
        group="Maker's order",
    )
    loosening = listing(
        "loosening",
        words("loosening", "Bolt"),
        "Maker's loosening order",
        required=False,
        example='"6; 1; 5; 2; 4; 3"',
        help="if left empty: the reverse of the tightening order",
        group="Maker's order",
    )


TIGHTENING_ORDER = Working(
    name="tightening_order",
    title="Order of tightening and loosening",
    question="in which order are these bolts tightened and loosened, and is any bolt forgotten",
    phase="tighten",
    inputs=TighteningOrderInputs,
    run=run_order,
    cautions=(
        GOVERNS,
        "Use a suggested order only if the maker's order cannot be found.",
        WHOLE_PATTERN,
        LOOSEN,
    ),
)


def order_within(inputs: TighteningOrderInputs, worksheet: Worksheet) -> Worksheet | None:
    """The orders as this working gives them, for another one with the same fields; None where it refuses them.

    What is refused and what is assumed goes to the other's worksheet.
    """
    inner = Worksheet(TIGHTENING_ORDER, inputs)
    try:
        run_order(inputs, inner)
    except BadInput as error:
        for problem in error.problems:
            worksheet.refuse(problem.field, problem.why, problem.example)
        return None
    worksheet.assumptions += inner.assumptions
    return inner
