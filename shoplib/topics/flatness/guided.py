"""Guided lessons about the straightedge: a leaf is a bracket, and lengthwise is not the whole face."""

from __future__ import annotations

from shoplib.teaching.choice import Cases, Item, Option
from shoplib.teaching.guided import Find, GuidedLesson, Scene
from shoplib.teaching.known import Known
from shoplib.topics.flatness.exercises import EXERCISES
from shoplib.topics.flatness.lesson_exercises import DECIDING_LEAF, GAP_UNDER_A_LINE
from shoplib.topics.flatness.own_lines_lesson import LIMIT

FLATNESS = {x.name: x for x in EXERCISES}


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


def _bracket(fits: str, not_: str, limit: str) -> Item:
    """Two leaves and a limit."""
    low, high, at = float(fits), float(not_), float(limit)
    right = "pass" if high <= at else "fail" if low > at else "undecided"
    reply = {
        "pass": f"The gap is at least {fits} and less than {not_} mm. All of that is within {limit} mm.",
        "fail": f"The gap is at least {fits} mm. That is above {limit} mm already.",
        "undecided": f"The gap may be {fits} mm, which is allowed, or just under {not_} mm, which is not.",
    }[right]
    beliefs = {"pass": "leaf_is_gap", "fail": "leaf_is_gap", "undecided": "average"}
    wrong = [Option(w, beliefs[w], reply) for w in ("pass", "fail", "undecided") if w != right]
    return Item(
        f"A leaf of {fits} mm fits, {not_} mm does not. The limit is {limit} mm. Does the line pass?",
        (Option(right), *wrong), reply,
    )  # fmt: skip


# without a fail: there who takes the leaf that fits for the gap is right, and the six lines may ask for one
BRACKET = Cases(
    tuple(
        _bracket(*row.split())
        for row in ("0.03 0.04 0.05", "0.09 0.12 0.09", "0.06 0.07 0.07", "0.05 0.10 0.07", "0.04 0.05 0.08",
                    "0.04 0.10 0.06", "0.05 0.06 0.09", "0.07 0.09 0.07")
    )
)  # fmt: skip
FAILS, PASSES, OPEN = "The face fails.", "The face passes.", "The face is undecided."


def _six(readings: str, right: str, why: str) -> Item:
    """Six readings, each with the leaf that fits and the one that does not; their average is within the limit."""
    replies = {
        FAILS: ("leaf_is_gap", "No line is proved to be above the limit."),
        PASSES: ("average", "The gasket leaks at the worst place, not at the average one."),
        OPEN: ("average", "Compare each line with the limit. One that fails decides, and here none is open."),
    }
    wrong = [Option(words, *replies[words]) for words in (FAILS, PASSES, OPEN) if words != right]
    return Item(
        "The limit is 0.08 mm. On six lines, the leaf that fits and the leaf that does not: "
        f"{readings} mm. What about the face?", (Option(right), *wrong), why,
    )  # fmt: skip


WORST = Cases(
    (
        _six("0.04/0.05, 0.03/0.04, 0.05/0.06, 0.10/0.11, 0.04/0.05, 0.03/0.04", FAILS,
             "One line is above the limit, so the face fails, whatever the average is."),
        _six("0.04/0.05, 0.03/0.04, 0.05/0.10, 0.04/0.05, 0.03/0.04, 0.04/0.05", OPEN,
             "On one line the limit lies in the bracket. Try it with a leaf near the limit."),
        _six("0.06/0.07, 0.05/0.06, 0.07/0.08, 0.06/0.07, 0.07/0.08, 0.05/0.06", PASSES,
             "Every gap is less than the leaf that does not fit, and none of these is above the limit."),
    )
)  # fmt: skip

TWIST, TROUGH, BENT, NONE = "a twist", "a hollow across its width", "a hollow along its length", "none above the limit"


def _fault(along: str, across: str, diagonal: str, right: str, why: str) -> Item:
    """What six lines show, two of a kind alike."""
    replies = {
        TWIST: ("lines_see_all", "A twist shows on the diagonals only."),
        TROUGH: ("lengthwise", "A hollow across the width shows above the limit on the lines across."),
        BENT: ("lengthwise", "A hollow along the length shows above the limit on the lines along."),
        NONE: ("average", "Compare each line with the limit, not their average."),
    }
    wrong = [Option(w, *replies[w]) for w in (TWIST, TROUGH, BENT, NONE) if w != right]
    return Item(
        f"Lines along: {along}. Lines across: {across}. Diagonals: {diagonal}. The limit is 0.05 mm. Which fault of "
        "the face do they show?", (Option(right), *wrong), why,
    )  # fmt: skip


FAULT = Cases(
    (
        _fault(
            "no gap",
            "no gap",
            "0.08 mm",
            TWIST,
            "A twist shows on the diagonals only, and only half of it: 0.10 mm of twist read 0.05 mm.",
        ),
        _fault(
            "no gap", "0.09 mm", "0.09 mm", TROUGH, "The lines across show it, and the diagonals cross the width too."
        ),
        _fault(
            "0.10 mm", "no gap", "0.10 mm", BENT, "The lines along show it, and the diagonals run along the length too."
        ),
        _fault("0.02 mm", "0.03 mm", "0.03 mm", NONE, "Each of the six lines is within the limit."),
        _fault("0.01 mm", "0.01 mm", "0.09 mm", TWIST, "Only the diagonals show it, so it is a twist."),
        _fault("0.01 mm", "0.12 mm", "0.12 mm", TROUGH, "The lines across and the diagonals show it."),
    )
)
MISSED = Cases(
    (
        Item(
            "All six lines show no gap. Coolant still leaks between two bores. What can the lines have missed?",
            (
                Option("a dip between the lines"),
                Option("a twist", "lines_see_all", "A twist would show on the diagonals."),
                Option(TROUGH, "lengthwise", "A hollow across the width would show on the lines across."),
            ),
            "Add a line between the bores, or measure heights.",
        ),
        Item(
            "All six lines are within the limit. What is proved by them?",
            (
                Option("that no line among these six is above the limit"),
                Option("that no place of the face is above the limit", "lines_see_all",
                       "Between the lines there may be a dip, as on face C."),
                Option("that the face has no twist above the limit", "lines_see_all",
                       "On face B each diagonal shows 0.050 mm, and the whole face is out by 0.100 mm."),
            ),
            "A line shows only what is under it.",
        ),
    )
)  # fmt: skip


NO_GAP, ALL_OF_IT, HALF = "no gap", "0.10 mm", "0.05 mm"


def _over(face: str, line: str, right: str, why: str) -> Item:
    """The face is known; what does one line over it show?"""
    beliefs = {NO_GAP: "lengthwise", ALL_OF_IT: "lines_see_all", HALF: "average"}
    wrong = [Option(words, beliefs[words], why) for words in (NO_GAP, ALL_OF_IT, HALF) if words != right]
    return Item(f"{face} What does a straightedge {line} show?", (Option(right), *wrong), why)


VALLEY = "A face is straight lengthwise. Its middle is lower than both long edges by 0.10 mm, from end to end."
BOW = "A face is straight across its width. Half-way along, it is lower than both ends by 0.10 mm."


def _known(lines: str, gap: str, right: str) -> Item:
    """One line above the limit decides; lines within it prove only themselves."""
    one, other = (OPEN, PASSES) if right == FAILS else (PASSES, FAILS)
    reply = "One line above the limit decides." if right == FAILS else "The lines in the other directions are missing."
    return Item(
        f"Only the lines {lines} were tried: {gap}, and the limit is 0.06 mm. What is known about the face?",
        (
            Option(right),
            Option(one, "average" if right == FAILS else "lengthwise", reply),
            Option(other, "average" if right == FAILS else "", reply),
        ),
        "One line can fail a face. To pass, all lines must be within the limit, and a dip can still hide between them.",
    )  # fmt: skip


DIRECTIONS = Cases(
    (
        _known("along", "no gap", OPEN), _known("across", "0.09 mm", FAILS),
        _over(VALLEY, "laid lengthwise in the lowest part", NO_GAP,
              "All of this line is equally low. The straightedge touches it from end to end."),
        _known("along", "0.08 mm", FAILS), _known("across", "0.01 mm", OPEN),
        _over(BOW, "laid from corner to corner", ALL_OF_IT,
              "It rests on two corners. Half-way between them the face is lower by 0.10 mm."),
        _known("across", "no gap", OPEN),
        _over(BOW, "laid across, half-way along", NO_GAP,
              "All of this line is equally low. The straightedge touches it from end to end."),
    )
)  # fmt: skip

LEAF = GuidedLesson(
    name="leaf_is_a_bracket",
    objective=8,
    title="What a leaf proves",
    goal="A leaf that fits says at least; a leaf that does not fit says less than. The limit must lie outside.",
    minutes=10,
    guess=Item(
        "A straightedge lies on a head, and you try feeler leaves under it. A leaf of 0.05 mm fits, a leaf of 0.10 mm "
        "does not. The limit is 0.08 mm. Does the line pass?",
        (
            Option("undecided"),
            Option("pass", "leaf_is_gap", "The gap may be anything from 0.05 to just under 0.10 mm."),
            Option("fail", "leaf_is_gap", "The gap is less than 0.10 mm. It may be 0.06 mm."),
        ),
    ),
    scene=leaves_tried,
    explore=Scene("leaf", {"leaf": 0.05}),
    task="find a leaf that decides, at place A and at place B. Then lift the cover, and look at both places.",
    reasons=Item(
        "Why is this line undecided?",
        (
            Option("The limit lies between the two leaves, as the gap does."),
            Option("The leaf that fits is the gap: 0.05 mm.", "leaf_is_gap",
                   "A leaf that fits may have plenty of room above it."),
            Option("The middle of the two leaves is 0.075 mm, below the limit.", "average",
                   "The middle is not a reading. The gap may be 0.095 mm."),
            Option("A leaf of 0.10 mm was needed, and that is above the limit.", "leaf_is_gap",
                   "It did not fit. So the gap is less than 0.10 mm, no more is known."),
        ),
    ),
    explain=Item(
        "At place A the leaf of 0.08 mm fits. The limit is 0.08 mm, and this is allowed. What does this leaf alone "
        "decide?",
        (
            Option("Nothing: the gap may be at the limit, or above it."),
            Option("Nothing: only a leaf thinner than the limit can decide.", "leaf_is_gap",
                   "A thinner leaf that fits proves even less. Here 0.09 mm decides, by fitting."),
            Option("Nothing: at the limit a leaf never decides.", "",
                   "At place B the same leaf decides: it does not fit there."),
            Option("A pass: the gap is 0.08 mm, and that is allowed.", "leaf_is_gap",
                   "At place A a leaf of 0.09 mm fits as well."),
        ),
        "The gap is 0.08 mm or more. Exactly 0.08 mm is allowed, and more is not.",
    ),
    meaning="A feeler reading is a bracket. When the limit lies inside the bracket, nothing is proved. Use a leaf near "
    "the limit: it decides most.",
    checks=(BRACKET, WORST, FLATNESS["feeler_bracket"], DECIDING_LEAF),
    visit={"cover": ("off",)},
    explain_at={"place": "A", "leaf": 0.08},
    find=(
        Find("a leaf that decides at place A", lambda tried: tried.place == "A" and tried.decided != ""),
        Find("a leaf that decides at place B", lambda tried: tried.place == "B" and tried.decided != ""),
        Find("place A with the cover off", lambda tried: tried.place == "A" and tried.open, last=True),
        Find("place B with the cover off", lambda tried: tried.place == "B" and tried.open, last=True),
    ),
    last="cover",
)  # fmt: skip

LENGTHWISE = GuidedLesson(
    name="flat_lengthwise",
    objective=9,
    title="Flat lengthwise: is it flat?",
    goal="A face can be flat along every line lengthwise and still fail. I measure across and on the diagonals too.",
    minutes=10,
    guess=Item(
        "A straightedge along both long sides of a head shows no gap at all. The limit is 0.08 mm. What will the lines "
        "across show?",
        (
            Option("any gap, also one above 0.08 mm"),
            Option("no gap", "lengthwise", "A face may be hollow across its width. No line along shows that."),
            Option("at most a gap below 0.08 mm", "lengthwise", "A short line can cross a deep hollow."),
        ),
    ),
    scene=lengthwise_only,
    explore=Scene("own_lines", {"along": 12, "across": 12, "face": "A"}),
    task="move the lines on faces A, B and C. Which lines show the fault of each face? Then lift the cover, and look "
    "at all three.",
    reasons=Item(
        "What decides what the lines across can show?",
        (
            Option("A line shows only what is under it, in its own direction."),
            Option("A face that is straight lengthwise is flat.", "lengthwise",
                   "Face A is straight lengthwise, and hollow across its width by 0.10 mm."),
            Option("Short lines show smaller gaps than long ones.", "lengthwise",
                   "A short line can cross a deep hollow. On face A the short lines show 0.10 mm."),
            Option("Only a twist (two opposite corners high) can hide from the lines along.", "lines_see_all",
                   "Face A has no twist: a hollow across its width hides from them too."),
        ),
    ),
    explain=Item(
        "On face B no line along or across shows a gap, but the diagonals do. Why?",
        (
            Option("Each of these lines is straight, but they are not tilted alike."),
            Option("The diagonals are the longest lines, so they sag most.", "",
                   "The straightedge does not sag. The face under it is lower at the centre than at two corners."),
            Option("There is a dip at the centre, where the diagonals cross.", "lines_see_all",
                   "Move lines 1 to 4 to the centre: they show no gap there either."),
            Option("The diagonals were read wrongly: four good lines make a flat face.", "lengthwise",
                   "Lift the cover: face B is not flat, although four lines show no gap."),
        ),
        "The two short edges are tilted against each other: a twist. Two opposite corners are high, two are low.",
    ),
    meaning="Six lines are the least: two along, two across, two diagonal. A twist shows only on the diagonals, and "
    "only half of it. What lies between the lines stays hidden, so add lines where the gasket seals.",
    checks=(FAULT, MISSED, DIRECTIONS, GAP_UNDER_A_LINE),
    visit={"face": ("B", "C"), "along": (40,), "cover": ("off",)},
    explain_at={"face": "B"},
    find=(
        Find("lines on face C that show a gap above the limit", lambda six: six.face == "C" and six.worst > LIMIT),
        Find("face A with the cover off", lambda six: six.face == "A" and six.shown, last=True),
        Find("face B with the cover off", lambda six: six.face == "B" and six.shown, last=True),
    ),
    last="cover",
)  # fmt: skip

GUIDED = [LEAF, LENGTHWISE]
