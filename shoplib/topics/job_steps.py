"""The steps of a job in their order: which workings do a step, and which notebook has its form."""

from __future__ import annotations

from dataclasses import dataclass

AS_FOUND, AS_LEFT = "as_found", "as_left"
LOOSENING, TIGHTENING, CLOSING = (
    "loosening",
    "tightening",
    "closing",
)  # steps that are done by ticks, and by closing the job


@dataclass(frozen=True)
class Step:
    """One step of a job.  ``condition``: a test that is done before and after the repair is two steps."""

    code: str
    title: str
    notebook: str
    workings: tuple[str, ...] = ()
    condition: str = ""


STEPS = (
    Step("card", "Engine card", "01-engine-card.ipynb", ("engine_card",)),
    Step("compression", "Compression test, as found", "11-compression-and-leak-down.ipynb", ("compression_test",),
         AS_FOUND),
    Step("leak_down", "Leak-down test", "11-compression-and-leak-down.ipynb", ("leak_down",)),
    Step("hold", "Pressure hold, as found", "12-pressure-hold.ipynb", ("pressure_hold",), AS_FOUND),
    Step("gas", "Gas in the coolant", "13-gas-in-the-coolant.ipynb", ("gas_in_coolant",)),
    Step("strip", "Lock, drain and strip", "21-lock-and-strip.ipynb", ("strip_log",)),
    Step(LOOSENING, "Loosening, bolt by bolt", "21-lock-and-strip.ipynb"),
    Step("fasteners", "Fastener log", "22-fasteners.ipynb", ("fastener_log",)),
    Step("flatness", "Flatness of head and deck", "31-straightedge-and-feeler.ipynb",
         ("flatness_lines", "flatness_grid", "flatness_steps")),
    Step("allowance", "Skim allowance", "41-after-the-skim.ipynb", ("skim_allowance",)),
    Step("work_order", "Work order to the machine shop", "42-work-order.ipynb", ("work_order",)),
    Step("grade", "Gasket grade", "41-after-the-skim.ipynb", ("gasket_grade",)),
    Step("reach", "Reach of the bolts in their holes", "22-fasteners.ipynb", ("bolt_reach",)),
    Step("parts", "Parts with their numbers", "54-parts-and-reassembly.ipynb", ("parts_list",)),
    Step("reassembly", "Reassembly checks", "54-parts-and-reassembly.ipynb", ("reassembly_checks",)),
    Step("plan", "Tightening plan", "64-tightening-guide.ipynb", ("tightening_plan",)),
    Step(TIGHTENING, "Tightening, bolt by bolt", "64-tightening-guide.ipynb"),
    Step("two_turns", "Timing: two turns by hand", "71-timing.ipynb", ("two_turn_check",)),
    Step("oil", "Oil: drain, filter, fill", "83-oil-and-first-run.ipynb", ("oil_service",)),
    Step("coolant", "Coolant filled and bled", "81-fill-and-correct.ipynb", ("fluid_ledger",)),
    Step("hold_after", "Pressure hold, as left", "12-pressure-hold.ipynb", ("pressure_hold",), AS_LEFT),
    Step("compression_after", "Compression test, as left", "11-compression-and-leak-down.ipynb",
         ("compression_test",), AS_LEFT),
    Step("run_up", "Run-up and hot check", "83-oil-and-first-run.ipynb", ("run_up",)),
    Step("recheck", "Recheck after cooling", "83-oil-and-first-run.ipynb", ("cold_recheck",)),
    Step(CLOSING, "Close, sign and hand over", "91-job-and-sheet.ipynb"),
)  # fmt: skip
BY_CODE = {step.code: step for step in STEPS}
