"""The guesses of the lessons about torque and angle, made by slider before the answer is shown."""

from __future__ import annotations

from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, rerun
from shoplib.topics.angle.embedment_loss import EMBEDMENT_LOSS
from shoplib.topics.angle.exercises import BAND, MODEL, STAGES, _kN, _staged
from shoplib.topics.angle.staged_tightening import STAGED_TIGHTENING
from shoplib.topics.preload.preload_from_torque import PRELOAD_FROM_TORQUE


def _last(r: Result, **typed: str) -> float:
    return float(rerun(r, **typed)["preload"])


GUESSES = [
    Exercise(
        name="guess_oiled_clamp",
        topic="angle",
        title="The same click, now oiled",
        question="A dry M10 bolt, friction 0.16, is tightened to 40 N·m. Its clamp load is {dry}. The next bolt is "
        "oiled and has half that friction. Same wrench, same 40 N·m. What is its clamp load?",
        working=PRELOAD_FROM_TORQUE,
        result="preload",
        fixed={**MODEL, "torque": "40 N·m", "mu_thread": "0.08", "mu_head": "0.08"},
        numbers=lambda rng: {"dry": _kN(_staged("40 N·m", mu_thread="0.16", mu_head="0.16")["preload"][0])},
        tolerance="1 kN",
        mistakes=(
            Mistake(
                "thought that the same torque always gives the same clamp load",
                lambda r: _last(r, mu_thread="0.16", mu_head="0.16"),
                "The wrench measures friction and stretch together. It cannot tell them apart.",
            ),
            Mistake(
                "thought that an oiled bolt slips, so it holds less",
                lambda r: 0.5 * _last(r, mu_thread="0.16", mu_head="0.16"),
                "The opposite is true. See in the picture where the torque goes.",
            ),
            Mistake(
                "thought that half the friction doubles the clamp load",
                lambda r: 2 * _last(r, mu_thread="0.16", mu_head="0.16"),
                "Nearly, but the part that stretches the bolt does not change.",
            ),
        ),
        first_step="Friction takes most of the torque. The rest stretches the bolt.",
        lesson=(
            "Torque, stretch and clamp load are three things. At the same torque, the clamp load changes with the "
            "friction."
        ),
        slider=(5.0, 45.0, 0.1),
    ),
    Exercise(
        name="guess_share_that_stretches",
        topic="angle",
        title="Where the torque goes",
        question="A bolt M10, friction 0.12, is tightened with 40 N·m. What part of that torque stretches the bolt? "
        "(1 is all of it, 0.5 is half.)",
        working=PRELOAD_FROM_TORQUE,
        result="share_pitch",
        fixed={**MODEL, "torque": "40 N·m", "mu_thread": "0.12", "mu_head": "0.12"},
        numbers=lambda rng: {},
        tolerance="0.03",
        mistakes=(
            Mistake(
                "thought that all of the torque stretches the bolt",
                lambda r: 1.0,
                "That would be true of a bolt without friction.",
            ),
            Mistake(
                "split it half and half",
                lambda r: 0.5,
                "Friction acts in the thread and under the head. Each takes more torque than the stretch.",
            ),
            Mistake(
                "split it into three equal parts",
                lambda r: 1 / 3,
                "The three parts are far from equal.",
            ),
        ),
        first_step="Three parts share the torque: stretch, thread and head.",
        lesson="About 15 % of the torque stretches the bolt, 38 % is lost in the thread and 47 % under the head.",
        slider=(0.0, 1.0, 0.01),
    ),
    Exercise(
        name="guess_spread_after_the_angle",
        topic="angle",
        title="What the angle does to the scatter",
        question=(
            "At the snug torque (the first torque, here 40 N·m) the clamp load of the slippery bolt is {snug_ratio} "
            "times that of the dry bolt. Now both are turned a further 60°. What is the ratio then?"
        ),
        working=STAGED_TIGHTENING,
        result=("spread_ratio", -1),
        fixed={**BAND, "stages": "40 N·m; +60°"},
        numbers=lambda rng: {"snug_ratio": f"{STAGED_TIGHTENING({**BAND, 'stages': '40 N·m'})['spread_ratio'][0]:.2f}"},
        tolerance="0.04",
        mistakes=(
            Mistake(
                "thought that the angle removes the effect of friction altogether",
                lambda r: 1.0,
                "Read both loads in the picture: are they equal now?",
            ),
            Mistake(
                "thought that the ratio does not change",
                lambda r: r["spread_ratio"][0],
                "Read in the picture what each bolt has gained.",
            ),
        ),
        first_step="Both bolts gain the same clamp load.",
        lesson=(
            "The difference in kN stays, so the ratio gets smaller, but not 1. Past yield it is smaller still: about "
            "1.1."
        ),
        slider=(1.0, 1.8, 0.01),
    ),
    Exercise(
        name="guess_another_quarter_turn",
        topic="angle",
        title="Another 90°",
        question=(
            "The clamp load of a bolt is {snug} at 40 N·m and {first} after the first 90°. It is turned a "
            "further 90°. What is its clamp load now?"
        ),
        working=STAGED_TIGHTENING,
        result=("preload", -1),
        fixed={**STAGES, "stages": "40 N·m; +90°; +90°"},
        numbers=lambda rng: dict(zip(("snug", "first"), map(_kN, _staged("40 N·m; +90°")["preload"]), strict=True)),
        tolerance="2 kN",
        mistakes=(
            Mistake(
                "thought that turning further always adds as much clamp load",
                lambda r: 2 * r["preload"][1] - r["preload"][0],
                "Past yield the bolt gets longer, but its load hardly rises.",
            ),
            Mistake(
                "thought that a bolt past yield loses its clamp load",
                lambda r: 0.5 * r["preload"][1],
                "It keeps its load and gains a little more. It is permanently longer after it is loosened.",
            ),
        ),
        first_step="The bolt has reached yield.",
        lesson="Past yield an angle adds length, not clamp load. So the clamp load hardly depends on the exact angle.",
        slider=(10.0, 80.0, 0.5),
    ),
    Exercise(
        name="guess_longer_for_good",
        topic="angle",
        title="Loosened again",
        question="After 40 N·m and 180° a bolt is {longer} longer than new. It is loosened. "
        "How much longer than new is it then?",
        working=STAGED_TIGHTENING,
        result=("elongation", -1),
        fixed={**STAGES, "stages": "40 N·m; +180°; loosen"},
        numbers=lambda rng: {"longer": f"{1e3 * _staged('40 N·m; +180°')['elongation'][-1]:.2f} mm"},
        tolerance="0.05 mm",
        mistakes=(
            Mistake(
                "thought that a bolt always springs back completely",
                lambda r: 0.0,
                "It does so only while it is elastic. This bolt went past yield.",
            ),
            Mistake(
                "thought that a yielded bolt does not spring back at all",
                lambda r: r["elongation"][-2],
                "It is still a spring: the elastic part springs back.",
            ),
        ),
        first_step="The elastic part springs back; the rest stays.",
        lesson="It springs back along a line parallel to the elastic line. What stays is the permanent set.",
        slider=(0.0, 1.2, 0.02),
    ),
    Exercise(
        name="guess_settled",
        topic="angle",
        title="After the first warm-up",
        question="A bolt was tightened to a clamp load of 24.3 kN. Stiffness is load per millimetre: the bolt has "
        "{bolt_stiffness}, the parts {parts_stiffness}, both together 71.6 kN/mm (less than each, since both give "
        "way). After the first warm-up all surfaces have settled by {embedment}. How much clamp load is lost?",
        working=EMBEDMENT_LOSS,
        result="preload_loss",
        fixed={"embedment": "0.02 mm", "bolt_stiffness": "95.4 kN/mm", "parts_stiffness": "286.2 kN/mm"},
        numbers=lambda rng: {},
        tolerance="0.2 kN",
        mistakes=(
            Mistake(
                "thought that a bolt stays at its load",
                lambda r: 0.0,
                "The bolt is stretched by a quarter of a millimetre only. Every hundredth that settles counts.",
            ),
            Mistake(
                "used the stiffness of the bolt alone",
                lambda r: r.inputs.embedment * r.inputs.bolt_stiffness,
                "Bolt and parts share what settles, as springs in series do.",
            ),
        ),
        first_step="Bolt and parts are springs in series.",
        lesson="Settling takes stretch away. Bolt and parts share the loss.",
        slider=(0.0, 6.0, 0.1),
    ),
]
