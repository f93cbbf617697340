"""Inputs that the loads on a joint share."""

from __future__ import annotations

from dataclasses import replace

from shoplib.core.fields import quantity
from shoplib.core.units import kN, kN_per_mm
from shoplib.topics.angle.joint_stiffness import PARTS

PRELOAD = quantity("preload", kN, "Preload", symbol="F_M", above=0.0, example='"25 kN"', group="Preload")


BOLT_STIFFNESS = quantity(
    "bolt_stiffness",
    kN_per_mm,
    "Stiffness of the bolt",
    symbol="k_b",
    above=0.0,
    help="from “Stiffness of bolt and clamped parts”",
    example='"95.4 kN/mm"',
    group="Stiffness",
)


PARTS_STIFFNESS = replace(PARTS, help="from “Stiffness of bolt and clamped parts”")


ELASTIC = "elastic: nothing yields, slides or opens"
WARM = f"{ELASTIC}, and the stiffness is the same as when cold"
