"""The working ``leak_orifice``: how large a hole would leak as much as this leak-down test shows."""

from __future__ import annotations

from shoplib.core.fields import quantity
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import at_most
from shoplib.core.units import bar, mm, mm2, pct
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import orifice, threads
from shoplib.topics.diagnosis.cylinders import SUGGESTS

PRESSURES = (0.0, 20e5)  # Pa, of workshop air


class LeakOrificeInputs(Inputs):
    """Inputs of ``leak_orifice``."""

    supply = quantity("supply", bar, "Pressure before the tester's orifice", symbol="p_1", above=0.0,
                      example='"6.0 bar"', plausible=PRESSURES, group="Readings",
                      help="gauge pressure, such as 6 bar")  # fmt: skip
    cylinder = quantity("cylinder", bar, "Pressure after the orifice, at the cylinder", symbol="p_2", above=0.0,
                        example='"5.1 bar"', plausible=PRESSURES, group="Readings",
                        help="gauge pressure, such as 4 bar")  # fmt: skip
    orifice_diameter = quantity(
        "orifice_diameter", mm, "Orifice of the tester", symbol="d", above=0.0, example='"1.0 mm"', group="Tester",
        plausible=(1e-4, 1e-2),
        help="diameter of the small hole that its air passes, from its instructions; such as 1.5 mm",
    )  # fmt: skip
    air_pressure = quantity("air_pressure", bar, "Atmospheric pressure", symbol="p_a", default="1.013 bar", above=0.0,
                            plausible=(0.5e5, 1.2e5), group="Tester", help="absolute, at the workshop",
                            example='"0.95 bar"')  # fmt: skip


def run(inputs: LeakOrificeInputs, worksheet: Worksheet) -> None:
    """The same air flows through the tester's orifice and through the leak."""
    if at_most(inputs.supply, inputs.cylinder):
        worksheet.refuse("cylinder", f"must be below {worksheet.label('supply')}: without a drop nothing flows")
    worksheet.raise_refusals()
    p_1, p_2, p_a = inputs.supply + inputs.air_pressure, inputs.cylinder + inputs.air_pressure, inputs.air_pressure
    r_c = worksheet.step("Choked below the ratio", orifice.critical_ratio, gamma=orifice.GAMMA)
    flow = {"r_c": r_c, "gamma": orifice.GAMMA}
    tester = worksheet.step("Flow number of the tester", orifice.flow_function, p_1=p_1, p_2=p_2, **flow)
    leak = worksheet.step("Flow number of the leak", orifice.flow_function, p_1=p_2, p_2=p_a, **flow)
    A_t = worksheet.step("Area of the tester's orifice", threads.circle_area, d_0=inputs.orifice_diameter)
    A_L = worksheet.step(Heading("Area of the leak", digits=3), orifice.leak_area, A_t=A_t, p_1=p_1, psi_t=tester,
                         p_2=p_2, psi_L=leak)  # fmt: skip
    d_L = worksheet.step(Heading("As one round hole", digits=3), orifice.diameter_of_area, A_L=A_L)
    worksheet.result("leak_diameter", d_L, mm, "The leak as one round hole, diameter", 3)
    worksheet.result("leak_area", A_L, mm2, "Area of the leak", 3)
    worksheet.result("leakage", 1 - inputs.cylinder / inputs.supply, pct, "Leakage as the tester shows it", 3)
    worksheet.result("tester_choked", bool(p_2 / p_1 <= r_c), None, "Choked at the tester")
    worksheet.result("leak_choked", bool(p_a / p_2 <= r_c), None, "Choked at the leak")
    worksheet.assume(
        "both holes let air through equally well for their size (same discharge coefficient), and the temperature of "
        "the air does not change"
    )
    if not inputs.typed("air_pressure"):
        worksheet.assume("air pressure at sea level, 1.013 bar")


LEAK_ORIFICE = Working(
    name="leak_orifice",
    title="Leak-down as hole size",
    question="how large a hole would leak as much as this leak-down test shows",
    phase="prove",
    inputs=LeakOrificeInputs,
    run=run,
    cautions=(
        GOVERNS,
        SUGGESTS,
        "Compare leak-down readings only from testers with the same orifice: with another orifice the same leak "
        "reads differently.",
    ),
)
