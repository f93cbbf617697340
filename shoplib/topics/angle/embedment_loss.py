"""The working ``embedment_loss``: how much preload is lost when the surfaces settle."""

from __future__ import annotations

from shoplib.core.fields import quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import kN, mm
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import loads
from shoplib.topics.angle.load_inputs import BOLT_STIFFNESS, ELASTIC, PARTS_STIFFNESS
from shoplib.topics.threads.bolt_inputs import TEACHING


# ------------------------------------------------------------------------------ embedding
def run(inputs: EmbedmentLossInputs, worksheet: Worksheet) -> None:
    """Preload lost to settling surfaces."""
    loss = worksheet.step(
        "Loss", loads.embedment_loss, f_Z=inputs.embedment, k_b=inputs.bolt_stiffness, k_p=inputs.parts_stiffness
    )
    worksheet.result("preload_loss", loss, kN, "Preload lost")
    worksheet.assume(ELASTIC)


class EmbedmentLossInputs(Inputs):
    """Inputs of ``embedment_loss``."""

    embedment = quantity(
        "embedment",
        mm,
        "Settling of all faces together",
        symbol="f_Z",
        at_least=0.0,
        plausible=(0.0, 0.5e-3),
        help="all faces and the gasket together",
        example='"0.02 mm"',
        group="Settling",
    )
    bolt_stiffness = BOLT_STIFFNESS
    parts_stiffness = PARTS_STIFFNESS


EMBEDMENT_LOSS = Working(
    name="embedment_loss",
    title="Preload lost to settling",
    question="how much preload is lost when the surfaces settle",
    phase="tighten",
    inputs=EmbedmentLossInputs,
    run=run,
    cautions=(GOVERNS, TEACHING),
)
