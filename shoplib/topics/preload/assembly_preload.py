"""The working ``assembly_preload``: how much preload and torque can this bolt take, at this friction."""

from __future__ import annotations

from dataclasses import replace

from shoplib.core import rounding
from shoplib.core.conditions import one_of
from shoplib.core.fields import Field, number
from shoplib.core.units import N_m, kN, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import preload, threads
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
def run(inputs: AssemblyPreloadInputs, worksheet: Worksheet) -> None:
    """Preload and torque that use a given part of the bolt's yield strength."""
    bolt = read_bolt(inputs, worksheet)
    worksheet.raise_refusals()
    assert bolt is not None
    assert bolt.R_p is not None
    thread, mu_G, mu_K = bolt.thread, inputs.mu_thread, inputs.mu_head
    if bolt.d_0 == thread.d_S:
        d_3 = worksheet.step("Minor diameter", thread.minor, d=thread.d, P=thread.P)
        worksheet.step("Stress area", threads.stress_area, d_2=thread.d_2, d_3=d_3)
    W_P = worksheet.step(f"Torsional section modulus, {inputs.torsion}", TORSION_MODULUS[inputs.torsion], d_0=bolt.d_0)
    F_M = worksheet.step(
        "Preload at this part of the yield strength",
        preload.assembly_preload,
        nu=inputs.utilisation,
        R_p=bolt.R_p,
        A_0=bolt.A_0,
        W_P=W_P,
        P=thread.P,
        d_2=thread.d_2,
        mu_G=mu_G,
    )
    worksheet.result("preload", F_M, kN, "Preload")
    M_A = worksheet.step(
        "Torque", preload.tightening_torque, F_M=F_M, P=thread.P, d_2=thread.d_2, D_Km=bolt.D_Km, mu_G=mu_G, mu_K=mu_K
    )
    worksheet.result("torque", M_A, N_m, "Torque")
    M_G = preload.thread_torque(F_M, thread.P, thread.d_2, mu_G)
    used = preload.combined_stress(F_M, M_G, bolt.A_0, W_P) / bolt.R_p
    residue = rounding.without_noise(used - inputs.utilisation, used)
    worksheet.result("closing_residual", residue, one, "Check of the utilisation (0 is right)", 2)
    worksheet.assume(
        f"yield strength {bolt.R_p / 1e6:g} MPa"
        + (f", {bolt.yield_source}" if bolt.yield_source else ", source not given")
    )
    worksheet.plot_data.update(mu=mu_G)


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
