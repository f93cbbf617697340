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
from shoplib.physics import coolant_properties as c
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
def _volume_fraction(i: CoolantProtectionInputs, w: Worksheet) -> float | None:
    """The typed strength as a fraction by volume; refused above the tables."""
    most = float(c.mass_fraction(i.glycol, c.STRONGEST)) if i.basis == "mass" else c.STRONGEST
    if not at_most(i.concentration, most):
        shown = show(most, unit_of(pct_mass) if i.basis == "mass" else VOL, 3)
        w.refuse(
            "concentration",
            f"is above {shown}, where the tables end: above that, laboratories disagree, and more glycol "
            "protects less. Dilute the coolant and measure again",
            '"50 %"',
        )
        return None
    if i.basis == "mass":
        return c.volume_fraction(i.glycol, min(i.concentration, most))
    return float(min(i.concentration, c.STRONGEST))


def run(i: CoolantProtectionInputs, w: Worksheet) -> None:
    """Freezing and boiling point with their uncertainty, density and specific heat, at cap pressure and altitude."""
    v = _volume_fraction(i, w)
    w.door()
    assert v is not None
    glycol, T = i.glycol, i.temperature
    try:
        rho, heat = c.density(glycol, v, T), c.specific_heat(glycol, v, T)
    except c.OutOfTable as error:
        w.refuse("temperature", f"has no density at this strength: {error}", '"20 degC"')
    w.door()
    if not i.given("gauge_pressure"):
        w.assume("no cap pressure given: the coolant boils as in an open vessel")
    if not i.given("altitude"):
        w.assume("no altitude given: sea level")
    p_a = w.step(Heading("Air pressure", digits=5), air.standard_pressure, z=i.altitude or 0.0, **air.CONSTANTS)
    p = w.step(
        Heading("Pressure on the coolant", digits=5), air.absolute_pressure, p_a=p_a, p_g=i.gauge_pressure or 0.0
    )
    frozen = float(c.freezing_point(glycol, v))
    doubt = w.uncertainty("concentration")
    weak, strong = _strength_ends(i, w.counted(doubt), i.basis)
    coldest, protects = _protection(glycol, weak, strong)
    mass = float(c.mass_fraction(glycol, v))
    poured = mass
    if i.basis == "volume":
        densities: dict[str, Any] = {"rho_g": c.pure_density(glycol), "rho_w": c.WATER_20}
        poured = w.step("Mass of glycol in the volumes as poured, 20 °C", c.mass_as_poured, v=v, **densities)
        w.assume(
            f"per cent by mass from the table; the boiling point uses the volumes as poured, "
            f"{show(poured, unit_of(pct_mass), 3)}"
        )
    boils = float(c.boiling_point(glycol, poured, p))
    x_w = w.step("Mole fraction of water", c.water_mole_fraction, w=poured, M_w=c.M_WATER, M_g=c.molar_mass(glycol))
    p_w = w.step(
        Heading("Vapour pressure of water at the boiling point", digits=8),
        c.water_vapour_pressure,
        T=boils,
        K=c.KELVIN,
        MPa_1=c.MEGAPASCAL,
    )
    p_gl = w.step(
        "Vapour pressure of glycol at the boiling point",
        c.glycol_vapour_pressure,
        T=boils,
        K=c.KELVIN,
        Pa_1=c.PASCAL,
        **c.constants(glycol),
    )
    over = w.step(
        Heading("Vapour pressure of the mixture: it boils at this pressure", digits=5),
        c.mixture_vapour_pressure,
        x_w=x_w,
        p_w=p_w,
        p_gl=p_gl,
    )
    _degrees(w, "freezing_point", frozen, "Freezing point")
    _degrees(w, "freezing_point_safe", protects, "Frost protection, safe side", towards=1)
    _degrees(w, "boiling_point", boils, "Boiling point")
    weakest = float(c.boiling_point(glycol, c.as_poured(glycol, weak) if i.basis == "volume" else
                                    c.mass_fraction(glycol, weak), p))  # fmt: skip
    _degrees(w, "boiling_point_safe", weakest - c.ACCURACY, "Boiling point, safe side", towards=-1)
    w.result("accuracy", c.ACCURACY, kelvin, "Accuracy of both, ±, at the strength typed", 2)
    w.result("concentration_volume", v, pct_vol, "Strength by volume", 3)
    w.result("concentration_mass", mass, pct_mass, "Strength by mass", 3)
    w.result("density", rho, kg_per_m3, f"Density at {show(T, CELSIUS, 3)}")
    w.result("specific_heat", heat, J_per_kgK, f"Specific heat at {show(T, CELSIUS, 3)}")
    w.result("absolute_pressure", p, kPa, "Pressure on the coolant")
    _closing(w, over / p - 1, one, "Closing residual of the boiling point")
    if i.given("lowest_temperature"):
        _frost_check(i, w, frozen, coldest, protects, doubt)
    w.assume(f"freezing point between the rows of {c.FREEZING_SOURCE}, by PCHIP")
    w.assume(f"density and specific heat of {c.DENSITY_SOURCE}")
    if v < 0.3:
        w.caution(f"{_percent(v)} is thin. {BAND}")
    _protection_curves(w, glycol, v, p, frozen, boils)
    w.curve.update(protects=_to_tenths(protects, 1) - c.ZERO, boils_from=_to_tenths(weakest - c.ACCURACY, -1) - c.ZERO)


def _frost_check(
    i: CoolantProtectionInputs, w: Worksheet, frozen: float, coldest: float, protects: float, doubt: Uncertainty
) -> None:
    """The freezing point, somewhere in its band, against the coldest temperature to protect to.

    If the basis was not typed it may be either: then the range of both is used.
    """
    remark = f"at the weak end it protects to {_tenths(_to_tenths(protects, 1) - c.ZERO)}"
    between = coldest, protects
    if not i.typed("basis"):
        other = _protection(i.glycol, *_strength_ends(i, w.counted(doubt), "mass"))
        between = min(coldest, other[0]), max(protects, other[1])
        remark += f"; by mass, which is also possible, to {_tenths(_to_tenths(other[1], 1) - c.ZERO)}"
    w.check(
        "Freezing point", frozen, "≤", i.lowest_temperature, degC, i.lowest_temperature_source, remark=remark,
        uncertainty=Uncertainty((between[1] - between[0]) / 2, Origin.COMBINED), between=between,
    )  # fmt: skip


def _strength_ends(i: CoolantProtectionInputs, half: float, basis: str) -> tuple[float, float]:
    """The weakest and the strongest that the mixture can be, by volume, as far as the tables go."""
    ends = []
    for typed in (max(i.concentration - half, 0.0), i.concentration + half):
        if basis == "mass":
            most = float(c.mass_fraction(i.glycol, c.STRONGEST))
            ends.append(c.volume_fraction(i.glycol, min(typed, most)))
        else:
            ends.append(float(min(typed, c.STRONGEST)))
    return ends[0], ends[1]


def _protection_curves(w: Worksheet, glycol: str, v: float, p: float, frozen: float, boils: float) -> None:
    other = next(g for g in c.GLYCOLS if g != glycol)
    w.curve.update(
        at=c.CURVE_AT,
        freezing=c.freezing_curve(glycol) - c.ZERO,
        other_freezing=c.freezing_curve(other) - c.ZERO,
        boiling=c.boiling_curve(glycol, p) - c.ZERO,
        glycol=glycol,
        other=other,
        v=v,
        frozen=frozen - c.ZERO,
        boils=boils - c.ZERO,
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
