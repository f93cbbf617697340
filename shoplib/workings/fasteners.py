"""The fasteners of a joint: may they be used again, do they reach, in which order are they tightened."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from shoplib.checks import Origin, Outcome, Uncertainty, added
from shoplib.core import rounding
from shoplib.look import ACCENT, INK, PALE, PALER, SOFT, WARM, frame, round_up, settle, step_up
from shoplib.physics import reach as x
from shoplib.units import mm, show, unit_of
from shoplib.working import (
    GOVERNS,
    Inputs,
    Result,
    Working,
    Worksheet,
    choice,
    judging,
    limit,
    listing,
    quantity,
    table,
    words,
)

_MM = unit_of(mm)
GEOMETRY = "geometry: lengths as typed"
SINGLE_USE = "Single-use bolts: once loosened, scrap."
BLIND = "Blind holes clean and dry: trapped fluid can crack a casting. Eye protection; no air jet at skin."
NOT_MAKERS = "suggested, not the maker's"

# ------------------------------------------------------------------------------ re-use
NEVER, LENGTH, DIAMETER, NECKING = "never", "max_length", "min_diameter", "necking"
MEASURED = '"146.2 mm; 146.1 mm; 146.4 mm; 146.2 mm; 146.3 mm"'
BOLT_NAMES = listing(  # read by bolt_names(); as many in its example as in those of the readings beside it
    "bolts",
    words("bolts", "Bolt"),
    "Names of the bolts",
    required=False,
    example='"1; 2; 3; 4; 5"',
    help="otherwise 1, 2, 3, …",
    group="Readings",
)


def run_reuse(i: Inputs, w: Worksheet) -> None:
    """Judge each used bolt by the declared method; without a source of the limit it is replaced."""
    if i.method == NEVER:
        w.door()
        w.result("margin", None, mm, "Smallest margin")
        w.judge("Use again", "used bolts", "never", None, None, i.limit_source, Outcome.FAIL, "single-use bolts")
        w.result("text", "Replace: by the declared method these bolts are used once; once loosened, scrap.", None, "Do")
        return
    if not i.given("measured"):
        w.refuse("measured", f"is needed for the method {i.method}", MEASURED)
    names = bolt_names(i, w, i.measured or ())
    reference = _reference(i, w)
    w.door()
    margins: list[float | None] = []
    label, sign = {LENGTH: ("length", "≤"), DIAMETER: ("diameter", "≥"), NECKING: ("necking", "≤")}[i.method]
    for k, (name, found) in enumerate(zip(names, i.measured, strict=True)):
        margin = None
        if found is not None:
            if i.method == NECKING:
                found = w.step(f"Necking, bolt {name}", x.necking, d_ref=reference[k], d=found)
            if i.limit is not None:
                margin = _margin(i, w, name, found)
        margins.append(margin)
        w.check(f"Bolt {name}: {label}", found, sign, i.limit, mm, i.limit_source, uncertainty=_reading(i, w, k))
    known = [(m, n) for m, n in zip(margins, names, strict=True) if m is not None]
    smallest, worst = min(known, key=lambda pair: pair[0]) if known else (None, None)
    w.result("margin", smallest, mm, "Smallest margin")
    w.result("worst_bolt", worst or "not known", None, "Bolt with the smallest margin")
    w.result("margins", margins, mm, "Margin of each bolt")
    w.result("text", _verdict(w, names), None, "Do")
    w.curve.update(names=names, margins=margins)


def _reading(i: Inputs, w: Worksheet, k: int) -> Uncertainty:
    """That of a bolt's length or diameter, or of the difference of its two diameters."""
    if i.method != NECKING:
        return w.uncertainty("measured", k)
    return added(w.uncertainty("measured", k), w.uncertainty("reference", k if len(i.reference) > 1 else 0))


def _margin(i: Inputs, w: Worksheet, name: str, found: float) -> float:
    title = f"Margin, bolt {name}"
    match i.method:
        case "max_length":
            return float(w.step(title, x.length_margin, l_max=i.limit, l=found))
        case "min_diameter":
            return float(w.step(title, x.diameter_margin, d=found, d_min=i.limit))
    return float(w.step(title, x.necking_margin, N_max=i.limit, N=found))


def bolt_names(i: Inputs, w: Worksheet, readings: Sequence[Any]) -> list[str]:
    """The names in the field ``bolts``, one a reading; without it 1, 2, 3, …"""
    count = len(readings)
    if not i.given("bolts"):
        return [str(k) for k in range(1, count + 1)]
    names = [n.strip() for n in i.bolts]
    if len(names) != count:
        w.refuse(
            "bolts", f"holds {len(names)} names for {count} readings; a missing reading is typed as “not measured”"
        )
    for name, times in Counter(names).items():
        if times > 1:
            w.refuse("bolts", f"bolt {name[:40]} stands {times} times")
    return names


def _reference(i: Inputs, w: Worksheet) -> list[float]:
    """The diameter away from the neck, for each bolt; only necking needs it."""
    if i.method != NECKING:
        if i.given("reference"):
            w.refuse("reference", f"goes with the method {NECKING} only")
        return []
    if not i.given("reference"):
        w.refuse("reference", "is needed: the diameter where the bolt has not stretched")
        return []
    count = len(i.measured or ())
    reference = list(i.reference) * (count if len(i.reference) == 1 else 1)
    if len(reference) != count:
        w.refuse("reference", f"holds {len(reference)} diameters for {count} readings; type one for all, or one a bolt")
        return []
    for k, (a, b) in enumerate(zip(reference, i.measured or (), strict=True), 1):
        if b is not None and b > a:
            w.refuse("measured", f"reading {k} is thicker than its reference; the two may be swapped")
    return reference


def _verdict(w: Worksheet, names: Sequence[str]) -> str:
    """What to do, in one sentence; replacing needs no source, using again does."""

    def listed(outcome: Outcome, measured: bool = True) -> str:
        found = [
            n
            for n, c in zip(names, w.checks, strict=True)
            if c.outcome is outcome and (c.found.value is not None) == measured
        ]
        return f"bolt{'s' if len(found) > 1 else ''} {', '.join(found)}" if found else ""

    missing, unsure = listed(Outcome.UNDECIDED, measured=False), listed(Outcome.UNDECIDED)
    measure = f" Measure {missing}." if missing else ""
    if failed := listed(Outcome.FAIL):
        return f"Replace {failed}: beyond the limit. Whether single bolts may be replaced, the maker says.{measure}"
    if listed(Outcome.NO_LIMIT):
        return f"Replace: nothing says that they may be used again (limit or its source is missing).{measure}"
    if unsure:
        return f"Replace, or measure with less uncertainty: {unsure} so near the limit that neither is proved.{measure}"
    if missing:
        return f"Replace, or measure first: {missing} not measured."
    return "May be used again by this method, if the maker's procedure allows it."


def draw_reuse(figure: Any) -> Callable[[Result], None]:
    """The margin of each bolt: to the right of the line it is within, to the left beyond the limit."""
    ax = figure.subplots()
    ax.axvline(0, color=INK, lw=1.2)
    ax.set(xlabel="margin to the limit, mm", ylabel="bolt")
    ax.spines[["top", "right"]].set_visible(False)
    (good,) = ax.plot([], [], "o", color=ACCENT, ms=7, gid="within")
    (bad,) = ax.plot([], [], "X", color=WARM, ms=9, gid="beyond")
    told = {"transform": ax.transAxes, "va": "bottom", "fontsize": 9}
    ax.text(0.49, 1.02, "✕ beyond the limit", ha="right", color=WARM, family="DejaVu Sans", **told)
    ax.text(0.51, 1.02, "● within", ha="left", color=ACCENT, family="DejaVu Sans", **told)
    says = ax.text(0.5, 0.5, "", ha="center", gid="says", backgroundcolor="white", **told)

    def move(result: Result) -> None:
        names, margins = result.curve.get("names", []), result.curve.get("margins", [])
        known = [abs(m) * 1e3 for m in margins if m is not None]
        span = round_up(max([*known, 0.05]) * 1.15)
        marks = [n[:12] + (" (not known)" if m is None else "") for n, m in zip(names, margins, strict=True)]
        places = list(range(1, len(names) + 1))
        settle(ax, xlim=(-span, span))
        frame(ax, ylim=(len(names) + 0.6, 0.4), yticks=(places, marks))
        rows = [(k, m * 1e3) for k, m in enumerate(margins, 1) if m is not None]
        good.set_data([m for _, m in rows if m >= 0], [k for k, m in rows if m >= 0])
        bad.set_data([m for _, m in rows if m < 0], [k for k, m in rows if m < 0])
        says.set_text("single use: replace" if result.inputs.method == NEVER else "")

    return move


def alt_reuse(result: Result) -> str:
    """The picture in words."""
    if result.inputs.method == NEVER:
        return "Single-use bolts: no margin is drawn; replace them."
    parts = [
        f"{n} {'not known' if m is None else show(m, _MM, 3)}"
        for n, m in zip(result.curve["names"], result.curve["margins"], strict=True)
    ]
    return "Margin of each bolt to the limit: " + "; ".join(parts) + "."


REUSE = Working(
    name="bolt_reuse",
    title="May these bolts be used again",
    question="can I reuse these bolts, by the method that the source declares",
    phase="fasteners",
    fields=(
        choice(
            "method",
            "Method that the source declares",
            (NEVER, LENGTH, DIAMETER, NECKING),
            example=LENGTH,
            help="never; maximum length; minimum diameter; difference of two diameters",
            group="Method",
        ),
        listing(
            "measured",
            quantity("measured", mm, "Reading", above=0.0, may_be_missing=True),
            "Readings, one a bolt",
            required=False,
            example=MEASURED,
            help="length, or smallest diameter; “not measured” stays missing",
            csv=True,
            group="Readings",
        ),
        listing(
            "reference",
            quantity("reference", mm, "Diameter", above=0.0),
            "Diameter where it has not stretched",
            required=False,
            example='"9.95 mm"',
            help="for necking only: one for all bolts, or one a bolt",
            group="Readings",
        ),
        BOLT_NAMES,
        *limit("limit", mm, "Limit", above=0.0, example='"147.0 mm"', group="Limit"),
        *judging(mm),
    ),
    run=run_reuse,
    cautions=(
        GOVERNS,
        SINGLE_USE,
        "A bolt within its limit may still be damaged: look at thread, shank, seat and rust. No source, replace.",
    ),
    draw=draw_reuse,
    alt=alt_reuse,
    figure_size=(6.2, 3.2),
)


# ------------------------------------------------------------------------------ reach
def run_reach(i: Inputs, w: Worksheet) -> None:
    """Engagement and the three clearances of a bolt in its hole, after skim and with the gasket compressed."""
    blind = i.hole == "blind"
    if blind and not i.given("hole_depth"):
        w.refuse("hole_depth", "is needed for a blind hole: measure it clean and dry")
    if not blind and i.given("hole_depth"):
        w.refuse("hole_depth", "goes with a blind hole only")
    if i.thread_length > i.bolt_length:
        w.refuse("thread_length", "is longer than the bolt")
    if i.thread_start >= i.thread_depth:
        w.refuse("thread_depth", "must be below thread_start; both count from the deck face", '"38 mm"')
    if blind and i.given("hole_depth") and i.hole_depth < i.thread_depth:
        w.refuse("hole_depth", "is less than thread_depth; both count from the deck face", '"45 mm"')
    w.door()
    stack = math.fsum(i.stack)
    l_P = w.step("Reach below the deck face", x.reach, l=i.bolt_length, t_S=stack, note="t_S: the stack, added up")
    w.result("stack_height", stack, mm, "Stack that is clamped")
    w.result("reach", l_P, mm, "Bolt below the deck face")
    thread = {"t_1": i.thread_start, "t_2": i.thread_depth}
    held = w.step("Engagement of the threads", x.engagement, l_P=l_P, b=i.thread_length, **thread)
    w.result("engagement", held, mm, "Engagement")
    c_B = w.step("Room below the tip", x.bottom_clearance, h=i.hole_depth, l_P=l_P) if blind else None
    w.result("bottom_clearance", c_B, mm, "Clearance to the bottom")
    c_S = w.step("Room above the first thread", x.shank_clearance, t_1=i.thread_start, l_P=l_P, b=i.thread_length)
    w.result("shank_clearance", c_S, mm, "Clearance of the shank")
    c_T = w.step("Full thread below the tip", x.thread_clearance, t_2=i.thread_depth, l_P=l_P)
    w.result("thread_clearance", c_T, mm, "Full thread below the tip")
    _judge_reach(i, w, held, c_B, c_S, c_T)


def _judge_reach(i: Inputs, w: Worksheet, held: float, c_B: float | None, c_S: float, c_T: float) -> None:
    """Each clearance with what its lengths may be out by, all at their worst: none of them counts more than once."""

    def of(name: str, item: int | None = None) -> Uncertainty:
        exact = item is None and getattr(i, name) == 0  # 0 mm: the thread begins at the face
        return Uncertainty(0.0, Origin.DIGITS) if exact else w.uncertainty(name, item)

    down = added(of("bolt_length"), *(of("stack", k) for k in range(len(i.stack))))
    threads = added(down, of("thread_length"), of("thread_start"), of("thread_depth"))
    shank = added(down, of("thread_length"), of("thread_start"))
    w.check("The threads meet", held, ">", 0.0, mm, GEOMETRY, uncertainty=threads, geometry=True)
    if c_B is not None:
        bottom = added(down, of("hole_depth"))
        w.check("The tip is clear of the bottom", c_B, ">", 0.0, mm, GEOMETRY, uncertainty=bottom, geometry=True)
    w.check("The shank is clear of the thread", c_S, ">", 0.0, mm, GEOMETRY, uncertainty=shank, geometry=True)
    if c_B is not None:  # through a through hole the tip may stand out
        tip = added(down, of("thread_depth"))
        w.check("The tip stays within the full thread", c_T, "≥", 0.0, mm, GEOMETRY, uncertainty=tip, geometry=True)
    w.check("Engagement", held, "≥", i.minimum_engagement, mm, i.minimum_engagement_source, uncertainty=threads)
    if i.given("minimum_clearance") and c_B is not None:
        source = i.minimum_clearance_source
        w.check("Clearance to the bottom", c_B, "≥", i.minimum_clearance, mm, source, uncertainty=bottom)


def draw_reach(figure: Any) -> Callable[[Result], None]:
    """Section along the bolt, head on the left: the stack it clamps, the deck face, the hole and its thread."""
    from matplotlib.patches import Rectangle

    ax = figure.subplots()
    ax.set(ylim=(-1.8, 1.75), yticks=[], xlabel="depth below the deck face, mm")
    ax.spines[["left", "top", "right"]].set_visible(False)

    def box(gid: str, half: float, z: int, **style: Any) -> Any:
        patch = Rectangle((0, -half), 0, 2 * half, gid=gid, zorder=z, **style)
        ax.add_patch(patch)
        return patch

    block = box("block", 1.2, 1, fc=PALE, ec=INK, lw=0.8)
    hole = box("hole", 0.46, 2, fc="white", ec=INK, lw=0.8)
    tapped = box("tapped", 0.46, 3, fc="white", ec=SOFT, lw=0.6, hatch="||||")
    stack = box("stack", 1.2, 1, fc=PALER, ec=INK, lw=0.8)
    head = box("head", 0.75, 6, fc=SOFT, ec=INK, lw=0.8)
    shank = box("shank", 0.3, 5, fc=SOFT, ec=INK, lw=0.8)
    screw = box("screw", 0.36, 6, fc=SOFT, ec="white", lw=0.4, hatch="////")
    held = box("held", 0.46, 7, fc="none", ec=ACCENT, lw=2.0)
    (layers,) = ax.plot([], [], color=INK, lw=0.6, zorder=2, gid="layers")
    (face,) = ax.plot([0, 0], [-1.2, 1.35], color=INK, lw=1.4, zorder=8)
    face.set_clip_on(False)
    ax.text(0, 1.4, "deck face", ha="center", va="bottom", fontsize=9, color=INK)
    engaged = ax.text(0, -0.6, "", ha="left", va="top", fontsize=9, color=INK, zorder=8, gid="engaged")
    clamped = ax.text(0.0, 0.13, "", ha="left", va="top", fontsize=9, transform=ax.transAxes, gid="clamped")
    below = ax.text(1.0, 0.13, "", ha="right", va="top", fontsize=9, transform=ax.transAxes, gid="below")

    def move(result: Result) -> None:
        i = result.inputs
        l_P, T = result["reach"] * 1e3, result["stack_height"] * 1e3
        b, t_1, t_2 = i.thread_length * 1e3, i.thread_start * 1e3, i.thread_depth * 1e3
        h = i.hole_depth * 1e3 if i.hole_depth is not None else t_2
        thick = step_up(0.16 * (T + max(h, l_P)), 5)
        deep = step_up(max(h, l_P) * 1.12 + 4, 20)
        _, right = settle(ax, xlim=(-step_up(T + thick + 2, 20), deep))
        for patch, a, z in ((block, 0, right), (hole, 0, h), (tapped, t_1, t_2), (stack, -T, 0), (head, -T - thick, -T),
                            (shank, -T, l_P - b), (screw, max(l_P - b, -T), l_P)):  # fmt: skip
            patch.set_x(a)
            patch.set_width(max(z - a, 0))
        block.set_visible(True)
        first, last = max(t_1, l_P - b), min(t_2, l_P)
        held.set_x(first)
        held.set_width(max(last - first, 0))
        edges = np.cumsum([t * 1e3 for t in i.stack])[:-1] - T
        layers.set_data(np.repeat(edges, 3), np.tile([-1.2, 1.2, np.nan], len(edges)))
        engaged.set_text(f"engaged {show(result['engagement'], _MM, 3)}")
        engaged.set_position((max(first, 1), -0.6))
        c_B = result["bottom_clearance"]
        room = "through hole" if c_B is None else _room(c_B, "to the bottom", "ON THE BOTTOM, too long by")
        below.set_text(f"{room}; {_room(result['shank_clearance'], 'shank to thread', 'SHANK JAMS by')}")
        clamped.set_text(f"clamps {show(result['stack_height'], _MM, 4)}")

    return move


def _room(clearance: float, clear: str, hits: str) -> str:
    return f"{clear if clearance > 0 else hits} {show(abs(clearance), _MM, 3)}"


def alt_reach(result: Result) -> str:
    """The picture in words."""
    c_B = result["bottom_clearance"]
    bottom = "a through hole" if c_B is None else f"{show(c_B, _MM, 3)} to the bottom"
    return (
        f"Section along the bolt: it clamps {show(result['stack_height'], _MM)}, reaches "
        f"{show(result['reach'], _MM)} below the deck face, engages {show(result['engagement'], _MM, 3)}, "
        f"with {bottom} and {show(result['shank_clearance'], _MM, 3)} between shank and first thread."
    )


REACH = Working(
    name="bolt_reach",
    title="Does the bolt reach, and not too far",
    question="after the skim and with this gasket, does the bolt engage, and does it bottom",
    phase="fasteners",
    fields=(
        quantity(
            "bolt_length", mm, "Bolt, length under the head", symbol="l", above=0.0, example='"120 mm"', group="Bolt"
        ),
        quantity(
            "thread_length",
            mm,
            "Bolt, length of its thread",
            symbol="b",
            above=0.0,
            example='"40 mm"',
            help="from the tip, full thread",
            group="Bolt",
        ),
        listing(
            "stack",
            quantity("stack", mm, "Thickness", at_least=0.0),
            "Stack under the bolt's head",
            symbol="t_S",
            example='"2.5 mm; 92.3 mm; 1.2 mm"',
            help="washer; head after the skim, at the bolt; gasket compressed",
            group="Stack",
        ),
        choice("hole", "Hole", ("blind", "through"), default="blind", group="Hole, from the deck face down"),
        quantity(
            "hole_depth",
            mm,
            "Depth to the bottom",
            symbol="h",
            required=False,
            above=0.0,
            example='"45 mm"',
            help="blind hole, clean and dry",
            group="Hole, from the deck face down",
        ),
        quantity(
            "thread_start",
            mm,
            "Depth of the first thread",
            symbol="t_1",
            at_least=0.0,
            example='"5 mm"',
            help="counterbore; 0 mm where the thread begins at the face",
            group="Hole, from the deck face down",
        ),
        quantity(
            "thread_depth",
            mm,
            "Depth of the last full thread",
            symbol="t_2",
            above=0.0,
            example='"38 mm"',
            help="usable thread, counted from the deck face",
            group="Hole, from the deck face down",
        ),
        *limit(
            "minimum_engagement", mm, "Least engagement", symbol="l_E,min", above=0.0, example='"15 mm"', group="Limits"
        ),
        *limit(
            "minimum_clearance",
            mm,
            "Least clearance to the bottom",
            symbol="c_B,min",
            at_least=0.0,
            example='"2 mm"',
            group="Limits",
        ),
        *judging(mm),
    ),
    run=run_reach,
    cautions=(
        GOVERNS,
        BLIND,
        "Different lengths stand side by side on many engines: check each place; compare old bolt, new bolt and hole.",
    ),
    draw=draw_reach,
    alt=alt_reach,
    figure_size=(6.2, 2.9),
)

# ------------------------------------------------------------------------------ order
MOST_BOLTS = 60


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
                pair.append(min(across, key=lambda k: (_apart(from_middle[k], -from_middle[bolt]), k)))
            for k in pair:
                ring.remove(k)
                left.remove(k)
            done_here += pair
            order += pair
    return order


def _apart(a: Any, b: Any) -> float:
    return round(float(np.hypot(*(a - b))), 6)


def _nearest(xy: Any, k: int, others: Sequence[int]) -> float:
    return min(_apart(xy[k], xy[o]) for o in others)


def run_order(i: Inputs, w: Worksheet) -> None:
    """A crosswise order from the middle, or the maker's order held against the map; and the loosening order."""
    names = [str(r["name"]).strip() for r in i.positions]
    look_at_map(i.positions, names, w, "positions")
    maker = typed_order("order", i.order, names, w) if i.given("order") else None
    loosen = typed_order("loosening", i.loosening, names, w) if i.given("loosening") else None
    if i.given("order_source") and maker is None:
        w.refuse("order_source", "goes with order")
    w.door()
    points = [(r["x"], r["y"]) for r in i.positions]
    suggested = [names[k] for k in suggest_order(points)]
    w.result("suggested_order", suggested, None, f"Order from the middle outwards, crosswise ({NOT_MAKERS})")
    used = maker or suggested
    if maker:
        w.result("order", maker, None, "Maker's order, as typed")
    else:
        w.assume(f"tightening order from the middle outwards, crosswise: {NOT_MAKERS}")
    w.result("order_is", "the maker's, as typed" if maker else NOT_MAKERS, None, "Order shown")
    if loosen:
        w.result("loosening_order", loosen, None, "Loosening order, as typed")
    else:
        w.result("loosening_order", used[::-1], None, "Loosening order: the reverse")
        w.assume("loosening order: the reverse of the tightening order; a separate order of the maker's goes before it")
    w.curve.update(points=points, names=names, order=used, makers=maker is not None)


def look_at_map(rows: Sequence[Mapping[str, Any]], names: Sequence[str], w: Worksheet, field: str) -> None:
    """Refuse two bolts of one name or at one place; a bolt without a place is not looked at."""
    if len(rows) > MOST_BOLTS:
        w.refuse(field, f"holds {len(rows)} bolts; at most {MOST_BOLTS}")
        return
    for name, times in Counter(names).items():
        if times > 1:
            w.refuse(field, f"bolt {name[:40]} stands {times} times; each place has its own name")
    placed = [(n, r["x"], r["y"]) for n, r in zip(names, rows, strict=True) if None not in (r["x"], r["y"])]
    for a, (name, x_a, y_a) in enumerate(placed):
        for other, x_b, y_b in placed[:a]:
            if math.hypot(x_a - x_b, y_a - y_b) < 1e-4:
                w.refuse(field, f"bolt {name[:40]} stands at the place of bolt {other[:40]}")


def typed_order(
    field: str, typed: Sequence[str], names: Sequence[str], w: Worksheet, where: str = "on the map"
) -> list[str]:
    """An order as typed; duplicates, omissions and strangers are named."""
    order = [n.strip() for n in typed]
    times = Counter(order)
    told = [
        ("stands twice or more", [n for n, k in times.items() if k > 1]),
        (f"is not {where}", [n for n in times if n not in names]),
        ("is missing", [n for n in names if n not in times]),
    ]
    for what, found in told:
        if found:
            w.refuse(field, f"bolt {', '.join(n[:40] for n in found[:20])} {what}", "; ".join(names[:3]) + "; …")
    return order


def map_axes(figure: Any, place: tuple[float, float, float, float] | None = None) -> Any:
    """Axes for a map of bolts: one scale both ways, nothing else; ``place`` in parts of the figure."""
    ax = figure.subplots()
    if place:
        ax.set_position(place)  # out of the layout: nothing moves while typing
    ax.set_aspect("equal")
    ax.axis("off")
    return ax


def frame_map(ax: Any, xs: Sequence[float], ys: Sequence[float], part: float = 0.16) -> None:
    """Limits round these places (mm), in steps, so that they stay still while typing; ``part`` of the size as edge."""
    wide, high = max(xs) - min(xs), max(ys) - min(ys)
    edge = step_up(max(part * max(wide, high), 12), 4)
    limits = (min(xs) - edge, max(xs) + edge), (min(ys) - edge * 1.15, max(ys) + edge)
    frame(ax, xlim=limits[0], ylim=limits[1])


def order_map(figure: Any) -> Callable[..., None]:
    """A map with a way through its bolts; returns ``show(points, order, says, marks)``.

    ``points`` are places in m by name, ``marks`` a few signs under a bolt's name, such as ●○ for passes done.
    ``also``: further orders, of other groups of bolts, each counted from 1.
    """
    from matplotlib.transforms import offset_copy

    ax = map_axes(figure)
    (way,) = ax.plot([], [], color=PALE, lw=1.2, zorder=1, gid="way")
    (bolts,) = ax.plot([], [], "o", ms=21, color="white", mec=ACCENT, mew=1.8, zorder=2, gid="bolts")
    (start,) = ax.plot([], [], "o", ms=26, color="none", mec=WARM, mew=1.6, zorder=2, gid="start")
    numbers = [
        ax.text(0, 0, "", ha="center", va="center", fontsize=11, fontweight="bold", color=INK, zorder=3, gid=f"n{k}")
        for k in range(MOST_BOLTS)
    ]
    below = offset_copy(ax.transData, figure, y=-14, units="points")
    labels = [
        ax.text(0, 0, "", transform=below, ha="center", va="top", fontsize=8, color=SOFT, zorder=3, gid=f"l{k}",
                bbox={"fc": "white", "ec": "none", "pad": 0.8})
        for k in range(MOST_BOLTS)
    ]  # fmt: skip
    told = ax.text(0.5, 1.0, "", transform=ax.transAxes, ha="center", va="bottom", fontsize=9.5, color=INK, gid="says")

    def show_order(
        points: Mapping[str, tuple[float, float]],
        order: Sequence[str],
        says: str,
        marks: Mapping[str, str],
        also: Sequence[Sequence[str]] = (),
    ) -> None:
        told.set_text(says)
        runs = [list(order), *map(list, also)]
        order = [n for run in runs for n in run]
        counted = [k for run in runs for k in range(1, len(run) + 1)]
        at = [(points[n][0] * 1e3, points[n][1] * 1e3) for n in order]
        xs, ys = [x for x, _ in at], [y for _, y in at]
        if at:
            frame_map(ax, xs, ys)
        first = [k for k, count in enumerate(counted) if count == 1]
        for k in reversed(first[1:]):  # the way is broken between two runs
            xs.insert(k, math.nan)
            ys.insert(k, math.nan)
        way.set_data(xs, ys)
        bolts.set_data(xs, ys)
        start.set_data([at[k][0] for k in first], [at[k][1] for k in first])
        for k, (number, label) in enumerate(zip(numbers, labels, strict=True)):
            here = k < len(at)
            number.set_text(str(counted[k]) if here else "")
            signs = marks.get(order[k], "") if here else ""
            label.set_text(f"bolt {order[k][:10]}" + (f"\n{signs}" if signs else "") if here else "")
            if here:
                number.set_position(at[k])
                label.set_position(at[k])

    return show_order


def draw_order(figure: Any) -> Callable[[Result], None]:
    """The map of the bolts: number in the order inside, name beside it, and the way from one to the next."""
    show_order = order_map(figure)

    def move(result: Result) -> None:
        c = result.curve
        says = "maker's order, as typed" if c["makers"] else f"{NOT_MAKERS}: from the middle outwards, crosswise"
        show_order(dict(zip(c["names"], c["points"], strict=True)), c["order"], says, {})

    return move


def alt_order(result: Result) -> str:
    """The picture in words."""
    c = result.curve
    whose = "the maker's order, as typed" if c["makers"] else f"an order {NOT_MAKERS}"
    return f"Map of {len(c['names'])} bolts with {whose}: {', '.join(c['order'])}."


POSITIONS = table(
    "positions",
    (
        words("name", "Bolt", example="1"),
        quantity("x", mm, "x", example='"0 mm"'),
        quantity("y", mm, "y", example='"0 mm"'),
    ),
    "Places of the bolts",
    help="as seen from above, from any corner; a CSV file has the heading name,x_mm,y_mm",
    example='[{"name": "1", "x": "0 mm", "y": "0 mm"}]',
    csv=True,
    group="Map",
)

ORDER = Working(
    name="tightening_order",
    title="Order of tightening and loosening",
    question="in which order are these bolts tightened and loosened, and is none forgotten",
    phase="tighten",
    fields=(
        POSITIONS,
        listing(
            "order",
            words("order", "Bolt"),
            "Maker's tightening order",
            required=False,
            example='"3; 4; 2; 5; 1; 6"',
            help="names of the bolts; without it an order is suggested",
            group="Maker's order",
        ),
        words(
            "order_source",
            "Source of: maker's tightening order",
            required=False,
            help="document, edition, page",
            group="Maker's order",
        ),
        listing(
            "loosening",
            words("loosening", "Bolt"),
            "Maker's loosening order",
            required=False,
            example='"6; 1; 5; 2; 4; 3"',
            help="without it the reverse of the tightening order",
            group="Maker's order",
        ),
    ),
    run=run_order,
    cautions=(
        GOVERNS,
        "The maker's order governs; a suggested order is only for a joint whose order cannot be found.",
        "Whole pattern at each stage, in order; one bolt through all stages only where the maker says so. "
        "Loosen cold, in several passes.",
    ),
    draw=draw_order,
    alt=alt_order,
    figure_size=(6.2, 3.4),
)

WORKINGS = [REUSE, REACH, ORDER]
