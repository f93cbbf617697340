"""Words for a stage of a tightening programme."""

from __future__ import annotations

from shoplib.core.units import N_m, unit_of

TORQUE = unit_of(N_m)
PEAK_TOLERANCE = "Largest allowed difference of a peak torque from the median"
