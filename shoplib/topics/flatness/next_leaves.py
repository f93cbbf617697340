"""Which stacks of the leaf set decide a line that is undecided."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from shoplib.core import rounding
from shoplib.core.fields import NOT_ALLOWED
from shoplib.topics.flatness.line_inputs import FlatnessLinesInputs
from shoplib.topics.flatness.line_verdicts import balanced, is_simple
from shoplib.topics.flatness.straightedge_line import Line, leaf_text

MOST_LEAVES = 3  # in a stack
MOST_IN_SET = 40  # of a larger set not every stack is tried


def stacks_that_decide(inputs: FlatnessLinesInputs, line: Line, bound: float, e: float) -> str:
    """The thickest stack that proves a pass and the thinnest that proves a fail, of the leaves typed; "" for none."""
    strict = inputs.at_limit == NOT_ALLOWED
    passes, fails = [], []
    for thickness, slack, text in _stacks(inputs):
        low, high = thickness - slack - e, thickness + slack + e
        if rounding.below(line.low, thickness) and rounding.at_most(high, bound):
            passes.append((thickness, text))
        beyond = rounding.at_most(bound, low) if strict else rounding.below(bound, low)
        if (line.high is None or rounding.below(thickness, line.high)) and beyond:
            fails.append((thickness, text))
    found = []
    if passes:
        found.append(f"it passes if {max(passes)[1]} does not fit")
    if fails:
        found.append(f"it fails if {min(fails)[1]} fits")
    return f"{'; '.join(found)}{balanced(line)}" if found else ""


def _stacks(inputs: FlatnessLinesInputs) -> Iterator[tuple[float, float, str]]:
    """Each stack of the set: its thickness, how far it may be out, and its leaves; the fewest leaves first."""
    leaves = []
    for k, leaf in enumerate(inputs.leaves[:MOST_IN_SET]):
        out = inputs.leaf_tolerance if inputs.given("leaf_tolerance") else inputs.half_digit("leaves", k)
        leaves.append((float(leaf), 0.0 if is_simple(inputs) else float(out)))
    seen: set[float] = set()
    for count in range(1, MOST_LEAVES + 1):
        for chosen in itertools.combinations(sorted(leaves, reverse=True), count):
            thickness = rounding.total(*(t for t, _ in chosen))
            if round(thickness, 9) not in seen:
                seen.add(round(thickness, 9))
                told = " + ".join(leaf_text(t).removesuffix(" mm") for t, _ in chosen)
                yield thickness, rounding.total(*(u for _, u in chosen)), f"{told} mm"
