"""Torque, then angle: what a turn gives, and the guesses of the lesson on it."""

from __future__ import annotations

from typing import Any

import numpy as np

from shoplib.core.units import show_number
from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, again, among, pick
from shoplib.topics.angle import model_bolt
from shoplib.topics.angle.angle_travel import ANGLE_TRAVEL
from shoplib.topics.angle.staged_tightening import STAGED_TIGHTENING
from shoplib.topics.preload.preload_from_torque import PRELOAD_FROM_TORQUE

MODEL = {name: model_bolt.BOLT[name] for name in ("thread", "bearing_mean")}


STAGES = {**model_bolt.MODEL, "mu_thread": "0.12", "mu_head": "0.12"}


BAND = {**STAGES, "mu_low": "0.10", "mu_high": "0.16"}


def _staged(stages: str, **more: str) -> Result:
    return STAGED_TIGHTENING({**STAGES, **more, "stages": stages})


def _kN(F: float) -> str:
    return f"{show_number(F / 1e3, 3)} kN"


def _last(r: Result, **typed: str) -> float:
    return float(again(r, **typed)["preload"])


# ------------------------------------------------------------------------------ numbers
def _travel(rng: np.random.Generator) -> dict[str, str]:
    return {"angle": pick(rng, 60, 150, 5) + "°", "pitch": among(rng, "1.25 mm", "1.5 mm", "1.75 mm", "2 mm")}


def _gain(rng: np.random.Generator) -> dict[str, str]:
    thread, low, high = among(rng, ("M10x1.5", 55, 90), ("M10x1.25", 55, 90), ("M12x1.75", 80, 130))
    return {
        "angle": pick(rng, 20, 60, 5) + "°",
        "thread": thread,
        "series_stiffness": pick(rng, low, high, 1, "kN/mm"),
    }


def _two_bolts(rng: np.random.Generator) -> dict[str, str]:
    snug, angle = pick(rng, 25, 40, 1, "N·m"), pick(rng, 20, 55, 5) + "°"
    r = _staged(f"{snug}; +{angle}", mu_low="0.10", mu_high="0.16")
    gain = r["preload_low"][1] - r["preload_low"][0]
    return {
        "stages": f"{snug}; +{angle}",
        "snug": snug,
        "angle": angle,
        "dry": _kN(r["preload_low"][0]),
        "slick": _kN(r["preload_high"][0]),
        "gain": _kN(gain),
    }


def _elastic_or_not(rng: np.random.Generator) -> dict[str, str]:
    snug = pick(rng, 30, 45, 1, "N·m")
    angle = among(rng, *range(15, 46, 5), *range(110, 181, 5))
    r = _staged(f"{snug}; +{angle}°")
    return {
        "stages": f"{snug}; +{angle}°",
        "snug": snug,
        "angle": f"{angle}°",
        "clamp": _kN(r["preload"][0]),
        "yields": _kN(r["yield_preload"]),
    }


def _for_good(rng: np.random.Generator) -> dict[str, str]:
    snug = pick(rng, 36, 44, 1, "N·m")
    angle = f"{among(rng, *range(150, 181, 10), *range(230, 321, 10))}°"  # between, what stays is what springs back
    r = _staged(f"{snug}; +{angle}")
    return {
        "stages": f"{snug}; +{angle}; loosen",
        "snug": snug,
        "angle": angle,
        "longer": f"{1e3 * r['elongation'][-1]:.2f} mm",
        "clamp": _kN(r["preload"][-1]),
    }


# ------------------------------------------------------------------------------ mistakes that need a line
def _gain_without_pitch(r: Result) -> float:
    return float(r["preload_gain"] * 1e-3 / (r["travel"] / r["turns"] * 2 * np.pi))


def _yields_when(r: Result) -> Any:
    return "yielded" if r["state"][-1] == "elastic" else None


def _elastic_when(r: Result) -> Any:
    return "elastic" if r["state"][-1] == "yielded" else None


def _spread_solution(r: Result) -> str:
    dry, slick = r["preload_low"], r["preload_high"]
    return (
        f"Both gain {_kN(dry[1] - dry[0])}. Dry: {_kN(dry[0])} + {_kN(dry[1] - dry[0])} = {_kN(dry[1])}. Slippery: "
        f"{_kN(slick[0])} + {_kN(slick[1] - slick[0])} = {_kN(slick[1])}. Quotient: {r['spread_ratio'][-1]:.3g}."
    )


def _yield_solution(r: Result) -> str:
    snug, degrees = r["preload"][0], float(r.inputs.stages[-1].strip("+°"))
    reached = snug + 298 * degrees
    word = "below" if reached < r["yield_preload"] else "above"
    state = "elastic" if reached < r["yield_preload"] else "yielded"
    return (
        f"{degrees:g} × 0.298 kN = {_kN(298 * degrees)}. With the snug clamp: {_kN(snug)} + {_kN(298 * degrees)} = "
        f"{_kN(reached)}, which is {word} the yield at {_kN(r['yield_preload'])}: {state}."
    )


def _for_good_solution(r: Result) -> str:
    clamp, longer, stays = r["preload"][-2], 1e3 * r["elongation"][-2], 1e3 * r["elongation"][-1]
    return (
        f"What springs back is clamp ÷ stiffness: {_kN(clamp)} ÷ 95.4 kN/mm = {longer - stays:.2f} mm. The rest stays: "
        f"{longer:.2f} − {longer - stays:.2f} = {stays:.2f} mm."
    )


EXERCISES = [
    Exercise(
        name="travel_of_an_angle",
        topic="angle",
        title="How far is an angle?",
        question="A bolt with a pitch of {pitch} is turned on by {angle}. How far does the thread travel?",
        working=ANGLE_TRAVEL,
        result="travel",
        numbers=_travel,
        tolerance="1 %",
        mistakes=(
            Mistake(
                "took the whole pitch",
                lambda r: r.inputs.pitch,
                "The pitch is the travel of a whole turn, 360°.",
            ),
            Mistake(
                "took 180° for a turn",
                lambda r: 2 * r["travel"],
                "A whole turn is 360°.",
            ),
            Mistake(
                "turned the fraction round",
                lambda r: r.inputs.pitch**2 / r["travel"],
                "Less than a turn is less than the pitch.",
            ),
            Mistake(
                "put the angle in radians without dividing by 2π",
                lambda r: 2 * np.pi * r["travel"],
                "In radians a turn is 2π.",
            ),
        ),
        first_step="Which part of a whole turn is it?",
        lesson="Travel = pitch × angle ÷ 360°. It depends on nothing else: no friction, no torque.",
    ),
    Exercise(
        name="clamp_that_an_angle_adds",
        topic="angle",
        title="What an angle adds to the clamp",
        question="{thread}; bolt and parts in series are {series_stiffness} stiff. After the snug torque the bolt is "
        "turned on by {angle} and stays elastic. How much clamp does the angle add?",
        working=ANGLE_TRAVEL,
        result="preload_gain",
        fixed={"mu_thread": "0.12", "mu_head": "0.12"},
        numbers=_gain,
        tolerance="1.5 %",
        mistakes=(
            Mistake(
                "forgot the pitch",
                _gain_without_pitch,
                "The travel is pitch × angle ÷ 360°; stiffness times travel is the clamp.",
            ),
            Mistake(
                "took a whole turn",
                lambda r: r["preload_gain"] * 2 * np.pi / r.inputs.angle,
                "Only a part of the pitch is travelled.",
            ),
            Mistake(
                "put the angle in radians without dividing by 2π",
                lambda r: r["preload_gain"] * 2 * np.pi,
                "In radians a turn is 2π.",
            ),
        ),
        first_step="First the travel in millimetres, then times the stiffness.",
        lesson="Friction is nowhere in it: that is why the angle adds the same clamp to every bolt.",
    ),
    Exercise(
        name="spread_after_the_angle",
        topic="angle",
        title="Two bolts after the angle",
        question="At {snug} a dry bolt clamps with {dry}, a slippery one with {slick}. Both are turned on by {angle}, "
        "stay elastic and gain {gain}. How many times as hard as the dry one does the slippery one clamp now?",
        working=STAGED_TIGHTENING,
        result=("spread_ratio", -1),
        fixed={k: v for k, v in BAND.items() if k != "stages"},
        numbers=_two_bolts,
        tolerance="2 %",
        solution=_spread_solution,
        mistakes=(
            Mistake(
                "took the ratio of the snug torque",
                lambda r: r["spread_ratio"][0],
                "The same gain is added to both, so the ratio shrinks.",
            ),
            Mistake(
                "angle takes friction out altogether",
                lambda r: 1.0,
                "The start still differs: the snug torque left its scatter in.",
            ),
            Mistake(
                "gave the dry one over the slippery one",
                lambda r: 1 / r["spread_ratio"][-1],
                "The slippery bolt clamps harder, so the ratio asked for is above one.",
            ),
        ),
        first_step="Add the gain to both clamps, then divide.",
        lesson="Angle reduces the scatter that friction makes; it does not remove it. A low snug torque leaves less.",
    ),
    Exercise(
        name="elastic_or_yielded",
        topic="angle",
        title="Has it yielded?",
        question="{snug} gives a clamp of {clamp}. While elastic, this bolt gains 0.298 kN with each degree; it yields "
        "at {yields}. It is turned on by {angle}. Is it still elastic, or has it yielded?",
        working=STAGED_TIGHTENING,
        result=("state", -1),
        fixed=STAGES,
        numbers=_elastic_or_not,
        tolerance="",
        choices=("elastic", "yielded"),
        solution=_yield_solution,
        mistakes=(
            Mistake(
                "angle always means yield",
                _yields_when,
                "Add up the clamp: it stays below the yield.",
            ),
            Mistake(
                "forgot the clamp of the snug torque, or counted the degrees too low",
                _elastic_when,
                "Snug clamp plus degrees × 0.298 kN is above the yield.",
            ),
        ),
        first_step="Snug clamp, plus degrees times 0.298 kN; compare with the yield.",
        lesson="An angle is only a travel. Whether it yields the bolt hangs on its length, stiffness and strength.",
    ),
    Exercise(
        name="longer_for_good",
        topic="angle",
        title="What stays when it is let off",
        question="A stretch bolt, {snug} and {angle}: it clamps with {clamp} and is {longer} longer than new. The bolt "
        "springs with 95.4 kN/mm. It is let off. How much longer than new does it stay?",
        working=STAGED_TIGHTENING,
        result=("elongation", -1),
        fixed=STAGES,
        numbers=_for_good,
        tolerance="0.02 mm",
        solution=_for_good_solution,
        mistakes=(
            Mistake(
                "it springs back whole",
                lambda r: 0.0,
                "It was past yield: only the elastic part springs back, clamp ÷ stiffness.",
            ),
            Mistake(
                "it stays as long as it was",
                lambda r: r["elongation"][-2],
                "A yielded bolt is still a spring: clamp ÷ stiffness comes back.",
            ),
            Mistake(
                "gave the part that springs back",
                lambda r: r["elongation"][-2] - r["elongation"][-1],
                "That is what comes back; the rest stays.",
            ),
        ),
        first_step="How much springs back? Clamp ÷ stiffness. The rest stays.",
        lesson="Past yield a bolt keeps part of its stretch. Re-use only by a sourced rule, such as a longest length.",
    ),
]


GUESSES = [
    Exercise(
        name="guess_oiled_clamp",
        topic="angle",
        title="The same click, now oiled",
        question="A dry M10 bolt, friction 0.16, is tightened to 40 N·m and clamps with {dry}. The next one is "
        "oiled and has half that friction. Same wrench, same 40 N·m. How hard does it clamp?",
        working=PRELOAD_FROM_TORQUE,
        result="preload",
        fixed={**MODEL, "torque": "40 N·m", "mu_thread": "0.08", "mu_head": "0.08"},
        numbers=lambda rng: {"dry": _kN(_staged("40 N·m", mu_thread="0.16", mu_head="0.16")["preload"][0])},
        tolerance="1 kN",
        mistakes=(
            Mistake(
                "the click means the clamp, so the same torque is the same clamp",
                lambda r: _last(r, mu_thread="0.16", mu_head="0.16"),
                "The wrench feels friction and stretch together and cannot tell them apart.",
            ),
            Mistake(
                "oil makes it slip, so it holds less",
                lambda r: 0.5 * _last(r, mu_thread="0.16", mu_head="0.16"),
                "It is the other way round: what friction does not take, stretches the bolt.",
            ),
            Mistake(
                "half the friction, so double the clamp",
                lambda r: 2 * _last(r, mu_thread="0.16", mu_head="0.16"),
                "Nearly, but the part that stretches the bolt stays as it is.",
            ),
        ),
        first_step="Friction takes most of the torque; what is left stretches the bolt.",
        lesson="Torque, stretch and clamp are three things: at one torque the clamp swings with the friction.",
        slider=(5.0, 45.0, 0.5),
    ),
    Exercise(
        name="guess_share_that_stretches",
        topic="angle",
        title="Where the torque goes",
        question="A bolt M10, friction 0.12, is tightened with 40 N·m. Which part of that torque stretches the bolt? "
        "(1 is all of it, 0.5 is half.)",
        working=PRELOAD_FROM_TORQUE,
        result="share_pitch",
        fixed={**MODEL, "torque": "40 N·m", "mu_thread": "0.12", "mu_head": "0.12"},
        numbers=lambda rng: {},
        tolerance="0.03",
        mistakes=(
            Mistake(
                "torque is tightness: all of it stretches the bolt",
                lambda r: 1.0,
                "That would be a bolt without friction.",
            ),
            Mistake(
                "half and half",
                lambda r: 0.5,
                "Friction acts twice, in the thread and under the head, and each takes more than the stretch.",
            ),
            Mistake(
                "three parts, a third each",
                lambda r: 1 / 3,
                "The three parts are far from equal.",
            ),
        ),
        first_step="Three parts share the torque: stretch, thread and head.",
        lesson="About 15 of 100 parts stretch the bolt, 38 rub away in the thread and 47 under the head.",
        slider=(0.0, 1.0, 0.01),
    ),
    Exercise(
        name="guess_travel_of_a_quarter_turn",
        topic="angle",
        title="A quarter turn",
        question="A bolt with a pitch of 1.5 mm is turned on by 90°. How far does the thread travel?",
        working=ANGLE_TRAVEL,
        result="travel",
        fixed={"angle": "90°", "pitch": "1.5 mm"},
        numbers=lambda rng: {},
        tolerance="0.03 mm",
        mistakes=(
            Mistake("took the whole pitch", lambda r: r.inputs.pitch, "The pitch is the travel of a whole turn, 360°."),
            Mistake("took 180° for a turn", lambda r: 2 * r["travel"], "A whole turn is 360°."),
        ),
        first_step="Which part of a whole turn is 90°?",
        lesson="An angle is a travel, not a torque: pitch × angle ÷ 360°.",
        slider=(0.0, 2.0, 0.025),
    ),
    Exercise(
        name="guess_spread_after_the_angle",
        topic="angle",
        title="What the angle does to the scatter",
        question="At 40 N·m the slippery bolt clamps {snug_ratio} times as hard as the dry one. Now both are turned on "
        "by 60°. How many times as hard does it clamp then?",
        working=STAGED_TIGHTENING,
        result=("spread_ratio", -1),
        fixed={**BAND, "stages": "40 N·m; +60°"},
        numbers=lambda rng: {"snug_ratio": f"{STAGED_TIGHTENING({**BAND, 'stages': '40 N·m'})['spread_ratio'][0]:.2f}"},
        tolerance="0.04",
        mistakes=(
            Mistake(
                "angle takes friction out altogether",
                lambda r: 1.0,
                "The snug torque left its scatter in, and the angle only adds the same to both.",
            ),
            Mistake(
                "the ratio of the torque stays",
                lambda r: r["spread_ratio"][0],
                "Both gain the same clamp, so the ratio shrinks.",
            ),
        ),
        first_step="Both bolts gain the same clamp.",
        lesson="Angle reduces the scatter; it does not remove it. Past yield it is smaller still, about 1.1, never 1.",
        slider=(1.0, 1.8, 0.01),
    ),
    Exercise(
        name="guess_another_quarter_turn",
        topic="angle",
        title="Another 90°",
        question="The stretch bolt clamps with {snug} at 40 N·m and with {first} after the first 90°. It is turned on "
        "by another 90°. How hard does it clamp now?",
        working=STAGED_TIGHTENING,
        result=("preload", -1),
        fixed={**STAGES, "stages": "40 N·m; +90°; +90°"},
        numbers=lambda rng: dict(zip(("snug", "first"), map(_kN, _staged("40 N·m; +90°")["preload"]), strict=True)),
        tolerance="2 kN",
        mistakes=(
            Mistake(
                "more turns, more clamp",
                lambda r: 2 * r["preload"][1] - r["preload"][0],
                "Past yield the bolt gets longer and hardly pulls harder.",
            ),
            Mistake(
                "a bolt past yield has lost its clamp",
                lambda r: 0.5 * r["preload"][1],
                "It holds all it had and a little more; it only stays longer when let off.",
            ),
        ),
        first_step="The bolt has reached its yield.",
        lesson="Past yield an angle buys length, not clamp. That also makes the clamp insensitive to the angle.",
        slider=(10.0, 80.0, 0.5),
    ),
    Exercise(
        name="guess_longer_for_good",
        topic="angle",
        title="Undone",
        question="After 40 N·m and 180° the stretch bolt is {longer} longer than new. It is let off. "
        "How much longer than new does it stay?",
        working=STAGED_TIGHTENING,
        result=("elongation", -1),
        fixed={**STAGES, "stages": "40 N·m; +180°; loosen"},
        numbers=lambda rng: {"longer": f"{1e3 * _staged('40 N·m; +180°')['elongation'][-1]:.2f} mm"},
        tolerance="0.05 mm",
        mistakes=(
            Mistake(
                "a bolt is a spring and springs back whole",
                lambda r: 0.0,
                "Only while it is elastic. This one went past yield.",
            ),
            Mistake(
                "what has yielded stays as long as it is",
                lambda r: r["elongation"][-2],
                "It is still a spring: the elastic part comes back.",
            ),
        ),
        first_step="The elastic part springs back, the rest stays.",
        lesson="It springs back parallel to the line it came up on. What stays is the permanent set.",
        slider=(0.0, 1.2, 0.02),
    ),
]
