"""Torque units and the wrench in use."""

from __future__ import annotations

from shoplib.core.units import lbf_ft, lbf_in, unit_of
from shoplib.teaching.exercise import Exercise, Mistake, again, among, pick
from shoplib.topics.torque.torque_units import TORQUE_UNITS
from shoplib.topics.torque.wrench_setting import WRENCH_SETTING

FT, IN = unit_of(lbf_ft).si, unit_of(lbf_in).si


EXERCISES = [
    Exercise(
        name="newton_metres_on_an_inch_wrench",
        topic="wrench",
        title="The wrench reads lbf·ft",
        question="The book says {torque}. Your wrench reads lbf·ft only. What is that torque in lbf·ft?",
        working=TORQUE_UNITS,
        result="pound_foot",
        numbers=lambda rng: {"torque": pick(rng, 22, 118, 2, "N·m")},
        tolerance="1 %",
        in_its_unit=True,
        mistakes=(
            Mistake(
                "multiplied by 1.356 instead of dividing",
                lambda r: r["newton_metre"] * FT * FT,
                "One lbf·ft is the larger unit, so the number of them is the smaller one.",
            ),
            Mistake(
                "kept the number and changed the unit",
                lambda r: r["newton_metre"] * FT,
                "That is 36 % too much: one lbf·ft is 1.356 N·m.",
            ),
            Mistake(
                "converted to lbf·in",
                lambda r: r["newton_metre"] / IN * FT,
                "A foot has twelve inches; a wrench in lbf·in shows twelve times the number.",
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
        question="The book means {torque}, but a copied note says the bare number, and it is set in lbf·ft. "
        "Which torque does the bolt get, in N·m?",
        working=TORQUE_UNITS,
        result="misread_torque",
        numbers=lambda rng: {"torque": pick(rng, 20, 95, 1, "N·m")},
        tolerance="1 %",
        in_its_unit=True,
        mistakes=(
            Mistake(
                "divided by 1.356 instead of multiplying",
                lambda r: r["newton_metre"] / FT,
                "The wrench is set to that many lbf·ft, and each of them is 1.356 N·m.",
            ),
            Mistake(
                "took the two units for the same",
                lambda r: r["newton_metre"],
                "The number is the same; the torque is not.",
            ),
            Mistake(
                "took lbf·in for lbf·ft",
                lambda r: r["newton_metre"] * IN,
                "One lbf·in is 0.113 N·m; the wrench is set in lbf·ft.",
            ),
        ),
        first_step="How many N·m is one lbf·ft?",
        lesson="N·m read as lbf·ft is 36 % too much. When a page says only a number, stop until the unit is known.",
    ),
    Exercise(
        name="adapter_in_line",
        topic="wrench",
        title="An adapter in line",
        question="The bolt wants {torque}. Your wrench is {wrench_length} from square to grip and carries an adapter "
        "of {adapter_length}, straight out in line. What do you set?",
        working=WRENCH_SETTING,
        result="setting",
        numbers=lambda rng: {
            "torque": pick(rng, 40, 120, 5, "N·m"),
            "wrench_length": pick(rng, 300, 500, 50, "mm"),
            "adapter_length": pick(rng, 30, 75, 5, "mm"),
        },
        tolerance="1 %",
        mistakes=(
            Mistake(
                "the correction upside down",
                lambda r: r["uncorrected_torque"],
                "The adapter makes the arm longer, so the same pull gives the bolt more: set less.",
            ),
            Mistake(
                "made no correction",
                lambda r: r.inputs.torque,
                "An adapter in line lengthens the arm; only one that sticks out square changes nothing.",
            ),
            Mistake(
                "took the adapter over the wrench, not the wrench over both",
                lambda r: r.inputs.torque * r.inputs.adapter_length / r.inputs.wrench_length,
                "Compare the two arms: the wrench alone against wrench and adapter together.",
            ),
        ),
        first_step="Write the two arms: wrench alone, and wrench with adapter.",
        lesson="Setting = torque × wrench ÷ (wrench + adapter). The longer arm needs the smaller setting.",
    ),
    Exercise(
        name="adapter_at_an_angle",
        topic="wrench",
        title="An adapter at an angle",
        question="The bolt wants {torque}. The wrench is {wrench_length} from square to grip; the adapter of "
        "{adapter_length} stands at {adapter_angle} to the wrench (0° is straight out in line). What do you set?",
        working=WRENCH_SETTING,
        result="setting",
        numbers=lambda rng: {
            "torque": pick(rng, 40, 120, 5, "N·m"),
            "wrench_length": pick(rng, 250, 400, 50, "mm"),
            "adapter_length": pick(rng, 60, 100, 5, "mm"),
            "adapter_angle": among(rng, "30°", "60°"),
        },
        tolerance="0.5 %",
        mistakes=(
            Mistake(
                "used the full length of the adapter",
                lambda r: again(r, adapter_angle="0 deg")["setting"],
                "Only the part of the adapter along the wrench lengthens the arm.",
            ),
            Mistake(
                "took the part across the wrench, not along it",
                lambda r: again(r, adapter_angle="30°" if "60" in r.inputs.as_entered["adapter_angle"] else "60°")[
                    "setting"
                ],
                "Along the wrench is the cosine of the angle.",
            ),
            Mistake(
                "made no correction",
                lambda r: r.inputs.torque,
                "That would be right only at 90°.",
            ),
            Mistake(
                "the correction upside down",
                lambda r: r["uncorrected_torque"],
                "A longer arm needs the smaller setting.",
            ),
        ),
        first_step="How much does the adapter reach along the wrench? Adapter × cosine of the angle.",
        lesson="Only the part of the adapter along the wrench counts: none of it at 90°, all of it in line.",
    ),
]
