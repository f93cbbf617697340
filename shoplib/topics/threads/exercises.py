"""Thread geometry and loads."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from shoplib.physics import threads
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value
from shoplib.teaching.solution_text import entered, short
from shoplib.topics.threads.thread import THREAD_WORKING
from shoplib.topics.threads.thread_stripping import THREAD_STRIPPING


def _size(r: Any) -> tuple[float, float]:
    """Diameter and pitch in millimetres, from the name of a metric thread."""
    diameter, pitch = str(r.inputs.as_entered["thread"]).removeprefix("M").split("x")
    return float(diameter), float(pitch)


def _shear_solution(r: Any) -> str:
    d, length = _size(r)[0], entered(r, "engagement")
    return f"7 ÷ 8 × π × {d:g} × {length:g} = {short(7 / 8 * math.pi * d * length)} mm²."


def _gives_solution(r: Any) -> str:
    d, length = _size(r)[0], entered(r, "engagement")
    tau, strength = entered(r, "internal_shear_strength"), entered(r, "bolt_tensile")
    area = round(1e6 * threads.read_thread(r.inputs.as_entered["thread"]).A_s, 1)
    low, high = (7 / 8 * math.pi * d * length * tau * c / 1000 for c in (0.9, 1.06))
    return (
        f"Thread: 7 ÷ 8 × π × {d:g} × {length:g} × {tau:g} × 0.9 ÷ 1000 = {short(low, 3)} kN, and with 1.06 "
        f"{short(high, 3)} kN. Bolt: {area:g} × {strength:g} ÷ 1000 = {short(area * strength / 1000, 3)} kN. "
        f"The smaller one fails first: {r['breaks_first']}."
    )


def _area_solution(r: Any) -> str:
    d, pitch = _size(r)
    d2, d3 = d - 0.6495 * pitch, d - 1.2269 * pitch
    mean = (d2 + d3) / 2
    return (
        f"d₂: {d:g} − 0.6495 × {pitch:g} = {short(d2)} mm. d₃: {d:g} − 1.2269 × {pitch:g} = {short(d3)} mm. Mean: "
        f"({short(d2)} + {short(d3)}) ÷ 2 = {short(mean)} mm. Disc: π ÷ 4 × {short(mean)}² = "
        f"{short(math.pi / 4 * mean**2)} mm²."
    )


def _inch_solution(r: Any) -> str:
    count = round(threads.INCH / r["pitch"])
    return f"One inch has {count} threads: 25.4 ÷ {count} = {short(25.4 / count)} mm."


def _proof_solution(r: Any) -> str:
    area = round(1e6 * r["stress_area"], 1)
    return f"Proof stress times stress area: 830 × {area:g} = {830 * area:.0f} N."


BENCH_EXERCISES = (
    Exercise(
        name="shear_area_of_a_tapped_hole",
        topic="stripping",
        title="How much metal holds the bolt",
        question="A bolt {thread} is engaged over {engagement} of full thread. What is the shear area of the "
        "tapped thread? (60° thread, basic profile: seven eighths of the cylinder at its major diameter are metal.)",
        working=THREAD_STRIPPING,
        result="shear_area_internal",
        fixed={"bolt_tensile": "1040 MPa", "internal_shear_strength": "190 MPa"},
        numbers=lambda rng: {
            "thread": choose_one(rng, "M8x1.25", "M10x1.5", "M10x1.25", "M12x1.75", "M12x1.25"),
            "engagement": draw_value(rng, 10, 24, 1, "mm"),
        },
        tolerance="2 %",
        solution=_shear_solution,
        mistakes=(
            Mistake(
                "used the whole cylinder",
                lambda r: r["shear_area_internal"] * 8 / 7,
                "There are gaps between the threads: only seven eighths of the cylinder are metal.",
            ),
            Mistake(
                "used the bolt's thread",
                lambda r: r["shear_area_external"],
                "The tapped thread shears at the bolt's major diameter; its area is the larger one.",
            ),
            Mistake(
                "used the round section of the bolt",
                lambda r: math.pi / 4 * (r["shear_area_internal"] / (7 / 8 * math.pi * r.inputs.engagement)) ** 2,
                "That is where the bolt breaks. A thread shears along a cylinder: circumference times length.",
            ),
        ),
        first_step="Take a cylinder of the bolt's diameter and the engaged length. Seven eighths of it are metal.",
        lesson="Seven eighths of π × diameter × engaged length. Twice the length, twice the strength.",
    ),
    Exercise(
        name="what_gives_way",
        topic="stripping",
        title="Bolt or hole?",
        question="A bolt {thread} of {bolt_tensile} is engaged {engagement} deep in metal with a shear strength "
        "of {internal_shear_strength}. What fails first when it is pulled? (Tapped thread: seven eighths of the "
        "cylinder, times 0.9 to 1.06 for bending. Bolt: tensile strength times its stress area, {area}.)",
        working=THREAD_STRIPPING,
        result="breaks_first",
        numbers=lambda rng: {
            **_with_area(rng, "M8x1.25", "M10x1.5", "M12x1.75"),
            "engagement": choose_one(rng, "5 mm", "6 mm", "26 mm", "28 mm", "30 mm"),
            "bolt_tensile": choose_one(rng, "1040 MPa", "1220 MPa"),
            "internal_shear_strength": choose_one(rng, "160 MPa", "180 MPa", "200 MPa"),
        },
        tolerance="1 %",
        solution=_gives_solution,
        choices=("bolt", "internal thread", "external thread"),
        mistakes=(
            Mistake(
                "took the hard bolt to be the stronger one at any length",
                lambda r: "internal thread" if r["breaks_first"] == "bolt" else None,
                "If it is long enough, even a soft thread is stronger than the bolt.",
            ),
            Mistake(
                "trusted a short thread",
                lambda r: "bolt" if r["breaks_first"] != "bolt" else None,
                "Work out both loads: a short thread holds less than the bolt.",
            ),
        ),
        first_step=(
            "Calculate two loads: shear strength × shear area, and tensile strength × stress area. Which is smaller?"
        ),
        lesson="The weaker one fails first. A repair must reach at least the length at which both are equal.",
    ),
)


METRIC = (
    "M8x1.25", "M8x1", "M9x1.25", "M10x1.5", "M10x1.25", "M11x1.5", "M12x1.75", "M12x1.5", "M12x1.25", "M14x2",
    "M14x1.5", "M16x2", "M16x1.5", "M6x1", "M10x1", "M18x2.5", "M18x1.5", "M20x2.5", "M20x1.5", "M7x1",
)  # fmt: skip


INCH = (
    "1/4-20 UNC", "5/16-18 UNC", "3/8-16 UNC", "7/16-14 UNC", "1/2-13 UNC", "9/16-12 UNC", "1/4-28 UNF",
    "5/16-24 UNF", "7/16-20 UNF", "9/16-18 UNF", "3/4-16 UNF", "7/8-14 UNF",
    "5/8-11 UNC", "3/4-10 UNC", "7/8-9 UNC", "1-8 UNC", "3/8-24 UNF", "1/2-20 UNF", "5/8-18 UNF", "1-12 UNF",
)  # fmt: skip


def disc(d: float) -> float:
    """Area of a disc, in SI."""
    return float(threads.circle_area(d))


def _proof_on_nominal(r: Any) -> float:
    return float(r["proof_load"] * disc(r["nominal_diameter"]) / r["stress_area"])


THREAD_EXERCISES = [
    Exercise(
        name="stress_area_of_a_thread",
        topic="thread",
        title="The area that carries the load",
        question="What is the stress area of {thread}? (d₂ = d − 0.6495 P, d₃ = d − 1.2269 P. It is the area "
        "of a disc of their mean diameter.)",
        working=THREAD_WORKING,
        result="stress_area",
        numbers=lambda rng: {"thread": choose_one(rng, *METRIC)},
        tolerance="1 %",
        solution=_area_solution,
        mistakes=(
            Mistake(
                "used the nominal diameter",
                lambda r: disc(r["nominal_diameter"]),
                "The thread is cut into the bar; less than the full disc carries the load.",
            ),
            Mistake(
                "used the pitch diameter alone",
                lambda r: disc(r["pitch_diameter"]),
                "Use the mean of the pitch diameter and the minor diameter.",
            ),
            Mistake(
                "used the minor diameter alone",
                lambda r: disc(r["minor_diameter"]),
                "Use the mean of the pitch diameter and the minor diameter.",
            ),
            Mistake(
                "used the diameter instead of the radius",
                lambda r: 4 * r["stress_area"],
                "The area of a disc is π/4 times the diameter squared.",
            ),
        ),
        first_step="Calculate d₂ and d₃ first, then their mean, then the area of the disc.",
        lesson="A coarse thread leaves less steel than a fine thread of the same diameter.",
    ),
    Exercise(
        name="pitch_of_an_inch_thread",
        topic="thread",
        title="Threads per inch to pitch",
        question="Your pitch gauge is metric only. What is the pitch, in mm, of {thread}? "
        "(Diameter in inches, then threads per inch; 1 in is 25.4 mm.)",
        working=THREAD_WORKING,
        result="pitch",
        numbers=lambda rng: {"thread": choose_one(rng, *INCH)},
        tolerance="0.5 %",
        solution=_inch_solution,
        in_its_unit=True,
        mistakes=(
            Mistake(
                "divided the wrong way round",
                lambda r: 1e-3 * round(threads.INCH / r["pitch"]) / 25.4,
                "One inch, 25.4 mm, is divided by the number of threads.",
            ),
            Mistake(
                "took one divided by the number of threads as millimetres",
                lambda r: 1e-3 * r["pitch"] / threads.INCH,
                "One divided by the threads per inch is the pitch in inches.",
            ),
            Mistake(
                "gave the number of threads as the pitch",
                lambda r: 1e-3 * round(threads.INCH / r["pitch"]),
                "More threads per inch mean a finer pitch.",
            ),
        ),
        first_step="How many millimetres are in an inch? Divide them by the number of threads.",
        lesson="Never force a thread: 1.27 mm and 1.25 mm look alike on a gauge, but do not fit each other.",
    ),
    Exercise(
        name="proof_load_of_a_bolt",
        topic="thread",
        title="What the bolt can take without permanent stretch",
        question="What is the proof load of {thread}, class 10.9? Its stress area is {area}; proof stress 830 MPa, "
        "yield strength 940 MPa, tensile strength 1040 MPa.",
        working=THREAD_WORKING,
        result="proof_load",
        fixed={"property_class": "10.9"},
        numbers=lambda rng: _with_area(rng, *METRIC),
        tolerance="0.8 %",
        solution=_proof_solution,
        mistakes=(
            Mistake(
                "used the yield strength",
                lambda r: r["yield_load"],
                "The proof load is below yield: the bolt must return to its length.",
            ),
            Mistake(
                "used the tensile strength",
                lambda r: r["ultimate_load"],
                "At that stress the bolt breaks.",
            ),
            Mistake(
                "used the area of the nominal diameter",
                _proof_on_nominal,
                "The stress area carries the load, not the nominal diameter.",
            ),
        ),
        first_step="Multiply stress by area: 1 MPa on 1 mm² is 1 N.",
        lesson="Proof load, yield load and ultimate load differ. A limit must say which one it means.",
    ),
]


def _with_area(rng: np.random.Generator, *names: str) -> dict[str, str]:
    thread = choose_one(rng, *names)
    return {"thread": thread, "area": f"{threads.read_thread(thread).A_s * 1e6:.1f} mm²"}


EXERCISES = (*BENCH_EXERCISES, *THREAD_EXERCISES)
