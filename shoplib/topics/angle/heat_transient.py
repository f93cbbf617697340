"""The working ``heat_transient``: what happens to the preload while the head is warmer than its bolt."""

from __future__ import annotations

from typing import Any

import numpy as np

from shoplib.core.carried import Show, only_value
from shoplib.core.fields import quantity
from shoplib.core.inputs import Inputs
from shoplib.core.rounding import same
from shoplib.core.units import kelvin, kN, minute, show, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import heat_transient, loads
from shoplib.topics.angle.hot_preload import HotPreloadInputs
from shoplib.topics.angle.load_inputs import BOLT_STIFFNESS, PARTS_STIFFNESS, PRELOAD, WARM
from shoplib.topics.threads.bolt_inputs import TEACHING

KN = unit_of(kN)
TIMES = (1.0, 86400.0)  # s, of a time constant
POINTS = 2001


class HeatTransientInputs(Inputs):
    """Inputs of ``heat_transient``."""

    preload = PRELOAD
    yield_preload = quantity("yield_preload", kN, "Preload at which the bolt yields", symbol="F_y", above=0.0,
                             example='"45 kN"', group="Preload",
                             help="beyond it the elastic line does not hold, and nothing is calculated")  # fmt: skip
    bolt_stiffness = BOLT_STIFFNESS
    parts_stiffness = PARTS_STIFFNESS
    warming = quantity("warming", kelvin, "Final temperature rise of the head", symbol="Delta_T", above=0.0,
                       below=400.0, example='"70 K"', group="Heat")  # fmt: skip
    head_time = quantity(
        "head_time", minute, "Time constant of the head", symbol="tau_P", above=0.0, plausible=TIMES,
        example='"4 min"', group="Heat", help="time after which 63 % of the final rise is reached",
    )  # fmt: skip
    bolt_time = quantity("bolt_time", minute, "Time constant of the bolt, after the head", symbol="tau_S", above=0.0,
                         plausible=TIMES, example='"3 min"', group="Heat",
                         help="how slowly the bolt follows the head; an assumption")  # fmt: skip
    clamp_length = HotPreloadInputs.clamp_length
    alpha_parts = HotPreloadInputs.alpha_parts
    alpha_bolt = HotPreloadInputs.alpha_bolt


def warmer(inputs: HeatTransientInputs, t: Any, tau_S: float, show_step: Show) -> tuple[Any, Any]:
    """By how much head and bolt are warmer after some time, for a number or an array; K."""
    tau_P = inputs.head_time
    head = show_step("Head at the peak warmer by", heat_transient.head_warming)(
        Delta_T=inputs.warming, t=t, tau_P=tau_P
    )
    bolt = show_step("Bolt at the peak warmer by", heat_transient.bolt_warming)(
        Delta_T=inputs.warming, t=t, tau_P=tau_P, tau_S=tau_S
    )
    return head, bolt


def preload_at(inputs: HeatTransientInputs, head: Any, bolt: Any, show_step: Show) -> Any:
    """The preload while head and bolt are so much warmer, for numbers or arrays; N."""
    misfit = show_step("Parts expand more than the bolt by", loads.free_expansion_difference)(
        l=inputs.clamp_length, alpha_P=inputs.alpha_parts, Delta_T_P=head, alpha_S=inputs.alpha_bolt, Delta_T_S=bolt
    )
    return inputs.preload + show_step("Preload gained at the peak", loads.preload_of_misfit)(
        Delta_l=misfit, k_b=inputs.bolt_stiffness, k_p=inputs.parts_stiffness
    )


def run(inputs: HeatTransientInputs, worksheet: Worksheet) -> None:
    """Preload over time; refused where its peak passes the yield of the bolt."""
    tau_P, tau_S = inputs.head_time, inputs.bolt_time
    if same(tau_P, tau_S):
        tau_S = tau_P * (1 + 1e-6)  # the solution for equal times is the limit
    end = 12 * max(tau_P, tau_S)
    t = end * np.linspace(0.0, 1.0, POINTS) ** 2  # finer at the start
    head, bolt = warmer(inputs, t, tau_S, only_value)
    F = preload_at(inputs, head, bolt, only_value)
    k = int(np.argmax(F))
    settled = preload_at(inputs, inputs.warming, inputs.warming, only_value)
    highest = max(float(F[k]), float(settled), inputs.preload)
    if highest >= inputs.yield_preload:
        worksheet.refuse(
            "yield_preload",
            f"is reached: the elastic line goes to {show(highest, KN, 3)}. It does not hold beyond yield",
        )
    worksheet.raise_refusals()
    at = float(t[k])
    peak = preload_at(inputs, *warmer(inputs, at, tau_S, worksheet.show), worksheet.show)
    worksheet.result("preload_peak", peak, kN, "Highest preload while warming")
    worksheet.result("peak_time", at, minute, "Reached after", 3)
    worksheet.result("preload_settled", settled, kN, "Preload when all is warm")
    worksheet.result("lowest", float(F.min()), kN, "Lowest preload while warming")
    worksheet.result("lag", float((head - bolt).max()), kelvin, "Head warmer than its bolt by at most", 3)
    worksheet.assume(WARM)
    worksheet.assume("one temperature in the head and one in the bolt: an illustration, not this engine")
    worksheet.plot_data.update(t=t, preload=F, head=head, bolt=bolt, settled=settled)


HEAT_TRANSIENT = Working(
    name="heat_transient",
    title="Preload while the head warms up",
    question="what happens to the preload while the head is warmer than its bolt",
    phase="tighten",
    inputs=HeatTransientInputs,
    run=run,
    cautions=(
        GOVERNS,
        TEACHING,
        "Use this as a picture of the order of events. Head and bolt have many temperatures, not one each.",
    ),
)
