"""Torque, then angle: what a turn gives, and the guesses for its lesson."""

from __future__ import annotations

from typing import Any

import numpy as np

from shoplib.core.units import show_number
from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value, rerun
from shoplib.teaching.solution_text import entered, short
from shoplib.topics.angle import model_bolt
from shoplib.topics.angle.angle_travel import ANGLE_TRAVEL
from shoplib.topics.angle.embedment_loss import EMBEDMENT_LOSS
from shoplib.topics.angle.heat_transient import HEAT_TRANSIENT
from shoplib.topics.angle.staged_tightening import STAGED_TIGHTENING
from shoplib.topics.angle.yield_exercise import LONGER_FOR_GOOD

MODEL = {name: model_bolt.BOLT[name] for name in ("thread", "bearing_mean")}


STAGES = {**model_bolt.MODEL, "mu_thread": "0.12", "mu_head": "0.12"}


BAND = {**STAGES, "mu_low": "0.10", "mu_high": "0.16"}


SHOWN_RATIO = 1.5  # the largest ratio of two bolts in the picture of the lesson


def _staged(stages: str, **more: str) -> Result:
    return STAGED_TIGHTENING({**STAGES, **more, "stages": stages})


def _kN(F: float) -> str:
    return f"{show_number(F / 1e3, 3)} kN"


def _last(r: Result, **typed: str) -> float:
    return float(rerun(r, **typed)["preload"])


# ------------------------------------------------------------------------------ numbers
def _travel(rng: np.random.Generator) -> dict[str, str]:
    """Angle and pitch; the torque and the state of the thread are of no use for the travel."""
    told = {
        "angle": draw_value(rng, 60, 150, 5) + "°",
        "pitch": choose_one(rng, "1.25 mm", "1.5 mm", "1.75 mm", "2 mm"),
    }
    dry = bool(rng.integers(2))
    torque = draw_value(rng, 95, 120, 5, "N·m") if dry else draw_value(rng, 60, 80, 5, "N·m")
    return {**told, "state": "A dry" if dry else "An oiled", "torque": torque}


def _gain(rng: np.random.Generator) -> dict[str, str]:
    thread, low, high = choose_one(rng, ("M10x1.5", 55, 90), ("M10x1.25", 55, 90), ("M12x1.75", 80, 130))
    return {
        "angle": draw_value(rng, 20, 60, 5) + "°",
        "thread": thread,
        "lead": thread.split("x")[1] + " mm",
        "series_stiffness": draw_value(rng, low, high, 1, "kN/mm"),
    }


def _two_bolts(rng: np.random.Generator) -> dict[str, str]:
    """Two bolts that stay elastic; their ratio is larger than any that the picture of the lesson shows."""
    while True:
        snug, angle = draw_value(rng, 25, 40, 1, "N·m"), draw_value(rng, 20, 50, 5) + "°"
        low, high = choose_one(rng, ("0.08", "0.18"), ("0.08", "0.20"), ("0.09", "0.20"))
        r = _staged(f"{snug}; +{angle}", mu_low=low, mu_high=high)
        (dry, dry_end), (slick, slick_end) = r["preload_low"], r["preload_high"]
        gain = _kN(dry_end - dry)
        if gain == _kN(slick_end - slick) and r["spread_ratio"][1] > 1.05 * SHOWN_RATIO:
            break
    return {
        "stages": f"{snug}; +{angle}",
        "mu_low": low,
        "mu_high": high,
        "snug": snug,
        "angle": angle,
        "dry": _kN(dry),
        "slick": _kN(slick),
        "gain": gain,
    }


def _elastic_or_not(rng: np.random.Generator) -> dict[str, str]:
    snug = draw_value(rng, 30, 45, 1, "N·m")
    angle = choose_one(rng, *range(15, 50, 5), *range(110, 181, 5))
    r = _staged(f"{snug}; +{angle}°")
    return {
        "stages": f"{snug}; +{angle}°",
        "snug": snug,
        "angle": f"{angle}°",
        "clamp": _kN(r["preload"][0]),
        "yields": _kN(r["yield_preload"]),
    }


# ------------------------------------------------------------------------------ mistakes that need a line
def _gain_without_pitch(r: Result) -> float:
    return float(r["preload_gain"] * 1e-3 / (r["travel"] / r["turns"] * 2 * np.pi))


def _yields_when(r: Result) -> Any:
    return "yielded" if r["state"][1] == "elastic" else None


def _elastic_when(r: Result) -> Any:
    return "elastic" if r["state"][1] == "yielded" else None


def _spread_solution(r: Result) -> str:
    dry, slick = r["preload_low"], r["preload_high"]
    return (
        f"Both gain {_kN(dry[1] - dry[0])}. Dry: {_kN(dry[0])} + {_kN(dry[1] - dry[0])} = {_kN(dry[1])}. Slippery: "
        f"{_kN(slick[0])} + {_kN(slick[1] - slick[0])} = {_kN(slick[1])}. Quotient: {r['spread_ratio'][1]:.3g}."
    )


def _yield_solution(r: Result) -> str:
    snug, degrees = r["preload"][0], float(r.inputs.stages[1].strip("+°"))
    reached = snug + 298 * degrees
    word, state = ("below", "elastic") if reached < r["yield_preload"] else ("above", "yielded")
    return (
        f"{degrees:g} × 0.298 kN = {_kN(298 * degrees)}. With the clamp load of the snug torque: {_kN(snug)} + "
        f"{_kN(298 * degrees)} = "
        f"{_kN(reached)}, which is {word} yield at {_kN(r['yield_preload'])}: {state}."
    )


def _travel_solution(r: Result) -> str:
    pitch, angle = entered(r, "pitch"), entered(r, "angle")
    return f"{angle:g}° is {angle:g} ÷ 360 of a turn: {pitch:g} × {angle:g} ÷ 360 = {short(pitch * angle / 360)} mm."


def _gain_solution(r: Result) -> str:
    pitch, angle = float(str(r.inputs.as_entered["thread"]).split("x")[1]), entered(r, "angle")
    stiffness, travel = entered(r, "series_stiffness"), pitch * angle / 360
    return (
        f"Travel: {pitch:g} × {angle:g} ÷ 360 = {short(travel)} mm. Stiffness times travel: {stiffness:g} × "
        f"{short(travel)} = {short(stiffness * travel)} kN."
    )


def _warm_solution(r: Result) -> str:
    length, warmer, clamp = entered(r, "clamp_length"), entered(r, "warming"), entered(r, "preload")
    longer = length * (23 - 11.5) * warmer / 1e6
    return (
        f"The head grows more than the bolts: {length:g} × (23 − 11.5) × {warmer:g} ÷ 1000000 = {longer:.4f} mm. "
        f"Times the stiffness: {longer:.4f} × 72 = {short(longer * 72)} kN. {clamp:g} + {short(longer * 72)} = "
        f"{short(clamp + longer * 72)} kN."
    )


def _settled(rng: np.random.Generator) -> dict[str, str]:
    return {
        "embedment": draw_value(rng, 0.01, 0.03, 0.002, "mm"),
        "bolt_stiffness": draw_value(rng, 80, 120, 5, "kN/mm"),
        "parts_stiffness": draw_value(rng, 240, 360, 10, "kN/mm"),
    }


def _settled_solution(r: Result) -> str:
    by, bolt, parts = entered(r, "embedment"), entered(r, "bolt_stiffness"), entered(r, "parts_stiffness")
    both = bolt * parts / (bolt + parts)
    return (
        f"Together: {bolt:g} × {parts:g} ÷ ({bolt:g} + {parts:g}) = {short(both)} kN/mm. Times the settling: "
        f"{short(both)} × {by:g} = {short(both * by)} kN."
    )


EXERCISES = [
    Exercise(
        name="travel_of_an_angle",
        topic="angle",
        title="How far does an angle move the thread?",
        question="{state} bolt with a pitch of {pitch} is turned a further {angle}. At the end the wrench shows "
        "{torque}. How far did the thread travel by this angle?",
        working=ANGLE_TRAVEL,
        result="travel",
        numbers=_travel,
        tolerance="1 %",
        solution=_travel_solution,
        mistakes=(
            Mistake(
                "used the whole pitch",
                lambda r: r.inputs.pitch,
                "The pitch is the travel of one full turn, 360°.",
            ),
            Mistake(
                "took 180° as a full turn",
                lambda r: 2 * r["travel"],
                "A full turn is 360°.",
            ),
            Mistake(
                "divided the wrong way round",
                lambda r: r.inputs.pitch**2 / r["travel"],
                "Less than a full turn gives less than the pitch.",
            ),
            Mistake(
                "used radians without dividing by 2π",
                lambda r: 2 * np.pi * r["travel"],
                "In radians a full turn is 2π.",
            ),
        ),
        first_step="What part of a full turn is it?",
        lesson="Travel = pitch × angle ÷ 360°. It depends on nothing else: no friction, no torque.",
    ),
    Exercise(
        name="clamp_that_an_angle_adds",
        topic="angle",
        title="What an angle adds to the clamp load",
        question="{thread}, pitch {lead}: bolt and parts have a combined stiffness of {series_stiffness}. After the "
        "snug torque the bolt is turned a further {angle} and stays elastic. Clamp load gained = stiffness × "
        "travel of the thread. How much is it?",
        working=ANGLE_TRAVEL,
        result="preload_gain",
        fixed={"mu_thread": "0.12", "mu_head": "0.12"},
        numbers=_gain,
        tolerance="1.5 %",
        solution=_gain_solution,
        mistakes=(
            Mistake(
                "forgot the pitch",
                _gain_without_pitch,
                "The travel is pitch × angle ÷ 360°. Stiffness times travel is the clamp load.",
            ),
            Mistake(
                "used a full turn",
                lambda r: r["preload_gain"] * 2 * np.pi / r.inputs.angle,
                "The thread travels only a part of the pitch.",
            ),
            Mistake(
                "used radians without dividing by 2π",
                lambda r: r["preload_gain"] * 2 * np.pi,
                "In radians a full turn is 2π.",
            ),
        ),
        first_step="Calculate the travel in millimetres, then multiply it by the stiffness.",
        lesson="Friction is not in this sum: a dry and an oiled bolt of one kind gain the same while elastic.",
    ),
    Exercise(
        name="spread_after_the_angle",
        topic="angle",
        title="Two bolts after the angle",
        question="At {snug} a dry bolt clamps with a force of {dry}, a slippery one with {slick}. Both are turned a "
        "further {angle} and stay elastic. The dry one gains {gain} by it. Divide the clamp load of the slippery bolt "
        "by that of the dry one. What is the ratio now?",
        working=STAGED_TIGHTENING,
        result=("spread_ratio", -1),
        fixed={k: v for k, v in STAGES.items() if k != "stages"},
        numbers=_two_bolts,
        tolerance="2 %",
        solution=_spread_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "gave the ratio after the snug torque",
                lambda r: r["spread_ratio"][0],
                "Both gain the same, so the ratio gets smaller.",
            ),
            Mistake(
                "thought that the angle removes the effect of friction altogether",
                lambda r: 1.0,
                "The scatter of the snug torque is still there.",
            ),
            Mistake(
                "divided the dry one by the slippery one",
                lambda r: 1 / r["spread_ratio"][1],
                "The slippery bolt clamps harder, so this ratio is above one.",
            ),
        ),
        first_step="Add the gain to both clamp loads, then divide.",
        lesson=(
            "The difference in kN stays, and counts for less: the ratio gets smaller. A low snug torque leaves a "
            "smaller difference."
        ),
    ),
    Exercise(
        name="elastic_or_yielded",
        topic="angle",
        title="Has it yielded?",
        question="{snug} gives a clamp load of {clamp}. While elastic, this bolt gains 0.298 kN per degree. It yields "
        "at {yields}. It is turned a further {angle}. Is it still elastic, or has it yielded?",
        working=STAGED_TIGHTENING,
        result=("state", -1),
        fixed=STAGES,
        numbers=_elastic_or_not,
        tolerance="",
        choices=("elastic", "yielded"),
        solution=_yield_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "thought that an angle always means yield",
                _yields_when,
                "Add up the clamp load: it stays below yield.",
            ),
            Mistake(
                "forgot the clamp load of the snug torque, or counted too few degrees",
                _elastic_when,
                "The clamp load of the snug torque plus degrees × 0.298 kN is above yield.",
            ),
        ),
        first_step="Take the clamp load of the snug torque and add degrees × 0.298 kN. Compare the sum with yield.",
        lesson="An angle is only a travel. Whether the bolt yields depends on its length, stiffness and strength.",
    ),
    LONGER_FOR_GOOD,
    Exercise(
        name="warm_joint",
        topic="angle",
        title="A warm head on steel bolts",
        question="A head of {clamp_length} is clamped with {preload}. Head and bolts all become {warming} warmer. The "
        "head grows by 23, the bolts by 11.5 millionths of their length per kelvin. Bolt and parts together have a "
        "stiffness of 72 kN/mm. What is the preload when all is warm?",
        working=HEAT_TRANSIENT,
        result="preload_settled",
        numbers=lambda rng: {
            "clamp_length": draw_value(rng, 90, 130, 10, "mm"),
            "preload": draw_value(rng, 22, 30, 2, "kN"),
            "warming": draw_value(rng, 50, 80, 10, "K"),
        },
        fixed={
            "yield_preload": "60 kN",
            "bolt_stiffness": "96 kN/mm",
            "parts_stiffness": "288 kN/mm",
            "head_time": "4 min",
            "bolt_time": "3 min",
            "alpha_parts": "23e-6/K",
            "alpha_bolt": "11.5e-6/K",
        },
        tolerance="1.5 %",
        solution=_warm_solution,
        mistakes=(
            Mistake(
                "forgot that the bolt grows too",
                lambda r: 2 * r["preload_settled"] - r.inputs.preload,
                "The bolt becomes longer as well. Only the difference stretches it.",
            ),
            Mistake(
                "took the bolt's growth as a gain",
                lambda r: 4 * r["preload_settled"] - 3 * r.inputs.preload,
                "The bolt's growth loosens it: subtract it from the growth of the head.",
            ),
            Mistake(
                "gave only the change",
                lambda r: r["preload_settled"] - r.inputs.preload,
                "The change is added to the preload that was there.",
            ),
        ),
        first_step="Length times warming times the difference of the two expansions is the misfit.",
        lesson="While the head is hot and the bolt still cool, the preload is higher than in the end.",
    ),
    Exercise(
        name="settled_by",
        topic="angle",
        title="How much load does settling take?",
        question="A bolt has a stiffness of {bolt_stiffness}, its parts have {parts_stiffness}. Together they have "
        "bolt × parts ÷ (bolt + parts). All surfaces settle by {embedment}. How much clamp load is lost?",
        working=EMBEDMENT_LOSS,
        result="preload_loss",
        numbers=_settled,
        tolerance="1.5 %",
        solution=_settled_solution,
        mistakes=(
            Mistake(
                "used the stiffness of the bolt alone",
                lambda r: r.inputs.embedment * r.inputs.bolt_stiffness,
                "The parts spring back by a part of it, so the bolt loses less stretch than that.",
            ),
            Mistake(
                "added the two stiffnesses",
                lambda r: r.inputs.embedment * (r.inputs.bolt_stiffness + r.inputs.parts_stiffness),
                "In series two springs together are softer than each of them.",
            ),
        ),
        first_step="How stiff are bolt and parts together?",
        lesson="Lost load = settling × stiffness of bolt and parts together.",
    ),
]
