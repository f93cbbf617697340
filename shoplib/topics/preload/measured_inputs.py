"""Inputs that the workings on a measured bolt share."""

from __future__ import annotations

from shoplib.core.fields import quantity
from shoplib.core.units import pct

STIFFNESS_ACCURACY = quantity(
    "stiffness_accuracy", pct, "Accuracy of the stiffness, ±", required=False, above=0.0, at_most=0.5,
    example='"8 %"', group="Test", needs=("bolt_stiffness",),
    help="from a calibration of the bolt; calculated from its sizes it is rarely better than 10 %",
)  # fmt: skip
