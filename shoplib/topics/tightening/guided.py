"""A guided lesson about the order of tightening."""

from __future__ import annotations

from shoplib.teaching.choice import Cases, Item, Option
from shoplib.teaching.guided import Find, GuidedLesson, Scene
from shoplib.topics.tightening.lesson import ALONG
from shoplib.topics.tightening.row_of_bolts import LOAD_IN_A_ROW

AFTERWARDS = Cases(
    (
        Item(
            "Ten bolts click once, one after another: bolt 1 first, bolt 10 last. Which of them has its full load now?",
            (
                Option("bolt 10"),
                Option("bolt 1", "order_no_matter", "Nine bolts were tightened after it, and took load."),
                Option("all ten", "load_stays", "Each click was right at its moment. Later clicks took load away."),
            ),
            "No bolt was tightened after bolt 10.",
        ),
        Item(
            "All bolts clicked in the last round, in the order of the instructions. The wrench clicked once for each. "
            "Do all bolts have the same load now?",
            (
                Option("No: those tightened early lost load to those tightened late."),
                Option(
                    "No: at its click each bolt has another load, by its place on the head.",
                    "click_is_enough",
                    "In the picture each bolt has 24.3 kN at its own click. The loads differ afterwards.",
                ),
                Option(
                    "Yes: each one clicked at the same torque.",
                    "load_stays",
                    "Each click was right at its moment. Later clicks changed the earlier bolts.",
                ),
                Option(
                    "Yes, because the order was right.",
                    "order_no_matter",
                    "No order keeps the neighbours from taking load. Further rounds bring most of it back.",
                ),
            ),
            "After further rounds the loads differ less than after one pass, but they differ.",
        ),
    )
)
AGAIN = Cases(
    (
        Item(
            "After the last round the first bolt is tried again. It turns a little, then it clicks. What does it show?",
            (
                Option("It had lost load to the bolts tightened after it."),
                Option(
                    "The wrench is faulty, since the bolt had clicked.",
                    "load_stays",
                    "The bolt did click. It lost load afterwards.",
                ),
                Option(
                    "The first click was false.",
                    "click_is_enough",
                    "The click was right at that moment. The neighbours came later.",
                ),
            ),
            "Whether to repeat a round is for the instructions to say.",
        ),
        Item(
            "After the last round the last bolt is tried again at once. It does not turn before the click. What does "
            "that show about the first bolt?",
            (
                Option("Nothing: the first bolt may have lost load."),
                Option(
                    "It has its full load too, as it clicked in the same way.",
                    "load_stays",
                    "Other bolts were tightened after it, and took load.",
                ),
                Option(
                    "It has more load than the last one.",
                    "more_turns",
                    "Its neighbours took load from it. They added none.",
                ),
            ),
            "No bolt was tightened after the last one, but all others after the first.",
        ),
    )
)


def _loads(bolt: int, low: int, click: int, high: int, *, second: bool) -> Item:
    """The load of a bolt after its neighbours were tightened, or after a second click."""
    words = {n: f"{n} kN" for n in (low, click, high)}
    if second:
        return Item(
            f"Bolt {bolt} had {click} kN at its click. Its neighbours were tightened and it had {low} kN. Now it "
            "clicks a second time at the same torque. What does it have?",
            (Option(words[click]), Option(words[low], "load_stays", "It turned further, so its stretch is back."),
             Option(words[high], "more_turns", "The same torque gives the load of the first click, not more.")),
            "A second round brings back what the neighbours took.",
        )  # fmt: skip
    return Item(
        f"Bolt {bolt} clicks and has {click} kN. Then both its neighbours are tightened. What can it have now?",
        (Option(words[low]), Option(words[click], "load_stays", "The neighbours compress the parts under it."),
         Option(words[high], "order_no_matter", "The neighbours do not pull on it. They compress the parts under it.")),
        "The parts under it got thinner, so it is stretched less.",
    )  # fmt: skip


NUMBERS = ((2, 19, 24, 29), (5, 26, 31, 36), (3, 8, 11, 14), (7, 33, 40, 47))
LOADS = Cases(tuple(_loads(*row, second=second) for row in NUMBERS for second in (False, True)))

ORDER = GuidedLesson(
    name="neighbours",
    objective=6,
    title="What the order decides",
    goal="Each bolt I tighten takes load from its neighbours. So I follow the instructions: their order, their rounds.",
    minutes=10,
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
    task="bolt 1 is the one that clicks first. Drag to 10 clicks and watch it, then on to 20. Then the other order: "
    "which places change? Last, try three rounds: is the lowest higher than after one pass of 10 clicks?",
    reasons=Item(
        "Why does bolt 1 end as it does?",
        (
            Option("The parts under bolt 1 get thinner, so its stretch gets smaller."),
            Option("A bolt that has clicked keeps its load.", "load_stays",
                   "Nobody turned it, but the parts under it got thinner. So its stretch is smaller."),
            Option("The order is a habit of the workshop. In the end every bolt has clicked.", "order_no_matter",
                   "Every bolt clicked, and yet the loads differ."),
            Option("The neighbours take up part of the load and then add to it.", "more_turns",
                   "They add nothing to bolt 1. They compress what bolt 1 holds."),
        ),
    ),
    explain=Item(
        "In both orders, bolts end with different loads. What does the order decide?",
        (
            Option("Which bolts lose most to those that are tightened later."),
            Option("Nothing: in both orders every bolt has clicked.", "order_no_matter",
                   "Compare after 10 clicks, bottom middle: 18.7 kN in one order, 22.4 kN in the other."),
            Option("At which load each bolt clicks: the first ones click too early.", "click_is_enough",
                   "In both orders each bolt has 24.3 kN at its own click. It loses load afterwards."),
            Option("Whether load is lost at all: in the right order none is.", "load_stays",
                   "Load is lost in both orders. A second round brings most of it back."),
        ),
        "From the middle outwards, one pass leaves 17.2 kN at the lowest bolt, and three rounds leave 21.7 kN. Two "
        "passes at full torque leave 23.2 kN. Each click at full torque brings load back. Order "
        "and smaller steps are there for what this picture does not show: head and gasket must close evenly.",
    ),
    meaning="The order decides which bolts are low, and the last round at full load brings most of it back. The "
    "picture shows loads only. Head and gasket must also close evenly: the instructions give order and rounds.",
    checks=(AFTERWARDS, LOADS, AGAIN, LOAD_IN_A_ROW),
    visit={"clicks": (10, 20)},
    find=(
        Find("the loads after 10 clicks, bolt by bolt along", lambda r: r.order == ALONG and r.clicks == len(ALONG)),
        Find("the loads after all 30 clicks of three rounds", lambda r: r.clicks == 3 * len(ALONG)),
    ),
)  # fmt: skip

GUIDED = [ORDER]
