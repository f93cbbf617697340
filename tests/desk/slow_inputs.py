"""Inputs of a working that takes long enough to be stopped."""

from tests.topics.tightening_inputs import MODEL

SCATTER = MODEL | {
    "mu_low": "0.08", "mu_high": "0.16", "stages": "25 N*m; +180 deg", "torque_percent": "4 %", "angle_error": "5 deg",
    "yield_percent": "5 %",
}  # fmt: skip
