"""A guided lesson about mixing: the water that stayed in counts."""

from __future__ import annotations

from shoplib.teaching.choice import Item, Option
from shoplib.teaching.exercise import Exercise, Mistake
from shoplib.teaching.guided import GuidedLesson, Scene
from shoplib.teaching.known import Known
from shoplib.topics.coolant.coolant_fill import COOLANT_FILL

GUESS = Exercise(
    name="guess_premix",
    topic="coolant",
    title="Premix over water",
    question="A cooling system of {capacity} was flushed with water. {drained} came out; the rest is water that stayed "
    "in. It is filled up with {product_concentration} premix. What is the strength in the system?",
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


MIX = GuidedLesson(
    name="premix_over_water",
    objective=11,
    title="The water that stayed in",
    goal="Strength is concentrate divided by everything in the system, also by the water that stayed in.",
    guess=GUESS,
    scene=after_the_flush,
    explore=Scene("tank", {"drained": 6.0}),
    task="drag how much was drained. Then choose concentrate instead of premix.",
    reasons=Item(
        "Why is the strength what it is?",
        (
            Option("The concentrate is shared by all the liquid, also by the water that stayed in."),
            Option("Premix is ready to use, so the system has the strength of the premix.", "premix_holds",
                   "That is true only in an empty, dry system."),
            Option("The water stays below and the premix above.", "premix_holds",
                   "The pump mixes them within minutes."),
        ),
    ),
    meaning="Count the concentrate: litres times strength. Divide by all litres in the system. If the result is too "
    "weak, pour concentrate instead of premix, or drain again.",
    checks=(
        Item(
            "A full system of 8 L has 35 %. It should have 50 %. What do you do?",
            (
                Option("Drain some of it, then pour in the same volume of concentrate."),
                Option("Add the missing concentrate on top.", "add_on_top", "A full system has no room for it."),
                Option("Top up with 50 % premix.", "premix_holds",
                       "Premix into a full system adds nothing, and later only brings it nearer to 50 %."),
            ),
            "What comes out is weak, what goes in is strong.",
        ),
        Item(
            "The block keeps 2 L of water, the system holds 10 L. You fill 8 L of 50 % premix. What is the strength?",
            (
                Option("40 %"),
                Option("50 %", "premix_holds", "2 L of water are in it too: 4 L of concentrate in 10 L."),
                Option("30 %", "", "8 L × 50 % = 4 L of concentrate. Divide by 10 L."),
            ),
            "8 L × 50 % ÷ 10 L = 40 %.",
        ),
    ),
)  # fmt: skip

GUIDED = [MIX]
