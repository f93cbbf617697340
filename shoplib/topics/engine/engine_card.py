"""The working ``engine_card``: what the instructions say about this kind of engine, typed once for all forms."""

from __future__ import annotations

from shoplib.core.inputs import Inputs
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.engine.card_fields import CARD
from shoplib.topics.fasteners.tightening_order import look_at_map, one_by_one, typed_order


def run(inputs: Inputs, worksheet: Worksheet) -> None:
    """Say what the card holds and which limits have no source; a map and an order that do not agree are refused."""
    names = [str(r["name"]).strip() for r in inputs["positions"] or ()]
    if names:
        look_at_map(inputs["positions"], names, worksheet, "positions")
    for field in ("order", "loosening"):
        if inputs.given(field):
            known = names or list(dict.fromkeys(one_by_one(inputs[field])))
            typed_order(field, inputs[field], known, worksheet)
    worksheet.raise_refusals()
    filled = [c.field.name for c in CARD if inputs.typed(c.field.name)]
    worksheet.result("filled", f"{len(filled)} of {len(CARD)}", None, "Fields filled")
    worksheet.result("bolts", len(names) or None, None, "Head bolts on the map")
    without = [c.field.label for c in CARD if c.field.name in filled and _lacks_source(c.field.name, inputs)]
    worksheet.result("without_source", without, None, "Without a source")


def _lacks_source(name: str, inputs: Inputs) -> bool:
    source = f"{name}_source"
    return any(c.field.name == source for c in CARD) and not inputs.typed(source)


ENGINE_CARD = Working(
    name="engine_card",
    title="Engine card",
    question="what does the maker's manual say about this kind of engine",
    phase="card",
    inputs=type("EngineCardInputs", (Inputs,), {c.field.name: c.field for c in CARD}),  # the card lists them
    run=run,
    cautions=(
        GOVERNS,
        "Type the card from the instructions for this engine. Do not copy it from a similar engine.",
        "Check a card from an earlier job against the edition of the instructions that you use now.",
    ),
)
