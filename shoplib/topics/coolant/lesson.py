"""Filling by slider: what stayed in the system thins what is poured in."""

from __future__ import annotations

from shoplib.core.units import L, unit_of
from shoplib.core.working import Result
from shoplib.teaching.lesson import Control, Lesson
from shoplib.topics.coolant.coolant_fill import COOLANT_FILL
from shoplib.topics.coolant.pictures import alt_tank, draw_tank

LITRE = unit_of(L)
SYSTEM = {"capacity": "9 L", "residual_concentration": "0 %"}  # an invented engine, flushed with water


def filled(drained: float, product: str, target: str) -> Result:
    """The system after one fill, when so much was drained."""
    return COOLANT_FILL({**SYSTEM, "drained": f"{LITRE.from_si(drained):.6g} L", "product_concentration": product,
                         "target": target})  # fmt: skip


def says(r: Result) -> str:
    """What stayed in, what is poured, and what it gives."""
    stayed, product, water = (LITRE.from_si(r[n]) for n in ("stayed", "product", "water"))
    kind = "concentrate" if r.inputs.product_concentration == 1 else "premix"
    text = f"{stayed:.1f} L of water stayed in. Poured in: {product:.1f} L of {kind} and {water:.1f} L of water. "
    text += f"The system has {100 * r['strength']:.1f} %."
    return text + (
        "" if r["reachable"] else f" More is not possible in one fill: wanted {100 * r.inputs.target:.0f} %."
    )


LESSONS = [
    Lesson(
        name="tank",
        title="The water that stayed in",
        controls=(
            Control("drained", "Drained", L, 2.0, 9.0, 0.5, 6.0),
            Control("product", "Poured in", choices=(("50 % premix", "50 %"), ("concentrate", "100 %"))),
            Control("target", "Wanted", choices=(("50 %", "50 %"), ("33 %", "33 %"))),
        ),
        state=filled,
        draw=draw_tank,
        says=says,
        alt=alt_tank,
        caution="The engine is invented. The maker's instructions for this engine govern.",
        figure_size=(6.4, 3.4),
        narrowest=620.0,
    ),
]
