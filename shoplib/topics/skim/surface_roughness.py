"""The working ``surface_roughness``: what is this roughness in other units."""

from __future__ import annotations

from typing import Any

from shoplib.core.fields import choice, judging, quantity, sourced_limit
from shoplib.core.inputs import Inputs
from shoplib.core.units import uin, um, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import roughness


# ------------------------------------------------------------------------------ roughness
def run(inputs: SurfaceRoughnessInputs, worksheet: Worksheet) -> None:
    """The same parameter in µm and µin; another parameter is refused with the reason."""
    for name in ("wanted_parameter", "limit_parameter"):
        other = inputs[name]
        if other is not None and other != inputs.parameter:
            worksheet.refuse(name, roughness.why_not(inputs.parameter, other), inputs.parameter)
    if inputs.given("limit", "least") and inputs.least > inputs.limit:
        worksheet.refuse("least", "is above the roughest allowed")
    worksheet.raise_refusals()
    R = inputs.value
    worksheet.result("micrometre", R, um, f"{inputs.parameter} in micrometres")
    worksheet.result("microinch", R, uin, f"{inputs.parameter} in microinches")
    worksheet.step("In micrometres", roughness.number_of, R=R, R_0=unit_of(um).si)
    worksheet.step("In microinches", roughness.number_of, R=R, R_0=unit_of(uin).si)
    rest: Any = {"uncertainty": worksheet.uncertainty("value"), "otherwise": {"limit_parameter": ()}}
    if inputs.given("limit"):
        worksheet.check(f"{inputs.parameter} of the face", R, "≤", inputs.limit, um, inputs.limit_source, **rest)
    if inputs.given("least"):
        worksheet.check(f"{inputs.parameter} of the face", R, "≥", inputs.least, um, inputs.least_source, **rest)
    worksheet.plot_data.update(
        profiles=roughness.model_profiles(inputs.parameter, R, waves=6, points=1200), parameter=inputs.parameter
    )


class SurfaceRoughnessInputs(Inputs):
    """Inputs of ``surface_roughness``."""

    value = quantity("value", um, "Roughness as read", symbol="R", above=0.0, example='"30 uin"', group="Reading")
    parameter = choice("parameter", "Parameter", tuple(roughness.PARAMETERS), example="Ra",
                       help="as on the drawing; Ra is an average height, Rz a height from peak to valley",
                       group="Reading")  # fmt: skip
    wanted_parameter = choice("wanted_parameter", "Parameter wanted", tuple(roughness.PARAMETERS),
                              required=False, example="Ra",
                              help="only to ask for another parameter: the form then says why it cannot be calculated",
                              group="Reading")  # fmt: skip
    limit, limit_source = sourced_limit(
        "limit", um, "Largest roughness allowed", above=0.0, example='"0.8 um"', group="Limits"
    )
    least, least_source = sourced_limit(
        "least", um, "Smallest roughness allowed", above=0.0, example='"0.4 um"', group="Limits"
    )
    limit_parameter = choice(
        "limit_parameter", "Parameter of the limits", tuple(roughness.PARAMETERS), required=False, example="Ra",
        help="as given beside the limit; without it the result cannot be a pass", group="Limits",
    )  # fmt: skip
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(um)


SURFACE_ROUGHNESS = Working(
    name="surface_roughness",
    title="Surface roughness in other units",
    question="what is this roughness in other units",
    phase="skim",
    inputs=SurfaceRoughnessInputs,
    run=run,
    cautions=(GOVERNS, "Keep within both limits of the source: some gaskets need a rough face to grip."),


)  # fmt: skip
