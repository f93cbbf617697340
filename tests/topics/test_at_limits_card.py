"""The engine card at the limits that it declares itself."""

import pytest

from shoplib.core.errors import BadInput
from shoplib.topics import get
from shoplib.topics.engine.card_fields import CARD


def test_the_stroke_of_the_card_is_offered_to_more_workings_than_the_bore():
    feeds = {card.field.name: card.feeds for card in CARD}
    assert feeds["bore"] == ("compression_ratio.bore", "skim_chain.bore")
    assert feeds["stroke"] == (
        "compression_ratio.stroke", "skim_chain.stroke", "dead_centre.stroke", "piston_position.stroke",
        "valve_sweep.stroke",
    )  # fmt: skip


@pytest.mark.parametrize(("cylinders", "taken"), [("", True), ("0", False), ("1", True), ("16", True), ("17", False)])
def test_a_card_has_one_to_sixteen_cylinders(cylinders, taken):
    card = {"engine": "pump engine", "cylinders": cylinders}
    if taken:
        assert get("engine_card")(card)["filled"].startswith("2 of" if cylinders else "1 of")
    else:
        with pytest.raises(BadInput):
            get("engine_card")(card)
