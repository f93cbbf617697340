"""The working ``run_up``: the first run after the repair, and the check while hot."""

from __future__ import annotations

from shoplib.core.fields import quantity, words
from shoplib.core.inputs import Inputs
from shoplib.core.units import degC, minute
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.assembly.checklist import Checklist
from shoplib.topics.cautions import FAN, HOT

LIST = Checklist(
    "checks",
    "Run-up and hot check",
    (
        "oil pressure built up",
        "no leak, cold",
        "no unusual noise",
        "heater warm",
        "thermostat opened",
        "fan cut in",
        "temperature steady",
        "no leak, hot",
        "no white vapour when hot",
        "run under load",
    ),
    "good",
    "bad",
    "As read",
    "88 °C on the gauge",
)


def run(inputs: RunUpInputs, worksheet: Worksheet) -> None:
    """Judge each check; keep how long and how hot it ran."""
    worksheet.result("minutes", inputs.minutes, minute, "Time run")
    worksheet.result("highest", inputs.highest, degC, "Highest temperature read")
    LIST.judge(inputs, worksheet)


class RunUpInputs(Inputs):
    """Inputs of ``run_up``."""

    minutes = quantity("minutes", minute, "Time run", required=False, above=0.0, example='"25 min"', group="Run")
    highest = quantity("highest", degC, "Highest temperature read", required=False, example='"92 degC"', group="Run")
    load = words("load", "Load", required=False, example='"half load on the pump"', group="Run")
    checks = LIST.table


RUN_UP = Working(
    name="run_up",
    title="Run-up and hot check",
    question="does the engine hold its coolant and oil when it is run up to temperature",
    phase="hand over",
    inputs=RunUpInputs,
    run=run,
    cautions=(
        GOVERNS,
        HOT,
        FAN,
        "Run the engine only where the exhaust gas can escape. Touch no hot surface.",
        "Stop the engine if the oil pressure does not build up or the temperature does not settle.",
    ),
)
