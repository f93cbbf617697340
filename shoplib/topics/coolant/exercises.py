"""Coolant: mixing by balance of the glycol, the ledger of litres, pressure under the cap, the safe side."""

from __future__ import annotations

from decimal import Decimal

import numpy as np

from shoplib.core.fields import quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import degC, kelvin, m, read, unit_of
from shoplib.core.working import Result, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import atmosphere as air
from shoplib.physics import coolant_properties as c
from shoplib.teaching.exercise import Exercise, Mistake, among, pick
from shoplib.topics.coolant.coolant_correct import COOLANT_CORRECT
from shoplib.topics.coolant.coolant_fill import COOLANT_FILL
from shoplib.topics.coolant.coolant_protection import COOLANT_PROTECTION
from shoplib.topics.coolant.fluid_ledger import FLUID_LEDGER

CLOSE = 0.03  # two wrong answers nearer than this would be told apart by nobody


def _apart(value: float, *others: float) -> float | None:
    """The wrong answer, or None where these numbers make it look like another one."""
    return None if any(abs(value - other) <= CLOSE * abs(other) for other in others) else value


# ------------------------------------------------------------------------------ numbers
def _trapped(rng: np.random.Generator) -> dict[str, str]:
    capacity, stayed = Decimal(pick(rng, 8, 14, 0.5)), Decimal(pick(rng, 1.5, 3, 0.25))
    return {"capacity": f"{capacity} L", "stayed": f"{stayed} L", "drained": f"{capacity - stayed} L"}


def _fill(rng: np.random.Generator) -> dict[str, str]:
    return {**_trapped(rng), "target": among(rng, "40 %", "45 %", "50 %", "55 %")}


def _premix(rng: np.random.Generator) -> dict[str, str]:
    return {**_trapped(rng), "product_concentration": among(rng, "40 %", "50 %", "60 %")}


def _stronger(rng: np.random.Generator) -> dict[str, str]:
    return {
        "capacity": pick(rng, 6, 12, 0.5, "L"),
        "measured": pick(rng, 20, 38, 1, "%"),
        "target": among(rng, "45 %", "50 %", "55 %"),
    }


def _thinner(rng: np.random.Generator) -> dict[str, str]:
    return {
        "capacity": pick(rng, 6, 12, 0.5, "L"),
        "measured": pick(rng, 56, 70, 1, "%"),
        "target": among(rng, "48 %", "50 %"),
    }


def _litres(rng: np.random.Generator) -> dict[str, str]:
    first, second, missing = (Decimal(pick(rng, *x)) for x in ((4, 5, 0.1), (1.5, 2, 0.1), (0.4, 1.2, 0.2)))
    return {
        "capacity": pick(rng, 9, 12, 0.5, "L"),
        "out": f"{first} L; {second} L",
        "in": f"{first + second - missing} L",
    }


def _height(rng: np.random.Generator) -> dict[str, str]:
    altitude = pick(rng, 800, 3000, 100, "m")
    p = air.standard_pressure(read(altitude, unit_of(m)).value, **air.CONSTANTS)
    return {"altitude": altitude, "gauge_pressure": pick(rng, 70, 140, 5, "kPa"), "air": f"{p / 1e3:.1f} kPa"}


def _frost(rng: np.random.Generator) -> dict[str, str]:
    glycol, percent = among(rng, *c.GLYCOLS), pick(rng, 35, 55, 1)
    frozen = unit_of(degC).from_si(float(c.freezing_point(glycol, float(percent) / 100)))
    return {"glycol": glycol, "concentration": f"{percent} %", "frozen": f"{frozen:.1f} °C"}


def _count_on(i: Inputs, w: Worksheet) -> None:
    """The warm end of what the tables say."""
    w.result("freezing_point", i.frozen, degC, "Freezes by the table", 3)
    w.result("safe", i.frozen + i.apart, degC, "Count on frost protection to", 3)


FROST = Working(
    name="count_on_frost_protection",
    title="The safe side of a freezing point",
    question="Down to what temperature does one count on it?",
    fields=(
        quantity("frozen", degC, "Freezes by the table"),
        quantity("apart", kelvin, "Published tables differ by", above=0.0),
    ),
    run=_count_on,
)


def _frost_solution(r: Result) -> str:
    table, safe = (f"{T - c.ZERO:.1f}".replace("-", "−") for T in (r.inputs.frozen, r["safe"]))
    return (
        f"Another table may say {r.inputs.apart:g} K warmer: {table} + {r.inputs.apart:g} = {safe} °C. That is the end "
        "to count on: a coolant that freezes late does no harm."
    )


def _premix_solution(r: Result) -> str:
    V, poured, c_p = 1e3 * r.inputs.capacity, 1e3 * r.inputs.drained, 100 * r.inputs.product_concentration
    return (
        f"Premix fills what was empty: {V:g} − {V - poured:g} = {poured:g} L. Glycol in it: {poured:g} L × {c_p:g} % = "
        f"{poured * c_p / 100:.3g} L. It ends up in the whole system: {poured * c_p / 100:.3g} ÷ {V:g} = "
        f"{100 * r['best_possible']:.3g} %."
    )


def _litres_solution(r: Result) -> str:
    out, poured = [1e3 * x for x in r.inputs.out], 1e3 * r["total_in"]
    came = " + ".join(f"{x:g}" for x in out)
    return f"Came out: {came} = {sum(out):.3g} L. Went in: {poured:.3g} L. Missing: {1e3 * r['unaccounted']:.2g} L."


# ------------------------------------------------------------------------------ wrong answers
def _room_only(r: Result) -> float:
    return float(r.inputs.drained * r.inputs.target)


def _water_for_glycol(r: Result) -> float | None:
    i = r.inputs
    return _apart(i.capacity * (1 - i.target), r["product"], _room_only(r))


def _as_concentrate(r: Result) -> float:
    return float(r.inputs.drained / r.inputs.capacity)


def _twice_trapped(r: Result) -> float | None:
    i = r.inputs
    stayed = i.capacity - i.drained
    return _apart(
        i.drained * i.product_concentration / (i.capacity + stayed), r["best_possible"], i.product_concentration
    )


EXERCISES = [
    Exercise(
        name="fill_over_trapped_water",
        topic="coolant",
        title="Water stayed in the block",
        question="A system of {capacity} was flushed with water, and {stayed} of water stayed in it. You want {target} "
        "glycol by volume. How much concentrate do you pour before you top up with water?",
        working=COOLANT_FILL,
        result="product",
        numbers=_fill,
        tolerance="1 %",
        mistakes=(
            Mistake(
                "mixed for the room only, as if the trapped water were not there",
                _room_only,
                "The trapped water mixes with what you pour; the whole system is to have the strength.",
            ),
            Mistake(
                "gave the glycol's part to the water",
                _water_for_glycol,
                "The percentage is the glycol's part of the whole.",
            ),
        ),
        first_step="How much glycol must the whole system hold?",
        lesson="The glycol needed is capacity × strength; what stayed in brings none of it.",
    ),
    Exercise(
        name="premix_over_trapped_water",
        topic="coolant",
        title="Premix over trapped water",
        question="In a system of {capacity}, {stayed} of water stayed in after the flush. You fill up with premix of "
        "{product_concentration}. How strong is it when it has mixed?",
        working=COOLANT_FILL,
        result="best_possible",
        numbers=_premix,
        fixed={"target": "1 %"},
        tolerance="1 %",
        solution=_premix_solution,
        mistakes=(
            Mistake(
                "gave the system the strength on the bottle",
                lambda r: r.inputs.product_concentration,
                "That holds only for an empty system: the trapped water thins the premix.",
            ),
            Mistake(
                "took the premix for concentrate",
                _as_concentrate,
                "Only a part of the premix is glycol: the strength on the bottle.",
            ),
            Mistake(
                "counted the trapped water on top of the capacity",
                _twice_trapped,
                "The trapped water is part of the capacity.",
            ),
        ),
        first_step="How much glycol is in what you pour, and in how many litres does it end up?",
        lesson="Premix poured over trapped water never reaches the strength on its bottle.",
    ),
    Exercise(
        name="swap_to_strengthen",
        topic="coolant",
        title="Too thin",
        question="A full system of {capacity} measures {measured}; you want {target}. How much do you drain and "
        "replace by concentrate?",
        working=COOLANT_CORRECT,
        result="swap",
        numbers=_stronger,
        tolerance="1 %",
        mistakes=(
            Mistake(
                "forgot that the drain takes glycol with it",
                lambda r: r.inputs.capacity * (r.inputs.target - r.inputs.measured),
                "Each litre drained carries its own glycol away, so a litre of concentrate gains less than a litre.",
            ),
            Mistake(
                "added concentrate without draining",
                lambda r: r.inputs.capacity * (r.inputs.target - r.inputs.measured) / (1 - r.inputs.target),
                "The system is full: it only takes what was drained.",
            ),
        ),
        first_step="What does one litre gain in glycol, when a litre of the old mixture is drained for it?",
        lesson="Swap = capacity × (wanted − measured) ÷ (product − measured).",
    ),
    Exercise(
        name="swap_to_thin",
        topic="coolant",
        title="Too strong",
        question="A full system of {capacity} measures {measured}; you want {target}. How much do you drain and "
        "replace by water?",
        working=COOLANT_CORRECT,
        result="swap",
        numbers=_thinner,
        tolerance="1 %",
        mistakes=(
            Mistake(
                "counted what is drained as pure glycol",
                lambda r: r.inputs.capacity * (r.inputs.measured - r.inputs.target),
                "What you drain is the mixture; only part of it is glycol.",
            ),
            Mistake(
                "added water without draining",
                lambda r: r.inputs.capacity * (r.inputs.measured - r.inputs.target) / r.inputs.target,
                "The system is full: it only takes what was drained.",
            ),
            Mistake(
                "used the balance of concentrate",
                lambda r: r.inputs.capacity * (r.inputs.measured - r.inputs.target) / (1 - r.inputs.measured),
                "Water brings no glycol: each litre swapped loses the measured part of a litre.",
            ),
        ),
        first_step="How much glycol is too much, and how much goes with each litre drained?",
        lesson="Swap = capacity × (measured − wanted) ÷ measured, when the replacement is water.",
    ),
    Exercise(
        name="litres_unaccounted_for",
        topic="coolant",
        title="Did as much go in as came out?",
        question="The book says that the system holds {capacity}. Two drains gave {out}. It took {in}. How many litres "
        "are unaccounted for?",
        working=FLUID_LEDGER,
        result="unaccounted",
        numbers=_litres,
        tolerance="0.05 L",
        solution=_litres_solution,
        mistakes=(
            Mistake(
                "compared with the book, not with what came out",
                lambda r: r.inputs.capacity - r["total_in"],
                "What never came out needs no filling. Compare in with out.",
            ),
            Mistake(
                "left out the second drain",
                lambda r: r.inputs.out[0] - r["total_in"],
                "Every drain, spill and sample counts.",
            ),
        ),
        first_step="Add up what came out, then what went in.",
        lesson="What is missing may be trapped air: do not run the engine until it is found.",
    ),
    Exercise(
        name="pressure_under_the_cap",
        topic="protection",
        title="A cap in the mountains",
        question="At {altitude} the air presses with {air}. The cap is stamped {gauge_pressure}. What is the pressure "
        "on the coolant when the cap lifts?",
        working=COOLANT_PROTECTION,
        result="absolute_pressure",
        numbers=_height,
        fixed={"glycol": "ethylene", "concentration": "50 %"},
        tolerance="1 %",
        mistakes=(
            Mistake(
                "took the number on the cap for the whole pressure",
                lambda r: r.inputs.gauge_pressure,
                "A cap counts from the air around it.",
            ),
            Mistake(
                "added the air of sea level",
                lambda r: _apart(air.SEA_LEVEL_PRESSURE + r.inputs.gauge_pressure, r["absolute_pressure"]),
                "The air is thinner up there; the question says how much it presses.",
            ),
            Mistake(
                "took one from the other",
                lambda r: _apart(
                    abs(r["absolute_pressure"] - 2 * r.inputs.gauge_pressure),
                    r.inputs.gauge_pressure,
                    r["absolute_pressure"],
                ),
                "Both press on the coolant: they add.",
            ),
        ),
        first_step="What presses on the coolant from outside the cap, and what does the cap add?",
        lesson="Pressure on the coolant = air + cap; high up the same cap gives less, and coolant boils sooner.",
    ),
    Exercise(
        name="the_safe_side_of_a_freezing_point",
        topic="protection",
        title="How cold may it get?",
        question="A table says that {concentration} of {glycol} glycol freezes at {frozen}. Published tables differ by "
        "±{apart}. Down to what temperature do you count on it?",
        working=FROST,
        result="safe",
        numbers=_frost,
        fixed={"apart": "3 K"},
        tolerance="1 K",
        safe="above",
        solution=_frost_solution,
        mistakes=(
            Mistake(
                "went to the wrong side",
                lambda r: r["freezing_point"] - r.inputs.apart,
                "If the table is wrong the bad way, it freezes before the number in the table.",
            ),
            Mistake(
                "took the table at its word",
                lambda r: r["freezing_point"],
                "Another table may say 3 K warmer, and the coolant does not read tables.",
            ),
        ),
        first_step="Which side is the dangerous one: freezing earlier, or later?",
        lesson="Count on the warmer end for frost, and on the lower end for boiling.",
    ),
]
