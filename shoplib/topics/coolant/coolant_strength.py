"""The working ``coolant_strength``: how strong is a coolant that freezes at this temperature."""

from __future__ import annotations

from shoplib.core.fields import quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import degC, kelvin
from shoplib.core.working import Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import coolant_properties as c
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


def run(i: CoolantStrengthInputs, w: Worksheet) -> None:
    """Strength from the freezing point, refused where two strengths share it."""
    why = _not_unique(i.glycol, i.freezing_point)
    if why:
        w.refuse("freezing_point", why, '"-37 degC"')
    w.door()
    T = max(min(i.freezing_point, c.ZERO), c.coldest_freezing(i.glycol))
    v = c.strength_from_freezing(i.glycol, T)
    doubt = c.ACCURACY + w.uncertainty("freezing_point").half_width
    _strength_results(w, i.glycol, v, *_ends(i.glycol, T + doubt, T - doubt))
    _degrees(w, "freezing_point_safe", min(T + doubt, c.ZERO), "Frost protection, safe side", towards=1)
    _closing(w, float(c.freezing_point(i.glycol, v)) - T, kelvin, "Closing residual of the freezing point")
    w.assume(
        f"between the rows of {c.FREEZING_SOURCE}, by PCHIP; lowest and highest strength: ±{c.ACCURACY:g} K and half "
        "the last "
        "digit of the reading"
    )
    w.assume(WEAK_SIDE)
    _strength_curve(w, i.glycol, v, T + doubt)


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
