"""The working ``skim_allowance``: may this head still be cut, and how much have head and block lost together."""

from __future__ import annotations

from shoplib.core import rounding
from shoplib.core.checks import Uncertainty, added
from shoplib.core.conditions import one_of
from shoplib.core.fields import Field, judging, listing, quantity, sourced_limit
from shoplib.core.inputs import Inputs
from shoplib.core.units import mm, show, show_short
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import skim
from shoplib.topics.cautions import CAM_BORE
from shoplib.topics.skim.skim_inputs import CUTS, MM, SIZES, ask_about_negative, digits

USUAL = "common practice, no source"


FEWEST_HEIGHTS = 4  # of a head: common practice, no source


MINIMUM_HEIGHT = sourced_limit(
    "minimum_height", mm, "Smallest height of the head", symbol="H_min", above=0.0, example='"135.50 mm"',
    group="Limits",
)  # fmt: skip


class MinimumHeight(Inputs):
    """The smallest height of the head."""

    minimum_height, minimum_height_source = MINIMUM_HEIGHT


# ------------------------------------------------------------------------------ height and removal
def read_height(inputs: SkimAllowanceInputs, worksheet: Worksheet) -> float | None:
    """The height now: one reading, or the lowest of several; refused above the new height."""
    if inputs.given("heights") and any(h is None for h in inputs.heights):
        worksheet.refuse(
            "heights", "has a missing reading; missing is not zero: measure that height, or leave the point out"
        )
        return None
    found = (
        inputs.measured_height
        if inputs.given("measured_height")
        else min(inputs.heights)
        if inputs.given("heights")
        else None
    )
    if found is not None and inputs.new_height is not None and rounding.below(inputs.new_height, found):
        name = "measured_height" if inputs.given("measured_height") else "heights"
        worksheet.refuse(
            name,
            f"{show_short(found, MM)} is above new_height {inputs.shown('new_height')}: that would mean added "
            "material. Read both again, or leave new_height empty",
            f'"{MM.from_si(inputs.new_height):g} mm"',
        )
    return None if found is None else float(found)


def work_height(
    inputs: MinimumHeight, worksheet: Worksheet, H: float, cut: float, spread: Uncertainty, few: str
) -> float:
    """Height after the cut, and its check; ``few``: why the heights are too few to pass."""
    after = float(worksheet.step(Heading("Height after the cut", digits=6), skim.height_after, H=H, c_H=cut))
    worksheet.result("height_after", after, mm, "Height after the cut", 6)
    if inputs.given("minimum_height"):
        left = worksheet.step(
            Heading("Largest cut that the minimum allows", digits=6), skim.largest_cut, H=H, H_min=inputs.minimum_height
        )
        worksheet.result("largest_cut", left, mm, "Largest cut that the minimum allows", 3)
    short = inputs.minimum_height is not None and rounding.below(after, inputs.minimum_height)
    remark = (
        f"{show(inputs.minimum_height - after, MM, 3)} below the minimum: do not cut; replace the head" if short else ""
    )
    worksheet.check("Height of the head after the cut", after, "≥", inputs.minimum_height, mm,
                    inputs.minimum_height_source, remark=remark, digits=6, uncertainty=spread, missing=few,
                    )  # fmt: skip
    return after


def few_heights(count: int) -> str:
    """Why this number of heights is too small; empty when it is enough."""
    if count >= FEWEST_HEIGHTS:
        return ""
    return (
        f"heights measured: {count}; at least {FEWEST_HEIGHTS} are needed, around the head ({USUAL}): it may be "
        f"thinner elsewhere"
    )


def run(inputs: SkimAllowanceInputs, worksheet: Worksheet) -> None:
    """Height after the cut, what head and block have lost, and both limits."""
    ask_about_negative(inputs, worksheet, "cut", "block_cut")
    H = read_height(inputs, worksheet)
    worksheet.raise_refusals()
    assert H is not None
    if inputs.given("heights"):
        worksheet.result("lowest_height", H, mm, "Lowest of the heights", 6)
        worksheet.result("out_of_parallel", max(inputs.heights) - H, mm, "Highest minus lowest", 3)
        worksheet.assume("the lowest of the heights counts, and the cut is taken from there")
    count = len(inputs.heights) if inputs.given("heights") else 1
    at = (
        [worksheet.uncertainty("heights", k) for k in range(count)]
        if inputs.given("heights")
        else [worksheet.uncertainty("measured_height")]
    )
    height, cut = max(at, key=lambda u: u.half_width), digits(inputs, "cut")
    few = few_heights(count)
    after = work_height(inputs, worksheet, H, inputs.cut, added(height, cut), few)
    removed = None
    if inputs.given("new_height"):
        removed = worksheet.step(
            Heading("Total removed from the head", digits=6), skim.head_removed, H_new=inputs.new_height, H_after=after
        )
        worksheet.result("head_removed", removed, mm, "Total removed from the head", 3)
    combined = None
    if removed is not None and inputs.given("block_cut"):
        combined = worksheet.step("Head and block together", skim.combined_removed, R_H=removed, c_B=inputs.block_cut)
        worksheet.result("combined_removed", combined, mm, "Head and block together", 3)
    spread = added(height, cut, digits(inputs, "new_height"), digits(inputs, "block_cut"))
    if inputs.given("combined_limit"):
        label, source = "Head and block together", inputs.combined_limit_source
        if combined is None and removed is not None and rounding.below(inputs.combined_limit, removed):
            worksheet.check(label, removed, "≤", inputs.combined_limit, mm, source,
                            remark="the head alone is over the limit", uncertainty=spread,
                            missing="block_cut was not typed; missing is not zero")  # fmt: skip
        else:
            missing = [n for n in ("new_height", "block_cut") if not inputs.given(n)]
            remark = f"{' and '.join(missing)} not typed; missing is not zero" if missing else ""
            worksheet.check(
                label, combined, "≤", inputs.combined_limit, mm, source, remark=remark, uncertainty=spread, missing=few
            )


class SkimAllowanceInputs(MinimumHeight):
    """Inputs of ``skim_allowance``."""

    combinations = (one_of("measured_height", "heights"),)
    new_height = quantity(
        "new_height", mm, "Height when new", symbol="H_new", above=0.0, required=False, plausible=SIZES,
        help="needed for the total removed", example='"136.00 mm"', group="Head",
    )  # fmt: skip
    measured_height = quantity(
        "measured_height", mm, "Height now", symbol="H", above=0.0, required=False, example='"135.72 mm"',
        help="one height alone cannot give a pass", group="Head", plausible=SIZES,
    )  # fmt: skip
    heights = listing("heights", quantity("height", mm, "Height", above=0.0, may_be_missing=True, example='"135.72 mm"',
                                          plausible=SIZES),
                      "Heights at several points", required=False, csv=True,
                      help="instead of “Height now”; four or more, of which the lowest counts",
                      example='"135.72 mm; 135.74 mm; 135.73 mm; 135.75 mm"', group="Head")  # fmt: skip
    cut = quantity("cut", mm, "Cut still to be made", symbol="c_H", help="how much will come off; 0 mm if nothing",
                   example='"0.15 mm"', group="The cut",
                   plausible=CUTS)  # fmt: skip
    minimum_height, minimum_height_source = (Field(**{**vars(f), "group": "Limits"}) for f in MINIMUM_HEIGHT)
    block_cut = quantity(
        "block_cut",
        mm,
        "All cuts of the block deck, total",
        symbol="c_B",
        required=False,
        example='"0.20 mm"',
        help="0 mm if the deck was never cut",
        group="The cut",
        plausible=CUTS,
    )
    combined_limit, combined_limit_source = sourced_limit(
        "combined_limit", mm, "Largest total removed from head and block", at_least=0.0, example='"0.40 mm"',
        group="Limits",
    )  # fmt: skip
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(mm)


def is_still_to_be_cut(inputs: SkimAllowanceInputs) -> bool:
    """Whether the height is that of before the cut."""
    return bool(inputs.cut > 0)


SKIM_ALLOWANCE = Working(
    name="skim_allowance",
    title="Skim allowance",
    question="may this head still be cut, and how much have head and block lost together",
    phase="skim",
    inputs=SkimAllowanceInputs,
    run=run,
    forecasts=is_still_to_be_cut,
    cautions=(
        GOVERNS,
        CAM_BORE,
        "If the head is below its minimum height, replace it: a thicker gasket does not correct it.",
    ),


)  # fmt: skip
