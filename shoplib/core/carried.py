"""A part of a run at other inputs than those that were typed, and the uncertainty that its value carries from them.

Such a part takes the inputs and ``show``, with which it shows its formulas::

    def lash_after(inputs: ValveLashInputs, show: Show) -> float:
        return show("Lash after", skim.lash_after_tip_rise)(s=inputs.lash, t=inputs.tip_rise)

    lash_after(inputs, worksheet.show)  # its steps are printed
    lash_after(inputs.replaced(lash=0.0), only_value)  # its value there
    carried(lash_after, inputs, "lash", "tip_rise")  # the uncertainty of its value
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, ParamSpec, Protocol, TypeVar

from shoplib.core.checks import Uncertainty
from shoplib.core.inputs import Inputs
from shoplib.core.units import Reading
from shoplib.core.worksheet import Heading

P = ParamSpec("P")
Its = TypeVar("Its", bound=Inputs)


class Show(Protocol):
    """What a part of a run shows its formulas with: ``show`` of the worksheet, or :func:`only_value`."""

    def __call__(self, title: str | Heading, fn: Callable[P, Any], /) -> Callable[P, Any]:
        """The formula, to be called by keyword in SI.

        :param title: what the step works out
        :param fn: a function marked with ``@formula``
        """


def only_value(title: str | Heading, fn: Callable[P, Any], /) -> Callable[P, Any]:
    """What takes the place of ``show`` of the worksheet where a value is wanted and nothing is kept.

    :param title: what the step works out
    :param fn: a function marked with ``@formula``
    :returns: the formula
    """
    return fn


def carried(
    function: Callable[[Its, Show], Any],
    inputs: Its,
    /,
    *names: str,
    halves: Mapping[str, float] | None = None,
) -> Uncertainty:
    """That of a value calculated from inputs, from the digits in which each was typed.

    ``halves`` gives the half-width of an input, in SI, where it is known better than by its digits.

    ``function`` is the part of the run that gives the value.  It rises or falls along each of these inputs over so
    small a range: where it does from the middle, each is moved to the end that takes the value furthest.  Where it
    stands still, the others may decide its way, so such inputs are moved last, one after the other, twice over.
    One that was typed as zero says that there is none of it, and is exact.

    :param function: takes inputs and what shows its steps, and returns one number
    :param inputs: of this run
    :param names: of the inputs that it depends on
    :param halves: input to its half-width, in SI; of the others half of the last digit typed counts
    """
    middle = {n: _middle(inputs[n]) for n in names}
    at_middle = inputs.replaced(**middle)
    known = halves or {}
    ends = {
        n: (x - half, x + half)
        for n, x in middle.items()
        if (half := known[n] if n in known else inputs.half_digit(n) if x else 0.0)
    }

    def value(at: Mapping[str, float]) -> float:
        return float(function(at_middle.replaced(**at), only_value))

    here, furthest = value({}), 0.0
    tried = {n: (value({n: low}), value({n: high})) for n, (low, high) in ends.items()}
    still = [n for n, t in tried.items() if min(t) >= here or max(t) <= here]
    for sign in (-1.0, 1.0):
        at = {n: ends[n][sign * high > sign * low] for n, (low, high) in tried.items()}
        for n in (*still, *still):
            at[n] = max(ends[n], key=lambda x: sign * value({**at, n: x}))
        furthest = max(furthest, sign * (value(at) - here))
    return Uncertainty(furthest)


def _middle(value: Any) -> float:
    return float(value.value if isinstance(value, Reading) else value)
