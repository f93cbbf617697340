"""Guided lessons about the straightedge: a leaf is a bracket, and lengthwise is not the whole face."""

from __future__ import annotations

from shoplib.teaching.choice import Item, Option
from shoplib.teaching.guided import GuidedLesson, Scene
from shoplib.teaching.known import Known


def leaves_tried() -> Known:
    """The two leaves and the limit."""
    return Known(
        (("leaf that fits", 0.5, "0.05 mm"), ("leaf that does not fit", 1.0, "0.10 mm"), ("the gap", None, "")),
        "limit 0.08 mm",
    )


def lengthwise_only() -> Known:
    """Two lines along are known, the others are not."""
    return Known((("lines 1 and 2, along", 0.03, "no gap"), ("lines 3 and 4, across", None, ""),
                  ("lines 5 and 6, diagonal", None, "")), "limit 0.08 mm")  # fmt: skip


LEAF = GuidedLesson(
    name="leaf_is_a_bracket",
    objective=8,
    title="What a leaf proves",
    goal="A leaf that fits says at least; a leaf that does not fit says less than. The limit must lie outside.",
    guess=Item(
        "On one line a leaf of 0.05 mm fits and a leaf of 0.10 mm does not. The limit is 0.08 mm. Does the line pass?",
        (
            Option("undecided"),
            Option("pass", "leaf_is_gap", "The gap may be anything from 0.05 to just under 0.10 mm."),
            Option("fail", "leaf_is_gap", "The gap is less than 0.10 mm. It may be 0.06 mm."),
        ),
    ),
    scene=leaves_tried,
    explore=Scene("leaf", {"leaf": 0.05}),
    task="find the leaf that decides, at place A and at place B. Lift the cover only then.",
    reasons=Item(
        "Why is the line what you said?",
        (
            Option("The gap lies between the two leaves, and the limit lies between them too."),
            Option("The leaf that fits is the gap: 0.05 mm.", "leaf_is_gap",
                   "A leaf that fits may have plenty of room above it."),
            Option("The middle of the two leaves is 0.075 mm, below the limit.", "average",
                   "The middle is not a reading. The gap may be 0.095 mm."),
            Option("A leaf of 0.10 mm was needed, and that is above the limit.", "leaf_is_gap",
                   "It did not fit. So the gap is less than 0.10 mm, no more is known."),
        ),
    ),
    meaning="A feeler reading is a bracket. When the limit lies inside the bracket, nothing is proved. Use a leaf near "
    "the limit: it decides most.",
    checks=(
        Item(
            "A leaf of 0.03 mm fits, 0.04 mm does not. The limit is 0.05 mm.",
            (
                Option("pass"),
                Option("undecided", "leaf_is_gap", "The gap is less than 0.04 mm, so it is below 0.05 mm."),
                Option("fail", "average", "Nothing above 0.04 mm is possible."),
            ),
            "The whole bracket is below the limit.",
        ),
        Item(
            "Six lines: five pass, one fails. Somebody averages the six readings and finds them below the limit.",
            (
                Option("The face fails: each line counts by itself."),
                Option("The face passes: the average is below the limit.", "average",
                       "The gasket leaks at the worst place, not at the average one."),
                Option("The face is undecided.", "average", "One line fails, so the face fails."),
            ),
            "One bad line makes a bad face.",
        ),
    ),
)  # fmt: skip

LENGTHWISE = GuidedLesson(
    name="flat_lengthwise",
    objective=9,
    title="Flat lengthwise: is it flat?",
    goal="A face can be flat along every line lengthwise and still fail. I measure across and on the diagonals too.",
    guess=Item(
        "A straightedge along both long sides of a head shows no gap at all. The limit is 0.08 mm. What will the lines "
        "across show?",
        (
            Option("They may show any gap: that must be measured."),
            Option("Nothing either: the head is flat.", "lengthwise",
                   "A trough along the head is invisible to every line along it."),
            Option("Less than along, because the lines are shorter.", "lengthwise",
                   "A short line can cross a deep trough."),
        ),
    ),
    scene=lengthwise_only,
    explore=Scene("own_lines", {"along": 12, "across": 12, "face": "A"}),
    task="move the lines on faces A, B and C. Find a place for each face that shows its fault. Then lift the cover.",
    reasons=Item(
        "Why do the lines along tell so little about the lines across?",
        (
            Option("A line shows only what is under it, and only in its own direction."),
            Option("They tell everything: a flat head is flat in each direction.", "lengthwise",
                   "Face A has no gap along and fails across."),
            Option("Only because the straightedge was not pressed down.", "lines_see_all",
                   "Pressing bends the edge. It does not show what lies beside the line."),
        ),
    ),
    meaning="Six lines are the least: two along, two across, two diagonal. A twist shows only on the diagonals. What "
    "lies between the lines stays hidden, so add lines where the gasket seals.",
    checks=(
        Item(
            "Along and across show nothing, both diagonals show 0.04 mm. Which fault is it?",
            (
                Option("a twist"),
                Option("none: four lines out of six are good", "average",
                       "The diagonals decide here. A twist hides from lines along and across."),
                Option("a hollow across the head", "lengthwise", "A hollow across would show on the lines across."),
            ),
            "A twist shows on the diagonals only, and only half of it. A face twisted by 0.10 mm reads only 0.05 mm.",
        ),
        Item(
            "All six lines are within the limit. Coolant still leaks between two bores. What did the lines miss?",
            (
                Option("a dip between the lines"),
                Option("nothing: six lines prove the face", "lines_see_all",
                       "A line shows only what is under it. A dip between the lines shows on none."),
                Option("nothing along, so nothing at all", "lengthwise",
                       "Lines along say nothing about what lies beside them."),
            ),
            "Add a line between the bores, or measure heights.",
        ),
    ),
)  # fmt: skip

GUIDED = [LEAF, LENGTHWISE]
