"""The cases of the step Check of the lesson about settling."""

from __future__ import annotations

from shoplib.teaching.choice import Cases, Item, Option
from shoplib.topics.angle.cases import LONG, SAME, SHORT

PAINT = Cases(
    (
        Item(
            "Paint was left under the head of a bolt. It clicked at the right torque. What happens in service?",
            (
                Option("The paint gives way slowly, and load is lost."),
                Option("Nothing: the click was right.", "load_stays", "The paint gives way later, under the load."),
                Option("The paint glues the head to the part, so the bolt cannot loosen.", "load_stays",
                       "The paint is squeezed out. The stretch goes with it."),
            ),
            "Settling takes stretch away.",
        ),
        Item(
            "Joint A has clean, bare faces, joint B has painted ones. Both had the same clamp load. Which one has more "
            "after a week?",
            (
                Option("joint A"),
                Option("both still the same", "load_stays", "Paint gives way slowly under load, and the stretch gets "
                                                            "smaller."),
                Option("joint B", "load_stays", "The paint does not hold the bolt. It is squeezed out."),
            ),
            "Bare faces settle least.",
        ),
        Item(
            "Nobody turned a bolt since yesterday. Today it moves a little before the wrench clicks. What happened?",
            (
                Option("The surfaces settled, and the bolt lost load."),
                Option("The wrench is less exact today than it was yesterday.", "load_stays",
                       "The bolt moved before the click, so its load was lower. Its stretch got smaller."),
                Option("The bolt got softer.", "springs_back", "The steel keeps its stiffness. It lost stretch."),
            ),
            "What settles is taken from the stretch.",
        ),
    )
)  # fmt: skip


def _settle(short: str, long: str, right: str, why: str) -> Item:
    """Two bolts, the short one with a third of the stretch, each with its own settling."""
    replies = {
        SHORT: "The short bolt loses three times as much for the same settling. Multiply, then compare.",
        LONG: "The long bolt loses a third as much for the same settling. Divide, then compare.",
        SAME: "Multiply the settling of the short bolt by three, then compare.",
    }
    wrong = [Option(words, "length_no_matter", replies[words]) for words in (SHORT, LONG, SAME) if words != right]
    return Item(
        "For the same settling a short bolt loses three times as much load as a long one. Now the surfaces settle by "
        f"{short} mm under the short bolt and by {long} mm under the long bolt. Which one loses more?",
        (Option(right), *wrong), why,
    )  # fmt: skip


LOSES = Cases(
    (
        _settle("0.005", "0.020", LONG, "3 × 0.005 mm is less than 0.020 mm."),
        _settle("0.010", "0.020", SHORT, "3 × 0.010 mm is more than 0.020 mm."),
        _settle("0.006", "0.018", SAME, "3 × 0.006 mm is 0.018 mm."),
        _settle("0.012", "0.030", SHORT, "3 × 0.012 mm is more than 0.030 mm."),
    )
)
