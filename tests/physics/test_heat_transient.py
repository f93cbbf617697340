"""Head and bolt that warm up: against small steps in time, and at its ends."""

import pytest

from shoplib.core.errors import BadInput
from shoplib.topics import get

HEAT, HOT = get("heat_transient"), get("hot_preload")
TYPED = {"preload": "25 kN", "yield_preload": "45 kN", "bolt_stiffness": "95 kN/mm", "parts_stiffness": "285 kN/mm",
         "warming": "70 K", "head_time": "4 min", "bolt_time": "3 min", "clamp_length": "110 mm",
         "alpha_parts": "23e-6/K", "alpha_bolt": "11.5e-6/K"}  # fmt: skip


def stepped(head_time, bolt_time, step=0.002):
    """(highest preload in kN, minute, largest lag in K) by small steps of both bodies."""
    head = bolt = t = lag = 0.0
    best = (25.0, 0.0)
    while t < 12 * max(head_time, bolt_time):
        F = 25 + 110 * (23e-6 * head - 11.5e-6 * bolt) * 95 * 285 / (95 + 285)
        best, lag = max(best, (F, t)), max(lag, head - bolt)
        new = head + step * (70 - head) / head_time
        bolt += step * ((head + new) / 2 - bolt) / bolt_time
        head, t = new, t + step
    return *best, lag


@pytest.mark.parametrize(("head", "bolt"), [(4, 3), (3, 3), (1, 9), (8, 2)])
def test_the_closed_solution_equals_small_steps(head, bolt):
    found = HEAT({**TYPED, "head_time": f"{head} min", "bolt_time": f"{bolt} min"})
    F, at, lag = stepped(head, bolt)
    assert found["preload_peak"] == pytest.approx(1e3 * F, rel=5e-4)
    assert found["lag"] == pytest.approx(lag, rel=5e-3)
    assert (
        found["peak_time"] / 60 == pytest.approx(at, rel=0.02)
        or pytest.approx(found["preload_settled"] / 1e3, rel=1e-4) == F
    )


def test_it_ends_where_everything_is_warm():
    names = ("preload", "bolt_stiffness", "parts_stiffness", "clamp_length", "alpha_parts", "alpha_bolt")
    warm = HOT({n: TYPED[n] for n in names}, temperature_change_parts="70 K", temperature_change_bolt="70 K")
    assert HEAT(TYPED)["preload_settled"] == pytest.approx(warm["preload_hot"])


@pytest.mark.parametrize("limit", ["31 kN", "25 kN", "20 kN"])
def test_beyond_yield_nothing_is_calculated(limit):
    with pytest.raises(BadInput, match="does not hold beyond yield"):
        HEAT({**TYPED, "yield_preload": limit})
