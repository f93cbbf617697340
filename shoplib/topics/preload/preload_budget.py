"""The working ``preload_budget``: what are the smallest and the largest preload that remain, and what decides them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from shoplib.core import progress, rounding
from shoplib.core.carried import Show, only_value
from shoplib.core.checks import Value
from shoplib.core.corner_lanes import Range, lanes
from shoplib.core.fields import Field, integer, quantity, sourced_limit, words
from shoplib.core.units import N_m, Reading, deg, kN, kN_per_mm, mm, pct, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import angle, scatter, threads
from shoplib.physics import preload as torque_equation
from shoplib.physics import preload_budget as budget
from shoplib.topics.threads.bolt_inputs import BEARING, FRICTION, LUBRICANT, TEACHING, THREAD, HeadedBolt, read_bolt

NAMES = ("mu_thread", "mu_head", "torque", "angle", "series_stiffness", "yield_preload", "embedment", "relaxation",
         "gasket_creep", "heat_change")  # fmt: skip
LOSSES = ("embedment", "relaxation", "gasket_creep", "heat_change")


def _loss(name: str, label: str, symbol: str, **more: Any) -> Field[Any]:
    return quantity(name, pct, label, symbol=symbol, band=True, required=False, at_least=0.0, at_most=0.9,
                    needs=(f"{name}_source",), group="Afterwards", **more)  # fmt: skip


def _source(name: str, label: str) -> Field[Any]:
    return words(f"{name}_source", f"Source of the {label}", required=False, needs=(name,), group="Afterwards",
                 help="document, edition, page", example='"gasket maker, data sheet 7"')  # fmt: skip


class PreloadBudgetInputs(HeadedBolt):
    """Inputs of ``preload_budget``."""

    torque = quantity("torque", N_m, "Torque", symbol="M_A", above=0.0, band=True, example='"30 N*m ± 4 %"',
                      group="Tightening", help="with the accuracy of the wrench, such as 30 N·m ± 4 %")  # fmt: skip
    angle = quantity("angle", deg, "Angle after the torque", symbol="theta", at_least=0.0, band=True,
                     example='"60 deg ± 5 deg"', group="Tightening", help="0° if the bolt is tightened by torque "
                                                                          "alone")  # fmt: skip
    series_stiffness = quantity(
        "series_stiffness", kN_per_mm, "Stiffness of bolt and parts together", symbol="k_J", above=0.0, band=True,
        example='"65–80 kN/mm"', group="Tightening", help="from “Stiffness of bolt and clamped parts”, with its range",
    )  # fmt: skip
    yield_preload = quantity(
        "yield_preload", kN, "Preload at which the bolt yields", symbol="F_y", above=0.0, band=True, required=False,
        example='"44–52 kN"', group="Tightening", help="while tightening; weakest to strongest bolt, with hardening",
    )  # fmt: skip
    thread = THREAD
    mu_thread, mu_head = FRICTION
    bearing_outer, bearing_hole, bearing_mean = BEARING
    embedment = quantity("embedment", mm, "Settling of all faces together",
                         symbol="f_Z", at_least=0.0, band=True, required=False,
                         plausible=(0.0, 0.5e-3), example='"0.008–0.015 mm"', group="Afterwards",
                         help="all faces together; 0 mm only where it is known")  # fmt: skip
    relaxation = _loss("relaxation", "Relaxation of the bolt", "r", example='"1–3 %"', help="part of the preload")
    relaxation_source = _source("relaxation", "relaxation of the bolt")
    gasket_creep = _loss("gasket_creep", "Creep of the gasket", "c", example='"4–9 %"',
                         help="part of the preload; 0 % only where its maker says so")  # fmt: skip
    gasket_creep_source = _source("gasket_creep", "creep of the gasket")
    heat_change = quantity("heat_change", kN, "Change by heat", symbol="Delta_F_T", band=True, required=False,
                           example='"0–4 kN"', group="Afterwards",
                           help="from “Preload when warm”, coldest to hottest; negative for a loss")  # fmt: skip
    minimum_preload, minimum_preload_source = sourced_limit(
        "minimum_preload", kN, "Smallest preload allowed", above=0.0, example='"25 kN"', group="Limits"
    )
    maximum_preload, maximum_preload_source = sourced_limit(
        "maximum_preload", kN, "Largest preload allowed", above=0.0, example='"55 kN"', group="Limits"
    )
    draws = integer("draws", "Simulated bolts", default="100000", at_least=1000, at_most=2_000_000,
                    example="100000", group="Random draws")  # fmt: skip
    seed = integer("seed", "Number of the random draw", default="1", at_least=0, example="1", group="Random draws",
                   help="a whole number; the same number draws the same bolts again")  # fmt: skip


# ------------------------------------------------------------------------------ the sum
def final_preloads(at: Mapping[str, Any], thread: threads.Thread, D: float, show: Show) -> tuple[Any, Any]:
    """(preload right after tightening, preload left), for numbers or arrays, SI."""
    snug = show("Preload after the torque, middle of the ranges", torque_equation.preload)(
        M_A=at["torque"], P=thread.P, d_2=thread.d_2, D_Km=D, mu_G=at["mu_thread"], mu_K=at["mu_head"]
    )
    travel = show("Travel of the angle", angle.travel)(theta=at["angle"], P=thread.P)
    gain = show("Gain of the angle", angle.elastic_gain)(k_J=at["series_stiffness"], s=travel)
    tightened = snug + gain
    if "yield_preload" in at:
        tightened = show("Preload after tightening", budget.tightened_preload)(
            F_s=snug, Delta_F=gain, F_y=at["yield_preload"]
        )
    left = show("Preload left", budget.preload_left)(
        F_t=tightened, f_Z=at["embedment"], k_J=at["series_stiffness"], r=at["relaxation"], c=at["gasket_creep"],
        Delta_F_T=at["heat_change"],
    )  # fmt: skip
    return tightened, left


def every_corner(ranges: Mapping[str, Range], thread: threads.Thread, D: float) -> tuple[dict[str, Any], Any, Any]:
    """(inputs, preload after tightening, preload left) at each corner of the ranges.

    The preload rises or falls along every input but one: along the stiffness it has a peak where the bolt just
    yields.  So each corner is there a second time with that stiffness, or the nearest in the range.
    """
    at = lanes(**ranges)
    if "yield_preload" in at:
        before = {name: values for name, values in at.items() if name != "yield_preload"}
        snug, _ = final_preloads({**before, "angle": 0.0 * at["angle"]}, thread, D, only_value)
        travel = angle.travel(at["angle"], thread.P)
        peak = np.divide(at["yield_preload"] - snug, travel, out=at["series_stiffness"].copy(), where=travel > 0)
        again = {**at, "series_stiffness": np.clip(peak, *ranges["series_stiffness"])}
        at = {name: np.concatenate([at[name], again[name]]) for name in at}
    return at, *final_preloads(at, thread, D, only_value)


def ranges_of(inputs: PreloadBudgetInputs) -> dict[str, Range]:
    """The ends of each input; a loss that was not typed changes nothing here, and is counted as missing."""
    found = {}
    for name in NAMES:
        value = inputs[name]
        if isinstance(value, Reading):
            found[name] = (value.low, value.high)
        elif name != "yield_preload":
            found[name] = (0.0, 0.0)
    return found


def run(inputs: PreloadBudgetInputs, worksheet: Worksheet) -> None:
    """Lowest and highest preload by the worst case and by random draws, and what each input contributes."""
    bolt = read_bolt(inputs, worksheet)
    if inputs.given("minimum_preload", "maximum_preload") and inputs.minimum_preload > inputs.maximum_preload:
        worksheet.refuse("minimum_preload", f"is above {worksheet.label('maximum_preload')}")
    ranges = ranges_of(inputs)
    if ranges["relaxation"][1] + ranges["gasket_creep"][1] >= 1:
        worksheet.refuse("relaxation", f"and {worksheet.label('gasket_creep')} together leave no preload")
    worksheet.raise_refusals()
    assert bolt is not None
    middle = {name: (low + high) / 2 for name, (low, high) in ranges.items()}
    left_in_the_middle = final_preloads(middle, bolt.thread, bolt.D_Km, worksheet.show)[1]
    worksheet.result("preload_middle", left_in_the_middle, kN, "Preload left, middle of the ranges")
    at, tightened, left = every_corner(ranges, bolt.thread, bolt.D_Km)
    highest = np.maximum(tightened, left)
    low_lane, high_lane = int(left.argmin()), int(highest.argmax())
    lowest, most = float(left[low_lane]), float(highest[high_lane])
    worksheet.result("preload_lowest", lowest, kN, "Lowest preload, worst case")
    worksheet.result("preload_highest", most, kN, "Highest preload, worst case")
    other = {n: [every_corner(ranges, bolt.thread, D)[1:] for D in ends] for n, ends in bolt.bearings.items()}
    head = [worksheet.label("bearing_mean")] if bolt.bearings else []
    untold = [worksheet.label(name) for name in ("yield_preload", *LOSSES) if not inputs.given(name)] + head
    missing = f"not typed: {', '.join(untold)}" if untold else ""
    hotter = [] if inputs.given("heat_change") else [worksheet.label("heat_change")]
    missing_above = f"not typed: {', '.join(hotter + head)}" if hotter + head else ""
    if inputs.given("minimum_preload"):
        worksheet.check(
            "Lowest preload", lowest, "≥", inputs.minimum_preload, kN, inputs.minimum_preload_source,
            corner=_corner(ranges, at, low_lane), missing=missing,
            otherwise={name: [float(x[1].min()) for x in found] for name, found in other.items()},
        )  # fmt: skip
    if inputs.given("maximum_preload"):
        worksheet.check(
            "Highest preload", most, "≤", inputs.maximum_preload, kN, inputs.maximum_preload_source,
            corner=_corner(ranges, at, high_lane),
            missing=missing_above,
            otherwise={name: [float(np.maximum(*x).max()) for x in found] for name, found in other.items()},
        )  # fmt: skip
    if inputs.yield_preload is not None and most >= ranges["yield_preload"][0]:
        worksheet.caution("Expect bolts past yield: type a range of the yield that includes their hardening.")
    _draw(inputs, worksheet, bolt.thread, bolt.D_Km, ranges)


def _corner(ranges: Mapping[str, Range], at: Mapping[str, Any], lane: int) -> dict[str, float]:
    """The inputs that were typed as ranges, at this corner."""
    return {name: float(at[name][lane]) for name, (low, high) in ranges.items() if low != high}


# ------------------------------------------------------------------------------ random draws
def _draw(
    inputs: PreloadBudgetInputs, worksheet: Worksheet, thread: threads.Thread, D: float, ranges: Mapping[str, Range]
) -> None:  # fmt: skip
    """Every range rectangular and independent (JCGM 101:2008): the 95 % interval, and the share of each input."""
    progress.spend(inputs.draws)
    rng = np.random.default_rng(inputs.seed)
    drawn: dict[str, Any] = {}
    label, moved = {}, []
    for name, (low, high) in ranges.items():
        if high > low:
            u = rng.random(inputs.draws)
            drawn[name], label[name] = low + (high - low) * u, scatter.classes(u)
            moved.append(name)
        else:
            drawn[name] = low
    tightened, left = (np.broadcast_to(F, (inputs.draws,)) for F in final_preloads(drawn, thread, D, only_value))
    p_low, p_high = (float(x) for x in np.percentile(left, (2.5, 97.5)))
    worksheet.result("preload_mean", float(left.mean()), kN, "Mean of the simulated bolts")
    worksheet.result("preload_p025", p_low, kN, "95 % of the simulated bolts: from")
    worksheet.result("preload_p975", p_high, kN, "95 % of the simulated bolts: to")
    # where every bolt keeps the same preload, as at a yield without a range, only rounding is left
    sd = rounding.without_noise(float(left.std()), float(tightened.max()))
    shares = scatter.shares(left, label) if sd else dict.fromkeys(moved, 0.0)
    middle = {name: (low + high) / 2 for name, (low, high) in ranges.items()}
    spans = {}
    for name in moved:
        ends = (float(final_preloads({**middle, name: x}, thread, D, only_value)[1]) for x in ranges[name])
        spans[name] = tuple(ends)
    kilo, percent = unit_of(kN), unit_of(pct)
    order = sorted(moved, key=lambda name: -abs(spans[name][1] - spans[name][0]))
    rows = [
        {
            "cause": Value(worksheet.label(name).strip("“”"), None, "cause"),
            "at_low": Value(spans[name][0], kilo, "preload at its low end"),
            "at_high": Value(spans[name][1], kilo, "preload at its high end"),
            "share": Value(shares[name], percent, "share of the variance", 3),
        }
        for name in order
    ]
    if rows:
        worksheet.result("contributions", rows, None, "Contributions")
    worksheet.assume(
        f"{inputs.draws} simulated bolts, random draw {inputs.seed}; every value in a range equally likely, "
        f"each range independent "
        "(JCGM 101:2008, section 6.4.2)"
    )
    worksheet.plot_data.update(
        spans=[(name, *spans[name]) for name in order], middle=float(final_preloads(middle, thread, D, only_value)[1])
    )


PRELOAD_BUDGET = Working(
    name="preload_budget",
    title="Preload budget",
    question="what are the smallest and the largest preload after scatter and losses, and what decides them",
    phase="tighten",
    inputs=PreloadBudgetInputs,
    calculation=2,  # ranges that change nothing: rounding was taken for scatter
    run=run,
    cautions=(GOVERNS, TEACHING, LUBRICANT, "Take losses from a named source: a loss that is not typed is not zero."),
)
