"""The working ``coolant_reading``: what does this reading mean, and what would the wrong scale have shown."""

from __future__ import annotations

import re

from shoplib.core.fields import PURE, choice, quantity, words
from shoplib.core.inputs import Inputs, half_digit_in_si
from shoplib.core.rounding import below
from shoplib.core.units import Unreadable, degC, kelvin, kg_per_m3, pct_vol, read, show, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import coolant_properties
from shoplib.topics.cautions import HOT, POISON
from shoplib.topics.coolant.coolant_inputs import (
    CELSIUS,
    GLYCOL,
    SAFE_SIDE,
    WEAK_SIDE,
    _degrees,
    _ends,
    _not_unique,
    _protection,
    _strength_curve,
    _strength_results,
)

RIGHT_SCALE = "Read only the scale of the glycol in the system, never a Brix scale."


# ------------------------------------------------------------------------------ reading an instrument
SUGAR = re.compile(r"brix|°\s*bx|\bbx\b|%", re.IGNORECASE)


INDEX_TEMPERATURE, INDEX_WITHIN = 293.15, 1.0  # K; the table holds 20 °C only


def _value_of_reading(inputs: CoolantReadingInputs, worksheet: Worksheet) -> float | None:
    """The number on the instrument; a Brix number or a bare percentage is not one."""
    if SUGAR.search(inputs.value):
        worksheet.refuse(
            "value",
            "is a Brix number or a percentage, which is sugar in water, not glycol. Read the "
            "freezing-point scale of your glycol, or the refractive index",
            '"-24 degC"',
        )
        return None
    unit = CELSIUS if inputs.instrument == "freezing_point" else PURE
    example = {"freezing_point": '"-24 degC"', "refractive_index": "1.3728", "relative_density": "1.065"}[
        inputs.instrument
    ]
    try:
        reading = read(inputs.value, unit)
    except Unreadable as error:
        worksheet.refuse("value", str(error), example)
        return None
    if inputs.instrument == "freezing_point" and reading.value < 0:
        worksheet.refuse("value", "is below absolute zero", example)
        return None
    return reading.value


def _strength_of(inputs: CoolantReadingInputs, glycol: str, value: float) -> float:
    """Fraction by volume that the instrument's value means for a glycol.  Raises OutOfTable."""
    if inputs.instrument == "freezing_point":
        why = _not_unique(glycol, value)
        if why:
            raise coolant_properties.OutOfTable(why)
        return coolant_properties.strength_from_freezing(glycol, value)
    if inputs.instrument == "refractive_index":
        return coolant_properties.strength_from_index(glycol, value)
    rho = float(
        coolant_properties.density_from_relative(value, coolant_properties.water_density(inputs.reference_temperature))
    )
    return coolant_properties.strength_from_density(glycol, rho, inputs.temperature)


def run(inputs: CoolantReadingInputs, worksheet: Worksheet) -> None:
    """Percent from an instrument, and the error that the other glycol's scale makes."""
    value = _value_of_reading(inputs, worksheet)
    glycol, kind = inputs.glycol, inputs.instrument
    if kind == "refractive_index" and below(INDEX_WITHIN, abs(inputs.temperature - INDEX_TEMPERATURE)):
        worksheet.refuse(
            "temperature", "is not 20 °C (within 1 K), the only one in the table: bring sample and instrument to 20 °C"
        )
    worksheet.raise_refusals()
    assert value is not None
    try:
        v = _strength_of(inputs, glycol, value)
    except coolant_properties.OutOfTable as error:
        sourced = "no sourced table" in str(error)
        worksheet.refuse("glycol" if sourced else "value", _why_no_strength(kind, glycol, str(error)))
    worksheet.raise_refusals()
    frozen = float(coolant_properties.freezing_point(glycol, v))
    low, high, protects = _doubt(inputs, worksheet, glycol, value, v)
    if kind == "relative_density":
        rho_ref = coolant_properties.water_density(inputs.reference_temperature)
        worksheet.step(
            Heading("Density of the sample", digits=5),
            coolant_properties.density_from_relative,
            d=value,
            rho_ref=rho_ref,
        )
        worksheet.assume(
            f"relative to water at {show(inputs.reference_temperature, CELSIUS, 3)}; density of "
            f"{coolant_properties.DENSITY_SOURCE}"
        )
    elif kind == "refractive_index":
        worksheet.assume(f"refractive index of {coolant_properties.INDEX_SOURCE}, pure glycol")
    else:
        worksheet.assume("the instrument corrects for temperature, and its scale is for this glycol")
    if kind == "freezing_point" or (kind == "relative_density" and glycol == "propylene"):
        worksheet.assume(WEAK_SIDE if glycol == "ethylene" else "the strength is below 60 vol %")
    _strength_results(worksheet, glycol, v, low, high)
    _degrees(worksheet, "freezing_point", frozen, "Freezing point at the strength as read, about")
    _degrees(worksheet, "freezing_point_safe", protects, "Frost protection, safe side", towards=1)
    other = next(g for g in coolant_properties.GLYCOLS if g != glycol)
    try:
        wrong = _strength_of(inputs, other, value)
    except coolant_properties.OutOfTable:
        wrong = None
    worksheet.result("wrong_scale", other, None, "Wrong scale: the scale of the other glycol")
    worksheet.result("wrong_scale_concentration", wrong, pct_vol, "Strength on the wrong scale", 3)
    worksheet.result("wrong_scale_error", None if wrong is None else wrong - v, pct_vol, "Error of that strength", 2)
    promised = (
        None
        if wrong is None or wrong > coolant_properties.STRONGEST
        else float(coolant_properties.freezing_point(glycol, wrong)) - frozen
    )
    worksheet.result(
        "wrong_scale_freezing_error", promised, kelvin, "Error of the freezing point on the wrong scale", 2
    )
    if wrong is None:
        worksheet.caution(
            "Read only the scale of your own glycol. What the other glycol's scale would show is not known: no table "
            "with a source covers this reading."
        )
    _strength_curve(worksheet, glycol, v, protects, wrong if promised is not None else None)


def _why_no_strength(kind: str, glycol: str, why: str) -> str:
    if kind == "freezing_point" or "no sourced table" in why:
        return why
    what = "refractive index" if kind == "refractive_index" else "relative density"
    return f"is outside the table of the {what} of {glycol} glycol in water up to 60 vol % ({why})"


def _doubt(
    inputs: CoolantReadingInputs, worksheet: Worksheet, glycol: str, value: float, v: float
) -> tuple[float, float | None, float]:
    """The lowest and the highest possible strength, and the temperature to which the coolant protects for certain.

    Half the last digit of the reading counts always; beside it for a freezing point ±3 K, and for a hydrometer the
    tables with and without inhibitors.
    """
    half = half_digit_in_si(inputs.value, CELSIUS if inputs.instrument == "freezing_point" else PURE)
    if inputs.instrument == "relative_density":
        return _doubt_of_density(inputs, worksheet, glycol, value, v, half)
    frozen = [value - half, value + half]
    if inputs.instrument == "refractive_index":
        ends = [_strength_or_none(inputs, glycol, n) for n in (value + half, value - half)]
        strengths = [coolant_properties.STRONGEST if ends[0] is None else ends[0], ends[1] or 0.0]
        frozen = [
            float(coolant_properties.freezing_point(glycol, min(x, coolant_properties.STRONGEST))) for x in strengths
        ]
    warmest, coldest = frozen[1] + coolant_properties.ACCURACY, frozen[0] - coolant_properties.ACCURACY
    worksheet.assume(
        f"lowest and highest strength: ±{coolant_properties.ACCURACY:g} K of the freezing point, and half the last "
        f"digit of the reading"
    )
    return *_ends(glycol, warmest, coldest), min(warmest, coolant_properties.ZERO)


def _doubt_of_density(
    inputs: CoolantReadingInputs, worksheet: Worksheet, glycol: str, value: float, v: float, half: float
) -> tuple[float, float | None, float]:
    """The same of a hydrometer: what inhibitors do to the density is not known."""
    rise = abs(
        coolant_properties.density(glycol, v, INDEX_TEMPERATURE) - coolant_properties.uninhibited_density(glycol, v)
    )
    rho_ref = coolant_properties.water_density(inputs.reference_temperature)
    rho, doubt = float(coolant_properties.density_from_relative(value, rho_ref)), 2 * rise + half * rho_ref
    ends: list[float | None] = []
    for shifted in (rho - doubt, rho + doubt):
        try:
            ends.append(coolant_properties.strength_from_density(glycol, shifted, inputs.temperature))
        except coolant_properties.OutOfTable:
            ends.append(None)
    worksheet.assume(
        f"a hydrometer is not accurate: tables with and without inhibitors differ here by "
        f"{show(rise, unit_of(kg_per_m3), 2)}, and one handbook differs by twice that. The lowest and the highest "
        "strength use twice that difference, and half a unit in the last digit read"
    )
    low = ends[0] or 0.0
    return low, ends[1], _protection(glycol, low, v)[1]


def _strength_or_none(inputs: CoolantReadingInputs, glycol: str, value: float) -> float | None:
    try:
        return _strength_of(inputs, glycol, value)
    except coolant_properties.OutOfTable:
        return None


class CoolantReadingInputs(Inputs):
    """Inputs of ``coolant_reading``."""

    instrument = choice(
        "instrument",
        "Quantity on the instrument",
        ("freezing_point", "refractive_index", "relative_density"),
        help="a hydrometer shows relative density",
        example="freezing_point",
        group="Reading",
    )
    value = words(
        "value",
        "Value as read",
        help="a freezing point with its unit; otherwise the number alone",
        example='"-24 degC"',
        group="Reading",
    )
    temperature = quantity(
        "temperature",
        degC,
        "Temperature of the sample",
        required=False,
        needed_when=("instrument", "refractive_index", "relative_density"),
        at_least=0.0,
        help="not needed for an instrument that shows a freezing point",
        example='"20 degC"',
        group="Reading",
    )
    reference_temperature = quantity(
        "reference_temperature",
        degC,
        "Reference temperature of the hydrometer",
        default="20 degC",
        at_least=coolant_properties.ZERO,
        at_most=coolant_properties.ZERO + 30,
        help="as marked on it",
        example='"60 degF"',
        group="Reading",
    )
    glycol = GLYCOL


COOLANT_READING = Working(
    name="coolant_reading",
    title="Strength from an instrument",
    question="what does this reading mean, and what would the wrong scale have shown",
    phase="fill",
    inputs=CoolantReadingInputs,
    run=run,
    cautions=(GOVERNS, SAFE_SIDE, RIGHT_SCALE, POISON, HOT),
)
