"""Surfaces: flatness of a face from heights at known places, and from steps along lines."""

from __future__ import annotations

import math
import pickle
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from shoplib.checks import Origin, Uncertainty, Value
from shoplib.core import rounding
from shoplib.look import INK, PALE, PALER, SOFT, around, clear, settle
from shoplib.physics import flatness as f
from shoplib.units import mm, mm_per_m, one, show, um, unit_of
from shoplib.working import (
    COMPARISON_BEFORE,
    GOVERNS,
    Field,
    Inputs,
    Result,
    Working,
    Worksheet,
    choice,
    half_digit_in_si,
    limit,
    listing,
    number,
    quantity,
    table,
    words,
)
from shoplib.workings.faces import (
    CLEAN,
    HOLES,
    JUDGING,
    NOT_BENT,
    NOT_MEASURED,
    OUTLINE,
    UNREADABLE,
    USUAL,
    draw_face,
    read_face,
)

MM, UM, ONE = unit_of(mm), unit_of(um), unit_of(one)
VOID = "void"
SHOWN = 1e-6  # a support point with a smaller share is there, but says nothing to anybody
MOST_LISTED = 40  # points; longer lists are read from the picture
OF_THE_RESULT: dict[str, Any] = {
    "expanded_uncertainty": {"label": "Expanded uncertainty of the flatness", "symbol": "U", "help": "in place of u"},
    "coverage_factor": {"symbol": "k"},
}
HEIGHT_LIMIT = (
    *limit("limit", mm, "Flatness limit", at_least=0.0, example='"0.05 mm"', group="Limit"),
    quantity(
        "u",
        mm,
        "Standard uncertainty of the flatness",
        symbol="u",
        required=False,
        above=0.0,
        help="of the result, not of one reading; without it nothing can pass",
        example='"0.004 mm"',
        excludes=("expanded_uncertainty",),
        group="Limit",
    ),
    *(replace(f, **OF_THE_RESULT.get(f.name, {})) for f in JUDGING if f.name != "resolution"),
)  # fmt: skip
FEWEST = 9  # where the six usual lines meet: three rows of three; common practice, no source
BENDS = 1e-3  # of the size of the face: places that are nearer to one curve than this do not show every bend
REACHES = 0.75  # of the face's length and width that the places must span; common practice, no source


def uncertainty(i: Inputs, w: Worksheet) -> float | None:
    """Standard uncertainty, typed or from an expanded one."""
    if i.given("u"):
        return float(i.u)
    if not i.given("expanded_uncertainty"):
        return None
    return float(w.step("Standard uncertainty", f.standard_uncertainty, U=i.expanded_uncertainty, k=i.coverage_factor))


def judge_flatness(
    i: Inputs, w: Worksheet, t: float, u: float | None, from_digits: float, missing: Sequence[str]
) -> None:
    """Guard bands of ISO 14253-1: proved within, proved beyond, or undecided."""
    bound, remark = i.limit, ""
    if bound is not None and u is not None:
        accept = float(w.step("Accepted up to", f.acceptance_limit, T=bound, u=u))
        reject = float(w.step("Rejected above", f.rejection_limit, T=bound, u=u))
        w.result("accept_up_to", accept, mm, "Accepted up to")
        w.result("reject_above", reject, mm, "Rejected above")
        w.result("probability_within", f.probability_within(bound, t, u), one,
                 "Probability of lying within the limit", 3)  # fmt: skip
        remark = f"accepted up to {show(accept, MM)}, rejected above {show(reject, MM)}"
    spread = Uncertainty(from_digits, Origin.DIGITS)
    if u is None:
        missing = (*missing, "u is missing, and missing is not zero: type the standard uncertainty of the flatness")
    else:
        spread = Uncertainty(f.rejection_limit(0.0, u), Origin.CERTIFICATE)
    w.check(
        "Flatness, minimum zone", t, "≤", bound, mm, i.limit_source, remark=remark, uncertainty=spread,
        missing="; ".join(missing),
    )  # fmt: skip


def lacking(P: Any, face: Any = None) -> list[str]:
    """What else must be measured before these heights can prove a face flat: number, spread and reach of the places.

    Three heights always fit a plane, four in a rectangle show only a twist.  A bend along the face, across it and a
    twist all show when no curve of second order holds all places.
    """
    found = []
    if len(P) < FEWEST:
        found.append(f"{len(P)} heights; {FEWEST} at least, in three rows ({USUAL})")
    xy = P[:, :2] - P[:, :2].mean(axis=0)
    x, y = (xy / np.maximum(np.abs(xy).max(axis=0), np.finfo(float).tiny)).T
    shapes = np.stack([np.ones(len(P)), x, y, x * x, x * y, y * y], axis=1) / math.sqrt(len(P))
    if len(P) < 6 or np.linalg.svd(shapes, compute_uv=False)[-1] < BENDS:
        found.append("the places do not show every bend and twist: spread them over the face, in three rows")
    if face is not None:
        part = np.ptp(P[:, :2], axis=0) / np.ptp(np.asarray(face.corners, float), axis=0)
        if rounding.below(float(part.min()), REACHES):
            found.append(
                f"the places span {100 * part.min():.0f} % of the face; {100 * REACHES:.0f} % at least ({USUAL})"
            )
    return found


def show_surface(i: Inputs, w: Worksheet, P: Any, u: float | None, from_digits: float, missing: Sequence[str]) -> None:
    """Zone, least squares, extremes, cuts; P in metres.  ``from_digits``: what the digits may do to the flatness."""
    zone = f.minimum_zone(P)
    peak = float(np.ptp(P[:, 2]))
    zone = replace(zone, width=rounding.without_noise(zone.width, peak))
    a, b = zone.slopes
    h = zone.width * math.sqrt(1 + a * a + b * b)
    t = float(w.step("Perpendicular width of the zone", f.perpendicular_zone, h=h, a=a, b=b))
    plane = f.least_squares_plane(P)
    w.result("minimum_zone", zone.width, mm, "Flatness, minimum zone")
    w.result("least_squares", rounding.without_noise(plane.width, peak), mm, "Flatness about the least-squares plane")
    w.result("peak_to_valley", peak, mm, "Highest less lowest as read, tilt left in")
    w.result("tilt_x", a, mm_per_m, "Tilt taken out, along x")
    w.result("tilt_y", b, mm_per_m, "Tilt taken out, along y")
    judge_flatness(i, w, t, u, from_digits, missing)
    w.result("clean_up_cut", zone.width, mm, "Clean-up cut, best-set plane")
    w.result("clean_up_cut_as_set", peak, mm, "Clean-up cut, set up as measured")
    level = zone.heights(P)
    top, low = int(level.argmax()), int(level.argmin())

    def place(k: int) -> str:
        return f"x {show(P[k, 0], MM)}, y {show(P[k, 1], MM)}"

    w.result("highest", place(top), None, "Highest point, tilt taken out")
    w.result("lowest", place(low), None, "Lowest point, tilt taken out")
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
    w.result("support", rows, None, "Support points: they prove that no zone is narrower")
    w.result("closing_residual", float(np.abs(across).max()), um, "Closing residual of the support", 2)
    if len(P) <= MOST_LISTED:
        w.result("levelled", np.round(level, 12), um, "Heights with the tilt taken out", 3)
    w.curve.update(P=P, level=level - zone.width / 2, zone=zone, width=zone.width)


def read_points(i: Inputs, w: Worksheet, field: str) -> tuple[Any, int]:
    """Points of a table in metres, and how many places were not measured.  Refuses two heights at one place."""
    rows = getattr(i, field)
    measured = [(k, r["x"], r["y"], r["z"]) for k, r in enumerate(rows, 1) if not isinstance(r["z"], str)]
    missing = sum(1 for r in rows if isinstance(r["z"], str) and r["z"] != VOID)
    seen: dict[tuple[float, float], tuple[int, float]] = {}
    twice = 0
    for k, x, y, z in measured:
        place = (round(x, 9), round(y, 9))  # a nanometre: nobody measures two places that near
        if place in seen and not rounding.same(seen[place][1], z) and twice < 20:
            w.refuse(
                f"{field}[{k}]",
                f"has another height than {field}[{seen[place][0]}] at the same place: {show(z, MM)} and "
                f"{show(seen[place][1], MM)}",
                "one height a place",
            )
            twice += 1
        seen.setdefault(place, (k, z))
    P = np.array([m[1:] for m in measured], float).reshape(-1, 3)
    return P, missing


def coarsest(i: Inputs, field: str) -> float:
    """The most by which one height may be out through the digits in which it was typed."""
    typed = {str(row["z"]) for row in i.typed_rows(field) if re.search(r"\d", str(row.get("z", "")))}
    forms = {re.sub(r"\d", "0", z): z for z in typed}  # heights of one form are rounded alike
    return max((half_digit_in_si(z, MM) for z in forms.values()), default=0.0)


def refuse_no_surface(w: Worksheet, field: str, P: Any) -> None:
    """Name what is wrong with points that span nothing."""
    try:
        f.minimum_zone(P)
    except f.NotASurface as error:
        w.refuse(field, f"{error}")


def run_grid(i: Inputs, w: Worksheet) -> None:
    """Flatness of measured heights."""
    P, missing = read_points(i, w, "points")
    u = uncertainty(i, w)
    refuse_no_surface(w, "points", P)
    face, _ = read_face(i, w)
    if face is not None:
        rows = [k for k, r in enumerate(i.points, 1) if not isinstance(r["z"], str)]
        off = [k for k, (x, y, _) in zip(rows, P, strict=True) if not face.holds(x, y)]
        for k in off[:20]:
            w.refuse(f"points[{k}]", "does not lie on the face, by its outline and holes")
    normal = None
    if i.given("datum"):
        D, _ = read_points(i, w, "datum")
        if len(D) != 3:
            w.refuse("datum", f"has {len(D)} measured point(s); a datum plane is set by three")
        else:
            normal = np.cross(D[1] - D[0], D[2] - D[0])
            if abs(normal[2]) <= 1e-6 * max(np.ptp(D[:, 0]), np.ptp(D[:, 1])) ** 2:
                w.refuse("datum", "lies on one line, seen from above")
    w.door()
    gaps = lacking(P, face)
    if missing:
        gaps.insert(0, f"{missing} place(s) not measured")
    show_surface(i, w, P, u, 0.0 if u is not None else 2 * coarsest(i, "points"), gaps)
    if normal is not None:
        w.result("clean_up_cut_datum", f.cut_along(P, normal), mm, "Clean-up cut, parallel to the datum")
    w.result("points_used", len(P), None, "Points")
    w.result("not_measured", missing, None, "Places not measured")
    w.curve.update(face=face)
    w.caution("Between the points the surface was not measured; it may lie lower or higher there.")


# ------------------------------------------------------------------------------ the picture of a surface
MOST_DRAWN = 2500


def draw_surface(figure: Any) -> Callable[[Result], None]:
    """Contours of the levelled heights, the support points, the highest and the lowest."""
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import BoundaryNorm, LinearSegmentedColormap
    from matplotlib.ticker import MaxNLocator
    from matplotlib.tri import Triangulation

    from shoplib.contours import Contours  # only where a picture is drawn: it brings matplotlib

    ax, key = figure.subplots(1, 2, width_ratios=(36, 1))
    colours = LinearSegmentedColormap.from_list("height", ["#f3e3d2", "#ffffff", PALER, PALE])

    letters: Any = {"fontsize": 7.5, "color": INK, "zorder": 4, "in_layout": False}
    made: dict[str, Any] = {"of": None, "over": None}

    def net(x: Any, y: Any) -> Any:
        """The triangles between the places: the same while only heights move."""
        over = x.tobytes(), y.tobytes()
        if made["over"] != over:
            made.update(over=over, net=Triangulation(x, y))
        return made["net"]

    def build(x: Any, y: Any, z: Any, bounds: Any, face: Any) -> None:
        """All that stands while only heights and places move."""
        clear(ax)
        key.clear()
        over, inner = net(x, y), bounds[1:-1]
        made["areas"] = Contours(ax, over, z, levels=bounds, filled=True, cmap=colours, gid="areas")
        made["lines"] = Contours(ax, over, z, levels=inner, colors=SOFT, linewidths=0.7, linestyles="-", gid="lines")
        made["numbered"] = [v for v in inner if round(v / (bounds[1] - bounds[0])) % 2 == 0]  # zero among them
        if made["dots"]:
            (made["places"],) = ax.plot([], [], ".", ms=2.2, color=SOFT, gid="places")
        style: Any = {"ms": 9, "mfc": "white", "mec": INK, "mew": 1.5, "ls": "none", "clip_on": False}
        made["marks"] = [
            ax.plot([], [], mark, label=word, gid=word, **style)[0]
            for mark, word in (("^", "upper plane"), ("v", "lower plane"))
        ]
        if face is not None:
            draw_face(ax, face, over=True)
        ax.set_aspect("equal")
        ax.set(xlabel="x, mm", ylabel="y, mm")
        ax.spines[["top", "right"]].set_visible(False)
        ax.legend(loc="lower left", bbox_to_anchor=(0, 1), ncols=2, frameon=False, fontsize=8)
        scale = ScalarMappable(BoundaryNorm(bounds, colours.N), colours)
        bar = ax.figure.colorbar(scale, cax=key)
        bar.set_label("height, µm", fontsize=8)
        bar.ax.tick_params(labelsize=7.5)
        ax.tick_params(labelsize=8)
        ax.set_autoscale_on(False)

    def move(result: Result) -> None:
        P, level, zone = (result.curve[n] for n in ("P", "level", "zone"))
        shown = np.arange(len(P))
        if len(P) > MOST_DRAWN:  # a picture needs no more; the ends and the support are kept
            thin = np.random.default_rng(1).choice(len(P), MOST_DRAWN, replace=False)
            shown = np.unique(np.concatenate([thin, zone.support, [level.argmax(), level.argmin()]]))
        x, y, z = P[shown, 0] * 1e3, P[shown, 1] * 1e3, level[shown] * 1e6
        half = max(zone.width * 5e5, 1e-6)
        bounds = MaxNLocator(9).tick_values(-half, half)
        face = result.curve.get("face")
        dots = len(P) <= 400
        of = pickle.dumps((bounds, dots, face))  # arrays within, so compared as bytes
        if made["of"] != of:
            made.update(of=of, dots=dots)
            build(x, y, z, bounds, face)
        else:
            made["areas"].rise(net(x, y), z)
            made["lines"].rise(net(x, y), z)
        rim = np.empty((0, 2)) if face is None else np.asarray(face.corners) * 1e3
        wide, high = np.append(x, rim[:, 0]), np.append(y, rim[:, 1])
        settle(ax, xlim=around(wide.min(), wide.max(), 25), ylim=around(high.min(), high.max(), 25))
        if dots:
            made["places"].set_data(x, y)
        made["lines"].number(made["numbered"], lambda v: f"{v:+.3g}".replace("-", "−") if v else "0", **letters)
        for side, mark in zip((1, -1), made["marks"], strict=True):
            at = zone.support[(zone.side == side) & (zone.weight > SHOWN)]
            mark.set_data(P[at, 0] * 1e3, P[at, 1] * 1e3)

    return move


def alt_surface(result: Result) -> str:
    """The contours in words."""
    zone = result.curve["zone"]
    up, down = int((zone.side > 0).sum()), int((zone.side < 0).sum())
    return (
        f"Contours of the face, its tilt taken out: {show(result.curve['width'], MM)} between two planes, resting on "
        f"{up} point(s) above and {down} below. Highest at {result['highest']}; lowest at {result['lowest']}."
    )


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


GRID = Working(
    name="flatness_grid",
    title="Flatness from measured heights",
    question="how flat is this face, from heights at known places, and how much must come off",
    phase="measure",
    fields=(
        _points(
            "points",
            "Heights",
            help=f'a CSV file headed x_mm,y_mm,z_um, or rows; a height may be "{NOT_MEASURED}" or "{VOID}"',
            example='"heights.csv"',
            group="Readings",
        ),
        *HEIGHT_LIMIT,
        _points(
            "datum",
            "Datum",
            required=False,
            help="three points of the plane that the machine will hold, in the same coordinates",
            example='[{"x": "0 mm", "y": "0 mm", "z": "0 mm"}, …]',
            group="Datum",
        ),
        OUTLINE,
        HOLES,
    ),
    run=run_grid,
    renamed=COMPARISON_BEFORE,
    cautions=(GOVERNS, NOT_BENT, CLEAN),
    draw=draw_surface,
    alt=alt_surface,
    figure_size=(7.2, 3.4),
)


# ------------------------------------------------------------------------------ heights from steps along lines
READING_UNITS = {"arcsec": math.pi / 648000, "mm/m": 1e-3, "um/m": 1e-6, "mrad": 1e-3}


def run_steps(i: Inputs, w: Worksheet) -> None:
    """Step readings along lines that meet, to heights, with the errors by which they do not close."""
    places = {}
    for k, row in enumerate(i.places, 1):
        if row["name"].strip() in places:
            w.refuse(f"places[{k}].name", f'"{row["name"][:40]}" is there twice', "NW")
        places[row["name"].strip()] = (row["x"], row["y"])
    per = READING_UNITS[i.reading_unit]
    lines = []
    for k, row in enumerate(i.lines, 1):
        ends = [row["from"].strip(), row["to"].strip()]
        for column, name in zip(("from", "to"), ends, strict=True):
            if name not in places:
                w.refuse(f"lines[{k}].{column}", f'"{name[:40]}" is not among the places', "NW")
        if ends[0] == ends[1]:
            w.refuse(f"lines[{k}].to", "is where the line starts", "SE")
        slopes = [x * per for x in row["readings"]]
        angles = slopes if i.reading_unit in ("arcsec", "mrad") else [math.atan(x) for x in slopes]
        lines.append(f.SteppedLine(row["name"], ends[0], ends[1], tuple(angles)))
    u = uncertainty(i, w)
    w.door()
    try:
        found = f.survey(lines, places, i.foot)
    except f.NoNet as error:
        w.refuse("lines", str(error))
        w.door()
        raise AssertionError from error
    refuse_no_surface(w, "lines", found.points)
    w.door()
    steepest = max((a for line in lines for a in line.angles), key=abs)
    w.step("Climb of the steepest step", f.step_height, s=i.foot, alpha=steepest)
    gaps = lacking(found.points)
    show_surface(i, w, found.points, u, 2 * found.gain * step_rounding(i), gaps)
    heights = [{"place": Value(p, None, "place"), "height": Value(z, UM, "height")} for p, z in found.places.items()]
    w.result("heights", heights, None, "Heights of the places, from the lowest station")
    closures = [
        {
            "line": Value(c.line, None, "line"),
            "place": Value(c.place, None, "at"),
            "error": Value(c.error, UM, "closes by", 3),
        }
        for c in found.closures
    ]
    w.result("closures", closures or "no line meets a place that was known already", None, "Closure errors")
    largest = max((abs(c.error) for c in found.closures), default=None)
    w.result("largest_closure", largest, um, "Largest closure error", 3)
    if largest is None:
        w.caution("Nothing closes: no line checks another, so a slip in the readings stays unseen.")
    w.caution("A closure error larger than the readings repeat means a slip: measure those lines again.")


def step_rounding(i: Inputs) -> float:
    """The most by which the climb of one step may be out through the digits of its reading."""
    halves = [rounding.half_digit(str(x)) for row in i.typed_rows("lines") for x in _single_readings(row["readings"])]
    return max(halves, default=0.0) * READING_UNITS[i.reading_unit] * float(i.foot)


def _single_readings(typed: Any) -> list[Any]:
    return typed.split(";") if isinstance(typed, str) else list(typed)


STEPS = Working(
    name="flatness_steps",
    title="Flatness from steps along lines",
    question="what heights follow from angles read step by step, and do the lines close",
    phase="measure",
    fields=(
        table(
            "lines",
            (
                words("name", "Line", example='"NW to SE"'),
                words("from", "From", example="NW"),
                words("to", "To", example="SE"),
                listing(
                    "readings",
                    number("reading", "Reading", example="6.5"),
                    "Readings, one a step",
                    example='"6.5; 6.0; 5.0"',
                ),
            ),
            "Lines",
            csv=True,
            help="first the two diagonals, then the rim, then the middle lines; numbers in the unit below",
            example='[{"name": "NW to SE", "from": "NW", "to": "SE", "readings": "6.5; 6.0; 5.0"}]',
            group="Readings",
        ),
        choice("reading_unit", "Unit of the readings", tuple(READING_UNITS), example="arcsec", group="Readings"),
        quantity(
            "foot",
            mm,
            "Length of a step",
            symbol="s",
            above=0.0,
            help="between the feet of the mirror or level",
            example='"4 in"',
            group="Readings",
        ),
        table(
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
        ),
        *HEIGHT_LIMIT,
    ),
    run=run_steps,
    renamed=COMPARISON_BEFORE,
    cautions=(GOVERNS, "Let bench and mirror stand until the readings settle; warm air in the beam moves them."),
    draw=draw_surface,
    alt=alt_surface,
    figure_size=(7.2, 3.4),
)

WORKINGS = [GRID, STEPS]
