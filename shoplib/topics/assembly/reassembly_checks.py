"""The working ``reassembly_checks``: is everything in its place before the head is tightened and covered."""

from __future__ import annotations

from shoplib.core.fields import words
from shoplib.core.inputs import Inputs
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.assembly.checklist import Checklist
from shoplib.topics.cautions import BLIND, LIFT, LOCKED

LIST = Checklist(
    "checks",
    "Reassembly checks",
    (
        "faces clean and dry",
        "bolt holes clean and dry",
        "dowels fitted",
        "gasket the right way up",
        "sealant where the instructions ask for it",
        "head lowered onto its dowels",
        "belt or chain fitted and tensioned",
        "hoses and clamps fitted",
        "electrical connections fitted",
        "no part left over",
    ),
    "done",
    "not done",
    "Reading or mark seen",
    "TOP towards the head",
)


def run(inputs: ReassemblyChecksInputs, worksheet: Worksheet) -> None:
    """Judge each check; name those that are open."""
    LIST.judge(inputs, worksheet)


class ReassemblyChecksInputs(Inputs):
    """Inputs of ``reassembly_checks``."""

    source = words(
        "source",
        "Instructions used",
        required=False,
        group="Instructions",
        help="document, edition, page",
        example='"workshop manual, 3rd edition, page 44"',
    )
    checks = LIST.table


REASSEMBLY_CHECKS = Working(
    name="reassembly_checks",
    title="Reassembly checks",
    question="is everything in its place: gasket, dowels, sealant, hoses, belt",
    phase="assemble",
    inputs=ReassemblyChecksInputs,
    run=run,
    cautions=(
        GOVERNS,
        BLIND,
        LIFT,
        LOCKED,
    ),
)
