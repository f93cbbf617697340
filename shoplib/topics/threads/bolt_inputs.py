"""The inputs that describe a bolt (thread, class, bearing, friction), and how they are read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core.conditions import one_of
from shoplib.core.corner_lanes import Range, corner_at
from shoplib.core.fields import choice, number, quantity, sourced_limit, words
from shoplib.core.inputs import Inputs
from shoplib.core.units import MPa, mm, one
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import preload as preload_formulas
from shoplib.physics import threads

TEACHING = "Do not use these curves and estimates of clamp load as settings: they are for teaching."


LUBRICANT = (
    "Use the lubricant that the source names, and only where it says to put it. Lubricant on the thread and under the "
    "bolt head changes the clamp load as much as the torque does."
)


# ------------------------------------------------------------------------------ fields that every bolt working shares
THREAD = words(
    "thread",
    "Thread",
    symbol="d",
    help="nominal diameter and pitch; M10 alone is read as coarse pitch",
    example=threads.EXAMPLE,
    group="Bolt",
    grammar=threads.read_thread,
)


THINNEST_SHANK = 0.6  # of the thread's diameter: waisted bolts are not thinner (common practice, no source)
SHANK = quantity(
    "shank_diameter",
    mm,
    "Shank diameter",
    symbol="d_T",
    required=False,
    above=0.0,
    help="at its thinnest; for a plain shank, the thread's size",
    example='"8.4 mm"',
    group="Bolt",
)


CLASS = choice(
    "property_class",
    "Property class",
    threads.property_classes(),
    required=False,
    help="as stamped on the head",
    example="10.9",
    group="Strength",
)


YIELD = sourced_limit(
    "yield_strength",
    MPa,
    "Yield strength",
    symbol="R_p",
    above=0.0,
    help="instead of the property class",
    example='"940 MPa"',
    group="Strength",
)


TORSION = choice(
    "torsion",
    "Torsion at yield",
    ("plastic", "elastic"),
    default="plastic",
    help=(
        "how twist counts at yield: normally plastic (VDI 2230); choose elastic only if your source says so. If the "
        "result says that pass or fail depends on this, select one"
    ),
    group="Strength",
)


FRICTION = tuple(
    number(
        name,
        label,
        symbol=symbol,
        above=0.0,
        at_most=1.0,
        band=True,
        help="a value, or a range such as 0.10–0.16",
        example="0.12",
        group="Friction",
    )
    for name, label, symbol in (
        ("mu_thread", "Friction in the thread", "mu_G"),
        ("mu_head", "Friction under the bolt head", "mu_K"),
    )
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
        help="used for thread and head, in place of a range in each",
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
        help="washer face under the bolt head",
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
        help="instead of outer and hole diameter",
        example='"13 mm"',
        group="Under the head",
        excludes=("bearing_outer", "bearing_hole"),
        plausible=BEARING_BOUNDS,
    ),
)


class ThreadInput(Inputs):
    """The thread of a bolt."""

    thread = THREAD


class FrictionInputs(Inputs):
    """Friction in thread and head, and the range around both."""

    mu_thread, mu_head = FRICTION
    mu_low, mu_high = FRICTION_BAND


class BearingInputs(Inputs):
    """The face under the head."""

    bearing_outer, bearing_hole, bearing_mean = BEARING


class ClassInput(Inputs):
    """The property class."""

    property_class = CLASS


class StrengthInputs(ClassInput):
    """Property class or yield strength."""

    property_class = CLASS
    yield_strength, yield_strength_source = YIELD
    combinations = (one_of("property_class", "yield_strength", required=False),)


class ShankInput(Inputs):
    """The shank."""

    shank_diameter = SHANK


class TorsionInput(Inputs):
    """How the section counts in torsion."""

    torsion = TORSION


class HeadedBolt(ThreadInput, BearingInputs):
    """What every bolt that clamps has: a thread, and a face under its head."""


class BoltInputs(HeadedBolt, FrictionInputs, StrengthInputs, ShankInput, TorsionInput):
    """A bolt that is tightened: thread, friction, head, strength."""

    thread = THREAD
    mu_thread, mu_head = FRICTION
    mu_low, mu_high = FRICTION_BAND


# ------------------------------------------------------------------------------ reading a bolt
@dataclass(frozen=True)
class Bolt:
    """The bolt as read from the inputs, in SI."""

    thread: threads.Thread
    D_Km: float
    A_0: float
    d_0: float
    R_p: float | None
    yield_source: str | None
    bearings: Mapping[str, Range]  # input of the bearing face that was left out → range of possible mean diameters


def read_thread(inputs: ThreadInput, worksheet: Worksheet) -> threads.Thread:
    """The thread, and what is said of it."""
    thread = threads.read_thread(inputs.thread)
    if thread.assumed:
        worksheet.assume(thread.assumed)
    if thread.left:
        worksheet.caution("A left-hand thread: it tightens anticlockwise and loosens clockwise.")
    return thread


NARROWEST_FACE, WIDEST_FACE = 1.2, 2.5  # outer diameter of the face under a head over that of the thread (common


# practice, no source): every head lies between these, so what holds at both does not depend on the head


@dataclass(frozen=True)
class Bearing:
    """The face under the head: its mean diameter, and what it could be where a size was left out, m."""

    mean: float
    possible: Mapping[str, Range]


def read_bearing(inputs: BearingInputs, worksheet: Worksheet, thread: threads.Thread) -> Bearing | None:
    """Mean bearing diameter: typed, or of the metric hexagon head as a printed assumption."""
    if inputs.given("bearing_mean"):
        return Bearing(float(inputs.bearing_mean), {})
    outer, hole = inputs.bearing_outer, inputs.bearing_hole
    possible: dict[str, Range] = {}
    if outer is None or hole is None:
        found = None if thread.inch else threads.hexagon_bearing(thread.d)
        if found is None:
            for name, value in (("bearing_outer", outer), ("bearing_hole", hole)):
                if value is None:
                    worksheet.refuse(
                        name,
                        f"is needed: the head size of {thread.name} is not in the table; "
                        f"or give {worksheet.label('bearing_mean')}",
                    )
            return None
        d_w, d_h, origin = found
        least_hole, most_hole = (hole, hole) if hole else (thread.d, outer or WIDEST_FACE * thread.d)
        narrow, wide = (outer, outer) if outer else (max(NARROWEST_FACE * thread.d, least_hole), WIDEST_FACE * thread.d)
        possible[_left_out(outer, hole)] = ((least_hole + narrow) / 2, (most_hole + wide) / 2)
        memory = ", not checked against the standard" if origin == "from memory" else ""
        if outer is None:
            outer = d_w
            worksheet.assume(f"hexagon head, washer face {d_w * 1e3:g} mm (ISO 4014{memory})")
        if hole is None:
            hole = d_h
            worksheet.assume(f"clearance hole {d_h * 1e3:g} mm (ISO 273, medium{memory})")
    if not outer > hole:
        worksheet.refuse("bearing_outer", f"must be larger than the hole, {hole * 1e3:g} mm")
        return None
    return Bearing(
        float(worksheet.step("Mean bearing diameter", preload_formulas.mean_bearing_diameter, d_w=outer, d_h=hole)),
        possible,
    )


def _left_out(outer: float | None, hole: float | None) -> str:
    if outer is None and hole is None:
        return "bearing_mean"
    return "bearing_outer" if outer is None else "bearing_hole"


def refuse_thick_shank(shank: float, thread: threads.Thread, worksheet: Worksheet) -> None:
    """Refuse a shank that is more than a rolling tolerance thicker than its thread."""
    if shank > thread.d * 1.02:
        worksheet.refuse("shank_diameter", f"is larger than the nominal diameter, {thread.d * 1e3:g} mm")


def read_bolt(inputs: HeadedBolt, worksheet: Worksheet) -> Bolt | None:
    """Thread, bearing, weaker section and yield strength; refuses inputs that contradict each other."""
    thread = read_thread(inputs, worksheet)
    worksheet.step("Pitch diameter", threads.pitch_diameter, d=thread.d, P=thread.P)
    bearing = read_bearing(inputs, worksheet, thread)
    A_0, d_0 = thread.A_s, thread.d_S
    shank = inputs.shank_diameter if isinstance(inputs, ShankInput) else None
    if shank is not None:
        refuse_thick_shank(shank, thread, worksheet)
        if shank < thread.d_S:
            A_0, d_0 = worksheet.step("Weakest section: the shank", threads.circle_area, d_0=shank), shank
    R_p, source = None, None
    if isinstance(inputs, StrengthInputs):
        R_p, source = read_yield(inputs, worksheet, thread)
    if R_p is not None and shank is None and isinstance(inputs, ShankInput):
        worksheet.assume(
            f"shank diameter the same as the thread, {thread.d * 1e3:g} mm, so the thread is the weakest section: "
            f"stress diameter {thread.d_S * 1e3:.3f} mm"
        )
    if bearing is None:
        return None
    return Bolt(thread, bearing.mean, float(A_0), float(d_0), R_p, source, bearing.possible)


def read_yield(inputs: StrengthInputs, worksheet: Worksheet, thread: threads.Thread) -> tuple[float | None, str | None]:
    """Yield strength and where it comes from."""
    if inputs.given("yield_strength"):
        return float(inputs.yield_strength), inputs.yield_strength_source
    if inputs.given("property_class"):
        found = threads.property_class(inputs.property_class, thread)
        if found is None:
            worksheet.refuse(
                "property_class",
                f"{inputs.property_class} does not cover {thread.name}; give {worksheet.label('yield_strength')} "
                f"instead",
                "8.8",
            )
            return None, None
        return found.R_p, f"{found.standard}, class {found.name}"
    return None, None


def friction_band(inputs: FrictionInputs, worksheet: Worksheet) -> tuple[tuple[float, float], tuple[float, float]]:
    """((thread low, high), (head low, high)); one pair mu_low/mu_high applies to both."""
    thread, head = inputs.mu_thread, inputs.mu_head
    low, high = inputs.mu_low, inputs.mu_high
    if low is not None and high is not None:
        both = f"{worksheet.label('mu_thread')} and {worksheet.label('mu_head')}"
        if low > high:
            worksheet.refuse("mu_low", f"is above {worksheet.label('mu_high')}")
        if thread.is_band or head.is_band:
            worksheet.refuse("mu_low", f"is a second range: {both.replace('and', 'or')} holds one already")
        if not (low <= thread.value <= high and low <= head.value <= high):
            worksheet.refuse("mu_low", f"the range up to {worksheet.label('mu_high')} must include {both}")
        return (low, high), (low, high)
    return (thread.low, thread.high), (head.low, head.high)


TORSION_MODULUS = {
    "plastic": preload_formulas.torsion_modulus_plastic,
    "elastic": preload_formulas.torsion_modulus_elastic,
}


def tension_and_torsion(worksheet: Worksheet, inputs: TorsionInput, bolt: Bolt, F_M: float, mu_G: float) -> float:
    """Combined stress at a preload while tightening, in the weakest section; steps are shown."""
    thread = bolt.thread
    M_G = worksheet.step(
        "Torque in the shank", preload_formulas.thread_torque, F_M=F_M, P=thread.P, d_2=thread.d_2, mu_G=mu_G
    )
    W_P = worksheet.step(f"Torsional section modulus, {inputs.torsion}", TORSION_MODULUS[inputs.torsion], d_0=bolt.d_0)
    return float(
        worksheet.step(
            "Tension and torsion together", preload_formulas.combined_stress, F_M=F_M, M_G=M_G, A_0=bolt.A_0, W_P=W_P
        )
    )


def show_utilisation(
    inputs: BoltInputs, worksheet: Worksheet, bolt: Bolt, F_M: float, preload: Callable[[Any], Any],
    at: Mapping[str, Any],
) -> None:  # fmt: skip
    """Combined stress over yield strength at the preload ``F_M``, and its check at the worst corner.

    ``preload`` and ``at`` are those of :func:`check_yield`.  Without a yield strength the result is empty.
    """
    nu = None
    if bolt.R_p is not None:
        sigma = tension_and_torsion(worksheet, inputs, bolt, F_M, inputs.mu_thread.value)
        nu = worksheet.step(
            Heading("Combined stress ÷ yield strength", digits=3),
            preload_formulas.utilisation,
            sigma_red=sigma,
            R_p=bolt.R_p,
        )
        check_yield(inputs, worksheet, bolt, preload, at)
    worksheet.result("utilisation", nu, one, "Combined stress ÷ yield strength", 3)


def check_yield(
    inputs: TorsionInput, worksheet: Worksheet, bolt: Bolt, preload: Callable[[Any], Any], at: Mapping[str, Any]
) -> None:
    """Judge the combined stress at its worst corner.

    ``preload(D_Km)`` gives the preload in each lane of ``at``.  The ends of the ranges suffice: the stress rises with
    the torque, falls with the friction under the head, and over the friction in the thread it is a convex function
    divided by a straight line, which has its maximum at an end.
    """
    assert bolt.R_p is not None
    thread = bolt.thread
    bearings = [d for ends in bolt.bearings.values() for d in ends]
    thin = THINNEST_SHANK * thread.d
    cases = [(inputs.torsion, bolt.D_Km, bolt.d_0), (inputs.torsion, bolt.D_Km, thin)]
    cases += [("elastic" if inputs.torsion == "plastic" else "plastic", bolt.D_Km, bolt.d_0)]
    cases += [(inputs.torsion, d, bolt.d_0) for d in bearings]
    D_Km = np.array([[d] for _, d, _ in cases])
    W_P = np.array([[float(TORSION_MODULUS[word](d_0))] for word, _, d_0 in cases])
    A_0 = np.array([[float(threads.circle_area(d_0)) if d_0 == thin else bolt.A_0] for _, _, d_0 in cases])
    F = preload(D_Km)
    M_G = preload_formulas.thread_torque(F, thread.P, thread.d_2, at["mu_thread"])
    nu = preload_formulas.utilisation(preload_formulas.combined_stress(F, M_G, A_0, W_P), bolt.R_p)
    most = nu.max(axis=1).tolist()
    lane = int(nu[0].argmax())
    otherwise = {"shank_diameter": [most[1]], "torsion": [most[2]]} | dict.fromkeys(bolt.bearings, most[3:])
    worksheet.check("Combined stress below yield", most[0], "<", 1.0, one, bolt.yield_source,
                    corner=corner_at(at, lane), otherwise=otherwise)  # fmt: skip


def warn_of_breaking(inputs: ClassInput, worksheet: Worksheet, bolt: Bolt, F_M: float) -> None:
    """Warn of a preload that no bolt of this size can carry."""
    strength = threads.property_class(inputs.property_class, bolt.thread) if inputs.given("property_class") else None
    named, R_m = (strength.name, strength.R_m) if strength is not None else threads.strongest(bolt.thread)
    if R_m is not None and R_m * bolt.A_0 < F_M:
        which = f"class {named}" if strength is not None else f"{named}, the strongest class in the tables"
        worksheet.caution(
            f"The bolt would break: {F_M / 1e3:.4g} kN is more than its ultimate load, {R_m * bolt.A_0 / 1e3:.4g} kN "
            f"({which}). Check the torque, the thread and the friction."
        )
