"""The working ``wrench_setting``: with this adapter on the wrench, what do I set."""

from __future__ import annotations

import numpy as np

from shoplib.core.checks import Outcome
from shoplib.core.fields import date, quantity, words
from shoplib.core.former import Former
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import below, same
from shoplib.core.units import N_m, deg, mm, pct
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import wrench

STANDARD_RANGE = "ISO 6789-1:2017, 5.1.3, quoted"


def run(inputs: WrenchSettingInputs, worksheet: Worksheet) -> None:
    """Setting with the adapter in use, what an uncorrected setting would do, range and calibration."""
    look_at_wrench(inputs, worksheet)
    worksheet.raise_refusals()
    geometry = {"L": inputs.wrench_length, "E": inputs.adapter_length, "alpha": inputs.adapter_angle}
    setting = worksheet.step(Heading("Set on the wrench", digits=3), wrench.wrench_setting, M=inputs.torque, **geometry)
    worksheet.result("setting", setting, N_m, "Set on the wrench", 3, all_digits=True)
    uncorrected = worksheet.step(
        "If set without the correction", wrench.torque_at_bolt, M_set=inputs.torque, **geometry
    )
    worksheet.result("uncorrected_torque", uncorrected, N_m, "Torque at the bolt if not corrected")
    worksheet.result("over_torque", uncorrected / inputs.torque - 1, pct, "Error if not corrected")
    deviation = inputs.deviation_percent
    if deviation is None:
        deviation = wrench.permissible_deviation(setting, inputs.wrench_max)
        worksheet.assume(
            f"permissible deviation of the wrench ±{100 * deviation:g} % (ISO 6789-1:2017, not checked against the "
            f"standard; "
            "4 % for a wrench with a largest value above 10 N·m, otherwise 6 %)"
        )
    worksheet.result(
        "torque_low",
        worksheet.step("Lowest torque at the bolt", wrench.torque_limit, M=inputs.torque, delta=-deviation),
        N_m,
        "Lowest torque at the bolt, with the wrench's deviation",
    )
    worksheet.result(
        "torque_high",
        worksheet.step("Highest torque at the bolt", wrench.torque_limit, M=inputs.torque, delta=deviation),
        N_m,
        "Highest torque at the bolt, with the wrench's deviation",
    )
    if inputs.adapter_length == 0:
        worksheet.caution(
            "No correction for a straight socket extension along the bolt's axis: it does not change the setting."
        )
    elif same(float(np.cos(inputs.adapter_angle)), 0.0, 1.0):
        worksheet.caution("Keep the adapter exactly at 90° to the wrench: at 90° it does not change the setting.")
    check_range(
        inputs, worksheet, "Setting", setting, setting, settings_at_other_angles(inputs, inputs.torque, inputs.torque)
    )
    check_calibration(inputs, worksheet)


def look_at_wrench(inputs: WrenchInputs, worksheet: Worksheet) -> None:
    """Refuse an impossible wrench; state what was assumed."""
    if inputs.given("wrench_length", "adapter_length"):
        lever = inputs.wrench_length + inputs.adapter_length * np.cos(inputs.adapter_angle)
        if lever <= 0.05 * inputs.wrench_length:
            worksheet.refuse("adapter_length", "reaches back past the grip; the wrench cannot be used like this")
        if inputs.adapter_length > 0 and not inputs.typed("adapter_angle"):
            worksheet.assume("the adapter is in line with the wrench, 0°; type its angle if it is not")
    if inputs.given("wrench_min", "wrench_max") and inputs.wrench_min >= inputs.wrench_max:
        worksheet.refuse("wrench_min", f"must be below {worksheet.label('wrench_max')}")


def settings_at_other_angles(inputs: WrenchInputs, low: float, high: float) -> tuple[list[float], list[float]]:
    """The lowest and the highest settings, were the adapter square to the wrench or turned back.

    Empty when the adapter does not matter.
    """
    if not inputs.given("wrench_length", "adapter_length"):
        return [], []
    L, E = inputs.wrench_length, inputs.adapter_length
    turned = [a for a in (np.pi / 2, np.pi) if L + E * np.cos(a) > 0]
    lows, highs = ([float(wrench.wrench_setting(M, L, E, a)) for a in turned] for M in (low, high))
    return lows, highs


def check_range(
    inputs: WrenchInputs,
    worksheet: Worksheet,
    what: str,
    low: float,
    high: float,
    otherwise: tuple[list[float], list[float]],
) -> None:
    """Is a setting, or a range of settings, within the marked range of the wrench?

    ``otherwise``: the lowest and the highest setting at other angles of the adapter, which count where its angle was
    not typed.
    """
    if not inputs.given("wrench_max"):
        return
    lows, highs = ({"adapter_angle": values} if values else None for values in otherwise)
    source = inputs.wrench_range_source
    worksheet.set_with(3, N_m, low, high)
    worksheet.check(f"{what} within the wrench's range", high, "≤", inputs.wrench_max, N_m, source, otherwise=highs)
    remark = (
        ""
        if inputs.given("wrench_min")
        else f"type {worksheet.label('wrench_min')}: the range starts there ({STANDARD_RANGE})"
    )
    worksheet.check(
        f"{what} not below the wrench's smallest value",
        low,
        "≥",
        inputs.wrench_min,
        N_m,
        source,
        remark=remark,
        otherwise=lows,
    )
    if below(low, 0.2 * inputs.wrench_max):
        worksheet.caution(
            f"Check the certificate, or use a smaller wrench: {what.lower()} below a fifth of the largest value. Older "
            "certificates (ISO 6789:2003) cover nothing there."
        )


CALIBRATION = "Calibration valid on the day of use"


def check_calibration(inputs: CalibrationInputs, worksheet: Worksheet, *, needed: bool = False) -> None:
    """Was the calibration valid on the day of use?  ``needed``: say so where nothing was typed."""
    due, used, source = inputs.calibration_due, inputs.date_used, inputs.calibration_source
    if used is None and not needed:
        return
    if due is None:
        outcome, remark = Outcome.UNDECIDED if used else Outcome.NO_LIMIT, "the due date is not known: type it"
    elif used == due:
        outcome, remark = Outcome.UNDECIDED, "used on the due date: the certificate says whether that day counts"
    elif used > due:
        outcome, remark = Outcome.FAIL, "calibration overdue: have the wrench calibrated before you tighten"
    elif not source:
        outcome, remark = Outcome.NO_LIMIT, f"not yet due, but {worksheet.label('calibration_source')} is missing"
    else:
        outcome, remark = Outcome.PASS, ""
    worksheet.judge(CALIBRATION, f"used {used}" if used else "day of use not given", "calibration",
                    f"due {due}" if due else "not given", None, source, outcome, remark)  # fmt: skip


class WrenchInputs(Inputs):
    """The wrench, its range and its adapter."""

    wrench_length = quantity(
        "wrench_length",
        mm,
        "Wrench, centre of square to grip",
        symbol="L",
        above=0.0,
        plausible=(0.02, 3.0),
        example='"400 mm"',
        help="to the middle of the hand, where the pull acts",
        group="Wrench and adapter",
    )
    adapter_length = quantity(
        "adapter_length",
        mm,
        "Adapter, centre to centre",
        symbol="E",
        at_least=0.0,
        plausible=(0.0, 1.5),
        example='"50 mm"',
        help="0 mm for a socket or a straight extension",
        group="Wrench and adapter",
    )
    adapter_angle = quantity(
        "adapter_angle",
        deg,
        "Adapter angle",
        symbol="alpha",
        default="0 deg",
        at_least=-2 * np.pi,
        at_most=2 * np.pi,
        example='"90 deg"',
        help="0° in line, 90° square to the wrench, 180° back along it",
        group="Wrench and adapter",
    )
    wrench_min = quantity(
        "wrench_min",
        N_m,
        "Smallest value on the wrench",
        required=False,
        at_least=0.0,
        needs=("wrench_max",),
        help="the lowest value marked on it",
        group="Wrench and adapter",
        example='"20 N*m"',
    )
    wrench_max = quantity(
        "wrench_max",
        N_m,
        "Largest value on the wrench",
        symbol="M_max",
        required=False,
        above=0.0,
        group="Wrench and adapter",
        example='"100 N*m"',
    )
    wrench_range_source = words(
        "wrench_range_source",
        "Source of the range of the wrench",
        required=False,
        help="where its smallest and largest values are written; without it the check can fail but not pass",
        example='"marked on wrench TW-2"',
        group="Wrench and adapter",
    )


class DeviationInput(Inputs):
    """How far the wrench may be out."""

    deviation_percent = quantity(
        "deviation_percent",
        pct,
        "Deviation of the wrench",
        symbol="delta",
        required=False,
        above=0.0,
        below=1.0,
        help="from its certificate; if left empty, that of the standard",
        example='"4 %"',
        group="Calibration",
    )


class CalibrationInputs(Inputs):
    """Until when the wrench is calibrated, and when it was used."""

    calibration_due = date(
        "calibration_due", "Calibration due", required=False, needs=("date_used",), group="Calibration"
    )
    calibration_source = words(
        "calibration_source",
        "Source of the calibration date",
        required=False,
        help="the certificate and its number; without it the check of the date can fail but not pass",
        example='"certificate 2026-114"',
        group="Calibration",
    )
    date_used = date("date_used", "Date of use", required=False, group="Calibration")


class WrenchSettingInputs(WrenchInputs, DeviationInput, CalibrationInputs):
    """Inputs of ``wrench_setting``."""

    torque = quantity(
        "torque", N_m, "Torque needed at the bolt", symbol="M", above=0.0, example='"80 N*m"', group="Torque"
    )


WRENCH_SETTING = Working(
    name="wrench_setting",
    title="Setting of the wrench",
    question="with this adapter on the wrench, what do I set",
    phase="wrench",
    inputs=WrenchSettingInputs,
    run=run,
    cautions=(
        GOVERNS,
        "Pull steadily at the middle of the grip. A click shows that the torque was reached, not the clamp load.",
        "Before you use an adapter, check how the maker of the wrench measures the length of the adapter.",
    ),
    former=Former(
        labels={
            "Setting above the wrench's smallest value": ("Setting not below the wrench's smallest value",),
            "Setting in the tested part of the range": (),
        },
    ),
)
