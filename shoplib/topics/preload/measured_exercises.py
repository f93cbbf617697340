"""Friction from a test, preload from a stretch, and the lowest preload of a budget."""

from __future__ import annotations

import math
import re

import numpy as np

from shoplib.core.working import Result
from shoplib.physics import threads
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value
from shoplib.teaching.solution_text import entered, short
from shoplib.topics.preload.friction_evaluation import FRICTION_EVALUATION
from shoplib.topics.preload.preload_budget import PRELOAD_BUDGET
from shoplib.topics.preload.preload_from_elongation import PRELOAD_FROM_ELONGATION

TESTED = {"M8x1.25": ("10.5 mm", 15), "M10x1.5": ("13 mm", 24), "M12x1.75": ("15 mm", 36)}


def _tested(rng: np.random.Generator) -> dict[str, str]:
    name = choose_one(rng, *TESTED)
    mean, middle = TESTED[name]
    force = round(middle * rng.uniform(0.85, 1.15))
    thread, mu = threads.read_thread(name), rng.uniform(0.10, 0.17)
    lever = thread.P / (2 * math.pi) + mu * (0.57735 * thread.d_2 + float(mean.split()[0]) / 2e3)
    return {"thread": name, "pitch": f"{thread.P * 1e3:g} mm", "pitch_diameter": f"{thread.d_2 * 1e3:.3f} mm",
            "bearing_mean": mean, "clamp_force": f"{force} kN", "torque": f"{force * 1e3 * lever:.1f} N·m"}  # fmt: skip


def _mu(result: Result, pitch: float, thread: float, head: float) -> float:
    """Total friction with the three parts of the equation weighted like this."""
    bolt = threads.read_thread(result.inputs.thread)
    lever = result.inputs.torque / result.inputs.clamp_force - pitch * bolt.P / (2 * math.pi)
    return float(lever / (thread * bolt.d_2 / math.sqrt(3) + head * result.inputs.bearing_mean / 2))


def _stretched(rng: np.random.Generator) -> dict[str, str]:
    before = 90 + float(rng.integers(0, 60)) + 0.005 * float(rng.integers(0, 20))
    stays = 0.005 * float(rng.integers(4, 12))
    elastic = 0.005 * float(rng.integers(40, 70))
    lengths = {"length_before": before, "length_tightened": before + stays + elastic, "length_loosened": before + stays}
    return {name: f"{x:.3f} mm" for name, x in lengths.items()} | {
        "bolt_stiffness": draw_value(rng, 80, 140, 5, "kN/mm")
    }


def _warm(rng: np.random.Generator) -> dict[str, str]:
    before = 100 + 5 * float(rng.integers(0, 11))
    warmer = 10 + 5 * int(rng.integers(0, 5))
    return {"length_before": f"{before:.3f} mm", "length_tightened": f"{before + 0.01 * rng.integers(20, 35):.3f} mm",
            "temperature_before": "20 °C", "temperature_tightened": f"{20 + warmer} °C"}  # fmt: skip


def _friction_solution(r: Result) -> str:
    pitch = float(str(r.inputs.as_entered["thread"]).split("x")[1])
    torque, force, head = (entered(r, n) for n in ("torque", "clamp_force", "bearing_mean"))
    middle = round(1e3 * threads.read_thread(r.inputs.as_entered["thread"]).d_2, 3)
    top, bottom = torque / force - 0.159 * pitch, 0.577 * middle + head / 2
    return (
        f"Above: {torque:g} ÷ {force:g} − 0.159 × {pitch:g} = {short(top)} mm. Below: "
        f"0.577 × {middle:g} + {head:g} ÷ 2 = "
        f"{short(bottom)} mm. {short(top)} ÷ {short(bottom)} = {short(top / bottom, 3)}."
    )


def _stretch_solution(r: Result) -> str:
    tight, loose = entered(r, "length_tightened"), entered(r, "length_loosened")
    stiffness = entered(r, "bolt_stiffness")
    return (
        f"Only the elastic part pulls: {tight:.3f} − {loose:.3f} = {tight - loose:.3f} mm. "
        f"Times the stiffness: {tight - loose:.3f} × {stiffness:g} = {short((tight - loose) * stiffness)} kN."
    )


def _warm_solution(r: Result) -> str:
    before, tight = entered(r, "length_before"), entered(r, "length_tightened")
    cold, warm = entered(r, "temperature_before"), entered(r, "temperature_tightened")
    growth = before * 11.5 * (warm - cold) / 1e6
    return (
        f"Heat alone makes it longer by {before:g} × 11.5 × ({warm:g} − {cold:g}) ÷ 1000000 = {growth:.4f} mm. "
        f"{tight:.3f} − {before:.3f} − {growth:.4f} = {tight - before - growth:.4f} mm."
    )


def _least_solution(r: Result) -> str:
    low = float(re.findall(r"[\d.]+", str(r.inputs.as_entered["yield_preload"]))[0])
    creep = float(re.findall(r"[\d.]+", str(r.inputs.as_entered["gasket_creep"]))[1])
    left = short(low * (100 - creep) / 100)
    return f"The lowest bolt and the largest creep: {low:g} × (100 − {creep:g}) ÷ 100 = {left} kN."


EXERCISES = [
    Exercise(
        name="friction_of_a_test",
        topic="preload",
        title="Friction from a test",
        question="A test bolt {thread} (pitch {pitch}, pitch diameter d₂ {pitch_diameter}) with the mean diameter D "
        "{bearing_mean} under the head is turned to {torque}. The load cell shows {clamp_force}. What is the total "
        "friction? μ = (torque ÷ force − 0.159 P) ÷ (0.577 d₂ + ½ D).",
        working=FRICTION_EVALUATION,
        result="total_friction",
        numbers=_tested,
        fixed={},
        tolerance="2 %",
        solution=_friction_solution,
        mistakes=(
            Mistake(
                "forgot the pitch",
                lambda r: _mu(r, 0, 1, 1),
                "First take 0.159 P away: that part of the torque stretches the bolt.",
            ),
            Mistake(
                "used the diameter under the head instead of the radius",
                lambda r: _mu(r, 1, 1, 2),
                "Friction under the head acts at the radius: half the mean diameter.",
            ),
            Mistake(
                "left out the thread",
                lambda r: _mu(r, 1, 0, 1),
                "There is friction in the thread too: 0.577 d₂.",
            ),
            Mistake(
                "left out the head",
                lambda r: _mu(r, 1, 1, 0),
                "There is friction under the head too: ½ D.",
            ),
            Mistake(
                "gave the nut factor",
                lambda r: r["nut_factor"],
                "The nut factor is torque over force and diameter. It includes the part that stretches the bolt.",
            ),
        ),
        first_step="Divide the torque by the force: N·m over kN gives millimetres.",
        lesson="Torque and force together show the friction. Torque alone shows nothing.",
    ),
    Exercise(
        name="clamp_of_a_stretch",
        topic="preload",
        title="Preload from three lengths",
        question="A bolt measures {length_before} before, {length_tightened} tightened and {length_loosened} loosened "
        "again, always at one temperature. Its stiffness is {bolt_stiffness}. What was the preload?",
        working=PRELOAD_FROM_ELONGATION,
        result="preload",
        numbers=_stretched,
        fixed={"stiffness_accuracy": "8 %"},
        tolerance="2 %",
        solution=_stretch_solution,
        mistakes=(
            Mistake(
                "counted the permanent set as stretch",
                lambda r: r["stretch"] * r.inputs.bolt_stiffness,
                "What stays after loosening carries no load. Only what springs back counts.",
            ),
            Mistake(
                "gave the load of the permanent set",
                lambda r: r["permanent_set"] * r.inputs.bolt_stiffness,
                "The set is the part that carries nothing. Subtract it from the stretch.",
            ),
            Mistake(
                "added the permanent set",
                lambda r: (r["stretch"] + r["permanent_set"]) * r.inputs.bolt_stiffness,
                "The set is part of the stretch already. Subtract it.",
            ),
        ),
        first_step="Subtract the length loosened from the length tightened.",
        lesson="A bolt is a spring. Its elastic stretch times its stiffness is the preload, whatever the friction was.",
    ),
    Exercise(
        name="stretch_of_a_warm_bolt",
        topic="preload",
        title="A bolt that is warm",
        question="A steel bolt measures {length_before} at {temperature_before}, and {length_tightened} tightened at "
        "{temperature_tightened}. Steel grows by 11.5 millionths of its length per kelvin. What is the stretch?",
        working=PRELOAD_FROM_ELONGATION,
        result="stretch",
        numbers=_warm,
        fixed={"alpha_bolt": "11.5e-6/K"},
        tolerance="2 %",
        solution=_warm_solution,
        mistakes=(
            Mistake(
                "left out the growth by heat",
                lambda r: r.inputs.length_tightened - r.inputs.length_before,
                "The bolt is longer also because it is warmer. Take that away.",
            ),
            Mistake(
                "added the growth by heat",
                lambda r: 2 * (r.inputs.length_tightened - r.inputs.length_before) - r["stretch"],
                "The warm bolt reads too long. Take the growth away.",
            ),
            Mistake(
                "took the temperature itself instead of the rise",
                lambda r: (r.inputs.length_tightened - r.inputs.length_before)
                - r.inputs.length_before * 11.5e-6 * (r.inputs.temperature_tightened - 273.15),
                "Only the rise of the temperature makes the bolt grow.",
            ),
        ),
        first_step="Length times 11.5 millionths times the rise of the temperature is the growth.",
        lesson="Let a bolt reach the room's temperature before you measure it.",
    ),
    Exercise(
        name="least_preload_left",
        topic="preload",
        title="What is left at least?",
        question="Bolts of this joint reach {yield_preload} when they are turned past yield, whatever the friction. "
        "Afterwards the gasket's creep takes {gasket_creep} of the preload, and heat adds nothing. What is the lowest "
        "preload that is left?",
        working=PRELOAD_BUDGET,
        result="preload_lowest",
        numbers=lambda rng: {
            "yield_preload": choose_one(rng, "40–50 kN", "44–52 kN", "30–38 kN", "50–60 kN"),
            "gasket_creep": choose_one(rng, "4–8 %", "5–12 %", "3–10 %", "6–14 %"),
        },
        fixed={
            "torque": "40 N*m", "angle": "180 deg", "series_stiffness": "70 kN/mm", "thread": "M10x1.5",
            "mu_thread": "0.12", "mu_head": "0.12", "bearing_mean": "13 mm", "draws": "1000",
            "gasket_creep_source": "question",
        },
        tolerance="1 %",
        solution=_least_solution,
        mistakes=(
            Mistake(
                "took the smaller creep",
                lambda r: r.inputs.yield_preload.low * (1 - r.inputs.gasket_creep.low),
                "The lowest preload comes with the largest loss.",
            ),
            Mistake(
                "took the stronger bolt",
                lambda r: r.inputs.yield_preload.high * (1 - r.inputs.gasket_creep.high),
                "The lowest preload comes with the weakest bolt.",
            ),
            Mistake(
                "left out the creep",
                lambda r: r.inputs.yield_preload.low,
                "Creep takes a part of the preload after tightening.",
            ),
        ),
        first_step="Take the weakest bolt, then the largest loss.",
        lesson="A joint is as good as its worst bolt after all losses.",
    ),
]  # fmt: skip
