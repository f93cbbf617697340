"""The working ``liner_protrusion``: do the liners stand proud enough, evenly, and all alike."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from shoplib.core.checks import Uncertainty, Value
from shoplib.core.fields import integer, judging, quantity, sourced_limit, table, words
from shoplib.core.inputs import Inputs
from shoplib.core.units import mm, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import liner

MM = unit_of(mm)
HEIGHTS = (-2e-3, 2e-3)  # m; more is a wrong unit
PLACES = ("place_1", "place_2", "place_3", "place_4")
MOST_LINERS = 24
_EXAMPLE = (
    '[{"liner": "1", "place_1": "0.06 mm", "place_2": "0.07 mm"}, {"liner": "2", "place_1": "0.08 mm", "place_2": '
    '"0.07 mm"}]'
)


class LinerProtrusionInputs(Inputs):
    """Inputs of ``liner_protrusion``."""

    liners = table(
        "liners",
        (
            words("liner", "Liner", example="1"),
            words("bank", "Bank", required=False, help="liners of one bank are neighbours in the order typed"),
            *(
                quantity(name, mm, f"Place {n}", required=False, plausible=HEIGHTS, example='"0.06 mm"')
                for n, name in enumerate(PLACES, 1)
            ),
        ),
        "Protrusion of each liner", csv=True, group="Readings", example=_EXAMPLE,
        help="above the deck, liner clamped as the manual says; negative if below",
    )  # fmt: skip
    places = integer("places", "Places measured on each liner", at_least=1, at_most=len(PLACES), example="2",
                     group="Readings", help="as the manual says")  # fmt: skip
    minimum_protrusion, minimum_protrusion_source = sourced_limit(
        "minimum_protrusion", mm, "Smallest protrusion", example='"0.03 mm"', plausible=HEIGHTS, group="Limits"
    )
    maximum_protrusion, maximum_protrusion_source = sourced_limit(
        "maximum_protrusion", mm, "Largest protrusion", example='"0.10 mm"', plausible=HEIGHTS, group="Limits"
    )
    maximum_step, maximum_step_source = sourced_limit(
        "maximum_step", mm, "Largest step between neighbours", above=0.0, example='"0.04 mm"', group="Limits"
    )
    maximum_spread, maximum_spread_source = sourced_limit(
        "maximum_spread", mm, "Largest difference on one liner", above=0.0, example='"0.03 mm"', group="Limits"
    )
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(mm)


@dataclass(frozen=True)
class Liner:
    """One liner: its readings, each with the half-width of its uncertainty, m."""

    name: str
    bank: str
    readings: tuple[tuple[float, float], ...]
    complete: bool

    @property
    def mean(self) -> float:
        """Mean of its readings."""
        return sum(x for x, _ in self.readings) / len(self.readings)

    @property
    def half(self) -> float:
        """Of the mean, at its worst."""
        return sum(u for _, u in self.readings) / len(self.readings)


def _read(inputs: LinerProtrusionInputs, worksheet: Worksheet) -> list[Liner]:
    found = []
    if len(inputs.liners) > MOST_LINERS:
        worksheet.refuse("liners", f"has {len(inputs.liners)} rows; at most {MOST_LINERS}")
        return []
    for k, row in enumerate(inputs.liners):
        typed = [name for name in PLACES if row[name] is not None]
        if not typed:
            worksheet.refuse(f"liners[{k + 1}].place_1", "is missing: this liner has no reading", '"0.06 mm"')
        if len(typed) > inputs.places:
            worksheet.refuse(f"liners[{k + 1}].{typed[-1]}", f"is one reading more than {worksheet.label('places')}")
        readings = tuple((row[n], worksheet.uncertainty("liners", k, n).half_width) for n in typed)
        found.append(Liner(row["liner"], row["bank"] or "", readings, len(typed) == inputs.places))
    return found


def run(inputs: LinerProtrusionInputs, worksheet: Worksheet) -> None:
    """Lowest, highest, steps to the neighbours and evenness, each judged where a limit was typed."""
    liners = _read(inputs, worksheet)
    if (
        inputs.given("minimum_protrusion", "maximum_protrusion")
        and inputs.minimum_protrusion > inputs.maximum_protrusion
    ):
        worksheet.refuse("minimum_protrusion", f"is above {worksheet.label('maximum_protrusion')}")
    worksheet.raise_refusals()
    missing = "; ".join(f"liner {one.name}: a reading is missing" for one in liners if not one.complete)
    steps = [(a, b) for a, b in itertools.pairwise(liners) if a.bank == b.bank]
    rows = []
    for one in liners:
        after = next((b for a, b in steps if a is one), None)
        step = None
        if after is not None:
            low, high = sorted((one.mean, after.mean))
            step = float(
                worksheet.step(f"Liner {one.name} to {after.name}", liner.step_to_neighbour, P_a=high, P_b=low)
            )
        values = [x for x, _ in one.readings]
        spread = float(worksheet.step(f"Liner {one.name}", liner.spread_on_liner, P_max=max(values), P_min=min(values)))
        rows.append({"liner": Value(one.name, None, "liner"), "mean": Value(one.mean, MM, "mean", 3),
                     "spread": Value(spread, MM, "difference on it", 3),
                     "step": Value(step, MM, "step to the next", 3)})  # fmt: skip
    worksheet.result("each", rows, None, "Each liner")
    every = [reading for one in liners for reading in one.readings]
    worksheet.result("lowest", min(x for x, _ in every), mm, "Lowest reading", 3)
    worksheet.result("highest", max(x for x, _ in every), mm, "Highest reading", 3)
    worksheet.result("largest_step", max((abs(a.mean - b.mean) for a, b in steps), default=None), mm,
                     "Largest step between neighbours", 3)  # fmt: skip
    _judge(inputs, worksheet, every, liners, steps, missing)
    worksheet.plot_data.update(liners=liners, steps=steps)


def _judge(
    inputs: LinerProtrusionInputs, worksheet: Worksheet, every: list[tuple[float, float]], liners: list[Liner],
    steps: list[tuple[Liner, Liner]], missing: str,
) -> None:  # fmt: skip
    """The worst of all readings, steps and differences; each true value lies within its uncertainty."""
    apart = [(abs(a.mean - b.mean), a.half + b.half) for a, b in steps]
    uneven = [
        (max(x for x, _ in one.readings) - min(x for x, _ in one.readings), 2 * max(u for _, u in one.readings))
        for one in liners
    ]
    for name, label, sign, found, why in (
        ("minimum_protrusion", "Lowest protrusion", "≥", every, missing),
        ("maximum_protrusion", "Highest protrusion", "≤", every, missing),
        ("maximum_step", "Step between neighbours", "≤", apart, missing),
        ("maximum_spread", "Evenness of each liner", "≤", uneven,
         missing or ("only one place was measured on each liner" if inputs.places == 1 else "")),
    ):  # fmt: skip
        if not inputs.given(name):
            continue
        worst = min if sign == "≥" else max
        if not found:
            worksheet.check(
                label, None, sign, inputs[name], mm, inputs[f"{name}_source"], remark="only one liner was typed"
            )
            continue
        counted = [(x, worksheet.counted(Uncertainty(u))) for x, u in found]
        worksheet.check(
            label, worst(x for x, _ in found), sign, inputs[name], mm, inputs[f"{name}_source"], digits=3,
            uncertainty=Uncertainty(max(u for _, u in found)), missing=why,
            between=(worst(x - u for x, u in counted), worst(x + u for x, u in counted)),
        )  # fmt: skip


LINER_PROTRUSION = Working(
    name="liner_protrusion",
    title="Liner protrusion",
    question="do the liners stand proud enough, evenly, and all by the same amount",
    phase="measure",
    inputs=LinerProtrusionInputs,
    run=run,
    cautions=(
        GOVERNS,
        "Clean the seats and clamp the liners as the manual says before you measure: a liner that is not clamped reads "
        "too high.",
        "Correct a low liner with shims only where the manual allows it.",
    ),
)
