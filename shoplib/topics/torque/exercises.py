"""Torque units and the wrench in use."""

from __future__ import annotations

import math

from shoplib.core.units import lbf_ft, lbf_in, unit_of
from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value, rerun
from shoplib.teaching.solution_text import entered, short
from shoplib.topics.torque.torque_units import TORQUE_UNITS
from shoplib.topics.torque.wrench_setting import WRENCH_SETTING

FT, IN = unit_of(lbf_ft).si, unit_of(lbf_in).si


def _to_feet(r: Result) -> str:
    torque = entered(r, "torque")
    return f"lbf·ft is the larger unit, so divide: {torque:g} ÷ 1.356 = {short(torque / 1.356)} lbf·ft."


def _misread(r: Result) -> str:
    torque = entered(r, "torque")
    return f"The wrench gives that many lbf·ft: {torque:g} × 1.356 = {short(torque * 1.356)} N·m."


def _in_line(r: Result) -> str:
    torque, wrench, adapter = (entered(r, n) for n in ("torque", "wrench_length", "adapter_length"))
    return (
        f"The arm is {wrench:g} mm without and {wrench:g} + {adapter:g} = {wrench + adapter:g} mm with the adapter. "
        f"{torque:g} × {wrench:g} ÷ {wrench + adapter:g} = {short(torque * wrench / (wrench + adapter))} N·m."
    )


def _at_an_angle(r: Result) -> str:
    torque, wrench, adapter = (entered(r, n) for n in ("torque", "wrench_length", "adapter_length"))
    angle = entered(r, "adapter_angle")
    along = adapter * math.cos(math.radians(angle))
    cosine = short(along / adapter)
    return (
        f"cos {angle:g}° = {cosine}. Along the wrench the adapter reaches {adapter:g} × {cosine} = "
        f"{short(along)} mm. {torque:g} × {wrench:g} ÷ ({wrench:g} + {short(along)}) = "
        f"{short(torque * wrench / (wrench + along))} N·m."
    )


EXERCISES = [
    Exercise(
        name="newton_metres_on_an_inch_wrench",
        topic="wrench",
        title="The wrench shows lbf·ft",
        question="The book says {torque}. Your wrench shows lbf·ft only. What is that torque in lbf·ft? (1 lbf·ft is "
        "1.356 N·m.)",
        working=TORQUE_UNITS,
        result="pound_foot",
        numbers=lambda rng: {"torque": draw_value(rng, 22, 118, 2, "N·m")},
        tolerance="1 %",
        solution=_to_feet,
        in_its_unit=True,
        mistakes=(
            Mistake(
                "multiplied by 1.356 instead of dividing",
                lambda r: r["newton_metre"] * FT * FT,
                "lbf·ft is the larger unit, so its number is the smaller one.",
            ),
            Mistake(
                "kept the number and changed the unit",
                lambda r: r["newton_metre"] * FT,
                "That is 36 % too much: one lbf·ft is 1.356 N·m.",
            ),
            Mistake(
                "converted to lbf·in",
                lambda r: r["newton_metre"] / IN * FT,
                "A foot is twelve inches: a wrench in lbf·in shows twelve times the number.",
            ),
            Mistake(
                "divided by 9.81",
                lambda r: r["newton_metre"] / 9.80665 * FT,
                "That gives kgf·m.",
            ),
        ),
        first_step="One lbf·ft is 1.356 N·m: divide.",
        lesson="The number in lbf·ft is always the smaller one for the same torque.",
    ),
    Exercise(
        name="number_without_a_unit",
        topic="wrench",
        title="A number without its unit",
        question="The book means {torque}, but a copied note gives the number only, and the wrench is set in lbf·ft. "
        "Which torque does the bolt get, in N·m? (1 lbf·ft is 1.356 N·m.)",
        working=TORQUE_UNITS,
        result="misread_torque",
        numbers=lambda rng: {"torque": draw_value(rng, 20, 95, 1, "N·m")},
        tolerance="1 %",
        solution=_misread,
        in_its_unit=True,
        mistakes=(
            Mistake(
                "divided by 1.356 instead of multiplying",
                lambda r: r["newton_metre"] / FT,
                "The wrench is set to that many lbf·ft, and each of them is 1.356 N·m.",
            ),
            Mistake(
                "took the two units to be the same",
                lambda r: r["newton_metre"],
                "The number is the same; the torque is not.",
            ),
            Mistake(
                "used lbf·in instead of lbf·ft",
                lambda r: r["newton_metre"] * IN,
                "One lbf·in is 0.113 N·m; the wrench is set in lbf·ft.",
            ),
        ),
        first_step="How many N·m is one lbf·ft?",
        lesson=(
            "N·m read as lbf·ft gives 36 % too much. When a page gives a number without a unit, stop until you know "
            "the unit."
        ),
    ),
    Exercise(
        name="adapter_in_line",
        topic="wrench",
        title="An adapter in line",
        question="The bolt needs {torque}. Your wrench is {wrench_length} long from square to grip. On it is an "
        "adapter of {adapter_length}, straight out in line. What do you set?",
        working=WRENCH_SETTING,
        result="setting",
        numbers=lambda rng: {
            "torque": draw_value(rng, 40, 120, 5, "N·m"),
            "wrench_length": draw_value(rng, 300, 500, 50, "mm"),
            "adapter_length": draw_value(rng, 30, 75, 5, "mm"),
        },
        tolerance="1 %",
        solution=_in_line,
        mistakes=(
            Mistake(
                "turned the correction upside down",
                lambda r: r["uncorrected_torque"],
                "The adapter makes the arm longer, so the same pull gives the bolt more: set less.",
            ),
            Mistake(
                "made no correction",
                lambda r: r.inputs.torque,
                "An adapter in line lengthens the arm; only an adapter at 90° changes nothing.",
            ),
            Mistake(
                "divided the adapter by the wrench, not the wrench by both",
                lambda r: r.inputs.torque * r.inputs.adapter_length / r.inputs.wrench_length,
                "Compare the two arms: the wrench alone, and the wrench with the adapter.",
            ),
        ),
        first_step="Write down the two arms: the wrench alone, and the wrench with the adapter.",
        lesson="Setting = torque × wrench ÷ (wrench + adapter). The longer arm needs the smaller setting.",
    ),
    Exercise(
        name="adapter_at_an_angle",
        topic="wrench",
        title="An adapter at an angle",
        question="The bolt needs {torque}. The wrench is {wrench_length} long from square to grip. The adapter of "
        "{adapter_length} is at {adapter_angle} to the wrench (0° is straight out in line). What do you set?",
        working=WRENCH_SETTING,
        result="setting",
        numbers=lambda rng: {
            "torque": draw_value(rng, 40, 120, 5, "N·m"),
            "wrench_length": draw_value(rng, 250, 400, 50, "mm"),
            "adapter_length": draw_value(rng, 60, 100, 5, "mm"),
            "adapter_angle": choose_one(rng, "30°", "60°"),
        },
        tolerance="0.5 %",
        solution=_at_an_angle,
        mistakes=(
            Mistake(
                "used the full length of the adapter",
                lambda r: rerun(r, adapter_angle="0 deg")["setting"],
                "Only the part of the adapter along the wrench lengthens the arm.",
            ),
            Mistake(
                "used the part across the wrench, not the part along it",
                lambda r: rerun(r, adapter_angle="30°" if "60" in r.inputs.as_entered["adapter_angle"] else "60°")[
                    "setting"
                ],
                "The part along the wrench goes with the cosine of the angle.",
            ),
            Mistake(
                "made no correction",
                lambda r: r.inputs.torque,
                "That would be right only at 90°.",
            ),
            Mistake(
                "turned the correction upside down",
                lambda r: r["uncorrected_torque"],
                "A longer arm needs the smaller setting.",
            ),
        ),
        first_step="How far does the adapter reach along the wrench? Multiply it by the cosine of the angle.",
        lesson="Only the part of the adapter along the wrench counts: nothing at 90°, all of it in line.",
    ),
]
