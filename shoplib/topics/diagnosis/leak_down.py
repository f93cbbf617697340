"""The working ``leak_down``: how much air does each cylinder lose, and where does it go."""

from __future__ import annotations

import re

from shoplib.core.checks import Outcome, Value
from shoplib.core.fields import judging, listing, quantity, sourced_limit, words
from shoplib.core.former import Former
from shoplib.core.inputs import Inputs
from shoplib.core.units import pct
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import compression
from shoplib.topics.cautions import HOT
from shoplib.topics.diagnosis.cylinders import (
    MOST_CYLINDERS,
    PCT,
    SUGGESTS,
    USUAL,
    Gauged,
    _measured,
    _missing_remark,
    _named,
)

# ------------------------------------------------------------------------------ leak-down
ESCAPES = {
    "intake": "at the intake, which suggests an intake valve",
    "exhaust": "at the exhaust, which suggests an exhaust valve",
    "crankcase": "in the crankcase, which suggests rings, piston or bore",
    "coolant": "in the coolant, which suggests the head gasket, or a crack in head or block",
    "neighbour": "at the plug hole of a neighbouring cylinder, which suggests the gasket between the two",
}


NONE_HEARD = "none heard"


JOINT = ("coolant", "neighbour")


def _escapes_of(typed: list[str], worksheet: Worksheet) -> list[list[str]]:
    """For each cylinder the places where air was heard."""
    found = []
    for n, item in enumerate(typed, 1):
        places = [p for p in re.split(r"\s*(?:\+|,|\band\b)\s*", item.strip().lower()) if p]
        wrong = [p for p in places if p not in ESCAPES and p != NONE_HEARD]
        if wrong or not places:
            known = ", ".join((*ESCAPES, NONE_HEARD))
            worksheet.refuse(
                f"escapes[{n}]", f'"{item.strip()[:40]}" is not one of {known}; join two with +', "exhaust"
            )
        elif NONE_HEARD in places and len(places) > 1:
            worksheet.refuse(f"escapes[{n}]", "says “none heard” and also a place", NONE_HEARD)
        found.append([] if NONE_HEARD in places else places)
    return found


def _found_before(found: str) -> tuple[str, ...]:
    """What earlier versions said for "cylinder 3 (neighbour), cylinder 4 (neighbour + coolant)".

    >>> _found_before("cylinder 3 (neighbour), cylinder 4 (neighbour + coolant)")
    ('cylinder 3 and 4, coolant and neighbour', 'cylinders 3 and 4 (coolant and neighbour)')
    """
    numbers = [int(n) for n in re.findall(r"cylinder (\d+)", found)]
    if not numbers:
        return ()
    where = " and ".join(p for p in JOINT if p in found)
    named = _named(numbers)
    return f"cylinder {named}, {where}", f"cylinder{'s' * (len(numbers) > 1)} {named} ({where})"


def run(inputs: LeakDownInputs, worksheet: Worksheet) -> None:
    """The worst cylinder, the spread, and where the air goes: this is the diagnosis."""
    count = len(inputs.readings)
    if count > MOST_CYLINDERS:
        worksheet.refuse("readings", f"has {count} cylinders; at most {MOST_CYLINDERS}")
        worksheet.raise_refusals()
    if len(inputs.escapes) != count:
        worksheet.refuse(
            "escapes",
            f"has {len(inputs.escapes)} entries for {count} readings; type none heard where nothing was heard",
            '"none heard; exhaust; none heard"',
        )
    escapes = _escapes_of(inputs.escapes, worksheet)
    leak = _measured(inputs.readings)
    if not leak:
        worksheet.refuse("readings", "has no reading")
    worksheet.raise_refusals()
    gauged = Gauged.of(inputs, worksheet, "readings")
    missing = [n for n in range(1, count + 1) if n not in leak]
    worst_at = max(leak, key=lambda n: leak[n])
    worst, least = leak[worst_at], min(leak.values())
    worksheet.result("worst", worst, pct, "Worst leakage", 3)
    worksheet.result("worst_cylinder", worst_at, None, "Worst cylinder")
    worksheet.result(
        "spread",
        worksheet.step("Spread", compression.leak_spread, L_max=worst, L_min=least),
        pct,
        "Spread, highest minus lowest",
        3,
    )
    over = (
        {n: worksheet.decided(gauged.least(n), gauged.most(n), "≤", inputs.limit)[0] for n in leak}
        if inputs.given("limit")
        else {}
    )
    bad = {n for n in over if over[n] is not Outcome.PASS} if over else {worst_at} if worst > least else set()
    said = []
    for n, places in enumerate(escapes, 1):
        if n in over and n in bad:
            how = "leaks more than the limit" if over[n] is Outcome.FAIL else "is too close to the limit to decide"
            said.append(f"Cylinder {n} {how}: {worksheet.shown(leak[n], PCT, 3)}.")
        if places:
            said.append(f"Cylinder {n}: air " + ", and ".join(ESCAPES[p] for p in places) + ".")
        elif n in bad:
            most = "" if over else "leaks most and "
            said.append(f"Cylinder {n}: {most}nothing was heard; listen again, at its own top dead centre.")
    worksheet.result("suggests", " ".join(said) or "No air was heard anywhere.", None, "What the readings suggest")
    rows = [
        {
            "cylinder": Value(n, None, "cylinder"),
            "leakage": Value(inputs.readings[n - 1], PCT, "leakage", 3),
            "escapes": Value(" + ".join(places) or NONE_HEARD, None, "escaping air"),
        }
        for n, places in enumerate(escapes, 1)
    ]
    worksheet.result("cylinders", rows, None, "Cylinder by cylinder")
    worksheet.check(f"Worst leakage, cylinder {worst_at}", worst, "≤", inputs.limit, pct, inputs.limit_source,
                    uncertainty=worksheet.uncertainty("readings", worst_at - 1), between=gauged.highest,
                    missing=_missing_remark(missing), )  # fmt: skip
    worksheet.plot_data["bad"] = bad or ({worst_at} if not over else set())
    at_joint = [n for n, places in enumerate(escapes, 1) if any(p in JOINT for p in places)]
    air = "Air in the coolant or in a neighbouring cylinder"
    if not at_joint and not missing:
        worksheet.judge(air, "none heard", "none", None, None, USUAL, Outcome.PASS)
    elif at_joint:
        worksheet.judge(
            air,
            ", ".join(f"cylinder {n} ({' + '.join(p for p in escapes[n - 1] if p in JOINT)})" for n in at_joint),
            "never pass",
            None,
            None,
            USUAL,
            Outcome.UNDECIDED,
            "air here is never a pass, whatever the percentage: find the cause before you close the job",
        )


class LeakDownInputs(Inputs):
    """Inputs of ``leak_down``."""

    readings = listing(
        "readings",
        quantity("reading", pct, "Reading", at_least=0.0, at_most=1.0, may_be_missing=True, example='"12 %"'),
        "Leakage, cylinder 1, 2, 3 …",
        example='"8 %; 9 %; 34 %; 31 %"',
        help="separated by semicolons; type “not measured” for one that is missing",
        group="Readings",
    )
    escapes = listing(
        "escapes",
        words("escape", "Air heard at", example="exhaust"),
        "Where air escaped, same order",
        example='"none heard; none heard; neighbour; neighbour + coolant"',
        help="words separated by semicolons: intake, exhaust, crankcase, coolant, neighbour or none heard",
        group="Readings",
    )
    limit, limit_source = sourced_limit(
        "limit", pct, "Largest leakage allowed", above=0.0, at_most=1.0, example='"20 %"', group="Limit"
    )
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(pct)


LEAK_DOWN = Working(
    name="leak_down",
    title="Leak-down test",
    question="how much air does each cylinder lose, and where does it go",
    phase="prove",
    calculation=2,
    inputs=LeakDownInputs,
    run=run,
    cautions=(
        "First disable fuel and ignition, and lock the crankshaft: air can spin it. Keep hands and tools clear.",
        GOVERNS,
        SUGGESTS,
        HOT,
        "A little air in the crankcase is normal: compare the cylinders.",
    ),
    former=Former(
        labels={
            "Air in coolant or neighbour": ("Air in the coolant or in a neighbouring cylinder",),
            "Air in the coolant or in the next cylinder": ("Air in the coolant or in a neighbouring cylinder",),
        },
        sources={"where the air escapes is the diagnosis": (USUAL,)},
        found=_found_before,
    ),
)
