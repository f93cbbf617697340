"""A trace beside the model's curve: the simulator of the tests, which shares no code, is the other side."""

from math import degrees, pi

import numpy as np
import pytest

from shoplib.topics import get
from tests.trace_simulator import Joint, as_csv, simulate

AGAINST = get("trace_against_model")
PER_MPA = 57.99  # mm², stress area of M10 (ISO 898-1)
JOINT = Joint(1.5, 9.026, 13.0, 0.12, 0.12, 3.2e-6, 0.02, 1500.0, 42_000.0, 0.1, 0.004, 0.6)
# bolt: 12 mm of ∅10 and 8 mm on the stress area, E 205 GPa; the parts make the sum 3.2e-6 mm/N
BOLT = 12 / (205e3 * pi / 4 * 100) + 8 / (205e3 * PER_MPA)
MODEL = {
    "thread": "M10x1.5", "bearing_mean": "13 mm", "mu_thread": "0.12", "mu_head": "0.12", "yield_strength": "830 MPa",
    "yield_strength_source": "page 4", "tensile_strength": "930 MPa", "tensile_strength_source": "page 4",
    "uniform_strain": "6 %", "uniform_strain_source": "page 4", "shank_diameter": "10 mm", "shank_length": "12 mm",
    "thread_length": "8 mm", "parts_stiffness": f"{1e-3 / (3.2e-6 - BOLT):.6f} kN/mm", "ends": "none",
}  # fmt: skip


def compared(joint=JOINT, **typed):
    made = simulate(11, noise=0.002, samples=600, strokes=0, beyond=True, joint=joint)
    return made, AGAINST({"trace": as_csv(made).decode(), **MODEL, **typed})


def test_the_model_follows_a_trace_of_its_own_joint():
    made, result = compared()
    per_degree = 180 / pi
    assert result["model_slope"] / per_degree == pytest.approx(made.truth.slope, rel=0.002)
    assert result["slope_difference"] == pytest.approx(0, abs=0.02)
    assert result["slope_is"] == "within the range of the model"
    # the simulator bends about its yield force, the model at its own: both are found near the same angle
    assert degrees(result["drop_angle"]) == pytest.approx(degrees(result["model_drop_angle"]), abs=3)
    assert abs(result["torque_difference"]) < 4


@pytest.mark.parametrize(("friction", "typed", "said"), [
    (0.16, {}, "above the range of the model"),
    (0.08, {}, "below the range of the model"),
    (0.16, {"mu_low": "0.10", "mu_high": "0.18"}, "within the range of the model"),
])  # fmt: skip
def test_other_friction_shows_in_the_slope_and_a_range_covers_it(friction, typed, said):
    joint = Joint(**{**JOINT.__dict__, "mu_G": friction, "mu_K": friction})
    made, result = compared(joint, **typed)
    assert result["slope_is"] == said
    wanted = made.truth.slope / simulate(11, samples=50, joint=JOINT).truth.slope - 1
    assert result["slope_difference"] == pytest.approx(wanted, abs=0.02)
    low, high = result["model_slope_low"], result["model_slope_high"]
    assert (low < result["model_slope"] < high) is bool(typed)


def test_the_half_slope_of_the_model_by_counting():
    """The closed form against the curve itself, differenced."""
    _, result = compared(uniform_strain="0.1 %")  # so little that the slope does not fall to half at once
    data = result.plot_data
    slope = np.gradient(data["model_torque"][0], data["model_angle"][0])
    first = int(np.argmax(slope < slope[5] / 2))
    assert data["model_angle"][0][first] == pytest.approx(result["model_drop_angle"], rel=0.01)
    assert result["model_drop_angle"] > 1.02 * result["model_yield_preload"] * 3.2e-9 * 2 * pi / 1.5e-3


def test_a_trace_without_an_elastic_line_is_not_compared():
    few = "angle_deg;torque_Nm\n" + "\n".join(f"{10 * k};{8 * k}" for k in range(9))
    result = AGAINST({"trace": few, **MODEL})
    assert result["slope_is"] is None
    assert result["slope_difference"] is None
    assert result["torque_difference"] is None
    assert any("nothing to compare" in a for a in result.assumptions)
    assert result["model_slope"] > 0
