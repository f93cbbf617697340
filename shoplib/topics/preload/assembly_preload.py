"""The working ``assembly_preload``: how much preload and torque can this bolt take, at this friction."""

from __future__ import annotations

from dataclasses import replace

from shoplib.core.conditions import one_of
from shoplib.core.fields import Field, number
from shoplib.core.units import N_m, kN, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import preload as p
from shoplib.physics import threads as t
from shoplib.topics.cautions import MISREAD
from shoplib.topics.threads.bolt_inputs import (
    BEARING,
    CLASS,
    FRICTION,
    LUBRICANT,
    SHANK,
    TEACHING,
    THREAD,
    TORSION,
    TORSION_MODULUS,
    YIELD,
    HeadedBolt,
    ShankInput,
    StrengthInputs,
    TorsionInput,
    read_bolt,
)


# ------------------------------------------------------------------------------ assembly preload
def run(i: AssemblyPreloadInputs, w: Worksheet) -> None:
    """Preload and torque that use a given part of the bolt's yield strength."""
    bolt = read_bolt(i, w)
    w.door()
    assert bolt is not None
    assert bolt.R_p is not None
    thread, mu_G, mu_K = bolt.thread, i.mu_thread, i.mu_head
    if bolt.d_0 == thread.d_S:
        d_3 = w.step("Minor diameter", thread.minor, d=thread.d, P=thread.P)
        w.step("Stress area", t.stress_area, d_2=thread.d_2, d_3=d_3)
    W_P = w.step(f"Section modulus, torsion {i.torsion}", TORSION_MODULUS[i.torsion], d_0=bolt.d_0)
    F_M = w.step(
        "Preload at this part of the yield strength",
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
    return tuple(replace(f, band=False, help="") for f in fields)


class AssemblyPreloadInputs(HeadedBolt, StrengthInputs, ShankInput, TorsionInput):
    """Inputs of ``assembly_preload``."""

    combinations = (one_of("property_class", "yield_strength"),)
    thread = THREAD
    property_class = CLASS
    yield_strength, yield_strength_source = YIELD
    mu_thread, mu_head = _single(FRICTION)
    utilisation = number(
        "utilisation",
        "Part of the yield strength used",
        symbol="nu",
        default="0.9",
        above=0.0,
        at_most=1.0,
        help="0.9 in VDI 2230",
        group="Strength",
    )
    torsion = TORSION
    bearing_outer, bearing_hole, bearing_mean = BEARING
    shank_diameter = SHANK


ASSEMBLY_PRELOAD = Working(
    name="assembly_preload",
    title="Assembly preload of a bolt",
    question="how much preload and torque can this bolt take, at this friction",
    phase="tighten",
    inputs=AssemblyPreloadInputs,
    run=run,
    cautions=(GOVERNS, TEACHING, LUBRICANT, MISREAD),
)
