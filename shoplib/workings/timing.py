"""Timing: gap under a locking bar, marks and teeth, dead centre by a positive stop, the piston's position, re-check."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.checks import Origin, Outcome, Rule, Uncertainty, Value
from shoplib.core import rounding
from shoplib.look import ACCENT, INK, PALE, PALER, SOFT, WARM, settle
from shoplib.physics import timing as x
from shoplib.physics.feeler import Bracket
from shoplib.stages import Stage, read_stages
from shoplib.units import deg, mm, unit_of
from shoplib.working import (
    GOVERNS,
    NOT_ALLOWED,
    Field,
    Inputs,
    Result,
    Working,
    Worksheet,
    choice,
    integer,
    limit,
    listing,
    number,
    quantity,
    words,
    yes_no,
)
from shoplib.workings.faces import LEAF_TOLERANCE, RULE_AND_LIMIT, bracket_outcome

RESISTANCE = "Turn by hand only. Resistance means stop: a valve may be touching a piston."
LOCKED = "Never turn crankshaft or camshafts apart from each other unless the engine's lock rule is met."
RUNNING = "Turn in the running direction only; turning back lets the drive go slack and the marks lie."
CAUTIONS = (GOVERNS, RESISTANCE, LOCKED, RUNNING)
DEG = unit_of(deg)


def _degrees(value: float) -> float:
    return float(DEG.from_si(value))


def _both_shafts(w: Worksheet, shaft: str, angle: float) -> tuple[float, float]:
    """(cam, crank) angle of an angle on one of the shafts; the step is shown."""
    if shaft == "cam":
        return angle, float(w.step("Angle of the crankshaft", x.crank_from_cam, phi=angle))
    return float(w.step("Angle of the camshaft", x.cam_from_crank, theta=angle)), angle


SHAFT = choice(
    "shaft",
    "Which shaft",
    ("cam", "crank"),
    default="cam",
    help="the crankshaft turns twice as far as the camshaft (four-stroke engine)",
)


# ------------------------------------------------------------------------------ gap under a locking bar
def run_gap(i: Inputs, w: Worksheet) -> None:
    """Tilt of the bar, and what it is at the crankshaft."""
    if i.gap >= i.lever_length:
        w.refuse("gap", "is not smaller than lever_length")
    if i.given("no_go") and i.no_go <= i.gap:
        w.refuse("no_go", "is not thicker than the leaf that goes", '"0.55 mm"')
    w.door()
    tilt = w.step("Tilt of the bar", x.bar_tilt, s=i.gap, L_b=i.lever_length)
    cam, crank = _both_shafts(w, i.shaft, tilt)
    w.result("cam_angle", cam, deg, "Camshaft off by at least")
    w.result("crank_angle", crank, deg, "Crankshaft off by at least")
    if i.given("limit"):
        judge_gap(i, w)


def judge_gap(i: Inputs, w: Worksheet) -> None:
    """The leaf that goes can prove a fail; only the leaf that does not go can prove a pass."""

    def out_by(name: str) -> Uncertainty:
        if i.given("leaf_tolerance"):
            return Uncertainty(i.leaf_tolerance, Origin.LEAVES)
        return Uncertainty(i.half_digit(name) if getattr(i, name) else 0.0, Origin.DIGITS)

    lower, upper = out_by("gap"), out_by("no_go")
    simple = i.decision_rule == Rule.SIMPLE
    bracket = Bracket(
        max(i.gap - (0.0 if simple else lower.half_width), 0.0),
        i.no_go + (0.0 if simple else upper.half_width) if i.given("no_go") else math.inf,
    )
    outcome, remark = bracket_outcome(bracket, i.limit, i.at_limit), ""
    passed = outcome is Outcome.PASS
    if outcome is Outcome.UNDECIDED:
        remark = "the leaves do not decide it: try one nearer the limit" if i.given("no_go") else (
            "the leaf that goes says how wide the gap is at least: type the thinnest leaf that does not go"
        )  # fmt: skip
    elif not i.limit_source:
        outcome = Outcome.NO_LIMIT if passed else outcome
        remark = "within the limit, but its source is missing" if passed else "source missing"
    w.judge(
        "Gap under the bar, below" if passed else "Gap under the bar, at least",
        i.no_go if passed else i.gap, "<" if i.at_limit == NOT_ALLOWED and not passed else "≤", i.limit, mm,
        i.limit_source, outcome, remark, uncertainty=upper if passed else lower,
        rule=Rule.SIMPLE if simple else Rule.GUARD_BANDS,
    )  # fmt: skip


def draw_gap(figure: Any) -> Callable[[Result], None]:
    """The bar in the slot of the shaft, touching the head on one side; its tilt is drawn larger than it is."""
    ax = figure.subplots()
    ax.set_aspect("equal")
    ax.axis("off")
    ax.set(xlim=(-118, 130), ylim=(-42, 66))
    ax.add_patch(_patch("Rectangle", (-106, -38), 212, 32, facecolor=PALER, edgecolor=SOFT, hatch="////", lw=0.8))
    boxed: Any = {"bbox": {"fc": "white", "ec": "none", "pad": 2}}
    ax.text(0, -29, "machined face of the head", ha="center", va="center", fontsize=8.5, color=INK, **boxed)
    (shaft,) = ax.plot([], [], "o", ms=44, mfc="white", mec=INK, mew=1.6, gid="shaft")
    bar = _patch("Polygon", [(0, 0), (1, 0), (1, 1)], closed=True, facecolor=ACCENT, edgecolor=ACCENT, gid="bar")
    ax.add_patch(bar)
    (leaf,) = ax.plot([], [], color=WARM, lw=3, solid_capstyle="butt", gid="leaf")
    gap = ax.text(0, 0, "", ha="left", va="center", fontsize=9.5, color=WARM, gid="gap")
    (arrow,) = ax.plot([], [], color=INK, lw=0.9, marker="|", ms=7, gid="arrow")
    lever = ax.text(0, -13, "", ha="center", va="center", fontsize=8.5, color=INK, gid="lever", **boxed)
    says = ax.text(6, 58, "", ha="center", va="center", fontsize=11, color=INK, gid="says")
    note = ax.text(-106, 42, "", ha="left", va="center", fontsize=8, color=SOFT, gid="note")

    def move(result: Result) -> None:
        i = result.inputs
        true = float(np.arcsin(i.gap / i.lever_length))
        times = max((k for k in (1, 2, 5, 10, 20, 50, 100, 200) if true * k <= np.radians(9)), default=1)
        shown = min(true * times, np.radians(10))
        along, across = np.array([np.cos(shown), np.sin(shown)]), np.array([-np.sin(shown), np.cos(shown)])
        foot, thick = np.array([-100.0, -6.0]), 9.0
        end = foot + 200 * along
        bar.set_xy([foot, end, end + thick * across, foot + thick * across])
        middle = foot + 100 * along + thick / 2 * across
        shaft.set_data([middle[0]], [middle[1]])
        leaf.set_data([end[0] - 1.5] * 2, [-6, end[1]])
        gap.set_position((end[0] + 4, (end[1] - 6) / 2))
        gap.set_text(f"{i.gap * 1e3:.3g} mm")
        arrow.set_data([-100, end[0] - 1.5], [-13, -13])
        lever.set_text(f"{i.lever_length * 1e3:.4g} mm")
        cam, crank = _degrees(result["cam_angle"]), _degrees(result["crank_angle"])
        says.set_text(f"{i.gap * 1e3:.3g} mm under the bar: camshaft {cam:.3g}°, crankshaft {crank:.3g}°")
        note.set_text(f"tilt drawn {times} times as large" if times > 1 else "")

    return move


def _patch(kind: str, *args: Any, **more: Any) -> Any:
    """A matplotlib patch; matplotlib is loaded only when a picture is drawn."""
    from matplotlib import patches

    return getattr(patches, kind)(*args, **more)


def alt_gap(result: Result) -> str:
    """The picture in words."""
    return (
        f"A locking bar across the end of the shaft touches the head on one side and stands off by "
        f"{result.inputs.gap * 1e3:.3g} mm at {result.inputs.lever_length * 1e3:.4g} mm from there: the camshaft is "
        f"off by {_degrees(result['cam_angle']):.3g}°, the crankshaft by {_degrees(result['crank_angle']):.3g}°."
    )


GAP = Working(
    name="timing_gap",
    title="Gap under a locking bar",
    question="the bar does not lie flat; how many degrees is that",
    phase="re-time",
    fields=(
        quantity(
            "gap",
            mm,
            "Gap under the bar",
            symbol="s",
            at_least=0.0,
            example='"0.50 mm"',
            help="the thickest leaf that goes; 0 mm if none does",
            group="Bar",
        ),
        quantity(
            "no_go",
            mm,
            "Leaf that does not go",
            required=False,
            above=0.0,
            example='"0.55 mm"',
            help="the thinnest; without it nothing can pass",
            group="Bar",
        ),
        quantity(
            "lever_length",
            mm,
            "From where it touches to the leaf",
            symbol="L_b",
            above=0.0,
            example='"100 mm"',
            help="along the bar; not from the shaft's centre",
            group="Bar",
        ),
        Field(**{**vars(SHAFT), "group": "Bar"}),
        *limit("limit", mm, "Largest gap allowed", at_least=0.0, example='"0.30 mm"', group="Limit"),
        *RULE_AND_LIMIT,
        Field(**{**vars(LEAF_TOLERANCE), "group": "Limit"}),
    ),
    run=run_gap,
    cautions=CAUTIONS,
    draw=draw_gap,
    alt=alt_gap,
    figure_size=(6.2, 2.9),
)


# ------------------------------------------------------------------------------ marks and teeth
def run_mark(i: Inputs, w: Worksheet) -> None:
    """Angle of an arc on a rim, or of teeth of a wheel; and what it is at the other shaft."""
    pairs = (("arc", "diameter"), ("teeth", "tooth_count"))
    begun = [pair for pair in pairs if i.given(pair[0]) or i.given(pair[1])]
    if not begun:
        w.refuse("arc", "and diameter are needed, or teeth and tooth_count")
        w.refuse("teeth", "and tooth_count are needed, or arc and diameter", "0.5")
    for pair in begun:
        for name in pair:
            if not i.given(name):
                w.refuse(name, f"is needed with {pair[0] if name == pair[1] else pair[1]}")
    if len(begun) == 2:
        w.refuse("teeth", "goes without arc and diameter; type one pair or the other", "0.5")
    w.door()
    if i.given("arc"):
        angle = w.step("Angle of the arc", x.arc_angle, b=i.arc, D=i.diameter)
        if angle > 2 * np.pi:
            w.refuse("arc", "is longer than the whole rim")
        w.assume("the arc is measured along the rim, with a flexible rule, not straight across")
    else:
        if i.teeth > i.tooth_count:
            w.refuse("teeth", "is more than the wheel has", "0.5")
        angle = w.step("Angle of the teeth", x.tooth_angle, n=i.teeth, z=i.tooth_count)
    w.door()
    cam, crank = _both_shafts(w, i.shaft, angle)
    other = "crank" if i.shaft == "cam" else "cam"
    w.result("angle", angle, deg, f"Angle of the {i.shaft}shaft")
    w.result("other_angle", crank if i.shaft == "cam" else cam, deg, f"Angle of the {other}shaft")


MARK = Working(
    name="timing_mark",
    title="Marks and teeth as degrees",
    question="the mark is half a tooth off; how many degrees is that",
    phase="re-time",
    fields=(
        quantity(
            "arc",
            mm,
            "Arc between the marks",
            symbol="b",
            required=False,
            above=0.0,
            example='"3.5 mm"',
            help="along the rim",
            group="Arc on a rim",
        ),
        quantity(
            "diameter",
            mm,
            "Diameter of that rim",
            symbol="D",
            required=False,
            above=0.0,
            example='"140 mm"',
            group="Arc on a rim",
        ),
        number(
            "teeth",
            "Teeth off",
            symbol="n",
            required=False,
            above=0.0,
            example="0.5",
            help="halves may be typed",
            group="or teeth",
        ),
        integer(
            "tooth_count",
            "Teeth on that wheel",
            symbol="z",
            required=False,
            at_least=4,
            at_most=400,
            example="38",
            group="or teeth",
        ),
        Field(**{**vars(SHAFT), "group": "Wheel on"}),
    ),
    run=run_mark,
    cautions=(*CAUTIONS, "A belt or chain one tooth off can bend every valve: lock, slacken and re-time."),
)


# ------------------------------------------------------------------------------ crank and slider, shared
ROD = quantity(
    "rod_length",
    mm,
    "Connecting rod, centre to centre",
    symbol="l",
    above=0.0,
    example='"143 mm"',
    group="Crank and rod",
)
STROKE = quantity(
    "stroke",
    mm,
    "Stroke",
    symbol="H",
    above=0.0,
    example='"86 mm"',
    help="twice the crank radius",
    group="Crank and rod",
)
OFFSET = quantity(
    "pin_offset",
    mm,
    "Pin or cylinder offset",
    symbol="e",
    required=False,
    example='"0.6 mm"',
    help="plus: to the side where the crank moves after the top",
    group="Crank and rod",
)


def _optional(f: Field) -> Field:
    return Field(**{**vars(f), "required": False})


def _crank(i: Inputs, w: Worksheet) -> dict[str, Any]:
    """Rod, crank radius and offset; refuses a crank that cannot turn."""
    l, r, e = i.rod_length, i.stroke / 2, i.pin_offset or 0.0
    if r + abs(e) >= l:
        w.refuse("rod_length", "is too short for that stroke and offset: the crank could not turn")
    elif abs(e) > r:
        w.refuse("pin_offset", "is larger than the crank radius")
    return {"l": l, "r": r, "e": e}


# ------------------------------------------------------------------------------ dead centre
def run_dead_centre(i: Inputs, w: Worksheet) -> None:
    """Where dead centre lies on the disc; with crank and rod also the offset's share and the stop's depth."""
    before, after = i.stop_before, i.stop_after
    if not 0 < before + after < 2 * np.pi:
        w.refuse("stop_after", "and stop_before must lie up to a full turn apart, one before and one after the top")
    crank: dict[str, Any] = {}
    if any(i.given(n) for n in ("rod_length", "stroke", "stop_depth", "pin_offset")):
        for name in ("rod_length", "stroke"):
            if not i.given(name):
                w.refuse(name, "is needed with the other sizes of the crank")
        if i.given("rod_length", "stroke"):
            crank = _crank(i, w)
            if i.given("stop_depth") and i.stop_depth >= i.stroke:
                w.refuse("stop_depth", "is not within the stroke")
    w.door()
    correction = w.step("Middle between the two stops", x.stop_correction, theta_1=before, theta_2=after)
    gamma = w.step("Half of the angle between the stops", x.half_sum, theta_1=before, theta_2=after)
    offset_share = depth_found = stop_angle = top = None
    if crank:
        depth_found = w.step(
            "Piston below the top at the stop, from the readings", x.drop_between, gamma=gamma, **crank
        )
        top = w.step("Crank angle with the piston highest", x.top_angle, **crank)
        delta = w.step("Direction of the pin at the stop", x.pin_direction, x=depth_found, **crank)
        offset_share = w.step("Share of the pin offset", x.offset_correction, delta=delta, theta_0=top)
        correction = correction - offset_share
        if i.given("stop_depth"):
            q = w.step("Crank centre to pin at the stop", x.pin_distance, x=i.stop_depth, **crank)
            stop_angle = w.step("Half angle that this stop should give", x.half_angle, q=q, l=crank["l"], r=crank["r"])
    w.result("correction", correction, deg, "Dead centre lies on the disc at, after its zero")
    w.result("half_angle", gamma, deg, "Both stops read this when the disc is right")
    if crank:
        w.result("offset_share", offset_share, deg, "Taken off for the pin offset", 3)
        w.result("top_angle", top, deg, "Piston highest after the crank stands along the cylinder", 3)
        w.result("stop_depth_found", depth_found, mm, "Piston below the top at the stop, from the readings")
    if stop_angle is not None:
        w.result("stop_angle", stop_angle, deg, "Each stop should lie from dead centre by", 5)
    w.assume(
        "dead centre means the piston at its highest; stop_before is read before the disc's zero, stop_after past it"
    )
    if before != after:
        way = "past" if correction > 0 else "before"
        w.caution(
            f"Set the pointer to read zero where it now reads {abs(_degrees(correction)):.3g}° {way} zero, then "
            "find both stops again: they must read alike."
        )


def draw_dead_centre(figure: Any) -> Callable[[Result], None]:
    """The disc: its own zero, the two stops, and the dead centre half way between them."""
    ax = figure.subplots()
    ax.set_aspect("equal")
    ax.axis("off")
    ax.set(xlim=(-190, 190), ylim=(-42, 128))
    a = np.radians(np.linspace(-100, 100, 201))
    ax.plot(100 * np.sin(a), 100 * np.cos(a), color=SOFT, lw=1)
    for d in range(-100, 101, 5):
        long = 8 if d % 10 == 0 else 4
        s, c = np.sin(np.radians(d)), np.cos(np.radians(d))
        ax.plot([100 * s, (100 - long) * s], [100 * c, (100 - long) * c], color=SOFT, lw=0.8)
        if d % 20 == 0:
            ax.text(84 * s, 84 * c, f"{abs(d)}", ha="center", va="center", fontsize=7.5, color=SOFT)
    ax.plot([0], [0], "o", ms=5, color=SOFT)
    ax.text(-130, -30, "before zero", ha="center", fontsize=8.5, color=SOFT)
    ax.text(130, -30, "after zero", ha="center", fontsize=8.5, color=SOFT)
    (zero,) = ax.plot([0, 0], [0, 108], color=SOFT, lw=1, ls=(0, (2, 2)))
    (span,) = ax.plot([], [], color=PALE, lw=6, solid_capstyle="butt", gid="span")
    (first,) = ax.plot([], [], color=WARM, lw=2, gid="first")
    (second,) = ax.plot([], [], color=WARM, lw=2, gid="second")
    (centre,) = ax.plot([], [], color=ACCENT, lw=2.6, gid="centre")
    names = [ax.text(0, 0, "", ha="center", va="center", fontsize=8.5, color=WARM, gid=f"stop{k}") for k in (0, 1)]
    says = ax.text(
        0,
        -28,
        "",
        ha="center",
        va="center",
        fontsize=10.5,
        color=ACCENT,
        gid="says",
        bbox={"fc": "white", "ec": "none", "pad": 2},
    )
    del zero

    def at(angle: float, radius: float) -> tuple[float, float]:
        return float(radius * np.sin(angle)), float(radius * np.cos(angle))

    def ray(line: Any, angle: float, inner: float, outer: float) -> None:
        (x0, y0), (x1, y1) = at(angle, inner), at(angle, outer)
        line.set_data([x0, x1], [y0, y1])

    def move(result: Result) -> None:
        i = result.inputs
        low, high, c = -i.stop_before, i.stop_after, result["correction"]
        t = np.linspace(low, high, 120)
        span.set_data(58 * np.sin(t), 58 * np.cos(t))
        ray(first, low, 50, 106)
        ray(second, high, 50, 106)
        ray(centre, c, 0, 112)
        for text, angle, value in ((names[0], low, i.stop_before), (names[1], high, i.stop_after)):
            text.set_position(at(angle, 118))
            text.set_text(f"stop {_degrees(value):.4g}°")
        way = "after" if c > 0 else "before"
        off = f"{abs(_degrees(c)):.3g}° {way} the disc's zero" if c else "at the disc's zero"
        says.set_text(f"dead centre {off}")

    return move


def alt_dead_centre(result: Result) -> str:
    """The picture in words."""
    i, c = result.inputs, _degrees(result["correction"])
    return (
        f"Degree disc with the stops read at {_degrees(i.stop_before):.4g}° before and {_degrees(i.stop_after):.4g}° "
        f"after its zero; dead centre lies half way between, {abs(c):.3g}° {'after' if c > 0 else 'before'} the zero."
    )


DEAD_CENTRE = Working(
    name="dead_centre",
    title="Dead centre by a positive stop",
    question="where is top dead centre, truly",
    phase="re-time",
    fields=(
        quantity(
            "stop_before",
            deg,
            "Reading at the stop before the top",
            symbol="theta_1",
            above=-np.pi,
            below=2 * np.pi,
            example='"24.0 deg"',
            help="degrees before the disc's zero",
            group="Readings",
        ),
        quantity(
            "stop_after",
            deg,
            "Reading at the stop after the top",
            symbol="theta_2",
            above=-np.pi,
            below=2 * np.pi,
            example='"26.0 deg"',
            help="degrees after the disc's zero",
            group="Readings",
        ),
        _optional(ROD),
        _optional(STROKE),
        quantity(
            "stop_depth",
            mm,
            "Stop: piston below the top",
            symbol="x",
            required=False,
            at_least=1e-5,
            example='"5 mm"',
            help="to compare with what the readings say",
            group="Crank and rod",
        ),
        OFFSET,
    ),
    run=run_dead_centre,
    cautions=(*CAUTIONS, "Turn gently by hand against the stop: force marks the piston. Take the stop out again."),
    draw=draw_dead_centre,
    alt=alt_dead_centre,
    figure_size=(6.2, 2.9),
)


# ------------------------------------------------------------------------------ position of the piston
def run_position(i: Inputs, w: Worksheet) -> None:
    """From crank angle to piston depth, or the other way."""
    if i.given("angle") == i.given("drop"):
        w.refuse("angle", "or drop is needed, one of the two", '"20 deg"')
    crank = _crank(i, w)
    w.door()
    reach, back, e = crank["l"] + crank["r"], crank["l"] - crank["r"], crank["e"]
    full = float(np.sqrt(reach**2 - e**2) - np.sqrt(back**2 - e**2))
    if i.given("drop") and rounding.below(full, i.drop):
        w.refuse("drop", f"is more than the piston travels, {full * 1e3:.4g} mm")
    w.door()
    top = w.step("Crank angle with the piston highest", x.top_angle, **crank)
    if i.given("angle"):
        drop = w.step("Piston below its highest position", x.piston_drop, theta=i.angle + top, **crank)
    else:
        drop = i.drop
    ends = {True: 0.0, False: np.pi}
    if rounding.below(0.0, drop, full) and rounding.below(drop, full):
        q = w.step("Crank centre to pin", x.pin_distance, x=drop, **crank)
        gamma = w.step("Half of the angle between the two positions", x.half_angle, q=q, l=crank["l"], r=crank["r"])
    else:  # at an end of the stroke both positions are one, and rounding must not push the cosine past 1
        gamma = ends[drop < full / 2]
    delta = w.step("Direction of the pin", x.pin_direction, x=drop, **crank)
    w.result("drop", drop, mm, "Piston below its highest position")
    w.result("angle_before", gamma - delta + top, deg, "That is, before dead centre", 5)
    w.result("angle_after", gamma + delta - top, deg, "and after dead centre", 5)
    w.assume("angles count from dead centre, the piston at its highest")
    theta = np.radians(np.linspace(-180, 180, 361))
    w.curve.update(theta=theta, drop=x.piston_drop(theta + top, **crank))


def draw_position(figure: Any) -> Callable[[Result], None]:
    """Piston depth against crank angle, and the two positions of one depth."""
    ax = figure.subplots()
    ax.set(
        xlabel="crank angle from dead centre, °", ylabel="piston below the top, mm", xlim=(-180, 180), ylim=(100, -5)
    )
    ax.set_xticks(range(-180, 181, 45))
    ax.spines[["top", "right"]].set_visible(False)
    (line,) = ax.plot([], [], color=ACCENT, lw=1.8, gid="curve")
    (guide,) = ax.plot([], [], color=SOFT, lw=0.8, ls=(0, (3, 2)), gid="guide")
    (dots,) = ax.plot([], [], "o", ms=6.5, mfc="white", mec=WARM, mew=1.8, ls="none", gid="dots")
    label = ax.text(
        0.5, 0.06, "", ha="center", va="bottom", color=INK, fontsize=9.5, gid="label", transform=ax.transAxes
    )

    def move(result: Result) -> None:
        depth = result["drop"] * 1e3
        before, after = _degrees(result["angle_before"]), _degrees(result["angle_after"])
        line.set_data(np.degrees(result.curve["theta"]), result.curve["drop"] * 1e3)
        guide.set_data([-before, after], [depth, depth])
        dots.set_data([-before, after], [depth, depth])
        most = 20 * float(np.ceil(result.curve["drop"].max() * 1e3 / 20 * 1.02))
        label.set_text(f"{depth:.3g} mm down: {before:.4g}° before, {after:.4g}° after")
        settle(ax, ylim=(most, -5.0))

    return move


def alt_position(result: Result) -> str:
    """The picture in words."""
    return (
        f"Curve of piston depth against crank angle: {result['drop'] * 1e3:.3g} mm below the top at "
        f"{_degrees(result['angle_before']):.4g}° before and {_degrees(result['angle_after']):.4g}° after dead centre."
    )


POSITION = Working(
    name="piston_position",
    title="Piston depth and crank angle",
    question="how far down is the piston at this crank angle, and the other way round",
    phase="re-time",
    fields=(
        quantity(
            "angle",
            deg,
            "Crank angle after dead centre",
            symbol="theta",
            required=False,
            at_least=-np.pi,
            at_most=np.pi,
            example='"20 deg"',
            group="Known",
        ),
        quantity(
            "drop",
            mm,
            "Or piston below its highest",
            symbol="x",
            required=False,
            at_least=1e-5,
            example='"5 mm"',
            help="as a dial gauge shows it",
            group="Known",
        ),
        ROD,
        STROKE,
        OFFSET,
    ),
    run=run_position,
    cautions=CAUTIONS,
    draw=draw_position,
    alt=alt_position,
)


# ------------------------------------------------------------------------------ two turns by hand
TURNS = "common practice, no source; the maker's procedure may ask for more"


def run_turn_check(i: Inputs, w: Worksheet) -> None:
    """Was it turned far enough, freely, and do the marks stand again?"""
    w.result("resistance", i.resistance, None, "Resistance felt")
    w.judge(
        "Turned without resistance",
        "resistance" if i.resistance else "free",
        "free",
        None,
        None,
        "Resistance = stop",
        Outcome.FAIL if i.resistance else Outcome.PASS,
        "stop: do not force; lock, take the drive off and look" if i.resistance else "",
    )
    turned = Outcome.PASS if i.turns >= 2 and i.direction == "running direction" else Outcome.UNDECIDED
    w.judge(
        "Two full turns in the running direction",
        f"{i.turns:g}, {i.direction}",
        "two or more",
        None,
        None,
        TURNS,
        turned,
        "" if turned is Outcome.PASS else "two full turns by hand, in the running direction, are needed",
    )
    if i.marks == "not seen":
        outcome, remark = Outcome.UNDECIDED, "look again: not seen is not in line"
    elif i.marks == "off":
        outcome, remark = Outcome.FAIL, "set the timing again from the lock"
    elif i.marks_source:
        outcome, remark = Outcome.PASS, ""
    else:
        outcome, remark = Outcome.NO_LIMIT, "nothing says where the marks belong: type marks_source"
    w.judge("Marks or lock after turning", i.marks, "in line", None, None, i.marks_source, outcome, remark)


TURN_CHECK = Working(
    name="two_turn_check",
    title="Two turns by hand, and the marks again",
    question="does it still stand after two full turns",
    phase="re-time",
    fields=(
        number(
            "turns", "Full turns of the crankshaft, by hand", at_least=0.0, at_most=100.0, example="2", group="Turned"
        ),
        choice(
            "direction", "Direction", ("running direction", "against it"), group="Turned", example="running direction"
        ),
        yes_no("resistance", "Resistance felt", help="any at all", example="no", group="Turned"),
        choice("marks", "Marks or lock afterwards", ("in line", "off", "not seen"), example="in line", group="Seen"),
        words(
            "marks_source",
            "Where it says how they must stand",
            required=False,
            help="document, edition, page; without it nothing can pass",
            group="Seen",
        ),
    ),
    run=run_turn_check,
    cautions=CAUTIONS,
)

# ------------------------------------------------------------------------------ degree disc, angle dial
STANDING, TURNING = "stands still", "turns with the shaft"
CLOCKWISE, ANTICLOCKWISE = "clockwise", "anticlockwise"
PRINT_AT_FULL_SIZE = "Print at 100 %, not fitted to the page, and measure the check lines before use."
ROUND, BOTH_WAYS = "0 to 360", "both ways to 180"


@dataclass(frozen=True)
class Mark:
    """An angle stage on the disc; radians past the start mark."""

    n: int
    stage: Stage
    low: float
    at: float
    high: float

    @property
    def says(self) -> str:
        """The stage, and which turn it lies on if not the first."""
        turn = math.ceil(round(self.at / (2 * np.pi), 9))
        return self.stage.shown + (f", turn {turn}" if turn > 1 else "")


def _marks(stages: list[Stage]) -> list[Mark]:
    """Where each angle lies.  Angles add up from the last torque; a torque or loosening starts again at zero."""
    marks: list[Mark] = []
    at = 0.0
    for n, stage in enumerate(stages, 1):
        if stage.kind == "angle":
            assert stage.value is not None
            assert stage.low is not None
            assert stage.high is not None
            marks.append(Mark(n, stage, at + stage.low, at + stage.value, at + stage.high))
            at += stage.value
        elif stage.kind in ("torque", "repeat", "loosen"):
            at = 0.0
    return marks


def disc_labels(result: Result) -> list[tuple[float, str]]:
    """(angle past the start mark, label) with the stages that lie at one place named together: "2, 6: +90°"."""
    found: dict[float, dict[str, list[int]]] = {}
    for mark in result.curve["marks"]:
        here = found.setdefault(round(mark.at % (2 * np.pi), 9), {})
        here.setdefault(mark.says, []).append(mark.n)
    return [
        (at, " · ".join(f"{', '.join(map(str, numbers))}: {says}" for says, numbers in names.items()))
        for at, names in found.items()
    ]


def run_disc(i: Inputs, w: Worksheet) -> None:
    """Marks of the programme, how long a degree is, and what sitting off centre or a printer's stretch would do."""
    if i.hole >= 0.7 * i.diameter:
        w.refuse("hole", "leaves no room for the scale; at most 0.7 of the diameter")
    if len(i.start_mark) > 24:
        w.refuse("start_mark", "is too long to stand on the disc; at most 24 characters", "TDC 1")
    if i.off_centre >= i.diameter / 4:
        w.refuse("off_centre", "is more than a quarter of the diameter")
    for name, other in (("line_across", "line_along"), ("line_along", "line_across")):
        if i.given(other) and not i.given(name):
            w.refuse(name, f"is needed with {other}")
    stages, wrong = read_stages(i.stages or [])
    for n, why in wrong:
        w.refuse(f"stages[{n}]", why, '"+90 deg"')
    w.door()
    b_1 = w.step("One degree along the rim", x.rim_per_degree, D=i.diameter)
    w.result("rim_per_degree", b_1, mm, "One degree along the rim", 6)
    error = w.step("Largest error of a reading, off centre", x.off_centre_error, s=i.off_centre, R=i.diameter / 2)
    w.result("off_centre_error", error, deg, f"Error when {i.off_centre * 1e3:.3g} mm off centre, up to", 3)
    w.result("off_centre_pair", 2 * error, deg, "Between two readings, up to", 3)
    if i.given("line_across"):
        stretch = w.step("Unequal scales of the printer", x.unequal_scale_error, L_x=i.line_across, L_y=i.line_along)
        w.result("scale_error", abs(stretch), deg, "Error by the printer, up to", 3)
        if i.line_across != i.line_along:
            w.caution("The printer stretches the paper one way: print again at 100 %, without fitting to the page.")
    grows = i.direction if i.mounted == STANDING else {CLOCKWISE: ANTICLOCKWISE}.get(i.direction, CLOCKWISE)
    w.result("numbers_grow", grows, None, "Numbers grow, on the paper")
    marks = _marks(stages)
    rows = [
        {
            "stage": Value(m.n, None, "stage"),
            "typed": Value(m.stage.shown, None, "as read"),
            "low": Value(m.low, DEG, "from"),
            "at": Value(m.at, DEG, "mark at"),
            "high": Value(m.high, DEG, "to"),
        }
        for m in marks
    ]
    if rows:
        w.result("marks", rows, None, "Stages on the disc")
        w.assume("each angle starts where the one before it ended; after a torque the pointer starts at zero again")
    if any(stage.kind == "loosen" for stage in stages):
        w.caution("Loosening stages are not marked: they turn the other way.")
    w.curve.update(marks=marks, grows=grows)


def disc_angle(result: Result, reading: float) -> float:
    """Where a reading lies on the paper: radians clockwise from the top."""
    turn = 1.0 if result.curve["grows"] == CLOCKWISE else -1.0
    return float(result.inputs.start_at + turn * reading)


def disc_number(result: Result, degrees: int) -> int:
    """The number printed at that many degrees past the start mark."""
    return 360 - degrees if result.inputs.numbering == BOTH_WAYS and degrees > 180 else degrees


def draw_disc(figure: Any) -> Callable[[Result], None]:
    """What will be printed, small: the scale, the start mark and the stages."""
    ax = figure.subplots()
    ax.set_aspect("equal")
    ax.axis("off")
    ax.set(xlim=(-175, 175), ylim=(-126, 110))
    a = np.radians(np.arange(361))
    ax.plot(100 * np.sin(a), 100 * np.cos(a), color=INK, lw=1)
    (hole,) = ax.plot([], [], color=SOFT, lw=1, ls=(0, (3, 2)), gid="hole")
    (ticks,) = ax.plot([], [], color=SOFT, lw=0.7, gid="ticks")
    (start,) = ax.plot([], [], color=INK, lw=2.4, gid="start")
    (marks,) = ax.plot([], [], color=WARM, lw=2.2, gid="marks")
    (bands,) = ax.plot([], [], color=WARM, lw=5, alpha=0.45, solid_capstyle="butt", gid="bands")
    numbers = [ax.text(0, 0, "", ha="center", va="center", fontsize=7, color=SOFT, gid=f"number{k}") for k in range(12)]
    named: Any = {"ha": "center", "va": "center", "bbox": {"fc": "white", "ec": "none", "pad": 1}}
    labels = [ax.text(0, 0, "", fontsize=8, color=WARM, gid=f"label{k}", **named) for k in range(8)]
    says = ax.text(0, 0, "", fontsize=8.5, color=INK, gid="says", **named)
    which = ax.text(0, -124, "", ha="center", va="bottom", fontsize=8.5, color=SOFT, gid="which")

    def at(result: Result, reading: float, radius: float) -> tuple[float, float]:
        angle = disc_angle(result, reading)
        return float(radius * np.sin(angle)), float(radius * np.cos(angle))

    def rays(result: Result, readings: list[float], inner: float, outer: float) -> tuple[list[float], list[float]]:
        xs, ys = [], []
        for reading in readings:
            (x0, y0), (x1, y1) = at(result, reading, inner), at(result, reading, outer)
            xs += [x0, x1, np.nan]
            ys += [y0, y1, np.nan]
        return xs, ys

    def move(result: Result) -> None:
        i = result.inputs
        core = 100 * i.hole / i.diameter
        hole.set_data(core * np.sin(a), core * np.cos(a))
        ticks.set_data(*rays(result, [np.radians(d) for d in range(0, 360, 10)], 92, 100))
        start.set_data(*rays(result, [0.0], core, 106))
        for k, text in enumerate(numbers):
            text.set_position(at(result, np.radians(30 * k), 84))
            text.set_text(str(disc_number(result, 30 * k)) if k else "")
        says.set_position(at(result, 0.0, 66))
        says.set_text(i.start_mark)
        shown = result.curve["marks"]
        marks.set_data(*rays(result, [m.at for m in shown], core, 76))
        xs: list[float] = []
        ys: list[float] = []
        for m in shown:
            if m.high > m.low:
                points = [at(result, r, 97) for r in np.linspace(m.low, m.high, 30)]
                xs += [p[0] for p in points] + [np.nan]
                ys += [p[1] for p in points] + [np.nan]
        bands.set_data(xs, ys)
        places = disc_labels(result)
        for k, text in enumerate(labels):
            text.set_position(at(result, places[k][0], 48) if k < len(places) else (0, 0))
            text.set_text(places[k][1] if k < len(places) else "")
        which.set_text(f"numbers grow {result.curve['grows']}; the disc {i.mounted}")

    return move


def alt_disc(result: Result) -> str:
    """The picture in words."""
    i = result.inputs
    marks = "; ".join(f"stage {m.n}, {m.stage.shown}, at {_degrees(m.at):.4g}°" for m in result.curve["marks"])
    return (
        f"Degree disc of {i.diameter * 1e3:.4g} mm with a hole of {i.hole * 1e3:.4g} mm; {i.start_mark} stands at zero "
        f"and the numbers grow {result.curve['grows']}." + (f" Marked: {marks}." if marks else "")
    )


DISC = Working(
    name="degree_disc",
    title="Degree disc and angle dial, to print",
    question="what does a printable degree disc with my stages on it look like, and how far can it be trusted",
    phase="re-time",
    fields=(
        quantity(
            "diameter",
            mm,
            "Diameter of the scale",
            symbol="D",
            default="160 mm",
            at_least=0.05,
            at_most=0.3,
            help="the paper sets the most: 180 mm on A4, 174 mm on Letter",
            group="Disc",
        ),
        quantity(
            "hole", mm, "Hole in the middle", default="20 mm", at_least=0.0, help="for bolt or socket", group="Disc"
        ),
        words("start_mark", "At zero stands", default="0", help="such as TDC 1, or the lock position", group="Disc"),
        quantity(
            "start_at",
            deg,
            "Zero on the paper, clockwise from the top",
            default="0 deg",
            at_least=-2 * np.pi,
            at_most=2 * np.pi,
            group="Disc",
        ),
        choice(
            "direction",
            "The shaft or wrench turns, as you look at it",
            (CLOCKWISE, ANTICLOCKWISE),
            default=CLOCKWISE,
            group="Use",
        ),
        choice(
            "mounted",
            "The disc",
            (STANDING, TURNING),
            default=STANDING,
            help="it stands still behind a turning pointer, or turns past a fixed one",
            group="Use",
        ),
        choice("numbering", "Numbers", (ROUND, BOTH_WAYS), default=ROUND, group="Use"),
        listing(
            "stages",
            words("stage", "Stage", example="+90 deg"),
            "Stages of the programme",
            required=False,
            example='"40 N*m; +90 deg; +90 deg"',
            group="Programme",
        ),
        quantity(
            "off_centre",
            mm,
            "May sit off centre by",
            symbol="s",
            default="1 mm",
            at_least=0.0,
            help="to see what that does",
            group="Trust",
        ),
        quantity(
            "line_across",
            mm,
            "Check line across, as measured",
            symbol="L_x",
            required=False,
            above=0.0,
            example='"100.0 mm"',
            help="after printing",
            group="Trust",
        ),
        quantity(
            "line_along",
            mm,
            "Check line along, as measured",
            symbol="L_y",
            required=False,
            above=0.0,
            example='"99.5 mm"',
            group="Trust",
        ),
    ),
    run=run_disc,
    cautions=(*CAUTIONS, PRINT_AT_FULL_SIZE),
    draw=draw_disc,
    alt=alt_disc,
    figure_size=(6.2, 4.0),
)

WORKINGS = [GAP, MARK, DEAD_CENTRE, POSITION, TURN_CHECK, DISC]
