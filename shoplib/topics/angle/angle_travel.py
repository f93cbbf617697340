"""The working ``angle_travel``: how far does this angle move the thread, and how many N·m is that."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from shoplib.core.conditions import one_of
from shoplib.core.fields import quantity
from shoplib.core.rounding import same
from shoplib.core.units import N_m, deg, kN, kN_per_mm, mm, one, turn
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import angle, preload
from shoplib.physics.threads import Thread
from shoplib.topics.cautions import SHEAR
from shoplib.topics.threads.bolt_inputs import (
    BEARING,
    FRICTION,
    FRICTION_BAND,
    TEACHING,
    THREAD,
    Bearing,
    FrictionInputs,
    HeadedBolt,
    friction_band,
    read_bearing,
    read_thread,
)

NO_TORQUE = (
    "no fixed number: the angle sets how far the thread travels; the torque depends on stiffness, pitch and friction"
)


FLATS = 6  # of a hexagon


def run(inputs: AngleTravelInputs, worksheet: Worksheet) -> None:
    """Travel; and for the bolt described, the preload and torque that the angle adds while elastic."""
    thread = read_thread(inputs, worksheet) if inputs.given("thread") else None
    P = inputs.pitch if inputs.given("pitch") else thread.P if thread else None
    if P is not None and thread is not None and not same(P, thread.P):
        worksheet.refuse(
            "pitch",
            (f"is not the pitch of {thread.name}; check the bolt with a pitch gauge"),
        )
    bolt = None
    if thread is not None and inputs.given("series_stiffness", "mu_thread", "mu_head"):
        bolt = thread, read_bearing(inputs, worksheet, thread), friction_band(inputs, worksheet)
    worksheet.raise_refusals()
    assert P is not None
    s = worksheet.step("Travel", angle.travel, theta=inputs.angle, P=P)
    worksheet.result("travel", s, mm, "Travel of the thread", 3, all_digits=True)
    worksheet.result("turns", inputs.angle, turn, "Turns", 3, all_digits=True)
    worksheet.result("flats", inputs.angle / (2 * np.pi) * FLATS, one, "Flats of a hexagon")
    worksheet.result("torque_equivalent", NO_TORQUE, None, "How many N·m is that?")
    worksheet.plot_data.update(P=P, angle=inputs.angle)
    if bolt is not None:
        _added(inputs, worksheet, s, *bolt)


def _added(
    inputs: AngleTravelInputs, worksheet: Worksheet, s: float, thread: Thread, bearing: Bearing | None, band: Any
) -> None:
    """Preload and torque that the angle adds to this bolt while it is elastic."""
    assert bearing is not None
    worksheet.assume("bolt elastic and faces in contact; past yield the angle adds less")
    F = worksheet.step("Added preload, elastic", angle.elastic_gain, k_J=inputs.series_stiffness, s=s)
    geometry: Any = {"P": thread.P, "d_2": thread.d_2, "D_Km": bearing.mean}
    mu_G, mu_K = inputs.mu_thread.value, inputs.mu_head.value
    T = worksheet.step("Added torque", preload.tightening_torque, F_M=F, mu_G=mu_G, mu_K=mu_K, **geometry)
    low, high = (preload.tightening_torque(F, mu_G=G, mu_K=K, **geometry) for G, K in zip(*band, strict=True))
    worksheet.result("preload_gain", F, kN, "Added preload for this bolt")
    worksheet.result("torque_gain", T, N_m, "Added torque for this bolt")
    worksheet.result("torque_gain_low", low, N_m, "Added torque, lowest friction")
    worksheet.result("torque_gain_high", high, N_m, "Added torque, highest friction")


def _optional(fields: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple(replace(f, required=False) for f in fields)


class AngleTravelInputs(HeadedBolt, FrictionInputs):
    """Inputs of ``angle_travel``."""

    angle = quantity(
        "angle",
        deg,
        "Angle",
        symbol="theta",
        at_least=0.0,
        at_most=20 * np.pi,
        help="degrees, turns or flats",
        example='"90 deg"',
        group="Turning",
    )
    pitch = quantity(
        "pitch",
        mm,
        "Pitch",
        symbol="P",
        required=False,
        above=0.0,
        at_most=0.01,
        help="or give the thread",
        example='"1.5 mm"',
        group="Turning",
    )
    thread = replace(THREAD, required=False, group="What the angle adds for one bolt, elastic")
    series_stiffness = quantity(
        "series_stiffness",
        kN_per_mm,
        "Stiffness of bolt and parts in series",
        symbol="k_J",
        required=False,
        above=0.0,
        help="from “Stiffness of bolt and clamped parts”",
        example='"71.5 kN/mm"',
        group="What the angle adds for one bolt, elastic",
    )
    mu_thread, mu_head = _optional(FRICTION)
    mu_low, mu_high = FRICTION_BAND
    bearing_outer, bearing_hole, bearing_mean = BEARING
    combinations = (
        one_of("pitch", "thread", shared=("pitch", "thread")),
        one_of(("series_stiffness", "thread", "mu_thread", "mu_head"), required=False, shared=("thread",)),
    )


ANGLE_TRAVEL = Working(
    name="angle_travel",
    title="Thread travel for an angle",
    question="how far does this angle move the thread, and how many N·m is that",
    phase="tighten",
    inputs=AngleTravelInputs,
    run=run,
    cautions=(GOVERNS, TEACHING, SHEAR),
)
