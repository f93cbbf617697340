"""Answers the concept test from its texts alone: a second model of bolts, faces and mixtures, written apart.

It imports nothing of the package.  ``answer(text, options)`` gives the options that are true; a good item has one.
Each rule says for which questions it speaks and which options are true; what follows from a definition is said so.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence

NUMBER = r"\d+(?:\.\d+)?"
Rule = Callable[[str, str], bool]
RULES: list[tuple[str, Rule]] = []


def about(pattern: str) -> Callable[[Rule], Rule]:
    def add(rule: Rule) -> Rule:
        RULES.append((pattern, rule))
        return rule

    return add


def answer(text: str, options: Sequence[str]) -> list[str]:
    """The options that the one rule for this question holds true."""
    rules = [rule for pattern, rule in RULES if re.search(pattern, text)]
    assert len(rules) == 1, f"{len(rules)} rules for: {text}"
    return [words for words in options if rules[0](text, words)]


def numbers(text: str, unit: str) -> list[float]:
    return [float(x) for x in re.findall(rf"({NUMBER}) ?{unit}(?!\w)", text)]


# ------------------------------------------------------------------------------ a bolt, in N and mm
def clamp(torque: float, mu: float) -> float:
    """M10x1.5 from a torque in N·m: slope of the thread, flank friction at 60°, friction under the head."""
    lever = 1.5 / (2 * math.pi) + 9.026 / 2 * mu / math.cos(math.radians(30)) + 13.0 / 2 * mu
    return 1000 * torque / lever


def stiffness(length: float) -> float:
    """Bolt and joint in series, N/mm; the joint is three times as stiff as the bolt."""
    bolt = 205_000 * math.pi / 4 * 8.4**2 / length
    return bolt * 3 / 4


def after_angle(torque: float, mu: float, degrees: float, length: float = 100.0) -> float:
    return clamp(torque, mu) + stiffness(length) * 1.5 * degrees / 360


WET, DRY = 0.10, 0.16
SLIPPERY_HOLDS_MORE = clamp(50, WET) > clamp(50, DRY)


@about("One was dry, one oiled")
def _(text, words):
    return SLIPPERY_HOLDS_MORE and "the oiled one has more" in words


@about("once with a rusty thread")
def _(text, words):
    return SLIPPERY_HOLDS_MORE and words == "with the clean thread"


@about("slippery coating is put under the head")
def _(text, words):
    return words == ("rises" if clamp(50, WET) > clamp(50, DRY) else "falls")


@about("new bolts have a slippery coating")
def _(text, words):
    return words == ("larger than before" if SLIPPERY_HOLDS_MORE else "smaller than before")


@about("The wrench clicks. What is certain|All ten bolts clicked at the right torque")
def _(text, words):  # a click tells the torque at that moment, by definition; the load depends on friction (above)
    return bool(re.search(r"set torque was reached|reached the right torque once", words))


@about("the part that stretches the bolt is about")
def _(text, words):
    (torque,) = numbers(text.split("at the wrench")[0], "N·m")
    part = clamp(torque, 0.12) * 1.5 / (2 * math.pi) / 1000
    return abs(numbers(words, "N·m")[0] - part) < 0.1 * torque


@about("Most of the torque on a bolt goes into")
def _(text, words):
    thread, head = 9.026 / 2 * 0.12 / math.cos(math.radians(30)), 13.0 / 2 * 0.12
    whole = 1.5 / (2 * math.pi) + thread + head
    share = {"friction in the thread and under the head": thread + head, "stretching the bolt": 1.5 / (2 * math.pi),
             "the thread alone, as heat": thread}  # fmt: skip
    return share[words] > whole / 2


@about("The thread travels")
def _(text, words):
    (pitch,), (turn,) = numbers(text, "mm"), numbers(text, "°")
    return bool(numbers(words, "mm")) and math.isclose(numbers(words, "mm")[0], pitch * turn / 360, rel_tol=0.01)


@about(r"How many N·m are 90°|Can the angle of 60° be replaced by a torque")
def _(text, words):  # the torque for one angle differs between two bolts, so there is no such number
    lever = [1000 * 40 / clamp(40, mu) for mu in (WET, DRY)]
    torques = [after_angle(40, mu, 90) * k / 1000 for mu, k in zip((WET, DRY), lever, strict=True)]
    assert max(torques) > 1.1 * min(torques)
    return words == "there is no such number" or words.startswith("no:")


@about("turned 45°. Has it yielded")
def _(text, words):  # 60 kN: this bolt's yield; a short one reaches it, a long one does not
    reached = [after_angle(20, 0.12, 45, length) > 30_000 for length in (30.0, 150.0)]
    return set(reached) == {True, False} and words.startswith("that depends")


@about("an angle for a bolt that may be used again")
def _(text, words):
    return after_angle(20, 0.12, 45, 150) < 30_000 and words.startswith("no: an angle can stay below")


@about("At the snug torque two bolts differ by 50 %|What does the angle then do to this ratio")
def _(text, words):
    before = clamp(40, WET) / clamp(40, DRY)
    later = after_angle(40, WET, 60) / after_angle(40, DRY, 60)
    assert 1.01 < later < before - 0.01
    return words in ("by less than 50 %, but they still differ", "it brings it closer to 1")


@about("The oil on the threads is left out|What still depends on the lubricant")
def _(text, words):  # the snug load differs, and twist takes a part of the yield strength: von Mises
    def at_yield(mu):
        per_newton = 1.5 / (2 * math.pi) + 9.026 / 2 * mu / math.cos(math.radians(30))
        tension, shear = 1 / 55.4, per_newton / (math.pi / 16 * 8.4**3)
        return 940 / math.sqrt(tension**2 + 3 * shear**2)

    assert clamp(30, WET) > 1.2 * clamp(30, DRY) and at_yield(WET) > 1.02 * at_yield(DRY)
    return words.startswith("wrong") or words == "the load at 30 N·m, and the load at which it yields"


@about("just past yield. It is turned a further 90°|turns every stretch bolt 30° further")
def _(text, words):  # past yield the load follows a nearly flat curve: a hundredth of the elastic stiffness
    more = 0.01 * stiffness(100) * 1.5 * 90 / 360
    assert more < 0.1 * stiffness(100) * 1.5 * 90 / 360
    return words in ("rises a little or not at all",
                     "longer bolts, hardly more load, and less reserve before they break")  # fmt: skip


@about("the torque suddenly falls by half|torque of the last bolt falls away")
def _(
    text, words
):  # torque is friction and load together; it falls only if the load does, and then the joint is not made
    return words.startswith(("bolt or thread is giving way", "stop, record it"))


@about("went past yield and is loosened|0.4 mm longer than new")
def _(text, words):  # elastic and permanent parts of a stretch of 1 mm at a load of 50 kN
    elastic = 50_000 / (stiffness(100) * 4 / 3)
    assert 0 < 1.0 - elastic < 1.0
    return words in ("between the new length and the length when tight", "it was past yield")


@about("same 40° after the same torque")
def _(text, words):
    short, long = (stiffness(length) * 1.5 * 40 / 360 for length in (40, 100))
    return words == ("in the short bolt" if short > long * 1.05 else "in the long bolt")


@about("Surfaces settle by 0.01 mm")
def _(text, words):
    return stiffness(40) * 0.01 > 1.05 * stiffness(100) * 0.01 and words == "by the short bolt"


def two_bolts() -> tuple[float, float]:
    """Load of bolt 1 before and after its neighbour is tightened on one common elastic part."""
    load = 24_000.0
    sinks = (
        0.2 * load / (3 * stiffness(100) * 4 / 3)
    )  # the part under bolt 1 gives by a fifth of the neighbour's effect
    return load, load - stiffness(100) * 4 / 3 * sinks


@about("Its neighbours are tightened next|After the first round, the bolts that were tightened first")
def _(text, words):
    before, later = two_bolts()
    return words in (("falls", "less load than those tightened last") if later < before else ())


@about("Why tighten in rounds|goes round the head clockwise with full torque")
def _(text, words):  # from the rule above: a bolt tightened later takes load from those before it, unevenly
    return words in ("so that the parts close evenly", "uneven clamp load")


@about("tightened and never touched|Dirt was left between two faces")
def _(text, words):  # any loss of thickness takes stretch away; nothing adds any
    assert stiffness(100) * 0.01 > 0
    return words in ("probably smaller: the surfaces settled", "falls, because the dirt is squeezed")


# ------------------------------------------------------------------------------ faces
@about("A leaf of .* fits, one of")
def _(text, words):
    fits, does_not, limit = numbers(text, "mm")
    verdict = "good" if does_not <= limit else "bad" if fits > limit else "undecided"
    return words.split(":")[0] == verdict


@about("Along both long sides a face shows no gap|All six lines are within the limit")
def _(text, words):  # a face x·y/100 is straight along each long side; a dip at 0.3, 0.1 lies under none of six lines
    twist = [0.01 * (x * 1.0) for x in (0.0, 0.5, 1.0)]
    assert twist[1] - (twist[0] + twist[2]) / 2 == 0
    lines = [((0, 0), (1, 0)), ((0, 1), (1, 1)), ((0.25, 0), (0.25, 1)), ((0.75, 0), (0.75, 1)), ((0, 0), (1, 1)),
             ((0, 1), (1, 0))]  # fmt: skip
    dip = (0.5, 0.2)

    def away(line):
        (x, y), (u, v) = line
        return abs((u - x) * (y - dip[1]) - (x - dip[0]) * (v - y)) / math.hypot(u - x, v - y)

    assert min(map(away, lines)) > 0.1
    return words in ("not judged yet", "a dip between the lines")


# ------------------------------------------------------------------------------ skim and mixing
def ratio(cut: float, gain: float) -> float:
    swept, opening, bore = math.pi / 4 * 84**2 * 90, 3600.0, math.pi / 4 * 88**2
    clearance = swept / 17 - opening * cut + bore * gain
    return 1 + swept / clearance


@about("The gasket is 0.3 mm thicker. The ratio is")
def _(text, words):
    same = math.isclose(ratio(0.3, 0.3), ratio(0, 0), rel_tol=0.005)
    return words.startswith("the same") if same else words == "not the same as before"


@about("the ratio was put right by a thicker gasket")
def _(text, words):  # a gasket is no part of the head: its height was 136.00 and is 135.70 mm
    return words == "still smaller by the cut"


@about("stayed in an")
def _(text, words):
    stayed, capacity = numbers(text, "L")
    (premix,) = numbers(text, "%")
    return math.isclose(numbers(words, "%")[0], premix * (capacity - stayed) / capacity)


@about("A full 10 L system has 40 %")
def _(text, words):
    (capacity,), (has, needs) = numbers(text, "L"), numbers(text, "%")
    swap = capacity * (needs - has) / (100 - has)
    assert math.isclose(((capacity - swap) * has + swap * 100) / capacity, needs)
    on_top = (capacity * has + 100) / (capacity + 1)  # and there is no room for it
    assert on_top < needs
    return words == "drain part of it and pour in concentrate"
