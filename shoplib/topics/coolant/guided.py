"""A guided lesson about mixing: the water that stayed in counts."""

from __future__ import annotations

from collections.abc import Callable

from shoplib.core.working import Result
from shoplib.teaching.choice import Cases, Item, Option
from shoplib.teaching.exercise import Exercise, Mistake
from shoplib.teaching.guided import Find, GuidedLesson, Scene
from shoplib.teaching.known import Known
from shoplib.topics.coolant.coolant_fill import COOLANT_FILL
from shoplib.topics.coolant.exercises import EXERCISES

COOLANT = {x.name: x for x in EXERCISES}

GUESS = Exercise(
    name="guess_premix",
    topic="coolant",
    title="Premix over water",
    question="A cooling system of {capacity} was flushed with water. {drained} came out; the rest is water that stayed "
    "in. It is filled up with premix (coolant ready mixed with water) of {product_concentration}. What is the strength "
    "in the system?",
    working=COOLANT_FILL,
    result="strength",
    fixed={"capacity": "9 L", "drained": "6 L", "residual_concentration": "0 %", "target": "50 %",
           "product_concentration": "50 %"},
    numbers=lambda rng: {},
    tolerance="2 %",
    mistakes=(
        Mistake("thought that premix keeps its strength in the system", lambda r: 0.5,
                "It mixes with the water that stayed in."),
        Mistake("took half of the premix strength", lambda r: 0.25, "Two parts of premix meet one part of water."),
    ),
    first_step="How many litres of glycol are poured in? How many litres does the system hold?",
    lesson="6 L × 50 % = 3 L of concentrate, in 9 L altogether.",
    slider=(0.0, 80.0, 1.0),
)  # fmt: skip


def after_the_flush() -> Known:
    """What came out, what stayed, and what is poured in."""
    return Known((("water that stayed in", 1 / 3, "3 L"), ("50 % premix poured in", 2 / 3, "6 L"),
                  ("strength in the system", None, "")))  # fmt: skip


SWAP_IN = "Drain some, then pour in the same amount of concentrate."
SWAP_OUT = "Drain some, then pour in the same amount of water."
SWAP_PREMIX = "Drain some, then pour in the same amount of 50 % premix."


def _full(litres: int, has: int) -> Item:
    """A full system that is too weak or too strong."""
    right, other = (SWAP_IN, SWAP_OUT) if has < 50 else (SWAP_OUT, SWAP_IN)
    return Item(
        f"A full system of {litres} L has {has} %. It should have 50 %. What do you do?",
        (
            Option(right),
            Option("Pour what is missing on top.", "add_on_top", "A full system has no room for it."),
            Option(SWAP_PREMIX, "premix_holds",
                   "What stays in keeps its old strength. So the mixture comes nearer to 50 %, and never gets there."),
            Option(other, "", "That moves the strength away from 50 %."),
        ),
        "What comes out has the old strength, what goes in changes it.",
    )  # fmt: skip


def _trapped(stays: int, holds: int, other: int) -> Item:
    """Water that stayed in, filled up with 50 % premix."""
    fill = holds - stays
    strength = 50 * fill / holds
    return Item(
        f"The block keeps {stays} L of water, the system holds {holds} L. You fill {fill} L of 50 % premix. What is "
        "the strength?",
        (
            Option(f"{strength:g} %"),
            Option("50 %", "premix_holds", f"The {stays} L of water count too: {fill / 2:g} L in {holds} L."),
            Option(f"{50 * stays / holds:g} %", "", "That counts the water as if it were the premix."),
            Option(f"{other} %", "", f"{fill} L × 50 % = {fill / 2:g} L of concentrate. Divide by {holds} L."),
        ),
        f"There are {fill / 2:g} L of glycol in {holds} L.",
    )  # fmt: skip


FULL = Cases(tuple(_full(litres, has) for litres, has in ((8, 35), (9, 65), (11, 40), (7, 60), (10, 30), (12, 70))))
TRAPPED = Cases(tuple(_trapped(*row) for row in ((2, 10, 45), (4, 10, 40), (1, 10, 40), (2, 8, 45), (3, 10, 20))))


def _poured(product: str, drained: str) -> Callable[[Result], bool]:
    """Whether the picture shows this product, after this much was drained."""

    def found(r: Result) -> bool:
        typed = r.inputs.as_entered
        return bool(typed["product_concentration"] == product and typed["drained"] == drained)

    return found


MIX = GuidedLesson(
    name="premix_over_water",
    objective=11,
    title="The water that stayed in",
    goal="Strength is concentrate divided by everything in the system, also by the water that stayed in.",
    guess=GUESS,
    scene=after_the_flush,
    explore=Scene("tank", {"drained": 6.0}),
    task="with premix, drag how much was drained down to 3 L, then up to 9 L. Then choose concentrate (undiluted), "
    "with 6 L drained.",
    reasons=Item(
        "Why is the strength what it is?",
        (
            Option("The glycol in the premix spreads through all of the liquid."),
            Option("Premix is ready to use, so the system has the strength of the premix.", "premix_holds",
                   "That is true only in an empty, dry system."),
            Option("The water stays below and the premix above, as they were poured.", "premix_holds",
                   "The pump mixes them within minutes."),
        ),
    ),
    explain=Item(
        "6 L were drained, and 3 L of water stayed in. Why does concentrate reach 50 % where premix does not?",
        (
            Option("6 L of premix bring 3 L of glycol, and 50 % of 9 L is 4.5 L."),
            Option("Concentrate pushes the water out of the block.", "premix_holds",
                   "The water stays in. It is part of the mixture."),
            Option("6 L of premix bring 6 L of glycol, but 9 L are in the system.", "premix_holds",
                   "Half of the premix is water: 6 L of it bring 3 L of glycol."),
            Option("Concentrate takes less room, so more than 6 L goes in.", "add_on_top",
                   "Only 6 L came out, so only 6 L goes in: 4.5 L of concentrate and 1.5 L of water."),
        ),
        "4.5 L of concentrate are 4.5 L of glycol, and the other 1.5 L of room is filled up with water.",
    ),
    meaning="Count the concentrate: litres times strength. Divide by all litres in the system. If the result is too "
    "weak, pour concentrate instead of premix, or drain more first. While water stays in, 50 % premix never gives 50 "
    "%.",
    checks=(FULL, TRAPPED, COOLANT["premix_over_trapped_water"]),
    visit={"product": ("concentrate",)},
    explain_at={"drained": 6.0, "product": "concentrate", "target": "50 %"},
    find=(
        Find("the strength with premix, 3 L drained", _poured("50 %", "3 L")),
        Find("the strength with premix, 9 L drained", _poured("50 %", "9 L")),
        Find("the strength with concentrate, 6 L drained", _poured("100 %", "6 L")),
    ),
)  # fmt: skip

GUIDED = [MIX]
