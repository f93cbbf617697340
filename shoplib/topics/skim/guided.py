"""A guided lesson about the chain of effects of a skim."""

from __future__ import annotations

from collections.abc import Callable

from shoplib.core.rounding import below
from shoplib.core.working import Result
from shoplib.physics.threads import circle_area
from shoplib.teaching.choice import Cases, Item, Option
from shoplib.teaching.exercise import Exercise, Mistake, rerun
from shoplib.teaching.guided import Find, GuidedLesson, Scene
from shoplib.teaching.known import Known
from shoplib.topics.skim.exercises import EXERCISES
from shoplib.topics.skim.lesson import CHAMBER, ENGINE, FLAT
from shoplib.topics.skim.skim_chain import SKIM_CHAIN

SKIM = {x.name: x for x in EXERCISES}
GUESS = Exercise(
    name="guess_thicker_gasket",
    topic="skim",
    title="Skimmed, with a thicker gasket",
    question="The compression ratio of a head with the chamber in it is {ratio}. Now {head_skim} is cut off. The new "
    "gasket is {gasket_gain} thicker than the old one. What is the compression ratio now?",
    working=SKIM_CHAIN,
    result="ratio_after",
    fixed={**ENGINE, **CHAMBER, "head_skim": "0.2 mm", "gasket_gain": "0.2 mm"},
    numbers=lambda rng: {},
    tolerance="0.06",
    mistakes=(
        Mistake("thought that a thicker gasket cancels a skim of the same thickness", lambda r: r["ratio_before"],
                "The skim counts over the opening of the chamber. The gasket counts over its larger hole."),
        Mistake("forgot the gasket", lambda r: rerun(r, gasket_gain="0 mm")["ratio_after"],
                "That is the ratio with the old gasket thickness."),
    ),
    first_step="Which area does the skim act on, and which one the gasket?",
    lesson="Equal thickness is not equal volume: the hole in the gasket is larger than the opening of the chamber.",
    slider=(17.0, 19.2, 0.05),
)  # fmt: skip


def before_the_skim() -> Known:
    """Both areas, the old ratio and both thicknesses."""
    opening, hole = 3900.0, 1e6 * circle_area(0.0875)
    return Known((("opening of the chamber in the head face", opening / hole, f"{opening:.0f} mm²"),
                  ("hole in the gasket", 1.0, f"{hole:.0f} mm²"), ("compression ratio, 18.0 before", None, "")),
                 "cut 0.2 mm, gasket 0.2 mm thicker")  # fmt: skip


WHAT_ELSE = Cases(
    (
        Item(
            "After a skim the ratio is right again with a thicker gasket. What else must be checked?",
            (
                Option("clearance, cam timing and height"),
                Option(
                    "clearance and cam timing, not the height",
                    "one_effect",
                    "The height is measured on the head alone. The cut took it, and no gasket brings it back.",
                ),
                Option(
                    "the height, not clearance and cam timing",
                    "gasket_cancels",
                    "This gasket is thicker by less than the cut, so the head still sits lower than before.",
                ),
            ),
            "The gasket is thicker by less than the cut, so the head sits lower, with its valves and its cam.",
        ),
        Item(
            "A flat-faced head (chamber in the piston) is skimmed by 0.2 mm. The gasket is as thick as before. What "
            "hardly changes?",
            (
                Option("the compression ratio"),
                Option("the height of the head", "one_effect", "The height falls by exactly 0.2 mm."),
                Option(
                    "the valve-to-piston clearance",
                    "gasket_cancels",
                    "The head comes down by 0.2 mm, and its valves with it.",
                ),
            ),
            "The cut takes hardly any volume there, but height and clearance change by 0.2 mm.",
        ),
        Item(
            "Nothing is skimmed, but the new gasket is 0.2 mm thicker than the old one. What changes?",
            (
                Option("ratio, valve-to-piston clearance and cam timing"),
                Option(
                    "ratio and valve-to-piston clearance, not the cam timing",
                    "one_effect",
                    "The cam sits higher by 0.2 mm, so the chain or belt turns it a little.",
                ),
                Option(
                    "ratio, valve-to-piston clearance, cam timing and height of the head",
                    "gasket_cancels",
                    "The height is measured on the head alone. Nothing was cut off it.",
                ),
            ),
            "The head sits 0.2 mm higher, with its valves and its cam.",
        ),
    )
)
HIGHER, LOWER, AS_BEFORE = "higher than before", "lower than before", "as before"


def _areas(gasket: int, chamber: int, cut: float, thicker: float) -> Item:
    """A cut and a thicker gasket, on two areas."""
    taken, added = chamber * cut, gasket * thicker
    right = AS_BEFORE if round(added) == round(taken) else LOWER if added > taken else HIGHER
    return Item(
        f"The chamber's opening in the head face is {chamber} mm², the hole in the gasket is {gasket} mm². The head is "
        f"skimmed by {cut:g} mm, and the gasket is {thicker:g} mm thicker. What is the ratio now?",
        (
            Option(right),
            *(
                Option(words, belief, "Multiply each area by its thickness: which volume is larger?")
                for words, belief in ((AS_BEFORE, "gasket_cancels"), (LOWER, ""), (HIGHER, ""))
                if words != right
            ),
        ),
        f"The cut takes {taken:.0f} mm³, the gasket adds {added:.0f} mm³.",
    )


AREAS = Cases(
    tuple(_areas(*row) for row in ((5900, 3400, 0.2, 0.2), (5900, 5200, 0.3, 0.2), (6000, 4000, 0.3, 0.2),
                                   (5600, 5000, 0.25, 0.15)))
)  # fmt: skip


def _flat_with(gain: str) -> Callable[[Result], bool]:
    """Whether the picture shows a cut of 0.2 mm or more on the flat face, with this gasket."""

    def found(r: Result) -> bool:
        typed = r.inputs.as_entered
        flat = typed["head_face"] == FLAT["head_face"] and not below(r.inputs.head_skim, 0.2e-3)
        return bool(flat and typed["gasket_gain"] == gain)

    return found


CHAIN = GuidedLesson(
    name="skim_chain",
    objective=10,
    title="A cut and a thicker gasket",
    goal="A skim changes ratio, clearance, timing and height. A thicker gasket does not simply cancel it.",
    guess=GUESS,
    scene=before_the_skim,
    explore=Scene("skim_chain", {"head_skim": 0.2}),
    task="choose the thicker gasket and read the ratio. Then change the head to a flat face, with both gaskets.",
    reasons=Item(
        "Why does the ratio change although the thicknesses are equal?",
        (
            Option("The gasket adds over a larger area than that from which the cut takes volume."),
            Option("It does not change: 0.2 mm off and 0.2 mm on.", "gasket_cancels",
                   "The two act on different areas, so the volumes differ."),
            Option("The cut is made over the whole face, so it takes off more than the gasket adds.", "one_effect",
                   "Most of the face is solid. The cut takes volume only over the opening of the chamber."),
            Option("Only the height changes; the ratio belongs to the piston.", "one_effect",
                   "The cut takes volume from the chamber. The ratio depends on that volume."),
        ),
    ),
    explain=Item(
        "With the thicker gasket, the ratio is 17.77 for the chamber in the head, and 17.40 for the flat "
        "face. Why is it lower there?",
        (
            Option("The cut takes hardly any volume there; the gasket adds as before."),
            Option("The flat head has a smaller chamber, so the same gasket counts more.", "",
                   "Both ratios were 18.0, so both volumes were alike."),
            Option("Its cut is larger, because the whole face is cut.", "one_effect",
                   "Both heads lose 0.2 mm. What counts is the volume that burns."),
            Option("On a flat face the cut and the gasket cancel.", "gasket_cancels",
                   "Then the ratio would stay. Clearance and timing cancel here; the height and the volumes do not."),
        ),
        "80 mm³ against 1203 mm³, and with the chamber in the head 780 mm³ against 1203 mm³.",
    ),
    meaning="One cut changes four things: ratio, valve-to-piston clearance, cam timing and height. Check every one of "
    "them against its own limit.",
    checks=(WHAT_ELSE, AREAS, SKIM["gasket_that_keeps_the_ratio"]),
    visit={"gasket": ("0.2 mm thicker",)},
    explain_at={"head_skim": 0.2, "face": "flat face", "gasket": "0.2 mm thicker"},
    find=tuple(
        Find(f"the ratio of the flat face, cut by 0.2 mm, with the gasket {words}", _flat_with(gain))
        for words, gain in (("as before", "0 mm"), ("0.2 mm thicker", "0.2 mm"))
    ),
)  # fmt: skip

GUIDED = [CHAIN]
