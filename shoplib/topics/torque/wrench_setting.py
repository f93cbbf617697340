"""The working ``wrench_setting``: with this adapter on the wrench, what do I set."""

from __future__ import annotations

import numpy as np

from shoplib.core.checks import Outcome
from shoplib.core.fields import date, quantity, words
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import below, same
from shoplib.core.units import N_m, deg, mm, pct
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import wrench as x

STANDARD_RANGE = "ISO 6789-1:2017, 5.1.3, quoted"


def run(i: WrenchSettingInputs, w: Worksheet) -> None:
    """Setting with the adapter in use, what an uncorrected setting would do, range and calibration."""
    look_at_wrench(i, w)
    w.door()
    geometry = {"L": i.wrench_length, "E": i.adapter_length, "alpha": i.adapter_angle}
    setting = w.step("Setting on the wrench", x.wrench_setting, M=i.torque, **geometry)
    w.result("setting", setting, N_m, "Set on the wrench")
    uncorrected = w.step("If set without the correction", x.torque_at_bolt, M_set=i.torque, **geometry)
    w.result("uncorrected_torque", uncorrected, N_m, "Torque at the bolt if not corrected")
    w.result("over_torque", uncorrected / i.torque - 1, pct, "Error if not corrected")
    deviation = i.deviation_percent
    if deviation is None:
        deviation = x.permissible_deviation(setting, i.wrench_max)
        w.assume(
            f"permissible deviation of the wrench ±{100 * deviation:g} % (ISO 6789-1:2017, from memory; "
            "4 % where its largest value is above 10 N·m, else 6 %)"
        )
    w.result("torque_low", w.step("Lower end", x.torque_limit, M=i.torque, delta=-deviation), N_m, "Torque, lower end")
    w.result("torque_high", w.step("Upper end", x.torque_limit, M=i.torque, delta=deviation), N_m, "Torque, upper end")
    if i.adapter_length == 0:
        w.caution(
            "No correction for a straight socket extension along the bolt's axis: it does not change the setting."
        )
    elif same(float(np.cos(i.adapter_angle)), 0.0, 1.0):
        w.caution("Keep the adapter exactly at 90° to the wrench: at 90° it does not change the setting.")
    check_range(i, w, "Setting", setting, setting, settings_at_other_angles(i, i.torque, i.torque))
    check_calibration(i, w)


def look_at_wrench(i: WrenchInputs, w: Worksheet) -> None:
    """Refuse an impossible wrench; state what was assumed."""
    if i.given("wrench_length", "adapter_length"):
        lever = i.wrench_length + i.adapter_length * np.cos(i.adapter_angle)
        if lever <= 0.05 * i.wrench_length:
            w.refuse("adapter_length", "reaches back past the grip; the wrench cannot be used like this")
        if i.adapter_length > 0 and not i.typed("adapter_angle"):
            w.assume("the adapter is in line with the wrench, 0°; type its angle if it is not")
    if i.given("wrench_min", "wrench_max") and i.wrench_min >= i.wrench_max:
        w.refuse("wrench_min", f"must be below {w.label('wrench_max')}")


def settings_at_other_angles(i: WrenchInputs, low: float, high: float) -> tuple[list[float], list[float]]:
    """The lowest and the highest settings, were the adapter square to the wrench or turned back.

    Empty when the adapter does not matter.
    """
    if not i.given("wrench_length", "adapter_length") or i.adapter_length == 0:
        return [], []
    L, E = i.wrench_length, i.adapter_length
    turned = [a for a in (np.pi / 2, np.pi) if L + E * np.cos(a) > 0]
    lows, highs = ([float(x.wrench_setting(M, L, E, a)) for a in turned] for M in (low, high))
    return lows, highs


def check_range(
    i: WrenchInputs, w: Worksheet, what: str, low: float, high: float, otherwise: tuple[list[float], list[float]]
) -> None:
    """Is a setting, or a range of settings, within the marked range of the wrench?

    ``otherwise``: the lowest and the highest setting at other angles of the adapter, which count where its angle was
    not typed.
    """
    if not i.given("wrench_max"):
        return
    lows, highs = ({"adapter_angle": values} if values else None for values in otherwise)
    source = i.wrench_range_source
    w.check(f"{what} within the wrench's range", high, "≤", i.wrench_max, N_m, source, otherwise=highs)
    remark = "" if i.given("wrench_min") else f"type {w.label('wrench_min')}: the range starts there ({STANDARD_RANGE})"
    w.check(
        f"{what} above the wrench's smallest value", low, "≥", i.wrench_min, N_m, source, remark=remark, otherwise=lows
    )
    if below(low, 0.2 * i.wrench_max):
        w.caution(
            f"Check the certificate, or use a smaller wrench: {what.lower()} below a fifth of the largest value. Older "
            "certificates (ISO 6789:2003) cover nothing there."
        )


CALIBRATION = "Calibration valid on the day of use"


def check_calibration(i: CalibrationInputs, w: Worksheet, *, needed: bool = False) -> None:
    """Was the calibration valid on the day of use?  ``needed``: say so where nothing was typed."""
    due, used, source = i.calibration_due, i.date_used, i.calibration_source
    if used is None and not needed:
        return
    if due is None:
        outcome, remark = Outcome.UNDECIDED if used else Outcome.NO_LIMIT, "the due date is not known: type it"
    elif used == due:
        outcome, remark = Outcome.UNDECIDED, "used on the due date: the certificate says whether that day counts"
    elif used > due:
        outcome, remark = Outcome.FAIL, "calibration overdue: have the wrench calibrated before you tighten"
    elif not source:
        outcome, remark = Outcome.NO_LIMIT, f"not yet due, but {w.label('calibration_source')} is missing"
    else:
        outcome, remark = Outcome.PASS, ""
    w.judge(CALIBRATION, f"used {used}" if used else "day of use not given", "≤",
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
        "Source: range of the wrench",
        required=False,
        help="where its smallest and largest values are written; without it the range can fail but not pass",
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
        help="from its certificate; if left out, that of the standard",
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
        "Source: calibration due",
        required=False,
        help="the certificate and its number; without it the date can fail but not pass",
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
        "Before you use an adapter, check how the maker of the wrench measures its length.",
    ),
)
