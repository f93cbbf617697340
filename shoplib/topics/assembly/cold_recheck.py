"""The working ``cold_recheck``: levels and joints again after the engine has cooled."""

from __future__ import annotations

from shoplib.core.fields import words
from shoplib.core.inputs import Inputs
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.assembly.checklist import Checklist
from shoplib.topics.cautions import HOT

LIST = Checklist(
    "checks",
    "Recheck after cooling",
    (
        "coolant level cold",
        "oil level",
        "no coolant in the oil",
        "no oil in the coolant",
        "no leak at the joint",
        "hoses and clamps",
        "re-torque as instructed",
    ),
    "good",
    "bad",
    "As read",
    "3 mm above the lower mark",
)


def run(inputs: ColdRecheckInputs, worksheet: Worksheet) -> None:
    """Judge each check; keep how long the engine cooled."""
    worksheet.result("cooled", inputs.cooled, None, "Cooled for")
    LIST.judge(inputs, worksheet)


class ColdRecheckInputs(Inputs):
    """Inputs of ``cold_recheck``."""

    cooled = words("cooled", "Cooled for", required=False, example='"over night, 14 h"', group="Recheck after cooling")
    checks = LIST.table


COLD_RECHECK = Working(
    name="cold_recheck",
    title="Recheck after cooling",
    question="are the levels and joints still right after the engine has cooled",
    phase="hand over",
    inputs=ColdRecheckInputs,
    run=run,
    cautions=(
        GOVERNS,
        HOT,
        "Re-torque only if the instructions say so. Quote them in the note. If they do not ask for it: not applicable.",
        "A level that fell once may be trapped air. A level that falls again is a leak: find it.",
    ),
)
