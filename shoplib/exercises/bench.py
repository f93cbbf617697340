"""Timing, proving and stripping: teeth and gaps as degrees, dead centre, low cylinders, pressure hold, shear area."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from shoplib.exercise import Exercise, Mistake, among, pick
from shoplib.working import Result

DEGREE = math.pi / 180
OUTCOMES = ("pass", "fail", "undecided", "no limit given")


def _compression(rng: np.random.Generator) -> Mapping[str, Any]:
    good = [float(among(rng, 11.8, 12.0, 12.2, 12.4, 12.6)) for _ in range(4)]
    good[int(rng.integers(4))] = float(among(rng, 8.6, 8.9, 9.2, 9.5, 9.8))
    return {"readings": "; ".join(f"{p:g} bar" for p in good)}


def _hold(rng: np.random.Generator) -> Mapping[str, Any]:
    start = int(among(rng, 90, 95, 100, 105))
    drop = int(among(rng, 2, 3, 8, 9))
    first = int(among(rng, 16, 18, 20))
    moved = int(among(rng, 0, 3, 4, -3, -4))
    return {
        "start": f"{start}.0 kPa",
        "end": f"{start - drop}.0 kPa",
        "start_temperature": f"{first}.0 °C",
        "end_temperature": f"{first + moved}.0 °C",
    }


def _change(result: Result) -> float:
    return float(result.inputs.end_temperature - result.inputs.start_temperature)


def _judged_without_temperature(result: Result) -> str | None:
    """What somebody says who looks at the drop alone; None where that happens to be right."""
    said = "fail" if result["drop"] > result.inputs.limit else "pass"
    return said if str(result.outcome) == "undecided" else None


def _gave_up(result: Result) -> str | None:
    """What somebody says who takes every change of temperature for a reason to repeat the test."""
    return "undecided" if _change(result) and str(result.outcome) != "undecided" else None


def _hold_solution(result: Result) -> str:
    """The direction first, then the drop."""
    change, drop, most = _change(result), result["drop"] / 1e3, result.inputs.limit / 1e3
    read = f"The drop as read is {drop:g} kPa; {most:g} kPa are allowed."
    over = drop > most
    if not change:
        return f"The temperature is steady. {read} So it {'fails' if over else 'passes'}."
    if change > 0:
        told = "It warmed, and warming raises the pressure: without that the drop would be larger."
        end = (
            "That is over the limit already: fail." if over else "It may be over the limit then: undecided, repeat it."
        )
        return f"{told} {read} {end}"
    told = "It cooled, and cooling lowers the pressure: without that the drop would be smaller."
    end = (
        "It may be within the limit then: undecided, repeat it." if over else "That is within the limit already: pass."
    )
    return f"{told} {read} {end}"


def _readings(result: Result) -> list[float]:
    return [p for p in result.inputs.readings if p is not None]


EXERCISES = [
    Exercise(
        name="teeth_at_the_crank",
        topic="timing",
        title="A mark that is off",
        question="The mark on a camshaft wheel of {tooth_count} teeth stands {teeth} tooth-widths off. "
        "By how many degrees is the crankshaft off?",
        working="timing_mark",
        result="other_angle",
        numbers=lambda rng: {"teeth": among(rng, "0.5", "1", "1.5", "2"), "tooth_count": pick(rng, 34, 50, 2)},
        tolerance="1 %",
        mistakes=(
            Mistake(
                "gave the angle of the camshaft",
                lambda r: r["angle"],
                "The crankshaft turns twice while the camshaft turns once.",
            ),
            Mistake(
                "halved where it doubles",
                lambda r: r["angle"] / 2,
                "The camshaft is the slow one: its angle is half of the crankshaft's.",
            ),
            Mistake(
                "took the teeth over half a turn",
                lambda r: r["angle"] * 4,
                "A whole turn, 360°, is shared among the teeth of the wheel; then double it once.",
            ),
        ),
        first_step="How many degrees is one tooth? 360° shared among the teeth. Then go to the crankshaft.",
        lesson="Camshaft angle = 360° × teeth off ÷ teeth on the wheel; the crankshaft has twice that.",
    ),
    Exercise(
        name="gap_under_the_bar",
        topic="timing",
        title="A gap under the locking bar",
        question="The locking bar in the end of the camshaft touches the head on one side. On the other side, "
        "{lever_length} along the bar, a leaf of {gap} goes under it. By how many degrees is the crankshaft off?",
        working="timing_gap",
        result="crank_angle",
        numbers=lambda rng: {
            "gap": pick(rng, 0.2, 1.2, 0.1, "mm"),
            "lever_length": pick(rng, 70, 140, 10, "mm"),
        },
        tolerance="1.5 %",
        mistakes=(
            Mistake(
                "gave the angle of the camshaft",
                lambda r: r["cam_angle"],
                "The bar stands in the camshaft; the crankshaft has twice that angle.",
            ),
            Mistake(
                "left the quotient in radians",
                lambda r: r["crank_angle"] * DEGREE,
                "Gap over length is an angle in radians: times 57.3 for degrees.",
            ),
            Mistake(
                "measured from the middle of the bar",
                lambda r: 2 * r["crank_angle"],
                "The tilt is the gap over the whole length from where the bar touches to the leaf.",
            ),
        ),
        first_step="The tilt is gap ÷ length, in radians; times 57.3 gives degrees at the camshaft.",
        lesson="A small tilt is gap over length, times 57.3°; the crankshaft has twice the camshaft's angle.",
    ),
    Exercise(
        name="middle_of_two_stops",
        topic="timing",
        title="Dead centre between two stops",
        question="With a stop in the cylinder, the disc reads {stop_before} before its zero when the piston touches, "
        "and {stop_after} after its zero from the other side. How far past the zero is dead centre?",
        working="dead_centre",
        result="correction",
        numbers=lambda rng: {
            "stop_before": pick(rng, 18, 25, 0.5, "°"),
            "stop_after": pick(rng, 27, 34, 0.5, "°"),
        },
        tolerance="0.1°",
        mistakes=(
            Mistake(
                "took the whole difference",
                lambda r: 2 * r["correction"],
                "Dead centre lies half way: halve the difference.",
            ),
            Mistake(
                "took the mean of the two readings",
                lambda r: r["half_angle"],
                "That is what both stops will read once the disc is right. How far is the middle from zero?",
            ),
        ),
        first_step="Mark both stops on a line with zero between them. Where is the middle?",
        lesson="Dead centre is half way between the stops: half the difference of the readings from zero. Set the disc "
        "and find both stops again: they must read alike.",
    ),
    Exercise(
        name="disc_off_centre",
        topic="timing",
        title="A disc that sits off centre",
        question="A degree disc, {diameter} in diameter, sits {off_centre} off the middle of the shaft. "
        "By how much can one reading be wrong?",
        working="degree_disc",
        result="off_centre_error",
        numbers=lambda rng: {
            "diameter": pick(rng, 100, 180, 10, "mm"),
            "off_centre": among(rng, "0.5 mm", "1 mm", "1.5 mm", "2 mm"),
        },
        tolerance="2 %",
        mistakes=(
            Mistake(
                "divided by the diameter",
                lambda r: r["off_centre_error"] / 2,
                "The reading is taken at the radius, half the diameter from the middle.",
            ),
            Mistake(
                "gave the error between two readings",
                lambda r: r["off_centre_pair"],
                "That is the worst of two readings against each other; one alone errs by half of it.",
            ),
        ),
        first_step="How many degrees is that shift, seen from the middle, at the radius of the scale?",
        lesson="Shift over radius, times 57.3°. The mean of two readings at opposite ends of a diameter is free of it.",
    ),
    Exercise(
        name="lowest_over_highest",
        topic="proof",
        title="The low cylinder",
        question="Compression of four cylinders: {readings}. What is the lowest as a per cent of the highest?",
        working="compression_test",
        result="lowest_to_highest",
        fixed={"layout": "1 2 3 4", "rule": "none"},
        numbers=_compression,
        tolerance="1 %",
        mistakes=(
            Mistake(
                "gave how much is lost",
                lambda r: r["relative_spread"],
                "That is the part that is missing; the rule wants the part that is left.",
            ),
            Mistake(
                "turned the quotient round",
                lambda r: 1 / r["lowest_to_highest"],
                "Lowest over highest is below 100 %.",
            ),
            Mistake(
                "compared with the mean of all",
                lambda r: min(_readings(r)) / (sum(_readings(r)) / len(_readings(r))),
                "The rule names the highest cylinder, not the mean.",
            ),
        ),
        first_step="Find the lowest and the highest; divide.",
        lesson="Lowest ÷ highest. Then look where the low one stands: two low neighbours on one bank suggest "
        "the gasket between them.",
    ),
    Exercise(
        name="hold_that_proves_nothing",
        topic="proof",
        title="Does it hold its pressure?",
        question="A cold system is pumped to {start} and reads {end} after {minutes}; the coolant was at "
        "{start_temperature} at the start and at {end_temperature} at the end. The source allows a drop of {limit} "
        "in {hold_minutes}. What do you write down?",
        working="pressure_hold",
        result="outcome",
        fixed={
            "minutes": "15 min",
            "limit": "5 kPa",
            "limit_source": "bench notes, page 9",
            "hold_minutes": "15 min",
            "hold_minutes_source": "bench notes, page 9",
        },
        numbers=_hold,
        tolerance="1 %",
        choices=OUTCOMES,
        mistakes=(
            Mistake(
                "judged the drop although the temperature had moved the other way",
                _judged_without_temperature,
                "Warming hides a leak, and cooling looks like one.",
            ),
            Mistake(
                "gave up because the temperature had moved",
                _gave_up,
                "The direction decides: ask what the drop would be without the change.",
            ),
        ),
        first_step="Did it warm or cool? Would the drop be larger or smaller without that?",
        lesson="Warming raises the pressure and cooling lowers it. Over the limit while it warms is a fail, within the "
        "limit while it cools is a pass; the other two are undecided.",
        solution=_hold_solution,
    ),
    Exercise(
        name="shear_area_of_a_tapped_hole",
        topic="stripping",
        title="How much metal holds the bolt",
        question="A bolt {thread} is engaged over {engagement} of full thread. In which area would the tapped thread "
        "shear? (Tapped 60° thread, basic profile.)",
        working="thread_stripping",
        result="shear_area_internal",
        fixed={"bolt_tensile": "1040 MPa", "internal_shear_strength": "190 MPa"},
        numbers=lambda rng: {
            "thread": among(rng, "M8x1.25", "M10x1.5", "M10x1.25", "M12x1.75", "M12x1.25"),
            "engagement": pick(rng, 10, 24, 1, "mm"),
        },
        tolerance="2 %",
        mistakes=(
            Mistake(
                "took the whole cylinder",
                lambda r: r["shear_area_internal"] * 8 / 7,
                "Between the threads there is no metal: only seven eighths of the cylinder shear.",
            ),
            Mistake(
                "took the bolt's thread",
                lambda r: r["shear_area_external"],
                "The tapped thread shears at the bolt's major diameter; its area is the larger one.",
            ),
            Mistake(
                "took the round section of the bolt",
                lambda r: math.pi / 4 * (r["shear_area_internal"] / (7 / 8 * math.pi * r.inputs.engagement)) ** 2,
                "That is where the bolt breaks. A thread shears along a cylinder: circumference times length.",
            ),
        ),
        first_step="A cylinder of the bolt's diameter and the engaged length; seven eighths of it is metal.",
        lesson="Seven eighths of π × diameter × engaged length. Twice the length, twice the strength.",
    ),
    Exercise(
        name="what_gives_way",
        topic="stripping",
        title="Bolt or hole",
        question="A bolt {thread} of {bolt_tensile} is engaged {engagement} deep in metal that shears at "
        "{internal_shear_strength}. What gives way first when it is pulled? (Tapped thread: seven eighths of the "
        "cylinder, times 0.9 to 1.06 for bending; bolt: tensile strength times stress area.)",
        working="thread_stripping",
        result="breaks_first",
        numbers=lambda rng: {
            "thread": among(rng, "M8x1.25", "M10x1.5", "M12x1.75"),
            "engagement": among(rng, "5 mm", "6 mm", "26 mm", "28 mm", "30 mm"),
            "bolt_tensile": among(rng, "1040 MPa", "1220 MPa"),
            "internal_shear_strength": among(rng, "160 MPa", "180 MPa", "200 MPa"),
        },
        tolerance="1 %",
        choices=("bolt", "internal thread", "external thread"),
        mistakes=(
            Mistake(
                "took the hard bolt for the strong partner whatever the length",
                lambda r: "internal thread" if r["breaks_first"] == "bolt" else None,
                "Long enough, even a soft thread outlives the bolt.",
            ),
            Mistake(
                "trusted a short thread",
                lambda r: "bolt" if r["breaks_first"] != "bolt" else None,
                "Work out both loads: a short thread holds less than the bolt.",
            ),
        ),
        first_step="Two loads: shear strength × shear area, and tensile strength × stress area. Which is smaller?",
        lesson="Whatever bears less gives way first. The length at which both are equal is what a repair must reach.",
    ),
]
