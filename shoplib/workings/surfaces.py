"""Surfaces: flatness of a face from heights at known places, and from steps along lines."""

from __future__ import annotations

import math
import pickle
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from shoplib.checks import Outcome, Value
from shoplib.look import INK, PALE, PALER, SOFT, around, clear, settle
from shoplib.physics import flatness as f
from shoplib.units import mm, mm_per_m, one, show, um, unit_of
from shoplib.working import (
    GOVERNS,
    Field,
    Inputs,
    Result,
    Working,
    Worksheet,
    choice,
    limit,
    listing,
    number,
    quantity,
    table,
    words,
)
from shoplib.workings.faces import (
    CLEAN,
    COMPARISON,
    HOLES,
    NOT_BENT,
    NOT_MEASURED,
    OUTLINE,
    UNREADABLE,
    draw_face,
    read_face,
    sign_of,
)

MM, UM, ONE = unit_of(mm), unit_of(um), unit_of(one)
VOID = "void"
SHOWN = 1e-6  # a support point with a smaller share is there, but says nothing to anybody
MOST_LISTED = 40  # points; longer lists are read from the picture
HEIGHT_LIMIT = (
    *limit("limit", mm, "Flatness limit", at_least=0.0, example='"0.05 mm"', group="Limit"),
    quantity(
        "u",
        mm,
        "Standard uncertainty of the flatness",
        symbol="u",
        required=False,
        at_least=0.0,
        help="of the result, not of one reading; without it nothing can pass",
        example='"0.004 mm"',
        group="Limit",
    ),
    quantity(
        "expanded_uncertainty",
        mm,
        "Expanded uncertainty",
        symbol="U",
        required=False,
        at_least=0.0,
        help="in place of u, with its coverage factor",
        example='"0.008 mm"',
        group="Limit",
    ),
    number(
        "coverage_factor",
        "Coverage factor",
        symbol="k",
        required=False,
        above=0.0,
        at_most=10.0,
        help="as the certificate states it",
        example="2",
        group="Limit",
    ),
    replace(COMPARISON, default="<="),
)


def uncertainty(i: Inputs, w: Worksheet) -> float | None:
    """Standard uncertainty, typed or from an expanded one."""
    if i.given("u") and i.given("expanded_uncertainty"):
        w.refuse("u", "goes without expanded_uncertainty; type one or the other")
    if i.given("u"):
        return float(i.u)
    if i.given("coverage_factor") and not i.given("expanded_uncertainty"):
        w.refuse("expanded_uncertainty", "is needed with coverage_factor")
    if not i.given("expanded_uncertainty"):
        return None
    if not i.given("coverage_factor"):
        w.refuse("coverage_factor", "is needed with expanded_uncertainty; it is never guessed")
        return None
    return float(w.step("Standard uncertainty", f.standard_uncertainty, U=i.expanded_uncertainty, k=i.coverage_factor))


def judge_flatness(i: Inputs, w: Worksheet, t: float, u: float | None, missing: int) -> None:
    """Guard bands of ISO 14253-1: proved within, proved beyond, or undecided."""
    bound, source, sign = i.limit, i.limit_source, sign_of(i.comparison)
    if bound is None:
        w.check("Flatness, minimum zone", t, sign, None, mm, None)
        return
    if u is None:
        beyond = t > bound if sign == "≤" else t >= bound
        outcome = Outcome.FAIL if beyond else Outcome.UNDECIDED
        remark = "" if beyond else "u is missing, and missing is not zero: type the standard uncertainty"
    else:
        accept = float(w.step("Accepted up to", f.acceptance_limit, T=bound, u=u))
        reject = float(w.step("Rejected above", f.rejection_limit, T=bound, u=u))
        w.result("accept_up_to", accept, mm, "Accepted up to")
        w.result("reject_above", reject, mm, "Rejected above")
        if u > 0:
            share = f.probability_within(bound, t, u)
            w.result("probability_within", share, one, "Probability of lying within the limit", 3)
        tidy = [float(f"{x:.9e}") for x in (t, accept, reject)]
        inside = tidy[0] <= tidy[1] if sign == "≤" or u > 0 else tidy[0] < tidy[1]
        beyond = tidy[0] > tidy[2] if sign == "≤" or u > 0 else tidy[0] >= tidy[2]
        outcome = Outcome.PASS if inside else Outcome.FAIL if beyond else Outcome.UNDECIDED
        remark = f"accepted up to {show(accept, MM)}, rejected above {show(reject, MM)}"
        if outcome is Outcome.UNDECIDED:
            remark += "; between them neither is proved: measure with less uncertainty"
    if outcome is Outcome.PASS and missing:
        outcome, remark = Outcome.UNDECIDED, f"{missing} place(s) not measured; {remark}"
    if outcome is Outcome.PASS and not source:
        outcome, remark = Outcome.NO_LIMIT, f"{remark}; the source of the limit is missing"
    if outcome is Outcome.FAIL and not source:
        remark = f"{remark}; source missing" if remark else "source missing"
    w.judge("Flatness, minimum zone", t, sign, bound, mm, source, outcome, remark)


def show_surface(i: Inputs, w: Worksheet, P: Any, u: float | None, missing: int) -> None:
    """Zone, least squares, extremes, cuts; P in metres."""
    zone = f.minimum_zone(P)
    a, b = zone.slopes
    h = zone.width * math.sqrt(1 + a * a + b * b)
    t = float(w.step("Perpendicular width of the zone", f.perpendicular_zone, h=h, a=a, b=b))
    plane = f.least_squares_plane(P)
    peak = float(np.ptp(P[:, 2]))
    w.result("minimum_zone", zone.width, mm, "Flatness, minimum zone")
    w.result("least_squares", plane.width, mm, "Flatness about the least-squares plane")
    w.result("peak_to_valley", peak, mm, "Highest less lowest as read, tilt left in")
    w.result("tilt_x", a, mm_per_m, "Tilt taken out, along x")
    w.result("tilt_y", b, mm_per_m, "Tilt taken out, along y")
    judge_flatness(i, w, t, u, missing)
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
        if place in seen and abs(seen[place][1] - z) > 1e-12 and twice < 20:
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
            if abs(normal[2]) < 1e-6 * max(np.ptp(D[:, 0]), np.ptp(D[:, 1]), 1e-9) ** 2:
                w.refuse("datum", "lies on one line, seen from above")
    w.door()
    show_surface(i, w, P, u, missing)
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
    show_surface(i, w, found.points, u, 0)
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
    cautions=(GOVERNS, "Let bench and mirror stand until the readings settle; warm air in the beam moves them."),
    draw=draw_surface,
    alt=alt_surface,
    figure_size=(7.2, 3.4),
)

WORKINGS = [GRID, STEPS]
