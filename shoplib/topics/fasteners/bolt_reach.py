"""The working ``bolt_reach``: after the skim and with this gasket, does the bolt engage deeply enough or bottom out."""

from __future__ import annotations

import math
from typing import Any

from shoplib.core.checks import Origin, Uncertainty, added
from shoplib.core.fields import choice, judging, listing, quantity, sourced_limit
from shoplib.core.former import Former
from shoplib.core.inputs import Inputs
from shoplib.core.units import mm
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import reach
from shoplib.topics.cautions import BLIND

GEOMETRY = "geometry: lengths as typed"


# ------------------------------------------------------------------------------ reach
def run(inputs: BoltReachInputs, worksheet: Worksheet) -> None:
    """Engagement and the three clearances of a bolt in its hole, after skim and with the gasket compressed."""
    blind = inputs.hole == "blind"
    if inputs.thread_length > inputs.bolt_length:
        worksheet.refuse("thread_length", "is longer than the bolt")
    if inputs.thread_start >= inputs.thread_depth:
        worksheet.refuse("thread_depth", "must be more than thread_start; measure both from the deck face", '"38 mm"')
    if blind and inputs.hole_depth < inputs.thread_depth:
        worksheet.refuse("hole_depth", "is less than thread_depth; measure both from the deck face", '"45 mm"')
    worksheet.raise_refusals()
    stack = math.fsum(inputs.stack)
    l_P = worksheet.step(
        Heading("Reach below the deck face", note="t_S: the stack, added up"),
        reach.reach,
        l=inputs.bolt_length,
        t_S=stack,
    )
    worksheet.result("stack_height", stack, mm, "Clamped length")
    worksheet.result("reach", l_P, mm, "Bolt below the deck face")
    thread: Any = {"t_1": inputs.thread_start, "t_2": inputs.thread_depth}
    held = worksheet.step("Engagement of the threads", reach.engagement, l_P=l_P, b=inputs.thread_length, **thread)
    worksheet.result("engagement", held, mm, "Engagement")
    c_B = (
        worksheet.step("Clearance below the tip", reach.bottom_clearance, h=inputs.hole_depth, l_P=l_P)
        if blind
        else None
    )
    worksheet.result("bottom_clearance", c_B, mm, "Clearance to the bottom")
    c_S = worksheet.step(
        "Clearance above the first thread",
        reach.shank_clearance,
        t_1=inputs.thread_start,
        l_P=l_P,
        b=inputs.thread_length,
    )
    worksheet.result("shank_clearance", c_S, mm, "Clearance of the shank")
    c_T = worksheet.step("Full thread below the tip", reach.thread_clearance, t_2=inputs.thread_depth, l_P=l_P)
    worksheet.result("thread_clearance", c_T, mm, "Full thread below the tip")
    _judge_reach(inputs, worksheet, held, c_B, c_S, c_T)


def _judge_reach(
    inputs: BoltReachInputs, worksheet: Worksheet, held: float, c_B: float | None, c_S: float, c_T: float
) -> None:
    """Each clearance with the uncertainty of its lengths, all at their worst; each length counts once."""

    def of(name: str, item: int | None = None) -> Uncertainty:
        exact = item is None and inputs[name] == 0  # 0 mm: the thread begins at the face
        return Uncertainty(0.0, Origin.DIGITS) if exact else worksheet.uncertainty(name, item)

    down = added(of("bolt_length"), *(of("stack", k) for k in range(len(inputs.stack))))
    threads = added(down, of("thread_length"), of("thread_start"), of("thread_depth"))
    shank = added(down, of("thread_length"), of("thread_start"))
    worksheet.check("The threads engage", held, ">", 0.0, mm, GEOMETRY, uncertainty=threads, geometry=True)
    if c_B is not None:
        bottom = added(down, of("hole_depth"))
        worksheet.check(
            "The tip is clear of the bottom", c_B, ">", 0.0, mm, GEOMETRY, uncertainty=bottom, geometry=True
        )
    worksheet.check("The shank is clear of the thread", c_S, ">", 0.0, mm, GEOMETRY, uncertainty=shank, geometry=True)
    if c_B is not None:  # in a through hole the tip may project
        tip = added(down, of("thread_depth"))
        worksheet.check(
            "The tip stays within the full thread", c_T, "≥", 0.0, mm, GEOMETRY, uncertainty=tip, geometry=True
        )
    worksheet.check(
        "Engagement", held, "≥", inputs.minimum_engagement, mm, inputs.minimum_engagement_source, uncertainty=threads
    )
    if inputs.given("minimum_clearance") and c_B is not None:
        source = inputs.minimum_clearance_source
        worksheet.check("Clearance to the bottom", c_B, "≥", inputs.minimum_clearance, mm, source, uncertainty=bottom)


class BoltReachInputs(Inputs):
    """Inputs of ``bolt_reach``."""

    bolt_length = quantity(
        "bolt_length", mm, "Bolt, length under the head", symbol="l", above=0.0, example='"120 mm"', group="Bolt"
    )
    thread_length = quantity(
        "thread_length",
        mm,
        "Bolt, length of its thread",
        symbol="b",
        above=0.0,
        example='"40 mm"',
        help="from the tip, full thread",
        group="Bolt",
    )
    stack = listing(
        "stack",
        quantity("stack", mm, "Thickness", at_least=0.0),
        "Stack under the bolt head",
        symbol="t_S",
        example='"2.5 mm; 92.3 mm; 1.2 mm"',
        help="washer; head at the bolt, after the skim; compressed gasket",
        group="Stack",
    )
    hole = choice("hole", "Hole", ("blind", "through"), default="blind", group="Hole, from the deck face down")
    hole_depth = quantity(
        "hole_depth",
        mm,
        "Depth to the bottom",
        needed_when=("hole", "blind"),
        only_when=("hole", "blind"),
        symbol="h",
        required=False,
        above=0.0,
        example='"45 mm"',
        help="blind hole only; measured clean and dry",
        group="Hole, from the deck face down",
    )
    thread_start = quantity(
        "thread_start",
        mm,
        "Depth of the first thread",
        symbol="t_1",
        at_least=0.0,
        example='"5 mm"',
        help="counterbore; 0 mm where the thread begins at the face",
        group="Hole, from the deck face down",
    )
    thread_depth = quantity(
        "thread_depth",
        mm,
        "Depth of the last full thread",
        symbol="t_2",
        above=0.0,
        example='"38 mm"',
        help="usable thread, measured from the deck face",
        group="Hole, from the deck face down",
    )
    minimum_engagement, minimum_engagement_source = sourced_limit(
        "minimum_engagement",
        mm,
        "Smallest engagement allowed",
        symbol="l_E,min",
        above=0.0,
        example='"15 mm"',
        group="Limits",
    )
    minimum_clearance, minimum_clearance_source = sourced_limit(
        "minimum_clearance",
        mm,
        "Smallest clearance to the bottom allowed",
        symbol="c_B,min",
        at_least=0.0,
        example='"2 mm"',
        group="Limits",
    )
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(mm)


BOLT_REACH = Working(
    name="bolt_reach",
    title="Bolt reach",
    question="after the skim and with this gasket, does the bolt engage deeply enough, and does it bottom out",
    phase="fasteners",
    inputs=BoltReachInputs,
    run=run,
    cautions=(
        GOVERNS,
        BLIND,
        "Check the length at each place: many engines have different lengths side by side. Compare old bolt, new "
        "bolt and hole.",
    ),
    former=Former(labels={"The threads meet": ("The threads engage",)}),
)
