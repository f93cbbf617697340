"""How long a coolant form takes to follow; the aim is 5 ms.  Printed, not judged.

.venv/bin/pytest tests/bench/test_bench_coolant.py --benchmark-enable --benchmark-only -s
"""

import itertools

import numpy as np
import pytest

from shoplib import topics as workings
from shoplib.physics import coolant_properties

SHARES = itertools.cycle(range(20, 60))


def test_boiling_curve(benchmark):
    w = coolant_properties.as_poured("ethylene", np.linspace(0, 0.6, 61))
    result = benchmark(coolant_properties.boiling_point, "ethylene", w, 201325.0)
    assert len(result) == 61


def test_protection_recomputed(benchmark):
    working = workings.get("coolant_protection")

    def change():
        return working(glycol="ethylene", concentration=f"{next(SHARES)} %", gauge_pressure="100 kPa", altitude="500 m")

    assert benchmark(change)["boiling_point"] > 380


def test_fill_recomputed(benchmark):
    working = workings.get("coolant_fill")

    def change():
        return working(capacity="9 L", drained="4 L", target=f"{next(SHARES)} %", glycol="ethylene")

    assert benchmark(change)["product"] > 0


@pytest.mark.parametrize("name", ["coolant_protection", "coolant_fill"])
def test_picture_follows(benchmark, name):
    from shoplib.desk.widgets.live_figure import LiveFigure

    typed = {"glycol": "ethylene"} | (
        {"concentration": "40 %"} if name == "coolant_protection" else {"capacity": "9 L", "drained": "6 L"}
    )
    moving = "concentration" if name == "coolant_protection" else "target"
    working = workings.get(name)
    states = itertools.cycle([working({**typed, moving: f"{x} %"}) for x in range(40, 55)])
    live = LiveFigure(working.draw, next(states), name=name)
    benchmark(lambda: live.move(next(states)))
    assert live.parts
