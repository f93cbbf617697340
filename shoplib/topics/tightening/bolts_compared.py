"""The working ``bolts_compared``: do the traces of the bolts of one joint agree."""

from __future__ import annotations

from shoplib.core.fields import quantity, table, words
from shoplib.core.inputs import Inputs
from shoplib.core.units import N_m, N_m_per_deg, deg, one, pct
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import outlier
from shoplib.topics.tightening.peak_torque import STOP

MEASURES = ("slope", "angle", "torque")
NAMES = {"slope": "elastic slope", "angle": "angle", "torque": "torque"}


def run(inputs: BoltsComparedInputs, worksheet: Worksheet) -> None:
    """Score each bolt by its distance from the median, measure by measure; name those beyond the limit of the rule."""
    rows = inputs.traces
    names = [str(row["bolt"]).strip() for row in rows]
    for k, name in enumerate(names):
        if name in names[:k]:
            worksheet.refuse(f"traces[{k + 1}].bolt", "is named twice; give each bolt one row")
    worksheet.raise_refusals()
    scores: dict[str, list[float | None]] = {}
    odd: dict[str, list[str]] = {}
    sound = 1.0
    for measure in MEASURES:
        values = [row[measure] for row in rows if row[measure] is not None]
        spread = outlier.median_deviation(values) if len(values) >= outlier.FEWEST else 0.0
        if spread <= 0:
            if values:
                worksheet.assume(f"{NAMES[measure]}: not compared; {_why(len(values))}")
            continue
        middle = outlier.median(values)
        scores[measure] = [None if r[measure] is None else 0.6745 * (r[measure] - middle) / spread for r in rows]
        sound *= 1 - outlier.false_alarm(len(values))
        for name, score in zip(names, scores[measure], strict=True):
            if score is not None and abs(score) > outlier.LIMIT:
                odd.setdefault(name, []).append(f"{NAMES[measure]} {'lower' if score < 0 else 'higher'}")
    for measure in MEASURES:
        worksheet.result(f"{measure}_scores", scores.get(measure, [None] * len(rows)), one,
                         f"Score of each bolt, {NAMES[measure]}", 3)  # fmt: skip
    worksheet.result("odd", list(odd), None, "Bolts to stop and look at")
    rate = 1 - sound if scores else None
    worksheet.result("false_alarm_rate", rate, pct, "Chance that the rule names a bolt of a joint without a fault", 2)
    told = ". ".join(f"Bolt {name}: {', '.join(why)} than the others" for name, why in odd.items())
    if told:
        told = f"{STOP.capitalize()}. {told}."
    elif scores:
        told = "By this rule, no bolt is unlike the others. That does not prove that all are sound."
    else:
        told = f"Nothing was compared: give at least {outlier.FEWEST} bolts with the same measure."
    worksheet.result("text", told, None, "Advice")
    if len(scores) > 1:
        worksheet.assume("the chance counts the measures as independent of each other")
    worksheet.plot_data.update(names=names, scores=scores, odd=odd)


def _why(count: int) -> str:
    if count < outlier.FEWEST:
        return f"{count} values are fewer than {outlier.FEWEST}"
    return "more than half of the values are equal"


class BoltsComparedInputs(Inputs):
    """Inputs of ``bolts_compared``."""

    traces = table(
        "traces",
        (
            words("bolt", "Bolt", example='"1"'),
            quantity("slope", N_m_per_deg, "Elastic slope", required=False, above=0.0, example='"1.36 N*m/deg"'),
            quantity("angle", deg, "Angle from the threshold", required=False, above=0.0, example='"91 deg"'),
            quantity("torque", N_m, "Peak torque", required=False, above=0.0, example='"96 N*m"'),
        ),
        "Values from the traces",
        help="what the trace of each bolt gave; leave out what it did not give",
        csv=True,
        example='[{"bolt": "1", "slope": "1.36 N*m/deg", "torque": "96 N*m"}, '
        '{"bolt": "2", "slope": "1.33 N*m/deg", "torque": "94 N*m"}, '
        '{"bolt": "3", "slope": "1.38 N*m/deg", "torque": "97 N*m"}, '
        '{"bolt": "4", "slope": "0.97 N*m/deg", "torque": "71 N*m"}, '
        '{"bolt": "5", "slope": "1.35 N*m/deg", "torque": "95 N*m"}, '
        '{"bolt": "6", "slope": "1.34 N*m/deg", "torque": "98 N*m"}]',
    )


BOLTS_COMPARED = Working(
    name="bolts_compared",
    title="Traces of one joint compared",
    question="do the traces of the bolts of one joint agree",
    phase="tighten",
    inputs=BoltsComparedInputs,
    run=run,
    cautions=(
        GOVERNS,
        f"Take “{STOP}” as advice, not as a verdict: it sometimes names a good bolt, and it does not notice a joint "
        "that is wrong at every bolt.",
    ),
)
