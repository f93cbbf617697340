"""Bolts: the thread, preload from torque and torque from preload."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from shoplib.look import ACCENT, INK, PALE, PALER, SOFT, round_up, settle
from shoplib.physics import preload as p
from shoplib.physics import threads as t
from shoplib.units import MPa, N, N_m, Reading, inch, kN, mm, mm2, one
from shoplib.working import (
    GOVERNS,
    Field,
    Inputs,
    Result,
    Working,
    Worksheet,
    choice,
    limit,
    number,
    quantity,
    words,
)
from shoplib.workings.corners import Range, corner_at, lanes

TEACHING = "Curves and clamp estimates teach; they are not settings."
LUBRICANT = (
    "What lies on the thread and under the head changes the clamp as much as the torque does; use what the source says."
)
MISREAD = "Read the unit twice: N·m taken for lbf·ft is 36 % too much."

# ------------------------------------------------------------------------------ fields that every bolt working shares
THREAD = words(
    "thread",
    "Thread",
    symbol="d",
    help="nominal diameter and pitch; a bare M10 is read as coarse, and said so",
    example=t.EXAMPLE,
    group="Bolt",
)
SHANK = quantity(
    "shank_diameter",
    mm,
    "Shank diameter",
    symbol="d_T",
    required=False,
    above=0.0,
    help="only if the shank is thinner than the thread",
    example='"8.4 mm"',
    group="Bolt",
)
CLASS = choice(
    "property_class",
    "Property class",
    t.property_classes(),
    required=False,
    help="as stamped on the head",
    example="10.9",
    group="Strength",
)
YIELD = limit(
    "yield_strength",
    MPa,
    "Yield strength",
    symbol="R_p",
    above=0.0,
    help="in place of the property class",
    example='"940 MPa"',
    group="Strength",
)
TORSION = choice(
    "torsion",
    "Torsion at yield",
    ("plastic", "elastic"),
    default="plastic",
    help="plastic: VDI 2230 since 2001 (from memory). Left out, it must not decide a verdict",
    group="Strength",
)
FRICTION = (
    number(
        "mu_thread",
        "Friction in the thread",
        symbol="mu_G",
        above=0.0,
        at_most=1.0,
        band=True,
        help="a value, or a band such as 0.10–0.16",
        example="0.12",
        group="Friction",
    ),
    number(
        "mu_head",
        "Friction under the head",
        symbol="mu_K",
        above=0.0,
        at_most=1.0,
        band=True,
        help="a value, or a band such as 0.10–0.16",
        example="0.12",
        group="Friction",
    ),
)
FRICTION_BAND = (
    number(
        "mu_low",
        "Lowest friction",
        required=False,
        above=0.0,
        at_most=1.0,
        example="0.10",
        group="Friction",
        needs=("mu_high",),
        help="of thread and head alike; each may have its own value in the band",
    ),
    number(
        "mu_high",
        "Highest friction",
        required=False,
        above=0.0,
        at_most=1.0,
        example="0.16",
        group="Friction",
        needs=("mu_low",),
    ),
)
BEARING_BOUNDS = (1e-3, 0.4)  # m, of a face under a head
BEARING = (
    quantity(
        "bearing_outer",
        mm,
        "Bearing face, outer diameter",
        symbol="d_w",
        required=False,
        above=0.0,
        help="washer face under the head",
        example='"14.6 mm"',
        group="Under the head",
        plausible=BEARING_BOUNDS,
    ),
    quantity(
        "bearing_hole",
        mm,
        "Bearing face, hole diameter",
        symbol="d_h",
        required=False,
        above=0.0,
        example='"11 mm"',
        group="Under the head",
        plausible=BEARING_BOUNDS,
    ),
    quantity(
        "bearing_mean",
        mm,
        "Mean bearing diameter",
        symbol="D_Km",
        required=False,
        above=0.0,
        help="in place of outer and hole",
        example='"13 mm"',
        group="Under the head",
        excludes=("bearing_outer", "bearing_hole"),
        plausible=BEARING_BOUNDS,
    ),
)


# ------------------------------------------------------------------------------ reading a bolt
@dataclass(frozen=True)
class Bolt:
    """What the typed inputs say of the bolt, in SI."""

    thread: t.Thread
    D_Km: float
    A_0: float
    d_0: float
    R_p: float | None
    yield_source: str | None
    bearings: Mapping[str, Range]  # input of the bearing face that was left out → mean diameters that are possible


def read_thread(i: Inputs, w: Worksheet) -> t.Thread | None:
    """The thread, or a refusal that says what to type."""
    try:
        thread = t.read_thread(i.thread)
    except t.UnknownThread as error:
        w.refuse("thread", str(error), t.EXAMPLE)
        return None
    if thread.assumed:
        w.assume(thread.assumed)
    if thread.left:
        w.caution("A left-hand thread: it tightens anticlockwise and loosens clockwise.")
    return thread


NARROWEST_FACE, WIDEST_FACE = 1.2, 2.5  # outer diameter of the face under a head over that of the thread (common
# practice, no source): between these lies every head, so what holds at both does not depend on the head


@dataclass(frozen=True)
class Bearing:
    """The face under the head: its mean diameter, and what it could be where a size was left out, m."""

    mean: float
    possible: Mapping[str, Range]


def read_bearing(i: Inputs, w: Worksheet, thread: t.Thread) -> Bearing | None:
    """Mean bearing diameter: typed, or of the metric hexagon head as a printed assumption."""
    if i.given("bearing_mean"):
        return Bearing(float(i.bearing_mean), {})
    outer, hole = i.bearing_outer, i.bearing_hole
    possible: dict[str, Range] = {}
    if outer is None or hole is None:
        found = None if thread.inch else t.hexagon_bearing(thread.d)
        if found is None:
            for name, value in (("bearing_outer", outer), ("bearing_hole", hole)):
                if value is None:
                    w.refuse(
                        name, f"is needed for {thread.name}, whose head size is not in the table (or type bearing_mean)"
                    )
            return None
        d_w, d_h, origin = found
        least_hole, most_hole = (hole, hole) if hole else (thread.d, outer or WIDEST_FACE * thread.d)
        narrow, wide = (outer, outer) if outer else (max(NARROWEST_FACE * thread.d, least_hole), WIDEST_FACE * thread.d)
        possible[_left_out(outer, hole)] = ((least_hole + narrow) / 2, (most_hole + wide) / 2)
        memory = ", from memory" if origin == "from memory" else ""
        if outer is None:
            outer = d_w
            w.assume(f"hexagon head, washer face {d_w * 1e3:g} mm (ISO 4014{memory})")
        if hole is None:
            hole = d_h
            w.assume(f"clearance hole {d_h * 1e3:g} mm (ISO 273, medium{memory})")
    if not outer > hole:
        w.refuse("bearing_outer", f"must be larger than the hole, {hole * 1e3:g} mm")
        return None
    return Bearing(float(w.step("Mean bearing diameter", p.mean_bearing_diameter, d_w=outer, d_h=hole)), possible)


def _left_out(outer: float | None, hole: float | None) -> str:
    if outer is None and hole is None:
        return "bearing_mean"
    return "bearing_outer" if outer is None else "bearing_hole"


def read_bolt(i: Inputs, w: Worksheet, *, needs_yield: bool = False) -> Bolt | None:
    """Thread, bearing, weaker section and yield strength; refuses what does not go together."""
    thread = read_thread(i, w)
    if thread is None:
        return None
    w.step("Pitch diameter", t.pitch_diameter, d=thread.d, P=thread.P)
    bearing = read_bearing(i, w, thread)
    A_0, d_0 = thread.A_s, thread.d_S
    shank = i.shank_diameter if "shank_diameter" in i.as_entered else None
    if shank is not None:
        if shank > thread.d * 1.02:
            w.refuse("shank_diameter", f"is thicker than the nominal diameter {thread.d * 1e3:g} mm")
        elif shank < thread.d_S:
            A_0, d_0 = w.step("Weakest section: the shank", t.circle_area, d_0=shank), shank
    R_p, source = None, None
    if "property_class" in i.as_entered:
        R_p, source = read_yield(i, w, thread)
        if R_p is None and needs_yield and not (i.given("property_class") or i.given("yield_strength")):
            w.refuse("property_class", "or yield_strength is needed")
    if bearing is None:
        return None
    return Bolt(thread, bearing.mean, float(A_0), float(d_0), R_p, source, bearing.possible)


def read_yield(i: Inputs, w: Worksheet, thread: t.Thread) -> tuple[float | None, str | None]:
    """Yield strength and where it comes from."""
    if i.given("yield_strength") and i.given("property_class"):
        w.refuse("yield_strength", "goes without property_class; type one or the other")
    if i.given("yield_strength"):
        return float(i.yield_strength), i.yield_strength_source
    if i.given("property_class"):
        found = t.property_class(i.property_class, thread)
        if found is None:
            w.refuse("property_class", f"{i.property_class} does not cover {thread.name}; type yield_strength", "8.8")
            return None, None
        return found.R_p, f"{found.standard}, class {found.name}"
    return None, None


def band_of(value: float | Reading) -> Reading:
    """A typed value as a band; without a range both ends are the value."""
    return value if isinstance(value, Reading) else Reading("", value, value, value, "")


def friction_band(i: Inputs, w: Worksheet) -> tuple[tuple[float, float], tuple[float, float]]:
    """((thread low, high), (head low, high)); one pair mu_low/mu_high serves both."""
    thread, head = i.mu_thread, i.mu_head
    low, high = i.mu_low, i.mu_high
    if low is not None and high is not None:
        if low > high:
            w.refuse("mu_low", "is above mu_high")
        if thread.is_band or head.is_band:
            w.refuse("mu_low", "goes without a band in mu_thread or mu_head; type one or the other")
        if not (low <= thread.value <= high and low <= head.value <= high):
            w.refuse("mu_low", "to mu_high does not hold mu_thread and mu_head")
        return (low, high), (low, high)
    return (thread.low, thread.high), (head.low, head.high)


TORSION_MODULUS = {"plastic": p.torsion_modulus_plastic, "elastic": p.torsion_modulus_elastic}


def tension_and_torsion(w: Worksheet, i: Inputs, bolt: Bolt, F_M: float, mu_G: float) -> float:
    """Combined stress at a preload while tightening, in the weakest section; steps are shown."""
    thread = bolt.thread
    M_G = w.step("Torque in the shank", p.thread_torque, F_M=F_M, P=thread.P, d_2=thread.d_2, mu_G=mu_G)
    W_P = w.step(f"Section modulus, torsion {i.torsion}", TORSION_MODULUS[i.torsion], d_0=bolt.d_0)
    return float(w.step("Tension and torsion together", p.combined_stress, F_M=F_M, M_G=M_G, A_0=bolt.A_0, W_P=W_P))


def check_yield(i: Inputs, w: Worksheet, bolt: Bolt, preload: Callable[[Any], Any], at: Mapping[str, Any]) -> None:
    """Judge the combined stress at its worst corner.

    ``preload(D_Km)`` gives the preload in each lane of ``at``.  The ends of the ranges suffice: the stress rises with
    the torque, falls with the friction under the head, and over the friction in the thread it is a convex function
    divided by a straight line, which has its maximum at an end.
    """
    assert bolt.R_p is not None
    thread = bolt.thread
    bearings = [d for ends in bolt.bearings.values() for d in ends]
    cases = [(i.torsion, bolt.D_Km), ("elastic" if i.torsion == "plastic" else "plastic", bolt.D_Km)]
    cases += [(i.torsion, d) for d in bearings]
    D_Km = np.array([[d] for _, d in cases])
    W_P = np.array([[float(TORSION_MODULUS[word](bolt.d_0))] for word, _ in cases])
    F = preload(D_Km)
    M_G = p.thread_torque(F, thread.P, thread.d_2, at["mu_thread"])
    nu = p.utilisation(p.combined_stress(F, M_G, bolt.A_0, W_P), bolt.R_p)
    most = nu.max(axis=1).tolist()
    lane = int(nu[0].argmax())
    otherwise = {"torsion": [most[1]]} | dict.fromkeys(bolt.bearings, most[2:])
    w.check("Combined stress below yield", most[0], "<", 1.0, one, bolt.yield_source,
            corner=corner_at(at, lane), otherwise=otherwise)  # fmt: skip


def warn_of_breaking(i: Inputs, w: Worksheet, bolt: Bolt, F_M: float) -> None:
    """A preload that no bolt of this size can carry is said to be one."""
    strength = t.property_class(i.property_class, bolt.thread) if i.given("property_class") else None
    named, R_m = (strength.name, strength.R_m) if strength is not None else t.strongest(bolt.thread)
    if R_m is not None and R_m * bolt.A_0 < F_M:
        which = f"class {named}" if strength is not None else f"{named}, the strongest class in the tables,"
        w.caution(
            f"The bolt would break: {F_M / 1e3:.4g} kN is more than the ultimate load of {which} "
            f"{R_m * bolt.A_0 / 1e3:.4g} kN. Check the torque, the thread and the friction."
        )


# ------------------------------------------------------------------------------ thread
def run_thread(i: Inputs, w: Worksheet) -> None:
    """Geometry of the thread, and the loads of its class."""
    thread = read_thread(i, w)
    w.door()
    assert thread is not None
    strength = t.property_class(i.property_class, thread) if i.given("property_class") else None
    if i.given("property_class") and strength is None:
        w.refuse("property_class", f"{i.property_class} does not cover {thread.name}", "8.8")
    w.door()
    d_2 = w.step("Pitch diameter", t.pitch_diameter, d=thread.d, P=thread.P)
    d_3 = w.step("Minor diameter", thread.minor, d=thread.d, P=thread.P)
    A_s = w.step("Stress area", t.stress_area, d_2=d_2, d_3=d_3)
    w.result("nominal_diameter", thread.d, mm, "Nominal diameter")
    w.result("pitch", thread.P, mm, "Pitch")
    if thread.inch:
        w.result("threads_per_inch", round(t.INCH / thread.P), one, "Threads per inch", 2)
        w.result("nominal_diameter_inch", thread.d, inch, "Nominal diameter")
    w.result("pitch_diameter", d_2, mm, "Pitch diameter d₂")
    w.result("minor_diameter", d_3, mm, "Root diameter for the stress area" if thread.inch else "Minor diameter d₃")
    if thread.inch:
        minor = w.step("Minor diameter of the bolt", t.minor_diameter_unified, d=thread.d, P=thread.P)
        w.assume(
            f"the stress area rests on the root diameter d − 1.299 P (Shigley); the minor diameter of the bolt is "
            f"{minor / t.INCH:.4f} in (ASME B1.1, from memory)"
        )
    w.result("stress_area", A_s, mm2, "Stress area")
    if strength is not None:
        loads = (
            ("proof_load", "Proof load", strength.S_p),
            ("yield_load", "Yield load", strength.R_p),
            ("ultimate_load", "Ultimate load", strength.R_m),
        )
        for name, label, R in loads:
            w.result(name, None if R is None else w.step(label, t.load_at, R=R, A_s=A_s), N, label)
        w.assume(f"minimum strengths of {strength.name}, {strength.standard}")


THREAD_WORKING = Working(
    name="thread",
    title="Thread: geometry and loads",
    question="what are the pitch, stress area and loads of this thread",
    phase="fasteners",
    fields=(THREAD, CLASS),
    run=run_thread,
    cautions=(
        GOVERNS,
        "Pitch-gauge bolt, old bolt and hole; two pitches of one diameter exist on one engine. Never force.",
    ),
)


# ------------------------------------------------------------------------------ preload from torque
def run_preload(i: Inputs, w: Worksheet) -> None:
    """Preload from torque, its friction band, where the torque goes, and how hard the bolt works."""
    mu_thread, mu_head = friction_band(i, w)
    bolt = read_bolt(i, w)
    w.door()
    assert bolt is not None
    thread, torque = bolt.thread, i.torque
    geometry: dict[str, Any] = {"P": thread.P, "d_2": thread.d_2, "D_Km": bolt.D_Km}
    mu_G, mu_K = i.mu_thread.value, i.mu_head.value
    F_M = w.step("Preload", p.preload, M_A=torque.value, mu_G=mu_G, mu_K=mu_K, **geometry)
    w.result("preload", F_M, kN, "Preload")
    banded = torque.is_band or mu_thread[0] != mu_thread[1] or mu_head[0] != mu_head[1]
    low = p.preload(torque.low, mu_G=mu_thread[1], mu_K=mu_head[1], **geometry) if banded else None
    high = p.preload(torque.high, mu_G=mu_thread[0], mu_K=mu_head[0], **geometry) if banded else None
    w.result("preload_low", low, kN, "Preload, lowest")
    w.result("preload_high", high, kN, "Preload, highest")
    if low is not None and high is not None:
        w.result("spread_ratio", high / low, one, "Spread, highest over lowest", 3)
    K = w.step("Nut factor", p.nut_factor, M_A=torque.value, F_M=F_M, d=thread.d, digits=3)
    w.result("nut_factor", K, one, "Nut factor K", 3)
    parts = (
        ("share_pitch", "Stretches the bolt", w.step("Stretch", p.pitch_torque, F_M=F_M, P=thread.P)),
        (
            "share_thread",
            "Lost in the thread",
            w.step("Thread friction", p.thread_friction_torque, F_M=F_M, d_2=thread.d_2, mu_G=mu_G),
        ),
        (
            "share_head",
            "Lost under the head",
            w.step("Head friction", p.head_friction_torque, F_M=F_M, D_Km=bolt.D_Km, mu_K=mu_K),
        ),
    )
    for name, label, M in parts:
        w.result(name, p.share(M, torque.value), one, label, 3)
    nu = None
    if bolt.R_p is not None:
        sigma = tension_and_torsion(w, i, bolt, F_M, mu_G)
        nu = w.step("Utilisation of yield", p.utilisation, sigma_red=sigma, R_p=bolt.R_p, digits=3)
        at = lanes(torque=(torque.low, torque.high), mu_thread=mu_thread, mu_head=mu_head)
        sizes = {"P": thread.P, "d_2": thread.d_2}
        check_yield(
            i, w, bolt, lambda D: p.preload(at["torque"], **sizes, D_Km=D, mu_G=at["mu_thread"], mu_K=at["mu_head"]), at
        )
    w.result("utilisation", nu, one, "Combined stress over yield", 3)
    warn_of_breaking(i, w, bolt, F_M if high is None else high)
    top = 1.5 * torque.high
    M = np.linspace(0.0, top, 61)
    w.curve.update(
        torque=M,
        mid=p.preload(M, mu_G=mu_G, mu_K=mu_K, **geometry),
        low=p.preload(M * torque.low / torque.value, mu_G=mu_thread[1], mu_K=mu_head[1], **geometry),
        high=p.preload(M * torque.high / torque.value, mu_G=mu_thread[0], mu_K=mu_head[0], **geometry),
        banded=banded,
    )


def draw_preload(figure: Any) -> Callable[[Result], None]:
    """Where the torque goes, as a bar of three parts; and preload against torque with its band."""
    bar, curve = figure.subplots(2, 1, height_ratios=(1, 3.2))
    bar.set(xlim=(0, 100), ylim=(-0.75, 0.5), yticks=[], xlabel="share of the torque, %")
    bar.spines[["left", "top", "right"]].set_visible(False)
    styles = ((ACCENT, "", "white"), (PALE, "", INK), (PALER, "", INK))
    blocks = [
        bar.barh(0, 1, 0.62, color=face, edgecolor="white", linewidth=1.2, hatch=hatch, gid=f"part{k}").patches[0]
        for k, (face, hatch, _) in enumerate(styles)
    ]
    notes = [
        bar.text(0, 0, "", ha="center", va="center", color=ink, fontsize=8, gid=f"note{k}")
        for k, (_, _, ink) in enumerate(styles)
    ]
    for block, gid in zip(blocks, ("part0", "part1", "part2"), strict=True):
        block.set_gid(gid)
    heads = [
        bar.text(0, -0.55, word, ha="center", va="center", fontsize=7.5, color=SOFT, gid=f"head{k}")
        for k, word in enumerate(("stretch", "thread friction", "head friction"))
    ]
    curve.set(xlabel="torque, N·m", ylabel="preload, kN", xlim=(0, 60), ylim=(0, 40))
    curve.spines[["top", "right"]].set_visible(False)
    band = curve.fill_between([0, 1], [0, 1], [0, 1], color=ACCENT, alpha=0.14, lw=0, gid="band")
    (edge_low,) = curve.plot([], [], color=SOFT, lw=0.8, ls=(0, (4, 2)), gid="low")
    (edge_high,) = curve.plot([], [], color=SOFT, lw=0.8, ls=(0, (4, 2)), gid="high")
    (line,) = curve.plot([], [], color=ACCENT, lw=1.8, gid="mid")
    (guide,) = curve.plot([], [], color=SOFT, lw=0.7, ls=(0, (1.5, 2)), gid="guide")
    (dot,) = curve.plot([], [], "o", ms=6, mfc="white", mec=ACCENT, mew=1.6, gid="dot")
    label = curve.text(0, 0, "", color=ACCENT, fontsize=9, va="top", gid="label")

    def move(result: Result) -> None:
        left = 0.0
        for block, note, head, name in zip(
            blocks, notes, heads, ("share_pitch", "share_thread", "share_head"), strict=True
        ):
            width = 100 * result[name]
            block.set_x(left)
            block.set_width(width)
            note.set_position((left + width / 2, 0))
            note.set_text(f"{width:.0f} %")
            head.set_position((left + width / 2, -0.55))
            left += width
        c = result.curve
        M, scale = c["torque"], 1e-3
        line.set_data(M, c["mid"] * scale)
        edge_low.set_data(M, c["low"] * scale)
        edge_high.set_data(M, c["high"] * scale)
        for edge in (edge_low, edge_high):
            edge.set_visible(bool(c["banded"]))
        band.set_data(M, c["low"] * scale, c["high"] * scale)
        torque, force = result.inputs.torque.value, result["preload"] * scale
        guide.set_data([torque, torque, 0], [0, force, force])
        dot.set_data([torque], [force])
        label.set_position((torque + 0.02 * M[-1], force - 0.02 * c["high"].max() * scale))
        label.set_text(f"{force:.1f} kN")
        # whole steps, so that a small move leaves the axes alone
        limits = c.get("limits") or ((0, round_up(M[-1])), (0, round_up(float(c["high"].max()) * scale)))
        settle(curve, xlim=limits[0], ylim=limits[1])

    return move


def alt_preload(result: Result) -> str:
    """The picture in words."""
    shares = ", ".join(
        f"{100 * result[name]:.0f} % {word}"
        for name, word in (
            ("share_pitch", "stretch"),
            ("share_thread", "thread friction"),
            ("share_head", "head friction"),
        )
    )
    band = ""
    if result["preload_low"] is not None:
        low, high = (f"{result[name] / 1e3:.1f}" for name in ("preload_low", "preload_high"))
        reading = result.inputs.torque
        torque = " and the range of the torque" if reading.is_band else ""
        band = f", between {low} and {high} kN over the friction band{torque}"
    return (
        f"Bar of the torque's parts: {shares}. Line of preload against torque: {result['preload'] / 1e3:.1f} kN{band}."
    )


PRELOAD = Working(
    name="preload_from_torque",
    title="Preload from torque",
    question="how hard does this torque clamp, and where does the torque go",
    phase="tighten",
    fields=(
        quantity(
            "torque",
            N_m,
            "Torque",
            symbol="M_A",
            above=0.0,
            band=True,
            help="a value, a range or a tolerance",
            example='"40 N*m"',
            group="Wrench",
        ),
        THREAD,
        *FRICTION,
        *FRICTION_BAND,
        *BEARING,
        CLASS,
        *YIELD,
        SHANK,
        TORSION,
    ),
    run=run_preload,
    cautions=(GOVERNS, TEACHING, LUBRICANT, MISREAD),
    draw=draw_preload,
    alt=alt_preload,
    figure_size=(6.2, 4.0),
)


# ------------------------------------------------------------------------------ torque from preload
def run_torque(i: Inputs, w: Worksheet) -> None:
    """Torque for a wanted preload, with its friction band."""
    mu_thread, mu_head = friction_band(i, w)
    bolt = read_bolt(i, w)
    w.door()
    assert bolt is not None
    geometry: dict[str, Any] = {"P": bolt.thread.P, "d_2": bolt.thread.d_2, "D_Km": bolt.D_Km}
    mu_G, mu_K = i.mu_thread.value, i.mu_head.value
    M_A = w.step("Torque", p.tightening_torque, F_M=i.preload, mu_G=mu_G, mu_K=mu_K, **geometry)
    w.result("torque", M_A, N_m, "Torque")
    banded = mu_thread[0] != mu_thread[1] or mu_head[0] != mu_head[1]
    for name, label, end in (
        ("torque_low", "Torque, lowest friction", 0),
        ("torque_high", "Torque, highest friction", 1),
    ):
        M = p.tightening_torque(i.preload, mu_G=mu_thread[end], mu_K=mu_head[end], **geometry) if banded else None
        w.result(name, M, N_m, label)
    w.result(
        "nut_factor",
        w.step("Nut factor", p.nut_factor, M_A=M_A, F_M=i.preload, d=bolt.thread.d),
        one,
        "Nut factor K",
        3,
    )
    nu = None
    if bolt.R_p is not None:
        sigma = tension_and_torsion(w, i, bolt, i.preload, mu_G)
        nu = w.step("Utilisation of yield", p.utilisation, sigma_red=sigma, R_p=bolt.R_p, digits=3)
        at = lanes(mu_thread=mu_thread)
        alone = replace(bolt, bearings={})  # at a given preload the face under the head changes no stress
        check_yield(i, w, alone, lambda D: np.full((D.size, at["mu_thread"].size), i.preload), at)
    w.result("utilisation", nu, one, "Combined stress over yield", 3)
    warn_of_breaking(i, w, bolt, i.preload)


TORQUE = Working(
    name="torque_from_preload",
    title="Torque from preload",
    question="what torque gives this preload",
    phase="tighten",
    fields=(
        quantity("preload", kN, "Preload", symbol="F_M", above=0.0, example='"25 kN"', group="Clamp"),
        THREAD,
        *FRICTION,
        *FRICTION_BAND,
        *BEARING,
        CLASS,
        *YIELD,
        SHANK,
        TORSION,
    ),
    run=run_torque,
    cautions=(GOVERNS, TEACHING, LUBRICANT, MISREAD),
)


# ------------------------------------------------------------------------------ assembly preload
def run_assembly(i: Inputs, w: Worksheet) -> None:
    """Preload and torque at which the bolt is used to a given part of its yield strength."""
    bolt = read_bolt(i, w, needs_yield=True)
    w.door()
    assert bolt is not None
    assert bolt.R_p is not None
    thread, mu_G, mu_K = bolt.thread, i.mu_thread, i.mu_head
    if bolt.d_0 == thread.d_S:
        d_3 = w.step("Minor diameter", thread.minor, d=thread.d, P=thread.P)
        w.step("Stress area", t.stress_area, d_2=thread.d_2, d_3=d_3)
    W_P = w.step(f"Section modulus, torsion {i.torsion}", TORSION_MODULUS[i.torsion], d_0=bolt.d_0)
    F_M = w.step(
        "Preload at that use of the yield strength",
        p.assembly_preload,
        nu=i.utilisation,
        R_p=bolt.R_p,
        A_0=bolt.A_0,
        W_P=W_P,
        P=thread.P,
        d_2=thread.d_2,
        mu_G=mu_G,
    )
    w.result("preload", F_M, kN, "Preload")
    M_A = w.step(
        "Torque", p.tightening_torque, F_M=F_M, P=thread.P, d_2=thread.d_2, D_Km=bolt.D_Km, mu_G=mu_G, mu_K=mu_K
    )
    w.result("torque", M_A, N_m, "Torque")
    M_G = p.thread_torque(F_M, thread.P, thread.d_2, mu_G)
    residue = p.combined_stress(F_M, M_G, bolt.A_0, W_P) / bolt.R_p - i.utilisation
    w.result("closing_residual", residue, one, "Closing residual of the utilisation", 2)
    w.assume(
        f"yield strength {bolt.R_p / 1e6:g} MPa"
        + (f", {bolt.yield_source}" if bolt.yield_source else ", source not given")
    )
    w.curve.update(mu=mu_G)


def _single(fields: tuple[Field, ...]) -> tuple[Field, ...]:
    """The same fields, but one value each."""
    return tuple(replace(f, band=False, help="a value") for f in fields)


ASSEMBLY = Working(
    name="assembly_preload",
    title="Assembly preload of a bolt",
    question="how much preload and torque does this bolt stand, at this friction",
    phase="tighten",
    fields=(
        THREAD,
        CLASS,
        *YIELD,
        *_single(FRICTION),
        number(
            "utilisation",
            "Use of the yield strength",
            symbol="nu",
            default="0.9",
            above=0.0,
            at_most=1.0,
            help="0.9 in VDI 2230",
            group="Strength",
        ),
        TORSION,
        *BEARING,
        SHANK,
    ),
    run=run_assembly,
    cautions=(GOVERNS, TEACHING, LUBRICANT, MISREAD),
)

WORKINGS = [THREAD_WORKING, PRELOAD, TORQUE, ASSEMBLY]
