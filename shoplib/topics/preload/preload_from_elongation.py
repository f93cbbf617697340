"""The working ``preload_from_elongation``: what preload does the measured stretch of this bolt show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from shoplib.core.carried import Show, carried
from shoplib.core.checks import Uncertainty
from shoplib.core.fields import judging, quantity, sourced_limit
from shoplib.core.inputs import Inputs
from shoplib.core.units import degC, kN, kN_per_mm, mm, per_MK, show, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import elongation
from shoplib.topics.preload.measured_inputs import STIFFNESS_ACCURACY

MM = unit_of(mm)
LENGTHS = (5e-3, 1.0)  # m, of a bolt
LONGEST_STRETCH = 0.1  # of the length; a bolt breaks before that
COLDEST, WARMEST = 223.15, 473.15  # K, of a bolt that somebody measures
TEMPERATURES = ("temperature_before", "temperature_tightened")
HEAT: Mapping[str, Sequence[float]] = {"temperature_tightened": ()}  # without it the change could be anything


class PreloadFromElongationInputs(Inputs):
    """Inputs of ``preload_from_elongation``."""

    length_before = quantity("length_before", mm, "Length before", symbol="l_1", above=0.0, plausible=LENGTHS,
                             example='"120.015 mm"', group="Lengths",
                             help="between two marked points; the same points each time")  # fmt: skip
    length_tightened = quantity("length_tightened", mm, "Length tightened", symbol="l_2", above=0.0, plausible=LENGTHS,
                                example='"120.285 mm"', group="Lengths")  # fmt: skip
    length_loosened = quantity("length_loosened", mm, "Length loosened again", symbol="l_3", above=0.0, required=False,
                               plausible=LENGTHS, example='"120.020 mm"', group="Lengths",
                               help="shows how much of the stretch is permanent")  # fmt: skip
    temperature_before = quantity("temperature_before", degC, "Temperature before", symbol="T_1", required=False,
                                  at_least=COLDEST, at_most=WARMEST, example='"20 degC"', group="Temperatures",
                                  needs=("temperature_tightened", "alpha_bolt"))  # fmt: skip
    temperature_tightened = quantity("temperature_tightened", degC, "Temperature tightened", symbol="T_2",
                                     required=False, at_least=COLDEST, at_most=WARMEST, example='"22 degC"',
                                     group="Temperatures", needs=("temperature_before",))  # fmt: skip
    temperature_loosened = quantity("temperature_loosened", degC, "Temperature loosened", symbol="T_3", required=False,
                                    at_least=COLDEST, at_most=WARMEST, example='"21 degC"', group="Temperatures",
                                    needs=("temperature_before", "length_loosened"))  # fmt: skip
    alpha_bolt = quantity("alpha_bolt", per_MK, "Expansion of the bolt", symbol="alpha_S", above=0.0, required=False,
                          plausible=(0.0, 4e-5), help="steel about 11.5, in 10⁻⁶/K", example='"11.5e-6/K"',
                          group="Temperatures")  # fmt: skip
    bolt_stiffness = quantity("bolt_stiffness", kN_per_mm, "Stiffness of the bolt", symbol="k_b", above=0.0,
                              required=False, example='"95.4 kN/mm"', group="Spring", needs=("stiffness_accuracy",),
                              help="from “Stiffness of bolt and clamped parts”; without it only the stretch is "
                                   "judged")  # fmt: skip
    stiffness_accuracy = STIFFNESS_ACCURACY
    yield_preload = quantity("yield_preload", kN, "Preload at which the bolt yields", symbol="F_y", above=0.0,
                             required=False, example='"45 kN"', group="Spring",
                             help="while tightening; from “Assembly preload of a bolt” with all of the yield strength. "
                                  "Shows that the stretch was elastic")  # fmt: skip
    minimum_stretch, minimum_stretch_source = sourced_limit(
        "minimum_stretch", mm, "Smallest stretch", above=0.0, example='"0.25 mm"', group="Limits"
    )
    maximum_stretch, maximum_stretch_source = sourced_limit(
        "maximum_stretch", mm, "Largest stretch", above=0.0, example='"0.30 mm"', group="Limits"
    )
    maximum_set, maximum_set_source = sourced_limit(
        "maximum_set", mm, "Largest permanent set", above=0.0, example='"0.02 mm"', group="Limits"
    )
    minimum_preload, minimum_preload_source = sourced_limit(
        "minimum_preload", kN, "Smallest preload", above=0.0, example='"22 kN"', group="Limits"
    )
    maximum_preload, maximum_preload_source = sourced_limit(
        "maximum_preload", kN, "Largest preload", above=0.0, example='"32 kN"', group="Limits"
    )
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(mm)


class Measured(NamedTuple):
    """The input of a length, and that of the temperature at which it was measured."""

    length: str
    temperature: str


BEFORE = Measured("length_before", "temperature_before")
TIGHTENED = Measured("length_tightened", "temperature_tightened")
LOOSENED = Measured("length_loosened", "temperature_loosened")


@dataclass(frozen=True)
class Stretch:
    """A change of length and its uncertainty."""

    value: float
    half: Uncertainty


def change(
    inputs: PreloadFromElongationInputs, heading: Heading, last: Measured, first: Measured, show: Show
) -> float:  # fmt: skip
    """Change from one length to another without what heat explains; without temperatures, the difference alone."""
    warm = 0.0
    if inputs.given(last.temperature, first.temperature):
        warm = show(f"{heading.title}: growth by heat", elongation.warm_growth)(
            l_1=inputs[first.length], alpha_S=inputs.alpha_bolt, T_1=inputs[first.temperature],
            T_2=inputs[last.temperature],
        )  # fmt: skip
    return float(
        show(heading, elongation.change_of_length)(l_2=inputs[last.length], l_1=inputs[first.length], Delta_l_T=warm)
    )


def names_of(inputs: PreloadFromElongationInputs, last: Measured, first: Measured) -> list[str]:
    """The inputs on which a change of length depends."""
    names = [last.length, first.length]
    if inputs.given(last.temperature, first.temperature):
        names += ["alpha_bolt", first.temperature, last.temperature]
    return names


def run(inputs: PreloadFromElongationInputs, worksheet: Worksheet) -> None:
    """Stretch, permanent set and preload, each judged where a limit was typed."""
    _refuse_impossible(inputs, worksheet)
    worksheet.raise_refusals()
    told = inputs.given(*TEMPERATURES)
    if not told:
        worksheet.assume("the bolt had one temperature at all measurements")
    total = _changed(inputs, worksheet, "Stretch", TIGHTENED)
    worksheet.result("stretch", total.value, mm, "Stretch", 4)
    worksheet.result("stretch_uncertainty", total.half.half_width, mm, "Uncertainty of the stretch, ±", 2)
    for name, sign, label in (
        ("minimum_stretch", "≥", "Stretch, smallest"),
        ("maximum_stretch", "≤", "Stretch, largest"),
    ):
        if inputs.given(name):
            worksheet.check(label, total.value, sign, inputs[name], mm, inputs[f"{name}_source"],
                            uncertainty=total.half, otherwise=HEAT)  # fmt: skip
    set_ = _permanent_set(inputs, worksheet)
    elastic = total.value if set_ is None else _elastic(worksheet, total, set_)
    worksheet.plot_data.update(total=total.value, set=0.0 if set_ is None else set_.value, known=set_ is not None)
    _preload(inputs, worksheet, elastic, set_ is not None)


def _refuse_impossible(inputs: PreloadFromElongationInputs, worksheet: Worksheet) -> None:
    before = inputs.length_before
    for name in ("length_tightened", "length_loosened"):
        length = inputs[name]
        if length is not None and not -0.01 * before < length - before < LONGEST_STRETCH * before:
            first = f"{worksheet.label('length_before')}, {show(before, MM, 6)}"
            worksheet.refuse(name, f"differs from {first}, by more than a bolt stretches")
    if inputs.given("length_loosened", *TEMPERATURES) and not inputs.given("temperature_loosened"):
        worksheet.refuse("temperature_loosened", "is needed: the other two temperatures were typed", '"21 degC"')
    for low, high in (("minimum_stretch", "maximum_stretch"), ("minimum_preload", "maximum_preload")):
        if inputs.given(low, high) and inputs[low] > inputs[high]:
            worksheet.refuse(low, f"is above {worksheet.label(high)}")


def _changed(
    inputs: PreloadFromElongationInputs, worksheet: Worksheet, title: str, last: Measured
) -> Stretch:  # fmt: skip
    """The change from the first length to this one, shown step by step."""
    heading = Heading(title, digits=6)
    value = change(inputs, heading, last, BEFORE, worksheet.show)
    halves = {name: worksheet.uncertainty(name).half_width for name in (last.length, BEFORE.length)}
    names = names_of(inputs, last, BEFORE)
    half = carried(lambda at, show: change(at, heading, last, BEFORE, show), inputs, *names, halves=halves)
    return Stretch(value, half)


def _permanent_set(inputs: PreloadFromElongationInputs, worksheet: Worksheet) -> Stretch | None:
    """What of the stretch stayed when the bolt was loosened; None where it was not measured."""
    found = None
    if inputs.given("length_loosened"):
        found = _changed(inputs, worksheet, "Permanent set", LOOSENED)
        worksheet.result("permanent_set", found.value, mm, "Permanent set", 3)
        worksheet.result("permanent_set_uncertainty", found.half.half_width, mm, "Uncertainty of the set, ±", 2)
    if inputs.given("maximum_set"):
        value, half = (found.value, found.half) if found else (None, None)
        worksheet.check("Permanent set", value, "≤", inputs.maximum_set, mm, inputs.maximum_set_source,
                        uncertainty=half, otherwise=HEAT)  # fmt: skip
    return found


def _elastic(worksheet: Worksheet, total: Stretch, set_: Stretch) -> float:
    """The part of the stretch that springs back."""
    elastic = float(worksheet.step("Elastic part", elongation.elastic_part, Delta_l=total.value, u_p=set_.value))
    worksheet.result("elastic_stretch", elastic, mm, "Elastic part of the stretch", 4)
    return elastic


def _preload(inputs: PreloadFromElongationInputs, worksheet: Worksheet, elastic: float, separated: bool) -> None:
    """Preload of the elastic part, where the stiffness is known and the stretch is known to be elastic."""
    limits = ("minimum_preload", "maximum_preload")
    if not inputs.given("bolt_stiffness"):
        for name in limits:
            if inputs.given(name):
                worksheet.check(_label(name), None, _sign(name), inputs[name], kN, inputs[f"{name}_source"],
                                remark="the stiffness of the bolt was not typed")  # fmt: skip
        return
    F = preload_of(inputs, elastic, worksheet.show)
    half = _half_of_preload(inputs, worksheet, separated)
    worksheet.result("preload", F, kN, "Preload")
    worksheet.result("preload_uncertainty", half.half_width, kN, "Uncertainty of the preload, ±", 2)
    worksheet.assume("the stiffness of the bolt counts all that lies between the two points measured")
    low, high = F - worksheet.counted(half), F + worksheet.counted(half)
    past = inputs.given("yield_preload") and F + half.half_width > inputs.yield_preload
    remark = ""
    if not separated and (past or not inputs.given("yield_preload")):
        low = 0.0  # a part of the stretch may be permanent, and carries nothing
        remark = f"the stretch may be past yield: type {worksheet.label('length_loosened')}"
        remark += "" if past else f" or {worksheet.label('yield_preload')}"
        worksheet.caution("Read this preload as the most it can be: a part of the stretch may be permanent.")
    for name in limits:
        if inputs.given(name):
            worksheet.check(
                _label(name), F, _sign(name), inputs[name], kN, inputs[f"{name}_source"], uncertainty=half,
                between=(low, high), remark=remark, otherwise=HEAT,
            )  # fmt: skip


def preload_of(inputs: PreloadFromElongationInputs, elastic: float, show: Show) -> float:
    """Of the elastic part of the stretch."""
    return float(show("Preload", elongation.preload_of_stretch)(Delta_l_e=elastic, k_b=inputs.bolt_stiffness))


def _half_of_preload(inputs: PreloadFromElongationInputs, worksheet: Worksheet, separated: bool) -> Uncertainty:
    """Of the preload, from the two lengths that it uses, their temperatures and the stiffness."""
    last, first = TIGHTENED, LOOSENED if separated else BEFORE
    heading = Heading("Elastic part")
    stiffness = max(inputs.bolt_stiffness * inputs.stiffness_accuracy, inputs.half_digit("bolt_stiffness"))
    halves = {name: worksheet.uncertainty(name).half_width for name in (last.length, first.length)}
    return carried(
        lambda at, show: preload_of(at, change(at, heading, last, first, show), show),
        inputs,
        *names_of(inputs, last, first),
        "bolt_stiffness",
        halves=halves | {"bolt_stiffness": stiffness},
    )


def _label(name: str) -> str:
    return "Preload, smallest" if name == "minimum_preload" else "Preload, largest"


def _sign(name: str) -> str:
    return "≥" if name == "minimum_preload" else "≤"


PRELOAD_FROM_ELONGATION = Working(
    name="preload_from_elongation",
    title="Preload from elongation",
    question="what preload does the measured stretch of this bolt show",
    phase="tighten",
    inputs=PreloadFromElongationInputs,
    run=run,
    cautions=(
        GOVERNS,
        "Use this only where both ends of the bolt can be reached: a bolt in a blind hole cannot be measured this way.",
        "Measure at the same two points with the same instrument, and let the bolt reach the room's temperature.",
    ),
)
