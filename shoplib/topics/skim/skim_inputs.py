"""Inputs that several workings after the skim share."""

from __future__ import annotations

from shoplib.core.carried import Show
from shoplib.core.checks import Origin, Uncertainty
from shoplib.core.fields import judging, quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import deg, mm, show_short, unit_of
from shoplib.core.worksheet import Worksheet
from shoplib.physics import skim

MM, DEG = unit_of(mm), unit_of(deg)


# ------------------------------------------------------------------------------ fields that several workings share
_CUT = "a positive length; 0 mm if nothing was cut"


CUTS, SIZES = (-5e-3, 5e-3), (0.01, 2.0)  # m; a larger cut is a wrong unit; bores and heights of engines


HEAD_SKIM = quantity("head_skim", mm, "Amount cut from the head", symbol="c_H", help=_CUT, example='"0.2 mm"',
                     group="The cut", plausible=CUTS)  # fmt: skip


BLOCK_SKIM = quantity(
    "block_skim", mm, "Amount cut from the block deck", symbol="c_B", default="0 mm", example='"0.1 mm"',
    group="The cut", plausible=CUTS,
)  # fmt: skip


GASKET_GAIN = quantity(
    "gasket_gain",
    mm,
    "New gasket thicker by",
    symbol="g",
    default="0 mm",
    help="compressed thickness, new minus old; negative if thinner",
    example='"0.1 mm"',
    group="The cut",
    plausible=CUTS,
)


class Cuts(Inputs):
    """What was cut off head and block, and the new gasket."""

    head_skim = HEAD_SKIM
    block_skim = BLOCK_SKIM
    gasket_gain = GASKET_GAIN


def net_drop(inputs: Cuts, show: Show) -> float:
    """How much nearer the head comes to the crankshaft."""
    return float(
        show("Net drop of the head", skim.net_drop)(c_H=inputs.head_skim, c_B=inputs.block_skim, g=inputs.gasket_gain)
    )


RULE_AND_LIMIT = tuple(f for f in judging(mm) if f.name in ("decision_rule", "at_limit"))


def ask_about_negative(inputs: Inputs, worksheet: Worksheet, *names: str) -> None:
    """A negative removal is asked about, never read as its opposite."""
    for name in names:
        value = inputs[name]
        if value is not None and value < 0:
            worksheet.refuse(
                name,
                f"is {inputs.shown(name)}: a negative cut would add material. "
                f"If {show_short(-value, MM)} was removed, type it without the minus sign",
                f'"{MM.from_si(-value):g} mm"',
            )


def digits(inputs: Inputs, name: str) -> Uncertainty:
    """The uncertainty of an input from its digits; zero means that nothing was cut, and is exact."""
    return Uncertainty(inputs.half_digit(name) if inputs[name] else 0.0, Origin.DIGITS)


CUT_DEFAULTS = ("block_skim", "gasket_gain")
