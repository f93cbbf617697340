"""Bolts of one joint compared: the odd one is named, and chance names one as often as is said."""

import random
import statistics

import pytest

from shoplib.core.errors import BadInput
from shoplib.core.paths import DATA
from shoplib.physics.outlier import LIMIT, false_alarm
from shoplib.topics import get

COMPARED, TRACE = get("bolts_compared"), get("torque_angle_trace")


def test_the_bolt_with_less_friction_is_named_from_its_trace():
    rows = []
    for bolt in range(1, 7):
        text = (DATA / "demo" / f"trace-{bolt}.csv").read_text(encoding="utf-8")
        found = TRACE(trace=text, threshold="20 N*m").to_json()["results"]
        rows.append({"bolt": str(bolt), "slope": f"{found['slope']['value']:.3f} N·m/°",
                     "torque": f"{found['peak_torque']['value']:.1f} N·m"})  # fmt: skip
    result = COMPARED(traces=rows)
    assert result["odd"] == ["4"]
    assert "slope lower" in result["text"]
    assert "torque lower" in result["text"]


def slow_alarm(readings, draws, seed):
    """By the standard library, reading for reading."""
    rng, named = random.Random(seed), 0
    for _ in range(draws):
        x = [rng.gauss(0, 1) for _ in range(readings)]
        middle = statistics.median(x)
        spread = statistics.median(abs(v - middle) for v in x)
        named += any(0.6745 * abs(v - middle) > LIMIT * spread for v in x)
    return named / draws


@pytest.mark.parametrize("readings", [6, 10, 14])
def test_the_false_alarm_rate_is_that_of_another_simulation(readings):
    assert false_alarm(readings) == pytest.approx(slow_alarm(readings, 6000, 3), abs=0.02)


def test_what_is_missing_is_not_compared():
    rows = [{"bolt": str(k), "slope": f"{1.3 + k / 100} N*m/deg"} for k in range(4)]
    few = COMPARED(traces=rows)
    assert few["false_alarm_rate"] is None
    assert any("fewer than 5" in a for a in few.assumptions)
    equal = COMPARED(traces=[{"bolt": str(k), "torque": "90 N*m"} for k in range(8)])
    assert equal["odd"] == []
    assert any("equal" in a for a in equal.assumptions)
    with pytest.raises(BadInput, match="named twice"):
        COMPARED(traces=[{"bolt": "1"}, {"bolt": "1"}])
