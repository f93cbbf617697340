"""A guided lesson about the order of tightening."""

from __future__ import annotations

from shoplib.teaching.choice import Item, Option
from shoplib.teaching.guided import GuidedLesson, Scene

ORDER = GuidedLesson(
    name="neighbours",
    objective=6,
    title="Why the order matters",
    goal="Each bolt I tighten takes load from its neighbours. So I go in order, in rounds, from the middle outwards.",
    guess=Item(
        "Ten bolts hold a head. Bolt 1, at the centre, clicks at 40 N·m and has 24.3 kN. Then the other nine click at "
        "40 N·m, one after another. How much does bolt 1 have at the end?",
        (
            Option("less than 24.3 kN"),
            Option("24.3 kN", "load_stays", "Its neighbours press the parts together, so bolt 1 is stretched less."),
            Option("more than 24.3 kN", "order_no_matter",
                   "The neighbours do not pull on bolt 1. They press the parts together under it."),
        ),
    ),
    scene=Scene("neighbours", {"clicks": 1}),
    explore=Scene("neighbours", {"clicks": 1}),
    task="drag to 10 clicks and watch bolt 1. Go on to 20. Then try the other order and three rounds.",
    reasons=Item(
        "Why does bolt 1 end as it does?",
        (
            Option("The neighbours compress the parts under bolt 1, so its stretch gets smaller."),
            Option("A bolt that has clicked keeps its load.", "load_stays",
                   "Nobody turned it, but the parts under it got thinner. So its stretch is smaller."),
            Option("The order is only a habit. In the end every bolt has clicked.", "order_no_matter",
                   "Every bolt clicked, and yet the loads differ."),
            Option("The neighbours take up part of the load and then add to it.", "more_turns",
                   "They add nothing to bolt 1. They compress what bolt 1 holds."),
        ),
    ),
    meaning="A head and its gasket are elastic. Rounds in small steps let the parts close evenly, and a second round "
    "brings back what the first one lost. Follow the order and the rounds of the instructions.",
    checks=(
        Item(
            "A bolt was forgotten in the round at 40 %. The round at 70 % has just begun. What now?",
            (
                Option("Stop. Do what the instructions say about a missed bolt, and record it."),
                Option("Take it straight to 70 %; the click counts.", "order_no_matter",
                       "The head closes unevenly then, and its neighbours lose load."),
                Option("Leave it: the last round reaches every bolt.", "order_no_matter",
                       "The last round tightens a joint that has already closed unevenly."),
            ),
            "The rounds close the joint evenly. A gap in a round is a deviation.",
        ),
        Item(
            "After the last round the first bolt is tried again. It turns a little, then it clicks. What does it show?",
            (
                Option("It had lost load to the bolts tightened after it."),
                Option("The wrench is faulty, since the bolt had clicked.", "load_stays",
                       "The bolt did click. It lost load afterwards."),
                Option("The first click was false.", "click_is_enough",
                       "The click was right at that moment. The neighbours came later."),
            ),
            "Whether to repeat a round is for the instructions to say.",
        ),
    ),
)  # fmt: skip

GUIDED = [ORDER]
