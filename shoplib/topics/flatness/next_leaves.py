"""Which stacks of the leaf set decide a line that is undecided."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from shoplib.core import rounding
from shoplib.core.fields import NOT_ALLOWED
from shoplib.topics.flatness.line_inputs import FlatnessLinesInputs
from shoplib.topics.flatness.line_verdicts import balanced, is_simple
from shoplib.topics.flatness.straightedge_line import Line, leaf_text

MOST_LEAVES = 3  # in a stack
MOST_IN_SET = 40  # of a larger set not every stack is tried


class Stack(NamedTuple):
    """A stack of leaves: its thickness and how far it may be out, in metres, and the thickness of each leaf."""

    thickness: float
    slack: float
    leaves: tuple[float, ...]

    @property
    def text(self) -> str:
        """As people read it: “0.05 + 0.04 mm”."""
        return f"{' + '.join(leaf_text(t).removesuffix(' mm') for t in self.leaves)} mm"


def stacks_that_decide(stacks: Iterable[Stack], inputs: FlatnessLinesInputs, line: Line, bound: float, e: float) -> str:
    """The thickest stack that proves a pass and the thinnest that proves a fail; "" where none does."""
    strict = inputs.at_limit == NOT_ALLOWED
    passes, fails = [], []
    for stack in stacks:
        low, high = stack.thickness - stack.slack - e, stack.thickness + stack.slack + e
        if rounding.below(line.low, stack.thickness) and rounding.at_most(high, bound):
            passes.append(stack)
        beyond = rounding.at_most(bound, low) if strict else rounding.below(bound, low)
        if (line.high is None or rounding.below(stack.thickness, line.high)) and beyond:
            fails.append(stack)
    found = []
    if passes:
        found.append(f"it passes if {max(passes).text} does not fit")
    if fails:
        found.append(f"it fails if {min(fails).text} fits")
    return f"{'; '.join(found)}{balanced(line)}" if found else ""


def stacks_of(inputs: FlatnessLinesInputs) -> Iterator[Stack]:
    """Each stack of the leaves typed, the fewest leaves first; of equal thickness the first."""
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
                yield Stack(thickness, rounding.total(*(u for _, u in chosen)), tuple(t for t, _ in chosen))
