"""The working ``trace_against_model``: does the trace of this bolt follow the model of its joint."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from shoplib.core.carried import Show, only_value
from shoplib.core.corner_lanes import lanes
from shoplib.core.fields import words
from shoplib.core.units import N_m, N_m_per_deg, deg, kN, pct
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import angle as angle_formulas
from shoplib.physics import preload, tightening
from shoplib.physics.traces import Evaluation, evaluate, model_slope
from shoplib.topics.angle.programme import Joint, JointInputs, read_joint
from shoplib.topics.cautions import SHEAR
from shoplib.topics.threads.bolt_inputs import friction_band
from shoplib.topics.tightening.torque_angle_trace import TRACE, UNSEEN, thinned

ALIKE = (
    "Do not take the model's clamp load for the bolt's: more friction and a softer joint together give the same curve."
)
WITHIN, ABOVE, BELOW = "within the range of the model", "above the range of the model", "below the range of the model"
CURVE = 400  # points of the model's curve


class TraceAgainstModelInputs(JointInputs):
    """Inputs of ``trace_against_model``."""

    trace = TRACE
    bolt = words("bolt", "Bolt", required=False, example='"3"', group="Trace")


class Expected(NamedTuple):
    """The model's curve in each lane (friction as typed first), from the snug point on.  SI."""

    angle: Any  # (lanes, points)
    torque: Any
    slope: Any  # (lanes,)
    drop: Any  # (lanes,): the slope falls to half


# ------------------------------------------------------------------------------ the run
def run(inputs: TraceAgainstModelInputs, worksheet: Worksheet) -> None:
    """Evaluate the trace, work out the model's curve, and compare slope, yield and torque."""
    bands = friction_band(inputs, worksheet)
    joint = read_joint(inputs, worksheet)
    worksheet.raise_refusals()
    assert joint is not None
    at = lanes(mu_thread=bands[0], mu_head=bands[1])
    mu_G = np.concatenate(([inputs.mu_thread.value], at["mu_thread"]))
    mu_K = np.concatenate(([inputs.mu_head.value], at["mu_head"]))
    model = joint.model(inputs, mu_G, mu_K)
    found = evaluate(inputs.trace.angle, inputs.trace.torque)
    expected = _expected(model)
    _steps(worksheet, joint, model)
    for note in inputs.trace.notes:
        worksheet.assume(note)
    _results(worksheet, found, expected)
    level = found.snug.torque if found.snug else 0.0
    if found.why:
        worksheet.assume(f"nothing to compare, because the trace has no elastic line: {found.why}")
    else:
        worksheet.assume("the model's curve begins at the snug point of the trace, and its running torque is added")
    x, y = thinned(found)
    worksheet.plot_data.update(
        angle=x, torque=y, found=found, model_angle=expected.angle, model_torque=expected.torque + level,
        banded=bool(np.ptp(mu_G) or np.ptp(mu_K)),
    )  # fmt: skip


def _expected(model: tightening.Model) -> Expected:
    F, travel = tightening.curve(model, CURVE, np.zeros_like(model.F_y))
    per_newton = model.torque(np.ones_like(model.F_y))
    drop = _drop_of(model, model.F_y, model.F_m, only_value)
    slope = model_slope(per_newton, 1.0, model.P, model.delta)
    return Expected(angle_formulas.angle_of_travel(travel, model.P), F * per_newton[:, None], slope, drop)


def _drop_of(model: tightening.Model, F_y: Any, F_m: Any, show: Show) -> Any:
    """The angle from the snug point at which the slope has fallen to half, for numbers or arrays; rad."""
    half = show("Preload at half the slope", angle_formulas.half_slope_preload)(
        F_y=F_y, F_m=F_m, delta=model.delta, u_u=model.u_u
    )
    longer = show("Plastic elongation there", angle_formulas.plastic_elongation)(
        F=half, F_y=F_y, F_m=F_m, u_u=model.u_u
    )
    travel = show("Travel there", angle_formulas.position)(F=half, delta=model.delta, u_p=longer)
    return show("Angle there, from the snug point", angle_formulas.angle_of_travel)(s=travel, P=model.P)


def _steps(worksheet: Worksheet, joint: Joint, model: tightening.Model) -> None:
    """The printed steps for the friction as typed."""
    F_y, F_m = float(model.F_y[0]), float(model.F_m[0])
    M_A = worksheet.step("Torque at which the model yields", preload.tightening_torque, F_M=F_y, P=model.P,
                         d_2=model.d_2, D_Km=model.D_Km, mu_G=float(model.mu_G[0]),
                         mu_K=float(model.mu_K[0]))  # fmt: skip
    worksheet.step("Elastic slope of the model", model_slope, M_A=M_A, F_M=F_y, P=model.P, delta=model.delta)
    _drop_of(model, F_y, F_m, worksheet.show)
    worksheet.result("model_yield_preload", F_y, kN, "Preload at which the model yields")


# ------------------------------------------------------------------------------ comparing
def _results(worksheet: Worksheet, found: Evaluation, expected: Expected) -> None:
    """Slope, yield angle and torque of the trace beside those of the model; None where the trace has none."""
    result = worksheet.result
    slope, middle = found.slope, float(expected.slope[0])
    low, high = float(expected.slope.min()), float(expected.slope.max())
    result("slope", slope, N_m_per_deg, "Elastic slope of the trace")
    result("slope_uncertainty", found.slope_uncertainty if slope else None, N_m_per_deg,
           "Standard uncertainty of that slope", 2)  # fmt: skip
    result("model_slope", middle, N_m_per_deg, "Elastic slope of the model")
    result("model_slope_low", low, N_m_per_deg, "lowest, over the range of friction")
    result("model_slope_high", high, N_m_per_deg, "highest, over the range of friction")
    result("slope_difference", slope / middle - 1 if slope else None, pct, "Slope of the trace against the model", 2)
    result("slope_is", _side_of_range(slope, found.slope_uncertainty, low, high), None, "The slope of the trace is")
    drop = found.drop.angle - found.snug.angle if found.drop and found.snug else None
    result("drop_angle", drop, deg, "Slope of the trace falls to half, from the snug point, at", 3)
    result("model_drop_angle", float(expected.drop[0]), deg, "Slope of the model falls to half at", 3)
    result("model_drop_low", float(expected.drop.min()), deg, "least, over the range of friction", 3)
    result("model_drop_high", float(expected.drop.max()), deg, "most, over the range of friction", 3)
    result("drop_difference", None if drop is None else drop - float(expected.drop[0]), deg,
           "Trace later than the model by", 2)  # fmt: skip
    apart = _torque_differences(found, expected)
    result("torque_difference", apart[0] if apart else None, N_m, "Torque of the trace above the model, mean", 2)
    result("largest_difference", apart[1] if apart else None, N_m, "Largest difference of the torque", 2)
    result("largest_at", apart[2] if apart else None, deg, "at, from the snug point", 3)


def _side_of_range(slope: float | None, uncertainty: float, low: float, high: float) -> str | None:
    """Where the measured slope lies; it must be beyond the range by its expanded uncertainty to be outside."""
    if not slope:
        return None
    if slope - 2 * uncertainty > high:
        return ABOVE
    return BELOW if slope + 2 * uncertainty < low else WITHIN


def _torque_differences(found: Evaluation, expected: Expected) -> tuple[float, float, float] | None:
    """Mean and largest difference of the torque, and its angle, from the straight part to the end of either curve."""
    if found.snug is None:
        return None
    x = found.angle - found.snug.angle
    both = (found.angle >= found.straight[0]) & (x <= float(expected.angle[0, -1]))
    if not both.any():
        return None
    apart = found.torque[both] - found.snug.torque - np.interp(x[both], expected.angle[0], expected.torque[0])
    most = int(np.argmax(np.abs(apart)))
    return float(apart.mean()), float(apart[most]), float(x[both][most])


TRACE_AGAINST_MODEL = Working(
    name="trace_against_model",
    title="Trace against the model",
    question="does the trace of this bolt follow the model of its joint",
    phase="tighten",
    inputs=TraceAgainstModelInputs,
    run=run,
    cautions=(GOVERNS, UNSEEN, ALIKE, SHEAR),
)
