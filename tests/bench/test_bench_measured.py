"""How long the workings on measured bolts, valves, liners and coolant tables take, as at each keystroke."""

import pytest

from shoplib.topics import get
from tests.topics.typed_inputs import typed

NAMES = ("friction_evaluation", "preload_from_elongation", "preload_budget", "valve_sweep", "liner_protrusion",
         "coolant_table", "leak_orifice", "residual_torque", "heat_transient", "valve_lash", "bolts_compared",
         "trace_against_model")  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_one_keystroke(benchmark, name):
    working = get(name)
    benchmark(working, typed(working))
