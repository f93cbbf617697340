"""The working ``fluid_ledger``: did as much coolant go in as came out, and is the air out."""

from __future__ import annotations

import math
from typing import Any

from shoplib.core.checks import Outcome, Uncertainty
from shoplib.core.fields import choice, judging, listing, quantity, sourced_limit, table, words
from shoplib.core.former import Former
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import below, total
from shoplib.core.units import L, degC, show
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import coolant_properties
from shoplib.topics.cautions import HOT, POISON
from shoplib.topics.coolant.coolant_inputs import CAPACITY, CELSIUS, NEVER_MIX, _litres, _shown

# ------------------------------------------------------------------------------ the balance
LEVELS = ("between the marks", "below the low mark", "above the high mark", "not looked at")


MARKS = "marks on the tank"


def run(inputs: FluidLedgerInputs, worksheet: Worksheet) -> None:
    """Litres in and out, what is missing, levels, and the bleed points with their temperatures."""
    total_in = math.fsum(inputs.in_)
    V = inputs.capacity
    total_out = math.fsum(inputs.out) if inputs.given("out") else None
    if total_out is not None and below(V, total_out):
        worksheet.refuse("out", f"adds up to {_shown(total_out)}, more than the capacity, {_shown(V)}")
    worksheet.raise_refusals()
    room = V if total_out is None else total_out
    missing = total(room, -total_in)
    _litres(worksheet, "total_in", total_in, "Poured in")
    _litres(worksheet, "total_out", total_out, "Came out")
    _litres(worksheet, "residual", None if total_out is None else V - total_out, "Stayed in")
    _litres(worksheet, "unaccounted", missing, "Missing")
    if total_out is None:
        worksheet.caution(
            f"Measure the strength: it cannot be calculated, because what came out was not measured. The "
            f"{_shown(abs(missing))} between the capacity and what was poured in may be old coolant, or air."
        )
    half = math.fsum(worksheet.uncertainty(n, k).half_width for n in ("in", "out") for k in range(len(inputs[n] or ())))
    doubt = Uncertainty(half)
    half = worksheet.counted(doubt)
    outcome = worksheet.check(
        "Litres missing",
        abs(missing) if total_out is not None else None,
        "≤",
        inputs.unaccounted_limit,
        L,
        inputs.unaccounted_limit_source,
        remark="" if total_out is not None else "what came out was not measured",
        uncertainty=doubt if total_out is not None else None,
        between=(max(abs(missing) - half, 0.0), abs(missing) + half),
    )
    if outcome is not Outcome.PASS:
        _unaccounted(worksheet, missing)
    for name, word in (("level_cold", "Level, cold"), ("level_hot", "Level, hot")):
        seen = inputs[name]
        if seen is not None:
            worksheet.judge(word, seen, "between the marks", None, None, MARKS, _level(seen))
    _bleed(inputs, worksheet)


def _unaccounted(worksheet: Worksheet, missing: float) -> None:
    """The possible meaning of missing litres; not shown where the limit allows them."""
    if missing > 0:
        worksheet.caution(
            f"Do not run the engine until you have found the missing {_shown(missing)}. Air may be trapped, and a hot "
            "spot "
            "without coolant can crack the head."
        )
    elif missing < 0:
        worksheet.caution(
            f"Find out why {_shown(-missing)} more went in than came out. The level was low before, the system leaks, "
            "or "
            "a reading is wrong."
        )


def _level(seen: str) -> Outcome:
    return {LEVELS[0]: Outcome.PASS, LEVELS[3]: Outcome.UNDECIDED}.get(seen, Outcome.FAIL)


def _bleed(inputs: FluidLedgerInputs, worksheet: Worksheet) -> None:
    """The last observation of each bleed point counts."""
    if not inputs.given("bleed"):
        worksheet.judge(
            "Bleeding", "not recorded", "clear", None, None, None, Outcome.UNDECIDED, "tick each bleed point"
        )
        return
    last: dict[str, Any] = {}
    for tick in inputs.bleed:
        last[tick["where"].strip().casefold()] = tick
    for tick in last.values():
        warm = "" if tick["temperature"] is None else f" at {show(tick['temperature'], CELSIUS, 3)}"
        outcome = Outcome.PASS if tick["seen"] == "clear" else Outcome.FAIL
        remark = "" if outcome is Outcome.PASS else "air still comes out: bleed again"
        worksheet.judge(f"Bleed: {tick['where']}", tick["seen"] + warm, "clear", None, None, "as seen", outcome, remark)
    worksheet.result("bleed_points", len(last), None, "Number of bleed points")
    if any(t["temperature"] is not None and t["temperature"] > coolant_properties.ZERO + 50 for t in inputs.bleed):
        worksheet.caution(
            "You bled the system above 50 °C. Open a bleed point on a hot engine only if the maker's procedure says so."
        )


class FluidLedgerInputs(Inputs):
    """Inputs of ``fluid_ledger``."""

    capacity = CAPACITY
    out = listing(
        "out",
        quantity("out", L, "Out", at_least=0.0, example='"6.0 L"'),
        "Came out",
        required=False,
        help="every drain, spill and sample; if empty, not measured",
        example='"4.2 L; 1.8 L"',
        group="Litres",
    )
    in_ = listing(
        "in",
        quantity("in", L, "In", at_least=0.0, example='"4.5 L"'),
        "Poured in",
        help="every pour and top-up",
        example='"4.5 L; 1.5 L"',
        group="Litres",
    )
    unaccounted_limit, unaccounted_limit_source = sourced_limit(
        "unaccounted_limit",
        L,
        "Allowed loss",
        at_least=0.0,
        example='"0.2 L"',
        group="Litres",
    )
    level_cold = choice(
        "level_cold", "Level, cold", LEVELS, required=False, example="between the marks", group="Levels"
    )
    level_hot = choice("level_hot", "Level, hot", LEVELS, required=False, example="between the marks", group="Levels")
    bleed = table(
        "bleed",
        (
            words("where", "Bleed point", example='"heater hose"'),
            choice("seen", "Seen", ("clear", "bubbles"), example="clear"),
            quantity("temperature", degC, "Coolant temperature", required=False, at_least=0.0, example='"60 degC"'),
        ),
        "Bleed points",
        required=False,
        help="in the order done; the last row of each bleed point counts",
        example='[{"where": "heater hose", "seen": "clear", "temperature": "60 degC"}]',
        group="Levels",
    )
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(L)


FLUID_LEDGER = Working(
    name="fluid_ledger",
    title="Coolant balance",
    question="did as much coolant go in as came out, and is the air out",
    phase="fill",
    inputs=FluidLedgerInputs,
    run=run,
    cautions=(
        GOVERNS,
        HOT,
        POISON,
        NEVER_MIX,
    ),
    former=Former(labels={"Litres unaccounted for": ("Litres missing",)}),
)
