"""The working ``preload_from_torque``: what preload does this torque give, and where does the torque go."""

from __future__ import annotations

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
    friction_band,
    read_bolt,
    show_utilisation,
    warn_of_breaking,
)


# ------------------------------------------------------------------------------ preload from torque
def run(inputs: PreloadFromTorqueInputs, worksheet: Worksheet) -> None:
    """Preload from torque, its range over the friction, where the torque goes, and how highly the bolt is stressed."""
    mu_thread, mu_head = friction_band(inputs, worksheet)
    bolt = read_bolt(inputs, worksheet)
    worksheet.raise_refusals()
    assert bolt is not None
    thread, torque = bolt.thread, inputs.torque
    geometry: dict[str, Any] = {"P": thread.P, "d_2": thread.d_2, "D_Km": bolt.D_Km}
    mu_G, mu_K = inputs.mu_thread.value, inputs.mu_head.value
    F_M = worksheet.step("Preload", preload.preload, M_A=torque.value, mu_G=mu_G, mu_K=mu_K, **geometry)
    worksheet.result("preload", F_M, kN, "Preload")
    banded = torque.is_band or mu_thread[0] != mu_thread[1] or mu_head[0] != mu_head[1]
    low: Any = preload.preload(torque.low, mu_G=mu_thread[1], mu_K=mu_head[1], **geometry) if banded else None
    high: Any = preload.preload(torque.high, mu_G=mu_thread[0], mu_K=mu_head[0], **geometry) if banded else None
    worksheet.result("preload_low", low, kN, "Preload, lowest")
    worksheet.result("preload_high", high, kN, "Preload, highest")
    if banded:
        worksheet.result("spread_ratio", high / low, one, "Spread, highest ÷ lowest", 3)
    K = worksheet.step(Heading("Nut factor", digits=3), preload.nut_factor, M_A=torque.value, F_M=F_M, d=thread.d)
    worksheet.result("nut_factor", K, one, "Nut factor K, torque ÷ (preload × thread diameter)", 3)
    stretch = worksheet.step("Torque that stretches the bolt", preload.pitch_torque, F_M=F_M, P=thread.P)
    in_thread = worksheet.step(
        "Torque lost in the thread", preload.thread_friction_torque, F_M=F_M, d_2=thread.d_2, mu_G=mu_G
    )
    under_head = worksheet.step(
        "Torque lost under the bolt head", preload.head_friction_torque, F_M=F_M, D_Km=bolt.D_Km, mu_K=mu_K
    )
    for name, label, M in (
        ("share_pitch", "Share of the torque that stretches the bolt", stretch),
        ("share_thread", "Share lost in the thread", in_thread),
        ("share_head", "Share lost under the bolt head", under_head),
    ):
        worksheet.result(name, preload.share(M, torque.value), one, label, 3)
    at = lanes(torque=(torque.low, torque.high), mu_thread=mu_thread, mu_head=mu_head)
    lane: dict[str, Any] = {"M_A": at["torque"], "mu_G": at["mu_thread"], "mu_K": at["mu_head"]}
    show_utilisation(inputs, worksheet, bolt, F_M, lambda D: preload.preload(**lane, **geometry | {"D_Km": D}), at)
    warn_of_breaking(inputs, worksheet, bolt, F_M if high is None else high)
    top = 1.5 * torque.high
    M = np.linspace(0.0, top, 61)
    worksheet.plot_data.update(
        torque=M,
        mid=preload.preload(M, mu_G=mu_G, mu_K=mu_K, **geometry),
        low=preload.preload(M * torque.low / torque.value, mu_G=mu_thread[1], mu_K=mu_head[1], **geometry),
        high=preload.preload(M * torque.high / torque.value, mu_G=mu_thread[0], mu_K=mu_head[0], **geometry),
        banded=banded,
    )


class PreloadFromTorqueInputs(BoltInputs):
    """Inputs of ``preload_from_torque``."""

    torque = quantity(
        "torque",
        N_m,
        "Torque",
        symbol="M_A",
        above=0.0,
        band=True,
        help="a value, a range or a tolerance",
        example='"40 N*m"',
        group="Wrench",
    )


PRELOAD_FROM_TORQUE = Working(
    name="preload_from_torque",
    title="Preload from torque",
    question="what preload does this torque give, and where does the torque go",
    phase="tighten",
    inputs=PreloadFromTorqueInputs,
    run=run,
    cautions=(GOVERNS, TEACHING, LUBRICANT, MISREAD),
)
