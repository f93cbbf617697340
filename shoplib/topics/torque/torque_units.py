"""The working ``torque_units``: what is this torque in N·m, lbf·ft, lbf·in and kgf·m."""

from __future__ import annotations

from shoplib.core.fields import quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import N_m, kgf_m, lbf_ft, lbf_in, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import torque_units
from shoplib.topics.cautions import MISREAD

NO_UNIT = "If a page gives a number without a unit, stop until you know the unit."


def run(inputs: TorqueUnitsInputs, worksheet: Worksheet) -> None:
    """One torque in four units, the pair as printed, and the effect of a misread unit."""
    torque = inputs.torque
    for name, unit, label in (
        ("newton_metre", N_m, "Newton metres"),
        ("pound_foot", lbf_ft, "Pound-force feet"),
        ("pound_inch", lbf_in, "Pound-force inches"),
        ("kilogram_metre", kgf_m, "Kilogram-force metres"),
    ):
        worksheet.result(name, torque, unit, label, all_digits=True)
    worksheet.result("printed_pair", torque_units.printed_pair(torque), None, "As workshop manuals print it")
    wrong = torque * 1.3558179483314004
    worksheet.step("Torque if the number is set in lbf·ft", torque_units.misread_ratio, M_read=wrong, M_meant=torque)
    worksheet.result("misread_ratio", torque_units.misread_ratio(wrong, torque), one, "N·m read as lbf·ft: factor")
    worksheet.result("misread_torque", wrong, N_m, "Torque that would then be applied")
    worksheet.assume(
        "a printed pair is the exact quotient rounded to the nearest whole number (common practice, no source)"
    )


class TorqueUnitsInputs(Inputs):
    """Inputs of ``torque_units``."""

    torque = quantity("torque", N_m, "Torque", symbol="M", above=0.0, example='"40 N*m"')


TORQUE_UNITS = Working(
    name="torque_units",
    title="A torque in N·m, lbf·ft, lbf·in and kgf·m",
    question="what is this torque in N·m, lbf·ft, lbf·in and kgf·m",
    phase="wrench",
    inputs=TorqueUnitsInputs,
    run=run,
    cautions=(GOVERNS, NO_UNIT, MISREAD),
)
