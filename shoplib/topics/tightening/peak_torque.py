"""The working ``peak_torque``: is one bolt unlike the others, and should I stop and look before it fails."""

from __future__ import annotations

from collections.abc import Sequence

from shoplib.core.checks import Outcome, added
from shoplib.core.fields import judging, listing, quantity, sourced_limit
from shoplib.core.former import Former
from shoplib.core.units import N_m, one, pct
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import outlier
from shoplib.topics.cautions import SHEAR
from shoplib.topics.fasteners.bolt_reuse import BOLT_NAMES, BoltNames, bolt_names
from shoplib.topics.tightening.stage_reading import PAST_THE_MARK
from shoplib.topics.tightening.stage_words import PEAK_TOLERANCE, TORQUE

# ------------------------------------------------------------------------------ peak torques at the final angle
LOW = (
    "lower than the others: possibly a stripping thread, a necking bolt, more lubricant, or an angle stopped too early"
)


HIGH = (
    "higher than the others: possibly a bolt at the bottom of its hole, fluid or dirt in a blind hole, or a dry or "
    "damaged thread or seat"
)


STOP = "stop and look"
ADVISES = "this rule only advises, so it fails no bolt"


def run(inputs: PeakTorqueInputs, worksheet: Worksheet) -> None:
    """Name each bolt whose peak torque is unlike the others: by a published rule, and by a typed tolerance."""
    names = bolt_names(inputs, worksheet, inputs.readings)
    worksheet.raise_refusals()
    known = [(n, float(v)) for n, v in zip(names, inputs.readings, strict=True) if v is not None]
    values = [v for _, v in known]
    middle = outlier.median(values) if values else None
    spread = outlier.median_deviation(values) if values else None
    worksheet.result("median", middle, N_m, "Median (the middle reading)")
    worksheet.result("median_deviation", spread, N_m, "MAD (median of the distances from the median)")
    looks: dict[str, str] = {}
    scores: dict[str, float] = {}
    if middle is not None and spread is not None and len(values) >= outlier.FEWEST:
        for name, v in known:
            if spread > 0:
                M_i = float(
                    worksheet.step(f"Score, bolt {name}", outlier.modified_z_score, x=v, x_med=middle, MAD=spread)
                )
                scores[name] = M_i
                odd = abs(M_i) > outlier.LIMIT
            else:
                odd = v != middle
            if odd:
                looks[name] = LOW if v < middle else HIGH
                why = "" if spread > 0 else "more than half of the readings are equal, so there is no score; "
                read, median = (worksheet.shown(x, TORQUE) for x in (v, middle))
                worksheet.judge(f"Bolt {name}: {read}, median {median}; score",
                                scores.get(name, "none"), "within ±", outlier.LIMIT, one if spread > 0 else None,
                                outlier.SOURCE, Outcome.UNDECIDED,
                                f"{STOP}: {why}{looks[name]}; {ADVISES}")  # fmt: skip
    if inputs.given("peak_tolerance") and middle is not None:
        of_middle = max((worksheet.uncertainty("readings", k) for k, v in enumerate(inputs.readings) if v is not None),
                        key=lambda u: u.half_width)  # fmt: skip
        for k, (name, v) in enumerate(zip(names, inputs.readings, strict=True)):
            if v is None:
                continue
            e = abs(
                float(
                    worksheet.step(
                        f"Distance from the median, bolt {name}", outlier.relative_deviation, x=v, x_med=middle
                    )
                )
            )
            # e = |v − middle| / middle: its uncertainty from that of both
            either_way = added(worksheet.uncertainty("readings", k).times(1 / middle), of_middle.times(v / middle**2))
            told = worksheet.check(f"Bolt {name}: distance from the median", e, "≤", inputs.peak_tolerance, pct,
                                   inputs.peak_tolerance_source, uncertainty=either_way)  # fmt: skip
            if told is Outcome.FAIL:
                looks.setdefault(name, LOW if v < middle else HIGH)
    missing = [n for n, v in zip(names, inputs.readings, strict=True) if v is None]
    if missing and known:
        worksheet.judge(f"Peak torque read: bolt {', '.join(missing)}", "not measured", "must be",
                        "measured", None, None, Outcome.UNDECIDED,
                        "a bolt without a reading is not known to be like the others")  # fmt: skip
    worksheet.result("scores", [scores.get(n) for n in names], one, "Score of each bolt", 3)
    worksheet.result("unlike", list(looks), None, "Bolts to stop and look at")
    worksheet.result("text", _advice(known, looks, spread), None, "Advice")
    if outlier.FEWEST <= len(values) < 10:  # fewer are not scored
        worksheet.assume(f"the rule is good enough for {len(values)} readings; its authors tested it on 10 or more")
    worksheet.plot_data.update(names=names, readings=list(inputs.readings), middle=middle, looks=looks, spread=spread)


def _advice(known: Sequence[tuple[str, float]], looks: dict[str, str], spread: float | None) -> str:
    if looks:
        return f"{STOP.capitalize()}. " + ". ".join(f"Bolt {n}: {why}" for n, why in looks.items()) + "."
    if not known:
        return "No reading yet."
    if len(known) < outlier.FEWEST:
        return (
            f"{len(known)} readings are too few to find one that is unlike the others; read at least {outlier.FEWEST}."
        )
    if spread == 0:
        return "All readings are equal."
    return "By this rule, no bolt is unlike the others. That does not prove that all are sound."


class PeakTorqueInputs(BoltNames):
    """Inputs of ``peak_torque``."""

    readings = listing(
        "readings",
        quantity("readings", N_m, "Reading", above=0.0, may_be_missing=True),
        "Peak torques, one per bolt",
        example='"118 N*m; 121 N*m; 116 N*m; 120 N*m; 84 N*m"',
        help="as read while you turn the final angle; type “not measured” if one is missing",
        csv=True,
        group="Readings",
    )
    bolts = BOLT_NAMES
    peak_tolerance, peak_tolerance_source = sourced_limit(
        "peak_tolerance",
        pct,
        PEAK_TOLERANCE,
        above=0.0,
        below=1.0,
        example='"15 %"',
        help="if left empty, only the statistical rule is used",
        group="Limit",
    )
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(N_m)


PEAK_TORQUE = Working(
    name="peak_torque",
    title="Peak torque at the final angle",
    question="is one bolt unlike the others, and should I stop and look before it fails",
    phase="tighten",
    inputs=PeakTorqueInputs,
    run=run,
    calculation=2,
    cautions=(
        GOVERNS,
        f"Take “{STOP}” as advice, not as a verdict: it sometimes names a good bolt, and it does not notice a joint "
        "that is wrong at every bolt.",
        SHEAR,
        PAST_THE_MARK,
    ),
    former=Former(
        labels={"Bolt {}: {}, the others {} in the middle; score": ("Bolt {}: {}, median {}; score",)},
    ),
)
