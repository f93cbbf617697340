"""Inputs of the tightening workings that several tests use."""

from shoplib.topics import get

MODEL = {
    "thread": "M10x1.5", "shank_diameter": "8.4 mm", "shank_length": "100 mm", "thread_length": "20 mm",
    "mu_thread": "0.12", "mu_head": "0.12", "mu_low": "0.10", "mu_high": "0.16", "bearing_mean": "13 mm",
    "yield_strength": "940 MPa", "yield_strength_source": "the workshop's model bolt", "tensile_strength": "1040 MPa",
    "uniform_strain": "5 %", "uniform_strain_source": "the workshop's model bolt", "parts_stiffness": "286.1 kN/mm",
    "ends": "none",
}  # fmt: skip

STAGED, TRAVEL = get("staged_tightening"), get("angle_travel")
