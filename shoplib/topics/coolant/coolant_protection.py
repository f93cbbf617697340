"""The working ``coolant_protection``: to what temperature does this mixture protect, cold and hot."""

from __future__ import annotations

from typing import Any

from shoplib.core.checks import Origin, Uncertainty
from shoplib.core.fields import Field, choice, judging, quantity, sourced_limit
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import at_most
from shoplib.core.units import J_per_kgK, degC, kelvin, kg_per_m3, kPa, m, one, pct, pct_mass, pct_vol, show, unit_of
from shoplib.core.working import Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import atmosphere as air
from shoplib.physics import coolant_properties
from shoplib.topics.coolant.coolant_inputs import (
    BAND,
    CELSIUS,
    GLYCOL,
    STRENGTH_CAUTIONS,
    VOL,
    _closing,
    _degrees,
    _percent,
    _protection,
    _tenths,
    _to_tenths,
)


# ------------------------------------------------------------------------------ protection
def _volume_fraction(inputs: CoolantProtectionInputs, worksheet: Worksheet) -> float | None:
    """The typed strength as a fraction by volume; refused above the tables."""
    most = (
        float(coolant_properties.mass_fraction(inputs.glycol, coolant_properties.STRONGEST))
        if inputs.basis == "mass"
        else coolant_properties.STRONGEST
    )
    if not at_most(inputs.concentration, most):
        shown = show(most, unit_of(pct_mass) if inputs.basis == "mass" else VOL, 3)
        worksheet.refuse(
            "concentration",
            f"is above {shown}, where the tables end: above that, laboratories disagree, and more glycol "
            "protects less. Dilute the coolant and measure again",
            '"50 %"',
        )
        return None
    if inputs.basis == "mass":
        return coolant_properties.volume_fraction(inputs.glycol, min(inputs.concentration, most))
    return float(min(inputs.concentration, coolant_properties.STRONGEST))


def run(inputs: CoolantProtectionInputs, worksheet: Worksheet) -> None:
    """Freezing and boiling point with their uncertainty, density and specific heat, at cap pressure and altitude."""
    v = _volume_fraction(inputs, worksheet)
    worksheet.raise_refusals()
    assert v is not None
    glycol, T = inputs.glycol, inputs.temperature
    try:
        rho, heat = coolant_properties.density(glycol, v, T), coolant_properties.specific_heat(glycol, v, T)
    except coolant_properties.OutOfTable as error:
        worksheet.refuse("temperature", f"has no density at this strength: {error}", '"20 degC"')
    worksheet.raise_refusals()
    if not inputs.given("gauge_pressure"):
        worksheet.assume("no cap pressure given: the coolant boils as in an open vessel")
    if not inputs.given("altitude"):
        worksheet.assume("no altitude given: sea level")
    p_a = worksheet.step(
        Heading("Air pressure", digits=5), air.standard_pressure, z=inputs.altitude or 0.0, **air.CONSTANTS
    )
    p = worksheet.step(
        Heading("Pressure on the coolant", digits=5), air.absolute_pressure, p_a=p_a, p_g=inputs.gauge_pressure or 0.0
    )
    frozen = float(coolant_properties.freezing_point(glycol, v))
    doubt = worksheet.uncertainty("concentration")
    weak, strong = _strength_ends(inputs, worksheet.counted(doubt), inputs.basis)
    coldest, protects = _protection(glycol, weak, strong)
    mass = float(coolant_properties.mass_fraction(glycol, v))
    boils, over = _boiling(inputs, worksheet, v, p)
    _degrees(worksheet, "freezing_point", frozen, "Freezing point")
    _degrees(worksheet, "freezing_point_safe", protects, "Frost protection, safe side", towards=1)
    _degrees(worksheet, "boiling_point", boils, "Boiling point")
    weakest = float(coolant_properties.boiling_point(glycol, coolant_properties.as_poured(glycol, weak)
                                                     if inputs.basis == "volume"
                                                     else coolant_properties.mass_fraction(glycol, weak),
                                                     p))  # fmt: skip
    _degrees(
        worksheet, "boiling_point_safe", weakest - coolant_properties.ACCURACY, "Boiling point, safe side", towards=-1
    )
    worksheet.result("accuracy", coolant_properties.ACCURACY, kelvin, "Accuracy of both, ±, at the strength typed", 2)
    worksheet.result("concentration_volume", v, pct_vol, "Strength by volume", 3)
    worksheet.result("concentration_mass", mass, pct_mass, "Strength by mass", 3)
    worksheet.result("density", rho, kg_per_m3, f"Density at {show(T, CELSIUS, 3)}")
    worksheet.result("specific_heat", heat, J_per_kgK, f"Specific heat at {show(T, CELSIUS, 3)}")
    worksheet.result("absolute_pressure", p, kPa, "Pressure on the coolant")
    _closing(worksheet, over / p - 1, one, "Check of the boiling point (0 is right)")
    if inputs.given("lowest_temperature"):
        _frost_check(inputs, worksheet, frozen, coldest, protects, doubt)
    worksheet.assume(f"freezing point between the rows of {coolant_properties.FREEZING_SOURCE}, by PCHIP")
    worksheet.assume(f"density and specific heat of {coolant_properties.DENSITY_SOURCE}")
    if v < 0.3:
        worksheet.caution(f"{_percent(v)} is thin. {BAND}")
    _protection_curves(worksheet, glycol, v, p, frozen, boils)
    worksheet.plot_data.update(
        protects=_to_tenths(protects, 1) - coolant_properties.ZERO,
        boils_from=_to_tenths(weakest - coolant_properties.ACCURACY, -1) - coolant_properties.ZERO,
    )


def _boiling(inputs: CoolantProtectionInputs, worksheet: Worksheet, v: float, p: float) -> tuple[float, float]:
    """The boiling point at this pressure, and the vapour pressure there, which closes the calculation."""
    glycol = inputs.glycol
    poured = float(coolant_properties.mass_fraction(glycol, v))
    if inputs.basis == "volume":
        densities: dict[str, Any] = {
            "rho_g": coolant_properties.pure_density(glycol),
            "rho_w": coolant_properties.WATER_20,
        }
        poured = worksheet.step(
            "Mass of glycol in the volumes as poured, 20 °C", coolant_properties.mass_as_poured, v=v, **densities
        )
        worksheet.assume(
            f"per cent by mass from the table; the boiling point uses the volumes as poured, "
            f"{show(poured, unit_of(pct_mass), 3)}"
        )
    boils = float(coolant_properties.boiling_point(glycol, poured, p))
    x_w = worksheet.step(
        "Mole fraction of water",
        coolant_properties.water_mole_fraction,
        w=poured,
        M_w=coolant_properties.M_WATER,
        M_g=coolant_properties.molar_mass(glycol),
    )
    p_w = worksheet.step(
        Heading("Vapour pressure of water at the boiling point", digits=8),
        coolant_properties.water_vapour_pressure,
        T=boils,
        K=coolant_properties.KELVIN,
        MPa_1=coolant_properties.MEGAPASCAL,
    )
    p_gl = worksheet.step(
        "Vapour pressure of glycol at the boiling point",
        coolant_properties.glycol_vapour_pressure,
        T=boils,
        K=coolant_properties.KELVIN,
        Pa_1=coolant_properties.PASCAL,
        **coolant_properties.constants(glycol),
    )
    over = worksheet.step(
        Heading("Vapour pressure of the mixture: it boils at this pressure", digits=5),
        coolant_properties.mixture_vapour_pressure,
        x_w=x_w,
        p_w=p_w,
        p_gl=p_gl,
    )
    return boils, over


def _frost_check(
    inputs: CoolantProtectionInputs,
    worksheet: Worksheet,
    frozen: float,
    coldest: float,
    protects: float,
    doubt: Uncertainty,
) -> None:
    """The freezing point, somewhere in its band, against the coldest temperature to protect to.

    If the basis was not typed it may be either: then the range of both is used.
    """
    remark = f"at the weak end it protects to {_tenths(_to_tenths(protects, 1) - coolant_properties.ZERO)}"
    between = coldest, protects
    if not inputs.typed("basis"):
        other = _protection(inputs.glycol, *_strength_ends(inputs, worksheet.counted(doubt), "mass"))
        between = min(coldest, other[0]), max(protects, other[1])
        remark += f"; by mass, which is also possible, to {_tenths(_to_tenths(other[1], 1) - coolant_properties.ZERO)}"
    worksheet.check(
        "Freezing point", frozen, "≤", inputs.lowest_temperature, degC, inputs.lowest_temperature_source, remark=remark,
        uncertainty=Uncertainty((between[1] - between[0]) / 2, Origin.COMBINED), between=between,
    )  # fmt: skip


def _strength_ends(inputs: CoolantProtectionInputs, half: float, basis: str) -> tuple[float, float]:
    """The weakest and the strongest that the mixture can be, by volume, as far as the tables go."""
    ends = []
    for typed in (max(inputs.concentration - half, 0.0), inputs.concentration + half):
        if basis == "mass":
            most = float(coolant_properties.mass_fraction(inputs.glycol, coolant_properties.STRONGEST))
            ends.append(coolant_properties.volume_fraction(inputs.glycol, min(typed, most)))
        else:
            ends.append(float(min(typed, coolant_properties.STRONGEST)))
    return ends[0], ends[1]


def _protection_curves(worksheet: Worksheet, glycol: str, v: float, p: float, frozen: float, boils: float) -> None:
    other = next(g for g in coolant_properties.GLYCOLS if g != glycol)
    worksheet.plot_data.update(
        at=coolant_properties.CURVE_AT,
        freezing=coolant_properties.freezing_curve(glycol) - coolant_properties.ZERO,
        other_freezing=coolant_properties.freezing_curve(other) - coolant_properties.ZERO,
        boiling=coolant_properties.boiling_curve(glycol, p) - coolant_properties.ZERO,
        glycol=glycol,
        other=other,
        v=v,
        frozen=frozen - coolant_properties.ZERO,
        boils=boils - coolant_properties.ZERO,
    )


_CONCENTRATION = Field(
    "concentration",
    "quantity",
    "Strength",
    unit=unit_of(pct),
    at_least=0.0,
    at_most=1.0,
    help="of the glycol; choose below whether by volume or by mass",
    example='"50 %"',
    group="Coolant",
)


class CoolantProtectionInputs(Inputs):
    """Inputs of ``coolant_protection``."""

    glycol = GLYCOL
    concentration = _CONCENTRATION
    basis = choice(
        "basis",
        "Per cent by",
        ("volume", "mass"),
        default="volume",
        help="volume as poured, or mass",
        group="Coolant",
    )
    gauge_pressure = quantity(
        "gauge_pressure",
        kPa,
        "Opening pressure of the cap, gauge",
        required=False,
        at_least=0.0,
        at_most=1e6,
        help="as stamped on the cap; if empty, an open vessel",
        example='"100 kPa"',
        group="System",
    )
    altitude = quantity(
        "altitude",
        m,
        "Altitude",
        required=False,
        at_least=air.LOWEST,
        at_most=air.HIGHEST,
        help="if empty, sea level",
        example='"1500 m"',
        group="System",
    )
    temperature = quantity(
        "temperature",
        degC,
        "Temperature for density and specific heat",
        default="20 degC",
        at_least=0.0,
        example='"20 degC"',
        group="System",
    )
    lowest_temperature, lowest_temperature_source = sourced_limit(
        "lowest_temperature",
        degC,
        "Coldest temperature to protect to",
        at_least=0.0,
        help="to judge the frost protection",
        example='"-25 degC"',
        group="Required",
    )
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(pct)


COOLANT_PROTECTION = Working(
    name="coolant_protection",
    title="Frost and boiling protection",
    question="to what temperature does this mixture protect, cold and hot",
    phase="fill",
    inputs=CoolantProtectionInputs,
    run=run,
    cautions=STRENGTH_CAUTIONS,
)
