"""Words for a stage of a tightening programme."""

from __future__ import annotations

from shoplib.core.units import N_m, unit_of

TORQUE = unit_of(N_m)
PEAK_TOLERANCE = "Peak torque may differ from the middle value by"
