"""The exercises about finding the fault: compression, pressure hold, and a choked leak."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, choose_one
from shoplib.teaching.solution_text import entered, entered_list, short
from shoplib.topics.diagnosis.compression_test import COMPRESSION_TEST
from shoplib.topics.diagnosis.leak_orifice import LEAK_ORIFICE
from shoplib.topics.diagnosis.pressure_hold import PRESSURE_HOLD

OUTCOMES = ("pass", "fail", "undecided", "no limit given")


def _compression(rng: np.random.Generator) -> Mapping[str, Any]:
    good = [float(choose_one(rng, 11.8, 12.0, 12.2, 12.4, 12.6)) for _ in range(4)]
    good[int(rng.integers(4))] = float(choose_one(rng, 8.6, 8.9, 9.2, 9.5, 9.8))
    return {"readings": "; ".join(f"{p:g} bar" for p in good)}


def _hold(rng: np.random.Generator) -> Mapping[str, Any]:
    start = int(choose_one(rng, 90, 95, 100, 105))
    drop = int(choose_one(rng, 2, 3, 8, 9))
    first = int(choose_one(rng, 16, 18, 20))
    moved = int(choose_one(rng, 0, 3, 4, -3, -4))
    return {
        "start": f"{start}.0 kPa",
        "end": f"{start - drop}.0 kPa",
        "start_temperature": f"{first}.0 °C",
        "end_temperature": f"{first + moved}.0 °C",
    }


def _change(result: Result) -> float:
    return float(result.inputs.end_temperature - result.inputs.start_temperature)


def _judged_without_temperature(result: Result) -> str | None:
    """The answer of somebody who looks only at the drop; None where that happens to be right."""
    said = "fail" if result["drop"] > result.inputs.limit else "pass"
    return said if str(result.outcome) == "undecided" else None


def _gave_up(result: Result) -> str | None:
    """The answer of somebody who repeats the test after every change of temperature."""
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


def _lowest_solution(r: Result) -> str:
    low, high = min(entered_list(r, "readings")), max(entered_list(r, "readings"))
    return f"Lowest {low:g} bar, highest {high:g} bar: {low:g} ÷ {high:g} = {short(100 * low / high)} %."


def _leak_solution(r: Result) -> str:
    supply, cylinder = entered(r, "supply"), entered(r, "cylinder")
    lost = supply - cylinder
    return (
        f"The part of the pressure that is lost: {supply:g} − {cylinder:g} = {lost:.1f} bar. "
        f"{lost:.1f} ÷ {supply:g} = {short(100 * lost / supply, 3)} %."
    )


EXERCISES = (
    Exercise(
        name="lowest_over_highest",
        topic="proof",
        title="The low cylinder",
        question="Compression of four cylinders: {readings}. What is the lowest as a percentage of the highest?",
        working=COMPRESSION_TEST,
        result="lowest_to_highest",
        fixed={"layout": "1 2 3 4", "rule": "none"},
        numbers=_compression,
        tolerance="1 %",
        solution=_lowest_solution,
        mistakes=(
            Mistake(
                "gave the part that is lost",
                lambda r: r["relative_spread"],
                "That is the missing part. The rule asks for the part that is left.",
            ),
            Mistake(
                "divided the other way round",
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
        lesson="Lowest ÷ highest. Then check where the low cylinder is: two low neighbours on one bank suggest "
        "the gasket between them.",
    ),
    Exercise(
        name="hold_that_proves_nothing",
        topic="proof",
        title="Does it hold its pressure?",
        question="A cold system is pumped to {start} and reads {end} after {minutes}; the coolant was at "
        "{start_temperature} at the start and at {end_temperature} at the end. The source allows a drop of {limit} "
        "in {hold_minutes}. Is this a pass, a fail or undecided?",
        working=PRESSURE_HOLD,
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
                "judged the drop although the temperature had changed the other way",
                _judged_without_temperature,
                "Warming hides a leak, and cooling looks like one.",
            ),
            Mistake(
                "gave up because the temperature had changed",
                _gave_up,
                "The direction decides: ask what the drop would be without the change.",
            ),
        ),
        first_step="Did it warm or cool? Would the drop be larger or smaller without that?",
        lesson="Warming raises the pressure and cooling lowers it. Over the limit while it warms: fail. Within "
        "the limit while it cools: pass. The other two cases are undecided.",
        solution=_hold_solution,
        steps_solve=False,
    ),
    Exercise(
        name="choked_leak",
        topic="proof",
        title="The leak as a hole",
        question="A leak-down tester with an orifice of {orifice_diameter} has {supply} before the orifice and "
        "{cylinder} after it. What leakage does it show?",
        working=LEAK_ORIFICE,
        result="leakage",
        numbers=lambda rng: {
            "supply": choose_one(rng, "5.0 bar", "6.0 bar", "7.0 bar"),
            "cylinder": choose_one(rng, "3.9 bar", "4.2 bar", "4.4 bar"),
            "orifice_diameter": choose_one(rng, "1.0 mm", "1.2 mm"),
        },
        tolerance="1 %",
        solution=_leak_solution,
        mistakes=(
            Mistake(
                "gave the part that is left",
                lambda r: 1 - r["leakage"],
                "The leakage is the part of the pressure that is lost.",
            ),
            Mistake(
                "divided by the pressure at the cylinder",
                lambda r: r.inputs.supply / r.inputs.cylinder - 1,
                "The tester compares with the pressure before its orifice.",
            ),
        ),
        first_step="Subtract the two pressures, then divide by the pressure before the orifice.",
        lesson="The same hole reads differently on a tester with another orifice. Compare readings of one tester only.",
    ),
)
