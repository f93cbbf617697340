"""The working ``torque_from_preload``: what torque gives this preload."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from shoplib.core.corner_lanes import lanes
from shoplib.core.fields import quantity
from shoplib.core.units import N_m, kN, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import preload
from shoplib.topics.cautions import MISREAD
from shoplib.topics.threads.bolt_inputs import (
    LUBRICANT,
    TEACHING,
    BoltInputs,
    friction_band,
    read_bolt,
    show_utilisation,
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
    for name, G, K in zip(("low", "high"), mu_thread, mu_head, strict=True):
        M = preload.tightening_torque(inputs.preload, mu_G=G, mu_K=K, **geometry) if banded else None
        worksheet.result(f"torque_{name}", M, N_m, f"Torque, {name}est friction")
    factor = worksheet.step("Nut factor", preload.nut_factor, M_A=M_A, F_M=inputs.preload, d=bolt.thread.d)
    worksheet.result("nut_factor", factor, one, "Nut factor K, torque ÷ (preload × thread diameter)", 3)
    at = lanes(mu_thread=mu_thread)
    alone = replace(bolt, bearings={})  # at a given preload the face under the head changes no stress
    show_utilisation(
        inputs, worksheet, alone, inputs.preload,
        lambda D: np.full((D.size, at["mu_thread"].size), inputs.preload), at,
    )  # fmt: skip
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
