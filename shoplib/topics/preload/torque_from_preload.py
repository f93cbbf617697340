"""The working ``torque_from_preload``: what torque gives this preload."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from shoplib.core.corner_lanes import lanes
from shoplib.core.fields import quantity
from shoplib.core.units import N_m, kN, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import preload
from shoplib.topics.cautions import MISREAD
from shoplib.topics.threads.bolt_inputs import (
    LUBRICANT,
    TEACHING,
    BoltInputs,
    check_yield,
    friction_band,
    read_bolt,
    tension_and_torsion,
    warn_of_breaking,
)


# ------------------------------------------------------------------------------ torque from preload
def run(inputs: TorqueFromPreloadInputs, worksheet: Worksheet) -> None:
    """Torque for a given preload, with its range over the friction."""
    mu_thread, mu_head = friction_band(inputs, worksheet)
    bolt = read_bolt(inputs, worksheet)
    worksheet.raise_refusals()
    assert bolt is not None
    geometry: dict[str, Any] = {"P": bolt.thread.P, "d_2": bolt.thread.d_2, "D_Km": bolt.D_Km}
    mu_G, mu_K = inputs.mu_thread.value, inputs.mu_head.value
    M_A = worksheet.step("Torque", preload.tightening_torque, F_M=inputs.preload, mu_G=mu_G, mu_K=mu_K, **geometry)
    worksheet.result("torque", M_A, N_m, "Torque")
    banded = mu_thread[0] != mu_thread[1] or mu_head[0] != mu_head[1]
    for name, label, end in (
        ("torque_low", "Torque, lowest friction", 0),
        ("torque_high", "Torque, highest friction", 1),
    ):
        M = (
            preload.tightening_torque(inputs.preload, mu_G=mu_thread[end], mu_K=mu_head[end], **geometry)
            if banded
            else None
        )
        worksheet.result(name, M, N_m, label)
    worksheet.result(
        "nut_factor",
        worksheet.step("Nut factor", preload.nut_factor, M_A=M_A, F_M=inputs.preload, d=bolt.thread.d),
        one,
        "Nut factor K",
        3,
    )
    nu = None
    if bolt.R_p is not None:
        sigma = tension_and_torsion(worksheet, inputs, bolt, inputs.preload, mu_G)
        nu = worksheet.step(
            Heading("Utilisation of yield", digits=3), preload.utilisation, sigma_red=sigma, R_p=bolt.R_p
        )
        at = lanes(mu_thread=mu_thread)
        alone = replace(bolt, bearings={})  # at a given preload the face under the head changes no stress
        check_yield(inputs, worksheet, alone, lambda D: np.full((D.size, at["mu_thread"].size), inputs.preload), at)
    worksheet.result("utilisation", nu, one, "Combined stress ÷ yield strength", 3)
    warn_of_breaking(inputs, worksheet, bolt, inputs.preload)


class TorqueFromPreloadInputs(BoltInputs):
    """Inputs of ``torque_from_preload``."""

    preload = quantity("preload", kN, "Preload", symbol="F_M", above=0.0, example='"25 kN"', group="Preload")


TORQUE_FROM_PRELOAD = Working(
    name="torque_from_preload",
    title="Torque from preload",
    question="what torque gives this preload",
    phase="tighten",
    inputs=TorqueFromPreloadInputs,
    run=run,
    cautions=(GOVERNS, TEACHING, LUBRICANT, MISREAD),
)
