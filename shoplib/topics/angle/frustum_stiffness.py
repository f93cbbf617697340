"""The working ``frustum_stiffness``: how stiff are these layers under the bolt head."""

from __future__ import annotations

from shoplib.core.fields import quantity, table
from shoplib.core.inputs import Inputs
from shoplib.core.units import GPa, kN_per_mm, mm
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import joint
from shoplib.topics.threads.bolt_inputs import TEACHING


# ------------------------------------------------------------------------------ frusta
def run(inputs: FrustumStiffnessInputs, worksheet: Worksheet) -> None:
    """Each cone as typed, and all in series."""
    for n, row in enumerate(inputs.layers, 1):
        if not row["small_diameter"] > row["hole_diameter"]:
            worksheet.refuse(f"layers[{n}].small_diameter",
                             f"must be larger than the hole, {row['hole_diameter'] * 1e3:g} mm",
                             '"14.6 mm"')  # fmt: skip
    worksheet.raise_refusals()
    k = [
        worksheet.step(
            f"Layer {n}",
            joint.frustum_stiffness,
            E=r["modulus"],
            t=r["thickness"],
            D=r["small_diameter"],
            d_h=r["hole_diameter"],
        )
        for n, r in enumerate(inputs.layers, 1)
    ]
    worksheet.result("layer_stiffness", [float(x) for x in k], kN_per_mm, "Each layer")
    worksheet.result("stiffness", joint.in_series(k), kN_per_mm, "All in series")


class FrustumStiffnessInputs(Inputs):
    """Inputs of ``frustum_stiffness``."""

    layers = table(
        "layers",
        (
            quantity("modulus", GPa, "Modulus", symbol="E", above=0.0, example='"70 GPa"'),
            quantity("thickness", mm, "Thickness", symbol="t", above=0.0, example='"20 mm"'),
            quantity("small_diameter", mm, "Smaller diameter", symbol="D", above=0.0, example='"14.6 mm"'),
            quantity("hole_diameter", mm, "Hole", symbol="d_h", above=0.0, example='"11 mm"'),
        ),
        "Cones",
        help="one row per cone; half-apex angle 30°",
        example='[{"modulus": "70 GPa", "thickness": "20 mm", "small_diameter": "14.6 mm", "hole_diameter": "11 mm"}]',
    )


FRUSTUM_STIFFNESS = Working(
    name="frustum_stiffness",
    title="Stiffness of clamped layers as cones",
    question="how stiff are these layers under the bolt head",
    phase="tighten",
    inputs=FrustumStiffnessInputs,
    run=run,
    cautions=(GOVERNS, TEACHING),
)
