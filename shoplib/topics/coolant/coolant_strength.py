"""The working ``coolant_strength``: how strong is a coolant that freezes at this temperature."""

from __future__ import annotations

from shoplib.core.fields import quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import degC, kelvin
from shoplib.core.working import Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import coolant_properties
from shoplib.topics.coolant.coolant_inputs import (
    GLYCOL,
    STRENGTH_CAUTIONS,
    WEAK_SIDE,
    _closing,
    _degrees,
    _ends,
    _not_unique,
    _strength_curve,
    _strength_results,
)


def run(inputs: CoolantStrengthInputs, worksheet: Worksheet) -> None:
    """Strength from the freezing point, refused where two strengths share it."""
    why = _not_unique(inputs.glycol, inputs.freezing_point)
    if why:
        worksheet.refuse("freezing_point", why, '"-37 degC"')
    worksheet.raise_refusals()
    T = max(min(inputs.freezing_point, coolant_properties.ZERO), coolant_properties.coldest_freezing(inputs.glycol))
    v = coolant_properties.strength_from_freezing(inputs.glycol, T)
    doubt = coolant_properties.ACCURACY + worksheet.uncertainty("freezing_point").half_width
    _strength_results(worksheet, inputs.glycol, v, *_ends(inputs.glycol, T + doubt, T - doubt))
    _degrees(
        worksheet,
        "freezing_point_safe",
        min(T + doubt, coolant_properties.ZERO),
        "Frost protection, safe side",
        towards=1,
    )
    _closing(
        worksheet,
        float(coolant_properties.freezing_point(inputs.glycol, v)) - T,
        kelvin,
        "Check of the freezing point (0 is right)",
    )
    worksheet.assume(
        f"between the rows of {coolant_properties.FREEZING_SOURCE}, by PCHIP; lowest and highest strength: "
        f"±{coolant_properties.ACCURACY:g} K and half "
        "the last "
        "digit of the reading"
    )
    worksheet.assume(WEAK_SIDE)
    _strength_curve(worksheet, inputs.glycol, v, T + doubt)


class CoolantStrengthInputs(Inputs):
    """Inputs of ``coolant_strength``."""

    glycol = GLYCOL
    freezing_point = quantity(
        "freezing_point",
        degC,
        "Freezing point",
        at_least=0.0,
        help="measured, or from the instrument's scale",
        example='"-37 degC"',
        group="Coolant",
    )


COOLANT_STRENGTH = Working(
    name="coolant_strength",
    title="Strength from the freezing point",
    question="how strong is a coolant that freezes at this temperature",
    phase="fill",
    inputs=CoolantStrengthInputs,
    run=run,
    cautions=STRENGTH_CAUTIONS,
)
