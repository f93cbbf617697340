"""The working ``timing_gap``: the camshaft locking bar does not sit flat on the head: how many degrees is that."""

from __future__ import annotations

import math

from shoplib.core.checks import UNSOURCED, Origin, Outcome, Rule, Uncertainty
from shoplib.core.fields import NOT_ALLOWED, Field, quantity, sourced_limit
from shoplib.core.inputs import Inputs
from shoplib.core.units import deg, mm
from shoplib.core.working import Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import timing
from shoplib.physics.feeler import Bracket
from shoplib.topics.flatness.face_inputs import RULE_AND_LIMIT
from shoplib.topics.flatness.line_inputs import LEAF_TOLERANCE
from shoplib.topics.flatness.line_verdicts import bracket_outcome
from shoplib.topics.timing.timing_inputs import CAUTIONS, SHAFT, _both_shafts


# ------------------------------------------------------------------------------ gap under a locking bar
def run(inputs: TimingGapInputs, worksheet: Worksheet) -> None:
    """Tilt of the bar, and what it is at the crankshaft."""
    if inputs.gap >= inputs.lever_length:
        worksheet.refuse("gap", "must be smaller than lever_length")
    if inputs.given("no_go") and inputs.no_go <= inputs.gap:
        worksheet.refuse("no_go", "must be thicker than the leaf that fits", '"0.55 mm"')
    worksheet.raise_refusals()
    tilt = worksheet.step("Tilt of the bar", timing.bar_tilt, s=inputs.gap, L_b=inputs.lever_length)
    cam, crank = _both_shafts(worksheet, inputs.shaft, tilt)
    worksheet.result("cam_angle", cam, deg, "Camshaft off by at least")
    worksheet.result("crank_angle", crank, deg, "Crankshaft off by at least")
    if inputs.given("limit"):
        judge_gap(inputs, worksheet)


def judge_gap(inputs: TimingGapInputs, worksheet: Worksheet) -> None:
    """The leaf that fits can prove a fail; only the leaf that does not fit can prove a pass."""

    def out_by(name: str) -> Uncertainty:
        if inputs.given("leaf_tolerance"):
            return Uncertainty(inputs.leaf_tolerance, Origin.LEAVES)
        return Uncertainty(inputs.half_digit(name) if inputs[name] else 0.0, Origin.DIGITS)

    lower, upper = out_by("gap"), out_by("no_go")
    simple = inputs.decision_rule == Rule.SIMPLE
    bracket = Bracket(
        max(inputs.gap - (0.0 if simple else lower.half_width), 0.0),
        inputs.no_go + (0.0 if simple else upper.half_width) if inputs.given("no_go") else math.inf,
    )
    outcome, remark = bracket_outcome(bracket, inputs.limit, inputs.at_limit), ""
    passed = outcome is Outcome.PASS
    if outcome is Outcome.UNDECIDED:
        remark = "the leaves do not decide: try one closer to the limit" if inputs.given("no_go") else (
            "the leaf that fits gives only the smallest possible gap: type the thinnest leaf that does not fit"
        )  # fmt: skip
    elif not inputs.limit_source:
        outcome = Outcome.NO_LIMIT if passed else outcome
        remark = UNSOURCED if passed else "source missing"
    label = "Gap under the bar, below" if passed else "Gap under the bar, at least"
    worksheet.judge(
        label,
        inputs.no_go if passed else inputs.gap,
        "<" if inputs.at_limit == NOT_ALLOWED else "≤",
        inputs.limit,
        mm,
        inputs.limit_source,
        outcome,
        remark,
        uncertainty=upper if passed else lower,
        rule=Rule.SIMPLE if simple else Rule.GUARD_BANDS,
    )


class TimingGapInputs(Inputs):
    """Inputs of ``timing_gap``."""

    gap = quantity(
        "gap",
        mm,
        "Gap under the bar",
        symbol="s",
        at_least=0.0,
        example='"0.50 mm"',
        help="the thickest leaf that fits; 0 mm if none fits",
        group="Bar",
    )
    no_go = quantity(
        "no_go",
        mm,
        "Leaf that does not fit",
        required=False,
        above=0.0,
        example='"0.55 mm"',
        help="the thinnest one; without it the result cannot be a pass",
        group="Bar",
    )
    lever_length = quantity(
        "lever_length",
        mm,
        "Distance from the contact point to the leaf",
        symbol="L_b",
        above=0.0,
        example='"100 mm"',
        help="along the bar, not from the centre of the shaft",
        group="Bar",
    )
    shaft = Field(**{**vars(SHAFT), "group": "Bar"})
    limit, limit_source = sourced_limit(
        "limit", mm, "Largest gap allowed", at_least=0.0, example='"0.30 mm"', group="Limit"
    )
    decision_rule, at_limit = RULE_AND_LIMIT
    leaf_tolerance = Field(**{**vars(LEAF_TOLERANCE), "group": "Limit"})


TIMING_GAP = Working(
    name="timing_gap",
    title="Gap under a locking bar",
    question="the camshaft locking bar does not sit flat on the head: how many degrees is that",
    phase="re-time",
    inputs=TimingGapInputs,
    run=run,
    cautions=CAUTIONS,
)
