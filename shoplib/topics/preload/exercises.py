"""Torque and clamp load."""

from __future__ import annotations

import numpy as np

from shoplib.core.units import lbf_ft, unit_of
from shoplib.core.working import Result
from shoplib.physics import preload, threads
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value, rerun
from shoplib.teaching.solution_text import entered, short
from shoplib.topics.preload import measured_exercises
from shoplib.topics.preload.preload_from_torque import PRELOAD_FROM_TORQUE
from shoplib.topics.preload.torque_from_preload import TORQUE_FROM_PRELOAD

FT = unit_of(lbf_ft).si


EQUATION = (
    "Torque = clamp load × (0.16 P + 0.58 d₂ μ + ½ D μ): stretch, thread, head. P is the pitch. N·m divided by mm "
    "is kN."
)


BOLT = (
    "{thread} (pitch diameter d₂ {pitch_diameter}), mean diameter under the head D {bearing_mean}, "
    "friction μ {mu_thread} in the thread and under the head"
)


SIZES = {"M8x1.25": ("10.5 mm", "20 N·m"), "M10x1.5": ("13 mm", "40 N·m"), "M12x1.75": ("15 mm", "70 N·m")}


def bolt(rng: np.random.Generator, sizes: tuple[str, ...] = tuple(SIZES)) -> dict[str, str]:
    """A bolt with its friction and a torque that suits its size."""
    name = choose_one(rng, *sizes)
    mu = draw_value(rng, 0.1, 0.16, 0.01)
    d_2 = threads.read_thread(name).d_2
    middle = float(SIZES[name][1].split()[0])
    return {
        "thread": name,
        "pitch_diameter": f"{d_2 * 1e3:.3f} mm",
        "bearing_mean": SIZES[name][0],
        "mu_thread": mu,
        "mu_head": mu,
        "torque": draw_value(rng, 0.8 * middle, 1.2 * middle, 1, "N·m").replace(".0 ", " "),
        "preload": draw_value(rng, round(0.4 * middle), round(0.7 * middle), 1, "kN"),
    }


def _parts(r: Result) -> tuple[float, float, float]:
    """Metres of torque per newton of clamp load: stretch, thread friction, head friction."""
    thread = threads.read_thread(r.inputs.thread)
    mu_G, mu_K = r.inputs.mu_thread.value, r.inputs.mu_head.value
    return (
        float(preload.pitch_torque(1.0, thread.P)),
        float(preload.thread_friction_torque(1.0, thread.d_2, mu_G)),
        float(preload.head_friction_torque(1.0, r.inputs.bearing_mean, mu_K)),
    )


def _clamp(r: Result, stretch: float, thread: float, head: float) -> float:
    """Clamp load with the three parts weighted like this."""
    a, b, c = _parts(r)
    return float(r.inputs.torque.value / (stretch * a + thread * b + head * c))


def _torque(r: Result, stretch: float, thread: float, head: float) -> float:
    a, b, c = _parts(r)
    return float(r.inputs.preload * (stretch * a + thread * b + head * c))


def _band_solution(r: Result) -> str:
    """The sum of the three parts at both frictions."""
    thread = threads.read_thread(r.inputs.thread)
    parts = [
        1e3
        * sum(
            (
                float(preload.pitch_torque(1.0, thread.P)),
                float(preload.thread_friction_torque(1.0, thread.d_2, mu)),
                float(preload.head_friction_torque(1.0, r.inputs.bearing_mean, mu)),
            )
        )
        for mu in (r.inputs.mu_low, r.inputs.mu_high)
    ]
    return (
        f"Sum of the three parts at friction {r.inputs.mu_low:.2f}: {parts[0]:.3f} mm; at {r.inputs.mu_high:.2f}: "
        f"{parts[1]:.3f} mm. Clamp load is torque ÷ sum, so the torque cancels: {parts[1]:.3f} ÷ {parts[0]:.3f} = "
        f"{r['spread_ratio']:.3g}."
    )  # fmt: skip


def _sum_of_parts(r: Result) -> tuple[str, float]:
    """The sum of the three parts, in millimetres, with its numbers."""
    thread = threads.read_thread(r.inputs.thread)
    pitch, d_2, head, mu = (
        1e3 * thread.P,
        round(1e3 * thread.d_2, 3),
        1e3 * r.inputs.bearing_mean,
        entered(r, "mu_thread"),
    )
    total = 0.16 * pitch + 0.58 * d_2 * mu + 0.5 * head * mu
    return f"0.16 × {pitch:g} + 0.58 × {d_2:g} × {mu:g} + 0.5 × {head:g} × {mu:g} = {short(total)} mm", total


def _clamp_solution(r: Result) -> str:
    told, total = _sum_of_parts(r)
    torque = entered(r, "torque")
    return f"Sum of the three parts: {told}. Divide: {torque:g} ÷ {short(total)} = {short(torque / total)} kN."


def _torque_solution(r: Result) -> str:
    told, total = _sum_of_parts(r)
    force = entered(r, "preload")
    return f"Sum of the three parts: {told}. Multiply: {force:g} × {short(total)} = {short(force * total)} N·m."


def _share_solution(r: Result) -> str:
    told, total = _sum_of_parts(r)
    stretch = 0.16e3 * threads.read_thread(r.inputs.thread).P
    return (
        f"Sum of the three parts: {told}. The part that stretches: 0.16 × {stretch / 0.16:g} = {short(stretch)} mm. "
        f"{short(stretch)} ÷ {short(total)} = {short(stretch / total, 3)}."
    )


EXERCISES = [
    Exercise(
        name="clamp_of_a_torque",
        topic="preload",
        title="How large is the clamp load?",
        question=f"{BOLT}. The wrench clicks at {{torque}}. What is the clamp load? {EQUATION}",
        working=PRELOAD_FROM_TORQUE,
        result="preload",
        numbers=lambda rng: _without(bolt(rng), "preload"),
        tolerance="1.5 %",
        solution=_clamp_solution,
        mistakes=(
            Mistake(
                "read the torque as lbf·ft",
                lambda r: r["preload"] * FT,
                "The torque is in N·m; nothing needs converting.",
            ),
            Mistake(
                "used the diameter under the head instead of the radius",
                lambda r: _clamp(r, 1, 1, 2),
                "Friction under the head acts at the radius: half the mean diameter.",
            ),
            Mistake(
                "forgot the pitch",
                lambda r: _clamp(r, 0, 1, 1),
                "The part that stretches the bolt, 0.16 P, is also in the sum.",
            ),
            Mistake(
                "forgot the friction under the head",
                lambda r: _clamp(r, 1, 1, 0),
                "Nearly half of the torque is lost to friction under the head.",
            ),
            Mistake(
                "forgot the friction in the thread",
                lambda r: _clamp(r, 1, 0, 1),
                "There is friction in the thread too: 0.58 d₂ μ.",
            ),
            Mistake(
                "took all the torque as stretch",
                lambda r: _clamp(r, 1, 0, 0),
                "That would be right without friction. Most of the torque is lost to friction.",
            ),
        ),
        first_step="Add up the three parts in millimetres, then divide the torque by the sum.",
        lesson="Torque is not clamp load. The three parts decide, and friction is most of them.",
    ),
    Exercise(
        name="torque_for_a_clamp",
        topic="preload",
        title="Torque for a given clamp load",
        question=f"{BOLT}. What torque gives a clamp load of {{preload}}? {EQUATION}",
        working=TORQUE_FROM_PRELOAD,
        result="torque",
        numbers=lambda rng: _without(bolt(rng), "torque"),
        tolerance="1.5 %",
        solution=_torque_solution,
        mistakes=(
            Mistake(
                "used the diameter under the head instead of the radius",
                lambda r: _torque(r, 1, 1, 2),
                "Friction under the head acts at the radius: half the mean diameter.",
            ),
            Mistake(
                "forgot the pitch",
                lambda r: _torque(r, 0, 1, 1),
                "The part that stretches the bolt, 0.16 P, is also in the sum.",
            ),
            Mistake(
                "forgot the friction under the head",
                lambda r: _torque(r, 1, 1, 0),
                "Nearly half of the torque is lost to friction under the head.",
            ),
            Mistake(
                "forgot all friction",
                lambda r: _torque(r, 1, 0, 0),
                "Only about a seventh of the torque stretches the bolt; the rest is lost to friction.",
            ),
            Mistake(
                "gave the number in lbf·ft instead of N·m",
                lambda r: r["torque"] / FT,
                "Newtons times metres give N·m directly.",
            ),
        ),
        first_step="Add up the three parts in millimetres, then multiply by the clamp load.",
        lesson="The torque for a clamp load is only as good as the assumed friction.",
    ),
    Exercise(
        name="friction_and_clamp",
        topic="preload",
        title="Slippery and dry bolts",
        question=f"{BOLT.replace('{mu_thread}', 'somewhere from {mu_low} to {mu_high}')}. All bolts get {{torque}}. "
        f"Divide the clamp load of the most slippery bolt by that of the driest. What is the ratio? {EQUATION}",
        working=PRELOAD_FROM_TORQUE,
        result="spread_ratio",
        numbers=lambda rng: _friction_band(rng),
        tolerance="2 %",
        solution=_band_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "took the clamp load as inversely proportional to friction",
                lambda r: r.inputs.mu_high / r.inputs.mu_low,
                "The part that stretches the bolt does not depend on friction, so the ratio is smaller than that.",
            ),
            Mistake(
                "took the clamp load to be the same at the same torque",
                lambda r: 1.0,
                "Torque is not clamp load: less friction leaves more of the torque to stretch the bolt.",
            ),
            Mistake(
                "divided the driest by the most slippery",
                lambda r: 1 / r["spread_ratio"],
                "The slippery bolt clamps harder, so this ratio is above one.",
            ),
        ),
        first_step="Add up the three parts for both frictions; the torque cancels.",
        lesson="The same click gives very different clamp loads. Angle tightening reduces this scatter.",
    ),
    Exercise(
        name="share_that_stretches",
        topic="preload",
        title="Where the torque goes",
        question=f"{BOLT}. What part of the torque on the wrench stretches the bolt? {EQUATION}",
        working=PRELOAD_FROM_TORQUE,
        result="share_pitch",
        numbers=lambda rng: _fine_thread(rng),
        tolerance="3 %",
        solution=_share_solution,
        mistakes=(
            Mistake(
                "gave the part lost to friction",
                lambda r: 1 - r["share_pitch"],
                "That is the friction in the thread and under the head together; the rest stretches the bolt.",
            ),
            Mistake(
                "gave the part lost in the thread",
                lambda r: r["share_thread"],
                "0.58 d₂ μ is lost in the thread.",
            ),
            Mistake(
                "gave the part lost under the head",
                lambda r: r["share_head"],
                "½ D μ is lost under the head.",
            ),
            Mistake(
                "left out the friction under the head",
                lambda r: r["share_pitch"] / (r["share_pitch"] + r["share_thread"]),
                "The head slides under the full clamp load. Its part, ½ D μ, belongs to the sum.",
            ),
            Mistake(
                "left out the friction in the thread",
                lambda r: r["share_pitch"] / (r["share_pitch"] + r["share_head"]),
                "The thread slides too. Its part, 0.58 d₂ μ, belongs to the sum.",
            ),
            Mistake(
                "divided it equally by three",
                lambda r: 1 / 3,
                "The three parts are far from equal: calculate each of them.",
            ),
        ),
        first_step="0.16 P is the part that stretches the bolt. What is the whole, of which it is a part?",
        lesson="The smallest part stretches the bolt, and a fine thread has less of it than a coarse one. A small "
        "change in friction changes it a lot.",
    ),
    Exercise(
        name="clamp_at_half_the_friction",
        topic="preload",
        title="Oil instead of dry",
        question=f"{BOLT.replace('{mu_thread}', '{mu_dry} dry')}. Oiled, the friction falls to {{mu_thread}}. "
        f"What is the clamp load at {{torque}} when oiled? {EQUATION}",
        working=PRELOAD_FROM_TORQUE,
        result="preload",
        numbers=lambda rng: _oiled(rng),
        tolerance="1.5 %",
        solution=_clamp_solution,
        mistakes=(
            Mistake(
                "gave the clamp load of the dry bolt",
                lambda r: _dry(r)["preload"],
                "Less friction leaves more of the torque to stretch the bolt.",
            ),
            Mistake(
                "doubled the dry clamp load because the friction is half",
                lambda r: 2 * _dry(r)["preload"],
                "The part that stretches the bolt, 0.16 P, does not change, so the clamp load does not quite double.",
            ),
            Mistake(
                "halved the dry clamp load",
                lambda r: 0.5 * _dry(r)["preload"],
                "The opposite is true: a slippery bolt clamps harder at the same torque.",
            ),
        ),
        first_step="Put the oiled friction into the sum of the three parts.",
        lesson="Oil where the maker says dry can stretch a bolt past yield: it stays longer than new. Use what the "
        "source says.",
    ),
    *measured_exercises.EXERCISES,
]


def _without(numbers: dict[str, str], *names: str) -> dict[str, str]:
    return {k: v for k, v in numbers.items() if k not in names}


def _fine_thread(rng: np.random.Generator) -> dict[str, str]:
    """A bolt whose part is not one that the picture of the lesson shows: that bolt has a coarse thread."""
    thread, head, *frictions = choose_one(rng, ("M8x1", "10.5 mm", "0.11", "0.12", "0.13"),
                                     ("M10x1", "13 mm", "0.09", "0.10", "0.11", "0.12"),
                                     ("M12x1.25", "15 mm", "0.09", "0.10", "0.11", "0.12", "0.13"))  # fmt: skip
    mu = choose_one(rng, *frictions)
    pitch_diameter = f"{threads.read_thread(thread).d_2 * 1e3:.3f} mm"
    return {"thread": thread, "pitch_diameter": pitch_diameter, "bearing_mean": head, "mu_thread": mu, "mu_head": mu,
            "torque": "30 N·m"}  # fmt: skip


def _friction_band(rng: np.random.Generator) -> dict[str, str]:
    numbers = _without(bolt(rng), "preload")
    low, high = choose_one(
        rng, ("0.08", "0.14"), ("0.10", "0.16"), ("0.09", "0.15"), ("0.10", "0.18"), ("0.08", "0.16")
    )
    return {**numbers, "mu_thread": "0.12", "mu_head": "0.12", "mu_low": low, "mu_high": high}


def _oiled(rng: np.random.Generator) -> dict[str, str]:
    """Not the bolt that the picture of the lesson shows, M10x1.5, and no friction like the constant 0.16."""
    numbers = _without(bolt(rng, ("M8x1.25", "M12x1.75")), "preload")
    dry, oiled = choose_one(rng, ("0.18", "0.09"), ("0.20", "0.10"), ("0.22", "0.11"), ("0.24", "0.12"))
    return {**numbers, "mu_dry": dry, "mu_thread": oiled, "mu_head": oiled}


def _dry(r: Result) -> Result:
    twice = f"{2 * r.inputs.mu_thread.value:.2f}"
    return rerun(r, mu_thread=twice, mu_head=twice)
