"""What the two methods for a measured surface share: the limit, the verdict and the results."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from shoplib.core import rounding
from shoplib.core.checks import Origin, Uncertainty, Value
from shoplib.core.fields import quantity, sourced_limit
from shoplib.core.inputs import Inputs
from shoplib.core.units import mm, mm_per_m, one, show, um, unit_of
from shoplib.core.worksheet import Worksheet
from shoplib.physics import flatness
from shoplib.topics.flatness.face_inputs import JUDGING, USUAL

MM, UM, ONE = unit_of(mm), unit_of(um), unit_of(one)


PICOMETRE = 1e-12  # points as near as this in height are alike, and the first of them is named
SHOWN = 1e-6  # a support point with a smaller share tells the reader nothing


MOST_LISTED = 40  # points; longer lists are read from the picture


OF_THE_RESULT: dict[str, Any] = {
    "expanded_uncertainty": {
        "label": "Expanded uncertainty of the flatness",
        "symbol": "U",
        "help": "instead of the standard uncertainty u",
    },
    "coverage_factor": {"symbol": "k"},
}


HEIGHT_LIMIT = (
    *sourced_limit("limit", mm, "Flatness limit", at_least=0.0, example='"0.05 mm"', group="Limit"),
    quantity(
        "u",
        mm,
        "Standard uncertainty of the flatness",
        symbol="u",
        required=False,
        above=0.0,
        help="of the result, not of one reading; without it the result cannot be a pass",
        example='"0.004 mm"',
        excludes=("expanded_uncertainty",),
        group="Limit",
    ),
    *(replace(f, **OF_THE_RESULT.get(f.name, {})) for f in JUDGING if f.name != "resolution"),
)  # fmt: skip


class HeightLimit(Inputs):
    """The limit of a flatness that is calculated from heights, and its uncertainty."""

    limit, limit_source, u, expanded_uncertainty, coverage_factor, decision_rule, at_limit = HEIGHT_LIMIT


FEWEST = 9  # where the six usual lines meet: three rows of three; common practice, no source


BENDS = 1e-3  # of the size of the face: places closer to one curve than this do not show every bend


REACHES = 0.75  # of the face's length and width that the places must span; common practice, no source


def uncertainty(inputs: HeightLimit, worksheet: Worksheet) -> float | None:
    """Standard uncertainty, typed or from an expanded one."""
    if inputs.given("u"):
        return float(inputs.u)
    if not inputs.given("expanded_uncertainty"):
        return None
    return float(
        worksheet.step(
            "Standard uncertainty",
            flatness.standard_uncertainty,
            U=inputs.expanded_uncertainty,
            k=inputs.coverage_factor,
        )
    )


def judge_flatness(
    inputs: HeightLimit, worksheet: Worksheet, t: float, u: float | None, from_digits: float, missing: Sequence[str]
) -> None:
    """Guard bands of ISO 14253-1: proved within, proved beyond, or undecided."""
    bound, remark = inputs.limit, ""
    if bound is not None and u is not None:
        accept = float(worksheet.step("Accepted up to", flatness.acceptance_limit, T=bound, u=u))
        reject = float(worksheet.step("Rejected above", flatness.rejection_limit, T=bound, u=u))
        worksheet.result("accept_up_to", accept, mm, "Accepted up to")
        worksheet.result("reject_above", reject, mm, "Rejected above")
        worksheet.result("probability_within", flatness.probability_within(bound, t, u), one,
                         "Probability of lying within the limit", 3)  # fmt: skip
        remark = f"accepted up to {show(accept, MM)}, rejected above {show(reject, MM)}"
    spread = Uncertainty(from_digits, Origin.DIGITS)
    if u is None:
        missing = (
            *missing,
            "the standard uncertainty is missing, and missing is not zero: type the standard "
            "uncertainty of the flatness",
        )
    else:
        spread = Uncertainty(flatness.rejection_limit(0.0, u), Origin.CERTIFICATE)
    worksheet.check(
        "Flatness, minimum zone", t, "≤", bound, mm, inputs.limit_source, remark=remark, uncertainty=spread,
        missing="; ".join(missing),
    )  # fmt: skip


def lacking(P: Any, face: Any = None) -> list[str]:
    """What else must be measured before these heights can prove a face flat: number, spread and reach of the places.

    Three heights always fit a plane, four in a rectangle show only a twist.  A bend along the face, across it and a
    twist all show when no curve of second order holds all places.
    """
    found = []
    places = len(np.unique(np.round(P[:, :2], 9), axis=0))  # where lines cross, a place is measured more than once
    if places < FEWEST:
        found.append(f"heights at {places} places; at least {FEWEST} are needed, in three rows ({USUAL})")
    xy = P[:, :2] - P[:, :2].mean(axis=0)
    x, y = (xy / np.maximum(np.abs(xy).max(axis=0), np.finfo(float).tiny)).T
    shapes = np.stack([np.ones(len(P)), x, y, x * x, x * y, y * y], axis=1) / math.sqrt(len(P))
    if places < 6 or np.linalg.svd(shapes, compute_uv=False)[-1] < BENDS:
        found.append("the places do not show every bend and twist: spread them over the face, in three rows")
    if face is not None:
        part = float((np.ptp(P[:, :2], axis=0) / np.ptp(np.asarray(face.corners, float), axis=0)).min())
        if rounding.below(part, REACHES):
            shown = rounding.round_half_up(100 * part, rounding.digits_to_tell(part, REACHES, 2))
            found.append(f"the places span {shown} % of the face; at least {100 * REACHES:.0f} % are needed ({USUAL})")
    return found


def show_surface(
    inputs: HeightLimit,
    worksheet: Worksheet,
    P: Any,
    zone: flatness.Zone,
    u: float | None,
    from_digits: float,
    missing: Sequence[str],
) -> None:
    """Zone, least squares, extremes, cuts; P in metres.  ``from_digits``: the effect of the digits on the flatness."""
    peak = float(np.ptp(P[:, 2]))
    zone = replace(zone, width=rounding.without_noise(zone.width, peak))
    a, b = zone.slopes
    h = zone.width * math.sqrt(1 + a * a + b * b)
    t = float(worksheet.step("Perpendicular width of the zone", flatness.perpendicular_zone, h=h, a=a, b=b))
    plane = flatness.least_squares_plane(P)
    worksheet.result("minimum_zone", zone.width, mm, "Flatness, minimum zone")
    about = plane.width if plane.width > rounding.SAME * peak else 0.0  # of a plane, rounding is left
    worksheet.result("least_squares", about, mm, "Flatness about the least-squares plane")
    worksheet.result("peak_to_valley", peak, mm, "Highest minus lowest as read, tilt included")
    worksheet.result("tilt_x", a, mm_per_m, "Tilt removed, along x")
    worksheet.result("tilt_y", b, mm_per_m, "Tilt removed, along y")
    judge_flatness(inputs, worksheet, t, u, from_digits, missing)
    worksheet.result("clean_up_cut", zone.width, mm, "Clean-up cut, best-set plane")
    worksheet.result("clean_up_cut_as_set", peak, mm, "Clean-up cut, set up as measured")
    level = zone.heights(P)
    top, low = int(np.argmax(level >= level.max() - PICOMETRE)), int(np.argmax(level <= level.min() + PICOMETRE))

    def place(k: int) -> str:
        return f"x {show(P[k, 0], MM)}, y {show(P[k, 1], MM)}"

    worksheet.result("highest", place(top), None, "Highest point, tilt removed")
    worksheet.result("lowest", place(low), None, "Lowest point, tilt removed")
    across = (zone.weight * zone.side) @ (P[zone.support] - P[low]) - zone.width * zone.normal
    rows = [
        {
            "plane": Value("upper" if side > 0 else "lower", None, "plane"),
            "point": Value(int(k) + 1, None, "point"),
            "x": Value(float(P[k, 0]), MM, "x"),
            "y": Value(float(P[k, 1]), MM, "y"),
            "weight": Value(float(v), ONE, "weight", 3),
        }
        for k, side, v in sorted(zip(zone.support, zone.side, zone.weight, strict=True), key=lambda s: (-s[1], s[0]))
        if v > SHOWN
    ]
    worksheet.result("support", rows, None, "Support points: they prove that no zone is narrower")
    residual = rounding.without_noise(float(np.abs(across).max()), float(np.ptp(P, axis=0).max()))
    worksheet.result("closing_residual", residual, um, "Check of the support (0 is right)", 2)
    if len(P) <= MOST_LISTED:
        worksheet.result("levelled", np.round(level, 12) + 0.0, um, "Heights with the tilt removed", 3)
    worksheet.plot_data.update(P=P, level=np.round(level - zone.width / 2, 12), zone=zone, width=zone.width)


def zone_of(worksheet: Worksheet, field: str, P: Any) -> flatness.Zone | None:
    """The minimum zone of the points; None and a refusal where they span no surface."""
    try:
        return flatness.minimum_zone(P)
    except flatness.NotASurface as error:
        worksheet.refuse(field, f"{error}")
        return None
