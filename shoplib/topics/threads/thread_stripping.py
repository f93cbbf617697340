"""The working ``thread_stripping``: which fails first: the bolt, its thread or the tapped hole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shoplib.core.carried import Show, only_value
from shoplib.core.fields import choice, number, quantity, words
from shoplib.core.rounding import below
from shoplib.core.units import MPa, kN, mm, mm2, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import stripping, threads
from shoplib.topics.cautions import BLIND
from shoplib.topics.threads.bolt_inputs import SHANK, THREAD, ThreadInput, read_thread, refuse_thick_shank

BOLT, INTERNAL, EXTERNAL = "bolt", "internal thread", "external thread"


WHAT = {
    BOLT: "the bolt breaks first, and the hole survives",
    INTERNAL: "the tapped thread strips first",
    EXTERNAL: "the bolt's thread strips first",
}


def _tapped(
    inputs: ThreadStrippingInputs, worksheet: Worksheet, bolt: threads.Thread
) -> tuple[float, float, float, float]:
    """(major, pitch diameter, pitch, engaged length) of the thread that is tapped into the metal of head or block."""
    length = inputs.insert_length if inputs.given("insert_length") else inputs.engagement
    if inputs.insert == "none":
        return bolt.d, bolt.d_2, bolt.P, float(inputs.engagement)
    if not inputs.given("insert_length"):
        worksheet.assume("the insert is as long as the engaged length of the bolt")
    if inputs.insert == "wire":
        d = float(stripping.wire_insert_diameter(bolt.d, bolt.P))
        return d, float(threads.pitch_diameter(d, bolt.P)), bolt.P, float(length)
    outside = threads.read_thread(inputs.insert_thread)
    if outside.d <= bolt.d:
        worksheet.refuse("insert_thread", f"is not larger than the bolt's {bolt.name}", '"M14x1.5"')
    if outside.assumed:
        worksheet.assume(outside.assumed)
    return outside.d, outside.d_2, outside.P, float(length)


SHEAR_RATIOS = (0.55, 0.65)  # shear over tensile strength of bolt steels (common practice, no source)


def _first(F_B: float, F_in: float, F_ex: float) -> tuple[str, float]:
    """What gives way first, and its load; of equal loads that of the bolt."""
    first, least = BOLT, F_B
    for name, load in ((INTERNAL, F_in), (EXTERNAL, F_ex)):
        if below(load, least):
            first, least = name, load
    return first, least


@dataclass(frozen=True)
class Strip:
    """What decides at which load a thread strips, SI: the tapped hole and both shear areas."""

    hole: float
    area_in: float
    area_ex: float


def strip_loads(inputs: ThreadStrippingInputs, areas: Strip, show: Show) -> tuple[float, float, float]:
    """(strip load of the tapped thread, of the bolt's thread, strength ratio)."""
    tau_S = show("Shear strength of the bolt", stripping.bolt_shear_strength)(
        R_m=inputs.bolt_tensile, k_S=inputs.shear_ratio
    )
    tau_M = inputs.internal_shear_strength
    R_S = show("Strength ratio", stripping.strength_ratio)(
        tau_M=tau_M, A_SGM=areas.area_in, tau_S=tau_S, A_SGS=areas.area_ex
    )
    C_1, C_2, C_3 = 1.0, 0.897, 0.897
    if inputs.given("wall_width"):
        C_1 = show("Thin wall", stripping.dilation_factor)(s_w=inputs.wall_width, d=areas.hole)
    if inputs.insert == "none":
        C_2 = show("Bending of the bolt's thread", stripping.bolt_bending_factor)(R_S=R_S)
        C_3 = show("Bending of the tapped thread", stripping.tapped_bending_factor)(R_S=R_S)
    internal = show("Tapped thread strips at", stripping.internal_strip_load)(
        tau_M=tau_M, A_SGM=areas.area_in, C_1=float(C_1), C_3=float(C_3)
    )
    external = show("Bolt's thread strips at", stripping.external_strip_load)(
        tau_S=tau_S, A_SGS=areas.area_ex, C_1=float(C_1), C_2=float(C_2)
    )
    return float(internal), float(external), R_S


def _assume_factors(inputs: ThreadStrippingInputs, worksheet: Worksheet, R_S: float) -> None:
    """The factors of the thin wall and of the bent threads."""
    if not inputs.given("wall_width"):
        worksheet.assume("the wall around the hole is at least 1.9 times as wide as the hole, so C₁ is 1")
    if inputs.insert != "none":
        worksheet.assume(
            "the published bending factors do not cover inserts; the smallest of them, 0.897, is used for both"
        )
    elif not 0.4 < R_S < 2.2:
        worksheet.assume(
            f"strength ratio {R_S:.3g} is outside the range of the published factors; 0.897 is used, which is on the "
            "safe side"
        )


def run(inputs: ThreadStrippingInputs, worksheet: Worksheet) -> None:
    """Break load of the bolt, strip load of both threads, and the length at which they are equal."""
    bolt = read_thread(inputs, worksheet)
    d_T, d_2T, P_T, m_T = _tapped(inputs, worksheet, bolt)
    if inputs.given("wall_width") and inputs.wall_width < 1.4 * d_T:
        worksheet.refuse(
            "wall_width", f"is less than 1.4 times the hole, {d_T * 1e3:.3g} mm; the published factors end there"
        )
    shank = inputs.shank_diameter
    if shank is not None:
        refuse_thick_shank(shank, bolt, worksheet)
    worksheet.raise_refusals()
    m_e = inputs.engagement
    d_2 = worksheet.step("Pitch diameter", threads.pitch_diameter, d=bolt.d, P=bolt.P)
    D_1 = worksheet.step("Minor diameter of the hole", stripping.minor_diameter_internal, d=bolt.d, P=bolt.P)
    if inputs.insert == "wire":
        worksheet.step("Hole tapped for the wire insert", stripping.wire_insert_diameter, d=bolt.d, P=bolt.P)
    area_in = worksheet.step(
        "Shear area, tapped thread", stripping.internal_shear_area, d=d_T, D_2=d_2T, P=P_T, m_e=m_T
    )
    area_ex = worksheet.step(
        "Shear area, bolt's thread", stripping.external_shear_area, D_1=D_1, d_2=d_2, P=bolt.P, m_e=m_e
    )
    areas = Strip(d_T, area_in, area_ex)
    F_in, F_ex, R_S = strip_loads(inputs, areas, worksheet.show)
    _assume_factors(inputs, worksheet, R_S)
    A_0 = bolt.A_s
    if shank is not None and shank < bolt.d_S:
        A_0 = float(worksheet.step("Weakest section: the shank", threads.circle_area, d_0=shank))
    else:
        d_3 = worksheet.step("Minor diameter of the bolt", bolt.minor, d=bolt.d, P=bolt.P)
        worksheet.step("Stress area", threads.stress_area, d_2=d_2, d_3=d_3)
    F_B = float(worksheet.step("Bolt breaks at", stripping.break_load, R_m=inputs.bolt_tensile, A_0=A_0))
    first, least = _first(F_B, F_in, F_ex)
    if not inputs.typed("shear_ratio"):
        other = (strip_loads(inputs.replaced(shear_ratio=k), areas, only_value) for k in SHEAR_RATIOS)
        others = {_first(F_B, internal, external)[0] for internal, external, _ in other}
        if others != {first}:
            worksheet.caution(
                f"Type {worksheet.label('shear_ratio')}: between {SHEAR_RATIOS[0]:g} and {SHEAR_RATIOS[1]:g} it "
                "decides which part fails first."
            )
    worksheet.result("strip_load_internal", F_in, kN, "Tapped thread strips at")
    worksheet.result("strip_load_external", F_ex, kN, "Bolt's thread strips at")
    worksheet.result("break_load", F_B, kN, "Bolt breaks at")
    worksheet.result("breaks_first", first, None, "Fails first")
    worksheet.result("least_load", least, kN, "Load at which it fails")
    weakest, engaged = min((F_in, m_T), (F_ex, m_e))
    needed = worksheet.step(
        "Length at which thread and bolt are equally strong",
        stripping.needed_engagement,
        m_e=engaged,
        F_B=F_B,
        F_S=weakest,
    )
    worksheet.result(
        "needed_engagement", needed, mm, "Engagement needed for the bolt to break first", 3, all_digits=True
    )
    worksheet.result("strength_ratio", R_S, one, "Strength ratio R_S", 3)
    worksheet.result("shear_area_internal", area_in, mm2, "Shear area, tapped thread")
    worksheet.result("shear_area_external", area_ex, mm2, "Shear area, bolt's thread")
    worksheet.assume(
        "engagement counts full threads of the basic profile only; worn, oversize or tapered holes can take less"
    )
    if first != BOLT:
        worksheet.caution(f"Do not tighten further to make up for the short engagement: {WHAT[first]}.")
    m = np.linspace(0, max(1.15 * float(needed), 1.6 * engaged), 60)
    worksheet.plot_data.update(m=m, internal=F_in / m_T * m, external=F_ex / m_e * m, engaged_in=m_T, engaged_ex=m_e)


class ThreadStrippingInputs(ThreadInput):
    """Inputs of ``thread_stripping``."""

    thread = THREAD
    engagement = quantity(
        "engagement",
        mm,
        "Engaged length, full threads",
        symbol="m_e",
        above=0.0,
        example='"20 mm"',
        help="without the chamfer and the first turn",
        group="Bolt",
    )
    bolt_tensile = quantity(
        "bolt_tensile",
        MPa,
        "Tensile strength of the bolt",
        symbol="R_m",
        above=0.0,
        example='"1040 MPa"',
        help="the minimum for its class",
        group="Bolt",
    )
    shank_diameter = SHANK
    internal_shear_strength = quantity(
        "internal_shear_strength",
        MPa,
        "Shear strength of head or block",
        symbol="tau_M",
        above=0.0,
        example='"190 MPa"',
        help="of the tapped metal, from your source",
        group="Hole",
    )
    wall_width = quantity(
        "wall_width",
        mm,
        "Wall or nut, width across",
        symbol="s_w",
        required=False,
        above=0.0,
        example='"25 mm"',
        plausible=(2e-3, 2.0),
        help="outer width of a thin boss or nut around the thread",
        group="Hole",
    )
    insert = choice("insert", "Thread insert", ("none", "wire", "bush"), default="none", group="Insert")
    insert_thread = words(
        "insert_thread", "Outside thread of the bush", required=False, example='"M14x1.5"', group="Insert",
        grammar=threads.read_thread, needed_when=("insert", "bush"), only_when=("insert", "bush"),
    )  # fmt: skip
    insert_length = quantity(
        "insert_length",
        mm,
        "Length of the insert in the metal",
        required=False,
        only_when=("insert", "wire", "bush"),
        above=0.0,
        example='"20 mm"',
        group="Insert",
    )
    shear_ratio = number(
        "shear_ratio",
        "Shear over tensile strength, bolt",
        symbol="k_S",
        default="0.6",
        above=0.0,
        below=1.0,
        help="0.6 for bolt steel (Alexander, from memory, not checked)",
        group="Bolt",
    )


THREAD_STRIPPING = Working(
    name="thread_stripping",
    title="Stripping of a tapped hole",
    question="which fails first: the bolt, its thread or the tapped hole",
    phase="bolts",
    inputs=ThreadStrippingInputs,
    run=run,
    cautions=(
        GOVERNS,
        BLIND,
        "Do not use these loads as settings: they are the loads at which new threads fail. A thread that was pulled is "
        "weaker.",
        "For an insert, follow its maker for drill, tap and depth. This form does not judge the insert itself.",
    ),
)
