"""The working ``torque_angle_trace``: what does the trace of this tightening show."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from shoplib.core.checks import Outcome
from shoplib.core.fields import choice, quantity, trace, words
from shoplib.core.inputs import Inputs
from shoplib.core.tightening_program import Stage, read_stages
from shoplib.core.units import N_m, N_m_per_deg, deg, joule, mm, pct, show, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics.traces import OFFSET, Evaluation, Point, back_extrapolated, evaluate, offset_angle
from shoplib.topics.cautions import SHEAR

ANGLE = unit_of(deg)
ELASTIC, PAST = "elastic", "past_elastic"
UNSEEN = (
    "Do not read a clamp load from a trace: with other friction, the same torque and angle give another clamp load."
)
NO_TOLERANCE = "the stage has no tolerance: type it with the stage, such as +90 deg ±5 deg"
POINTS = 400  # of the picture
SURE = 0.02  # of the slope: a larger expanded uncertainty is said


# ------------------------------------------------------------------------------ the run
def run(inputs: TorqueAngleTraceInputs, worksheet: Worksheet) -> None:
    """Evaluate the trace, and compare it with the stage and the intention of the programme."""
    stage = _stage(inputs, worksheet)
    worksheet.raise_refusals()
    found = evaluate(inputs.trace.angle, inputs.trace.torque)
    end = float(found.angle[-1])
    start = found.crossing(inputs.threshold) if inputs.given("threshold") else None
    _results(inputs, worksheet, found, end, start)
    _offset(inputs, worksheet, found)
    for note in inputs.trace.notes:
        worksheet.assume(note)
    if found.why:
        worksheet.assume(f"no elastic line: {found.why}")
    elif found.running is None:
        worksheet.assume("no running torque in the trace; the elastic line is taken back to zero torque")
    if stage is not None:
        _against_stage(inputs, worksheet, found, stage, end, start)
    if inputs.given("intention"):
        _against_intention(inputs, worksheet, found, end)
    if found.spacing > np.radians(5.0):
        worksheet.caution("Look at the gap in the trace: its samples are up to "
                          f"{show(found.spacing, ANGLE, 2)} apart where it was evaluated.")  # fmt: skip
    if found.slope and 2 * found.slope_uncertainty > SURE * found.slope:
        share = show(2 * found.slope_uncertainty / found.slope, unit_of(pct), 2)
        worksheet.caution(
            f"Expect the elastic slope to be wrong by up to {share}: the samples are too few or too noisy."
        )
    _plot(worksheet, found, start, end)


def _stage(inputs: TorqueAngleTraceInputs, worksheet: Worksheet) -> Stage | None:
    if not inputs.given("stage"):
        return None
    stages, wrong = read_stages([inputs.stage])
    for _, why in wrong:
        worksheet.refuse("stage", why)
    if not stages:
        return None
    stage = stages[0]
    if stage.kind not in ("torque", "repeat", "check", "angle"):
        worksheet.refuse("stage", "is not a stage with a torque or an angle to reach")
    elif stage.kind == "angle" and not inputs.given("threshold"):
        worksheet.refuse("threshold", "is needed with a stage in degrees: type the torque from which its angle counts")
    return stage


def _results(inputs: Any, worksheet: Worksheet, found: Evaluation, end: float, start: Point | None) -> None:
    """What the trace shows; what it does not contain is not known."""
    result = worksheet.result
    result("samples", len(inputs.trace), None, "Samples evaluated")
    result("noise", found.noise, N_m, "Noise of the torque (standard deviation)", 2)
    result("strokes", found.strokes, None, "Releases of the wrench")
    result("not_turned", found.not_turned, deg, "Angle shown while the bolt did not turn", 3)
    running, snug, drop = found.running, found.snug, found.drop
    result("running_torque", running.torque if running else None, N_m, "Running (prevailing) torque", 3)
    result("rundown", running.angle if running else None, deg, "Rundown in the trace", 3)
    result("slope", found.slope, N_m_per_deg, "Elastic slope")
    result("slope_uncertainty", found.slope_uncertainty if found.slope else None, N_m_per_deg,
           "Standard uncertainty of the slope", 2)  # fmt: skip
    if snug is not None and found.slope is not None:
        worksheet.step("Snug point by the elastic line", back_extrapolated, theta_m=found.centre[0],
                       T_m=found.centre[1], T_0=snug.torque, k=found.slope)  # fmt: skip
    result("snug_angle", snug.angle if snug else None, deg, "Snug point on the gauge")
    result("snug_uncertainty", snug.uncertainty if snug else None, deg, "Standard uncertainty of the snug point", 2)
    result("angle_from_snug", end - snug.angle if snug else None, deg, "Angle from the snug point")
    result("angle_from_threshold", end - start.angle if start else None, deg, "Angle from the threshold torque")
    result("drop_angle", drop.angle if drop else None, deg, "Slope falls to half at")
    result("drop_uncertainty", drop.uncertainty if drop else None, deg, "Standard uncertainty of that angle", 2)
    result("drop_torque", drop.torque if drop else None, N_m, "Torque there")
    result("peak_torque", found.peak.torque, N_m, "Peak torque")
    result("peak_angle", found.peak.angle, deg, "at")
    result("end_angle", end, deg, "Last angle")
    result("energy", found.energy, joule, "Work from the snug point" if snug else "Work in the trace", 3)


def _offset(inputs: Any, worksheet: Worksheet, found: Evaluation) -> None:
    """The 0.2 % point, where the bolt's free length and pitch were typed."""
    point = None
    if inputs.given("pitch", "free_length"):
        beyond = worksheet.step("Angle of 0.2 % of the free length", offset_angle, e_p=OFFSET,
                                l_0=inputs.free_length, P=inputs.pitch)  # fmt: skip
        point = found.offset(float(beyond))
    worksheet.result("offset_point", point.angle if point else None, deg, "0.2 % offset reached at")
    worksheet.result("offset_torque", point.torque if point else None, N_m, "Torque at the 0.2 % offset")


# ------------------------------------------------------------------------------ judging
def _against_stage(
    inputs: Any, worksheet: Worksheet, found: Evaluation, stage: Stage, end: float, start: Point | None
) -> None:
    in_degrees = stage.kind == "angle"
    unit: Any = deg if in_degrees else N_m
    read = _turned(inputs, found, end, start) if in_degrees else _reached(inputs, found)
    value, between = (read[0], read[1:]) if read else (None, None)
    typed = inputs.given("angle_deviation", "torque_deviation") if in_degrees else inputs.given("torque_deviation")
    missing = "" if typed else (
        "the deviation of the gauge and of the torque sensor is needed" if in_degrees
        else "the deviation of the torque sensor is needed"
    )  # fmt: skip
    label = "Angle from the threshold torque" if in_degrees else "Peak torque"
    bounds = [("≥", stage.low)] if stage.kind == "check" else [("≥", stage.low), ("≤", stage.high)]
    if stage.kind != "check" and not stage.is_band:
        worksheet.check(label, value, "≥", None, unit, inputs.stages_source,
                        remark=NO_TOLERANCE)  # fmt: skip
        return
    for sign, bound in bounds:
        worksheet.check(f"{label}, {'least' if sign == '≥' else 'most'}", value, sign, bound, unit,
                        inputs.stages_source, between=between, missing=missing)  # fmt: skip


def _turned(inputs: Any, found: Evaluation, end: float, start: Point | None) -> tuple[float, float, float] | None:
    """The angle from the threshold, and the least and the most that it can be; None where it was not reached."""
    if start is None:
        return None
    off = inputs.torque_deviation or 0.0
    half = 2 * start.uncertainty + found.spacing / 2 + (inputs.angle_deviation or 0.0)
    early, late = (found.crossing(inputs.threshold * f) for f in (1 - off, 1 + off))
    turned = end - start.angle
    most = end - early.angle if early else end - float(found.angle[0])
    least = end - late.angle if late else 0.0
    return turned, max(min(turned, least) - half, 0.0), max(turned, most) + half


def _reached(inputs: Any, found: Evaluation) -> tuple[float, float, float]:
    half = 2 * found.noise + abs(found.peak.torque) * (inputs.torque_deviation or 0.0)
    return found.peak.torque, found.peak.torque - half, found.peak.torque + half


def _against_intention(inputs: Any, worksheet: Worksheet, found: Evaluation, end: float) -> None:
    """Whether the slope fell to half of the elastic slope, up to the angle at which the trace can tell."""
    drop, seen = found.drop, found.drop_seen_to
    wanted = inputs.intention == PAST
    said, remark = "cannot be told", ""
    state: bool | None = None  # as intended; None: not certain
    if drop is not None:
        said = f"past elastic from {show(drop.angle, ANGLE)}"
        state = wanted if drop.angle + 2 * drop.uncertainty < end else None
    elif seen is not None:
        said, state = f"elastic up to {show(seen, ANGLE)}", not wanted
        remark = f"the last {show(end - seen, ANGLE, 2)} cannot be told"
    outcome = Outcome.UNDECIDED if state is None else Outcome.PASS if state else Outcome.FAIL
    if outcome is Outcome.UNDECIDED:
        remark = found.why or "the samples are too few, too noisy or end too early to tell"
    if outcome is Outcome.PASS and not inputs.given("intention_source"):
        outcome, remark = Outcome.NO_LIMIT, "as intended, but the source of the intention is missing"
    worksheet.judge("State of the bolt, by its slope", said, "must be", inputs.intention.replace("_", " "), None,
                    inputs.intention_source, outcome, remark)  # fmt: skip


def thinned(found: Evaluation) -> tuple[Any, Any]:
    """Angle and torque of as many samples as a picture needs."""
    every = math.ceil(len(found.angle) / POINTS)
    return found.angle[::every], found.torque[::every]


def _plot(worksheet: Worksheet, found: Evaluation, start: Point | None, end: float) -> None:
    angle, torque = thinned(found)
    worksheet.plot_data.update(angle=angle, torque=torque, found=found, start=start, end=end)


# ------------------------------------------------------------------------------ inputs
TRACE = trace(
    "trace",
    "Trace",
    help="the samples with a heading that gives each unit, or the name of a CSV file",
    example='"angle_deg;torque_Nm\n'
    + "\n".join(f"{x};{max(0.0, x - 10) * 0.8 + 0.3:.2f}" for x in range(0, 62, 2))
    + '"',
    group="Trace",
)


class TorqueAngleTraceInputs(Inputs):
    """Inputs of ``torque_angle_trace``."""

    trace = TRACE
    bolt = words("bolt", "Bolt", required=False, example='"3"', group="Trace")
    threshold = quantity("threshold", N_m, "Threshold torque", required=False, above=0.0, example='"20 N*m"',
                         help="torque from which the angle of the stage counts", group="Programme")  # fmt: skip
    stage = words("stage", "Stage of the programme", required=False, example='"+85–95 deg"',
                  help="with its tolerance, as the maker prints it", group="Programme")  # fmt: skip
    stages_source = words("stages_source", "Source of the stage", required=False,
                          example='"workshop manual, 3rd edition, page 41"',
                          help="document, edition, page; without a source the result cannot be a pass",
                          group="Programme")  # fmt: skip
    intention = choice("intention", "State of the bolt that the programme intends",
                       {ELASTIC: "elastic", PAST: "stretched past yield"}, required=False,
                       group="Programme")  # fmt: skip
    intention_source = words("intention_source", "Source of the intention", required=False, needs=("intention",),
                             help="document, edition, page; without a source the result cannot be a pass",
                             example='"page 41"',
                             group="Programme")  # fmt: skip
    angle_deviation = quantity("angle_deviation", deg, "Deviation of the angle gauge, ±", required=False, at_least=0.0,
                               example='"1 deg"', help="from its certificate", group="Instruments")  # fmt: skip
    torque_deviation = quantity("torque_deviation", pct, "Deviation of the torque sensor, ±", required=False,
                                at_least=0.0, at_most=0.5, example='"2 %"',
                                help="of the reading, from its certificate", group="Instruments")  # fmt: skip
    pitch = quantity("pitch", mm, "Pitch of the thread", required=False, above=0.0, needs=("free_length",),
                     example='"1.5 mm"', symbol="P", group="Bolt")  # fmt: skip
    free_length = quantity("free_length", mm, "Free length of the bolt", required=False, above=0.0, needs=("pitch",),
                           example='"100 mm"', help="between head and first engaged turn, for the 0.2 % offset",
                           symbol="l_0", group="Bolt")  # fmt: skip


TORQUE_ANGLE_TRACE = Working(
    name="torque_angle_trace",
    title="Torque–angle trace of one bolt",
    question="what does the trace of this tightening show",
    phase="tighten",
    inputs=TorqueAngleTraceInputs,
    run=run,
    cautions=(GOVERNS, UNSEEN, SHEAR),
)
