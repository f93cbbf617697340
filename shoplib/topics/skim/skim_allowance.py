"""The working ``skim_allowance``: may this head still be cut, and how much have head and block lost together."""

from __future__ import annotations

from shoplib.core import rounding
from shoplib.core.checks import Uncertainty, added
from shoplib.core.conditions import one_of
from shoplib.core.fields import Field, judging, listing, quantity, sourced_limit
from shoplib.core.inputs import Inputs
from shoplib.core.units import mm, show
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import skim as s
from shoplib.topics.cautions import CAM_BORE
from shoplib.topics.skim.skim_inputs import _CUT, CUTS, MM, SIZES, ask_about_negative, digits

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
def read_height(i: SkimAllowanceInputs, w: Worksheet) -> float | None:
    """The height now: one reading, or the lowest of several; refused above the new height."""
    if i.given("heights") and any(h is None for h in i.heights):
        w.refuse("heights", "has a missing reading; missing is not zero: measure that height, or leave the point out")
        return None
    found = i.measured_height if i.given("measured_height") else min(i.heights) if i.given("heights") else None
    if found is not None and i.new_height is not None and rounding.below(i.new_height, found):
        name = "measured_height" if i.given("measured_height") else "heights"
        w.refuse(
            name,
            f"{show(found, MM, 6)} is above new_height {show(i.new_height, MM, 6)}: that would mean added "
            "material. Read both again, or leave new_height empty",
            f'"{MM.from_si(i.new_height):g} mm"',
        )
    return None if found is None else float(found)


def work_height(i: MinimumHeight, w: Worksheet, H: float, cut: float, spread: Uncertainty, few: str) -> float:
    """Height after the cut, and its check; ``few``: why the heights are too few to pass."""
    after = float(w.step(Heading("Height after the cut", digits=6), s.height_after, H=H, c_H=cut))
    w.result("height_after", after, mm, "Height after the cut", 6)
    if i.given("minimum_height"):
        left = w.step(
            Heading("Largest cut that the minimum allows", digits=6), s.largest_cut, H=H, H_min=i.minimum_height
        )
        w.result("largest_cut", left, mm, "Largest cut that the minimum allows", 3)
    short = i.minimum_height is not None and rounding.below(after, i.minimum_height)
    remark = f"{show(i.minimum_height - after, MM, 3)} below the minimum: do not cut; replace the head" if short else ""
    w.check(
        "Height of the head after the cut", after, "≥", i.minimum_height, mm, i.minimum_height_source, remark=remark,
        digits=6, uncertainty=spread, missing=few,
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


def run(i: SkimAllowanceInputs, w: Worksheet) -> None:
    """Height after the cut, what head and block have lost, and both limits."""
    ask_about_negative(i, w, "cut", "block_cut")
    H = read_height(i, w)
    w.door()
    assert H is not None
    if i.given("heights"):
        w.result("lowest_height", H, mm, "Lowest of the heights", 6)
        w.result("out_of_parallel", max(i.heights) - H, mm, "Highest minus lowest", 3)
        w.assume("the lowest of the heights counts, and the cut is taken from there")
    count = len(i.heights) if i.given("heights") else 1
    at = (
        [w.uncertainty("heights", k) for k in range(count)]
        if i.given("heights")
        else [w.uncertainty("measured_height")]
    )
    height, cut = max(at, key=lambda u: u.half_width), digits(i, "cut")
    few = few_heights(count)
    after = work_height(i, w, H, i.cut, added(height, cut), few)
    removed = None
    if i.given("new_height"):
        removed = w.step(
            Heading("Total removed from the head", digits=6), s.head_removed, H_new=i.new_height, H_after=after
        )
        w.result("head_removed", removed, mm, "Total removed from the head", 3)
    combined = None
    if removed is not None and i.given("block_cut"):
        combined = w.step("Head and block together", s.combined_removed, R_H=removed, c_B=i.block_cut)
        w.result("combined_removed", combined, mm, "Head and block together", 3)
    spread = added(height, cut, digits(i, "new_height"), digits(i, "block_cut"))
    if i.given("combined_limit"):
        label, source = "Head and block together", i.combined_limit_source
        if combined is None and removed is not None and rounding.below(i.combined_limit, removed):
            w.check(label, removed, "≤", i.combined_limit, mm, source, remark="the head alone is over the limit",
                    uncertainty=spread, missing="block_cut was not typed; missing is not zero")  # fmt: skip
        else:
            missing = [n for n in ("new_height", "block_cut") if not i.given(n)]
            remark = f"{' and '.join(missing)} not typed; missing is not zero" if missing else ""
            w.check(label, combined, "≤", i.combined_limit, mm, source, remark=remark, uncertainty=spread, missing=few)


class SkimAllowanceInputs(MinimumHeight):
    """Inputs of ``skim_allowance``."""

    combinations = (one_of("measured_height", "heights"),)
    new_height = quantity(
        "new_height", mm, "Height when new", symbol="H_new", above=0.0, required=False, plausible=SIZES,
        help="needed for the total removed", example='"136.00 mm"', group="Head",
    )  # fmt: skip
    measured_height = quantity(
        "measured_height", mm, "Height now", symbol="H", above=0.0, required=False, example='"135.72 mm"',
        help="a single height cannot pass", group="Head", plausible=SIZES,
    )  # fmt: skip
    heights = listing("heights", quantity("height", mm, "Height", above=0.0, may_be_missing=True, example='"135.72 mm"',
                                          plausible=SIZES),
                      "Heights at several points", required=False, csv=True,
                      help="instead of the height now: four or more; the lowest counts",
                      example='"135.72 mm; 135.74 mm; 135.73 mm; 135.75 mm"', group="Head")  # fmt: skip
    cut = quantity("cut", mm, "Cut still needed", symbol="c_H", help=_CUT, example='"0.15 mm"', group="The cut",
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


SKIM_ALLOWANCE = Working(
    name="skim_allowance",
    title="Skim allowance",
    question="may this head still be cut, and how much have head and block lost together",
    phase="skim",
    inputs=SkimAllowanceInputs,
    run=run,
    cautions=(
        GOVERNS,
        CAM_BORE,
        "If the head is below its minimum height, replace it: a thicker gasket does not correct it.",
    ),


)  # fmt: skip
