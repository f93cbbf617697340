"""The working ``bolt_reuse``: can these bolts be re-used, by the method that the source gives."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from shoplib.core.checks import Outcome, Uncertainty, added
from shoplib.core.fields import choice, judging, listing, quantity, sourced_limit, words
from shoplib.core.inputs import Inputs
from shoplib.core.units import mm
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import reach
from shoplib.topics.cautions import SINGLE_USE

# ------------------------------------------------------------------------------ re-use
NEVER, LENGTH, DIAMETER, NECKING = "never", "max_length", "min_diameter", "necking"


MEASURED = '"146.2 mm; 146.1 mm; 146.4 mm; 146.2 mm; 146.3 mm"'


BOLT_NAMES = listing(  # read by bolt_names(); as many in its example as in those of the readings beside it
    "bolts",
    words("bolts", "Bolt"),
    "Names of the bolts",
    required=False,
    example='"1; 2; 3; 4; 5"',
    help="if left empty: 1, 2, 3, …",
    group="Readings",
)


def run(inputs: BoltReuseInputs, worksheet: Worksheet) -> None:
    """Judge each used bolt by the given method; without a source of the limit it is replaced."""
    if inputs.method == NEVER:
        worksheet.raise_refusals()
        worksheet.result("margin", None, mm, "Smallest margin")
        worksheet.judge(
            "Re-use", "used bolts", "never", None, None, inputs.limit_source, Outcome.FAIL, "single-use bolts"
        )
        worksheet.result(
            "text", "Replace the bolts: by the method of the source they are used once only.", None, "Advice"
        )
        return
    names = bolt_names(inputs, worksheet, inputs.measured)
    reference = _reference(inputs, worksheet)
    worksheet.raise_refusals()
    margins: list[float | None] = []
    label, sign = {LENGTH: ("length", "≤"), DIAMETER: ("diameter", "≥"), NECKING: ("necking", "≤")}[inputs.method]
    for k, (name, found) in enumerate(zip(names, inputs.measured, strict=True)):
        margin = None
        if found is not None:
            if inputs.method == NECKING:
                found = worksheet.step(f"Necking, bolt {name}", reach.necking, d_ref=reference[k], d=found)
            if inputs.limit is not None:
                margin = _margin(inputs, worksheet, name, found)
        margins.append(margin)
        worksheet.check(
            f"Bolt {name}: {label}",
            found,
            sign,
            inputs.limit,
            mm,
            inputs.limit_source,
            uncertainty=None if found is None else _reading(inputs, worksheet, k),
        )
    known = [(m, n) for m, n in zip(margins, names, strict=True) if m is not None]
    smallest, worst = min(known, key=lambda pair: pair[0]) if known else (None, None)
    worksheet.result("margin", smallest, mm, "Smallest margin")
    worksheet.result("worst_bolt", worst or "not known", None, "Bolt with the smallest margin")
    worksheet.result("margins", margins, mm, "Margin of each bolt")
    worksheet.result("text", _verdict(worksheet, names), None, "Advice")
    worksheet.plot_data.update(names=names, margins=margins)


def _reading(inputs: BoltReuseInputs, worksheet: Worksheet, k: int) -> Uncertainty:
    """The uncertainty of the length or diameter of a bolt, or of the difference of its two diameters."""
    if inputs.method != NECKING:
        return worksheet.uncertainty("measured", k)
    return added(
        worksheet.uncertainty("measured", k), worksheet.uncertainty("reference", k if len(inputs.reference) > 1 else 0)
    )


def _margin(inputs: BoltReuseInputs, worksheet: Worksheet, name: str, found: float) -> float:
    title = f"Margin, bolt {name}"
    match inputs.method:
        case "max_length":
            return float(worksheet.step(title, reach.length_margin, l_max=inputs.limit, l=found))
        case "min_diameter":
            return float(worksheet.step(title, reach.diameter_margin, d=found, d_min=inputs.limit))
    return float(worksheet.step(title, reach.necking_margin, N_max=inputs.limit, N=found))


class BoltNames(Inputs):
    """Names of the bolts that were read."""

    bolts = BOLT_NAMES


def bolt_names(inputs: BoltNames, worksheet: Worksheet, readings: Sequence[Any]) -> list[str]:
    """The names in the field ``bolts``, one per reading; without it 1, 2, 3, …"""
    count = len(readings)
    if not inputs.given("bolts"):
        return [str(k) for k in range(1, count + 1)]
    names = [n.strip() for n in inputs.bolts]
    if len(names) != count:
        worksheet.refuse(
            "bolts", f"has {len(names)} names for {count} readings; type “not measured” for a missing reading"
        )
    for name, times in Counter(names).items():
        if times > 1:
            worksheet.refuse("bolts", f"bolt {name[:40]} is listed {times} times")
    return names


def _reference(inputs: BoltReuseInputs, worksheet: Worksheet) -> list[float]:
    """The diameter away from the neck, for each bolt; only necking needs it."""
    if inputs.method != NECKING:
        return []
    count = len(inputs.measured)
    reference = list(inputs.reference) * (count if len(inputs.reference) == 1 else 1)
    if len(reference) != count:
        worksheet.refuse(
            "reference", f"has {len(reference)} diameters for {count} readings; type one for all bolts, or one per bolt"
        )
        return []
    for k, (a, b) in enumerate(zip(reference, inputs.measured or (), strict=True), 1):
        if b is not None and b > a:
            worksheet.refuse(
                "measured",
                f"reading {k} is thicker than the diameter that has not stretched; check whether the two are swapped",
            )
    return reference


def _verdict(worksheet: Worksheet, names: Sequence[str]) -> str:
    """What to do, in one sentence; replacing needs no source, re-use does."""

    def listed(outcome: Outcome, measured: bool = True) -> str:
        found = [
            n
            for n, c in zip(names, worksheet.checks, strict=True)
            if c.outcome is outcome and (c.found.value is not None) == measured
        ]
        return f"bolt{'s' if len(found) > 1 else ''} {', '.join(found)}" if found else ""

    missing, unsure = listed(Outcome.UNDECIDED, measured=False), listed(Outcome.UNDECIDED)
    measure = f" Measure {missing}." if missing else ""
    if failed := listed(Outcome.FAIL):
        return (
            f"Replace {failed}: beyond the limit. Check with the maker whether single bolts may be replaced.{measure}"
        )
    if listed(Outcome.NO_LIMIT):
        return f"Replace the bolts: the limit or its source is missing, so nothing allows re-use.{measure}"
    if unsure:
        return f"Replace, or measure with less uncertainty: {unsure} too close to the limit to decide.{measure}"
    if missing:
        return f"Replace, or measure first: {missing} not measured."
    return "Re-use is allowed by this method, if the maker's procedure allows it."


class BoltReuseInputs(BoltNames):
    """Inputs of ``bolt_reuse``."""

    method = choice(
        "method",
        "Method that the source gives",
        {
            NEVER: "never re-used",
            LENGTH: "longest length allowed",
            DIAMETER: "smallest diameter allowed",
            NECKING: "necking: difference of two diameters",
        },
        example=LENGTH,
        group="Method",
    )
    measured = listing(
        "measured",
        quantity("measured", mm, "Reading", above=0.0, may_be_missing=True),
        "Readings, one per bolt",
        required=False,
        needed_when=("method", LENGTH, DIAMETER, NECKING),
        example=MEASURED,
        help="length, or smallest diameter; “not measured” stays missing",
        csv=True,
        group="Readings",
    )
    reference = listing(
        "reference",
        quantity("reference", mm, "Diameter", above=0.0),
        "Diameter where the bolt has not stretched",
        required=False,
        needed_when=("method", NECKING),
        only_when=("method", NECKING),
        example='"9.95 mm"',
        help="for necking only: one for all bolts, or one per bolt",
        group="Readings",
    )
    bolts = BOLT_NAMES
    limit, limit_source = sourced_limit("limit", mm, "Limit", above=0.0, example='"147.0 mm"', group="Limit")
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(mm)


BOLT_REUSE = Working(
    name="bolt_reuse",
    title="Re-use of bolts",
    question="can these bolts be re-used, by the method that the source gives",
    phase="fasteners",
    inputs=BoltReuseInputs,
    run=run,
    cautions=(
        GOVERNS,
        SINGLE_USE,
        "Inspect thread, shank and seat, and look for rust: a bolt within its limit may still be damaged.",
        "If no source allows re-use, replace the bolt.",
    ),
)
