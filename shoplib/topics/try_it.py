"""The answers to "Try it", by the number of the notebook.  ``TryIt`` shows each one after the learner's own."""

from __future__ import annotations

ANSWERS: dict[str, tuple[str, ...]] = {
    "01": (
        "A button with the value and the line of the card.",
        "✓ from engine card, with the number of its line.",
        "The filling is out of date, because the card was corrected. It must be calculated again.",
    ),
    "11": (
        "No. They are now on different banks.",
        "Cylinder 4 is within the limit.",
    ),
    "12": (
        "Warming may hide a leak.",
        "Cooling only makes the drop look larger.",
        "A reading is wrong. The outcome is undecided.",
    ),
    "13": (
        "Undecided: the tester also reacts to clean air.",
        "Pass. Without the instructions: no limit given.",
    ),
    "21": (
        "Fail. It names the work that was done without that step.",
        "Bolt 6. Then: pass 2 continued with bolt 2 and left out bolts 6, 3 and 7.",
    ),
    "22": (
        "It asks for the words of the instructions. Type “none (dry), says …” and the page.",
        "Pass. Then fail: stop, and pitch-gauge the bolt, the old bolt and the hole.",
    ),
    "31": (
        "Undecided: a doubtful reading cannot give a pass.",
        "Fail: a doubtful reading can still fail.",
    ),
    "32": (
        "The flatness rises from 0.031 mm to 0.050 mm, and the outcome changes to fail. One grain of dirt "
        "can fail a good face.",
    ),
    "33": ("A reading is missing. The highest place may be the one that was not measured.",),
    "42": (
        "Undecided, and it names the line. Nobody can say afterwards that it passed.",
        "It fails both times: a limit without a source can fail, never pass.",
        "State *not measured*, with a remark. Rz does not convert to Ra, so the value you asked for is missing.",
    ),
    "43": ("Between −10° and 10° the curve is then a guess. The uncertainty of the gap grows and reaches the limit.",),
    "51": ("10.9 mm. The M10x1.25 needs a little more, 11.5 mm: the fine bolt is stronger, the hole hardly is.",),
    "53": (
        "17.8 N·m. That is below the smallest value of the wrench. It is also below a fifth of its "
        "largest value, and older certificates test nothing there.",
    ),
    "54": (
        "Pass.",
        "Fail. Take the head off again.",
    ),
    "61": (
        "The slippery one. The check fails from 70 N·m. At 69 N·m the answer depends on “Torsion at "
        "yield”, which nobody has chosen. So the form says undecided.",
    ),
    "62": (
        "No. Twice 60° without a break is 120°.",
        "The bolt is past yield: more angle adds hardly any clamp load.",
    ),
    "65": ("A loss that is not typed is not zero. The lowest preload is then not known, so the check is undecided.",),
    "71": ("7.4 mm.",),
    "81": ("At least 4.5 L. You must drain at least as much as the glycol that you add.",),
    "82": (
        "About 9 K.",
        "About 4.5 K, because the pressure of the cap stays the same.",
    ),
    "83": (
        "Undecided: milky oil suggests coolant in it; it does not prove where from.",
        "Undecided: the check is not listed.",
    ),
    "91": (
        "The result is stale, with the line that changed. You cannot sign until the result is calculated "
        "again or struck out.",
        "B. It lists the remark and its reason.",
        "It is refused, and the box says that the root cause is missing.",
    ),
}
