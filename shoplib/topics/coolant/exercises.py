"""Coolant: mixing by the balance of glycol, the coolant balance, pressure under the cap, the safe side."""

from __future__ import annotations

from decimal import Decimal

import numpy as np

from shoplib.core.fields import quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import degC, kelvin, m, read, unit_of
from shoplib.core.working import Result, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import atmosphere as air
from shoplib.physics import coolant_properties
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value
from shoplib.teaching.solution_text import entered, short
from shoplib.topics.coolant.coolant_correct import COOLANT_CORRECT
from shoplib.topics.coolant.coolant_fill import COOLANT_FILL
from shoplib.topics.coolant.coolant_protection import COOLANT_PROTECTION
from shoplib.topics.coolant.coolant_table import COOLANT_TABLE
from shoplib.topics.coolant.fluid_ledger import FLUID_LEDGER

CLOSE = 0.03  # two wrong answers closer than this cannot be told apart


def _apart(value: float, *others: float) -> float | None:
    """The wrong answer, or None where these numbers make it look like another one."""
    return None if any(abs(value - other) <= CLOSE * abs(other) for other in others) else value


# ------------------------------------------------------------------------------ numbers
def _trapped(rng: np.random.Generator) -> dict[str, str]:
    capacity, stayed = Decimal(draw_value(rng, 8, 14, 0.5)), Decimal(draw_value(rng, 1.5, 3, 0.25))
    return {"capacity": f"{capacity} L", "stayed": f"{stayed} L", "drained": f"{capacity - stayed} L"}


def _fill(rng: np.random.Generator) -> dict[str, str]:
    return {**_trapped(rng), "target": choose_one(rng, "40 %", "45 %", "50 %", "55 %")}


def _premix(rng: np.random.Generator) -> dict[str, str]:
    """Never a result of nearly 50 %: that number is in every head."""
    while True:
        typed = {**_trapped(rng), "product_concentration": choose_one(rng, "40 %", "50 %", "60 %")}
        drained, capacity, strength = (float(typed[n].split()[0])
                                       for n in ("drained", "capacity", "product_concentration"))  # fmt: skip
        if abs(strength * drained / capacity - 50) > 2:
            return typed


def _stronger(rng: np.random.Generator) -> dict[str, str]:
    return {
        "capacity": draw_value(rng, 6, 12, 0.5, "L"),
        "measured": draw_value(rng, 20, 38, 1, "%"),
        "target": choose_one(rng, "45 %", "50 %", "55 %"),
    }


def _thinner(rng: np.random.Generator) -> dict[str, str]:
    return {
        "capacity": draw_value(rng, 6, 12, 0.5, "L"),
        "measured": draw_value(rng, 56, 70, 1, "%"),
        "target": choose_one(rng, "48 %", "50 %"),
    }


def _litres(rng: np.random.Generator) -> dict[str, str]:
    first, second, missing = (Decimal(draw_value(rng, *x)) for x in ((4, 5, 0.1), (1.5, 2, 0.1), (0.4, 1.2, 0.2)))
    return {
        "capacity": draw_value(rng, 9, 12, 0.5, "L"),
        "out": f"{first} L; {second} L",
        "in": f"{first + second - missing} L",
    }


def _height(rng: np.random.Generator) -> dict[str, str]:
    altitude = draw_value(rng, 800, 3000, 100, "m")
    p = air.standard_pressure(read(altitude, unit_of(m)).value, **air.CONSTANTS)
    return {"altitude": altitude, "gauge_pressure": draw_value(rng, 70, 140, 5, "kPa"), "air": f"{p / 1e3:.1f} kPa"}


def _frost(rng: np.random.Generator) -> dict[str, str]:
    glycol, percent = choose_one(rng, *coolant_properties.GLYCOLS), draw_value(rng, 35, 55, 1)
    frozen = unit_of(degC).from_si(float(coolant_properties.freezing_point(glycol, float(percent) / 100)))
    return {"glycol": glycol, "concentration": f"{percent} %", "frozen": f"{frozen:.1f} °C"}


def _count_on(inputs: CountOnFrostProtectionInputs, worksheet: Worksheet) -> None:
    """The warm end of what the tables say."""
    worksheet.result("safe", inputs.frozen + inputs.apart, degC, "Frost protection, safe side", 3)


class CountOnFrostProtectionInputs(Inputs):
    """Inputs of ``count_on_frost_protection``."""

    frozen = quantity("frozen", degC, "Freezing point in the table")
    apart = quantity("apart", kelvin, "Published tables differ by", above=0.0)


FROST = Working(
    name="count_on_frost_protection",
    title="The safe side of a freezing point",
    question="Down to what temperature can you rely on it?",
    inputs=CountOnFrostProtectionInputs,
    run=_count_on,
)


def _frost_solution(r: Result) -> str:
    table, safe = (f"{T - coolant_properties.ZERO:.1f}".replace("-", "−") for T in (r.inputs.frozen, r["safe"]))
    return (
        "Rely on the warmer end: a coolant that freezes later does no harm. Another table may be warmer by "
        f"{r.inputs.apart:g} K: {table} + {r.inputs.apart:g} = {safe} °C."
    )


def _premix_solution(r: Result) -> str:
    V, poured, c_p = 1e3 * r.inputs.capacity, 1e3 * r.inputs.drained, 100 * r.inputs.product_concentration
    return (
        f"The premix fills the empty part: {V:g} − {V - poured:g} = {poured:g} L. Glycol in it: {poured:g} L × "
        f"{c_p:g} % = "
        f"{poured * c_p / 100:.3g} L. It mixes with the whole system: {poured * c_p / 100:.3g} ÷ {V:g} = "
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
    inputs = r.inputs
    return _apart(inputs.capacity * (1 - inputs.target), r["product"], _room_only(r))


def _as_concentrate(r: Result) -> float:
    return float(r.inputs.drained / r.inputs.capacity)


def _twice_trapped(r: Result) -> float | None:
    inputs = r.inputs
    stayed = inputs.capacity - inputs.drained
    return _apart(
        inputs.drained * inputs.product_concentration / (inputs.capacity + stayed),
        r["best_possible"],
        inputs.product_concentration,
    )


def _fill_solution(r: Result) -> str:
    capacity, target = entered(r, "capacity"), entered(r, "target") / 100
    return (
        "The water that stayed in adds no glycol, so the concentrate alone must give it to the whole system: "
        f"{capacity:g} × {target:.2f} = {short(capacity * target)} L."
    )


def _strengthen_solution(r: Result) -> str:
    capacity, (measured, target) = entered(r, "capacity"), (entered(r, n) / 100 for n in ("measured", "target"))
    return (
        f"Missing glycol: {capacity:g} × ({target:.2f} − {measured:.2f}) = {short(capacity * (target - measured))} L. "
        f"Each litre replaced adds 1 − {measured:.2f} = {1 - measured:.2f} L. "
        f"{short(capacity * (target - measured))} ÷ {1 - measured:.2f} = "
        f"{short(capacity * (target - measured) / (1 - measured))} L."
    )


def _thin_solution(r: Result) -> str:
    capacity, (measured, target) = entered(r, "capacity"), (entered(r, n) / 100 for n in ("measured", "target"))
    return (
        f"Too much glycol: {capacity:g} × ({measured:.2f} − {target:.2f}) = {short(capacity * (measured - target))} L. "
        f"Each litre drained takes {measured:.2f} L of it. {short(capacity * (measured - target))} ÷ {measured:.2f} = "
        f"{short(capacity * (measured - target) / measured)} L."
    )


def _cap_solution(r: Result) -> str:
    air_kpa = round(1e-3 * (r["absolute_pressure"] - r.inputs.gauge_pressure), 1)
    cap = entered(r, "gauge_pressure")
    return f"Air and cap together: {air_kpa:g} + {cap:g} = {air_kpa + cap:g} kPa."


def _between_rows(rng: np.random.Generator) -> dict[str, object]:
    """A reading three tenths or seven tenths of the way between two rows; the third row is not asked for."""
    low = 1.050 + 0.001 * int(rng.integers(5, 12))
    part = choose_one(rng, 0.2, 0.3, 0.7, 0.8)
    rows = [(0.30, low - 0.010), (0.40, low), (0.50, low + 0.010)]
    typed = [{"temperature": "20 degC", "strength": f"{100 * c:.0f} %", "value": f"{x:.3f}"} for c, x in rows]
    return {"rows": typed, "low": f"{low:.3f}", "high": f"{low + 0.010:.3f}", "reading": f"{low + 0.010 * part:.4f}"}


def _rows_solution(r: Result) -> str:
    low, high = (float(row["value"]) for row in r.inputs.as_entered["rows"][1:])
    reading = float(r.inputs.as_entered["reading"])
    part = (reading - low) / (high - low)
    return (
        f"Part of the way from one row to the next: ({reading:.4f} − {low:.3f}) ÷ ({high:.3f} − {low:.3f}) = "
        f"{part:.2f}. "
        f"That part of the strength: 40 + {part:.2f} × 10 = {40 + 10 * part:.1f} %."
    )


EXERCISES = [
    Exercise(
        name="fill_over_trapped_water",
        topic="coolant",
        title="Water stayed in the block",
        question="A system of {capacity} was flushed with water, and {stayed} of water stayed in it. You need {target} "
        "glycol by volume. How much concentrate do you pour in before you fill up with water?",
        working=COOLANT_FILL,
        result="product",
        numbers=_fill,
        tolerance="1 %",
        solution=_fill_solution,
        mistakes=(
            Mistake(
                "mixed for the empty part only, as if there were no trapped water",
                _room_only,
                "The trapped water mixes with what you pour in. The whole system must have the strength.",
            ),
            Mistake(
                "swapped glycol and water",
                _water_for_glycol,
                "The percentage is the part of the whole that is glycol.",
            ),
        ),
        first_step="How much glycol must the whole system hold?",
        lesson="The glycol needed is capacity × strength. The water that stayed in adds none.",
    ),
    Exercise(
        name="premix_over_trapped_water",
        topic="coolant",
        title="Premix over trapped water",
        question=(
            "In a system of {capacity}, {stayed} of water stayed in after the flush. You fill it up with premix of "
            "{product_concentration}. How strong is the coolant when it has mixed?"
        ),
        working=COOLANT_FILL,
        result="best_possible",
        numbers=_premix,
        fixed={"target": "1 %"},
        tolerance="1 %",
        solution=_premix_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "gave the strength on the bottle",
                lambda r: r.inputs.product_concentration,
                "That is right only for an empty system: the trapped water dilutes the premix.",
            ),
            Mistake(
                "took the premix as concentrate",
                _as_concentrate,
                "Only a part of the premix is glycol: the strength on the bottle.",
            ),
            Mistake(
                "added the trapped water to the capacity",
                _twice_trapped,
                "The trapped water is part of the capacity.",
            ),
        ),
        first_step="How much glycol do you pour in, and in how many litres does it mix?",
        lesson="Premix poured over trapped water never reaches the strength on its bottle.",
    ),
    Exercise(
        name="swap_to_strengthen",
        topic="coolant",
        title="Too weak",
        question="The coolant in a full system of {capacity} has {measured}. You need {target}. How much do you drain "
        "and replace with concentrate?",
        working=COOLANT_CORRECT,
        result="swap",
        numbers=_stronger,
        tolerance="1 %",
        solution=_strengthen_solution,
        mistakes=(
            Mistake(
                "forgot that draining also removes glycol",
                lambda r: r.inputs.capacity * (r.inputs.target - r.inputs.measured),
                "Each litre drained contains glycol, so a litre of concentrate adds less than a litre of glycol.",
            ),
            Mistake(
                "added concentrate without draining",
                lambda r: r.inputs.capacity * (r.inputs.target - r.inputs.measured) / (1 - r.inputs.target),
                "The system is full: it takes only as much as was drained.",
            ),
        ),
        first_step=(
            "How much glycol does one litre of concentrate add, when you drain a litre of the old mixture for it?"
        ),
        lesson="Volume = capacity × (required − measured) ÷ (product − measured).",
    ),
    Exercise(
        name="swap_to_thin",
        topic="coolant",
        title="Too strong",
        question="The coolant in a full system of {capacity} has {measured}. You need {target}. How much do you drain "
        "and replace with water?",
        working=COOLANT_CORRECT,
        result="swap",
        numbers=_thinner,
        tolerance="1 %",
        solution=_thin_solution,
        mistakes=(
            Mistake(
                "counted the drained mixture as pure glycol",
                lambda r: r.inputs.capacity * (r.inputs.measured - r.inputs.target),
                "You drain the mixture; only part of it is glycol.",
            ),
            Mistake(
                "added water without draining",
                lambda r: r.inputs.capacity * (r.inputs.measured - r.inputs.target) / r.inputs.target,
                "The system is full: it takes only as much as was drained.",
            ),
            Mistake(
                "used the formula for concentrate",
                lambda r: r.inputs.capacity * (r.inputs.measured - r.inputs.target) / (1 - r.inputs.measured),
                "Water adds no glycol: each litre replaced removes the measured part of a litre.",
            ),
        ),
        first_step="How much glycol must go, and how much goes with each litre drained?",
        lesson="Volume = capacity × (measured − required) ÷ measured, when the replacement is water.",
    ),
    Exercise(
        name="litres_unaccounted_for",
        topic="coolant",
        title="Did as much go in as came out?",
        question="According to the manual the system holds {capacity}. Two drains gave {out}. You poured in {in}. How "
        "many litres are missing?",
        working=FLUID_LEDGER,
        result="unaccounted",
        numbers=_litres,
        tolerance="0.05 L",
        solution=_litres_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "compared with the manual, not with what came out",
                lambda r: r.inputs.capacity - r["total_in"],
                "Coolant that stayed in needs no refill. Compare what went in with what came out.",
            ),
            Mistake(
                "left out the second drain",
                lambda r: r.inputs.out[0] - r["total_in"],
                "Every drain, spill and sample counts.",
            ),
        ),
        first_step="Add up what came out, then what went in.",
        lesson="Do not run the engine until you find what is missing: it may be trapped air.",
    ),
    Exercise(
        name="pressure_under_the_cap",
        topic="protection",
        title="A cap in the mountains",
        question="At {altitude} the air pressure is {air}. The cap is stamped {gauge_pressure}. What is the absolute "
        "pressure on the coolant when the cap opens?",
        working=COOLANT_PROTECTION,
        result="absolute_pressure",
        numbers=_height,
        fixed={"glycol": "ethylene", "concentration": "50 %"},
        tolerance="1 %",
        solution=_cap_solution,
        mistakes=(
            Mistake(
                "took the number on the cap as the whole pressure",
                lambda r: r.inputs.gauge_pressure,
                "The cap adds its pressure to that of the air.",
            ),
            Mistake(
                "added the air pressure at sea level",
                lambda r: _apart(air.SEA_LEVEL_PRESSURE + r.inputs.gauge_pressure, r["absolute_pressure"]),
                "The air is thinner there. The question gives its pressure.",
            ),
            Mistake(
                "subtracted one from the other",
                lambda r: _apart(
                    abs(r["absolute_pressure"] - 2 * r.inputs.gauge_pressure),
                    r.inputs.gauge_pressure,
                    r["absolute_pressure"],
                ),
                "Both act on the coolant: add them.",
            ),
        ),
        first_step="What is the air pressure outside, and how much does the cap add?",
        lesson="Pressure on the coolant = air + cap. At altitude the pressure is lower, and the coolant boils sooner.",
    ),
    Exercise(
        name="the_safe_side_of_a_freezing_point",
        topic="protection",
        title="How cold may it get?",
        question="A table says that {concentration} of {glycol} glycol freezes at {frozen}. Published tables differ by "
        "±{apart}. Down to what temperature can you rely on it?",
        working=FROST,
        result="safe",
        numbers=_frost,
        fixed={"apart": "3 K"},
        tolerance="1 K",
        safe="above",
        solution=_frost_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "chose the wrong side",
                lambda r: r.inputs.frozen - r.inputs.apart,
                "If the table is wrong in the bad direction, the coolant freezes at a warmer temperature.",
            ),
            Mistake(
                "trusted the table exactly",
                lambda r: r.inputs.frozen,
                "Another table may give a freezing point 3 K warmer.",
            ),
        ),
        first_step="Which side is dangerous: freezing at a warmer temperature, or at a colder one?",
        lesson="Rely on the warmer end for frost, and on the lower end for boiling.",
    ),
    Exercise(
        name="reading_between_rows",
        topic="protection",
        title="A reading between two rows",
        question="The data sheet of a coolant says what a hydrometer reads at 20 °C: {low} at 40 % and {high} at 50 %. "
        "Yours reads {reading} at 20 °C. How strong is the coolant?",
        working=COOLANT_TABLE,
        result="strength",
        numbers=_between_rows,
        fixed={
            "contents": "only the coolant of this table",
            "instrument": "relative density (hydrometer)",
            "sample_temperature": "20 degC",
            "table_source": "question",
        },
        tolerance="1 %",
        solution=_rows_solution,
        mistakes=(
            Mistake(
                "took the middle of the two rows",
                lambda r: 0.45,
                "Take the part of the way from the lower row to the upper row.",
            ),
            Mistake(
                "went the other way",
                lambda r: 0.9 - r["strength"],
                "Start at the lower row: a higher reading is a stronger coolant.",
            ),
            Mistake(
                "took the nearest row",
                lambda r: round(10 * r["strength"]) / 10,
                "Between two rows the strength rises in step with the reading.",
            ),
        ),
        first_step="How far is the reading from the lower row, as a part of the way to the upper row?",
        lesson="Use the table of the coolant itself. Another product with the same colour reads differently.",
    ),
]
